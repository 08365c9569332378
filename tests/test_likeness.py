"""The measures against outside references: scikit-image, FLIP's authors' package, plain sums."""

from __future__ import annotations

import numpy as np
import pytest
from himotif.convert.fit.comparison import EYE, Comparison, bead_planes, eye_transfer
from himotif.convert.judge.flip import flip_map
from himotif.convert.judge.likeness import measure
from himotif.convert.read.filters import gaussian_transfer, run_filter
from himotif.core.arrays import Float32Array, Floats
from himotif.core.srgb import decode_srgb
from himotif.palette.quick_colour import linear_lab, quick_ciede2000
from skimage.color import deltaE_ciede2000, rgb2lab, rgb2xyz, xyz2lab
from skimage.metrics import structural_similarity

# linear RGB of sRGB to XYZ comes from scikit-image; XYZ to opponent channels as published by
# Zhang & Wandell (SID Digest 27, 1996)
OPPONENT = np.array(
    [
        [0.2787336, 0.7218031, -0.1065520],
        [-0.4487736, 0.2898056, 0.0771569],
        [0.0859513, -0.5899859, 0.5011089],
    ]
)


def patches(seed: int, rows: int = 6, columns: int = 5, px: int = 8) -> Floats:
    """Random sRGB patches, (rows*px, columns*px, 3)."""
    random = np.random.default_rng(seed).random((rows, columns, 3))
    return np.kron(random, np.ones((px, px, 1)))


