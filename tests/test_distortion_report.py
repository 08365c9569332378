"""The whole report of a converted sketch: its colours, its sentences, its picture."""

from __future__ import annotations

import json
import re
import xml.etree.ElementTree as ElementTree
from dataclasses import asdict, replace
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from converting import converted
from himotif.convert.judge.memory import remember
from himotif.convert.read.picture import Picture, read_picture
from himotif.convert.report.distort import distort, distort_conversion
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.design.accents import scatter
from himotif.core.drawing.fonts import text_width_mm
from himotif.core.drawing.png import to_png
from himotif.core.drawing.shapes import PixelImage, Polygon, Polyline, Text
from himotif.core.drawing.svg import to_svg
from himotif.core.findings import Code, Finding, Remedy, Weight
from himotif.core.paper import distortion_sheet
from himotif.core.paper.distortion_sheet import FAINT
from himotif.core.paper.wording import sentence
from himotif.core.show.distortion_findings import distortion_findings
from himotif.core.show.distortion_report import (
    FarColour,
    Ground,
    OutOfReach,
    WorthBuying,
    rounded,
)
from himotif.core.srgb import srgb_to_linear
from himotif.palette.files import read_palette
from himotif.palette.palette import Palette
from sheet_designs import printed

FIXTURES = Path(__file__).parent.parent / "fixtures"

OYSTER, NAVY, AMBER, RUST = (243, 238, 225), (29, 44, 80), (224, 159, 53), (191, 80, 48)
THREE = Palette(
    (
        Bead("A", "oyster", OYSTER),
        Bead("B", "deep water", NAVY),
        Bead("K", "amber", AMBER),
    )
)


def lattice_of(strands, swatch=None):
    return Lattice.computed(Braid(strands), bead_size("8/0"), swatch)


def drawn(rgb, name="drawn.png"):
    """A picture of sRGB codes, (H, W, 3)."""
    pixels = np.asarray(rgb, dtype=np.uint8)
    high, wide = pixels.shape[:2]
    return Picture(
        name=name,
        sha256="0" * 64,
        size_px=(wide, high),
        linear=srgb_to_linear(pixels),
        alpha=np.ones((high, wide), dtype=np.float32),
        scale=1.0,
    )


def patches(*boxes, size=(300, 240)):
    """Boxes (top, bottom, left, right, colour) on oyster."""
    pixels = np.full((*size, 3), OYSTER, dtype=np.uint8)
    for top, bottom, left, right, colour in boxes:
        pixels[top:bottom, left:right] = colour
    return drawn(pixels)


def reported(picture, palette=THREE, strands=16, swatch=None, **options):
    conversion = converted(picture, palette, lattice_of(strands, swatch), quick=True, **options)
    return distort_conversion(conversion)


def codes(findings):
    return [one.code for one in findings]


def the(findings, code):
    """The one finding of a code."""
    (found,) = (one for one in findings if one.code is code)
    return found


def remedies(findings, code):
    """The remedies of the finding of a code, by field."""
    (found,) = [one for one in findings if one.code is code]
    return {remedy.field: remedy for remedy in found.remedies}


@pytest.fixture(scope="module")
def letter():
    return reported(read_picture(FIXTURES / "motifs" / "letter_f.png"))


@pytest.fixture(scope="module")
def heron():
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    return reported(read_picture(FIXTURES / "motifs" / "heron.png"), palette, strands=8)


# -- the numbers -----------------------------------------------------------------------------------

UNITS = ("_mm", "_mm2", "_beads", "_deg", "_percent", "_de00", "_px")
COUNTS = {
    "schema", "strands", "motif", "of", "crossing", "strand", "order", "beads", "strewn",
    "on_the_braid",
    "pieces_before", "pieces_after", "pieces_lost", "holes_before", "holes_after",
    "de00", "rgb", "largest", "smallest", "across", "along", "ratio",
    "C", "C_far", "S", "F", "J", "times", "taller", "bent",
}  # fmt: skip


def numbers(value, key=""):
    if isinstance(value, dict):
        for name, item in value.items():
            yield from numbers(item, name)
    elif isinstance(value, list):
        for item in value:
            yield from numbers(item, key)
    elif isinstance(value, int | float) and not isinstance(value, bool):
        yield key, value


def test_every_number_names_its_unit_or_is_a_count_or_a_ratio(letter):
    plain = letter.as_dict()
    found = list(numbers(plain))
    assert len(found) > 60
    for key, value in found:
        assert key.endswith(UNITS) or key in COUNTS, key
        assert np.isfinite(value)
    assert plain["schema"] == 1
    assert json.loads(json.dumps(plain, allow_nan=False)) == plain


def test_a_letter_keeps_its_shape_on_sixteen_strands(letter):
    report = letter.report
    (region,) = [r for r in report.regions if not r.is_background]
    assert region.code == "B"
    assert region.kept_percent > 70
    assert (region.pieces_before, region.pieces_after) == (1, 1)
    # strokes are a third of the width of the letter
    assert region.narrowest_mm == pytest.approx(report.motif.width_mm / 3, rel=0.2)
    assert report.edges.p95_beads < 1
    assert report.motif.kept_percent > report.squared_paper.motif_kept_percent
    assert report.stretch.fit.ratio == pytest.approx(1, abs=1e-3)


