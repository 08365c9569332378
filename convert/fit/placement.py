"""Where a picture lies on the braid.

The picture's middle lies at a centre on the braid. Seen from outside, ``u`` mm to the right of it
and ``v`` mm above it:

    fit wrap   u = -R·(azimuth - centre), taken the shorter way round
    fit face   u = -R·sin(azimuth - centre), nothing beyond the silhouette
    both       v = height - centre height

The picture is turned clockwise as seen by ``rotate_deg``; ``a`` right and ``b`` down from the
middle of the picture, in pixels, with ``w = -v`` and ``r`` the turn:

    [a]              [ cos r   sin r] [u]
    [b]  = px_per_mm·[-sin r   cos r] [w]

A picture that is stretched lies ``stretch`` times as long along the braid: ``w = -v / stretch``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ...core.arrays import Bools, Floats
from ...core.design import Fit
from ...core.errors import WrongUsage

if TYPE_CHECKING:
    from ...core.braid import Lattice


@dataclass(frozen=True)
class Placement:
    """A picture on a braid.

    Parameters
    ----------
    fit : 'wrap' or 'face'
    px_per_mm : float
        Pixels of the original picture per mm on the braid; for `face` at the middle of the front.
    rotate_deg : float
        Clockwise as seen.
    size_px : (int, int)
        Width and height of the original picture.
    radius_mm : float
        Of the bead centres.
    front_deg : float
        Azimuth of the middle of the front, where the first repeat's middle lies; x = 0 of a chart
        of this picture.
    centres : tuple of (azimuth_deg, height_mm)
        Middle of the picture, once for every repeat.
    stretch : float
        How many times as long along the braid as across.
    """

    fit: Fit
    px_per_mm: float
    rotate_deg: float
    size_px: tuple[int, int]
    radius_mm: float
    front_deg: float
    centres: tuple[tuple[float, float], ...]
    stretch: float = 1.0

    @property
    def width_mm(self) -> float:
        """Across the turned picture, at the middle of the front."""
        return turned_size(self.size_px, self.rotate_deg)[0] / self.px_per_mm

    @property
    def height_mm(self) -> float:
        """Along the braid."""
        return turned_size(self.size_px, self.rotate_deg)[1] / self.px_per_mm * self.stretch

    def offset_px(self, u_mm: npt.ArrayLike, v_mm: npt.ArrayLike) -> Floats:
        """Return picture points from offsets to a centre (true mm to the right, up); (..., 2)."""
        u = np.asarray(u_mm, dtype=np.float64)
        w = -np.asarray(v_mm, dtype=np.float64) / self.stretch
        turn = np.deg2rad(self.rotate_deg)
        a = self.px_per_mm * (np.cos(turn) * u + np.sin(turn) * w) + self.size_px[0] / 2
        b = self.px_per_mm * (-np.sin(turn) * u + np.cos(turn) * w) + self.size_px[1] / 2
        return np.stack(np.broadcast_arrays(a, b), axis=-1)

    def picture_px(self, azimuth_deg: npt.ArrayLike, height_mm: npt.ArrayLike) -> Floats:
        """Return the picture point at places of the braid.

        Parameters
        ----------
        azimuth_deg, height_mm : array of float, shapes that broadcast

        Returns
        -------
        (..., 2) float
            Pixels of the original picture from its top left corner; NaN where no picture lies.
            Where repeats would overlap, the nearest centre along the braid wins.
        """
        u, v, hidden = self._offsets_mm(azimuth_deg, height_mm)
        points = self.offset_px(u, v)
        points[~self.inside(points) | hidden] = np.nan
        return points

    def margin_mm(self, azimuth_deg: npt.ArrayLike, height_mm: npt.ArrayLike) -> Floats:
        """Return how far inside the picture's frame places of the braid lie; outside below 0.

        Of a stretched picture as far as across, which is no more than it truly is.
        """
        u, v, hidden = self._offsets_mm(azimuth_deg, height_mm)
        half = np.array(self.size_px, dtype=np.float64) / 2
        inside = (half - np.abs(self.offset_px(u, v) - half)).min(axis=-1) / self.px_per_mm
        margin: Floats = np.where(hidden, -np.inf, inside)
        return margin

    def chart_deg(self, x_mm: npt.ArrayLike) -> Floats:
        """Return the azimuth of places x mm to the right of the front's middle."""
        return self.front_deg - np.rad2deg(np.asarray(x_mm, dtype=np.float64) / self.radius_mm)

    def _offsets_mm(
        self, azimuth_deg: npt.ArrayLike, height_mm: npt.ArrayLike
    ) -> tuple[Floats, Floats, Bools]:
        """True mm to the right of and above the nearest centre, and where no picture can lie."""
        azimuth = np.asarray(azimuth_deg, dtype=np.float64)
        height = np.asarray(height_mm, dtype=np.float64)
        centre = np.array(self.centres, dtype=np.float64).reshape(-1, 2)
        middles = (centre[1:, 1] + centre[:-1, 1]) / 2
        nearest = centre[np.searchsorted(middles, height)]
        turned = (nearest[..., 0] - azimuth + 180.0) % 360.0 - 180.0
        u, v = np.broadcast_arrays(self.across_mm(turned), height - nearest[..., 1])
        return u, v, np.broadcast_to(self.hidden(turned), u.shape)

    def across_mm(self, turned_deg: Floats) -> Floats:
        """Return true mm to the right for an angle to the right of the centre."""
        angle = np.deg2rad(turned_deg)
        across: Floats = self.radius_mm * (np.sin(angle) if self.fit == "face" else angle)
        return across

    def hidden(self, turned_deg: Floats) -> Bools:
        """Return where the picture cannot lie, however wide: for `face`, behind the silhouette."""
        if self.fit == "wrap":
            return np.zeros(turned_deg.shape, dtype=bool)
        return np.asarray(np.abs(turned_deg) > 90.0)

    def inside(self, points_px: Floats) -> Bools:
        """Return which points lie in the picture."""
        size = np.array(self.size_px, dtype=np.float64)
        return np.asarray(((points_px >= 0) & (points_px <= size)).all(axis=-1))


