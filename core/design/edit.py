"""A design with other beads: single ones changed by name, or the lists edited in a spreadsheet.

>>> parse_change("3:17=B"), parse_change("r12:3=B").chart
(BeadChange(chart=False, line=3, place=17, code='B'), True)
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np

from ..arrays import Ints
from ..bounds import beyond
from ..errors import Problems, WrongUsage
from ..findings import Code, Finding
from .loads import beads_from_lists, read_stringing_csv
from .mixed_sizes import size_findings

if TYPE_CHECKING:
    from ..braid import Braid
    from .design import Design

OF_THE_SEARCH = frozenset(
    {
        Code.LOST_PART,
        Code.LOST_BRANCH,
        Code.LOST_OPENING,
        Code.LOST_MORE,
        Code.STROKES_DRAWN_BROADER,
        Code.STROKES_TOO_THIN,
        Code.OUTLINES_LEFT_OUT,
        Code.HIDDEN_BY_FILL,
        Code.KEPT_UNUSED,
        Code.DROPS_LEFT_OUT,
        Code.SCATTERED,
        Code.PLAIN_BACK_COVERS,
        Code.SIZES_MIXED,
        Code.SIZE_ODD,
        Code.SIZE_TAKEN_AS_MAIN,
        Code.BEADS_CHANGED,
    }
)
"""Findings about beads as they were found: they need not hold for others. That a motif can hardly
be recognised stays: a few other beads do not make it read, and nobody looked again."""


# -- single beads ----------------------------------------------------------------------------------


class BeadChange(NamedTuple):
    """One bead by its place, and the code it is to have.

    Attributes
    ----------
    chart : bool
        Whether it is named on the chart: a round, and a place in it from the left; otherwise by a
        strand, and a place on it from the disc.
    line, place : int
        Round or strand, and the place there, counted from 1.
    code : str
    """

    chart: bool
    line: int
    place: int
    code: str

    def __str__(self) -> str:
        return f"{'r' if self.chart else ''}{self.line}:{self.place}={self.code}"


def parse_change(text: str) -> BeadChange:
    """Return a change from ``3:17=B`` or ``r12:3=B``.

    Raises
    ------
    WrongUsage
        If the text is none.
    """
    found = re.fullmatch(r"([rR]?)\s*(\d{1,9})\s*:\s*(\d{1,9})\s*=\s*(\S+)", text.strip())
    if found is None:
        raise WrongUsage(
            f"{text!r:.40} is no change: write 3:17=B for bead 17 of strand 3, or r12:3=B for the "
            "third bead from the left in round 12 of the chart."
        )
    return BeadChange(bool(found[1]), int(found[2]), int(found[3]), found[4])


class ChangedBead(NamedTuple):
    """A bead that was changed; crossing, strand and order count from 1, the rest are codes."""

    crossing: int
    strand: int
    order: int
    before: str
    after: str


def change_beads(
    design: Design, changes: Sequence[BeadChange], once: bool = False
) -> tuple[Design, list[ChangedBead]]:
    """Return a design with some beads changed, and which.

    Parameters
    ----------
    design : Design
    changes : sequence of BeadChange
    once : bool
        Only the beads named; otherwise those in the same place of every other repeat, too.

    Raises
    ------
    WrongUsage
        With everything that cannot be.
    """
    codes = [bead.code for bead in design.palette]
    index = design.repeat_index()
    wanted: dict[int, BeadChange] = {}
    refused = []
    for change in changes:
        problem, crossing = _crossing_of(design, change)
        if not problem and change.code not in codes:
            problem = f"{change.code} is not in the palette; its codes are {', '.join(codes)}"
        if problem:
            refused.append(f"{change}: {problem}.")
            continue
        alike = index == index[crossing]
        each = [crossing] if once or index[crossing] < 0 else np.flatnonzero(alike).tolist()
        for one in each:
            other = wanted.setdefault(one, change)
            if other.code != change.code:
                refused.append(f"{change}: this bead is also to be {other.code} ({other}).")
                break
    if refused:
        raise WrongUsage.together(WrongUsage(problem, "bead") for problem in refused)
    beads = design.beads.copy()
    where = np.array(sorted(wanted), dtype=np.intp)
    beads[where] = [codes.index(wanted[crossing].code) for crossing in where.tolist()]
    return with_beads(design, beads), _changed(design, beads)


def _crossing_of(design: Design, change: BeadChange) -> tuple[str, int]:
    """What is wrong with a place, or nothing and its crossing, counted from 0."""
    braid, lattice, total = design.braid, design.lattice, len(design.beads)
    line, place = change.line, change.place
    if not change.chart:
        if not 1 <= line <= braid.strands:
            return f"the braid has strands 1 to {braid.strands}", 0
        many = int((braid.strand_of(np.arange(total)) == line - 1).sum())
        if not 1 <= place <= many:
            return f"strand {line} has beads 1 to {many}", 0
        return "", int(braid.crossing_of(line - 1, place - 1))
    each = braid.beads_per_round
    if not 1 <= line <= -(-total // each):
        return f"the chart has rounds 1 to {-(-total // each)}", 0
    crossings = np.arange((line - 1) * each, min(line * each, total))
    if not 1 <= place <= len(crossings):
        return f"round {line} has beads 1 to {len(crossings)}, counted from the left", 0
    return "", int(crossings[np.argsort(lattice.x_mm(crossings, design.front_deg))[place - 1]])


def _changed(design: Design, beads: Ints) -> list[ChangedBead]:
    codes = [bead.code for bead in design.palette]
    where = np.flatnonzero(design.beads != beads)
    strand, order = design.braid.strand_of(where) + 1, design.braid.order_of(where) + 1
    rows = (where + 1, strand, order, design.beads[where], beads[where])
    return [
        ChangedBead(crossing, number, place, codes[before], codes[after])
        for crossing, number, place, before, after in zip(*(r.tolist() for r in rows), strict=True)
    ]


# -- whole lists -----------------------------------------------------------------------------------


def design_from_lists(path: Path, design: Design) -> Design:
    """Return the design that edited stringing lists give, worked slot by slot.

    Parameters
    ----------
    path : Path
        The lists; see `read_stringing_csv`.
    design : Design
        As it was: braid, palette and all else are taken from it.

    Raises
    ------
    HimotifError, Problems
        With every bead that cannot be.
    """
    lists = read_stringing_csv(path, design)
    counts = [len(beads) for beads in lists]
    if problems := _uneven(counts, design.braid):
        raise Problems([f"{path}: {problem}." for problem in problems])
    return with_beads(design, beads_from_lists(lists, design.braid))


def _uneven(counts: Sequence[int], braid: Braid) -> list[str]:
    """Name the strands whose count fits to no whole rounds that the others make."""
    if problem := beyond("beads", sum(counts)):
        return [f"the number of beads {problem}"]
    have = np.array(counts)
    ways = []
    for rounds in sorted({2 * count + odd for count in counts for odd in (-1, 0, 1)} - {-1, 0}):
        wanted = _counts(rounds, braid)
        # as many strands as can be are right; then the length nearer to that of all the beads
        ways.append((np.count_nonzero(wanted != have), abs(wanted.sum() - sum(counts)), rounds))
    rounds = min(ways)[2]
    problems = []
    for strand, (found, want) in enumerate(
        zip(counts, _counts(rounds, braid).tolist(), strict=True)
    ):
        if found != want:
            verb = "take out" if found > want else "add"
            problems.append(
                f"strand {strand + 1} (slot {braid.start_slots[strand]}) has {found} beads, and "
                f"{rounds} rounds take {want}; {verb} {abs(found - want)}"
            )
    return problems


def _counts(rounds: int, braid: Braid) -> Ints:
    """Beads on each strand in so many rounds; every strand crosses once in two."""
    start = rounds // 2 * braid.strands
    odd = braid.strand_of(np.arange(start, rounds * braid.beads_per_round))
    counts: Ints = rounds // 2 + np.bincount(odd, minlength=braid.strands)
    return counts


def with_beads(design: Design, beads: Ints) -> Design:
    """Return a design with other beads; what was said of the old ones goes, and it says so.

    Parameters
    ----------
    design : Design
    beads : (n,) int
        Palette rows in working order; there may be more or fewer than before.
    """
    if np.array_equal(beads, design.beads):
        return design
    if len(beads) != len(design.beads):
        design = _of_length(design, len(beads))
    origin = design.origin
    changed = replace(design, beads=beads)
    held = [one for one in origin.findings if one.code not in OF_THE_SEARCH]
    findings = (Finding(Code.BEADS_CHANGED), *held, *size_findings(changed))
    facts = origin.conversion
    if facts is not None:
        codes = [bead.code for bead in design.palette]
        accents = {
            code: tuple(n for n in places if n < len(beads) and codes[beads[n]] == code)
            for code, places in facts.accents.items()
        }
        facts = replace(facts, accents=accents)
    return replace(changed, origin=replace(origin, findings=findings, conversion=facts))


def _of_length(design: Design, count: int) -> Design:
    """The design made longer, with background beads, or shorter at its end."""
    more = count - len(design.beads)
    beads = np.append(design.beads, np.full(max(0, more), design.background))[:count]
    picture, repeat, finished = design.picture, design.repeat, design.origin.finished_mm
    changed: dict[str, Any] = {}
    grown_mm = more / design.braid.beads_per_round * design.lattice.rise_mm
    if picture is not None:
        where = np.append(picture.where_px, np.full((max(0, more), 2), np.nan), axis=0)[:count]
        top_mm = design.length_mm + grown_mm
        centres = tuple(one for one in picture.centres if one[1] <= top_mm)
        changed["picture"] = replace(picture, where_px=where, centres=centres)
    if repeat is not None:
        each = repeat.rounds * design.braid.beads_per_round
        times = min(repeat.count, (count - repeat.first - each // 2) // each + 1)
        changed["repeat"] = replace(repeat, count=times) if times > 1 else None
    if finished is not None:
        changed["origin"] = replace(design.origin, finished_mm=max(1.0, finished + grown_mm))
    return replace(design, beads=beads, **changed)
