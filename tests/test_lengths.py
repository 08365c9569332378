"""Lengths, cord and plans, against worked examples of the trade and exact geometry."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from himotif.convert.wording import lines
from himotif.core.bead import BeadSize, bead_size, bead_sizes
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code, Remedy
from himotif.core.making.lengths import (
    EASES_MM,
    cord,
    cut_length,
    format_length,
    lengths,
    parse_ease,
    parse_length,
    take_up,
    worn_length_mm,
)
from himotif.core.making.materials import plan
from himotif.core.paper.shopping_wording import cord_lines, length_lines, plan_lines
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import ConvexHull

EIGHT = bead_size("8/0")


def lattice_of(strands: int = 8, bead: BeadSize = EIGHT) -> Lattice:
    return Lattice.computed(Braid(strands), bead)


# -- reading and writing ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("18cm", 180.0),
        ("180mm", 180.0),
        ("7in", 177.8),
        ("165", 165.0),
        (" 16,5 cm ", 165.0),
        ("7 1/2in", 190.5),
        ("7-1/2 in", 190.5),
        ("1/2in", 12.7),
        ('7.5"', 190.5),
        ("0.2 m", 200.0),
        ("18CM", 180.0),
        ("0", 0.0),
    ],
)
def test_lengths_are_read(text, mm):
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text",
    ["", "cm", "-3", "1e3", "nan", "inf", "7in 3", "12 3", "1,2,3", "7/0in", "18 furlongs", "1/"],
)
def test_what_is_no_length_is_refused_with_its_name(text):
    with pytest.raises(WrongUsage, match="wrist") as caught:
        parse_length(text, "wrist")
    assert "18cm, 180mm or 7in" in str(caught.value)


@given(st.floats(0.1, 4000), st.sampled_from(["mm", "cm", "in"]))
def test_what_is_written_is_read_back(mm, unit):
    # each unit is written to its own last digit
    last_mm = {"mm": 1.0 if mm >= 19.95 else 0.1, "cm": 1.0, "in": 0.254}[unit]
    assert parse_length(format_length(mm, unit)) == pytest.approx(mm, abs=last_mm / 2 + 1e-6)


# -- from a wrist to beads -------------------------------------------------------------------------


def test_worked_example_of_the_trade():
    # common practice: wrist 16.5 cm + ease 1.5 cm + π × 0.8 cm = 20.5 cm
    assert worn_length_mm(165, 15, 8) == pytest.approx(205, abs=0.5)
    planned = lengths(lattice_of(), wrist_mm=165, ease_mm=15, thickness_mm=8, caps_mm=0)
    assert planned.finished_mm == pytest.approx(205, abs=0.5)
    assert "= 205 mm" in length_lines(planned)[0]


@given(st.integers(0, 2**32 - 1), st.floats(1, 12))
def test_a_curve_outside_a_convex_wrist_is_longer_by_two_pi_r(seed, thickness):
    # any convex wrist, made of random points, and its parallel curve: the hull of circles round
    # them (scipy.spatial measures both; in the plane its `area` is the perimeter)
    random = np.random.default_rng(seed)
    wrist = random.normal(size=(12, 2)) * (28, 20)
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    circle = thickness / 2 * np.stack([np.cos(angle), np.sin(angle)], 1)
    outside = ConvexHull((wrist[:, None] + circle).reshape(-1, 2)).area
    assert worn_length_mm(ConvexHull(wrist).area, 0, thickness) == pytest.approx(outside, abs=0.01)


def test_a_plan_in_inches_is_the_same_sum():
    # 6 1/2 in + 1/2 in + π × thickness, less 3/4 in, each read off the sentence and added up again
    given = {"wrist_mm": 165.1, "ease_mm": 12.7, "caps_mm": 19.05}
    planned = lengths(lattice_of(), **given, unit="in")
    first, second, third = length_lines(planned, "in")
    wrist, ease, thick, total = (float(x) for x in re.findall(r"([\d.]+) in\b", first))
    assert (wrist, ease) == (6.5, 0.5)
    assert total == pytest.approx(wrist + ease + math.pi * thick, abs=0.03)
    clasp, caps, beaded = (float(x) for x in re.findall(r"([\d.]+) in\b", second))
    assert (clasp, caps) == (0.0, 0.75)
    assert beaded == pytest.approx(total - caps, abs=0.011)
    rounds = float(third.split()[0])
    rise, worked = (float(x) for x in re.findall(r"([\d.]+) in\b", third))
    assert worked == pytest.approx(rounds * rise, abs=0.06)
    assert "(8.0 mm, computed)" in first
    assert lengths(lattice_of(), **given, unit="in").beads == lengths(lattice_of(), **given).beads


@pytest.mark.parametrize(
    "given", [{"wrist_mm": 165.1}, {"wrist_mm": 280.0}, {"length_mm": 1600.0}, {"wrist_mm": 1016.0}]
)
def test_notes_and_refusals_of_a_plan_in_inches_are_in_inches(given):
    try:
        text = " ".join(lines(lengths(lattice_of(), **given, unit="in").findings, "in"))
    except WrongUsage as error:
        text = str(error)
    assert " in" in text
    assert not re.search(r"\bmm\b|\bcm\b", text)


def test_beads_for_a_known_beaded_length():
    # common practice: 17.8 cm of 8 strands in 8/0 take 39-44 beads on a strand
    planned = lengths(lattice_of(), length_mm=parse_length("7in"))
    assert 39 <= planned.beads_per_strand <= 44
    assert planned.beads == planned.beads_per_strand * 8


@pytest.mark.parametrize("size", bead_sizes().values(), ids=lambda size: size.label)
def test_strung_length_is_half_the_braid(size):
    # common practice for 8 beaded strands, whatever the bead size
    planned = lengths(lattice_of(bead=size), length_mm=180)
    assert planned.beads_per_strand * size.length_mm == pytest.approx(planned.worked_mm / 2)


@given(
    st.floats(120, 240),
    st.floats(0, 40),
    st.floats(0, 30),
    st.floats(0, 40),
    st.sampled_from(STRANDS),
)
def test_the_beads_fill_what_clasp_and_caps_leave(wrist, ease, clasp, caps, strands):
    lattice = lattice_of(strands)
    planned = lengths(lattice, wrist_mm=wrist, ease_mm=ease, clasp_mm=clasp, caps_mm=caps)
    assert planned.rounds % 2 == 0
    assert abs(planned.worked_mm - planned.beaded_mm) <= lattice.rise_mm + 1e-9
    whole = planned.beaded_mm + clasp + caps
    assert whole == pytest.approx(wrist + ease + math.pi * lattice.thickness_mm)


def test_what_is_assumed_and_what_is_unlikely_is_said():
    assumed = lengths(lattice_of(), wrist_mm=165)
    assert assumed.ease_mm == 15
    assert assumed.caps_mm == 20
    said = [(one.code, dict(one.data)) for one in assumed.findings]
    assert said == [(Code.EASE_ASSUMED, {"ease_mm": 15}), (Code.CAPS_ASSUMED, {"caps_mm": 20})]
    found = lengths(lattice_of(), wrist_mm=165, ease_mm=15, caps_mm=24, clasp_mm=5)
    assert found.findings == ()
    thick = lengths(lattice_of(), wrist_mm=165, ease_mm=15, caps_mm=24, thickness_mm=12)
    (off,) = thick.questions
    assert off.code is Code.THICKNESS_OFF
    assert off.data == {"measured_mm": 12, "computed_mm": pytest.approx(7.98, abs=0.01)}
    # 25 % off is still likely
    near = lengths(lattice_of(), wrist_mm=165, ease_mm=15, caps_mm=24, thickness_mm=9.9)
    assert near.findings == ()
    small = lengths(lattice_of(), wrist_mm=65, caps_mm=24)
    assert [one.code for one in small.findings] == [Code.LENGTH_UNUSUAL, Code.EASE_ASSUMED]
    assert small.questions == small.findings[:1]
    for name, value in (("ease", 45), ("clasp", 70), ("caps", 90), ("wrist", 300)):
        given = {"wrist_mm": 165, f"{name}_mm": value}
        (question,) = lengths(lattice_of(), **given).questions
        assert question.code is Code.LENGTH_UNUSUAL
        assert (question.data["what"], question.data["value_mm"]) == (name, value)


def test_a_unit_that_would_make_it_usual_is_a_remedy():
    # 3 mm of ease is 3 in or 3 cm in another unit: 30 mm is loose, 76 mm is nothing
    (question,) = lengths(lattice_of(), wrist_mm=165, ease_mm=3, caps_mm=24).questions
    assert question.remedies == (Remedy("ease_mm", 30.0),)
    again = lengths(lattice_of(), wrist_mm=165, ease_mm=30.0, caps_mm=24)
    assert again.questions == ()
    # in inches it is no slip of the unit
    (question,) = lengths(lattice_of(), wrist_mm=165, ease_mm=3, caps_mm=24, unit="in").questions
    assert question.remedies == ()


def test_usual_eases_are_not_asked_about():
    # the eases of the trade are not asked about
    for ease in (6, 12.5, 25, 30):
        assert lengths(lattice_of(), wrist_mm=165, ease_mm=ease).questions == ()


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"wrist_mm": 17}, "wrist 17 mm is too small: usual are 100 to 260 mm. Did you mean 17cm?"),
        ({"wrist_mm": 7}, "Did you mean 7in?"),
        ({"wrist_mm": 1650}, "wrist 1650 mm is too large"),
        ({"wrist_mm": 165, "ease_mm": 500}, "ease 500 mm is too large: usual are 6 to 30 mm."),
        ({"wrist_mm": 165, "caps_mm": 200}, "caps 200 mm is too large"),
    ],
)
def test_what_no_arm_has_is_refused_with_what_was_meant(values, said):
    with pytest.raises(WrongUsage) as caught:
        lengths(lattice_of(), **values)
    assert said in str(caught.value)
    assert "A bare number is mm." in str(caught.value)


def test_all_impossible_lengths_are_named_together():
    with pytest.raises(WrongUsage) as caught:
        lengths(lattice_of(), wrist_mm=17, ease_mm=500, clasp_mm=500)
    assert len(str(caught.value).splitlines()) == 3


def test_thickness_says_where_it_comes_from():
    lattice = Lattice.computed(Braid(8), EIGHT, Swatch(thickness_mm=8.4))
    assert lengths(lattice, wrist_mm=165).thickness_source == "measured"
    assert lengths(lattice_of(), wrist_mm=165).thickness_source == "computed"
    assert lengths(lattice_of(), wrist_mm=165, thickness_mm=8).thickness_source == "given"


@pytest.mark.parametrize(
    "values",
    [
        {},
        {"wrist_mm": 165, "length_mm": 180},
        {"wrist_mm": -1},
        {"wrist_mm": math.nan},
        {"wrist_mm": 165, "ease_mm": -2},
        {"length_mm": 30, "clasp_mm": 20, "caps_mm": 8},
    ],
)
def test_what_cannot_be_planned_is_refused(values):
    with pytest.raises(WrongUsage):
        lengths(lattice_of(), **values)


def test_four_beads_a_strand_come_back_to_the_same_face():
    # common practice for 8 strands: a row of motifs repeats every 4 beads of each strand
    lattice = lattice_of()
    again = np.arange(32) + 32
    assert lattice.azimuth_deg(again) == pytest.approx(lattice.azimuth_deg(np.arange(32)))
    assert np.array_equal(lattice.braid.strand_of(again), lattice.braid.strand_of(np.arange(32)))
    assert np.all(lattice.braid.order_of(again) == lattice.braid.order_of(np.arange(32)) + 4)


# -- cord ------------------------------------------------------------------------------------------


def test_cord_of_eight_strands_is_three_times_the_length():
    # common practice; and the cord fills 1/2 to 2/3 of the hole (8/0: 1.0 mm at least)
    made = cord(lattice_of(), EIGHT, 205)
    assert made.strand_mm == pytest.approx(615)
    assert (made.pieces, made.piece_mm) == (4, pytest.approx(1230))
    assert made.thickness_mm == pytest.approx((0.5, 0.667), abs=1e-3)
    assert made.core_mm is None


@given(
    st.floats(1, 20_000), st.integers(2, 12), st.sampled_from([("cm", 10, 10), ("in", 25.4, 3.6)])
)
def test_cord_is_rounded_up_and_by_no_more_than_it_must(mm, pieces, unit):
    name, unit_mm, tenth = unit
    one, unit = cut_length(mm, name).split()
    assert unit == name
    assert -1e-6 <= int(one) * unit_mm - mm < unit_mm
    # all pieces as cut: tenths of a m are 10 cm, of a yard 3.6 inches
    total, unit = cut_length(mm, name, pieces).split()
    assert unit == {"cm": "m", "in": "yd"}[name]
    over = round(float(total) * 10) * tenth - int(one) * pieces
    assert -1e-6 <= over < tenth


def test_more_strands_take_more_cord_and_a_core():
    # common practice: a core cord from 12 strands on; the hollow is 1.28 and 1.90 diameters wide
    made = {strands: cord(lattice_of(strands), EIGHT, 200) for strands in STRANDS}
    factors = [made[strands].factor for strands in STRANDS]
    assert factors == sorted(set(factors))
    assert made[12].hollow_mm / 3.0 == pytest.approx(1.28, abs=0.005)
    assert made[16].hollow_mm / 3.0 == pytest.approx(1.90, abs=0.01)
    for strands in STRANDS[1:]:
        core = made[strands].core_mm
        assert core is not None
        assert 0 < core[0] < made[strands].hollow_mm


@pytest.mark.parametrize("strands", STRANDS)
def test_take_up_is_the_straight_way_between_beads_of_a_strand(strands):
    # measured on the beads themselves, in space
    lattice = lattice_of(strands)
    crossing = lattice.braid.crossing_of([0, 0], [3, 4])
    turn = np.deg2rad(lattice.azimuth_deg(crossing))
    points = np.stack(
        [
            lattice.radius_mm * np.sin(turn),
            lattice.radius_mm * np.cos(turn),
            lattice.height_mm(crossing),
        ],
        1,
    )
    way = float(np.linalg.norm(points[1] - points[0]))
    assert take_up(lattice) == pytest.approx(way / (points[1, 2] - points[0, 2]))


def test_a_plan_says_everything():
    planned = lengths(lattice_of(), wrist_mm=165, ease_mm=15, thickness_mm=8)
    made = plan(lattice_of(), EIGHT, planned, packet_g=10)
    # 352 beads + 10 %, 35-40 to a gram (common practice)
    assert made.with_spare == 388
    assert made.grams == pytest.approx((9.7, 11.1), abs=0.05)
    assert made.packets == 2
    text = "\n".join(plan_lines(made))
    for part in ("44 beads on each of 8 strands", "folded", "End caps", "No core cord"):
        assert part in text
    assert made.as_dict()["lengths"]["beads_per_strand"] == 44


@pytest.mark.parametrize(("turn", "core"), [("usual", True), ("other", False)])
def test_a_hollow_that_the_strands_fill_takes_no_core(turn, core):
    # other turn: the hollow of 12 strands is smaller than that of 8, which needs none
    wanted = cord(Lattice.computed(Braid(12, "S", turn), EIGHT), EIGHT, 200.0)
    assert (wanted.core_mm is not None) is core
    assert any(line.startswith("No core cord") for line in cord_lines(wanted)) is not core


def test_a_length_without_clasp_and_caps_says_that_it_is_all_beads():
    lattice = lattice_of()
    (beaded,) = lengths(lattice, length_mm=200).findings
    assert beaded.code is Code.ALL_OF_IT_BEADED
    assert [remedy.field for remedy in beaded.remedies] == ["clasp_mm", "caps_mm"]
    assert not lengths(lattice, length_mm=200, caps_mm=20).findings


# -- as bracelets are sold -------------------------------------------------------------------------


def test_an_extension_lets_it_out_and_adds_nothing_to_the_beads():
    plain = lengths(lattice_of(8), wrist_mm=165, ease_mm=15)
    chained = lengths(lattice_of(8), wrist_mm=165, ease_mm=15, extension_mm=50)
    assert chained.rounds == plain.rounds
    (fits,) = [one for one in chained.findings if one.code is Code.FITS]
    # 165 + 15 + π × 8.0 = 205.1 mm, and 50 mm more
    assert fits.data["closed_mm"] == pytest.approx([205.1, 255.1], abs=0.1)
    assert fits.data["wrist_mm"] == [165, 215]
    assert Code.FITS not in [one.code for one in plain.findings]
    # of a length: the wrists that it fits with the usual ease
    (fits,) = [
        one
        for one in lengths(lattice_of(8), length_mm=205.1, extension_mm=50).findings
        if one.code is Code.FITS
    ]
    assert fits.data["wrist_mm"] == pytest.approx([165, 215], abs=0.1)


@pytest.mark.parametrize(
    ("word", "mm"),
    [("snug", 9.25), ("Comfortable", 15), (" loose ", 27.5), ("12", 12), ("1in", 25.4)],
)
def test_ease_by_word(word, mm):
    # common practice: snug 6 to 12.5 mm, comfortable to 25, loose to 30
    assert parse_ease(word) == mm
    for name, (low, high) in EASES_MM.items():
        assert low <= parse_ease(name) <= high


@pytest.mark.parametrize("sample", [190.0, 198.0, 206.0, 212.0, 220.0])
def test_a_sample_is_compared(sample):
    made = lengths(lattice_of(8), wrist_mm=165, ease_mm=15, sample_mm=sample)
    (found,) = [one for one in made.findings if one.code.value.startswith("sample")]
    # 205.1 mm; half of what a comfortable ease may differ is 6.25 mm
    near = abs(sample - 205.1) < 6.25
    assert found.code is (Code.SAMPLE_AGREES if near else Code.SAMPLE_DIFFERS)
    assert (found in made.questions) == (not near)
