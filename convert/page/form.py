"""The page's form: its fields, made from the option table."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import asdict, replace
from html import escape
from importlib import resources
from typing import TYPE_CHECKING, Any

from ...core.bead import bead_sizes
from ..options import (
    BEAD_CODE,
    READINGS,
    UNITS,
    ColourText,
    CornerPoints,
    File,
    Flag,
    Length,
    Limits,
    Number,
    Offset,
    OneOf,
    Option,
    Order,
    PageField,
    Papers,
    RepeatCount,
    Whole,
    all_options,
    table,
)

if TYPE_CHECKING:
    from ...core.design import Design
    from ...core.findings import Remedy

PLACES = ("braid", "more", "text", "motif", "colours", "papers", "limits", "readings")
"""Parts of the form that fields stand in; those in sight, of the first, have no drawings."""

MEASURED = "measured"
"""Chosen among the bead sizes: the bead has been measured."""

NO, YES = "no", "yes"
"""What a flag is chosen with."""


def page_html() -> str:
    """Return the page with its form and its drawings."""
    static = resources.files(__package__).joinpath("static")
    html = static.joinpath("page.html").read_text("utf-8")
    html = html.replace("<!-- drawings -->", static.joinpath("drawings.svg").read_text("utf-8"))
    html = re.sub("<!-- drawn: ([a-z_]+) -->", lambda found: drawn(found[1]), html)
    for place in PLACES:
        html = html.replace(f"<!-- fields: {place} -->", "\n      ".join(_fields(place)))
    return html


def _fields(place: str) -> Iterable[str]:
    tables = (table(Order), table(Papers), table(Limits), READINGS)
    for option in [option for one in tables for option in one.values()]:
        for part in option.page:
            if part.place == place:
                yield _field(option, part)


def _field(option: Option, part: PageField) -> str:
    name = part.name or option.name
    if name == "lay":
        return _hands(option, part)
    label = f'<label for="{name}">{escape(part.label)}</label>'
    if isinstance(option.kind, File):
        label, control = f'<span class="label">{escape(part.label)}</span>', _file_control(name)
    elif isinstance(option.kind, OneOf) and option.collect is not None:
        label, control = f'<span class="label">{escape(part.label)}</span>', _several(option, part)
    else:
        control = _control(option, part)
    only = f' data-only-if="{"=".join(part.only_if)}" hidden' if part.only_if else ""
    drawing = "" if part.place == "braid" else drawn(name)
    return (
        f'<div class="field{" pictured" if drawing else ""}"{only}>{drawing}{label}{control}</div>'
    )


def drawn(name: str) -> str:
    """Return the small drawing of that name."""
    return f'<svg class="drawn" aria-hidden="true"><use href="#d-{name}"/></svg>'


def _control(option: Option, part: PageField) -> str:
    name = part.name or option.name
    about = f'id="{name}" name="{name}" data-label="{escape(part.label)}"'
    choices = _choices(option, part)
    if choices is not None:
        beads = " data-beads" if option.kind is BEAD_CODE else ""
        return f"<select {about}{beads}>{''.join(choices)}</select>"
    unit = UNITS.get(option.kind.unit, "")
    mode = "numeric" if isinstance(option.kind, Whole) else "decimal"
    about += f' placeholder="{escape(part.hint)}"' if part.hint else ""
    if isinstance(option.kind, (Number, Length, Offset)):
        about += f' inputmode="{mode}"'
    about += f' aria-describedby="unit-{name}"' if unit else ""
    control = f"<input {about}>"
    if isinstance(option.kind, RepeatCount):
        words = "".join(f'<option value="{word}">' for word in option.kind.others)
        control = f'<input {about} list="{name}-list"><datalist id="{name}-list">{words}</datalist>'
    if isinstance(option.kind, ColourText):
        words = f"{part.label}, from a chart of colours"
        control += f'<input type="color" value="#ffffff" data-fills="{name}" aria-label="{words}">'
    if isinstance(option.kind, CornerPoints):
        control += '<button type="button" id="corners">Click them</button>'
    after = f'<span class="unit" id="unit-{name}">{unit}</span>' if unit else ""
    return f'<span class="with-unit">{control}{after}</span>'


def _file_control(name: str) -> str:
    """A file is chosen, and left out again."""
    return (
        f'<span class="row"><button type="button" data-bring="{name}">Choose a file</button>'
        f'<button type="button" data-drop="{name}" hidden>Without it</button></span>'
        f'<span id="{name}-words"></span>'
    )


def _several(option: Option, part: PageField) -> str:
    """Boxes to tick; together they are one text."""
    assert isinstance(option.kind, OneOf)
    boxes = "".join(
        f'<label><input type="checkbox" data-of="{option.name}" value="{value}"> {name}</label>'
        for value, name in zip(option.kind.values, option.kind.names, strict=True)
    )
    about = f'id="{option.name}" name="{option.name}" data-label="{escape(part.label)}"'
    return (
        f'<span class="row" role="group" aria-label="{escape(part.label)}">{boxes}</span>'
        f'<input type="hidden" {about}>'
    )


def _hands(option: Option, part: PageField) -> str:
    """Which hand is first, as a choice of two small discs: the strands that move, from above."""
    ways = {"S": ("top left, bottom right", -1), "Z": ("top right, bottom left", 1)}
    radios = "".join(
        f'<label><input type="radio" name="{option.name}" value="{value}"'
        f' data-label="{escape(part.label)}"{" checked" if value == option.default else ""}>'
        f'{_small_disc(side)}<span class="unseen">{words}</span></label>'
        for value, (words, side) in ways.items()
    )
    return (
        f'<fieldset class="field hands" id="{option.name}"><legend>{escape(part.label)}</legend>'
        f"{radios}</fieldset>"
    )


def _small_disc(side: int) -> str:
    """A disc from above: the strand at the top of one side goes down, the other one up."""
    down, up = 32 + 9 * side, 32 - 9 * side
    return (
        '<svg viewBox="0 0 64 64" width="62" height="62" aria-hidden="true">'
        '<circle class="rim" cx="32" cy="32" r="29"/><circle class="hole" cx="32" cy="32" r="3.5"/>'
        + "".join(f'<path class="slot" d="M{at} {top}v5"/>' for at in (23, 41) for top in (5, 54))
        + f'<path class="goes" d="M{down} 12V50m-5 -6l5 6l5 -6"/>'
        f'<path class="goes" d="M{up} 52V14m-5 6l5 -6l5 6"/></svg>'
    )


def _choices(option: Option, part: PageField) -> list[str] | None:
    """What can be chosen, None where anything can be written."""
    if option.name == "bead_size":
        return _listed(part, {size: size for size in bead_sizes()} | {MEASURED: "Measured"})
    if option.kind is BEAD_CODE and option.collect is None:
        # the beads of the palette follow when it is there
        return _listed(part, {})
    if isinstance(option.kind, Flag):
        return _listed(replace(part, hint=""), {NO: part.hint, YES: part.yes})
    if not isinstance(option.kind, OneOf):
        return None
    values = option.kind.values
    names = option.kind.names or [str(value) for value in values]
    return _listed(part, {str(value): name for value, name in zip(values, names, strict=True)})


def _listed(part: PageField, names: Mapping[str, str]) -> list[str]:
    names = ({"": part.hint} if part.hint else {}) | dict(names)
    return [
        f'<option value="{escape(value)}">{escape(name)}</option>' for value, name in names.items()
    ]


def form_of(design: Design) -> dict[str, str]:
    """Return the form of a design that is opened: the texts of its fields by name."""
    braid, bead = design.braid, design.bead
    asked: dict[str, Any] = {**design.origin.order}
    asked |= {"strands": braid.strands, "lay": braid.lay, "turn": braid.turn}
    asked |= {"bead_size": bead.name or MEASURED}
    if bead.name is None:
        asked |= {"bead_diameter_mm": bead.diameter_mm, "bead_length_mm": bead.length_mm}
    asked |= asdict(design.papers)
    texts: dict[str, str] = {}
    for name, option in (table(Order) | table(Papers) | table(Limits)).items():
        usual = option.default if isinstance(option.kind, OneOf) and not option.collect else None
        texts |= _texts(option, asked.get(name, usual))
    return texts


def form_of_remedy(remedy: Remedy) -> dict[str, str | None]:
    """Return what a remedy fills into the form: texts by field, None where the maker knows it.

    >>> from ...core.findings import Remedy
    >>> form_of_remedy(Remedy("strands", 16, (Remedy("rotate_deg", 90.0),)))
    {'strands': '16', 'rotate': '90'}
    """
    filled: dict[str, str | None] = {}
    for one in (remedy, *remedy.also):
        texts = _texts(all_options()[one.field], one.value)
        filled |= dict.fromkeys(texts) if one.value is None else texts
    return filled


def _texts(option: Option, value: Any) -> dict[str, str]:
    """A value in its fields; none where it is no value, as a file may hold anything."""
    if isinstance(option.kind, File):
        return {}
    names = [part.name or option.name for part in option.page]
    try:
        text = "" if value is None else option.text(value)
    except (TypeError, ValueError, AttributeError):
        text = ""
    texts = text.split(",") if len(names) > 1 and text else [text] * len(names)
    return dict(zip(names, texts, strict=False))
