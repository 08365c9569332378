"""Kills every command that writes at random moments, and fills its disc; counts what came of it.

    OPENBLAS_NUM_THREADS=1 OMP_NUM_THREADS=1 python tests/benchmarks/kills.py [--kills 600]

(Forked processes and threads do not go together.)

Each command runs in a process of its own, forked from this one so that nothing is imported anew,
and gets SIGKILL, or every fifth time SIGINT, at a random moment: of the whole run, or every other
time of the part in which it writes. Then a folder must hold what it held, or all of what it was
to hold, with every file of the maker's; the next run must be let in. Nothing staged may be left.

The disc is a small tmpfs, filled so that a random number of bytes is left. Mounting it needs root;
without, that part is left out.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path

from himotif.convert.cli import main
from himotif.convert.write import check_out
from himotif.core.errors import HimotifError

FIXTURES = Path(__file__).parents[2] / "fixtures"
PALETTE = FIXTURES / "palettes" / "saltmarsh.csv"
SKETCH = FIXTURES / "motifs" / "letter_f.png"
UNFINISHED = "himotif-unfinished"
STAGED = ".himotif-new-"
QUICK = ("--palette", PALETTE, "--quick", "--length", "4cm")
DISC_BYTES = 16_000_000
AGAIN = 20
"""After two of so many kills the same command is run again; after all it is let in."""

Contents = dict[str, bytes]


@dataclass(frozen=True)
class Command:
    """One command under trial.

    Parameters
    ----------
    name : str
    words : callable
        The command line for the place it writes.
    prepare : callable
        Makes what is there before.
    folder : bool
        Whether it writes a folder, or a file.
    design : bool
        Whether the folder holds a design before and after.
    share : float
        Of all kills.
    """

    name: str
    words: Callable[[Path], tuple[str | Path, ...]]
    prepare: Callable[[Path], None]
    folder: bool = True
    design: bool = True
    share: float = 0.125


def ok(*words: str | Path) -> None:
    """Run a command that must pass."""
    assert run(words) == 0, words


def run(words: tuple[str | Path, ...], said: Path | None = None) -> int:
    """Run a command in a forked process; return its exit code."""
    return os.waitstatus_to_exitcode(os.waitpid(start(words, said), 0)[1])


def start(
    words: tuple[str | Path, ...], said: Path | None = None, writes: int | None = None
) -> int:
    """Start a command in a forked process; return the id of the process.

    What is handed in as `writes`, an end of a pipe, gets a byte when the first file is written.
    """
    child = os.fork()
    if child:
        return child
    code = 70
    fsync = os.fsync

    def noted(handle: int) -> None:
        os.fsync = fsync
        os.write(writes, b".")
        fsync(handle)

    try:
        if writes is not None:
            os.fsync = noted
        out = os.open(os.devnull if said is None else said, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(out, 1)
        os.dup2(out, 2)
        main([str(word) for word in words])
    except SystemExit as end:
        code = int(end.code or 0)
    finally:
        os._exit(code)


def hers(folder: Path) -> None:
    """Put the maker's own files into a folder, and edit the lists in it."""
    shutil.copy(SKETCH, folder / "sketch.png")
    shutil.copy(PALETTE, folder / "beads.csv")
    (folder / "notes.txt").write_text("for the tide festival")
    (folder / "photos").mkdir()
    (folder / "photos" / "marsh.png").write_bytes(b"precious")
    for name in ("stringing.csv", "compare.svg"):
        if (folder / name).exists():
            (folder / name).write_bytes((folder / name).read_bytes() + b"\n")


HERS = ("sketch.png", "beads.csv", "notes.txt", "photos/marsh.png")


def old_design(place: Path) -> None:
    ok("convert", SKETCH, *QUICK, "--strands", "12", "--out", place, "--svg")
    hers(place)


def old_comparison(place: Path) -> None:
    ok("compare", SKETCH, *QUICK, "--strands", "12", "--out", place)
    hers(place)


def edited_design(place: Path) -> None:
    old_design(place)
    path = place / "design.json"
    text = path.read_text(encoding="utf-8")
    at = text.index('"beads": [') + len('"beads": [')
    path.write_text(text[:at] + str(1 - int(text[at])) + text[at + 1 :], encoding="utf-8")


def an_old_file(place: Path) -> None:
    place.write_bytes(b"the old file\n" * 400)


