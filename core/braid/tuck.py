"""Under which strand a bead is tucked before its strand crosses.

The strands of a disc run from the middle to their slots. The one that crossed last of all those
that lie between the middle and the strand's own slot holds the bead down: common practice says
"under the strand that lies across".

>>> from .braid import Braid
>>> tucked_under(Braid(8)), tucked_under(Braid(12, "S", "other"))
((1, 2), (2, 1))
"""

from __future__ import annotations

from .braid import Braid, Move


def tucked_under(braid: Braid) -> tuple[int, int]:
    """Return which step of the turn before moved the strand that holds the bead of steps 1 and 2.

    Parameters
    ----------
    braid : Braid

    Returns
    -------
    (int, int)
        1 or 2 for the bead of step 1, then for that of step 2.
    """
    # a whole set has been worked, so that every strand lies where a crossing has laid it
    moves = list(braid.work(2 * braid.strands + 2))
    *before, one, two = moves
    first, second = (
        next(past.crossing % 2 + 1 for past in reversed(before) if _lies_across(braid, past, move))
        for move in (one, two)
    )
    return first, second


def _lies_across(braid: Braid, past: Move, move: Move) -> bool:
    """Whether a strand, as it crossed, passes between the middle and the slot of another."""
    slots = braid.start.slots
    # it crosses a little less than half a disc, and leaves the middle on the longer side
    way = (past.to_slot - past.from_slot) % slots
    short, begin = (way, past.from_slot) if way < slots / 2 else (slots - way, past.to_slot)
    return 0 < (move.from_slot - begin) % slots < short
