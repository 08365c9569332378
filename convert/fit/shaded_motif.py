"""A shaded picture over a tile: drawn at a size and turn, judged, and the colours for its beads."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.braid import Raster, Shift
from ...palette import linear_lab
from ..read import Source, cell_means
from . import raster as sampling
from .comparison import Comparison
from .placement import Placement
from .tile import Tile

PX_AT_ONCE = 150_000
"""Pixels judged in one go: enough to be quick, few enough to stay near the processor."""

CANDIDATES = 4
"""Colours that a bead may try beside the one it has. With 1 and 3 J is 20 and 0.6 % higher, with 5
and 16 no lower."""

NEIGHBOURS_MERIT = 0.3
"""Of a colour that is nearest in a cell beside it: between the third nearest of a bead's own, 1/3,
and the fourth, 1/4. Below 1/4 J of a K and an F that are taken for shaded is 12 and 10 % higher."""


@dataclass(frozen=True, eq=False)
class Inks:
    """The beads that may be used, and what the sketch's planes mean in them.

    Parameters
    ----------
    bead : (k,) int
        Places in the palette.
    planes : (k, 4) float32
        See `himotif.convert.fit.comparison.bead_planes`.
    linear, lab : (k, 3) float32
    ground : int
        The background's place among them.
    """

    bead: Ints
    planes: Float32Array
    linear: Float32Array
    lab: Float32Array
    ground: int


class Pose(NamedTuple):
    """How many times larger than asked for, and how far turned clockwise."""

    scale: float = 1.0
    turn_deg: float = 0.0

    @property
    def plain(self) -> bool:
        """Whether size and turn are the maker's own."""
        return self == Pose()


@dataclass(frozen=True, eq=False)
class ShadedMotif:
    """A picture to be placed on a tile.

    Parameters
    ----------
    tile : Tile
    placement : Placement
        Centred, with one centre.
    source : Source
        Red, green, blue times alpha, and alpha.
    inks : Inks
    ground : (3,) float32
        The background in linear light.
    """

    tile: Tile
    placement: Placement
    source: Source
    inks: Inks
    ground: Float32Array

    def canvas(self, px_per_pitch: float) -> Raster:
        """Return the tile as pixels, with the middle of the unmoved motif at x = 0."""
        return self.tile.raster(px_per_pitch, self.placement.front_deg)

    def posed(self, pose: Pose) -> Placement:
        """Return the placement, with the repeats before and after: the tile closes on itself."""
        return self.tile.closed(
            replace(
                self.placement,
                px_per_mm=self.placement.px_per_mm / pose.scale,
                rotate_deg=self.placement.rotate_deg + pose.turn_deg,
            )
        )


class View:
    """A shaded motif in one pose, drawn on one canvas."""

    def __init__(self, shaded: ShadedMotif, canvas: Raster, pose: Pose) -> None:
        self.canvas, self.inks = canvas, shaded.inks
        placement = shaded.posed(pose)
        drawn = sampling.draw(shaded.source, placement, canvas)
        bare = 1 - drawn[..., 3]
        self.linear = drawn[..., :3] + bare[..., None] * shaded.ground
        margin = placement.margin_mm(
            placement.chart_deg(canvas.x_mm)[None, :], canvas.y_mm[:, None]
        )
        weight = (margin > -canvas.lattice.pitch_mm).astype(np.float32)
        self.comparison = Comparison(self.linear, canvas.px_per_bead, weight)

    def contents(self, owners: Ints) -> Floats:
        """Return the mean linear light of each bead's cell, (S, beads, 3), for maps (S, H, W)."""
        return cell_means(owners, self.linear, self.canvas.beads)

    def near(self, owner: Ints) -> Bools:
        """Return which beads of a map (H, W) are so near the motif that they are judged, (beads,).

        The others stay as they are: a bead beyond the motif may better what is seen of its edge
        from afar, but a maker sees a stray bead.
        """
        seen = np.bincount(owner.ravel(), self.comparison.weight.ravel(), self.canvas.beads)
        return np.asarray(seen > 0)

    def judged(self, colours: Ints, owners: Ints) -> Floats:
        """Return J near the motif, (S,), of colours (S, beads)."""
        index = np.take_along_axis(colours, owners.reshape(len(owners), -1), axis=1)
        drawn = self.inks.planes[index.reshape(owners.shape)]
        loss = self.comparison.loss_map(np.ascontiguousarray(np.moveaxis(drawn, -1, -3)))
        return np.asarray(loss.sum(axis=(1, 2), dtype=np.float64))

    def rank(self, shifts: Sequence[Shift]) -> tuple[Floats, Ints]:
        """Return J and the first colouring, (S,) and (S, beads), at each shift."""
        at_once = max(1, PX_AT_ONCE // self.canvas.pixels)
        scores, chosen = [], []
        for begin in range(0, len(shifts), at_once):
            owners = np.stack([self.canvas.rolled(s) for s in shifts[begin : begin + at_once]])
            colours = first_colours(self.inks, self.contents(owners))
            scores.append(self.judged(colours, owners))
            chosen.append(colours)
        return np.concatenate(scores), np.concatenate(chosen)


def first_colours(inks: Inks, contents: Floats) -> Ints:
    """Return the first colour of each bead, (..., beads), from what lies in its cell."""
    return np.asarray(np.argmin(_apart(inks, contents), axis=-1))


def colours_to_try(inks: Inks, contents: Floats, neighbours: Ints) -> Ints:
    """Return the colours that each bead may try, (beads, k), best first, -1 where there are fewer.

    The inks nearest to the mean of its cell, and those nearest to the neighbours'.
    """
    apart = _apart(inks, contents)
    merit = np.zeros(apart.shape)
    rank = np.argsort(apart, axis=1, kind="stable")[:, :CANDIDATES]
    np.put_along_axis(merit, rank, 1.0 / (1 + np.arange(rank.shape[1])), axis=1)
    theirs = np.zeros(apart.shape)
    np.put_along_axis(theirs, rank[:, 0][neighbours], NEIGHBOURS_MERIT, axis=1)
    merit = np.maximum(merit, theirs)
    order = np.argsort(-merit, axis=1, kind="stable")[:, : CANDIDATES + 1]
    return np.asarray(np.where(np.take_along_axis(merit, order, axis=1) > 0, order, -1))


def _apart(inks: Inks, means: Floats) -> Float32Array:
    """Distance of mean colours (..., 3) to every ink in Lab, chroma counted half."""
    weight = np.array([1.0, 0.5, 0.5], dtype=np.float32)
    ours = linear_lab(means.astype(np.float32)) * weight
    theirs = inks.lab.astype(np.float32) * weight
    squares = (ours**2).sum(axis=-1)[..., None] + (theirs**2).sum(axis=-1)
    return np.asarray(squares - 2 * (ours @ theirs.T))
