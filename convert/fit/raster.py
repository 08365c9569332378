"""The sketch on the unrolled braid, as pixels fine enough for a bead.

A raster covers the whole circumference, columns from left to right, rows from the top down. Where
a motif repeats, one tile of it closes on itself both ways, so that every filter can run round it.
Colours are averaged in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ...core.braid.lattice import Lattice
from ...palette.colour import srgb_to_linear
from .placement import Placement

if TYPE_CHECKING:
    from ..read.picture import Picture

Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]

PX_PER_PITCH = 9.0
"""Raster pixels per bead pitch."""

SUBPIXELS = 2
"""Points taken across a pixel, in each direction; the picture is box-reduced to match."""


@dataclass(frozen=True, eq=False)
class Raster:
    """The unrolled braid with the sketch on it.

    Parameters
    ----------
    linear : (H, W, 3) float32
        Linear light 0..1, on the background colour.
    cover : (H, W) float32
        How much of the pixel the sketch covers, 0..1 (its alpha; 0 beside it).
    px_per_mm : float
        Across; along the braid it may differ by a few per cent.
    bottom_mm, top_mm : float
        Height of the lower and the upper edge.
    """

    linear: Singles
    cover: Singles
    px_per_mm: float
    bottom_mm: float
    top_mm: float

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        return self.linear.shape[0], self.linear.shape[1]

    def grid_mm(self, lattice: Lattice) -> tuple[Floats, Floats]:
        """Return chart x (W,) and height (H,) of the pixel centres."""
        return grid_mm(lattice, self.shape, self.bottom_mm, self.top_mm)


@dataclass(frozen=True, eq=False)
class Source:
    """Planes of a picture to be drawn on the braid, such as colour and alpha.

    Parameters
    ----------
    planes : (h, w, k) float32
        Averages of them must make sense: colours are linear and multiplied by alpha.
    scale : float
        Plane pixels per original pixel.
    """

    planes: Singles
    scale: float

    def reduced(self, original_px_per_px: float) -> Source:
        """Box-reduce to what a raster of so many original pixels per pixel can show."""
        times = int(original_px_per_px * self.scale / SUBPIXELS + 0.25)
        if times < 2:
            return self
        return Source(box_mean(self.planes, times), self.scale / times)


def grid_mm(
    lattice: Lattice, shape: tuple[int, int], bottom_mm: float, top_mm: float
) -> tuple[Floats, Floats]:
    """Return chart x (W,), left to right, and height (H,), top down, of pixel centres in mm."""
    high, wide = shape
    x = ((np.arange(wide) + 0.5) / wide - 0.5) * lattice.circumference_mm
    y = top_mm - (np.arange(high) + 0.5) / high * (top_mm - bottom_mm)
    return x, y


def raster_shape(
    lattice: Lattice, bottom_mm: float, top_mm: float, px_per_mm: float
) -> tuple[int, int]:
    """Return rows and columns of a raster, numbers that Fourier transforms are quick with."""
    from scipy.fft import next_fast_len

    high = max(4, round((top_mm - bottom_mm) * px_per_mm))
    wide = max(8, round(lattice.circumference_mm * px_per_mm))
    return next_fast_len(high, real=True), next_fast_len(wide, real=True)


def draw(
    source: Source,
    placement: Placement,
    lattice: Lattice,
    shape: tuple[int, int],
    bottom_mm: float,
    top_mm: float,
) -> Singles:
    """Draw the planes of a placed picture on the unrolled braid; nothing where it does not lie.

    Each pixel is the mean of `SUBPIXELS` x `SUBPIXELS` points, interpolated between the pixels of
    a picture that has been box-reduced to about as many.

    Returns
    -------
    (H, W, k) float32
    """
    per_px = placement.px_per_mm * lattice.circumference_mm / shape[1]
    source = source.reduced(per_px)
    fine = (shape[0] * SUBPIXELS, shape[1] * SUBPIXELS)
    x, y = grid_mm(lattice, fine, bottom_mm, top_mm)
    azimuth = placement.chart_deg(x)
    where = placement.picture_px(azimuth[None, :], y[:, None]) * source.scale
    values = _bilinear(source.planes, where)
    return box_mean(values, SUBPIXELS)


def unroll(
    picture: Picture,
    placement: Placement,
    lattice: Lattice,
    bottom_mm: float,
    top_mm: float,
    px_per_mm: float,
    background_rgb: npt.ArrayLike,
) -> Raster:
    """Draw the placed picture on the unrolled braid, over a background.

    Parameters
    ----------
    picture : Picture
    placement : Placement
    lattice : Lattice
    bottom_mm, top_mm : float
    px_per_mm : float
        Of the raster.
    background_rgb : (3,) uint8
        sRGB; lies where no picture lies and shines through it.
    """
    source = Source(coloured_planes(picture), picture.scale)
    return unroll_source(source, placement, lattice, bottom_mm, top_mm, px_per_mm, background_rgb)


def unroll_source(
    source: Source,
    placement: Placement,
    lattice: Lattice,
    bottom_mm: float,
    top_mm: float,
    px_per_mm: float,
    background_rgb: npt.ArrayLike,
) -> Raster:
    """Do the same with red, green, blue times alpha, and alpha, as planes."""
    shape = raster_shape(lattice, bottom_mm, top_mm, px_per_mm)
    values = draw(source, placement, lattice, shape, bottom_mm, top_mm)
    ground = srgb_to_linear(np.asarray(background_rgb, dtype=np.uint8).reshape(1, 3))[0]
    cover = values[..., 3]
    return Raster(
        values[..., :3] + (1 - cover[..., None]) * ground,
        cover,
        shape[1] / lattice.circumference_mm,
        bottom_mm,
        top_mm,
    )


def coloured_planes(picture: Picture) -> Singles:
    """Return premultiplied linear light and alpha, (h, w, 4)."""
    planes = np.empty((*picture.alpha.shape, 4), dtype=np.float32)
    planes[..., 3] = picture.alpha
    np.multiply(picture.linear, picture.alpha[..., None], out=planes[..., :3])
    return planes


def box_mean(values: Singles, times: int) -> Singles:
    """Return the mean of blocks of `times` x `times`; the edge is repeated to fill the last."""
    high, wide = values.shape[:2]
    if high % times or wide % times:
        values = np.pad(values, ((0, -high % times), (0, -wide % times), (0, 0)), mode="edge")
    # adding slices is several times quicker than a mean over two short axes
    down = values[::times].copy()
    for k in range(1, times):
        down += values[k::times]
    both = down[:, ::times].copy()
    for k in range(1, times):
        both += down[:, k::times]
    both /= np.float32(times * times)
    return both


def _bilinear(planes: Singles, where: Floats) -> Singles:
    """Values (..., k) at points (..., 2) of the planes, in their pixels; 0 where NaN."""
    known = ~np.isnan(where[..., 0])
    high, wide, count = planes.shape
    everywhere = bool(known.all())
    x, y = where.reshape(-1, 2).T - 0.5 if everywhere else where[known].T - 0.5
    left, top = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)
    fx, fy = (x - left).astype(np.float32)[:, None], (y - top).astype(np.float32)[:, None]
    left, right = np.clip(left, 0, wide - 1), np.clip(left + 1, 0, wide - 1)
    flat = planes.reshape(-1, count)

    def between(one: Singles, other: Singles, part: Singles) -> Singles:
        # in place, and `take` below: three times quicker than it would be by indexing
        other -= one
        other *= part
        other += one
        return other

    def row(number: Ints) -> Singles:
        start = np.clip(number, 0, high - 1) * wide
        return between(flat.take(start + left, axis=0), flat.take(start + right, axis=0), fx)

    values = between(row(top), row(top + 1), fy)
    if everywhere:
        return values.reshape(*known.shape, count)
    out = np.zeros((*known.shape, count), dtype=np.float32)
    out[known] = values
    return out
