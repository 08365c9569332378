"""Turns that leave a motif as it looks: six petals by 60 degrees, a star of five points by 72."""

from __future__ import annotations

import numpy as np

from ...core.arrays import Ints
from ...core.braid import quick_length
from .features import reduced_labels
from .frame import motif_frame

FOLDS = (5, 6, 7, 8)
"""Fewer like parts have an upright of their own: a cross turned by 45 degrees is another sign. Of
more, no bead shows the difference."""

SAME_TURNED = 0.84
"""A motif looks the same if so much of it lies under itself after a turn: of a flower of six petals
its two leaves may differ."""

STANDS_OUT = 0.1
"""Half such a turn must leave so much less of it: a round motif looks the same after any."""

TURN_STEP_DEG = 10.0
"""From one turn to the next that is tried; the edge of a motif six beads across moves by half a
bead."""

TURNED_PX = 64
"""Longest side of the label image that is turned."""


def free_turns_deg(labels: Ints, ground: int) -> tuple[float, ...]:
    """Return the turns that suit a motif as well as none, 0 first.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel.
    ground : int
        The number of the ground.

    Returns
    -------
    tuple of float
        Degrees clockwise, within half a period either way; only 0 for a motif with an upright of
        its own, and for a round one, which no turn changes.
    """
    look = reduced_labels(motif_frame(labels, ground).cut(labels), ground, TURNED_PX)
    for fold in FOLDS:
        period = 360.0 / fold
        like = _same(look, ground, period)
        if like >= SAME_TURNED and like - _same(look, ground, period / 2) >= STANDS_OUT:
            break
    else:
        return (0.0,)
    count = max(1, round(period / TURN_STEP_DEG))
    turns = (np.arange(count) - (count - 1) // 2) * period / count
    return tuple(sorted(turns.tolist(), key=lambda turn: (abs(turn), turn)))


def _same(labels: Ints, ground: int, turn_deg: float) -> float:
    """How much of what is drawn lies under its own colour after a turn, wherever it then lies."""
    from scipy import ndimage

    high, wide = labels.shape
    turned = ndimage.rotate(labels - ground, turn_deg, order=0) + ground
    shape = [quick_length(a + b) for a, b in zip((high, wide), turned.shape, strict=True)]
    overlap = np.zeros(shape)
    for ink in np.unique(labels[labels != ground]):
        one = np.fft.rfft2(labels == ink, shape)
        other = np.fft.rfft2(turned == ink, shape)
        overlap = overlap + np.fft.irfft2(one * other.conj(), shape)
    drawn = int(np.count_nonzero(labels != ground))
    return float(np.max(overlap)) / max(1, drawn)
