"""A piece of a braid, seen from its front, as a picture on a page."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from ..design import colours_rgb, drop_directions
from ..drawing.png import PX_PER_MM
from ..drawing.shapes import WHITE, PixelImage
from ..finish import surfaces_of
from ..show.preview import braid_view

if TYPE_CHECKING:
    from ..arrays import Bytes, Floats
    from ..braid import Lattice
    from ..design import Design
    from ..finish import Surfaces


@dataclass(frozen=True, eq=False)
class BraidPiece:
    """A piece of a braid, and where it is looked at from.

    Parameters
    ----------
    lattice : Lattice
    rgb : (n, 3) uint8
        Colour of each bead of the whole braid.
    front_deg : float
        Azimuth that is looked at.
    window_mm : (float, float)
        Heights between which it is shown.
    lean : (n, 6) float, optional
        How drop beads lean and are drawn, as for `preview.braid_view`.
    surfaces : Surfaces, optional
        The finish of each bead of the whole braid.
    """

    lattice: Lattice
    rgb: Bytes
    front_deg: float
    window_mm: tuple[float, float]
    lean: Floats | None = None
    surfaces: Surfaces | None = None

    @classmethod
    def of(cls, design: Design, front_deg: float, window_mm: tuple[float, float]) -> BraidPiece:
        """Return a piece of a design's braid."""
        finish = surfaces_of(design.palette).take(design.beads)
        lean = drop_directions(design).drawn
        return cls(design.lattice, colours_rgb(design), front_deg, window_mm, lean, finish)

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
            self.lattice,
            self.rgb,
            self.front_deg,
            per_mm,
            background=WHITE,
            window_mm=self.window_mm,
            drops=self.lean,
            surfaces=self.surfaces,
        )
        wide, high = (scale * side / per_mm for side in pixels.shape[1::-1])
        left = x if anchor == "start" else x - wide / 2
        return PixelImage(left, top, wide, high, pixels)
