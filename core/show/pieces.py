"""Pieces of a colour, and the gaps it encloses, in the sketch and in beads.

Both are counted on the unrolled braid, which closes round. Parts of the sketch that touch in a
corner are neither joined nor parted: they count as the beads have it. What the ends of the braid
cut may be a sliver in the sketch and no bead, or the other way round: it is left out where it does
not compare.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Bools, Ints
from ..groups import linked_groups

if TYPE_CHECKING:
    from ..braid import Lattice, Raster


@dataclass(frozen=True, eq=False)
class Counted:
    """How many parts there are, and which of the sketch may be cut by the ends of the braid.

    Parameters
    ----------
    before, after : int
        In the sketch and in beads.
    at_end : (H, W) bool
        What lies within a bead of an end that the colour reaches, part by part.
    """

    before: int
    after: int
    at_end: Bools


def count_pieces(raster: Raster, mask: Bools, mine: Bools, speck_px: float) -> Counted:
    """Count the pieces of a colour.

    Parameters
    ----------
    raster : Raster
    mask : (H, W) bool
        Where the sketch has it.
    mine : (n,) bool
        Which beads of the braid have it.
    speck_px : float
        Smaller pieces of the sketch are none, in pixels.
    """
    joined, parted = (
        _kept(part, np.bincount(part[mask], minlength=part.max() + 1) >= speck_px)
        for part in (joined_round(mask, corners) for corners in (True, False))
    )
    chosen = mine & raster.inside
    number = np.zeros(len(mine), dtype=np.intp)
    number[chosen] = 1 + _bead_groups(raster.lattice, chosen)
    return _counted(raster, joined, parted, number[raster.owner], _reached(raster, mask, mine))


def count_gaps(
    raster: Raster, mask: Bools, gap: Bools, mine: Bools, bare: Bools, speck_px: float
) -> Counted:
    """Count the gaps that a colour encloses: parts of the rest that reach no end.

    Parameters
    ----------
    raster : Raster
    mask, gap : (H, W) bool
        Where the sketch has the colour, and what may be a gap in it.
    mine, bare : (n,) bool
        The same of the beads of the braid.
    speck_px : float
        Smaller gaps of the sketch are none, in pixels.
    """
    found = []
    for corners in (True, False):
        part = joined_round(~mask, corners)
        closed = np.bincount(part[gap], minlength=part.max() + 1) >= speck_px
        closed[part[[0, -1]]] = False
        found.append(_kept(part, closed))
    joined, parted = found
    lattice, rest = raster.lattice, ~mine & raster.inside
    group = _bead_groups(lattice, rest)
    neighbours = lattice.neighbours(len(mine))[rest]
    beyond = ((neighbours < 0) | ~raster.inside[neighbours]).any(axis=1)
    closed = np.isin(group, np.setdiff1d(group[bare[rest]], group[beyond]))
    number = np.zeros(len(mine), dtype=np.intp)
    number[np.flatnonzero(rest)[closed]] = 1 + np.unique(group[closed], return_inverse=True)[1]
    return _counted(raster, joined, parted, number[raster.owner], _reached(raster, mask, mine))


def joined_round(mask: Bools, corners: bool) -> Ints:
    """Number the parts of a mask that closes round the braid, 1, 2, ...; 0 is none.

    Parameters
    ----------
    mask : (H, W) bool
    corners : bool
        Whether parts that touch in a corner are joined.
    """
    from scipy import ndimage

    labels = ndimage.label(mask, structure=np.ones((3, 3)) if corners else None)[0]
    last, first = labels[:, -1], labels[:, 0]
    pairs = [(last, first)]
    if corners:
        pairs += [(last[1:], first[:-1]), (last[:-1], first[1:])]
    meet = np.concatenate([np.stack(pair, 1)[(pair[0] > 0) & (pair[1] > 0)] for pair in pairs])
    # groups are numbered in the order of their first members, so nothing (0) stays 0
    return np.asarray(linked_groups(meet[:, 0], meet[:, 1], int(labels.max()) + 1)[labels])


def _kept(part: Ints, keep: Bools) -> Ints:
    """Parts numbered anew, without those that are not kept."""
    keep[0] = False
    return np.asarray((np.cumsum(keep) * keep)[part])


def _bead_groups(lattice: Lattice, chosen: Bools) -> Ints:
    """Number the connected groups of chosen beads from 0, one number for each of these."""
    here = np.nonzero(chosen)[0]
    number = np.full(len(chosen) + 1, -1)
    number[here] = np.arange(len(here))
    neighbours = lattice.neighbours(len(chosen))[here]
    one, other = np.repeat(np.arange(len(here)), 6), number[neighbours].ravel()
    met = other >= 0
    return linked_groups(one[met], other[met], len(here))


# -- the ends of the braid -------------------------------------------------------------------------


def _reached(raster: Raster, mask: Bools, mine: Bools) -> Bools:
    """Whether a colour reaches the upper and the lower end, (2,)."""
    either = mask[[0, -1]] | mine[raster.owner[[0, -1]]]
    return np.asarray(either.any(axis=1))


def _counted(raster: Raster, joined: Ints, parted: Ints, after: Ints, reached: Bools) -> Counted:
    """Count parts of the sketch, which touch in corners or not, and those of beads (H, W)."""
    rows = int(np.ceil(raster.lattice.pitch_mm / raster.px_mm[1]))
    near_before, near_after = (_near(part, rows) & reached[:, None] for part in (parted, after))
    out_before, out_after = _cut(parted, after, near_before, near_after)
    left = np.isin(parted, np.flatnonzero(~out_before))
    most, fewest = (len(np.setdiff1d(part[left], 0)) for part in (parted, joined))
    worked = int(after.max() - out_after.sum())
    at_end = np.asarray(near_before.any(axis=0))
    return Counted(min(max(worked, fewest), most), worked, at_end[parted])


def _near(part: Ints, rows: int) -> Bools:
    """Which parts (n,) come within so many rows of the upper and of the lower end, (2, n)."""
    number = np.arange(part.max() + 1)
    return np.stack([np.isin(number, part[:rows]), np.isin(number, part[-rows:])])


def _cut(before: Ints, after: Ints, near_before: Bools, near_after: Bools) -> tuple[Bools, Bools]:
    """Which parts do not compare, as an end cuts them: of the sketch and of the beads.

    Parts belong together that lie most on each other. As many here as there compare; else they are
    cut if all of them are near one end, and none near the other.
    """
    here, there = near_before.shape[1], near_after.shape[1]
    pair, count = np.unique(before.ravel() * there + after.ravel(), return_counts=True)
    one, other = np.divmod(pair, there)
    both = (one > 0) & (other > 0)
    one, other, count = one[both], other[both], count[both]
    most = np.concatenate([_most(one, count), _most(other, count)])
    size = here + there
    group = linked_groups(one[most], here + other[most], size)
    near = np.concatenate([near_before, near_after], axis=1)
    part = np.ones(size, dtype=bool)
    part[[0, here]] = False

    def members(which: Bools) -> Ints:
        return np.bincount(group[part & which], minlength=size)

    of_sketch = np.arange(size) < here
    whole = members(part)
    upper, lower = members(near[0]), members(near[1])
    one_end = ((upper == whole) & (lower == 0)) | ((lower == whole) & (upper == 0))
    cut = np.flatnonzero(one_end & (members(of_sketch) != members(~of_sketch)))
    out = np.isin(group, cut) & part
    return out[:here], out[here:]


def _most(which: Ints, count: Ints) -> Ints:
    """Where each of them has its largest count."""
    order = np.lexsort((count, which))
    last = np.append(which[order][1:] != which[order][:-1], np.ones(len(order[:1]), bool))
    return np.asarray(order[last])
