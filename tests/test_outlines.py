"""Dark lines round coloured shapes, as in printed cartoons: far thinner than a bead."""

from __future__ import annotations

import numpy as np
import pytest
from converting import converted
from himotif.convert.fit.outlines import find_outlines
from himotif.convert.read.picture import Picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code
from sketches import FIVE, MOSS, NAVY, OYSTER, RUST, dinghy, picture, tulip

EIGHT = bead_size("8/0")
GROUND, SHAPE, LINE = 0, 1, 2
PX = 24.0
"""Pixels per bead pitch."""


def ring_round(radius: float, line: float, inside: int = SHAPE, away: float = 0.0) -> np.ndarray:
    """A disc with a line round it, in pitches, `away` from the disc."""
    row, column = np.indices((240, 240)) / PX - 5.0
    far = np.hypot(row, column)
    labels = np.where(far < radius, inside, GROUND)
    labels[(far >= radius + away) & (far < radius + away + line)] = LINE
    return labels


def test_a_thin_line_between_a_shape_and_the_ground_is_an_outline() -> None:
    labels = ring_round(2.5, 0.2)
    outline, without = find_outlines(labels, GROUND, PX)
    assert (outline == (labels == LINE)).mean() > 0.995
    assert not (without == LINE).any()
    # half of it goes to either side
    grown = (without == SHAPE).sum() - (labels == SHAPE).sum()
    assert grown == pytest.approx((labels == LINE).sum() / 2, rel=0.15)


@pytest.mark.parametrize(
    "labels",
    [
        ring_round(2.5, 0.5),  # beads can follow it
        ring_round(2.5, 0.2, GROUND),  # a drawing in lines: nothing but the line shows the shape
        ring_round(1.5, 0.2, away=1.5),  # a line by itself on the ground
        ring_round(1.5, 0.2, away=0.2),  # near a shape, with ground on both sides
    ],
)
def test_lines_that_show_by_themselves_stay(labels: np.ndarray) -> None:
    outline, without = find_outlines(labels, GROUND, PX)
    assert not outline.any()
    assert (without == labels).all()


def test_a_vein_of_a_leaf_is_no_outline() -> None:
    row, column = np.indices((300, 240)) / PX
    labels = np.where(np.abs(column - 5) + 0.5 * np.abs(row - 6) < 2.8, SHAPE, GROUND)
    labels[(np.abs(column - 5) < 0.1) & (labels == SHAPE)] = LINE
    assert not find_outlines(labels, GROUND, PX)[0].any()


def outlined_flower(line: float) -> Picture:
    """Petals in rust, a stem in moss, all with lines in navy; `line` in parts of the picture."""
    high, wide = 700, 560
    row, column = np.indices((high, wide)) / wide - 0.5
    rgb = np.full((high, wide, 3), OYSTER)
    for outside, colour in (
        (np.maximum(np.abs(column) - 0.1, np.abs(row - 0.4) - 0.33), MOSS),
        (np.hypot(row + 0.1, column) - 0.36, RUST),
    ):
        rgb[outside < 0] = NAVY
        rgb[outside < -line] = colour
    return picture(rgb)


@pytest.mark.parametrize("strands", [12, 16, 24])
def test_no_beads_of_a_thin_outline_lie_along_the_shapes(strands: int) -> None:
    lattice = Lattice.computed(Braid(strands), EIGHT)
    made = converted(outlined_flower(0.015), FIVE, lattice, repeat="once")
    used = {FIVE.codes[bead] for bead in np.unique(made.design.beads)}
    assert used == {"O", "R", "G"}
    (outlines,) = (one for one in made.findings if one.code is Code.OUTLINES_LEFT_OUT)
    assert outlines.data["names"] == ["navy"]
    # as thick as a bead it is drawn
    # the flower fills 0.72 of the picture
    thick = 1.1 * 0.72 * lattice.pitch_mm / (lattice.circumference_mm / 2)
    broad = converted(outlined_flower(thick), FIVE, lattice, repeat="once")
    assert "N" in {FIVE.codes[bead] for bead in np.unique(broad.design.beads)}
    assert Code.OUTLINES_LEFT_OUT not in [one.code for one in broad.findings]


