"""The table of beads on the first page: look, code, name, how many, at hand and to buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..drawing.fonts import text_width_mm
from ..drawing.layout import LEADING, column, wrap
from ..drawing.shapes import BLACK, Polyline, Text
from .sheet_content import STOCK_HEADS, SheetContent, stock_words
from .shopping_wording import format_grams
from .type_sizes import BODY, LIST, SMALL
from .worktable import tick_box

if TYPE_CHECKING:
    from ..drawing.layout import Flow

_COUNT = LIST
_HEAD = SMALL


@dataclass(frozen=True)
class _Counts:
    """The numbers of the bead table: columns set to the right, as wide as they must be.

    Parameters
    ----------
    heads : tuple of tuple of str
        Two lines over each column, the upper one empty where one will do.
    rows : tuple of tuple of str
        One for each bead.
    totals : tuple of str
    """

    heads: tuple[tuple[str, str], ...]
    rows: tuple[tuple[str, ...], ...]
    totals: tuple[str, ...]

    @classmethod
    def of(cls, content: SheetContent) -> _Counts:
        shopping, copies = content.shopping, content.copies
        needs = shopping.needs
        if copies > 1:
            heads = [("", "beads"), ("with spare,", f"for {copies}"), ("", "weight")]
            wanted = [content.for_all(need) for need in needs]
        else:
            heads = [("", "beads"), ("with", "spare"), ("", "weight")]
            wanted = [(need.with_spare, need.grams) for need in needs]
        rows = [
            [f"{need.count}", f"{count}", _weight(grams)]
            for need, (count, grams) in zip(needs, wanted, strict=True)
        ]
        totals = [f"{shopping.total}", f"{sum(count for count, _ in wanted)}", ""]
        if shopping.reach is not None:
            heads += [_two_lines(head) for head in STOCK_HEADS]
            totals += [""] * len(STOCK_HEADS)
            for row, need in zip(rows, needs, strict=True):
                row += [*stock_words(need), _weight(need.buy_grams) if need.short else ""]
        return cls(tuple(heads), tuple(map(tuple, rows)), tuple(totals))

    @cached_property
    def widths(self) -> tuple[float, ...]:
        """Of each column, with the gap before it."""
        columns = zip(self.heads, self.totals, *self.rows, strict=True)
        return tuple(
            2.6
            + max(
                *(text_width_mm(line, _HEAD) for line in head),
                text_width_mm(total, _COUNT, True),
                *(text_width_mm(text, _COUNT) for text in texts),
            )
            for head, total, *texts in columns
        )

    def placed(
        self,
        right: float,
        texts: Sequence[str],
        base: float,
        size_mm: float = _COUNT,
        bold: bool = False,
    ) -> list[Text]:
        """A row of the table; its last column ends at `right`."""
        ends = right - sum(self.widths) + np.cumsum(self.widths)
        return [
            Text(float(end), base, text, size_mm, "end", bold)
            for end, text in zip(ends, texts, strict=True)
            if text
        ]


def _weight(grams: tuple[float, float] | None) -> str:
    return format_grams(grams) if grams else ""


def _two_lines(words: str) -> tuple[str, str]:
    """Two words, or one and two, under each other."""
    first, _, rest = words.partition(" ")
    return first, rest


def bead_table(flow: Flow, content: SheetContent, width: float) -> None:
    """Beads with box, swatch, code, name and what is needed, at hand and to buy, one a line."""
    styles = content.styles
    code_width = max(6.0, *(text_width_mm(styles.code(k), BODY, True) for k in styles.used))
    left, right = flow.left, flow.left + width
    name_x = left + 18.0 + code_width
    counts = _Counts.of(content)
    name_width = right - sum(counts.widths) - name_x
    row = 5.6
    for number in (0, 1):
        words = [head[number] for head in counts.heads]
        flow.add(counts.placed(right, words, flow.y + 2.4 + 3.4 * number, size_mm=_HEAD))
    flow.skip(7.4)
    table = zip(styles.used, counts.rows, strict=True)
    for index, numbers in table:
        lines = wrap(styles.words(index), name_width, BODY) or [""]
        high = max(row, len(lines) * BODY * LEADING + 1.2)
        flow.need(high)
        y = flow.y
        base = y + 3.4
        flow.add(
            [
                tick_box(left, y + 0.9),
                styles.swatch(index, left + 5.0, y + 0.5, (10.0, 4.2)),
                Text(left + 16.5, base, styles.code(index), BODY, bold=True),
                *column(lines, name_x, y + 0.4, BODY),
                *counts.placed(right, numbers, base),
            ]
        )
        flow.skip(high)
    flow.need(row)
    line = ((left + 5.0, flow.y), (right, flow.y))
    flow.add(
        [
            Polyline(line, BLACK, 0.15),
            Text(name_x, flow.y + 3.4, "in all", BODY),
            *counts.placed(right, counts.totals, flow.y + 3.4, bold=True),
        ]
    )
    flow.skip(row)
