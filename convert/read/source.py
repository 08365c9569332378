"""Planes of a picture, to be drawn on the braid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import Float32Array
from ...core.srgb import box_mean

if TYPE_CHECKING:
    from .picture import Picture


SAMPLES_ACROSS = 2
"""Points taken across a pixel, in each direction; the picture is box-reduced to match."""


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

    planes: Float32Array
    scale: float

    def reduced(self, original_px_per_px: float) -> Source:
        """Box-reduce to what a raster of so many original pixels per pixel can show."""
        times = int(original_px_per_px * self.scale / SAMPLES_ACROSS + 0.25)
        if times < 2:
            return self
        return Source(box_mean(self.planes, times), self.scale / times)


def coloured_planes(picture: Picture) -> Float32Array:
    """Return premultiplied linear light and alpha, (h, w, 4)."""
    planes = np.empty((*picture.alpha.shape, 4), dtype=np.float32)
    planes[..., 3] = picture.alpha
    np.multiply(picture.linear, picture.alpha[..., None], out=planes[..., :3])
    return planes


def enlarged(values: npt.NDArray[Any], times: int, shape: tuple[int, ...]) -> npt.NDArray[Any]:
    """Return an array with each element `times` x `times` times, cut to a shape."""
    big = values.repeat(times, axis=0).repeat(times, axis=1)
    return big[: shape[0], : shape[1]]
