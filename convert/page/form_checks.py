"""What there is room for on the braid that was asked for: refused or asked about field by field.

The same functions that carry an order out are asked one by one, before the work begins.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from ...core.errors import WrongUsage
from ..job import lattice_asked, lengths_of

if TYPE_CHECKING:
    from ...core.findings import Finding
    from ...palette import Palette
    from ..options import Order


def validate(order: Order, palette: Palette) -> dict[str, Finding]:
    """Refuse what there is no room for, whatever the motif.

    Returns
    -------
    dict of str to Finding
        By field, what is to be said about a value that is possible and unlikely.

    Raises
    ------
    WrongUsage
        With the fields that are to be mended.
    """
    from ..fit.placement import check_place, check_width

    lattice, _, _ = lattice_asked(order, palette)
    planned = lengths_of(order, lattice)
    refused = []
    try:
        check_place(order.moved_mm or (0.0, 0.0), lattice, planned.worked_mm)
    except WrongUsage as error:
        refused.append(error)
    try:
        check_width(order.width_mm, lattice, order.fit)
    except WrongUsage as error:
        refused.append(error)
    if refused:
        raise WrongUsage.together(refused)
    return {str(one.data["what"]): one for one in planned.questions}
