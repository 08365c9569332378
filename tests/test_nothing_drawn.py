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


@pytest.mark.parametrize("width_mm", [1.0, 2.0, 3.0])
def test_a_motif_of_fewer_than_three_beads_is_too_small_and_nothing_else(width_mm: float) -> None:
    pixels = np.full((300, 300, 3), OYSTER)
    row, column = np.mgrid[:300, :300]
    pixels[(row - 150) ** 2 + (column - 150) ** 2 < 120**2] = NAVY
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    made = converted(picture(pixels), FIVE, lattice, repeat="once", width_mm=width_mm)
    beads = int((made.design.beads != made.design.background).sum())
    assert beads < 3
    first = made.findings[0]
    assert first.code is Code.TOO_SMALL
    assert first.data["beads"] == beads
    codes = {one.code for one in made.findings}
    # the ground is not to blame, nor does a lost part need saying beside it
    assert not codes & {Code.NOTHING_DRAWN, Code.LOST_PART}


def test_a_shaded_picture_of_fewer_than_three_beads_is_lost() -> None:
    row, column = np.mgrid[:200, :200] / 199
    away = np.hypot(row - 0.5, column - 0.5)[..., None]
    soft = np.array(NAVY) + (np.array(OYSTER) - NAVY) * np.clip(4 * away - 1, 0, 1)
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    asked = {"kind": "shaded", "width_mm": 5.0, "repeat": "once", "quick": True}
    made = converted(picture(soft), FIVE, lattice, **asked)
    beads = int((made.design.beads != made.design.background).sum())
    assert 0 < beads < 3
    assert made.judgement.verdict == "lost"
    assert made.findings[0].code is Code.TOO_SMALL
