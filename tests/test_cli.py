"""The command as she uses it: a picture, a palette, a folder; clear words when something is off."""

from __future__ import annotations

import json
import re
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from drawn import plain_pictures
from himotif.convert.cli import main
from himotif.convert.fit import patch, size
from himotif.convert.options import Length, Number
from himotif.convert.wording import brief, lines
from himotif.core.braid.braid import STRANDS
from himotif.core.design.file import read_design
from himotif.core.design.loads import beads_from_lists, read_stringing_csv
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code, Finding

FIXTURES = Path(__file__).parent.parent / "fixtures"
MOTIFS = sorted((FIXTURES / "motifs").glob("*.png"))
PALETTE = FIXTURES / "palettes" / "saltmarsh.csv"
FULL = {
    "design.json",
    "stringing.csv",
    "stringing.txt",
    "sheet.pdf",
    "chart.svg",
    "preview.png",
    "ring.png",
    "distortion.png",
    "distortion.json",
}
LISTS = {"design.json", "stringing.csv", "stringing.txt"}


def run(*arguments: object, stdin: bytes | None = None):
    return CliRunner().invoke(main, [str(part) for part in arguments], input=stdin)


def convert(out: Path, *more: object, picture: object = FIXTURES / "motifs" / "letter_f.png"):
    return run("convert", picture, "--palette", PALETTE, "--out", out, *more)


@pytest.fixture(scope="module")
def full(tmp_path_factory) -> Path:
    out = tmp_path_factory.mktemp("full") / "letter"
    result = convert(out, "--repeat", "once")
    assert result.exit_code == 0, result.stderr
    return out


def test_the_folder_is_whole(full):
    assert {path.name for path in full.iterdir()} >= FULL
    assert all(path.stat().st_size for path in full.iterdir())


def test_the_result_goes_to_stdout_and_the_work_to_stderr(tmp_path):
    result = convert(tmp_path / "letter", "--lists-only", "--json")
    plain = json.loads(result.stdout)
    assert plain["beads"] == plain["beads_per_strand"] * plain["strands"]
    assert sum(plain["counts"].values()) == plain["beads"]
    assert set(plain["files"]) == LISTS
    assert result.stderr


def test_at_most_three_lines_are_said_and_all_of_them_on_demand(tmp_path):
    crab = FIXTURES / "motifs" / "crab.png"
    measured = ("--bead-diameter", "4mm", "--bead-length", "2.8mm")
    given = ("--quick", "--scatter", "P=0.2", "--lists-only", *measured)
    short = convert(tmp_path / "short", *given, "--json", picture=crab)
    whole = convert(tmp_path / "whole", *given, "--verbose", picture=crab)
    plain = json.loads(short.stdout)
    found = [Finding.from_dict(one) for one in plain["findings"]]
    assert plain["notes"] == lines(found)
    assert len(found) > 4
    assert [one.weight for one in found] == sorted((one.weight for one in found), reverse=True)
    *shown, more = short.stderr.splitlines()
    assert shown == lines(found)[:3]
    assert more.startswith(f"{len(found) - 3} more remarks: -v shows them")
    assert whole.stderr.splitlines() == lines(found)


def test_a_warning_is_never_left_out():
    kept = [
        Finding(Code.FILE_KEPT, {"file": f"{number}", "kept_as": "kept"}) for number in range(5)
    ]
    assert brief([Finding(Code.WRIST_ASSUMED, {"wrist_mm": 165.0}), *kept])[:-1] == lines(kept)


def test_a_remark_is_left_out_for_nothing_less():
    three = [Finding(Code.EASE_ASSUMED, {"ease_mm": float(mm)}) for mm in (12, 15, 18)]
    assert brief(three) == lines(three)


BRAIDS = [(strands, lay) for strands in STRANDS for lay in "SZ"]


