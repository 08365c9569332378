"""The commands a maker uses at her disc: plan, swatch, mirror, where."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from himotif.convert.cli import main
from himotif.convert.wording import lines
from himotif.core.design.file import read_design
from himotif.core.findings import Code, Finding
from himotif.core.paper.cautions import SMALL_PARTS
from pypdf import PdfReader

pytestmark = pytest.mark.usefixtures("plain_pictures")

FIXTURES = Path(__file__).parent.parent / "fixtures"


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def swatch_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The papers of a swatch, for reading alone."""
    out = tmp_path_factory.mktemp("worked") / "swatch"
    result = run("swatch", "--out", out)
    assert result.exit_code == 0
    assert "himotif swatch --record" in result.stdout
    return out


def test_from_a_wrist_to_a_shopping_list():
    # common practice: 16.5 cm + 1.5 cm + π × 0.8 cm = 20.5 cm
    result = run("plan", "--wrist", "165mm", "--ease", "15mm", "--thickness", "8mm")
    assert result.exit_code == 0
    assert "= 205 mm along the middle" in result.stdout
    assert "Small parts" in result.stdout or "small parts" in result.stdout
    plain = json.loads(run("plan", "--wrist", "16.5cm", "--ease", "15", "--json").stdout)
    assert plain["lengths"]["finished_mm"] == pytest.approx(205, abs=0.5)
    assert plain["lengths"]["thickness_source"] == "computed"
    assert plain["cord"]["folded_pieces"] == 4


@pytest.mark.parametrize(
    "words",
    [
        ("plan",),
        ("plan", "--wrist", "165", "--length", "180"),
        ("plan", "--wrist", "sixteen"),
        ("plan", "--wrist", "165", "--bead-size", "9/0"),
        ("plan", "--wrist", "165", "--bead-diameter", "3mm"),
        ("plan", "--wrist", "165", "--spare", "3"),
        ("swatch",),
        ("swatch", "--record", "never.json"),
        ("swatch", "--record", "never.json", "--thickness", "1mm"),
    ],
)
def test_wrong_usage_is_one_clear_message(words):
    result = run(*words)
    assert result.exit_code == 2
    assert result.stdout == ""
    assert result.stderr.strip()
    assert not Path("never.json").exists()


def test_a_swatch_is_worked_measured_and_used(tmp_path, swatch_folder):
    assert run("check", swatch_folder).exit_code == 0
    file = tmp_path / "mine.json"
    readings = ("--thickness", "8.4mm", "--rounds", "16", "--length", "35.2mm")
    result = run("swatch", "--record", file, *readings, "--column-rounds", "8.5")
    assert result.exit_code == 0
    assert result.stderr == ""
    plain = json.loads(run("plan", "--length", "18cm", "--swatch", file, "--json").stdout)
    assert plain["lengths"]["rise_mm"] == pytest.approx(2.2)
    assert plain["lengths"]["rise_source"] == "measured"
    assert plain["lengths"]["thickness_mm"] == pytest.approx(8.4)
    # an own reading is not overwritten unasked
    assert run("swatch", "--record", file, *readings).exit_code == 1
    assert run("swatch", "--record", file, *readings, "--force").exit_code == 0


def test_unlikely_readings_are_questioned_and_kept(tmp_path):
    file = tmp_path / "mine.json"
    given = ("--thickness", "12mm", "--reads-right", "no")
    result = run("swatch", "--record", file, *given, "--json")
    assert result.exit_code == 0
    plain = json.loads(result.stdout)
    found = [Finding.from_dict(one) for one in plain["findings"]]
    assert {one.code for one in found} == {Code.THICKNESS_OFF, Code.LETTER_BACKWARDS}
    assert result.stderr.splitlines() == plain["notes"] == lines(found)
    assert json.loads(file.read_text())["thickness_mm"] == 12


def test_mirror_twice_is_the_design(tmp_path, swatch_folder):
    once, twice = tmp_path / "once", tmp_path / "twice"
    result = run("mirror", swatch_folder, "--out", once, "--json")
    assert result.exit_code == 0
    plain = json.loads(result.stdout)
    assert plain["findings"][0]["code"] == Code.MIRRORED.value
    assert result.stderr.splitlines()[0] == plain["notes"][0]
    assert run("check", once).exit_code == 0
    assert SMALL_PARTS in run("plan", once).stdout
    assert run("mirror", once, "--out", twice).exit_code == 0
    for name in ("design.json", "stringing.csv"):
        assert (twice / name).read_text() == (swatch_folder / name).read_text()
    assert (once / "stringing.csv").read_text() != (swatch_folder / "stringing.csv").read_text()
    assert run("mirror", swatch_folder, "--out", once).exit_code == 1
    assert run("mirror", swatch_folder, "--out", once, "--force").exit_code == 0


