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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
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


def lab_of_opponents(opponents: Singles) -> list[Singles]:
    """Return L*, a*, b*, (..., H, W) each, of opponent planes (..., 3, H, W)."""
    planes = [opponents[..., k, :, :] for k in range(3)]
    x, y, z = (
        _cube_root(row[0] * planes[0] + row[1] * planes[1] + row[2] * planes[2])
        for row in _WHITE_RATIO_FROM_OPPONENT
    )
    return [116 * y - 16, 500 * (x - y), 200 * (y - z)]


def linear_lab(linear: Singles) -> Singles:
    """Return CIE Lab (D65, 2°) of linear light (..., 3), quickly and to 0.01."""
    root = _cube_root(linear @ (_XYZ / _WHITE[:, None]).astype(np.float32).T)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lightness(linear: Singles) -> Singles:
    """Return L* of linear light (..., 3); shape (...)."""
    luminance = linear @ _XYZ[1].astype(np.float32)
    return 116 * _cube_root(luminance) - 16


def opponent(linear: Singles) -> Singles:
    """Return the opponent channels (..., 3) of linear light (..., 3)."""
    return np.asarray(linear @ OPPONENT_FROM_LINEAR.T)


_CHROMA_25_7 = np.float32(25.0**7)
_HUE_275 = (np.float32(np.cos(np.deg2rad(275))), np.float32(np.sin(np.deg2rad(275))))
_TURNS = tuple(
    (np.float32(np.cos(np.deg2rad(turn))), np.float32(np.sin(np.deg2rad(turn))))
    for turn in (30, 6, 63)
)


def quick_ciede2000(lab1: Iterable[Singles], lab2: Iterable[Singles]) -> Singles:
    """Return CIEDE2000 of Lab planes, for searching: three times as quick as scikit-image's.

    The formula as it stands, with every function of the mean hue worked out from the hue's
    direction instead of its angle. Good to 0.01; what is reported is measured with
    `himotif.palette.difference.ciede2000`.

    Parameters
    ----------
    lab1, lab2 : three float32 arrays each, shapes that broadcast
        L*, a*, b*.

    References
    ----------
    G. Sharma, W. Wu, E. N. Dalal, Color Res. Appl. 30 (2005) 21-30, doi:10.1002/col.20070; the
    numbers of its equations stand beside the lines.
    """
    (l1, a1, b1), (l2, a2, b2) = lab1, lab2
    # equations (2), (3): chroma and its mean
    chroma = (np.sqrt(a1 * a1 + b1 * b1) + np.sqrt(a2 * a2 + b2 * b2)) * np.float32(0.5)
    seventh = _seventh_power(chroma)
    # (4), (5): `wider` is 1 + G
    wider = np.float32(1.5) - np.float32(0.5) * np.sqrt(seventh / (seventh + _CHROMA_25_7))
    a1, a2 = a1 * wider, a2 * wider
    # (6)
    chroma1, chroma2 = np.sqrt(a1 * a1 + b1 * b1), np.sqrt(a2 * a2 + b2 * b2)
    tiny = np.float32(1e-6)
    over1, over2 = 1 / (chroma1 + tiny), 1 / (chroma2 + tiny)
    # (7), (14): the direction half way between the two hues
    cosine, sine = a1 * over1 + a2 * over2, b1 * over1 + b2 * over2
    over = 1 / (np.sqrt(cosine * cosine + sine * sine) + tiny)
    cosine, sine = cosine * over, sine * over
    cos2, sin2 = 2 * cosine * cosine - 1, 2 * sine * cosine
    cos3, sin3 = cosine * (2 * cos2 - 1), sine * (2 * cos2 + 1)
    cos4, sin4 = 2 * cos2 * cos2 - 1, 2 * sin2 * cos2
    # (15): T
    (c30, s30), (c6, s6), (c63, s63) = _TURNS
    hue_weight = (
        1
        - np.float32(0.17) * (c30 * cosine + s30 * sine)
        + np.float32(0.24) * cos2
        + np.float32(0.32) * (c6 * cos3 - s6 * sin3)
        - np.float32(0.20) * (c63 * cos4 + s63 * sin4)
    )
    # (12), (13): mean lightness, less 50 and squared, and mean chroma
    middle = (l1 + l2) * np.float32(0.5) - 50
    middle *= middle
    chroma = (chroma1 + chroma2) * np.float32(0.5)
    # (8), (9), each over its weight, (18), (19)
    light = (l2 - l1) / (1 + np.float32(0.015) * middle / np.sqrt(20 + middle))
    colour = (chroma2 - chroma1) / (1 + np.float32(0.045) * chroma)
    # (10), (11): the square of the hue difference by the cosine rule; over its weight, (20)
    hue2 = np.maximum(2 * (chroma1 * chroma2 - a1 * a2 - b1 * b2), 0)
    hue = np.copysign(np.sqrt(hue2), a1 * b2 - a2 * b1)
    hue /= 1 + np.float32(0.015) * chroma * hue_weight
    # (16), as a part of its 30 degrees: the square of the angle from 275 degrees, in radians, is
    # found from its cosine
    near = 1 - (_HUE_275[0] * cosine + _HUE_275[1] * sine)
    square = near * (2 + near * (np.float32(1 / 3) + near * np.float32(4 / 45)))
    turned = np.exp(square * np.float32(-((180 / np.pi / 25) ** 2)))
    # (17), (21)
    seventh = _seventh_power(chroma)
    rotation = 2 * np.sqrt(seventh / (seventh + _CHROMA_25_7))
    rotation *= np.sin(turned * np.float32(np.deg2rad(60)))
    # (22)
    total = light * light + colour * colour + hue * hue - rotation * colour * hue
    return cast("Singles", np.sqrt(np.maximum(total, 0)))


