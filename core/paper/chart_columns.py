"""The flat chart on the sheet: in columns, large enough to read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..drawing.fonts import text_width_mm
from .chart import (
    DROP_MARKS,
    Strip,
    bead_shapes,
    repeat_brackets,
    round_numbers,
    scale_bar,
    side_names,
    strip_height_mm,
)
from .type_sizes import BODY

if TYPE_CHECKING:
    from ..design import Design
    from ..drawing.layout import Flow
    from .sheet_content import SheetContent

_BEADS_MM = (4.6, 4.2, 3.8)
"""Beads of the chart, the largest first: with 3.8 mm a capital letter stands 1.4 mm tall."""
_SIDE_NAMES_MM = 6.0
"""Height of the names of the sides above the chart."""


def chart_columns(flow: Flow, content: SheetContent, after_mm: float) -> None:
    """Write the chart, so that what follows still has room on its last page if that can be.

    Parameters
    ----------
    flow : Flow
    content : SheetContent
    after_mm : float
        Height of what follows.
    """
    charts = [_Chart(content, flow.width, bead_mm) for bead_mm in _BEADS_MM]
    rounds = -(-len(content.design.beads) // content.design.braid.beads_per_round)
    # here with what follows, here alone, on a new page with what follows
    for room in (flow.room - after_mm, flow.room, flow.height - after_mm):
        for chart in charts:
            if chart.columns(rounds, room - chart.head_mm(flow)) <= chart.across:
                if room > flow.room:
                    flow.new_page()
                chart.write(flow, rounds, after_mm)
                return
    flow.new_page()
    charts[0].write(flow, rounds, after_mm)


@dataclass(frozen=True, eq=False)
class _Chart:
    """The chart with beads of one size.

    Parameters
    ----------
    content : SheetContent
    width_mm : float
        Of the text.
    bead_mm : float
    """

    content: SheetContent
    width_mm: float
    bead_mm: float

    @property
    def design(self) -> Design:
        return self.content.design

    @cached_property
    def scale(self) -> float:
        """Paper over braid: a column is never wider than the text."""
        most = (self.width_mm - 22.0) / (self.beads_wide_mm)
        return min(self.bead_mm / self.design.lattice.pitch_mm, most)

    @property
    def beads_wide_mm(self) -> float:
        lattice = self.design.lattice
        return lattice.circumference_mm + float(np.ptp(lattice.cell_mm[:, 0]))

    @property
    def before_mm(self) -> float:
        """Room for the numbers of the rounds."""
        return 3.0 + text_width_mm(str(int(self.design.rounds) + 1), 2.2)

    @property
    def step_mm(self) -> float:
        """From column to column."""
        after = 5.0 if self.design.repeat is not None else 1.0
        return self.before_mm + self.beads_wide_mm * self.scale + after + 2.0

    @property
    def across(self) -> int:
        """Columns on a page."""
        return max(1, int((self.width_mm + 2.0) / self.step_mm))

    def columns(self, rounds: int, room_mm: float) -> float:
        """How many columns so many rounds take; endless if there is no room for one."""
        most = self.most_rounds(room_mm)
        return -(-rounds // most) if most > 0 else np.inf

    def most_rounds(self, room_mm: float) -> int:
        """Rounds of a column of that height, the names of the sides included."""
        room = room_mm - _SIDE_NAMES_MM - strip_height_mm(self.design, 0, self.scale) - 2.0
        return int(room / (self.design.lattice.rise_mm * self.scale))

    def head(self, flow: Flow) -> None:
        flow.heading("Chart")
        flow.text(
            "The braid slit along its back and rolled out, seen from outside, drawn "
            f"{self.scale:.1f} times as large as it will be. The newest beads are on top: read "
            "upwards, column by column from the left. The dashed line is the front. "
            f"{self.content.rounds_words}"
            f"{f' {DROP_MARKS}' if self.content.drops.count else ''}",
            BODY,
        )
        flow.skip(2.0)
        unit = self.content.unit
        flow.add(scale_bar(flow.left, flow.y + 2.0, 10.0, unit, self.scale))
        flow.skip(6.0)

    def head_mm(self, flow: Flow) -> float:
        """Height of heading and words, with the gap above."""
        return 3.0 + flow.height_of(self.head)

    def write(self, flow: Flow, rounds: int, after_mm: float) -> None:
        """Write it on this page and the next ones; `after_mm` is kept free at its end."""
        self.head(flow)
        start = 0
        while start < rounds:
            left = rounds - start
            # with room for what follows, else without it, else as much as a page holds
            rooms = (flow.room - after_mm, flow.room)
            wanted = [self.columns(left, room) for room in rooms]
            number = next((int(n) for n in wanted if n <= self.across), self.across)
            each = min(-(-left // number), max(1, self.most_rounds(flow.room)))
            stop = min(rounds, start + number * each)
            self.page(flow, range(start, stop), each)
            start = stop
            if start < rounds:
                flow.new_page()

    def page(self, flow: Flow, rounds: range, each: int) -> None:
        """Columns of `each` rounds side by side, all on the same line."""
        design, scale = self.design, self.scale
        base = flow.y + _SIDE_NAMES_MM + strip_height_mm(design, each, scale)
        low = float((design.lattice.cell_mm * scale)[:, 1].max())
        for place, start in enumerate(rounds[::each]):
            stop = min(rounds.stop, start + each)
            middle = self.before_mm + self.beads_wide_mm * scale / 2
            x = flow.left + place * self.step_mm + middle
            strip = Strip(self.content.styles, start, stop, x, base - low, scale, hatched=True)
            flow.add(bead_shapes(strip))
            flow.add(side_names(strip, 2.4))
            flow.add(round_numbers(strip, 2.2))
            flow.add(repeat_brackets(strip, 2.4))
        flow.y = base + 2.0
