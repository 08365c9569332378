"""Palette files: CSV, JSON, and the GIMP palette (``.gpl``).

A CSV file starts with a header. ``code,name,colour`` are required, ``size,shape,finish,stock,
grams,price,per_gram,packet,drop_width,drop_length,drop_lean`` optional, in any order, in English or
in another language of ``headings.json``; the separator is a comma, a semicolon or a tab. A GIMP
palette holds no codes: they are made from the order, A to Z, then AA, AB and so on. A JSON file is
an object with ``beads``, a list of objects with the same names as the columns; ``rgb`` may stand
for ``colour``.

Everything that is wrong with a file is reported at once, each with its line:
``file:line: what is wrong; what to do``.
"""

from __future__ import annotations

import csv
import io
import json
import re
import unicodedata
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cache
from pathlib import Path
from typing import Any, cast

from ..core._data import (
    decode_table,
    json_text,
    parse_json,
    read_limited,
    separator_of,
    table_lines,
)
from ..core.bead import Bead, bead_sizes, size_name
from ..core.bounds import BOUNDS, beyond, fits, most
from ..core.errors import MOST_PROBLEMS, HimotifError, Problems, WrongUsage
from ..core.findings import Code, Finding
from ..core.names import code_problem, name_problem, readable, writable
from ..core.srgb import Rgb
from .colour import hex_of, parse_colour
from .palette import Palette

REQUIRED = ("code", "name", "colour")
OPTIONAL = (
    *("size", "shape", "finish", "stock", "grams", "price", "per_gram", "packet"),
    *("drop_width", "drop_length", "drop_lean"),
)
SHAPES = ("round", "drop")
_TOO_MANY = (
    f"this is one bead more than the {most('palette')} that are read; keep those you have, or make "
    "two palettes"
)

_SHOWN = 10
"""So many columns that are not used are named; the rest are counted."""

_GPL_HEADER = "GIMP Palette"


@dataclass
class _Report:
    """Problems and findings of one file, each with the line it is about.

    Beads that were not read from a file have no lines.
    """

    file: str
    lined: bool = True
    problems: list[str] = field(default_factory=list)
    findings: list[Finding] = field(default_factory=list)

    def problem(self, line: int, text: str) -> None:
        said = f"{self.file}:{line}: {text}" if self.lined else f"{text[:1].upper()}{text[1:]}"
        self.problems.append(said)

    def found(self, line: int, code: Code, **data: Any) -> None:
        # it goes on paper, where the folders that lead to the file are nobody's business
        place = {"file": writable(Path(self.file).name), "line": line}
        self.findings.append(Finding(code, place | data))


def _first(findings: list[Finding]) -> list[Finding]:
    """Return the first few, and how many more there are."""
    more = len(findings) - MOST_PROBLEMS
    rest = [Finding(Code.PALETTE_MORE, {"count": more})] if more > 0 else []
    return [*findings[:MOST_PROBLEMS], *rest]


def read_palette(path: str | Path) -> Palette:
    """Read a palette file, CSV or GIMP palette, distinguished by what is in it.

    Parameters
    ----------
    path : str or Path

    Returns
    -------
    Palette
        Named after the file, with findings on what was guessed or left out.

    Raises
    ------
    HimotifError
        If the file cannot be opened.
    Problems
        Everything that is wrong in it, one message each, with file and line.
    """
    path = Path(path)
    return parse_palette(read_limited(path, "Check its name and folder."), str(path))


def read_palettes(paths: Iterable[str | Path]) -> list[Palette]:
    """Read several palette files.

    Raises
    ------
    Problems
        Everything that is wrong in any of them.
    """
    palettes: list[Palette] = []
    problems: list[str] = []
    for path in paths:
        try:
            palettes.append(read_palette(path))
        except Problems as error:
            problems += error.problems
    if problems:
        raise Problems(problems)
    return palettes


def starter_palette(name: str) -> Palette:
    """Return one of our own palettes to begin with: 'bright' (16 beads) or 'muted' (24)."""
    file = Path(__file__).parent.joinpath("starters", f"{name}.csv")
    return parse_palette(file.read_bytes(), f"{name}.csv")


