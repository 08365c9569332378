"""The lattice against spheres, hands and published packings, not against its own formulas."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from himotif.core.bead import BeadSize, bead_size
from himotif.core.braid.braid import STRANDS, Braid, Lay, Turn
from himotif.core.braid.lattice import Lattice, Swatch, solve_contacts
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial import Voronoi

LAYS: tuple[Lay, ...] = ("S", "Z")
EIGHT_O = bead_size("8/0")


def spheres(lattice: Lattice, count: int) -> np.ndarray:
    """Centres in bead diameters, (count, 3): east, north, up; the braid stretched to spheres."""
    beads = np.arange(count)
    azimuth = np.deg2rad(lattice.azimuth_deg(beads))
    flat = lattice.radius_mm / lattice.diameter_mm
    up = lattice.height_mm(beads) / (lattice.diameter_mm * lattice.squash)
    return np.stack([flat * np.sin(azimuth), flat * np.cos(azimuth), up], 1)


def gaps_of_the_middle_bead(lattice: Lattice) -> np.ndarray:
    count = 16 * lattice.braid.beads_per_round
    centres = spheres(lattice, count)
    gaps = np.linalg.norm(centres - centres[count // 2], axis=1)
    return np.delete(gaps, count // 2)


# Radius and rise, from the contact equations solved by hand calculator: R/d, (2R + d)/d, h/d.
TABLE = {
    8: (0.8302, 2.6604, 0.7722),
    12: (1.1394, 3.2789, 0.8075),
    16: (1.4523, 3.9047, 0.8239),
    20: (1.7671, 4.5342, 0.8333),
    24: (2.0829, 5.1659, 0.8392),
}


@pytest.mark.parametrize("strands", STRANDS)
def test_radius_thickness_and_rise_of_the_usual_turn(strands: int) -> None:
    lattice = Lattice.computed(_usual(strands), EIGHT_O)
    radius, thickness, rise = TABLE[strands]
    assert lattice.radius_mm / 3.0 == pytest.approx(radius, abs=5e-5)
    assert lattice.thickness_mm / 3.0 == pytest.approx(thickness, abs=1e-4)
    # common practice: h = l for eight strands, the others in proportion
    assert lattice.rise_mm / 2.1 == pytest.approx(rise / 0.7722, abs=1e-4)


def _usual(strands: int, lay: Lay = "S") -> Braid:
    return Braid(strands, lay, "usual")


@pytest.mark.parametrize("turn", ["usual", "other"])
@pytest.mark.parametrize("strands", [8, 12, 16, 20])
def test_spheres_touch_and_nowhere_overlap(strands: int, turn: Turn) -> None:
    gaps = np.sort(gaps_of_the_middle_bead(Lattice.computed(Braid(strands, "S", turn), EIGHT_O)))
    assert gaps[0] == pytest.approx(1, abs=1e-9)
    assert (gaps < 1 + 1e-9).sum() >= 4  # two kinds of neighbour, on either side: it cannot shrink


@pytest.mark.parametrize("turn", ["usual", "other"])
@pytest.mark.parametrize("strands", [8, 12, 16])
def test_no_smaller_braid_fits(strands: int, turn: Turn) -> None:
    """Search radius and rise on a grid: whatever takes less room than the lattice overlaps."""
    braid = Braid(strands, "S", turn)
    lattice = Lattice.computed(braid, EIGHT_O)
    radius = lattice.radius_mm / 3.0
    rise = lattice.rise_mm / (3.0 * lattice.squash)
    beads = np.arange(-8 * braid.axes, 8 * braid.axes)
    beads = beads[beads != 0]
    across = 2 * (1 - np.cos(np.deg2rad(lattice.azimuth_deg(beads))))
    up = (lattice.height_mm(beads) / lattice.rise_mm) ** 2
    radii = np.linspace(0.3, 2.5 * radius, 220)[:, None]
    rises = np.linspace(0.05, 2.5 * rise, 220)[None, :]
    # beads overlap if closer than 0.98: the grid may miss a corner by that much
    free = np.all(radii[..., None] ** 2 * across + rises[..., None] ** 2 * up > 0.98**2, axis=-1)
    volume = (radii + 0.5) ** 2 * rises
    assert free.any()
    assert volume[free].min() > 0.95 * (radius + 0.5) ** 2 * rise


@pytest.mark.parametrize(
    ("ring", "diameter", "layer", "fraction"),
    [
        # Mughal, Chan, Weaire, Hutzler, "Dense packings of spheres in cylinders: Simulations",
        # Phys. Rev. E 85, 051305 (2012); values and citation from memory
        (4, 1 + np.sqrt(2), 0.8409, 0.5441),
        (5, 2.7013, None, 0.537),
    ],
)
def test_solver_gives_published_rings_of_spheres(
    ring: int, diameter: float, layer: float | None, fraction: float
) -> None:
    """Rings in which each sphere touches its two neighbours, each ring in the gaps of the last."""
    radius, rise = solve_contacts([360 / ring, 180 / ring], [0, 1])
    assert 2 * radius + 1 == pytest.approx(diameter, abs=5e-5)
    if layer is not None:
        assert rise == pytest.approx(layer, abs=5e-5)
    cylinder = np.pi / 4 * (2 * radius + 1) ** 2 * rise
    assert ring * np.pi / 6 / cylinder == pytest.approx(fraction, abs=5e-4)


def test_solver_gives_a_straight_row_and_refuses_the_impossible() -> None:
    # a square zigzag: neighbours half a turn apart, the next but one straight above
    solved = solve_contacts([180, 0], [1, 2])
    assert solved == pytest.approx((np.sqrt(3) / 4, 0.5))  # an equilateral triangle of spheres
    assert np.isnan(solve_contacts([[90, 90], [10, 20]], [[1, 1], [1, 1]])).all()


@pytest.mark.parametrize("size", ["15/0", "11/0", "8/0", "6/0"])
def test_half_length_rule(size: str) -> None:
    """The strung length on each of eight strands is half the braid's length (common practice)."""
    bead = bead_size(size)
    lattice = Lattice.computed(Braid(8), bead)
    beads = 8 * 40
    strung_mm = np.bincount(lattice.braid.strand_of(np.arange(beads))) * bead.length_mm
    braid_mm = float(lattice.height_mm(beads) - lattice.height_mm(0))
    assert strung_mm == pytest.approx(np.full(8, braid_mm / 2))


