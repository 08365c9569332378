"""The preview as one picture: everything on the page, nothing over anything else."""

from __future__ import annotations

import re
from dataclasses import replace
from itertools import combinations, product

import numpy as np
import pytest
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid, Lay, Turn
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.design.design import Design, PlacedPicture, Repeat
from himotif.core.design.origin import PaperChoice
from himotif.core.drawing.fonts import text_width_mm
from himotif.core.drawing.shapes import Page, PixelImage, Polygon, Polyline, Text
from himotif.core.paper.preview_sheet import PREVIEW_PX_PER_MM, four_sides, four_sides_page

Box = tuple[str, float, float, float, float]

PALETTE = (
    Bead("A", "oyster", (243, 238, 225)),
    Bead("B", "night tide", (34, 52, 86)),
    Bead("C", "samphire", (120, 150, 110)),
)


def design_of(
    strands: int, beads: int, size: str = "8/0", lay: Lay = "S", turn: Turn = "usual"
) -> Design:
    bead = bead_size(size)
    lattice = Lattice.computed(Braid(strands, lay, turn), bead)
    return Design(lattice, bead, PALETTE, np.random.default_rng(beads).integers(0, 3, beads))


def boxes(page: Page) -> list[Box]:
    """What stands on the page: name, left, top, right, bottom."""
    found = []
    for shape in page.shapes[1:]:
        match shape:
            case Text(x, y, text, size, anchor, bold):
                width = text_width_mm(text, size, bold)
                left = x - {"start": 0, "middle": width / 2, "end": width}[anchor]
                found.append((text, left, y - 0.75 * size, left + width, y + 0.2 * size))
            case PixelImage(x, y, width, height):
                found.append(("picture", x, y, x + width, y + height))
            case Polygon(points) | Polyline(points):
                xs, ys = zip(*points, strict=True)
                found.append((type(shape).__name__, min(xs), min(ys), max(xs), max(ys)))
    return found


def overlap(one: Box, two: Box) -> bool:
    (_, left, top, right, bottom), (_, left2, top2, right2, bottom2) = one, two
    apart = 1e-6
    return (
        left < right2 - apart
        and left2 < right - apart
        and top < bottom2 - apart
        and top2 < bottom - apart
    )


@pytest.mark.usefixtures("blank_views")
@pytest.mark.parametrize(
    ("size", "strands", "beads"),
    # the longest once for each width of the braid and each size of its beads
    [*product(["15/0", "6/0"], [8, 24], [8, 40, 320]), ("15/0", 8, 2000), ("6/0", 24, 2000)],
)
def test_nothing_is_cut_off_and_nothing_overlaps(size: str, strands: int, beads: int) -> None:
    page = four_sides_page(design_of(strands, beads, size))
    placed = boxes(page)
    for name, left, top, right, bottom in placed:
        assert left >= 0, name
        assert top >= 0, name
        assert right <= page.width_mm, name
        assert bottom <= page.height_mm, name
    lines = ("Polyline",)  # the strokes of one scale bar meet each other
    pairs = [
        (one, two)
        for one, two in combinations(placed, 2)
        if not (one[0] in lines and two[0] in lines)
    ]
    assert len(pairs) > 10
    for one, two in pairs:
        assert not overlap(one, two), (one, two)


@pytest.mark.parametrize("beads", [8, 320, 2000])
def test_the_pictures_are_drawn_pixel_for_pixel(beads: int) -> None:
    page = four_sides_page(design_of(12, beads))
    pixels = four_sides(design_of(12, beads))
    pictures = [shape for shape in page.shapes if isinstance(shape, PixelImage)]
    assert pixels.shape[:2] == (
        round(page.height_mm * PREVIEW_PX_PER_MM),
        round(page.width_mm * PREVIEW_PX_PER_MM),
    )
    for picture in pictures:
        height, width = picture.rgb.shape[:2]
        assert picture.width_mm * PREVIEW_PX_PER_MM == pytest.approx(width)
        left, top = round(picture.x * PREVIEW_PX_PER_MM), round(picture.y * PREVIEW_PX_PER_MM)
        assert (pixels[top : top + height, left : left + width] == picture.rgb).all()


@pytest.mark.parametrize(("unit", "one_mm"), [("mm", 1.0), ("in", 25.4)])
def test_the_scale_bar_is_true(unit: str, one_mm: float) -> None:
    """The braid is as wide in the front view as its thickness by the bar beside it."""
    design = replace(design_of(8, 60), papers=PaperChoice(unit=unit))
    page = four_sides_page(design)
    label = next(
        s for s in page.shapes if isinstance(s, Text) and s.text.endswith(f" {unit}") and s.x < 60
    )
    bar = max(
        (s for s in page.shapes if isinstance(s, Polyline) and abs(s.points[0][1] - label.y) < 2),
        key=lambda s: abs(s.points[1][0] - s.points[0][0]),
    )
    mm_per_page_mm = one_mm * float(label.text.split()[0]) / (bar.points[1][0] - bar.points[0][0])
    front = next(s for s in page.shapes if isinstance(s, PixelImage))
    assert front.width_mm * mm_per_page_mm == pytest.approx(design.lattice.thickness_mm, abs=0.1)


