"""Whatever a command is asked to do, and wherever it is stopped, her files are there afterwards."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from himotif.convert.cli import main
from pypdf import PdfReader

pytestmark = pytest.mark.usefixtures("plain_pictures")

FIXTURES = Path(__file__).parent.parent / "fixtures"
PALETTE = FIXTURES / "palettes" / "saltmarsh.csv"
SKETCH = FIXTURES / "motifs" / "letter_f.png"

unix = pytest.mark.skipif(sys.platform == "win32", reason="needs fork and limits of files")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


QUICK = ("--quick", "--length", "4cm")


def convert(
    out: Path, *words: str | Path, sketch: Path = SKETCH, palette: Path = PALETTE
) -> Result:
    given = ("--palette", palette, "--out", out, *QUICK)
    return run("convert", sketch, *given, *words)


def contents(folder: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a braid, and in it her sketch and her beads."""
    folder = tmp_path_factory.mktemp("made") / "rep"
    assert convert(folder, "--lists-only").exit_code == 0
    (folder / "sketch.png").write_bytes(SKETCH.read_bytes())
    (folder / "beads.csv").write_bytes(PALETTE.read_bytes())
    (folder / "notes.txt").write_text("for the tide festival")
    return folder


@pytest.fixture
def rep(made: Path, tmp_path: Path) -> Path:
    """Such a folder for one test alone."""
    return shutil.copytree(made, tmp_path / "rep")


def test_her_sketch_and_beads_are_not_replaced_with_the_folder(rep):
    hers = {name: (rep / name).read_bytes() for name in ("sketch.png", "beads.csv", "notes.txt")}
    given = {"sketch": rep / "sketch.png", "palette": rep / "beads.csv"}
    result = convert(rep, "--lists-only", "--strands", "12", "--force", **given)
    assert result.exit_code == 0, result.stderr
    assert contents(rep).items() >= hers.items()
    assert json.loads((rep / "design.json").read_text())["braid"]["strands"] == 12
    assert run("mirror", rep, "--out", rep, "--force").exit_code == 0
    assert contents(rep).items() >= hers.items()
    assert run("check", rep).exit_code == 0


def test_lists_that_she_edited_are_kept_and_said(rep):
    lists = (rep / "stringing.csv").read_text().replace("A", "B", 1)
    (rep / "stringing.csv").write_text(lists)
    result = run("sheet", rep)
    assert result.exit_code == 0
    assert "stringing.csv: is not as himotif made it" in result.stderr
    assert (rep / "stringing.kept.csv").read_text() == lists
    assert run("check", rep).exit_code == 0
    assert "kept" not in run("sheet", rep).stderr


def test_an_edited_design_is_kept_when_it_is_converted_anew(rep):
    plain = json.loads((rep / "design.json").read_text())
    plain["beads"][3] = 1
    (rep / "design.json").write_text(json.dumps(plain))
    result = convert(rep, "--lists-only", "--force")
    assert "design.json: is not as himotif made it, so it is kept as design.kept.json" in (
        result.stderr
    )
    assert json.loads((rep / "design.kept.json").read_text()) == plain


def stopped(step: int, *words: str | Path) -> bool:
    """Run a command in a process that ends at once after so many renames; whether it did."""
    child = os.fork()
    if child:
        return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == 9
    left = step

    def counting(real):
        def wrapped(*args, **kwargs):
            nonlocal left
            real(*args, **kwargs)
            left -= 1
            if left == 0:
                os._exit(9)

        return wrapped

    try:
        os.rename, os.replace = counting(os.rename), counting(os.replace)
        run(*words)
    finally:
        os._exit(0)


