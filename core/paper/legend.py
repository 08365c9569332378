"""How each bead of a palette is drawn: its colour, its pattern, its code in readable ink."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Floats
from ..design import Drops, drop_directions
from ..drawing.fonts import set_apart, text_width_mm
from ..drawing.layout import CAPITAL
from ..drawing.shapes import BLACK, Polygon, ink, rectangle
from ..srgb import Rgb
from .aliases import short_codes

if TYPE_CHECKING:
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
