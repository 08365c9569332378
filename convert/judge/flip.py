"""FLIP: the difference seen when two pictures are shown in turn, on rasters that wrap round.

The low-dynamic-range measure [1]: colours as the eye's contrast sensitivity leaves them, compared
in a Hunt-adjusted Lab space by HyAB; differences of edges and points raise what is seen. Constants
and steps follow the paper.

References
----------
[1] P. Andersson, J. Nilsson, T. Akenine-Möller, M. Oskarsson, K. Åström, M. D. Fairchild, "FLIP: A
    Difference Evaluator for Alternating Images", Proc. ACM Comput. Graph. Interact. Tech. 3 (2020)
    15:1-15:23, doi:10.1145/3406183.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import AnyFloats

PixelShape = tuple[int, int]
PerDegree = tuple[float, float]

# the sRGB matrix as the paper's authors use it
_XYZ = np.array(
    [
        [10135552 / 24577794, 8788810 / 24577794, 4435075 / 24577794],
        [2613072 / 12288897, 8788810 / 12288897, 887015 / 12288897],
        [1425312 / 73733382, 8788810 / 73733382, 70074185 / 73733382],
    ]
)
_WHITE = _XYZ.sum(axis=1)

# contrast sensitivity: a1, b1, a2, b2 of the two Gaussians of each channel (table 1 of [1])
_SENSITIVITY = ((1, 0.0047, 0, 1e-5), (1, 0.0053, 0, 1e-5), (34.1, 0.04, 13.5, 0.025))
# width of edges and points, exponents of colour and features, knee of the colour difference [1]
_FEATURE_DEG = 0.082
_COLOUR_POWER, _FEATURE_POWER = 0.7, 0.5
_KNEE, _KNEE_VALUE = 0.4, 0.95


def _grid(reach: int, per_degree: PerDegree) -> tuple[AnyFloats, AnyFloats]:
    """Offsets in degrees down (k, 1) and across (1, k)."""
    taps = np.arange(-reach, reach + 1)
    return taps[:, None] / per_degree[0], taps[None, :] / per_degree[1]


def _transfer(kernel: AnyFloats, shape: PixelShape) -> npt.NDArray[Any]:
    """Transfer function of a kernel, centred on its middle, on a torus."""
    reach = kernel.shape[0] // 2
    ring = np.zeros(shape)
    taps = np.arange(-reach, reach + 1)
    np.add.at(ring, (taps[:, None] % shape[0], taps[None, :] % shape[1]), kernel)
    return np.fft.rfft2(ring).astype(np.complex64)


@lru_cache(maxsize=16)
def _eye(shape: PixelShape, per_degree: PerDegree) -> npt.NDArray[Any]:
    """Transfer functions of the three channels, (3, H, W // 2 + 1)."""
    widest = max(b for _, b1, _, b2 in _SENSITIVITY for b in (b1, b2))
    reach = int(np.ceil(3 * np.sqrt(widest / (2 * np.pi**2)) * max(per_degree)))
    down, across = _grid(reach, per_degree)
    apart = down**2 + across**2
    out = []
    for a1, b1, a2, b2 in _SENSITIVITY:
        kernel = sum(
            a * np.sqrt(np.pi / b) * np.exp(-(np.pi**2) * apart / b)
            for a, b in ((a1, b1), (a2, b2))
        )
        out.append(_transfer(kernel / np.sum(kernel), shape))
    return np.stack(out)


@lru_cache(maxsize=16)
def _detectors(shape: PixelShape, per_degree: PerDegree) -> npt.NDArray[Any]:
    """Transfer functions of edges and points, down and across, (4, H, W // 2 + 1)."""
    sigma = 0.5 * _FEATURE_DEG
    reach = int(np.ceil(3 * sigma * max(per_degree)))
    down, across = _grid(reach, per_degree)
    gauss = np.exp(-(down**2 + across**2) / (2 * sigma**2))
    kernels = (
        -down * gauss,
        -across * gauss,
        ((down / sigma) ** 2 - 1) * gauss,
        ((across / sigma) ** 2 - 1) * gauss,
    )
    return np.stack([_transfer(_balanced(kernel), shape) for kernel in kernels])


def _balanced(kernel: AnyFloats) -> AnyFloats:
    """Positive weights add up to 1, negative ones to -1."""
    positive, negative = np.maximum(kernel, 0), np.minimum(kernel, 0)
    balanced: AnyFloats = positive / positive.sum() - negative / negative.sum()
    return balanced


def _filtered(planes: AnyFloats, transfer: npt.NDArray[Any]) -> AnyFloats:
    out: AnyFloats = np.fft.irfft2(np.fft.rfft2(planes) * transfer, s=planes.shape[-2:])
    return out


def _hunt_lab(linear: AnyFloats) -> AnyFloats:
    """Lab with chroma in proportion to lightness, (3, H, W), from linear light (H, W, 3)."""
    ratio = np.moveaxis(linear @ (_XYZ / _WHITE[:, None]).T.astype(linear.dtype), -1, 0)
    delta = 6 / 29
    root = np.where(ratio > delta**3, np.cbrt(ratio), ratio / (3 * delta**2) + 4 / 29)
    light = 116 * root[1] - 16
    a, b = 500 * (root[0] - root[1]), 200 * (root[1] - root[2])
    return np.stack([light, 0.01 * light * a, 0.01 * light * b])


def _hyab(first: AnyFloats, second: AnyFloats) -> AnyFloats:
    """City block in lightness, Euclid in the chroma plane."""
    light, a, b = first - second
    out: AnyFloats = np.abs(light) + np.hypot(a, b)
    return out


def _opponents(linear: AnyFloats) -> AnyFloats:
    """The linear opponent channels Y, Cx, Cz, (3, H, W)."""
    x, y, z = np.moveaxis(linear @ (_XYZ / _WHITE[:, None]).T.astype(linear.dtype), -1, 0)
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def _linear(opponents: AnyFloats) -> AnyFloats:
    y = (opponents[0] + 16) / 116
    ratio = np.stack([opponents[1] / 500 + y, y, y - opponents[2] / 200], axis=-1)
    back = (_WHITE[:, None] * np.linalg.inv(_XYZ).T).astype(ratio.dtype)
    light: AnyFloats = np.clip(ratio @ back, 0, 1)
    return light


def flip_map(reference: AnyFloats, other: AnyFloats, px_per_degree: PerDegree) -> AnyFloats:
    """Return the FLIP difference of two pictures.

    Parameters
    ----------
    reference, other : (H, W, 3) float
        Linear light 0..1, on a torus.
    px_per_degree : (float, float)
        Down, across.

    Returns
    -------
    (H, W) float, 0..1
    """
    shape = (int(reference.shape[0]), int(reference.shape[1]))
    pair = [_opponents(np.asarray(picture, dtype=np.float32)) for picture in (reference, other)]
    eye = _eye(shape, px_per_degree)
    labs = [_hunt_lab(_linear(_filtered(channels, eye))) for channels in pair]
    colour = _compressed(_hyab(*labs))
    detectors = _detectors(shape, px_per_degree)
    edges, points = [], []
    for channels in pair:
        found = _filtered(np.broadcast_to((channels[0] + 16) / 116, (4, *shape)), detectors)
        edges.append(np.hypot(found[0], found[1]))
        points.append(np.hypot(found[2], found[3]))
    feature = np.maximum(np.abs(edges[0] - edges[1]), np.abs(points[0] - points[1]))
    seen: AnyFloats = colour ** (1 - (feature / np.sqrt(2)) ** _FEATURE_POWER)
    return seen


def _compressed(difference: AnyFloats) -> AnyFloats:
    """Bring colour differences to 0..1, small ones stretched."""
    green, blue = (_hunt_lab(np.array(rgb, dtype=np.float64)) for rgb in ((0, 1, 0), (0, 0, 1)))
    greatest = float(_hyab(green, blue)) ** _COLOUR_POWER
    power = difference**_COLOUR_POWER
    knee = _KNEE * greatest
    out: AnyFloats = np.where(
        power < knee,
        _KNEE_VALUE / knee * power,
        _KNEE_VALUE + (power - knee) / (greatest - knee) * (1 - _KNEE_VALUE),
    )
    return out
