"""Short aliases for bead codes that are long, or that the typeface of paper does not hold.

So lists and charts can be read at arm's length, on any machine.

>>> from ..bead import Bead
>>> beads = [Bead("A", "oyster", (0, 0, 0)), Bead("marsh-12", "amber", (1, 1, 1))]
>>> short_codes(beads, [0, 1])
('A', 'B')
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import count
from string import ascii_uppercase
from typing import TYPE_CHECKING

from ..drawing.fonts import missing

if TYPE_CHECKING:
    from ..bead import Bead

_LONGEST = 3
"""Letters; three of them fill a bead of the chart at 6 points."""


def short_codes(palette: Sequence[Bead], used: Sequence[int]) -> tuple[str, ...]:
    """Return what each bead is called in lists and charts: its code, or an alias.

    An alias stands for a code that is long or cannot be drawn.

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
