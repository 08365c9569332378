"""The PDF read back by another library: sizes, pages, every list, the same bytes each time."""

from __future__ import annotations

import io
import re
import time
from dataclasses import replace
from itertools import pairwise

import numpy as np
import pypdf
import pytest
from himotif.core.braid.braid import Braid
from himotif.core.design.design import PlacedPicture
from himotif.core.design.loads import beads_from_lists
from himotif.core.drawing.pdf import to_pdf
from himotif.core.drawing.shapes import Page, Polygon, Polyline, Text
from himotif.core.findings import remark
from himotif.core.paper.setup import setup_pages, setup_pdf
from himotif.core.paper.sheet_content import SheetContent
from sheet_designs import marsh, printed, unfold

pytestmark = pytest.mark.usefixtures("blank_views")

LIST = re.compile(r"Strand (\d+), slot (\d+): (.*?) ?= ?(\d+) beads", re.DOTALL)
INCH_MM = 25.4


def text_of(shape) -> str:
    return shape.text if isinstance(shape, Text) else ""


def words(pdf: bytes) -> str:
    """All text of a PDF, white space made even."""
    pages = pypdf.PdfReader(io.BytesIO(pdf)).pages
    return re.sub(r"\s+", " ", " ".join(page.extract_text() for page in pages))


def lists_in(text: str) -> list[tuple[int, int, list[str]]]:
    """Strand, slot and codes of every list in a text."""
    found = []
    for strand, slot, folded, count in LIST.findall(text):
        codes = unfold(folded)
        assert len(codes) == int(count)
        found.append((int(strand), int(slot), codes))
    return found


@pytest.mark.parametrize(("strands", "lay", "colours"), [(8, "S", 40), (20, "Z", 2)])
def test_the_braid_worked_from_the_text_of_the_pdf_is_the_design(strands, lay, colours):
    design = marsh(strands, lay, colours=colours, rounds=60)
    found = lists_in(words(setup_pdf(SheetContent(design, "Heron"))))
    assert [strand for strand, _, _ in found] == list(range(1, strands + 1))
    assert [slot for _, slot, _ in found] == list(design.braid.start_slots)
    number = {bead.code: index for index, bead in enumerate(design.palette)}
    lists = [[number[code] for code in codes] for _, _, codes in found]
    worked = beads_from_lists(lists, Braid(strands, lay))
    np.testing.assert_array_equal(worked, design.beads)


def test_swatches_and_boxes_say_the_same_as_the_words():
    """Before each count its bead's colour and pattern; the boxes count what is on the strand."""
    design = marsh(8, colours=6, rounds=60)
    content = SheetContent(design)
    (page,) = [p for p in setup_pages(content) if "At the disc" in map(text_of, p.shapes)]
    rows = {bead.rgb: row for row, bead in enumerate(design.palette)}
    hatches = content.styles.hatches
    counts: list[tuple[int, int]] = []
    ticked: list[int] = []
    for before, shape in pairwise(page.shapes):
        if (
            isinstance(before, Polygon)
            and isinstance(shape, Text)
            and shape.x > before.points[1][0]
        ):
            if (found := re.fullmatch(r"(\d+)\xa0(\w+)[,)]*", shape.text)) is not None:
                row = rows[before.fill]
                assert design.palette[row].code == found[2]
                assert before.hatch == hatches[row]
                counts.append((int(found[1]), row))
            elif shape.text.isdecimal() and before.fill == (255, 255, 255):
                ticked.append(int(shape.text))
    lists = {strand.number: strand for strand in content.strands}
    assert sum(n for n, _ in counts) <= len(design.beads)
    assert [
        (n, r)
        for strand in lists.values()
        for part in strand.parts
        for n, r in ((count, content.row_of[code]) for count, code in part.runs)
    ] == counts
    per_strand = len(design.beads) // 8
    assert all(0 < number < per_strand for number in ticked)


@pytest.mark.parametrize(
    ("paper", "width_mm", "height_mm"),
    # ISO 216; 8.5 × 11 in
    [("a4", 210.0, 297.0), ("letter", 8.5 * INCH_MM, 11 * INCH_MM)],
)
def test_paper_and_page_numbers(paper, width_mm, height_mm):
    reader = pypdf.PdfReader(io.BytesIO(setup_pdf(SheetContent(printed(marsh(16), paper=paper)))))
    for number, page in enumerate(reader.pages, start=1):
        assert float(page.mediabox.width) == pytest.approx(width_mm * 72 / INCH_MM, abs=0.01)
        assert float(page.mediabox.height) == pytest.approx(height_mm * 72 / INCH_MM, abs=0.01)
        text = page.extract_text()
        assert f"page {number} of {len(reader.pages)}" in text
        assert "50 mm: print at 100 %" in text
    assert reader.metadata.title.endswith("set-up sheet")


