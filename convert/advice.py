"""What to do about findings on making the piece, in words.

`ways` are the remedies as their reader names them: options of the command, labels of the page;
`unit` is that of lengths, 'in' or None.
"""

from __future__ import annotations

from collections.abc import Callable

from ..core.findings import Code, Finding
from ..core.making.lengths import small_length
from ..core.paper.making_wording import Unit

Advice = Callable[[Finding, str, Unit], str]


def _said(text: str) -> Advice:
    return lambda finding, ways, unit: text


def _check_unit(finding: Finding, ways: str, unit: Unit) -> str:
    if not ways:
        return "Check the unit."
    return f"Check the unit; a bare number is mm. Did you mean {ways}?"


_AGAIN = _said("It is used as you gave it; please measure again.")
_OWN_SWATCH = _said("Work a swatch of its own for true values.")

MAKING: dict[Code, Advice] = {
    Code.LENGTH_UNUSUAL: _check_unit,
    Code.CAPS_ASSUMED: _said("Measure yours, and what the closed clasp adds."),
    Code.ALL_OF_IT_BEADED: lambda finding, ways, unit: (
        f"Give clasp and end caps ({ways}) if they are to be within it."
    ),
    Code.SAMPLE_DIFFERS: _said("Measure wrist and sample again, or give another ease."),
    Code.THICKNESS_OFF: _AGAIN,
    Code.RISE_OFF: _AGAIN,
    Code.COLUMN_OFF: _AGAIN,
    Code.LETTER_BACKWARDS: lambda finding, ways, unit: f"Change hands, or convert with {ways}.",
    Code.SWATCH_OF_OTHER_LAY: _OWN_SWATCH,
    Code.SWATCH_OF_OTHER_BRAID: _OWN_SWATCH,
    Code.SIZE_NOT_GIVEN: lambda finding, ways, unit: (
        f"Write the size there ({', '.join(finding.data['sizes'])}), or weigh 50 beads."
    ),
    Code.PACKET_NOT_KNOWN: _said(
        "Write them into its column grams, or the number of beads into packet."
    ),
    Code.WEIGHT_NOT_KNOWN: _said(
        "Then write how many go to a gram into the palette's column per_gram."
    ),
    Code.MIRRORED: lambda finding, ways, unit: (
        "For the same picture in this lay, with letters that read right, convert it again with "
        f"{ways}."
    ),
    Code.PALETTE_NOT_UTF8: _said("If names look wrong, save the file as UTF-8."),
    Code.SHEET_FOUND: lambda finding, ways, unit: (
        "sketch.png shows it."
        + (f" If it is wrong, give the corners of the paper, or none ({ways})." if ways else "")
    ),
    Code.SHEET_NOT_FOUND: lambda finding, ways, unit: (
        f"Give the corners of the paper; none if it is no drawing ({ways})." if ways else ""
    ),
    Code.PICTURE_INKS: _said("Save it as an RGB picture for the right ones."),
}
"""By what was found; the rest is for reading."""


def _verdict(finding: Finding, ways: str, unit: Unit) -> str:
    simpler = "draw fewer, larger and thicker shapes"
    if finding.data.get("shaded"):
        return (
            "Choose a picture of fewer, larger shapes and stronger contrast, or draw them in flat "
            "colours."
        )
    if not finding.data["tried"]:
        return ""  # a first look
    if not ways:
        return f"No larger size or braid that was tried shows it; {simpler}."
    if finding.data.get("sure"):
        return f"{ways} should show more of it."
    return f"{ways} may just show it, or {simpler}."


def _lost(finding: Finding, ways: str, unit: Unit) -> str:
    data = finding.data
    opening = finding.code is Code.LOST_OPENING
    draw_mm = data.get("draw_mm")
    if draw_mm is None:
        if ways:
            return f"{ways} keeps it{' open' if opening else ''}."
        return "No larger size or braid that was tried keeps it." if "draw_mm" in data else ""
    what = "Leave it" if opening else "Draw it larger:"
    if not opening and (data["line"] or finding.code is Code.LOST_BRANCH):
        what = "Draw the line thicker:" if data["line"] else "Draw it broader:"
    beads = f"{draw_mm / data['pitch_mm']:.1f} beads"
    return (
        f"{what} at least {small_length(draw_mm, unit)} ({beads}) wide, {data['draw_times']:g} "
        f"times as wide as now{f'; or take {ways}' if ways else ''}."
    )


CONVERSION: dict[Code, Advice] = {
    Code.TOO_SMALL: _verdict,
    Code.HARD_TO_RECOGNISE: _verdict,
    Code.LOST_PART: _lost,
    Code.LOST_BRANCH: _lost,
    Code.LOST_OPENING: _lost,
    Code.STROKES_TOO_THIN: _said("Draw them thicker, or draw filled shapes."),
    Code.HIDDEN_BY_FILL: _said("Draw in another colour what is to show inside."),
    Code.TAKEN_AS_SHADED: lambda finding, ways, unit: (
        f"For a drawing in flat colours say that it is flat ({ways})."
    ),
    Code.GREYS_ONLY: _said("You may keep others."),
    Code.LETTERS_IN_DOUBT: lambda finding, ways, unit: (
        f"{ways} shows them better." if ways else "Look at the preview before you begin."
    ),
    Code.WRIST_ASSUMED: lambda finding, ways, unit: f"Give yours ({ways}).",
    Code.PLAIN_BACK_COVERS: _said("A narrower back or motif leaves them."),
    Code.DROPS_LEFT_OUT: lambda finding, ways, unit: (
        f"Ask for a drop, or scatter it: {ways}." if ways else ""
    ),
    Code.SHORT_OF_ROOM: lambda finding, ways, unit: "Fewer motifs leave more." if ways else "",
}
"""For what is said of a conversion."""
