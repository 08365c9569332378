"""The cord that light meets through clear beads: it takes their colours once, however often a
design is written, opened and worked again."""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.page.drawing import drawing
from himotif.convert.page.form import form_of
from himotif.convert.page.order import order_from
from himotif.convert.page.works import Works
from himotif.convert.page.workspace import Workspace
from himotif.convert.read import Picture
from himotif.core.bead import Bead
from himotif.core.design import colours_rgb, design_from_dict, design_json, palette_rgb
from himotif.core.errors import Problems
from himotif.core.findings import Code
from himotif.core.finish import finish_of, off_cord, on_cord
from himotif.core.paper.html import sheet_html
from himotif.core.paper.legend import BeadStyles
from himotif.core.paper.sheet_content import SheetContent
from himotif.core.srgb import srgb_to_linear
from himotif.palette import Palette, PaletteReport, parse_palette

TRAY = parse_palette(
    "code,name,colour,finish\n"
    "W,white,#e7e7e7,\n"
    "G,glass,#e0e0e0,transparent\n"
    "I,ice,#b8d8e6,transparent\n"
    "K,slate,#26303a,\n"
)
BLACK = "#000000"


def sketch() -> Picture:
    """A grey field with a pale ring on white: glass and ice on a black cord."""
    linear = np.full((40, 60, 3), 0.8, np.float32)
    linear[8:32, 10:50] = srgb_to_linear(palette_rgb_on_black()[1])
    linear[14:26, 22:38] = srgb_to_linear(palette_rgb_on_black()[2])
    return Picture("grey.png", "", (60, 40), linear, np.ones((40, 60), np.float32), 1.0)


def palette_rgb_on_black() -> np.ndarray:
    return replace(TRAY, cord_rgb=(0, 0, 0)).rgb


@pytest.fixture(scope="module")
def order() -> Order:
    return Order(length_mm=60.0, quick=True, cord_colour=BLACK)


@pytest.fixture(scope="module")
def design(order):
    return make(order, sketch(), TRAY).design


@pytest.mark.parametrize("cord", [(0, 0, 0), (34, 34, 34), (200, 30, 90), (255, 255, 255)])
def test_light_passes_clear_beads_to_the_cord(cord) -> None:
    codes = range(256)
    beads = tuple(Bead(f"{k}", "", (k, k, 255 - k), finish="transparent") for k in codes)
    opaque = tuple(replace(bead, finish="opaque") for bead in beads)
    seen = on_cord((*beads, *opaque), cord)
    assert seen[256:] == opaque
    own, found = (srgb_to_linear(np.array([b.rgb for b in of], np.uint8)) for of in (beads, seen))
    clear = finish_of("transparent").clear
    wanted = own * (1 - clear + clear * srgb_to_linear(np.array(cord, np.uint8)))
    # to the nearest sRGB code; the steepest one is of 0.009
    assert np.abs(found[:256] - wanted).max() < 0.005
    # what is known from its look alone looks the same again
    again = off_cord(seen, cord)
    assert on_cord(again, cord) == seen
    off = np.array([b.rgb for b in again], int) - np.array([b.rgb for b in (*beads, *opaque)], int)
    assert np.abs(off).max() <= 2


def test_the_design_keeps_the_colours_of_the_tray(order, design) -> None:
    assert design.palette == TRAY.beads
    assert (palette_rgb(design) == palette_rgb_on_black()).all()
    assert {design.palette[bead].code for bead in design.beads} >= {"G", "I"}
    # as they are drawn: paper, page, matching
    styles = BeadStyles(design)
    assert [[*styles.fill(k)] for k in range(4)] == palette_rgb(design).tolist()
    assert [row["rgb"] for row in drawing(design)["palette"]] == palette_rgb(design).tolist()
    assert (Palette.of(design).linear == replace(TRAY, cord_rgb=(0, 0, 0)).linear).all()
    assert colours_rgb(design).tolist() == palette_rgb(design)[design.beads].tolist()


def test_read_again_it_is_the_same(design) -> None:
    plain = json.loads(design_json(design))
    assert plain["cord_rgb"] == [0, 0, 0]
    again = design_from_dict(plain)
    assert again.palette == design.palette
    assert (colours_rgb(again) == colours_rgb(design)).all()
    with pytest.raises(Problems, match="cord_rgb"):
        design_from_dict(plain | {"cord_rgb": "black"})


def test_worked_twice_the_cord_comes_once(order, design) -> None:
    twice = make(order, sketch(), Palette(design.palette)).design
    assert (twice.beads == design.beads).all()
    assert (colours_rgb(twice) == colours_rgb(design)).all()
    # so where another palette is made of what a conversion worked with
    thrice = make(order, sketch(), Palette.of(design)).design
    assert (colours_rgb(thrice) == colours_rgb(design)).all()
    said = [one for one in thrice.origin.findings if one.code is Code.SEEN_ON_CORD]
    assert [one.data["codes"] for one in said] == [["G", "I"]]


def test_from_a_folder_to_the_page_and_back(order, design, tmp_path) -> None:
    workspace = Workspace(Works(tmp_path))
    try:
        told = workspace.bring_design(design_json(design).encode(), "design.json")
        tray = workspace.tray(told["palette_of"])
        assert [bead.rgb for bead in tray.beads] == [bead.rgb for bead in TRAY.beads]
    finally:
        workspace.close()
    asked = order_from(form_of(design), quick=True)
    assert asked.cord_colour == BLACK
    again = make(asked, sketch(), tray).design
    assert (again.beads == design.beads).all()
    assert (colours_rgb(again) == colours_rgb(design)).all()


def test_older_files_have_the_colours_on_the_cord(order, design) -> None:
    plain = json.loads(design_json(design))
    del plain["cord_rgb"]
    for row, rgb in zip(plain["palette"], palette_rgb(design).tolist(), strict=True):
        row["rgb"] = rgb
    older = design_from_dict(plain)
    assert (colours_rgb(older) == colours_rgb(design)).all()
    for bead, own in zip(older.palette, TRAY.beads, strict=True):
        assert np.abs(np.subtract(bead.rgb, own.rgb)).max() <= 2
    again = design_from_dict(json.loads(design_json(older)))
    assert again.palette == older.palette
    assert (make(order, sketch(), Palette(older.palette)).design.beads == design.beads).all()


def test_swatches_say_what_they_show(design) -> None:
    styles = BeadStyles(design)
    assert ["on its cord" in styles.words(k) for k in range(4)] == [False, True, True, False]
    assert sheet_html(SheetContent(design)).count("shown on its cord") == len(
        {1, 2} & set(design.beads.tolist())
    )
    bare = replace(design, cord_rgb=None)
    assert "on its cord" not in sheet_html(SheetContent(bare))


def test_what_is_alike_on_the_cord_is_said() -> None:
    near = parse_palette(
        "code,name,colour,finish\nG,glass,#e0e0e0,transparent\nF,fog,#969696,\nW,white,#ffffff,\n"
    )
    alone, on_black = (
        PaletteReport.of(replace(near, cord_rgb=cord)).as_dict() for cord in (None, (0, 0, 0))
    )
    assert alone["hard_to_tell_apart"] == []
    assert [one["beads"] for one in on_black["hard_to_tell_apart"]] == [["G", "F"]]
    # a stock is still counted in the colours of its tubes
    assert [bead["rgb"] for bead in on_black["beads"]] == [bead["rgb"] for bead in alone["beads"]]
