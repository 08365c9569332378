"""The set-up sheet: pages from which a stranger can thread and work the braid."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import numpy as np

from ..design import colours_rgb
from ..drawing.fonts import LEFT_OUT, missing, text_width_mm
from ..drawing.layout import LEADING, PAPERS_MM, PARAGRAPH_MM, Flow, column, fitted, shortened, wrap
from ..drawing.pdf import to_pdf
from ..drawing.shapes import BLACK, WHITE, Page, PixelImage, Polyline, Shape, Text
from .bead_table import bead_table
from .chart_columns import chart_columns
from .disc import moves_shapes
from .sheet_content import SheetContent
from .tally import tally
from .type_sizes import BODY, SMALL
from .worktable import tick_box, worktable

if TYPE_CHECKING:
    from ..arrays import Bytes

_PICTURE_MM = (38.0, 95.0)
"""Most room for the picture of the braid: width and height."""
_MOVES_MM = 9.0
"""Radius of the drawing of the two moves."""
_UNKNOWN = (
    f"{LEFT_OUT} stands for letters that the typeface of this paper does not hold; the page "
    "sheet.html shows them."
)


def setup_pages(content: SheetContent) -> list[Page]:
    """Return the pages of the set-up sheet, on the paper that the design asks for."""
    papers = content.design.papers
    flow = Flow(PAPERS_MM[papers.paper])
    _opening(flow, content)
    _setting_up(flow, content)
    room = 3.0 + flow.height_of(lambda part: _cautions(part, content)) <= flow.room
    if room:
        _cautions(flow, content)
    worktable(flow, content)

    def closing(part: Flow) -> None:
        _closing(part, content, cautions=not room)

    chart_columns(flow, content, 0.0 if papers.tally else 3.0 + flow.height_of(closing))
    if papers.tally:
        tally(flow, content)
    _keep_whole(flow, closing)
    return _with_feet(flow.finish(), content.heading, content.unit)


def setup_pdf(content: SheetContent) -> bytes:
    """Return the set-up sheet as a PDF; see `setup_pages`."""
    return to_pdf(setup_pages(content), sheet_title(content))


def sheet_title(content: SheetContent) -> str:
    """Return the name of the document."""
    return f"{content.heading}: set-up sheet"


# -- first page ----------------------------------------------------------------------------------


def _opening(flow: Flow, content: SheetContent) -> None:
    """Title, picture of the braid, what is needed."""
    beside = flow.width - 2 * _MOVES_MM - 4.0
    size = fitted(content.heading, beside * 2, 7.0, True)
    flow.text(content.heading, size, bold=True, width_mm=beside)
    if content.copies > 1:
        _blank(flow, "Name", flow.width / 2)
    flow.text(content.about, BODY, width_mm=beside)
    _moves(flow, content)
    flow.y = max(flow.y + 2.0, flow.margin_mm + 2 * _MOVES_MM + 6.0)
    picture_end = _picture(flow, content)
    width = flow.width - _PICTURE_MM[0] - 5.0
    for label, unit in content.readings:
        _blank(flow, label, flow.width / 2, unit)
    flow.text("What you need", 4.4, bold=True, width_mm=width)
    flow.skip(1.0)
    page = len(flow.pages)
    bead_table(flow, content, width)
    flow.skip(2.0)

    def room() -> float:
        # beside the picture the lines are short, below it they have the whole width
        return width if len(flow.pages) == page and flow.y < picture_end else flow.width

    for line in content.needs:
        _boxed(flow, line, room())
    for line in content.shopping_words:
        flow.text(line, BODY, width_mm=room())
        flow.skip(0.9)
    if len(flow.pages) == page:
        flow.y = max(flow.y, picture_end)


def _moves(flow: Flow, content: SheetContent) -> None:
    """The two moves of the lay in the upper right corner, its name below."""
    lay = content.design.braid.lay
    middle, top = flow.left + flow.width - _MOVES_MM, flow.margin_mm
    flow.add(moves_shapes(lay, middle, top + _MOVES_MM, _MOVES_MM))
    flow.add([Text(middle, top + 2 * _MOVES_MM + 4.0, f"{lay} lay", SMALL, "middle", True)])


def _blank(flow: Flow, label: str, width: float, unit: str = "") -> None:
    """A line to write on, after its label and before its unit."""
    flow.need(9.0)
    start = flow.left + text_width_mm(label, BODY) + 2.0
    end = max(start + 25.0, flow.left + width)
    base = flow.y + 6.0
    flow.add(
        [
            Text(flow.left, base, label, BODY),
            Polyline(((start, base + 0.8), (end, base + 0.8)), BLACK, 0.2),
            Text(end + 1.5, base, unit, BODY),
        ]
    )
    flow.skip(9.0)


def _picture(flow: Flow, content: SheetContent) -> float:
    """Put the picture at the right edge; return its lower end."""
    pixels, caption = _views(content)
    width_mm, height_mm = _PICTURE_MM
    tall, wide = pixels.shape[:2]
    scale = min(width_mm / wide, height_mm / tall)
    left = flow.left + flow.width - (width_mm + wide * scale) / 2
    flow.add([PixelImage(left, flow.y, wide * scale, tall * scale, pixels)])
    end: float = flow.y + tall * scale + 1.0
    lines = wrap(caption, width_mm, SMALL)
    flow.add(column(lines, flow.left + flow.width - width_mm, end, SMALL))
    return end + len(lines) * SMALL * LEADING + 2.0


def _views(content: SheetContent) -> tuple[Bytes, str]:
    """Front and back of the braid side by side, the lowest 150 mm at most."""
    from ..finish import surfaces_of
    from ..show.preview import Look, braid_view

    design, lattice = content.design, content.design.lattice
    most_mm = 150.0
    shown = min(len(design.beads), int(most_mm / lattice.step_mm) * 2)
    lean = content.drops.drawn
    look = Look(
        lattice,
        colours_rgb(design)[:shown],
        None if lean is None else lean[:shown],
        surfaces_of(design.palette)[design.beads[:shown]],
    )
    views = [
        braid_view(look, design.front_deg + turn, 10.0, background=WHITE) for turn in (0.0, 180.0)
    ]
    gap = np.full((views[0].shape[0], 40, 3), 255, dtype=np.uint8)
    whole = shown == len(design.beads)
    caption = "Left: the front. Right: the back." + (
        "" if whole else f" The first {content.length(most_mm)} are shown."
    )
    return np.concatenate([views[0], gap, views[1]], axis=1), caption


def _boxed(flow: Flow, line: str, width: float) -> None:
    """A paragraph with a box to tick."""
    lines = wrap(line, width - 5.0, BODY)
    flow.need(len(lines) * BODY * LEADING)
    flow.add([tick_box(flow.left, flow.y + 0.3), *column(lines, flow.left + 5.0, flow.y, BODY)])
    flow.skip(len(lines) * BODY * LEADING + 0.9)


# -- setting up and closing ----------------------------------------------------------------------


def _setting_up(flow: Flow, content: SheetContent) -> None:
    """From the cord to the first bead, on one page."""

    def draw(part: Flow) -> None:
        _boxed_section(part, "Setting up", content.setting_up)
        first, *others = content.plain_start
        _boxed(part, first, part.width)
        _count_boxes(part, content.plain_sets)
        for line in others:
            _boxed(part, line, part.width)

    _keep_whole(flow, draw)


def _count_boxes(flow: Flow, sets: int) -> None:
    """A box to tick for each set of plain braid."""
    step = 11.0
    across = int((flow.width - 5.0) / step)
    for first in range(0, sets, across):
        flow.need(5.4)
        for place, number in enumerate(range(first, min(sets, first + across))):
            x = flow.left + 5.0 + place * step
            flow.add([tick_box(x, flow.y), Text(x + 4.4, flow.y + 2.9, str(number + 1), BODY)])
        flow.skip(5.4)


def _cautions(flow: Flow, content: SheetContent) -> None:
    _section(flow, "Take care", content.cautions)


def _closing(flow: Flow, content: SheetContent, cautions: bool) -> None:
    """Tying off, cautions if they stand nowhere else, notes, how to make the papers again."""
    _boxed_section(flow, "Tying off", content.finish)
    if cautions:
        _cautions(flow, content)
    texts = [text for bead in content.design.palette for text in (bead.name, bead.code)]
    unknown = any(map(missing, [content.heading, *texts]))
    _section(
        flow, "Notes", [*content.remarks, *content.drop_sizes, *([_UNKNOWN] if unknown else [])]
    )
    if content.copies == 1:
        flow.heading("To make this sheet again", keep_mm=6.0)
        flow.text("; ".join(content.settings) + ".", SMALL)


def _boxed_section(flow: Flow, title: str, lines: Sequence[str]) -> None:
    flow.heading(title)
    for line in lines:
        _boxed(flow, line, flow.width)


def _section(flow: Flow, title: str, lines: Sequence[str]) -> None:
    if not lines:
        return
    rows = sum(len(wrap(line, flow.width, BODY)) for line in lines)
    flow.heading(title, keep_mm=min(60.0, rows * BODY * LEADING + len(lines) * PARAGRAPH_MM))
    flow.paragraphs(lines, BODY)


def _keep_whole(flow: Flow, draw: Callable[[Flow], None]) -> None:
    """Write a part on this page, or on the next if it does not fit here."""
    flow.need(min(3.0 + flow.height_of(draw), flow.height))
    draw(flow)


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
            Text(12.0, base, shortened(heading, room, SMALL), SMALL),
            Text(right, base, count, SMALL, "end"),
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
    return [*shapes, Text(end + 2.0, y, f"{name}: print at 100 %", SMALL)]
