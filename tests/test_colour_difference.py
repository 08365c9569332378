"""CIEDE2000 against its published pairs and two other implementations."""

from __future__ import annotations

import tracemalloc
import warnings
from pathlib import Path

import numpy as np
from himotif.palette.difference import ciede2000, ciede2000_matrix

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it says that matplotlib is missing
    from colour.difference import delta_E_CIE2000

# Sharma, Wu & Dalal 2005, Table 1; provenance in the file
PAIRS = np.loadtxt(
    Path(__file__).parent / "data" / "ciede2000_pairs.csv", delimiter=",", skiprows=6
)
FIRST, SECOND, PUBLISHED = PAIRS[:, 1:4], PAIRS[:, 4:7], PAIRS[:, 7]


def _colours(count: int, seed: int) -> np.ndarray:
    random = np.random.default_rng(seed)
    return random.uniform((0, -90, -90), (100, 90, 90), (count, 3))


def test_published_pairs() -> None:
    assert len(PAIRS) == 34
    np.testing.assert_allclose(ciede2000(FIRST, SECOND), PUBLISHED, rtol=0, atol=1e-4)
    np.testing.assert_allclose(ciede2000(SECOND, FIRST), PUBLISHED, rtol=0, atol=1e-4)


def test_matches_colour_science() -> None:
    first, second = _colours(3000, 1), _colours(3000, 2)
    expected = delta_E_CIE2000(first, second)
    np.testing.assert_allclose(ciede2000(first, second), expected, rtol=0, atol=1e-9)


def test_matches_colormath() -> None:
    """The matrix function of colormath, which takes the mean hue one turn too far.

    Where the hues lie more than 180° apart and add up to 360° or more it does not bring their mean
    back below 360°. The rotation term, centred on 275°, then sees up to 540° and vanishes a little
    early: differences of up to 2e-4. Everywhere else the two agree to rounding.
    """
    from colormath.color_diff_matrix import delta_e_cie2000

    first, second = _colours(60, 3), _colours(400, 4)
    ours = ciede2000_matrix(first, second)
    theirs = np.array([delta_e_cie2000(lab, second) for lab in first])
    hue_sum, hue_gap = _hues(first[:, None], second[None])
    wrapped = (hue_gap > 180) & (hue_sum >= 360)
    assert 0 < wrapped.sum() < wrapped.size
    np.testing.assert_allclose(ours[~wrapped], theirs[~wrapped], rtol=0, atol=1e-9)
    np.testing.assert_allclose(ours, theirs, rtol=0, atol=2e-4)


def _hues(lab1: np.ndarray, lab2: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Sum and distance of the two hues h' of the formula, in degrees."""
    chroma = (np.hypot(*lab1[..., 1:].T).T + np.hypot(*lab2[..., 1:].T).T) / 2
    stretch = 1.5 - 0.5 * np.sqrt(chroma**7 / (chroma**7 + 25**7))
    hues = [
        np.degrees(np.arctan2(lab[..., 2], lab[..., 1] * stretch)) % 360 for lab in (lab1, lab2)
    ]
    return hues[0] + hues[1], np.abs(hues[0] - hues[1])


def test_properties() -> None:
    first, second = _colours(500, 5), _colours(500, 6)
    assert ciede2000(first, first).max() == 0
    np.testing.assert_allclose(ciede2000(first, second), ciede2000(second, first), atol=1e-9)
    assert ciede2000(first[0], second[0]) == ciede2000(first[:1], second[:1])[0]


def test_not_a_metric() -> None:
    """The reason why no search tree is used: a way round can be shorter."""
    ways = ciede2000_matrix(_colours(60, 7), _colours(60, 7))
    assert (ways[:, None] + ways.T[None] < ways[:, :, None] - 0.1).any()


def test_matrix_is_the_pairs() -> None:
    first, second = _colours(700, 8), _colours(150, 9)
    matrix = ciede2000_matrix(first, second)
    assert matrix.shape == (700, 150)
    np.testing.assert_allclose(matrix, ciede2000(first[:, None], second[None]), atol=1e-12)
    assert ciede2000_matrix(first[:0], second).shape == (0, 150)
    assert ciede2000_matrix(first, second[:0]).shape == (700, 0)


def test_float32_is_good_to_a_thousandth() -> None:
    first, second = _colours(500, 10), _colours(300, 11)
    rough = ciede2000_matrix(first.astype(np.float32), second.astype(np.float32))
    assert rough.dtype == np.float32
    assert np.abs(rough - ciede2000_matrix(first, second)).max() < 1e-3


def test_matrix_keeps_memory_near_its_result() -> None:
    first, second = _colours(4000, 12).astype(np.float32), _colours(300, 13).astype(np.float32)
    ciede2000_matrix(first[:2], second[:2])
    tracemalloc.start()
    matrix = ciede2000_matrix(first, second)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 3 * matrix.nbytes + 4e6
