"""Help comes at once, and what is done loads no more than it needs."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

HEAVY = (
    "numpy",
    "skimage",
    "scipy",
    "PIL",
    "networkx",
    "colormath",
    "reportlab",
    "flask",
    "himotif.convert.read.picture",
)
MOST_MS = 60
"""Processor time of help, beyond starting Python and importing click."""

PROGRAM = """
import contextlib, io, json, sys, time
import click
start = time.process_time()
from himotif.convert.cli import main

def paths(command, path):
    yield path
    if isinstance(command, click.Group):
        for name, below in command.commands.items():
            yield from paths(below, (*path, name))

def say_help(path):
    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        try:
            main([*path, "--help"], prog_name="himotif")
        except SystemExit as end:
            assert not end.code, (path, end.code)
    return said.getvalue()

first = json.loads(sys.argv[1])
asked = [tuple(first)] if first is not None else list(paths(main, ()))
answers = []
for path in asked:
    text = say_help(path)
    spent_ms = 1000 * (time.process_time() - start)
    answers.append([list(path), text, sorted(sys.modules), spent_ms])
print(json.dumps(answers))
"""


def help_of(path: list[str] | None) -> list[tuple[list[str], str, list[str], float]]:
    """Ask one command, or one after the other in the same new process, for help."""
    # the path of this process, so that a checkout is found as well as an installation
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [sys.executable, "-c", PROGRAM, json.dumps(path)],
        capture_output=True,
        text=True,
        check=True,
        env=environment,
    )
    return [tuple(answer) for answer in json.loads(done.stdout)]


def test_help_of_every_command_loads_nothing_heavy() -> None:
    answers = help_of(None)
    paths = [path for path, *_ in answers]
    assert [] in paths
    assert ["convert"] in paths
    for path, text, modules, _ in answers:
        assert "Usage: himotif" in text
        assert [name for name in HEAVY if name in modules] == [], path


SHADED = """
import sys
from himotif.convert.cli import main

main(sys.argv[1:], standalone_mode=False)
assert not {"scipy", "skimage", "reportlab"} & sys.modules.keys()
"""


def test_lists_of_a_shaded_picture_need_no_scipy(tmp_path: Path) -> None:
    # 0.25 s of the processor to import, with its part of scikit-image, of 0.75 s in all
    fixtures = Path(__file__).parents[1] / "fixtures"
    asked = [str(fixtures / "motifs/dusk.png"), "--palette", str(fixtures / "palettes/dusk.csv")]
    command = [sys.executable, "-c", SHADED, "convert", *asked, "--out", str(tmp_path / "dusk")]
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    done = subprocess.run(
        [*command, "--quick", "--lists-only"], capture_output=True, text=True, env=environment
    )
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("path", [[], ["convert"]])
def test_help_is_quick(path: list[str]) -> None:
    # the best of three: other work on the machine only ever adds
    assert min(help_of(path)[0][3] for _ in range(3)) < MOST_MS
