"""A text in place of a sketch: which way round it stands, its gaps, its folder, what is refused."""

from __future__ import annotations

import json
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import pytest
from click.testing import CliRunner
from drawn import plain_pictures
from himotif.convert.cli import main
from himotif.convert.fit.composed import Composed
from himotif.convert.fit.text import compose_text, letter_beads
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.report.remeasure import distortion_again
from himotif.core.arrays import Ints
from himotif.core.bead import bead_size
from himotif.core.braid import Braid, Lattice
from himotif.core.design import read_design
from himotif.core.drawing.fonts import font_bytes
from himotif.core.drawing.typeface import Typeface
from himotif.core.errors import HimotifError, WrongUsage
from himotif.core.findings import Code, Remedy
from himotif.palette import parse_palette

BEADS = parse_palette(
    b"code,name,colour\nA,oyster,#f3eee1\nN,navy,#1c2947\nR,reed,#5e7b40\n", "beads.csv"
)


ROUNDS = 80


class Worked(NamedTuple):
    """Beads, and what is said; `drawn` are the crossings of the letters."""

    lattice: Lattice
    composed: Composed
    beads: Ints
    drawn: Ints


def worked(text, **asked):
    order = Order(text=text, **asked)
    bead = bead_size("8/0")
    lattice = Lattice.computed(Braid(order.strands, order.lay), bead)
    composed = compose_text(order, BEADS, lattice, bead, ROUNDS)
    ground = composed.motif.choice.ground
    beads = composed.fitted.beads(ROUNDS, ground)
    return Worked(lattice, composed, beads, np.flatnonzero(beads != ground))


def places(made):
    """Right of the front's middle and height of the beads of the letters, mm."""
    return made.lattice.x_mm(made.drawn), made.lattice.height_mm(made.drawn)


def pieces(made):
    """Beads of each letter, by the bare beads between them, the lowest first."""
    height = made.lattice.height_mm(made.drawn)
    breaks = np.flatnonzero(np.diff(height) > 1.55 * made.lattice.rise_mm) + 1
    return np.split(made.drawn, breaks)


def codes(made):
    return {BEADS.codes[bead] for bead in made.beads}


def said(made, code):
    return next((one for one in made.composed.findings if one.code is code), None)


@pytest.fixture(scope="module")
def reed():
    return worked("REED")


# L has its foot below, to the right of its stem; seen from outside, newer beads higher up
@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize(
    ("letters", "to_foot", "to_right"),
    [("below", (0, -1), (1, 0)), ("up", (1, 0), (0, 1)), ("down", (-1, 0), (0, -1))],
)
def test_a_letter_is_the_right_way_round(letters, to_foot, to_right, lay):
    x, z = places(worked("L", strands=12, lay=lay, letters=letters))
    foot = x * to_foot[0] + z * to_foot[1]
    right = x * to_right[0] + z * to_right[1]
    third = np.ptp(foot) / 3
    low, high = right[foot > foot.max() - third], right[foot < foot.min() + third]
    assert low.max() > high.max() + 3.0
    assert abs(low.min() - high.min()) < 3.0


def test_letters_stand_in_their_order():
    up, down = (pieces(worked("IM", strands=12, letters=way)) for way in ("up", "down"))
    assert len(up) == len(down) == 2
    assert len(up[0]) < len(up[1])
    assert len(down[0]) > len(down[1])


def test_whole_beads_lie_between_letters_of_one_height(reed):
    lattice, letters = reed.lattice, pieces(reed)
    assert len(letters) == 4
    ends = [(lattice.height_mm(one).min(), lattice.height_mm(one).max()) for one in letters]
    gaps = [high[0] - low[1] for low, high in pairwise(ends)]
    assert min(gaps) > 1.5 * lattice.rise_mm
    assert max(gaps) < 3.0 * lattice.rise_mm
    neighbours = lattice.neighbours(len(reed.beads))
    for one in letters:
        assert not np.isin(np.setdiff1d(neighbours[one], one), reed.drawn).any()
    heights = [np.ptp(lattice.x_mm(one)) for one in letters]
    assert max(heights) - min(heights) < lattice.diameter_mm
    assert max(heights) <= 2 / 3 * lattice.circumference_mm


