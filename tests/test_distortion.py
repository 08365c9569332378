"""The numbers of the distortion report, against hands, geometry and other libraries.

Lattice values by hand: strands, radius and rise in bead diameters from the table for spheres that
touch two neighbours each; 8/0 beads 3.0 mm across, 2.1 mm along the hole (common practice).
"""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from himotif.core.bead import bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.braid.raster import Raster
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code
from himotif.core.show import distortion
from himotif.core.show.distortion import LaidSketch
from himotif.core.show.distortion_findings import DRAW_PITCHES, missed_limits
from hypothesis import assume, example, given, settings
from hypothesis import strategies as st

BRAIDS = [
    (strands, lay, turn)
    for strands in (8, 12, 16, 20, 24)
    for lay in ("S", "Z")
    for turn in ("usual", "other")
]


def lattice_of(strands=8, lay="S", turn="usual", size="8/0", swatch=None):
    return Lattice.computed(Braid(strands, lay, turn), bead_size(size), swatch)


def raster_of(lattice, count=400, px_per_pitch=20.0, front_deg=180.0):
    top = float(lattice.height_mm(count - 1)) + lattice.step_mm / 2
    bottom = -lattice.step_mm / 2
    per_mm = px_per_pitch / lattice.pitch_mm
    shape = (round((top - bottom) * per_mm), round(lattice.circumference_mm * per_mm))
    return Raster(lattice, shape, bottom, top - bottom, count, front_deg)


def sketch_of(raster, inside):
    """The sketch, and the beads by what lies under their centres, of a function of (x, y) mm."""
    lattice, n = raster.lattice, np.arange(raster.beads)
    colours = np.asarray(inside(raster.x_mm[None], raster.y_mm[:, None])).astype(np.intp)
    beads = np.asarray(inside(lattice.x_mm(n, raster.front_deg), lattice.height_mm(n)))
    return LaidSketch(np.broadcast_to(colours, raster.shape), 0, raster), beads.astype(np.intp)


def disc(x0, y0, radius):
    return lambda x, y: np.hypot(x - x0, y - y0) < radius


# -- squared paper ---------------------------------------------------------------------------------


def test_squared_paper_on_eight_strands_by_hand():
    # R = 0.8302 d, one pair on: 180°/2 - 90°/4 = 67.5° round and half a round up;
    # one round on: 45° the other way and a round up
    radius, rise = 0.8302 * 3.0, 2.1
    across, back = radius * np.pi * 67.5 / 180, radius * np.pi * 45 / 180
    by_hand = np.array([[across, -back], [rise / 2, rise]])
    np.testing.assert_allclose(
        distortion.squared_paper_mm(lattice_of(8)), by_hand, atol=2e-4 * radius
    )
    square = 2 * np.pi * radius / 4
    largest, smallest = np.linalg.svd(by_hand / square, compute_uv=False)
    found = distortion.squared_paper_stretch(lattice_of(8))
    assert found.largest == pytest.approx(largest, abs=2e-4)
    assert found.smallest == pytest.approx(smallest, abs=2e-4)
    assert found.ratio == pytest.approx(largest / smallest, abs=1e-3)
    climb = np.degrees(np.arctan(rise / 2 / across))
    lean = np.degrees(np.arctan(back / rise))
    assert found.row_climb_deg == pytest.approx(climb, abs=0.01)
    assert found.column_lean_deg == pytest.approx(lean, abs=0.01)
    assert found.slant_deg == pytest.approx(lean - climb, abs=0.02)


def test_squared_paper_on_sixteen_strands_by_hand():
    # R = 1.4523 d, h = 2.1 · 0.8239 / 0.7722 mm; 45° - 5.625° = 39.375° and 22.5°
    radius, rise = 1.4523 * 3.0, 2.1 * 0.8239 / 0.7722
    by_hand = np.array(
        [
            [radius * np.deg2rad(39.375), -radius * np.deg2rad(22.5)],
            [rise / 4, rise],
        ]
    )
    np.testing.assert_allclose(distortion.squared_paper_mm(lattice_of(16)), by_hand, atol=1e-3)
    found = distortion.squared_paper_stretch(lattice_of(16))
    scaled = by_hand / (2 * np.pi * radius / 8)
    np.testing.assert_allclose(
        [found.largest, found.smallest], np.linalg.svd(scaled, compute_uv=False), atol=1e-3
    )