def test_the_mirror_goes_on_with_what_holds(tmp_path):
    folder, other = tmp_path / "heron", tmp_path / "other"
    picture, palette = FIXTURES / "motifs" / "heron.png", FIXTURES / "palettes" / "saltmarsh.csv"
    given = ("--palette", palette, "--out", folder, "--quick", "--length", "4cm")
    papers = ("--tally", "--svg", "--paper", "letter")
    assert run("convert", picture, *given, *papers).exit_code == 0
    before = read_design(folder).origin.findings
    assert run("mirror", folder, "--out", other).exit_code == 0
    said = (other / "stringing.txt").read_text(encoding="utf-8").split("Notes:\n")[1].splitlines()
    assert "exact mirror set-up" in said[0]
    assert Code.ALL_OF_IT_BEADED in [one.code for one in before]
    assert any(note.startswith("All of the finished length is beads") for note in said)
    for one in (folder, other):
        printed = "".join(page.extract_text() for page in PdfReader(one / "sheet.pdf").pages)
        assert "Working tally" in printed
        assert (one / "sheet-01.svg").is_file()
    # and so it is when the papers are made again, until she wants none
    assert run("sheet", other).exit_code == 0
    assert (other / "sheet-01.svg").is_file()
    assert run("sheet", other, "--no-svg", "--no-tally").exit_code == 0
    assert not (other / "sheet-01.svg").exists()
    assert "tally" not in json.loads((other / "design.json").read_text("utf-8"))["settings"]


def test_where(swatch_folder):
    plain = json.loads(run("where", swatch_folder, "--crossing", "77", "--json").stdout)
    assert plain["next"]["crossing"] == 78
    assert len(plain["facing"]) == 3
    assert len(plain["last"]) == 10
    result = run("where", swatch_folder, "--beads", "3:9,5:8")
    assert result.exit_code == 0
    assert "contradict" in result.stdout
    assert run("where", swatch_folder).exit_code == 2
    assert run("where", swatch_folder, "--crossing", "999").exit_code == 2
    assert run("where", swatch_folder / "none", "--crossing", "1").exit_code == 1


def test_materials_of_a_folder(swatch_folder):
    plain = json.loads(run("plan", swatch_folder, "--json").stdout)
    assert sum(need["count"] for need in plain["needs"]) == plain["beads"] == 144


def test_a_design_is_planned_as_it_is(tmp_path):
    folder = tmp_path / "letter"
    picture, palette = FIXTURES / "motifs" / "letter_f.png", FIXTURES / "palettes" / "saltmarsh.csv"
    given = ("--palette", palette, "--out", folder, "--lists-only", "--quick")
    assert run("convert", picture, *given).exit_code == 0
    assert run("plan", folder).exit_code == 0
    other = run("plan", folder, "--strands", "16", "--bead-size", "11/0")
    assert other.exit_code == 2
    assert "--strands, --bead-size: the design in" in other.stderr


@pytest.mark.parametrize(
    "more", ["--wrist", "--length", "--ease", "--thickness", "--clasp", "--caps"]
)
def test_the_beads_of_a_design_are_not_planned_for_another_length(swatch_folder, more):
    result = run("plan", swatch_folder, more, "7in")
    assert result.exit_code == 2
    assert result.stdout == ""
    assert f"{more}: the design in" in result.stderr
    assert "convert the sketch again" in result.stderr


def test_who_asks_in_inches_is_answered_in_inches(tmp_path):
    result = run("plan", "--wrist", "6 1/2in", "--ease", "15mm").stdout
    assert "Wrist 6.5 in + ease 0.59 in" in result
    assert "yd in all" in result
    assert (
        " in"
        not in run("plan", "--wrist", "165mm", "--caps", "2cm").stdout.split("beads in all")[0]
    )
    folder = tmp_path / "letter"
    picture, palette = FIXTURES / "motifs" / "letter_f.png", FIXTURES / "palettes" / "saltmarsh.csv"
    given = ("--palette", palette, "--out", folder, "--lists-only", "--quick", "--unit", "in")
    made = run("convert", picture, *given)
    assert "6.5 in" in made.stderr
    assert "Ease of 0.59 in assumed" in (folder / "stringing.txt").read_text(encoding="utf-8")
    # 100 crossings on 8 strands are 25 rounds of 2.1 mm: 52.5 mm
    assert ", 2.07 in of beads)" in run("where", folder, "--crossing", "100").stdout


