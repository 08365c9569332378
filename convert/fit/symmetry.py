"""Symmetry that the lattice can keep.

The beads of a braid lie on a helix: its mirror image is the braid of the other lay, so no mirror
axis of a sketch survives. What the lattice does have is two-fold centres: a half turn about the
middle of a bead, or about the middle between two neighbours, brings it onto itself. A sketch that
looks the same upside down, such as a lozenge, an S or a ring, can have beads that do so too.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...core.arrays import Ints
from ...core.braid import FRONT_DEG
from ..read import Source
from .tile import Tile

UNLIKE = 0.1
"""A sketch that differs from itself upside down by more than this part of its contrast is not
symmetrical."""


@dataclass(frozen=True, eq=False)
class Centre:
    """A two-fold centre of the lattice.

    Parameters
    ----------
    moved_mm : (float, float)
        How far the motif must move, right and up, to have its middle there.
    partner : (beads,) int
        Where the half turn takes each bead of the tile.
    """

    moved_mm: tuple[float, float]
    partner: Ints


def looks_the_same_upside_down(source: Source) -> bool:
    """Return whether a half turn leaves a sketch as it is."""
    planes = source.planes[..., :4]
    contrast = np.abs(planes - planes.mean(axis=(0, 1))).mean()
    return bool(np.abs(planes - planes[::-1, ::-1]).mean() < UNLIKE * contrast)


def centres(tile: Tile, front_deg: float = FRONT_DEG) -> list[Centre]:
    """Return the four kinds of two-fold centres, each at its nearest to the motif's middle."""
    lattice = tile.lattice
    x, y = tile.places_mm(front_deg)
    step, side = np.divmod(np.arange(tile.beads) + tile.first, 2)
    found = []
    halves = [(0, 0, 0.0, 0.0)] + [
        (int(steps), int(flip), float(away[0]) / 2, float(away[1]) / 2)
        for (steps, flip), away in zip(lattice.offsets[:3], lattice.offsets_mm[:3], strict=True)
    ]
    for steps, flip, right, up in halves:
        across = (x + right + lattice.circumference_mm / 2) % lattice.circumference_mm
        across -= lattice.circumference_mm / 2
        along = y + up - tile.middle_mm
        bead = int(np.argmin(across**2 + along**2))
        # the half turn takes the bead to the other end of the half step, and all others alike
        turned_step = 2 * step[bead] + steps - step
        turned_side = (side[bead] + (side[bead] ^ flip) + side) % 2
        partner = tile.within(2 * turned_step + turned_side)[1]
        found.append(Centre((float(across[bead]), float(along[bead])), partner))
    return found


def alike(colours: Ints, partner: Ints) -> list[Ints]:
    """Return the two symmetrical colourings that agree with half of the beads each."""
    every = np.arange(len(partner))
    first, second = every <= partner, every >= partner
    return [np.where(half, colours, colours[partner]) for half in (first, second)]
