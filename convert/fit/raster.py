"""The sketch on the unrolled braid, as pixels fine enough for a bead.

Colours are averaged in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from ...core.arrays import Float32Array, Floats, Ints
from ...core.braid import Raster
from ...core.srgb import box_mean, srgb_to_linear
from ..read import SAMPLES_ACROSS, Source
from .placement import Placement

PX_PER_PITCH = 9.0
"""Raster pixels per bead pitch."""


@dataclass(frozen=True, eq=False)
class Drawn:
    """The sketch on the unrolled braid.

    Parameters
    ----------
    raster : Raster
    linear : (H, W, 3) float32
        Linear light 0..1, on the background colour.
    cover : (H, W) float32
        How much of the pixel the sketch covers, 0..1 (its alpha; 0 beside it).
    """

    raster: Raster
    linear: Float32Array
    cover: Float32Array


def draw(source: Source, placement: Placement, raster: Raster) -> Float32Array:
    """Draw the planes of a placed picture on the unrolled braid; nothing where it does not lie.

    Each pixel is the mean of `SAMPLES_ACROSS` x `SAMPLES_ACROSS` points, interpolated between the
    pixels of a picture that has been box-reduced to about as many.

    Returns
    -------
    (H, W, k) float32
    """
    per_px = placement.px_per_mm * raster.lattice.circumference_mm / raster.shape[1]
    source = source.reduced(per_px)
    fine = raster.finer(SAMPLES_ACROSS)
    azimuth = placement.chart_deg(fine.x_mm)
    where = placement.picture_px(azimuth[None, :], fine.y_mm[:, None]) * source.scale
    values = _bilinear(source.planes, where)
    return box_mean(values, SAMPLES_ACROSS)


def unroll(
    source: Source, placement: Placement, raster: Raster, background_rgb: npt.ArrayLike
) -> Drawn:
    """Draw a placed source on the unrolled braid, over a background.

    Parameters
    ----------
    source : Source
        Red, green, blue times alpha, and alpha, as planes.
    placement : Placement
    raster : Raster
    background_rgb : (3,) uint8
        sRGB; lies where no picture lies and shines through it.
    """
    values = draw(source, placement, raster)
    ground = srgb_to_linear(np.asarray(background_rgb, dtype=np.uint8).reshape(1, 3))[0]
    cover = values[..., 3]
    return Drawn(raster, values[..., :3] + (1 - cover[..., None]) * ground, cover)


def _bilinear(planes: Float32Array, where: Floats) -> Float32Array:
    """Values (..., k) at points (..., 2) of the planes, in their pixels; 0 where NaN."""
    known = ~np.isnan(where[..., 0])
    high, wide, count = planes.shape
    everywhere = bool(known.all())
    x, y = where.reshape(-1, 2).T - 0.5 if everywhere else where[known].T - 0.5
    left, top = np.floor(x).astype(np.intp), np.floor(y).astype(np.intp)
    fx, fy = (x - left).astype(np.float32)[:, None], (y - top).astype(np.float32)[:, None]
    left, right = np.clip(left, 0, wide - 1), np.clip(left + 1, 0, wide - 1)
    flat = planes.reshape(-1, count)

    def between(one: Float32Array, other: Float32Array, part: Float32Array) -> Float32Array:
        # in place, and `take` below: three times quicker than it would be by indexing
        other -= one
        other *= part
        other += one
        return other

    def row(number: Ints) -> Float32Array:
        start = np.clip(number, 0, high - 1) * wide
        return between(flat.take(start + left, axis=0), flat.take(start + right, axis=0), fx)

    values = between(row(top), row(top + 1), fy)
    if everywhere:
        return values.reshape(*known.shape, count)
    out = np.zeros((*known.shape, count), dtype=np.float32)
    out[known] = values
    return out
