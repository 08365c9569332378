"""How much the beads read like the sketch: colour C, structure S, and the score J.

Sketch and beads are compared on a raster that closes on itself both ways (a tile of the unrolled
braid), so every filter is a product in the frequency domain and no border needs a rule.

C  S-CIELAB with CIEDE2000 [1]: both pictures are blurred as the eye blurs them at a distance from
   which so many beads make one degree, then compared colour by colour.
S  structural similarity [2] of lightness L* after a Gaussian of half a bead pitch.
J  ``C at 10 beads per degree + 40·(1 - S)``; lower is better.

References
----------
[1] X. Zhang, B. A. Wandell, "A spatial extension of CIELAB for digital color image
    reproduction", SID Digest 27 (1996) 731-734.
[2] Z. Wang, A. C. Bovik, H. R. Sheikh, E. P. Simoncelli, IEEE Trans. Image Processing 13 (2004)
    600-612, doi:10.1109/TIP.2003.819861.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import cast

import numpy as np

from ...core.arrays import Float32Array
from ...palette import D65_WHITE, XYZ_FROM_LINEAR, cube_root, lightness, quick_ciede2000
from ..read import gaussian_transfer, run_filter

STRUCTURE_WEIGHT = 40.0
"""How many units of C a loss of all structure is worth."""

NEAR, FAR = 10.0, 20.0
"""Beads per degree of the two viewing distances; 11/0 beads at arm's length make about 4-5."""

# XYZ to light, red-green, blue-yellow [1]
_OPPONENT = np.array(
    [
        [0.2787336, 0.7218031, -0.1065520],
        [-0.4487736, 0.2898056, 0.0771569],
        [0.0859513, -0.5899859, 0.5011089],
    ]
)
OPPONENT_FROM_LINEAR = (_OPPONENT @ XYZ_FROM_LINEAR).astype(np.float32)
_WHITE_RATIO_FROM_OPPONENT = (np.linalg.inv(_OPPONENT) / D65_WHITE[:, None]).astype(np.float32)

# (full width at half maximum in degrees, weight) of the Gaussians of each channel [1]
EYE = (
    ((0.05, 1.00327), (0.225, 0.114416), (7.0, -0.117686)),
    ((0.0685, 0.616725), (0.826, 0.383275)),
    ((0.092, 0.567885), (0.6451, 0.432115)),
)
_FWHM = 2.3548  # full width at half maximum of a Gaussian of unit sigma


# -- filters -----------------------------------------------------------------------------------


