"""A plain back, and accents scattered round the motifs."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Bools, Ints
from ..errors import WrongUsage
from ..findings import Code, Finding
from .drops import SKIN_DEG, back_mask

if TYPE_CHECKING:
    from .design import Design


NEAR_BEADS = 2
"""An accent lies at most so many steps, from bead to neighbouring bead, from a motif; a choice of
this project."""


def plain_back(design: Design, sector_deg: float) -> Design:
    """Return the design with the background bead in a sector round the middle of the back.

    Parameters
    ----------
    design : Design
    sector_deg : float
        Width of the sector, 0 to 360.
    """
    beads = np.where(_back(design, sector_deg), design.background, design.beads)
    return replace(design, beads=beads)


def _back(design: Design, sector_deg: float) -> Bools:
    if not 0 <= sector_deg <= 360:
        raise WrongUsage(
            f"plain back {sector_deg:g} degrees: give a sector from 0 to 360.", "plain_back_deg"
        )
    if sector_deg == 0:
        return np.zeros(len(design.beads), dtype=bool)
    return back_mask(design.lattice, np.arange(len(design.beads)), sector_deg, design.front_deg)


@dataclass(frozen=True, eq=False)
class Scattered:
    """A design with accents.

    Parameters
    ----------
    design : Design
    accents : (n,) bool
        The beads that were placed.
    wanted, placed : mapping
        Number of accents by code.
    room : mapping
        Background beads near a motif that may become an accent, by its code; its share is taken
        from them.
    """

    design: Design
    accents: Bools
    wanted: Mapping[str, int]
    placed: Mapping[str, int]
    room: Mapping[str, int]

    @property
    def crossings(self) -> dict[str, tuple[int, ...]]:
        """Crossings of the accents by code, counted from 0."""
        codes, beads = [bead.code for bead in self.design.palette], self.design.beads
        return {
            code: tuple(np.flatnonzero(self.accents & (beads == codes.index(code))).tolist())
            for code in self.placed
        }

    @property
    def findings(self) -> list[Finding]:
        """What was placed, accent by accent."""
        drops = {bead.code for bead in self.design.palette if bead.shape == "drop"}
        return [
            Finding(
                Code.SCATTERED,
                {
                    "code": code,
                    "placed": count,
                    "wanted": self.wanted[code],
                    "room": self.room[code],
                    "drop": code in drops,
                },
            )
            for code, count in self.placed.items()
        ]


def scatter(
    design: Design,
    shares: Mapping[str, float],
    *,
    seed: int = 0,
    plain_back_deg: float = 0.0,
    alike: bool = False,
) -> Scattered:
    """Scatter accents in background beads near the motifs, on all their sides.

    Accents never touch each other, never lie on the plain back or on the side against the skin, and
    take only background beads that lie within two beads of a motif. The motifs, and the four sides
    of each, get them in turn, so that none has two more than another that has room; which beads of
    a side they take is drawn by chance, differently at each motif unless `alike`.

    Parameters
    ----------
    design : Design
    shares : mapping
        Share (0-1) of these background beads by bead code.
    seed : int
        The same seed gives the same accents.
    plain_back_deg : float
        Sector round the middle of the back that stays plain, if it is wider than `SKIN_DEG`.
    alike : bool
        Place them alike at every motif.

    Raises
    ------
    WrongUsage
        If a code is not in the palette or is the background's.
    """
    codes = [bead.code for bead in design.palette]
    _check_codes(design, shares, codes)
    neighbours = design.lattice.neighbours(len(design.beads))
    room = _near_motif(design, neighbours) & ~_back(design, max(SKIN_DEG, plain_back_deg))
    many = int(room.sum())
    wanted = {code: round(share * many) for code, share in shares.items()}
    turns = _Turns(_sides(design, neighbours, alike), np.random.default_rng(seed))
    beads = design.beads.copy()
    accents = np.zeros(len(beads), dtype=bool)
    placed = dict.fromkeys(shares, 0)
    for group in turns.take(_groups(design, room, alike)):
        code = _neediest(wanted, placed, len(group))
        if code is not None and _fits(group, accents, neighbours):
            beads[group], accents[group] = codes.index(code), True
            placed[code] += len(group)
            turns.placed()
    return Scattered(
        replace(design, beads=beads), accents, wanted, placed, dict.fromkeys(shares, many)
    )


def _check_codes(design: Design, shares: Mapping[str, float], codes: list[str]) -> None:
    problems = []
    for code in shares:
        if code not in codes:
            problems.append(f"scatter {code}: is not in the palette; it has {', '.join(codes)}.")
        elif code == codes[design.background]:
            problems.append(f"scatter {code}: is the background bead; choose another.")
    if sum(shares.values()) > 1:
        problems.append(f"scatter: the shares add up to {sum(shares.values()):g}; at most 1.")
    if problems:
        raise WrongUsage.together(WrongUsage(problem, "scatter") for problem in problems)


def _near_motif(design: Design, neighbours: Ints) -> Bools:
    """Background beads within `NEAR_BEADS` beads of one that is not background."""
    motif = design.beads != design.background
    near = motif
    for _ in range(NEAR_BEADS):
        # a bead beyond the ends (-1) is never near
        near = near | np.append(near, False)[neighbours].any(axis=1)
    reached: Bools = near & ~motif
    return reached


def _sides(design: Design, neighbours: Ints, alike: bool) -> Ints:
    """Number of the motif, and which side of it a bead near it lies on, (n, 2).

    A bead's side is the quarter of the compass that leads away from the beads of the motif that it
    touches, or from those between it and the motif. All motifs have number 0 if they are `alike`.
    """
    motif = design.beads != design.background
    beside = np.append(motif, False)[neighbours]
    away_mm = -(beside @ design.lattice.offsets_mm)
    second = ~beside.any(axis=1)
    between = np.append(beside.any(axis=1), False)[neighbours[second]]
    away_mm[second] = -(between @ design.lattice.offsets_mm)
    turn_deg = np.degrees(np.arctan2(away_mm[:, 1], away_mm[:, 0]))
    # a little more, so that rounding decides nothing on a diagonal
    side = np.floor((turn_deg + 45.001) / 90.0) % 4
    number = np.zeros(len(motif), dtype=np.intp)
    if design.repeat is not None and not alike:
        period = design.repeat.rounds * design.braid.beads_per_round
        number = (np.arange(len(motif)) - design.repeat.first) // period
        number = number.clip(0, design.repeat.count - 1)
    return np.stack([number, side.astype(np.intp)], axis=1)


def _groups(design: Design, room: Bools, alike: bool) -> list[Ints]:
    """The beads with room; those in the same place of another motif together if `alike`."""
    where = np.flatnonzero(room)
    if not alike or not len(where):
        return [where[at : at + 1] for at in range(len(where))]
    index = design.repeat_index()
    # a bead outside the repeats stands alone
    kin = np.where(index < 0, -1 - np.arange(len(index)), index)
    where = where[np.argsort(kin[where], kind="stable")]
    return np.split(where, np.flatnonzero(np.diff(kin[where])) + 1)


class _Turns:
    """Whose turn it is: the motif with the fewest accents, of its sides that with the fewest."""

    def __init__(self, side: Ints, random: np.random.Generator) -> None:
        self.side, self.random = side, random
        self.at_motif: Counter[int] = Counter()
        self.at_side: Counter[tuple[int, int]] = Counter()
        self.last = (0, 0)

    def placed(self) -> None:
        """Count the group that was taken last."""
        self.at_motif[self.last[0]] += 1
        self.at_side[self.last] += 1

    def take(self, groups: Sequence[Ints]) -> Iterator[Ints]:
        """Yield every group once, in turn."""
        # sorting random numbers stays the same from one numpy to the next
        order = np.argsort(self.random.random(len(groups)), kind="stable").tolist()
        waiting: dict[tuple[int, int], list[int]] = {}
        for place in order:
            motif, side = self.side[groups[place][0]].tolist()
            waiting.setdefault((motif, side), []).append(place)
        # sides come in the order in which chance first named them
        heap = [(*self._key(key), tie, key) for tie, key in enumerate(waiting)]
        heapify(heap)
        while heap:
            *counts, tie, key = heappop(heap)
            if tuple(counts) == self._key(key):
                self.last = key
                yield groups[waiting[key].pop()]
            if waiting[key]:
                heappush(heap, (*self._key(key), tie, key))

    def _key(self, key: tuple[int, int]) -> tuple[int, int]:
        return self.at_motif[key[0]], self.at_side[key]


def _neediest(wanted: Mapping[str, int], placed: Mapping[str, int], more: int) -> str | None:
    """The code that lacks most of its share; None if so many more of it would overshoot that."""
    code = max(wanted, key=lambda name: (wanted[name] - placed[name]) / max(1, wanted[name]))
    left = wanted[code] - placed[code]
    # once at every motif is the least there can be of an accent that was asked for
    return code if left > more / 2 or left > placed[code] == 0 else None


def _fits(group: Ints, accents: Bools, neighbours: Ints) -> bool:
    """Whether no bead of a group touches an accent or another of the group."""
    beside = neighbours[group]
    if (accents[beside] & (beside >= 0)).any():
        return False
    return len(group) == 1 or not np.isin(beside, group).any()
