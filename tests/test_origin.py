"""What a conversion remembers, how its file keeps it, and what is made of it again."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.convert.compare import compare
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.read import sketch as reading
from himotif.convert.read.picture import read_picture
from himotif.convert.report.remeasure import distortion_again
from himotif.core.design.design import Design
from himotif.core.design.file import design_dict, design_from_dict, read_design
from himotif.core.errors import Problems
from himotif.core.findings import Code
from himotif.palette.files import read_palette

pytestmark = pytest.mark.usefixtures("plain_pictures")

TESTS = Path(__file__).parent
FIXTURES = TESTS.parent / "fixtures"
LETTER = FIXTURES / "motifs" / "letter_f.png"
SALTMARSH = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
SHORT = Order(quick=True, length_mm=60.0, repeat=1)


def made(sketch: str, **asked: Any) -> Design:
    picture = read_picture(FIXTURES / "motifs" / f"{sketch}.png")
    return make(replace(SHORT, **asked), picture, SALTMARSH).design


def sheet(folder: Path, *words: str) -> dict[str, Any]:
    """Make a folder's papers again; return its new report."""
    result = CliRunner().invoke(main, ["sheet", str(folder), "--picture", str(LETTER), *words])
    assert result.exit_code == 0, result.output
    return dict(json.loads((folder / "distortion.json").read_text("utf-8")))


def again(folder: Path) -> dict[str, Any]:
    """Return the report as a folder's papers would have it, without the papers."""
    return distortion_again(read_design(folder), LETTER).as_dict()


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """A folder with a design as files were before they kept what a conversion knew."""
    folder = tmp_path / "older"
    folder.mkdir()
    shutil.copy(TESTS / "data" / "older_design.json", folder / "design.json")
    return folder


# -- what is remembered ----------------------------------------------------------------------------


def test_a_flat_sketch_is_remembered_with_the_bead_of_each_colour():
    facts = made("letter_f", rotate_deg=90.0, width_mm=9.0).origin.conversion
    assert facts is not None
    assert facts.kind == "flat"
    assert [colour.bead for colour in facts.colours] == ["A", "B"]
    assert sum(colour.share for colour in facts.colours) == pytest.approx(1, abs=1e-5)
    assert facts.ground == facts.colours[0].rgb
    # the frame is whole pixels of the sketch as it was read
    assert (facts.asked.width_mm, facts.asked.rotate_deg) == (pytest.approx(9, rel=5e-3), 90)
    assert facts.used.width_mm == facts.asked.width_mm
    assert facts.used.stretch >= 1


def test_few_beads_and_another_ground_are_remembered_as_they_were_used():
    facts = made("heron", most=2, background="E").origin.conversion
    assert facts is not None
    assert len({colour.bead for colour in facts.colours}) == 2
    design = made("heron", background="K")
    assert design.origin.conversion is not None
    # nothing of the sketch is amber, so it has no ground of its own any more
    assert design.origin.conversion.ground is None


@pytest.mark.parametrize(("sketch", "strands", "most"), [("curlew", 8, None), ("heron", 16, 3)])
def test_the_report_names_no_bead_that_was_not_to_be_chosen(sketch, strands, most):
    # some colours have no bead of their own on the braid: only the conversion knows theirs
    order = replace(SHORT, strands=strands, most=most)
    picture = read_picture(FIXTURES / "motifs" / f"{sketch}.png")
    result = make(order, picture, SALTMARSH)
    choice = result.conversion.motif.choice
    usable = {choice.palette.codes[at] for at in choice.usable}
    assert {row.code for row in result.distortion.report.regions} <= usable
    assert len(usable) == (most or len(SALTMARSH) - 1)


def test_a_shaded_picture_has_no_flat_colours():
    facts = made("dusk").origin.conversion
    assert facts is not None
    assert (facts.kind, facts.colours, facts.ground) == ("shaded", (), None)


def test_accents_are_remembered_where_they_lie():
    bare, design = made("letter_f"), made("letter_f", scatter={"E": 0.3, "K": 0.1})
    facts = design.origin.conversion
    assert facts is not None
    placed = {crossing: code for code, at in facts.accents.items() for crossing in at}
    differ = {at for at, code in enumerate(design.codes) if code != bare.codes[at]}
    assert set(placed) == differ
    assert all(design.codes[at] == code for at, code in placed.items())


@pytest.mark.parametrize(("name", "times"), [("letter_f", 1), ("heart", 2)])
def test_a_sketch_is_read_once_for_all_braids(name, times, monkeypatch):
    """And once more, where it has margins, without these."""
    read = []
    look = reading.read_picture_colours
    monkeypatch.setattr(reading, "read_picture_colours", lambda one: read.append(one) or look(one))
    picture = read_picture(LETTER.with_stem(name))
    found = compare(SHORT, picture, SALTMARSH, [8, 12], [])
    assert len(found.report["best_first"]) == 2
    assert len(read) == times


