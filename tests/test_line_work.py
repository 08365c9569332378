"""Sketches in outlines: their lines alone, or the mass that they enclose."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.convert.fit.inks import bead_labels, choose_inks
from himotif.convert.fit.line_work import other_ways, outlines_as
from himotif.convert.job import make
from himotif.convert.judge.trials import Trials
from himotif.convert.options import Order
from himotif.convert.read import Picture, Sketch, read_picture, read_sketch
from himotif.core.arrays import Ints
from himotif.core.findings import Code
from PIL import Image, ImageDraw
from sketches import FIVE, MOSS, NAVY, OYSTER, RUST, picture

pytestmark = pytest.mark.usefixtures("plain_pictures")

FIXTURES = Path(__file__).parent.parent / "fixtures"
ROOF, WALL = ((20, 120), (120, 20), (220, 120)), (45, 120, 195, 260)
Fill = tuple[int, int, int] | None


def house(line: int, roof: Fill, wall: Fill, colour: tuple[int, int, int] = NAVY) -> Image.Image:
    image = Image.new("RGB", (240, 280), OYSTER)
    drawing = ImageDraw.Draw(image)
    drawing.polygon(ROOF, fill=roof)
    drawing.rectangle(WALL, fill=wall)
    if line:
        drawing.line([*ROOF, ROOF[0]], fill=colour, width=line, joint="curve")
        drawing.rectangle(WALL, outline=colour, width=line)
    return image


def read(image: Image.Image) -> tuple[Sketch, Picture]:
    drawn = picture(np.asarray(image))
    return read_sketch(drawn), drawn


def beads(image: Image.Image, way: str | None = None) -> Ints:
    sketch, drawn = read(image)
    choice = choose_inks(sketch, drawn, FIVE, Order())
    if way is not None:
        sketch = outlines_as(sketch, choice, way)
    return bead_labels(sketch, choice)


def ways(image: Image.Image) -> tuple[str, ...]:
    sketch, drawn = read(image)
    return other_ways(sketch, choose_inks(sketch, drawn, FIVE, Order()))


def test_a_line_drawing_is_filled_as_if_it_had_been_drawn_so():
    lines = house(8, None, None)
    assert ways(lines) == ("mass",)
    filled = beads(lines, "mass")
    assert (filled != beads(house(8, NAVY, NAVY))).mean() < 0.005


def test_what_is_coloured_within_a_line_drawing_keeps_its_colour():
    lines = house(8, RUST, None)
    assert ways(lines) == ("mass",)
    assert (beads(lines, "mass") != beads(house(8, RUST, NAVY))).mean() < 0.005


def test_a_drawing_that_was_coloured_in_has_lines_and_mass():
    drawn = house(8, RUST, MOSS)
    assert ways(drawn) == ("strokes", "mass")
    assert (beads(drawn, "strokes") != beads(house(8, None, None))).mean() < 0.005
    # half of the line goes to either side of it
    mass = beads(drawn, "mass")
    assert set(np.unique(mass)) == set(np.unique(beads(house(0, RUST, MOSS))))
    assert (mass != beads(house(0, RUST, MOSS))).mean() < 0.05


def test_a_shape_filled_in_the_colour_of_the_line_stays():
    drawn = house(8, NAVY, MOSS)
    mass, whole = beads(drawn, "mass"), beads(drawn)
    navy = FIVE.codes.index("N")
    assert ((mass == navy) & (whole == navy)).sum() > 0.6 * (whole == navy).sum()


@pytest.mark.parametrize("name", ["heart", "minnow", "letter_k", "sea_aster", "initials", "curlew"])
def test_other_sketches_have_no_such_ways(name):
    drawn = read_picture(FIXTURES / "motifs" / f"{name}.png")
    sketch = read_sketch(drawn)
    choice = choose_inks(sketch, drawn, FIVE, Order())
    assert other_ways(sketch, choice) == ()
    assert outlines_as(sketch, choice, "mass") is sketch


def test_a_thick_ring_is_no_outline():
    image = Image.new("RGB", (300, 300), OYSTER)
    ImageDraw.Draw(image).ellipse((20, 20, 280, 280), outline=NAVY, width=60)
    assert ways(image) == ()


def test_mass_is_among_the_choices_and_what_comes_of_it_is_what_was_shown(monkeypatch):
    monkeypatch.setattr(Trials, "strands", lambda _: ([], []))
    drawn = picture(np.asarray(house(6, None, None)))
    order = Order(strands=8, length_mm=60.0)
    made = make(order, drawn, FIVE)
    (mass,) = (one for one in made.conversion.choices if one.way == "mass")
    assert mass.changes == {"outlines": "mass"}
    chosen = make(Order(strands=8, length_mm=60.0, choice=mass.number), drawn, FIVE)
    assert chosen.conversion.order.outlines == "mass"
    assert chosen.conversion.judgement.verdict == mass.as_dict()["verdict"]
    drawn_beads = (chosen.design.beads != chosen.design.background).sum()
    assert drawn_beads == mass.as_dict()["beads"] * len(chosen.conversion.placement.centres)


def test_after_an_edit_the_mass_is_measured_again_not_the_lines(tmp_path):
    sketch, out = tmp_path / "house.png", tmp_path / "out"
    house(8, RUST, MOSS).save(sketch)
    palette = FIXTURES / "palettes" / "saltmarsh.csv"
    words = ["convert", sketch, "--palette", palette, "--out", out, "--length", "4cm", "--quick"]
    run = CliRunner().invoke(main, [*map(str, words), "--outlines", "mass"])
    assert run.exit_code == 0, run.stderr
    before = json.loads((out / "distortion.json").read_text())
    assert CliRunner().invoke(main, ["sheet", str(out)]).exit_code == 0
    after = json.loads((out / "distortion.json").read_text())
    assert after["regions"] == before["regions"]
    assert len(before["regions"]) == 3


def test_an_eye_that_goes_as_its_outline_is_filled_is_reported():
    said = {}
    for colour in (None, NAVY, RUST):
        image = house(8, None, None)
        if colour is not None:
            ImageDraw.Draw(image).ellipse((95, 170, 145, 220), fill=colour)
        order = Order(quick=True, outlines="mass")
        made = make(order, read(image)[1], FIVE)
        found = [one.data for one in made.findings if one.code is Code.HIDDEN_BY_FILL]
        said[colour] = [(one["code"], one["parts"]) for one in found]
        assert not any(
            one.code is Code.HIDDEN_BY_FILL
            for one in make(replace(order, outlines=None), read(image)[1], FIVE).findings
        )
    assert said == {None: [], NAVY: [("N", 1)], RUST: []}
