"""A round kongo gumi, worked crossing by crossing on a slotted disc.

The disc is seen from above, north up, azimuth clockwise. ``P`` pairs of strands sit around it.
In S lay the counter-clockwise strand of the pair at the worker's top crosses to the opposite pair
and becomes its clockwise strand, then the counter-clockwise strand of that pair comes back the
same way; then the disc turns to the next axis. Z lay is the mirror image.

>>> braid = Braid(8)
>>> braid.start_slots
(32, 1, 8, 9, 16, 17, 24, 25)
>>> [(move.from_slot, move.to_slot) for move in braid.work(2)]
[(32, 18), (16, 2)]
>>> [int(strand) + 1 for strand in braid.strand_of([0, 1, 2, 3])]
[1, 5, 7, 3]
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import count, islice
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from .._data import load
from ..arrays import Ints
from ..errors import WrongUsage
from ..findings import Remedy

Lay = Literal["S", "Z"]
Turn = Literal["usual", "other"]
Pair = tuple[int, int]

STRANDS = (8, 12, 16, 20, 24)
"""An even number of pairs, four at least; common practice."""
LAYS: tuple[Lay, ...] = ("S", "Z")
TURNS: tuple[Turn, ...] = ("usual", "other")


class _SlotFilledError(Exception):
    """A strand would have to go into a slot that is filled."""


class Move(NamedTuple):
    """One strand crossing the disc.

    Attributes
    ----------
    crossing : int
        0-based; axis step ``crossing // 2``, side ``crossing % 2`` (0 leaves the worker's top).
    strand : int
        0-based, in the order of the starting slots clockwise from the highest slot number.
    from_slot, to_slot : int
        1-based slot numbers.
    """

    crossing: int
    strand: int
    from_slot: int
    to_slot: int


class Disc(NamedTuple):
    """Where the strands start: number of slots, and the pairs clockwise from north."""

    slots: int
    starts: tuple[Pair, ...]


def standard_disc(strands: int) -> Disc:
    """Return the usual start of a braid on the usual disc.

    Parameters
    ----------
    strands : int
        8, 12, 16, 20 or 24.

    Raises
    ------
    WrongUsage
        For any other number.
    """
    data = load("braid/starts.json")
    rows = data["starts"].get(str(strands))
    if rows is None:
        counts = ", ".join(str(count) for count in STRANDS)
        raise WrongUsage(f"this braid is worked with {counts} strands, not {strands}.", "strands")
    return Disc(int(data["slots"]), tuple((int(a), int(b)) for a, b in rows))


@dataclass(frozen=True)
class Braid:
    """A round kongo gumi.

    Parameters
    ----------
    strands : int
        8, 12, 16, 20 or 24 on the usual disc; any multiple of 4 from 8 with an own `disc`.
    lay : 'S' or 'Z'
        S: top left goes down, bottom right goes up; Z: top right down, bottom left up.
    turn : 'usual' or 'other'
        The usual turn goes against the drift of the pairs.
    disc : Disc, optional
        An own start. Pairs clockwise from north, each two neighbouring slots
        (counter-clockwise, clockwise), opposite pairs half a disc apart.

    Raises
    ------
    WrongUsage
        If the strands cannot be worked this way: a start that does not fit, or two strands
        that would have to share a slot (the move is named).
    """

    strands: int = 8
    lay: Lay = "S"
    turn: Turn = "usual"
    disc: Disc | None = None

    def __post_init__(self) -> None:
        if self.lay not in ("S", "Z"):
            raise WrongUsage(f"lay {self.lay!r}: choose S or Z.", "lay")
        if self.turn not in ("usual", "other"):
            raise WrongUsage(f"turn {self.turn!r}: choose usual or other.", "turn")
        if self.disc is None:
            object.__setattr__(self, "disc", standard_disc(self.strands))
        self._check_start()
        met = self._meeting()
        if met is None:
            return
        other_turn = "other" if self.turn == "usual" else "usual"
        other_lay = "Z" if self.lay == "S" else "S"
        ways = (Remedy("turn", other_turn), Remedy("lay", other_lay))
        work = tuple(one for one in ways if self._with(one.field, one.value)._meeting() is None)
        raise WrongUsage(
            f"{self.lay} lay, {self.turn} turn: {met}{'' if work else ' Take another start.'}",
            "disc" if self.own_start else "turn",
            work,
        )

    def _with(self, field: str, value: str) -> Braid:
        """The same start worked another way, which may be one that cannot be."""
        other = object.__new__(Braid)
        for name, own in (("strands", self.strands), ("lay", self.lay), ("turn", self.turn)):
            object.__setattr__(other, name, value if name == field else own)
        object.__setattr__(other, "disc", self.disc)
        return other

    def _meeting(self) -> str | None:
        """Where two strands would have to share a slot."""
        try:
            # after four rounds every pair stands four slots further on: nothing new can happen
            for _ in self.work(4 * self.beads_per_round):
                pass
        except _SlotFilledError as found:
            return str(found)
        return None

    def _check_start(self) -> None:
        slots, starts = self.start
        if self.strands < 8 or self.strands % 4 or len(starts) * 2 != self.strands:
            raise WrongUsage(
                f"{self.strands} strands on {len(starts)} pairs: give an even number of pairs, at "
                "least four, with two strands each."
            )
        if slots % 2:
            raise WrongUsage(f"a disc of {slots} slots: opposite slots need an even number.")
        used = [slot for pair in starts for slot in pair]
        if any(not 1 <= slot <= slots for slot in used) or len(set(used)) != len(used):
            raise WrongUsage(f"the starting slots must be different numbers from 1 to {slots}.")
        order = [self._place(first) for first, _ in starts]
        if order != sorted(order):
            raise WrongUsage("name the pairs clockwise, beginning with the pair at north.")
        half = slots // 2
        for index, (first, second) in enumerate(starts):
            if second != first % slots + 1:
                raise WrongUsage(
                    f"pair {first},{second}: a pair sits in two neighbouring slots, "
                    "counter-clockwise one first."
                )
            opposite = starts[(index + self.axes) % self.pairs][0]
            if opposite != (first + half - 1) % slots + 1:
                raise WrongUsage(
                    f"pair {first},{second}: the opposite pair must start in slot "
                    f"{(first + half - 1) % slots + 1}, not {opposite}."
                )

    def _place(self, slot: int) -> int:
        """Place of a slot in the order highest number, 1, 2, ..."""
        return slot % self.start.slots

    @property
    def start(self) -> Disc:
        """The disc and the starting slots in use."""
        assert self.disc is not None
        return self.disc

    @property
    def own_start(self) -> bool:
        """Whether the start is the maker's own, not the usual one."""
        return self.strands not in STRANDS or self.start != standard_disc(self.strands)

    @property
    def axes(self) -> int:
        """Number ``m`` of axes of the disc."""
        return self.strands // 4

    @property
    def pairs(self) -> int:
        """Number ``P = 2m`` of pair positions, which is also the beads in a round."""
        return self.strands // 2

    @property
    def beads_per_round(self) -> int:
        """Beads (crossings) in a round of ``m`` axes."""
        return self.pairs

    @property
    def turn_sense(self) -> int:
        """+1 if the next pair is the clockwise one, -1 if it is the counter-clockwise one."""
        sense = -1 if self.lay == "S" else 1
        return sense if self.turn == "usual" else -sense

    @cached_property
    def start_slots(self) -> tuple[int, ...]:
        """Starting slot of strand 1, 2, ...: clockwise from the highest slot number."""
        return tuple(sorted((s for pair in self.start.starts for s in pair), key=self._place))

    @cached_property
    def _first_block(self) -> Ints:
        """Strand of each crossing of the first two rounds, shape (2m, 2): axis step, side."""
        table = np.empty((self.pairs, 2), dtype=np.intp)
        number = {slot: index for index, slot in enumerate(self.start_slots)}
        for step in range(self.pairs):
            for side in range(2):
                pair = self.start.starts[(self.turn_sense * step + self.axes * side) % self.pairs]
                first, second = pair if self.lay == "S" else pair[::-1]
                table[step, side] = number[first if step < self.axes else second]
        return table

    def strand_of(self, crossing: npt.ArrayLike) -> Ints:
        """Return the strand that drops the bead of each crossing, by the closed form.

        Each pair is a queue of two, so a strand crosses once in two rounds, on alternate sides.

        Parameters
        ----------
        crossing : array of int, any shape
            0-based crossing numbers.

        Returns
        -------
        array of int, same shape
            0-based strands.
        """
        step, side = np.divmod(np.asarray(crossing), 2)
        block, within = np.divmod(step, self.pairs)
        strand: Ints = self._first_block[within, side ^ (block & 1)]
        return strand

    def order_of(self, crossing: npt.ArrayLike) -> Ints:
        """Return the 0-based place of each crossing's bead on its strand (any shape)."""
        return np.asarray(crossing, dtype=np.intp) // self.strands

    @cached_property
    def _first_crossing(self) -> Ints:
        """Crossing of each strand in an even and in an odd block, shape (2, N)."""
        return np.stack(
            [np.argsort(self.strand_of(np.arange(self.strands) + k * self.strands)) for k in (0, 1)]
        )

    def crossing_of(self, strand: npt.ArrayLike, order: npt.ArrayLike) -> Ints:
        """Return the crossing that drops bead `order` (0-based) of `strand` (0-based)."""
        place = np.asarray(order, dtype=np.intp)
        crossing: Ints = self.strands * place + self._first_crossing[place & 1, np.asarray(strand)]
        return crossing

    def work(self, crossings: int, plain_sets: int = 0) -> Iterator[Move]:
        """Work the disc slot by slot, as hands do, without the closed form.

        Parameters
        ----------
        crossings : int
            How many crossings to work.
        plain_sets : int
            Sets of plain braid worked before, of N turns each: the strands stand in the order of
            the start again, four slots further on for each set. Crossings count from their end.

        Yields
        ------
        Move
            In working order.

        Raises
        ------
        WrongUsage
            If a strand would have to go into a filled slot.
        """
        plain = 2 * self.strands * plain_sets
        for move in islice(self._worked(), plain, plain + crossings):
            yield move._replace(crossing=move.crossing - plain)

    def slots_after(self, plain_sets: int) -> tuple[int, ...]:
        """Return the slot of strand 1, 2, ... after so many sets of plain braid, by working it."""
        stands = list(self.start_slots)
        for move in self.work(2 * self.strands * plain_sets):
            stands[move.strand] = move.to_slot
        return tuple(stands)

    def _worked(self) -> Iterator[Move]:
        """Every move from the start on, without end."""
        slots = self.start.slots
        filled = {slot: strand for strand, slot in enumerate(self.start_slots)}
        top = self.start.starts[0]
        reach = slots // 2 + (2 if self.lay == "S" else -2)
        for crossing in count():
            leaving = top[0] if self.lay == "S" else top[1]
            if crossing % 2:
                leaving = (leaving + slots // 2 - 1) % slots + 1
            target = (leaving + reach - 1) % slots + 1
            if target in filled:
                raise _SlotFilledError(
                    f"crossing {crossing + 1} would take the strand in slot {leaving} to slot "
                    f"{target}, which is filled."
                )
            strand = filled.pop(leaving)
            filled[target] = strand
            yield Move(crossing, strand, leaving, target)
            if crossing % 2:
                top = self._next_pair(top, filled)

    def _next_pair(self, top: Pair, filled: dict[int, int]) -> Pair:
        """Turn the disc: the next filled pair beside the pair that has just been worked."""
        slots = self.start.slots
        shift = 1 if self.lay == "S" else -1
        slot = (top[1] if self.turn_sense > 0 else top[0]) + shift
        while True:
            slot = (slot + self.turn_sense - 1) % slots + 1
            if slot in filled:
                break
        if self.turn_sense > 0:
            return slot, slot % slots + 1
        return (slot - 2) % slots + 1, slot