def test_the_report_measures_the_shapes_without_their_outlines() -> None:
    from himotif.convert.report.distort import distort_conversion

    sketch = outlined_flower(0.015)
    lattice = Lattice.computed(Braid(16), EIGHT)
    made = converted(sketch, FIVE, lattice, repeat="once")
    distortion = distort_conversion(made)
    assert {region.code for region in distortion.report.regions} == {"O", "R", "G"}
    assert distortion.report.edges.lost_percent < 25


def test_a_mast_that_is_worked_is_neither_an_outline_nor_lost() -> None:
    from himotif.convert.report.distort import distort_conversion

    made = converted(dinghy(), FIVE, Lattice.computed(Braid(8), EIGHT), repeat="once")
    navy = FIVE.index("N")
    assert (made.design.beads == navy).any()
    assert Code.OUTLINES_LEFT_OUT not in [one.code for one in made.findings]
    assert not [
        one for one in made.findings if one.code is Code.LOST_PART and one.data["code"] == "N"
    ]
    # the mast alone is a thin stroke, half a millimetre wide; the sails are not
    (strokes,) = (one for one in made.findings if one.code is Code.STROKES_DRAWN_BROADER)
    mast_mm = 14 / 280 * made.fitted.size_mm[0]
    assert strokes.data["stroke_mm"] == pytest.approx(mast_mm, abs=0.1)
    rows = {row.code: row for row in distort_conversion(made).report.regions}
    drawn = sum(row.area_beads for row in rows.values() if not row.is_background)
    # two triangles, a trapezium, and 14 by 250 pixels of mast, known to half a pixel of the report
    # (a twentieth of a bead) on either side
    share = 14 * 250 / (120 * 220 / 2 + 110 * 170 / 2 + 230 * 60 + 14 * 250)
    pixel_mm = made.design.lattice.pitch_mm / 20
    assert rows["N"].area_beads / drawn == pytest.approx(share, rel=pixel_mm / mast_mm)
    assert rows["N"].pieces_lost == 0


def test_a_solid_flower_is_no_line_drawing() -> None:
    made = converted(tulip(), FIVE, Lattice.computed(Braid(8), EIGHT), repeat="once")
    assert made.unrecognised is not None
    assert Code.STROKES_TOO_THIN not in [one.code for one in made.findings]


def test_a_body_on_thin_legs_is_no_line_drawing() -> None:
    row, column = np.indices((360, 480))
    body = ((column - 240) / 130) ** 2 + ((row - 200) / 90) ** 2 < 1
    # three pairs of legs, longer together than the body, and thinner than a bead
    legs = (abs(row - 200) % 55 < 12) & (abs(row - 200) < 70) & (abs(column - 240) > 100)
    legs |= (abs(column - 240) > 228) & (row > 130) & (row < 340)
    pixels = np.where((body | legs)[..., None], RUST, OYSTER)
    made = converted(picture(pixels), FIVE, Lattice.computed(Braid(8), EIGHT), repeat="once")
    assert made.unrecognised is not None
    (strokes,) = (one for one in made.findings if one.code is Code.STROKES_DRAWN_BROADER)
    # its legs alone are strokes, all 12 pixels wide
    legs_mm = 12 / 480 * made.fitted.size_mm[0]
    assert strokes.data["stroke_mm"] == pytest.approx(legs_mm, abs=0.15)


def test_a_line_beside_a_disc_of_its_colour_is_as_wide_as_it_is_drawn() -> None:
    row, column = np.indices((360, 480))
    disc = np.hypot(row - 110, column - 240) < 90
    line = (abs(row - 320) < 6) & (abs(column - 240) < 200)
    pixels = np.where((disc | line)[..., None], RUST, OYSTER)
    made = converted(picture(pixels), FIVE, Lattice.computed(Braid(16), EIGHT), repeat="once")
    (strokes,) = (one for one in made.findings if one.code is Code.STROKES_DRAWN_BROADER)
    line_mm = 12 / 400 * made.fitted.size_mm[0]
    assert strokes.data["stroke_mm"] == pytest.approx(line_mm, abs=0.15)
