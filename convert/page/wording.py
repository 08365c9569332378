"""Findings in words for the page: a text, and a button for each remedy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ...core.findings import Code, Finding, Remedy
from ...core.making.lengths import plain_length
from ..wording import OPTIONS, with_advice
from .order import LABELS, page_words

if TYPE_CHECKING:
    from ...core.paper.making_wording import Unit


FIELDS = {field: LABELS[option] for field, option in OPTIONS.items() if option in LABELS}
FIELDS |= {"kind": "“Kind of picture”", "most": "“Colours, at most”"}
"""What the page calls the fields that it has."""


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
        ``text``, and ``buttons``: ``field`` of the option table, ``value`` and ``label``. Without
        a value the maker fills the field in.
    """

    def label(remedy: Remedy) -> str:
        every = (remedy, *remedy.also)
        on_page = all(one.field in FIELDS for one in every)
        return ", ".join(_label(one, unit) for one in every) if on_page else ""

    text = with_advice(finding, unit, label)
    if finding.code is Code.REMARK:
        text = page_words(text)
    buttons = [
        {"field": one.field, "value": one.value, "label": label(one)}
        for one in finding.remedies
        if label(one)
    ]
    return {"text": text, "buttons": buttons}


def texts(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return the texts of findings alone."""
    return [said(one, unit)["text"] for one in findings]


def _label(remedy: Remedy, unit: Unit) -> str:
    label = FIELDS[remedy.field]
    if remedy.value is None:
        return label
    if remedy.field.endswith("_mm"):
        return f"{label} {plain_length(remedy.value, 'in' if unit == 'in' else None)}"
    value = remedy.value
    return f"{label} {value:g}" if isinstance(value, float) else f"{label} {value}"
