"""Ways to work a motif side by side, each as braid with its number, its verdict and its beads.

All are drawn to one scale, so that their sizes compare as well.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ..drawing.shapes import WHITE, Page, Shape, Text, rectangle
from .braid_piece import BraidPiece
from .distortion_sheet import FAINT, INK

# mm of the sheet, chosen by eye
_CARD = 42.0
_MARGIN = 8.0
_HEAD = 20.0
_TALLEST = 110.0
_LARGEST = 2.0
"""Times true size."""


@dataclass(frozen=True, eq=False)
class ChoiceCard:
    """One way.

    Parameters
    ----------
    number : int
    way, verdict : str
    facts : (str, str)
        Strands and beads; size.
    piece : BraidPiece
        One motif with a little ground.
    """

    number: int
    way: str
    verdict: str
    facts: tuple[str, str]
    piece: BraidPiece


def choices_page(cards: Sequence[ChoiceCard]) -> Page:
    """Return the sheet.

    Parameters
    ----------
    cards : sequence of ChoiceCard
        What was worked first.
    """
    tallest = max(card.piece.high_mm for card in cards)
    scale = min(_LARGEST, _TALLEST / tallest)
    wide = 2 * _MARGIN + _CARD * len(cards)
    high = 2 * _MARGIN + _HEAD + scale * tallest
    shapes: list[Shape] = [rectangle(0, 0, wide, high, fill=WHITE, stroke=None)]
    for place, card in enumerate(cards):
        shapes += _card(card, _MARGIN + place * _CARD, scale)
    return Page(wide, high, tuple(shapes))


def _card(card: ChoiceCard, left: float, scale: float) -> Iterator[Shape]:
    top = _MARGIN + 4
    yield Text(left, top, f"{card.number}  {card.verdict}", 4.2, bold=True, fill=INK)
    yield Text(left, top + 5.5, card.way, 3.2, fill=INK)
    for line, fact in enumerate(card.facts):
        yield Text(left, top + 10 + 3.8 * line, fact, 2.7, fill=FAINT)
    yield card.piece.image(left, _MARGIN + _HEAD, scale, "start")
