"""What the papers say: one set of sentences for the printed sheet, the page and reading aloud."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

import numpy as np

from ..braid import tucked_under
from ..design import MARKS, FoldedRun, drop_findings, fold_parts, marked_codes, settings_dict
from ..findings import Code, first_with
from ..making.lengths import INCH_MM, braid_thickness, cut_length, format_length
from ..making.materials import materials, with_spare
from ..names import counted
from .cautions import cautions
from .legend import BeadStyles
from .place_wording import sets_of_plain_braid
from .shopping_wording import cord_thickness, cutting
from .wording import sentence

if TYPE_CHECKING:
    from ..design import Design, Drops
    from ..findings import Finding
    from ..making.materials import Materials, Need


STOCK_HEADS = ("at hand", "to buy", "weight to buy")
"""Heads of the columns that follow from a stock."""


def stock_words(need: Need) -> tuple[str, str]:
    """Return what stands under "at hand" and "to buy"; dashes where the stock is not known."""
    if need.bead.stock is None:
        return "–", "–"
    return f"{need.bead.stock}", f"{need.buy}" if need.buy else "enough"


class Strand(NamedTuple):
    """One strand's list.

    Attributes
    ----------
    number, slot : int
        1-based; the slot is the one at the first bead, after the plain braid.
    beads : tuple of int
        Rows of the palette, the first strung first.
    codes : tuple of str
        The same as written: drops carry the mark of their direction.
    parts : tuple of FoldedRun
        The codes as counted runs with repeats folded.
    """

    number: int
    slot: int
    beads: tuple[int, ...]
    codes: tuple[str, ...]
    parts: tuple[FoldedRun, ...]

    @property
    def folded(self) -> str:
        """The list in one line: ``3 A, 1 B, then 12 × (3 A, 1 C)``."""
        return ", then ".join(map(str, self.parts))


@dataclass(frozen=True, eq=False)
class SheetContent:
    """Everything the papers say about one design.

    Parameters
    ----------
    design : Design
    title : str
        Heading; the text, or the sketch's name, if empty.
    findings : sequence of Finding
        What is to be said about the design at the end.
    """

    design: Design
    title: str = ""
    findings: Sequence[Finding] = ()

    @cached_property
    def heading(self) -> str:
        """The title, what the design shows, or a plain word."""
        usual = "Test braid" if self.test_braid else "Beaded braid"
        return self.title or self.design.named or usual

    @property
    def unit(self) -> Literal["cm", "in"]:
        """Of lengths; beads, cord and braid are so thin that their thickness stands in mm."""
        return self.design.papers.unit

    def length(self, mm: float) -> str:
        """A length for people."""
        return format_length(mm, self.unit)

    @cached_property
    def test_braid(self) -> bool:
        """Whether it is worked to be measured, not to be worn."""
        return self.design.origin.test_braid

    @property
    def plain(self) -> str:
        """Length of the plain braid at each end."""
        return "1 to 2 cm" if self.unit == "cm" else "3/8 to 3/4 in"

    @cached_property
    def styles(self) -> BeadStyles:
        """How the beads are drawn, and what they are called in lists and charts."""
        return BeadStyles(self.design)

    @cached_property
    def label(self) -> dict[str, str]:
        """Code with the mark of a drop's direction, to the same with the short code."""
        return {
            bead.code + mark: short + mark
            for short, bead in zip(self.styles.short, self.design.palette, strict=True)
            for mark in MARKS.values()
        }

    @cached_property
    def row_of(self) -> dict[str, int]:
        """Code with the mark of a drop's direction, to the row of the palette."""
        return {
            bead.code + mark: row
            for row, bead in enumerate(self.design.palette)
            for mark in MARKS.values()
        }

    @cached_property
    def strands(self) -> tuple[Strand, ...]:
        """The lists, in the order of the strands' numbers."""
        design = self.design
        codes = np.array(marked_codes(design, self.drops), dtype=object)
        numbers = design.braid.strand_of(np.arange(len(design.beads)))
        return tuple(
            Strand(
                strand + 1,
                slot,
                tuple(design.beads[numbers == strand].tolist()),
                tuple(codes[numbers == strand].tolist()),
                tuple(fold_parts(codes[numbers == strand].tolist())),
            )
            for strand, slot in enumerate(self.slots)
        )

    @property
    def plain_sets(self) -> int:
        """Sets of plain braid before the first bead."""
        return self.design.papers.plain_sets

    @cached_property
    def slots(self) -> tuple[int, ...]:
        """Slot of strand 1, 2, ... at the first bead."""
        return self.design.braid.slots_after(self.plain_sets)

    @property
    def drops(self) -> Drops:
        """Which way round the drop beads go on."""
        return self.styles.drops

    # -- what it is and what it takes ------------------------------------------------------------

    @property
    def about(self) -> str:
        """The braid in one sentence."""
        design, lattice = self.design, self.design.lattice
        braid = design.braid
        rounds = f"{design.rounds:g} rounds"
        thick = braid_thickness(lattice.thickness_mm, self.unit)
        return (
            f"Round braid of {braid.strands} strands, {braid.lay} lay, {braid.turn} turn, "
            f"{design.bead.label} beads. {rounds}, {len(design.beads)} beads: "
            f"{self.length(design.length_mm)} beaded ({lattice.source['rise_mm']}), "
            f"{thick} thick ({lattice.source['radius_mm']})."
        )

    @property
    def copies(self) -> int:
        """How many are made: more than one make the sheet a handout."""
        return self.design.papers.copies

    @cached_property
    def shopping(self) -> Materials:
        """Beads with their allowance, and the cord, for one; a handout knows of no stock."""
        design = self.design
        if self.copies > 1:
            bare = tuple(replace(bead, stock=None, price=None) for bead in design.palette)
            design = replace(design, palette=bare)
        return materials(design)

    def for_all(self, need: Need) -> tuple[int, tuple[float, float] | None]:
        """Beads for all copies, spare included, and their weight."""
        count = with_spare(need.count * self.copies, self.shopping.spare)
        share = count / need.with_spare
        grams = need.grams and (need.grams[0] * share, need.grams[1] * share)
        return count, grams

    @property
    def readings(self) -> list[tuple[str, str]]:
        """What is read off a test braid, with its unit: lines to fill in."""
        if not self.test_braid:
            return []
        found = first_with(self.findings, Code.MEASURE_LENGTH)
        return [
            ("1. Thickness:", "mm"),
            (f"2. Length of {'___' if found is None else found.data['rounds']} rounds:", "mm"),
            ("3. Column, once round:", "rounds"),
            ("4. The letter reads right (yes or no):", ""),
        ]

    @property
    def needs(self) -> list[str]:
        """Cord, disc, findings and tools, one sentence each."""
        braid = self.design.braid
        wanted = self.shopping.cord
        if self.test_braid:
            counted = (
                "Make each longer by twice the width of your disc: so short a braid leaves too "
                "little to hold."
            )
        else:
            counted = f"Counted for a finished length of {self.length(wanted.finished_mm)}."
        lines = [f"Cord: {cutting(wanted, self.unit)}. {counted}", cord_thickness(wanted)]
        if wanted.core_mm:
            lines.append(
                f"Core cord: {cut_length(wanted.core_mm[1], self.unit)}, about "
                f"{wanted.core_mm[0]:.1f} mm thick (estimate), down the middle of the braid."
            )
        if self.copies > 1:
            every = cut_length(wanted.piece_mm, self.unit, wanted.pieces * self.copies)
            lines.append(f"All of this is for one; the cord for {self.copies} is {every} in all.")
        lines.append(f"A braiding disc with {braid.start.slots} slots and a hole in the middle.")
        tools = f"{braid.strands} bobbins or stoppers, a weight."
        if self.test_braid:
            return [
                *lines,
                f"Binding thread, a needle or stiffened cord ends for threading, {tools}",
                "A caliper to measure it with. No clasp and no end caps: it is not worn.",
            ]
        return [
            *lines,
            f"A clasp with two end caps{self._chain}: the beaded braid is "
            f"{format_length(wanted.thickness_braid_mm, 'mm')} thick, its hollow "
            f"{format_length(wanted.hollow_mm, 'mm')}; measure your bound end.",
            *(sentence(one, self.unit) for one in self.findings if one.code is Code.FITS),
            "Binding thread, glue for the ends, a needle or stiffened cord ends for threading, "
            f"{tools}",
        ]

    @property
    def _chain(self) -> str:
        """The extension that was asked for, as a part of a sentence."""
        extension_mm = self.design.origin.order.get("extension_mm")
        if not isinstance(extension_mm, int | float) or not extension_mm:
            return ""
        return f" and an extension chain of {self.length(extension_mm)}"

    @property
    def shopping_words(self) -> list[str]:
        """How far the stock goes, what the beads cost, and what is not known of them."""
        said = (sentence(one, self.unit) for one in self.shopping.findings)
        # a sum that leaves a bead out would be taken for the whole, and is not printed
        return [words for words in said if words]

    @property
    def remarks(self) -> list[str]:
        """What is to be said about the design."""
        # how long it can be closed stands beside the clasp
        return [sentence(one, self.unit) for one in self.findings if one.code is not Code.FITS]

    @property
    def _front_side(self) -> str:
        """Where the front points at the first bead."""
        return self._side(self.design.front_deg)

    def _side(self, azimuth_deg: float) -> str:
        """Where a side points, clockwise from the top, for somebody who sits at six o'clock."""
        halves = round(azimuth_deg / 15.0) % 24
        hour = halves // 2 or 12
        if halves % 2:
            return f"points between {hour} and {hour % 12 + 1} o'clock (you sit at 6 o'clock)"
        sides = {6: "faces you", 12: "faces away from you"}
        return sides.get(hour, f"points to {hour} o'clock (you sit at 6 o'clock)")

    # -- how it is done --------------------------------------------------------------------------

    @property
    def setting_up(self) -> list[str]:
        """From the cord to the disc."""
        slots = self.design.braid.start_slots
        pairs = [
            f"{strand} and {strand + 1} in slots {slots[strand - 1]} and {slots[strand]}"
            for strand in range(1, len(slots), 2)
        ]
        core = bool(self.shopping.cord.core_mm)
        return [
            f"Bind the folds of all pieces together{', with one end of the core cord' * core}. Put "
            "the bound end down through the hole of the disc and hang the weight on it."
            f"{' The rest of the core cord stays on top, in the middle: braid round it.' * core}",
            "See the disc from above, as you sit at 6 o'clock: the top is at 12, away from you. "
            f"Lay the strands into the slots: strands {', '.join(pairs)}.",
            "Tag every strand with its number, strands 1 and 2 at least: lists can be alike, and "
            "then nothing else distinguishes their strands.",
        ]

    @property
    def threading(self) -> list[str]:
        """Stringing the beads, and how the lists are read."""
        return [
            "Thread each strand from its loose end, its list from left to right: the first bead "
            "goes on first, up to the disc. Tick a box when so many beads are on. Close the end "
            "with a bobbin or a stopper.",
        ]

    @property
    def steps(self) -> tuple[str, str, str]:
        """The two crossings and the turn, as they are repeated all the way."""
        braid = self.design.braid
        first, second = braid.work(2, self.plain_sets)
        one, two = ("left", "right") if braid.lay == "S" else ("right", "left")
        way = "clockwise" if braid.turn_sense < 0 else "counter-clockwise"
        slot = dict(zip(braid.start_slots, self.slots, strict=True))
        top = [slot[at] for at in braid.start.starts[braid.turn_sense % braid.pairs]]
        return (
            f"Take the {one} strand of the top pair down, into the empty slot to the {one} of the "
            f"bottom pair. (The first time: strand {first.strand + 1}, from slot "
            f"{first.from_slot} to slot {first.to_slot}.)",
            f"Three strands are at the bottom now. Take the outermost {two} one up, into the empty "
            f"slot to the {two} of the strand at the top. (The first time: strand "
            f"{second.strand + 1}, from slot {second.from_slot} to slot {second.to_slot}.)",
            f"Turn the disc {way} until the next pair is at the top, not the one just worked. (The "
            f"first time: the pair in slots {top[0]} and {top[1]}.) Go on with step 1.",
        )

    @property
    def tuck_words(self) -> str:
        """How a bead goes in."""
        step = "the same" if tucked_under(self.design.braid) == (1, 2) else "the other"
        return (
            "Beads: one goes in with step 1 and one with step 2. Before the strand crosses, slide "
            "its next bead down to the middle and tuck it under the strand that lies across its "
            f"way, the one that {step} step moved in the turn before. Cross and pull gently."
        )

    @property
    def at_work(self) -> list[str]:
        """How much there is to work, how a wrong start shows, where to stop."""
        return [
            self.totals,
            self.first_rounds,
            "A good place to stop: after step 1, with three strands at the bottom; go on with step "
            "2.",
        ]

    @property
    def rounds_words(self) -> str:
        """What a round is, and where the strands stand after a set."""
        braid = self.design.braid
        way = "clockwise" if braid.lay == "S" else "counter-clockwise"
        return (
            f"{braid.axes} turns make one round of {braid.beads_per_round} beads. After a set of "
            f"{braid.strands} turns (four rounds) every strand has used two beads, and the "
            f"strands stand in the order of the start again, 4 slots further {way}."
        )

    @property
    def totals(self) -> str:
        """How much there is to work."""
        beads, braid = len(self.design.beads), self.design.braid
        sets, rest = divmod(beads, 2 * braid.strands)
        turns, step = divmod(rest, 2)
        parts = [counted(sets, "set")] * bool(sets) + [counted(turns, "turn")] * bool(turns)
        whole = f"{counted(beads // 2, 'turn')}{' and one step' * step}"
        split = f", that is {' and '.join(parts)}" if sets else ""
        last = int(braid.strand_of(beads - 1)) + 1
        return f"In all: {beads} beads, {whole}{split}. The last bead is on strand {last}."

    @property
    def first_rounds(self) -> str:
        """The order in which the strands go at first: a wrong start shows in it."""
        braid = self.design.braid
        order = ", ".join(f"{move.strand + 1}" for move in braid.work(braid.strands))
        return (
            f"Check: in the first two rounds the strands cross in this order, each once: {order}. "
            "If another one comes, the start was wrong: undo it to the end of the plain braid."
        )

    @property
    def plain_start(self) -> list[str]:
        """Braid without beads before the first bead, and the front mark."""
        sets, strands = self.plain_sets, self.design.braid.strands
        one, two = self.slots[:2]
        again = " again" if self.slots == self.design.braid.start_slots else ""
        ready = f"strand 1 is in slot {one}{again} and strand 2 in slot {two}, the pair at the top"
        return [
            f"Work {sets_of_plain_braid(sets)}{'' if self.test_braid else ', for the end cap'}: "
            f"steps 1 to 3, without beads. Steps 1 to 3 are one turn, {strands} turns are one set: "
            f"{counted(sets * strands, 'turn')}, about {self._plain_length}, which depends on the "
            "cord. Count the sets."
            if sets
            else "The beads begin at once, without plain braid.",
            f"Begin the beads when {ready}. If another pair is there, work on without beads, turn "
            "by turn, until they are.",
            "Front mark: before the first bead tie a coloured thread round the "
            f"{'plain braid' if sets else 'cords under the disc'}, with its knot on the side that "
            f"{self._front_side}: that side is the front.",
        ]

    @property
    def _plain_length(self) -> str:
        """How long the plain braid before the first bead is: for eight sets that of `plain`."""
        per_set = 1 / 8 if self.unit == "cm" else 3 / 8 / 8
        low, high = per_set * self.plain_sets, 2 * per_set * self.plain_sets
        return f"{low:.2g} to {high:.2g} {self.unit}"

    @property
    def disc_words(self) -> str:
        """What the drawing of the disc shows."""
        braid = self.design.braid
        return (
            f"{braid.lay} lay, {braid.turn} turn, from above; you sit at the lower edge. Outside "
            "lie the strands with their first beads, the very first one nearest the disc. Arrows: "
            "the first steps. Mark in the middle: the front."
        )

    @property
    def front_words(self) -> str:
        """Caption under the disc."""
        front = ": the front of the braid" if self._front_side == "faces you" else ""
        return f"▲ your side{front}"

    @property
    def finish(self) -> list[str]:
        """After the last bead."""
        return [
            self._front_at_the_end,
            f"Work {self.plain} of plain braid. Lift the strands out of the disc and hold them "
            "together. Bind the plain braid tightly with thread, close to the last beads, and knot "
            "the thread.",
            *([] if self.test_braid else [self._capping]),
        ]

    @property
    def _front_at_the_end(self) -> str:
        """Where the second front mark goes, computed for this braid."""
        design, lattice = self.design, self.design.lattice
        beads = len(design.beads)
        # the strand that goes next leaves from the top, and its bead would lie there
        side = self._side(self.design.front_deg - float(lattice.azimuth_deg(beads // 2 * 2)))
        last = np.arange(max(0, beads - design.braid.strands), beads)
        off = np.abs((lattice.azimuth_deg(last) - self.design.front_deg + 180.0) % 360.0 - 180.0)
        strand = int(design.braid.strand_of(last[np.argmin(off)])) + 1
        turn = "" if beads % 2 else " and its turn of the disc (step 3)"
        return (
            f"Second front mark: after the last bead{turn} the front is on the side that {side}; "
            f"of the last beads, that of strand {strand} lies nearest to it. When some plain braid "
            "is worked, tie a coloured thread round it, with its knot above that bead."
        )

    @property
    def _capping(self) -> str:
        core = " and the core cord" * bool(self.shopping.cord.core_mm)
        return (
            f"Cut the strands{core} just beyond the binding. Glue the bound end into the end cap "
            "and let it dry. Take out the first binding and do the same at the other end; the "
            "knots of the two front marks must lie in one line."
        )

    @cached_property
    def _of_drops(self) -> list[Finding]:
        return drop_findings(self.design, self.drops)

    @property
    def drop_words(self) -> list[str]:
        """Legend and warnings of drop beads; empty without drops."""
        return [sentence(one, self.unit) for one in self._of_drops]

    @property
    def drop_warnings(self) -> list[str]:
        """What is to be known of drops while stringing, beside the drawn key."""
        drawn = (Code.DROPS_STRUNG, Code.DROP_TAKEN_AS)
        return [sentence(one, self.unit) for one in self._of_drops if one.code not in drawn]

    @property
    def drop_sizes(self) -> list[str]:
        """How large the drops are taken to be."""
        sizes = [one for one in self._of_drops if one.code is Code.DROP_TAKEN_AS]
        return [sentence(one, self.unit) for one in sizes]

    @property
    def cautions(self) -> list[str]:
        """The usual cautions."""
        return list(cautions(fittings=not self.test_braid, drops=bool(self.drops.count)))

    @property
    def settings(self) -> list[str]:
        """What is needed to make the papers again."""
        design = self.design
        lattice, braid = design.lattice, design.braid
        lines = [
            "himotif sheet makes it again from the folder's design.json; himotif convert from the "
            f"picture: {braid.strands} strands, {braid.lay} lay, {braid.turn} turn, "
            f"{design.bead.label} beads"
        ]
        lines += _flat(settings_dict(design.origin), self.unit)
        lines += [
            f"radius {lattice.radius_mm:.3f} mm ({lattice.source['radius_mm']})",
            f"rise {lattice.rise_mm:.3f} mm ({lattice.source['rise_mm']})",
            f"drift {lattice.drift_deg:.3f}° ({lattice.source['drift_deg']})",
        ]
        if design.picture is not None:
            version = design.picture.sha256[:_VERSION]
            lines.append(
                f"picture {design.picture.file}{f', version {version}' if version else ''}"
            )
        return lines


_VERSION = 8
"""Digits of a picture's digest that distinguish its versions on paper; design.json has them all."""

_SAID_ELSEWHERE = {"strands", "lay", "turn", "bead_size", "findings"}
_THIN = {"bead_diameter", "bead_length", "thickness"}
"""Given in mm whatever the unit, as they are everywhere else."""

_UNITS = {"deg": "°", "rounds": " rounds"}


def _flat(settings: Mapping[str, Any], unit: str | None, before: str = "") -> list[str]:
    """Settings as names with values and units; what was not given is left out."""
    rows: list[str] = []
    for name, value in settings.items():
        if value is None or (not before and name in _SAID_ELSEWHERE):
            continue
        stem, _, last = name.rpartition("_")
        known = bool(stem) and (last in _UNITS or last == "mm")
        plain = before + (stem if known else name).replace("_", " ")
        if isinstance(value, Mapping):
            rows += _flat(value, unit, f"{plain} ")
        elif value is True:
            rows.append(plain)
        elif last == "mm" and known:
            rows.append(f"{plain} {_length_value(value, 'mm' if stem in _THIN else unit)}")
        else:
            rows.append(f"{plain} {_plain_value(value)}{_UNITS[last] if known else ''}")
    return rows


def _length_value(value: Any, unit: str | None) -> str:
    """A length, or several, to the hundredth of a mm; `unit` as in `format_length`."""
    several = value if isinstance(value, list | tuple) else [value]
    if not all(isinstance(mm, int | float) for mm in several):
        return _plain_value(value)
    if unit not in ("mm", "in"):
        unit = "cm" if max(map(abs, several), default=0) >= 100 else "mm"
    one, digits = {"mm": (1.0, 2), "cm": (10.0, 3), "in": (INCH_MM, 3)}[unit]
    return f"{', '.join(f'{round(mm / one, digits):g}' for mm in several)} {unit}"


def _plain_value(value: object) -> str:
    if isinstance(value, float):
        return f"{value:.6g}"
    if isinstance(value, list | tuple):
        return ", ".join(map(_plain_value, value))
    return str(value)