def test_the_same_letter_is_in_the_same_beads():
    made = worked("ANNA")
    letters = pieces(made)
    assert len(letters) == 4
    x, z = made.lattice.x_mm(made.drawn), made.lattice.height_mm(made.drawn)
    ends = np.cumsum([len(one) for one in letters])[:-1]
    x, z = ([side - side.mean() for side in np.split(all_, ends)] for all_ in (x, z))
    for one, other in ((0, 3), (1, 2)):
        assert len(letters[one]) == len(letters[other])
        assert np.allclose(np.sort(x[one]), np.sort(x[other]), atol=0.01)
        assert np.allclose(z[one], z[other], atol=0.01)
    # an A keeps its bar: a bare bead that none leads out of
    neighbours = made.lattice.neighbours(len(made.beads))
    inside = {int(bead) for bead in neighbours[letters[0]].ravel()} - set(letters[0].tolist())
    assert any(np.isin(neighbours[bead], letters[0]).all() for bead in inside if bead >= 0)


def test_a_text_comes_once_in_the_middle_of_the_front(reed):
    x, z = places(reed)
    assert abs(x.max() + x.min()) / 2 < 2.0
    assert abs((z.max() + z.min()) / 2 - ROUNDS * reed.lattice.rise_mm / 2) < 4.0
    assert len(reed.composed.fitted.placement.centres) == 1
    assert codes(reed) == {"A", "N"}
    twice = worked("AL", repeat=2)
    assert len(twice.composed.fitted.placement.centres) == 2
    assert len(pieces(twice)) == 4


def test_beads_can_be_asked_for():
    for asked, letters, ground in (
        ({"letter_bead": "A", "background": "R"}, "A", "R"),
        ({"letter_bead": "A"}, "A", "N"),
        ({"background": "N"}, "A", "N"),
        ({"letter_bead": "R"}, "R", "A"),
    ):
        choice = letter_beads(Order(text="A", **asked), BEADS)
        assert BEADS.codes[choice.ground] == ground
        assert {BEADS.codes[bead] for bead in choice.usable} == {letters, ground}


def test_the_width_is_how_high_letters_stand_across():
    small, large = (worked("H", strands=12, width_mm=width) for width in (9.0, 14.0))
    assert np.ptp(places(large)[0]) > np.ptp(places(small)[0]) + 3.0


def test_a_text_is_told_what_it_is(reed):
    found = said(reed, Code.TEXT_WORKED)
    assert found.data["text"] == "REED"
    x, z = places(reed)
    assert found.data["length_mm"] == pytest.approx(np.ptp(z), abs=3.0)
    assert found.data["letter_mm"] == pytest.approx(np.ptp(x), abs=3.0)


def test_a_letter_whose_dots_run_into_it_is_in_doubt():
    # on 12 strands there is no room for dots beside a whole E
    found = said(worked("Ë", strands=12, quick=True), Code.LETTERS_IN_DOUBT)
    assert found.data["letters"] == [{"letter": "Ë", "like": "E"}]


def test_letters_below_each_other_are_named_where_no_braid_helps():
    # on 24 strands, the most there are, the dots of an O run into it
    found = said(worked("Ö", strands=24), Code.LETTERS_IN_DOUBT)
    assert found.remedies == (Remedy("letters", "below"),)


def test_dots_have_beads_of_their_own_where_there_is_room():
    made = worked("Ë", strands=12, letters="below", quick=True)
    assert said(made, Code.LETTERS_IN_DOUBT) is None
    dots = made.drawn[np.argsort(places(made)[1])[-2:]]
    neighbours = made.lattice.neighbours(len(made.beads))
    assert not np.isin(neighbours[dots], made.drawn).any()


def test_a_long_text_has_a_report_that_can_be_written():
    order = Order(text="L" * 16, strands=8, length_mm=230.0)
    found = make(order, None, BEADS).distortion.as_dict()
    assert json.loads(json.dumps(found))["seam"]["round"]["closed"] is False


def test_letters_in_doubt_are_said_with_a_braid_on_which_they_are_not():
    assert said(worked("8"), Code.LETTERS_IN_DOUBT) is None
    tiny = worked("8B", width_mm=7.8)
    found = said(tiny, Code.LETTERS_IN_DOUBT)
    assert {one["letter"] for one in found.data["letters"]} <= set("8B")
    (remedy,) = found.remedies
    again = worked("8B", **({"width_mm": 7.8} | {remedy.field: remedy.value}))
    assert said(again, Code.LETTERS_IN_DOUBT) is None


