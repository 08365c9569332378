"""Findings in words for the command: what is so, what to do, and with which options."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from ..core.findings import Code, Finding, Remedy
from ..core.paper.wording import sentence

if TYPE_CHECKING:
    from ..core.paper.wording import Data, Unit, Wording

OPTIONS = {
    "wrist_mm": "--wrist",
    "length_mm": "--length",
    "ease_mm": "--ease",
    "clasp_mm": "--clasp",
    "caps_mm": "--caps",
    "lay": "--lay",
}
"""The command's options by the field that they fill."""


def command_words(field: str, value: Any) -> str:
    """Return the option that gives a field a value; without a value, the option alone."""
    option = OPTIONS[field]
    if value is None:
        return option
    unit = "mm" if field.endswith("_mm") else ""
    return f"{option} {value:g}{unit}" if isinstance(value, int | float) else f"{option} {value}"


def remedy_words(remedy: Remedy) -> str:
    """Return the options of a remedy, as they are typed."""
    return " ".join(command_words(one.field, one.value) for one in (remedy, *remedy.also))


def _said(text: str) -> Wording:
    return lambda data, unit: text


def _check_unit(data: Data, unit: Unit) -> str:
    if unit == "in":
        return "Check the unit."
    meant = data.get("meant")
    guess = "" if meant is None else f" Did you mean {meant['number']:g}{meant['unit']}?"
    return f"Check the unit; a bare number is mm.{guess}"


_AGAIN = _said("It is used as you gave it; please measure again.")
_OWN_SWATCH = _said("Work a swatch of its own for true values.")

ADVICE: dict[Code, Wording] = {
    Code.LENGTH_UNUSUAL: _check_unit,
    Code.CAPS_ASSUMED: _said("Measure yours, and what the closed clasp adds."),
    Code.ALL_OF_IT_BEADED: _said("Give clasp and end caps if they are to be within it."),
    Code.THICKNESS_OFF: _AGAIN,
    Code.RISE_OFF: _AGAIN,
    Code.COLUMN_OFF: _AGAIN,
    Code.LETTER_BACKWARDS: lambda data, unit: f"Change hands, or convert for {data['worked']} lay.",
    Code.SWATCH_OF_OTHER_LAY: _OWN_SWATCH,
    Code.SWATCH_OF_OTHER_BRAID: _OWN_SWATCH,
    Code.SIZE_NOT_GIVEN: lambda data, unit: (
        f"Write the size there ({', '.join(data['sizes'])}), or weigh 50 beads."
    ),
    Code.PACKET_NOT_KNOWN: _said("Write them into its column grams."),
    Code.MIRRORED: _said(
        "For the same picture in this lay, with letters that read right, convert it again."
    ),
    Code.PALETTE_NOT_UTF8: _said("If names look wrong, save the file as UTF-8."),
    Code.PICTURE_INKS: _said("Save it as an RGB picture for the right ones."),
}
"""What to do, in words that hold for the command and the page; findings without are for reading."""


def text(finding: Finding, unit: Unit = "cm") -> str:
    """Return what a finding says and what to do, without options."""
    if finding.code is Code.REMARK:
        return str(finding.data["text"])  # its options stand as they were written
    advice = ADVICE.get(finding.code)
    said = sentence(finding, unit)
    return said if advice is None else f"{said} {advice(finding.data, unit)}"


def line(finding: Finding, unit: Unit = "cm") -> str:
    """Return a finding as the command prints it: its options in brackets before the full stop."""
    said = text(finding, unit)
    options = ", ".join(remedy_words(remedy) for remedy in finding.remedies)
    return f"{said[:-1]} ({options}){said[-1]}" if options else said


def lines(findings: Iterable[Finding], unit: Unit = "cm") -> list[str]:
    """Return findings as the command prints them, one to a line.

    Parameters
    ----------
    findings : iterable of Finding
    unit : 'cm' or 'in'
    """
    return [line(one, unit) for one in findings]