@pytest.mark.parametrize("column_rounds", [None, 4, 3])
@pytest.mark.parametrize(("strands", "lay", "turn"), BRAIDS)
def test_squares_lie_where_the_map_says(strands, lay, turn, column_rounds):
    swatch = Swatch(drift_deg=360 / column_rounds) if column_rounds else None
    try:
        lattice = lattice_of(strands, lay, turn, swatch=swatch)
    except WrongUsage:
        pytest.skip("this braid cannot be worked on the usual disc")
    right, up = distortion.squared_paper_mm(lattice).T
    rows, columns = distortion.squared_paper_squares(lattice, 10 * strands)
    place = dict(
        zip(zip(rows.tolist(), columns.tolist(), strict=True), range(len(rows)), strict=True)
    )
    assert len(place) == len(rows)  # every square is one bead
    axes = lattice.braid.axes

    def step(one, other):
        across = lattice.x_mm(other) - lattice.x_mm(one)
        across -= lattice.circumference_mm * np.rint(across / lattice.circumference_mm)
        return [across, lattice.height_mm(other) - lattice.height_mm(one)]

    steps_up = 0
    for (row, column), bead in place.items():
        above = place.get((row + 1, column))
        if above is not None:
            np.testing.assert_allclose(step(bead, above), up, atol=1e-9)
            steps_up += 1
        if (column + 1) % axes:  # within a half of the round
            np.testing.assert_allclose(step(bead, place[row, column + 1]), right, atol=1e-9)
    assert steps_up > len(place) / 2
    assert abs(np.linalg.det(np.stack([right, up]))) == pytest.approx(lattice.cell_area_mm2)
    # columns lean like the letter: S from top left to bottom right (common practice)
    lean = distortion.squared_paper_stretch(lattice).column_lean_deg
    assert lean > 0 if lay == "S" else lean < 0


@pytest.mark.parametrize("strands", [8, 12, 16, 20, 24])
def test_a_column_is_strung_by_the_four_strands_of_its_axis(strands):
    # working the slots: a pair and the pair opposite to it pass four strands to each other
    braid = Braid(strands)
    _, columns = distortion.squared_paper_squares(lattice_of(strands), 12 * strands)
    strand = np.array([move.strand for move in braid.work(12 * strands)])
    for column in range(braid.axes):
        mine = set(strand[columns == column])
        assert len(mine) == 4
        assert mine == set(strand[columns == column + braid.axes])


def test_a_map_onto_a_line_has_no_ratio():
    found = distortion.stretch_of(np.array([[2.0, 4.0], [1.0, 2.0]]))
    assert found.smallest == pytest.approx(0, abs=1e-12)
    assert found.ratio is None


def test_squared_paper_keeps_what_has_no_shape():
    lattice = lattice_of(16)
    raster = raster_of(lattice)
    plain = LaidSketch(np.full(raster.shape, 3), 3, raster)
    assert (distortion.squared_paper_beads(plain) == 3).all()


def test_squared_paper_shears_an_upright_bar():
    lattice = lattice_of(16)
    raster = raster_of(lattice)
    middle = (raster.bottom_mm + raster.top_mm) / 2
    square = lattice.circumference_mm / 8
    # two columns wide, eight rows high
    sketch, _ = sketch_of(raster, lambda x, y: (abs(x) < square) & (abs(y - middle) < 4 * square))
    beads = distortion.squared_paper_beads(sketch)
    shown = np.flatnonzero(beads)
    assert len(shown) == pytest.approx(16, abs=3)
    x = np.unwrap(lattice.x_mm(shown), period=lattice.circumference_mm)
    slope = np.polyfit(lattice.height_mm(shown), x, 1)[0]
    # S lay: the bar leans to the left as it goes up, by 22.5° of the round in a rise
    assert slope == pytest.approx(-lattice.radius_mm * np.deg2rad(22.5) / lattice.rise_mm, rel=0.2)


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("strands", [8, 12])
def test_a_pattern_on_squared_paper_has_its_rows_and_repeats(strands, lay):
    lattice = lattice_of(strands, lay)
    raster = raster_of(lattice, count=42 * strands)
    # by hand: rings two rounds high and two apart are two rows of squares, and two
    rings = sketch_of(raster, lambda x, y: (y / lattice.rise_mm) % 4 < 2 + 0 * x)[0]
    beads = distortion.squared_paper_beads(rings, 4)
    row, _ = distortion.squared_paper_squares(lattice, len(beads))
    by_row = [set(beads[row == one].tolist()) for one in range(row.max() + 1)]
    assert all(len(colours) == 1 for colours in by_row)
    by_row = [min(colours) for colours in by_row]
    assert by_row[:-4] == by_row[4:]
    assert sum(by_row[:4]) == 2
    # thinner than a square, and slanting: whatever becomes of it, it is the same in each repeat
    slanting = sketch_of(raster, lambda x, y: (y / lattice.rise_mm + 0.3 * np.sin(x)) % 6 < 0.7)[0]
    beads = distortion.squared_paper_beads(slanting, 6)
    squares = np.stack(distortion.squared_paper_squares(lattice, len(beads)))
    colour = {(r, c): bead for r, c, bead in zip(*squares.tolist(), beads.tolist(), strict=True)}
    assert 0 < beads.sum() < len(beads)
    assert all(colour.get((r + 6, c), bead) == bead for (r, c), bead in colour.items())


