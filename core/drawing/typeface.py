"""Letters of a typeface as masks, every capital as tall as every other."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Bools
from ..errors import HimotifError
from .fonts import font_bytes

if TYPE_CHECKING:
    from PIL.ImageFont import FreeTypeFont


GLYPH_PX = 200
"""Height of the body that glyphs are drawn at: thirty pixels and more for each bead of a letter of
six beads."""

TALL = 0.7
"""A glyph at least this share of a capital's height is made as tall as one; what is lower, a dot or
a dash, keeps its size and its place between top and foot."""


HANGS = 0.1
"""A J or a Q that reaches this share of a capital's height below the line has its hook or its tail
there, and next to none, or a small bowl, once it is as tall as the others: on eight to sixteen
strands a J was read as B, P or S, and a Q on eight to twenty as O."""

HOOK_FROM, NARROWED = 0.6, 0.3
"""It becomes a U without the first stem down to this share of its height, and this share of its
width narrower. Two typefaces from the package index, of a kind that letters are not measured by,
Lato and Manrope, read it on each of 8 to 24 strands both ways, by 0.03 of agreement and more; at
0.2 and 0.4 one way is not read, or by 0.003."""

TAIL_FROM, TAIL_HALF = (0.5, 0.65), 0.14
"""A Q becomes an O with a tail at 45 degrees down to the line: where its middle starts, in widths
from the left and heights from the top, and half its width in heights. Lato, Manrope, Hanken
Grotesk and Red Hat Display read it on each of 8 to 24 strands along the braid, and of 8 to 16
below, by 0.055 of agreement on the mean and 0.025 at least: the best of 22 tails on the mean; the
others have 0.027 to 0.052."""


@dataclass(frozen=True)
class Typeface:
    """A typeface.

    Parameters
    ----------
    data : bytes
        Of the font's file.
    name : str
        What to call it.
    """

    data: bytes
    name: str

    @classmethod
    def bundled(cls) -> Typeface:
        """Return the one that comes with the program, bold: its strokes are a bead wide."""
        return cls(font_bytes(bold=True), "DejaVu Sans Bold")

    @classmethod
    def read(cls, path: Path) -> Typeface:
        """Read a font's file.

        Raises
        ------
        HimotifError
            If it is missing or no font.
        """
        try:
            return cls(path.read_bytes(), path.name).checked(str(path))
        except OSError as error:
            raise HimotifError(f"{path}: cannot be read ({error.strerror}).") from None

    def __reduce__(self) -> tuple[type[Typeface], tuple[bytes, str]]:
        """Go to another process without the font that is opened here."""
        return Typeface, (self.data, self.name)

    def checked(self, file: str) -> Typeface:
        """Return it if it is one; raise `HimotifError` with the file's name if not."""
        try:
            _ = self._font
        except OSError:
            raise HimotifError(f"{file}: is no font. Name a .ttf or .otf file.") from None
        return self

    @cached_property
    def _font(self) -> FreeTypeFont:
        from PIL import ImageFont

        return ImageFont.truetype(BytesIO(self.data), GLYPH_PX)

    @cached_property
    def _missing(self) -> bytes:
        """How a character is drawn that the font does not hold."""
        return self._drawn("\U0010fffd").tobytes()

    def _drawn(self, character: str) -> Bools:
        """A character on a sheet on which the foot of capitals lies in the middle."""
        from PIL import Image, ImageDraw

        sheet = Image.new("L", (4 * GLYPH_PX, 4 * GLYPH_PX))
        middle = 2 * GLYPH_PX
        ImageDraw.Draw(sheet).text(
            (middle, middle), character, font=self._font, fill=255, anchor="ms"
        )
        return np.asarray(sheet) > 127

    @cached_property
    def _capital_px(self) -> int:
        """Height of a capital."""
        rows = np.flatnonzero(self._drawn("H").any(axis=1))
        return int(rows[-1] - rows[0] + 1) if len(rows) else GLYPH_PX * 7 // 10

    @lru_cache(maxsize=200)  # noqa: B019  (typefaces are few and live as long as the run)
    def holds(self, character: str) -> bool:
        """Whether the font can draw a character."""
        drawn = self._drawn(character)
        return bool(drawn.any()) and drawn.tobytes() != self._missing

    @lru_cache(maxsize=200)  # noqa: B019  (typefaces are few and live as long as the run)
    def glyph(self, character: str) -> Bools:
        """Return a character as a mask (h, w) that reaches from the foot of a capital to its top.

        A tall one is cut to itself.
        """
        drawn = self._drawn(character)
        columns = np.flatnonzero(drawn.any(axis=0))
        drawn = drawn[:, columns[0] : columns[-1] + 1]
        rows = np.flatnonzero(drawn.any(axis=1))
        foot = drawn.shape[0] // 2
        if character in "JQ" and rows[-1] >= foot + HANGS * self._capital_px:
            return _hooked(self.glyph("U")) if character == "J" else _tailed(self.glyph("O"))
        if rows[-1] + 1 - rows[0] >= TALL * self._capital_px:
            return drawn[rows[0] : rows[-1] + 1]
        return drawn[min(foot - self._capital_px, rows[0]) : max(foot, rows[-1] + 1)]


def _hooked(letter_u: Bools) -> Bools:
    """Return a U as a J: narrower, and without most of its first stem."""
    high, wide = letter_u.shape
    first = round((1 - NARROWED) / 2 * wide)
    hooked = np.delete(letter_u, slice(first, wide - first), axis=1)
    hooked[: round(HOOK_FROM * high), : hooked.shape[1] // 2] = False
    return hooked[hooked.any(axis=1)]  # the lowest rows of a bowl lie in the middle


def _tailed(letter_o: Bools) -> Bools:
    """Return an O as a Q: with a slanting tail across its lower right, down to the line."""
    high, wide = letter_o.shape
    right, down = TAIL_FROM[0] * wide, TAIL_FROM[1] * high
    rows, columns = np.arange(high)[:, None] + 0.5 - down, np.arange(wide) + 0.5 - right
    near = np.abs(columns - rows) < np.sqrt(2) * TAIL_HALF * high
    return np.asarray(letter_o | (near & (columns + rows > 0)))
