"""A blank to draw on: the braid's own cells, unrolled, as a tile that closes all round."""

from __future__ import annotations

import numpy as np

from ..braid import Lattice
from ..drawing.shapes import Page, Polygon, Shape
from ..srgb import Rgb

BLANK_PX_PER_PITCH = 40.0
"""Of a blank in pixels: cells large enough to be filled by hand."""

LINE: Rgb = (196, 196, 204)
"""Light: what is filled in counts, and not the lines."""

LINE_PITCHES = 0.05
"""Width of lines: two pixels."""


def blank_rounds(lattice: Lattice) -> int:
    """Return how many rounds a blank shows: about as high as once round the braid is wide."""
    once = lattice.face_return()
    times = max(1, round(lattice.circumference_mm / (once.rounds * lattice.rise_mm)))
    return lattice.face_return(times).rounds


def blank_page(lattice: Lattice) -> Page:
    """Return the cells of a tile once round, one of them in its middle.

    The page is the tile: what leaves it at one side comes in again at the other.

    Parameters
    ----------
    lattice : Lattice
        As computed: with a measured drift no tile closes.
    """
    wide, high = lattice.circumference_mm, blank_rounds(lattice) * lattice.rise_mm
    reach = int((high / 2 + 2 * lattice.covering_radius_mm) / lattice.step_mm) + 1
    _, _, x, y = lattice.about(reach)
    cell, line_mm = lattice.cell_mm, LINE_PITCHES * lattice.pitch_mm
    shapes: list[Shape] = []
    for turn in (-1, 0, 1):
        for right, up in zip(x + turn * wide, y, strict=True):
            corners = np.stack([wide / 2 + right + cell[:, 0], high / 2 - up - cell[:, 1]], axis=1)
            if (corners.max(axis=0) > 0).all() and (corners.min(axis=0) < (wide, high)).all():
                points = tuple((float(a), float(b)) for a, b in corners)
                shapes.append(Polygon(points, stroke=LINE, stroke_mm=line_mm))
    return Page(wide, high, tuple(shapes))
