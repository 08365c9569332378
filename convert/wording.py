"""Findings as lines of the command: what is, and what to do about it, by its options."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from ..core.findings import Code, Finding
from ..core.paper.wording import sentence
from .options import remedy_words

if TYPE_CHECKING:
    from .job import Made


def line(finding: Finding, unit: str | None = None) -> str:
    """Return a finding with what to do about it."""
    ways = " or ".join(remedy_words(one) for one in finding.remedies)
    advice = ADVICE.get(finding.code, _try)
    told = advice(finding, ways)
    return f"{sentence(finding, unit)} {told}".strip()


def lines(findings: Iterable[Finding], unit: str | None = None) -> list[str]:
    """Return findings as lines, in their order."""
    return [line(finding, unit) for finding in findings]


def result_lines(made: Made, unit: str | None = None) -> list[str]:
    """Return the result of an order for people; `unit` as on the papers."""
    from ..core.design.drops import drop_directions, drop_lines
    from ..core.making.lengths import format_length

    unit = "in" if unit == "in" else None
    design, lattice = made.design, made.design.lattice
    counts = ", ".join(
        f"{need.count} {need.bead.code} ({need.bead.name})" for need in made.materials.needs
    )
    reach = made.materials.reach
    stock = None if reach is None or reach.enough else made.materials.stock_line(unit)
    drops = drop_directions(design)
    motifs = made.motifs_left
    count = f"{motifs} motif{'s' if motifs != 1 else ''}."
    return [
        f"{design.braid.strands} strands, {design.braid.lay} lay, {design.bead.label} beads: "
        f"{len(design.beads)} beads, {made.lengths.beads_per_strand} on each strand; "
        f"{format_length(design.length_mm, unit)} beaded, "
        f"{format_length(lattice.thickness_mm, 'mm')} thick.",
        f"{count if motifs else 'No motif: nothing of it is left in the beads.'} Beads: {counts}.",
        *([] if stock is None else [stock]),
        *(drop_lines(design, drops) if drops.count else []),
    ]


def _try(finding: Finding, ways: str) -> str:
    return f"Try {ways}." if ways else ""


def _verdict(finding: Finding, ways: str) -> str:
    simpler = "draw fewer, larger and thicker shapes"
    if not ways:
        return f"No larger size or braid that was tried shows it; {simpler}."
    if finding.data.get("sure"):
        return f"{ways} should show more of it."
    return f"{ways} may just show it, or {simpler}."


def _lost(finding: Finding, ways: str) -> str:
    data = finding.data
    if ways:
        keep = "keep it open" if finding.code is Code.LOST_OPENING else "keep it"
        return f"{ways} should {keep}."
    if data["width_mm"] >= data["needed_mm"]:
        return "Smaller beads would give it more room."
    instead = "leave it out" if data["hopeless"] else "take smaller beads"
    return f"Make it {data['needed_mm']:.1f} mm wide on the braid, or {instead}."


ADVICE: dict[Code, Callable[[Finding, str], str]] = {
    Code.TOO_SMALL: _verdict,
    Code.HARD_TO_RECOGNISE: _verdict,
    Code.LOST_PART: _lost,
    Code.LOST_BRANCH: _lost,
    Code.LOST_OPENING: _lost,
    Code.STROKES_TOO_THIN: lambda finding, ways: (
        "Thicker strokes, more strands, smaller beads or a larger motif along the braid show them "
        "better."
    ),
    Code.TAKEN_AS_SHADED: lambda finding, ways: (
        f"For a drawing in flat colours say that it is flat ({ways})."
    ),
    Code.GREYS_ONLY: lambda finding, ways: "You may add others (--keep CODE).",
    Code.MARGINS: lambda finding, ways: "Crop them, or make it wider (--width).",
    Code.WRIST_ASSUMED: lambda finding, ways: f"Give yours ({ways}).",
    Code.PLAIN_BACK_COVERS: lambda finding, ways: (
        "A narrower back (--plain-back) or motif (--width) leaves them."
    ),
    Code.DROPS_LEFT_OUT: lambda finding, ways: f"Ask for a drop, or scatter it: {ways}.",
    Code.SHORT_OF_ROOM: lambda finding, ways: "Fewer motifs leave more." if ways else "",
}
"""What to do, where it is more than to try the remedies."""
