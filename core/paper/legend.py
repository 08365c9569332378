"""How each bead of a palette is drawn: its colour, its pattern, its code in readable ink."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import count
from string import ascii_uppercase
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Floats
from ..design import Drops, drop_directions
from ..drawing.fonts import missing, set_apart, text_width_mm
from ..drawing.layout import CAPITAL
from ..drawing.shapes import BLACK, Polygon, ink, rectangle
from ..srgb import Rgb

if TYPE_CHECKING:
    from ..bead import Bead
    from ..design import Design


@dataclass(frozen=True, eq=False)
class BeadStyles:
    """The look of the beads of one design."""

    design: Design

    @cached_property
    def drops(self) -> Drops:
        """Which way round the drop beads go on."""
        return drop_directions(self.design)

    @cached_property
    def counts(self) -> list[int]:
        """How many beads of each row of the palette the braid takes."""
        counted = np.bincount(self.design.beads, minlength=len(self.design.palette))
        return [int(count) for count in counted]

    @cached_property
    def used(self) -> list[int]:
        """Rows of the palette that the braid takes, in the palette's order."""
        return [index for index, count in enumerate(self.counts) if count]

    @cached_property
    def hatches(self) -> dict[int, int]:
        """Pattern of each used row: the commonest bead stays plain."""
        order = sorted(self.used, key=lambda index: (-self.counts[index], index))
        return {index: number for number, index in enumerate(order)}

    def code(self, index: int) -> str:
        """Code of a row of the palette, or its alias if that is long."""
        return self.short[index]

    @cached_property
    def short(self) -> tuple[str, ...]:
        """What each row of the palette is called in lists and charts."""
        return short_codes(self.design.palette, self.used)

    def words(self, index: int) -> str:
        """Name, finish and shape of a bead, and its code where the lists have an alias for it."""
        bead = self.design.palette[index]
        return (
            set_apart(bead.name)
            + (f" ({set_apart(bead.finish)})" if bead.finish else "")
            + (", drop" if bead.shape == "drop" else "")
            + (f", code {set_apart(bead.code)}" if bead.code != self.code(index) else "")
            + self.cord_words(index)
        )

    def cord_words(self, index: int) -> str:
        """That a bead has not the colour that it has in its tube; nothing if it has."""
        seen = self.design.on_cord[index] != self.design.palette[index]
        return ", shown on its cord" if seen else ""

    def fill(self, index: int) -> Rgb:
        """Colour of a row of the palette, on its cord."""
        red, green, blue = self.design.on_cord[index].rgb
        return int(red), int(green), int(blue)

    def ink(self, index: int) -> Rgb:
        """Black or white, whichever reads better on the bead."""
        return ink(self.fill(index))

    def swatch(
        self, index: int, x: float, y: float, size_mm: tuple[float, float], stroke_mm: float = 0.2
    ) -> Polygon:
        """A rectangle of the bead's colour and pattern, width and height as in `size_mm`."""
        plain = rectangle(x, y, *size_mm, self.fill(index), BLACK, stroke_mm)
        return replace(plain, hatch=self.hatches[index])


def size_inside(text: str, outline: Floats, most_mm: float) -> float:
    """Return the largest text size whose capitals stand wholly inside a convex outline.

    Parameters
    ----------
    text : str
    outline : (k, 2) float
        Corners in mm round the middle of the text, counter-clockwise on paper or not.
    most_mm : float
        Never larger than this.
    """
    half = np.array([text_width_mm(text, 1.0), CAPITAL]) / 2
    edge = np.roll(outline, -1, axis=0) - outline
    normal = np.stack([edge[:, 1], -edge[:, 0]], axis=1)
    room = np.abs(np.sum(outline * normal, axis=1))
    return float(min(most_mm, np.min(room / (np.abs(normal) @ half))))


# -- what it is called --------------------------------------------------------------------------

_LONGEST = 3
"""Letters; three of them fill a bead of the chart at 6 points."""


def short_codes(palette: Sequence[Bead], used: Sequence[int]) -> tuple[str, ...]:
    """Return what each bead is called in lists and charts: its code, or an alias.

    An alias stands for a code that is long or that the typeface of paper does not hold, so that
    lists and charts can be read at arm's length, on any machine.

    >>> from ..bead import Bead
    >>> beads = [Bead("A", "oyster", (0, 0, 0)), Bead("marsh-12", "amber", (1, 1, 1))]
    >>> short_codes(beads, [0, 1])
    ('A', 'B')

    Parameters
    ----------
    palette : sequence of Bead
    used : sequence of int
        Rows of the palette that the braid takes; the others keep their codes.

    Returns
    -------
    tuple of str
        One for each row of the palette, all different.
    """
    codes = [bead.code for bead in palette]
    taken = {code.casefold() for code in codes}
    for index in used:
        if len(codes[index]) > _LONGEST or _cannot_be_drawn(codes[index]):
            # the first letter of the name is easiest to remember
            codes[index] = next(
                alias for alias in _candidates(palette[index].name) if alias.casefold() not in taken
            )
            taken.add(codes[index].casefold())
    return tuple(codes)


def _cannot_be_drawn(code: str) -> bool:
    # the fonts are not read for nothing
    return not code.isascii() and missing(code)


def _candidates(name: str) -> Iterator[str]:
    initial = name.strip()[:1].upper()
    if initial in ascii_uppercase and initial:
        yield initial
    yield from ascii_uppercase
    yield from (f"{letter}{number}" for number in count(1) for letter in ascii_uppercase)
