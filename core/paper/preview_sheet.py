"""The preview as one picture: the braid close, and the whole of it from four sides.

Lengths are pixels of the finished picture until the page is put together; the page itself is a
list of shapes like every other sheet.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import count as counting
from itertools import pairwise

import numpy as np

from ..arrays import Bytes
from ..braid import Lattice
from ..design import Design
from ..drawing.fonts import text_width_mm
from ..drawing.layout import wrap
from ..drawing.png import to_png
from ..drawing.shapes import (
    Page,
    PixelImage,
    Polygon,
    Polyline,
    Shape,
    Text,
    moved,
    rectangle,
)
from ..making.lengths import INCH_MM, braid_thickness, format_length
from ..show.preview import (
    PAPER,
    Look,
    ViewFrame,
    bead_shape,
    braid_frame,
    braid_view,
)
from ..srgb import Rgb

PREVIEW_PX_PER_MM = 8.0
"""Pixels of the picture per mm of its page."""

_SIDES = (("Front", 0.0), ("Right", -90.0), ("Back", 180.0), ("Left", 90.0))
_INK: Rgb = (40, 38, 36)
_FAINT: Rgb = (128, 124, 118)
_FRONT: Rgb = (176, 44, 36)

# pixels of the picture, chosen by eye
_TALLEST = 1640  # of a strip of braid
_MOST_LENGTHS = 13  # a 1.5 m necklace of 15/0 beads; in longer braids beads are smaller
_BEAD_PX = (20.0, 72.0)  # least and most pixels across a bead in the four views
_CLOSE_PX = (44.0, 84.0)  # the same for the close-up
_MARGIN = 40
_GAP = 26
_WIDE_GAP = 64
_MARK = 14
_TITLE = 18
_BODY = 17
_SMALL = 14


def four_sides(design: Design) -> Bytes:
    """Return the preview of a design as a picture.

    Returns
    -------
    array of uint8, (H, W, 3)
    """
    return to_png(four_sides_page(design), PREVIEW_PX_PER_MM)


def four_sides_page(design: Design) -> Page:
    """Return the preview of a design as shapes; a mm of the page is `PREVIEW_PX_PER_MM` pixels.

    The braid is shown from the front, then turned a quarter to the left each time. A long braid is
    cut into lengths that stand side by side. Where its beads are small in these views, a close-up
    of one motif leads.
    """
    sight = _Sight.of(design)
    blocks = [*_close_up(sight), *_whole_braid(sight)]
    return _assemble(_heading(design, sight.lengths), blocks)


# -- what is to be shown -----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Sight:
    """A design made ready for looking at."""

    look: Look
    front_deg: float
    low_mm: float
    high_mm: float
    motif_mm: tuple[float, float] | None  # middle and height of one motif with its gap
    unit: str | None  # of lengths: 'in', or None for mm

    @classmethod
    def of(cls, design: Design) -> _Sight:
        look = Look.of(design)
        frame = braid_frame(look.lattice, len(look.rgb), 1000.0, drops=look.drops)
        high = frame.top_mm
        return cls(
            look,
            design.front_deg,
            high - frame.height_px / frame.px_per_mm,
            high,
            _motif(design),
            design.unit,
        )

    @property
    def lattice(self) -> Lattice:
        return self.look.lattice

    @property
    def length_mm(self) -> float:
        return self.high_mm - self.low_mm

    @property
    def lengths(self) -> int:
        """Into how many lengths the braid is cut."""
        least = _BEAD_PX[0] / self.lattice.diameter_mm
        return int(np.clip(np.ceil(self.length_mm * least / _TALLEST), 1, _MOST_LENGTHS))

    @property
    def whole_px_per_mm(self) -> float:
        fitting = _TALLEST * self.lengths / self.length_mm
        return float(min(fitting, _BEAD_PX[1] / self.lattice.diameter_mm))

    @property
    def needs_close_up(self) -> bool:
        return self.whole_px_per_mm * self.lattice.diameter_mm < _CLOSE_PX[0]

    @property
    def close_px_per_mm(self) -> float:
        least, most = (bound / self.lattice.diameter_mm for bound in _CLOSE_PX)
        if self.motif_mm is None:
            return 0.5 * (least + most)
        return float(np.clip(_TALLEST / (1.15 * self.motif_mm[1]), least, most))

    @property
    def close_window_mm(self) -> tuple[float, float]:
        span = min(self.length_mm, _TALLEST / self.close_px_per_mm)
        middle = (self.low_mm + self.high_mm) / 2 if self.motif_mm is None else self.motif_mm[0]
        low = float(np.clip(middle - span / 2, self.low_mm, self.high_mm - span))
        return low, low + span


def _motif(design: Design) -> tuple[float, float] | None:
    """Middle and height of the motif nearest to the middle of the braid."""
    if design.repeat is None or design.picture is None or not design.picture.centres:
        return None
    heights = np.array([height for _, height in design.picture.centres])
    nearest = heights[np.argmin(np.abs(heights - design.length_mm / 2))]
    return float(nearest), design.repeat.rounds * design.lattice.rise_mm


def _heading(design: Design, lengths: int) -> list[str]:
    lattice, braid = design.lattice, design.braid
    turn = "" if braid.turn == "usual" else ", turned the other way"
    size = f"{design.bead.diameter_mm:g} × {design.bead.length_mm:g} mm"
    name = f"{design.bead.name} beads ({size})" if design.bead.name else f"beads {size}"
    cut = f" Cut into {lengths} lengths, the oldest first." if lengths > 1 else ""
    return [
        f"{braid.strands} strands, {braid.lay} lay{turn} · {name} · {len(design.beads)} beads",
        f"Braid {braid_thickness(lattice.thickness_mm, design.unit)} thick, "
        f"{format_length(design.length_mm, design.unit or 'mm')} beaded "
        f"({lattice.origin}). Newest beads at the top.{cut}",
        "Front, then turned a quarter to the left each time: right side, back, left side. "
        "Red arrows point at the middle of the front.",
    ]


# -- blocks ------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Block:
    """Shapes in pixels, from the block's top left corner, and the room they take."""

    width: float
    height: float
    shapes: tuple[Shape, ...]
    gap_after: float = _GAP


