"""One sheet that sets several braids of the same sketch side by side, the best first.

All motifs are drawn to one scale, so that their sizes compare as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import NamedTuple

from ..drawing.layout import wrap
from ..drawing.shapes import Page, Polyline, Shape, Text, rectangle
from ..names import counted
from .braid_piece import BraidPiece
from .conversion_wording import braid_title
from .distortion_sheet import FAINT, INK, RULE, scale_bar

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


@dataclass(frozen=True)
class BraidNumbers:
    """The key numbers of one braid, named as in compare.json; of its words the worst first."""

    strands: int
    lay: str
    turn: str
    bead: str
    score: float
    seen: float
    recognised: str | None
    C: float
    S: float
    J: float
    kept_percent: float | None
    colours_lost: tuple[str, ...]
    edge_p95_mm: float | None
    edge_p95_beads: float | None
    edge_lost_percent: float
    colour_mean_de00: float | None
    within_60_deg_percent: float | None
    motif_width_mm: float
    motif_height_mm: float
    motif_width_beads: float
    motif_height_beads: float
    motifs: int
    thickness_mm: float
    beads: int
    words: tuple[str, ...]


@dataclass(frozen=True, eq=False)
class Card:
    """One braid of the sketch.

    Parameters
    ----------
    numbers : BraidNumbers
    piece : BraidPiece
        One motif with a little ground.
    """

    numbers: BraidNumbers
    piece: BraidPiece

    @property
    def title(self) -> str:
        """Strands and bead."""
        return braid_title(asdict(self.numbers))

    @cached_property
    def facts(self) -> list[tuple[str, str]]:
        """What is measured, and its value."""
        numbers = self.numbers
        return [
            *([("recognised", numbers.recognised)] if numbers.recognised else []),
            ("score, less is better", f"{numbers.score:.1f}"),
            ("motif as in the sketch", _percent(numbers.kept_percent)),
            ("colours lost", _few(numbers.colours_lost)),
            ("95 % of edges within", _edge(numbers)),
            ("edges lost", _percent(numbers.edge_lost_percent)),
            ("colours off, 10 is plain to see", _number(numbers.colour_mean_de00)),
            ("seen within 60°", _percent(numbers.within_60_deg_percent)),
            ("motif, mm", f"{numbers.motif_width_mm:.1f} × {numbers.motif_height_mm:.1f}"),
            (
                "motif, beads",
                f"{numbers.motif_width_beads:.1f} × {numbers.motif_height_beads:.1f}",
            ),
            ("braid, mm thick", f"{numbers.thickness_mm:.1f}"),
            ("beads", f"{numbers.beads}, {counted(numbers.motifs, 'motif')}"),
        ]

    @property
    def size_mm(self) -> tuple[float, float]:
        """Width and height of the piece of braid."""
        return self.piece.look.lattice.thickness_mm, self.piece.high_mm


class _Row(NamedTuple):
    top: float
    height: float


def compare_page(name: str, lines: Sequence[str], cards: Sequence[Card]) -> Page:
    """Return the sheet.

    Parameters
    ----------
    name : str
        Of the picture, or the text.
    lines : sequence of str
        What the comparison comes to.
    cards : sequence of Card
        Best first.
    """
    title = f"{name} on {counted(len(cards), 'braid')}"
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
    bar, name_of_bar = scale_bar(scale)
    shapes.append(rectangle(_MARGIN, y - 1.0, bar * scale, 1.2, fill=INK, stroke=None))
    words = f"{name_of_bar} on the braid; all drawn to one scale, {scale:.1f} : 1, from the front"
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
    return wrap(card.numbers.words[0], _CARD - _VIEW_MM[0] - 5.0, _BODY)


def _card(card: Card, rank: int, x: float, row: _Row, scale: float) -> Iterator[Shape]:
    yield Polyline(((x, row.top), (x + _CARD, row.top)), RULE, 0.2)
    yield Text(x, row.top + 5.2, f"{rank}  {card.title}", 3.6, bold=True, fill=INK)
    top = row.top + _HEADING
    yield card.piece.image(x + _VIEW_MM[0] / 2, top, scale)
    left, y = x + _VIEW_MM[0] + 4.0, top + 2.5
    for name, value in card.facts:
        yield Text(left, y, name, _BODY, fill=FAINT)
        yield Text(x + _CARD, y, value, _BODY, "end", fill=INK)
        y += _LINE
    y += 1.5
    for line in _remark(card):
        yield Text(left, y, line, _BODY, fill=INK)
        y += _LINE


def _few(names: Sequence[str]) -> str:
    """Names that fit beside each other on a card."""
    if len(names) > 4:
        return f"{', '.join(names[:3])} and {len(names) - 3} more"
    return ", ".join(names) or "none"


def _percent(value: float | None) -> str:
    return "–" if value is None else f"{value:.0f} %"


def _number(value: float | None) -> str:
    return "–" if value is None else f"{value:.1f}"


def _edge(numbers: BraidNumbers) -> str:
    if numbers.edge_p95_mm is None:
        return "–"
    return f"{numbers.edge_p95_mm:.1f} mm"
