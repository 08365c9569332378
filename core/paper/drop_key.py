"""The two ways to string a drop bead with a slanted hole, drawn as they lie on the strand."""

from __future__ import annotations

import numpy as np

from ..design import AWAY, MARKS, TOWARD
from ..drawing.layout import CAPITAL
from ..drawing.shapes import BLACK, Point, Polygon, Polyline, Shape, Text, rectangle
from ..srgb import Rgb
from .type_sizes import LIST

_CORD: Rgb = (120, 120, 120)
_RIM: Rgb = (225, 225, 225)
_DROP: Rgb = (250, 250, 250)
KEY_MM = 17.0
"""Height of the key."""
_WORDS = {TOWARD: "wide end toward the disc", AWAY: "wide end away from it"}
TURNED = {TOWARD: "wide end toward the disc", AWAY: "wide end away from the disc", 0: ""}
"""What is said of a drop."""


def drop_outline(
    x: float, y: float, lean_deg: float, sizes_mm: tuple[float, float, float]
) -> tuple[Point, ...]:
    """Return the outline of a drop: its narrow end at (x, y), the wide one where it leans.

    Parameters
    ----------
    x, y : float
    lean_deg : float
        Where the wide end points: 0 to the right, 90 down the page.
    sizes_mm : (float, float, float)
        Radius of the narrow end, of the wide end, and the way between their middles.

    Returns
    -------
    tuple of (x, y)
        The two circles with their outer tangents, a convex polygon.
    """
    narrow, wide, reach = sizes_mm
    # the outer tangents touch both circles where their normals make this angle with the axis
    half = np.arccos((narrow - wide) / reach)
    front = np.linspace(-half, half, 15)
    back = np.linspace(half, 2 * np.pi - half, 11)
    axis = np.radians(lean_deg)
    around = np.concatenate([front, back]) + axis
    radius = np.concatenate([np.full(len(front), wide), np.full(len(back), narrow)])
    middle = np.where(np.arange(len(around)) < len(front), reach, 0.0)
    xs = x + middle * np.cos(axis) + radius * np.cos(around)
    ys = y + middle * np.sin(axis) + radius * np.sin(around)
    return tuple(zip(xs.tolist(), ys.tolist(), strict=True))


def drop_key(x: float, y: float, width_mm: float) -> list[Shape]:
    """Return both ways side by side: the disc, the strand, the drop with its hole, the words.

    Parameters
    ----------
    x, y : float
        Top left corner.
    width_mm : float
        Of both; they are `KEY_MM` high.
    """
    shapes: list[Shape] = []
    for place, way in enumerate((TOWARD, AWAY)):
        shapes += _way(x + place * width_mm / 2, y, way)
    return shapes


def _way(x: float, y: float, way: int) -> list[Shape]:
    cord, hole = y + 4.0, x + 19.0
    lean = 135.0 if way == TOWARD else 45.0
    return [
        rectangle(x, y, 4.0, KEY_MM - 3.0, _RIM, BLACK, 0.3),
        Text(x + 5.0, y + KEY_MM - 4.0, "disc", LIST),
        Polyline(((x + 4.0, cord), (x + 34.0, cord)), _CORD, 0.8),
        Polygon(drop_outline(hole, cord, lean, (1.5, 2.9, 5.6)), _DROP, BLACK, 0.35),
        # the hole runs through the narrow end, along the strand and aslant to the drop
        Polyline(((hole - 1.5, cord), (hole + 1.5, cord)), BLACK, 0.4, (0.6, 0.4)),
        Text(x + 37.0, cord + CAPITAL / 2 * 5.0, MARKS[way], 5.0, bold=True),
        *[
            Text(x + 43.0, cord - 0.6 + row * 4.2, line, LIST)
            for row, line in enumerate(_broken(_WORDS[way]))
        ],
    ]


def _broken(words: str) -> tuple[str, str]:
    first, second, *rest = words.split(" ")
    return f"{first} {second}", " ".join(rest)