def test_regions_are_weighed_in_beads():
    picture = patches((60, 240, 60, 180, NAVY))
    report = reported(picture).report
    (navy,) = [r for r in report.regions if not r.is_background]
    braid, motif = report.braid, report.motif
    area_mm2 = motif.width_mm * motif.height_mm  # the picture's margins are no part of it
    assert navy.area_beads == pytest.approx(area_mm2 / braid.bead_area_mm2, rel=0.05)


def test_what_lies_beyond_the_picture_has_the_ground_of_the_picture():
    # a white sheet on oyster beads, the motif at its foot
    pixels = np.full((300, 240, 3), 255, dtype=np.uint8)
    pixels[150:280, 60:180] = NAVY
    picture = reported(drawn(pixels)).panels.picture_rgb
    colours = {tuple(one) for one in picture[:, :3].reshape(-1, 3).tolist()}
    assert colours == {(255, 255, 255)}


def test_a_colour_without_a_bead_is_out_of_reach_and_worth_buying():
    import colour

    picture = patches((60, 240, 60, 180, RUST))
    result = reported(picture)
    report = result.report

    def lab(rgb):
        return colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(rgb) / 255))

    # the outside reference: colour-science's CIEDE2000
    apart = {
        bead.code: float(colour.delta_E(lab(RUST), lab(bead.rgb), method="CIE 2000"))
        for bead in THREE.beads
    }
    nearest = min(apart, key=apart.get)
    (rust,) = [r for r in report.regions if not r.is_background]
    assert rust.code == nearest
    assert rust.de00 == pytest.approx(apart[nearest], abs=0.3)
    colour_numbers = report.colour
    assert colour_numbers.p95_de00 == pytest.approx(apart[nearest], abs=0.3)
    assert colour_numbers.mean_de00 <= colour_numbers.p95_de00
    # the beads whose cells are mostly rust: about as many as rust is large; others may be given
    # to the motif along its edge
    assert colour_numbers.out_of_reach.beads == pytest.approx(rust.area_beads, rel=0.1)
    assert colour_numbers.out_of_reach.beads <= colour_numbers.beads
    assert colour_numbers.out_of_reach.colours[0].best_de00 == pytest.approx(
        apart[nearest], abs=0.3
    )
    bought = colour_numbers.worth_buying
    red, green, blue = bytes.fromhex(bought.sketch[1:])
    assert np.abs(np.array([red, green, blue]) - RUST).max() <= 3
    # a colour of the sketch itself: that it misses the same one is not said a second time
    assert bought.sketch == colour_numbers.out_of_reach.colours[0].sketch
    assert bought.to_de00 == pytest.approx(0, abs=0.1)
    assert Code.COLOUR_OUT_OF_REACH in codes(result.findings)


def test_with_every_colour_at_hand_there_is_nothing_to_buy():
    report = reported(patches((60, 240, 60, 180, NAVY))).report
    assert report.colour.mean_de00 < 0.5
    assert report.colour.worth_buying is None
    assert report.colour.out_of_reach.beads == 0
    worst = report.colour.worst
    assert worst.bead == "B"
    assert worst.sketch.startswith("#")


def test_two_colours_that_become_one_bead_are_named():
    blue = (20, 70, 120)
    result = reported(patches((40, 150, 60, 180, NAVY), (150, 260, 60, 180, blue)))
    report = result.report
    (pair,) = report.colour.merged
    assert pair.bead == "B"
    assert pair.de00 > 8
    assert the(result.findings, Code.COLOURS_MERGED).data["bead"] == "B"


def test_a_picture_of_the_ground_alone_is_reported_as_such():
    result = reported(drawn(np.full((80, 80, 3), OYSTER, dtype=np.uint8)))
    report = result.report
    assert report.visibility is None
    assert report.edges.p95_mm is None
    assert report.motif.kept_percent is None
    assert report.colour.ground.bead == "A"
    assert report.colour.ground.de00 < 0.5
    assert codes(result.findings) == [Code.NOTHING_DRAWN]
    assert to_png(result.page, 2.0).ndim == 3


def test_a_picture_of_nothing_is_reported_as_such():
    nothing = drawn(np.full((80, 60, 3), OYSTER, dtype=np.uint8))
    result = reported(replace(nothing, alpha=np.zeros((80, 60), np.float32)))
    report = result.report
    assert report.motif.kept_percent is None
    assert report.colour.beads == 0
    assert report.colour.mean_de00 is report.colour.ground is None
    assert codes(result.findings) == [Code.NOTHING_DRAWN]
    assert to_png(result.page, 2.0).ndim == 3


def test_the_ground_in_a_far_colour_is_reported():
    import colour

    green = (40, 150, 60)
    result = reported(drawn(np.full((80, 60, 3), green, dtype=np.uint8)))
    report = result.report
    ground = report.colour.ground
    bead = next(bead for bead in THREE.beads if bead.code == ground.bead)
    one, other = (
        colour.XYZ_to_Lab(colour.sRGB_to_XYZ(np.array(rgb) / 255)) for rgb in (green, bead.rgb)
    )
    apart = float(colour.delta_E(one, other, method="CIE 2000"))
    assert ground.de00 == pytest.approx(apart, abs=0.3)
    assert ground.de00 > 10
    assert any("The sketch's ground, #28963c, becomes bead" in said for said in result.words)