# title and arrow stand above a picture; whole pixels, so that pictures stay sharp
_PICTURE_TOP = round(2.2 * _BODY + _MARK + 6)


def _close_up(sight: _Sight) -> list[_Block]:
    if not sight.needs_close_up:
        return []
    scale, window = sight.close_px_per_mm, sight.close_window_mm
    view = _braid(sight, 0.0, scale, window, "Close-up of the front", bar=True)
    return [replace(view, gap_after=_WIDE_GAP)]


def _whole_braid(sight: _Sight) -> list[_Block]:
    scale, lengths = sight.whole_px_per_mm, sight.lengths
    cuts = np.linspace(sight.low_mm, sight.high_mm, lengths + 1)
    blocks: list[_Block] = []
    for window in pairwise(cuts.tolist()):
        blocks.append(_ruler(sight, scale, window))
        views = [
            _braid(sight, turned, scale, window, side, bar=side == "Front")
            for side, turned in _SIDES
        ]
        blocks += [*views[:-1], replace(views[-1], gap_after=_WIDE_GAP)]
    return blocks


def _braid(
    sight: _Sight,
    turned_deg: float,
    px_per_mm: float,
    window_mm: tuple[float, float],
    title: str,
    *,
    bar: bool,
) -> _Block:
    lattice, look = sight.lattice, sight.look
    pixels = braid_view(look, sight.front_deg + turned_deg, px_per_mm, window_mm=window_mm)
    frame = braid_frame(lattice, len(look.rgb), px_per_mm, window_mm=window_mm, drops=look.drops)
    # where the middle of the front is seen: in the middle, at an edge, or not at all
    front = np.sin(np.deg2rad(turned_deg)) * lattice.thickness_mm / 2
    marks = [] if abs(turned_deg) == 180.0 else [float(frame.column_px(front))]
    return _panel(pixels, frame, title, marks, sight.unit, bar=bar)


def _panel(
    pixels: Bytes,
    frame: ViewFrame,
    title: str,
    marks: Sequence[float],
    unit: str | None,
    *,
    bar: bool,
) -> _Block:
    """A picture with its title, arrows at the front above and below, and a scale bar."""
    height, width = pixels.shape[:2]
    room = max(width, text_width_mm(title, _BODY, bold=True))
    left = round((room - width) / 2)
    bottom = _PICTURE_TOP + height
    shapes: list[Shape] = [
        Text(room / 2, _BODY, title, _BODY, "middle", True, _INK),
        PixelImage(left, _PICTURE_TOP, width, height, pixels),
    ]
    for mark in marks:
        at = float(np.clip(left + mark, _MARK / 2, room - _MARK / 2))
        shapes += [_arrow(at, _PICTURE_TOP - 4, -1), _arrow(at, bottom + 4, 1)]
    if bar:
        shapes += _scale_bar(left, bottom + _MARK + 22, frame.px_per_mm, unit)
    return _Block(room, bottom + _MARK + 26 + 1.6 * _SMALL, tuple(shapes))


