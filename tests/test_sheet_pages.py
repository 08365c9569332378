"""The pages of the set-up sheet: nothing clipped, nothing on top of anything else."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from himotif.core.design.design import PlacedPicture
from himotif.core.design.origin import Origin
from himotif.core.drawing.fonts import text_width_mm
from himotif.core.drawing.layout import PAPERS_MM, shortened, wrap
from himotif.core.drawing.shapes import Circle, Page, PixelImage, Polygon, Polyline, Text
from himotif.core.findings import remark
from himotif.core.making.swatch_braid import swatch_braid
from himotif.core.paper.chart import chart_page
from himotif.core.paper.disc import slot_angle_deg
from himotif.core.paper.html import sheet_html
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.setup import setup_pages
from himotif.core.paper.sheet_content import SheetContent
from sheet_designs import marsh, printed

pytestmark = pytest.mark.usefixtures("blank_views")

BRAIDS = [
    (8, "S", "usual"),
    (8, "Z", "usual"),
    (12, "S", "other"),
    (16, "Z", "usual"),
    (20, "S", "usual"),
    (24, "Z", "usual"),
]


def text_box(text: Text) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of what a text inks at most: capitals above, tails below."""
    wide = text_width_mm(text.text, text.size_mm, text.bold)
    left = -{"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    corners = [
        (x, y) for x in (left, left + wide) for y in (-0.76 * text.size_mm, 0.24 * text.size_mm)
    ]
    turn = math.radians(text.rotate_deg)
    placed = [
        (
            text.x + x * math.cos(turn) - y * math.sin(turn),
            text.y + x * math.sin(turn) + y * math.cos(turn),
        )
        for x, y in corners
    ]
    xs, ys = zip(*placed, strict=True)
    return min(xs), min(ys), max(xs), max(ys)


def shape_box(shape) -> tuple[float, float, float, float]:
    match shape:
        case Text():
            return text_box(shape)
        case Circle(x, y, r):
            return x - r, y - r, x + r, y + r
        case PixelImage(x, y, wide, high):
            return x, y, x + wide, y + high
        case Polygon(points) | Polyline(points):
            xs, ys = zip(*points, strict=True)
            return min(xs), min(ys), max(xs), max(ys)
    raise AssertionError(shape)


def overlaps(boxes: np.ndarray) -> list[tuple[int, int]]:
    """Pairs of boxes that share more than a hair."""
    left, top, right, bottom = boxes.T[:, :, None]
    hair = 0.02
    meets = (
        (left + hair < right.T)
        & (left.T + hair < right)
        & (top + hair < bottom.T)
        & (top.T + hair < bottom)
    )
    return [(a, b) for a, b in np.argwhere(np.triu(meets, 1)).tolist()]


def check_pages(pages: Sequence[Page]) -> None:
    """Pages with nothing overfull, and nothing in their margins."""
    assert len(pages) > 1
    for page in pages:
        check_page(page)
        check_margins(page)


def check_page(page: Page) -> None:
    boxes = np.array([shape_box(shape) for shape in page.shapes])
    assert boxes[:, :2].min() >= 0.0
    assert boxes[:, 2].max() <= page.width_mm
    assert boxes[:, 3].max() <= page.height_mm
    texts = [s for s in page.shapes if isinstance(s, Text) and s.text.strip()]
    inked = np.array([text_box(text) for text in texts])
    assert not [(texts[a].text, texts[b].text) for a, b in overlaps(inked)]
    pictures = [shape_box(s) for s in page.shapes if isinstance(s, PixelImage)]
    ticks = [
        shape_box(s)
        for s in page.shapes
        if isinstance(s, Polygon) and s.fill == (255, 255, 255) and s.stroke and s.label is None
    ]
    both = np.array([*inked, *pictures, *ticks])
    assert not [pair for pair in overlaps(both) if pair[1] >= len(texts)]


def check_margins(page: Page) -> None:
    """Printers leave about 6 mm blank at the edges (common practice)."""
    boxes = np.array([shape_box(shape) for shape in page.shapes])
    assert boxes[:, :2].min() >= 6.0
    assert boxes[:, 2].max() <= page.width_mm - 6.0
    assert boxes[:, 3].max() <= page.height_mm - 6.0


