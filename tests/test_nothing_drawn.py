"""A picture of which no bead shows anything is not worked without a word."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from converting import converted
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code
from sketches import FIVE, NAVY, OYSTER, picture


def stipple() -> np.ndarray:
    """Specks far finer than a bead, all over."""
    pixels = np.full((400, 400, 3), OYSTER)
    for row, column in np.random.default_rng(0).integers(20, 380, (300, 2)):
        pixels[row : row + 2, column : column + 2] = NAVY
    return pixels


def speck() -> np.ndarray:
    pixels = np.full((60, 60, 3), OYSTER)
    pixels[30, 30] = NAVY
    return pixels


@pytest.mark.parametrize(
    "pixels", [np.full((50, 50, 3), OYSTER), speck(), stipple()], ids=["blank", "speck", "stipple"]
)
@pytest.mark.parametrize("quick", [False, True])
def test_a_picture_that_shows_nothing_says_so_first(pixels: np.ndarray, quick: bool) -> None:
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        made = converted(picture(pixels), FIVE, lattice, repeat="once", quick=quick)
    assert (made.design.beads == made.design.background).all()
    first = made.findings[0]
    assert first.code in (Code.NOTHING_DRAWN, Code.TOO_SMALL)
