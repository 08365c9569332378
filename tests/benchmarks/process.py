"""What whole commands cost beside a bare Pillow program, or beside an earlier version. By hand:

    python tests/benchmarks/process.py [--runs 9] [--seed 1]
    python tests/benchmarks/process.py --beside PYTHON [--runs 9]

A photograph of 12 megapixels (made here, always the same) and a palette of 64 beads go through
``himotif convert --lists-only`` on 16 strands, searching in full and with ``--quick``. Two bare
Pillow programs open, reduce and save the same photograph: ``thumbnail`` lets the JPEG decoder
reduce while it reads, ``reduce`` decodes every pixel first. All run as whole processes, by turns,
in one sitting. Wanted: the full search in at most three times the time of the quicker bare
program, and less than 400 MB. Exit code 1 where that is missed.

With ``--beside`` the usual commands run on bundled sketches, by turns with those of the version
that is installed for another PYTHON; wanted is that none takes more of the processor. Modules
should be compiled for both (``python -m compileall``): compiling takes longer than most commands,
and is done once where they are installed.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass
from pathlib import Path
from statistics import median

ROOT = Path(__file__).resolve().parents[2]
MOTIFS, PALETTE = ROOT / "fixtures/motifs", ROOT / "fixtures/palettes/saltmarsh.csv"

MOST_TIMES = 3.0
MOST_MB = 400.0

BARE = """
import sys
from PIL import Image
with Image.open(sys.argv[1]) as image:
    {reduce}
    small.save(sys.argv[2])
"""
REDUCE = {
    "thumbnail": "image.thumbnail((1000, 1000)); small = image",
    "reduce": "small = image.reduce(4)",
}


MADE = "convert letter_f --lists-only --out made"
"""What `check` and `where` are asked about; each version makes its own."""

USUAL = {
    "help": "--help",
    "help of convert": "convert --help",
    "plan": "plan --wrist 17cm --strands 16",
    "check": "check made",
    "where": "where --crossing 40 made",
    "lists, letter": "convert letter_f --lists-only --out out",
    "lists, flower": "convert sea_aster --lists-only --out out",
    "lists, shaded": "convert dusk --lists-only --out out",
    "lists, shaded 2": "convert moonlit_pond --lists-only --out out",
    "folder, flower": "convert sea_aster --out out",
    "folder, letter": "convert letter_k --out out",
}


@dataclass(frozen=True)
class Cost:
    """What one process cost: wall clock and processor seconds, highest resident memory."""

    wall_s: float
    cpu_s: float
    peak_mb: float


def make_inputs(folder: Path, seed: int) -> None:
    """Write photo.jpg, 4000 × 3000: gradients, soft detail, hard edges, grain; and beads.csv."""
    import numpy as np
    from PIL import Image

    rng = np.random.default_rng(seed)
    width, height = 4000, 3000
    y, x = np.mgrid[0:height, 0:width].astype(np.float32)
    rgb = np.stack(
        [
            130 + 80 * np.sin(x / 700) * np.cos(y / 500),
            115 + 70 * np.cos(x / 900 + y / 400),
            105 + 80 * np.sin(y / 600),
        ],
        axis=-1,
    )
    rgb[((x - 2000) / 900) ** 2 + ((y - 1400) / 1200) ** 2 < 1] *= 0.5  # a dark bird, say
    detail = rng.integers(0, 256, (750, 1000, 3)).astype(np.uint8)
    rgb += 0.25 * np.asarray(Image.fromarray(detail).resize((width, height)), np.float32) - 32
    rgb += rng.normal(0, 5, rgb.shape).astype(np.float32)
    photo = Image.fromarray(np.clip(rgb, 0, 255).astype(np.uint8))
    photo.save(folder / "photo.jpg", quality=90)

    levels = (40, 105, 170, 235)
    beads = [(r, g, b) for r in levels for g in levels for b in levels]
    lines = [f"C{k},bead {k},#{r:02x}{g:02x}{b:02x}" for k, (r, g, b) in enumerate(beads)]
    (folder / "beads.csv").write_text("\n".join(["code,name,colour", *lines]) + "\n")


def run(command: list[str], folder: Path | None = None) -> Cost:
    """Run a program to its end in a folder, and say what it cost.

    The highest memory of a new process counts that of the one that starts it, so this program
    imports nothing large itself.
    """
    start = time.perf_counter()
    process = subprocess.Popen(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, cwd=folder
    )
    assert process.stderr is not None
    said = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    wall_s = time.perf_counter() - start
    process.returncode = os.waitstatus_to_exitcode(status)
    if process.returncode:
        sys.exit(f"{' '.join(command)}\n{said.decode()}")
    unit = 1024**2 if sys.platform == "darwin" else 1024
    return Cost(wall_s, usage.ru_utime + usage.ru_stime, usage.ru_maxrss / unit)


def beside(other: str, runs: int) -> int:
    """Measure the usual commands by turns with another version's; return 0 if none is slower."""
    os.environ["OMP_NUM_THREADS"] = "1"
    print(f"processor in s, least and median of {runs} runs by turns; highest memory in MB")
    print(f"{'':16}{'now':>14}{'before':>14}{'ratio':>8}{'MB now':>8}{'before':>8}")
    slower = 0
    with tempfile.TemporaryDirectory() as now, tempfile.TemporaryDirectory() as before:
        sides = ((sys.executable, Path(now)), (other, Path(before)))
        for python, folder in sides:
            run(words(python, MADE), folder)
        for name, command in USUAL.items():
            costs = [
                [run(words(python, command), folder) for python, folder in sides]
                for _ in range(runs + 1)
            ][1:]
            cpu = [[pair[side].cpu_s for pair in costs] for side in (0, 1)]
            peak = [max(pair[side].peak_mb for pair in costs) for side in (0, 1)]
            times = median(cpu[0]) / median(cpu[1])
            slower += times > 1
            each = "".join(f"{min(one):8.2f}{median(one):6.2f}" for one in cpu)
            print(f"{name:16}{each}{times:8.2f}{peak[0]:8.0f}{peak[1]:8.0f}", flush=True)
    print(f"wanted: no ratio of medians above 1: {f'missed {slower} times' if slower else 'met'}")
    return 1 if slower else 0


