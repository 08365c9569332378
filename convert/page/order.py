"""An order as the page's form gives it: texts by field, read with the option table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from ...core.errors import HimotifError, WrongUsage
from ...core.making.swatch import readings_from_dict
from ..options import Flag, Offset, Option, Order, read_values, table
from .form import MEASURED

MOST_TEXT = 200
"""Letters of a field that are read."""


def order_from(plain: Mapping[str, Any], quick: bool = False) -> Order:
    """Read an order.

    Parameters
    ----------
    plain : mapping
        Values of the form by name; a missing or empty one is left to himotif.
    quick : bool
        A first look only.

    Raises
    ------
    WrongUsage
        With everything that is wrong, each with its field.
    """
    given: dict[str, Any] = {}
    values: dict[str, Any] = {"quick": quick}
    refused = []
    for read in (_moved, _readings):
        try:
            values |= read(plain)
        except WrongUsage as error:
            refused.append(error)
    for field, option in table(Order).items():
        if len(option.page) == 1 and option.page[0].place:
            given[field] = _given(option, _text(plain, option.name))
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
    return Order(**values)


def _given(option: Option, text: str | None) -> Any:
    """What a field's text stands for: several values have blanks or commas between."""
    if text is None:
        return None
    if isinstance(option.kind, Flag):
        return text == "yes"
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


def _unmeasured(given: Mapping[str, Any]) -> list[WrongUsage]:
    return [
        WrongUsage("Measure a bead in mm, such as 3.0; ten in a row help.", field)
        for field in ("bead_diameter_mm", "bead_length_mm")
        if given[field] is None
    ]