def test_counts_of_the_trade() -> None:
    """8/0: 11-12.5 strung to the inch, 5.5-6.25 a strand to an inch of braid (common practice)."""
    for length_mm in (2.1, 2.2, 2.3):
        lattice = Lattice.computed(Braid(8), BeadSize(None, 3.0, length_mm))
        beads_mm = np.count_nonzero(lattice.height_mm(np.arange(2000)) < 254.0) / 254.0
        assert 43 <= beads_mm * 25.4 <= 48.9  # 43-48 to the inch of braid
        assert 5.4 <= beads_mm * 25.4 / 8 <= 6.25
        assert 38.5 <= beads_mm * 178 / 8 <= 44  # 17.8 cm take 39-44 a strand
        assert lattice.thickness_mm == pytest.approx(8.0, abs=0.05)


def test_hollow_in_bead_diameters() -> None:
    for strands, hollow in ((8, 0.66), (12, 1.28), (16, 1.90)):
        lattice = Lattice.computed(_usual(strands), EIGHT_O)
        assert lattice.hollow_mm / 3.0 == pytest.approx(hollow, abs=6e-3)


def _same_pair_next_round(braid: Braid, crossing: int) -> int:
    """Next crossing that leaves the same pair, found on the slots.

    The strand that waits beside the empty slot is the next one of its pair to leave.
    """
    moves = list(braid.work(crossing + 4 * braid.beads_per_round))
    shift = 1 if braid.lay == "S" else -1
    waiting = (moves[crossing].from_slot + shift - 1) % braid.start.slots + 1
    return next(m.crossing for m in moves[crossing + 1 :] if m.from_slot == waiting)


@pytest.mark.parametrize("strands", STRANDS)
@pytest.mark.parametrize("lay", LAYS)
def test_columns_lean_like_the_letter(strands: int, lay: Lay) -> None:
    """S: columns run from top left to bottom right seen from outside (common practice)."""
    braid = _usual(strands, lay)
    lattice = Lattice.computed(braid, EIGHT_O)
    for crossing in range(strands):
        above = _same_pair_next_round(braid, crossing)
        assert lattice.height_mm(above) - lattice.height_mm(crossing) == pytest.approx(
            lattice.rise_mm
        )
        # seen with the lower bead in the middle; +x is to the right, clockwise runs to the left
        right = lattice.x_mm(above, front_deg=float(lattice.azimuth_deg(crossing)))
        assert np.sign(right) == (-1 if lay == "S" else 1)
        assert abs(right) == pytest.approx(lattice.circumference_mm / strands)