# -- stretch ---------------------------------------------------------------------------------------


@given(
    st.lists(st.floats(-2, 2), min_size=4, max_size=4).filter(
        lambda v: abs(v[0] * v[3] - v[1] * v[2]) > 0.05
    )
)
def test_an_affine_sketch_gives_its_map_back(values):
    matrix = np.array(values).reshape(2, 2)
    radius, per_mm = 3.0, 7.0
    to_sketch = np.linalg.inv(matrix)

    def picture_px(azimuth_deg, height_mm):
        chart = np.stack([-radius * np.deg2rad(azimuth_deg), height_mm], axis=-1)
        right_up = chart @ to_sketch.T
        return per_mm * right_up * [1, -1] + 500

    maps = distortion.local_maps(
        picture_px, np.array([10.0, 70.0]), np.array([3.0, 9.0]), radius, per_mm
    )
    np.testing.assert_allclose(maps, np.broadcast_to(matrix, (2, 2, 2)), rtol=1e-5, atol=1e-6)
    found = distortion.most_bent(maps)
    np.testing.assert_allclose(
        [found.largest, found.smallest], np.linalg.svd(matrix, compute_uv=False), rtol=1e-5
    )


@pytest.mark.parametrize("shear_deg", [-40.0, 0.0, 25.0])
def test_a_sheared_sketch_gives_the_shear_back(shear_deg):
    # up goes to the left of up by the shear
    matrix = np.array([[1.0, -np.tan(np.deg2rad(shear_deg))], [0.0, 1.0]])
    found = distortion.stretch_of(matrix)
    assert found.slant_deg == pytest.approx(shear_deg)
    assert found.across == pytest.approx(1)
    assert found.along == pytest.approx(1 / np.cos(np.deg2rad(shear_deg)))


@pytest.mark.parametrize(("angle", "across"), [(0, 1.0), (30, 1.1547005), (45, 1.4142136), (60, 2)])
def test_a_true_front_view_is_drawn_out_by_one_over_the_cosine(angle, across):
    radius = 4.0

    def picture_px(azimuth_deg, height_mm):
        x = -radius * np.sin(np.deg2rad(azimuth_deg))
        return np.stack([10 * x, -10 * height_mm], axis=-1)

    maps = distortion.local_maps(
        picture_px, np.array([float(angle)]), np.array([0.0]), radius, px_per_mm=10
    )
    found = distortion.most_bent(maps)
    assert found.largest == pytest.approx(across, rel=1e-4)
    assert found.smallest == pytest.approx(1, rel=1e-6)


def test_no_map_where_no_picture_lies():
    def nowhere(azimuth_deg, height_mm):
        return np.full((*azimuth_deg.shape, 2), np.nan)

    maps = distortion.local_maps(nowhere, np.zeros(3), np.zeros(3), 2.0, 1.0)
    assert np.isnan(maps).all()
    assert distortion.most_bent(maps) is None


# -- edges -----------------------------------------------------------------------------------------


@settings(max_examples=20, deadline=None)
@given(
    st.sampled_from([8, 12, 16, 24]),
    st.floats(-0.5, 0.5),
    st.floats(-3, 3),
    st.floats(0.35, 1.0),
)
@example(24, 0.5, 0.0, 0.9468895412298339)  # its middle falls between the pixels
def test_a_disc_moves_by_the_covering_radius_at_most(strands, across, up, part):
    # a point further inside than the covering radius has its nearest bead inside, one further
    # outside has it outside; so an edge between the two kinds of bead lies within that radius
    lattice = lattice_of(strands)
    raster = raster_of(lattice, 12 * strands)
    most = lattice.circumference_mm / 2 - lattice.pitch_mm
    radius = max(2.2 * lattice.covering_radius_mm, part * most)
    x0 = across * lattice.circumference_mm
    y0 = (raster.bottom_mm + raster.top_mm) / 2 + up
    half = lattice.circumference_mm / 2

    def inside(x, y):
        return disc(0, y0, radius)((x - x0 + half) % (2 * half) - half, y)

    # the disc lies clear of the ends, and of itself round the back
    room = (raster.top_mm - raster.bottom_mm) / 2 - 2 * lattice.pitch_mm
    assume(radius < half and radius + abs(up) < room)
    sketch, beads = sketch_of(raster, inside)
    shift = distortion.edge_shift(sketch, beads)
    pixel = np.hypot(*raster.px_mm)
    assert not shift.lost.any()
    assert shift.shift_mm.max() <= lattice.covering_radius_mm + pixel
    region = next(r for r in distortion.regions(sketch, beads) if not r.is_background)
    assert region.area_beads == pytest.approx(
        np.pi * radius**2 / lattice.cell_area_mm2, abs=2 * np.pi * radius * pixel / 4
    )
    assert region.pieces_before == 1
    assert region.beads == beads.sum()
    # widths are measured up to four bead pitches
    widest_mm = 4 * lattice.pitch_mm
    assert min(region.narrowest_mm, widest_mm) == pytest.approx(
        min(2 * radius, widest_mm), abs=4 * pixel
    )


