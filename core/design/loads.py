"""Stringing lists: from a design by the closed form, and back by working the slots of the disc.

The two directions share no arithmetic: a list is read off `Braid.strand_of`; a design comes back
by moving strands from slot to slot and taking the next bead of the one that moves.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

import numpy as np

from .._data import read_limited
from ..arrays import Ints
from ..braid import Braid
from ..errors import HimotifError, Problems
from .design import Design

HEADER = ("strand", "slot", "order", "bead")


def stringing(design: Design) -> list[Ints]:
    """Return the palette indices on each strand, first strung bead first.

    Parameters
    ----------
    design : Design

    Returns
    -------
    list of (k,) int
        One array a strand, in the order of the strands' numbers.
    """
    strand = design.braid.strand_of(np.arange(len(design.beads)))
    return [design.beads[strand == number] for number in range(design.braid.strands)]


def beads_from_lists(lists: Sequence[Sequence[int] | Ints], braid: Braid) -> Ints:
    """Work the braid from its stringing lists, slot by slot, and return the design's beads.

    Parameters
    ----------
    lists : sequence of sequences of int
        One a strand; the first bead of each is braided first.
    braid : Braid

    Returns
    -------
    (n,) int
        In working order.

    Raises
    ------
    HimotifError
        If there are too many or too few strands, or a strand runs out before the others.
    """
    if len(lists) != braid.strands:
        raise HimotifError(
            f"there are lists for {len(lists)} strands; the braid has {braid.strands}."
        )
    total = sum(len(beads) for beads in lists)
    used = [0] * braid.strands
    out = np.empty(total, dtype=np.intp)
    for move in braid.work(total):
        beads = lists[move.strand]
        if used[move.strand] >= len(beads):
            raise HimotifError(
                f"strand {move.strand + 1} (slot {braid.start_slots[move.strand]}) runs out of "
                f"beads at crossing {move.crossing + 1}, after its bead {len(beads)}, while "
                "other strands still have beads. Count the beads on every strand."
            )
        out[move.crossing] = beads[used[move.strand]]
        used[move.strand] += 1
    return out


# -- the table for other people's scripts ------------------------------------------------------


def stringing_csv(design: Design) -> str:
    """Return the stringing lists as CSV: strand, slot, order, bead."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(HEADER)
    codes = [bead.code for bead in design.palette]
    for number, beads in enumerate(stringing(design)):
        slot = design.braid.start_slots[number]
        writer.writerows(
            (number + 1, slot, order, codes[bead]) for order, bead in enumerate(beads, start=1)
        )
    return out.getvalue()


def read_stringing_csv(path: Path, design: Design) -> list[list[int]]:
    """Read the lists of a design's folder back.

    Parameters
    ----------
    path : Path
        The CSV file.
    design : Design
        Gives the strands, their slots and the palette.

    Returns
    -------
    list of list of int
        Palette indices, one list a strand.

    Raises
    ------
    HimotifError, Problems
        If the file cannot be read; everything that is wrong in it, each with its line.
    """
    try:
        text = read_limited(path, "Convert the picture again.").decode("utf-8-sig")
    except UnicodeDecodeError:
        raise HimotifError(f"{path}: this is not UTF-8 text. Save it again as UTF-8.") from None
    rows = csv.reader(text.splitlines())
    reader, line = _CsvRows(path, design), 0
    try:
        header, line = next(rows, []), 1
        if tuple(cell.strip() for cell in header) != HEADER:
            raise HimotifError(f"{path}:1: the first line must be {','.join(HEADER)}.")
        for line, row in enumerate(rows, start=2):
            if any(cell.strip() for cell in row):
                reader.take(line, [cell.strip() for cell in row])
    except csv.Error:
        reader.say(line + 1, "a cell is far too long; look for a quotation mark without partner")
    return reader.finish()


class _CsvRows:
    """Takes the rows of a stringing CSV, collecting what is wrong."""

    def __init__(self, path: Path, design: Design) -> None:
        self.path, self.slots = path, design.braid.start_slots
        self.index = {bead.code: number for number, bead in enumerate(design.palette)}
        self.found: list[dict[int, int]] = [{} for _ in self.slots]
        self.problems: list[str] = []

    def say(self, line: int, what: str) -> None:
        self.problems.append(f"{self.path}:{line}: {what}.")

    def take(self, line: int, row: list[str]) -> None:
        if len(row) != 4:
            self.say(line, f"{len(row)} cells instead of 4 (strand, slot, order, bead)")
            return
        if not all(cell.isdecimal() and len(cell) < 10 for cell in row[:3]):
            self.say(line, "strand, slot and order must be whole numbers")
            return
        strand, slot, order = (int(cell) for cell in row[:3])
        if not 1 <= strand <= len(self.slots):
            self.say(line, f"strand {strand}: the braid has strands 1 to {len(self.slots)}")
        elif slot != self.slots[strand - 1]:
            self.say(line, f"strand {strand} starts in slot {self.slots[strand - 1]}, not {slot}")
        elif row[3] not in self.index:
            self.say(line, f"bead {row[3]!r:.40} is not a code of the palette")
        elif order in self.found[strand - 1]:
            self.say(line, f"strand {strand} has a bead {order} already")
        else:
            self.found[strand - 1][order] = self.index[row[3]]

    def finish(self) -> list[list[int]]:
        if self.problems:
            raise Problems(self.problems)
        for strand, beads in enumerate(self.found, start=1):
            missing = set(range(1, len(beads) + 1)) - set(beads)
            if missing:
                self.problems.append(
                    f"{self.path}: strand {strand} has no bead {min(missing)}; the orders must "
                    "count 1, 2, 3 without a gap."
                )
        if self.problems:
            raise Problems(self.problems)
        return [[beads[order] for order in sorted(beads)] for beads in self.found]