@unix
@pytest.mark.parametrize("command", ["sheet", "mirror", "convert"])
def test_a_killed_command_leaves_old_or_new_and_is_in_nobodys_way(rep, tmp_path, command):
    plain = json.loads((rep / "design.json").read_text())
    plain["beads"][0] = 1 - plain["beads"][0]
    if command == "sheet":
        (rep / "design.json").write_text(json.dumps(plain))
    fresh = ("convert", SKETCH, "--palette", PALETTE, *QUICK)
    words: dict[str, tuple[str | Path, ...]] = {
        "sheet": ("sheet", rep, "--no-svg"),
        "mirror": ("mirror", rep, "--out", rep, "--force"),
        "convert": (*fresh, "--lists-only", "--out", rep, "--force"),
    }
    # the mirror is written as a conversion is
    for step in (2,) if command == "mirror" else (1, 2, 4):
        assert stopped(step, *words[command])
        assert run("check", rep).exit_code == 0, step
        again = run(*words[command])
        assert again.exit_code == 0, again.stderr
        assert not [path for path in rep.parent.iterdir() if path != rep]
        assert not [path for path in rep.iterdir() if path.name.startswith(".")]
        assert (rep / "beads.csv").read_bytes() == PALETTE.read_bytes()


FULL = """
import resource, signal, sys
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (10, 10))
from himotif.convert.cli import main
main(sys.argv[1:])
"""


@unix
@pytest.mark.parametrize("command", ["palette", "swatch"])
def test_when_there_is_no_room_the_old_file_is_there_still(tmp_path, command):
    path = tmp_path / ("beads.csv" if command == "palette" else "swatch.json")
    path.write_bytes(b"the old file, longer than ten bytes")
    words = {
        "palette": ("palette", PALETTE, "--out", path, "--force"),
        "swatch": ("swatch", "--record", path, "--force", "--thickness", "8mm"),
    }[command]
    done = subprocess.run(
        [sys.executable, "-c", FULL, *map(str, words)], capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    assert "cannot be written (File too large)" in done.stderr
    assert path.read_bytes() == b"the old file, longer than ten bytes"
    assert [item.name for item in tmp_path.iterdir()] == [path.name]


def all_text(folder: Path) -> str:
    """Everything that can be read in a folder's files, packed or not."""
    text = ""
    for path in sorted(folder.iterdir()):
        content = path.read_bytes()
        text += content.decode("latin-1")
        if path.suffix == ".pdf":
            reader = PdfReader(path)
            text += "".join(page.extract_text() for page in reader.pages) + str(reader.metadata)
        if path.suffix == ".png":
            for start in range(len(content)):
                if content[start : start + 4] in (b"zTXt", b"iTXt"):
                    text += zlib.decompress(content[start + 4 :].partition(b"\0\0")[2]).decode()
    return text


def test_no_output_names_the_folders_that_lead_to_her_files(tmp_path):
    home = tmp_path / "home" / "wren_saltmarsh"
    home.mkdir(parents=True)
    # not UTF-8, an odd size and capitals: each makes a note
    table = "CODE,Name,colour,size\nA,oyster,#f3eee1,10/0\nB,d\xe9ep water,#1c2947,10/0\n"
    (home / "beads.csv").write_bytes(table.encode("cp1252"))
    (home / "letter.png").write_bytes(SKETCH.read_bytes())
    swatch, start = home / "mine.json", home / "start.json"
    readings = ("--thickness", "12mm", "--strands", "12")
    assert run("swatch", "--record", swatch, *readings).exit_code == 0
    pairs = [[32, 1], [8, 9], [16, 17], [24, 25]]
    start.write_text(json.dumps({"slots": 32, "pairs": pairs}))
    out = tmp_path / "out"
    given = {"sketch": home / "letter.png", "palette": home / "beads.csv"}
    files = ("--swatch", swatch, "--start", start, "--svg")
    result = convert(out, *files, **given)
    assert result.exit_code == 0, result.stderr
    # the note is there, with the name of the file
    assert "beads.csv:" in (out / "stringing.txt").read_text(encoding="utf-8")
    compared = tmp_path / "compared"
    words = ("--palette", home / "beads.csv", "--strands", "8,12", *QUICK)
    result = run("compare", home / "letter.png", *words, "--out", compared)
    assert result.exit_code == 0, result.stderr
    for folder in (out, compared):
        assert "wren_saltmarsh" not in all_text(folder)
