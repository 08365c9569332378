"""Does what is advised hold? Every remedy is carried out, and no two remarks may contradict.

    python tests/benchmarks/advice.py                  # some half an hour of one processor
    python tests/benchmarks/advice.py --every 8        # every eighth order
    python tests/benchmarks/advice.py --write          # also into advice_table.txt

Sixty sketches: the bundled ones, twenty pictograms of ``reading.py``, ten of its capitals and ten
sketches drawn for the labels of ``tests/data``. Each is converted by the command ``himotif
convert`` on 8 strands, once as it stands and once too small; some are on 12 and on 16 strands, some
laid along the braid, some kept as drawn. Of each order are checked

- every remedy in what is printed, as it is printed: carried out by the command, the verdict rises,
  to 'reads' if that is what was said;
- the page's buttons: they fill the form in with the same values;
- what the choices show: none is better than what was worked if nothing is said to help, and the
  first one is what was worked;
- what is said of its parts: nothing lost that the report has in its place, and nothing called whole
  beside it; a part that is said to be kept by an option, or if it is drawn broader, is kept by it,
  and the verdict is no worse;
- the first line: that the motif cannot be recognised, wherever that is the verdict.
"""

from __future__ import annotations

import argparse
import json
import multiprocessing
import os
import re
import shlex
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from click.testing import CliRunner
from himotif.convert.cli import main as himotif
from himotif.convert.judge import keeping
from himotif.convert.judge.keeping import what_keeps
from himotif.convert.judge.lost import CODES as CODES_LOST
from himotif.convert.options import Order, read_values, table
from himotif.convert.page.wording import said as on_page
from himotif.core.findings import Finding, Remedy
from PIL import Image, ImageDraw
from reading import GLYPHS, PALETTE, ROOT, TYPEFACE, capital, icon_typeface, pictogram, with_margins

sys.path.insert(0, str(ROOT / "tests" / "data"))
from draw_labels import sketch_of

LOOKED: list[tuple[Any, ...]] = []
"""The last search for what keeps lost parts: what was asked, and what was found."""


def _recorded(*asked: Any) -> Any:
    found = what_keeps(*asked)
    named, _, flat, trials = asked
    LOOKED[:] = [(named, flat, trials, found)]
    return found


keeping.what_keeps = _recorded

TABLE = Path(__file__).with_name("advice_table.txt")
MOTIFS = ROOT / "fixtures" / "motifs"
CAPITALS = "AEGKMQRSWZ"
DRAWN = (
    "tulip", "cat", "sun", "mushroom", "smile", "key_heart", "moon_stars", "fish_shoal",
    "heart_star", "wave",
)  # fmt: skip
VERDICTS = ("lost", "a hint", "reads")
CODES = {"too-small": "lost", "hard-to-recognise": "a hint"}
OPTION = re.compile(r"(?:--[a-z-]+ \S+ ?)+")
PROMISED = {"should show more of it": "reads", "may just show it": "a hint"}


@dataclass(frozen=True)
class Asked:
    """One order: a sketch and options of the command."""

    sketch: str
    options: tuple[str, ...]


@dataclass
class Found:
    """What came of an order."""

    asked: Asked
    verdict: str | None
    remedies: int = 0
    faults: list[str] = field(default_factory=list)


def sketches() -> dict[str, str]:
    """Return the kind of each of the sixty sketches by its name."""
    found = {path.stem: "bundled" for path in sorted(MOTIFS.glob("*.png"))}
    found |= {f"icon {name}": "pictogram" for name in [*GLYPHS][::2]}
    found |= {f"letter {one}": "capital" for one in CAPITALS}
    return found | {f"drawn {name}": "drawn" for name in DRAWN}


def picture(name: str) -> Image.Image | Path:
    """Return a sketch by its name."""
    kind, _, rest = name.partition(" ")
    if not rest:
        return MOTIFS / f"{name}.png"
    if kind == "icon":
        return with_margins(pictogram(icon_typeface(), GLYPHS[rest]))
    return with_margins(capital(TYPEFACE, rest) if kind == "letter" else sketch_of(rest))


def orders() -> list[Asked]:
    """Return every order that is carried out."""
    found = []
    for number, name in enumerate(sketches()):
        found += [Asked(name, ()), Asked(name, ("--width", "5mm"))]
        other = (
            ("--strands", "12", "--width", "6mm"),
            ("--strands", "16", "--width", "7mm"),
            ("--pin", "stretch"),
            ("--rotate", "90", "--width", "4mm"),
        )
        found.append(Asked(name, other[number % len(other)]))
    return found


