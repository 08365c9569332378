"""Edits of a design: lists as spreadsheets save them, single beads by name, and their folders."""

from __future__ import annotations

import csv
import json
import re
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner, Result
from himotif.convert.cli import main
from himotif.convert.write.folder import write_folder
from himotif.convert.write.outputs import Papers, folder_files
from himotif.core.design.design import Design
from himotif.core.design.edit import change_beads, design_from_lists, parse_change, with_beads
from himotif.core.design.file import design_dict, design_from_dict, read_design
from himotif.core.design.loads import beads_from_lists, read_stringing_csv, stringing_csv
from himotif.core.errors import HimotifError, Problems, WrongUsage
from himotif.core.findings import Code, Finding
from himotif.core.paper.chart import Strip
from himotif.core.paper.legend import BeadStyles
from hypothesis import given, settings
from hypothesis import strategies as st
from sheet_designs import marsh

pytestmark = pytest.mark.usefixtures("plain_pictures")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def rows_of(design: Design) -> list[dict[str, str]]:
    return list(csv.DictReader(stringing_csv(design).splitlines()))


# -- lists as spreadsheets save them ---------------------------------------------------------------

ENCODINGS = ("utf-8", "utf-8-sig", "utf-16")


@settings(max_examples=60, deadline=None)
@given(
    strands=st.sampled_from([8, 12, 16, 24]),
    lay=st.sampled_from("SZ"),
    rounds=st.integers(1, 7),
    seed=st.integers(0, 2**31),
    separator=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(ENCODINGS),
    line_end=st.sampled_from(["\n", "\r\n", "\r"]),
    data=st.data(),
)
def test_lists_come_back_however_they_are_saved(
    strands, lay, rounds, seed, separator, encoding, line_end, data, tmp_path_factory
):
    random = np.random.default_rng(seed)
    design = marsh(strands, lay, rounds=8)
    edited = random.integers(0, len(design.palette), rounds * design.braid.beads_per_round)
    rows = rows_of(replace(design, beads=edited))
    random.shuffle(rows)
    names = data.draw(st.permutations(["strand", "slot", "order", "bead", "notes", ""]))
    with_slots = data.draw(st.booleans())
    names = [name for name in names if name != "slot" or with_slots]
    lines = [separator.join(name.title() for name in names)]
    lines += [separator.join(row.get(name, "x") for name in names) for row in rows]
    path = tmp_path_factory.getbasetemp() / "stringing.csv"
    path.write_bytes(line_end.join([*lines, separator * 3, ""]).encode(encoding))
    again = design_from_lists(path, design)
    assert again.beads.tolist() == edited.tolist()
    # and its file holds it
    assert design_from_dict(design_dict(again)).beads.tolist() == edited.tolist()


def test_a_line_that_names_the_separator_is_passed_over(tmp_path):
    design = marsh(rounds=4)
    text = "sep=;\r\n" + stringing_csv(design).replace(",", ";")
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    lists = read_stringing_csv(tmp_path / "list.csv", design)
    assert beads_from_lists(lists, design.braid).tolist() == design.beads.tolist()


def saved(tmp_path: Path, rows: list[dict[str, str]]) -> Path:
    path = tmp_path / "list.csv"
    lines = [",".join(row.values()) for row in rows]
    path.write_text("\n".join([",".join(rows[0]), *lines]), encoding="utf-8")
    return path


def test_every_bead_that_cannot_be_is_named_at_once(tmp_path):
    design = marsh(rounds=8)
    rows = rows_of(design)
    rows[0]["bead"] = "Q"
    rows[5]["bead"] = ""
    rows[9]["strand"] = "9"
    rows[12]["slot"] = "7"
    rows[20]["order"] = "two"
    rows[22]["order"] = "2"
    with pytest.raises(Problems) as caught:
        design_from_lists(saved(tmp_path, rows), design)
    found = caught.value.problems
    assert [problem.split(":")[1] for problem in found] == ["2", "7", "11", "14", "22", "24"]
    assert "strand 1, bead 1: bead 'Q' is not a code of the palette" in found[0]
    for row in rows:
        row["bead"] = "Q"
    with pytest.raises(Problems) as caught:
        design_from_lists(saved(tmp_path, rows), design)
    shown = str(caught.value).splitlines()
    assert len(shown) == 21
    assert shown[-1].startswith("And ")