def test_edges_that_follow_the_cells_do_not_move():
    lattice = lattice_of(12)
    raster = raster_of(lattice, 200, px_per_pitch=40)
    beads = (np.random.default_rng(5).random(200) < 0.3).astype(np.intp)
    sketch = LaidSketch(beads[raster.owner], 0, raster)
    shift = distortion.edge_shift(sketch, beads)
    # the outermost cells have no neighbours that would bound them
    ends = (raster.bottom_mm + lattice.pitch_mm, raster.top_mm - lattice.pitch_mm)
    inner = (shift.edges.y_mm > ends[0]) & (shift.edges.y_mm < ends[1])
    assert inner.sum() > 1000
    assert shift.shift_mm[inner].max() <= np.hypot(*raster.px_mm)
    found = distortion.regions(sketch, beads)
    assert all(region.kept_percent == pytest.approx(100) for region in found)


def test_beads_too_many_count_against_the_motif():
    lattice = lattice_of(12)
    raster = raster_of(lattice, 200)
    beads = np.zeros(200, dtype=np.intp)
    beads[60:80] = 1
    sketch = LaidSketch(beads[raster.owner], 0, raster)
    assert distortion.kept_percent(sketch, beads) == pytest.approx(100)
    more, fewer, other = beads.copy(), beads.copy(), beads.copy()
    more[100:120] = 1
    fewer[70:80] = 0
    other[70:80] = 2
    # as many beads too many as there should be: half of what is motif in either is in place
    for wrong in (more, fewer, other):
        assert distortion.kept_percent(sketch, wrong) == pytest.approx(50, abs=1)
    ground = LaidSketch(np.zeros(raster.shape, dtype=np.intp), 0, raster)
    assert distortion.kept_percent(ground, beads) is None


def test_an_edge_moved_by_hand():
    # the ground begins one ring of rounds higher than drawn
    lattice = lattice_of(16)
    raster = raster_of(lattice)
    sketch, beads = sketch_of(raster, lambda x, y: y + 0 * x < 40.0)
    _, higher = sketch_of(raster, lambda x, y: y + 0 * x < 40.0 + lattice.rise_mm)
    here, moved = (distortion.edge_shift(sketch, b).numbers for b in (beads, higher))
    assert here.worst_mm <= lattice.covering_radius_mm + 0.1
    assert moved.mean_mm == pytest.approx(lattice.rise_mm, abs=lattice.pitch_mm / 2)
    assert moved.mean_mm > here.mean_mm
    assert moved.mean_beads == pytest.approx(moved.mean_mm / lattice.pitch_mm)


def test_a_line_that_vanishes_is_lost_not_moved():
    lattice = lattice_of(16)
    raster = raster_of(lattice)
    sketch, _ = sketch_of(raster, lambda x, y: (abs(x) < 0.3) & (abs(y - 40) < 9))
    nothing = np.zeros(raster.beads, dtype=np.intp)
    numbers = distortion.edge_shift(sketch, nothing).numbers
    assert numbers.lost_percent == 100
    assert numbers.mean_mm is numbers.p95_mm is numbers.worst_mm is None


def test_the_outline_of_a_lost_piece_is_lost_beside_a_kept_one():
    lattice = lattice_of(16)
    raster = raster_of(lattice)

    def both(x, y):
        return disc(-4, 40, 3.5)(x, y) | disc(1.2, 40, 1.2)(x, y)

    sketch, _ = sketch_of(raster, both)
    _, beads = sketch_of(raster, disc(-4, 40, 3.5))
    shift = distortion.edge_shift(sketch, beads)
    small = np.hypot(shift.edges.x_mm - 1.2, shift.edges.y_mm - 40) < 1.5
    assert shift.lost[small].all()
    assert not shift.lost[~small].any()


