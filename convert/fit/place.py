"""Where a motif is asked for on the braid, and how it comes again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.braid.lattice import FRONT_DEG, Lattice
from .placement import Placement, fitting_width_mm, most_width_mm, turned_size
from .tile import Tile, plan_tile

if TYPE_CHECKING:
    from ..options import Order


@dataclass(frozen=True)
class Place:
    """Where the maker's order puts the motif, before any search.

    Parameters
    ----------
    tile : Tile
    upright : Placement
        Of the first motif alone.
    ahead_deg : float
        How far the middle of all motifs lies round from the first, where they walk with a
        measured drift.
    most_scale : float
        How many times larger the motif may become.
    whole_round : bool
        Whether it goes all the way round.
    """

    tile: Tile
    upright: Placement
    ahead_deg: float
    most_scale: float
    whole_round: bool

    def repeated(self, placement: Placement) -> Placement:
        """Return the placement of the first motif with every repeat's centre."""
        azimuth, height = placement.centres[0]
        centres = tuple(
            (
                float((azimuth + self.tile.shift.walk_deg * number) % 360.0),
                float(height + number * self.tile.height_mm),
            )
            for number in range(self.tile.count)
        )
        return replace(placement, centres=centres)


def place_motif(size_px: tuple[int, int], lattice: Lattice, rounds: int, order: Order) -> Place:
    """Place a picture as it is asked for: in the middle of the front, if nothing else is.

    Parameters
    ----------
    size_px : (int, int)
        Width and height of the picture.
    lattice : Lattice
    rounds : int
        Of the whole braid, even.
    order : Order

    Raises
    ------
    WrongUsage
        If the motif does not fit on the braid.
    """
    turned = turned_size(size_px, order.rotate_deg)
    px_per_mm = turned[0] / fitting_width_mm(order.width_mm, lattice, order.fit)
    wide_mm, high_mm = turned[0] / px_per_mm, turned[1] / px_per_mm
    right_mm, up_mm = order.moved_mm or (0.0, 0.0)
    tile = plan_tile(lattice, (wide_mm, high_mm), rounds, order.repeat, order.gap_rounds, up_mm)
    # motifs that walk with a measured drift lie on both sides of the front alike
    ahead_deg = tile.shift.walk_deg * (tile.count - 1) / 2
    first_deg = float(FRONT_DEG - np.rad2deg(right_mm / lattice.radius_mm) - ahead_deg) % 360.0
    upright = Placement(
        order.fit,
        px_per_mm,
        order.rotate_deg,
        size_px,
        lattice.radius_mm,
        first_deg,
        ((first_deg, tile.middle_mm),),
    )
    along_mm = tile.height_mm - order.gap_rounds * lattice.rise_mm
    most_scale = min(along_mm / high_mm, most_width_mm(lattice, order.fit) / wide_mm)
    whole_round = order.fit == "wrap" and wide_mm > 0.95 * lattice.circumference_mm
    return Place(tile, upright, ahead_deg, most_scale, whole_round)