@pytest.mark.parametrize("lay", LAYS)
def test_clockwise_from_above_runs_to_the_left_seen_from_outside(lay: Lay) -> None:
    """Stand the braid up: seen from the south, west (azimuth 270) lies to the left."""
    lattice = Lattice.computed(Braid(8, lay), EIGHT_O)
    beads = np.arange(64)
    azimuth = lattice.azimuth_deg(beads)
    right = lattice.x_mm(beads)
    west, east = (azimuth > 185) & (azimuth < 355), (azimuth > 5) & (azimuth < 175)
    assert (right[west] < 0).all()
    assert (right[east] > 0).all()
    # and the eye south of the braid, looking north, has east on its right hand
    east_mm = lattice.radius_mm * np.sin(np.deg2rad(azimuth))
    front = np.cos(np.deg2rad(azimuth)) < -0.1
    assert (np.sign(np.round(right[front], 6)) == np.sign(np.round(east_mm[front], 6))).all()


@pytest.mark.parametrize("strands", STRANDS)
@pytest.mark.parametrize("lay", LAYS)
def test_step_along_a_strand(strands: int, lay: Lay) -> None:
    """A strand's next bead lies two rounds higher, -180 + 2 drifts round (Z: the mirror image)."""
    lattice = Lattice.computed(_usual(strands, lay), EIGHT_O)
    worked = np.array([move.strand for move in lattice.braid.work(8 * strands)])
    for strand in range(strands):
        mine = np.flatnonzero(worked == strand)
        assert len(mine) == 8
        assert np.diff(lattice.height_mm(mine)) == pytest.approx(np.full(7, 2 * lattice.rise_mm))
        wound = np.diff(lattice.azimuth_deg(mine))
        step = (-180 + 180 / lattice.braid.axes) * (1 if lay == "S" else -1)
        assert (wound - step + 180) % 360 - 180 == pytest.approx(np.zeros(7), abs=1e-6)


@pytest.mark.parametrize("lay", LAYS)
def test_eight_strands_visit_four_faces_in_four_beads(lay: Lay) -> None:
    """Four beads a strand, eight rounds, thirty-two beads: the same face (common practice)."""
    lattice = Lattice.computed(Braid(8, lay), EIGHT_O)
    for strand in range(8):
        azimuth = lattice.azimuth_deg(lattice.braid.crossing_of(strand, np.arange(5)))
        faces = (azimuth - azimuth[0]) % 360
        assert sorted(np.round(faces[:4], 6).tolist()) == [0, 90, 180, 270]
        assert faces[4] % 360 == pytest.approx(0, abs=1e-6)
    beads = np.arange(32)
    assert lattice.azimuth_deg(beads + 32) == pytest.approx(lattice.azimuth_deg(beads))
    assert lattice.braid.strand_of(beads + 32).tolist() == lattice.braid.strand_of(beads).tolist()
    assert lattice.face_return(2).rounds == 8
    assert lattice.face_return(2).walk_deg == 0


@given(
    st.sampled_from((8, 12, 16, 20)),
    st.sampled_from(LAYS),
    st.floats(6, 20),
    st.floats(1, 3),
    st.floats(15, 60),
)
def test_a_measured_swatch_wins(
    strands: int, lay: Lay, thickness_mm: float, rise_mm: float, drift_deg: float
) -> None:
    braid = _usual(strands, lay)
    lattice = Lattice.computed(braid, EIGHT_O, Swatch(thickness_mm, rise_mm, drift_deg))
    assert lattice.thickness_mm == pytest.approx(thickness_mm)
    assert set(lattice.source.values()) == {"measured"}
    above = braid.beads_per_round * 2
    assert lattice.height_mm(above) - lattice.height_mm(0) == pytest.approx(2 * rise_mm)
    # one column, followed for as many rounds as it needs, comes round once
    turned = float(lattice.columns_per_turn) * drift_deg
    assert turned == pytest.approx(360)
    column = _same_pair_next_round(braid, 0)
    moved = (lattice.azimuth_deg(column) - lattice.azimuth_deg(0) + 180) % 360 - 180
    assert moved == pytest.approx(drift_deg if lay == "S" else -drift_deg)


