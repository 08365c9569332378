"""The bracelet closed: every bead where it lies on the straight braid, bent, and never mirrored."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid, Lay
from himotif.core.braid.lattice import FRONT_DEG, Lattice
from himotif.core.design.design import Design, PlacedPicture, Repeat
from himotif.core.design.origin import Origin, PaperChoice
from himotif.core.drawing.shapes import Text
from himotif.core.findings import Code, Finding
from himotif.core.making.lengths import lengths
from himotif.core.paper.ring_sheet import ring_lines, ring_page
from himotif.core.show.preview import NOBODY, THE_CORE, Look, bead_shape, braid_view
from himotif.core.show.ring import motifs_seen, newest_left, ring_colours, ring_of, ring_parts
from himotif.core.show.ring_view import (
    RingView,
    nearest_to_viewer,
    ring_frame,
    ring_pixels,
    worn_axes,
)

PALETTE = (
    Bead("A", "oyster", (243, 238, 225)),
    Bead("B", "night tide", (34, 52, 86)),
    Bead("P", "foam", (120, 220, 120), shape="drop"),
)
# the viewer straight above the middle: right is the way of the braid, up is the upright view's left
ABOVE = np.array([[1.0, 0, 0], [0, 0, -1], [0, 1, 0]])


@cache
def bracelet(strands: int = 8, lay: Lay = "S", seed: int = 0, **asked: float) -> Design:
    """A bracelet of random beads for a wrist of 165 mm, or as asked for."""
    lattice = Lattice.computed(Braid(strands, lay), bead_size("8/0"))
    planned = lengths(lattice, **(asked or {"wrist_mm": 165.0}))
    origin = Origin(order=dict(asked or {"wrist_mm": 165.0}), finished_mm=planned.finished_mm)
    beads = np.random.default_rng(seed).integers(0, 2, planned.beads)
    return Design(lattice, bead_size("8/0"), PALETTE, beads, origin=origin)


def turned(design: Design, bead: int) -> tuple[float, float, float]:
    """Where a bead lies on the upright front: right, up from the middle, towards the viewer."""
    lattice = design.lattice
    angle = np.deg2rad(float(lattice.azimuth_deg(bead)) - FRONT_DEG)
    up = float(lattice.height_mm(bead)) - float(lattice.height_mm(len(design.beads) - 1)) / 2
    return -lattice.radius_mm * np.sin(angle), up, lattice.radius_mm * np.cos(angle)


def seen_from(design: Design, axes: np.ndarray, width_px: int = 500):
    """Which part is seen at each pixel, and the view."""
    ring = ring_of(design)
    parts = ring_parts(design, ring)
    view = ring_frame(parts, axes, width_px, 1.0)
    return parts, view, nearest_to_viewer(parts, ring, view)[1]


@pytest.mark.parametrize(("strands", "lay"), [(8, "S"), (8, "Z"), (24, "S")])
def test_beads_at_the_top_lie_as_on_the_upright_front_turned_a_quarter(strands, lay):
    design = bracelet(strands, lay)
    ring = ring_of(design)
    parts, view, owner = seen_from(design, ABOVE)
    wide, high = view.size_px
    shown = 0
    for bead in range(len(design.beads)):
        right, up, near = turned(design, bead)
        if abs(up) > 8 or near < 0.8 * design.lattice.radius_mm:
            continue
        # newest to the right, the upright view's right downwards; outside, beads move apart
        apart = (ring.radius_mm + near) / ring.radius_mm
        column = wide / 2 + apart * up * view.px_per_mm
        row = high / 2 + right * view.px_per_mm
        assert parts.bead[owner[int(row), int(column)]] == bead
        shown += 1
    assert shown >= 4


def test_a_bead_of_a_known_colour_is_seen_at_its_pixel():
    plain = bracelet(16)
    count = len(plain.beads)
    front = [turned(plain, bead) for bead in range(count)]
    # to the right of the front, above the middle: no mirror image of it is the same place
    wanted = (1.8, 6.0)
    bead = min(
        (n for n in range(count) if front[n][2] > 0),
        key=lambda n: np.hypot(front[n][0] - wanted[0], front[n][1] - wanted[1]),
    )
    right, up, near = front[bead]
    assert right > 0.5
    assert up > 3
    design = replace(plain, beads=np.where(np.arange(count) == bead, 1, 0))
    ring = ring_of(design)
    parts = ring_parts(design, ring)
    for newest_on_left, way in ((False, 1), (True, -1)):
        axes = worn_axes(newest_left=newest_on_left)
        view = ring_frame(parts, axes, 500, 1.0)
        pixels = ring_pixels(parts, ring, view, *ring_colours(design))
        dark = pixels.astype(int).sum(2) < 300
        # cords are dark too, and brown: the bead is blue
        blue = dark & (pixels[..., 2].astype(int) > pixels[..., 0] + 15)
        rows, columns = np.nonzero(blue)
        # put on the other way round, it is the picture turned half round, not mirrored
        angle = way * up / ring.radius_mm
        x = (ring.radius_mm + near) * np.sin(angle)
        height = (ring.radius_mm + near) * np.cos(angle)
        e = np.deg2rad(52.0)
        y = np.cos(e) * height - np.sin(e) * way * right
        size = view.size_px
        assert columns.mean() == pytest.approx(size[0] / 2 + x * view.px_per_mm, abs=3)
        assert rows.mean() == pytest.approx(size[1] / 2 - y * view.px_per_mm, abs=3)


def test_the_top_looks_like_the_straight_braid_and_not_like_its_mirror_image():
    design = bracelet(16, seed=3)
    ring, px_per_mm = ring_of(design), 8.0
    parts = ring_parts(design, ring)
    rgb, surfaces = ring_colours(design)
    view = RingView(ABOVE, (7.0, 2.4), px_per_mm)
    top = ring_pixels(parts, ring, view, rgb, surfaces).mean(2)
    middle = float(design.lattice.height_mm(len(design.beads) - 1)) / 2
    window = (middle - 6.4, middle + 6.4)
    straight = braid_view(Look(design.lattice, rgb[:-1]), 180.0, px_per_mm, window_mm=window)
    lying = np.rot90(straight, -1).mean(2)
    # as long as the beads outside are, which are further apart
    columns = np.linspace(0, lying.shape[1] - 1, top.shape[1]).round().astype(int)
    first = (lying.shape[0] - top.shape[0]) // 2
    lying = lying[first : first + top.shape[0], columns]

    def agree(other: np.ndarray) -> float:
        return float(np.corrcoef(top.ravel(), other.ravel())[0, 1])

    assert agree(lying) > 0.75
    for wrong in (lying[::-1], lying[:, ::-1], lying[::-1, ::-1]):
        assert agree(wrong) < 0.4


def test_agrees_with_rays_cast_at_every_spheroid():
    """The quadratic equation of a ray against the unit sphere, in each spheroid's own frame."""
    design = bracelet(8, "Z", length_mm=150.0, clasp_mm=10.0, caps_mm=20.0)
    parts, view, owner = seen_from(design, worn_axes(turned_deg=77.0), 240)
    random = np.random.default_rng(1)
    rows = random.integers(0, owner.shape[0], 500)
    columns = random.integers(0, owner.shape[1], 500)
    wide, high = view.size_px
    x = (columns + 0.5 - wide / 2) / view.px_per_mm
    y = (high / 2 - rows - 0.5) / view.px_per_mm
    right, up, towards = view.axes
    start = x[:, None] * right + y[:, None] * up + 500 * towards
    met, best = np.full(500, NOBODY), np.full(500, np.inf)
    for part, (centre, along) in enumerate(zip(parts.centres, parts.axes, strict=True)):
        # axes of the spheroid: along the braid, and two across
        third = np.array([0.0, 0.0, 1.0])
        frame = np.stack([along, third, np.cross(along, third)])
        size = np.array([parts.along_mm[part], *[parts.across_mm[part]] * 2])
        origin = (start - centre) @ frame.T / size
        way = frame @ -towards / size
        a, b = way @ way, origin @ way
        root = b**2 - a * ((origin**2).sum(1) - 1)
        t = np.where(root > 0, (-b - np.sqrt(np.maximum(root, 0))) / a, np.inf)
        met, best = np.where(t < best, part, met), np.minimum(t, best)
    found = owner[rows, columns]
    compared = found != THE_CORE
    assert np.mean(found[compared] == met[compared]) > 0.995  # rounding, at outlines
    assert len(np.unique(met)) > 60


