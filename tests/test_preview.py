"""The preview: what is seen where, the right way round, hidden or not, in true colours."""

from __future__ import annotations

import numpy as np
import pytest
from himotif.core.bead import Bead, DropShape, bead_size
from himotif.core.braid.braid import Braid, Lay
from himotif.core.braid.lattice import Lattice
from himotif.core.show.preview import (
    NOBODY,
    THE_CORE,
    Look,
    bead_shape,
    braid_frame,
    braid_view,
    core_radius_mm,
)
from himotif.core.srgb import linear_to_srgb, srgb_to_linear
from hypothesis import given, settings
from hypothesis import strategies as st
from seen import braid_owner, wider

PAPER = (250, 250, 248)


def lattice_of(strands: int = 8, lay: Lay = "S") -> Lattice:
    return Lattice.computed(Braid(strands, lay), bead_size("8/0"))


def pixel_of(lattice: Lattice, count: int, bead: int, view_deg: float, px_per_mm: float):
    """Row and column of a bead's centre, from the definition of the view."""
    frame = braid_frame(lattice, count, px_per_mm)
    turned = np.deg2rad(lattice.azimuth_deg(bead) - view_deg)
    x = -lattice.radius_mm * np.sin(turned)
    row = int((frame.top_mm - lattice.height_mm(bead)) * px_per_mm)
    return row, int(frame.column_px(x))


