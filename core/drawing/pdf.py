"""Draw pages as one PDF, fonts embedded, the same bytes each time.

The operators of the page are written here (ISO 32000-1, annex A); reportlab keeps the document,
the embedded fonts and the pictures. A chart of 16,000 beads is drawn in about a second this way.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from functools import lru_cache
from io import BytesIO
from typing import Any

from ..srgb import Rgb
from .fonts import glyphs, registered, text_width_mm
from .hatches import HATCH_MM, hatch_about
from .shapes import (
    WHITE,
    Circle,
    Page,
    PixelImage,
    Point,
    Polygon,
    Polyline,
    Shape,
    Text,
    ink,
)

POINTS_PER_MM = 72 / 25.4
"""Units of a page (ISO 32000-1, 8.3.2.3: 1/72 inch)."""

# a quarter of a circle as a cubic Bézier curve: distance of the control points over the radius
_KAPPA = 0.5522847498


def to_pdf(pages: Sequence[Page], title: str) -> bytes:
    """Return pages as a PDF document.

    Parameters
    ----------
    pages : sequence of Page
        At least one; their sizes may differ.
    title : str
        Name of the document.

    Returns
    -------
    bytes
        The file; equal pages give equal bytes.
    """
    from reportlab.pdfgen.canvas import Canvas

    buffer = BytesIO()
    canvas = Canvas(buffer, invariant=1, pageCompression=1)
    canvas.setTitle(title)
    canvas.setCreator("himotif")
    canvas.setProducer("himotif")
    glyphs = _Glyphs(canvas)
    with _plain_streams():
        for page in pages:
            canvas.setPageSize((page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM))
            # millimetres from here on, with y still upwards: texts must not be drawn mirrored
            canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
            pen = _Pen(page.height_mm, glyphs)
            for shape in page.shapes:
                if isinstance(shape, PixelImage):
                    canvas.addLiteral("\n".join(pen.take()))
                    _picture(canvas, shape, page.height_mm)
                else:
                    pen.draw(shape)
            canvas.addLiteral("\n".join(pen.take()))
            canvas.showPage()
        canvas.save()
    return buffer.getvalue()


@contextmanager
def _plain_streams() -> Iterator[None]:
    """Compressed streams as bytes, not spelled out in letters: smaller and faster."""
    from reportlab import rl_config

    before = rl_config.useA85
    rl_config.useA85 = 0
    try:
        yield
    finally:
        rl_config.useA85 = before


def _picture(canvas: Any, shape: PixelImage, height: float) -> None:
    from PIL import Image
    from reportlab.lib.utils import ImageReader

    picture = ImageReader(Image.fromarray(shape.rgb))
    low = height - shape.y - shape.height_mm
    canvas.drawImage(picture, shape.x, low, shape.width_mm, shape.height_mm)


class _Glyphs:
    """Texts as operators: font and size, then the string in the font's own numbering."""

    def __init__(self, canvas: Any) -> None:
        self.canvas = canvas
        self.known: dict[tuple[str, float, bool], tuple[str, float]] = {}

    def show(self, text: str, size: float, bold: bool) -> tuple[str, float]:
        """Return the operators that show a text, and its width."""
        key = (text, size, bold)
        if key not in self.known:
            self.known[key] = self._operators(text, size, bold), text_width_mm(text, size, bold)
        return self.known[key]

    def _operators(self, text: str, size: float, bold: bool) -> str:
        from reportlab.pdfbase.pdfmetrics import getFont

        font = getFont(registered(bold))
        parts = []
        for subset, codes in font.splitString(glyphs(text, bold), self.canvas._doc):
            name = font.getSubsetInternalName(subset, self.canvas._doc)
            parts.append(f"{name} {_n(size)} Tf ({self.canvas._escape(codes)}) Tj")
        return " ".join(parts)


def _n(value: float) -> str:
    """Return a number to a thousandth of a millimetre."""
    return f"{value:.3f}".rstrip("0").rstrip(".")


