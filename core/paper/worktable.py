"""The worktable page: the disc, the steps and the stringing lists, all that is needed at work."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, NamedTuple

from ..drawing.fonts import text_width_mm
from ..drawing.layout import LEADING, column, wrap
from ..drawing.shapes import BLACK, WHITE, Shape, Text, rectangle
from .disc import disc_shapes, step_mark, tuck_shapes
from .drop_key import KEY_MM, drop_key
from .type_sizes import BODY, LIST

if TYPE_CHECKING:
    from ..drawing.layout import Flow
    from .sheet_content import SheetContent, Strand

# mm of the sheet, chosen by eye: radii of the drawings, rows, swatches and boxes to tick
_REACH = 45.0
_TUCK = 12.0
_ROW = 5.2
_SWATCH = 3.9
_BOX = 3.2
_GAPS = (1.6, 0.8)
"""Between the parts of a list; the narrow one where it saves a line."""
_NBSP = "\u00a0"


def worktable(flow: Flow, content: SheetContent) -> None:
    """Begin a page and write on it what is needed while stringing and braiding.

    Parameters
    ----------
    flow : Flow
        Where to write; long lists go on over the next pages.
    content : SheetContent
    """
    flow.new_page()
    flow.heading("At the disc")
    flow.text(content.disc_words, BODY)
    flow.skip(1.5)
    _disc_and_steps(flow, content)
    flow.paragraphs(content.at_work, BODY)
    flow.heading("Stringing lists", keep_mm=40.0)
    flow.paragraphs(content.threading, BODY)
    if content.drops.count:
        flow.need(KEY_MM)
        flow.add(drop_key(flow.left, flow.y, flow.width))
        flow.skip(KEY_MM)
        flow.paragraphs(content.drop_warnings, BODY)
    flow.skip(1.0)
    lists = _Lists(content, flow.width)
    for strand in content.strands:
        lists.write(flow, strand)


def _disc_and_steps(flow: Flow, content: SheetContent) -> None:
    """The disc on the left; on the right the three steps and how the bead goes in."""
    top, middle = flow.y, flow.left + _REACH
    flow.add(disc_shapes(content, middle, top + _REACH, _REACH))
    caption = top + 2 * _REACH + 4.2
    flow.add([Text(middle, caption, content.front_words, BODY, "middle", True)])
    left = flow.left + 2 * _REACH + 4.0
    width = flow.left + flow.width - left
    y = top
    for number, step in enumerate(content.steps, start=1):
        lines = wrap(step, width - 7.0, BODY)
        flow.add([*step_mark(left + 2.3, y + 2.4, number), *column(lines, left + 7.0, y, BODY)])
        y += len(lines) * BODY * LEADING + 1.0
    flow.add(tuck_shapes(content.design.braid, left + _TUCK, y + 1.0 + _TUCK, _TUCK))
    lines = wrap(content.tuck_words, width - 2 * _TUCK - 3.0, BODY)
    flow.add(column(lines, left + 2 * _TUCK + 3.0, y, BODY))
    y += max(len(lines) * BODY * LEADING, 2 * _TUCK + 1.0)
    flow.y = max(caption, y) + 2.0


def tick_box(x: float, y: float) -> Shape:
    """Return an empty box with its top left corner at (x, y)."""
    return rectangle(x, y, _BOX, _BOX, WHITE, BLACK, 0.25)


class _Piece(NamedTuple):
    """A part of a list that is not broken: words, perhaps with a swatch or a box before them."""

    text: str
    width: float
    bead: int | None = None
    box: bool = False
    last: bool = False


class _Lists:
    """Writes the lists: counted runs with swatches, repeats once, boxes to tick."""

    def __init__(self, content: SheetContent, width: float) -> None:
        self.content, self.width = content, width
        heads = [self.head(strand) for strand in content.strands]
        self.indent = _BOX + 1.4 + max(text_width_mm(head, LIST, True) for head in heads) + 1.6

    def head(self, strand: Strand) -> str:
        return f"Strand{_NBSP}{strand.number}, slot{_NBSP}{strand.slot}:"

    def write(self, flow: Flow, strand: Strand) -> None:
        """Write the list of one strand, which stays on one page if it can."""
        pieces = list(self.pieces(strand))
        gap, rows = min(
            ((gap, self.rows(pieces, gap)) for gap in _GAPS), key=lambda trial: len(trial[1])
        )
        high = len(rows) * _ROW + 0.8
        flow.need(high if high <= flow.height else 2 * _ROW)
        base = flow.y + _ROW / 2 + 0.36 * LIST
        flow.add(
            [
                tick_box(flow.left, flow.y + (_ROW - _BOX) / 2),
                Text(flow.left + _BOX + 1.4, base, self.head(strand), LIST, bold=True),
            ]
        )
        # words before the numbers of the boxes: so they are read, too, by a screen reader
        ticks: list[Shape] = []
        for row in rows:
            if flow.need(_ROW):
                flow.pages[-2].extend(ticks)
                ticks = []
            x = flow.left + self.indent
            for piece in row:
                (ticks if piece.box else flow.pages[-1]).extend(self.shapes(piece, x, flow.y))
                x += piece.width + gap
            flow.skip(_ROW)
        flow.add(ticks)
        flow.skip(0.8)

    def pieces(self, strand: Strand) -> Iterator[_Piece]:
        """The list in its parts, in the order in which it is strung."""
        done, ticked = 0, 0
        for number, part in enumerate(strand.parts, start=1):
            if number > 1:
                yield self.words("then")
            comma = "," if number < len(strand.parts) else ""
            if part.times > 1:
                yield self.words(f"{part.times} × (")
            for place, (count, code) in enumerate(part.runs, start=1):
                last = place == len(part.runs)
                yield self.run(count, code, ")" * (part.times > 1) + comma if last else ",")
                done += count
                if part.times == 1 and done - ticked >= 10 and done < len(strand.beads):
                    ticked = done
                    yield self.box(done)
            if part.times > 1:
                for time in range(part.times):
                    done += part.length * (time > 0)
                    ticked = done
                    if done < len(strand.beads):
                        yield self.box(done)
        yield self.end(done)

    def words(self, text: str) -> _Piece:
        return _Piece(text, text_width_mm(text, LIST))

    def run(self, count: int, code: str, after: str) -> _Piece:
        text = f"{count}{_NBSP}{self.content.label[code]}{after}"
        width = _SWATCH + 0.7 + text_width_mm(text, LIST)
        return _Piece(text, width, self.content.row_of[code])

    def box(self, count: int) -> _Piece:
        text = str(count)
        return _Piece(text, _BOX + 0.5 + text_width_mm(text, LIST), box=True)

    def end(self, count: int) -> _Piece:
        text = f"={_NBSP}{count}{_NBSP}beads"
        return _Piece(text, _BOX + 0.7 + text_width_mm(text, LIST), last=True)

    def rows(self, pieces: Sequence[_Piece], gap: float) -> list[list[_Piece]]:
        """The pieces in lines, so far apart."""
        rows: list[list[_Piece]] = [[]]
        used = 0.0
        for piece in pieces:
            if rows[-1] and used + piece.width > self.width - self.indent:
                rows.append([])
                used = 0.0
            rows[-1].append(piece)
            used += piece.width + gap
        return rows

    def shapes(self, piece: _Piece, x: float, y: float) -> list[Shape]:
        base = y + _ROW / 2 + 0.36 * LIST
        if piece.box:
            box = tick_box(x, y + (_ROW - _BOX) / 2)
            return [box, Text(x + _BOX + 0.5, base, piece.text, LIST)]
        if piece.last:
            return [
                tick_box(x, y + (_ROW - _BOX) / 2),
                Text(x + _BOX + 0.7, base, piece.text, LIST, bold=False),
            ]
        if piece.bead is None:
            return [Text(x, base, piece.text, LIST)]
        size = (_SWATCH, _SWATCH)
        swatch = self.content.styles.swatch(piece.bead, x, y + (_ROW - _SWATCH) / 2, size, 0.15)
        return [swatch, Text(x + _SWATCH + 0.7, base, piece.text, LIST)]
