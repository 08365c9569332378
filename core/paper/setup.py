"""The set-up sheet: pages from which a stranger can thread and work the braid."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..design import colours_rgb
from ..drawing.fonts import missing, set_apart, text_width_mm
from ..drawing.layout import CAPITAL, LEADING, PAPERS_MM, Flow, column, fitted, shortened, wrap
from ..drawing.pdf import to_pdf
from ..drawing.shapes import BLACK, WHITE, Page, PixelImage, Polyline, Shape, Text, rectangle
from ..making.materials import format_grams
from .chart import (
    Strip,
    bead_shapes,
    repeat_brackets,
    round_numbers,
    scale_bar,
    side_names,
    strip_height_mm,
)
from .disc import disc_shapes, step_mark
from .legend import BeadStyles
from .sheet_content import STOCK_HEADS, SheetContent, Strand, stock_words
from .tally import tally

if TYPE_CHECKING:
    from ..design import Design
    from ..making.materials import Materials
    from ..show.preview import Pixels

_BODY = 3.1
_COUNT = 2.8
_HEAD = 2.4
_CHART_BEAD_MM = 4.6
_SIDE_NAMES_MM = 6.0
_CELL_HEIGHT = 4.4
_NBSP = "\u00a0"
_UNKNOWN = (
    "Letters in brackets, such as [U+4E2D], are not in the font of this paper; they are spelled by "
    "their Unicode numbers. The page sheet.html shows them."
)


def setup_pages(
    content: SheetContent,
    *,
    paper: str = "a4",
    preview: Pixels | None = None,
    with_tally: bool = False,
) -> list[Page]:
    """Return the pages of the set-up sheet.

    Parameters
    ----------
    content : SheetContent
        The design and what is said about it.
    paper : 'a4' or 'letter'
    preview : uint8 array (H, W, 3), optional
        Picture of the braid; drawn here if not given.
    with_tally : bool
        Whether to add the round-by-round tally.

    Returns
    -------
    list of Page
    """
    flow = Flow(PAPERS_MM[paper])
    styles = BeadStyles(content.design)
    _opening(flow, content, styles, preview)
    _threading(flow, content)
    _setting_up(flow, content, styles)
    _lists(flow, content, styles)
    _closing(flow, content)
    _chart(flow, content, styles)
    if with_tally:
        tally(flow, content, styles)
    return _with_feet(flow.finish(), content.heading, content.length_unit)


def setup_pdf(
    content: SheetContent,
    *,
    paper: str = "a4",
    preview: Pixels | None = None,
    with_tally: bool = False,
) -> bytes:
    """Return the set-up sheet as a PDF; see `setup_pages`."""
    pages = setup_pages(content, paper=paper, preview=preview, with_tally=with_tally)
    return to_pdf(pages, sheet_title(content))


def sheet_title(content: SheetContent) -> str:
    """Return the name of the document."""
    return f"{content.heading}: set-up sheet"


# -- first page ----------------------------------------------------------------------------------


def _opening(flow: Flow, content: SheetContent, styles: BeadStyles, preview: Pixels | None) -> None:
    """Title, picture of the braid, what is needed."""
    flow.text(content.heading, fitted(content.heading, flow.width * 2, 7.0, True), bold=True)
    flow.text(content.about, _BODY)
    flow.skip(3.0)
    picture_mm = 46.0
    picture_end = _picture(flow, content, preview, picture_mm)
    width = flow.width - picture_mm - 6.0
    flow.text("What you need", 4.4, bold=True, width_mm=width)
    flow.skip(1.0)
    page = len(flow.pages)
    _bead_table(flow, content, styles, width)
    flow.skip(2.0)

    def room() -> float:
        # beside the picture the lines are short, below it they have the whole width
        return width if len(flow.pages) == page and flow.y < picture_end else flow.width

    for line in content.needs:
        _boxed(flow, line, room())
    for line in content.shopping_words:
        flow.text(line, _BODY, width_mm=room())
        flow.skip(0.9)
    if len(flow.pages) == page:
        flow.y = max(flow.y, picture_end)


def _picture(flow: Flow, content: SheetContent, preview: Pixels | None, width_mm: float) -> float:
    """Put the picture at the right edge; return its lower end."""
    pixels, caption = (preview, "") if preview is not None else _views(content)
    tall, wide = pixels.shape[:2]
    scale = min(width_mm / wide, 150.0 / tall)
    left = flow.left + flow.width - (width_mm + wide * scale) / 2
    flow.add([PixelImage(left, flow.y, wide * scale, tall * scale, pixels)])
    end: float = flow.y + tall * scale + 1.0
    lines = wrap(caption, width_mm, 2.6) if caption else []
    flow.add(column(lines, flow.left + flow.width - width_mm, end, 2.6))
    return end + len(lines) * 2.6 * LEADING + 2.0


def _views(content: SheetContent) -> tuple[Pixels, str]:
    """Front and back of the braid side by side, the lowest 150 mm at most."""
    from ..show.preview import braid_view

    design, lattice = content.design, content.design.lattice
    most_mm = 150.0
    shown = min(len(design.beads), int(most_mm / lattice.step_mm) * 2)
    colours = colours_rgb(design)[:shown]
    lean = content.drops.lean_mm[:shown] if content.drops.count else None
    views = [
        braid_view(lattice, colours, content.front_deg + turn, 10.0, drops=lean, background=WHITE)
        for turn in (0.0, 180.0)
    ]
    gap = np.full((views[0].shape[0], 40, 3), 255, dtype=np.uint8)
    whole = shown == len(design.beads)
    caption = "Left: the front. Right: the back." + (
        "" if whole else f" The first {content.length(most_mm)} are shown."
    )
    return np.concatenate([views[0], gap, views[1]], axis=1), caption


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
    def of(cls, shopping: Materials) -> _Counts:
        heads = [("", "beads"), ("with", "spare"), ("", "weight")]
        needs = shopping.needs
        rows = [[f"{need.count}", f"{need.with_spare}", _weight(need.grams)] for need in needs]
        totals = [f"{shopping.total}", f"{sum(need.with_spare for need in needs)}", ""]
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


def _bead_table(flow: Flow, content: SheetContent, styles: BeadStyles, width: float) -> None:
    """Beads with box, swatch, code, name and what is needed, at hand and to buy, one a line."""
    used = [content.design.palette[index] for index in styles.used]
    codes = max(text_width_mm(bead.code, _BODY, True) for bead in used)
    code_width = min(max(codes, 6.0), 26.0)
    left, right = flow.left, flow.left + width
    name_x = left + 18.0 + code_width
    counts = _Counts.of(content.shopping)
    name_width = right - sum(counts.widths) - name_x
    row = 5.4
    for number in (0, 1):
        words = [head[number] for head in counts.heads]
        flow.add(counts.placed(right, words, flow.y + 2.0 + 2.9 * number, size_mm=_HEAD))
    flow.skip(6.4)
    table = zip(styles.used, content.shopping.needs, counts.rows, strict=True)
    for index, need, numbers in table:
        bead = need.bead
        name = set_apart(bead.name) + (f" ({set_apart(bead.finish)})" if bead.finish else "")
        name += ", drop" if bead.shape == "drop" else ""
        lines = wrap(name, name_width, _BODY) or [""]
        high = max(row, len(lines) * _BODY * LEADING + 1.2)
        flow.need(high)
        y = flow.y
        base = y + 3.4
        size = fitted(bead.code, code_width, _BODY, True)
        flow.add(
            [
                _box(left, y + 0.9),
                styles.swatch(index, left + 5.0, y + 0.5, (10.0, 4.2)),
                Text(left + 16.5, base, bead.code, size, bold=True),
                *column(lines, name_x, y + 0.4, _BODY),
                *counts.placed(right, numbers, base),
            ]
        )
        flow.skip(high)
    flow.need(row)
    line = ((left + 5.0, flow.y), (right, flow.y))
    flow.add(
        [
            Polyline(line, BLACK, 0.15),
            Text(name_x, flow.y + 3.4, "in all", _BODY),
            *counts.placed(right, counts.totals, flow.y + 3.4, bold=True),
        ]
    )
    flow.skip(row)


def _box(x: float, y: float, size: float = 3.2) -> Shape:
    return rectangle(x, y, size, size, WHITE, BLACK, 0.25)


def _boxed(flow: Flow, line: str, width: float) -> None:
    """A paragraph with a box to tick."""
    lines = wrap(line, width - 5.0, _BODY)
    flow.need(len(lines) * _BODY * LEADING)
    flow.add([_box(flow.left, flow.y + 0.3), *column(lines, flow.left + 5.0, flow.y, _BODY)])
    flow.skip(len(lines) * _BODY * LEADING + 0.9)


# -- setting up and working ----------------------------------------------------------------------


def _threading(flow: Flow, content: SheetContent) -> None:
    """Cord and beads, and what to beware of."""
    flow.heading("Setting up")
    for line in content.setting_up:
        _boxed(flow, line, flow.width)
    _section(flow, "Drop beads", content.drop_words)
    _section(flow, "Take care", content.cautions)


def _section(flow: Flow, title: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    rows = sum(len(wrap(line, flow.width, _BODY)) for line in lines)
    flow.heading(title, keep_mm=min(60.0, rows * _BODY * LEADING + len(lines) * 0.6))
    for line in lines:
        flow.text(line, _BODY)
        flow.skip(0.6)


def _setting_up(flow: Flow, content: SheetContent, styles: BeadStyles) -> None:
    """The disc, plain braid, the steps, tying off."""
    reach = 61.0
    flow.heading("The disc, ready for the first bead", keep_mm=2 * reach + 30.0)
    flow.text(content.disc_words, _BODY)
    flow.skip(1.0)
    middle = flow.left + flow.width / 2
    flow.add(disc_shapes(content, styles, middle, flow.y + reach, reach))
    below = flow.y + 2 * reach + 4.6
    flow.add([Text(middle, below, content.front_words, _BODY, "middle", True)])
    flow.skip(2 * reach + 7.0)
    flow.heading("Working")
    for number, step in enumerate(content.steps, start=1):
        _numbered(flow, number, step)
    for line in content.plain_start:
        _boxed(flow, line, flow.width)
    for line in content.beading:
        flow.text(line, _BODY)
        flow.skip(0.9)
    flow.heading("Tying off")
    for line in content.finish:
        _boxed(flow, line, flow.width)


def _numbered(flow: Flow, number: int, text: str) -> None:
    lines = wrap(text, flow.width - 7.0, _BODY)
    high = max(5.4, len(lines) * _BODY * LEADING + 0.9)
    flow.need(high)
    flow.add(step_mark(flow.left + 2.3, flow.y + 2.2, number))
    flow.add(column(lines, flow.left + 7.0, flow.y, _BODY))
    flow.skip(high)


def _closing(flow: Flow, content: SheetContent) -> None:
    """Notes, and what is needed to make the papers again."""
    unknown = any(missing(bead.name) or missing(bead.code) for bead in content.design.palette)
    notes = [*content.remarks, *([_UNKNOWN] if unknown or missing(content.heading) else [])]
    _section(flow, "Notes", notes)
    flow.heading("To make this sheet again", keep_mm=6.0)
    flow.text("; ".join(content.settings) + ".", 2.6)


# -- lists ---------------------------------------------------------------------------------------


def _lists(flow: Flow, content: SheetContent, styles: BeadStyles) -> None:
    """Every strand: its folded list, then its beads in tens with boxes."""
    flow.heading("Stringing lists", keep_mm=60.0)
    for line in content.threading:
        _boxed(flow, line, flow.width)
    flow.text(content.list_words, _BODY)
    flow.skip(2.0)
    tens = _Tens(content, styles, flow.width)
    for strand in content.strands:
        _strand(flow, strand, tens)


def _strand(flow: Flow, strand: Strand, tens: _Tens) -> None:
    count = len(strand.beads)
    head = f"Strand{_NBSP}{strand.number}, slot{_NBSP}{strand.slot}:"
    words = f"{kept_together(strand.folded)} ={_NBSP}{count}{_NBSP}beads"
    lines = [head, *wrap(words, flow.width - 5.0, _BODY)]
    whole = len(lines) * _BODY * LEADING + tens.height(count) + 3.0
    # a short strand stays on one page, of a long one at least the head and the first tens
    flow.need(whole if whole <= flow.height else 30.0)
    flow.add([_box(flow.left, flow.y + 0.3)])
    for number, line in enumerate(lines):
        flow.need(_BODY * LEADING)
        flow.add(column([line], flow.left + 5.0, flow.y, _BODY, bold=number == 0))
        flow.skip(_BODY * LEADING)
    flow.skip(0.8)
    tens.draw(flow, strand)
    flow.skip(2.2)


def kept_together(folded: str) -> str:
    """Join counts to their codes with no-break spaces: lines break after commas only."""
    return folded.replace(" ", _NBSP).replace(f",{_NBSP}", ", ").replace(f"×{_NBSP}(", "× (")


class _Tens:
    """Beads drawn as cells with their codes, ten and a box, ten and a box."""

    def __init__(self, content: SheetContent, styles: BeadStyles, width: float) -> None:
        self.styles = styles
        codes = {code for strand in content.strands for code in strand.codes}
        widest = max(text_width_mm(code, 2.4) for code in codes)
        longest = max(len(strand.beads) for strand in content.strands)
        self.cell = min(max(3.6, widest + 1.2), (width - 14.0) / 10)
        self.box_room = 5.2 + text_width_mm(str(longest), 2.2)
        self.step = 10 * self.cell + self.box_room + 2.0
        self.across = max(1, int((width + 2.0) / self.step))
        self.sizes = {code: fitted(code, self.cell - 0.8, 2.4) for code in codes}

    def height(self, count: int) -> float:
        """Height of the drawn beads of a strand."""
        return float(-(-count // (10 * self.across)) * (_CELL_HEIGHT + 1.0))

    def draw(self, flow: Flow, strand: Strand) -> None:
        for first in range(0, len(strand.beads), 10 * self.across):
            flow.need(_CELL_HEIGHT + 1.0)
            for part in range(self.across):
                start = first + 10 * part
                if start < len(strand.beads):
                    flow.add(self._ten(strand, start, flow.left + part * self.step, flow.y))
            flow.skip(_CELL_HEIGHT + 1.0)

    def _ten(self, strand: Strand, start: int, x: float, y: float) -> list[Shape]:
        shapes: list[Shape] = []
        beads = strand.beads[start : start + 10]
        for place, index in enumerate(beads):
            code = strand.codes[start + place]
            size = self.sizes[code]
            left = x + place * self.cell
            shapes.append(
                rectangle(left, y, self.cell, _CELL_HEIGHT, self.styles.fill(index), BLACK, 0.15)
            )
            middle = left + self.cell / 2
            base = y + _CELL_HEIGHT / 2 + CAPITAL / 2 * size
            shapes.append(Text(middle, base, code, size, "middle", False, self.styles.ink(index)))
        right = x + len(beads) * self.cell + 0.8
        shapes.append(_box(right, y + 0.6))
        shapes.append(Text(right + 3.7, y + 3.0, str(start + len(beads)), 2.2))
        return shapes


# -- chart ---------------------------------------------------------------------------------------


def _chart(flow: Flow, content: SheetContent, styles: BeadStyles) -> None:
    """The flat chart in columns, large enough to read."""
    design, lattice = content.design, content.design.lattice
    flow.new_page()
    flow.heading("Chart")
    scale = _chart_scale(design, flow.width)
    flow.text(
        "The braid slit along its back and rolled out, seen from outside, drawn "
        f"{scale:.1f} times as large as it will be. The newest beads are on top: read upwards, "
        "column by column from the left. The dashed line is the front.",
        _BODY,
    )
    flow.skip(2.0)
    flow.add(scale_bar(flow.left, flow.y + 2.0, 10.0, content.length_unit, scale))
    flow.skip(6.0)
    cell = lattice.cell_mm * scale
    wide = lattice.circumference_mm * scale + float(np.ptp(cell[:, 0]))
    before = 3.0 + text_width_mm(str(int(design.rounds) + 1), 2.2)
    after = 5.0 if design.repeat is not None else 1.0
    step = before + wide + after + 2.0
    rounds = -(-len(design.beads) // design.braid.beads_per_round)
    start, x = 0, flow.left
    while start < rounds:
        if x + step - 2.0 > flow.left + flow.width:
            flow.new_page()
            x = flow.left
        room = flow.room - _SIDE_NAMES_MM - strip_height_mm(design, 0, scale)
        tallest = max(1, int(room / (lattice.rise_mm * scale)))
        if x == flow.left:
            # every column of a page stands on the same line
            stands = min(tallest, rounds - start)
            base = flow.y + _SIDE_NAMES_MM + strip_height_mm(design, stands, scale)
        stop = min(rounds, start + tallest)
        low = float(cell[:, 1].max())
        strip = Strip(
            design, styles, start, stop, x + before + wide / 2, base - low, scale, hatched=True
        )
        flow.add(bead_shapes(strip))
        flow.add(side_names(strip, 2.4))
        flow.add(round_numbers(strip, 2.2))
        flow.add(repeat_brackets(strip, 2.4))
        start, x = stop, x + step
    flow.y = base + 2.0


def _chart_scale(design: Design, width: float) -> float:
    """Beads large enough to read their letters, one column narrow enough for the paper."""
    lattice = design.lattice
    most = (width - 22.0) / (lattice.circumference_mm + float(np.ptp(lattice.cell_mm[:, 0])))
    return min(_CHART_BEAD_MM / lattice.pitch_mm, most)


# -- foot ----------------------------------------------------------------------------------------


def _with_feet(pages: Sequence[Page], heading: str, unit: str | None) -> list[Page]:
    """Add title, ruler and page number at the foot of every page."""
    out = []
    for number, page in enumerate(pages, start=1):
        base = page.height_mm - 12.0
        right = page.width_mm - 12.0
        count = f"page {number} of {len(pages)}"
        room = page.width_mm / 2 - 12.0 - 50.0
        feet: list[Shape] = [
            Polyline(((12.0, base - 7.4), (right, base - 7.4)), BLACK, 0.1),
            Text(12.0, base, shortened(heading, room, 2.6), 2.6),
            Text(right, base, count, 2.6, "end"),
            *_ruler(page.width_mm / 2 - 40.0, base - 1.0, unit),
        ]
        out.append(Page(page.width_mm, page.height_mm, (*page.shapes, *feet)))
    return out


def _ruler(x: float, y: float, unit: str | None) -> list[Shape]:
    """50 mm or 2 inches, with ticks; beside it what it is for."""
    ticks, tick_mm, each, name = (11, 5.0, 2, "50 mm") if unit != "in" else (9, 6.35, 4, "2 in")
    end = x + (ticks - 1) * tick_mm
    shapes: list[Shape] = [Polyline(((x, y), (end, y)), BLACK, 0.3)]
    for tick in range(ticks):
        high = 2.4 if tick % each == 0 else 1.4
        across = x + tick * tick_mm
        shapes.append(Polyline(((across, y), (across, y - high)), BLACK, 0.3))
    return [*shapes, Text(end + 2.0, y, f"{name}: print at 100 %", 2.6)]