@pytest.mark.parametrize(
    ("asked", "field"),
    [
        ({"text": "A\u4e2d"}, "text"),
        ({"text": "ABCDEFGHIJKLMNOPQRSTUVWXYZABCDEFGH"}, "text"),
        ({"text": "A", "rotate_deg": 90.0}, "rotate_deg"),
        ({"text": "A", "fit": "face"}, "fit"),
        ({"text": "A", "letter_bead": "N", "background": "N"}, "background"),
        ({"text": "A", "width_mm": 3.0}, "width_mm"),
    ],
)
def test_what_cannot_be_worked_is_refused(asked, field):
    with pytest.raises(WrongUsage) as caught:
        worked(**asked)
    assert field in [part.field for part in caught.value.parts]


def test_a_j_that_hangs_below_the_line_gets_a_hook_on_it():
    shape = Typeface.bundled().glyph("J")
    high, wide = shape.shape
    assert not shape[: high // 2, : wide // 2].any()  # one stem, to the right
    assert shape[: high // 2, wide // 2 :].any(axis=1).all()
    assert shape[high * 3 // 4, : wide // 4].any()  # and a hook that comes up again
    assert shape[-1].any()
    # a capital that stands on the line stays as it is drawn
    assert Typeface.bundled().glyph("U")[0, 0]


def test_a_q_that_hangs_below_the_line_gets_its_tail_on_it():
    tailed, letter_o = (Typeface.bundled().glyph(one) for one in "QO")
    assert tailed.shape == letter_o.shape
    more = tailed & ~letter_o
    high, wide = more.shape
    assert not (letter_o & ~tailed).any()
    assert more[high * 3 // 4 :, wide * 3 // 4 :].any()
    assert not more[: high // 2].any()
    assert not more[:, : wide // 2 - wide // 8].any()


def test_glyphs_are_of_one_height(tmp_path):
    face = Typeface.bundled()
    for one in "AQJ8♥":
        assert face.glyph(one)[0].any()
        assert face.glyph(one)[-1].any()
    dot, dash = face.glyph("."), face.glyph("-")
    assert dot[-1].any()
    assert not dot[: len(dot) // 2].any()
    assert not dash[-1].any()
    assert not dash[0].any()
    file = tmp_path / "own.ttf"
    file.write_bytes(font_bytes(bold=True))
    own = Typeface.read(file)
    assert (own.glyph("R") == face.glyph("R")).all()
    assert not own.holds("\u4e2d")
    file.write_bytes(b"no font")
    with pytest.raises(HimotifError, match="no font"):
        Typeface.read(file)


def test_the_command_works_a_text_and_makes_its_papers_again(tmp_path):
    beads, out = tmp_path / "beads.csv", tmp_path / "out"
    beads.write_text("code,name,colour\nA,oyster,#f3eee1\nN,navy,#1c2947\n", encoding="utf-8")
    run = CliRunner().invoke
    asked = ["--palette", str(beads), "--out", str(out), "--length", "90mm"]
    with plain_pictures():
        done = run(main, ["convert", "--text", "la", *asked, "--json"])
    assert done.exit_code == 0, done.output
    assert {"sketch.png", "sheet.pdf", "distortion.png"} <= {one.name for one in out.iterdir()}
    plain = json.loads((out / "design.json").read_text("utf-8"))
    assert plain["settings"]["text"] == "LA"
    lists = (out / "stringing.txt").read_text("utf-8")
    assert lists.startswith("Stringing lists: LA\n")
    checked = run(main, ["check", str(out)])
    assert checked.exit_code == 0
    # there is none in it
    assert "drop" not in checked.output
    again = distortion_again(read_design(out), out / "sketch.png")
    told = json.loads((out / "distortion.json").read_text("utf-8"))
    assert again.as_dict()["words"] == told["words"]
    for more in ([], ["x.png", "--text", "TIDE"]):
        refused = run(main, ["convert", *more, *asked, "--force"])
        assert refused.exit_code == 2
        assert "either a picture or a text" in refused.output
    refused = run(main, ["convert", "x.png", "--letter-bead", "N", *asked, "--force"])
    assert refused.exit_code == 2
    assert "--letter-bead: A picture has no such thing" in refused.output


def test_a_bead_that_is_not_there_is_refused():
    with pytest.raises(WrongUsage, match="X is not in"):
        make(Order(text="A", letter_bead="X"), None, BEADS)
