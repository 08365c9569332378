"""A piece of a braid, seen from its front, as a picture on a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from ..drawing.png import PX_PER_MM
from ..drawing.shapes import WHITE, PixelImage
from ..show.preview import Look, braid_view


@dataclass(frozen=True, eq=False)
class BraidPiece:
    """A piece of a braid, and where it is looked at from.

    Parameters
    ----------
    look : Look
        Of the whole braid.
    front_deg : float
        Azimuth that is looked at.
    window_mm : (float, float)
        Heights between which it is shown.
    """

    look: Look
    front_deg: float
    window_mm: tuple[float, float]

    @property
    def high_mm(self) -> float:
        """How high it is on the braid."""
        return self.window_mm[1] - self.window_mm[0]

    def image(
        self, x: float, top: float, scale: float, anchor: Literal["start", "middle"] = "middle"
    ) -> PixelImage:
        """Return it on a page, `scale` times true size, x at its left or its middle, mm."""
        per_mm = max(2.0, 2 * PX_PER_MM * scale)
        pixels = braid_view(
            self.look, self.front_deg, per_mm, background=WHITE, window_mm=self.window_mm
        )
        wide, high = (scale * side / per_mm for side in pixels.shape[1::-1])
        left = x if anchor == "start" else x - wide / 2
        return PixelImage(left, top, wide, high, pixels)