def turned_size(size: Sequence[float], rotate_deg: float) -> tuple[float, float]:
    """Return width and height of the box round a turned picture."""
    turn = np.deg2rad(rotate_deg)
    # a quarter turn must give back the very size, not 1e-14 more
    cosine, sine = (round(abs(float(part)), 12) for part in (np.cos(turn), np.sin(turn)))
    return size[0] * cosine + size[1] * sine, size[0] * sine + size[1] * cosine


def most_width_mm(lattice: Lattice, fit: Fit) -> float:
    """Return the widest motif: once round the braid, or all of its front view."""
    return lattice.circumference_mm if fit == "wrap" else 2 * lattice.radius_mm


def check_width(asked_mm: float | None, lattice: Lattice, fit: Fit) -> float | None:
    """Return the width that is asked for, if there is room for it on the braid.

    Raises
    ------
    WrongUsage
        If there is no room for it.
    """
    if asked_mm is None:
        return None
    most_mm = most_width_mm(lattice, fit)
    # a remedy's width is given to the tenth, and must be taken
    if not 0 < asked_mm <= most_mm + 0.05:
        across = "once round the braid" if fit == "wrap" else "the braid's front view"
        raise WrongUsage(
            f"{asked_mm:g} mm is no width: {across} is {np.floor(10 * most_mm) / 10:.1f} mm at the "
            "bead centres; give a width above 0 and up to that, or use more strands or larger "
            "beads.",
            "width_mm",
        )
    return min(asked_mm, most_mm)


def check_place(moved_mm: tuple[float, float], lattice: Lattice, beaded_mm: float) -> None:
    """Refuse a place, right and up from the middle, that is not on the braid.

    Raises
    ------
    WrongUsage
        With both parts of it.
    """
    (right, up), round_mm = moved_mm, lattice.circumference_mm
    refused = []
    if abs(right) > round_mm:
        half = np.floor(5 * round_mm) / 10
        refused.append(
            WrongUsage(
                f"{right:g} mm is more than once round the braid, {round_mm:.1f} mm. Give up to "
                f"{half:.1f} mm, or -{half:.1f} mm for the left.",
                "right",
            )
        )
    if abs(up) > beaded_mm / 2:
        half = np.floor(beaded_mm / 2)
        refused.append(
            WrongUsage(
                f"{up:g} mm is off the braid: {beaded_mm:.0f} mm of it are beaded. From its middle "
                f"there are {half:.0f} mm up, and -{half:.0f} mm down.",
                "up",
            )
        )
    if refused:
        raise WrongUsage.together(refused)