COMMANDS = (
    Command(
        "convert",
        lambda at: ("convert", SKETCH, *QUICK, "--out", at, "--lists-only"),
        lambda at: None,
        design=False,
        share=0.18,
    ),
    Command(
        "convert --force",
        lambda at: ("convert", SKETCH, *QUICK, "--out", at, "--force", "--lists-only"),
        old_design,
        share=0.18,
    ),
    Command("sheet", lambda at: ("sheet", at, "--no-svg"), edited_design, share=0.09),
    Command(
        "mirror --force", lambda at: ("mirror", at, "--out", at, "--force"), old_design, share=0.07
    ),
    Command(
        "swatch --out --force",
        lambda at: ("swatch", "--out", at, "--force"),
        old_design,
        share=0.07,
    ),
    Command(
        "compare --force",
        lambda at: ("compare", SKETCH, *QUICK, "--strands", "8", "--out", at, "--force"),
        old_comparison,
        design=False,
        share=0.09,
    ),
    Command(
        "palette --out --force",
        lambda at: ("palette", PALETTE, "--out", at, "--force"),
        an_old_file,
        folder=False,
        share=0.16,
    ),
    Command(
        "swatch --record --force",
        lambda at: ("swatch", "--record", at, "--thickness", "8mm", "--force"),
        an_old_file,
        folder=False,
        share=0.16,
    ),
)


def contents(place: Path) -> Contents:
    """Every file at a place, by its way from there; nothing if there is nothing."""
    if place.is_file():
        return {"": place.read_bytes()}
    return {
        str(path.relative_to(place)): path.read_bytes()
        for path in sorted(place.rglob("*"))
        if path.is_file() and not path.relative_to(place).parts[0].startswith(STAGED)
    }


class Trial:
    """One command, its place, and what may be there."""

    def __init__(self, command: Command, room: Path) -> None:
        self.command, self.room = command, room
        self.place = room / ("rep" if command.folder else "rep.csv")
        self.template = room.parent / "template"
        room.mkdir()
        command.prepare(self.place)
        self.old = contents(self.place)
        if self.place.exists():
            self.template.mkdir()
            self.place.rename(self.template / self.place.name)
        self.lay()
        self.begin_s, self.end_s, self.length_s = self._timed()
        self.new = contents(self.place)
        assert self.new != self.old

    def lay(self) -> None:
        """Put back what was there before."""
        shutil.rmtree(self.room)
        self.room.mkdir()
        if self.template.exists():
            shutil.copytree(self.template, self.room, dirs_exist_ok=True)

    def _timed(self) -> tuple[float, float, float]:
        """When a run begins and ends to write, and when it ends; in seconds."""
        times = self.room.parent / "times"
        fsync = os.fsync

        def noted(handle: int) -> None:
            with times.open("a") as file:
                file.write(f"{time.time()}\n")
            fsync(handle)

        os.fsync = noted
        began = time.time()
        try:
            ok(*self.command.words(self.place))
        finally:
            os.fsync = fsync
        ended = time.time()
        first, *_, last = (float(line) for line in times.read_text().split())
        # the last steps, renames and removals, come after the last sync
        return first - began, min(last + 0.1 * (last - first), ended) - began, ended - began

    def state(self) -> str:
        """What is there: old, new, unfinished or mixed."""
        found = contents(self.place)
        if found == self.old:
            return "old"
        if found == self.new:
            return "new"
        return "unfinished" if any(UNFINISHED in name for name in found) else "mixed"

    def lost(self) -> int:
        """How many of the maker's files are gone."""
        if not self.command.folder or not self.old:
            return 0
        found = contents(self.place)
        gone = sum(found.get(name) != self.old[name] for name in HERS)
        edited = "stringing.csv" if self.command.design else "compare.svg"
        return gone + (self.old[edited] not in found.values())

    def judged(self, again: bool) -> Counter[str]:
        """What is there, also after the next commands; the same one is run if `again`."""
        counts = Counter([self.state()])
        counts["lost"] = self.lost()
        if self.command.folder:
            if self.command.design:
                run(("check", self.place))
            counts["blocked"] += not can_go_on(self.place)
            counts["mixed"] += self.state() not in ("old", "new")
            counts["strays"] += sum(1 for _ in self.room.rglob(f"{STAGED}*"))
        if again:
            new_only = self.command.name == "convert" and self.place.exists()
            counts["blocked"] += run(self.command.words(self.place)) != int(new_only)
            counts["strays"] += sum(1 for _ in self.room.rglob(f"{STAGED}*"))
        counts["lost"] += self.lost()
        return counts


def can_go_on(place: Path) -> bool:
    """Whether the next run that writes there is let in, as the commands ask before their work."""
    try:
        check_out(place, force=True)
    except HimotifError:
        return False
    return True


def killed(trial: Trial, number: int, dice: random.Random) -> Counter[str]:
    """Kill one run at a random moment."""
    trial.lay()
    reads, writes = os.pipe()
    child = start(trial.command.words(trial.place), writes=writes)
    os.close(writes)
    if number % 2:  # an empty answer, if it ends without writing
        os.read(reads, 1)
        time.sleep(dice.uniform(0.0, trial.end_s - trial.begin_s))
    else:
        time.sleep(dice.uniform(0.0, trial.length_s))
    os.close(reads)
    os.kill(child, signal.SIGINT if number % 5 == 4 else signal.SIGKILL)
    code = os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])
    return Counter(stopped=int(code != 0)) + trial.judged(again=number % AGAIN < 2)


