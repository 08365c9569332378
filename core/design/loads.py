"""Stringing lists: from a design by the closed form, and back by working the slots of the disc.

The two directions share no arithmetic: a list is read off `Braid.strand_of`; a design comes back
by moving strands from slot to slot and taking the next bead of the one that moves.
"""

from __future__ import annotations

import csv
import io
import re
import unicodedata
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby
from pathlib import Path
from typing import NamedTuple

import numpy as np

from .._data import decode_table, read_limited, separator_of, table_lines
from ..arrays import Ints
from ..bounds import beyond
from ..braid import Braid
from ..errors import HimotifError, Problems
from .design import Design
from .drops import WAYS, drop_directions, worked_directions

HEADER = ("strand", "slot", "order", "bead")
DIRECTION = "direction"
"""Column of its own: which way round a drop bead goes on, empty for every other bead."""


def stringing(design: Design) -> list[Ints]:
    """Return the palette indices on each strand, first strung bead first.

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
    """Return the stringing lists as CSV: strand, slot, order, bead, direction of a drop."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*HEADER, DIRECTION))
    codes = [bead.code for bead in design.palette]
    strand = design.braid.strand_of(np.arange(len(design.beads)))
    turned = drop_directions(design).direction
    for number, slot in enumerate(design.braid.start_slots):
        own = strand == number
        rows = zip(design.beads[own].tolist(), turned[own].tolist(), strict=True)
        writer.writerows(
            (number + 1, slot, order, codes[bead], WAYS[way])
            for order, (bead, way) in enumerate(rows, start=1)
        )
    return out.getvalue()


def read_directions(path: Path) -> dict[tuple[int, int], str] | None:
    """Return which way round the lists string each bead, as they say it.

    Parameters
    ----------
    path : Path
        A table that `read_stringing_csv` reads.

    Returns
    -------
    dict or None
        By strand and order, both from 1, in small letters; None without such a column.
    """
    rows = _rows(path)
    names = [cell.strip().casefold() for cell in next(rows)[1]]
    if DIRECTION not in names:
        return None
    strand, order, direction = (names.index(name) for name in ("strand", "order", DIRECTION))
    return {
        (int(row[strand]), int(row[order])): row[direction].casefold()
        for _, row in rows
        if len(row) > direction
    }


def read_stringing_csv(path: Path, design: Design) -> list[list[int]]:
    """Read the lists of a design's folder back, also as a spreadsheet saved them.

    Columns may stand in any order, with others among them, and the slots may be missing; rows may
    stand in any order; the values are separated by commas, semicolons or tabs.

    Parameters
    ----------
    path : Path
        The table, as text in UTF-8, UTF-16 or Windows-1252.
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
    rows = _rows(path)
    line, header = next(rows)
    reader = _CsvRows(path, design, header)
    try:
        for line, row in rows:
            reader.take(line, row)
    except csv.Error:
        reader.say(line + 1, _NO_END)
    return reader.finish()


_NO_END = "a cell is far too long; look for a quotation mark without partner"


def _rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Yield the header and the rows of a table that are not empty, each with its line.

    The values are separated by what separates the header's.
    """
    try:
        text, _ = decode_table(read_limited(path, "Convert the picture again."))
    except ValueError as error:
        raise HimotifError(f"{path}:1: {error}.") from None
    lines = table_lines(text)
    # some spreadsheets write the separator into a line of its own
    first = 1 if re.fullmatch(r"sep=.", lines[0].strip()) else 0
    first += next((at for at, line in enumerate(lines[first:]) if line.strip()), 0)
    header = lines[first] if first < len(lines) else ""
    rows = csv.reader(lines[first:], delimiter=separator_of(header))
    try:
        yield first + 1, next(rows, [])
    except csv.Error:
        raise Problems([f"{path}:{first + 1}: {_NO_END}."]) from None
    for row in rows:
        if any(cell.strip() for cell in row):
            yield first + rows.line_num, [cell.strip() for cell in row]


