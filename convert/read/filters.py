"""Gaussians on pictures that close on themselves both ways, as products in the frequency domain."""

from __future__ import annotations

from functools import lru_cache
from typing import cast

import numpy as np

from ...core.arrays import Float32Array


@lru_cache(maxsize=256)
def _gaussian_transfer(length: int, sigma_px: float, reach_px: int, half: bool) -> Float32Array:
    """Transfer function of a sampled, cut off, normalised Gaussian on a ring of `length` px."""
    taps = np.arange(-reach_px, reach_px + 1)
    kernel = np.exp(-0.5 * (taps / sigma_px) ** 2)
    ring = np.bincount(taps % length, weights=kernel / kernel.sum(), minlength=length)
    # the kernel is even, so its transform is real
    transfer = np.fft.rfft(ring).real if half else np.fft.fft(ring).real
    return cast("Float32Array", transfer.astype(np.float32))


def gaussian_transfer(
    shape: tuple[int, int], sigma_px: tuple[float, float], reach_px: tuple[int, int]
) -> Float32Array:
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


def run_filter(planes: Float32Array, transfer: Float32Array) -> Float32Array:
    """Filter planes (..., H, W) on the torus."""
    spectrum = np.fft.rfft2(planes)
    spectrum *= transfer
    return cast("Float32Array", np.fft.irfft2(spectrum, s=planes.shape[-2:]))
