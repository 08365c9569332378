"""SVG drawings as pixels, through resvg; scripts and what lies outside the file are refused."""

from __future__ import annotations

import re
from collections.abc import Iterator
from xml.etree import ElementTree

from ...core.errors import HimotifError

_OUTSIDE_URL = re.compile(r"url\(\s*['\"]?\s*(?!#|data:image/(?:png|jpeg|gif|webp)[;,])", re.I)
_INSIDE = re.compile(r"\s*(?:#|data:image/(?:png|jpeg|gif|webp)[;,])", re.I)
_LENGTH = re.compile(r"\s*(\d*\.?\d+(?:e[+-]?\d+)?)\s*(px|pt|pc|mm|cm|in)?\s*", re.I)


CSS_DPI = 96.0
"""Pixels of a drawing in an inch (CSS Values and Units 3, section 5.2)."""

_UNITS = {
    unit: CSS_DPI / per_inch
    for unit, per_inch in (
        *(("px", CSS_DPI), ("pt", 72), ("pc", 6)),
        *(("mm", 25.4), ("cm", 2.54), ("in", 1)),
    )
}


def svg_png(data: bytes, name: str, long_px: int) -> bytes:
    """Return a drawing as a PNG file.

    Parameters
    ----------
    data : bytes
        Of an SVG file.
    name : str
        What to call it in messages.
    long_px : int
        Longer side of the result.

    Raises
    ------
    HimotifError
        If it is damaged, has no size, or holds scripts or references to anything outside it.
    """
    root = _root(data, name)
    for what, remedy in _refused(root, data):
        raise HimotifError(f"{name}: this SVG drawing {what}. {remedy}, or export it as PNG.")
    wide, high = _proportions(root, name)
    from resvg_py import svg_to_bytes

    if "viewBox" not in root.attrib:
        root.set("viewBox", f"0 0 {wide:.12g} {high:.12g}")
    for key, side in (("width", wide), ("height", high)):
        root.set(key, str(max(1, round(side * long_px / max(wide, high)))))
    text = ElementTree.tostring(root, "unicode")
    try:
        return bytes(svg_to_bytes(svg_string=text, dpi=CSS_DPI))
    except Exception as error:
        raise HimotifError(
            f"{name}: this SVG drawing cannot be drawn ({error}). Export it as PNG."
        ) from None


def _root(data: bytes, name: str) -> ElementTree.Element:
    """The drawing, without its declarations: they may name files and multiply text."""
    try:
        if b"<!ENTITY" in data.replace(b"\0", b"").upper():
            raise ValueError("it declares entities")
        root = ElementTree.fromstring(data)
    except (ElementTree.ParseError, ValueError, LookupError, RecursionError) as error:
        raise HimotifError(
            f"{name}: this SVG drawing is damaged ({error}). Save it again, or export it as PNG."
        ) from None
    if _local(root.tag) != "svg":
        raise HimotifError(f"{name}: this is no SVG drawing. Save the picture as PNG.")
    return root


def _local(name: object) -> str:
    return str(name).rpartition("}")[2].lower()


_TEXTS = {"text", "flowroot", "foreignobject"}
"""Elements that hold text: of SVG, of drawing programs that keep to its draft 1.2, and of pages."""


def _refused(root: ElementTree.Element, data: bytes) -> Iterator[tuple[str, str]]:
    """Yield what may not be in a drawing, and what to do."""
    script = "holds a script", "Save it as plain SVG"
    outside = "refers to something outside it", "Put that into the drawing"
    if b"<?xml-stylesheet" in data:
        yield outside
    for element in root.iter():
        if _local(element.tag) == "script":
            yield script
        if _local(element.tag) in _TEXTS and "".join(element.itertext()).strip():
            # it would be drawn in other letters on each machine, or in none
            yield "holds text without the shapes of its letters", "Turn the text into paths"
        css = [element.text or ""] if _local(element.tag) == "style" else []
        for key, value in element.attrib.items():
            own = _local(key)
            if own.startswith("on") or value.strip().lower().startswith("javascript:"):
                yield script
            elif own in ("href", "src") and _local(element.tag) != "a":
                if not _INSIDE.match(value):
                    yield outside
            else:
                css.append(value)
        if any(_OUTSIDE_URL.search(text) or "@import" in text.lower() for text in css):
            yield outside


def _proportions(root: ElementTree.Element, name: str) -> tuple[float, float]:
    """Width and height, in pixels of the drawing where they are given, else in the same unit."""
    box = re.split(r"[\s,]+", root.get("viewBox", "").strip())
    sides = [_LENGTH.fullmatch(root.get(key, "")) for key in ("width", "height")]
    try:
        found = [float(one[1]) * _UNITS[(one[2] or "px").lower()] for one in sides if one]
        wide, high = found if len(found) == 2 else map(float, box[2:4])
        if 0.01 < wide / high < 100:
            return wide, high
    except (ValueError, ZeroDivisionError):
        pass
    raise HimotifError(
        f"{name}: this SVG drawing has no usable size. Save it with a width and a height, or "
        "export it as PNG."
    )