# -- carried out -----------------------------------------------------------------------------------


def converted(folder: Path, sketch: Path, options: Sequence[str]) -> tuple[dict[str, Any], str]:
    """Run the command; return its values and what it says to people."""
    words = ["convert", str(sketch), "--palette", str(PALETTE), "--out", str(folder / "out")]
    done = CliRunner().invoke(himotif, [*words, "--force", "--json", *options])
    if done.exit_code:
        raise RuntimeError(f"{' '.join(options)}: {done.stderr}")
    plain: dict[str, Any] = json.loads(done.stdout)
    return plain, done.stderr


def verdict_of(plain: Mapping[str, Any]) -> str:
    """Return the verdict as the findings have it."""
    codes = [one["code"] for one in plain["findings"]]
    return next((CODES[code] for code in codes if code in CODES), "reads")


def merged(options: Sequence[str], remedy: Sequence[str]) -> list[str]:
    """Return options with those of a remedy in their place."""
    named = {word for word in remedy if word.startswith("--")}
    kept: list[str] = []
    for name, value in zip(options[::2], options[1::2], strict=True):
        # a width or a stretch given instead of one that is pinned
        if name not in named and not (name == "--pin" and f"--{value}" in named):
            kept += [name, value]
    return [*kept, *remedy]


def carry_out(asked: Asked) -> Found:
    """Carry out an order and everything that is advised."""
    with tempfile.TemporaryDirectory() as name:
        folder, drawn = Path(name), picture(asked.sketch)
        sketch = folder / "sketch.png"
        if isinstance(drawn, Path):
            sketch = drawn
        else:
            drawn.save(sketch)
        LOOKED.clear()
        plain, said = converted(folder, sketch, asked.options)
        report = json.loads((folder / "out" / "distortion.json").read_text("utf-8"))
        before = verdict_of(plain)
        found = Found(asked, before)
        found.faults += contradictions(plain, report, said, before)
        if plain["kind"] == "shaded":
            return found
        redrawn = [*drawn_broader(sketch, folder)]
        for words, promised in [*printed(said), *lost_remedies(plain)]:
            found.remedies += 1
            after, _ = converted(folder, sketch, [*merged(asked.options, words), "--lists-only"])
            found.faults += holds(words, promised, before, after)
        for other, promised in redrawn:
            found.remedies += 1
            after, _ = converted(folder, other, [*asked.options, "--lists-only"])
            found.faults += holds([f"drawn as {other.name}"], promised, before, after)
    return found


def drawn_broader(sketch: Path, folder: Path) -> Iterator[tuple[Path, str]]:
    """Yield the sketch with a lost part drawn as wide as is said, and which part that is.

    Where the part lies is taken from the search that has just been made; it is painted in its own
    colour into the maker's picture, which is then read, placed and judged like any other.
    """
    lost, flat, trials, ways = LOOKED.pop() if LOOKED else ((), None, None, ())
    for number, (one, (draw_mm, _)) in enumerate(zip(lost, ways, strict=False)):
        if draw_mm is None:
            continue
        left, top, right, bottom = trials.motif.frame
        wide = right - left
        radius = draw_mm / 2 / flat.fitted.size.width_mm * wide
        image = Image.open(sketch).convert("RGBA")
        at = one.points * wide + [(left + right) / 2, (top + bottom) / 2]
        pixels = np.asarray(image)
        column, row = np.floor(at).astype(int).T
        here = pixels[row.clip(0, image.height - 1), column.clip(0, image.width - 1)]
        room = int(np.ceil(radius)) + 2
        larger = Image.new(
            "RGBA", (image.width + 2 * room, image.height + 2 * room), image.getpixel((0, 0))
        )
        larger.paste(image, (room, room))
        pen = ImageDraw.Draw(larger)
        ink = tuple(int(value) for value in np.median(here, axis=0))
        for x, y in (at + room).tolist():
            pen.ellipse((x - radius, y - radius, x + radius, y + radius), fill=ink)
        path = folder / f"redrawn_{number}.png"
        larger.save(path)
        bead = trials.motif.choice.palette.codes[one.within]
        yield path, json.dumps([CODES_LOST[one.kind].value, bead, list(one.where)])