def filled(trial: Trial, dice: random.Random) -> Counter[str]:
    """Run on a disc that is full but for some bytes."""
    trial.lay()
    size = sum(len(content) for content in trial.new.values())
    said = trial.room.parents[2] / "said"  # not on that disc
    ballast = trial.room.parent / "ballast"
    with ballast.open("wb", buffering=0) as file:
        try:
            while True:
                file.write(bytes(4096))
        except OSError:  # full
            pass
        file.truncate(max(0, file.tell() - dice.randrange(0, size)))
    code = run(trial.command.words(trial.place), said)
    text = said.read_text(encoding="utf-8")
    counts = Counter(stopped=int(code != 0))
    counts["unclear"] = int(code != 0 and (code != 1 or "No space left on device" not in text))
    counts["mixed"] = int(trial.state() not in ("old", "new"))
    ballast.unlink()
    return counts + trial.judged(again=True)


@contextmanager
def small_disc(room: Path) -> Iterator[Path | None]:
    """A small disc; None where none can be mounted."""
    place = room / "disc"
    place.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISC_BYTES}", "tmpfs", str(place)]
    if shutil.which("mount") is None or subprocess.run(mount, capture_output=True).returncode:
        yield None
        return
    try:
        yield place
    finally:
        subprocess.run(["umount", str(place)], check=True)


COLUMNS = ("stopped", "old", "new", "unfinished", "mixed", "lost", "blocked", "strays")


def table(rows: list[tuple[str, Trial, int, Counter[str]]], columns: tuple[str, ...]) -> None:
    """Print what came of it."""
    print("| command | run, ms | writing, ms | runs | " + " | ".join(columns) + " |")
    print("|---|" + "---:|" * (3 + len(columns)))
    total: Counter[str] = Counter()
    for name, trial, runs, counts in rows:
        total += counts
        cells = [str(counts[column]) for column in columns]
        spans = f"{1000 * trial.length_s:.0f} | {1000 * (trial.end_s - trial.begin_s):.0f}"
        print(f"| `{name}` | {spans} | {runs} | {' | '.join(cells)} |")
    runs = sum(row[2] for row in rows)
    print(f"| all | | | {runs} | {' | '.join(str(total[column]) for column in columns)} |")


def warm() -> None:
    """Import here what the commands need, so that no forked process has to."""
    with (
        tempfile.TemporaryDirectory() as room,
        Path(os.devnull).open("w") as nowhere,
        redirect_stdout(nowhere),
        redirect_stderr(nowhere),
    ):
        for words in (
            ("convert", SKETCH, *QUICK, "--out", Path(room) / "a", "--svg"),
            ("compare", SKETCH, *QUICK, "--strands", "8", "--out", Path(room) / "b"),
            ("palette", PALETTE),
            ("swatch", "--record", Path(room) / "c.json", "--thickness", "8mm"),
        ):
            main([str(word) for word in words], standalone_mode=False)


def bench(kills: int, fills: int, seed: int) -> None:
    """Try all commands and print two tables."""
    dice = random.Random(seed)
    warm()
    rows = []
    with tempfile.TemporaryDirectory() as base:
        for index, command in enumerate(COMMANDS):
            runs = round(kills * command.share)
            if not runs:
                continue
            (Path(base) / str(index)).mkdir()
            trial = Trial(command, Path(base) / str(index) / "room")
            counts: Counter[str] = Counter()
            for number in range(runs):
                counts += killed(trial, number, dice)
            rows.append((command.name, trial, runs, counts))
            print(command.name, dict(counts), file=sys.stderr, flush=True)
        if rows:
            table(rows, COLUMNS)
            print(flush=True)
        if not fills:
            return
        with small_disc(Path(base)) as disc:
            if disc is None:
                print("No small disc can be mounted here: what a full disc does is not tried.")
                return
            rows = []
            for command in COMMANDS:
                (disc / "work").mkdir()
                trial = Trial(command, disc / "work" / "room")
                counts = Counter()
                for _ in range(fills):
                    counts += filled(trial, dice)
                rows.append((command.name, trial, fills, counts))
                print(command.name, dict(counts), file=sys.stderr, flush=True)
                shutil.rmtree(disc / "work")
            table(rows, (*COLUMNS, "unclear"))


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kills", type=int, default=600)
    parser.add_argument("--fills", type=int, default=10, help="of each command")
    parser.add_argument("--seed", type=int, default=1)
    given = parser.parse_args()
    bench(given.kills, given.fills, given.seed)