@pytest.mark.parametrize(
    ("paper", "colours", "strands", "lay", "turn"),
    [
        ("a4" if number % 2 else "letter", colours, *braid)
        for number, (braid, colours) in enumerate(zip(BRAIDS, (2, 13, 40, 2, 13, 40), strict=True))
    ],
)
def test_nothing_overlaps_or_is_clipped(strands, lay, turn, colours, paper):
    design = printed(marsh(strands, lay, turn, colours), paper=paper, tally=True)
    pages = setup_pages(SheetContent(design, "Heron over the reeds"))
    check_pages(pages)
    assert {(page.width_mm, page.height_mm) for page in pages} == {PAPERS_MM[paper]}
    check_page(chart_page(design, "Heron over the reeds"))


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("colours", [3, 13, 40])
@pytest.mark.parametrize("strands", [8, 16, 24])
def test_a_table_with_stock_stays_inside(strands, colours, paper):
    design = printed(marsh(strands, colours=colours, rounds=200), paper=paper, unit="in")
    stock = [0, 5, None, 99_999]
    beads = tuple(
        replace(bead, stock=stock[number % 4], finish="matte, lined with silver")
        for number, bead in enumerate(design.palette)
    )
    content = SheetContent(replace(design, palette=beads), "Heron over the reeds")
    pages = setup_pages(content)
    check_pages(pages)
    shown = " ".join(s.text for page in pages for s in page.shapes if isinstance(s, Text))
    for need in content.shopping.short:
        assert f"{need.buy} {need.bead.code} ({need.bead.name}" in content.shopping_words[0]
        assert f" {need.buy} " in shown
    assert len(content.shopping.short) >= 2


def test_long_names_and_notes_break_but_stay_inside():
    design = marsh(24, "S", colours=6)
    long = "the blue that the sea has an hour before the tide turns, between the two sandbanks"
    beads = tuple(
        replace(bead, name=f"{long} {number}", code=("saltmarsh" if number == 2 else bead.code))
        for number, bead in enumerate(design.palette)
    )
    design = printed(replace(design, palette=beads), paper="letter", tally=True)
    content = SheetContent(
        design, f"{long}; {long}", findings=(remark(f"{long}. " * 40), remark("x" * 400))
    )
    check_pages(setup_pages(content))
    check_page(chart_page(design, content.heading))


@pytest.mark.parametrize("rounds", [2, 3, 7, 500])
def test_short_and_long_braids(rounds):
    check_pages(setup_pages(SheetContent(printed(marsh(12, "Z", rounds=rounds), tally=True))))


@pytest.mark.parametrize(("strands", "lay", "turn"), BRAIDS)
def test_the_disc_shows_the_slots_and_the_first_moves(strands, lay, turn):
    design = marsh(strands, lay, turn)
    pages = setup_pages(SheetContent(design))
    page = next(
        page
        for page in pages
        if any(isinstance(s, Text) and s.text == "At the disc" for s in page.shapes)
    )
    plate = max((s for s in page.shapes if isinstance(s, Circle)), key=lambda s: s.r)
    numbers = {
        int(s.text): s
        for s in page.shapes
        if isinstance(s, Text)
        and s.text.isdecimal()
        and math.hypot(s.x - plate.x, s.y - plate.y) < plate.r
        and s.fill == (0, 0, 0)
    }
    assert sorted(numbers) == list(range(1, 33))
    for slot, text in numbers.items():
        # clockwise from north, y down: the angle of (dx, -dy) from the upward direction
        seen = math.degrees(math.atan2(text.x - plate.x, plate.y - text.y + 0.365 * text.size_mm))
        assert (seen - slot_angle_deg(slot, 32) + 180) % 360 - 180 == pytest.approx(0, abs=1.5)
        assert text.bold == (slot in design.braid.start_slots)
    # slot 1 just clockwise of north, 32 just counter-clockwise (the paper of the project)
    assert numbers[1].x > plate.x > numbers[32].x
    # arrows 1 and 2 run from slot to slot as the disc is worked; arrow 3 is the turn
    arrows = [s for s in page.shapes if isinstance(s, Polyline) and s.stroke_mm == 0.6]
    straight = [s for s in arrows if len(s.points) == 2 and s.stroke == (0, 0, 0)]
    for move, line in zip(design.braid.work(2), straight, strict=True):
        for slot, (x, y) in zip((move.from_slot, move.to_slot), line.points, strict=True):
            seen = math.degrees(math.atan2(x - plate.x, plate.y - y))
            assert (seen - slot_angle_deg(slot, 32) + 180) % 360 - 180 == pytest.approx(0, abs=3)
    (arc,) = [s for s in arrows if len(s.points) > 2]
    start, end = (math.atan2(x - plate.x, plate.y - y) for x, y in (arc.points[0], arc.points[-1]))
    # the mark in the middle points to the front, the worker's side
    mark = next(s for s in page.shapes if isinstance(s, Polygon) and len(s.points) == 3)
    tip = max(mark.points, key=lambda point: math.hypot(point[0] - plate.x, point[1] - plate.y))
    assert tip[0] == pytest.approx(plate.x, abs=1e-6)
    assert tip[1] > plate.y
    # the disc turns against the way to the next pair: that pair comes to the top
    assert np.sign(end - start) == -design.braid.turn_sense


@pytest.mark.parametrize(("strands", "lay", "turn"), BRAIDS)
def test_the_steps_name_the_right_sides_and_slots(strands, lay, turn):
    """S: top left goes down, bottom right goes up; Z the mirror image (the trade's rule)."""
    content = SheetContent(marsh(strands, lay, turn))
    down, up, turned = content.steps
    one, two = ("left", "right") if lay == "S" else ("right", "left")
    assert down.startswith(f"Take the {one} strand of the top pair down")
    assert f"Take the outermost {two} one up, " in up
    # the slots named in the sentences, worked by the plain rule: +18 or +14 modulo 32
    reach = 18 if lay == "S" else 14
    start = {"S": (32, 16), "Z": (1, 17)}[lay]
    for sentence, slot in zip((down, up), start, strict=True):
        assert f"from slot {slot} to slot {(slot + reach - 1) % 32 + 1}" in sentence
    clockwise = (lay == "S") == (turn == "usual")
    assert turned.startswith(f"Turn the disc {'clockwise' if clockwise else 'counter-clockwise'} ")


