"""An own start: a maker's disc with its slots and the pairs she begins with, from a file.

    {"slots": 48, "pairs": [[48, 1], [12, 13], [24, 25], [36, 37]]}

Pairs run clockwise from north. North is the notch between the highest slot and slot 1, so the
first pair sits in those two; any start can be turned so.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from .._data import read_json
from ..bounds import BOUNDS, fits, most
from ..errors import Problems
from .braid import Disc

EXAMPLE = '{"slots": 48, "pairs": [[48, 1], [12, 13], [24, 25], [36, 37]]}'
_KNOWN = ("slots", "pairs", "name", "about", "schema")


def read_own_start(path: Path) -> Disc:
    """Read a maker's own start.

    Parameters
    ----------
    path : Path
        A JSON file with ``slots`` (their number) and ``pairs`` (two neighbouring slots each,
        counter-clockwise one first, clockwise from north).

    Returns
    -------
    Disc
        To be handed to `Braid`, which works it and names the first collision.

    Raises
    ------
    HimotifError
        If the file cannot be read or is not JSON.
    Problems
        With everything in it that is wrong.
    """
    remedy = f"Write it like this: {EXAMPLE}"
    plain = read_json(Path(path), f"Write one like this: {EXAMPLE}", remedy)
    return disc_from_dict(plain, str(path))


def disc_from_dict(plain: Any, name: str = "own start") -> Disc:
    """Return the disc that plain values describe, or raise all `Problems` together."""
    if not isinstance(plain, Mapping):
        raise Problems([f"{name}: the file must hold one JSON object like {EXAMPLE}."])
    problems = [
        f"{name}: {key:.40}: is not known here; use slots and pairs."
        for key in plain
        if key not in _KNOWN
    ]
    slots: Any = plain.get("slots")
    if not _whole(slots) or slots % 2 or not fits("slots", slots):
        low, high = BOUNDS["slots"].low, BOUNDS["slots"].high
        problems.append(
            f"{name}: slots: is {slots!r:.40}, but must be an even number from {low} to {high}."
        )
        slots = None
    pairs: list[tuple[int, int]] = []
    rows = plain.get("pairs")
    if not isinstance(rows, list) or not rows:
        problems.append(f"{name}: pairs: must be a list of pairs of slots, like {EXAMPLE}.")
        rows = []
    if 2 * len(rows) > most("slots"):
        problems.append(f"{name}: pairs: {len(rows)} are more than any disc has room for.")
        rows = []
    for number, row in enumerate(rows, start=1):
        if not isinstance(row, list) or len(row) != 2 or not all(_whole(slot) for slot in row):
            problems.append(f"{name}: pair {number}: is {row!r:.40}, but must be two slots.")
        else:
            pairs.append((row[0], row[1]))
    if slots is not None and len(pairs) == len(rows) > 0:
        problems += [f"{name}: {problem}" for problem in _misplaced(slots, pairs)]
    if problems:
        raise Problems(problems)
    assert slots is not None
    return Disc(slots, tuple(pairs))


def _whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool)


def _misplaced(slots: int, pairs: list[tuple[int, int]]) -> list[str]:
    """Everything about the pairs that no way of working could put right."""
    problems = []
    if len(pairs) < 4 or len(pairs) % 2:
        problems.append(f"{len(pairs)} pairs: give an even number of pairs, at least four.")
    outside = sorted({slot for pair in pairs for slot in pair if not 1 <= slot <= slots})
    if outside:
        named = ", ".join(str(slot) for slot in outside)
        problems.append(f"slot {named}: the disc has slots 1 to {slots}.")
    used: dict[int, int] = {}
    for number, pair in enumerate(pairs, start=1):
        first, second = pair
        if second != first % slots + 1 and 1 <= first <= slots:
            problems.append(
                f"pair {number} ({first}, {second}): a pair sits in two neighbouring slots, "
                f"counter-clockwise one first, such as {first}, {first % slots + 1}."
            )
        for slot in pair:
            if slot in used:
                problems.append(
                    f"pair {number}: slot {slot} is taken by pair {used[slot]} already."
                )
            used.setdefault(slot, number)
    if pairs[0] != (slots, 1):
        problems.append(
            f"pair 1 ({pairs[0][0]}, {pairs[0][1]}): begin with the pair at north, slots {slots} "
            "and 1; turn the disc so that a pair sits there."
        )
    order = [first % slots for first, _ in pairs]
    if order != sorted(order):
        problems.append("the pairs must follow each other clockwise, as the slots are numbered.")
    elif len(pairs) % 2 == 0:
        half = slots // 2
        for number, (first, second) in enumerate(pairs[: len(pairs) // 2], start=1):
            wanted = (first + half - 1) % slots + 1
            other = number + len(pairs) // 2
            if pairs[other - 1][0] != wanted:
                problems.append(
                    f"pair {other} starts in slot {pairs[other - 1][0]}, but lies opposite pair "
                    f"{number} ({first}, {second}) and must start in slot {wanted}."
                )
    return problems