@pytest.mark.parametrize("strands", [8, 24])
def test_drops_point_as_they_do_on_the_straight_braid(strands):
    plain = bracelet(strands)
    count = len(plain.beads)
    drop = next(
        n for n in range(count // 2, count) if turned(plain, n)[2] > 0.8 * plain.lattice.radius_mm
    )
    design = replace(plain, beads=np.where(np.arange(count) == drop, 2, 0))
    parts = ring_parts(design, ring_of(design))
    own = np.flatnonzero(parts.bead == drop)
    assert len(own) > 10
    straight = parts.scene.centres[own]
    hole, wide = straight[0], straight[-1]
    assert np.all(np.diff(parts.across_mm[own]) >= 0)
    ring = parts.centres[own]
    along, outwards, right = ring[-1] - ring[0]
    assert right == pytest.approx(wide[0] - hole[0], abs=1e-9)
    assert np.sign(along) == np.sign(wide[1] - hole[1])
    assert along == pytest.approx(wide[1] - hole[1], rel=0.25)
    assert outwards == pytest.approx(wide[2] - hole[2], rel=0.25)


def test_beads_keep_their_size_move_apart_outside_and_crowd_inside():
    design = bracelet(8)
    ring = ring_of(design)
    parts = ring_parts(design, ring)
    shape = bead_shape(design.lattice)
    beads = parts.bead < len(design.beads)
    assert np.allclose(parts.across_mm[beads], shape.across_mm)
    assert np.allclose(parts.along_mm[beads], shape.along_mm)
    away = np.hypot(*parts.centres.T[:2])[beads]
    radius = design.lattice.radius_mm
    assert away.max() == pytest.approx(ring.radius_mm + radius, abs=1e-6)
    assert away.min() == pytest.approx(ring.radius_mm - radius, abs=1e-6)
    # spheroids lie along the braid: at right angles to the way out
    assert np.abs(np.sum(parts.axes * parts.centres, axis=1)).max() < 1e-9


def test_the_hole_is_the_wrist_and_its_ease():
    # 165 mm of wrist and 15 mm of ease, the usual one, whatever the braid's thickness
    for strands in (8, 24):
        ring = ring_of(bracelet(strands))
        assert ring.inner_mm == pytest.approx(180.0)
        assert ring.join_mm == pytest.approx(20.0, abs=bracelet(strands).lattice.rise_mm)
    longer = bracelet(8, wrist_mm=150.0, ease_mm=8.0, clasp_mm=12.0, caps_mm=10.0)
    ring = ring_of(longer)
    assert ring.inner_mm == pytest.approx(158.0)
    assert ring.clasp_mm == 12.0
    parts = ring_parts(longer, ring)
    metal = parts.centres[parts.bead == len(longer.beads)]
    # all of it lies on the circle, where no beads are
    assert np.allclose(np.hypot(*metal.T[:2]), ring.radius_mm)
    angle = np.arctan2(metal[:, 0], -metal[:, 1])
    assert np.abs(angle).max() == pytest.approx(ring.join_mm / 2 / ring.radius_mm)


def test_a_finding_without_its_wrist_gives_none():
    design = bracelet(8, length_mm=200.0)
    for data in ({}, {"wrist_mm": "wide"}):
        damaged = replace(design.origin, findings=(Finding(Code.WRIST_ASSUMED, data),))
        assert ring_of(replace(design, origin=damaged)).wrist_mm is None


def test_an_assumed_wrist_is_drawn_too_and_ends_without_a_clasp_meet():
    assumed = Finding(Code.WRIST_ASSUMED, {"wrist_mm": 165.0})
    design = bracelet(8, length_mm=200.0)
    assert ring_of(design).wrist_mm is None
    of = replace(design.origin, findings=(assumed,))
    assert ring_of(replace(design, origin=of)).wrist_mm == 165.0
    ring = ring_of(design)
    assert abs(ring.join_mm) < design.lattice.diameter_mm
    assert not np.any(ring_parts(design, ring).bead == len(design.beads))
    assert "ends meet" in ring_lines(design, ring)[1]


def placed(design: Design, centres, size_px=(10, 20), **more) -> Design:
    where = np.full((len(design.beads), 2), np.nan)
    picture = PlacedPicture("reed.png", "0" * 64, size_px, "wrap", 1.0, 180.0, where, **more)
    repeat = Repeat(0, 12, True, len(centres)) if len(centres) > 1 else None
    return replace(design, picture=replace(picture, centres=centres), repeat=repeat)


def test_what_is_seen_of_the_motifs_from_above():
    plain = bracelet(8)
    ring = ring_of(plain)
    middle = float(plain.lattice.height_mm(len(plain.beads) - 1)) / 2
    # 120° of 360°
    assert ring.seen_mm == pytest.approx(ring.around_mm / 3)
    edge = middle + ring.seen_mm / 2
    # 20 mm high: one whole, one half, one not at all
    three = placed(plain, ((180.0, middle), (180.0, edge), (180.0, edge + 11)))
    assert motifs_seen(three, ring) == pytest.approx((3, 0.5))
    assert "1.5 of 3 motifs" in ring_lines(three, ring)[2]
    # on its side it is 10 mm high, stretched 15
    side = placed(plain, ((180.0, edge),), rotate_deg=90.0, stretch=1.5)
    assert motifs_seen(side, ring) == pytest.approx((1, 0.5))
    below = placed(plain, ((180.0, edge + 3.0),), rotate_deg=90.0, stretch=1.5)
    assert motifs_seen(below, ring).share == pytest.approx(4.5 / 15)
    assert motifs_seen(plain, ring) is None


def test_a_motif_on_its_side_and_letters_are_upright():
    plain = bracelet(8)
    assert not newest_left(plain)
    assert newest_left(placed(plain, ((180.0, 90.0),), rotate_deg=90.0))
    assert not newest_left(placed(plain, ((180.0, 90.0),), rotate_deg=-90.0))
    for letters, left in (("up", False), ("down", True), ("below", False)):
        origin = replace(plain.origin, order={"text": "MARSH", "letters": letters})
        assert newest_left(replace(plain, origin=origin)) is left


@pytest.mark.parametrize("strands", [8, 24])
def test_no_picture_of_what_goes_round_no_wrist(strands):
    # inside 50 mm, of a baby's wrist, and less
    thickness = bracelet(strands).lattice.thickness_mm
    for inner_mm, there in ((45.0, False), (55.0, True)):
        design = bracelet(strands, length_mm=round(inner_mm + np.pi * thickness, 1))
        assert (ring_of(design) is not None) is there
    worn = bracelet(strands)
    tried = replace(worn, origin=replace(worn.origin, test_braid=True))
    assert ring_of(tried) is None


def test_nothing_is_cut_off():
    design = bracelet(8)
    page = ring_page(design, ring_of(design))
    for shape in page.shapes:
        for x, y in getattr(shape, "points", ()):
            assert -1e-9 <= x <= page.width_mm + 1e-9
            assert -1e-9 <= y <= page.height_mm + 1e-9
    views = [shape for shape in page.shapes if hasattr(shape, "rgb")]
    assert len(views) == 2
    for view in views:
        for edge in (view.rgb[0], view.rgb[-1], view.rgb[:, 0], view.rgb[:, -1]):
            assert np.all(edge == (250, 250, 248))


@pytest.mark.parametrize("unit", ["cm", "in"])
def test_its_words_are_a_makers_and_each_number_comes_once(unit):
    design = replace(bracelet(8), papers=PaperChoice(unit=unit))
    ring = ring_of(design)
    texts = [one.text for one in ring_page(design, ring).shapes if isinstance(one, Text)]
    assert "foreshort" not in " ".join(texts)
    numbers = re.findall(r"[0-9.]+ (?:cm|mm|in)\b", " ".join(texts).replace("\xa0", " "))
    assert len(numbers) >= 3
    assert len(set(numbers)) == len(numbers)
