"""Draw pages as one PDF, fonts embedded, the same bytes each time."""

from __future__ import annotations

from collections.abc import Sequence
from io import BytesIO
from typing import Any

from .fonts import registered, runs, text_width_mm
from .hatches import hatch_strokes
from .shapes import WHITE, Circle, Colour, Page, Picture, Polygon, Polyline, Shape, Text, ink
from .svg import HATCH_MM

POINTS_PER_MM = 72 / 25.4


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
    for page in pages:
        canvas.setPageSize((page.width_mm * POINTS_PER_MM, page.height_mm * POINTS_PER_MM))
        # millimetres from here on, with y still upwards: texts must not be drawn mirrored
        canvas.scale(POINTS_PER_MM, POINTS_PER_MM)
        canvas.setLineJoin(1)
        for shape in page.shapes:
            _draw(canvas, shape, page.height_mm)
        canvas.showPage()
    canvas.save()
    return buffer.getvalue()


def _draw(canvas: Any, shape: Shape, height: float) -> None:
    match shape:
        case Polygon():
            _polygon(canvas, shape, height)
        case Polyline(points, stroke, width, dash):
            canvas.setDash(list(dash) if dash else [])
            _path(canvas, points, height, False, None, stroke, width)
            canvas.setDash([])
        case Circle(x, y, r, fill, stroke, width):
            _pens(canvas, fill, stroke, width)
            canvas.circle(x, height - y, r, stroke=stroke is not None, fill=fill is not None)
        case Text():
            _text(canvas, shape, height)
        case Picture(x, y, wide, high, rgb):
            from PIL import Image
            from reportlab.lib.utils import ImageReader

            picture = ImageReader(Image.fromarray(rgb))
            canvas.drawImage(picture, x, height - y - high, wide, high)


def _unit(colour: Colour) -> list[float]:
    return [round(c / 255, 4) for c in colour]


def _pens(canvas: Any, fill: Colour | None, stroke: Colour | None, width: float) -> None:
    if fill is not None:
        canvas.setFillColorRGB(*_unit(fill))
    if stroke is not None:
        canvas.setStrokeColorRGB(*_unit(stroke))
        canvas.setLineWidth(width)


def _path(
    canvas: Any,
    points: tuple[tuple[float, float], ...],
    height: float,
    closed: bool,
    fill: Colour | None,
    stroke: Colour | None,
    width: float,
) -> None:
    _pens(canvas, fill, stroke, width)
    path = canvas.beginPath()
    path.moveTo(points[0][0], height - points[0][1])
    for x, y in points[1:]:
        path.lineTo(x, height - y)
    if closed:
        path.close()
    canvas.drawPath(path, stroke=stroke is not None, fill=fill is not None)


def _polygon(canvas: Any, shape: Polygon, height: float) -> None:
    _path(canvas, shape.points, height, True, shape.fill, shape.stroke, shape.stroke_mm)
    if shape.hatch:
        canvas.setStrokeColorRGB(*_unit(ink(shape.fill or WHITE)))
        canvas.setLineWidth(HATCH_MM)
        strokes = hatch_strokes(shape.points, shape.hatch).tolist()
        canvas.lines([(x0, height - y0, x1, height - y1) for (x0, y0), (x1, y1) in strokes])


def _text(canvas: Any, shape: Text, height: float) -> None:
    width = text_width_mm(shape.text, shape.size_mm, shape.bold)
    back = {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
    x, y = shape.x, height - shape.y
    if shape.rotate_deg:
        canvas.saveState()
        canvas.translate(x, y)
        canvas.rotate(-shape.rotate_deg)
        x = y = 0.0
    canvas.setFillColorRGB(*_unit(shape.fill))
    x -= back
    for run in runs(shape.text, shape.bold):
        font = registered(run.font)
        canvas.setFont(font, shape.size_mm)
        canvas.drawString(x, y, run.text)
        x += canvas.stringWidth(run.text, font, shape.size_mm)
    if shape.rotate_deg:
        canvas.restoreState()