SAND, CREAM = (239, 227, 200), (240, 220, 150)


def boat(alpha=True):
    """A cream and a rust sail over a navy hull with a cream window, on nothing or on sand."""
    pixels = np.full((300, 240, 3), SAND, dtype=np.uint8)
    pixels[40:160, 30:110], pixels[40:160, 130:210] = CREAM, RUST
    pixels[180:270, 30:210], pixels[210:240, 100:140] = NAVY, CREAM
    opaque = (pixels != SAND).any(axis=-1) if alpha else np.ones((300, 240))
    return replace(drawn(pixels), alpha=opaque.astype(np.float32))


SAILS = Palette((Bead("W", "sand", SAND), Bead("S", "sail red", RUST), Bead("B", "deep", NAVY)))


@pytest.mark.parametrize("alpha", [True, False])
def test_a_colour_with_the_ground_s_bead_is_reported_and_is_not_the_ground(alpha):
    result = reported(boat(alpha), SAILS, width_mm=14.0, background="W")
    report = result.report
    (lost,) = report.colour.lost_in_ground
    assert (lost.sketch, lost.bead) == ("#f0dc96", "W")
    # a sketch drawn on nothing has no ground; on sand it is the sand and nothing else
    ground = report.colour.ground
    assert ground is None if alpha else ground.sketch == "#efe3c8"
    assert not any("sketch's ground" in said for said in result.words)
    (said,) = [said for said in result.words if "cannot be told from the ground" in said]
    assert "What is #f0dc96 in the sketch gets the ground's bead, sand (W)" in said
    assert not any("both become" in said for said in result.words)
    # it has its row, of which nothing is kept, its edges, and its share in what is kept
    (row,) = [region for region in report.regions if region.lost_in_ground]
    assert (row.sketch, row.code, row.beads, row.kept_percent) == ("#f0dc96", "W", 0, 0)
    assert row.edges.lost_percent == 100
    motif = [region.area_beads for region in report.regions if not region.is_background]
    assert report.motif.kept_percent <= 100 * (1 - row.area_beads / sum(motif)) + 0.1
    texts = [shape.text for shape in result.page.shapes if isinstance(shape, Text)]
    assert sum("#f0dc96, as the ground" in text for text in texts) == 1
    # beside it the colour of the sketch, which no bead has
    assert any(getattr(shape, "fill", None) == CREAM for shape in result.page.shapes)


@pytest.mark.parametrize("alpha", [True, False])
def test_a_shaded_picture_on_nothing_has_no_ground(alpha):
    report = reported(boat(alpha), SAILS, width_mm=14.0, background="W", kind="shaded").report
    assert (report.colour.ground is None) == alpha
    assert report.colour.lost_in_ground == ()


def test_a_window_in_the_colour_of_the_ground_is_not_lost_in_it():
    picture = boat()
    picture.alpha[:170] = 0  # without the sails
    result = reported(picture, SAILS, width_mm=14.0, background="W")
    report = result.report
    assert report.colour.lost_in_ground == ()
    assert Code.LOST_IN_GROUND not in codes(result.findings)


def test_several_colours_with_the_ground_s_bead_are_not_mixed():
    palette = Palette((Bead("A", "x", (220, 120, 70)), Bead("B", "y", (60, 60, 90))))
    result = reported(boat(), palette, width_mm=14.0, background="A")
    report = result.report
    found = {one.sketch for one in report.colour.lost_in_ground}
    assert found == {"#f0dc96", "#bf5030"}
    assert report.colour.ground is None
    assert set(the(result.findings, Code.LOST_IN_GROUND).data["sketch"]) == found


def test_a_colour_that_is_exactly_the_ground_s_bead_needs_another_ground():
    palette = Palette((Bead("W", "cream", CREAM), *SAILS.beads[1:]))
    result = reported(boat(), palette, width_mm=14.0, background="W")
    assert not the(result.findings, Code.LOST_IN_GROUND).data["nearer_helps"]
    assert remedies(result.findings, Code.LOST_IN_GROUND) == {
        "background": Remedy("background", None)
    }


def test_colours_whose_bead_is_nowhere_on_the_braid_do_not_become_it():
    # two violets that would both be violet, if their beads had not been taken out by hand
    boxes = (
        (60, 240, 60, 180, NAVY),
        (20, 40, 20, 60, (130, 90, 170)),
        (20, 40, 180, 220, (75, 45, 110)),
    )
    violet = Palette((*THREE.beads, Bead("V", "lavender", (95, 70, 140))))
    picture = patches(*boxes)
    conversion = converted(picture, violet, lattice_of(8), quick=True)
    beads = np.where(conversion.design.beads == 3, 0, conversion.design.beads)
    report = distort_conversion(conversion, replace(conversion.design, beads=beads)).report
    bare = {row.code for row in report.regions if row.code == "V" and not row.beads}
    assert bare == {"V"}
    assert report.colour.merged == ()


