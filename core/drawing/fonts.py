"""Fonts of the paper: which glyphs a text is drawn with, in which order, and how wide it runs.

One family, DejaVu Sans, is shipped with the program and embedded in the papers, so that a sheet
looks alike on every machine. Letters that it does not hold (Chinese, Japanese, Korean, Thai, the
scripts of India, and others) are replaced by dots in brackets: a visible gap is better than a
silent one, and the web sheet shows them.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from itertools import groupby
from pathlib import Path
from typing import Any

FAMILY = "DejaVu Sans"
_FILES = {False: "DejaVuSans.ttf", True: "DejaVuSans-Bold.ttf"}

# direction marks and joiners have done their work once the glyphs stand in order
_UNSEEN = re.compile("[\u00ad\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufe00-\ufe0f\ufeff]")
_MARKS = re.compile("[\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_CONTROL = re.compile("[\x00-\x1f\x7f-\x9f\u2028\u2029]")
_RIGHT_TO_LEFT = re.compile("[\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff]")
LEFT_OUT = "[…]"
"""Stands for letters without a glyph, however many."""
_ISOLATE, _END = "\u2068", "\u2069"


def font_bytes(bold: bool) -> bytes:
    """Return the file of the font."""
    return Path(__file__).parent.joinpath("typefaces", _FILES[bold]).read_bytes()


@cache
def registered(bold: bool) -> str:
    """Make the font known to the PDF library and return the name it goes by there."""
    from io import BytesIO

    from reportlab.pdfbase import pdfmetrics
    from reportlab.pdfbase.ttfonts import TTFont

    label = _FILES[bold].removesuffix(".ttf")
    pdfmetrics.registerFont(TTFont(label, BytesIO(font_bytes(bold))))
    return label


@cache
def _glyph_widths(bold: bool) -> dict[int, float]:
    """Advance of each code point, in thousandths of the body height."""
    from reportlab.pdfbase import pdfmetrics

    return dict(pdfmetrics.getFont(registered(bold)).face.charWidths)


def set_apart(name: str) -> str:
    """Return a name that keeps its direction to itself when other text stands beside it."""
    return f"{_ISOLATE}{name}{_END}" if _RIGHT_TO_LEFT.search(name) else name


def runs_leftwards(text: str) -> bool:
    """Return whether the first letter of a text belongs to a right-to-left script.

    Names that were set apart do not count (UAX 9, rule P2).
    """
    for character in re.sub(f"{_ISOLATE}[^{_END}]*", "", text):
        direction = unicodedata.bidirectional(character)
        if direction in ("L", "R", "AL"):
            return direction != "L"
    return False


@lru_cache(maxsize=20000)
def glyphs(text: str, bold: bool = False) -> str:
    """Return the glyphs of a line as they stand on paper, left to right.

    Parameters
    ----------
    text : str
        One line, in the order in which it is read.
    bold : bool
        Whether the heavy cut is wanted.

    Returns
    -------
    str
        Every character of it has a glyph; letters without one are left out, see `LEFT_OUT`.
    """
    known = _glyph_widths(bold)
    text = unicodedata.normalize("NFC", _CONTROL.sub(" ", text))
    if _RIGHT_TO_LEFT.search(text):
        # a name that was set apart stands in its place, in its own direction
        text = "".join(_in_order(part, known) for part in re.split(f"[{_ISOLATE}{_END}]", text))
    return _without_unknown(_UNSEEN.sub("", text), known)


def _without_unknown(text: str, known: dict[int, float]) -> str:
    """Leave out letters without a glyph; neighbours, with the spaces between them, once."""
    parts: list[str] = []
    for lacking, group in groupby(text, lambda c: ord(c) not in known):
        part = LEFT_OUT if lacking else "".join(group)
        if lacking and len(parts) > 1 and parts[-2] == LEFT_OUT and not parts[-1].strip():
            parts.pop()
        else:
            parts.append(part)
    return "".join(parts)


def _in_order(text: str, known: dict[int, float]) -> str:
    """Join the letters of Arabic script, then put right-to-left parts in their order on paper."""
    if not _RIGHT_TO_LEFT.search(text):
        return text
    # the algorithm in Python mirrors brackets; the compiled one of the same package does not
    from bidi.algorithm import get_display

    shaped = _joiner().reshape(text)
    if any(ord(c) not in known for c in shaped if not _UNSEEN.match(c)):
        shaped = text
    # what the algorithm does not know, it refuses: letters of no script, marks newer than itself
    shaped = _without_unknown(_MARKS.sub("", shaped), known)
    return str(get_display(shaped, base_dir="R" if runs_leftwards(text) else "L"))


@cache
def _joiner() -> Any:
    from arabic_reshaper import ArabicReshaper

    return ArabicReshaper(configuration={"delete_harakat": False, "delete_tatweel": False})


def missing(text: str, bold: bool = False) -> bool:
    """Return whether some letter of a text has no glyph here."""
    return glyphs(text, bold).count(LEFT_OUT) > text.count(LEFT_OUT)


@lru_cache(maxsize=20000)
def _width_em(text: str, bold: bool) -> float:
    widths = _glyph_widths(bold)
    return sum([widths[ord(glyph)] for glyph in glyphs(text, bold)])


def text_width_mm(text: str, size_mm: float, bold: bool = False) -> float:
    """Return how wide a line of text runs at a body height of `size_mm`."""
    return _width_em(text, bold) * size_mm / 1000
