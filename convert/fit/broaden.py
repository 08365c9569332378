"""Strokes and dots narrower than a bead, made as wide as one: a line that is drawn is worked."""

from __future__ import annotations

import numpy as np

from ...core.arrays import Bools, Ints
from .features import SPECK
from .outlines import find_outlines

NARROW = 0.75
"""Strokes narrower than this, in pitches, are broadened: a wave 0.7 wide once round 12 strands is
broken where it passes between two rows of beads, and 0.8, the scales of a fish, are not. A cell
that was filled in a blank is 0.9 wide."""


def broadened(labels: Ints, ground: int, pitch_px: float) -> Ints:
    """Return the labels of a tile with strokes that are narrower than a bead as wide as one.

    A cell takes the colour of most of it, and such a stroke would be most of few or none. As wide
    as a bead it is most of all those cells whose middles lie within half a bead: an unbroken line.
    Outlines between two other colours, which beads cannot follow, are left out instead.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel; the tile is repeated to all sides.
    ground : int
        The number of the ground.
    pitch_px : float
        Pixels per bead pitch.
    """
    from scipy import ndimage
    from skimage.morphology import skeletonize

    room = int(np.ceil(2 * pitch_px))
    padded = np.pad(labels, room, mode="wrap")
    if pitch_px >= 6:
        padded = find_outlines(padded, ground, pitch_px)[1]
    lines = np.zeros(padded.shape, dtype=bool)
    for ink in np.unique(padded[padded != ground]):
        mask = padded == ink
        thin = _thin(mask, pitch_px, SPECK * labels.size)
        if thin.any():
            lines |= skeletonize(mask) & thin
    if lines.any():
        away, nearest = ndimage.distance_transform_edt(~lines, return_indices=True)
        padded = np.where(away < pitch_px / 2, padded[tuple(nearest)], padded)
    return np.asarray(padded[room:-room, room:-room])


def _thin(mask: Bools, pitch_px: float, least_px: float) -> Bools:
    """The strokes of a mask that are narrower than a bead, and what stands alone and is.

    Parameters
    ----------
    mask : (h, w) bool
    pitch_px : float
    least_px : float
        What stands alone with less area is a speck.
    """
    from scipy import ndimage

    eight, radius = np.ones((3, 3)), 0.5 * NARROW * pitch_px
    core = ndimage.distance_transform_edt(mask) > radius
    parts, count = ndimage.label(mask, eight)
    numbers = np.arange(1, count + 1)
    alone = ndimage.sum_labels(mask, parts, numbers) >= least_px
    alone &= ndimage.sum_labels(core, parts, numbers) == 0
    if not core.any():
        return np.asarray(np.append(False, alone)[parts])
    # a stroke runs away from what is wide; corners and ragged edges stay near it
    away = ndimage.distance_transform_edt(~core)
    pieces, count = ndimage.label(mask & (away > radius + 1), eight)
    runs = ndimage.maximum(away, pieces, np.arange(1, count + 1)) > radius + 0.5 * NARROW * pitch_px
    bare = np.append(False, alone)[parts]
    wide = np.append(False, ndimage.sum_labels(core, parts, numbers) > 0)[parts]
    return np.asarray(bare | (wide & np.append(False, runs)[pieces]))