@lru_cache(maxsize=64)
def eye_transfer(shape: tuple[int, int], px_per_degree: tuple[float, float]) -> Float32Array:
    """Return the transfer functions of the eye's three opponent channels, (3, H, W // 2 + 1).

    Each is a weighted sum of separable Gaussians, cut off at half a degree.
    """
    reach = (int(px_per_degree[0] // 2), int(px_per_degree[1] // 2))
    channels = []
    for gaussians in EYE:
        total = sum(weight for _, weight in gaussians)
        channels.append(
            sum(
                np.float32(weight / total)
                * gaussian_transfer(
                    shape,
                    (fwhm / _FWHM * px_per_degree[0], fwhm / _FWHM * px_per_degree[1]),
                    reach,
                )
                for fwhm, weight in gaussians
            )
        )
    return np.stack(channels).astype(np.float32)


# -- colours -----------------------------------------------------------------------------------


def lab_of_opponents(opponents: Float32Array) -> list[Float32Array]:
    """Return L*, a*, b*, (..., H, W) each, of opponent planes (..., 3, H, W)."""
    planes = [opponents[..., k, :, :] for k in range(3)]
    x, y, z = (
        cube_root(row[0] * planes[0] + row[1] * planes[1] + row[2] * planes[2])
        for row in _WHITE_RATIO_FROM_OPPONENT
    )
    return [116 * y - 16, 500 * (x - y), 200 * (y - z)]


def opponent(linear: Float32Array) -> Float32Array:
    """Return the opponent channels (..., 3) of linear light (..., 3)."""
    return np.asarray(linear @ OPPONENT_FROM_LINEAR.T)


# -- the measures ------------------------------------------------------------------------------


def bead_planes(linear: Float32Array) -> Float32Array:
    """Return what the comparison looks at: opponent channels and L*, (..., 4), of linear light."""
    return np.concatenate([opponent(linear), lightness(linear)[..., None]], axis=-1)


class Comparison:
    """A sketch to compare beads with; all that depends on the sketch alone is kept.

    Parameters
    ----------
    linear : (H, W, 3) float32
        The sketch in linear light, on a torus.
    px_per_bead : (float, float)
        Raster pixels per bead pitch, down and across.
    weight : (H, W) float, optional
        How much each pixel counts in the score; all alike if left out.
    """

    def __init__(
        self,
        linear: Float32Array,
        px_per_bead: tuple[float, float],
        weight: Float32Array | None = None,
    ) -> None:
        self.linear = np.asarray(linear, dtype=np.float32)
        self.shape = (int(linear.shape[0]), int(linear.shape[1]))
        self.px_per_bead = px_per_bead
        weight = np.ones(self.shape, dtype=np.float32) if weight is None else weight
        self.weight = (weight / weight.sum()).astype(np.float32)
        self._sigma = (0.5 * px_per_bead[0], 0.5 * px_per_bead[1])
        self._smooth = gaussian_transfer(self.shape, self._sigma, _reach(self._sigma, 4.0))
        self._window = gaussian_transfer(self.shape, self._sigma, _reach(self._sigma, 3.5))
        planes = np.moveaxis(bead_planes(self.linear), -1, 0)
        self._opponents = np.ascontiguousarray(planes[:3])
        self.smooth, self.mean, self.square = self._moments(planes[3])
        self._seen: dict[float, Float32Array] = {}

    # -- what the sketch is under the filters ----------------------------------------------------

    def transfer(self, beads_per_degree: float) -> Float32Array:
        """Return the eye's transfer functions at a viewing distance."""
        down, across = self.px_per_bead
        return eye_transfer(self.shape, (beads_per_degree * down, beads_per_degree * across))

    def seen(self, beads_per_degree: float = NEAR) -> Float32Array:
        """Return the sketch's L*, a*, b* as the eye blurs it, (3, H, W)."""
        if beads_per_degree not in self._seen:
            blurred = run_filter(self._opponents, self.transfer(beads_per_degree))
            self._seen[beads_per_degree] = np.stack(lab_of_opponents(blurred))
        return self._seen[beads_per_degree]

    def _moments(
        self, lightnesses: Float32Array
    ) -> tuple[Float32Array, Float32Array, Float32Array]:
        """L* smoothed, its local mean and its local mean square."""
        spectrum = np.fft.rfft2(lightnesses)
        spectrum *= self._smooth
        smooth = cast("Float32Array", np.fft.irfft2(spectrum, s=self.shape))
        spectrum *= self._window
        mean = cast("Float32Array", np.fft.irfft2(spectrum, s=self.shape))
        return smooth, mean, run_filter(smooth**2, self._window)

    # -- for changing beads one by one -----------------------------------------------------------

    def kernels(self) -> Float32Array:
        """Return the eye's three kernels, the smoothing and twice the smoothing, (5, H, W)."""
        transfers = [*self.transfer(NEAR), self._smooth, self._smooth * self._window]
        return np.stack([np.fft.irfft2(t.astype(np.complex64), s=self.shape) for t in transfers])

    def window_matrices(self, high: int, wide: int) -> tuple[Float32Array, Float32Array]:
        """Return the smoothing window along columns of `high` and rows of `wide` pixels."""
        matrices = []
        for size, sigma in zip((high, wide), self._sigma, strict=True):
            apart = np.abs(np.arange(size)[:, None] - np.arange(size))
            reach = int(3.5 * sigma + 0.5)
            total = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2).sum()
            kernel = np.where(apart <= reach, np.exp(-0.5 * (apart / sigma) ** 2) / total, 0)
            matrices.append(kernel.astype(np.float32))
        return matrices[0], matrices[1]

    def seen_opponents(self, opponents: Float32Array) -> Float32Array:
        """Return opponent planes (..., 3, H, W) as the eye blurs them from near."""
        return run_filter(opponents, self.transfer(NEAR))

    def moments_with(
        self, lightnesses: Float32Array
    ) -> tuple[Float32Array, Float32Array, Float32Array, Float32Array]:
        """Return L* smoothed, its local mean and mean square, and that of its product with ours."""
        smooth, mean, square = self._moments(lightnesses)
        return smooth, mean, square, run_filter(smooth * self.smooth, self._window)

    def loss_of(
        self, seen: Float32Array, mean: Float32Array, square: Float32Array, both: Float32Array
    ) -> Float32Array:
        """Return each pixel's part of J from filtered planes."""
        colour = quick_ciede2000(self.seen(), lab_of_opponents(seen))
        structure = structure_of(self.mean, self.square, mean, square, both)
        loss = colour + np.float32(STRUCTURE_WEIGHT) * (1 - structure)
        return cast("Float32Array", loss * self.weight)

    # -- whole pictures --------------------------------------------------------------------------

    def colour_map(self, opponents: Float32Array, beads_per_degree: float = NEAR) -> Float32Array:
        """Return CIEDE2000 per pixel, (H, W), of opponent planes (3, H, W)."""
        from ...palette import ciede2000

        lab = lab_of_opponents(run_filter(opponents, self.transfer(beads_per_degree)))
        ours = np.moveaxis(self.seen(beads_per_degree), 0, -1)
        return cast("Float32Array", ciede2000(ours, np.stack(lab, axis=-1)))

    def structure_map(self, lightnesses: Float32Array) -> Float32Array:
        """Return the structural similarity per pixel of L* planes (..., H, W)."""
        _, mean, square, both = self.moments_with(lightnesses)
        return structure_of(self.mean, self.square, mean, square, both)

    def loss_map(self, planes: Float32Array) -> Float32Array:
        """Return each pixel's part of J, (..., H, W), of planes (..., 4, H, W); see `bead_planes`.

        The parts add up to J, weighted.
        """
        seen = self.seen_opponents(planes[..., :3, :, :])
        _, mean, square, both = self.moments_with(planes[..., 3, :, :])
        return self.loss_of(seen, mean, square, both)


def structure_of(
    mean1: Float32Array,
    square1: Float32Array,
    mean2: Float32Array,
    square2: Float32Array,
    both: Float32Array,
) -> Float32Array:
    """Return the structural similarity from local means, mean squares and mean product."""
    small1, small2 = np.float32((0.01 * 100) ** 2), np.float32((0.03 * 100) ** 2)
    product = mean1 * mean2
    squares1, squares2 = mean1**2, mean2**2
    # rounding, and windows that are cut off, may leave a little less than nothing
    variances = np.maximum((square1 - squares1) + (square2 - squares2), 0)
    numerator = (2 * product + small1) * (2 * (both - product) + small2)
    return np.asarray(numerator / ((squares1 + squares2 + small1) * (variances + small2)))


def _reach(sigma_px: Sequence[float], times: float) -> tuple[int, int]:
    return int(times * sigma_px[0] + 0.5), int(times * sigma_px[1] + 0.5)
