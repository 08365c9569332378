"""Thin strokes: where they run, how they look drawn with a broader pen, whether they can be read.

A stroke a third of a bead wide covers less than half of every cell it crosses; no vote, no mean and
no likeness to the sketch as it is would keep it. Whoever draws for beads draws it again with a pen
about as broad as a bead: that drawing has a likeness that beads can keep.

A drawing of strokes is read by its strokes and by the gaps between them. Beads that follow every
stroke and fill every gap show a blot, beads that keep every gap and no stroke show nothing.

Only strokes that show by themselves count, those with the same colour on both sides. The dark line
round a filled shape lies where the shape ends anyway, and a row of beads for it would eat the
shape; where it is much narrower than a bead it is left out, or single beads of it would lie along
the edges like dirt.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]

THIN_PITCHES = 0.6
"""Narrower parts are strokes."""

LINE_PITCHES = 0.25
"""How wide middle lines are drawn, to be measured by their area."""

LONG_PITCHES = 0.8
"""Shorter thin parts are the corners of something wide."""

OUTLINE_PITCHES, OUTLINE_LONG, OUTLINE_PART = 0.35, 2.0, 0.6
"""A line that is narrower and longer than this, in pitches, and for this part of it lies between
two other colours, is an outline that beads cannot follow."""

GAP_PITCHES = (0.15, 1.2)
"""Half the width of gaps: narrower ones are corners, wider ones ground that no bead fills."""


@dataclass(frozen=True, eq=False)
class Strokes:
    """The thin strokes of a sketch.

    Parameters
    ----------
    lines : (h, w, k) float32
        1 on the middle lines of each colour's strokes, `LINE_PITCHES` wide; 0 elsewhere.
    gaps : (h, w) float32
        On the middle lines of the gaps between strokes half their width in pitches; 0 elsewhere.
    colour : (h, w) int
        The colour of the nearest middle line.
    away_px : (h, w) float32
        How far it is.
    share : float
        How much of what is drawn, ground left out, is strokes: 1 for a line drawing.
    width_pitches : float
        How wide they are on the whole, in bead pitches.
    """

    lines: Singles
    gaps: Singles
    colour: Ints
    away_px: Singles
    share: float
    width_pitches: float

    @classmethod
    def none(cls, shape: tuple[int, int], kinds: int) -> Strokes:
        """Return the strokes of a sketch without any."""
        lines = np.zeros((*shape, kinds), dtype=np.float32)
        away = np.full(shape, np.inf, dtype=np.float32)
        return cls(lines, lines.sum(axis=-1), np.zeros(shape, dtype=np.intp), away, 0.0, 0.0)


def find_strokes(labels: Ints, kinds: int, ground: int, px_per_pitch: float) -> Strokes:
    """Find the thin strokes of a sketch.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel.
    kinds : int
        How many colours there are.
    ground : int
        The number of the ground.
    px_per_pitch : float
        Pixels per bead pitch, at least 6.
    """
    from scipy import ndimage

    room = int(np.ceil(px_per_pitch))
    padded = np.pad(labels, room, mode="constant", constant_values=ground)
    thin_of = {
        int(colour): thin
        for colour in np.unique(labels)
        if colour != ground and (thin := _thin(padded == colour, px_per_pitch)).any()
    }
    none = Strokes.none((labels.shape[0], labels.shape[1]), kinds)
    if not thin_of:
        return none
    any_thin = np.logical_or.reduce(list(thin_of.values()))
    bare, by_edge = _without(padded, any_thin, 0.5 * THIN_PITCHES * px_per_pitch)
    drawn = np.zeros_like(any_thin)
    lines, colour_at, away = none.lines, none.colour, none.away_px
    for colour, thin in thin_of.items():
        showing = thin & (~by_edge | (bare == colour))
        middle = showing & _ridge(ndimage.distance_transform_edt(padded == colour))
        if middle.any():
            far = ndimage.distance_transform_edt(~middle)[room:-room, room:-room]
            lines[..., colour] = far <= 0.5 * LINE_PITCHES * px_per_pitch
            nearer = far < away
            colour_at[nearer], away[nearer] = colour, far[nearer]
            drawn |= showing
    if not drawn.any():
        return none
    gaps = _gaps(padded == ground, drawn, px_per_pitch)[room:-room, room:-room]
    share = drawn.sum() / max(1, int((labels != ground).sum()))
    width = drawn.sum() / max(1.0, float(lines.sum())) * LINE_PITCHES
    return Strokes(lines, gaps, colour_at, away, float(share), float(width))


def find_outlines(labels: Ints, ground: int, px_per_pitch: float) -> tuple[Bools, Ints]:
    """Find lines between two other colours that are far narrower than a bead.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel.
    ground : int
        The number of the ground.
    px_per_pitch : float
        Pixels per bead pitch, at least 6.

    Returns
    -------
    (h, w) bool, (h, w) int
        Where they are, and the colours as if they were not: each takes the nearer of the two.
    """
    from scipy import ndimage

    room = int(np.ceil(px_per_pitch))
    padded = np.pad(labels, room, mode="constant", constant_values=ground)
    outline, without = np.zeros(padded.shape, dtype=bool), padded.copy()
    for colour in np.unique(labels[labels != ground]):
        mine = padded == colour
        thin = _thin(mine, px_per_pitch, OUTLINE_PITCHES, OUTLINE_LONG)
        if not thin.any():
            continue
        # wide parts of the same colour make no edge that it could run along
        bare, by_edge = _without(padded, mine, 0.75 * OUTLINE_PITCHES * px_per_pitch, mine)
        pieces, count = ndimage.label(thin, structure=np.ones((3, 3)))
        along = np.bincount(pieces[by_edge], minlength=count + 1) / np.bincount(pieces.ravel())
        # a vein runs along an edge only where it ends
        here = thin & by_edge & (along >= OUTLINE_PART)[pieces]
        outline |= here
        without[here] = bare[here]
    inside = (slice(room, -room),) * 2
    return outline[inside], without[inside]


def _without(
    labels: Ints, lines: Bools, reach_px: float, within: Bools | None = None
) -> tuple[Ints, Bools]:
    """What would lie there without some lines, and what is so near to an edge (within) in that."""
    from scipy import ndimage

    index = ndimage.distance_transform_edt(lines, return_distances=False, return_indices=True)
    bare = labels[tuple(index)]
    edge = np.zeros(bare.shape, dtype=bool)
    edge[1:] |= bare[1:] != bare[:-1]
    edge[:, 1:] |= bare[:, 1:] != bare[:, :-1]
    if within is not None:
        edge &= ndimage.binary_dilation(within)
    if not edge.any():
        return bare, edge
    return bare, np.asarray(ndimage.distance_transform_edt(~edge) < reach_px)


def _gaps(ground: Bools, strokes: Bools, px_per_pitch: float) -> Singles:
    """The middle lines of the gaps next to strokes, as half the gap's width in pitches."""
    from scipy import ndimage

    depth = ndimage.distance_transform_edt(ground)
    half = depth / px_per_pitch
    near = ndimage.distance_transform_edt(~strokes) < depth + 0.1 * px_per_pitch
    middle = _ridge(depth) & near & (half > GAP_PITCHES[0]) & (half < GAP_PITCHES[1])
    if not middle.any():
        return np.zeros(ground.shape, dtype=np.float32)
    away, (row, column) = ndimage.distance_transform_edt(~middle, return_indices=True)
    inside = away <= 0.5 * LINE_PITCHES * px_per_pitch
    return np.where(inside, half[row, column], 0).astype(np.float32)


def _thin(
    mask: Bools, px_per_pitch: float, width: float = THIN_PITCHES, length: float = LONG_PITCHES
) -> Bools:
    """The parts of a mask that a disc as wide as a stroke does not reach; widths in pitches."""
    from scipy import ndimage

    radius = 0.5 * width * px_per_pitch
    core = ndimage.distance_transform_edt(mask) > radius
    thin = mask & (ndimage.distance_transform_edt(~core) > radius + 1) if core.any() else mask
    pieces, count = ndimage.label(thin, structure=np.ones((3, 3)))
    if not count:
        return np.zeros_like(mask)
    long = [
        max(box[0].stop - box[0].start, box[1].stop - box[1].start) >= length * px_per_pitch
        for box in ndimage.find_objects(pieces)
    ]
    keep: Bools = np.append(False, long)[pieces]
    return keep


def _ridge(depth: Floats) -> Bools:
    """The middle line of a mask, from the distances to its edge."""
    from scipy import ndimage

    ridge: Bools = (depth > 0) & (depth >= ndimage.maximum_filter(depth, 3) - 0.5)
    return ridge
