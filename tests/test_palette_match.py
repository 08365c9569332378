"""The nearest bead, checked against all pairs and against colour-science."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from himotif.core.bead import Bead
from himotif.palette.colour import srgb_to_lab
from himotif.palette.match import nearest
from himotif.palette.palette import Palette
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it says that matplotlib is missing
    from colour.difference import delta_E_CIE2000


def _palette(rgb: np.ndarray) -> Palette:
    rows = enumerate(rgb.tolist())
    return Palette(tuple(Bead(f"b{at}", "bead", (r, g, b)) for at, (r, g, b) in rows))


@pytest.mark.parametrize("kind", [np.float32, np.float64])
def test_nearest_is_the_least_of_all_pairs(kind: type) -> None:
    random = np.random.default_rng(1)
    lab = random.uniform((0, -90, -90), (100, 90, 90), (3000, 3)).astype(kind)
    palette = _palette(random.integers(0, 256, (200, 3), dtype=np.uint8))
    found = nearest(lab, palette)
    every = delta_E_CIE2000(lab.astype(float)[:, None], palette.lab[None])
    np.testing.assert_array_equal(found.bead, every.argmin(axis=1))
    np.testing.assert_allclose(found.difference, every.min(axis=1), rtol=0, atol=1e-9)


def test_near_ties_near_the_jump_of_the_formula() -> None:
    """Greyish colours whose hues lie opposite: float32 alone would pick wrong beads here."""
    turn = np.radians(np.arange(0, 360, 2.0))
    circle = np.stack([np.full_like(turn, 50), 2.49 * np.cos(turn), 2.49 * np.sin(turn)], axis=-1)
    far = circle[(np.arange(len(turn)) % 7) == 0]
    every = delta_E_CIE2000(circle[:, None], far[None])
    np.testing.assert_allclose(
        nearest(circle, far).difference, every.min(axis=1), rtol=0, atol=1e-9
    )


SHADES = arrays.arrays(np.uint8, st.tuples(st.integers(1, 12), st.just(3)))


@given(SHADES)
def test_each_bead_is_nearest_to_itself_and_the_first_of_equals_wins(rgb: np.ndarray) -> None:
    found = nearest(srgb_to_lab(rgb), _palette(rgb))
    first = [rgb.tolist().index(row) for row in rgb.tolist()]
    assert found.difference.max() == 0
    assert found.bead.tolist() == first


def test_shapes_at_the_ends() -> None:
    palette = _palette(np.array([[1, 2, 3]], np.uint8))
    bead, difference = nearest(np.empty((0, 3)), palette)
    assert bead.shape == difference.shape == (0,)
    assert nearest(palette.lab, palette.lab).bead.tolist() == [0]
