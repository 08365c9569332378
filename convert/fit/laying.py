"""A fitted motif on the beads of a braid: which crossing is its seed, and what its beads are."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ...core.arrays import Floats, Ints
from ...core.braid import Lattice
from .size import FittedMotif
from .tile import Tile


class Placed(NamedTuple):
    """A fitted motif on a tile.

    Attributes
    ----------
    seed : int
        The crossing of the patch's seed bead.
    azimuth_deg, height_mm : float
        Where the motif's middle lies.
    colours : (tile's beads,) int
        Numbers of the sketch's colours.
    """

    seed: int
    azimuth_deg: float
    height_mm: float
    colours: Ints


def nearest_bead(
    lattice: Lattice, azimuth_deg: float, height_mm: float
) -> tuple[int, tuple[float, float]]:
    """Return the crossing nearest to a place, and how far right of and above it that place is.

    Crossings below 0 lie before the braid's first one.
    """
    base = round(height_mm / lattice.step_mm)
    reach = 2 * lattice.braid.axes + int(np.ceil(lattice.covering_radius_mm / lattice.step_mm))
    crossings = np.arange(2 * (base - reach), 2 * (base + reach) + 2)
    right, up = _from(lattice, crossings, azimuth_deg, height_mm)
    nearest = int(np.argmin(np.round(right**2 + up**2, 9)))
    return int(crossings[nearest]), (float(right[nearest]), float(up[nearest]))


def placed_on(
    fitted: FittedMotif, tile: Tile, azimuth_deg: float, height_mm: float, ground: int
) -> Placed:
    """Lay a motif as near as the lattice allows to a place; the beads beside it are ground.

    Parameters
    ----------
    fitted : FittedMotif
    tile : Tile
        At least as high as the motif.
    azimuth_deg, height_mm : float
        Where the motif's middle is wanted.
    ground : int
        The number of the sketch's ground.
    """
    lattice, (right, up) = tile.lattice, fitted.offset_mm
    turned_deg = float(np.rad2deg(right / lattice.radius_mm))
    # the seed lies where the motif's middle is wanted, less its offset
    seed, _ = nearest_bead(lattice, azimuth_deg + turned_deg, height_mm - up)
    step, side = np.divmod(seed, 2)
    crossings = 2 * (step + fitted.patch.step) + (side ^ fitted.patch.side)
    colours = np.full(tile.beads, ground)
    drawn = fitted.colours != ground
    colours[tile.within(crossings[drawn])[1]] = fitted.colours[drawn]
    azimuth = float(lattice.azimuth_deg(seed)) - turned_deg
    return Placed(seed, azimuth % 360.0, float(lattice.height_mm(seed)) + up, colours)


def _from(
    lattice: Lattice, crossings: Ints, azimuth_deg: float, height_mm: float
) -> tuple[Floats, Floats]:
    """How far a place lies right of and above the beads of crossings, mm."""
    right = -lattice.chart_x_mm(lattice.azimuth_deg(crossings), azimuth_deg)
    return right, height_mm - lattice.height_mm(crossings)