class _CsvRows:
    """Takes the rows of a stringing CSV, collecting what is wrong."""

    def __init__(self, path: Path, design: Design, header: Sequence[str]) -> None:
        self.path, self.braid = path, design.braid
        self.slots = design.braid.start_slots
        codes = [bead.code for bead in design.palette]
        self.index = {code: number for number, code in enumerate(codes)}
        alike = Counter(code.casefold() for code in codes)
        # a spreadsheet may have changed the capitals
        self.alike = {
            code.casefold(): number
            for number, code in enumerate(codes)
            if alike[code.casefold()] == 1
        }
        self.found: list[dict[int, int]] = [{} for _ in self.slots]
        self.problems: list[str] = []
        names = [cell.strip().casefold() for cell in header]
        missing = [name for name in HEADER if name not in names and name != "slot"]
        if missing:
            raise HimotifError(
                f"{path}:1: no column {' or '.join(missing)}; the first line names the columns: "
                f"{','.join(HEADER)}."
            )
        self.at = {name: names.index(name) for name in HEADER if name in names}

    def say(self, line: int, what: str) -> None:
        self.problems.append(f"{self.path}:{line}: {what}.")

    def take(self, line: int, row: list[str]) -> None:
        cells = {name: row[at] if at < len(row) else "" for name, at in self.at.items()}
        numbers = {name: text for name, text in cells.items() if name != "bead"}
        if not all(text.isdecimal() and len(text) < 10 for text in numbers.values()):
            self.say(line, f"{', '.join(numbers)} must be whole numbers")
            return
        strand, order = int(cells["strand"]), int(cells["order"])
        if not 1 <= strand <= len(self.slots):
            self.say(line, f"strand {strand}: the braid has strands 1 to {len(self.slots)}")
            return
        slot, bead = self.slots[strand - 1], self.bead(cells["bead"])
        if int(numbers.get("slot", slot)) != slot:
            self.say(line, f"strand {strand} starts in slot {slot}, not {numbers['slot']}")
        elif bead is None:
            what = f"bead {cells['bead']!r:.40} is not a code of the palette"
            self.say(line, f"strand {strand}, bead {order}: {what}" if cells["bead"] else what)
        elif problem := beyond("beads", order):
            self.say(line, f"strand {strand}: the place {problem}")
        elif order in self.found[strand - 1]:
            self.say(line, f"strand {strand} has a bead {order} already")
        else:
            self.found[strand - 1][order] = bead

    def bead(self, code: str) -> int | None:
        code = unicodedata.normalize("NFC", code)
        return self.index.get(code, self.alike.get(code.casefold()))

    def finish(self) -> list[list[int]]:
        if self.problems:
            raise Problems(self.problems)
        for strand, beads in enumerate(self.found, start=1):
            self.problems += [
                f"{self.path}: strand {strand} has no bead {order}; the orders must count 1, 2, 3 "
                "without a gap."
                for order in range(1, max(beads, default=0))
                if order not in beads
            ]
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


class WrongDirection(Difference):
    """The first bead that the lists string the wrong way round; ways instead of codes."""

    def sentence(self) -> str:
        """Return it as a maker would say it."""
        said = f"strung {self.found}" if self.found else "without a direction"
        meant = f"a drop strung {self.wanted}" if self.wanted else "no drop"
        return (
            f"strand {self.strand}, bead {self.order} is {said}; the design has {meant} there "
            f"(crossing {self.crossing}). Change one of the two."
        )


def first_turned(
    design: Design, found: Mapping[tuple[int, int], str] | None
) -> WrongDirection | None:
    """Compare the directions of lists with the worked ones and name the first that differs.

    Parameters
    ----------
    design : Design
    found : mapping or None
        By strand and order, both from 1; None, as in older lists, says nothing.
    """
    if found is None:
        return None
    wanted = worked_directions(design)
    crossings = np.arange(len(wanted))
    strands = (design.braid.strand_of(crossings) + 1).tolist()
    orders = (design.braid.order_of(crossings) + 1).tolist()
    for number, place in enumerate(zip(strands, orders, strict=True)):
        way, says = WAYS[int(wanted[number])], found.get(place, "")
        if says != way:
            return WrongDirection(*place, number + 1, way, says)
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
