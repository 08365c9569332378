"""Groups of things that hang together, link by link."""

from __future__ import annotations

import numpy as np

from .arrays import Ints


def linked_groups(one: Ints, other: Ints, count: int) -> Ints:
    """Return the number of the group of each of some things.

    Parameters
    ----------
    one, other : (k,) int
        Numbers of the two things of each link.
    count : int
        How many things there are.

    Returns
    -------
    (count,) int
        Groups are numbered in the order of their first members.
    """
    from scipy.sparse import csr_array
    from scipy.sparse.csgraph import connected_components

    # row by row, which takes half as long as to have a sparse matrix sorted and added up
    order = np.argsort(one, kind="stable")
    ends = np.append(0, np.cumsum(np.bincount(one, minlength=count)))
    links = csr_array((np.ones(len(one)), other[order], ends), shape=(count, count))
    return np.asarray(connected_components(links, directed=False)[1]).astype(np.intp)
