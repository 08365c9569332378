"""The tones of a picture, in which flat colours are searched for, and which pixels are uniform.

The search begins with the picture as it is stored. Uneven light on paper, the grain of paper and
the dots of a dithered file hide flat colours; the denoised tones have the light evened and the
dots blurred.

Tones are square roots of linear light times 255, about what the eye sees and drawing programs mix.
The numbers below are choices; what each decides stands in brackets as in
`himotif.convert.read.flat_colours`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import Bools, Bytes, Float32Array, Floats
from ...core.srgb import box_mean, encode_srgb
from ...palette import linear_lab
from .filters import gaussian_transfer, run_filter

if TYPE_CHECKING:
    from .picture import Picture

LABEL_PX = 480
"""The longest side of the downsampled label image, in pixels (0, 0; with 120 three)."""

UNIFORM_STEP = 8
"""Tones by which neighbouring pixels of one flat colour differ at most, each channel (3, 1)."""

MOST_TEXTURE = 0.15
"""Share of the picture without uniform pixels above which it is dithered or grainy (1, 0)."""

DENOISED_WIDTH = 1.6
"""How many times broader flat colours are on paper and in a dithered file (3, 3)."""

TILE_PX = 20
"""The side of the tiles that the light is measured in, in pixels (1, 2)."""


OPAQUE = 254.5 / 255
"""Opacity that rounds to the whole of the 255 steps that files store it in."""


@dataclass(frozen=True, eq=False)
class ToneImage:
    """A picture in tones.

    Parameters
    ----------
    tones : (h, w, 3) uint8
    cover : (h, w) bool
        Where anything is drawn.
    soft : (h, w) bool
        Where something is drawn that is partly transparent: the soft edge of a cut-out picture.
    uniform : (h, w) bool
        Pixels like all four neighbours.
    step : int
        Pixels of it, in each direction, in a pixel of the downsampled label image.
    width : float
        How broad its flat colours are, 1 for a drawing on the screen.
    radius : int
        How far its edges may be soft, in pixels.
    blurred : bool
        Whether grain or dots were blurred.
    """

    tones: Bytes
    cover: Bools
    soft: Bools
    uniform: Bools
    step: int
    width: float
    radius: int
    blurred: bool = False

    @classmethod
    def of(
        cls,
        tones: Bytes,
        alpha: Float32Array,
        step: int,
        width: float,
        radius: int,
        blurred: bool = False,
    ) -> ToneImage:
        """Return an image of tones (h, w, 3) and opacity (h, w), 0 to 1."""
        cover: Bools = (alpha >= 0.5) | _faint_strokes(alpha)
        soft: Bools = cover & (alpha < OPAQUE)
        uniform = cover.copy()
        for axis in (0, 1):
            less, more = shifted(axis)
            one, other = tones[less], tones[more]
            apart = np.maximum(one, other) - np.minimum(one, other)
            like = cover[less] & cover[more]
            for channel in range(3):
                like &= apart[..., channel] < UNIFORM_STEP
            uniform[less] &= like
            uniform[more] &= like
        return cls(tones, cover, soft, uniform, step, width, radius, blurred)

    @property
    def denoised(self) -> bool:
        """Whether its light was evened or its grain blurred."""
        return self.width > 1

    def texture_share(self) -> float:
        """Return the share of the picture where hardly a pixel is like its neighbours."""
        if min(self.uniform.shape) < _TEXTURE_PX:
            return 0.0
        uniform, cover = tiles(self.uniform, _TEXTURE_PX), tiles(self.cover, _TEXTURE_PX)
        return float((uniform.mean(axis=1) < 0.3 * cover.mean(axis=1)).mean())


_STROKE_PX = 5
"""What is thinner than this is a stroke, in pixels."""

_TEXTURE_PX = 12
"""The side of the tiles that texture is measured in, in pixels (1, 0)."""


def stroke_height(top: Float32Array) -> Float32Array:
    """Return the height at which a blurred stroke is as wide as the stroke itself.

    Parameters
    ----------
    top : array of float
        How far the middle of the stroke is from its ground, 1 where it has its own colour.
    """
    reach = np.clip(top, 0, 1)
    return np.asarray(np.maximum(reach * np.minimum(np.exp(-0.78 * reach**2), 0.7), 0.15))


def _faint_strokes(alpha: Float32Array) -> Bools:
    """Where strokes run on nothing that are too thin for a pixel of full opacity.

    Their opacity stands out of all that is wider, such as a shadow: what the white top-hat leaves
    (Serra, "Image Analysis and Mathematical Morphology", 1982).
    """
    if not ((alpha > 0.15) & (alpha < 0.5)).any():
        return np.zeros(alpha.shape, dtype=bool)
    from scipy import ndimage

    thin = ndimage.white_tophat(alpha, size=_STROKE_PX)
    top = ndimage.maximum_filter(thin, size=_STROKE_PX)
    # the tip of what is wider is none
    solid = ndimage.binary_erosion(alpha >= OPAQUE)
    wide = ndimage.maximum_filter(solid, size=_STROKE_PX)
    return np.asarray((thin > stroke_height(top)) & ~wide)


def shifted(axis: int, by: int = 1) -> tuple[tuple[slice, slice], tuple[slice, slice]]:
    """Return slices of all but the last and all but the first `by` rows (or columns)."""
    less, more, every = slice(None, -by), slice(by, None), slice(None)
    return ((less, every), (more, every)) if axis == 0 else ((every, less), (every, more))


def to_tones(linear: Float32Array) -> Bytes:
    """Return the tones of linear light, rounded."""
    root = np.sqrt(linear)
    root *= 255
    root += 0.5
    np.minimum(root, 255, out=root)
    tones: Bytes = root.astype(np.uint8)
    return tones


def from_tones(tones: npt.ArrayLike) -> Float32Array:
    """Return the linear light of tones."""
    return np.asarray((np.asarray(tones, dtype=np.float32) / 255) ** 2)


def to_stored(tones: npt.ArrayLike) -> Float32Array:
    """Return tones as the values that files store (IEC 61966-2-1), 0 to 1."""
    return np.asarray(encode_srgb(from_tones(tones)))


def label_step(picture: Picture) -> int:
    """Return how many stored pixels, in each direction, make one of the label image."""
    high, wide = picture.alpha.shape
    return max(1, -(-max(int(high), int(wide)) // LABEL_PX))


def stored_tones(picture: Picture) -> ToneImage:
    """Return the tones of a picture as it is stored."""
    step = label_step(picture)
    tones = to_tones(picture.linear)
    return ToneImage.of(tones, picture.alpha, step, 1.0, 2 * step + 1)


def denoised_tones(picture: Picture, texture: float) -> tuple[ToneImage, Floats | None]:
    """Return the tones of a picture with paper evenly lit and without dots and grain.

    Parameters
    ----------
    picture : Picture
    texture : float
        Share of texture in the stored tones.

    Returns
    -------
    image, light
        The light is that of a sheet of paper, None if no such sheet is seen.
    """
    step = label_step(picture)
    cover = (picture.alpha >= 0.5).astype(np.float32)
    light = box_mean(picture.linear * cover[..., None], step)
    part = box_mean(cover[..., None], step)[..., 0]
    grainy = texture >= MOST_TEXTURE
    if grainy:
        sigma = max(1.0, 2.0 / step)
        light, part = _blurred(light, sigma), _blurred(part[..., None], sigma)[..., 0]
    light /= np.maximum(part, 1e-3)[..., None]
    paper = paper_light(light)
    if paper is not None:
        light /= paper[..., None].astype(np.float32)
    return ToneImage.of(to_tones(light), part, 1, DENOISED_WIDTH, 5, grainy), paper


def _blurred(planes: Float32Array, sigma_px: float) -> Float32Array:
    """Planes (h, w, k) after a Gaussian, reflected at the edges."""
    reach = int(np.ceil(2.5 * sigma_px))
    padded = np.pad(planes, ((reach, reach), (reach, reach), (0, 0)), mode="symmetric")
    shape = (int(padded.shape[0]), int(padded.shape[1]))
    transfer = gaussian_transfer(shape, (sigma_px, sigma_px), (reach, reach))
    soft = np.moveaxis(run_filter(np.moveaxis(padded, -1, 0), transfer), 0, -1)
    # rounding may leave a little less than nothing
    return np.maximum(soft[reach:-reach, reach:-reach], 0)


def paper_light(linear: Float32Array) -> Floats | None:
    """Return how brightly a sheet of paper is lit at each pixel, 1 where best.

    Paper is light, hardly coloured, seen in much of the picture, and its light changes slowly: a
    quadratic in the logarithm, fitted to the lighter pixels of tiles; tiles that are darker than
    the fit are drawn on and left out.

    Parameters
    ----------
    linear : (h, w, 3) float32

    Returns
    -------
    (h, w) float or None
        None if no such sheet is seen.
    """
    luminance = linear @ np.array([0.2126, 0.7152, 0.0722], dtype=np.float32)
    if min(luminance.shape) < 4 * TILE_PX:
        return None
    light = np.sort(tiles(luminance, TILE_PX), axis=1)
    lighter = light[:, int(0.6 * TILE_PX**2) : int(0.95 * TILE_PX**2)].mean(axis=1)
    value = np.log(np.maximum(lighter, 1e-4))
    high, wide = (n // TILE_PX for n in luminance.shape)
    row, column = np.indices((high, wide)).reshape(2, -1) + 0.5
    basis = _quadratic(column / wide, row / high)
    row, column = np.indices(luminance.shape) + 0.5
    everywhere = _quadratic(column / (wide * TILE_PX), row / (high * TILE_PX))
    surfaces = [
        np.exp(everywhere @ fit)
        for fit in (_lit(basis, value, plane_first) for plane_first in (False, True))
        if fit is not None
    ]
    if not surfaces:
        return None
    seen = [np.abs(luminance / surface - 1) < 0.08 for surface in surfaces]
    near, surface = max(zip(seen, surfaces, strict=True), key=lambda pair: pair[0].mean())
    if near.mean() < 0.3 or surface.max() > 6 * surface.min():
        return None
    best = np.quantile(surface, 0.95)
    sheet = (linear[near] / surface[near, None]).mean(axis=0) * best
    return surface / best if is_paper(linear_lab(sheet.astype(np.float32))) else None


def is_paper(lab: Float32Array) -> bool:
    """Whether a colour, CIE Lab (3,), may be paper: light and hardly coloured."""
    return bool(lab[0] >= 60 and np.hypot(lab[1], lab[2]) <= 40)


def _lit(basis: Floats, value: Floats, plane_first: bool) -> Floats | None:
    """Fit the light of tiles, leaving out more and more of what is not paper.

    A dark motif in the middle of its sheet bends a quadratic down; a plane cannot bend, so its
    first fits may leave the motif out.
    """
    used = value > np.quantile(value, 0.9) - 1.5
    fit: Floats | None = None
    for bound in (0.4, 0.25, 0.15, 0.1, 0.07, 0.07, 0.07):
        terms = 3 if plane_first and bound > 0.1 else basis.shape[1]
        if used.sum() < 2 * terms:
            return None
        fit = np.asarray(np.linalg.lstsq(basis[used, :terms], value[used], rcond=None)[0])
        over = value - basis[:, :terms] @ fit
        used = (over > -bound) & (over < 2 * bound)
    return fit


def _quadratic(x: Floats, y: Floats) -> Floats:
    x, y = x - 0.5, y - 0.5
    return np.stack([np.ones_like(x), x, y, x * x, x * y, y * y], axis=-1)


def tiles(values: npt.NDArray[Any], size: int) -> npt.NDArray[Any]:
    """Return whole square tiles of values (h, w), one a row."""
    high, wide = (n // size for n in values.shape)
    blocks = values[: high * size, : wide * size].reshape(high, size, wide, size)
    return np.asarray(blocks.transpose(0, 2, 1, 3).reshape(high * wide, size * size))
