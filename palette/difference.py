"""Colour differences: CIEDE2000 (CIE 142-2001, ISO/CIE 11664-6), after Sharma, Wu & Dalal 2005.

The formula is discontinuous by up to a few tenths where the hues lie opposite, and it is not a
metric: the triangle inequality fails, so no search tree may prune by it.
"""

from __future__ import annotations

from math import pi, radians

import numpy as np

from ..core.arrays import AnyFloats

# pairs worked on at once: the formula keeps some twenty arrays of this length, which should
# stay near the processor (20 × 32 Ki × 4 bytes = 2.6 MB)
_PAIRS_AT_ONCE = 1 << 15


def ciede2000(lab1: AnyFloats, lab2: AnyFloats) -> AnyFloats:
    """Return CIEDE2000 of colours pair by pair, equations (2) to (22) of [1], all weights 1.

    Scikit-image has the same, and imports scipy.linalg for it: a quarter of a second at the start.

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
    [1] G. Sharma, W. Wu, E. N. Dalal, Color Res. Appl. 30 (2005) 21-30, doi:10.1002/col.20070; the
        numbers of its equations stand beside the lines.
    """
    (l1, a1, b1), (l2, a2, b2) = np.moveaxis(lab1, -1, 0), np.moveaxis(lab2, -1, 0)
    # (2) to (4): a* further from grey where there is little chroma
    wider = 1.5 - 0.5 * _much((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2)
    a1, a2 = a1 * wider, a2 * wider
    # (5) to (7)
    chroma1, chroma2 = np.hypot(a1, b1), np.hypot(a2, b2)
    hue1, hue2 = np.arctan2(b1, a1) % _ROUND, np.arctan2(b2, a2) % _ROUND
    # (8) to (11): the hue the shorter way round
    turn = hue2 - hue1
    turn -= _ROUND * np.rint(turn / _ROUND)
    hue_apart = 2 * np.sqrt(chroma1 * chroma2) * np.sin(turn / 2)
    # (12) to (14)
    light = ((l1 + l2) / 2 - 50) ** 2
    chroma = (chroma1 + chroma2) / 2
    hue = (hue1 + turn / 2) % _ROUND
    # (15), (16): how much a difference of hue counts, and how far it is turned
    counts = (
        1
        - 0.17 * np.cos(hue - radians(30))
        + 0.24 * np.cos(2 * hue)
        + 0.32 * np.cos(3 * hue + radians(6))
        - 0.20 * np.cos(4 * hue - radians(63))
    )
    turned = radians(30) * np.exp(-(((np.rad2deg(hue) - 275) / 25) ** 2))
    # (18) to (20): each difference over its weight
    lightness = (l2 - l1) / (1 + 0.015 * light / np.sqrt(20 + light))
    colour = (chroma2 - chroma1) / (1 + 0.045 * chroma)
    hue_apart /= 1 + 0.015 * chroma * counts
    # (17), (21), (22)
    rotation = -2 * np.sin(2 * turned) * _much(chroma)
    total = lightness**2 + colour**2 + hue_apart**2 + rotation * colour * hue_apart
    return np.asarray(np.sqrt(np.maximum(total, 0)))


_ROUND = 2 * pi
"""A full turn of hue, in radians."""


def _much(chroma: AnyFloats) -> AnyFloats:
    """How far a chroma is from grey, 0..1: the root in equations (4) and (17)."""
    seventh = chroma**7
    return np.sqrt(seventh / (seventh + 25.0**7))


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
