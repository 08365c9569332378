"""A finished design beside its sketch: the last word, with the full measures, on fine pixels."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...core.arrays import Bools, Bytes, Float32Array
from ...palette import linear_lab
from ..fit import raster as sampling
from ..fit.comparison import FAR, NEAR, STRUCTURE_WEIGHT, Comparison, bead_planes
from ..fit.placement import Placement
from ..fit.tile import Tile
from ..read import Source

MOTIF_DIFFERENCE = 5.0
"""What differs from the background by more than this (Lab) is motif."""


@dataclass(frozen=True)
class Measures:
    """One set of measures.

    Attributes
    ----------
    colour : float
        C at 10 beads per degree, mean CIEDE2000.
    colour_far : float
        C at 20 beads per degree.
    structure : float
        S, up to 1.
    flip : float
        F at 10 beads per degree, 0..1.
    """

    colour: float
    colour_far: float
    structure: float
    flip: float

    @property
    def score(self) -> float:
        """J, lower is better."""
        return self.colour + STRUCTURE_WEIGHT * (1 - self.structure)


@dataclass(frozen=True)
class Likeness:
    """The measures over the whole tile and over the motif alone."""

    whole: Measures
    motif: Measures

    @property
    def score(self) -> float:
        """J over the whole tile."""
        return self.whole.score


def measure(comparison: Comparison, linear: Float32Array, motif: Bools | None = None) -> Likeness:
    """Return the measures of beads drawn in linear light.

    Parameters
    ----------
    comparison : Comparison
        With the sketch.
    linear : (H, W, 3) float32
    motif : (H, W) bool, optional
        Where the motif lies; everywhere if left out or empty.
    """
    from .flip import flip_map

    planes = np.moveaxis(bead_planes(linear), -1, 0)
    near, far = (comparison.colour_map(planes[:3], distance) for distance in (NEAR, FAR))
    structure = comparison.structure_map(planes[3])
    down, across = comparison.px_per_bead
    seen = flip_map(comparison.linear, linear, (NEAR * down, NEAR * across))
    everywhere = np.ones(comparison.shape, dtype=bool)
    if motif is None or not motif.any():
        motif = everywhere
    whole, inside = (
        Measures(
            colour=float(near[where].mean()),
            colour_far=float(far[where].mean()),
            structure=float(structure[where].mean()),
            flip=float(seen[where].mean()),
        )
        for where in (everywhere, motif)
    )
    return Likeness(whole, inside)


def draw_tile(
    source: Source, placement: Placement, tile: Tile, ground_rgb: Bytes
) -> sampling.Drawn:
    """Draw one tile of a sketch as placed, over the beads that lie there.

    Parameters
    ----------
    source : Source
        Red, green, blue times alpha, and alpha, of the whole picture.
    placement : Placement
        The middle of its front comes to x = 0.
    tile : Tile
    ground_rgb : (3,) uint8
        The background bead's colour.
    """
    raster = tile.raster(sampling.PX_PER_PITCH, placement.front_deg)
    return sampling.unroll(source, tile.closed(placement), raster, ground_rgb)


def likeness_of(drawn: sampling.Drawn, linear: Float32Array, ground: Float32Array) -> Likeness:
    """Measure the beads of one tile beside the sketch.

    Parameters
    ----------
    drawn : Drawn
        One tile of the sketch.
    linear : (beads, 3) float32
        Colours of the tile's beads in linear light.
    ground : (3,) float32
        The background bead's; what differs from it is motif.
    """
    px_per_bead = drawn.raster.px_per_bead
    apart = linear_lab(drawn.linear) - linear_lab(ground)
    motif = _grown(np.linalg.norm(apart, axis=-1) > MOTIF_DIFFERENCE, px_per_bead)
    comparison = Comparison(drawn.linear, px_per_bead)
    return measure(comparison, linear[drawn.raster.owner], motif)


def _grown(mask: Bools, px_per_bead: tuple[float, float]) -> Bools:
    """A mask grown by half a bead pitch, on the torus."""
    for axis, px in enumerate(px_per_bead):
        reach = max(1, round(px / 2))
        mask = np.logical_or.reduce([np.roll(mask, k, axis) for k in range(-reach, reach + 1)])
    return mask