@settings(max_examples=15, deadline=None)
@given(st.permutations(range(5)), st.integers(0, 10**6))
def test_recolouring_does_not_move_edges(order, seed):
    raster = raster_of(lattice_of(12), 120, px_per_pitch=10)
    rng = np.random.default_rng(seed)
    blocks = rng.integers(0, 5, (7, 5))
    rows = np.linspace(0, 6.99, raster.shape[0]).astype(int)
    columns = np.linspace(0, 4.99, raster.shape[1]).astype(int)
    sketch = LaidSketch(blocks[np.ix_(rows, columns)], 0, raster)
    beads = rng.integers(0, 5, raster.beads)
    other = np.array(order)
    again = LaidSketch(other[sketch.colours], int(other[0]), raster)
    np.testing.assert_array_equal(
        distortion.edge_shift(sketch, beads).shift_mm,
        distortion.edge_shift(again, other[beads]).shift_mm,
    )


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 200))
def test_turning_the_chart_changes_nothing(columns):
    lattice = lattice_of(16)
    raster = raster_of(lattice, 200, px_per_pitch=10)
    sketch, beads = sketch_of(raster, lambda x, y: disc(1, 28, 5)(x, y) & (x > -1))
    turn_deg = columns * 360.0 / raster.shape[1]
    turned = replace(raster, front_deg=raster.front_deg + turn_deg)
    again = LaidSketch(np.roll(sketch.colours, columns, axis=1), 0, turned)
    here, there = distortion.edge_shift(sketch, beads), distortion.edge_shift(again, beads)
    np.testing.assert_allclose(
        np.sort(here.shift_mm), np.sort(there.shift_mm), atol=1e-6 * lattice.pitch_mm
    )
    for one, other in zip(
        distortion.regions(sketch, beads), distortion.regions(again, beads), strict=True
    ):
        assert one.pieces_before == other.pieces_before
        assert one.holes_before == other.holes_before
        assert one.beads == other.beads
        assert one.kept_percent == pytest.approx(other.kept_percent, abs=1.0)


# -- regions ---------------------------------------------------------------------------------------


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.2, 0.8))
def test_pieces_and_holes_agree_with_skimage(seed, share):
    from skimage import measure

    raster = raster_of(lattice_of(16), 160, px_per_pitch=12)
    rng = np.random.default_rng(seed)
    coarse = np.zeros((14, 12), dtype=bool)
    coarse[1:-1, 1:-1] = rng.random((12, 10)) < share  # ground all round: nothing joins at the back
    rows = np.arange(raster.shape[0]) * 14 // raster.shape[0]
    columns = np.arange(raster.shape[1]) * 12 // raster.shape[1]
    mask = coarse[np.ix_(rows, columns)]
    if not mask.any():
        return
    sketch = LaidSketch(mask.astype(np.intp), 0, raster)
    found = next(
        region
        for region in distortion.regions(sketch, np.zeros(160, dtype=np.intp))
        if not region.is_background
    )
    # corners join pieces and part gaps, or the other way round; here no bead says so
    joined, parted = (int(measure.label(mask, connectivity=corners).max()) for corners in (2, 1))
    assert found.pieces_before == joined <= parted
    assert found.holes_before == parted - measure.euler_number(mask, connectivity=1)
    area = sum(region.area for region in measure.regionprops(measure.label(mask)))
    assert found.area_beads == pytest.approx(
        area * np.prod(raster.px_mm) / raster.lattice.cell_area_mm2
    )


def test_parts_that_touch_in_a_corner_count_as_the_beads_have_it():
    lattice = lattice_of(16)
    raster = raster_of(lattice)
    x, y = raster.x_mm[None, :], raster.y_mm[:, None]
    at_x, at_y = lattice.x_mm(np.arange(raster.beads)), lattice.height_mm(np.arange(raster.beads))
    high = abs(y - 40) < 8

    def worked(parted_mm):
        colours = np.where(high & ((x < 0) == (y < 40)), 1, 0)
        beads = np.where((abs(at_y - 40) < 8) & ((at_x < 0) == (at_y < 40)), 1, 0)
        beads[abs(at_y - 40) < parted_mm] = 0
        (row,) = (
            one for one in distortion.regions(LaidSketch(colours, 0, raster), beads) if one.colour
        )
        return row.pieces_before, row.pieces_after

    assert worked(0) == (1, 1)
    assert worked(3) == (2, 2)


