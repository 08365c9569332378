"""A sketch repeated all round: no bead breaks the repeat, and no seam is left."""

from __future__ import annotations

import io
import json
from dataclasses import replace

import numpy as np
import pytest
from click.testing import CliRunner
from drawn import plain_pictures
from himotif.convert.cli import main
from himotif.convert.fit.all_round import Tiling, compose_all_round, steps_mm, tilings
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.read import read_picture
from himotif.convert.report import distort_conversion
from himotif.core.bead import bead_size
from himotif.core.braid import FRONT_DEG, Braid, Lattice
from himotif.core.design import design_from_dict, design_json, read_design
from himotif.core.drawing.shapes import Text
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code
from himotif.core.show.distortion import squared_paper_squares
from himotif.palette import parse_palette
from PIL import Image, ImageDraw
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

pytestmark = pytest.mark.usefixtures("plain_pictures")

BEADS = parse_palette(
    b"code,name,colour\nA,oyster,#f3eee1\nN,navy,#1c2947\nR,reed,#5e7b40\nK,amber,#e09f35\n",
    "beads.csv",
)
OYSTER, NAVY, REED, AMBER = ((243, 238, 225), (28, 41, 71), (94, 123, 64), (224, 159, 53))
ROUNDS = 48
SIDE = 120


def drawn(name, size=(SIDE, SIDE)):
    """A pattern that has no seam of its own, drawn for these tests."""
    image = Image.new("RGB", (SIDE, SIDE), OYSTER)
    pen, half = ImageDraw.Draw(image), SIDE // 2
    if name == "stripes round":
        pen.rectangle((0, 0, SIDE, half - 1), fill=NAVY)
    elif name == "stripes along":
        pen.rectangle((0, 0, half - 1, SIDE), fill=NAVY)
    elif name == "checks":
        pen.rectangle((0, 0, half - 1, half - 1), fill=NAVY)
        pen.rectangle((half, half, SIDE, SIDE), fill=NAVY)
    elif name == "zigzag":
        for up in (-SIDE, 0, SIDE):
            tops = [(0, 90 + up), (half, up), (SIDE, 90 + up)]
            pen.polygon([*tops, *((x, y + half) for x, y in reversed(tops))], fill=NAVY)
    elif name == "wave":
        high = [half + SIDE / 4 * np.sin(2 * np.pi * x / SIDE) for x in range(-2, SIDE + 3)]
        pen.line(list(zip(range(-2, SIDE + 3), high, strict=True)), fill=NAVY, width=4)
    elif name == "dots":
        pen.ellipse((25, 25, 95, 95), fill=NAVY)
    else:
        for x, y in ((0, SIDE), (SIDE, SIDE), (half, half), (0, 0), (SIDE, 0)):
            pen.ellipse((x - half, y - half, x + half, y + half), fill=NAVY)
            pen.ellipse((x - 40, y - 40, x + 40, y + 40), fill=REED)
    out = io.BytesIO()
    image.resize(size).save(out, "PNG")
    return out.getvalue()


def lattice_of(strands, lay="S"):
    return Lattice.computed(Braid(strands, lay), bead_size("8/0"))


def worked(name, strands=8, size=(SIDE, SIDE), **asked):
    return worked_of(Image.open(io.BytesIO(drawn(name, size))), strands, **asked)


def worked_of(image, strands, **asked):
    order = Order(strands=strands, all_round=True, **asked)
    lattice, out = lattice_of(strands, order.lay), io.BytesIO()
    image.save(out, "PNG")
    made = compose_all_round(order, read_picture(out.getvalue()), BEADS, lattice, ROUNDS)
    return lattice, made, made.fitted.beads(ROUNDS, made.motif.choice.ground)


def breaking(lattice, beads, found):
    """How many beads differ from those of the tile beside them and above them.

    A bead's own place is looked for anew among all beads: nothing of the search is used.
    """
    x, z = lattice.x_mm(np.arange(len(beads))), lattice.height_mm(np.arange(len(beads)))
    count = 0
    for right, up in ((found.data["width_mm"], 0.0), (0.0, found.data["height_mm"])):
        away = (x[None] - x[:, None] - right) / lattice.circumference_mm
        away = (away - np.rint(away)) * lattice.circumference_mm
        apart = np.hypot(away, z[None] - z[:, None] - up)
        other = apart.argmin(axis=1)
        there = apart[np.arange(len(beads)), other] < 0.1
        count += int((beads[there] != beads[other[there]]).sum())
        assert there.sum() > len(beads) / 2
    return count


