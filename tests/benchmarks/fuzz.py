"""Breaks valid files of every kind and gives them to the commands; counts what ends badly.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python tests/benchmarks/fuzz.py [--cases 2000]

Each case breaks one file: bytes flipped, cut out, put in or cut off; in JSON values of the wrong
kind, huge, endless, deep, missing or doubled; in tables cells and columns. A command then reads it,
in a process of its own, forked from this one so that nothing is imported anew. It must end within
10 s of the processor and 1 GB, with exit code 0 to 3, without a traceback and with no more than
8,000 letters of messages; the maker's own file beside it must be as it was, and, if the command
refuses, so must everything else.

`--case KIND:NUMBER` runs one case again and shows what it says.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import traceback
from collections import Counter
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from pathlib import Path
from typing import Any

from himotif.convert.cli import main
from PIL import Image

FIXTURES = Path(__file__).parents[2] / "fixtures"
PALETTE = FIXTURES / "palettes" / "saltmarsh.csv"
SKETCH = FIXTURES / "motifs" / "letter_f.png"
MOST_S, MOST_MB, MOST_LETTERS = 10, 1000, 8000
QUICK = ("--quick", "--lists-only", "--length", "4cm")
ACCENT = PALETTE.read_text().splitlines()[3].split(",")[0]
HERS = "for the tide festival"

Words = tuple[str, ...]


# -- breaking ------------------------------------------------------------------------------------


def break_bytes(data: bytes, dice: random.Random) -> bytes:
    """Flip, cut out, put in or cut off."""
    out = bytearray(data)
    for _ in range(dice.choice((1, 1, 2, 5, 30))):
        at = dice.randrange(len(out) + 1) if dice.random() < 0.6 else dice.randrange(200)
        at, span = min(at, len(out)), dice.choice((1, 2, 8, 200))
        kind = dice.randrange(6)
        if kind == 0 and at < len(out):
            out[at] ^= 1 << dice.randrange(8)
        elif kind == 1:
            del out[at : at + span]
        elif kind == 2:
            out[at:at] = dice.randbytes(span)
        elif kind == 3:
            out[at:at] = out[at : at + span] * dice.choice((1, 3, 1000))
        elif kind == 4:
            out[at : at + span] = dice.choice((b"\0", b"\xff", b"9", b"-", b'"', b"\n")) * span
        elif dice.random() < 0.3:
            del out[at:]
    return bytes(out)


def odd_value(dice: random.Random) -> Any:
    """A value that a careless or hostile hand would write."""
    deep: Any = 1
    for _ in range(dice.choice((5, 40, 60))):
        deep = [deep] if dice.random() < 0.5 else {"a": deep}
    numbers = (0, 1, -1, 2, 7, 199, 10**9, -(10**9), 10**14, 10**15, 10**400, 0.5, -0.0, 3.0000001)
    limits = (1e-300, 5e-324, 1e308, -1e308, float("nan"), float("inf"), float("-inf"))
    texts = ("", "A", "S", "nan", "1", "=1+1", "../../x", "/etc/passwd", "x" * 100_000, "é" * 70)
    signs = ("\0", "\ud800", "\u202e", "a\nb", "\x1b[2J")
    lists = (
        [],
        [[]],
        [None],
        [1, 2],
        [0] * 30_000,
        [{}] * 3000,
        [[1, 2]] * 500,
        ["x" * 2000] * 100,
    )
    others = (None, True, False, {}, {"strands": 8}, {"a": [1]}, deep)
    return dice.choice((*numbers, *limits, *texts, *signs, *lists, *others))


def places(plain: Any) -> list[tuple[Any, Any]]:
    """Every place in plain values, as what holds it and its key; few of long lists."""
    found: list[tuple[Any, Any]] = []
    if isinstance(plain, dict | list):
        keys = list(plain) if isinstance(plain, dict) else list(range(len(plain)))[:4]
        for key in keys:
            found.append((plain, key))
            found += places(plain[key])
    return found


def break_json(data: bytes, dice: random.Random) -> bytes:
    """Put something odd where a value is, take it out, double it or call it otherwise."""
    if dice.random() < 0.15:
        return break_bytes(data, dice)
    plain = json.loads(data)
    for _ in range(dice.choice((1, 1, 1, 2, 4))):
        found = places(plain)
        if not found:
            break
        inside, key = dice.choice(found)
        kind = dice.randrange(10)
        if kind < 6:
            inside[key] = odd_value(dice)
        elif kind == 6:
            del inside[key]
        elif kind == 7 and isinstance(inside, dict):
            inside[dice.choice(("x", "", key + "s", "y" * 5000))] = inside.pop(key)
        elif kind == 8 and isinstance(inside[key], int | float) and inside[key] is not True:
            times = dice.choice((-1, 0.1, 0.25, 1.01, 4, 10, 1e3, 1e6))
            inside[key] = dice.choice((float, int))(inside[key] * times)
        elif isinstance(inside[key], list):
            inside[key] = (
                inside[key] * dice.choice((2, 50)) if dice.random() < 0.5 else inside[key][1:]
            )
    if dice.random() < 0.02:
        return json.dumps(odd_value(dice)).encode()
    text = json.dumps(plain)
    if dice.random() < 0.1 and isinstance(plain, dict) and plain:
        key = dice.choice(list(plain))
        text = f"{{{json.dumps(key)}: {json.dumps(odd_value(dice))}, {text[1:]}"
    return text.encode()


def break_table(data: bytes, dice: random.Random) -> bytes:
    """Put odd cells, double or drop columns and rows, change separators and coding."""
    if dice.random() < 0.3:
        return break_bytes(data, dice)
    rows = [line.split(",") for line in data.decode().splitlines()]
    for _ in range(dice.choice((1, 1, 2, 6))):
        row = dice.randrange(len(rows))
        column = dice.randrange(len(rows[row])) if rows[row] else 0
        kind = dice.randrange(7)
        if kind < 3 and rows[row]:
            odd = odd_value(dice)
            rows[row][column] = str(odd)[: dice.choice((5, 70, 200_000))]
        elif kind == 3:
            rows.insert(row, list(dice.choice(rows)))
        elif kind == 4:
            rows[row].insert(column, '"' * dice.choice((1, 2, 3)))
        elif kind == 5:
            for one in rows:
                del one[column : column + 1]
        elif kind == 6:
            rows += [list(rows[row]) for _ in range(dice.choice((2, 3000)))]
    separator = dice.choice((",", ",", ",", ",", ";", "\t", "|"))
    lines = dice.choice(("\n", "\n", "\r", "\r\n", "\u2028", "\v"))
    text = lines.join(separator.join(row) for row in rows)
    coding = dice.choice(("utf-8", "utf-8", "utf-8", "utf-16", "utf-32", "utf-8-sig"))
    return text.encode(coding, "surrogatepass")


# -- what is broken, and who reads it ------------------------------------------------------------


def made(room: Path, *words: str | Path) -> None:
    """Run a command that must pass."""
    said = room.parent / "said"
    assert fork(*words, said=said)[0] == 0, said.read_text()


def base(room: Path) -> None:
    """Make what is valid: two designs, a swatch, a start, tables, pictures."""
    swatch, start = room / "swatch.json", room / "start.json"
    readings = ("--thickness", "8mm", "--rounds", "16", "--length", "34mm", "--reads-right", "yes")
    made(room, "swatch", "--record", swatch, *readings, "--column-rounds", "8.2")
    start.write_text('{"slots": 48, "pairs": [[48, 1], [12, 13], [24, 25], [36, 37]]}')
    shutil.copy(PALETTE, room / "beads.csv")
    made(room, "palette", PALETTE, "--out", room / "beads.gpl")
    picture = Image.open(SKETCH).convert("RGB").resize((90, 120))
    for ending in ("png", "jpg", "gif", "bmp", "tiff", "webp"):
        picture.save(room / f"sketch.{ending}")
    given = ("convert", SKETCH, "--palette", PALETTE, *QUICK, "--out")
    more = ("--scatter", f"{ACCENT}=0.1", "--plain-back", "60", "--width", "8mm", "--length", "9cm")
    made(room, *given, room / "rep", "--swatch", swatch, *more)
    made(room, *given, room / "own", "--start", start)
    for name in ("rep", "own"):
        (room / name / "notes.txt").write_text(HERS)
    shutil.copytree(room / "rep", room / "stopped")
    staged = room / "stopped" / "himotif-unfinished"
    staged.mkdir()
    for name in ("design.json", "stringing.csv", "made-by-himotif.json"):
        shutil.copy(room / "rep" / name, staged / name)
    ours = json.loads((room / "rep" / "made-by-himotif.json").read_text())["sha256"]
    journal = {"schema": 1, "ours": {k: [v] for k, v in ours.items()}, "gone": ["stringing.txt"]}
    (staged / "journal.json").write_text(json.dumps(journal, indent=2))


def of_folder(folder: str, rewrites: float = 0.25) -> Callable[[random.Random], Words]:
    def words(dice: random.Random) -> Words:
        if dice.random() < rewrites:
            return dice.choice(
                (
                    ("sheet", folder),
                    ("mirror", folder, "--out", "new"),
                    ("mirror", folder, "--out", folder, "--force"),
                )
            )
        return dice.choice(
            (
                ("check", folder),
                ("check", folder, "--json"),
                ("plan", folder),
                ("plan", folder, "--json"),
                ("where", folder, "--crossing", "30"),
                ("where", folder, "--beads", "1:4,3:3", "--json"),
            )
        )

    return words


def converting(*more: str, picture: str = "sketch.png", palette: str = "beads.csv") -> Words:
    return ("convert", picture, "--palette", palette, *QUICK, "--out", "new", *more)


def of_swatch(dice: random.Random) -> Words:
    strands = dice.choice(("8", "8", "24"))
    if dice.random() < 0.3:
        return converting("--swatch", "swatch.json", "--strands", strands)
    return ("plan", "--wrist", "165mm", "--swatch", "swatch.json", "--strands", strands)


def of_palette(name: str) -> Callable[[random.Random], Words]:
    def words(dice: random.Random) -> Words:
        if dice.random() < 0.2:
            return converting(palette=name)
        more = dice.choice(((), ("--json",), ("--out", "new.csv"), ("--out", "new.gpl")))
        return ("palette", name, *more)

    return words


def of_picture(ending: str) -> Callable[[random.Random], Words]:
    return lambda dice: converting(picture=f"sketch.{ending}")


def of_stopped(dice: random.Random) -> Words:
    if dice.random() < 0.1:
        return (*converting()[:-1], "stopped", "--force")
    return of_folder("stopped", 0.1)(dice)


RECORD = ("swatch", "--record", "new.json")
OPTIONS: dict[Words, str] = {
    ("plan",): "wrist length ease thickness clasp caps spare packet bead-size bead-diameter",
    ("plan", "--wrist", "165mm"): "ease thickness clasp caps packet spare",
    ("where", "rep"): "crossing beads",
    RECORD: "thickness rounds length column-rounds",
    (*RECORD, "--rounds", "9"): "length",
    converting(): (
        "width rotate move repeat gap background most keep plain-back scatter seed require-edge "
        "require-kept require-colour ease clasp strands"
    ),
    ("compare", *converting()[1:4], "--out", "new", "--quick"): "strands bead-size",
}


def of_words(dice: random.Random) -> Words:
    """A command with an odd value of an option."""
    words = dice.choice(list(OPTIONS))
    few = "0 -1 1e400 nan 0.001mm 1e-9 0.01in 1/0in 9999/1in 1:1,1:2 1:9999 ٣ ² 3,4 1e9,0 A=1e-9"
    long = ("9" * 400, "9" * 5000, "1:" + "9" * 5000, str(odd_value(dice))[:2000])
    odd = dice.choice((*few.split(), *long))
    unsafe = "\0" in odd or any("\ud800" <= letter <= "\udfff" for letter in odd)
    return (*words, f"--{dice.choice(OPTIONS[words].split())}={'x' if unsafe else odd}")


Break = Callable[[bytes, random.Random], bytes]
KINDS: dict[str, tuple[str, Break, Callable[[random.Random], Words], float]] = {
    "design": ("rep/design.json", break_json, of_folder("rep"), 0.3),
    "design, own start": ("own/design.json", break_json, of_folder("own"), 0.1),
    "stringing": ("rep/stringing.csv", break_table, of_folder("rep", 0.1), 0.08),
    "manifest": ("rep/made-by-himotif.json", break_json, of_folder("rep", 0.9), 0.05),
    "journal": ("stopped/himotif-unfinished/journal.json", break_json, of_stopped, 0.08),
    "swatch": ("swatch.json", break_json, of_swatch, 0.09),
    "start": ("start.json", break_json, lambda _: converting("--start", "start.json"), 0.05),
    "palette": ("beads.csv", break_table, of_palette("beads.csv"), 0.08),
    "GIMP palette": ("beads.gpl", break_bytes, of_palette("beads.gpl"), 0.05),
    "png": ("sketch.png", break_bytes, of_picture("png"), 0.04),
    "jpg": ("sketch.jpg", break_bytes, of_picture("jpg"), 0.02),
    "gif": ("sketch.gif", break_bytes, of_picture("gif"), 0.02),
    "bmp": ("sketch.bmp", break_bytes, of_picture("bmp"), 0.01),
    "tiff": ("sketch.tiff", break_bytes, of_picture("tiff"), 0.015),
    "option": ("rep/notes.txt", lambda data, _: data, of_words, 0.1),
    "webp": ("sketch.webp", break_bytes, of_picture("webp"), 0.015),
}
"""By the kind of file: which file, how it is broken, which command reads it, its share."""


# -- running -------------------------------------------------------------------------------------


def fork(*words: str | Path, said: Path | None = None, at: Path | None = None) -> tuple[int, Any]:
    """Run a command in a forked process; return its exit code and what it took."""
    child = os.fork()
    if not child:
        code = 70
        try:
            if at is not None:
                os.chdir(at)
                resource.setrlimit(resource.RLIMIT_CPU, (MOST_S, MOST_S + 1))
                resource.setrlimit(resource.RLIMIT_AS, (4 << 30, 4 << 30))
                signal.alarm(20 * MOST_S)
            out = os.open(os.devnull, os.O_WRONLY)
            err = out if said is None else os.open(said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
            os.dup2(out, 1)
            os.dup2(err, 2)
            main([str(word) for word in words])
        except SystemExit as end:
            code = end.code if isinstance(end.code, int) else 71
        except BaseException:
            traceback.print_exc()
        finally:
            os._exit(code)
    _, status, used = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(status), used


def contents(place: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(place)): path.read_bytes()
        for path in sorted(place.rglob("*"))
        if path.is_file()
    }


def trial(kind: str, number: int, seed: int, valid: Path, room: Path) -> tuple[list[str], str]:
    """Run one case; return what is wrong with its end, and what it said."""
    dice = random.Random(f"{seed} {kind} {number}")
    file, breaking, command, _ = KINDS[kind]
    at = room / "case"
    shutil.rmtree(at, ignore_errors=True)
    shutil.copytree(valid, at)
    (at / file).write_bytes(breaking((at / file).read_bytes(), dice))
    before = contents(at)
    words = command(dice)
    said = room / "said"
    code, used = fork(*words, said=said, at=at)
    text = said.read_text(encoding="utf-8", errors="replace")
    after = contents(at)
    seconds, megabytes = used.ru_utime + used.ru_stime, used.ru_maxrss / 1024
    wrong = []
    if code not in (0, 1, 2, 3):
        wrong.append(f"exit code {code}")
    if "Traceback" in text or "Warning:" in text:
        wrong.append("traceback")
    if code in (1, 2) and not text.strip():
        wrong.append("no message")
    if len(text) > MOST_LETTERS:
        wrong.append(f"{len(text)} letters of messages")
    if seconds > MOST_S:
        wrong.append(f"{seconds:.0f} s")
    if megabytes > MOST_MB:
        wrong.append(f"{megabytes:.0f} MB")
    if after.get("rep/notes.txt") != HERS.encode() or b"tide" not in after["stopped/notes.txt"]:
        wrong.append("the maker's file is gone")
    if code in (1, 2) and kind != "journal" and before != after:
        wrong.append("refused, but something was written")
    return wrong, f"{' '.join(words)[:300]}\n{text}"


def bench(cases: int, seed: int, valid: Path, room: Path) -> int:
    """Run all cases and print a table; return how many ended badly."""
    bad = 0
    codes: dict[str, Counter[int | str]] = {}
    for kind, (_, _, _, share) in KINDS.items():
        counts: Counter[int | str] = Counter()
        for number in range(round(cases * share)):
            wrong, said = trial(kind, number, seed, valid, room)
            counts["runs"] += 1
            counts["refused"] += "himotif: " in said or "Error: " in said
            if wrong:
                bad += 1
                counts["bad"] += 1
                tail = "\n    ".join(line[:200] for line in said.splitlines()[-4:])
                print(
                    f"{kind}:{number}: {', '.join(wrong)}\n    {tail}", file=sys.stderr, flush=True
                )
        codes[kind] = counts
        print(kind, dict(counts), file=sys.stderr, flush=True)
    print("| file | cases | refused | ended badly |\n|---|---:|---:|---:|")
    for kind, counts in codes.items():
        print(f"| {kind} | {counts['runs']} | {counts['refused']} | {counts['bad']} |")
    return bad


def start() -> int:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cases", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--case", help="One case again, such as design:17.")
    given = parser.parse_args()
    with tempfile.TemporaryDirectory() as base_room:
        valid, room = Path(base_room) / "valid", Path(base_room)
        valid.mkdir()
        # import here what the commands need, so that no forked process has to
        with redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
            words = ["convert", SKETCH, "--palette", PALETTE, "--quick", "--length", "4cm"]
            main([*map(str, words), "--out", str(room / "warm")], standalone_mode=False)
            main(["plan", "--wrist", "165"], standalone_mode=False)
        base(valid)
        if given.case:
            kind, number = given.case.rsplit(":", 1)
            wrong, said = trial(kind, int(number), given.seed, valid, room)
            print(said, wrong)
            shutil.copytree(room / "case", "/tmp/fuzz-case", dirs_exist_ok=True)
            return 0
        return min(1, bench(given.cases, given.seed, valid, room))


if __name__ == "__main__":
    sys.exit(start())