def parse_palette(source: bytes | str, file: str = "palette", lined: bool = True) -> Palette:
    """Read a palette from the contents of a file.

    Parameters
    ----------
    source : bytes or str
        UTF-8, UTF-16 with its mark, or else taken for Western European (Windows-1252).
    file : str
        The name to use in messages; its stem names the palette.
    lined : bool
        Problems name file and line; not if the maker never saw it as a file.

    Raises
    ------
    Problems
        Everything that is wrong, one message each.
    """
    report = _Report(readable(file), lined)
    text = _decode(source, report) if isinstance(source, bytes) else source.removeprefix("\ufeff")
    lines = table_lines(text)
    name = Path(report.file).stem
    if report.problems:
        beads: list[Bead] = []
    elif not text.strip():
        report.problem(1, f"the file is empty; start it with the line {','.join(REQUIRED)}")
        beads = []
    elif lines[0].strip() == _GPL_HEADER:
        name, beads = _read_gpl(lines, name, report)
    elif Path(file).suffix.lower() == ".gpl":
        report.problem(
            1, f"a GIMP palette starts with the line {_GPL_HEADER!r}; save it again as a palette"
        )
        beads = []
    elif text.lstrip()[0] in "{[":
        name, beads = _read_json(text, name, report)
    else:
        beads = _read_csv(lines, report)
    if report.problems:
        raise Problems(report.problems)
    return Palette(tuple(beads), name, tuple(_first(report.findings)))


def _decode(data: bytes, report: _Report) -> str:
    try:
        text, line = decode_table(data)
    except ValueError as error:
        report.problem(1, str(error))
        return ""
    if line is not None:
        report.found(line, Code.PALETTE_NOT_UTF8)
    return text


def code_of(index: int) -> str:
    """Return the code of the bead at a 0-based place: A, B, ..., Z, AA, AB, ...

    >>> [code_of(index) for index in (0, 25, 26, 701, 702)]
    ['A', 'Z', 'AA', 'ZZ', 'AAA']
    """
    code = ""
    index += 1
    while index:
        index, letter = divmod(index - 1, 26)
        code = chr(ord("A") + letter) + code
    return code


def _tidy(text: str) -> str:
    """One line of text with single spaces, in composed characters."""
    return " ".join(unicodedata.normalize("NFC", text).split())


# ---------------------------------------------------------------------------------------- CSV


@cache
def words_of(kind: str) -> dict[str, str]:
    """Return what we call each word of palette files that is known, by the word as `plain_word`.

    Parameters
    ----------
    kind : 'columns' or 'shapes'
    """
    text = Path(__file__).parent.joinpath("headings.json")
    table = json.loads(text.read_text(encoding="utf-8"))[kind]
    return {plain_word(word): name for name, words in table.items() for word in words}


def plain_word(text: str) -> str:
    """Return a word without capitals and accents, single spaces for ``_`` and ``-``.

    >>> plain_word("Größe"), plain_word("PRO_GRAMM")
    ('grosse', 'pro gramm')
    """
    folded = unicodedata.normalize("NFKD", text.casefold())
    bare = "".join(letter for letter in folded if not unicodedata.combining(letter))
    return " ".join(re.sub("[-_]", " ", bare).split())


def _read_csv(lines: Sequence[str], report: _Report) -> list[Bead]:
    head = next(number for number, line in enumerate(lines) if line.strip())
    separator = separator_of(lines[head])
    header = _split(lines[head], separator, head + 1, report)
    columns = _columns(header, head + 1, report) if header else None
    if columns is None:
        return []
    beads: list[Bead] = []
    line_of_code: dict[str, int] = {}
    empty = True
    for number, line in enumerate(lines[head + 1 :], head + 2):
        if not line.strip(separator + " \t\u00a0"):
            continue
        empty = False
        if len(beads) == most("palette"):
            report.problem(number, _TOO_MANY)
            break
        cells = _split(line, separator, number, report)
        if cells is None:
            continue
        if len(cells) == 1 < len(header or ()) and (other := _other_separator(line, separator)):
            report.problem(
                number,
                f"the values are separated by {other!r}, the column names by {separator!r}; "
                "separate all by the same",
            )
            continue
        surplus = [cell for cell in cells[len(header or ()) :] if cell.strip()]
        if surplus:
            report.problem(
                number,
                f"{len(cells)} values for {len(header or ())} columns; put a value that holds "
                f"{separator!r} in quotation marks",
            )
            continue
        row = {name: _tidy(cells[at]) for name, at in columns.items() if at < len(cells)}
        bead = _bead(row, number, line_of_code, report)
        if bead:
            beads.append(bead)
    if empty:
        report.problem(
            head + 1, "the palette has no beads; write one line for each below the header"
        )
    _note_codes_alike(line_of_code, report)
    return beads


