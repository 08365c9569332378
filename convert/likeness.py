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
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Any, cast

import numpy as np
import numpy.typing as npt

Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.floating[Any]]

STRUCTURE_WEIGHT = 40.0
"""How many units of C a loss of all structure is worth."""

NEAR, FAR = 10.0, 20.0
"""Beads per degree of the two viewing distances; 11/0 beads at arm's length make about 4-5."""

# linear sRGB to XYZ (IEC 61966-2-1, six digits), XYZ to opponent channels [1]
_XYZ = np.array(
    [
        [0.412453, 0.357580, 0.180423],
        [0.212671, 0.715160, 0.072169],
        [0.019334, 0.119193, 0.950227],
    ]
)
_OPPONENT = np.array(
    [
        [0.2787336, 0.7218031, -0.1065520],
        [-0.4487736, 0.2898056, 0.0771569],
        [0.0859513, -0.5899859, 0.5011089],
    ]
)
_WHITE = np.array([0.95047, 1.0, 1.08883])
OPPONENT_FROM_LINEAR = (_OPPONENT @ _XYZ).astype(np.float32)
_WHITE_RATIO_FROM_OPPONENT = (np.linalg.inv(_OPPONENT) / _WHITE[:, None]).astype(np.float32)

# (full width at half maximum in degrees, weight) of the Gaussians of each channel [1]
EYE = (
    ((0.05, 1.00327), (0.225, 0.114416), (7.0, -0.117686)),
    ((0.0685, 0.616725), (0.826, 0.383275)),
    ((0.092, 0.567885), (0.6451, 0.432115)),
)
_FWHM = 2.3548  # full width at half maximum of a Gaussian of unit sigma


# -- filters -----------------------------------------------------------------------------------


@lru_cache(maxsize=256)
def _gaussian_transfer(length: int, sigma_px: float, reach_px: int, half: bool) -> Singles:
    """Transfer function of a sampled, cut off, normalised Gaussian on a ring of `length` px."""
    taps = np.arange(-reach_px, reach_px + 1)
    kernel = np.exp(-0.5 * (taps / sigma_px) ** 2)
    ring = np.bincount(taps % length, weights=kernel / kernel.sum(), minlength=length)
    # the kernel is even, so its transform is real
    transfer = np.fft.rfft(ring).real if half else np.fft.fft(ring).real
    return cast("Singles", transfer.astype(np.float32))


def gaussian_transfer(
    shape: tuple[int, int], sigma_px: tuple[float, float], reach_px: tuple[int, int]
) -> Singles:
    """Return the transfer function of a Gaussian on a torus.

    Parameters
    ----------
    shape : (H, W)
    sigma_px : (float, float)
        Down, across.
    reach_px : (int, int)
        The kernel is cut off beyond this many pixels.

    Returns
    -------
    (H, W // 2 + 1) float32
        To multiply with ``rfft2``.
    """
    down = _gaussian_transfer(shape[0], sigma_px[0], reach_px[0], False)
    across = _gaussian_transfer(shape[1], sigma_px[1], reach_px[1], True)
    return down[:, None] * across


@lru_cache(maxsize=64)
def eye_transfer(shape: tuple[int, int], px_per_degree: tuple[float, float]) -> Singles:
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


def run_filter(planes: Singles, transfer: Singles) -> Singles:
    """Filter planes (..., H, W) on the torus."""
    spectrum = np.fft.rfft2(planes)
    spectrum *= transfer
    return cast("Singles", np.fft.irfft2(spectrum, s=planes.shape[-2:]))


# -- colours -----------------------------------------------------------------------------------


def _cube_root(ratio: Singles) -> Singles:
    """CIE 1976 f(t) of tristimulus ratios."""
    # the power of e is much quicker than a cube root; below the linear part's end it is not used
    root = np.exp(np.log(np.maximum(ratio, np.float32(0.008856))) * np.float32(1 / 3))
    return cast(
        "Singles",
        np.where(ratio > 0.008856, root, np.float32(7.787) * ratio + np.float32(16 / 116)),
    )


def _lab(ratios: Singles) -> Singles:
    """CIE Lab (..., 3) from ratios to white, planes (..., 3, H, W)."""
    root = _cube_root(ratios)
    x, y, z = root[..., 0, :, :], root[..., 1, :, :], root[..., 2, :, :]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def linear_lab(linear: Singles) -> Singles:
    """Return CIE Lab (D65, 2°) of linear light (..., 3), quickly and to 0.01."""
    root = _cube_root(linear @ (_XYZ / _WHITE[:, None]).astype(np.float32).T)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lightness(linear: Singles) -> Singles:
    """Return L* of linear light (..., 3); shape (...)."""
    luminance = linear @ _XYZ[1].astype(np.float32)
    return cast("Singles", 116 * _cube_root(luminance) - 16)


def opponent(linear: Singles) -> Singles:
    """Return the opponent channels (..., 3) of linear light (..., 3)."""
    return linear @ OPPONENT_FROM_LINEAR.T


def seen_lab(opponents: Singles, transfer: Singles) -> Singles:
    """Return CIE Lab (..., H, W, 3) of opponent planes (..., 3, H, W) as the eye blurs them."""
    seen = run_filter(opponents, transfer)
    ratios = np.einsum("ij,...jhw->...ihw", _WHITE_RATIO_FROM_OPPONENT, seen, optimize=True)
    return _lab(cast("Singles", ratios))