def words(python: str, command: str) -> list[str]:
    """Return a command of `USUAL` as run by a PYTHON for which the program is installed."""
    first, *others = command.split()
    if first == "convert" and others[0] != "--help":
        sketch = str(MOTIFS / f"{others.pop(0)}.png")
        others = [sketch, "--palette", str(PALETTE), "--strands", "16", "--force", *others]
    return [python, "-m", "himotif.convert", first, *others]


def main() -> int:
    """Measure, print a table, and say by the exit code whether the wish is met."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--runs", type=int, default=9)
    options.add_argument("--seed", type=int, default=1)
    options.add_argument("--make-inputs", type=Path, help=argparse.SUPPRESS)
    options.add_argument("--beside", metavar="PYTHON", help="of a venv with the other version")
    given = options.parse_args()
    if given.make_inputs:
        make_inputs(given.make_inputs, given.seed)
        return 0
    if given.beside:
        return beside(given.beside, given.runs)

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        this = [sys.executable, __file__, "--seed", str(given.seed)]
        subprocess.run([*this, "--make-inputs", name], check=True)
        photo, beads, out = (str(folder / n) for n in ("photo.jpg", "beads.csv", "out"))
        commands = {
            name: [sys.executable, "-c", BARE.format(reduce=code), photo, str(folder / "s.jpg")]
            for name, code in REDUCE.items()
        }
        convert = [sys.executable, "-m", "himotif.convert", "convert", photo, "--palette", beads]
        convert += ["--strands", "16", "--lists-only", "--force", "--out", out]
        commands |= {"convert": convert, "convert --quick": [*convert, "--quick"]}
        for command in commands.values():
            run(command)
        costs = [
            {name: run(command) for name, command in commands.items()} for _ in range(given.runs)
        ]
    return report(costs)


def report(costs: list[dict[str, Cost]]) -> int:
    """Print the medians and the ratios to the bare programs; return 0 where the wish is met."""
    print(f"medians of {len(costs)} runs by turns; ratios are medians of the pairs")
    bare = [f"× {name}" for name in REDUCE]
    print(f"{'':16}{'wall':>10}{'processor':>12}{'memory':>10}" + "".join(f"{b:>13}" for b in bare))
    for name in costs[0]:
        wall, cpu, peak = (
            median(getattr(each[name], value) for each in costs)
            for value in ("wall_s", "cpu_s", "peak_mb")
        )
        times = "".join(f"{ratio(costs, name, other):13.2f}" for other in REDUCE)
        print(f"{name:16}{1000 * wall:7.0f} ms{1000 * cpu:9.0f} ms{peak:7.0f} MB{times}")
    most_mb = max(each["convert"].peak_mb for each in costs)
    met = ratio(costs, "convert", "thumbnail") <= MOST_TIMES and most_mb < MOST_MB
    print(
        f"wanted: at most {MOST_TIMES:g} × the wall clock, less than {MOST_MB:g} MB: "
        f"{'met' if met else 'missed'}"
    )
    return 0 if met else 1


def ratio(costs: list[dict[str, Cost]], name: str, other: str) -> float:
    """Wall clock of one program over another's, the median of the pairs."""
    return median(each[name].wall_s / each[other].wall_s for each in costs)


if __name__ == "__main__":
    sys.exit(main())
