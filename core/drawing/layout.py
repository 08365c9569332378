"""Putting text into room: wrapping, shrinking, and pages that fill from the top."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

from .fonts import text_width_mm
from .shapes import Page, Shape, Text

PARAGRAPH_MM = 0.6
"""After a paragraph, before the next."""

LEADING = 1.3
"""Distance of baselines over the text size."""

ASCENT = 0.76
CAPITAL = 0.73
"""Parts of the body height (DejaVu Sans, from the font's own tables)."""

PAPERS_MM = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
"""ISO 216 A4; ANSI/ASME Y14.1 size A, 8.5 × 11 in."""


_BREAK = re.compile(r"(?<!\d) | (?!(?:%|mm|cm|m|in|g)(?!\w))")
"""A space at which a line may end: not one between a number and its unit."""


def wrap(text: str, width_mm: float, size_mm: float, bold: bool = False) -> list[str]:
    """Break a text into lines no wider than `width_mm`; too long words are cut.

    Parameters
    ----------
    text : str
        Words apart by spaces. A no-break space keeps words together; a number and its unit stay
        together without one.
    width_mm, size_mm : float
    bold : bool

    Returns
    -------
    list of str
        At least one line.
    """
    lines: list[str] = []
    line, wide = "", 0.0
    space = text_width_mm(" ", size_mm, bold)
    for word in _BREAK.split(text):
        # joined letters do not reach over a space, so widths add up
        *cut, last = _cut(word, width_mm, size_mm, bold)
        more = text_width_mm(last, size_mm, bold)
        if cut:
            lines += [line, *cut] if line else cut
            line, wide = last, more
            continue
        if line and wide + space + more <= width_mm:
            line, wide = f"{line} {word}", wide + space + more
            continue
        if line:
            lines.append(line)
        line, wide = word, more
    return [*lines, line]


def _cut(word: str, width_mm: float, size_mm: float, bold: bool) -> list[str]:
    pieces = []
    start = 0
    while True:
        count = max(1, _fitting(word, start, width_mm, size_mm, bold))
        pieces.append(word[start : start + count])
        start += count
        if start >= len(word):
            return pieces


def _fitting(text: str, start: int, width_mm: float, size_mm: float, bold: bool) -> int:
    """How many characters from `start` on fit into a width.

    Only texts about as long as what fits are measured, so that a long text costs no more for each
    of its characters than a short one.
    """

    def fit(count: int) -> bool:
        return text_width_mm(text[start : start + count], size_mm, bold) <= width_mm

    left = len(text) - start
    low, high = 0, min(1, left)
    while high < left and fit(high):
        low, high = high, min(2 * high, left)
    if fit(high):
        return high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if fit(middle) else (low, middle)
    return low


def shortened(text: str, width_mm: float, size_mm: float) -> str:
    """Return the text, or its beginning and an ellipsis, no wider than `width_mm`."""
    if _fitting(text, 0, width_mm, size_mm, False) == len(text):
        return text
    room = width_mm - text_width_mm("…", size_mm)
    return text[: _fitting(text, 0, room, size_mm, False)].rstrip() + "…"


def fitted(text: str, width_mm: float, size_mm: float, bold: bool = False) -> float:
    """Return the size, at most `size_mm`, at which a text is no wider than `width_mm`."""
    width = text_width_mm(text, size_mm, bold)
    return size_mm if width <= width_mm else size_mm * width_mm / width


def column(
    lines: Sequence[str],
    x: float,
    top: float,
    size_mm: float,
    bold: bool = False,
) -> list[Text]:
    """Return lines of text under each other; `top` is the upper edge of the first."""
    first = top + size_mm * (LEADING - 1) / 2 + size_mm * ASCENT
    return [
        Text(x, first + index * size_mm * LEADING, line, size_mm, "start", bold)
        for index, line in enumerate(lines)
    ]


@dataclass
class Flow:
    """Pages that fill from the top; a block that no longer fits begins a new page.

    Parameters
    ----------
    paper_mm : (float, float)
    margin_mm : float
        On all four sides.
    foot_mm : float
        Room kept at the foot of every page, above the margin.
    """

    paper_mm: tuple[float, float]
    margin_mm: float = 12.0
    foot_mm: float = 10.0
    pages: list[list[Shape]] = field(default_factory=lambda: [[]])
    y: float = 0.0

    def __post_init__(self) -> None:
        self.y = self.margin_mm

    @property
    def left(self) -> float:
        """Left edge of the text."""
        return self.margin_mm

    @property
    def width(self) -> float:
        """Width of the text."""
        return self.paper_mm[0] - 2 * self.margin_mm

    @property
    def bottom(self) -> float:
        """Lower edge of the text."""
        return self.paper_mm[1] - self.margin_mm - self.foot_mm

    @property
    def height(self) -> float:
        """Height of an empty page's text."""
        return self.bottom - self.margin_mm

    @property
    def room(self) -> float:
        """Height that is left on this page."""
        return self.bottom - self.y

    def new_page(self) -> None:
        """Go on at the top of a new page, unless this one is still empty."""
        if self.pages[-1]:
            self.pages.append([])
        self.y = self.margin_mm

    def need(self, height_mm: float) -> bool:
        """Make sure of room; return whether a new page had to be begun."""
        if height_mm <= self.room or not self.pages[-1]:
            return False
        self.new_page()
        return True

    def add(self, shapes: Sequence[Shape]) -> None:
        """Put shapes on this page as they stand."""
        self.pages[-1].extend(shapes)

    def skip(self, height_mm: float) -> None:
        """Leave room."""
        self.y += height_mm

    def text(
        self,
        text: str,
        size_mm: float = 3.2,
        bold: bool = False,
        width_mm: float | None = None,
    ) -> None:
        """Write a paragraph, line by line, over as many pages as it takes."""
        for line in wrap(text, self.width if width_mm is None else width_mm, size_mm, bold):
            self.need(size_mm * LEADING)
            self.add(column([line], self.left, self.y, size_mm, bold))
            self.y += size_mm * LEADING

    def paragraphs(self, texts: Iterable[str], size_mm: float) -> None:
        """Write paragraphs, a little apart."""
        for text in texts:
            self.text(text, size_mm)
            self.skip(PARAGRAPH_MM)

    def heading(self, text: str, keep_mm: float = 15.0) -> None:
        """Write a heading that stays with at least `keep_mm` of what follows."""
        self.need(9.0 + keep_mm)
        if self.y > self.margin_mm:
            self.skip(3.0)
        self.text(text, 4.4, bold=True)
        self.skip(1.0)

    def height_of(self, draw: Callable[[Flow], None]) -> float:
        """Return the height that something takes from the top of an empty page on."""
        trial = Flow(self.paper_mm, self.margin_mm, self.foot_mm)
        draw(trial)
        return (len(trial.pages) - 1) * trial.height + trial.y - trial.margin_mm

    def finish(self) -> list[Page]:
        """Return the pages."""
        width, height = self.paper_mm
        return [Page(width, height, tuple(shapes)) for shapes in self.pages]