@pytest.mark.parametrize(("strands", "lay"), BRAIDS)
def test_lists_worked_on_the_slots_give_the_design(strands, lay, tmp_path):
    # each braid has a motif of its own
    picture = MOTIFS[2 * BRAIDS.index((strands, lay))]
    more = ("--strands", strands, "--lay", lay, "--lists-only", "--quick", "--wrist", "180mm")
    out = tmp_path / "lists"
    result = convert(out, *more, picture=picture)
    assert result.exit_code == 0, result.stderr
    design = read_design(out)
    assert (design.braid.strands, design.braid.lay) == (strands, lay)
    lists = read_stringing_csv(out / "stringing.csv", design)
    assert np.array_equal(beads_from_lists(lists, design.braid), design.beads)


def test_check_passes_what_convert_made_and_names_a_changed_bead(full):
    assert run("check", full).exit_code == 0
    path = full / "stringing.csv"
    before = path.read_text(encoding="utf-8")
    design = read_design(full)
    row = before.splitlines()[40]
    strand, slot, order, code, way = row.split(",")
    other = next(bead.code for bead in design.palette if bead.code != code)
    path.write_text(before.replace(row, f"{strand},{slot},{order},{other},{way}"), encoding="utf-8")
    try:
        result, plain = run("check", full), run("check", full, "--json")
    finally:
        path.write_text(before, encoding="utf-8")
    assert result.exit_code == 1
    assert f"strand {strand}, bead {order} is {other}; the design has {code}" in result.stderr
    differs = json.loads(plain.stdout)["differs"]
    assert (differs["strand"], differs["order"]) == (int(strand), int(order))
    assert plain.exit_code == 1


def test_an_edited_design_gets_new_papers(full, tmp_path):
    out = tmp_path / "copy"
    out.mkdir()
    for path in full.iterdir():
        (out / path.name).write_bytes(path.read_bytes())
    plain = json.loads((out / "design.json").read_text(encoding="utf-8"))
    plain["beads"][7] = (plain["beads"][7] + 1) % len(plain["palette"])
    (out / "design.json").write_text(json.dumps(plain), encoding="utf-8")
    assert run("check", out).exit_code == 1
    assert run("sheet", out).exit_code == 0
    assert run("check", out).exit_code == 0
    assert not (out / "distortion.json").exists()


def test_the_same_order_gives_the_same_bytes(full, tmp_path):
    # nothing that was kept of the first time is taken again
    for kept in (patch._patch, size._made_ready):
        kept.cache_clear()
    again = tmp_path / "letter"
    assert convert(again, "--repeat", "once").exit_code == 0
    for path in full.iterdir():
        assert (again / path.name).read_bytes() == path.read_bytes(), path.name


def test_a_picture_may_come_from_standard_input(tmp_path):
    data = (FIXTURES / "motifs" / "heron.png").read_bytes()
    out = tmp_path / "heron"
    result = run("convert", "-", "--palette", PALETTE, "--out", out, "--lists-only", stdin=data)
    assert result.exit_code == 0, result.stderr
    assert read_design(out).picture is not None


BAD = [
    (["--strands", "24", "--turn", "other"], 2, "slot"),
    (["--strands", "10"], 2, "'10' is not one of"),
    (["--bead-size", "9/1"], 2, "bead size"),
    (["--bead-diameter", "3mm"], 2, "--bead-length"),
    (["--wrist", "16 furlongs"], 2, "furlongs"),
    (["--wrist", "17"], 2, "Did you mean 17cm?"),
    (["--ease", "50cm"], 2, "usual are 6 to 30 mm"),
    (["--move", "900,0"], 2, "once round the braid"),
    (["--wrist", "165", "--length", "200"], 2, "not both"),
    (["--background", "QQ"], 2, "QQ"),
    (["--repeat", "often"], 2, "often"),
    (["--repeat", "400"], 2, "room for"),
    (["--swatch", "no_such_file.json"], 1, "no_such_file.json"),
    (["--rotate", "inf"], 2, "'inf' is not a number"),
    (["--gap", "nan"], 2, "'nan' is not a number"),
    (["--require-kept", "nan"], 2, "'nan' is not a number"),
    (["--require-colour", "nan"], 2, "'nan' is not a number"),
    (["--plain-back", "nan"], 2, "'nan' is not a number"),
    (["--rotate", "sideways"], 2, "'sideways' is not a number of degrees."),
    (["--plain-back", "400"], 2, "'400' is not a number of degrees from 0 to 360."),
    (["--most", "few"], 2, "'few' is not a whole number of bead colours"),
    (["--most", "1"], 2, "the background among them, from 2 up."),
    (["--seed", "1.5"], 2, "'1.5' is not a whole number from 0 up."),
    (["--seed", "-1", "--scatter", "K=0.1"], 2, "'-1' is not a whole number from 0 up."),
    (["--seed", "9" * 400], 2, "is not a whole number"),
    (["--width", f"{'9' * 400}/3in"], 2, "is not a length"),
]