# -- in the file -----------------------------------------------------------------------------------


def test_it_comes_back_from_the_file():
    design = made("letter_f", scatter={"E": 0.3}, unit="in")
    plain = json.loads(json.dumps(design_dict(design)))
    # as it was before there was more
    assert plain["settings"] == {
        "length_mm": 60.0,
        "repeat": 1,
        "quick": True,
        "scatter": {"E": 0.3},
        "unit": "in",
        "finished_mm": 60.0,
        "findings": [one.as_dict() for one in design.origin.findings],
    }
    back = design_from_dict(plain)
    assert back.origin.conversion == design.origin.conversion
    assert back.origin == design.origin
    assert back.papers == design.papers
    assert design_dict(back) == plain


def test_everything_wrong_is_named():
    plain = json.loads(json.dumps(design_dict(made("letter_f", scatter={"E": 0.3}))))
    plain["settings"] |= {"paper": "napkin", "tally": 1, "mirrored": "yes", "swatch": 3}
    conversion = plain["conversion"]
    conversion |= {"kind": "drawn", "ground": "#123456", "asked": {"width_mm": -2}}
    conversion["colours"][0] |= {"rgb": "white", "bead": "Q"}
    conversion["colours"][1]["share"] = 2
    conversion["accents"] = {"E": [0, "3", 10**6], "Q": [1]}
    with pytest.raises(Problems) as refused:
        design_from_dict(plain)
    for wrong in (
        "settings.paper: ", "settings.tally: ", "settings.mirrored: ", "settings.swatch: ",
        "conversion.kind: ", "conversion.ground: ", "conversion.asked.width_mm: ",
        "conversion.asked.rotate_deg: is missing", "conversion.colours[0].rgb: ",
        'conversion.colours[0].bead: is "Q", but must be a code of the palette',
        "conversion.colours[1].share: ", "conversion.accents.E: is 0,",
        'conversion.accents.E: is "3",', "conversion.accents.E: is 1000000,",
        "conversion.accents.Q: ",
    ):  # fmt: skip
        assert any(wrong in problem for problem in refused.value.problems), wrong


# -- made again ------------------------------------------------------------------------------------


def test_the_report_goes_by_what_the_file_remembers(older):
    made_again = again(older)
    design = made("letter_f", strands=12)
    plain = json.loads(json.dumps(design_dict(design)))
    (older / "design.json").write_text(json.dumps(plain), encoding="utf-8")
    before = again(older)
    assert {row["code"] for row in before["regions"]} == {"A", "B"}
    # the same beads, said to have been meant as heron grey
    plain["conversion"]["colours"][1]["bead"] = "E"
    plain["conversion"]["asked"]["rotate_deg"] = 10.0
    (older / "design.json").write_text(json.dumps(plain), encoding="utf-8")
    after = again(older)
    assert {row["code"]: row["beads"] for row in after["regions"]}["E"] == 0
    assert after["motif"]["kept_percent"] == 0
    assert after["motif"]["asked_rotate_deg"] == 10
    assert made_again["motif"]["asked_rotate_deg"] == before["motif"]["asked_rotate_deg"] == 0


def test_an_older_design_opens_and_its_papers_are_made_again(older):
    before = json.loads((older / "design.json").read_text("utf-8"))
    assert "conversion" not in before
    report = sheet(older)
    rows = {row["code"]: row for row in (*report["regions"], *report["not_in_sketch"])}
    assert {row["code"] for row in report["regions"]} == {"A", "B"}
    # seven were scattered
    assert (rows["E"]["beads"], rows["E"]["strewn"], rows["E"]["on_the_braid"]) == (0, 7, 7)
    # the figures that were measured when all designs were without such facts
    assert report["motif"]["kept_percent"] == pytest.approx(71.49, abs=0.01)
    assert report["colour"]["mean_de00"] == pytest.approx(0.429, abs=0.001)
    after = json.loads((older / "design.json").read_text("utf-8"))
    assert after["schema"] == before["schema"]
    assert after["beads"] == before["beads"]
    texts = before["settings"].pop("notes")
    findings = after["settings"].pop("findings")
    assert after["settings"] == before["settings"]
    assert [one["data"]["text"] for one in findings] == texts
    assert {one.code for one in read_design(older).origin.findings} == {Code.REMARK}
    assert "Placed 0.4 mm right" in (older / "stringing.txt").read_text("utf-8")
