"""Drop beads with a slanted hole: which way round, and which ones lie against the skin."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pytest
from himotif.core.bead import Bead, DropShape, bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design, PlacedPicture
from himotif.core.design.drops import (
    AWAY,
    TOWARD,
    back_mask,
    drop_directions,
    drop_findings,
    drops_dict,
    marked_codes,
    strand_way_mm,
    worked_directions,
)
from himotif.core.design.file import design_from_dict, design_json
from himotif.core.design.loads import first_turned, read_directions, stringing_csv
from himotif.core.errors import Problems
from himotif.core.findings import Code
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.sheet_content import SheetContent
from himotif.core.show.preview import braid_frame
from himotif.palette.files import palette_csv, read_palette
from hypothesis import given, settings
from hypothesis import strategies as st

EIGHT = bead_size("8/0")
PALETTE = (
    Bead("A", "oyster", (243, 238, 225)),
    Bead("B", "tide drop", (28, 41, 71), shape="drop"),
    Bead("C", "samphire", (176, 44, 36)),
)


def braids() -> list[Braid]:
    return [Braid(strands, lay) for strands in STRANDS for lay in ("S", "Z")] + [
        Braid(strands, lay, "other") for strands in (12, 16, 20) for lay in ("S", "Z")
    ]


def with_drops(braid: Braid, crossings: list[int], count: int = 320) -> Design:
    beads = np.zeros(count, dtype=int)
    beads[crossings] = 1
    return Design(Lattice.computed(braid, EIGHT), EIGHT, PALETTE, beads)


def centre_of(design: Design, crossing: int) -> tuple[float, float]:
    lattice = design.lattice
    return float(lattice.azimuth_deg(crossing)), float(lattice.height_mm(crossing))


@pytest.mark.parametrize("braid", braids(), ids=str)
def test_the_strand_way_is_the_way_between_its_beads(braid):
    # a strand's beads found by working the slots, the way measured on the lattice
    lattice = Lattice.computed(braid, EIGHT)
    own = [move.crossing for move in braid.work(12 * braid.strands) if move.strand == 3]
    assert len(own) == 12
    for here, there in pairwise(own):
        right = lattice.chart_x_mm(lattice.azimuth_deg(there), float(lattice.azimuth_deg(here)))
        up = lattice.height_mm(there) - lattice.height_mm(here)
        way = strand_way_mm(lattice)
        assert right == pytest.approx(way[0])
        assert up == pytest.approx(way[1])


@pytest.mark.parametrize("braid", braids(), ids=str)
@settings(max_examples=20)
@given(data=st.data())
def test_two_neighbours_on_one_strand_are_strung_in_opposite_directions(braid, data):
    # common practice: they sit on opposite sides of the centre
    strand = data.draw(st.integers(0, braid.strands - 1))
    own = [move.crossing for move in braid.work(9 * braid.strands) if move.strand == strand]
    place = data.draw(st.integers(1, 7))
    before, middle, after = own[place - 1 : place + 2]
    design = with_drops(braid, [before, after])
    drops = drop_directions(design, [centre_of(design, middle)])
    # the bead braided before points to the older end: toward the disc as it is strung
    assert drops.direction[before] == TOWARD
    assert drops.direction[after] == AWAY
    assert drops.count == 2


@pytest.mark.parametrize("braid", braids(), ids=str)
@settings(max_examples=20)
@given(seed=st.integers(0, 2**32 - 1))
def test_every_drop_leans_away_from_its_centre(braid, seed):
    random = np.random.default_rng(seed)
    count = 40 * braid.beads_per_round
    crossings = random.choice(count, 30, replace=False)
    design = with_drops(braid, crossings.tolist(), count)
    middle = int(random.integers(count))
    azimuth, height = centre_of(design, middle)
    drops = drop_directions(design, [(azimuth, height)])
    lattice = design.lattice
    away = np.stack(
        [
            lattice.chart_x_mm(lattice.azimuth_deg(crossings), azimuth),
            lattice.height_mm(crossings) - height,
        ],
        1,
    )
    assert np.einsum("ij,ij->i", away, drops.drawn_mm[crossings, :2]).min() >= -1e-9
    lengths = np.hypot(*drops.drawn_mm[:, :2].T)
    assert lengths[crossings] == pytest.approx(1)
    assert not np.delete(lengths, crossings).any()
    assert not np.delete(drops.direction, crossings).any()


def test_a_hand_worked_case():
    # S lay, 8 strands, seen from outside: a strand climbs to the right, so right of and above the
    # centre a drop points on along its strand, to beads still to come, and those wait further
    # from the disc
    design = with_drops(Braid(8), list(range(320)))
    lattice = design.lattice
    drops = drop_directions(design, [(180.0, 40.0)])
    x, y = lattice.x_mm(np.arange(320)), lattice.height_mm(np.arange(320)) - 40
    upper_right = (x > 0) & (y > 0) & (np.abs(x) < 4)
    lower_left = (x < 0) & (y < 0) & (np.abs(x) < 4)
    assert upper_right.sum() > 10
    assert set(drops.direction[upper_right]) == {AWAY}
    assert set(drops.direction[lower_left]) == {TOWARD}
    # Z lay climbs to the left
    design = with_drops(Braid(8, "Z"), list(range(320)))
    drops = drop_directions(design, [(180.0, 40.0)])
    x = design.lattice.x_mm(np.arange(320))
    upper_left = (x < 0) & (y > 0) & (np.abs(x) < 4)
    assert set(drops.direction[upper_left]) == {AWAY}


def test_each_drop_goes_by_the_nearest_centre():
    design = with_drops(Braid(8), [100, 180])
    low, high = centre_of(design, 104), centre_of(design, 176)
    both = drop_directions(design, [low, high])
    assert both.direction[100] == drop_directions(design, [low]).direction[100]
    assert both.direction[180] == drop_directions(design, [high]).direction[180]


def test_lists_show_the_marks():
    design = with_drops(Braid(8), [92, 108])
    drops = drop_directions(design, [centre_of(design, 100)])
    marked = marked_codes(design, drops)
    assert {marked[92], marked[108]} == {"B←", "B→"}
    assert marked[0] == "A"
    legend = drop_findings(design, drops)[0]
    assert (legend.code, legend.data) == (Code.DROPS_STRUNG, {"toward": 1, "away": 1})
    assert len(drops_dict(design, drops)["drops"]) == 2


def test_the_written_lists_carry_marks_and_legend():
    text = stringing_text(SheetContent(with_drops(Braid(8), [92])))
    assert "1 B←" in text
    assert "← means string it" in text
    assert "←" not in stringing_text(SheetContent(with_drops(Braid(8), [])))


def test_drops_against_the_skin_are_listed():
    lattice = with_drops(Braid(8), []).lattice
    every = np.arange(320)
    at_back = np.abs((lattice.azimuth_deg(every) + 180) % 360 - 180) <= 60
    design = with_drops(Braid(8), every.tolist())
    drops = drop_directions(design, [(180.0, 40.0)])
    assert np.array_equal(drops.on_skin, np.flatnonzero(at_back))
    (skin,) = [one for one in drop_findings(design, drops) if one.code is Code.DROPS_ON_SKIN]
    assert skin.data["count"] == at_back.sum()
    listed = {(one["strand"], bead) for one in skin.data["places"] for bead in one["beads"]}
    braid, where = design.braid, np.flatnonzero(at_back)
    assert listed == {
        (strand + 1, order + 1)
        for strand, order in zip(braid.strand_of(where), braid.order_of(where), strict=True)
    }
    front = int(np.argmin(np.abs(lattice.x_mm(every))))
    design = with_drops(Braid(8), [front])
    drops = drop_directions(design, [(180.0, 40.0)])
    assert not len(drops.on_skin)
    assert Code.DROPS_ON_SKIN not in [one.code for one in drop_findings(design, drops)]


def test_without_a_centre_it_says_so():
    design = with_drops(Braid(8), [50])
    drops = drop_directions(design)
    assert not drops.centred
    assert Code.DROPS_ALIKE in [one.code for one in drop_findings(design, drops)]
    assert drop_findings(with_drops(Braid(8), []), drop_directions(with_drops(Braid(8), []))) == []


@given(st.floats(0, 360), st.sampled_from(STRANDS))
def test_the_back_is_the_sector_opposite_the_front(sector, strands):
    lattice = Lattice.computed(Braid(strands), EIGHT)
    every = np.arange(20 * strands)
    inside = back_mask(lattice, every, sector)
    to_front = np.abs(lattice.x_mm(every)) / lattice.radius_mm
    limit = np.pi - np.deg2rad(sector) / 2
    assert np.all(to_front[inside] >= limit - 1e-6)
    assert np.all(to_front[~inside] <= limit + 1e-6)


@pytest.mark.parametrize("braid", braids(), ids=str)
def test_directions_from_the_worked_disc_are_those_of_the_closed_form(braid):
    rng = np.random.default_rng(braid.strands)
    design = with_drops(braid, rng.choice(320, 60, replace=False).tolist())
    where = np.full((320, 2), np.nan)
    centres = tuple(
        (float(rng.uniform(0, 360)), float(rng.uniform(0, design.length_mm))) for _ in range(3)
    )
    for known in ((), centres):
        picture = PlacedPicture("m.png", "0" * 64, (9, 9), "wrap", 1.0, 180.0, where, centres=known)
        placed = replace(design, picture=picture)
        drawn = drop_directions(placed)
        np.testing.assert_array_equal(worked_directions(placed), drawn.direction)
        table = stringing_csv(placed).splitlines()
        assert table[0] == "strand,slot,order,bead,direction"
        ways = Counter(line.rsplit(",", 1)[1] for line in table[1:])
        assert ways["toward"] == np.count_nonzero(drawn.direction == TOWARD)
        assert ways["away"] == np.count_nonzero(drawn.direction == AWAY)


def test_a_drop_turned_in_the_table_is_named(tmp_path):
    design = with_drops(Braid(8), [92, 108])
    path = tmp_path / "stringing.csv"
    text = stringing_csv(design)
    path.write_text(text)
    assert first_turned(design, read_directions(path)) is None
    # a spreadsheet's semicolons and capitals; one drop turned round
    path.write_text(text.replace(",", ";").replace("toward", "Toward"))
    assert first_turned(design, read_directions(path)) is None
    path.write_text(text.replace("toward", "away", 1))
    wrong = first_turned(design, read_directions(path))
    assert wrong is not None
    assert (wrong.wanted, wrong.found) == ("toward", "away")
    assert f"strand {wrong.strand}, bead {wrong.order} is strung away" in wrong.sentence()
    path.write_text("\n".join(line.rsplit(",", 1)[0] for line in text.splitlines()))
    assert read_directions(path) is None
    assert first_turned(design, None) is None


def test_a_measured_drop_is_drawn_as_measured():
    """Assumed: 4 × 7 mm beside beads of 3 mm (common practice); what is measured goes before it."""
    design = with_drops(Braid(8), [92, 108])
    assumed = DropShape.of(PALETTE[1], 3.0)
    assert assumed[:3] == pytest.approx((4.0, 7.0, 45.0))
    assert not assumed.measured
    own = replace(PALETTE[1], drop_width=5.0, drop_length=9.0, drop_lean=30.0)
    shape = DropShape.of(own, 3.0)
    assert shape == (5.0, 9.0, 30.0, True)
    outwards, aside, narrow, wide = shape.drawn_mm
    # its axis from end to end, and how far it reaches straight out
    assert np.hypot(outwards, aside) + narrow + wide == pytest.approx(9.0)
    assert np.degrees(np.arctan2(aside, outwards)) == pytest.approx(30.0)
    assert shape.out_mm == pytest.approx(outwards + 2.5)
    measured = replace(design, palette=(PALETTE[0], own, PALETTE[2]))
    for one, words in ((design, "assumed"), (measured, "measured")):
        content = SheetContent(one)
        (said,) = [line for line in content.drop_words if "is drawn" in line]
        assert words in said
        taken = DropShape.of(one.palette[1], one.lattice.diameter_mm)
        np.testing.assert_allclose(content.drops.drawn_mm[92, 2:], taken.drawn_mm)
        assert f"{taken.width_mm:.1f} mm wide and {taken.length_mm:.1f} mm long" in said
    frames = [
        braid_frame(one.lattice, 320, 4.0, drops=drop_directions(one).drawn)
        for one in (design, measured)
    ]
    assert frames[1].width_px > frames[0].width_px


def test_measures_of_drops_are_read_and_written(tmp_path):
    head = "code,name,colour,shape,Tropfenbreite,drop_length,drop lean"
    text = f"{head}\nP,foam,#dfe9ea,drop,4.2,7.5,40\n"
    path = tmp_path / "beads.csv"
    path.write_text(text, encoding="utf-8")
    palette = read_palette(path)
    bead = palette.beads[0]
    assert (bead.drop_width, bead.drop_length, bead.drop_lean) == (4.2, 7.5, 40.0)
    path.write_text(palette_csv(palette), encoding="utf-8")
    assert read_palette(path).beads[0] == bead
    path.write_text(text.replace("40\n", "120\n"), encoding="utf-8")
    with pytest.raises(Problems, match="drop_lean is 120, but must be from 0 to 90"):
        read_palette(path)
    design = with_drops(Braid(8), [92])
    kept = replace(design, palette=(PALETTE[0], replace(bead, code="B"), PALETTE[2]))
    assert design_from_dict(json.loads(design_json(kept))).palette[1] == kept.palette[1]
