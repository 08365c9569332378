"""Findings as lines of the command: what is so, and what to do about it, by its options."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING

from ..core.findings import Code, Finding, Remedy, Weight, by_weight
from ..core.paper.wording import sentence
from .advice import CONVERSION, MAKING, Advice
from .options import remedy_words

if TYPE_CHECKING:
    from ..core.paper.making_wording import Unit
    from .job import Made

MOST_FINDINGS = 3
"""So many findings are printed if not asked for all: does it read, what to change, what is missing.
"""

ADVICE: dict[Code, Advice] = {**MAKING, **CONVERSION}
"""What to do, where it is more than to try the remedies."""


def _sheet_again(finding: Finding, ways: str, unit: Unit) -> str:
    if finding.data["picture"] is None:
        return ""
    return (
        "To have it for the beads as they are now, give the sketch: himotif sheet "
        f"{finding.data['folder']} --picture {finding.data['picture']}. (Converting again would "
        "lose your edit.)"
    )


ONLY_HERE: dict[Code, Advice] = {Code.REPORT_GONE: _sheet_again}
"""What the command alone can do."""


def with_advice(
    finding: Finding,
    unit: Unit,
    words: Callable[[Remedy], str],
    advice: Mapping[Code, Advice] = ADVICE,
) -> str:
    """Return a finding with what to do about it, its remedies in the words of its reader."""
    if finding.code is Code.REMARK:
        return str(finding.data["text"])  # what it names stands as it was written
    ways = " or ".join(way for one in finding.remedies if (way := words(one)))
    to_do = advice.get(finding.code, _try)(finding, ways, unit)
    return f"{sentence(finding, unit)} {to_do}".rstrip()


def _try(finding: Finding, ways: str, unit: Unit) -> str:
    return f"Try {ways}." if ways else ""


def line(finding: Finding, unit: Unit = None) -> str:
    """Return a finding with what to do about it."""
    return with_advice(finding, unit, remedy_words, ADVICE | ONLY_HERE)


def lines(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return findings as lines, in their order.

    Parameters
    ----------
    findings : iterable of Finding
    unit : 'cm' or 'in', optional
        Of lengths.
    """
    return [line(one, unit) for one in findings]


def brief(
    findings: Iterable[Finding], unit: Unit = None, *, verbose: bool = False, papers: bool = False
) -> list[str]:
    """Return the findings that matter most as lines, and a line that says how many are left out.

    Parameters
    ----------
    findings : iterable of Finding
    unit : 'cm' or 'in', optional
        Of lengths.
    verbose : bool
        Leave nothing out.
    papers : bool
        Whether all of them stand in the folder.
    """
    ranked = by_weight(findings)
    warnings = sum(one.weight is Weight.WARNING for one in ranked)
    shown = ranked if verbose else ranked[: max(MOST_FINDINGS, warnings)]
    said, more = lines(shown, unit), len(ranked) - len(shown)
    if more:
        held = "; the papers hold them all" if papers else ""
        said.append(f"{more} more remark{'s' if more > 1 else ''}: -v shows them{held}.")
    return said


def result_lines(made: Made, unit: str | None = None) -> list[str]:
    """Return the result of an order for people; `unit` as on the papers."""
    from ..core.making.lengths import braid_thickness, format_length

    unit = "in" if unit == "in" else None
    design, lattice = made.design, made.design.lattice
    counts = ", ".join(
        f"{need.count} {need.bead.code} ({need.bead.name})" for need in made.materials.needs
    )
    motifs = made.motifs_left
    count = f"{motifs} motif{'s' if motifs != 1 else ''}."
    return [
        f"{design.braid.strands} strands, {design.braid.lay} lay, {design.bead.label} beads: "
        f"{len(design.beads)} beads, {made.lengths.beads_per_strand} on each strand; "
        f"{format_length(design.length_mm, unit)} beaded, "
        f"{braid_thickness(lattice.thickness_mm, unit)} thick.",
        f"{count if motifs else 'No motif: nothing of it is left in the beads.'} Beads: {counts}.",
    ]
