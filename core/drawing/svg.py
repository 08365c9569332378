"""Draw a page as SVG: one millimetre is one unit, and one millimetre on paper."""

from __future__ import annotations

import re
from base64 import b64encode
from html import escape

from ..srgb import Rgb
from .fonts import FAMILY, missing, runs_leftwards, text_width_mm
from .hatches import HATCH_MM, hatch_strokes
from .png import png_bytes
from .shapes import Circle, Page, PixelImage, Polygon, Polyline, Shape, Text, ink

# characters that XML 1.0 cannot hold, even escaped
_NOT_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ud800-\udfff\ufffe\uffff]")


def escaped(text: str) -> str:
    """Return text that is safe in an element or a quoted attribute."""
    return escape(_NOT_XML.sub(" ", text))


def number(value: float) -> str:
    """Return a length in mm to a thousandth, without useless zeros."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def colour(value: Rgb | None) -> str:
    """Return ``#rrggbb`` or ``none``."""
    return "none" if value is None else "#{:02x}{:02x}{:02x}".format(*value)


def to_svg(page: Page, title: str = "") -> str:
    """Return a page as an SVG document.

    Parameters
    ----------
    page : Page
        What to draw.
    title : str
        Name of the document, for window titles and screen readers.

    Returns
    -------
    str
        A complete document; width and height are given in mm.
    """
    width, height = number(page.width_mm), number(page.height_mm)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width}mm" height="{height}mm" '
        f'viewBox="0 0 {width} {height}" font-family="{FAMILY}, Verdana, sans-serif">'
    )
    if any(getattr(shape, "label", None) for shape in page.shapes):
        # only what has something to say answers the pointer, also through a letter on top of it
        head = head.replace("<svg ", '<svg pointer-events="none" ')
    name = f"<title>{escaped(title)}</title>\n" if title else ""
    paper = f'<rect width="{width}" height="{height}" fill="#ffffff"/>\n'
    return f"{head}\n{name}{paper}" + "\n".join(map(_element, page.shapes)) + "\n</svg>\n"


def _element(shape: Shape) -> str:
    match shape:
        case Polygon():
            return _polygon(shape)
        case Polyline(points, stroke, width, dash):
            broken = f' stroke-dasharray="{number(dash[0])} {number(dash[1])}"' if dash else ""
            return (
                f'<polyline points="{_points(points)}" fill="none" stroke="{colour(stroke)}" '
                f'stroke-width="{number(width)}"{broken}/>'
            )
        case Circle(x, y, r, fill, stroke, width, label):
            body = f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(r)}"'
            return body + _paint(fill, stroke, width) + _closing("circle", label)
        case Text():
            return _text(shape)
        case PixelImage():
            return _picture(shape)


def _points(points: tuple[tuple[float, float], ...]) -> str:
    return " ".join(f"{number(x)},{number(y)}" for x, y in points)


def _paint(fill: Rgb | None, stroke: Rgb | None, width: float) -> str:
    line = f' stroke="{colour(stroke)}" stroke-width="{number(width)}"' if stroke else ""
    return f' fill="{colour(fill)}"{line}'


def _closing(tag: str, label: str | None) -> str:
    if label is None:
        return "/>"
    return f' pointer-events="all"><title>{escaped(label)}</title></{tag}>'


def _polygon(shape: Polygon) -> str:
    body = f'<polygon points="{_points(shape.points)}"'
    body += _paint(shape.fill, shape.stroke, shape.stroke_mm) + _closing("polygon", shape.label)
    if not shape.hatch:
        return body
    strokes = "".join(
        f"M{number(x0)} {number(y0)}L{number(x1)} {number(y1)}"
        for (x0, y0), (x1, y1) in hatch_strokes(shape.points, shape.hatch).tolist()
    )
    pen = colour(ink(shape.fill or (255, 255, 255)))
    return f'{body}\n<path d="{strokes}" stroke="{pen}" stroke-width="{HATCH_MM}" fill="none"/>'


def _text(shape: Text) -> str:
    if not shape.text.strip():
        return ""
    length = text_width_mm(shape.text, shape.size_mm, shape.bold)
    parts = [f'<text x="{number(shape.x)}" y="{number(shape.y)}"']
    parts.append(f'font-size="{number(shape.size_mm)}"')
    if shape.bold:
        parts.append('font-weight="bold"')
    anchor = shape.anchor
    if runs_leftwards(shape.text):
        # such a text starts at its right end
        parts.append('direction="rtl"')
        anchor = {"start": "end", "end": "start"}.get(anchor, anchor)
    if anchor != "start":
        parts.append(f'text-anchor="{anchor}"')
    if shape.fill != (0, 0, 0):
        parts.append(f'fill="{colour(shape.fill)}"')
    if shape.rotate_deg:
        about = f"{number(shape.x)} {number(shape.y)}"
        parts.append(f'transform="rotate({number(shape.rotate_deg)} {about})"')
    # the room was measured with our own font; another one is squeezed into it. Letters that ours
    # does not hold were measured spelled out, which is wider than they are
    if not missing(shape.text, shape.bold):
        parts.append(f'textLength="{number(length)}" lengthAdjust="spacingAndGlyphs"')
    return " ".join(parts) + f">{escaped(shape.text)}</text>"


def _picture(shape: PixelImage) -> str:
    data = b64encode(png_bytes(shape.rgb)).decode("ascii")
    return (
        f'<image x="{number(shape.x)}" y="{number(shape.y)}" width="{number(shape.width_mm)}" '
        f'height="{number(shape.height_mm)}" preserveAspectRatio="none" '
        f'href="data:image/png;base64,{data}"/>'
    )
