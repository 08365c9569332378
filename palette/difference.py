"""Colour differences: CIEDE2000 (CIE 142-2001, ISO/CIE 11664-6), after Sharma, Wu & Dalal 2005.

The formula is discontinuous by up to a few tenths where the hues lie opposite, and it is not a
metric: the triangle inequality fails, so no search tree may prune by it.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import cast

import numpy as np

from ..core.arrays import AnyFloats

# pairs worked on at once: the formula keeps some twenty arrays of this length, which should
# stay near the processor (20 × 32 Ki × 4 bytes = 2.6 MB)
_PAIRS_AT_ONCE = 1 << 15


def ciede2000(lab1: AnyFloats, lab2: AnyFloats) -> AnyFloats:
    """Return CIEDE2000 of colours pair by pair, equations (2) to (22) of [1], all weights 1.

    Parameters
    ----------
    lab1, lab2 : float arrays (..., 3)
        CIE Lab; the leading shapes broadcast. In float32 the result is good to about 0.001, and
        five times as fast.

    Returns
    -------
    float array, the broadcast leading shape

    References
    ----------
    [1] G. Sharma, W. Wu, E. N. Dalal, Color Res. Appl. 30 (2005) 21-30, doi:10.1002/col.20070.
    """
    from skimage.color.delta_e import deltaE_ciede2000

    formula = cast("Callable[[AnyFloats, AnyFloats], AnyFloats]", deltaE_ciede2000)
    return formula(lab1, lab2)


def ciede2000_matrix(lab1: AnyFloats, lab2: AnyFloats) -> AnyFloats:
    """Return CIEDE2000 of every colour of one list to every colour of another.

    Works in blocks of rows, so that memory stays near that of the result.

    Parameters
    ----------
    lab1, lab2 : float arrays (k, 3), (n, 3)
        CIE Lab.

    Returns
    -------
    float array (k, n)
        In float32 if both are.
    """
    result = np.empty((len(lab1), len(lab2)), np.result_type(lab1, lab2, np.float32))
    for rows in row_blocks(len(lab1), len(lab2)):
        result[rows] = ciede2000(lab1[rows, None], lab2[None])
    return result


def row_blocks(rows: int, columns: int) -> list[slice]:
    """Cut a matrix of pairs into blocks of rows that fit near the processor."""
    step = max(1, _PAIRS_AT_ONCE // max(1, columns))
    return [slice(start, start + step) for start in range(0, rows, step)]