def printed(said: str) -> Iterator[tuple[list[str], str]]:
    """Yield the options of each remedy of the verdict, as printed, and what it promises."""
    first = said.splitlines()[0] if said else ""
    for words, promised in PROMISED.items():
        if words in first:
            for options in OPTION.findall(first.partition(words)[0]):
                yield shlex.split(options), promised


def lost_remedies(plain: Mapping[str, Any]) -> Iterator[tuple[list[str], str]]:
    """Yield the options by which a lost part is said to be kept, and which part that is."""
    for one in plain["findings"]:
        if one["code"].startswith("lost-") and one.get("remedies"):
            for remedy in one["remedies"]:
                fields = [remedy, *remedy.get("also", [])]
                words = [word for part in fields for word in typed(part["field"], part["value"])]
                yield words, json.dumps([one["code"], one["data"]["code"], one["data"]["where"]])


def typed(name: str, value: Any) -> list[str]:
    """Return a value as it is typed."""
    from himotif.convert.options import remedy_words
    from himotif.core.findings import Remedy

    return shlex.split(remedy_words(Remedy(name, value)))


def holds(
    words: Sequence[str], promised: str, before: str, after: Mapping[str, Any]
) -> Iterator[str]:
    """Yield in what a remedy does not hold."""
    now = verdict_of(after)
    if promised.startswith("["):
        gone = [
            [one["code"], one["data"]["code"], one["data"]["where"]]
            for one in after["findings"]
            if one["code"].startswith("lost-") and "where" in one["data"]
        ]
        if json.loads(promised) in gone:
            yield f"{' '.join(words)} does not keep {promised}"
        if VERDICTS.index(now) < VERDICTS.index(before):
            yield f"{' '.join(words)} keeps {promised}, and {before} becomes {now}"
    elif VERDICTS.index(now) <= VERDICTS.index(before) or now != promised:
        yield f"{' '.join(words)}: {before} becomes {now}, said was {promised}"


# -- what contradicts ------------------------------------------------------------------------------


def contradictions(
    plain: Mapping[str, Any], report: Mapping[str, Any], said: str, verdict: str
) -> Iterator[str]:
    """Yield what two remarks on one order say against each other."""
    findings = [Finding.from_dict(one) for one in plain["findings"]]
    by_code = {one.code.value: one for one in findings}
    doubt = next((by_code[code] for code in CODES if code in by_code), None)
    ways = plain["choices"]
    if ways and ways[0]["verdict"] != verdict:
        yield f"the first choice is {ways[0]['verdict']}, the verdict {verdict}"
    better = [one for one in ways if VERDICTS.index(one["verdict"]) > VERDICTS.index(verdict)]
    if better and doubt is not None and not doubt.remedies:
        yield f"nothing is said to help, and the choice '{better[0]['way']}' does"
    reads = [one for one in better if one["verdict"] == "reads"]
    if reads and doubt is not None and not doubt.data.get("sure"):
        yield f"nothing is said to make it read, and a choice does: {reads[0]['way']}"
    if doubt is not None and not re.match("Too small|Hard to|Not to be", said):
        yield f"the first line does not say it: {said.splitlines()[0]!r}"
    yield from _parts(by_code, findings, report)
    yield from _report(report, doubt, said)
    if doubt is not None:
        yield from _page(doubt)
    sentences = " ".join(plain["notes"])
    if "No larger size or braid" in sentences and re.search(
        r"more strands|larger motif|have more beads", sentences
    ):
        yield "a larger size or braid is said to help, and not to"
    if "nothing to mend" in sentences and (doubt is not None or _lost(findings)):
        yield "nothing is to be mended, and something is lost"


def _lost(findings: Sequence[Finding]) -> list[Finding]:
    return [one for one in findings if one.code.value.startswith("lost-")]


def _parts(
    by_code: Mapping[str, Finding], findings: Sequence[Finding], report: Mapping[str, Any]
) -> Iterator[str]:
    """Yield what is lost and kept at once."""
    rows = {row["code"]: row for row in report["regions"]}
    for one in _lost(findings):
        row = rows.get(one.data.get("code", ""))
        if one.code.value == "lost-part" and not one.data["piece"]:
            if row and row["pieces_before"] == 1 and row["kept_percent"] >= 50:
                yield f"{row['code']} is lost, and {row['kept_percent']:.0f} % of it in its place"
            if row and row["pieces_before"] == row["pieces_after"] and not row["pieces_lost"]:
                yield f"a piece of {row['code']} is lost, and none is missing"
    if _lost(findings):
        for code in ("colours-gone", "pieces-gone", "little-in-place"):
            if code in by_code:
                yield f"what is lost is said twice: {code}"


