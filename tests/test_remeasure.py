"""After an edit what the braid does to the sketch is measured again, or is said to be gone."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from himotif.convert.cli import main
from himotif.convert.wording import lines
from himotif.core.findings import Code, Finding

pytestmark = pytest.mark.usefixtures("plain_pictures")

FIXTURES = Path(__file__).parent.parent / "fixtures"
REPORT = {"distortion.json", "distortion.png", "distortion.svg"}


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as convert makes it, far from its sketch."""
    out = tmp_path_factory.mktemp("far") / "heron"
    picture, palette = FIXTURES / "motifs" / "heron.png", FIXTURES / "palettes" / "saltmarsh.csv"
    given = ("--palette", palette, "--out", out, "--quick", "--length", "6cm")
    result = run("convert", picture, *given, "--rotate", "90")
    assert result.exit_code == 0
    return out


@pytest.fixture
def folder(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    monkeypatch.chdir(elsewhere)
    return Path(shutil.copytree(made, tmp_path / "work" / "heron"))


def edit(folder: Path) -> list[int]:
    """Change every fifth bead."""
    path = folder / "design.json"
    plain = json.loads(path.read_text(encoding="utf-8"))
    for crossing in range(0, len(plain["beads"]), 5):
        plain["beads"][crossing] = 3
    path.write_text(json.dumps(plain), encoding="utf-8")
    return list(plain["beads"])


def report(folder: Path) -> dict[str, object]:
    return dict(json.loads((folder / "distortion.json").read_text(encoding="utf-8")))


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_unedited_the_report_is_the_same(folder):
    before = report(folder)
    result = run("sheet", folder, "--picture", FIXTURES / "motifs" / "heron.png")
    assert result.exit_code == 0
    after = report(folder)
    # only what the search itself knew is not measured again
    for key in ("likeness", "lost", "unrecognised", "words", "findings"):
        del before[key], after[key]
    assert after == before


@pytest.mark.parametrize("place", [".", "..", "../../elsewhere"])
def test_a_sketch_at_hand_gives_the_report_of_the_edited_beads(folder, place):
    before, beads = report(folder), edit(folder)
    shutil.copy(FIXTURES / "motifs" / "heron.png", folder / place)
    result = run("sheet", folder)
    assert result.exit_code == 0
    assert names(folder) >= REPORT
    after = report(folder)
    assert after["motif"]["kept_percent"] < before["motif"]["kept_percent"]
    assert json.loads((folder / "design.json").read_text(encoding="utf-8"))["beads"] == beads


def test_without_the_sketch_it_says_what_went_and_how_to_keep_the_edit(folder):
    beads = edit(folder)
    # another picture of that name is not the sketch
    shutil.copy(FIXTURES / "motifs" / "reed.png", folder.parent / "heron.png")
    result = run("sheet", folder, "--json")
    assert result.exit_code == 0
    assert not names(folder) & REPORT
    (gone,) = json.loads(result.stdout)["findings"]
    assert gone["code"] == Code.REPORT_GONE.value
    files = ["distortion.json", "distortion.png", "distortion.svg"]
    assert gone["data"] == {"files": files, "folder": str(folder), "picture": "heron.png"}
    assert lines([Finding.from_dict(gone)])[0] in result.stderr
    # and that is how
    result = run("sheet", folder, "--picture", FIXTURES / "motifs" / "heron.png")
    assert result.exit_code == 0
    assert names(folder) >= REPORT
    assert json.loads((folder / "design.json").read_text(encoding="utf-8"))["beads"] == beads


def test_another_picture_is_refused_and_nothing_is_touched(folder):
    edit(folder)
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    result = run("sheet", folder, "--picture", FIXTURES / "motifs" / "reed.png")
    assert result.exit_code == 1
    assert "is not the picture that this design was made from (heron.png)" in result.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_mirror_has_nothing_to_compare(folder, tmp_path):
    other = tmp_path / "mirror"
    assert run("mirror", folder, "--out", other).exit_code == 0
    assert run("sheet", other).exit_code == 0
    result = run("sheet", other, "--picture", FIXTURES / "motifs" / "heron.png")
    assert result.exit_code == 1
    assert "nothing to compare" in result.stderr