@pytest.mark.parametrize(("more", "code", "said"), BAD, ids=lambda value: str(value)[:30])
def test_wrong_usage_leaves_nothing_behind(more, code, said, tmp_path):
    result = convert(tmp_path / "letter", "--lists-only", *more)
    assert result.exit_code == code, result.stderr
    assert said in result.stderr
    assert "Traceback" not in result.stderr
    assert list(tmp_path.iterdir()) == []


def test_no_message_speaks_of_types():
    kinds = [
        option.of_table.kind
        for command in main.commands.values()
        for option in command.params
        if hasattr(option, "of_table")
    ]
    numbers = [kind for kind in kinds if isinstance(kind, Length | Number)]
    assert len(numbers) > 30
    for kind in numbers:
        with pytest.raises(WrongUsage) as caught:
            kind.read("none")
        assert re.search("not a .*(number|length)", str(caught.value))
        assert not re.search("float|integer|range|_", str(caught.value))


def test_all_that_is_wrong_is_said_at_once_with_its_option(tmp_path):
    more = ("--strands", "9", "--rotate", "x", "--require-kept", "200", "--scatter", "L")
    result = convert(tmp_path / "letter", *more)
    assert result.exit_code == 2
    starts = [line.split(": ")[:2] for line in result.stderr.splitlines()]
    options = ("--strands", "--rotate", "--scatter", "--require-kept")
    assert starts == [["himotif", option] for option in options]


def test_what_the_work_refuses_is_said_with_its_option(tmp_path):
    result = convert(tmp_path / "a", "--move", "900,900", "--lists-only")
    assert [line[:14] for line in result.stderr.splitlines()] == ["himotif: --mov"] * 2
    result = convert(tmp_path / "b", "--repeat", "400", "--lists-only")
    assert result.stderr.startswith("himotif: --repeat: 400 motifs")
    fits = re.search(r"room for (\d+)\. .* Try --repeat \1\.$", result.stderr.strip())
    assert fits, result.stderr
    again = convert(tmp_path / "c", "--repeat", fits[1], "--lists-only", "--quick")
    assert again.exit_code == 0


def test_a_place_that_takes_no_folder_is_reported_before_the_work(tmp_path, monkeypatch):
    def full_disk(*args, **kwargs):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.mkdir", full_disk)
    # the picture is not even read
    result = convert(tmp_path / "letter", picture=tmp_path / "no_such.png")
    assert result.exit_code == 1
    assert "cannot be made (No space left on device)" in result.stderr
    assert "no_such" not in result.stderr


def test_a_broken_picture_or_palette_fails_with_one_message(tmp_path):
    broken = tmp_path / "broken.png"
    broken.write_bytes(b"\x89PNG\r\n\x1a\n not really")
    result = convert(tmp_path / "out", picture=broken)
    assert result.exit_code == 1
    assert "broken.png" in result.stderr
    palette = tmp_path / "beads.csv"
    palette.write_text("code,name,colour\nA,oyster,#12\nA,tide,blue-ish\n", encoding="utf-8")
    result = run(
        "convert", FIXTURES / "motifs" / "heron.png", "--palette", palette, "--out", tmp_path / "o"
    )
    assert result.exit_code == 1
    assert "beads.csv:2" in result.stderr
    assert "beads.csv:3" in result.stderr
    assert not (tmp_path / "out").exists()
    assert not (tmp_path / "o").exists()


