"""A patch of the lattice: beads, neighbours and cells round one seed bead.

Every bead of a braid lies among its neighbours as every other does, so where a motif lies matters
only up to a lattice shift: all places are offsets of the motif's middle within the seed's cell. A
patch goes once round the braid and is as high as the motif needs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from ...core.arrays import Floats, Ints
from ...core.braid import Lattice

ENERGY_PX_PER_PITCH = 6.0
"""Pixels per bead pitch that shares of cells are counted in: some thirty a cell, 3 % steps."""

PATCH_PX_PER_PITCH = 10.0
"""Pixels per bead pitch of the map on which the bead under a point is looked up."""


@dataclass(frozen=True, eq=False)
class OwnerMap:
    """The bead of a patch that is nearest to each pixel; the seed in the middle.

    Parameters
    ----------
    owner : (H, W) int
        Once round the braid, from left to right; from the top down.
    across, down : float
        Pixels per mm.
    """

    owner: Ints
    across: float
    down: float

    def at(self, points_mm: Floats) -> Ints:
        """Return the bead nearest to points (..., 2): right of the seed, above it."""
        high, wide = self.owner.shape
        column = np.floor(points_mm[..., 0] * self.across + wide / 2).astype(np.intp) % wide
        row = np.floor(high / 2 - points_mm[..., 1] * self.down).astype(np.intp)
        return np.asarray(self.owner[np.clip(row, 0, high - 1), column])


@dataclass(frozen=True, eq=False)
class Patch:
    """Beads round a seed, once round the braid.

    Parameters
    ----------
    lattice : Lattice
    step, side : (beads,) int
        Axis steps from the seed, and whether the side changes.
    x_mm, y_mm : (beads,) float
        To the right of the seed, the shorter way round, and above it.
    """

    lattice: Lattice
    step: Ints
    side: Ints
    x_mm: Floats
    y_mm: Floats

    @classmethod
    def of(cls, lattice: Lattice, half_height_mm: float) -> Patch:
        """Return the patch that reaches so far above and below its seed; the last ones are kept."""
        return _patch(lattice, int(np.ceil(half_height_mm / lattice.step_mm)))

    def __len__(self) -> int:
        return len(self.step)

    @property
    def px_per_mm(self) -> float:
        """Pixels per mm that shares of cells are counted in."""
        return ENERGY_PX_PER_PITCH / self.lattice.pitch_mm

    @cached_property
    def neighbours(self) -> Ints:
        """The six neighbours of each bead, (beads, 6); -1 beyond the patch."""
        offsets = self.lattice.offsets
        step = self.step[:, None] + offsets[:, 0]
        side = self.side[:, None] ^ offsets[:, 1]
        lowest, highest = self.step[0], self.step[-1]
        inside = (step >= lowest) & (step <= highest)
        return np.where(inside, 2 * (step - lowest) + side, -1)

    def offsets_mm(self, spacing_mm: float) -> Floats:
        """Return places spread evenly over the seed's cell, (k, 2) mm: right, up.

        The first is the seed itself.
        """
        lattice = self.lattice
        reach = lattice.covering_radius_mm
        side = np.arange(-int(reach / spacing_mm) - 1, int(reach / spacing_mm) + 2) * spacing_mm
        place = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
        away = lattice.offsets_mm
        over = place @ away.T - (away**2).sum(axis=1) / 2
        # of two equally near, one is kept
        strict = (away[:, 1] < -1e-9) | ((np.abs(away[:, 1]) <= 1e-9) & (away[:, 0] < 0))
        inside = np.where(strict, over < -1e-9, over <= 1e-9).all(axis=1)
        place = place[inside]
        return np.asarray(place[np.argsort(np.round((place**2).sum(axis=1), 9), kind="stable")])

    @property
    def centres_mm(self) -> Floats:
        """The four kinds of places, (4, 2) mm, about which a half turn keeps the lattice."""
        halves = np.asarray(self.lattice.offsets_mm)[:3] / 2
        return np.concatenate([np.zeros((1, 2)), halves])

    def upside_down(self, centre_mm: Floats) -> Ints:
        """Return where a half turn about one of `centres_mm` takes each bead; else the bead.

        Beads that it takes beyond the patch stay.
        """
        place = np.stack([self.x_mm, self.y_mm], axis=1)
        there = self.owner(*(2 * np.asarray(centre_mm) - place).T)
        every = np.arange(len(self))
        return np.where(there[there] == every, there, every)

    @cached_property
    def owner_map(self) -> OwnerMap:
        """The bead nearest to each pixel of the patch."""
        lattice = self.lattice
        px_per_mm = PATCH_PX_PER_PITCH / lattice.pitch_mm
        wide = max(8, round(lattice.circumference_mm * px_per_mm))
        half = int(np.ceil((self.y_mm[-1] + 2 * lattice.covering_radius_mm) * px_per_mm))
        x = ((np.arange(wide) + 0.5) / wide - 0.5) * lattice.circumference_mm
        y = (half - np.arange(2 * half) - 0.5) / px_per_mm
        owner = self.owner(x[None], y[:, None])
        return OwnerMap(owner, wide / lattice.circumference_mm, px_per_mm)

    def owner(self, x_mm: npt.ArrayLike, y_mm: npt.ArrayLike) -> Ints:
        """Return the bead of the patch nearest to each point: right of the seed, above it.

        Shapes that broadcast. Points above or below the patch belong to its outermost beads.
        """
        # the patch is a braid that has its seed in the middle
        seed_deg = float(self.lattice.azimuth_deg(-2 * int(self.step[0])))
        y = np.asarray(y_mm, dtype=np.float64) - self.y_mm[0]
        return self.lattice.owner(x_mm, y, len(self), seed_deg)


@lru_cache(maxsize=16)
def _patch(lattice: Lattice, reach: int) -> Patch:
    """The patch that reaches so many axis steps above and below its seed."""
    return Patch(lattice, *lattice.about(reach))
