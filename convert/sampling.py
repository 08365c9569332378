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

from ..core.lattice import Lattice
from .placement import Placement

if TYPE_CHECKING:
    from .picture import Picture

Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]

PX_PER_PITCH = 9.0
"""Raster pixels per bead pitch."""


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
        Across; along it may differ by less than a pixel in H.
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
    """Return rows and columns of a raster."""
    high = max(1, round((top_mm - bottom_mm) * px_per_mm))
    return high, max(8, round(lattice.circumference_mm * px_per_mm))


def unroll(
    picture: Picture,
    placement: Placement,
    lattice: Lattice,
    bottom_mm: float,
    top_mm: float,
    px_per_mm: float,
    background_rgb: npt.ArrayLike,
) -> Raster:
    """Draw the placed picture on the unrolled braid.

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
    shape = raster_shape(lattice, bottom_mm, top_mm, px_per_mm)
    x, y = grid_mm(lattice, shape, bottom_mm, top_mm)
    azimuth = placement.front_deg - np.rad2deg(x / lattice.radius_mm)
    linear, alpha, stored = _reduced(picture, placement.px_per_mm / px_per_mm)
    # beads see areas: a pixel is the mean of a few points of it
    total = np.zeros((*shape, 4), dtype=np.float32)
    times = 2
    for i in range(times):
        for j in range(times):
            dx = ((j + 0.5) / times - 0.5) * 360.0 / shape[1]
            dy = ((i + 0.5) / times - 0.5) * (top_mm - bottom_mm) / shape[0]
            where = placement.picture_px((azimuth - dx)[None, :], (y - dy)[:, None])
            total += _bilinear(linear, alpha, where * stored)
    total /= times * times
    from ..palette.colour import srgb_to_linear

    ground = srgb_to_linear(np.asarray(background_rgb, dtype=np.uint8).reshape(1, 3))[0]
    cover = total[..., 3]
    return Raster(
        total[..., :3] + (1 - cover[..., None]) * ground,
        cover,
        shape[1] / lattice.circumference_mm,
        bottom_mm,
        top_mm,
    )


def _reduced(picture: Picture, px_per_pixel: float) -> tuple[Singles, Singles, Floats]:
    """Box-reduce the stored picture to about two pixels per raster pixel.

    Returns premultiplied colour, alpha, and stored pixels per original pixel (x, y).
    """
    alpha = picture.alpha.astype(np.float32)
    linear = picture.linear * alpha[..., None]
    scale = np.array([linear.shape[1], linear.shape[0]]) / np.array(picture.size_px)
    times = int(px_per_pixel * scale.min() / 2)
    if times > 1:
        linear, alpha = _box(linear, times), _box(alpha[..., None], times)[..., 0]
        scale = scale / times
    return linear, alpha, scale


def _box(values: Singles, times: int) -> Singles:
    """Mean of blocks; the last row and column of blocks repeat the edge."""
    high, wide = values.shape[:2]
    padded = np.pad(values, ((0, -high % times), (0, -wide % times), (0, 0)), mode="edge")
    rows = np.add.reduceat(padded, np.arange(0, padded.shape[0], times), axis=0)
    out: Singles = np.add.reduceat(rows, np.arange(0, padded.shape[1], times), axis=1)
    return out / np.float32(times * times)


def _bilinear(linear: Singles, alpha: Singles, where: Floats) -> Singles:
    """Premultiplied colour and alpha at points of the stored picture; nothing outside."""
    known = ~np.isnan(where[..., 0])
    x = np.where(known, where[..., 0], 0.0) - 0.5
    y = np.where(known, where[..., 1], 0.0) - 0.5
    high, wide = alpha.shape
    x, y = np.clip(x, 0, wide - 1), np.clip(y, 0, high - 1)
    left = np.minimum(x.astype(np.intp), max(0, wide - 2))
    top = np.minimum(y.astype(np.intp), max(0, high - 2))
    right, below = np.minimum(left + 1, wide - 1), np.minimum(top + 1, high - 1)
    fx, fy = (x - left).astype(np.float32)[..., None], (y - top).astype(np.float32)[..., None]
    values = np.concatenate([linear, alpha[..., None]], axis=-1)
    above = values[top, left] * (1 - fx) + values[top, right] * fx
    under = values[below, left] * (1 - fx) + values[below, right] * fx
    out: Singles = (above * (1 - fy) + under * fy) * known[..., None]
    return out