@given(st.sampled_from(STRANDS), st.sampled_from(LAYS), st.integers(0, 2**32 - 1))
def test_owner_is_the_nearest_bead_of_all(strands: int, lay: Lay, seed: int) -> None:
    lattice = Lattice.computed(_usual(strands, lay), EIGHT_O)
    count = 6 * lattice.braid.beads_per_round
    rng = np.random.default_rng(seed)
    x = rng.uniform(-1, 1, 40) * lattice.circumference_mm / 2
    y = rng.uniform(-1, 7, 40) * lattice.rise_mm
    beads = np.arange(count)
    round_mm = lattice.circumference_mm
    across = x[:, None] - lattice.x_mm(beads)
    across = (across + round_mm / 2) % round_mm - round_mm / 2
    away = np.hypot(across, y[:, None] - lattice.height_mm(beads))
    owner = lattice.owner(x, y, count)
    assert away[np.arange(40), owner] == pytest.approx(away.min(axis=1), abs=1e-9)


@pytest.mark.parametrize("strands", STRANDS)
def test_cells_tile_the_unrolled_braid(strands: int) -> None:
    """The cell round a bead has the area of its share, and every point in it is nearest to it."""
    lattice = Lattice.computed(_usual(strands), EIGHT_O)
    x, y = lattice.cell_mm.T
    area = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
    assert area == pytest.approx(lattice.cell_area_mm2)  # counter-clockwise: above 0
    count = 8 * lattice.braid.beads_per_round
    middle = count // 2
    inside = 0.98 * lattice.cell_mm + [lattice.x_mm(middle), lattice.height_mm(middle)]
    assert (lattice.owner(inside[:, 0], inside[:, 1], count) == middle).all()
    assert lattice.covering_radius_mm == pytest.approx(np.hypot(x, y).max())


@pytest.mark.parametrize("strands", [8, 12, 24])
@pytest.mark.parametrize("lay", LAYS)
def test_cells_and_neighbours_of_thin_and_of_thick_braids(strands: int, lay: Lay) -> None:
    """Against scipy's Voronoi diagram of all beads, laid three times side by side."""
    usual = Lattice.computed(_usual(strands, lay), EIGHT_O)
    count = 8 * usual.braid.beads_per_round
    middle = count // 2
    for thinner, taller in product((0.45, 0.7, 1.0, 1.6), (0.5, 0.9, 1.4, 2.2, 3.3)):
        lattice = replace(
            usual, radius_mm=thinner * usual.radius_mm, rise_mm=taller * usual.rise_mm
        )
        x, y = lattice.cell_mm.T
        area = 0.5 * float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))
        assert area == pytest.approx(
            lattice.circumference_mm * lattice.rise_mm / lattice.braid.beads_per_round
        )
        beads = np.arange(count)
        turns = np.repeat([0, -1, 1], count)
        across = np.tile(lattice.x_mm(beads), 3) + turns * lattice.circumference_mm
        diagram = Voronoi(np.stack([across, np.tile(lattice.height_mm(beads), 3)], 1))
        found = []
        for pair, ends in zip(diagram.ridge_points, diagram.ridge_vertices, strict=True):
            if middle in pair:
                edge_mm = np.linalg.norm(np.subtract(*diagram.vertices[ends]))
                if edge_mm > 1e-6:
                    found.append(int(pair.sum() - middle) % count)
        assert sorted(lattice.neighbours(count)[middle].tolist()) == sorted(found)
        centre = [lattice.x_mm(middle), lattice.height_mm(middle)]
        to_neighbours = lattice.offsets_mm + centre
        nearest = lattice.owner(to_neighbours[:, 0], to_neighbours[:, 1], count)
        assert nearest.tolist() == lattice.neighbours(count)[middle].tolist()


@pytest.mark.parametrize("strands", STRANDS)
@pytest.mark.parametrize("lay", LAYS)
def test_neighbours_are_mutual_and_close(strands: int, lay: Lay) -> None:
    lattice = Lattice.computed(_usual(strands, lay), EIGHT_O)
    count = 10 * lattice.braid.beads_per_round
    near = lattice.neighbours(count)
    for bead in range(count):
        for other in near[bead][near[bead] >= 0]:
            assert bead in near[other]
    middle = count // 2
    gaps = gaps_of_the_middle_bead(lattice)
    centres = spheres(lattice, count)
    reach = np.linalg.norm(centres[near[middle]] - centres[middle], axis=1)
    # every touching bead is among the six
    assert (reach < 1 + 1e-6).sum() == (gaps < 1 + 1e-6).sum()