def test_an_existing_folder_needs_force(full):
    before = (full / "design.json").read_bytes()
    assert convert(full).exit_code == 1
    assert (full / "design.json").read_bytes() == before


def test_braids_lists_every_braid():
    plain = json.loads(run("braids", "--json").stdout)
    lays = {(row["strands"], row["turn"]): row["lays"] for row in plain["braids"]}
    assert set(lays) == {(n, turn) for n in STRANDS for turn in ("usual", "other")}
    assert lays[24, "other"] == []
    assert all(lay == ["S", "Z"] for key, lay in lays.items() if key != (24, "other"))


def test_a_missed_limit_is_reported_after_the_work_is_done(tmp_path):
    out = tmp_path / "heron"
    heron = FIXTURES / "motifs" / "heron.png"
    limits = ("--require-kept", "99", "--require-edge", "0.01mm", "--require-colour", "0.1")
    result = convert(
        out, *limits, "--length", "60mm", "--quick", "--lists-only", "--json", picture=heron
    )
    assert result.exit_code == 3
    plain = json.loads(result.stdout)
    codes = {one["code"] for one in plain["findings"]}
    assert codes >= {"limit-kept", "limit-colour"}
    assert codes & {"limit-edges", "limit-edges-lost"}
    assert result.stderr.splitlines()[-len(plain["missed_limits"]) :] == plain["missed_limits"]
    assert (out / "design.json").exists()
    easy = ("--require-kept", "0", "--require-colour", "100", "--lists-only")
    easy += ("--length", "60mm", "--quick")
    assert convert(tmp_path / "easy", *easy, picture=heron).exit_code == 0


def test_braids_are_compared_on_one_sheet(tmp_path):
    out = tmp_path / "sheet"
    picture = FIXTURES / "motifs" / "sea_aster.png"
    given = ("--palette", PALETTE, "--strands", "8,12", "--bead-size", "11/0,8/0", "--quick")
    given += ("--length", "60mm")
    with plain_pictures():
        result = run("compare", picture, *given, "--out", out, "--json")
    assert result.exit_code == 0, result.stderr
    plain = json.loads(result.stdout)
    assert plain["findings"][0]["code"] == "best-braid"
    rows = plain["best_first"]
    assert {(row["strands"], row["bead"]) for row in rows} == {
        (strands, size) for strands in (8, 12) for size in ("11/0", "8/0")
    }
    assert [row["score"] for row in rows] == sorted(row["score"] for row in rows)
    made = {"compare.json", "compare.png", "compare.svg", "made-by-himotif.json"}
    assert {path.name for path in out.iterdir()} == made
    one = ("--palette", PALETTE, "--strands", "8", "--bead-size", "8/0", "--quick")
    one += ("--length", "60mm")
    assert run("compare", picture, *one, "--out", out).exit_code == 1
    with plain_pictures():
        assert run("compare", picture, *one, "--out", out, "--force").exit_code == 0
    bad = run(
        "compare", picture, "--palette", PALETTE, "--strands", "8;12", "--out", tmp_path / "o"
    )
    assert bad.exit_code == 2
    bad = run("compare", picture, "--palette", PALETTE, "--strands", "10", "--out", tmp_path / "o")
    assert bad.exit_code == 2
    assert bad.stderr.count("not 10") == 1


def test_a_palette_is_shown_and_written_in_the_other_form(tmp_path):
    other = tmp_path / "beads.gpl"
    result = run("palette", PALETTE, "--out", other, "--json")
    assert result.exit_code == 0
    assert "holds no size" in result.stderr
    back = json.loads(run("palette", other, "--json").stdout)
    plain = json.loads(result.stdout)
    assert [bead["rgb"] for bead in back["beads"]] == [bead["rgb"] for bead in plain["beads"]]
    assert run("palette", PALETTE, "--out", other).exit_code == 1
