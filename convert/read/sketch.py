"""What colours a sketch has, and which beads may stand for its parts.

A *flat* sketch is made of a few flat colours; its anti-aliased edges are not colours of their
own. Every pixel of it gets the number of its flat colour, so that a bead's cell is a set of
shares, and only the beads that the flat colours map to are ever used. A *shaded* picture has no
such colours; a bead's cell is a mean in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Float32Array, Floats, Ints
from ...core.design import SketchKind
from ...palette import linear_lab, nearest
from .flat_colours import FlatColours, labels_for_beads, read_picture_colours
from .lighting import label_step
from .source import Source, box_mean, coloured_planes

if TYPE_CHECKING:
    from ...palette import Palette
    from .picture import Picture

# -- the sketch as the search sees it ----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Sketch:
    """A picture made ready to be laid on the braid.

    Parameters
    ----------
    kind : 'flat' or 'shaded'
    source : Source
        Planes: red, green, blue times alpha, and alpha; those of a flat sketch are put together
        from its flat colours, and the share of each follows.
    colours : FlatColours
        Those of a flat sketch; none for a shaded one.
    """

    kind: SketchKind
    source: Source
    colours: FlatColours

    @property
    def at_edge(self) -> Floats:
        """Part of the border that each flat colour fills, (k,), or a shaded picture, (1,)."""
        planes = self.source.planes
        sides = (planes[0], planes[-1], planes[:, 0], planes[:, -1])
        which = slice(4, None) if self.kind == "flat" else slice(3, 4)
        return np.asarray(np.concatenate(sides)[:, which].mean(axis=0), dtype=np.float64)


def read_sketch(picture: Picture, kind: SketchKind | None = None) -> Sketch:
    """Find whether a picture is flat, and which part of it has which flat colour.

    Parameters
    ----------
    picture : Picture
    kind : 'flat' or 'shaded', optional
        The maker's own word.
    """
    reading = read_picture_colours(picture)
    found = reading.found
    if (kind or found.kind) == "shaded":
        source = Source(coloured_planes(picture), picture.scale)
        return Sketch("shaded", source, FlatColours(found.linear[:0], found.share[:0], "shaded"))
    cover = picture.alpha >= 0.5
    if not len(found.linear) and cover.any():
        mean = picture.linear[cover].mean(axis=0, keepdims=True)
        reading = replace(reading, found=FlatColours(mean, np.ones(1), "shaded"))
    label, times = labels_for_beads(picture, reading)
    found = replace(reading.found, kind="flat")
    step = label_step(picture)
    none = np.zeros((*label.shape, 0), dtype=np.float32)
    alone = ((label == number)[..., None] for number in range(len(found.linear)))
    parts = np.concatenate(
        [box_mean(none, times), *(box_mean(mine.astype(np.float32), times) for mine in alone)],
        axis=-1,
    )
    # without the grain of paper, uneven light and the marks of lossy files
    light = parts @ found.linear.astype(np.float32)
    planes = np.concatenate([light, parts.sum(axis=-1, keepdims=True), parts], axis=-1)
    return Sketch("flat", Source(planes, picture.scale / step), found)


# -- beads for colours -------------------------------------------------------------------------


def match_linear(linear: Floats | Float32Array, palette: Palette) -> Ints:
    """Return the nearest bead of the palette for linear colours (k, 3)."""
    return nearest(linear_lab(np.asarray(linear, dtype=np.float32)), palette).bead


def ink_labels(shares: Float32Array, cover: Float32Array, ground: int) -> Ints:
    """Return the ink of most of each pixel (h, w), from shares (h, w, k) of what is covered.

    What is not covered is ground.
    """
    filled = shares.copy()
    filled[..., ground] += 1 - cover
    return np.asarray(np.argmax(filled, axis=-1))


def cell_means(owner: Ints, planes: Float32Array, beads: int) -> Floats:
    """Return the mean of planes (H, W, k) over each bead's cell, (..., beads, k).

    Parameters
    ----------
    owner : (..., H, W) int
        One map of bead cells or several.
    planes : (H, W, k) float32
    beads : int
    """
    maps = owner.reshape(-1, planes.shape[0] * planes.shape[1])
    key = (maps + (np.arange(len(maps)) * beads)[:, None]).ravel()
    cells = len(maps) * beads
    count = np.maximum(np.bincount(key, minlength=cells), 1)
    sums = [
        np.bincount(key, np.tile(planes[..., k].ravel(), len(maps)), minlength=cells)
        for k in range(planes.shape[-1])
    ]
    means = np.stack(sums, axis=1) / count[:, None]
    return np.asarray(means.reshape(*owner.shape[:-2], beads, len(sums)))