class Difference(NamedTuple):
    """The first bead in which lists and design differ.

    Attributes
    ----------
    strand, order : int
        1-based.
    crossing : int or None
        1-based; None if the design has no such bead.
    wanted, found : str or None
        Codes; None where there is no bead.
    """

    strand: int
    order: int
    crossing: int | None
    wanted: str | None
    found: str | None

    def sentence(self) -> str:
        """Return the difference as a maker would say it."""
        place = f"strand {self.strand}, bead {self.order}"
        if self.found is None:
            return (
                f"{place} is missing; the design has {self.wanted} there (crossing "
                f"{self.crossing}). Put it back."
            )
        if self.wanted is None:
            return f"{place} is {self.found}, but the design has no such bead. Take it out."
        return (
            f"{place} is {self.found}; the design has {self.wanted} there (crossing "
            f"{self.crossing}). Change one of the two."
        )


def first_difference(lists: Sequence[Sequence[int]], design: Design) -> Difference | None:
    """Compare stringing lists with a design, strand by strand, and name the first difference."""
    codes = [bead.code for bead in design.palette]
    for number, (wanted, found) in enumerate(zip(stringing(design), lists, strict=True)):
        for place in range(max(len(wanted), len(found))):
            want = codes[wanted[place]] if place < len(wanted) else None
            have = codes[found[place]] if place < len(found) else None
            if want != have:
                crossing = int(design.braid.crossing_of(number, place)) + 1
                known = crossing if crossing <= len(design.beads) else None
                return Difference(number + 1, place + 1, known, want, have)
    return None


# -- lists for people --------------------------------------------------------------------------


Run = tuple[int, str]
"""How many, and the code."""


class FoldedRun(NamedTuple):
    """A stretch of a list, worked `times` times over."""

    times: int
    runs: tuple[Run, ...]

    @property
    def length(self) -> int:
        """Beads of the stretch, worked once."""
        return sum(count for count, _ in self.runs)

    def __str__(self) -> str:
        inner = ", ".join(f"{count} {code}" for count, code in self.runs)
        return inner if self.times == 1 else f"{self.times} × ({inner})"


def runs(codes: Sequence[str]) -> tuple[Run, ...]:
    """Return codes as counted runs.

    >>> runs(["A", "A", "A", "B"])
    ((3, 'A'), (1, 'B'))
    """
    return tuple((len(list(group)), code) for code, group in groupby(codes))


def fold_parts(codes: Sequence[str]) -> list[FoldedRun]:
    """Return codes as counted runs: before the longest repeat, the repeat, what follows, ...

    >>> [str(part) for part in fold_parts(["A", "A", "A", "B"] + ["A", "A", "A", "C"] * 12)]
    ['3 A, 1 B', '12 × (3 A, 1 C)']
    """
    parts: list[FoldedRun] = []
    while len(codes):
        found = _best_repeat(codes)
        if found is None:
            parts.append(FoldedRun(1, runs(codes)))
            break
        start, period, times = found
        if start:
            parts.append(FoldedRun(1, runs(codes[:start])))
        parts.append(FoldedRun(times, runs(codes[start : start + period])))
        codes = codes[start + period * times :]
    return parts


def _best_repeat(codes: Sequence[str]) -> tuple[int, int, int] | None:
    """Return (start, period, times) of the repeat that saves the most runs, or None."""
    count = len(codes)
    number = {code: index for index, code in enumerate(dict.fromkeys(codes))}
    values = np.array([number[code] for code in codes], dtype=np.intp)
    change = np.concatenate([[0], np.cumsum(values[1:] != values[:-1])]) if count else values
    best: tuple[int, int, int] | None = None
    saved = 0
    for period in range(2, count // 2 + 1):
        # stretches where every bead equals the one a period later
        same = np.zeros(count - period + 2, dtype=np.int8)
        same[1:-1] = values[period:] == values[:-period]
        if np.count_nonzero(same) < period:
            continue
        edges = np.flatnonzero(np.diff(same))
        start, stop = edges[::2], edges[1::2]
        whole = stop - start >= period
        if not whole.any():
            continue
        start, stop = start[whole], stop[whole]
        inside = change[start + period - 1] - change[start] + 1
        times = (stop - start) // period + 1
        gain = np.where(inside > 1, (times - 1) * inside - 1, 0)
        most = int(np.argmax(gain))
        if gain[most] > saved:
            best, saved = (int(start[most]), period, int(times[most])), int(gain[most])
    return best
