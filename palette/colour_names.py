"""Words for colours, for beads that have no name yet."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from ..core.srgb import Rgb
from .colour import srgb_to_lab
from .difference import ciede2000_matrix

_WORDS: dict[str, Rgb] = {
    "white": (245, 245, 242),
    "pale grey": (205, 206, 206),
    "grey": (140, 141, 142),
    "dark grey": (80, 81, 83),
    "black": (25, 25, 27),
    "cream": (240, 228, 196),
    "beige": (205, 183, 148),
    "brown": (126, 84, 52),
    "dark brown": (68, 45, 33),
    "pale pink": (240, 200, 205),
    "pink": (228, 130, 160),
    "rose": (190, 70, 100),
    "red": (190, 35, 40),
    "dark red": (110, 24, 36),
    "rust": (176, 82, 48),
    "salmon": (236, 150, 124),
    "orange": (232, 126, 38),
    "amber": (222, 162, 60),
    "yellow": (240, 208, 58),
    "pale yellow": (246, 233, 160),
    "mustard": (180, 148, 46),
    "olive": (110, 108, 50),
    "yellow green": (168, 192, 68),
    "pale green": (180, 216, 176),
    "green": (56, 138, 66),
    "dark green": (28, 70, 48),
    "grey green": (130, 150, 128),
    "turquoise": (58, 176, 168),
    "teal": (24, 104, 108),
    "pale blue": (176, 208, 230),
    "sky blue": (100, 168, 216),
    "blue": (44, 92, 176),
    "dark blue": (26, 40, 92),
    "grey blue": (110, 134, 156),
    "lilac": (200, 178, 220),
    "violet": (128, 88, 172),
    "dark violet": (66, 40, 100),
    "purple": (140, 50, 120),
    "plum": (90, 38, 72),
    "mauve": (164, 122, 150),
}
"""Plain words and a colour that each is good for; a choice of this project."""


def colour_names(colours: Sequence[Rgb]) -> tuple[str, ...]:
    """Return a name for each colour, the nearest word by CIEDE2000; of the same word numbered.

    >>> colour_names([(255, 255, 255), (30, 30, 30), (20, 20, 22)])
    ('white', 'black', 'black 2')
    """
    if not colours:
        return ()
    words = list(_WORDS)
    given = srgb_to_lab(np.array(colours, np.uint8))
    table = srgb_to_lab(np.array(list(_WORDS.values()), np.uint8))
    used: dict[str, int] = {}
    names = []
    for at in ciede2000_matrix(given, table).argmin(axis=1):
        word = words[at]
        used[word] = used.get(word, 0) + 1
        names.append(word if used[word] == 1 else f"{word} {used[word]}")
    return tuple(names)