NAMES = ("stripes round", "stripes along", "checks", "zigzag", "dots", "scales")


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize("strands", [8, 12])
def test_no_bead_breaks_the_repeat(name, strands):
    lattice, made, beads = worked(name, strands)
    found = made.findings[0]
    assert found.code is Code.ALL_ROUND
    assert found.data["lean_deg"] == 0.0
    assert breaking(lattice, beads, found) == 0
    shares = np.bincount(beads, minlength=3) / len(beads)
    wanted = np.asarray(Image.open(io.BytesIO(drawn(name))))
    for bead, colour in enumerate((OYSTER, NAVY, REED)):
        assert shares[bead] == pytest.approx((wanted == colour).all(axis=2).mean(), abs=0.13)


@pytest.mark.parametrize("size", [(SIDE, SIDE // 2), (SIDE, SIDE)], ids=["flat", "steep"])
@pytest.mark.parametrize("strands", [8, 12, 16])
def test_a_line_thinner_than_a_bead_is_worked_without_a_gap(strands, size):
    lattice, _, beads = worked("wave", strands, size)
    # a closed line has no end: every bead of it has one before it and one after it
    crossings = np.flatnonzero(beads == 1)
    step, side = np.divmod(crossings[:, None], 2)
    near = 2 * (step + lattice.offsets[:, 0]) + (side ^ lattice.offsets[:, 1])
    inside = ((near >= 0) & (near < len(beads))).all(axis=1)
    assert inside.sum() > 20
    assert (beads[near[inside]] == 1).sum(axis=1).min() >= 2
    assert (beads == 1).mean() < 0.5 + 1e-9


@pytest.mark.parametrize("swing", [0, 8], ids=["bands", "waves"])
@pytest.mark.parametrize("strands", [8, 12, 16])
def test_thin_bands_of_several_colours_stay_closed_and_apart(strands, swing):
    image = Image.new("RGB", (SIDE, SIDE), OYSTER)
    pen, x = ImageDraw.Draw(image), np.arange(-2, SIDE + 3)
    for top, colour in ((20, NAVY), (58, REED), (96, AMBER)):
        y = top + swing * np.sin(2 * np.pi * x / SIDE)
        pen.line(list(zip(x.tolist(), y.tolist(), strict=True)), fill=colour, width=9)
    lattice, made, beads = worked_of(image, strands)
    assert Code.ALL_ROUND_LOST not in [one.code for one in made.findings]
    beside = lattice.neighbours(len(beads))
    found = pieces_of(beads, beside)
    low, high = beside.min(axis=1) < 0, np.arange(len(beads)) > len(beads) / 2
    closed = set()
    for piece in np.unique(found[beads > 0]):
        band = found == piece
        if (band & low).any():
            continue
        # without a closed band nothing leads from one end to the other
        rest = pieces_of(np.where(band, 1, 0), beside)
        assert not np.intersect1d(rest[low & high & ~band], rest[low & ~high & ~band]).size
        closed |= set(beads[band].tolist())
    assert closed == {1, 2, 3}


def pieces_of(beads, beside):
    """Number of the piece of each bead of a braid: beads of one colour, side by side."""
    here = np.repeat(np.arange(len(beads)), beside.shape[1])
    there = beside.ravel()
    same = (there >= 0) & (beads[here] == beads[there])
    links = coo_array((np.ones(same.sum()), (here[same], there[same])), shape=(len(beads),) * 2)
    return connected_components(links, directed=False)[1]


def test_a_colour_for_which_there_is_no_room_is_said_to_be_lost():
    image = Image.new("RGB", (SIDE, SIDE), OYSTER)
    for k in range(12):
        ImageDraw.Draw(image).rectangle((0, 10 * k, SIDE, 10 * k + 7), fill=(NAVY, REED)[k % 2])
    _, made, beads = worked_of(image, 8, width_mm=7.8)
    (said,) = [one for one in made.findings if one.code is Code.ALL_ROUND_LOST]
    lost = {0, 1, 2} - set(beads.tolist())
    assert 0 in lost
    assert {one["code"] for one in said.data["colours"]} == {BEADS.codes[bead] for bead in lost}


def test_rings_are_rings_and_columns_straight():
    lattice, _, beads = worked("stripes round")
    height = lattice.height_mm(np.arange(len(beads)))
    assert all(len(set(beads[height == one].tolist())) == 1 for one in np.unique(height))
    lattice, _, beads = worked("stripes along", strands=16)
    x = np.round(lattice.x_mm(np.arange(len(beads))), 6)
    assert all(len(set(beads[x == one].tolist())) == 1 for one in np.unique(x))


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("strands", [8, 16, 24])
def test_tiles_close(strands, lay):
    lattice = lattice_of(strands, lay)
    found = tilings(lattice, 1.0, None)
    assert len(found) > 30
    for tiling in found[:30]:
        # once round the braid is a whole number of sides, and the area is that of its beads
        times = np.linalg.solve(tiling.sides_mm, [lattice.circumference_mm, 0.0])
        assert np.abs(times - np.rint(times)).max() < 1e-9
        area = abs(np.linalg.det(tiling.sides_mm))
        assert area == pytest.approx(tiling.beads * lattice.cell_area_mm2)
        step, side = np.divmod(np.arange(200), 2)
        for a, b in (tiling.across, tiling.along, (0, 2)):
            assert (tiling.places(step + a, side + b) == tiling.places(step, side)).all()
        assert len(np.unique(tiling.places(step, side), axis=0)) <= tiling.beads


def test_steps_are_those_of_the_lattice():
    lattice = lattice_of(12, "Z")
    crossings = np.arange(60)
    x, z = steps_mm(lattice, np.stack(np.divmod(crossings, 2), axis=-1)).T
    first = lattice.x_mm(0)
    turns = (x + first - lattice.x_mm(crossings)) / lattice.circumference_mm
    assert np.abs(turns - np.rint(turns)).max() < 1e-9
    assert z == pytest.approx(lattice.height_mm(crossings))


def test_the_width_asked_for_is_that_of_a_tile():
    lattice, made, _ = worked("checks", strands=16, width_mm=13.7)
    assert made.findings[0].data["times"] == 2.0
    assert made.findings[0].data["width_mm"] == pytest.approx(lattice.circumference_mm / 2, abs=0.1)


def test_what_is_far_from_any_repeat_is_said_with_the_proportions_to_draw():
    _, made, _ = worked("checks", size=(SIDE, 24), width_mm=15.6)
    first, off = made.findings
    assert off.code is Code.ALL_ROUND_OFF
    wide = 200
    again = worked("checks", size=(wide, wide * off.data["high_percent"] // 100), width_mm=15.6)[1]
    assert [one.code for one in again.findings] == [Code.ALL_ROUND]
    assert again.findings[0].data["stretch"] == pytest.approx(1.0, abs=0.01)
    assert again.findings[0].data["height_mm"] == first.data["height_mm"]


def test_a_stretch_is_that_of_the_sketch():
    lattice = lattice_of(8)
    whole = lattice.face_return()
    tiling = Tiling(lattice, (0, 2), (whole.rounds * 2, 0), 1.0)
    assert tiling.sides_mm[0, 0] == pytest.approx(lattice.circumference_mm)
    assert tiling.beads == whole.rounds * 4


@pytest.fixture(scope="module")
def scales(tmp_path_factory):
    """A pattern and beads as files, and what is the same in every command."""
    folder = tmp_path_factory.mktemp("scales")
    (folder / "scales.png").write_bytes(drawn("scales"))
    rows = "A,oyster,#f3eee1\nN,navy,#1c2947\nR,reed,#5e7b40\nK,amber,#e09f35\n"
    (folder / "beads.csv").write_text(f"code,name,colour\n{rows}")
    return folder, ["--palette", folder / "beads.csv", "--all-round", "--length", "8cm"]


def ran(*words):
    done = CliRunner().invoke(main, [str(word) for word in words])
    assert done.exit_code == 0, done.stderr
    return json.loads(done.stdout)


def test_a_plain_back_and_accents_leave_the_pattern_as_it_is_elsewhere(scales):
    folder, given = scales
    given = ["convert", folder / "scales.png", *given, "--lists-only", "--json", "--out"]
    plans = []
    for name, more in (
        ("whole", ()), ("back", ("--plain-back", 100)), ("accents", ("--scatter", "K=0.3"))
    ):  # fmt: skip
        ran(*given, folder / name, *more)
        plans.append(json.loads((folder / name / "design.json").read_text()))
    whole, back, accents = (np.array(plan["beads"]) for plan in plans)
    codes = [bead["code"] for bead in plans[0]["palette"]]
    ground, amber = codes.index(plans[0]["background"]), codes.index("K")
    lattice = lattice_of(8)
    azimuth = lattice.azimuth_deg(np.arange(len(whole)))
    from_front = np.abs((azimuth - FRONT_DEG + 180) % 360 - 180)
    assert (back[from_front > 131] == ground).all()
    assert (back[from_front < 129] == whole[from_front < 129]).all()
    changed = accents != whole
    assert changed.any()
    assert (accents[changed] == amber).all()
    assert (whole[changed] == ground).all()


def test_several_braids_are_compared_all_round(scales):
    folder, given = scales
    given = ["compare", folder / "scales.png", *given, "--quick", "--json"]
    compared = ran(*given, "--strands", "8,12", "--out", folder / "sheet")
    assert sorted(one["strands"] for one in compared["best_first"]) == [8, 12]
    for one in compared["best_first"]:
        assert one["motifs"] == 1
        assert not any("out of sight" in said for said in one["words"])


def test_squared_paper_repeats_the_pattern_or_has_no_percentage(scales):
    folder, _ = scales
    order = Order(all_round=True, length_mm=80.0)
    made = make(order, read_picture(folder / "scales.png"), BEADS)
    facts = made.design.origin.conversion
    found = made.conversion.composed
    rise_mm = made.design.lattice.rise_mm
    assert facts.repeat_rounds * rise_mm == pytest.approx(
        found.findings[0].data["height_mm"], abs=0.06
    )
    again = design_from_dict(json.loads(design_json(made.design)))
    assert again.origin.conversion == facts
    # its papers have the name of what was drawn
    assert (again.picture.file, again.named) == ("sketch.png", "scales")
    report = made.distortion.report
    paper = made.distortion.panels.squared
    row, column = squared_paper_squares(made.design.lattice, len(paper))
    squares = list(zip(row.tolist(), column.tolist(), strict=True))
    colour = dict(zip(squares, paper.tolist(), strict=True))
    above = [(row + facts.repeat_rounds, column) for row, column in squares]
    assert all(colour.get(one, bead) == bead for one, bead in zip(above, paper, strict=True))
    assert report.squared_paper.motif_kept_percent is not None
    # an older file does not know how the pattern is repeated
    older = replace(made.design.origin, conversion=replace(facts, repeat_rounds=None))
    again = distort_conversion(made.conversion, replace(made.design, origin=older))
    assert again.report.squared_paper is None
    texts = [shape.text for shape in again.page.shapes if isinstance(shape, Text)]
    assert not [text for text in texts if "squared" in text or "squares" in text]
    assert any(text.endswith("circles drawn on the sketch") for text in texts)
    assert Code.SQUARED_PAPER_WORSE not in [one.code for one in again.findings]


@pytest.mark.parametrize(
    "asked", [{"repeat": 2}, {"fit": "face"}, {"rotate_deg": 90.0}, {"gap_rounds": 4.0}]
)
def test_what_goes_for_single_motifs_is_refused(asked):
    with pytest.raises(WrongUsage, match="all round"):
        worked("dots", **asked)


def test_the_command_repeats_a_picture(tmp_path):
    (tmp_path / "beads.csv").write_text(
        "code,name,colour\nA,oyster,#f3eee1\nN,navy,#1c2947\n", encoding="utf-8"
    )
    (tmp_path / "checks.png").write_bytes(drawn("checks"))
    out = tmp_path / "out"
    asked = ["convert", str(tmp_path / "checks.png"), "--palette", str(tmp_path / "beads.csv")]
    asked += ["--out", str(out), "--all-round", "--length", "90mm", "--json"]
    done = CliRunner().invoke(main, asked)
    assert done.exit_code == 0, done.output
    told = json.loads(done.stdout)
    (said,) = (one for one in told["findings"] if one["code"] == "all-round")
    assert said["weight"] != "note"  # so it is among the three remarks that are printed
    assert "seam-round" not in [one["code"] for one in told["findings"]]
    assert CliRunner().invoke(main, ["check", str(out)]).exit_code == 0
    design = read_design(out)
    other = design.palette[1 - design.beads[design.braid.crossing_of(0, 0)]].code
    change = ["change", str(out), "--bead", f"1:1={other}"]
    with plain_pictures():
        first, again = (CliRunner().invoke(main, change).output for _ in range(2))
    assert first.endswith("a pattern all round has no motifs to change alike.\n")
    assert again.endswith("0 beads changed: they had these codes already.\n")
