"""Findings as lines of the command: what is so, and what to do about it, by its options."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from ..core.findings import Code, Finding, Remedy
from ..core.paper.wording import sentence
from .advice import MAKING, Advice

if TYPE_CHECKING:
    from ..core.paper.making_wording import Unit

OPTIONS = {
    "wrist_mm": "--wrist",
    "length_mm": "--length",
    "ease_mm": "--ease",
    "clasp_mm": "--clasp",
    "caps_mm": "--caps",
    "lay": "--lay",
}
"""The command's options by the field that they fill."""

ADVICE: dict[Code, Advice] = {**MAKING}
"""What to do, where it is more than to try the remedies."""


def command_words(field: str, value: Any) -> str:
    """Return the option that gives a field a value; without a value, the option alone."""
    option = OPTIONS[field]
    if value is None:
        return option
    unit = "mm" if field.endswith("_mm") else ""
    return f"{option} {value:g}{unit}" if isinstance(value, int | float) else f"{option} {value}"


def remedy_words(remedy: Remedy) -> str:
    """Return a remedy as options of the command."""
    return " ".join(command_words(one.field, one.value) for one in (remedy, *remedy.also))


def with_advice(finding: Finding, unit: Unit, words: Callable[[Remedy], str]) -> str:
    """Return a finding with what to do about it, its remedies in the words of its reader."""
    if finding.code is Code.REMARK:
        return str(finding.data["text"])  # what it names stands as it was written
    ways = " or ".join(words(one) for one in finding.remedies)
    advice = ADVICE.get(finding.code, _try)
    return f"{sentence(finding, unit)} {advice(finding, ways)}".rstrip()


def _try(finding: Finding, ways: str) -> str:
    return f"Try {ways}." if ways else ""


def line(finding: Finding, unit: Unit = None) -> str:
    """Return a finding with what to do about it."""
    return with_advice(finding, unit, remedy_words)


def lines(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return findings as lines, in their order.

    Parameters
    ----------
    findings : iterable of Finding
    unit : 'cm' or 'in', optional
        Of lengths.
    """
    return [line(one, unit) for one in findings]
