"""What there is room for on the braid that was asked for: refused or asked about field by field.

The same functions that carry an order out are asked one by one, so that what they refuse is told
beside the field that it comes from.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from ...core.bounds import BOUNDS
from ...core.braid.braid import Braid
from ...core.errors import HimotifError, WrongUsage
from ...core.making.lengths import lengths
from ..job import DEFAULT_WRIST_MM, bead_of, lattice_of, short_of_room
from .order import FormProblems, page_words
from .wording import texts

if TYPE_CHECKING:
    from ...core.braid.lattice import Lattice
    from ...core.making.lengths import Lengths
    from ...palette.palette import Palette
    from ..job import Order


def check_room(order: Order, size_px: Sequence[int], palette: Palette) -> dict[str, str]:
    """Refuse what there is no room for.

    Parameters
    ----------
    order : Order
    size_px : (int, int)
        Width and height of the picture.
    palette : Palette

    Returns
    -------
    dict of str to str
        By field, what is to be said about a value that is possible and unlikely, or that there is
        less room for.

    Raises
    ------
    FormProblems
        With a sentence for every field that is to be mended.
    """
    from ..fit.placement import fitting_width_mm, off_the_braid, turned_size
    from ..fit.tile import plan_tile

    with _told_at("bead_diameter" if order.bead_diameter_mm else "bead_size"):
        bead = bead_of(order.bead_size, order.bead_diameter_mm, order.bead_length_mm, palette)
    with _told_at("swatch"):
        braid = Braid(order.strands, order.lay, order.turn, order.disc)
        lattice = lattice_of(braid, bead, order.readings)[0]
    planned = _planned(order, lattice)
    problems = off_the_braid(order.moved_mm or (0.0, 0.0), lattice, planned.worked_mm)
    try:
        width_mm = fitting_width_mm(order.width_mm, lattice, order.fit)
    except WrongUsage as error:
        problems["width"] = page_words(str(error))
    if problems:
        raise FormProblems(problems)
    wide, high = turned_size(size_px, order.rotate_deg)
    size_mm = (width_mm, width_mm * high / wide)
    questions = {one.data["what"]: texts([one])[0] for one in planned.questions}
    with _told_at("wrist" if "wrist" in questions else "width"):
        plan_tile(lattice, size_mm, planned.rounds, "once", order.gap_rounds)
    with _told_at("repeat"):
        up_mm = order.moved_mm[1] if order.moved_mm else 0.0
        tile = plan_tile(lattice, size_mm, planned.rounds, order.repeat, order.gap_rounds, up_mm)
    for short in short_of_room(order, tile):
        questions["up"] = texts([short])[0]
    return questions


def _planned(order: Order, lattice: Lattice) -> Lengths:
    try:
        return lengths(
            lattice,
            wrist_mm=DEFAULT_WRIST_MM if order.wrist_mm is None else order.wrist_mm,
            ease_mm=order.ease_mm,
            clasp_mm=order.clasp_mm,
            caps_mm=order.caps_mm,
        )
    except HimotifError as error:
        raise FormProblems(_by_field(str(error).split("\n"))) from None


def _by_field(sentences: Sequence[str]) -> dict[str, str]:
    """Return sentences about lengths by the field that they begin with, the wrist if with none."""
    found = {}
    for sentence in sentences:
        first, _, rest = sentence.partition(" ")
        field = first.lower()
        if field in BOUNDS:
            found[field] = page_words(rest)
        else:
            found.setdefault("wrist", page_words(sentence))
    return found


@contextmanager
def _told_at(field: str) -> Iterator[None]:
    """Tell what is refused inside at a field."""
    try:
        yield
    except HimotifError as error:
        raise FormProblems({field: page_words(str(error))}) from None
