"""Time and memory of every command at the corners of `core/bounds.py`.

    python tests/benchmarks/corners.py [--only WORD] [--limit 300]

Every run is a process of its own. Seconds are of the processor (user and system), so that a busy
machine does not count; memory is the highest resident size. Runs of more than 20 s or 1.5 GB are
marked.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import resource
import shutil
import string
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from himotif.core.bead import Bead, BeadSize, bead_size
from himotif.core.bounds import BOUNDS, most
from himotif.core.braid.braid import Braid, Disc
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.design.design import Design
from himotif.core.design.file import design_json
from himotif.core.design.loads import stringing_csv
from himotif.core.errors import HimotifError

FIXTURES = Path(__file__).parents[2] / "fixtures"
BEADS = FIXTURES / "palettes" / "saltmarsh.csv"
SKETCH = FIXTURES / "motifs" / "sea_aster.png"
SLOW_S, LARGE_MB = 20.0, 1500.0
CODES = [first + second for first in string.ascii_uppercase for second in string.printable[:62]]
COLOURS = "code,name,colour\n"


def palette(count: int) -> tuple[Bead, ...]:
    """As many beads of all colours, with the longest names."""
    dice = random.Random(count)
    beads = []
    for number in range(count):
        name = "".join(dice.choice("reedmoontide heron") for _ in range(most("name") - 1)) + "x"
        code = CODES[number % len(CODES)] + ("" if number < len(CODES) else "x")
        rgb = tuple(dice.randrange(256) for _ in range(3))
        beads.append(Bead(code, name.strip(), (rgb[0], rgb[1], rgb[2]), stock=3, grams=5, price=2))
    return tuple(beads)


def design(lattice: Lattice, bead: BeadSize, colours: int = 2, beads: int = 20_000) -> Design:
    """A design of that many beads in no order."""
    count = beads - beads % lattice.braid.beads_per_round
    drawn = np.random.default_rng(7).integers(0, colours, count)
    return Design(lattice, bead, palette(colours), drawn)


def most_strands(slots: int) -> Braid:
    """The braid of most strands that can be worked on a disc of so many slots."""
    for pairs in range(slots // 2, 3, -1):
        starts = tuple(
            ((number * slots // pairs - 1) % slots + 1, number * slots // pairs + 1)
            for number in range(pairs)
        )
        try:
            return Braid(2 * pairs, disc=Disc(slots, starts))
        except HimotifError:
            continue
    raise AssertionError(slots)


def folders() -> Iterator[tuple[str, Callable[[], Design]]]:
    """The designs at the corners, by what is at its bound."""
    usual, small, braid = bead_size("8/0"), BeadSize(None, 0.3, 0.3), Braid(24)
    long = Lattice.computed(braid, usual)
    yield "20,000 beads", lambda: design(long, usual)
    yield "8 strands, 20,000 beads", lambda: design(Lattice.computed(Braid(8), usual), usual)
    yield "20,000 beads of 2,000 colours", lambda: design(long, usual, most("palette"))
    yield "beads 0.3 × 0.3 mm", lambda: design(Lattice.computed(braid, small), small)
    for across, along in ((30.0, 6.0), (6.0, 30.0), (0.3, 1.5), (1.5, 0.3)):
        bead = BeadSize(None, across, along)
        lattice = Lattice.computed(braid, bead)
        yield f"beads {across:g} × {along:g} mm", lambda b=bead, at=lattice: design(at, b)
    values = {key: getattr(long, key) for key in ("radius_mm", "rise_mm", "drift_deg")}
    for key, value in values.items():
        for times in (0.2501, 3.999):
            measured = dict(long.source) | {key: "measured"}
            lattice = replace(long, source=measured, **{key: value * times})
            yield f"{key} × {times:g}", lambda at=lattice: design(at, usual)
    eight = Lattice.computed(Braid(8), usual, Swatch(drift_deg=360 / 2.1))
    yield "column rounds 2.1", lambda: design(eight, usual)
    wide = most_strands(most("slots"))
    lattice = Lattice.computed(wide, usual)
    yield f"{wide.strands} strands on 200 slots", lambda: design(lattice, usual)
    if BOUNDS["drift_deg"].low <= lattice.drift_deg * 4:
        taken = dict(lattice.source) | {"drift_deg": "measured"}
        slow = replace(lattice, source=taken, drift_deg=max(0.9, lattice.drift_deg / 3.999))
        yield f"{wide.strands} strands, drift {slow.drift_deg:.3g}°", lambda: design(slow, usual)
    tubes = BeadSize(None, 1.4, 6.9)  # longer ones would rise more than 300 mm a round
    yield f"{wide.strands} strands of tubes", lambda: design(Lattice.computed(wide, tubes), tubes)


def written(folder: Path, made: Design) -> None:
    """Write what the commands read."""
    folder.mkdir()
    (folder / "design.json").write_text(design_json(made), encoding="utf-8")
    (folder / "stringing.csv").write_text(stringing_csv(made), encoding="utf-8")


def of_a_folder(folder: Path, made: Design) -> Iterator[tuple[str, list[str]]]:
    """The commands that take a folder."""
    at = str(folder)
    used = len(made.beads) // made.braid.strands // 2
    yield "check", ["check", at]
    yield "plan", ["plan", at]
    yield "where --crossing", ["where", at, "--crossing", str(len(made.beads) // 2)]
    yield "where --beads", ["where", at, "--beads", f"1:{used},3:{used}"]
    yield "mirror", ["mirror", at, "--out", f"{folder}-mirrored"]
    yield "sheet", ["sheet", at, "--tally", "--svg"]


def conversions(room: Path) -> Iterator[tuple[str, list[str]]]:
    """The conversions at the corners."""
    many = room / "many.csv"
    rows = [f"{b.code},{b.name},#{bytes(b.rgb).hex()}\n" for b in palette(most("palette"))]
    many.write_text("code,name,colour\n" + "".join(rows), encoding="utf-8")
    # of no size, so that any can be asked for
    sizeless = room / "sizeless.csv"
    sizeless.write_text(BEADS.read_text(encoding="utf-8").replace(",8/0,", ",,"), encoding="utf-8")
    wide = most_strands(most("slots"))
    start = room / "start.json"
    pairs = [list(pair) for pair in wide.start.starts]
    start.write_text(json.dumps({"slots": wide.start.slots, "pairs": pairs}))

    def swatch(name: str, **readings: Any) -> list[str]:
        path = room / f"{name}.json"
        path.write_text(json.dumps({"schema": 1, **readings}))
        return ["--swatch", str(path)]

    def convert(*more: str, beads: Path = sizeless, quick: bool = True) -> list[str]:
        given = ["convert", str(SKETCH), "--palette", str(beads), "--out", str(room / "out")]
        return [*given, *more, *(["--quick"] if quick else [])]

    long = ("--strands", "24", "--bead-size", "15/0", "--length", "1990mm")
    small = ("--bead-diameter", "0.3mm", "--bead-length", "0.3mm")
    yield "usual", convert(quick=False)
    yield "20,000 beads, repeated", convert(*long, quick=False)
    yield "20,000 beads, once as large as it goes", convert(*long, "--repeat", "once")
    yield "smallest beads", convert("--strands", "24", *small, "--length", "360mm")
    flat = ("--bead-diameter", "1.5mm", "--bead-length", "0.3mm")
    yield "flattest beads", convert("--strands", "24", *flat, "--length", "360mm")
    tube = ("--bead-diameter", "6mm", "--bead-length", "30mm")
    yield "tubes", convert("--strands", "24", *tube, "--length", "5000mm")
    yield "2,000 colours", convert(beads=many)
    yield "2,000 colours, full search", convert(beads=many, quick=False)
    for times, mm in ((0.26, 2.1 * 0.26), (3.9, 2.1 * 3.9)):
        yield f"rise × {times}", convert(*swatch(f"rise{times}", rounds=10, length_mm=10 * mm))
    for rounds in (2.1, 8 * 3.99):
        yield f"column rounds {rounds:g}", convert(*swatch(f"c{rounds}", column_rounds=rounds))
    across = 2 * Lattice.computed(Braid(8), bead_size("8/0")).radius_mm
    for mm in (3 + 0.2501 * across, 3 + 3.999 * across):
        yield f"thickness {mm:.1f} mm", convert(*swatch(f"t{mm:.1f}", thickness_mm=mm))
    own = ("--start", str(start))
    yield f"{wide.strands} strands on 200 slots", convert(*own, "--length", "500mm")
    most_own = (*own, "--bead-size", "15/0", "--length", "250mm")
    yield f"{wide.strands} strands, 20,000 beads", convert(*most_own)
    yield (
        "plain back, accents, as many motifs as fit",
        convert(*long, "--width", "5mm", "--plain-back", "90", "--scatter", "H=0.1"),
    )


def readings() -> Iterator[tuple[str, list[str]]]:
    """The swatches at the corners."""
    for strands in ("8", "24"):
        yield f"{strands} strands", ["--strands", strands]
    yield "smallest beads", ["--bead-diameter", "0.3mm", "--bead-length", "0.3mm"]
    yield "tubes", ["--strands", "24", "--bead-diameter", "6mm", "--bead-length", "30mm"]


def measured(words: list[str], limit_s: int) -> tuple[int, float, float, str]:
    """Exit code, processor seconds, MB and the last line said of one run."""
    with tempfile.TemporaryFile() as said:
        child = os.fork()
        if not child:
            os.dup2(said.fileno(), 2)
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            resource.setrlimit(resource.RLIMIT_CPU, (limit_s, limit_s))
            resource.setrlimit(resource.RLIMIT_AS, (8 << 30, 8 << 30))
            os.execv(sys.executable, [sys.executable, "-m", "himotif.convert", *words])
        _, status, used = os.wait4(child, 0)
        said.seek(0)
        lines = said.read().decode("utf-8", "replace").strip().splitlines()
    code = os.waitstatus_to_exitcode(status)
    last = lines[-1] if lines and code else ""
    return code, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, last


def row(what: str, words: list[str], limit_s: int) -> None:
    code, seconds, megabytes, last = measured(words, limit_s)
    mark = "**" if seconds > SLOW_S or megabytes > LARGE_MB or code not in (0, 3) else ""
    print(
        f"| {what} | {mark}{seconds:.1f}{mark} | {megabytes:.0f} | {code} {last[:160]} |",
        flush=True,
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", default="", help="Only rows that hold this word.")
    parser.add_argument("--limit", type=int, default=120, help="Processor seconds a run may take.")
    given = parser.parse_args()
    print("| command, corner | s | MB | exit code |\n|---|---:|---:|---|")
    with tempfile.TemporaryDirectory() as base:
        room = Path(base)
        for number, (what, make) in enumerate(folders()):
            at = room / f"rep{number}"
            made = make()
            commands = [
                (label, words)
                for label, words in of_a_folder(at, made)
                if given.only in f"{label}, {what}"
            ]
            if commands:
                written(at, made)
            for label, words in commands:
                row(f"`{label}`, {what}", words, given.limit)
        for what, words in conversions(room):
            if given.only in f"convert, {what}":
                row(f"`convert`, {what}", words, given.limit)
                shutil.rmtree(room / "out", ignore_errors=True)
        for what, words in readings():
            if given.only in f"swatch, {what}":
                row(f"`swatch --out`, {what}", ["swatch", "--out", str(room / "out"), *words], 60)
                shutil.rmtree(room / "out", ignore_errors=True)


if __name__ == "__main__":
    main()
