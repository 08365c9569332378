"""sRGB codes and linear light, IEC 61966-2-1; means of linear light."""

from __future__ import annotations

from typing import TypeVar, cast

import numpy as np
import numpy.typing as npt

from .arrays import AnyFloats, Bytes, Float32Array

Rgb = tuple[int, int, int]
"""sRGB codes, 0 to 255."""

_F = TypeVar("_F", np.float32, np.float64)


def decode_srgb(srgb: npt.NDArray[_F]) -> npt.NDArray[_F]:
    """Return linear light from sRGB values (IEC 61966-2-1).

    Parameters
    ----------
    srgb : float array, any shape, 0..1

    Returns
    -------
    float array, same shape and type, 0..1
    """
    low = srgb <= 0.04045
    powered = ((np.maximum(srgb, 0.04045) + 0.055) / 1.055) ** 2.4
    return cast("npt.NDArray[_F]", np.where(low, srgb / 12.92, powered))


def encode_srgb(linear: npt.NDArray[_F]) -> npt.NDArray[_F]:
    """Return sRGB values from linear light (IEC 61966-2-1), not clipped.

    Parameters
    ----------
    linear : float array, any shape
        0..1 inside sRGB; values outside come out outside.

    Returns
    -------
    float array, same shape and type
    """
    low = linear <= 0.0031308
    powered = 1.055 * np.maximum(linear, 0.0031308) ** (1 / 2.4) - 0.055
    return cast("npt.NDArray[_F]", np.where(low, linear * 12.92, powered))


_LINEAR_OF_CODE = decode_srgb(np.arange(256) / 255).astype(np.float32)


def srgb_to_linear(rgb: Bytes) -> Float32Array:
    """Return linear light from sRGB codes, by table.

    Parameters
    ----------
    rgb : uint8 array, any shape

    Returns
    -------
    float32 array, same shape, 0..1
    """
    return _LINEAR_OF_CODE[rgb]


# steps of 1/65535 are a twentieth of the smallest step between two codes
_CODE_OF_LINEAR = np.rint(encode_srgb(np.arange(65536) / 65535) * 255).astype(np.uint8)


def linear_to_srgb(linear: AnyFloats) -> Bytes:
    """Return the nearest sRGB codes to linear light, clipped to 0..255, by table.

    Half way between two codes, to a twentieth of a step, either may be returned.

    Parameters
    ----------
    linear : float array, any shape

    Returns
    -------
    uint8 array, same shape
    """
    return _CODE_OF_LINEAR[(np.clip(linear, 0, 1) * 65535 + 0.5).astype(np.uint16)]


def box_mean(values: Float32Array, times: int) -> Float32Array:
    """Return the mean of blocks of `times` x `times` pixels.

    Parameters
    ----------
    values : (h, w, ...) float32
        Averages of them must make sense: colours are linear light.
    times : int
        The edge is repeated to fill the last blocks.
    """
    high, wide = values.shape[:2]
    if high % times or wide % times:
        values = np.pad(
            values,
            ((0, -high % times), (0, -wide % times), *[(0, 0)] * (values.ndim - 2)),
            mode="edge",
        )
    # adding slices is several times quicker than a mean over two short axes
    down = values[::times].copy()
    for k in range(1, times):
        down += values[k::times]
    both = down[:, ::times].copy()
    for k in range(1, times):
        both += down[:, k::times]
    both /= np.float32(times * times)
    return both
