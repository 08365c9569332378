"""Finding one's place in a half-worked braid: from a crossing, or from beads already used.

>>> from ..braid import Braid
>>> used = parse_used("1:3,2:2")
>>> used
{0: 3, 1: 2}
>>> fit_used(Braid(8), used, beads=320).crossings
(17, 18, 19, 20, 21)
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Ints
from ..errors import WrongUsage

if TYPE_CHECKING:
    from ..braid import Braid, Move
    from ..design import Design

LOOK_BACK = 10
"""Crossings listed when looking back."""


def parse_used(text: str) -> dict[int, int]:
    """Return beads used by strand (0-based) from ``3:16,5:17`` (strands count from 1).

    Raises
    ------
    WrongUsage
        With every part that cannot be read, or that names a strand twice.
    """
    used: dict[int, int] = {}
    problems = []
    for part in (part.strip() for part in text.split(",") if part.strip()):
        found = re.fullmatch(r"(\d{1,9})\s*:\s*(\d{1,9})", part)
        if found is None or int(found[1]) == 0:
            problems.append(
                f"{part!r:.40} is not strand:beads; write 3:16 for 16 beads used on strand 3, with "
                "commas between."
            )
        elif int(found[1]) - 1 in used:
            problems.append(f"strand {found[1]} is named twice; count it again and name it once.")
        else:
            used[int(found[1]) - 1] = int(found[2])
    if not used and not problems:
        problems.append("no counts are given; write 3:16,5:17 for the beads used on two strands.")
    if problems:
        raise WrongUsage("\n".join(problems))
    return used


# -- from counted beads to crossings -------------------------------------------------------------


@dataclass(frozen=True)
class Miscount:
    """A strand whose count disagrees with the others.

    Parameters
    ----------
    strand : int
        0-based.
    used, expected : int
        Beads as counted, and as the other strands would have it.
    crossing : int
        0-based; the strand's latest crossing at which a bead may have gone astray.
    """

    strand: int
    used: int
    expected: int
    crossing: int


@dataclass(frozen=True)
class CountsFit:
    """What counted beads say about the place.

    Parameters
    ----------
    crossings : tuple of int
        Every number of done crossings that agrees with the counts; if none agrees, those that
        leave the fewest beads astray.
    miscounts : tuple of tuple of Miscount
        Empty if the counts agree; otherwise one tuple for each explanation.
    deciding : int or None
        Strand (0-based) whose count would narrow the place down most; None if nothing would.
    """

    crossings: tuple[int, ...]
    miscounts: tuple[tuple[Miscount, ...], ...]
    deciding: int | None


def fit_used(braid: Braid, used: Mapping[int, int], beads: int) -> CountsFit:
    """Find the crossings after which the counted strands have used so many beads.

    Parameters
    ----------
    braid : Braid
    used : mapping
        Strand (0-based) to beads used.
    beads : int
        Beads of the whole design.

    Raises
    ------
    WrongUsage
        If a strand or a count does not exist in this design; all such problems together.
    """
    strand = braid.strand_of(np.arange(beads))
    _check_used(braid, used, np.bincount(strand, minlength=braid.strands))
    chosen = np.array(sorted(used), dtype=np.intp)
    counts = np.array([used[int(s)] for s in chosen])
    # expected[n, i]: beads that strand chosen[i] has used after n crossings
    expected = np.zeros((beads + 1, len(chosen)), dtype=np.intp)
    np.cumsum(strand[:, None] == chosen, axis=0, out=expected[1:])
    astray = np.abs(expected - counts)
    # as few beads as possible, then as few strands
    cost = astray.sum(axis=1) * (braid.strands + 1) + (astray > 0).sum(axis=1)
    best = np.flatnonzero(cost == cost.min())
    explanations = dict.fromkeys(
        _blame(braid, chosen, counts, expected[n], beads) for n in best if cost[n]
    )
    return CountsFit(tuple(best.tolist()), tuple(explanations), _deciding(strand, best, chosen))


def _check_used(braid: Braid, used: Mapping[int, int], available: Ints) -> None:
    problems = []
    for number, count in used.items():
        if number >= braid.strands:
            problems.append(f"strand {number + 1}: the braid has strands 1 to {braid.strands}.")
        elif count > available[number]:
            problems.append(
                f"strand {number + 1}: {count} beads used, but only {available[number]} are strung "
                "on it. Count it again."
            )
    if problems:
        raise WrongUsage("\n".join(problems))


def _blame(
    braid: Braid, strands: Ints, counts: Ints, expected: Ints, beads: int
) -> tuple[Miscount, ...]:
    """The strands whose counts differ from what is expected."""
    found = []
    for strand, count, wanted in zip(
        strands.tolist(), counts.tolist(), expected.tolist(), strict=True
    ):
        if count != wanted:
            crossing = int(braid.crossing_of(strand, max(wanted, 1) - 1))
            found.append(Miscount(strand, count, wanted, min(crossing, beads - 1)))
    return tuple(found)


def _deciding(strand: Ints, best: Ints, counted: Ints) -> int | None:
    """The uncounted strand whose crossing lies most nearly in the middle of the candidates."""
    between = np.arange(best[0], best[-1])
    between = between[~np.isin(strand[between], counted)]
    if not len(between):
        return None
    middle = (best[0] + best[-1] - 1) / 2
    return int(strand[between[np.argmin(np.abs(between - middle))]])


# -- the state of the disc -----------------------------------------------------------------------


@dataclass(frozen=True)
class DiscState:
    """The disc after a number of crossings.

    Parameters
    ----------
    design : Design
    crossings : int
        Crossings done.
    filled : tuple of (slot, strand)
        Clockwise from the highest slot number; slots 1-based, strands 0-based.
    facing : tuple of (slot, strand)
        The strands at the worker's side, left to right as she looks down: three between the two
        crossings of an axis, two otherwise.
    next : Move or None
        None when the design is done.
    last : tuple of Move
        Up to ten, oldest first.
    """

    design: Design
    crossings: int
    filled: tuple[tuple[int, int], ...]
    facing: tuple[tuple[int, int], ...]
    next: Move | None
    last: tuple[Move, ...]

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines; strands, orders and crossings count from 1."""
        return {
            "plain_sets": self.design.papers.plain_sets,
            "crossings_done": self.crossings,
            "crossings": len(self.design.beads),
            "filled": [{"slot": slot, "strand": strand + 1} for slot, strand in self.filled],
            "facing": [{"slot": slot, "strand": strand + 1} for slot, strand in self.facing],
            "next": None if self.next is None else _move_dict(self.design, self.next),
            "last": [_move_dict(self.design, move) for move in self.last],
        }