def test_the_ground_of_a_shaded_picture_is_spoken_of_as_a_mean(letter):
    ground = Ground("#808080", "A", 25.0)
    colour = replace(letter.report.colour, ground=ground)
    for kind in ("flat", "shaded"):
        report = replace(letter.report, sketch=kind, colour=colour)
        found = the(distortion_findings(report, lattice_of(16)), Code.GROUND_OFF)
        assert (found.data["sketch"], found.data["kind"]) == ("#808080", kind)


def test_ground_between_thin_strokes_is_not_taken_for_strokes():
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    picture = read_picture(FIXTURES / "motifs" / "heron_line.png")
    for strands in (8, 16):
        result = reported(picture, palette, strands, repeat="once")
        report = result.report
        assert report.colour.merged == ()
        assert Code.COLOURS_MERGED not in codes(result.findings)
        assert {region.code for region in report.regions} == {"A", "B"}
        assert report.colour.ground.sketch == "#f4efe2"


def test_a_colour_given_another_bead_than_the_nearest_is_followed():
    picture = patches((60, 240, 60, 180, NAVY))
    conversion = converted(picture, THREE, lattice_of(16), quick=True)
    design = conversion.design
    amber = replace(design, beads=np.where(design.beads == 1, 2, design.beads))
    facts = remember(conversion)
    became = tuple(replace(one, bead="K") if one.bead == "B" else one for one in facts.colours)
    kept = replace(facts, colours=became)
    report = distort(amber, conversion.placement, conversion.sketch, kept).report
    assert {region.code for region in report.regions} == {"A", "K"}
    before = distort_conversion(conversion).report
    assert report.motif.kept_percent == before.motif.kept_percent


def test_strewn_accents_are_no_errors():
    picture = patches((60, 240, 60, 180, NAVY))
    conversion = converted(picture, THREE, lattice_of(24), quick=True)
    design = conversion.design
    scattered = scatter(design, {"K": 0.2})
    strewn, accents = scattered.design, scattered.crossings
    assert (strewn.beads != design.beads).sum() == len(accents["K"]) > 5

    def measured(design, accents):
        facts = remember(conversion, accents)
        report = distort(design, conversion.placement, conversion.sketch, facts).report
        # accents take places of the ground
        regions = [
            replace(region, scattered=0, **({"beads": 0} if region.is_background else {}))
            for region in report.regions
        ]
        parts = {"motif": report.motif, "edges": report.edges, "colour": report.colour}
        return rounded({name: asdict(part) for name, part in parts.items()}) | {
            "regions": rounded([asdict(region) for region in regions])
        }

    assert measured(strewn, accents) == measured(design, {})
    before, after = (measured(one, {})["colour"]["mean_de00"] for one in (design, strewn))
    assert after > before
    # an accent that was changed by hand is none any more
    edited = strewn.beads.copy()
    edited[list(accents["K"])] = 1
    edited = replace(strewn, beads=edited)
    assert measured(edited, accents) == measured(edited, {})
    # accents of a colour of the motif are distinguished from the motif
    scattered = scatter(design, {"B": 0.2})
    strewn, accents = scattered.design, scattered.crossings
    assert measured(strewn, accents) == measured(design, {})


def test_every_bead_that_was_strung_has_its_row():
    picture = patches((60, 240, 60, 180, NAVY))
    palette = Palette((*THREE.beads, Bead("M", "rust", RUST), Bead("E", "eel", (60, 60, 60))))
    conversion = converted(picture, palette, lattice_of(16), quick=True)
    scattered = scatter(conversion.design, {"K": 0.2})
    design, facts = scattered.design, remember(conversion, scattered.crossings)
    beads = design.beads.copy()
    height = design.lattice.height_mm(np.arange(len(beads)))
    sketch = conversion.sketch
    measured = distort(design, conversion.placement, sketch, facts).report.measured
    inside = (height >= measured.bottom_mm) & (height < measured.top_mm)
    beads[np.flatnonzero(inside & (beads == 0))[0]] = 3  # a rust bead beside the motif
    beads[np.flatnonzero(~inside & (beads == 0))[0]] = 4  # and an eel bead elsewhere
    result = distort(replace(design, beads=beads), conversion.placement, sketch, facts)
    regions, others = result.report.regions, result.report.not_in_sketch
    rows = {row.code: (row.beads, row.scattered) for row in (*regions, *others)}
    strung = np.bincount(beads[inside], minlength=5)
    assert {row.code for row in regions} == {"A", "B"}
    assert rows["K"] == (0, strung[2])
    assert strung[2] > 2
    assert (rows["M"], rows["E"]) == ((1, 0), (0, 0))
    assert {code: sum(row) for code, row in rows.items()} == dict(
        zip("ABKME", strung.tolist(), strict=True)
    )
    texts = [shape.text for shape in result.page.shapes if isinstance(shape, Text)]
    for row in ("oyster (A)", "deep water (B)", "amber (K)", "rust (M)", "eel (E)"):
        assert row in texts
    assert f"0 + {strung[2]}" in texts
    assert any("scattered" in text for text in texts)
    assert any("Elsewhere on the braid: 1 eel (E)" in text.replace("\xa0", " ") for text in texts)


