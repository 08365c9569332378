"""Findings as lines of the command: what is so, and what to do about it, by its options."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING

from ..core.findings import Code, Finding, Remedy
from ..core.paper.wording import sentence
from .advice import CONVERSION, MAKING, Advice
from .options import remedy_words

if TYPE_CHECKING:
    from ..core.paper.making_wording import Unit
    from .job import Made

ADVICE: dict[Code, Advice] = {**MAKING, **CONVERSION}
"""What to do, where it is more than to try the remedies."""


def with_advice(finding: Finding, unit: Unit, words: Callable[[Remedy], str]) -> str:
    """Return a finding with what to do about it, its remedies in the words of its reader."""
    if finding.code is Code.REMARK:
        return str(finding.data["text"])  # what it names stands as it was written
    ways = " or ".join(way for one in finding.remedies if (way := words(one)))
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


def result_lines(made: Made, unit: str | None = None) -> list[str]:
    """Return the result of an order for people; `unit` as on the papers."""
    from ..core.design.drops import drop_directions, drop_findings
    from ..core.making.lengths import format_length

    unit = "in" if unit == "in" else None
    design, lattice = made.design, made.design.lattice
    counts = ", ".join(
        f"{need.count} {need.bead.code} ({need.bead.name})" for need in made.materials.needs
    )
    short = [one for one in made.materials.findings if one.code is Code.STOCK_SHORT]
    drops = drop_findings(design, drop_directions(design))
    motifs = made.motifs_left
    count = f"{motifs} motif{'s' if motifs != 1 else ''}."
    return [
        f"{design.braid.strands} strands, {design.braid.lay} lay, {design.bead.label} beads: "
        f"{len(design.beads)} beads, {made.lengths.beads_per_strand} on each strand; "
        f"{format_length(design.length_mm, unit)} beaded, "
        f"{format_length(lattice.thickness_mm, 'mm')} thick.",
        f"{count if motifs else 'No motif: nothing of it is left in the beads.'} Beads: {counts}.",
        *lines([*short, *drops], unit),
    ]