def _move_dict(design: Design, move: Move) -> dict[str, object]:
    return {
        "crossing": move.crossing + 1,
        "strand": move.strand + 1,
        "from_slot": move.from_slot,
        "to_slot": move.to_slot,
        "order": int(design.braid.order_of(move.crossing)) + 1,
        "bead": design.palette[int(design.beads[move.crossing])].code,
    }


def place_at(design: Design, crossings: int) -> DiscState:
    """Work the disc to a crossing and look at it.

    Parameters
    ----------
    design : Design
    crossings : int
        How many crossings are done, 0 to the number of beads.

    Raises
    ------
    WrongUsage
        If the design has fewer crossings.
    """
    total = len(design.beads)
    if not 0 <= crossings <= total:
        raise WrongUsage(
            f"crossing {crossings}: this design has crossings 1 to {total}; give the number of "
            "the last one done (0 before the first)."
        )
    braid, plain_sets = design.braid, design.papers.plain_sets
    moves = list(braid.work(crossings + 2, plain_sets))
    done, ahead = moves[:crossings], moves[crossings:]
    slot_of = dict(enumerate(braid.slots_after(plain_sets)))
    for move in done:
        slot_of[move.strand] = move.to_slot
    filled = {slot: strand for strand, slot in slot_of.items()}
    slots = braid.start.slots
    # the strand that leaves the worker's side next, then its neighbours in the direction of its lay
    leaving = ahead[crossings % 2 == 0].from_slot
    reach = 2 + crossings % 2
    ahead_of = 1 if braid.lay == "S" else -1
    near = [(leaving + ahead_of * step - 1) % slots + 1 for step in range(reach)]
    # from above, clockwise runs to the left at the side nearest to her
    near = near[::-1] if braid.lay == "S" else near
    return DiscState(
        design=design,
        crossings=crossings,
        filled=tuple(sorted(filled.items(), key=lambda item: item[0] % slots)),
        facing=tuple((slot, filled[slot]) for slot in near),
        next=ahead[0] if crossings < total else None,
        last=tuple(done[-LOOK_BACK:]),
    )


@dataclass(frozen=True)
class CountedPlace:
    """A place found from counted beads: where it may be, and what contradicts.

    Parameters
    ----------
    place : DiscState
        The earliest place that fits.
    fit : CountsFit
    """

    place: DiscState
    fit: CountsFit

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines; strands and crossings count from 1."""
        return self.place.as_dict() | {
            "possible_crossings_done": list(self.fit.crossings),
            "agree": not self.fit.miscounts,
            "explanations": [
                [
                    {
                        "strand": one.strand + 1,
                        "used": one.used,
                        "expected": one.expected,
                        "look_at_crossing": one.crossing + 1,
                    }
                    for one in explanation
                ]
                for explanation in self.fit.miscounts
            ],
            "count_strand": None if self.fit.deciding is None else self.fit.deciding + 1,
        }


def find_place(design: Design, used: Mapping[int, int]) -> CountedPlace:
    """Find the place in a braid from the beads already used on some strands.

    Parameters
    ----------
    design : Design
    used : mapping
        Strand (0-based) to beads used, as from `parse_used`.
    """
    fit = fit_used(design.braid, used, len(design.beads))
    return CountedPlace(place_at(design, fit.crossings[0]), fit)