def test_inch_papers_are_in_inches_everywhere(tmp_path):
    folder = tmp_path / "letter"
    picture, palette = FIXTURES / "motifs" / "letter_f.png", FIXTURES / "palettes" / "saltmarsh.csv"
    given = ("--palette", palette, "--out", folder, "--quick", "--unit", "in")
    assert run("convert", picture, *given, "--wrist", "6in", "--extension", "2in").exit_code == 0
    report = (folder / "distortion.svg").read_text(encoding="utf-8")
    assert not re.search(r"\d[  ]mm\b", report)
    assert re.search(r"The motif is [\d.]+ × [\d.]+[  ]in", report)
    assert not re.search(
        r"\d mm\b", " ".join(json.loads((folder / "distortion.json").read_text())["words"])
    )
    chart = (folder / "chart.svg").read_text(encoding="utf-8")
    assert "0.31 in (8.0 mm) thick" in chart
    strung = (folder / "stringing.txt").read_text(encoding="utf-8")
    assert "an extension chain of 2.00 in" in strung
    assert "fits wrists of 6 to 8 in" in strung
    # what is sold by the mm stands in mm: thickness of braid and cord, the hollow
    for found in re.finditer(r"[\d.]+ mm", strung):
        assert re.search(
            "thick|hollow|Cord thickness", strung[found.start() - 40 : found.end() + 40]
        )


@pytest.mark.parametrize("unit", ["cm", "in"])
def test_what_is_short_and_the_cord_are_reported_alike_everywhere(tmp_path, unit):
    text = (FIXTURES / "palettes" / "saltmarsh.csv").read_text(encoding="utf-8")
    palette, folder = tmp_path / "short.csv", tmp_path / "letter"
    rows = [line.split(",") for line in text.splitlines()]
    rows = [[*row[:6], "7", *row[7:]] if row[0] in "AB" else row for row in rows]
    palette.write_text("\n".join(map(",".join, rows)), encoding="utf-8")
    picture = FIXTURES / "motifs" / "letter_f.png"
    given = ("--palette", palette, "--out", folder, "--quick", "--unit", unit, "--strands", "16")
    given += ("--length", "8cm")
    made = run("convert", picture, *given)
    assert made.exit_code == 0
    planned = run("plan", folder).output
    strung = (folder / "stringing.txt").read_text(encoding="utf-8")
    pages = PdfReader(folder / "sheet.pdf").pages
    printed = " ".join(" ".join(page.extract_text() for page in pages).split())
    short = re.findall(r"(\d+ [AB] \([a-z ]+\))", made.stderr.split("its spare: ")[1])[:2]
    assert len(short) == 2
    cord = re.search(r"Cord: 8 pieces of \d+ (?:cm|in), .*? (?:m|yd) in all", planned)
    assert cord is not None
    for paper in (planned, strung, printed):
        assert all(bead in paper for bead in short)
        assert cord[0] in paper
    assert (" in, each" in cord[0]) == (unit == "in")
    assert not re.search(r"(?<!\S)\(?--[a-z]", strung + printed)


def test_a_palette_of_another_size_is_asked_about(tmp_path):
    picture, palette = FIXTURES / "motifs" / "letter_f.png", FIXTURES / "palettes" / "saltmarsh.csv"
    given = ("--palette", palette, "--out", tmp_path / "f", "--quick", "--lists-only")
    told = run("convert", picture, *given, "--bead-size", "11")
    assert told.exit_code == 2
    (line,) = told.stderr.splitlines()
    assert "--bead-size: the beads of saltmarsh are 8/0, and 11/0 is asked for" in line
    assert line.endswith("Try --bead-size 8/0.")
    assert not (tmp_path / "f").exists()
    # and that is how
    assert run("convert", picture, *given, "--bead-size", "8").exit_code == 0
    bare = tmp_path / "bare.csv"
    bare.write_text(palette.read_text(encoding="utf-8").replace(",8/0,", ",,"), encoding="utf-8")
    told = run("convert", picture, "--palette", bare, *given[2:], "--force", "--bead-size", "11")
    assert told.exit_code == 0
    assert "11/0 beads" in told.stdout
