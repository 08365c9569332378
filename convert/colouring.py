"""Which bead stands for which part of the sketch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from ..palette.colour import linear_to_lab
from ..palette.match import nearest

if TYPE_CHECKING:
    from ..palette.palette import Palette
    from .picture import Picture

Kind = Literal["flat", "shaded"]
Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

FLAT_COLOURS = 12
"""A sketch of more colours than this is treated as shaded."""

FLAT_SHARE = 0.8
FLAT_RADIUS = 3.0
"""Pixels this near (Lab) to one of the flat colours count as flat."""

LEAST_SHARE = 0.002
"""A flat colour covers at least this much of the picture."""


@dataclass(frozen=True, eq=False)
class FlatColours:
    """The flat colours of a sketch.

    Parameters
    ----------
    linear : (k, 3) float32
        Most frequent first.
    share : (k,) float
        Share of the covered pixels.
    flat : bool
        Whether they make up the sketch.
    """

    linear: Singles
    share: Floats
    flat: bool


def flat_colours(picture: Picture) -> FlatColours:
    """Find the flat colours of a picture: peaks of its histogram in Lab.

    Anti-aliased edges lie between the flat colours and are few; shades of a photograph spread out.
    """
    step = max(1, int(np.sqrt(picture.alpha.size / 150_000)))
    alpha = picture.alpha[::step, ::step]
    pixels = picture.linear[::step, ::step][alpha > 0.5]
    if not len(pixels):
        return FlatColours(np.empty((0, 3), dtype=np.float32), np.empty(0), True)
    lab = linear_to_lab(pixels)
    cell = np.floor(lab / 2.0).astype(np.int64) + 256
    key = (cell[:, 0] * 1024 + cell[:, 1]) * 1024 + cell[:, 2]
    _, inverse, count = np.unique(key, return_inverse=True, return_counts=True)
    total = np.stack([np.bincount(inverse, lab[:, c]) for c in range(3)], 1) / count[:, None]
    left = count.astype(np.float64)
    peaks: list[Floats] = []
    shares: list[float] = []
    while len(peaks) < FLAT_COLOURS:
        best = int(np.argmax(left))
        near = np.sqrt(((total - total[best]) ** 2).sum(axis=1)) <= FLAT_RADIUS
        share = float((left * near).sum() / len(lab))
        if share < LEAST_SHARE:
            break
        centre = np.average(total[near], axis=0, weights=np.maximum(left[near], 1e-9))
        peaks.append(centre)
        shares.append(share)
        left[near] = 0
    from ..palette.colour import lab_to_linear

    linear = lab_to_linear(np.array(peaks, dtype=np.float64).reshape(-1, 3))
    share_array = np.array(shares)
    return FlatColours(
        np.clip(linear, 0, 1).astype(np.float32),
        share_array,
        bool(share_array.sum() >= FLAT_SHARE),
    )


def label_flat(linear: Singles, colours: Singles) -> Ints:
    """Return the nearest of a few colours (Lab) for every pixel, (H, W)."""
    lab = linear_to_lab(linear.reshape(-1, 3))
    apart = ((lab[:, None] - linear_to_lab(colours)[None]) ** 2).sum(axis=-1)
    labels: Ints = np.argmin(apart, axis=1).reshape(linear.shape[:-1])
    return labels


def vote(owner: Ints, labels: Ints, beads: int, kinds: int) -> Ints:
    """Return the label that most pixels of each bead's cell have, (beads,)."""
    counts = np.bincount(owner.ravel() * kinds + labels.ravel(), minlength=beads * kinds).reshape(
        beads, kinds
    )
    return np.asarray(np.argmax(counts, axis=1), dtype=np.intp)


def cell_means(owner: Ints, linear: Singles, beads: int) -> Floats:
    """Return the mean linear light of each bead's cell, (beads, 3)."""
    flat = owner.ravel()
    count = np.maximum(np.bincount(flat, minlength=beads), 1)
    return np.stack(
        [
            np.bincount(flat, linear[..., channel].ravel(), minlength=beads) / count
            for channel in range(3)
        ],
        axis=1,
    )


def match_linear(linear: Floats | Singles, palette: Palette) -> Ints:
    """Return the nearest bead of the palette for linear colours (k, 3)."""
    return nearest(linear_to_lab(np.asarray(linear)), palette).bead