def test_a_bead_changed_by_hand_is_found():
    picture = patches((60, 240, 60, 180, NAVY))
    conversion = converted(picture, THREE, lattice_of(16), quick=True)
    before = distort_conversion(conversion).report
    piece = before.measured
    design = conversion.design
    height = design.lattice.height_mm(np.arange(len(design.beads)))
    inside = (height >= piece.bottom_mm) & (height < piece.top_mm) & (design.beads == 1)
    edited = design.beads.copy()
    crossing = int(np.flatnonzero(inside)[len(np.flatnonzero(inside)) // 2])
    edited[crossing] = 2  # one amber bead in the navy
    changed = replace(design, beads=edited)
    after = distort_conversion(conversion, changed).report
    assert after.motif.kept_percent < before.motif.kept_percent
    worst = after.colour.worst
    assert worst.bead == "K"
    assert worst.crossing == crossing + 1
    moves = list(design.braid.work(crossing + 1))
    assert worst.strand == moves[-1].strand + 1
    assert worst.order == sum(move.strand == moves[-1].strand for move in moves)


def test_seams_of_a_picture_that_goes_round():
    lattice = lattice_of(16)
    rings = np.repeat(np.array([OYSTER, NAVY, AMBER, NAVY], dtype=np.uint8), 40, axis=0)
    picture = drawn(np.repeat(rings[:, None], 400, axis=1))
    result = reported(picture, width_mm=lattice.circumference_mm, background="A")
    report = result.report
    assert report.seam.round.gap_mm == pytest.approx(0, abs=0.05)
    assert report.seam.round.differ_percent == 0
    halves = np.full((160, 400, 3), AMBER, dtype=np.uint8)
    halves[:, 200:] = NAVY
    result = reported(drawn(halves), width_mm=lattice.circumference_mm, background="A")
    report = result.report
    share = report.motif.height_mm / report.seam.round.length_mm
    assert report.seam.round.differ_percent == pytest.approx(100 * share, abs=3)
    assert Code.SEAM_ROUND in codes(result.findings)


def teeth(times, size=(100, 400)):
    """A row of teeth, each rising to its right side, on ground above and below."""
    down, right = np.mgrid[: size[0], : size[1]]
    part = (right * times / size[1]) % 1.0
    pixels = np.full((*size, 3), OYSTER, dtype=np.uint8)
    pixels[(down >= 80 - 60 * part) & (down < 80)] = NAVY
    return pixels


def test_a_pattern_closes_round_the_braid_where_its_repeats_meet():
    round_mm = lattice_of(16).circumference_mm

    def measured(pixels, **options):
        result = reported(drawn(pixels), width_mm=round_mm, background="A", **options)
        report = result.report
        return report.seam, " ".join(result.words)

    seam, words = measured(teeth(4), gap_rounds=0.0)
    assert seam.round.closed
    assert seam.round.differ_percent > 10
    assert seam.round.times == 4
    assert "closes round the braid" not in words
    # what goes once round is not out of sight, and no turn along the braid mends that
    assert "out of sight" not in words
    # three teeth and a half are no pattern where they close, nor is a single one
    for broken in (3.5, 1):
        seam, words = measured(teeth(broken), gap_rounds=0.0)
        assert seam.round.times == 1
        assert "closes round the braid" in words


def test_a_pattern_along_the_braid_goes_on_where_the_next_motif_begins():
    round_mm = lattice_of(16).circumference_mm

    def measured(pixels):
        width_mm = (period_mm - 0.02) * pixels.shape[1] / pixels.shape[0]
        options = {"width_mm": width_mm, "background": "A", "gap_rounds": 0.0}
        result = reported(drawn(pixels), pin=("stretch", "turn"), **options)
        report = result.report
        return report.seam.repeat, " ".join(result.words)

    # as high as the way to the next motif is long, and a trifle less
    lattice = lattice_of(16)
    period_mm = lattice.face_return(2).rounds * lattice.rise_mm
    high, wide = 480, int(480 * round_mm / 2 / period_mm) + 1
    bands = np.full((high, wide, 3), AMBER, dtype=np.uint8)
    bands[(np.arange(high) // 60) % 2 == 0] = NAVY
    seam, words = measured(bands)
    assert seam.gap_mm < 0.5
    assert seam.differ_percent > 40
    assert seam.times == 4
    assert "where one motif ends" not in words.lower()
    bands[:240] = AMBER
    bands[:120] = NAVY
    seam, words = measured(bands)
    assert seam.times == 1
    assert "where one motif ends" in words.lower()


def test_a_face_fit_is_drawn_out_towards_its_sides():
    picture = patches((20, 280, 10, 230, NAVY))
    report = reported(picture, fit="face", width_mm=8.5, pin=("stretch",)).report
    fit = report.stretch.fit
    assert fit.smallest == pytest.approx(1, abs=0.01)
    assert fit.largest > 1.2
    assert fit.slant_deg == pytest.approx(0, abs=0.5)


# -- the findings ---------------------------------------------------------------------------------


def test_at_most_five_sentences_each_with_a_remedy(letter, heron):
    for result in (letter, heron):
        assert 1 <= len(result.words) <= 5
        for said in result.words:
            assert said.endswith(".")
            assert len(re.findall(r"[.!?](?:\s|$)", said)) == 1, said
            assert len(said) < 260


def test_the_worst_comes_first(heron):
    # on eight strands the heron's small parts cannot show
    first, *_, last = heron.findings
    assert first.weight in (Weight.READS, Weight.MISSING, Weight.CHANGE)
    assert last.code is Code.SQUARED_PAPER_WORSE


def test_how_wide_a_lost_colour_ought_to_be_drawn_is_reported():
    # a stem of 2.4 mm on 8 strands
    lattice = lattice_of(8)
    report = reported(patches((30, 270, 95, 145, NAVY)), strands=8).report
    region = reed(report, beads=0, narrowest_mm=2.4, pieces_before=1, pieces_after=0, pieces_lost=1)
    findings = distortion_findings(replace(report, regions=(region,)), lattice)
    gone = findings[0]
    assert (gone.code, gone.data["beads"]) == (Code.COLOURS_GONE, [{"code": "H", "name": "reed"}])
    # a bead and a fifth: 1.2 · 3.08 mm
    assert gone.data["draw"]["needed_mm"] == pytest.approx(3.7, abs=0.05)
    # no remedy is named that was not carried out
    assert gone.remedies == ()


def reed(report, **numbers):
    """A colour of the sketch of three beads, otherwise as the first of a report."""
    plain = {"is_background": False, "lost_in_ground": False, "area_beads": 3.0}
    plain |= {"kept_percent": 40.0, "holes_before": 0, "holes_after": 0}
    return replace(report.regions[0], code="H", name="reed", **plain, **numbers)


@pytest.mark.parametrize(
    ("before", "lost", "after", "code"),
    [
        (1, 0, 2, Code.BREAKS),
        (2, 1, 2, Code.BREAKS),
        (5, 2, 4, Code.BREAKS),
        (5, 2, 1, Code.RUN_TOGETHER),
        (3, 0, 2, Code.RUN_TOGETHER),
    ],
)
def test_the_pieces_in_the_finding_are_those_of_the_table(letter, before, lost, after, code):
    pieces = {"pieces_before": before, "pieces_after": after, "pieces_lost": lost}
    region = reed(letter.report, beads=3, narrowest_mm=0.9, **pieces)
    lost_reported = (Finding(Code.LOST_PART, {"name": "reed"}),) * lost
    report = replace(letter.report, regions=(region,), lost=lost_reported)
    found = the(distortion_findings(report, letter.panels.lattice), code)
    pieces = {"before": before, "left": before - lost, "after": after}
    assert {name: found.data[name] for name in pieces} == pieces


def test_nobody_is_asked_to_draw_the_letters_of_a_text_otherwise(letter):
    pieces = {"pieces_before": 5, "pieces_after": 3, "pieces_lost": 1}
    region = reed(letter.report, beads=3, narrowest_mm=0.9, **pieces)
    edges = replace(letter.report.edges, lost_percent=60.0, p95_mm=3.0, p95_beads=1.0)
    report = replace(letter.report, regions=(region,), edges=edges, lost=())
    for lettered in (False, True):
        said = replace(report, lettered=lettered)
        words = [sentence(one) for one in distortion_findings(said, letter.panels.lattice)]
        asked = [one for one in words if re.search(r": (draw|leave) ", one)]
        assert bool(asked) is not lettered, words


@pytest.mark.parametrize("kind", ["flat", "shaded"])
def test_a_large_share_of_lost_edges_is_reported(letter, kind):
    def found(lost_percent):
        edges = replace(letter.report.edges, lost_percent=lost_percent, p95_mm=0.5, p95_beads=0.2)
        report = replace(letter.report, sketch=kind, regions=(), edges=edges)
        return distortion_findings(report, letter.panels.lattice)

    first = found(87.0)[0]
    assert first.code is Code.EDGES_LOST
    assert first.data == {"lost_percent": 87.0, "kind": kind}
    assert first.remedies == ()
    assert not {Code.SHAPE_KEPT, Code.TONES_KEPT} & set(codes(found(87.0)))
    assert Code.EDGES_LOST not in codes(found(3.0))
    # fewer are not passed over where the shape is praised
    if kind == "flat":
        assert the(found(20.0), Code.SHAPE_KEPT).data["lost_percent"] == 20.0


def test_out_of_sight_is_the_place_s_fault_where_the_width_is_not():
    broad = patches((10, 290, 2, 238, NAVY))
    half = lattice_of(8).circumference_mm / 2

    def measured(width_mm=half, **options):
        wide = {"width_mm": width_mm, "repeat": "once", "pin": ("stretch",)}
        result = reported(broad, strands=8, **{**wide, **options})
        report = result.report
        found = [one for one in result.findings if one.code is Code.OUT_OF_SIGHT]
        return report, found[0] if found else None

    assert measured()[1] is None
    report, found = measured(width_mm=1.4 * half)
    assert found.remedies == ()
    assert "beside_deg" not in found.data
    # with a measured drift that walks off with the motifs, two lie on both sides of the front
    report, found = measured(swatch=Swatch(drift_deg=48.0), repeat=2)
    measured = report.measured
    assert abs(measured.walk_deg) > 10
    assert measured.from_front_deg == pytest.approx(-measured.walk_deg / 2, abs=0.1)
    assert found.data["walk_deg"] == pytest.approx(measured.walk_deg)
    assert found.remedies == (Remedy("repeat", "once"),)


@pytest.mark.parametrize("turned_deg", [-4.0, 0.0, 4.0])
@pytest.mark.parametrize("asked_deg", [0.0, 10.0, 90.0])
def test_a_slight_turn_that_was_found_makes_no_motif_larger(asked_deg, turned_deg):
    picture = patches((60, 240, 60, 180, NAVY))
    conversion = converted(
        picture, THREE, lattice_of(16), quick=True, width_mm=12.0, rotate_deg=asked_deg
    )
    turned = replace(conversion.placement, rotate_deg=asked_deg + turned_deg)
    result = distort(conversion.design, turned, conversion.sketch, remember(conversion))
    motif = result.report.motif
    assert motif.width_mm == pytest.approx(12.0)
    assert motif.height_mm == pytest.approx(conversion.placement.height_mm, abs=1e-3)
    assert motif.rotate_deg == asked_deg + turned_deg
    texts = " ".join(shape.text for shape in result.page.shapes if isinstance(shape, Text))
    assert f"12.0 × {conversion.placement.height_mm:.1f} mm" in texts


def test_squared_paper_is_spoken_of_where_it_is_worse(letter):
    def measured(kept):
        squared = replace(letter.report.squared_paper, motif_kept_percent=kept)
        report = replace(letter.report, squared_paper=squared)
        return codes(distortion_findings(report, lattice_of(16)))

    ours = letter.report.motif.kept_percent
    assert measured(ours - 5)[-1] is Code.SQUARED_PAPER_WORSE
    for kept in (ours, ours + 5, None):
        assert Code.SQUARED_PAPER_WORSE not in measured(kept)


@pytest.mark.parametrize("kind", ["flat", "shaded"])
def test_large_colour_differences_are_never_nothing_to_mend(letter, kind):
    edges = replace(letter.report.edges, p95_mm=0.5, p95_beads=0.2)
    colour = replace(letter.report.colour, mean_de00=25.0)
    report = replace(letter.report, sketch=kind, edges=edges, colour=colour)
    found = distortion_findings(report, lattice_of(16))
    assert not {Code.SHAPE_KEPT, Code.TONES_KEPT} & set(codes(found))
    assert the(found, Code.COLOURS_OFF).data["mean_de00"] == 25.0


def test_nothing_to_mend_is_said_when_there_is_nothing(letter):
    regions = tuple(
        replace(
            region,
            pieces_after=region.pieces_before,
            pieces_lost=0,
            holes_after=region.holes_before,
        )
        for region in letter.report.regions
    )
    edges = replace(letter.report.edges, p95_mm=0.5, p95_beads=0.2)
    report = replace(letter.report, edges=edges, regions=regions)
    found = distortion_findings(report, lattice_of(16))
    assert codes(found) == [Code.SHAPE_KEPT, Code.SQUARED_PAPER_WORSE]


# -- the picture -----------------------------------------------------------------------------------


@pytest.mark.parametrize("unit", ["cm", "in"])
@pytest.mark.parametrize("taller", [1.0, 1.3], ids=["one row", "two rows"])
def test_nothing_is_drawn_upon_captions(letter, heron, taller, unit):
    for made in (letter, heron):
        report = replace(made.report, stretch=replace(made.report.stretch, taller=taller))
        panels = replace(made.panels, design=printed(made.panels.design, unit=unit))
        page = distortion_sheet.distortion_page(panels, report, made.words)
        captions = [
            shape for shape in page.shapes if isinstance(shape, Text) and shape.fill == FAINT
        ]
        boxes = [box for shape in page.shapes if (box := box_of(shape))]
        assert len(captions) > 5
        assert len(boxes) > 5
        for text in captions:
            left, right = text.x, text.x + text_width_mm(text.text, text.size_mm)
            top, bottom = text.y - 0.7 * text.size_mm, text.y + 0.25 * text.size_mm
            for x0, y0, x1, y1 in boxes:
                beside = x1 < left or x0 > right
                assert beside or y1 < top or y0 > bottom + 1.0, text.text


def box_of(shape):
    """Left, top, right and bottom of what is drawn."""
    if isinstance(shape, PixelImage):
        return shape.x, shape.y, shape.x + shape.width_mm, shape.y + shape.height_mm
    if not isinstance(shape, Polygon | Polyline):
        return None
    points = np.array(shape.points)
    return (*points.min(axis=0), *points.max(axis=0))


def test_the_page_is_well_formed_and_holds_its_panels(heron):
    page = heron.page
    texts = [shape.text for shape in page.shapes if isinstance(shape, Text)]
    for title in (
        "Sketch as placed",
        "Beads as they will lie",
        "How far edges move",
        "Where it is bent",
        "From the front",
        "On squared paper",
    ):
        assert any(title in text for text in texts), title
    assert any("mm on the braid" in text for text in texts)
    kept = heron.report.motif.kept_percent
    assert f"({kept:.0f} % as designed)." in " ".join(texts)  # the longest caption, to its end
    for said in heron.words:
        assert any(text and said.startswith(text.replace("\xa0", " ")) for text in texts)
    for shape in page.shapes:
        if isinstance(shape, Text):
            assert 0 < shape.x < page.width_mm
            assert 0 < shape.y < page.height_mm
    svg = to_svg(page)
    root = ElementTree.fromstring(svg)
    assert root.tag.endswith("svg")
    pixels = to_png(page, 3.0)
    assert pixels.shape[:2] == (round(page.height_mm * 3), round(page.width_mm * 3))
    assert pixels[:3].min() == 255  # a clear margin


@pytest.mark.parametrize("stretch", [1.0, 1.5, 0.6])
def test_a_stretched_sketch_is_drawn_beside_as_it_was_drawn(stretch):
    picture = patches((100, 200, 60, 180, NAVY))
    page = reported(picture, stretch=stretch, width_mm=12.0).page
    titles = [s.text for s in page.shapes if isinstance(s, Text) and "Sketch as" in s.text]
    # no title runs into the next one
    heads = [s for s in page.shapes if isinstance(s, Text) and re.match(r"\d  ", s.text)]
    assert len(heads) == 6 + (stretch != 1.0)
    for one, other in pairwise(heads):
        end = one.x + text_width_mm(one.text, one.size_mm, bold=True)
        assert other.y != one.y or end < other.x - 1.0
    first, second, *_ = (s for s in page.shapes if isinstance(s, PixelImage))
    if stretch == 1.0:
        assert titles == ["1  Sketch as placed"]
        return
    assert titles == ["1  Sketch as drawn", "2  Sketch as placed"]
    assert (first.rgb == second.rgb).all()
    taller = (second.height_mm / second.width_mm) / (first.height_mm / first.width_mm)
    assert taller == pytest.approx(stretch)
    assert first.width_mm <= second.width_mm
    assert first.height_mm <= second.height_mm
    said = " ".join(s.text for s in page.shapes if isinstance(s, Text))
    assert f"{stretch:g} times as tall as drawn." in said


def test_the_page_says_what_was_measured(heron):
    swatch = Swatch(thickness_mm=13.0, rise_mm=2.5, drift_deg=22.0)
    worked = reported(patches((120, 180, 90, 150, NAVY)), swatch=swatch, repeat="fill")
    for page, origin in (
        (heron.page, "thickness, rise, drift computed"),
        (worked.page, "thickness, rise, drift measured on a swatch"),
    ):
        (line,) = (s for s in page.shapes if isinstance(s, Text) and "mm thick" in s.text)
        assert line.text.endswith(f"({origin}).")
        assert line.x + text_width_mm(line.text, line.size_mm) < page.width_mm - 5
    assert "Braid 13.0 mm thick" in line.text


def test_the_outline_wears_the_colours_of_its_shift(heron):
    drawn_steps = {shape.stroke for shape in heron.page.shapes if isinstance(shape, Polyline)} & {
        step.colour for step in distortion_sheet.STEPS
    }
    assert len(drawn_steps) == len(distortion_sheet.STEPS)  # all of them stand in the legend


@pytest.mark.parametrize("deficiency", ["Protanomaly", "Deuteranomaly", "Tritanomaly", None])
def test_the_scale_can_be_told_apart_by_colour_blind_people_and_in_grey(deficiency):
    # Machado, Oliveira, Fernandes 2009, full severity, through colour-science; None: print in grey
    import colour

    rgb = np.array([step.colour for step in distortion_sheet.STEPS]) / 255
    linear = colour.cctf_decoding(rgb, function="sRGB")
    if deficiency is None:
        grey = linear @ np.array([0.2126, 0.7152, 0.0722])
        linear = np.repeat(grey[:, None], 3, axis=1)
    else:
        matrix = colour.matrix_cvd_Machado2009(deficiency, 1.0)
        linear = np.clip(linear @ np.asarray(matrix).T, 0, 1)
    seen = colour.cctf_encoding(linear, function="sRGB")
    lab = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(seen))
    steps = -np.diff(lab[:, 0])
    assert (steps > 15).all(), lab[:, 0]  # each darker than the one before
    apart = colour.delta_E(lab[:-1], lab[1:], method="CIE 2000")
    assert (apart > 14).all(), apart


def test_the_scale_is_reported_by_width_too():
    widths = [step.width_mm for step in distortion_sheet.STEPS]
    assert all(wider > thinner * 1.25 for thinner, wider in pairwise(widths))


def test_the_remedy_for_a_colour_is_a_bead_of_that_colour(letter):
    far = FarColour("#eec03f", 2, 14.0)
    colour = replace(
        letter.report.colour,
        ground=None,
        out_of_reach=OutOfReach(10.0, 2, (far,)),
        worth_buying=WorthBuying("#2f6195", 4, 9.0, 0.0),
    )

    def said(colour):
        report = replace(letter.report, colour=colour)
        return the(distortion_findings(report, lattice_of(16)), Code.COLOUR_OUT_OF_REACH).data

    # another bead may help more, but not that colour
    assert said(colour) == {
        "sketch": "#eec03f", "de00": 14.0, "beads": 2, "helps": "#2f6195", "helps_beads": 4,
    }  # fmt: skip
    same = replace(colour, worth_buying=WorthBuying("#eec03f", 2, 14.0, 0.0))
    assert said(same) == {"sketch": "#eec03f", "de00": 14.0, "beads": 2}