def nearby(srgb: Floats, seed: int) -> Floats:
    noise = np.random.default_rng(seed).normal(0, 0.15, (srgb.shape[0] // 4, srgb.shape[1] // 4, 3))
    return np.clip(srgb + np.kron(noise, np.ones((4, 4, 1))), 0, 1)


def linear(srgb: Floats) -> Float32Array:
    return decode_srgb(srgb).astype(np.float32)


def test_lab_agrees_with_scikit_image() -> None:
    srgb = np.random.default_rng(0).random((40, 50, 3))
    assert linear_lab(linear(srgb)) == pytest.approx(rgb2lab(srgb), abs=0.02)
    black_and_white = np.array([[[0.0, 0, 0], [1, 1, 1], [0.02, 0.01, 0.0]]])
    assert linear_lab(linear(black_and_white)) == pytest.approx(rgb2lab(black_and_white), abs=0.03)


def test_the_quick_colour_difference_is_ciede2000() -> None:
    random = np.random.default_rng(1)
    first = random.uniform([0, -90, -90], [100, 90, 90], (20_000, 3))
    near = first + random.normal(0, 6, first.shape)
    grey = first * [1, 0, 0]
    for second in (near, random.permutation(first), grey):
        pair = first.astype(np.float32), second.astype(np.float32)
        ours = quick_ciede2000(*(list(lab.T) for lab in pair))
        apart = np.abs(ours - deltaE_ciede2000(first, second))
        # the formula itself jumps where hues lie opposite; few pairs do
        assert np.quantile(apart, 0.999) < 0.02
        assert np.median(apart) < 1e-4


def test_the_quick_colour_difference_on_the_published_pairs() -> None:
    # three of the 34 pairs of Sharma, Wu & Dalal 2005, table 1: blue, near grey, dark
    pairs = [
        ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
        ([50.0, -1.0, 2.0], [50.0, 0.0, 0.0], 2.3669),
        ([2.0776, 0.0795, -1.1350], [0.9033, -0.0636, -0.5514], 0.9082),
    ]
    for first, second, expected in pairs:
        labs = [[np.float32([value]) for value in lab] for lab in (first, second)]
        assert float(quick_ciede2000(*labs)[0]) == pytest.approx(expected, abs=2e-3)


def dense_blur(plane: Floats, gaussians: tuple[tuple[float, float], ...], degree: int) -> Floats:
    """The published filter as a plain sum over shifted pictures, on the torus."""
    half = degree // 2
    taps = np.arange(-half, half + 1)
    kernel = np.zeros((len(taps), len(taps)))
    for width, weight in gaussians:
        sigma = width * degree / 2.3548
        one = np.exp(-(taps[:, None] ** 2 + taps[None, :] ** 2) / (2 * sigma**2))
        kernel += weight * one / one.sum()
    kernel /= kernel.sum()
    out = np.zeros_like(plane)
    for i, down in enumerate(taps):
        for j, across in enumerate(taps):
            out += kernel[i, j] * np.roll(plane, (down, across), axis=(0, 1))
    return out


def test_colour_is_s_cielab_with_ciede2000() -> None:
    first, second = patches(1, 3, 3), nearby(patches(1, 3, 3), 2)
    degree = 24  # pixels: 10 beads of 2.4 pixels
    labs = []
    for srgb in (first, second):
        opponent = rgb2xyz(srgb) @ OPPONENT.T
        seen = np.stack([dense_blur(opponent[..., k], EYE[k], degree) for k in range(3)], axis=-1)
        labs.append(xyz2lab(seen @ np.linalg.inv(OPPONENT).T))
    expected = deltaE_ciede2000(*labs)
    comparison = Comparison(linear(first), (2.4, 2.4))
    planes = np.moveaxis(bead_planes(linear(second)), -1, 0)
    ours = comparison.colour_map(planes[:3])
    # single precision, and Lab by logarithms: a few thousandths, more where hues lie opposite
    assert ours.mean() == pytest.approx(expected.mean(), rel=1e-3)
    assert np.abs(ours - expected).max() < 0.1


def test_the_published_weights_of_the_eye_filters() -> None:
    # each channel passes even colour unchanged: its weights add up to 1 as published
    for channel, gaussians in enumerate(EYE):
        assert sum(weight for _, weight in gaussians) == pytest.approx(1, abs=2e-5)
        transfer = eye_transfer((90, 50), (90.0, 90.0))[channel]
        assert transfer[0, 0] == pytest.approx(1, abs=1e-6)


def test_structure_is_scikit_images_structural_similarity() -> None:
    first, second = patches(3), nearby(patches(3), 4)
    px = 6.0
    comparison = Comparison(linear(first), (px, px))
    planes = np.moveaxis(bead_planes(linear(second)), -1, 0)
    ours = comparison.structure_map(planes[3])
    around = 24
    smoothed = []
    for srgb in (first, second):
        light = rgb2lab(srgb)[..., 0]
        transfer = gaussian_transfer(light.shape, (px / 2, px / 2), (12, 12))
        smoothed.append(np.pad(run_filter(light, transfer), around, mode="wrap"))
    _, expected = structural_similarity(
        *smoothed,
        data_range=100,
        gaussian_weights=True,
        sigma=px / 2,
        use_sample_covariance=False,
        full=True,
    )
    expected = expected[around:-around, around:-around]
    assert np.abs(ours - expected).max() < 2e-3
    assert ours.mean() == pytest.approx(expected.mean(), abs=2e-4)


def test_flip_is_the_authors_flip() -> None:
    import flip_evaluator

    first, second = patches(5), nearby(patches(5), 6)
    # tiled three by three the middle does not feel the border
    pair = [np.tile(srgb, (3, 3, 1)).astype(np.float32) for srgb in (first, second)]
    error, _, _ = flip_evaluator.evaluate(*pair, "LDR", applyMagma=False, parameters={"ppd": 60.0})
    expected = np.squeeze(error)[48:96, 40:80]
    ours = flip_map(decode_srgb(first), decode_srgb(second), (60.0, 60.0))
    assert np.abs(ours - expected).max() < 1e-4


def test_the_same_picture_is_no_different() -> None:
    srgb = patches(7)
    likeness = measure(Comparison(linear(srgb), (8.0, 8.0)), linear(srgb))
    assert likeness.whole.colour == pytest.approx(0, abs=1e-3)
    assert likeness.whole.structure == pytest.approx(1, abs=1e-5)
    assert likeness.whole.flip == pytest.approx(0, abs=1e-6)
    assert likeness.score == pytest.approx(0, abs=2e-3)


def test_the_torus_has_no_seam() -> None:
    first, second = patches(8), nearby(patches(8), 9)
    here = measure(Comparison(linear(first), (8.0, 8.0)), linear(second))
    moved = [np.roll(linear(srgb), (13, 21), axis=(0, 1)) for srgb in (first, second)]
    there = measure(Comparison(moved[0], (8.0, 8.0)), moved[1])
    assert there.score == pytest.approx(here.score, rel=1e-4)
    assert there.whole.flip == pytest.approx(here.whole.flip, rel=1e-6)


def test_a_lost_thin_line_shows_in_structure_more_than_in_colour() -> None:
    # what is known of these measures: mean colour hardly notices a deleted thin line
    sketch = np.full((80, 80, 3), 0.9)
    sketch[10:30, 10:60] = [0.2, 0.3, 0.6]
    line = sketch.copy()
    line[55:57, 5:75] = 0.1
    likeness = measure(Comparison(linear(line), (8.0, 8.0)), linear(sketch))
    assert 40 * (1 - likeness.whole.structure) > likeness.whole.colour


def test_the_motif_counts_by_itself() -> None:
    first = np.full((40, 40, 3), 0.8)
    second = first.copy()
    second[10:20, 10:20] = 0.2
    motif = np.zeros((40, 40), dtype=bool)
    motif[5:25, 5:25] = True
    likeness = measure(Comparison(linear(first), (8.0, 8.0)), linear(second), motif)
    assert likeness.motif.colour > 3 * likeness.whole.colour
    assert likeness.motif.structure < likeness.whole.structure


def test_the_loss_map_adds_up_to_the_score() -> None:
    first, second = patches(11), nearby(patches(11), 12)
    weight = np.random.default_rng(0).random(first.shape[:2]).astype(np.float32)
    comparison = Comparison(linear(first), (8.0, 8.0), weight)
    planes = np.moveaxis(bead_planes(linear(second)), -1, 0)
    colour, structure = comparison.colour_map(planes[:3]), comparison.structure_map(planes[3])
    expected = np.average(colour + 40 * (1 - structure), weights=weight)
    assert comparison.loss_map(planes).sum() == pytest.approx(expected, rel=1e-4)
    # several pictures at once give what each gives alone
    both = np.stack([planes, np.roll(planes, 5, axis=-1)])
    assert comparison.loss_map(both)[0] == pytest.approx(comparison.loss_map(planes), abs=1e-6)
