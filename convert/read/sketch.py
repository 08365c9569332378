"""What colours a sketch has, and which beads may stand for its parts.

A *flat* sketch is made of a few flat colours; its anti-aliased edges are not colours of their
own. Every pixel of it gets the number of its flat colour, so that a bead's cell is a set of
shares, and only the beads that the flat colours map to are ever used. A *shaded* picture has no
such colours; a bead's cell is a mean in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import Float32Array, Floats, Ints
from ...core.design import SketchKind
from ...core.srgb import box_mean
from ...palette import linear_lab, nearest
from .flat_colours import FlatColours, Labels, labels_for_beads, read_picture_colours
from .lighting import label_step
from .source import Source, coloured_planes, enlarged

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
    label : (h, w) int8, optional
        The flat colour of each pixel, stored or reduced, -1 where nothing is drawn.

    Attributes
    ----------
    within : dict of (int, int, int, int) to Sketch
        What was read again of it inside a frame: a page and a comparison ask for the same again.
    """

    kind: SketchKind
    source: Source
    colours: FlatColours
    label: Labels | None = None
    within: dict[tuple[int, int, int, int], Sketch] = field(
        default_factory=dict, init=False, repr=False
    )

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
    source = Source(_label_planes(label, times, found.linear), picture.scale / label_step(picture))
    return Sketch("flat", source, found, label)


def _label_planes(label: Labels, times: int, linear: Float32Array) -> Float32Array:
    """Colour, alpha and the share of each flat colour, of blocks of `times` x `times` labels.

    They are without the grain of paper, uneven light and the marks of lossy files.
    """
    none = np.zeros((*label.shape, 0), dtype=np.float32)
    alone = ((label == number)[..., None] for number in range(len(linear)))
    parts = np.concatenate(
        [box_mean(none, times), *(box_mean(mine.astype(np.float32), times) for mine in alone)],
        axis=-1,
    )
    light = parts @ linear.astype(np.float32)
    return np.concatenate([light, parts.sum(axis=-1, keepdims=True), parts], axis=-1)


def without_ground(sketch: Sketch, colour: int) -> Sketch:
    """Return a flat sketch with nothing where one of its colours reaches in from the border.

    What of that colour lies inside the motif stays.

    Parameters
    ----------
    sketch : Sketch
    colour : int
        The place of the ground among the flat colours.
    """
    from scipy import ndimage

    assert sketch.label is not None  # it is flat
    label = sketch.label
    pieces, _ = ndimage.label((label == colour) | (label < 0))
    at_border = np.concatenate([pieces[0], pieces[-1], pieces[:, 0], pieces[:, -1]])
    outside = np.isin(pieces, at_border[at_border > 0])
    return relabelled(sketch, np.where(outside, -1, label))


def relabelled(sketch: Sketch, label: npt.NDArray[Any]) -> Sketch:
    """Return a flat sketch with other labels (h, w), -1 where nothing is drawn.

    Flat colours that nothing has any more are left out.
    """
    size = np.bincount(label[label >= 0], minlength=len(sketch.colours.linear))
    keep = size > 0
    number = np.append(np.where(keep, np.cumsum(keep) - 1, -1), -1).astype(np.int8)
    found = sketch.colours
    found = replace(found, linear=found.linear[keep], share=size[keep] / max(1, size.sum()))
    label = number[label].astype(np.int8)
    times = -(-max(label.shape) // max(sketch.source.planes.shape[:2]))
    source = replace(sketch.source, planes=_label_planes(label, times, found.linear))
    return Sketch("flat", source, found, label)


def redrawn(picture: Picture, sketch: Sketch) -> Picture:
    """Return a picture in the flat colours of its sketch, transparent where nothing is drawn."""
    assert sketch.label is not None  # it is flat
    high, wide = picture.alpha.shape
    times = -(-max(high, wide) // max(sketch.label.shape))
    label = enlarged(sketch.label, times, (high, wide))
    linear = np.append(sketch.colours.linear, np.zeros((1, 3), np.float32), axis=0)[label]
    return replace(picture, linear=linear, alpha=(label >= 0).astype(np.float32))


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
