"""How a bead goes in, drawn: under the strand that lies across, before its own strand crosses."""

from __future__ import annotations

import numpy as np

from ..arrays import Floats
from ..braid import Braid, over_first_bead
from ..drawing.shapes import BLACK, WHITE, Circle, Point, Polyline, Shape
from ..srgb import Rgb
from .disc import arrow, slot_angle_deg

_PLATE: Rgb = (247, 247, 247)
_STRAND: Rgb = (120, 120, 120)
_WIDE, _BEAD, _BEAD_AT = 0.08, 0.2, 0.33
"""Width of a strand, radius of the bead and its place, in radii of the disc as drawn."""


def tuck_shapes(braid: Braid, x: float, y: float, radius_mm: float) -> list[Shape]:
    """Return the bead of step 1 under the strand that holds it, and the way its strand goes.

    Parameters
    ----------
    braid : Braid
    x, y : float
        The middle of the disc on the page.
    radius_mm : float
        Of the disc as drawn.

    Returns
    -------
    list of shapes
    """
    past, own = over_first_bead(braid)
    slots = braid.start.slots
    # turned so that the pair stands at the top, as it does at the start
    turn = slot_angle_deg(own.from_slot, slots) - slot_angle_deg(
        braid.start_slots[own.strand], slots
    )

    def way(slot: int) -> Floats:
        angle = np.radians(slot_angle_deg(slot, slots) - turn)
        return np.array([np.sin(angle), -np.cos(angle)])

    def at(place: Floats) -> Point:
        return float(x + radius_mm * place[0]), float(y + radius_mm * place[1])

    start, end = way(past.from_slot), way(past.to_slot)
    across = at(start + 0.3 * (end - start)), at(end)
    bead = at(_BEAD_AT * way(own.from_slot))
    goal = 0.8 * (way(own.to_slot) - way(own.from_slot)) + way(own.from_slot)
    wide = _WIDE * radius_mm
    return [
        Circle(x, y, radius_mm, _PLATE, BLACK, 0.3),
        Polyline((at(np.zeros(2)), at(way(own.from_slot))), _STRAND, wide),
        Circle(*bead, _BEAD * radius_mm, WHITE, BLACK, 0.4),
        Polyline(across, BLACK, wide + 0.4),
        Polyline(across, _STRAND, wide),
        *arrow((at(0.9 * way(own.from_slot) - (0.1, 0.0)), at(goal - (0.1, 0.0))), 0.4),
    ]