def test_every_gap_and_every_strand_that_does_not_fit_is_named(tmp_path):
    design = marsh(rounds=8)
    rows = [row for row in rows_of(design) if (row["strand"], row["order"]) not in (("2", "2"),)]
    with pytest.raises(Problems, match="strand 2 has no bead 2; the orders must count"):
        design_from_lists(saved(tmp_path, rows), design)
    rows = [row for row in rows_of(design) if (row["strand"], row["order"]) != ("5", "4")]
    rows.append({"strand": "3", "slot": "8", "order": "5", "bead": "A"})
    with pytest.raises(Problems) as caught:
        design_from_lists(saved(tmp_path, rows), design)
    wanted = [
        "strand 3 (slot 8) has 5 beads, and 8 rounds take 4; take out 1.",
        "strand 5 (slot 16) has 3 beads, and 8 rounds take 4; add 1.",
    ]
    assert [problem.partition(": ")[2] for problem in caught.value.problems] == wanted


@pytest.mark.parametrize("text", ["", "\n\n", "strand,slot,order,bead\n", "strand;bead\n1;A\n"])
def test_a_table_without_beads_is_refused(text, tmp_path):
    (tmp_path / "list.csv").write_text(text, encoding="utf-8")
    with pytest.raises(HimotifError, match=r"list\.csv"):
        design_from_lists(tmp_path / "list.csv", marsh(rounds=4))


# -- single beads ----------------------------------------------------------------------------------


@pytest.mark.parametrize("strands", [8, 12])
@pytest.mark.parametrize("lay", ["S", "Z"])
def test_a_bead_named_on_the_chart_is_the_one_that_lies_there(strands, lay):
    design = marsh(strands, lay, rounds=10)
    each = design.braid.beads_per_round
    plain = replace(design, beads=np.zeros_like(design.beads))
    x = Strip(BeadStyles(design), 0, 10, 0.0, 0.0).centres()[:, 0]
    for place in range(1, each + 1):
        (one,) = change_beads(plain, [parse_change(f"r5:{place}=B")], once=True)[1]
        assert (one.crossing - 1) // each == 4
        inside = np.arange(4 * each, 5 * each)
        assert (x[inside] < x[one.crossing - 1]).sum() == place - 1


def test_a_change_comes_again_at_every_motif_or_once():
    design = marsh(rounds=40)
    design = replace(design, beads=np.zeros_like(design.beads))
    changed, beads = change_beads(design, [parse_change("3:3=B")])
    assert len(beads) == design.repeat.count == 5
    index = design.repeat_index()
    assert len({index[one.crossing - 1] for one in beads}) == 1
    assert changed.beads.sum() == 5
    once, beads = change_beads(design, [parse_change("3:3=B")], once=True)
    assert [(one.strand, one.order, one.before, one.after) for one in beads] == [(3, 3, "A", "B")]
    assert once.beads.sum() == 1


def test_changes_that_cannot_be_are_named_together():
    words = ["3:1=B", "3:5=C", "9:1=B", "r1:9=B", "r99:1=B", "1:99=B", "1:1=Q"]
    with pytest.raises(WrongUsage) as caught:
        change_beads(marsh(rounds=40), [parse_change(word) for word in words])
    assert [str(part).split(": ")[0] for part in caught.value.parts] == words[1:]
    assert str(caught.value.parts[0]) == "3:5=C: this bead is also to be B (3:1=B)."


@pytest.mark.parametrize("text", ["", "3:17", "3-17=B", "row 3:1=B", "3:17=", "x3:1=B"])
def test_what_is_no_change_is_refused(text):
    with pytest.raises(WrongUsage, match="is no change: write 3:17=B"):
        parse_change(text)


