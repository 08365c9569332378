"""Findings as sentences for paper: what is, without options and remedies."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from ..findings import Code, Finding
from . import conversion_wording
from .conversion_wording import Data, Unit

SENTENCES: dict[Code, Callable[[Data, Unit], str]] = {
    Code.REMARK: lambda data, unit: str(data["text"]),
    **conversion_wording.SENTENCES,
}


def sentence(finding: Finding, unit: Unit = None) -> str:
    """Return what a finding says, as one sentence or a few.

    Parameters
    ----------
    finding : Finding
    unit : 'cm' or 'in', optional
        Of lengths.
    """
    return SENTENCES[finding.code](finding.data, unit)


def remark(text: Any) -> Finding:
    """Return a text as a finding."""
    from ..findings import Weight

    return Finding(Code.REMARK, Weight.NOTE, {"text": str(text)})