def _report(report: Mapping[str, Any], doubt: Finding | None, said: str) -> Iterator[str]:
    """Yield where report and command differ."""
    sentences = report["findings"]
    doubted = any(re.match("Too small|Hard to recog|Not to be", one) for one in map(str, sentences))
    coded = any(isinstance(one, dict) and one.get("code") in CODES for one in sentences)
    if (doubted or coded) != (doubt is not None):
        yield "report and command do not agree on the verdict"


def _page(doubt: Finding) -> Iterator[str]:
    """Yield where the page's buttons do something else than the options."""
    shown = on_page(doubt)
    if len(shown["buttons"]) != len(doubt.remedies):
        yield "the page has another number of remedies"
        return
    for remedy, button in zip(doubt.remedies, shown["buttons"], strict=True):
        values = read_values(
            {name: text for name, text in _fields(button["form"]).items() if text is not None},
            table(Order),
        )
        for one in (remedy, *remedy.also):
            if values.get(one.field) != one.value and not _left_open(one, button["form"]):
                yield f"the page's button says {button['form']}, the command {remedy}"


def _fields(form: Mapping[str, str | None]) -> dict[str, str | None]:
    """A form's texts by the fields of orders."""
    names = {part.name or one.name: name for name, one in table(Order).items() for part in one.page}
    return {names.get(name, name): text for name, text in form.items()}


def _left_open(one: Remedy, form: Mapping[str, str | None]) -> bool:
    return one.value in (None, ()) and not any(form.values())


# -- the table -------------------------------------------------------------------------------------


def manner(asked: Asked) -> str:
    """Return what is asked for, in short."""
    if not asked.options:
        return "as it stands"
    return "5 mm wide" if asked.options == ("--width", "5mm") else "otherwise"


def rows(found: Sequence[Found]) -> Iterator[str]:
    """Yield the lines of the table."""
    kinds = sketches()
    by_kind: dict[tuple[str, str], list[Found]] = {}
    for one in found:
        by_kind.setdefault((manner(one.asked), kinds[one.asked.sketch]), []).append(one)
    for (how, kind), some in sorted(by_kind.items()):
        verdicts = Counter(one.verdict for one in some)
        named = sum(one.remedies for one in some)
        faults = sum(len(one.faults) for one in some)
        told = ", ".join(f"{verdicts[name]} {name}" for name in reversed(VERDICTS))
        told += f"; {named} remedies; {faults} faults"
        yield f"{how:<14}{kind:<10}{len(some):>3} orders: {told}"
    default = [one for one in found if not one.asked.options]
    unread = [f"{one.asked.sketch} ({one.verdict})" for one in default if one.verdict != "reads"]
    if default:
        yield f"not read as they stand, {len(unread)} of {len(default)}: {', '.join(unread)}"
    for one in found:
        for fault in one.faults:
            yield f"{one.asked.sketch} {' '.join(one.asked.options)}: {fault}"


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table, and write it if asked for."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--every", type=int, default=1, metavar="N")
    options.add_argument("--from", dest="first", type=int, default=0, metavar="N")
    options.add_argument("--only", help="one sketch")
    options.add_argument("--processes", type=int, default=os.cpu_count())
    options.add_argument("--write", action="store_true", help=f"write {TABLE.name}")
    chosen = options.parse_args(arguments)
    asked = orders()[chosen.first :: chosen.every]
    asked = [one for one in asked if chosen.only in (None, one.sketch)]
    with multiprocessing.Pool(chosen.processes) as pool:
        found = []
        for one in pool.imap(carry_out, asked, 1):
            found.append(one)
            for fault in one.faults:
                print(f"{one.asked.sketch} {' '.join(one.asked.options)}: {fault}", flush=True)
    lines = [*rows(found)]
    print("\n".join(lines))
    if chosen.write:
        TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return int(any(one.faults for one in found))


if __name__ == "__main__":
    sys.exit(main())