def test_units():
    content = SheetContent(printed(marsh(), unit="in"))
    assert " in beaded" in content.about
    assert "cm" not in " ".join(
        [content.about, *content.needs, *content.plain_start, *content.finish]
    )
    assert " cm" in SheetContent(marsh()).needs[0]


@pytest.mark.parametrize("unit", ["cm", "in"])
def test_one_quantity_one_unit(unit):
    order = {"swatch": {"thickness_mm": 15.5}, "moved_mm": [1.27, -2.54]}
    design = replace(marsh(24), origin=Origin(order, finished_mm=217.25))
    content = SheetContent(printed(design, unit=unit))
    thick = f"{design.lattice.thickness_mm:.1f} mm thick"
    long = f"{design.length_mm / 25.4:.2f} in" if unit == "in" else f"{design.length_mm:.0f} mm"
    for text in (stringing_text(content), sheet_html(content)):
        assert thick in text
        assert f"{long} beaded" in text
        wrong = r"in thick|\d cm\b|\d m in all" if unit == "in" else r"\d in\b(?! slot)"
        assert not re.search(wrong, text)
    texts = "; ".join(content.settings)
    assert "swatch thickness 15.5 mm" in texts
    assert ("finished 8.553 in; " if unit == "in" else "finished 21.725 cm; ") in texts
    assert ("moved 0.05, -0.1 in; " if unit == "in" else "moved 1.27, -2.54 mm; ") in texts


def test_paper_is_for_the_maker():
    digest = "3f9a2c17" * 8
    where = np.full((160, 2), np.nan)
    picture = PlacedPicture("moon.png", digest, (9, 9), "wrap", 1.0, 180.0, where)
    older = remark(
        "Make it wider (--width 34.1), or turn it (on edge, --rotate 90) by a quarter; "
        "--plain-back 90 does."
    )
    content = SheetContent(replace(marsh(), picture=picture), findings=(older,))
    printed = " ".join(
        s.text for page in setup_pages(content) for s in page.shapes if isinstance(s, Text)
    )
    for text in (printed, stringing_text(content), sheet_html(content)):
        assert not re.search(r"(?<!\S)\(?--[a-z]", text)
        assert digest[:9] not in text
        assert "Make it wider, or turn it by a quarter; plain back 90 does." in text
    assert "version 3f9a2c17." in printed


@pytest.mark.parametrize("strands", [8, 24])
def test_a_test_braid_asks_for_nothing_to_wear(strands):
    design = marsh(strands)
    made = swatch_braid(design.lattice, design.bead, design.palette)
    text = stringing_text(SheetContent(made.design))
    assert "No clasp and no end caps" in text
    for word in ("A clasp", "for the end cap", "into the end cap", "lue", "nickel"):
        assert word not in text
        assert word in stringing_text(SheetContent(design))


def test_wrap_and_shorten():
    lines = wrap("a bb ccc " + "d" * 80, 20.0, 3.0)
    assert all(text_width_mm(line, 3.0) <= 20.0 for line in lines)
    assert "".join(lines).replace(" ", "") == "abbccc" + "d" * 80
    words = "cord: 5.0 m in all, 2.0 mm thick, 7 g, 8 % spare, on 8 mats with 3 marks."
    for width in range(12, 60):
        lines = wrap(words, float(width), 3.0)
        assert " ".join(lines) == words
        assert not any(re.match(r"(m|mm|g|%) ", line) for line in lines)
    assert "on 8" in {line[-4:] for width in range(12, 60) for line in wrap(words, width, 3.0)}
    short = shortened("the moon over the salt marsh", 20.0, 3.0)
    assert short.endswith("…")
    assert text_width_mm(short, 3.0) <= 20.0


def test_plain_braid_is_as_long_at_either_end():
    for unit, first, last in (
        ("cm", "1 to 2 cm", "1 to 2 cm"),
        ("in", "0.38 to 0.75", "3/8 to 3/4"),
    ):
        content = SheetContent(printed(marsh(), unit=unit))
        assert f"about {first}" in content.plain_start[0]
        assert last in content.plain


def test_cord_is_never_cut_too_short():
    for unit, mm in (("cm", 10.0), ("in", 25.4)):
        content = SheetContent(printed(marsh(16), unit=unit))
        wanted = content.shopping.cord
        pieces, each = re.match(r"Cord: (\d+) pieces of (\d+) ", content.needs[0]).groups()
        assert int(pieces) * 2 == 16
        assert 0 <= int(each) * mm - wanted.piece_mm < mm