@pytest.mark.parametrize("strands", [8, 12, 16, 20, 24])
def test_bead_in_front_of_the_viewer_lies_on_the_middle_line(strands: int) -> None:
    lattice = lattice_of(strands)
    count = 8 * lattice.braid.beads_per_round
    bead = count // 2
    owner = braid_owner(lattice, count, float(lattice.azimuth_deg(bead)), 12)
    row, column = pixel_of(lattice, count, bead, float(lattice.azimuth_deg(bead)), 12)
    assert column in (owner.shape[1] // 2 - 1, owner.shape[1] // 2)
    assert owner[row, column] == bead


def test_east_is_on_the_right_of_the_front() -> None:
    lattice = lattice_of(8)
    east = [n for n in range(32) if np.isclose(lattice.azimuth_deg(n), 90.0)]
    assert len(east) == 2
    owner = braid_owner(lattice, 32, 180.0, 12)
    for bead in east:
        columns = np.nonzero(owner == bead)[1]
        assert columns.max() == owner.shape[1] - 1
        assert columns.min() > owner.shape[1] // 2
    # and on the left of the back
    assert np.nonzero(braid_owner(lattice, 32, 0.0, 12) == east[0])[1].min() == 0


def test_newer_beads_lie_higher() -> None:
    lattice = lattice_of(8)
    owner = braid_owner(lattice, 64, 180.0, 8)
    rows = np.nonzero(owner >= 0)[0]
    heights = owner[owner >= 0] // 2
    assert np.corrcoef(rows, heights)[0, 1] < -0.99


@pytest.mark.parametrize("strands", [8, 16, 24])
def test_beads_on_the_far_side_are_hidden(strands: int) -> None:
    lattice = lattice_of(strands)
    count = 16 * lattice.braid.beads_per_round
    middle = np.arange(count // 4, 3 * count // 4)
    for view in (0.0, 33.0, 180.0):
        behind = np.cos(np.deg2rad(lattice.azimuth_deg(middle) - view)) < -0.95
        seen = np.unique(braid_owner(lattice, count, view, 10))
        assert behind.any()
        assert not np.isin(middle[behind], seen).any()
        facing = np.cos(np.deg2rad(lattice.azimuth_deg(middle) - view)) > 0.7
        assert facing.any()
        assert np.isin(middle[facing], seen).all()


def cast_rays(lattice: Lattice, count: int, view_deg: float, x: np.ndarray, y: np.ndarray):
    """First thing that rays meet: rays and spheroids in the braid's own frame, all beads tried.

    East is +X, north is +Y, Z is up; a ray starts at p = right·x + up·y + towards·100 and runs
    along -towards. A spheroid is the unit sphere after scaling, so the quadratic equation
    |o + t·v|² = 1 holds for the scaled ray.
    """
    view = np.deg2rad(view_deg)
    towards = np.array([np.sin(view), np.cos(view), 0.0])
    up = np.array([0.0, 0.0, 1.0])
    right = np.cross(up, towards)
    azimuth = np.deg2rad(lattice.azimuth_deg(np.arange(count)))
    centres = np.stack(
        [
            lattice.radius_mm * np.sin(azimuth),
            lattice.radius_mm * np.cos(azimuth),
            lattice.height_mm(np.arange(count)),
        ],
        1,
    )
    shape = bead_shape(lattice)
    scale = np.array([shape.across_mm, shape.across_mm, shape.along_mm])
    start = x[:, None] * right + y[:, None] * up + 100 * towards
    met = np.full(len(x), NOBODY)
    nearest = np.full(len(x), np.inf)
    core = core_radius_mm(lattice)
    a, b = 1.0, start[:, :2] @ -towards[:2]
    c = (start[:, :2] ** 2).sum(1) - core**2
    root = b**2 - a * c
    # the cords end as far below the first bead as above the last one, at the edge of the picture
    top = braid_frame(lattice, count, 9.0).top_mm
    hit = (root > 0) & (y >= lattice.height_mm(count - 1) - top)
    nearest[hit] = -b[hit] - np.sqrt(root[hit])
    met[hit] = THE_CORE
    direction = -towards / scale
    a = direction @ direction
    for bead, centre in enumerate(centres):
        origin = (start - centre) / scale
        b = origin @ direction
        root = b**2 - a * ((origin**2).sum(1) - 1)
        t = np.full(len(x), np.inf)
        t[root > 0] = (-b[root > 0] - np.sqrt(root[root > 0])) / a
        nearer = t < nearest
        nearest[nearer], met[nearer] = t[nearer], bead
    return met, nearest


@settings(max_examples=12, deadline=None)
@given(
    strands=st.sampled_from([8, 12, 16, 20, 24]),
    lay=st.sampled_from(["S", "Z"]),
    view_deg=st.floats(0, 360),
    seed=st.integers(0, 2**16),
    drift_share=st.floats(0.7, 1.4),
)
def test_agrees_with_rays_cast_at_every_bead(
    strands: int, lay: Lay, view_deg: float, seed: int, drift_share: float
) -> None:
    computed = lattice_of(strands, lay)
    # measured drifts too: beads may then overlap, and depth must decide within the overlap
    lattice = Lattice(
        computed.braid,
        computed.radius_mm,
        computed.rise_mm,
        computed.drift_deg * drift_share,
        computed.diameter_mm,
        computed.length_mm,
    )
    count = 5 * lattice.braid.beads_per_round
    px_per_mm = 9.0
    owner = braid_owner(lattice, count, view_deg, px_per_mm)
    frame = braid_frame(lattice, count, px_per_mm)
    random = np.random.default_rng(seed)
    rows = random.integers(0, frame.height_px, 300)
    columns = random.integers(0, frame.width_px, 300)
    x, y = frame.x_mm[columns], frame.y_mm[rows]
    met, depth = cast_rays(lattice, count, view_deg, x, y)
    wrong = met != owner[rows, columns]
    # only where two things are met within a thousandth of a mm may rounding decide otherwise
    for dx, dy in ((2e-3, 0), (-2e-3, 0), (0, 2e-3), (0, -2e-3)):
        near, _ = cast_rays(lattice, count, view_deg, x[wrong] + dx, y[wrong] + dy)
        if wrong.any():
            settled = near == owner[rows, columns][wrong]
            wrong[np.flatnonzero(wrong)[settled]] = False
    assert not wrong.any()
    assert (np.isfinite(depth) == (met != NOBODY)).all()
    assert len(np.unique(met)) > 10


@pytest.mark.parametrize("px_per_mm", [8.0, 13.0])
@pytest.mark.parametrize("strands", [8, 16])
def test_width_is_the_thickness_at_scale(strands: int, px_per_mm: float) -> None:
    lattice = lattice_of(strands)
    count = 8 * lattice.braid.beads_per_round
    columns = np.nonzero(braid_owner(lattice, count, 180.0, px_per_mm, margin_mm=2) >= 0)[1]
    assert columns.max() - columns.min() + 1 == pytest.approx(
        lattice.thickness_mm * px_per_mm, abs=2
    )


def test_length_is_the_rise_at_scale() -> None:
    lattice = lattice_of(8)
    row = [pixel_of(lattice, 64, bead, 180.0, 16)[0] for bead in (0, 40)]
    assert row[0] - row[1] == pytest.approx(10 * lattice.rise_mm * 16, abs=1)


@pytest.mark.parametrize("strands", [8, 12, 16])
def test_columns_lean_like_the_letter(strands: int) -> None:
    """S lay leans from top left to bottom right, Z from top right to bottom left (common
    practice)."""
    for lay, sign in (("S", -1), ("Z", 1)):
        lattice = lattice_of(strands, lay)  # type: ignore[arg-type]
        count = 6 * lattice.braid.beads_per_round
        owner = braid_owner(lattice, count, 180.0, 12)
        # a bead near the middle of the front, and the next one of its pair, one round later
        turned = np.abs(lattice.x_mm(np.arange(count // 3, 2 * count // 3)))
        bead = count // 3 + int(np.argmin(turned))
        beads = [bead, (bead + lattice.braid.beads_per_round) ^ 1]
        columns = [np.nonzero(owner == b)[1].mean() for b in beads]
        rows = [np.nonzero(owner == b)[0].mean() for b in beads]
        assert rows[1] < rows[0]
        assert np.sign(columns[1] - columns[0]) == sign


def test_the_other_lay_is_the_mirror_image() -> None:
    for strands in (8, 16):
        count = 6 * strands
        s = braid_owner(lattice_of(strands, "S"), count, 180.0, 10)
        z = braid_owner(lattice_of(strands, "Z"), count, 180.0, 10)
        assert (s == z[:, ::-1]).mean() > 0.999


def test_an_asymmetrical_pattern_is_not_mirrored() -> None:
    """Dark beads on the quarter between front and right show on the right of the front view."""
    lattice = lattice_of(16)
    count = 10 * lattice.braid.beads_per_round
    azimuth = lattice.azimuth_deg(np.arange(count))
    rgb = np.full((count, 3), 240, dtype=np.uint8)
    rgb[(azimuth > 100) & (azimuth < 170)] = (20, 30, 80)
    view = braid_view(Look(lattice, rgb), 180.0, 10).astype(float).mean((0, 2))
    middle = len(view) // 2
    assert view[middle:].mean() < 0.8 * view[:middle].mean()
    # seen from the right it moves to the left
    view = braid_view(Look(lattice, rgb), 90.0, 10).astype(float).mean((0, 2))
    assert view[:middle].mean() < 0.8 * view[middle:].mean()


def test_the_light_comes_from_the_upper_left() -> None:
    lattice = lattice_of(8)
    picture = braid_view(Look(lattice, np.full((40, 3), 120, dtype=np.uint8)), 180.0, 24)
    owner = braid_owner(lattice, 40, 180.0, 24)
    # those whole beads of the middle that turn their face to the eye
    facing = [bead for bead in (18, 20, 22) if (owner == bead).sum() >= 500]
    assert facing
    for bead in facing:
        rows, columns = np.nonzero(owner == bead)
        light = picture[rows, columns].sum(1).astype(float)
        brightest = light > np.percentile(light, 98)
        assert rows[brightest].mean() < rows.mean()
        assert columns[brightest].mean() < columns.mean()


def test_a_window_is_a_piece_of_the_whole() -> None:
    lattice = lattice_of(12)
    count = 20 * lattice.braid.beads_per_round
    frame = braid_frame(lattice, count, 10.0)
    top = frame.top_mm - 10.0
    whole = braid_owner(lattice, count, 200.0, 10.0)
    piece = braid_owner(lattice, count, 200.0, 10.0, window_mm=(top - 15.0, top))
    assert piece.shape[0] == 150
    assert (piece == whole[100:250]).mean() > 0.998


@pytest.mark.parametrize("rgb", [(243, 238, 225), (34, 52, 86), (150, 40, 44), (38, 38, 40)])
def test_the_middle_of_a_front_bead_shows_the_beads_own_colour(rgb: tuple[int, int, int]) -> None:
    """Within CIEDE2000 1.0, which side by side is hardly seen."""
    skimage_color = pytest.importorskip("skimage.color")
    for strands in (8, 16, 24):
        lattice = lattice_of(strands)
        count = 8 * lattice.braid.beads_per_round
        bead = count // 2
        view_deg = float(lattice.azimuth_deg(bead))
        picture = braid_view(Look(lattice, np.tile(rgb, (count, 1))), view_deg, 14)
        row, column = pixel_of(lattice, count, bead, view_deg, 14)
        wanted, shown = np.array([[rgb]], dtype=np.uint8), picture[row, column][None, None]
        difference = skimage_color.deltaE_ciede2000(
            skimage_color.rgb2lab(wanted), skimage_color.rgb2lab(shown)
        )
        assert difference.item() < 1.0


def test_no_beads_and_one_bead() -> None:
    lattice = lattice_of(8)
    assert braid_view(Look(lattice, np.zeros((0, 3), dtype=np.uint8)), 180.0, 8).ndim == 3
    owner = braid_owner(lattice, 1, float(lattice.azimuth_deg(0)), 10)
    shape = bead_shape(lattice)
    area = np.pi * shape.across_mm * shape.along_mm * 100
    assert (owner == 0).sum() == pytest.approx(area, rel=0.01)


def test_background_is_as_asked_and_paper_by_default() -> None:
    lattice = lattice_of(8)
    rgb = np.zeros((16, 3), dtype=np.uint8)
    beyond = (-20.0, 60.0)
    assert tuple(braid_view(Look(lattice, rgb), 180.0, 8, window_mm=beyond)[0, 0]) == PAPER
    asked = braid_view(Look(lattice, rgb), 180.0, 8, window_mm=beyond, background=(10, 200, 30))
    assert tuple(asked[-1, -1]) == (10, 200, 30)


def test_linear_light_and_back() -> None:
    values = np.arange(256, dtype=np.uint8)
    assert (linear_to_srgb(srgb_to_linear(values)) == values).all()
    # IEC 61966-2-1: the knee of the curve, and mid grey by its formula
    assert srgb_to_linear(np.array([188], dtype=np.uint8))[0] == pytest.approx(
        ((188 / 255 + 0.055) / 1.055) ** 2.4
    )


# -- drop beads --------------------------------------------------------------------------------


def one_drop(lattice: Lattice, count: int, bead: int, lean: tuple[float, float]) -> np.ndarray:
    drops = np.zeros((count, 6))
    drops[bead] = drop(lattice, lean)
    return drops


def drop(lattice: Lattice, lean: np.ndarray | tuple[float, float]) -> np.ndarray:
    """A drop of which nothing is measured, leaning one way."""
    shape = DropShape.of(Bead("D", "drop", (0, 0, 0)), lattice.diameter_mm)
    return np.append(lean, shape.drawn_mm)


@pytest.mark.parametrize("lean", [(1, 0), (-1, 0), (0, 1), (0, -1), (-3, 3)])
def test_a_drop_leans_the_way_it_is_given(lean: tuple[float, float]) -> None:
    lattice = lattice_of(16)
    count = 16 * lattice.braid.beads_per_round
    bead = count // 2
    view_deg = float(lattice.azimuth_deg(bead))
    drops = one_drop(lattice, count, bead, lean)
    owner = braid_owner(lattice, count, view_deg, 10, drops=drops)
    frame = braid_frame(lattice, count, 10, drops=drops)
    assert owner.shape == (frame.height_px, frame.width_px)
    rows, columns = np.nonzero(owner == bead)
    x, y = frame.x_mm[columns].mean(), frame.y_mm[rows].mean() - lattice.height_mm(bead)
    away = np.array([x, y]) / np.hypot(x, y)
    assert away @ (np.array(lean) / np.hypot(*lean)) > 0.98
    # about 4 x 7 mm beside 3 mm beads (common practice); it is seen foreshortened by its tilt
    assert len(rows) / 100 > 2 * np.pi * bead_shape(lattice).across_mm ** 2


def test_a_drop_stands_out_and_is_not_cut_off() -> None:
    lattice = lattice_of(8)
    count = 12 * lattice.braid.beads_per_round
    azimuth = lattice.azimuth_deg(np.arange(count))
    east = int(np.flatnonzero(np.isclose(azimuth, 90))[1])
    for lean in ((1.0, 0.0), (0.0, 1.0), (-1.0, 0.0)):
        drops = one_drop(lattice, count, east, lean)
        for view in range(0, 360, 30):
            owner = braid_owner(lattice, count, float(view), 8, margin_mm=0.3, drops=drops)
            frame = wider(braid_frame(lattice, count, 8, drops=drops), 0.3)
            assert not (owner[:, [0, -1]] == east).any()
            assert not (owner[[0, -1]] == east).any()
            if view == 180:
                columns = np.nonzero(owner == east)[1]
                assert frame.x_mm[columns].max() > lattice.thickness_mm / 2 + 0.8


def test_drops_change_nothing_where_there_are_none() -> None:
    lattice = lattice_of(12)
    rgb = np.random.default_rng(1).integers(0, 256, (90, 3)).astype(np.uint8)
    plain = braid_view(Look(lattice, rgb), 180.0, 8)
    assert (braid_view(Look(lattice, rgb, np.zeros((90, 6))), 180.0, 8) == plain).all()


def test_drops_on_the_near_side_hide_those_on_the_far_side() -> None:
    lattice = lattice_of(8)
    count = 40
    leans = np.random.default_rng(3).normal(size=(count, 2))
    drops = np.array([drop(lattice, lean) for lean in leans])
    owner = braid_owner(lattice, count, 200.0, 8, drops=drops)
    middle = owner[60:-60, owner.shape[1] // 2 - 4 : owner.shape[1] // 2 + 4]
    seen = np.unique(middle[middle >= 0])
    assert (np.cos(np.deg2rad(lattice.azimuth_deg(seen) - 200.0)) > 0).all()