def _arrow(x: float, tip: float, way: int) -> Polygon:
    """A triangle whose tip is at (x, tip) and whose body lies `way` (1 down, -1 up) of it."""
    base = tip + way * _MARK
    half = _MARK / 2
    return Polygon(((x, tip), (x + half, base), (x - half, base)), fill=_FRONT, stroke=None)


def _scale_bar(x: float, y: float, px_per_mm: float, unit: str | None) -> list[Shape]:
    """A bar of a round length, with its label beside it."""
    number, one_mm = _round_length(px_per_mm, 50, unit)
    length = number * one_mm * px_per_mm
    return [
        Polyline(((x, y - 5), (x, y + 5)), _INK, 1.5),
        Polyline(((x, y), (x + length, y)), _INK, 1.5),
        Polyline(((x + length, y - 5), (x + length, y + 5)), _INK, 1.5),
        Text(x + length + 8, y + 0.36 * _SMALL, f"{number:g} {unit or 'mm'}", _SMALL, fill=_INK),
    ]


def _round_length(px_per_mm: float, least_px: float, unit: str | None) -> tuple[float, float]:
    """The smallest round number of mm or inches that is so many pixels long; mm of one of them."""
    one_mm, tens = (INCH_MM, counting(-1)) if unit == "in" else (1.0, counting())
    numbers = (n * 10.0**power for power in tens for n in (1, 2, 5))
    return next(n for n in numbers if n * one_mm * px_per_mm >= least_px), one_mm


def _ruler(sight: _Sight, px_per_mm: float, window_mm: tuple[float, float]) -> _Block:
    """Heights above the lower edge of the first bead, to the left of a strip."""
    zero = float(sight.lattice.height_mm(0)) - bead_shape(sight.lattice).along_mm
    number, one_mm = _round_length(px_per_mm, 60, sight.unit)
    step = number * one_mm
    low, high = window_mm
    first, last = int(np.ceil((low - zero) / step)), int(np.floor((high - zero) / step))
    marks = range(max(first, 0), last + 1)
    labels = [f"{number * mark:g}" for mark in marks]
    unit = sight.unit or "mm"
    room = (
        max([text_width_mm(unit, _SMALL), *(text_width_mm(label, _SMALL) for label in labels)]) + 12
    )
    height = np.ceil((high - low) * px_per_mm)
    shapes: list[Shape] = [Text(room - 12, _BODY, unit, _SMALL, "end", fill=_FAINT)]
    for mark, label in zip(marks, labels, strict=True):
        y = _PICTURE_TOP + (high - zero - step * mark) * px_per_mm
        shapes.append(Polyline(((room - 8, y), (room, y)), _FAINT, 1.5))
        shapes.append(Text(room - 12, y + 0.36 * _SMALL, label, _SMALL, "end", fill=_FAINT))
    return _Block(room, _PICTURE_TOP + height, tuple(shapes), gap_after=6)


# -- page --------------------------------------------------------------------------------------


def _assemble(heading: Sequence[str], blocks: Sequence[_Block]) -> Page:
    """Set the blocks side by side under the heading."""
    width = sum(block.width + block.gap_after for block in blocks) - blocks[-1].gap_after
    width = max(width, 640.0)
    shapes: list[Shape] = []
    y = float(_MARGIN)
    for number, paragraph in enumerate(heading):
        size = _TITLE if number == 0 else _BODY
        for line in wrap(paragraph, width, size, bold=number == 0):
            y += 1.35 * size
            shapes.append(Text(_MARGIN, y, line, size, bold=number == 0, fill=_INK))
    y = np.ceil(y + 1.6 * _BODY)
    x = float(_MARGIN)
    for block in blocks:
        shapes += moved(block.shapes, np.round(x), y)
        x += block.width + block.gap_after
    height = y + max(block.height for block in blocks) + _MARGIN
    size_px = (np.ceil(width + 2 * _MARGIN), np.ceil(height))
    paper = rectangle(0, 0, *size_px, fill=PAPER, stroke=None)
    page = moved([paper, *shapes], 0, 0, 1 / PREVIEW_PX_PER_MM)
    return Page(size_px[0] / PREVIEW_PX_PER_MM, size_px[1] / PREVIEW_PX_PER_MM, tuple(page))
