"""Where a motif is asked for on the braid, and how it comes again."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.braid import FRONT_DEG, Lattice
from .placement import Placement
from .tile import Tile, plan_tile

if TYPE_CHECKING:
    from ..options import Order


@dataclass(frozen=True)
class Place:
    """Where the maker's order puts a motif.

    Parameters
    ----------
    tile : Tile
    first_deg : float
        Azimuth of the middle of the first motif; its height is the tile's `middle_mm`.
    ahead_deg : float
        How far the middle of all motifs lies round from the first, where they walk with a
        measured drift.
    """

    tile: Tile
    first_deg: float
    ahead_deg: float

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


def place_motif(size_mm: tuple[float, float], lattice: Lattice, rounds: int, order: Order) -> Place:
    """Place a motif as it is asked for: in the middle of the front, if nothing else is.

    Parameters
    ----------
    size_mm : (float, float)
        Width and height of the motif on the braid.
    lattice : Lattice
    rounds : int
        Of the whole braid, even.
    order : Order

    Raises
    ------
    WrongUsage
        If the motif does not fit on the braid.
    """
    right_mm, up_mm = order.moved_mm or (0.0, 0.0)
    tile = plan_tile(lattice, size_mm, rounds, order.repeats, order.gap_rounds, up_mm)
    # motifs that walk with a measured drift lie on both sides of the front alike
    ahead_deg = tile.shift.walk_deg * (tile.count - 1) / 2
    first_deg = float(FRONT_DEG - np.rad2deg(right_mm / lattice.radius_mm) - ahead_deg) % 360.0
    return Place(tile, first_deg, ahead_deg)


def room_mm(lattice: Lattice, rounds: int, order: Order) -> float:
    """Return how high a motif may be, for as many of them as are asked for."""
    if isinstance(order.repeats, str) or order.repeats <= 1:
        return rounds * lattice.rise_mm
    each = rounds // order.repeats
    times = 1
    while lattice.face_return(times + 1).rounds <= each:
        times += 1
    return max(0.0, lattice.face_return(times).rounds - order.gap_rounds) * lattice.rise_mm
