"""The nearest bead of a palette for many colours at once."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from ..core.arrays import AnyFloats, Floats, Ints
from .difference import ciede2000, row_blocks
from .palette import Palette

# float32 settles every bead that is clearly the nearest; those within this much of the best are
# weighed again in float64. The formula jumps by up to a few tenths where hues lie opposite (Sharma,
# Wu, Dalal, doi:10.1002/col.20070), and
# float32 may fall on the wrong side of the jump.
_CLOSE = 0.3


class Nearest(NamedTuple):
    """The nearest bead of each colour.

    Attributes
    ----------
    bead : int array (k,)
        Place in the palette.
    difference : float64 array (k,)
        CIEDE2000 to that bead.
    """

    bead: Ints
    difference: Floats


def nearest(lab: AnyFloats, palette: Palette | AnyFloats) -> Nearest:
    """Return the bead nearest by CIEDE2000 for each colour; of equals, the first in the palette.

    Parameters
    ----------
    lab : float array (k, 3)
        CIE Lab (D65).
    palette : Palette, or float array (n, 3)
        The beads, or their CIE Lab colours; at least one.

    Returns
    -------
    Nearest
        Indices and differences, (k,) each.
    """
    beads = np.asarray(palette.lab if isinstance(palette, Palette) else palette, np.float64)
    colours = np.asarray(lab, np.float64)
    index = np.empty(len(colours), np.intp)
    difference = np.empty(len(colours))
    rough_colours, rough_beads = colours.astype(np.float32), beads.astype(np.float32)
    for rows in row_blocks(len(colours), len(beads)):
        rough = ciede2000(rough_colours[rows, None], rough_beads[None])
        row, bead = np.nonzero(rough <= rough.min(axis=1, keepdims=True) + _CLOSE)
        exact = ciede2000(colours[rows][row], beads[bead])
        # by row, then difference, then place in the palette; the first of each row wins
        order = np.lexsort((bead, exact, row))
        first = order[np.searchsorted(row, np.arange(len(rough)))]
        index[rows], difference[rows] = bead[first], exact[first]
    return Nearest(index, difference)
