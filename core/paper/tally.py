"""The working tally: round by round, which bead falls at each crossing."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..design import marked_codes
from ..drawing.fonts import text_width_mm
from ..drawing.layout import fitted
from ..drawing.shapes import BLACK, WHITE, Polyline, Shape, Text, rectangle

if TYPE_CHECKING:
    from ..drawing.layout import Flow
    from .sheet_content import SheetContent

# body heights of text, and heights of rows, mm; chosen by eye
_CODE = 2.3
_STRAND = 1.7
_CELL_HEIGHT = 4.9
_ROW = 5.5
_MARK_ROW = 4.0
_BODY = 3.1


def tally(flow: Flow, content: SheetContent) -> None:
    """Write the rounds in columns: a box, the number, the beads in working order.

    Parameters
    ----------
    flow : Flow
        Where to write.
    content : SheetContent
    """
    flow.new_page()
    flow.heading("Working tally")
    flow.text(
        "One line is one round, bottom line of the chart first. Read each line from left to right: "
        "two crossings (steps 1 and 2), a gap for the turn, two crossings, and so on. Each field "
        "holds the bead and, small, the strand that brings it. Tick the box after each round.",
        _BODY,
    )
    flow.skip(2.0)
    rows = _Rows(content)
    starts = rows.repeat_starts()
    x, top = flow.left, flow.y
    lowest = top
    for number in range(rows.count):
        marks = starts.get(number, [])
        if flow.room < _ROW + _MARK_ROW * len(marks):
            x += rows.width + 4.0
            if x + rows.width > flow.left + flow.width:
                flow.new_page()
                x, top, lowest = flow.left, flow.margin_mm, flow.margin_mm
            flow.y = top
        for mark in marks:
            flow.add(_mark(x, flow.y, rows.width, mark))
            flow.skip(_MARK_ROW)
        flow.add(rows.line(number, x, flow.y))
        flow.skip(_ROW)
        lowest = max(lowest, flow.y)
    flow.y = lowest


def _mark(x: float, y: float, width: float, text: str) -> list[Shape]:
    return [
        Polyline(((x, y + 0.4), (x + width, y + 0.4)), BLACK, 0.5),
        Text(x, y + 3.2, text, fitted(text, width, 2.4, True), bold=True),
    ]


class _Rows:
    """The lines of the tally."""

    def __init__(self, content: SheetContent) -> None:
        self.design, self.styles = content.design, content.styles
        braid = self.design.braid
        self.per_round = braid.beads_per_round
        self.count = -(-len(self.design.beads) // self.per_round)
        self.codes = [content.label[code] for code in marked_codes(self.design, content.drops)]
        self.strands = (braid.strand_of(np.arange(len(self.codes))) + 1).tolist()
        self.beads = self.design.beads.tolist()
        widest = max(text_width_mm(code, _CODE) for code in set(self.codes))
        self.cell = min(max(3.6, widest + 1.0), 12.0)
        self.lead = 4.4 + text_width_mm(f"{self.count} ", 2.4)
        self.turn_gap = 1.2
        self.width = self.lead + self.per_round * self.cell + (braid.axes - 1) * self.turn_gap

    def repeat_starts(self) -> dict[int, list[str]]:
        """What to write above which round."""
        repeat = self.design.repeat
        if repeat is None:
            return {}
        marks: dict[int, list[str]] = {}
        for number in range(repeat.count + 1):
            crossing = repeat.first + number * repeat.rounds * self.per_round
            if crossing >= len(self.beads):
                break
            row, within = divmod(crossing, self.per_round)
            text = f"repeat {number + 1}" if number < repeat.count else "after the repeats"
            text += f", from field {within + 1}" if within else ""
            marks.setdefault(row, []).append(text)
        return marks

    def line(self, number: int, x: float, y: float) -> list[Shape]:
        """One round at (x, y)."""
        shapes: list[Shape] = [
            rectangle(x, y + 0.8, 3.2, 3.2, WHITE, BLACK, 0.25),
            Text(x + self.lead - 0.9, y + 3.4, str(number + 1), 2.4, "end", True),
        ]
        first = number * self.per_round
        for place, crossing in enumerate(range(first, first + self.per_round)):
            if crossing < len(self.beads):
                left = x + self.lead + place * self.cell + place // 2 * self.turn_gap
                shapes += self._field(crossing, left, y)
        return shapes

    def _field(self, crossing: int, left: float, y: float) -> list[Shape]:
        index, code = self.beads[crossing], self.codes[crossing]
        size = fitted(code, self.cell - 0.6, _CODE)
        middle, pen = left + self.cell / 2, self.styles.ink(index)
        return [
            rectangle(left, y, self.cell, _CELL_HEIGHT, self.styles.fill(index), BLACK, 0.15),
            Text(middle, y + 2.35, code, size, "middle", False, pen),
            Text(middle, y + 4.45, str(self.strands[crossing]), _STRAND, "middle", False, pen),
        ]
