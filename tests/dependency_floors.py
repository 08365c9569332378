"""Whether the lowest and the newest dependencies that pyproject.toml allows do the main job.

    python tests/dependency_floors.py [--python 3.11 3.12 3.13] [--keep FOLDER]

Builds the wheel and, for every Python and for both ends of the dependencies, installs it with uv
into a new environment, converts bundled sketches, works the lists with ``himotif check`` and asks
the page for its first view. No compiler may be called. Beads and distortion report must be those of
the environment that runs this script. Needs uv on the PATH or in this environment, and the network;
a Python that is not there and cannot be fetched is reported and makes the exit code 1, as any
difference does.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
PYTHONS = ("3.11", "3.12", "3.13")
ENDS = {"lowest": "lowest-direct", "newest": "highest"}
JOBS = {
    # a letter with holes and pieces to count, and a shaded picture with Lab colours and a drop
    "letter": ("letter_f.png", ("--strands", "16", "--repeat", "once")),
    "pond": ("moonlit_pond.png", ("--strands", "12", "--quick")),
    "moon": ("moon.svg", ("--strands", "8", "--quick")),
}
DRAWN = """<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 40 40">
<path d="M28 4 A17 17 0 1 0 36 28 A14 14 0 0 1 28 4 Z" fill="#28527a"/></svg>"""
NAMES = "code,name,colour\nA,لؤلؤ,#f3eee1\nB,מים,lab(20 5 -20)\nC,reed,#7a7a3a\n"
"""Names written from the right, so that the papers need their letters joined and ordered."""

PAGE = """
from pathlib import Path

from himotif.convert.page.server import HOST, make_app
from himotif.convert.page.works import Works
from himotif.convert.page.workspace import Workspace

workspace = Workspace(Works(Path("works")))
client = make_app(workspace, "token", 8080).test_client()
for path in ("/token/", "/token/api/start"):
    answer = client.get(path, base_url=f"http://{HOST}:8080")
    assert answer.status_code == 200, answer.text
workspace.close()
"""


def uv() -> str:
    """Return the uv of this environment, or the one on the PATH."""
    beside = Path(sys.executable).with_name("uv")
    found = str(beside) if beside.exists() else shutil.which("uv")
    if found is None:
        raise SystemExit("uv is not there: pip install uv.")
    return found


def run(*command: str | Path, **more: Any) -> str:
    """Run a command; return what it prints, or raise with what it said."""
    # a package that would have to be compiled must fail, not be compiled here and fail elsewhere
    env = {**os.environ, "CC": "false", "CXX": "false", "PYTHONWARNINGS": "error::RuntimeWarning"}
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, env=env, **more)
    if done.returncode:
        raise RuntimeError(f"{command[0]} {command[1]}: {(done.stderr or done.stdout)[-1500:]}")
    return done.stdout


def results(python: Path, room: Path) -> dict[str, Any]:
    """Do the main job with the program of one environment; return what must not differ."""
    found: dict[str, Any] = {}
    fixtures = ROOT / "fixtures"
    names = room / "names.csv"
    names.write_text(NAMES, encoding="utf-8")
    (room / "moon.svg").write_text(DRAWN, encoding="utf-8")
    palettes = {"letter": names, "moon": names, "pond": fixtures / "palettes" / "saltmarsh.csv"}
    for job, (sketch, options) in JOBS.items():
        out = room / job
        command = (python, "-m", "himotif.convert")
        drawn = room / sketch
        picture = drawn if drawn.exists() else fixtures / "motifs" / sketch
        run(*command, "convert", picture, "--palette", palettes[job], "--out", out, *options)
        run(*command, "check", out)
        found[f"{job}: beads"] = json.loads((out / "design.json").read_text("utf-8"))["beads"]
        found[f"{job}: distortion"] = json.loads((out / "distortion.json").read_text("utf-8"))
        for name in ("sheet.pdf", "preview.png", "stringing.csv"):
            if not (out / name).stat().st_size:
                raise RuntimeError(f"{job}/{name} is empty")
    run(python, "-c", PAGE)
    return found


def alike(one: Any, other: Any) -> bool:
    """Whether plain values are the same, numbers to the last digits of a calculation."""
    if isinstance(one, dict) and isinstance(other, dict):
        return one.keys() == other.keys() and all(alike(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, float) or isinstance(other, float):
        return math.isclose(one, other, rel_tol=1e-6, abs_tol=1e-9)
    return bool(one == other)


def trial(wheel: Path, version: str, resolution: str, room: Path, wanted: dict[str, Any]) -> str:
    """Install one end of the dependencies on one Python; return what differs, or nothing."""
    room.mkdir()
    run(uv(), "venv", "-q", "-p", version, room / "env")
    python = room / "env" / "bin" / "python"
    install = (uv(), "pip", "install", "-q", "-p", python)
    # the wheel's own dependencies are not "direct" ones; those of its pyproject.toml are
    wanted_there = (ROOT / "pyproject.toml", "--extra", "heic", "--resolution", resolution)
    run(*install, "-r", *wanted_there)
    run(*install, "--no-deps", wheel)
    found = results(python, room)
    return ", ".join(key for key in wanted if not alike(wanted[key], found[key]))


def main() -> int:
    """Try all of them; print a line for each."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--python", nargs="+", default=PYTHONS, metavar="VERSION")
    parser.add_argument("--keep", type=Path, metavar="FOLDER", help="work there and keep it")
    given = parser.parse_args()
    failed = 0
    with tempfile.TemporaryDirectory() as scratch:
        base = given.keep or Path(scratch)
        (base / "here").mkdir(parents=True)
        run(uv(), "build", "-q", "--wheel", "--out-dir", base, ROOT)
        wheel = next(base.glob("*.whl"))
        wanted = results(Path(sys.executable), base / "here")
        for version in given.python:
            for end, resolution in ENDS.items():
                try:
                    differs = trial(wheel, version, resolution, base / f"{version}-{end}", wanted)
                    result = f"differs in {differs}" if differs else "as here"
                except RuntimeError as error:
                    differs = result = str(error)
                failed += bool(differs)
                print(f"Python {version}, {end} dependencies: {result}", flush=True)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
