"""Under which strand a bead is tucked before its strand crosses.

A strand that has crossed lies over the middle of the disc. Of all those that lie between the middle
and the slot of the strand that goes next, the one that crossed last holds the bead down: common
practice says "under the strand that lies across".

>>> from .braid import Braid
>>> tucked_under(Braid(8)), tucked_under(Braid(12, "S", "other"))
((1, 2), (2, 1))
"""

from __future__ import annotations

from .braid import Braid, Move


def tucked_under(braid: Braid) -> tuple[int, int]:
    """Return which step of the turn before moved the strand that holds the bead of steps 1 and 2.

    Returns
    -------
    (int, int)
        1 or 2 for the bead of step 1, then for that of step 2.
    """
    *before, one, two = _worked(braid)
    first, second = (_holding(braid, before, move).crossing % 2 + 1 for move in (one, two))
    return first, second


def over_first_bead(braid: Braid) -> tuple[Move, Move]:
    """Return the crossing of the strand that holds the bead of step 1, and that step's own."""
    *before, one, _ = _worked(braid)
    return _holding(braid, before, one), one


def _worked(braid: Braid) -> list[Move]:
    """A whole set and a turn: every strand lies where a crossing has laid it."""
    return list(braid.work(2 * braid.strands + 2))


def _holding(braid: Braid, before: list[Move], move: Move) -> Move:
    return next(past for past in reversed(before) if _lies_across(braid, past, move))


def _lies_across(braid: Braid, past: Move, move: Move) -> bool:
    """Whether a strand, as it crossed, passes between the middle and the slot of another."""
    slots = braid.start.slots
    # it crosses a little less than half a disc, and leaves the middle on the longer side
    way = (past.to_slot - past.from_slot) % slots
    short, begin = (way, past.from_slot) if way < slots / 2 else (slots - way, past.to_slot)
    return 0 < (move.from_slot - begin) % slots < short
