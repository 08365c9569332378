"""Finishes: what the words of a palette mean, and what they do to previews and to matching."""

from __future__ import annotations

import numpy as np
import pytest
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.read import Picture
from himotif.core._data import load
from himotif.core.bead import Bead, bead_size
from himotif.core.braid import Braid, Lattice
from himotif.core.finish import finish_of, surfaces_of
from himotif.core.show.preview import Look, braid_view
from himotif.palette import nearest, palette_on_cord, parse_palette

LATTICE = Lattice.computed(Braid(8), bead_size("8/0"))
RGB = np.tile(np.array([[150, 60, 70]], np.uint8), (24, 1))


def view(finish: str | None) -> np.ndarray:
    beads = np.zeros(24, np.intp)
    surfaces = surfaces_of([Bead("A", "a", (150, 60, 70), finish=finish)])[beads]
    return braid_view(Look(LATTICE, RGB, None, surfaces), 180.0, 12.0).astype(float)


def test_words_are_found_in_free_text() -> None:
    assert finish_of(None) == finish_of("opaque") == finish_of("silk")
    assert finish_of("Silver-lined, rainbow").rainbow > 0
    assert finish_of("silver lined").lining == finish_of("SILVER-LINED").lining > 0
    assert finish_of("color-lined") == finish_of("colour lined")
    frosted = finish_of("transparent matte")
    assert (frosted.gloss, frosted.clear) == (0.0, finish_of("transparent").clear)
    # a lining hides the cord
    assert finish_of("transparent silver-lined").clear == 0


def test_opaque_is_as_without_a_finish() -> None:
    plain = braid_view(Look(LATTICE, RGB), 180.0, 12.0).astype(float)
    # the same sums in another order: a code at most
    assert np.abs(view("opaque") - plain).max() <= 1


def test_every_finish_looks_different() -> None:
    views = {name: view(name) for name in load("finishes.json")["finishes"]}
    for one in views:
        for other in views:
            if one < other:
                assert np.abs(views[one] - views[other]).max() > 12, (one, other)


def test_matte_has_no_highlight_and_metal_one_of_its_own_colour() -> None:
    # well inside, where no paper is seen
    inside = np.s_[60:-60, 30:-30]
    opaque, matte, metal = (view(name)[inside] for name in ("opaque", "matte", "metallic"))
    assert matte[..., 2].max() < opaque[..., 2].max() - 20
    bright = np.unravel_index(opaque.sum(axis=2).argmax(), opaque.shape[:2])
    # white light takes the colour out of a highlight, metal leaves it
    colour = [pixels[bright].max() - pixels[bright].min() for pixels in (opaque, metal)]
    assert colour[1] > 1.5 * colour[0]


def test_clear_beads_take_the_cord() -> None:
    palette = parse_palette(
        "code,name,colour,finish\nA,foam,#dfe9ea,transparent\nB,oyster,#f3eee1,opaque\n"
        "C,ice,#dfe9ea,silver-lined transparent\n"
    )
    white, black = (palette_on_cord(palette, cord) for cord in ("#ffffff", "#000000"))
    assert white.rgb == pytest.approx(palette.rgb, abs=1)
    # 40 % of the light is left
    assert black.linear[0] == pytest.approx(0.4 * palette.linear[0], rel=0.03)
    assert (black.rgb[1:] == palette.rgb[1:]).all()
    (said,) = black.findings
    assert said.data == {"codes": ["A"], "cord": "#000000", "name": "black"}


def test_metallic_beads_are_matched_darker_than_their_colour() -> None:
    palette = parse_palette("code,name,colour,finish\nM,foil,#b0b4b8,metallic\nO,fog,#b0b4b8,\n")
    metal, opaque = palette.linear
    # a ball mirrors all directions by equal areas: half a bright sky, half a room half as bright
    random = np.random.default_rng(1)
    x, y = random.uniform(-1, 1, (2, 100_000))
    disc = x * x + y * y < 1
    towards = 2 * (1 - x * x - y * y)[disc] - 1
    assert metal == pytest.approx(opaque * np.where(towards > 0, 1, 0.5).mean(), rel=0.01)
    assert (palette.rgb[0] == palette.rgb[1]).all()
    assert palette.lab[0, 0] < palette.lab[1, 0] - 5
    dark = parse_palette("code,name,colour,finish\nM,foil,#b0b4b8,metallic\nK,slate,#8c8f92,\n")
    assert nearest(dark.lab[1:], palette).bead.tolist() == [0]


def test_matching_knows_the_cord() -> None:
    linear = np.full((40, 60, 3), 0.8, np.float32)
    linear[8:32, 10:50] = 0.32
    picture = Picture("grey.png", "", (60, 40), linear, np.ones((40, 60), np.float32), 1.0)
    palette = parse_palette(
        "code,name,colour,finish\nW,white,#e7e7e7,\nG,glass,#e0e0e0,transparent\nK,slate,#6a6a6a,\n"
    )
    used = {}
    for cord in (None, "#000000"):
        made = make(Order(length_mm=60.0, quick=True, cord_colour=cord), picture, palette)
        used[cord] = {made.design.palette[k].code for k in made.design.beads}
    assert "G" not in used[None]
    assert "G" in used["#000000"]
