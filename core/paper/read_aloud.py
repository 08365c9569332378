"""The stringing lists to be read aloud: by a helper, or by a screen reader.

Every line is a sentence that stands on its own. Each list comes twice: folded in one line, for
eyes and programs, and in words, where beads go by their names and the count is said again and
again.
"""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from ..design import ASCII_MARKS, AWAY, MARKS, TOWARD
from .drop_key import TURNED
from .sheet_content import SheetContent, Strand
from .shopping_wording import at_hand, format_grams

if TYPE_CHECKING:
    from ..design import FoldedRun, Run

_TEN = 10
"""Beads after which the count is said: a choice of this project."""
_WEIGHT = re.compile(r"\b[\d.]+(?:-[\d.]+)? g\b")


def stringing_text(content: SheetContent) -> str:
    """Return the text of ``stringing.txt``.

    Returns
    -------
    str
        Plain text, one sentence or list a line, sections apart by an empty line.
    """
    braid = content.design.braid
    sections = [
        [f"Stringing lists: {content.heading}", content.about],
        ["Beads:", *_beads(content)],
        ["What else you need:", *content.needs, *content.shopping_words],
        ["Setting up:", *content.setting_up],
        ["Working:", *(f"Step {n}. {step}" for n, step in enumerate(content.steps, start=1))],
        ["Before the first bead:", *content.plain_start],
        ["Threading:", *content.threading, *content.drop_words],
        ["The lists, with the codes of the beads:", *map(_folded, content.strands)],
        [
            "The same lists in words:",
            "After every ten beads or so the number that must be on the strand by then is said, in "
            "a repeat the number after each time.",
        ],
        *([*_spoken(strand, braid.strands, _names(content))] for strand in content.strands),
        ["With beads:", content.tuck_words, *content.at_work, content.rounds_words],
        ["Tying off:", *content.finish],
        ["Take care:", *content.cautions],
    ]
    if content.remarks:
        sections.append(["Notes:", *content.remarks])
    return "\n\n".join("\n".join(lines) for lines in sections) + "\n"


def _beads(content: SheetContent) -> list[str]:
    lines = []
    for need in content.shopping.needs:
        weight = f", {format_grams(need.grams)}" if need.grams else ""
        held = f"; {at_hand(need)}" if need.bead.stock is not None else ""
        if content.copies > 1:
            every, grams = content.for_all(need)
            held = f"; {every} for {content.copies}" + (f", {format_grams(grams)}" if grams else "")
        line = (
            f"{need.bead.code}, {need.bead.name}: {need.count}, with spare {need.with_spare}"
            f"{weight}{held}."
        )
        lines.append(_WEIGHT.sub(_spoken_weight, line))
    return [*lines, f"{content.shopping.total} beads in all."]


def _spoken_weight(found: re.Match[str]) -> str:
    return f"{found[0].removesuffix(' g').replace('-', ' to ')} grams"


def _folded(strand: Strand) -> str:
    return f"Strand {strand.number}, slot {strand.slot}, {len(strand.beads)} beads: {strand.folded}"


def _names(content: SheetContent) -> dict[str, str]:
    """What is said for each code: the name, with the code where two beads share a name."""
    palette = [need.bead for need in content.shopping.needs]
    names = [bead.name.strip().casefold() for bead in palette]
    said = {}
    for bead, name in zip(palette, names, strict=True):
        alone = name and names.count(name) == 1
        word = bead.name.strip() if alone else f"{bead.name.strip()} {bead.code}".strip()
        said[bead.code] = word
        for direction, turned in ((TOWARD, TURNED[TOWARD]), (AWAY, TURNED[AWAY])):
            for marks in (MARKS, ASCII_MARKS):
                said[bead.code + marks[direction]] = f"{word}, {turned}"
    return said


def _spoken(strand: Strand, strands: int, names: dict[str, str]) -> list[str]:
    count = len(strand.beads)
    lines = [f"Strand {strand.number} of {strands}, slot {strand.slot}, {count} beads."]
    done = 0
    for part in strand.parts:
        if part.times > 1:
            lines.append(_repeated(part, names, done))
            done += part.times * part.length
            continue
        for group in _tens(part.runs):
            words = ", ".join(f"{number} {names[code]}" for number, code in group)
            done += sum(number for number, _ in group)
            lines.append(f"{words}. Now {done}.")
    return [*lines, f"End of strand {strand.number}."]


def _repeated(part: FoldedRun, names: dict[str, str], done: int) -> str:
    """A repeat: its beads in tens, then the numbers that are on the strand after each time."""
    groups, inside = [], 0
    for group in _tens(part.runs):
        inside += sum(number for number, _ in group)
        groups.append(
            ", ".join(f"{number} {names[code]}" for number, code in group)
            + (f", so far {inside}" if inside < part.length else "")
        )
    after = ", ".join(str(done + part.length * time) for time in range(1, part.times + 1))
    return f"{part.times} times, {part.length} beads each time: {'; '.join(groups)}. Now {after}."


def _tens(runs: tuple[Run, ...]) -> list[list[Run]]:
    """Runs in groups that reach ten beads or a little more."""
    groups: list[list[Run]] = [[]]
    for run in runs:
        if sum(number for number, _ in groups[-1]) >= _TEN:
            groups.append([])
        groups[-1].append(run)
    return groups
