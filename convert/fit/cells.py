"""Bead cells on a raster of the unrolled braid."""

from __future__ import annotations

import numpy as np

from ...core.arrays import Float32Array, Floats
from ...core.braid import Lattice


def cell(shape: tuple[int, ...], lattice: Lattice, px_per_mm: float) -> Float32Array:
    """Return a bead's cell on a torus of pixels, about its first one; it comes to 1."""
    reach = int(np.ceil(lattice.covering_radius_mm * px_per_mm)) + 1
    side = np.arange(-reach, reach + 1) / px_per_mm
    place = np.stack(np.meshgrid(side, side), axis=-1)
    away = lattice.offsets_mm
    inside = (place @ away.T <= (away**2).sum(axis=1) / 2 + 1e-9).all(axis=-1)
    kernel = np.zeros(shape, dtype=np.float32)
    row, column = np.nonzero(inside)
    np.add.at(kernel, (row - reach, (column - reach) % shape[1]), 1 / len(row))
    return kernel


def cell_means_everywhere(planes: Float32Array, lattice: Lattice, px_per_mm: float) -> Float32Array:
    """Return the mean of planes (k, H, W) over a bead's cell round each pixel; columns go round."""
    shape = planes.shape[1:]
    spectrum = np.fft.rfft2(planes) * np.fft.rfft2(cell(shape, lattice, px_per_mm))
    return np.clip(np.fft.irfft2(spectrum, s=shape), 0, 1).astype(np.float32)


def between(planes: Float32Array, row: Floats, column: Floats) -> Float32Array:
    """Return planes (k, H, W) at places between their pixels, (k, ...); columns go round."""
    high, wide = planes.shape[1:]
    top, left = np.floor(row).astype(np.intp), np.floor(column).astype(np.intp)
    down, across = (row - top).astype(np.float32), (column - left).astype(np.float32)
    value = np.zeros((len(planes), *row.shape), dtype=np.float32)
    for i, j in ((0, 0), (0, 1), (1, 0), (1, 1)):
        weight = (down if i else 1 - down) * (across if j else 1 - across)
        value += weight * planes[:, np.clip(top + i, 0, high - 1), (left + j) % wide]
    return value
