"""Outlines: lines between two other colours, far narrower than a bead.

The dark line round a filled shape lies where the shape ends anyway, and a row of beads for it would
eat the shape; where it is much narrower than a bead it is left out, or single beads of it would lie
along the edges like dirt.
"""

from __future__ import annotations

import numpy as np

from ...core.arrays import Bools, Ints

OUTLINE_PITCHES, OUTLINE_LONG, OUTLINE_PART = 0.35, 2.0, 0.6
"""A line that is narrower and longer than this, in pitches, and for this part of it lies between
two other colours, is an outline that beads cannot follow. With a quarter less
and more of one up to 3 of 20 fits change (`tests/benchmarks/tuning_table.txt`)."""


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
        thin = _thin(mine, px_per_pitch)
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


def _without(labels: Ints, lines: Bools, reach_px: float, within: Bools) -> tuple[Ints, Bools]:
    """What would lie there without some lines, and what is so near to an edge (within) in that."""
    from scipy import ndimage

    index = ndimage.distance_transform_edt(lines, return_distances=False, return_indices=True)
    bare = labels[tuple(index)]
    edge = np.zeros(bare.shape, dtype=bool)
    edge[1:] |= bare[1:] != bare[:-1]
    edge[:, 1:] |= bare[:, 1:] != bare[:, :-1]
    edge &= ndimage.binary_dilation(within)
    if not edge.any():
        return bare, edge
    return bare, np.asarray(ndimage.distance_transform_edt(~edge) < reach_px)


def _thin(mask: Bools, px_per_pitch: float) -> Bools:
    """The long parts of a mask that a disc as wide as an outline does not reach."""
    from scipy import ndimage

    radius = 0.5 * OUTLINE_PITCHES * px_per_pitch
    # nothing is nearer to it than what lies round it
    sides = ndimage.find_objects(mask.astype(np.int8))[0]
    box = tuple(slice(max(side.start - 1, 0), side.stop + 1) for side in sides)
    inner = mask[box]
    core = ndimage.distance_transform_edt(inner) > radius
    thin = inner & (ndimage.distance_transform_edt(~core) > radius + 1) if core.any() else inner
    pieces, count = ndimage.label(thin, structure=np.ones((3, 3)))
    if not count:
        return np.zeros_like(mask)
    long = [
        max(side.stop - side.start for side in piece) >= OUTLINE_LONG * px_per_pitch
        for piece in ndimage.find_objects(pieces)
    ]
    keep: Bools = np.zeros_like(mask)
    keep[box] = np.append(False, long)[pieces]
    return keep
