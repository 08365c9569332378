"""The motif's own frame: what is left of a sketch when its plain margins are cut off."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple, TypeVar

import numpy as np
import numpy.typing as npt

from ...core.arrays import Ints

if TYPE_CHECKING:
    from ..read import Picture

_Number = TypeVar("_Number", bound=np.generic)


class Frame(NamedTuple):
    """A box of pixels.

    Attributes
    ----------
    left, top, right, bottom : int
        Pixels; `right` and `bottom` lie just outside.
    """

    left: int
    top: int
    right: int
    bottom: int

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        return self.right - self.left, self.bottom - self.top

    def grown(self, wide: int, high: int) -> Frame:
        """Return the frame with one pixel more on every side that a picture has more on."""
        return Frame(
            max(self.left - 1, 0),
            max(self.top - 1, 0),
            min(self.right + 1, wide),
            min(self.bottom + 1, high),
        )

    def cut(self, pixels: npt.NDArray[_Number]) -> npt.NDArray[_Number]:
        """Return what lies in the frame of an array (h, w, ...)."""
        return pixels[self.top : self.bottom, self.left : self.right]


def motif_frame(labels: Ints, ground: int) -> Frame:
    """Return the smallest frame that holds all that is drawn.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel.
    ground : int
        The number of the ground.

    Returns
    -------
    Frame
        The whole picture where nothing is drawn.
    """
    drawn = labels != ground
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    if not len(rows):
        return Frame(0, 0, labels.shape[1], labels.shape[0])
    return Frame(int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1)


def cut_picture(
    picture: Picture, frame: Frame, scale: float
) -> tuple[Picture, tuple[float, float]]:
    """Return what lies in a frame of a picture, and where that begins in it.

    Parameters
    ----------
    picture : Picture
    frame : Frame
    scale : float
        Pixels of the frame per original pixel.

    Returns
    -------
    Picture, (float, float)
        Original pixels from the left and from the top; to be added to places in the cut picture.
    """
    left, top, right, bottom = (round(side * picture.scale / scale) for side in frame)
    inside = np.s_[top:bottom, left:right]
    linear, alpha = picture.linear[inside], picture.alpha[inside]
    size_px = tuple(round(side / picture.scale) for side in alpha.shape[::-1])
    cut = replace(picture, size_px=(size_px[0], size_px[1]), linear=linear, alpha=alpha)
    return cut, (left / picture.scale, top / picture.scale)
