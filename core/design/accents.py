"""A plain back, and accents scattered round the motifs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Bools, Floats, Ints
from ..braid import FRONT_DEG
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
    front = FRONT_DEG if design.picture is None else design.picture.front_deg
    if sector_deg == 0:
        return np.zeros(len(design.beads), dtype=bool)
    return back_mask(design.lattice, np.arange(len(design.beads)), sector_deg, front)


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
    each_different: bool = False,
) -> Scattered:
    """Scatter accents in background beads near the motifs.

    Accents never touch each other, never lie on the plain back, and take only background beads
    that lie within two beads of a motif; drops never lie on the side against the skin. With a
    repeat they come again at every motif alike, unless `each_different`.

    Parameters
    ----------
    design : Design
    shares : mapping
        Share (0-1) of these background beads by bead code.
    seed : int
        The same seed gives the same accents.
    plain_back_deg : float
        Sector round the middle of the back that stays plain.
    each_different : bool
        Place the accents of each motif by themselves.

    Raises
    ------
    WrongUsage
        If a code is not in the palette or is the background's.
    """
    codes = [bead.code for bead in design.palette]
    _check_codes(design, shares, codes)
    neighbours = design.lattice.neighbours(len(design.beads))
    room = _near_motif(design, neighbours) & ~_back(design, plain_back_deg)
    rooms = _rooms(design, room, list(shares))
    kin = np.arange(len(room)) if each_different else _kin(design)
    order = _shuffled(kin, room, np.random.default_rng(seed))
    many = {code: int(mine.sum()) for code, mine in rooms.items()}
    wanted = {code: round(share * many[code]) for code, share in shares.items()}
    beads = design.beads.copy()
    accents = np.zeros(len(beads), dtype=bool)
    placed = dict.fromkeys(shares, 0)
    for group in order:
        own = {code: group[mine[group]] for code, mine in rooms.items()}
        code = _neediest(wanted, placed, {code: len(mine) for code, mine in own.items()})
        if code is not None and _fits(own[code], accents, neighbours):
            beads[own[code]], accents[own[code]] = codes.index(code), True
            placed[code] += len(own[code])
    return Scattered(replace(design, beads=beads), accents, wanted, placed, many)


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


def _rooms(design: Design, room: Bools, codes: Sequence[str]) -> dict[str, Bools]:
    """The beads that each accent may take: a drop none on the side against the skin."""
    drops = {bead.code for bead in design.palette if bead.shape == "drop"}
    off_skin = room & ~_back(design, SKIN_DEG)
    return {code: off_skin if code in drops else room for code in codes}


def _near_motif(design: Design, neighbours: Ints) -> Bools:
    """Background beads within `NEAR_BEADS` beads of one that is not background."""
    motif = design.beads != design.background
    near = motif
    for _ in range(NEAR_BEADS):
        # a bead beyond the ends (-1) is never near
        near = near | np.append(near, False)[neighbours].any(axis=1)
    reached: Bools = near & ~motif
    return reached


def _kin(design: Design) -> Ints:
    """A number for every bead that beads in the same place of another repeat share, (n,)."""
    crossing = np.arange(len(design.beads))
    if design.repeat is None or design.repeat.rounds < 1:
        return crossing
    step, side = np.divmod(crossing, 2)
    times, within = np.divmod(step, design.repeat.rounds * design.braid.axes)
    kin: Ints = 2 * within + (side ^ (times % 2 * design.repeat.flip))
    return kin


def _shuffled(kin: Ints, room: Bools, random: np.random.Generator) -> list[Ints]:
    """The beads with room, kin together, in random order."""
    where = np.flatnonzero(room)
    where = where[np.argsort(kin[where], kind="stable")]
    starts = np.flatnonzero(np.diff(kin[where])) + 1
    groups = np.split(where, starts) if len(where) else []
    # sorting random numbers stays the same from one numpy to the next
    key: Floats = random.random(len(groups))
    return [groups[index] for index in np.argsort(key, kind="stable")]


def _neediest(
    wanted: Mapping[str, int], placed: Mapping[str, int], sizes: Mapping[str, int]
) -> str | None:
    """The code that lacks most of its share; None if as many more of it would overshoot that.

    Parameters
    ----------
    wanted, placed : mapping
        By code.
    sizes : mapping
        How many more there would be of a code; none if it may not lie there.
    """
    may = [code for code, size in sizes.items() if size]
    if not may:
        return None
    code = max(may, key=lambda name: (wanted[name] - placed[name]) / max(1, wanted[name]))
    left = wanted[code] - placed[code]
    # once at every motif is the least there can be of an accent that was asked for
    return code if left > sizes[code] / 2 or left > placed[code] == 0 else None


def _fits(group: Ints, accents: Bools, neighbours: Ints) -> bool:
    """Whether no bead of a group touches an accent or another of the group."""
    beside = neighbours[group]
    beside = beside[beside >= 0]
    return not accents[beside].any() and not np.isin(beside, group).any()