def _split(line: str, separator: str, number: int, report: _Report) -> list[str] | None:
    try:
        return next(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error:
        report.problem(
            number,
            "a quotation mark is opened and not closed, or closed too soon; close it on the same "
            'line, and write a quotation mark inside a name twice ("")',
        )
        return None


def _other_separator(line: str, separator: str) -> str | None:
    """The separator that a line seems to use instead, if it could hold the required values."""
    return next(
        (other for other in ",;\t" if other != separator and line.count(other) >= 2),
        None,
    )


def _columns(header: Sequence[str], number: int, report: _Report) -> dict[str, int] | None:
    """Place of each known column, or None if the rows cannot be read."""
    found: dict[str, int] = {}
    unused: list[str] = []
    for at, cell in enumerate(header):
        name = _tidy(cell).lower()
        known = words_of("columns").get(plain_word(name))
        if known in found:
            report.problem(number, f"the column {known} is there twice; take one out")
        elif known is not None:
            found[known] = at
        elif name:
            unused.append(name)
    missing = [name for name in REQUIRED if name not in found]
    if missing:
        likely = [
            f"is {close[0]!r:.40} meant for {name!r}?"
            for name in missing
            if (close := get_close_matches(name, unused, 1))
        ]
        remedy = " ".join(likely) or f"start the file with a header such as {','.join(REQUIRED)}"
        there = ", ".join(filter(None, (writable(_tidy(cell)[:40]) for cell in header[:_SHOWN])))
        report.problem(number, f"no column {' or '.join(missing)} among {there}; {remedy}")
    elif unused:
        named = [writable(name[:40]) for name in unused[:_SHOWN]]
        more = max(0, len(unused) - _SHOWN)
        report.found(number, Code.PALETTE_COLUMNS_UNUSED, columns=named, more=more)
    return None if missing else found


def _bead(
    row: Mapping[str, str], number: int, line_of_code: dict[str, int], report: _Report
) -> Bead | None:
    """One bead, or None; whatever is wrong goes to the report."""
    before = len(report.problems)
    values: dict[str, Any] = {}
    for name in (*REQUIRED, *OPTIONAL):
        text = row.get(name, "")
        try:
            if text:
                values[name] = _READERS[name](text)
            elif name in REQUIRED:
                raise HimotifError(f"no {name} is given; fill in the column {name}")
        except HimotifError as error:
            report.problem(number, str(error))
    code = values.get("code")
    if code in line_of_code:
        where = f" in line {line_of_code[code]}" if report.lined else ""
        report.problem(number, f"code {code} is used{where} already; choose another")
    elif code:
        line_of_code[code] = number
    if len(report.problems) > before:
        return None
    colour = values.pop("colour")
    for one in colour.findings:
        report.found(number, one.code, **one.data)
    if values.get("size") not in (None, *bead_sizes()):
        report.found(number, Code.SIZE_NOT_IN_TABLE, size=values["size"])
    return Bead(rgb=colour.rgb, **values)


def _note_codes_alike(line_of_code: Mapping[str, int], report: _Report) -> None:
    seen: dict[str, str] = {}
    for code, line in line_of_code.items():
        first = seen.setdefault(code.casefold(), code)
        if first != code:
            report.found(line, Code.CODES_ALIKE, first=first, second=code)


def _code(text: str) -> str:
    if problem := code_problem(text):
        raise HimotifError(problem)
    return text


def _named(label: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if problem := name_problem(text, label):
            raise HimotifError(problem)
        return text

    return read


def _size(text: str) -> str:
    size = size_name(text)
    if not re.fullmatch(r"[1-9]\d?/0", size, re.ASCII):
        raise HimotifError(
            f"size {text!r:.40} cannot be read; write it like 8/0, or leave it empty"
        )
    return size


def _shape(text: str) -> str:
    shape = words_of("shapes").get(plain_word(text))
    if shape is None:
        raise HimotifError(
            f"shape {text!r:.40} is not known; write {' or '.join(SHAPES)}, or leave it empty"
        )
    return shape


def _count(name: str) -> Callable[[str], int]:
    low = int(BOUNDS[name].low)

    def read(text: str) -> int:
        if not re.fullmatch(r"\d{1,9}", text, re.ASCII) or int(text) < low:
            raise HimotifError(
                f"{name} {text!r:.40} is not a number of beads; write a whole number from {low} "
                "up, or leave it empty"
            )
        return int(text)

    return read


def _within(name: str, bound: str, again: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        value = _number(name, "from 0 up" if fits(bound, 0) else "above 0")(text)
        if problem := beyond(bound, value):
            raise HimotifError(f"{name} {problem}; {again}")
        return value

    return read


def _number(name: str, lowest: str) -> Callable[[str], float]:
    def read(text: str) -> float:
        match = re.fullmatch(r"\d{1,9}(?:[.,]\d{1,9})?", text, re.ASCII)
        value = float(text.replace(",", ".")) if match else -1.0
        if value < 0 or (value == 0 and lowest == "above 0"):
            raise HimotifError(
                f"{name} {text!r:.40} cannot be read; write a plain number {lowest}, or leave it "
                "empty"
            )
        return value

    return read


_READERS: Mapping[str, Callable[[str], Any]] = {
    "code": _code,
    "name": _named("name"),
    "colour": parse_colour,
    "size": _size,
    "shape": _shape,
    "finish": _named("finish"),
    "stock": _count("stock"),
    "grams": _number("grams", "above 0"),
    "price": _number("price", "from 0 up"),
    "per_gram": _within("per_gram", "per_gram", "count the beads in a gram again"),
    "packet": _count("packet"),
    "drop_width": _within("drop_width", "bead", "measure across its wide end in mm"),
    "drop_length": _within("drop_length", "bead", "measure from end to end in mm"),
    "drop_lean": _within("drop_lean", "drop_lean", "measure how far it leans from straight out"),
}


def palette_csv(palette: Palette) -> str:
    """Return the palette as CSV; the optional columns that no bead fills are left out."""
    used = [name for name in OPTIONAL if any(getattr(b, name) is not None for b in palette.beads)]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow((*REQUIRED, *used))
    for bead in palette.beads:
        cells = (getattr(bead, name) for name in used)
        writer.writerow((bead.code, _tidy(bead.name), hex_of(bead.rgb), *map(_cell, cells)))
    return out.getvalue()


def _cell(value: str | float | None) -> str:
    if value is None:
        return ""
    return _tidy(value) if isinstance(value, str) else f"{value:.15g}"


# --------------------------------------------------------------------------------------- JSON

_BEADS = re.compile(r'"beads"\s*:\s*\[')


def _read_json(text: str, name: str, report: _Report) -> tuple[str, list[Bead]]:
    try:
        whole = parse_json(text.encode(), report.file, "Save it again, or write it as CSV.")
    except HimotifError as error:
        report.problems.append(str(error))
        return name, []
    rows = whole.get("beads") if isinstance(whole, dict) else whole
    if not isinstance(rows, list) or not rows:
        report.problem(1, 'there are no beads; write {"beads": [{"code": "A", ...}]}')
        return name, []
    if isinstance(whole, dict) and isinstance(whole.get("name"), str) and whole["name"].strip():
        name = _tidy(whole["name"])
        if problem := name_problem(name, "palette name"):
            report.problem(1, problem)
    beads: list[Bead] = []
    line_of_code: dict[str, int] = {}
    for row, number in zip(rows, _lines_of_rows(text, len(rows)), strict=False):
        if len(beads) == most("palette"):
            report.problem(number, _TOO_MANY)
            break
        if not isinstance(row, dict):
            report.problem(number, 'this is no bead; write {"code": "A", "name": ..., ...}')
            continue
        bead = _bead(_json_cells(row), number, line_of_code, report)
        if bead:
            beads.append(bead)
    _note_codes_alike(line_of_code, report)
    return name, beads


def _lines_of_rows(text: str, count: int) -> list[int]:
    """The line that each bead of a sound JSON palette begins in."""
    start = _BEADS.search(text)
    at = start.end() if start else text.index("[") + 1
    decoder, found = json.JSONDecoder(), []
    for _ in range(count):
        at = re.compile(r"[\s,]*").match(text, at).end()  # type: ignore[union-attr]
        found.append(text.count("\n", 0, at) + 1)
        _, at = decoder.raw_decode(text, at)
    return found


def _json_cells(row: Mapping[str, Any]) -> dict[str, str]:
    """The values of a bead as the cells of a table."""
    cells = {}
    for key, value in row.items():
        name = words_of("columns").get(plain_word(_tidy(str(key)).lower()))
        if name is not None and value is not None:
            cells[name] = _tidy(f"{value:.15g}" if isinstance(value, float) else str(value))
    rgb = row.get("rgb")
    if "colour" not in cells and isinstance(rgb, list):
        whole = len(rgb) == 3 and all(isinstance(v, int) and 0 <= v <= 255 for v in rgb)
        cells["colour"] = hex_of(cast("Rgb", tuple(rgb))) if whole else str(rgb)
    return cells


def palette_json(palette: Palette) -> str:
    """Return the palette as JSON; what a bead does not have is left out."""
    beads = []
    for bead in palette.beads:
        row = {"code": bead.code, "name": _tidy(bead.name), "colour": hex_of(bead.rgb)}
        given = {name: getattr(bead, name) for name in OPTIONAL}
        beads.append(row | {name: value for name, value in given.items() if value is not None})
    plain = {"schema": 1, "name": _tidy(palette.name), "beads": beads}
    return json_text(plain)


# ------------------------------------------------------------------------------- GIMP palette


def _read_gpl(lines: Sequence[str], name: str, report: _Report) -> tuple[str, list[Bead]]:
    beads: list[Bead] = []
    for number, line in enumerate(lines[1:], 2):
        text = line.strip()
        if len(beads) == most("palette"):
            report.problem(number, _TOO_MANY)
            break
        if not text or text.startswith("#"):
            continue
        if not beads and (match := re.fullmatch(r"(Name|Columns)\s*:\s*(.*)", text)):
            if match[1] == "Name" and match[2]:
                name = _tidy(match[2])
                if problem := name_problem(name, "palette name"):
                    report.problem(number, problem)
            continue
        match = re.match(r"(\d{1,9})\s+(\d{1,9})\s+(\d{1,9})(?:\s+(.*))?$", text, re.ASCII)
        if match is None:
            report.problem(number, f"{text!r:.40} is not a colour; write red green blue name")
            continue
        rgb = cast("Rgb", tuple(int(value) for value in match.groups()[:3]))
        if max(rgb) > 255:
            report.problem(
                number, f"{max(rgb)} is too large; red, green and blue run from 0 to 255"
            )
            continue
        called = _tidy(match[4] or "") or hex_of(rgb)
        if problem := name_problem(called):
            report.problem(number, problem)
            continue
        beads.append(Bead(code_of(len(beads)), called, rgb))
    if not beads and not report.problems:
        report.problem(len(lines), "the palette has no colours; write lines of red green blue name")
    return name, beads


def palette_gpl(palette: Palette) -> str:
    """Return the palette as a GIMP palette: colours and names in order, and nothing else."""
    rows = (
        " ".join(f"{value:3d}" for value in bead.rgb) + f"\t{_tidy(bead.name)}"
        for bead in palette.beads
    )
    return "\n".join((_GPL_HEADER, f"Name: {_tidy(palette.name)}", "#", *rows)) + "\n"


def palette_file(palette: Palette, name: str | Path) -> tuple[bytes, tuple[Finding, ...]]:
    """Return a palette's file, as its name ends in ``.csv``, ``.json`` or ``.gpl``; UTF-8.

    Returns
    -------
    bytes, tuple of Finding
        The content; what it cannot hold.

    Raises
    ------
    WrongUsage
        If the name ends otherwise.
    """
    kind = Path(name).suffix.lower()
    if kind not in (".csv", ".json", ".gpl"):
        raise WrongUsage(
            f"{name}: a palette is written as CSV, JSON or GIMP palette; let the name end in .csv, "
            ".json or .gpl."
        )
    if kind == ".json":
        return palette_json(palette).encode(), ()
    if kind == ".gpl":
        return palette_gpl(palette).encode(), tuple(_lost(palette.beads))
    return palette_csv(palette).encode(), ()


def rewritten(palette: Palette, path: Path) -> bytes:
    """Return the file of a palette that was read from `path`, to replace it.

    Raises
    ------
    WrongUsage
        If something in it would be lost.
    """
    unused = [one for one in palette.findings if one.code is Code.PALETTE_COLUMNS_UNUSED]
    content, lost = palette_file(palette, path)
    columns = [name for one in (*unused, *lost) for name in one.data["columns"]]
    if columns:
        raise WrongUsage(
            f"{path}: {', '.join(columns)} would be lost. Write the palette to a new CSV "
            "file, which has only what himotif keeps, and use that."
        )
    return content


def _lost(beads: Iterable[Bead]) -> list[Finding]:
    """What a GIMP palette does not hold."""
    beads = tuple(beads)
    lost = [name for name in OPTIONAL if any(getattr(bead, name) is not None for bead in beads)]
    if [bead.code for bead in beads] != [code_of(index) for index in range(len(beads))]:
        lost.insert(0, "code")
    return [Finding(Code.PALETTE_LEFT_OUT, {"columns": lost})] if lost else []