@pytest.mark.parametrize(
    ("drawn", "strands"), [("stripes", 8), ("stripes", 12), ("rings", 16), ("checks", 12)]
)
def test_a_pattern_that_the_ends_cut_is_whole(drawn, strands):
    lattice = lattice_of(strands)
    raster = raster_of(lattice, 30 * strands, px_per_pitch=12)
    n = np.arange(raster.beads)
    wide, high = lattice.circumference_mm / 2, 6.3 * lattice.rise_mm
    if drawn == "rings":
        wide, high = 2 * wide, 1.5 * high

    def ink(x, y):
        right, up = (x / wide) % 1.0 - 0.5, (y / high + 0.03) % 1.0 - 0.5
        if drawn == "stripes":
            return up < 0
        if drawn == "checks":
            return (up < 0) == (right < 0)
        away = np.hypot(right * wide, up * high) / min(wide, high)
        return (away < 0.38) & (away > 0.15)

    sketch, _ = sketch_of(raster, lambda x, y: ink(x, y) & (x < np.inf))
    beads = ink(lattice.x_mm(n), lattice.height_mm(n)).astype(np.intp)
    for row in distortion.regions(sketch, beads):
        assert not row.changed, row
    assert not distortion.edge_shift(sketch, beads).lost.any()
    if drawn == "checks":
        return  # it is both joined and parted
    # what breaks elsewhere is seen
    beads[abs(lattice.height_mm(n) - lattice.height_mm(raster.beads // 2)) < 2 * high] = 1
    (row,) = (one for one in distortion.regions(sketch, beads) if one.colour)
    assert row.changed


def test_an_eye_of_another_colour_is_no_gap():
    raster = raster_of(lattice_of(16))
    body, beads = sketch_of(raster, disc(0, 40, 8))
    x, y = raster.x_mm[None, :], raster.y_mm[:, None]
    for eye, gaps in ((2, 0), (0, 1)):
        colours = np.where(np.hypot(x, y - 40) < 1.2, eye, body.colours)
        found = distortion.regions(LaidSketch(colours, 0, raster), beads)
        (row,) = (one for one in found if one.colour == 1)
        # the eye got beads of the body
        assert (row.holes_before, row.holes_after) == (gaps, 0)


def test_a_ring_round_the_braid_is_one_piece_without_a_hole():
    lattice = lattice_of(16)
    raster = raster_of(lattice)
    sketch, beads = sketch_of(raster, lambda x, y: (abs(y - 40) < 4) & (x < np.inf))
    ring = next(r for r in distortion.regions(sketch, beads) if not r.is_background)
    assert (ring.pieces_before, ring.holes_before) == (1, 0)
    assert (ring.pieces_after, ring.holes_after) == (1, 0)
    assert ring.narrowest_mm == pytest.approx(8, abs=0.3)


@settings(max_examples=8, deadline=None)
@given(st.integers(0, 10**6), st.sampled_from([8, 16]))
def test_pieces_of_beads_agree_with_their_cells_in_skimage(seed, strands):
    from skimage import measure

    lattice = lattice_of(strands)
    raster = raster_of(lattice, 10 * strands, px_per_pitch=24)
    n = np.arange(raster.beads)
    far = abs(lattice.x_mm(n)) > lattice.circumference_mm / 2 - 1.2 * lattice.pitch_mm
    ends = (n < 2 * strands) | (n >= 8 * strands)
    chosen = (np.random.default_rng(seed).random(len(n)) < 0.5) & ~far & ~ends
    if not chosen.any():
        return
    mask = chosen[raster.owner]
    sketch = LaidSketch(mask.astype(np.intp), 0, raster)
    found = next(
        r for r in distortion.regions(sketch, chosen.astype(np.intp)) if not r.is_background
    )
    # sides of cells are shared by whole rows of pixels, so sides connect, corners do not
    pieces = int(measure.label(mask, connectivity=1).max())
    assert found.pieces_after == pieces
    assert found.holes_after == pieces - measure.euler_number(mask, connectivity=1)


def test_a_thin_stem_and_a_thin_gap_are_lines_and_a_corner_is_none():
    raster = raster_of(lattice_of(16), 320, px_per_pitch=24)
    x, y = raster.x_mm[None, :], raster.y_mm[:, None]
    stem = (np.hypot(x, y - 50) < 5) | ((abs(x) < 0.5) & (abs(y - 40) < 10))
    gap = (abs(x) < 8) & (abs(y - 40) < 8) & (abs(x) > 0.4)
    corner = (y > 30) & (y < 50) & (abs(x) < (50 - y) / 2)  # of 53 degrees
    found = {}
    for name, mask, (right, up) in (
        ("stem", stem, (0.3, 34.0)),
        ("gap", gap, (0.2, 40.0)),
        ("corner", corner, (0.0, 49.7)),
        ("disc", stem, (4.9, 50.0)),
        ("beside", stem, (0.7, 34.0)),
    ):
        row = int(np.argmin(abs(raster.y_mm - up)))
        pixel = row * raster.shape[1] + int(np.argmin(abs(raster.x_mm - right)))
        sketch = LaidSketch(mask.astype(np.intp), 0, raster)
        found[name] = distortion.thin_line(sketch, pixel, 3.6)
    assert found["stem"] is not None
    assert found["stem"].width_mm == pytest.approx(1.0, abs=2 * max(raster.px_mm))
    assert not found["stem"].gap
    assert found["gap"] is not None
    assert found["gap"].width_mm == pytest.approx(0.8, abs=2 * max(raster.px_mm))
    assert found["gap"].gap
    assert [found[name] for name in ("corner", "disc", "beside")] == [None] * 3


@pytest.mark.parametrize("width", [0.8, 2.0, 3.5])
def test_the_narrowest_part_of_a_stroke_is_its_width(width):
    raster = raster_of(lattice_of(16), 320, px_per_pitch=24)
    # a raster with a stem: the stem is what breaks
    sketch, beads = sketch_of(
        raster,
        lambda x, y: disc(0, 45, 5)(x, y) | ((abs(x - 1) < width / 2) & (abs(y - 30) < 12)),
    )
    found = next(r for r in distortion.regions(sketch, beads) if not r.is_background)
    assert found.narrowest_mm == pytest.approx(width, abs=2 * raster.px_mm[0])
    assert found.narrowest_beads == pytest.approx(found.narrowest_mm / raster.lattice.pitch_mm)


def test_a_corner_is_not_narrow():
    raster = raster_of(lattice_of(16), 320, px_per_pitch=24)
    sketch, beads = sketch_of(raster, lambda x, y: (abs(x) < 4) & (abs(y - 40) < 6))
    found = next(r for r in distortion.regions(sketch, beads) if not r.is_background)
    assert found.narrowest_mm == pytest.approx(8, abs=2 * raster.px_mm[0])


@settings(max_examples=10, deadline=None)
@given(st.floats(0.3, 4.0), st.floats(-2, 2), st.floats(-2, 2))
def test_a_finer_lattice_loses_nothing_without_a_reason(radius, x0, y0):
    looked_at = 0
    for size in ("8/0", "11/0", "15/0"):
        lattice = lattice_of(8, size=size)
        if radius > lattice.circumference_mm / 2.2:
            continue
        raster = raster_of(lattice, 160, px_per_pitch=14)
        sketch, beads = sketch_of(raster, disc(x0 / 2, 25 + y0, radius))
        found = [r for r in distortion.regions(sketch, beads) if not r.is_background]
        if not found:
            continue  # less than a speck
        (region,) = found
        # some bead's centre always lies inside a disc that is as large as the widest gap
        assert region.beads or radius <= lattice.covering_radius_mm
        assert region.why or (region.beads and not region.pieces_lost)
        assert region.why or region.kept_percent >= 60
        looked_at += 1
    assert looked_at


def test_reasons_by_hand():
    raster = raster_of(lattice_of(16))
    empty = np.zeros(raster.beads, dtype=np.intp)
    speck, _ = sketch_of(raster, disc(0, 40, 1.0))
    line, _ = sketch_of(raster, lambda x, y: (abs(x) < 0.5) & (abs(y - 40) < 15))
    reason = {
        name: next(r.why for r in distortion.regions(s, empty) if not r.is_background)
        for name, s in (("speck", speck), ("line", line))
    }
    assert reason == {
        "speck": distortion.Why.SMALLER_THAN_A_BEAD,
        "line": distortion.Why.NARROWER_THAN_A_BEAD,
    }


# -- sight, seams, places --------------------------------------------------------------------------


def test_half_the_round_is_seen_as_the_cosine_says():
    # a plain motif half round: a third within 30°, two thirds within 60°; seen from the front its
    # true width πR shows as 2R
    raster = raster_of(lattice_of(16), px_per_pitch=40)
    quarter = raster.lattice.circumference_mm / 4
    sketch, _ = sketch_of(raster, lambda x, y: (abs(x) < quarter) & (abs(y - 40) < 9))
    seen = distortion.visibility(sketch)
    assert seen.within_30_deg_percent == pytest.approx(100 / 3, abs=0.6)
    assert seen.within_60_deg_percent == pytest.approx(200 / 3, abs=0.6)
    assert seen.within_90_deg_percent == pytest.approx(100, abs=0.6)
    assert seen.apparent_width_percent == pytest.approx(100 * 2 / np.pi, abs=0.6)


def test_a_motif_all_round_is_half_hidden_and_one_behind_wholly():
    raster = raster_of(lattice_of(16), px_per_pitch=40)
    quarter = raster.lattice.circumference_mm / 4
    ring, _ = sketch_of(raster, lambda x, y: (abs(y - 40) < 9) & (x < np.inf))
    assert distortion.visibility(ring).hidden_percent == pytest.approx(50, abs=1)
    behind, _ = sketch_of(raster, lambda x, y: (abs(x) > quarter + 0.5) & (abs(y - 40) < 9))
    assert distortion.visibility(behind).hidden_percent == 100
    # the worker who looks from behind sees it all
    assert distortion.visibility(behind, front_deg=0.0).hidden_percent == 0


@pytest.mark.parametrize("angle", [20.0, 50.0, 80.0])
def test_a_narrow_stripe_shrinks_by_the_cosine_of_its_angle(angle):
    raster = raster_of(lattice_of(16), px_per_pitch=60)
    at = np.deg2rad(angle) * raster.lattice.radius_mm
    sketch, _ = sketch_of(raster, lambda x, y: (abs(x - at) < 0.1) & (abs(y - 40) < 9))
    seen = distortion.visibility(sketch)
    assert seen.apparent_width_percent == pytest.approx(100 * np.cos(np.deg2rad(angle)), abs=2.0)


def test_what_does_not_change_along_a_direction_has_no_seam_across_it():
    raster = raster_of(lattice_of(12))
    stripes, _ = sketch_of(raster, lambda x, y: (np.floor(x) % 3).astype(int) + 0 * y.astype(int))
    rings, _ = sketch_of(raster, lambda x, y: (np.floor(y) % 4).astype(int) + 0 * x.astype(int))
    assert distortion.seam_repeat(stripes, 30.0).differ_percent == 0
    assert distortion.seam_round(rings).differ_percent == 0
    joined = distortion.seam_round(rings)
    assert sum(met.length_mm for met in joined.meetings) == pytest.approx(joined.length_mm)


def test_a_seam_by_hand():
    # below 50 mm: colour 1 on the left half; above: colour 2 all round
    raster = raster_of(lattice_of(12), px_per_pitch=40)
    sketch, _ = sketch_of(raster, lambda x, y: np.where(y > 50, 2, (x < 0).astype(int)))
    half = raster.lattice.circumference_mm / 2
    join = distortion.seam_repeat(sketch, 50.0)
    assert join.differ_percent == pytest.approx(100)
    assert {(met.one, met.other): met.length_mm for met in join.meetings} == {
        (0, 2): pytest.approx(half, abs=0.2),
        (1, 2): pytest.approx(half, abs=0.2),
    }
    # round the braid the right edge (0) meets the left edge (1) below, 2 meets 2 above
    below = 50.0 - raster.bottom_mm
    round_ = distortion.seam_round(sketch)
    assert round_.differ_percent == pytest.approx(100 * below / round_.length_mm, abs=0.5)
    assert round_.meetings[0][:2] in {(0, 1), (2, 2)}


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 199), st.sampled_from([8, 16]), st.floats(-90, 90))
def test_a_place_names_the_bead_that_lies_there(crossing, strands, turn):
    lattice = lattice_of(strands)
    raster = raster_of(lattice, 200, front_deg=180.0 + turn)
    x = float(lattice.x_mm(crossing, raster.front_deg))
    place = distortion.place_of(raster, x, float(lattice.height_mm(crossing)), 180.0)
    assert place.crossing == crossing + 1
    moves = list(lattice.braid.work(200))
    strand = moves[crossing].strand
    assert place.strand == strand + 1
    assert place.order == sum(move.strand == strand for move in moves[: crossing + 1])
    off = place.azimuth_deg - float(lattice.azimuth_deg(crossing))
    assert (off + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)
    # clockwise from above is to the left of the front
    away = (180.0 - place.azimuth_deg + 180) % 360 - 180
    assert (place.from_front_deg - away + 180) % 360 - 180 == pytest.approx(0, abs=1e-6)


# -- limits ----------------------------------------------------------------------------------------


def report(p95=1.0, lost=0.0, kept=80.0, mean=3.0):
    return SimpleNamespace(
        edges=SimpleNamespace(p95_mm=p95, lost_percent=lost),
        regions=[
            SimpleNamespace(is_background=True, code="A", kept_percent=1.0),
            SimpleNamespace(is_background=False, code="B", kept_percent=kept),
        ],
        colour=SimpleNamespace(mean_de00=mean),
    )


def test_limits_that_are_kept_and_missed():
    def missed(*report, **limits):
        return [(one.code, one.data) for one in missed_limits(*report, **limits)]

    assert missed(report()) == []
    assert missed(report(), edge_mm=1.0, kept_percent=80.0, colour_de=3.0) == []
    (why,) = missed(report(), edge_mm=0.99)
    assert why == (Code.LIMIT_EDGES, {"p95_mm": 1.0, "limit_mm": 0.99})
    (why,) = missed(report(), kept_percent=80.1)
    assert why[0] is Code.LIMIT_KEPT
    assert (why[1]["code"], why[1]["limit_percent"]) == ("B", 80.1)
    (why,) = missed(report(), colour_de=2.9)
    assert why == (Code.LIMIT_COLOUR, {"mean_de00": 3.0, "limit_de00": 2.9})
    (why,) = missed(report(p95=0.1, lost=5.1), edge_mm=9.0)
    assert why == (Code.LIMIT_EDGES_LOST, {"lost_percent": 5.1, "limit_mm": 9.0})
    assert missed(report(p95=None, mean=None), edge_mm=1.0, colour_de=1.0) == []
    (why,) = missed(report(p95=None, lost=100.0), edge_mm=1.0)
    assert why == (Code.LIMIT_EDGES_LOST, {"lost_percent": 100.0, "limit_mm": 1.0})


@pytest.mark.parametrize("strands", STRANDS)
def test_a_part_as_wide_as_is_advised_holds_a_bead_wherever_it_lies(strands):
    for size in ("15/0", "8/0", "6/0"):
        lattice = Lattice.computed(Braid(strands), bead_size(size))
        gap = 2 * lattice.covering_radius_mm / lattice.pitch_mm
        assert 1.15 < gap < DRAW_PITCHES
