"""A finished design beside its sketch: the last word, with the full measures, on fine pixels."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from ..fit import raster as sampling
from ..fit.comparison import Comparison, Likeness, linear_lab
from ..fit.placement import Placement
from ..fit.tile import Tile

Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]

MOTIF_DIFFERENCE = 5.0
"""What differs from the background by more than this (Lab) is motif."""


def draw_tile(
    source: sampling.Source, placement: Placement, tile: Tile, ground_rgb: npt.NDArray[np.uint8]
) -> tuple[sampling.Raster, Ints]:
    """Draw one tile of a sketch as placed, and the place in the tile of each pixel's bead.

    Parameters
    ----------
    source : Source
        Red, green, blue times alpha, and alpha, of the whole picture.
    placement : Placement
        The middle of its front comes to x = 0.
    tile : Tile
    ground_rgb : (3,) uint8
        The background bead's colour.

    Returns
    -------
    Raster, (H, W) int
    """
    raster = sampling.unroll_source(
        source,
        tile.closed(placement),
        tile.lattice,
        tile.bottom_mm,
        tile.top_mm,
        tile.fine_px_per_mm,
        ground_rgb,
    )
    return raster, tile.owner(raster.shape, placement.front_deg)


def likeness_of(
    raster: sampling.Raster,
    owner: Ints,
    linear: Singles,
    ground: Singles,
    tile: Tile,
    *,
    flip: bool = True,
) -> Likeness:
    """Measure the beads of one tile beside the sketch.

    Parameters
    ----------
    raster : Raster
        One tile of the sketch.
    owner : (H, W) int
        Place in the tile of the bead under each pixel.
    linear : (beads, 3) float32
        Colours of the tile's beads in linear light.
    ground : (3,) float32
        The background bead's; what differs from it is motif.
    tile : Tile
    flip : bool
        Whether to measure F as well.
    """
    px_per_bead = tile.px_per_bead(raster.shape)
    apart = linear_lab(raster.linear) - linear_lab(ground)
    motif = _grown(np.linalg.norm(apart, axis=-1) > MOTIF_DIFFERENCE, px_per_bead)
    return Comparison(raster.linear, px_per_bead).measure(linear[owner], motif, flip=flip)


def _grown(mask: Bools, px_per_bead: tuple[float, float]) -> Bools:
    """A mask grown by half a bead pitch, on the torus."""
    for axis, px in enumerate(px_per_bead):
        reach = max(1, round(px / 2))
        mask = np.logical_or.reduce([np.roll(mask, k, axis) for k in range(-reach, reach + 1)])
    return mask