@pytest.mark.parametrize(("unit", "one_mm"), [("mm", 1.0), ("in", 25.4)])
def test_the_ruler_is_true(unit: str, one_mm: float) -> None:
    design = replace(design_of(8, 320), papers=PaperChoice(unit=unit))
    page = four_sides_page(design)
    assert f"{design.length_mm / one_mm:.2f}"[:3] in " ".join(
        s.text for s in page.shapes if isinstance(s, Text)
    )
    ruler = {
        one_mm * float(s.text): s.y
        for s in page.shapes
        if isinstance(s, Text) and re.fullmatch(r"[\d.]+", s.text)
    }
    strip = [s for s in page.shapes if isinstance(s, PixelImage)][-1]
    mm_per_page_mm = (max(ruler) - min(ruler)) / (ruler[min(ruler)] - ruler[max(ruler)])
    assert strip.width_mm * mm_per_page_mm == pytest.approx(design.lattice.thickness_mm, abs=0.2)
    # beads from 0 to the beaded length, give or take a bead
    assert max(ruler) == pytest.approx(design.length_mm, abs=10)


def test_the_four_sides_are_told_apart_and_turned_to_the_left() -> None:
    """One dark column of beads in the east: in the middle of the right side, gone from the left."""
    design = design_of(16, 16 * 20)
    azimuth = design.lattice.azimuth_deg(np.arange(320))
    beads = np.where(np.abs(azimuth - 90) < 35, 1, 0)
    page = four_sides_page(replace(design, beads=beads))
    titles = {s.text: s.x for s in page.shapes if isinstance(s, Text)}
    pictures = [s for s in page.shapes if isinstance(s, PixelImage)]
    share = {}
    for side in ("Front", "Right", "Back", "Left"):
        picture = min(pictures, key=lambda p: abs(p.x + p.width_mm / 2 - titles[side]))
        dark = (picture.rgb.astype(int).sum(2) < 330) & (picture.rgb[..., 2] > picture.rgb[..., 0])
        columns = np.nonzero(dark)[1]
        share[side] = (len(columns), columns.mean() / picture.rgb.shape[1] if len(columns) else 0)
    assert share["Right"][0] > 2 * share["Front"][0] > 20 * share["Left"][0]
    assert 0.4 < share["Right"][1] < 0.6
    assert share["Front"][1] > 0.75
    assert share["Back"][1] < 0.25


def test_the_heading_says_what_is_shown_and_measured() -> None:
    bead = bead_size("11/0")
    swatch = Swatch(thickness_mm=6.1, rise_mm=None, drift_deg=None)
    lattice = Lattice.computed(Braid(8, "Z"), bead, swatch)
    page = four_sides_page(Design(lattice, bead, PALETTE, np.zeros(80, dtype=int)))
    texts = " ".join(s.text for s in page.shapes if isinstance(s, Text))
    assert "8 strands, Z lay" in texts
    assert "11/0 beads (2.1 × 1.45 mm)" in texts
    assert "6.1 mm thick" in texts
    assert "thickness measured on a swatch" in texts
    assert "rise, drift computed" in texts


def test_the_close_up_shows_the_motif_in_the_middle_of_the_braid() -> None:
    design = design_of(8, 400)
    heights = [10.0 + 33.6 * k for k in range(6)]
    nearest_mm = 110.8  # 5.8 mm from the middle of 210 mm; the one below is 27.8 mm away
    band = np.abs(design.lattice.height_mm(np.arange(400)) - nearest_mm) < 2.5
    picture = PlacedPicture(
        "heron.png",
        "0" * 64,
        (64, 48),
        "wrap",
        5.0,
        180.0,
        np.full((400, 2), np.nan),
        centres=tuple((180.0, height) for height in heights),
    )
    design = replace(
        design, beads=band.astype(int), picture=picture, repeat=Repeat(0, 16, False, 6)
    )
    close = next(s for s in four_sides_page(design).shapes if isinstance(s, PixelImage))
    px_per_mm = close.rgb.shape[1] / design.lattice.thickness_mm
    assert close.rgb.shape[0] / px_per_mm > 33.6
    dark = (close.rgb.astype(int).sum(2) < 330) & (close.rgb[..., 2] > close.rgb[..., 0])
    middle_px = np.nonzero(dark)[0].mean()
    assert middle_px == pytest.approx(close.rgb.shape[0] / 2, abs=1.5 * px_per_mm)


def test_drops_have_room_in_every_view() -> None:
    design = design_of(8, 48)
    dropped = replace(design, palette=(*PALETTE[:2], replace(PALETTE[2], shape="drop")))
    plain, page = four_sides_page(design), four_sides_page(dropped)
    assert page.width_mm > plain.width_mm
    pairs = [
        (one, two)
        for one, two in combinations(boxes(page), 2)
        if not (one[0] == "Polyline" and two[0] == "Polyline")
    ]
    assert len(pairs) > 10
    for one, two in pairs:
        assert not overlap(one, two)