def test_what_was_said_of_the_old_beads_goes():
    design = marsh(rounds=8)
    said = (Finding(Code.WRIST_ASSUMED, {"wrist_mm": 165.0}), Finding(Code.LOST_MORE, {"count": 2}))
    design = replace(design, origin=replace(design.origin, findings=said, finished_mm=200.0))
    assert with_beads(design, design.beads) is design
    edited = with_beads(design, np.zeros(40, dtype=int))
    assert [one.code for one in edited.origin.findings] == [Code.BEADS_CHANGED, Code.WRIST_ASSUMED]
    assert edited.repeat is None or edited.repeat.count * edited.repeat.rounds <= 10
    # two rounds more
    grown = 2 * design.lattice.rise_mm
    assert edited.origin.finished_mm == pytest.approx(200.0 + grown)


# -- folders ---------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("edits") / "marsh"
    files = folder_files(marsh(rounds=16), Papers(lists_only=True))
    write_folder(folder, {**files, "distortion.json": b"{}", "choices.png": b"\x89PNG"})
    return folder


def test_an_edited_list_makes_the_folder_again(made, tmp_path):
    folder = Path(shutil.copytree(made, tmp_path / "marsh"))
    lists = folder / "stringing.csv"
    edited = re.sub("3,8,5,.", "3,8,5,D", lists.read_text(encoding="utf-8"))
    lists.write_bytes(edited.replace(",", ";").encode("utf-8-sig"))
    told = run("sheet", folder, "--from-list", "--json")
    assert told.exit_code == 0, told.stderr
    plain = json.loads(told.stdout)
    assert [one["code"] for one in plain["findings"]] == ["report-gone"]
    assert {"sheet.pdf", "stringing.csv", "design.json"} <= set(plain["files"])
    assert lists.read_text(encoding="utf-8").splitlines() == edited.splitlines()
    assert not list(folder.glob("*.kept*"))
    assert not (folder / "distortion.json").exists()
    # the first of the ways to work it is no longer what the lists give
    assert not (folder / "choices.png").exists()
    assert run("check", folder).exit_code == 0
    assert "changed by hand" in (folder / "stringing.txt").read_text(encoding="utf-8")
    # unedited, nothing is said and the report stays
    told = run("sheet", folder, "--from-list")
    assert told.exit_code == 0
    assert told.stderr == ""


def test_a_motif_that_can_hardly_be_recognised_stays_so():
    data = {"width_mm": 10.4, "height_mm": 20.2, "beads": 8, "sure": True, "tried": True}
    said = Finding(Code.HARD_TO_RECOGNISE, data), Finding(Code.OUTLINES_LEFT_OUT, {"names": ["B"]})
    design = marsh(rounds=16)
    design = replace(design, origin=replace(design.origin, findings=said))
    edited = with_beads(design, np.roll(design.beads, 1))
    assert [one.code for one in edited.origin.findings] == [
        Code.BEADS_CHANGED,
        Code.HARD_TO_RECOGNISE,
    ]


def test_a_list_that_cannot_be_leaves_the_folder_as_it_was(made, tmp_path):
    folder = Path(shutil.copytree(made, tmp_path / "marsh"))
    lists = folder / "stringing.csv"
    lists.write_text(lists.read_text("utf-8").replace("3,8,5,", "3,8,5,Q", 1), "utf-8")
    before = {path.name: path.read_bytes() for path in folder.iterdir()}
    told = run("sheet", folder, "--from-list")
    assert told.exit_code == 1
    assert "strand 3, bead 5" in told.stderr
    assert {path.name: path.read_bytes() for path in folder.iterdir()} == before


def test_a_bead_is_changed_by_name(made, tmp_path):
    folder = Path(shutil.copytree(made, tmp_path / "marsh"))
    code = read_design(folder).codes[0]
    other = "C" if code != "C" else "B"
    told = run("change", folder, "--bead", f"1:1={other}", "--once", "--json")
    assert told.exit_code == 0, told.stderr
    (one,) = json.loads(told.stdout)["beads"]
    assert one == {"crossing": 1, "strand": 1, "order": 1, "before": code, "after": other}
    assert run("check", folder).exit_code == 0
    assert read_design(folder).codes[0] == other
    assert run("change", folder).exit_code == 2
    refused = run("change", folder, "--bead", "1:1=Q", "--bead", "77:1=B")
    assert refused.exit_code == 2
    assert len(refused.stderr.splitlines()) == 2
