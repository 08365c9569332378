"""Findings as lines of the command: what is so, and what to do about it, by its options."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import TYPE_CHECKING

from ..core.findings import Code, Finding, Remedy, Weight, by_weight
from ..core.names import counted
from ..core.paper.wording import sentence
from .advice import CONVERSION, MAKING, Advice
from .options import remedy_words

if TYPE_CHECKING:
    from ..core.paper.making_wording import Unit
    from ..palette import Near, PaletteReport, Sight
    from .job import Made
    from .suggest import Standing, Suggestion

MOST_PRINTED = 3
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


def lines(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return findings as lines, in their order.

    Parameters
    ----------
    findings : iterable of Finding
    unit : 'cm' or 'in', optional
        Of lengths.
    """
    return [with_advice(one, unit, remedy_words, ADVICE | ONLY_HERE) for one in findings]


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
    shown = ranked if verbose else ranked[: max(MOST_PRINTED, warnings)]
    said, more = lines(shown, unit), len(ranked) - len(shown)
    if more:
        held = "; the papers hold them all" if papers else ""
        said.append(f"{counted(more, 'more remark')}: -v shows them{held}.")
    return said


def result_lines(made: Made, unit: str | None = None) -> list[str]:
    """Return the result of an order for people; `unit` as on the papers."""
    from ..core.making.lengths import braid_thickness, format_length

    design, lattice = made.design, made.design.lattice
    counts = ", ".join(
        f"{need.count} {need.bead.code} ({need.bead.name})" for need in made.materials.needs
    )
    motifs = made.motifs_left
    count = f"{counted(motifs, 'motif')}."
    if design.origin.order.get("all_round"):
        count = "A pattern all round."
    return [
        f"{design.braid.strands} strands, {design.braid.lay} lay, {design.bead.label} beads: "
        f"{len(design.beads)} beads, {made.lengths.beads_per_strand} on each strand; "
        f"{format_length(design.length_mm, unit)} beaded, "
        f"{braid_thickness(lattice.thickness_mm, unit)} thick.",
        f"{count if motifs else 'No motif: nothing of it is left in the beads.'} Beads: {counts}.",
    ]


# -- palettes --------------------------------------------------------------------------------------

SIGHT_WORDS: Mapping[Sight, str] = {
    "day": "by day",
    "weak light": "weak light",
    "protan": "red-weak eyes",
    "deutan": "green-weak eyes",
    "tritan": "blue-weak eyes",
}

MOST_PAIRS_READ = 12
"""So many pairs that only some eyes mix up are listed to be read."""


def palette_lines(report: PaletteReport) -> list[str]:
    """Return a palette as lines to read: one bead a line, then the pairs to beware of."""
    from ..palette import hex_of

    palette = report.palette
    wide = max(len(code) for code in palette.codes)
    lines = [f"{palette.name}: {counted(len(palette), 'bead')}", ""]
    for bead, seen in zip(palette.beads, palette.seen_rgb.tolist(), strict=True):
        red, green, blue = bead.rgb
        extras = [text for text in (bead.size, bead.shape, bead.finish) if text]
        if bead.stock is not None:
            extras.append(f"{bead.stock} at hand")
        if seen != [red, green, blue]:
            extras.append(f"{hex_of(seen)} in the braid")
        tail = f" ({', '.join(extras)})" if extras else ""
        lines.append(
            f"  {bead.code:<{wide}}  {hex_of(bead.rgb)}  {red:3d} {green:3d} {blue:3d}  "
            f"{bead.name}{tail}"
        )
    return [*lines, *_alike_by_day(report, wide), *_alike_to_some(report, wide)]


def _alike_by_day(report: PaletteReport, wide: int) -> list[str]:
    from ..palette import HARD_TO_TELL

    beads, nearest = report.palette.beads, report.nearest
    if nearest is None:
        return []
    if not report.close:
        return [
            "",
            f"All beads are easy to tell apart by colour; nearest are {beads[nearest.first].code} "
            f"and {beads[nearest.second].code} (colour difference CIEDE2000 "
            f"{nearest.difference:.1f}).",
        ]
    lines = [
        "",
        f"Hard to tell apart (colour difference CIEDE2000 below {HARD_TO_TELL:g}; below 1 they "
        "look the same):",
    ]
    for one in report.close:
        first, second = beads[one.first], beads[one.second]
        lines.append(
            f"  {first.code:<{wide}}  {second.code:<{wide}}  {one.difference:4.1f}  "
            f"{first.name} / {second.name}"
        )
    return [*lines, *_more_pairs(report.more_close)]


def _alike_to_some(report: PaletteReport, wide: int) -> list[str]:
    if not report.to_some:
        return []
    codes, listed = report.palette.codes, report.to_some[:MOST_PAIRS_READ]
    return [
        "",
        "Alike in weak light, or to eyes that see fewer hues:",
        *(
            f"  {codes[one.first]:<{wide}}  {codes[one.second]:<{wide}}  "
            + ", ".join(SIGHT_WORDS[sight] for sight in one.sights)
            for one in listed
        ),
        *_more_pairs(report.more_to_some + len(report.to_some) - len(listed)),
    ]


def _more_pairs(count: int) -> list[str]:
    return [f"  and {count} more pairs"] if count else []


def near_lines(found: Iterable[Near]) -> list[str]:
    """Return beads near a colour as lines to read."""
    from ..palette import hex_of

    lines = []
    for bead, difference in found:
        stock = "" if bead.stock is None else f", {bead.stock} at hand"
        lines.append(f"{difference:5.1f}  {bead.code}  {hex_of(bead.rgb)}  {bead.name}{stock}")
    return [*lines, "Colour difference CIEDE2000: below 1 they look the same, 10 is plain to see."]


def suggestion_lines(before: Standing, found: list[Suggestion]) -> list[str]:
    """Return beads to buy as lines to read."""
    from ..palette import hex_of

    if not found:
        return [f"None of them helps this sketch. {_stands(before)}"]
    return [
        f"With the beads at hand: {_stands(before)}",
        *(
            f"Buy {one.bead.code} ({one.bead.name}, {hex_of(one.bead.rgb)}): "
            f"{_stands(one.standing)}"
            for one in found
        ),
        "At a first look, as seen at arm's length; each line counts those above it.",
    ]


def _stands(one: Standing) -> str:
    return (
        f"{one.kept_percent:.0f} % of the motif's structure kept, colour off by "
        f"{one.colour_de00:.1f} (CIEDE2000)."
    )
