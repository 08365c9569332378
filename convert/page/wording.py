"""Findings in words for the page: a text, and a button for each remedy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ...core.findings import Code, Finding, Remedy
from ...core.making.lengths import plain_length
from ..wording import OPTIONS, text
from .order import LABELS, page_words

if TYPE_CHECKING:
    from ...core.paper.wording import Unit


def said(finding: Finding, unit: Unit = "cm") -> dict[str, Any]:
    """Return a finding for the page.

    Parameters
    ----------
    finding : Finding
    unit : 'cm' or 'in'

    Returns
    -------
    dict
        ``text``, and ``buttons``: ``field`` of the form, ``value`` and ``label``. Without a value
        the maker fills the field in.
    """
    words = text(finding, unit)
    if finding.code is Code.REMARK:
        words = page_words(words)
    return {"text": words, "buttons": [_button(one, unit) for one in finding.remedies]}


def texts(findings: Iterable[Finding], unit: Unit = "cm") -> list[str]:
    """Return the texts of findings alone."""
    return [said(one, unit)["text"] for one in findings]


def _button(remedy: Remedy, unit: Unit) -> dict[str, Any]:
    label = LABELS.get(OPTIONS[remedy.field], remedy.field)
    if remedy.value is not None:
        length = remedy.field.endswith("_mm")
        in_unit = "in" if unit == "in" else None
        label += f": {plain_length(remedy.value, in_unit) if length else remedy.value}"
    return {"field": remedy.field, "value": remedy.value, "label": label}