@pytest.mark.parametrize(
    ("unit", "ruler", "long_mm", "bar", "braid_mm"),
    [("cm", "50 mm", 50.0, "10 mm", 10.0), ("in", "2 in", 2 * INCH_MM, "1 in", INCH_MM)],
)
def test_rulers_are_true_and_in_the_unit_of_the_paper(unit, ruler, long_mm, bar, braid_mm):
    pages = setup_pages(SheetContent(printed(marsh(16), unit=unit)))
    shapes = [shape for page in pages for shape in page.shapes]
    said = " ".join(shape.text for shape in shapes if isinstance(shape, Text))
    scale = float(re.search(r"drawn ([\d.]+) times", said)[1])

    def beside(words: str) -> list[float]:
        """Lengths of the level lines that end just before each of these words."""
        return [
            line.points[1][0] - line.points[0][0]
            for page in pages
            for text in page.shapes
            for line in page.shapes
            if isinstance(text, Text)
            and text.text == words
            and isinstance(line, Polyline)
            and len({y for _, y in line.points}) == 1
            and abs(line.points[0][1] - text.y) < 1.0
            and 0 < text.x - line.points[1][0] < 3.0
        ]

    assert beside(f"{ruler}: print at 100 %") == pytest.approx([long_mm] * len(pages))
    assert beside(f"{bar} of braid") == pytest.approx([braid_mm * scale], rel=0.05)


def test_what_a_stranger_needs_is_on_it():
    design = marsh(12, "Z", colours=6)
    text = words(
        setup_pdf(
            SheetContent(design, "Moon over reeds", findings=(remark("Leave the back plain."),))
        )
    )
    for bead, count in zip(design.palette, np.bincount(design.beads), strict=True):
        assert f"{bead.code} {bead.name} {count} " in text
    for word in (
        "Moon over reeds",
        "32 slots",
        "Cord",
        "Core cord",
        "end caps",
        "plain braid",
        "Front mark",
        "counter-clockwise",
        "Tying off",
        "small parts",
        "Leave the back plain.",
        "wrist 16.5 cm",
        "rise 2.196 mm (computed)",
    ):
        assert word in text, word


def test_the_tally_comes_when_asked_for():
    design = marsh(8)
    assert "Working tally" not in words(setup_pdf(SheetContent(design)))
    text = words(setup_pdf(SheetContent(printed(design, tally=True))))
    assert "Working tally" in text
    assert "repeat 1" in text.split("Working tally")[1]


def test_the_tally_is_the_work():
    """Fields in working order: bead and strand of every crossing, worked slot by slot."""
    design = marsh(12, "S", "other", colours=5, rounds=18)
    pages = setup_pages(SheetContent(printed(design, tally=True)))
    page = next(
        p for p in pages if any(getattr(s, "text", "") == "Working tally" for s in p.shapes)
    )
    texts = [s for s in page.shapes if isinstance(s, Text)]
    strands = [int(s.text) for s in texts if s.size_mm == 1.7]
    codes = {bead.code for bead in design.palette}
    letters = [s.text for s in texts if s.size_mm == 2.3 and s.text in codes]
    assert letters == design.codes
    assert strands == [move.strand + 1 for move in design.braid.work(len(design.beads))]


def test_same_input_same_bytes():
    design = printed(marsh(16, colours=12), tally=True)
    content = SheetContent(design, "לבן Heron")
    once = setup_pdf(content)
    # another document in between must leave no trace in the fonts
    setup_pdf(SheetContent(marsh(8, colours=40), "Żółty kwiat"))
    assert setup_pdf(SheetContent(design, "לבן Heron")) == once


def test_fonts_are_embedded():
    reader = pypdf.PdfReader(io.BytesIO(setup_pdf(SheetContent(marsh()))))
    fonts = {
        font["/BaseFont"]: font
        for page in reader.pages
        for font in (ref.get_object() for ref in page["/Resources"]["/Font"].values())
    }
    used = [font for name, font in fonts.items() if "DejaVu" in name]
    assert used
    for font in used:
        assert "/FontFile2" in font["/FontDescriptor"]


def test_drops_keep_their_direction():
    design = marsh(8, colours=3, rounds=40)
    drops = replace(design.palette[2], shape="drop")
    picture = PlacedPicture(
        "heron.png",
        "0" * 64,
        (10, 10),
        "wrap",
        1.0,
        180.0,
        np.full((len(design.beads), 2), np.nan),
        centres=((180.0, design.length_mm / 2),),
    )
    design = replace(design, palette=(*design.palette[:2], drops), picture=picture)
    content = SheetContent(design)
    text = words(setup_pdf(content))
    assert "← wide end toward the disc" in text
    assert "→ wide end away from it" in text
    marked = {code for _, _, codes in lists_in(text) for code in codes}
    assert marked == {"A", "B", "C←", "C→"}
    for strand, (_, _, codes) in zip(content.strands, lists_in(text), strict=True):
        crossings = design.braid.crossing_of(strand.number - 1, np.arange(len(codes)))
        ways = content.drops.direction[crossings]
        assert [{"←": 1, "→": -1}.get(code[-1], 0) for code in codes] == ways.tolist()


def test_a_long_design_is_quick():
    design = marsh(8, colours=10, rounds=4000)
    assert len(design.beads) == 8 * 2000
    start = time.process_time()
    pdf = setup_pdf(SheetContent(design))
    assert time.process_time() - start < 3.0
    assert len(pypdf.PdfReader(io.BytesIO(pdf)).pages) > 20


def test_texts_of_any_kind_are_safe():
    page = Page(100.0, 50.0, (Text(10.0, 20.0, r"(a\b) <&> 100 % ) \n", 4.0),))
    assert r"(a\b) <&> 100 % ) \n" in words(to_pdf([page], "x"))
