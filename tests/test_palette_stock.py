"""A stock of beads: found, sorted, put together, used up; palettes as JSON and to begin with."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.convert.options import Order
from himotif.convert.read import Picture
from himotif.convert.suggest import suggest
from himotif.core.bead import Bead
from himotif.core.errors import HimotifError, Problems, WrongUsage
from himotif.core.findings import Code
from himotif.palette import (
    Palette,
    joined,
    near_beads,
    parse_palette,
    read_palettes,
    sorted_palette,
    starter_palette,
    used_up,
)
from himotif.palette.files import palette_file

MARSH = parse_palette(
    "code,name,colour,stock\nA,oyster,#f3eee1,900\nB,night,#1d2c50,20\nR,rust,#bf5030,\n"
)


def test_near_is_by_colour_difference() -> None:
    first, second = near_beads(MARSH, (200, 90, 60), 2)
    assert first.bead.code == "R"
    assert first.difference < second.difference


def test_sorted_by_light_stock_and_hue() -> None:
    assert sorted_palette(MARSH, "lightness").codes == ("A", "R", "B")
    assert sorted_palette(MARSH, "stock").codes == ("A", "B", "R")
    hues = parse_palette("code,name,colour\nB,b,#2468c0\nG,g,#888888\nR,r,#d63030\nY,y,#f4c62f\n")
    assert sorted_palette(hues, "hue").codes == ("G", "R", "Y", "B")


def test_joined_palettes_lose_nothing() -> None:
    other = parse_palette("code,name,colour,stock\nQ,oyster,#f3eee1,50\nB,reed,#5e7b40,\n")
    both = joined([MARSH, other], "both")
    assert both.codes == ("A", "B", "R", "C")
    assert both.beads[0].stock == 950
    assert both.beads[3].name == "reed"
    (changed,) = both.findings
    assert changed.code is Code.CODE_CHANGED
    assert changed.data == {"name": "reed", "before": "B", "after": "C"}


def test_too_many_joined_beads_are_refused_however_many_there_are() -> None:
    palettes = [
        Palette(tuple(Bead(f"B{k}", f"{n}", (n, k // 256, k % 256)) for k in range(1999)), f"{n}")
        for n in range(4)
    ]
    with pytest.raises(HimotifError, match="7996 beads"):
        joined(palettes, "all")


def test_a_bracelet_is_taken_off_the_stock() -> None:
    oyster, night, rust = MARSH.beads
    left = used_up(MARSH, {oyster: 300, night: 25})
    assert [bead.stock for bead in left.beads] == [600, 0, None]
    assert [one.code for one in left.findings] == [Code.STOCK_WAS_LESS]
    with pytest.raises(WrongUsage, match="has no stock"):
        used_up(MARSH, {rust: 1})
    other = parse_palette("code,name,colour,stock\nA,jet,#000000,5\n")
    with pytest.raises(WrongUsage, match=r"A is oyster in .* there is no bead B"):
        used_up(other, {oyster: 1, night: 1})


def test_json_gives_the_same_palette() -> None:
    content, lost = palette_file(MARSH, "marsh.json")
    assert not lost
    assert parse_palette(content, "marsh.json").beads == MARSH.beads
    # what `palette --json` prints is a palette, too
    shown = CliRunner().invoke(main, ["palette", "--starter", "muted", "--json"]).stdout
    assert parse_palette(shown).beads == starter_palette("muted").beads


def test_all_problems_of_all_files_are_said_with_their_lines(tmp_path) -> None:
    rows = '{"code": "A", "name": "x", "colour": "#12"},\n 5,\n{"code": "A",\n"rgb": [0]}'
    text = f'{{"beads": [\n{rows}]}}'
    (tmp_path / "a.json").write_text(text, encoding="utf-8")
    (tmp_path / "b.csv").write_text("code,name,colour\nA,,#fff\n", encoding="utf-8")
    with pytest.raises(Problems) as caught:
        read_palettes([tmp_path / "a.json", tmp_path / "b.csv"])
    places = [
        problem.removeprefix(f"{tmp_path}/").split(": ")[0] for problem in caught.value.problems
    ]
    assert places == ["a.json:2", "a.json:3", "a.json:4", "a.json:4", "a.json:4", "b.csv:2"]


@pytest.mark.parametrize(("name", "count"), [("bright", 16), ("muted", 24)])
def test_palettes_to_begin_with(name: str, count: int) -> None:
    palette = starter_palette(name)
    assert len(palette) == count
    assert not palette.findings
    assert len({bead.name for bead in palette.beads}) == count


def test_a_bead_is_suggested_that_helps() -> None:
    linear = np.full((40, 60, 3), 0.8, np.float32)
    linear[8:32, 10:50] = (0.5, 0.08, 0.03)
    picture = Picture("red.png", "", (60, 40), linear, np.ones((40, 60), np.float32), 1.0)
    have = parse_palette("code,name,colour\nA,oyster,#f3eee1\nB,night,#1d2c50\n")
    before, found = suggest(Order(length_mm=60.0), picture, have, MARSH, 2)
    assert [one.bead.code for one in found] == ["R"]
    assert found[0].standing.score < before.score
    assert found[0].standing.colour_de00 < before.colour_de00


def test_a_suggested_bead_has_the_code_of_the_shop() -> None:
    linear = np.full((40, 60, 3), 0.8, np.float32)
    linear[8:32, 10:50] = (0.5, 0.08, 0.03)
    picture = Picture("red.png", "", (60, 40), linear, np.ones((40, 60), np.float32), 1.0)
    have = parse_palette("code,name,colour\nA,oyster,#f3eee1\nR,night,#1d2c50\n")
    shop = parse_palette("code,name,colour\nR,rust,#bf5030\n")
    _, found = suggest(Order(length_mm=60.0), picture, have, shop, 1)
    assert [(one.bead.code, one.bead.name) for one in found] == [("R", "rust")]


def test_only_beads_that_fit_the_work_are_suggested() -> None:
    linear = np.full((40, 60, 3), 0.8, np.float32)
    linear[8:32, 10:50] = (0.5, 0.08, 0.03)
    picture = Picture("red.png", "", (60, 40), linear, np.ones((40, 60), np.float32), 1.0)
    have = parse_palette("code,name,colour,size\nA,oyster,#f3eee1,8/0\nB,night,#1d2c50,8/0\n")
    rows = "D,rust drop,#bf5030,,drop\nS,rust,#bf5030,11/0,\n"
    shop = parse_palette(f"code,name,colour,size,shape\n{rows}T,brick,#b05038,,\n")
    _, found = suggest(Order(length_mm=60.0), picture, have, shop, 3)
    assert [one.bead.code for one in found] == ["T"]
    with pytest.raises(HimotifError, match="no round beads of size 8/0"):
        suggest(Order(length_mm=60.0), picture, have, shop.subset([0, 1]), 3)


def test_near_takes_a_colour_by_its_name(tmp_path) -> None:
    beads = tmp_path / "beads.csv"
    beads.write_text("code,name,colour\nA,a,#008080\nB,b,#ff0000\n", encoding="utf-8")
    result = CliRunner().invoke(main, ["palette", "near", "Teal", str(beads), "--json"])
    first = json.loads(result.stdout)["beads"][0]
    assert (first["code"], first["ciede2000"]) == ("A", 0)


def test_using_asks_first_and_keeps_unknown_columns(tmp_path) -> None:
    run = CliRunner()
    folder, beads = tmp_path / "out", tmp_path / "beads.csv"
    assert run.invoke(main, ["swatch", "--out", str(folder)]).exit_code == 0
    design = json.loads((folder / "design.json").read_text(encoding="utf-8"))
    rows = [f"{b['code']},{b['name']},#{bytes(b['rgb']).hex()},999" for b in design["palette"]]
    text = "\n".join(["code,name,colour,stock", *rows]) + "\n"
    beads.write_text(text, encoding="utf-8")
    no = run.invoke(main, ["palette", "use", str(folder), str(beads)], input="n\n")
    assert no.exit_code == 1
    assert beads.read_text(encoding="utf-8") == text
    yes = run.invoke(main, ["palette", "use", str(folder), str(beads), "--yes", "--json"])
    assert yes.exit_code == 0, yes.stderr
    assert sum(bead["took"] for bead in json.loads(yes.stdout)["beads"]) == len(design["beads"])
    left = parse_palette(beads.read_bytes())
    assert sum(bead.stock or 0 for bead in left.beads) == 2 * 999 - len(design["beads"])
    more = text.replace("stock\n", "stock,shelf\n", 1)
    beads.write_text(more, encoding="utf-8")
    refused = run.invoke(main, ["palette", "use", str(folder), str(beads), "--yes"])
    assert "shelf would be lost" in refused.stderr
    assert beads.read_text(encoding="utf-8") == more
