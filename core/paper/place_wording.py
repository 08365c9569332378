"""The place in a half-worked braid, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from ..making.lengths import format_length
from ..names import counted

if TYPE_CHECKING:
    from ..braid import Move
    from ..design import Design
    from ..making.where import CountedPlace, DiscState, Miscount


def place_lines(state: DiscState) -> list[str]:
    """Return the state of the disc in sentences."""
    design = state.design
    per_round = design.braid.beads_per_round
    beaded_mm = state.crossings / per_round * design.lattice.rise_mm
    beaded = format_length(beaded_mm, "in") if design.unit else f"{beaded_mm / 10:.1f} cm"
    lines = [
        _assumed(state),
        f"{state.crossings} of {len(design.beads)} crossings are done "
        f"({state.crossings // per_round} whole rounds, "
        f"{beaded} of beads).",
        "Filled slots, clockwise (slot: strand): "
        + ", ".join(f"{slot}: {strand + 1}" for slot, strand in state.filled),
    ]
    facing = ", ".join(f"strand {strand + 1} in slot {slot}" for slot, strand in state.facing)
    if len(state.facing) == 3:
        lines.append(
            f"Turn the disc until three strands face you, left to right: {facing}. The pair "
            "opposite has one strand."
        )
    else:
        lines.append(
            f"Every pair has two strands. Turn the disc until these two face you, left to "
            f"right: {facing}."
        )
    if state.next is None:
        lines.append("The braid is done: no beads are left.")
    else:
        lines.append(f"Next, {_move(design, state.next)}.")
    if state.last:
        lines.append(f"The last {len(state.last)} crossings, newest first:")
        lines += [f"  {_move(design, move)}" for move in reversed(state.last)]
    return lines


def counted_lines(found: CountedPlace) -> list[str]:
    """Return the place, and how sure it is."""
    lines = []
    crossings = found.fit.crossings
    if found.fit.miscounts:
        lines.append("The counts contradict each other. Either of these would explain it:")
        if len(found.fit.miscounts) == 1:
            lines[0] = "The counts contradict each other:"
        lines += [
            "  " + " ".join(_miscounted(one, found.place.design) for one in explanation)
            for explanation in found.fit.miscounts
        ]
        lines.append("Count again before you undo anything.")
    if len(crossings) > 1:
        lines.append(
            f"{_ranges(crossings)} crossings may be done; the earliest place is shown"
            + (
                "."
                if found.fit.deciding is None
                else f". Count the beads used on strand {found.fit.deciding + 1} as well to "
                "narrow it down."
            )
        )
    return lines + place_lines(found.place)


def sets_of_plain_braid(sets: int) -> str:
    """Return so many sets in words: ``8 sets of plain braid``."""
    return f"{sets or 'no'} set{'' if sets == 1 else 's'} of plain braid"


def _assumed(state: DiscState) -> str:
    """What the slots depend on."""
    sets = state.design.papers.plain_sets
    slots = state.design.braid.slots_after(sets)
    return (
        f"Assumed: {sets_of_plain_braid(sets)} before the first bead, so that strand 1 was in "
        f"slot {slots[0]} and strand 2 in slot {slots[1]} then."
    )


def _miscounted(count: Miscount, design: Design) -> str:
    """What went wrong, most likely."""
    off = abs(count.expected - count.used)
    beads = counted(off, "bead")
    bead = design.palette[int(design.beads[count.crossing])]
    if count.used < count.expected:
        return (
            f"Strand {count.strand + 1} has used {count.used}, but should have used "
            f"{count.expected}: most likely {beads} of it missed. Look first at its last "
            f"crossing, number {count.crossing + 1}, where its bead {count.expected} "
            f"({bead.code}, {bead.name}) belongs."
        )
    return (
        f"Strand {count.strand + 1} has used {count.used}, but should have used "
        f"{count.expected}: most likely {beads} too many went in. Look first at its last "
        f"crossing, number {count.crossing + 1}, where only its bead {count.expected or 1} "
        f"({bead.code}, {bead.name}) belongs."
    )


def _move(design: Design, move: Move) -> str:
    bead = design.palette[int(design.beads[move.crossing])]
    order = int(design.braid.order_of(move.crossing)) + 1
    return (
        f"crossing {move.crossing + 1}: strand {move.strand + 1} from slot {move.from_slot} to "
        f"{move.to_slot} with its bead {order}, {bead.code} ({bead.name})"
    )


def _ranges(numbers: tuple[int, ...]) -> str:
    """``(3, 4, 5, 9)`` as ``'3 to 5 or 9'``."""
    out: list[list[int]] = []
    for number in numbers:
        if out and number == out[-1][1] + 1:
            out[-1][1] = number
        else:
            out.append([number, number])
    return " or ".join(f"{a} to {b}" if b > a else f"{a}" for a, b in out)
