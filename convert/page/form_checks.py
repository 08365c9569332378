"""What there is room for on the braid that was asked for: refused or asked about field by field.

The same functions that carry an order out are asked one by one, before the work begins.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from ...core.braid.braid import Braid
from ...core.errors import WrongUsage
from ...core.making.lengths import lengths
from ..job import bead_of, lattice_of, short_of_room
from ..options import DEFAULT_WRIST_MM

if TYPE_CHECKING:
    from ...core.braid.lattice import Lattice
    from ...core.findings import Finding
    from ...palette.palette import Palette
    from ..options import Order


def validate(order: Order, size_px: Sequence[int], palette: Palette) -> dict[str, Finding]:
    """Refuse what there is no room for.

    Parameters
    ----------
    order : Order
    size_px : (int, int)
        Width and height of the picture.
    palette : Palette

    Returns
    -------
    dict of str to Finding
        By field, what is to be said about a value that is possible and unlikely, or that there is
        less room for.

    Raises
    ------
    WrongUsage
        With the field that is to be changed.
    """
    from ..fit.placement import turned_size
    from ..fit.tile import plan_tile

    bead = bead_of(order.bead_size, order.bead_diameter_mm, order.bead_length_mm, palette)
    braid = Braid(order.strands, order.lay, order.turn, order.disc)
    lattice = lattice_of(braid, bead, order.readings)[0]
    planned = lengths(
        lattice,
        wrist_mm=DEFAULT_WRIST_MM if order.wrist_mm is None else order.wrist_mm,
        ease_mm=order.ease_mm,
        clasp_mm=order.clasp_mm,
        caps_mm=order.caps_mm,
    )
    width_mm = _width_mm(order, lattice, planned.worked_mm)
    wide, high = turned_size(size_px, order.rotate_deg)
    size_mm = (width_mm, width_mm * high / wide)
    questions = {str(one.data["what"]): one for one in planned.questions}
    try:
        plan_tile(lattice, size_mm, planned.rounds, "once", order.gap_rounds)
    except WrongUsage as error:
        # a wrist that was asked about is to blame first
        raise (error.at("wrist_mm") if "wrist" in questions else error) from None
    up_mm = order.moved_mm[1] if order.moved_mm else 0.0
    tile = plan_tile(lattice, size_mm, planned.rounds, order.repeat, order.gap_rounds, up_mm)
    for short in short_of_room(order, tile):
        questions["up"] = short
    return questions


def _width_mm(order: Order, lattice: Lattice, worked_mm: float) -> float:
    """The motif's width; a place or a width that cannot be are refused together."""
    from ..fit.placement import check_place, fitting_width_mm

    refused = []
    try:
        check_place(order.moved_mm or (0.0, 0.0), lattice, worked_mm)
    except WrongUsage as error:
        refused.append(error)
    try:
        width_mm = fitting_width_mm(order.width_mm, lattice, order.fit)
    except WrongUsage as error:
        refused.append(error)
    if refused:
        raise WrongUsage.together(refused)
    return width_mm
