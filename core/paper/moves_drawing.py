"""The two moves of a lay, drawn small: which strand goes down and which comes up."""

from __future__ import annotations

from ..braid import Lay
from ..drawing.layout import CAPITAL
from ..drawing.shapes import BLACK, WHITE, Circle, Point, Shape, Text
from .disc import arrow

_PAIR, _BESIDE, _FAR = 0.2, 0.58, 0.74
"""Places of the strands, in radii of the disc: off the middle, beside the other pair, outwards."""


def moves_shapes(lay: Lay, x: float, y: float, radius_mm: float) -> list[Shape]:
    """Return the disc with its top and bottom pair and the two moves as numbered arrows.

    Parameters
    ----------
    lay : 'S' or 'Z'
    x, y : float
        The middle on the page.
    radius_mm : float

    Returns
    -------
    list of shapes
        S lay: top left goes down, bottom right goes up; Z lay is the mirror image.
    """
    side = -1.0 if lay == "S" else 1.0

    def at(across: float, down: float) -> Point:
        return x + across * side * radius_mm, y + down * radius_mm

    shapes: list[Shape] = [Circle(x, y, radius_mm, WHITE, BLACK, 0.3)]
    # the first move leaves the top on its own side, the second the bottom on the other
    for number, down in ((1, -1.0), (2, 1.0)):
        own = -down
        start, end = at(own * _PAIR, down * _FAR), at(own * _BESIDE, -down * 0.66 * _FAR)
        rest = at(-own * _PAIR, down * _FAR)
        shapes += [
            *arrow((start, end), 0.5),
            Circle(*start, 0.09 * radius_mm, BLACK, BLACK, 0.2),
            Circle(*rest, 0.09 * radius_mm, WHITE, BLACK, 0.2),
            Text(
                start[0] + own * side * 0.2 * radius_mm,
                start[1] + CAPITAL / 2 * 2.6 - down * 0.02 * radius_mm,
                str(number),
                2.6,
                "middle",
                True,
            ),
        ]
    return shapes
