"""The layout of the sheet: few pages, none with an orphan, type that is read at arm's length."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pypdf
import pytest
from himotif.core.bead import Bead
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design, Repeat
from himotif.core.design.origin import PaperChoice
from himotif.core.drawing.shapes import Page, Text
from himotif.core.making.swatch_braid import swatch_braid
from himotif.core.paper.html import sheet_html
from himotif.core.paper.legend import short_codes
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.setup import setup_pages, setup_pdf
from himotif.core.paper.sheet_content import SheetContent
from sheet_designs import marsh, printed, unfold
from test_sheet_pages import check_margins, check_page, check_pages

pytestmark = pytest.mark.usefixtures("blank_views")

TEXT_PT, LIST_PT = 10.0, 9.0
"""Asked for by makers who read a sheet that lies on the table, at arm's length."""


OWN = PaperChoice()


def repeating(strands: int, rounds: int = 88, papers: PaperChoice = OWN) -> Design:
    """A motif that comes again on the same face, over the length of a bracelet."""
    design = marsh(strands, colours=4, rounds=rounds)
    lattice: Lattice = design.lattice
    back = lattice.face_return(12)
    period = back.rounds * design.braid.beads_per_round
    beads = np.resize(design.beads[:period], len(design.beads))
    # the motif takes a part of the repeat, the rest is ground
    beads[np.arange(len(beads)) % period > period // 2] = 0
    repeat = Repeat(0, back.rounds, back.flip, rounds // back.rounds)
    return replace(design, beads=beads, repeat=repeat, papers=papers)


def texts(page: Page) -> list[Text]:
    return [shape for shape in page.shapes if isinstance(shape, Text) and shape.text.strip()]


def lowest(page: Page) -> float:
    """Lower end of what is written, feet left out, as a share of the page."""
    body = [text.y for text in texts(page) if text.y < page.height_mm - 24.0]
    return max(body) / page.height_mm


@pytest.mark.parametrize(
    ("strands", "paper", "most"),
    [
        (8, "a4", 3),
        (8, "letter", 3),
        (12, "letter", 4),
        (16, "a4", 4),
        (20, "letter", 5),
        (24, "a4", 5),
    ],
)
def test_few_pages_and_none_with_an_orphan(strands, paper, most):
    content = SheetContent(printed(repeating(strands), paper=paper), "Heron over the reeds")
    pages = setup_pages(content)
    assert len(pages) <= most
    for number, page in enumerate(pages, start=1):
        check_page(page)
        check_margins(page)
        assert lowest(page) > 0.3, f"page {number} of {len(pages)}"
        # a heading is never the last line
        last = max((t for t in texts(page) if t.y < page.height_mm - 24.0), key=lambda t: t.y)
        assert not (last.bold and last.size_mm > 4.0)
    headings = [t.text for page in pages for t in texts(page) if t.bold and t.size_mm > 4.0]
    order = ["What you need", "Setting up", "At the disc", "Stringing lists", "Chart", "Tying off"]
    assert [one for one in headings if one in order] == order
    assert "Take care" in headings


@pytest.mark.parametrize(("strands", "sets"), [(8, 0), (16, 3), (24, 99)])
def test_drops_and_other_sets_leave_nothing_overfull(strands, sets):
    papers = PaperChoice("letter", "in", plain_sets=sets, copies=strands)
    design = repeating(strands, papers=papers)
    beads = (*design.palette[:3], replace(design.palette[3], shape="drop", name="foam " * 9))
    content = SheetContent(replace(design, palette=beads), "Heron")
    check_pages(setup_pages(content))


def test_the_worktable_page_of_eight_strands_holds_all_for_the_work():
    page = setup_pages(SheetContent(printed(repeating(8), paper="letter")))[1]
    words = " ".join(text.text for text in texts(page))
    for part in ("At the disc", "your side", "Take the left strand", "tuck it under", "In all: "):
        assert part in words
    for strand in range(1, 9):
        assert f"Strand\xa0{strand}, slot" in words


@pytest.mark.parametrize("papers", [PaperChoice(), PaperChoice(copies=10)])
def test_type_is_read_at_arms_length(papers):
    """Sizes as they stand in the PDF, by another library; drawings have sizes of their own."""
    pdf = pypdf.PdfReader(io.BytesIO(setup_pdf(SheetContent(repeating(8, papers=papers)))))
    sizes: dict[str, float] = {}

    def visit(text, cm, tm, font, size):
        for line in filter(str.strip, text.splitlines()):
            sizes[line.strip()] = min(size * cm[0], sizes.get(line.strip(), 99.0))

    for page in pdf.pages:
        page.extract_text(visitor_text=visit)
    runs = {line: size for line, size in sizes.items() if re.fullmatch(r"\d+\s\w+[,)]*", line)}
    assert len(runs) > 10
    assert min(runs.values()) >= LIST_PT
    heads = [size for line, size in sizes.items() if line.startswith("Strand")]
    assert min(heads) >= LIST_PT
    # what it was made of, the ruler, the caption of the picture
    small = ("himotif sheet makes", "usual turn, 8/0 beads; ", "(computed); ", "50 mm", "Left:")
    sentences = {
        line: size
        for line, size in sizes.items()
        if len(line.split()) > 5 and not any(part in line for part in small)
    }
    assert len(sentences) > 25
    assert {line for line, size in sentences.items() if size < TEXT_PT - 0.01} == set()


def test_repeats_are_written_once_with_boxes():
    content = SheetContent(repeating(8))
    printed = " ".join(t.text for page in setup_pages(content) for t in texts(page))
    for strand in content.strands:
        for part in strand.parts:
            if part.times > 1:
                assert f"{part.times} × (" in printed
    drawn = sum(len(part.runs) for strand in content.strands for part in strand.parts)
    found = re.findall(r"\d+\xa0[A-D][,)]*", printed)
    assert len(found) == drawn < len(content.design.beads) / 3


def test_long_codes_go_by_aliases_with_a_key():
    palette = (
        Bead("oyster-8", "oyster", (243, 238, 225)),
        Bead("B", "deep water", (24, 46, 92)),
        Bead("reed-11-b", "reed", (110, 140, 70)),
        Bead("D", "heron", (120, 128, 140)),
    )
    assert short_codes(palette, [0, 1, 2, 3]) == ("O", "B", "R", "D")
    assert short_codes(palette, [1, 2]) == ("oyster-8", "B", "R", "D")
    twins = (*palette, Bead("R", "rust", (90, 40, 20)), Bead("rosy", "", (9, 9, 9)))
    short = short_codes(twins, range(6))
    assert len({code.casefold() for code in short}) == 6
    assert max(map(len, short)) <= 3
    content = SheetContent(replace(repeating(8), palette=palette), "Reeds")
    printed = " ".join(t.text for page in setup_pages(content) for t in texts(page))
    assert "oyster, code oyster-8" in printed
    assert any("oyster-8" in unfold(strand.folded) for strand in content.strands)
    assert not re.search(r"\d\xa0oyster-8", printed)
    assert re.search(r"\d\xa0O,", printed)
    # what is read by programs and aloud keeps the palette's codes
    assert " oyster-8" in stringing_text(content)
    assert ">O</bdi>" in sheet_html(content)


def test_a_handout_counts_for_all_and_knows_of_no_stock():
    stocked = repeating(8, papers=PaperChoice(copies=10))
    beads = tuple(replace(b, stock=5, price=2.0, grams=10.0, size="8/0") for b in stocked.palette)
    content = SheetContent(replace(stocked, palette=beads))
    printed = " ".join(t.text for page in setup_pages(content) for t in texts(page))
    counts = np.bincount(stocked.beads)
    for text in (printed, stringing_text(content), sheet_html(content)):
        for count in counts.tolist():
            # ten times as many, and a tenth more
            assert re.search(rf"\b{count * 11}\b", text)
        for word in ("at hand", "to buy", "stock", "currency"):
            assert word not in text
        assert "To make this" not in text
    assert "Name" in printed
    own = SheetContent(replace(stocked, palette=beads, papers=PaperChoice()))
    assert "at hand" in stringing_text(own)


def test_a_test_braid_has_lines_for_its_readings_on_the_first_page():
    design = marsh(8)
    made = swatch_braid(design.lattice, design.bead, design.palette)
    content = SheetContent(made.design, findings=made.findings)
    first = " ".join(t.text for t in texts(setup_pages(content)[0]))
    for label, _ in content.readings:
        assert label in first
    assert f"Length of {made.rounds} rounds" in first
    assert 'class="blank"' in sheet_html(content)


def test_the_web_sheet_shows_a_repeat_once():
    content = SheetContent(repeating(8))
    html = sheet_html(content)
    shown = [list(map(int, one.split())) for one in re.findall(r'data-n="([\d ]+)"', html)]
    assert sorted(n for one in shown for n in one) == list(range(len(content.design.beads)))
    assert len(shown) < len(content.design.beads)
    for crossings in shown:
        assert len({int(content.design.beads[n]) for n in crossings}) == 1
        assert len({int(s) for s in content.design.braid.strand_of(crossings)}) == 1