def _seventh_power(value: Singles) -> Singles:
    square = value * value
    return np.asarray(square * square * square * value)


# -- the measures ------------------------------------------------------------------------------


@dataclass(frozen=True)
class Measures:
    """One set of measures.

    Attributes
    ----------
    colour : float
        C at 10 beads per degree, mean CIEDE2000.
    colour_far : float
        C at 20 beads per degree.
    structure : float
        S, up to 1.
    flip : float
        F at 10 beads per degree, 0..1.
    """

    colour: float
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
        """J over the whole tile."""
        return self.whole.score


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
        self._sigma = (0.5 * px_per_bead[0], 0.5 * px_per_bead[1])
        self._smooth = gaussian_transfer(self.shape, self._sigma, _reach(self._sigma, 4.0))
        self._window = gaussian_transfer(self.shape, self._sigma, _reach(self._sigma, 3.5))
        planes = np.moveaxis(bead_planes(self.linear), -1, 0)
        self._opponents = np.ascontiguousarray(planes[:3])
        self.smooth, self.mean, self.square = self._moments(planes[3])
        self._seen: dict[float, Singles] = {}

    # -- what the sketch is under the filters ----------------------------------------------------

    def transfer(self, beads_per_degree: float) -> Singles:
        """Return the eye's transfer functions at a viewing distance."""
        down, across = self.px_per_bead
        return eye_transfer(self.shape, (beads_per_degree * down, beads_per_degree * across))

    def seen(self, beads_per_degree: float = NEAR) -> Singles:
        """Return the sketch's L*, a*, b* as the eye blurs it, (3, H, W)."""
        if beads_per_degree not in self._seen:
            blurred = run_filter(self._opponents, self.transfer(beads_per_degree))
            self._seen[beads_per_degree] = np.stack(lab_of_opponents(blurred))
        return self._seen[beads_per_degree]

    def _moments(self, lightnesses: Singles) -> tuple[Singles, Singles, Singles]:
        """L* smoothed, its local mean and its local mean square."""
        spectrum = np.fft.rfft2(lightnesses)
        spectrum *= self._smooth
        smooth = cast("Singles", np.fft.irfft2(spectrum, s=self.shape))
        spectrum *= self._window
        mean = cast("Singles", np.fft.irfft2(spectrum, s=self.shape))
        return smooth, mean, run_filter(smooth**2, self._window)

    # -- for changing beads one by one -----------------------------------------------------------

    def kernels(self) -> Singles:
        """Return the eye's three kernels, the smoothing and twice the smoothing, (5, H, W)."""
        transfers = [*self.transfer(NEAR), self._smooth, self._smooth * self._window]
        return np.stack([np.fft.irfft2(t.astype(np.complex64), s=self.shape) for t in transfers])

    def window_matrices(self, high: int, wide: int) -> tuple[Singles, Singles]:
        """Return the smoothing window along columns of `high` and rows of `wide` pixels."""
        matrices = []
        for size, sigma in zip((high, wide), self._sigma, strict=True):
            apart = np.abs(np.arange(size)[:, None] - np.arange(size))
            reach = int(3.5 * sigma + 0.5)
            total = np.exp(-0.5 * (np.arange(-reach, reach + 1) / sigma) ** 2).sum()
            kernel = np.where(apart <= reach, np.exp(-0.5 * (apart / sigma) ** 2) / total, 0)
            matrices.append(kernel.astype(np.float32))
        return matrices[0], matrices[1]

    def seen_opponents(self, opponents: Singles) -> Singles:
        """Return opponent planes (..., 3, H, W) as the eye blurs them from near."""
        return run_filter(opponents, self.transfer(NEAR))

    def moments_with(self, lightnesses: Singles) -> tuple[Singles, Singles, Singles, Singles]:
        """Return L* smoothed, its local mean and mean square, and that of its product with ours."""
        smooth, mean, square = self._moments(lightnesses)
        return smooth, mean, square, run_filter(smooth * self.smooth, self._window)

    def loss_of(self, seen: Singles, mean: Singles, square: Singles, both: Singles) -> Singles:
        """Return each pixel's part of J from filtered planes."""
        colour = quick_ciede2000(self.seen(), lab_of_opponents(seen))
        structure = structure_of(self.mean, self.square, mean, square, both)
        loss = colour + np.float32(STRUCTURE_WEIGHT) * (1 - structure)
        return cast("Singles", loss * self.weight)

    # -- whole pictures --------------------------------------------------------------------------

    def colour_map(self, opponents: Singles, beads_per_degree: float = NEAR) -> Singles:
        """Return CIEDE2000 per pixel, (H, W), of opponent planes (3, H, W)."""
        from ...palette.difference import ciede2000

        lab = lab_of_opponents(run_filter(opponents, self.transfer(beads_per_degree)))
        ours = np.moveaxis(self.seen(beads_per_degree), 0, -1)
        return cast("Singles", ciede2000(ours, np.stack(lab, axis=-1)))

    def structure_map(self, lightnesses: Singles) -> Singles:
        """Return the structural similarity per pixel of L* planes (..., H, W)."""
        _, mean, square, both = self.moments_with(lightnesses)
        return structure_of(self.mean, self.square, mean, square, both)

    def loss_map(self, planes: Singles) -> Singles:
        """Return each pixel's part of J, (..., H, W), of planes (..., 4, H, W); see `bead_planes`.

        The parts add up to J, weighted.
        """
        seen = self.seen_opponents(planes[..., :3, :, :])
        _, mean, square, both = self.moments_with(planes[..., 3, :, :])
        return self.loss_of(seen, mean, square, both)

    def measure(
        self, linear: Singles, motif: npt.NDArray[np.bool_] | None = None, *, flip: bool = True
    ) -> Likeness:
        """Return the measures of beads drawn in linear light.

        Parameters
        ----------
        linear : (H, W, 3) float32
        motif : (H, W) bool, optional
            Where the motif lies; everywhere if left out or empty.
        flip : bool
            Whether to measure F as well; it is not a number if not.
        """
        from ..judge.flip import flip_map

        planes = np.moveaxis(bead_planes(linear), -1, 0)
        near, far = (self.colour_map(planes[:3], distance) for distance in (NEAR, FAR))
        structure = self.structure_map(planes[3])
        down, across = self.px_per_bead
        seen: Floats = np.full(self.shape, np.nan)
        if flip:
            seen = flip_map(self.linear, linear, (NEAR * down, NEAR * across))
        everywhere = np.ones(self.shape, dtype=bool)
        if motif is None or not motif.any():
            motif = everywhere
        whole, inside = (
            Measures(
                colour=float(near[where].mean()),
                colour_far=float(far[where].mean()),
                structure=float(structure[where].mean()),
                flip=float(seen[where].mean()),
            )
            for where in (everywhere, motif)
        )
        return Likeness(whole, inside)


def structure_of(
    mean1: Singles, square1: Singles, mean2: Singles, square2: Singles, both: Singles
) -> Singles:
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
