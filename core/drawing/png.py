"""Draw a page as pixels, with the fonts of the PDF, smoothed by drawing it larger."""

from __future__ import annotations

from functools import lru_cache
from io import BytesIO
from itertools import pairwise
from typing import Any

import numpy as np

from ..arrays import Bytes, Floats
from .fonts import font_bytes, glyphs, text_width_mm
from .hatches import HATCH_MM, hatch_strokes
from .shapes import WHITE, Circle, Page, PixelImage, Polygon, Polyline, Shape, Text, ink

# so many drawn pixels beside and above each other make one pixel of the picture
_OVER = 3


PX_PER_MM = 6.0
"""Of a page as a picture."""


def page_png(page: Page, px_per_mm: float = PX_PER_MM) -> bytes:
    """Return a page as a PNG file that knows its size on paper."""
    return png_bytes(to_png(page, px_per_mm), px_per_mm)


def to_png(page: Page, px_per_mm: float) -> Bytes:
    """Return a page as sRGB pixels.

    Parameters
    ----------
    page : Page
        What to draw.
    px_per_mm : float
        Pixels per millimetre.

    Returns
    -------
    uint8 array, shape (H, W, 3)
        H and W are the page's size in mm times `px_per_mm`, rounded.
    """
    from PIL import Image, ImageDraw

    width, height = round(page.width_mm * px_per_mm), round(page.height_mm * px_per_mm)
    image = Image.new("RGB", (width * _OVER, height * _OVER), WHITE)
    pen = ImageDraw.Draw(image)
    for shape in page.shapes:
        _draw(image, pen, shape, px_per_mm * _OVER)
    return np.asarray(image.reduce(_OVER), dtype=np.uint8)


def _draw(image: Any, pen: Any, shape: Shape, scale: float) -> None:
    match shape:
        case Polygon(points, fill, stroke, width):
            _outline(pen, points, fill, stroke, width, scale)
            if shape.hatch:
                strokes = hatch_strokes(points, shape.hatch).reshape(-1, 4) * scale
                for ends in strokes.tolist():
                    pen.line(ends, fill=ink(fill or WHITE), width=_pixels(HATCH_MM, scale))
        case Polyline():
            _line(pen, shape, scale)
        case Circle(x, y, r, fill, stroke, width):
            radius = r * scale + (width * scale / 2 if stroke else 0.0)
            box = _box(x * scale, y * scale, radius)
            pen.ellipse(box, fill=fill, outline=stroke, width=_pixels(width, scale))
        case Text():
            _text(image, pen, shape, scale)
        case PixelImage():
            _picture(image, shape, scale)


def _pixels(width_mm: float, scale: float) -> int:
    return max(1, round(width_mm * scale))


def _box(x: float, y: float, radius: float) -> tuple[float, float, float, float]:
    return x - radius, y - radius, x + radius, y + radius


def _outline(
    pen: Any,
    points: tuple[tuple[float, float], ...],
    fill: Any,
    stroke: Any,
    width_mm: float,
    scale: float,
) -> None:
    flat = [(x * scale, y * scale) for x, y in points]
    if fill is not None:
        pen.polygon(flat, fill=fill)
    if stroke is not None:
        pen.line([*flat, flat[0], flat[1]], fill=stroke, width=_pixels(width_mm, scale))


def _line(pen: Any, shape: Polyline, scale: float) -> None:
    width = _pixels(shape.stroke_mm, scale)
    if shape.dash_mm is None:
        flat = [(x * scale, y * scale) for x, y in shape.points]
        pen.line(flat, fill=shape.stroke, width=width, joint="curve")
        return
    for start, end in _dashes(shape):
        pen.line([tuple(start * scale), tuple(end * scale)], fill=shape.stroke, width=width)


def _dashes(shape: Polyline) -> list[tuple[Floats, Floats]]:
    """Cut an open line into its dashes; the count runs on over the corners."""
    assert shape.dash_mm is not None
    on, off = shape.dash_mm
    corners = np.asarray(shape.points, dtype=np.float64)
    pieces = []
    travelled = 0.0
    for start, end in pairwise(corners):
        length = float(np.hypot(*(end - start)))
        if length == 0.0:
            continue
        first = int(travelled // (on + off))
        for dash in range(first, int((travelled + length) // (on + off)) + 1):
            begin = max(dash * (on + off) - travelled, 0.0) / length
            finish = min(dash * (on + off) + on - travelled, length) / length
            if finish > begin:
                pieces.append((start + begin * (end - start), start + finish * (end - start)))
        travelled += length
    return pieces


@lru_cache(maxsize=64)
def _font(bold: bool, size_px: float) -> Any:
    from PIL import ImageFont

    return ImageFont.truetype(
        BytesIO(font_bytes(bold)), size_px, layout_engine=ImageFont.Layout.BASIC
    )


def _text(image: Any, pen: Any, shape: Text, scale: float) -> None:
    width = text_width_mm(shape.text, shape.size_mm, shape.bold) * scale
    back = {"start": 0.0, "middle": width / 2, "end": width}[shape.anchor]
    if shape.rotate_deg:
        _turned_text(image, shape, scale, width, back)
        return
    _line_of_text(pen, shape, shape.x * scale - back, shape.y * scale, scale, shape.fill)


def _line_of_text(pen: Any, shape: Text, x: float, y: float, scale: float, fill: Any) -> None:
    font = _font(shape.bold, round(shape.size_mm * scale, 2))
    pen.text((x, y), glyphs(shape.text, shape.bold), font=font, fill=fill, anchor="ls")


def _turned_text(image: Any, shape: Text, scale: float, width: float, back: float) -> None:
    """Draw the line on a square of its own, turn that about the anchor, and lay it on."""
    from PIL import Image, ImageDraw

    reach = int(width + 2 * shape.size_mm * scale) + 2
    stencil = Image.new("L", (2 * reach, 2 * reach), 0)
    _line_of_text(ImageDraw.Draw(stencil), shape, reach - back, reach, scale, 255)
    stencil = stencil.rotate(-shape.rotate_deg, resample=Image.Resampling.BICUBIC)
    corner = (round(shape.x * scale) - reach, round(shape.y * scale) - reach)
    image.paste(Image.new("RGB", stencil.size, shape.fill), corner, stencil)


def _picture(image: Any, shape: PixelImage, scale: float) -> None:
    from PIL import Image

    size = (max(1, round(shape.width_mm * scale)), max(1, round(shape.height_mm * scale)))
    smaller = size[0] < shape.rgb.shape[1]
    way = Image.Resampling.BOX if smaller else Image.Resampling.NEAREST
    corner = (round(shape.x * scale), round(shape.y * scale))
    image.paste(Image.fromarray(shape.rgb).resize(size, way), corner)


def png_bytes(pixels: Bytes, px_per_mm: float | None = None) -> bytes:
    """Return a picture (H, W, 3) as PNG.

    Its packing takes half the time of the usual level 6; the pictures of a folder are 8 % larger
    by it, and 4 % larger than at level 4, which takes a third longer.
    """
    from PIL import Image

    out = BytesIO()
    dpi = None if px_per_mm is None else (px_per_mm * 25.4,) * 2
    Image.fromarray(pixels).save(out, "PNG", dpi=dpi, compress_level=2)
    return out.getvalue()
