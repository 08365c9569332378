"""Fonts of the paper: which glyphs a text is drawn with, in which order, and how wide it runs.

One family, DejaVu Sans, is shipped with the program and embedded in the papers, so that a sheet
looks alike on every machine. A letter that no font here holds is replaced by its code point in
brackets: a visible gap is better than a silent one.
"""

from __future__ import annotations

from functools import cache, lru_cache
from importlib import resources
from typing import NamedTuple

FAMILY = "DejaVu Sans"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}


class Run(NamedTuple):
    """Glyphs in reading order on paper, left to right, from one font."""

    font: str
    text: str


def font_bytes(name: str) -> bytes:
    """Return the file of the font called `name` in a `Run`."""
    return resources.files(__package__).joinpath("typefaces", name).read_bytes()


@cache
def registered(name: str) -> str:
    """Make a font known to the PDF library and return the name it goes by there."""
    from io import BytesIO

    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    label = name.removesuffix(".ttf")
    pdfmetrics.registerFont(TTFont(label, BytesIO(font_bytes(name))))
    return label


@cache
def _glyph_widths(name: str) -> dict[int, float]:
    """Advance of each code point, in thousandths of the body height."""
    from reportlab.pdfbase import pdfmetrics

    return dict(pdfmetrics.getFont(registered(name)).face.charWidths)


@lru_cache(maxsize=20000)
def runs(text: str, bold: bool = False) -> tuple[Run, ...]:
    """Split a line of text into runs of one font each, every glyph present.

    Parameters
    ----------
    text : str
        One line, in logical order.
    bold : bool
        Whether the heavy cut is wanted.

    Returns
    -------
    tuple of Run
        Left to right as they stand on paper.
    """
    name = _FILES[bold]
    known = _glyph_widths(name)
    return (Run(name, "".join(c if ord(c) in known else f"[U+{ord(c):04X}]" for c in text)),)


@lru_cache(maxsize=20000)
def _width_em(text: str, bold: bool) -> float:
    return sum(
        _glyph_widths(run.font)[ord(glyph)] for run in runs(text, bold) for glyph in run.text
    )


def text_width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Return how wide a line of text runs at a body height of `size_mm`."""
    return _width_em(text, bold) * size_mm / 1000
