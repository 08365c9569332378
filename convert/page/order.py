"""What the page's form gives: texts by field, read with the option table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from ...core.errors import HimotifError, WrongUsage
from ...core.making.swatch import readings_from_dict
from ..job import lattice_asked, lengths_of
from ..options import (
    READINGS,
    File,
    Flag,
    Limits,
    Offset,
    Option,
    Order,
    Papers,
    order_of,
    read_values,
    table,
)
from .form import MEASURED, YES

if TYPE_CHECKING:
    from ...core.drawing.typeface import Typeface
    from ...core.findings import Finding
    from ...palette import Palette

MOST_TEXT = 200
"""Letters of a field that are read."""


def order_from(
    plain: Mapping[str, Any], quick: bool = False, font: Typeface | None = None
) -> Order:
    """Read an order.

    Parameters
    ----------
    plain : mapping
        Values of the form by name; a missing or empty one is left to himotif.
    quick : bool
        A first look only.
    font : Typeface, optional

    Raises
    ------
    WrongUsage
        With everything that is wrong, each with its field.
    """
    values: dict[str, Any] = {"quick": quick, "font": font}
    refused = []
    for read in (_moved, _readings, _disc):
        try:
            values |= read(plain)
        except WrongUsage as error:
            refused.append(error)
    given = _fields(plain, table(Order))
    if given["bead_size"] == MEASURED:
        refused += _unmeasured(given)
        del given["bead_size"]
    else:
        del given["bead_diameter_mm"], given["bead_length_mm"]
    try:
        values |= read_values(given, table(Order))
    except WrongUsage as error:
        refused.append(error)
    if refused:
        raise WrongUsage.together(refused)
    return order_of(values | {"unit": papers_from(plain).unit})


def papers_from(plain: Mapping[str, Any]) -> Papers:
    """Read how the papers are to be made; as for `order_from`."""
    return Papers(**read_values(_fields(plain, table(Papers)), table(Papers)))


def limits_from(plain: Mapping[str, Any]) -> Limits:
    """Read what the result must hold; as for `order_from`."""
    return Limits(**read_values(_fields(plain, table(Limits)), table(Limits)))


def readings_from(plain: Mapping[str, Any]) -> dict[str, Any]:
    """Read what was measured on a test braid: values by name, None where nothing was."""
    values = read_values(_fields(plain, READINGS), READINGS)
    if "reads_right" in values:
        values["reads_right"] = values["reads_right"] == YES
    return {name: values.get(name) for name in READINGS}


def _fields(plain: Mapping[str, Any], options: Mapping[str, Option]) -> dict[str, Any]:
    """What was given in the fields that are one value each."""
    return {
        field: _given(option, _text(plain, option.page[0].name or option.name))
        for field, option in options.items()
        if len(option.page) == 1 and not isinstance(option.kind, File)
    }


def _given(option: Option, text: str | None) -> Any:
    """What a field's text stands for: several values have blanks or commas between."""
    if text is None:
        return None
    if isinstance(option.kind, Flag):
        return text == YES
    return tuple(re.split(r"[\s,]+", text)) if option.collect is not None else text


def _text(plain: Mapping[str, Any], name: str) -> str | None:
    value = plain.get(name)
    return (None if value is None else str(value)[:MOST_TEXT].strip()) or None


def _moved(plain: Mapping[str, Any]) -> dict[str, Any]:
    """The place, of its two fields; one of them is enough."""
    option = table(Order)["moved_mm"]
    assert isinstance(option.kind, Offset)
    texts = {part.name: _text(plain, part.name) for part in option.page}
    if not any(texts.values()):
        return {}
    parts = {name: Option(option.kind.part) for name in texts}
    found = read_values(texts, parts)
    return {"moved_mm": tuple(found.get(name, 0.0) for name in texts)}


def _readings(plain: Mapping[str, Any]) -> dict[str, Any]:
    """The readings of a swatch's file, that the page holds."""
    swatch = plain.get("swatch")
    if not isinstance(swatch, Mapping):
        return {}
    try:
        return {"readings": readings_from_dict(dict(swatch))}
    except HimotifError as error:
        raise WrongUsage(str(error), "readings") from None


def _disc(plain: Mapping[str, Any]) -> dict[str, Any]:
    """The disc of an own start's file, that the page holds."""
    from ...core.braid import disc_from_dict

    start = plain.get("start")
    if start is None:
        return {}
    try:
        return {"disc": disc_from_dict(start)}
    except HimotifError as error:
        raise WrongUsage(str(error), "disc") from None


def _unmeasured(given: Mapping[str, Any]) -> list[WrongUsage]:
    return [
        WrongUsage("Measure a bead in mm, such as 3.0; ten in a row help.", field)
        for field in ("bead_diameter_mm", "bead_length_mm")
        if given[field] is None
    ]


def validate(order: Order, palette: Palette) -> dict[str, Finding]:
    """Refuse what there is no room for on the braid that was asked for, whatever the motif.

    The same functions that carry an order out are asked one by one, before the work begins.

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
