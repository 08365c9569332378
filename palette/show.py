"""What there is to say about a palette: its beads, and those that are hard to distinguish."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from .colour import hex_of
from .difference import ciede2000_matrix
from .files import OPTIONAL
from .palette import Palette
from .sight import HARD_TO_TELL, Alike, Sight, alike_beads

MOST_PAIRS = 100
"""So many are named, more than anybody looks at; 2,000 beads of one colour make two million."""


MOST_PAIRS = 12
"""So many pairs that only some eyes mix up are listed to be read."""


SIGHT_WORDS: Mapping[Sight, str] = {
    "day": "by day",
    "weak light": "weak light",
    "protan": "red-weak eyes",
    "deutan": "green-weak eyes",
    "tritan": "blue-weak eyes",
}


class BeadPair(NamedTuple):
    """Two beads, by code, and their CIEDE2000."""

    first: str
    second: str
    difference: float


class ClosePairs(NamedTuple):
    """The nearest pairs of beads, nearest first, and how many more there are."""

    nearest: list[BeadPair]
    more: int


def close_pairs(palette: Palette, below: float = HARD_TO_TELL) -> ClosePairs:
    """Return the pairs of beads nearer than `below` by CIEDE2000."""
    differences = ciede2000_matrix(palette.lab, palette.lab)
    first, second = np.nonzero(np.triu(differences < below, 1))
    near = differences[first, second]
    codes = palette.codes
    nearest = [
        BeadPair(codes[first[at]], codes[second[at]], float(near[at]))
        for at in np.argsort(near, kind="stable")[:MOST_PAIRS]
    ]
    return ClosePairs(nearest, len(near) - len(nearest))


def palette_facts(palette: Palette) -> dict[str, Any]:
    """Return the palette as plain values for JSON.

    Returns
    -------
    dict
        ``name``; ``beads``, each with ``code, name, rgb`` and the optional values it has;
        ``hard_to_tell_apart``, each with ``beads`` (two codes) and ``ciede2000``, nearest first;
        ``alike_to_some``, pairs that are so in weak light or to eyes that see fewer hues;
        ``more_hard_to_tell_apart``, how many pairs are not named there; ``findings``.
    """
    beads = []
    for bead in palette.beads:
        optional = {name: getattr(bead, name) for name in OPTIONAL}
        given = {name: value for name, value in optional.items() if value is not None}
        beads.append({"code": bead.code, "name": bead.name, "rgb": list(bead.rgb), **given})
    close = close_pairs(palette)
    pairs = [
        {"beads": [pair.first, pair.second], "ciede2000": round(pair.difference, 2)}
        for pair in close.nearest
    ]
    return {
        "name": palette.name,
        "beads": beads,
        "hard_to_tell_apart": pairs,
        "alike_to_some": [one.as_dict(palette) for one in _to_some(palette)[:MOST_PAIRS]],
        "findings": [one.as_dict() for one in palette.findings],
        "more_hard_to_tell_apart": close.more,
    }


def palette_text(palette: Palette) -> str:
    """Return the palette as lines to read: one bead a line, then the pairs to beware of."""
    codes = palette.codes
    wide = max(len(code) for code in codes)
    count = "1 bead" if len(codes) == 1 else f"{len(codes)} beads"
    lines = [f"{palette.name}: {count}", ""]
    for bead in palette.beads:
        red, green, blue = bead.rgb
        extras = [text for text in (bead.size, bead.shape, bead.finish) if text]
        if bead.stock is not None:
            extras.append(f"{bead.stock} at hand")
        tail = f" ({', '.join(extras)})" if extras else ""
        lines.append(
            f"  {bead.code:<{wide}}  {hex_of(bead.rgb)}  {red:3d} {green:3d} {blue:3d}  "
            f"{bead.name}{tail}"
        )
    pairs, more = close_pairs(palette)
    lines.append("")
    if pairs:
        lines.append(
            f"Hard to tell apart (colour difference CIEDE2000 below {HARD_TO_TELL:g}; below 1 they "
            "look the same):"
        )
        names = {bead.code: bead.name for bead in palette.beads}
        lines += [
            f"  {first:<{wide}}  {second:<{wide}}  {difference:4.1f}  "
            f"{names[first]} / {names[second]}"
            for first, second, difference in pairs
        ]
        if more:
            lines.append(f"  and {more} more pairs")
    elif len(codes) > 1:
        first, second, difference = close_pairs(palette, np.inf).nearest[0]
        lines.append(
            f"All beads are easy to tell apart by colour; nearest are {first} and {second} "
            f"(colour difference CIEDE2000 {difference:.1f})."
        )
    some = _to_some(palette)
    if some:
        lines += ["", "Alike in weak light, or to eyes that see fewer hues:"]
        lines += [
            f"  {codes[one.first]:<{wide}}  {codes[one.second]:<{wide}}  "
            + ", ".join(SIGHT_WORDS[sight] for sight in one.sights)
            for one in some[:MOST_PAIRS]
        ]
        if len(some) > MOST_PAIRS:
            lines.append(f"  and {len(some) - MOST_PAIRS} more pairs")
    return "\n".join(lines).rstrip() + "\n"


def _to_some(palette: Palette) -> list[Alike]:
    """Pairs that are told apart by day, and not in another way of seeing."""
    far = ciede2000_matrix(palette.lab, palette.lab) >= HARD_TO_TELL
    return alike_beads(palette, np.argwhere(np.triu(far, 1)))
