"""Findings and refusals in words for the page: a text, and a button for each remedy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ...core.findings import Code, Finding, Remedy
from ...core.paper.wording import sentence
from ..options import page_names, remedy_label
from ..wording import with_advice
from .form import form_of_remedy

if TYPE_CHECKING:
    from ...core.errors import WrongUsage
    from ...core.paper.making_wording import Unit


def said(finding: Finding, unit: Unit = None) -> dict[str, Any]:
    """Return a finding for the page.

    Parameters
    ----------
    finding : Finding
    unit : 'cm' or 'in', optional
        Of lengths.

    Returns
    -------
    dict
        ``text``, and ``buttons``; see `buttons`.
    """
    if finding.code is Code.REMARK:
        text = sentence(finding, unit)  # without the options that an older file names
    else:
        text = with_advice(finding, unit, lambda one: remedy_label(one) or "")
    return {"text": text, "buttons": buttons(finding.remedies)}


def buttons(remedies: Iterable[Remedy]) -> list[dict[str, Any]]:
    """Return a button for each remedy that the page has a field for.

    Returns
    -------
    list of dict
        ``field`` of the option table, ``value``, ``label``, and ``form``: the texts that go into
        the form by field, None where the maker fills it in.
    """
    return [
        {"field": one.field, "value": one.value, "label": label, "form": form}
        for one in remedies
        if (label := remedy_label(one)) is not None and (form := form_of_remedy(one))
    ]


def texts(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return the texts of findings alone."""
    return [said(one, unit)["text"] for one in findings]


def refused(error: WrongUsage) -> dict[str, Any]:
    """Return what is refused, by the page's fields.

    Returns
    -------
    dict
        ``fields``: texts by field, None if a part of the error has no field there; ``buttons``: by
        field, as in `said`.
    """
    fields: dict[str, str] = {}
    ways: dict[str, list[dict[str, Any]]] = {}
    for part in error.parts:
        names = () if part.field is None else page_names(part.field)
        if not names:
            return {"fields": None, "buttons": {}}
        does = [words for one in part.remedies if (words := remedy_label(one))]
        text = f"{part} Try {' or '.join(does)}." if does else str(part)
        for name in names:
            fields.setdefault(name, text)
            ways.setdefault(name, buttons(part.remedies))
    return {"fields": fields, "buttons": ways}
