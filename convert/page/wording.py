"""Findings in words for the page: a text, and a button for each remedy."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ...core.findings import Code, Finding
from ..options import remedy_label
from ..wording import with_advice
from .order import page_words

if TYPE_CHECKING:
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
        ``text``, and ``buttons``: ``field`` of the option table, ``value`` and ``label``. Without
        a value the maker fills the field in.
    """
    text = with_advice(finding, unit, lambda one: remedy_label(one) or "")
    if finding.code is Code.REMARK:
        text = page_words(text)
    buttons = [
        {"field": one.field, "value": one.value, "label": label}
        for one in finding.remedies
        if (label := remedy_label(one)) is not None
    ]
    return {"text": text, "buttons": buttons}


def texts(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return the texts of findings alone."""
    return [said(one, unit)["text"] for one in findings]