# -- the measures ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Measures:
    """One set of measures.

    Attributes
    ----------
    colour : float
        C at 10 beads per degree, mean CIEDE2000.
    colour_95 : float
        Its 95th percentile.
    colour_far : float
        C at 20 beads per degree.
    structure : float
        S, up to 1.
    flip : float
        F at 10 beads per degree, 0..1.
    """

    colour: float
    colour_95: float
    colour_far: float
    structure: float
    flip: float

    @property
    def score(self) -> float:
        """J, lower is better."""
        return self.colour + STRUCTURE_WEIGHT * (1 - self.structure)


@dataclass(frozen=True)
class Likeness:
    """The measures over the whole tile and over the motif alone."""

    whole: Measures
    motif: Measures

    @property
    def score(self) -> float:
        """J over the motif."""
        return self.motif.score


def bead_planes(linear: Singles) -> Singles:
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
        linear: Singles,
        px_per_bead: tuple[float, float],
        weight: Singles | None = None,
    ) -> None:
        self.linear = np.asarray(linear, dtype=np.float32)
        self.shape = (int(linear.shape[0]), int(linear.shape[1]))
        self.px_per_bead = px_per_bead
        weight = np.ones(self.shape, dtype=np.float32) if weight is None else weight
        self.weight = (weight / weight.sum()).astype(np.float32)
        sigma = (0.5 * px_per_bead[0], 0.5 * px_per_bead[1])
        self._smooth = gaussian_transfer(self.shape, sigma, _reach(sigma, 4.0))
        self._window = gaussian_transfer(self.shape, sigma, _reach(sigma, 3.5))
        self._planes = np.moveaxis(bead_planes(self.linear), -1, 0)
        self._seen: dict[float, Singles] = {}

    def transfer(self, beads_per_degree: float) -> Singles:
        """Return the eye's transfer functions at a viewing distance."""
        down, across = self.px_per_bead
        return eye_transfer(self.shape, (beads_per_degree * down, beads_per_degree * across))

    def seen(self, beads_per_degree: float) -> Singles:
        """Return the sketch's CIE Lab as the eye blurs it, (H, W, 3)."""
        if beads_per_degree not in self._seen:
            lab = seen_lab(self._planes[:3], self.transfer(beads_per_degree))
            self._seen[beads_per_degree] = lab
        return self._seen[beads_per_degree]

    @cached_property
    def _structure(self) -> tuple[Singles, Singles, Singles]:
        return self._moments(self._planes[3])

    def _moments(self, lightnesses: Singles) -> tuple[Singles, Singles, Singles]:
        """L* smoothed, its local mean and its local variance."""
        spectrum = np.fft.rfft2(lightnesses)
        spectrum *= self._smooth
        smooth = np.fft.irfft2(spectrum, s=self.shape)
        spectrum *= self._window
        mean = np.fft.irfft2(spectrum, s=self.shape)
        return smooth, mean, run_filter(smooth**2, self._window) - mean**2

    def colour_map(self, opponents: Singles, beads_per_degree: float = NEAR) -> Singles:
        """Return CIEDE2000 per pixel, (..., H, W), of opponent planes (..., 3, H, W)."""
        from ..palette.difference import ciede2000

        lab = seen_lab(opponents, self.transfer(beads_per_degree))
        ours = self.seen(beads_per_degree)
        return cast("Singles", ciede2000(ours.reshape((1,) * (lab.ndim - 3) + ours.shape), lab))

    def structure_map(self, lightnesses: Singles) -> Singles:
        """Return the structural similarity per pixel of L* planes (..., H, W)."""
        ours, mean, variance = self._structure
        smooth, their_mean, their_variance = self._moments(lightnesses)
        smooth *= ours
        both = run_filter(smooth, self._window) - mean * their_mean
        small1, small2 = np.float32((0.01 * 100) ** 2), np.float32((0.03 * 100) ** 2)
        means = mean * their_mean * 2 + small1
        return (means * (2 * both + small2)) / (
            (mean**2 + their_mean**2 + small1) * (variance + their_variance + small2)
        )

    def loss_map(self, planes: Singles) -> Singles:
        """Return each pixel's part of J, (..., H, W), of planes (..., 4, H, W); see `bead_planes`.

        The parts add up to J, weighted.
        """
        loss = self.structure_map(planes[..., 3, :, :])
        loss = self.colour_map(planes[..., :3, :, :]) + np.float32(STRUCTURE_WEIGHT) * (1 - loss)
        return loss * self.weight

    def measure(self, linear: Singles, motif: npt.NDArray[np.bool_] | None = None) -> Likeness:
        """Return the measures of beads drawn in linear light.

        Parameters
        ----------
        linear : (H, W, 3) float32
        motif : (H, W) bool, optional
            Where the motif lies; everywhere if left out or empty.
        """
        from .flip import flip_map

        planes = np.moveaxis(bead_planes(linear), -1, 0)
        near, far = (self.colour_map(planes[:3], distance) for distance in (NEAR, FAR))
        structure = self.structure_map(planes[3])
        down, across = self.px_per_bead
        flip = flip_map(self.linear, linear, (NEAR * down, NEAR * across))
        everywhere = np.ones(self.shape, dtype=bool)
        if motif is None or not motif.any():
            motif = everywhere
        whole, inside = (
            Measures(
                colour=float(near[where].mean()),
                colour_95=float(np.percentile(near[where], 95)),
                colour_far=float(far[where].mean()),
                structure=float(structure[where].mean()),
                flip=float(flip[where].mean()),
            )
            for where in (everywhere, motif)
        )
        return Likeness(whole, inside)


def _reach(sigma_px: Sequence[float], times: float) -> tuple[int, int]:
    return int(times * sigma_px[0] + 0.5), int(times * sigma_px[1] + 0.5)
