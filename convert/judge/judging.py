"""A finished design beside its sketch: the last word, with the full measures, on fine pixels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from ...palette.colour import srgb_to_linear
from ..fit import raster as sampling
from ..fit.comparison import Comparison, Likeness, linear_lab
from ..fit.placement import Placement
from ..fit.tile import Tile
from ..read.sketch import cell_means, match_linear

if TYPE_CHECKING:
    from ...palette.palette import Palette

Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]

MOTIF_DIFFERENCE = 5.0
"""What differs from the background by more than this (Lab) is motif."""


class Judged(NamedTuple):
    """One tile of the sketch as placed, and how the beads read."""

    drawn: sampling.Drawn
    likeness: Likeness


@dataclass(frozen=True, eq=False)
class Judge:
    """Measures colourings of one tile.

    Parameters
    ----------
    source : Source
        Red, green, blue times alpha, and alpha, of the whole picture.
    palette : Palette
    tile : Tile
    background : int
        Place in the palette.
    """

    source: sampling.Source
    palette: Palette
    tile: Tile
    background: int

    def judged(self, placement: Placement, colours: Ints) -> Judged:
        """Measure the beads (beads,) of a tile, as places in the palette, under a placement."""
        return self._judged(self._drawn(placement), colours)

    def plain(self, placement: Placement) -> Likeness:
        """Measure the plain way, without F: the mean of each cell in linear light, nearest bead."""
        drawn = self._drawn(placement)
        means = cell_means(drawn.raster.owner, drawn.linear, self.tile.beads)
        return self._judged(drawn, match_linear(means, self.palette), flip=False).likeness

    def _drawn(self, placement: Placement) -> sampling.Drawn:
        raster = self.tile.raster(sampling.PX_PER_PITCH, placement.front_deg)
        ground = self.palette.rgb[self.background]
        return sampling.unroll_source(self.source, self.tile.closed(placement), raster, ground)

    def _judged(self, drawn: sampling.Drawn, colours: Ints, *, flip: bool = True) -> Judged:
        linear = srgb_to_linear(self.palette.rgb)
        found = likeness_of(drawn, linear[colours], linear[self.background], flip=flip)
        return Judged(drawn, found)


def likeness_of(
    drawn: sampling.Drawn, linear: Singles, ground: Singles, *, flip: bool = True
) -> Likeness:
    """Measure the beads of one tile beside the sketch.

    Parameters
    ----------
    drawn : Drawn
        One tile of the sketch.
    linear : (beads, 3) float32
        Colours of the tile's beads in linear light.
    ground : (3,) float32
        The background bead's; what differs from it is motif.
    flip : bool
        Whether to measure F as well.
    """
    px_per_bead = drawn.raster.px_per_bead
    apart = linear_lab(drawn.linear) - linear_lab(ground)
    motif = _grown(np.linalg.norm(apart, axis=-1) > MOTIF_DIFFERENCE, px_per_bead)
    comparison = Comparison(drawn.linear, px_per_bead)
    return comparison.measure(linear[drawn.raster.owner], motif, flip=flip)


def _grown(mask: Bools, px_per_bead: tuple[float, float]) -> Bools:
    """A mask grown by half a bead pitch, on the torus."""
    for axis, px in enumerate(px_per_bead):
        reach = max(1, round(px / 2))
        mask = np.logical_or.reduce([np.roll(mask, k, axis) for k in range(-reach, reach + 1)])
    return mask