class _Pen:
    """Writes shapes as operators; colours and widths are set only when they change."""

    def __init__(self, height: float, glyphs: _Glyphs) -> None:
        self.height, self.glyphs = height, glyphs
        self.hatches: dict[tuple[tuple[Point, ...], int], str] = {}
        self.take()

    def take(self) -> list[str]:
        """Return what has been written, and empty the canvas."""
        written = getattr(self, "code", [])
        self.code = ["1 j"]
        self.fill: Rgb | None = None
        self.stroke: tuple[Rgb, float] | None = None
        return written

    def draw(self, shape: Shape) -> None:
        match shape:
            case Polygon():
                self.polygon(shape)
            case Polyline(points, stroke, width, dash):
                self.pens(None, stroke, width)
                broken = f"[{_n(dash[0])} {_n(dash[1])}] 0 d " if dash else ""
                self.code.append(f"{broken}{self.path(points)} S" + (" [] 0 d" if dash else ""))
            case Circle():
                self.circle(shape)
            case Text():
                self.text(shape)

    def pens(self, fill: Rgb | None, stroke: Rgb | None, width: float) -> str:
        """Set colours and width; return the operator that paints a closed path."""
        if fill is not None and fill != self.fill:
            self.fill = fill
            self.code.append(_colour(fill, "rg"))
        if stroke is not None and (stroke, width) != self.stroke:
            self.stroke = (stroke, width)
            self.code.append(f"{_colour(stroke, 'RG')} {_n(width)} w")
        return {(True, True): "b", (True, False): "f", (False, True): "s"}.get(
            (fill is not None, stroke is not None), "n"
        )

    def path(self, points: tuple[Point, ...]) -> str:
        first, *rest = [f"{x:.3f} {self.height - y:.3f}" for x, y in points]
        return f"{first} m " + " ".join([f"{point} l" for point in rest])

    def polygon(self, shape: Polygon) -> None:
        paint = self.pens(shape.fill, shape.stroke, shape.stroke_mm)
        self.code.append(f"{self.path(shape.points)} {paint}")
        if shape.hatch:
            self.pens(None, ink(shape.fill or WHITE), HATCH_MM)
            (x, y), outline, strokes = hatch_about(shape.points, shape.hatch)
            key = (outline, shape.hatch)
            if key not in self.hatches:
                lines = [
                    f"{_n(x0)} {_n(-y0)} m {_n(x1)} {_n(-y1)} l"
                    for (x0, y0), (x1, y1) in strokes.tolist()
                ]
                self.hatches[key] = " ".join(lines) + " S"
            at = f"1 0 0 1 {_n(x)} {_n(self.height - y)} cm"
            self.code.append(f"q {at} {self.hatches[key]} Q")

    def circle(self, shape: Circle) -> None:
        paint = self.pens(shape.fill, shape.stroke, shape.stroke_mm)
        x, y, r = shape.x, self.height - shape.y, shape.r
        k = _KAPPA * r
        self.code.append(f"{_n(x + r)} {_n(y)} m")
        for ax, ay in ((1, 0), (0, 1), (-1, 0), (0, -1)):
            # from the end of one radius to the end of the next, a quarter further
            bx, by = -ay, ax
            curve = (
                (x + r * ax + k * bx, y + r * ay + k * by),
                (x + r * bx + k * ax, y + r * by + k * ay),
                (x + r * bx, y + r * by),
            )
            self.code.append(" ".join(f"{_n(px)} {_n(py)}" for px, py in curve) + " c")
        self.code.append(paint)

    def text(self, shape: Text) -> None:
        self.pens(shape.fill, None, 0.0)
        show, width = self.glyphs.show(shape.text, round(shape.size_mm, 3), shape.bold)
        back = {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
        x, y = shape.x, self.height - shape.y
        if shape.rotate_deg:
            from math import cos, radians, sin

            c, s = cos(radians(-shape.rotate_deg)), sin(radians(-shape.rotate_deg))
            at = f"{c:.5f} {s:.5f} {-s:.5f} {c:.5f} {x - back * c:.3f} {y - back * s:.3f}"
            self.code.append(f"BT {at} Tm {show} ET")
            return
        self.code.append(f"BT {x - back:.3f} {y:.3f} Td {show} ET")


@lru_cache(maxsize=1024)
def _colour(colour: Rgb, operator: str) -> str:
    return " ".join(_n(c / 255) for c in colour) + f" {operator}"
