"""One sheet that sets several braids of the same sketch side by side, the best first.

All motifs are drawn to one scale, so that their sizes compare as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from ..arrays import Bytes, Floats
from ..drawing.layout import wrap
from ..drawing.png import PX_PER_MM
from ..drawing.shapes import WHITE, Page, PixelImage, Polyline, Shape, Text, rectangle
from ..show.preview import bead_shape, braid_view
from .distortion_sheet import FAINT, INK, RULE

if TYPE_CHECKING:
    from ..finish import Surfaces
    from ..show.distortion import LaidSketch


# mm: a page as wide as A4 is high; room and type sizes chosen by eye
_WIDTH = 297.0
_MARGIN = 10.0
_GAP = 6.0
_COLUMNS = 3
_CARD = (_WIDTH - 2 * _MARGIN - (_COLUMNS - 1) * _GAP) / _COLUMNS
_VIEW_MM = (38.0, 62.0)
_HEADING = 8.0
_BODY = 2.7
_LINE = 3.6


@dataclass(frozen=True, eq=False)
class Card:
    """One braid of the sketch.

    Parameters
    ----------
    title : str
    facts : sequence of (str, str)
        What is measured, and its value.
    remark : str
        The worst that is to be said about it.
    sketch : LaidSketch
        The motif on the braid, which is shown from the front.
    rgb : (n, 3) uint8
        Colours of the beads of the whole braid.
    front_deg : float
        Azimuth that is looked at.
    lean : (n, 6) float, optional
        How drop beads lean and are drawn, as for `preview.braid_view`.
    surfaces : Surfaces, optional
        The finishes of the beads of the whole braid.
    """

    title: str
    facts: Sequence[tuple[str, str]]
    remark: str
    sketch: LaidSketch
    rgb: Bytes
    front_deg: float
    lean: Floats | None = None
    surfaces: Surfaces | None = None

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the piece of braid."""
        raster = self.sketch.raster
        rim = bead_shape(raster.lattice).along_mm
        return raster.lattice.thickness_mm, raster.top_mm - raster.bottom_mm + 2 * rim


class _Row(NamedTuple):
    top: float
    height: float


def compare_page(title: str, lines: Sequence[str], cards: Sequence[Card]) -> Page:
    """Return the sheet.

    Parameters
    ----------
    title : str
    lines : sequence of str
        What the comparison comes to.
    cards : sequence of Card
        Best first.
    """
    scale = min(
        min(room / size for room, size in zip(_VIEW_MM, card.size_mm, strict=True))
        for card in cards
    )
    shapes: list[Shape] = [Text(_MARGIN, _MARGIN + 4, title, 5.0, bold=True, fill=INK)]
    y = _MARGIN + 9.5
    for line in lines:
        for part in wrap(line, _WIDTH - 2 * _MARGIN, 3.0):
            shapes.append(Text(_MARGIN, y, part, 3.0, fill=INK))
            y += 4.2
    bar = max((b for b in (1, 2, 5, 10, 20, 50) if b * scale <= 30), default=1)
    shapes.append(rectangle(_MARGIN, y - 1.0, bar * scale, 1.2, fill=INK, stroke=None))
    words = f"{bar:g} mm on the braid; all drawn to one scale, {scale:.1f} : 1, from the front"
    shapes.append(Text(_MARGIN + bar * scale + 2, y, words, 2.5, fill=FAINT))
    y += 4.0
    for start in range(0, len(cards), _COLUMNS):
        row = cards[start : start + _COLUMNS]
        height = max(_height_mm(card, scale) for card in row)
        for column, card in enumerate(row):
            x = _MARGIN + column * (_CARD + _GAP)
            shapes += _card(card, start + column + 1, x, _Row(y, height), scale)
        y += height + 4.0
    return Page(_WIDTH, y + _MARGIN - 4.0, tuple(shapes))


def _height_mm(card: Card, scale: float) -> float:
    facts = len(card.facts) * _LINE + 1.5 + len(_remark(card)) * _LINE
    return _HEADING + max(card.size_mm[1] * scale, facts) + 3.0


def _remark(card: Card) -> list[str]:
    return wrap(card.remark, _CARD - _VIEW_MM[0] - 5.0, _BODY)


def _card(card: Card, rank: int, x: float, row: _Row, scale: float) -> Iterator[Shape]:
    yield Polyline(((x, row.top), (x + _CARD, row.top)), RULE, 0.2)
    yield Text(x, row.top + 5.2, f"{rank}  {card.title}", 3.6, bold=True, fill=INK)
    top = row.top + _HEADING
    yield _view(card, x + _VIEW_MM[0] / 2, top, scale)
    left, y = x + _VIEW_MM[0] + 4.0, top + 2.5
    for name, value in card.facts:
        yield Text(left, y, name, _BODY, fill=FAINT)
        yield Text(x + _CARD, y, value, _BODY, "end", fill=INK)
        y += _LINE
    y += 1.5
    for line in _remark(card):
        yield Text(left, y, line, _BODY, fill=INK)
        y += _LINE


def _view(card: Card, middle: float, top: float, scale: float) -> PixelImage:
    raster = card.sketch.raster
    rim = bead_shape(raster.lattice).along_mm
    window = (raster.bottom_mm - rim, raster.top_mm + rim)
    per_mm = max(2.0, 2 * PX_PER_MM * scale)
    pixels = braid_view(
        raster.lattice,
        card.rgb,
        card.front_deg,
        per_mm,
        background=WHITE,
        window_mm=window,
        drops=card.lean,
        surfaces=card.surfaces,
    )
    wide, high = pixels.shape[1] / per_mm * scale, pixels.shape[0] / per_mm * scale
    return PixelImage(middle - wide / 2, top, wide, high, pixels)
