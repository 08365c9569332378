"""Thin strokes: where their middle lines run.

A stroke a third of a bead wide covers less than half of every cell it crosses; no vote and no mean
would keep it. What keeps it is its course: a line crosses cells that touch one another, and if
each of them takes its colour the stroke stays in one piece and a closed outline stays closed.

Only strokes that show by themselves count, those with the same colour on both sides. The dark line
round a filled shape lies where the shape ends anyway, and a row of beads for it would eat the
shape.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]

THIN_PITCHES = 0.6
"""Narrower parts are strokes."""

LINE_PITCHES = 0.25
"""How wide middle lines are drawn, to be measured by their area."""

LONG_PITCHES = 0.8
"""Shorter thin parts are the corners of something wide."""


@dataclass(frozen=True, eq=False)
class Strokes:
    """The thin strokes of a sketch.

    Parameters
    ----------
    lines : (h, w, k) float32
        1 on the middle lines of each colour's strokes, `LINE_PITCHES` wide; 0 elsewhere.
    share : float
        How much of what is drawn, ground left out, is strokes: 1 for a line drawing.
    width_pitches : float
        How wide they are on the whole, in bead pitches.
    """

    lines: Singles
    share: float
    width_pitches: float

    @classmethod
    def none(cls, shape: tuple[int, int], kinds: int) -> Strokes:
        """Return the strokes of a sketch without any."""
        return cls(np.zeros((*shape, kinds), dtype=np.float32), 0.0, 0.0)


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
    found = Strokes.none((labels.shape[0], labels.shape[1]), kinds)
    if not thin_of:
        return found
    lines = found.lines
    any_thin = np.logical_or.reduce(list(thin_of.values()))
    # what would lie there without the strokes, and where that has an edge
    index = ndimage.distance_transform_edt(any_thin, return_distances=False, return_indices=True)
    bare = padded[tuple(index)]
    edge = np.zeros(bare.shape, dtype=bool)
    edge[1:] |= bare[1:] != bare[:-1]
    edge[:, 1:] |= bare[:, 1:] != bare[:, :-1]
    reach = 0.5 * THIN_PITCHES * px_per_pitch
    by_edge = (
        ndimage.distance_transform_edt(~edge) < reach if edge.any() else np.zeros_like(any_thin)
    )
    drawn = 0
    for colour, thin in thin_of.items():
        showing = thin & (~by_edge | (bare == colour))
        middle = showing & _ridge(padded == colour)
        if middle.any():
            near = ndimage.distance_transform_edt(~middle) <= 0.5 * LINE_PITCHES * px_per_pitch
            lines[..., colour] = near[room:-room, room:-room]
            drawn += int(showing.sum())
    share = drawn / max(1, int((labels != ground).sum()))
    width = drawn / max(1.0, float(lines.sum())) * LINE_PITCHES
    return Strokes(lines, share, width)


def _thin(mask: Bools, px_per_pitch: float) -> Bools:
    """The parts of a mask that a disc as wide as a stroke does not reach."""
    from scipy import ndimage

    radius = 0.5 * THIN_PITCHES * px_per_pitch
    core = ndimage.distance_transform_edt(mask) > radius
    thin = mask & (ndimage.distance_transform_edt(~core) > radius + 1) if core.any() else mask
    pieces, count = ndimage.label(thin, structure=np.ones((3, 3)))
    if not count:
        return np.zeros_like(mask)
    long = [
        max(box[0].stop - box[0].start, box[1].stop - box[1].start) >= LONG_PITCHES * px_per_pitch
        for box in ndimage.find_objects(pieces)
    ]
    keep: Bools = np.append(False, long)[pieces]
    return keep


def _ridge(mask: Bools) -> Bools:
    """The middle line of a mask."""
    from scipy import ndimage

    depth = ndimage.distance_transform_edt(mask)
    ridge: Bools = mask & (depth >= ndimage.maximum_filter(depth, 3) - 0.5)
    return ridge
