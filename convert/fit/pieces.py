"""In how many pieces each colour of a tile lies, where that is repeated to all sides."""

from __future__ import annotations

from collections import Counter

import numpy as np

from ...core.arrays import Ints
from ...core.groups import linked_groups
from .features import SPECK


def pieces_drawn(labels: Ints) -> Counter[int]:
    """Return how many pieces each colour of a drawn tile has, specks left out.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel; what touches over an edge of the tile is one piece.
    """
    from skimage.measure import label

    part = label(labels, connectivity=1, background=-1) - 1
    colour = np.zeros(part.max() + 1, dtype=np.intp)
    colour[part] = labels
    edges = np.concatenate([part[[0, -1]].T, part[:, [0, -1]]])
    piece = _joined(colour, edges)
    area = np.bincount(piece[part].ravel())
    _, first = np.unique(piece, return_index=True)
    return Counter(colour[first[area >= SPECK * labels.size]].tolist())


def pieces_worked(colours: Ints, neighbours: Ints) -> Counter[int]:
    """Return how many pieces each colour of a tile of beads has.

    Parameters
    ----------
    colours : (n,) int
    neighbours : (n, k) int
        Beads beside each bead, in its own tile or as they come again in the next.
    """
    edges = np.stack([np.repeat(np.arange(len(colours)), neighbours.shape[1]), neighbours.ravel()])
    _, first = np.unique(_joined(colours, edges.T), return_index=True)
    return Counter(colours[first].tolist())


def _joined(colours: Ints, edges: Ints) -> Ints:
    """Number of the piece of each part, (n,), by edges (k, 2): those of one colour join."""
    first, second = edges[colours[edges[:, 0]] == colours[edges[:, 1]]].T
    return linked_groups(first, second, len(colours))
