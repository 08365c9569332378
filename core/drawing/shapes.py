"""What a page holds: a few frozen shapes in millimetres, drawn alike by every back end.

The origin is the top left corner of the page, x runs right, y runs down. Colours are sRGB triples
0-255, or None for nothing. Shapes later in a page lie on top of earlier ones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from ..arrays import Bytes
from ..srgb import Rgb

Point = tuple[float, float]
Box = tuple[float, float, float, float]

BLACK: Rgb = (0, 0, 0)
WHITE: Rgb = (255, 255, 255)


@dataclass(frozen=True, slots=True)
class Polygon:
    """A closed polygon; `hatch` is a pattern number of `himotif.core.drawing.hatches`.

    A hatched polygon must be convex. `label` is a short text for screens: it becomes the
    ``<title>`` of the SVG element.
    """

    points: tuple[Point, ...]
    fill: Rgb | None = None
    stroke: Rgb | None = BLACK
    stroke_mm: float = 0.2
    hatch: int | None = None
    label: str | None = None


@dataclass(frozen=True, slots=True)
class Polyline:
    """An open line; `dash_mm` are the lengths of stroke and gap."""

    points: tuple[Point, ...]
    stroke: Rgb = BLACK
    stroke_mm: float = 0.2
    dash_mm: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Circle:
    """A circle round (x, y)."""

    x: float
    y: float
    r: float
    fill: Rgb | None = None
    stroke: Rgb | None = BLACK
    stroke_mm: float = 0.2
    label: str | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; (x, y) lies on the baseline at the `anchor`.

    `size_mm` is the height of the font's body. `rotate_deg` turns the text clockwise about (x, y).
    """

    x: float
    y: float
    text: str
    size_mm: float
    anchor: str = "start"
    bold: bool = False
    fill: Rgb = BLACK
    rotate_deg: float = 0.0


@dataclass(frozen=True, eq=False, slots=True)
class PixelImage:
    """A picture of sRGB pixels, uint8 (H, W, 3), with its top left corner at (x, y)."""

    x: float
    y: float
    width_mm: float
    height_mm: float
    rgb: Bytes


Shape = Polygon | Polyline | Circle | Text | PixelImage


@dataclass(frozen=True, slots=True)
class Page:
    """A page and its shapes, the lowest first."""

    width_mm: float
    height_mm: float
    shapes: tuple[Shape, ...]


def rectangle(
    x: float,
    y: float,
    width_mm: float,
    height_mm: float,
    fill: Rgb | None = None,
    stroke: Rgb | None = BLACK,
    stroke_mm: float = 0.2,
) -> Polygon:
    """Return the rectangle with its top left corner at (x, y)."""
    corners = (
        (x, y),
        (x + width_mm, y),
        (x + width_mm, y + height_mm),
        (x, y + height_mm),
    )
    return Polygon(corners, fill, stroke, stroke_mm)


@cache
def ink(fill: Rgb) -> Rgb:
    """Return black or white, whichever contrasts more with `fill` (WCAG 2 contrast ratio)."""
    # relative luminance, IEC 61966-2-1; equal contrast with black and white lies at 0.1791
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in _unit(fill)]
    luminance = 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]
    return BLACK if luminance > 0.1791 else WHITE


def _unit(colour: Rgb) -> tuple[float, float, float]:
    red, green, blue = colour
    return red / 255, green / 255, blue / 255


def moved(shapes: Sequence[Shape], dx_mm: float, dy_mm: float, scale: float = 1.0) -> list[Shape]:
    """Return shapes scaled about the origin, then moved; line widths and texts scale along."""
    return [_moved(shape, dx_mm, dy_mm, scale) for shape in shapes]


def _moved(shape: Shape, dx: float, dy: float, scale: float) -> Shape:
    def at(x: float, y: float) -> Point:
        return x * scale + dx, y * scale + dy

    match shape:
        case Polygon(points, fill, stroke, width, hatch, label):
            shifted = tuple(at(*p) for p in points)
            return Polygon(shifted, fill, stroke, width * scale, hatch, label)
        case Polyline(points, colour, width, dash):
            shifted = tuple(at(*p) for p in points)
            dashed = None if dash is None else (dash[0] * scale, dash[1] * scale)
            return Polyline(shifted, colour, width * scale, dashed)
        case Circle(x, y, r, fill, stroke, width, label):
            return Circle(*at(x, y), r * scale, fill, stroke, width * scale, label)
        case Text(x, y, text, size, anchor, bold, colour, turn):
            return Text(*at(x, y), text, size * scale, anchor, bold, colour, turn)
        case PixelImage(x, y, width, height, rgb):
            return PixelImage(*at(x, y), width * scale, height * scale, rgb)
