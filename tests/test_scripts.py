"""Names and codes in every script: on paper as far as its typeface goes, whole on the web sheet."""

from __future__ import annotations

from dataclasses import replace
from io import BytesIO

import pytest
from himotif.core.bead import Bead
from himotif.core.drawing.fonts import LEFT_OUT, glyphs, registered
from himotif.core.drawing.pdf import to_pdf
from himotif.core.drawing.png import to_png
from himotif.core.paper.chart import chart_page
from himotif.core.paper.html import sheet_html
from himotif.core.paper.legend import short_codes
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.setup import setup_pages
from himotif.core.paper.sheet_content import SheetContent
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader
from sheet_designs import marsh

NAMES = {
    "Chinese": ("潮", "深水藍"),
    "Japanese": ("あ", "潮の青い"),
    "Korean": ("갯", "갯벌 회색"),
    "Thai": ("น้ำ", "น้ำเงินเข้ม"),
    "Hindi": ("नी", "नीला ज्वार"),
    "Tamil": ("நீ", "நீல அலை"),
    "Arabic": ("م", "مد أزرق"),
    "Greek": ("Π", "παλίρροια"),
}
DRAWN = ("Arabic", "Greek")


def content_of(script: str) -> SheetContent:
    code, name = NAMES[script]
    design = marsh(rounds=8, colours=3)
    sea = Bead(code, name, (30, 60, 110))
    return SheetContent(replace(design, palette=(design.palette[0], sea, design.palette[2])))


@pytest.mark.parametrize("script", NAMES)
def test_names_are_set_or_left_to_the_web_sheet(script):
    content = content_of(script)
    code, name = NAMES[script]
    pages = setup_pages(content)
    printed = "\n".join(
        page.extract_text() for page in PdfReader(BytesIO(to_pdf(pages, name))).pages
    )
    said = " ".join(printed.split()).count("stands for letters that the typeface of this paper")
    assert said == (script not in DRAWN)
    if script == "Greek":
        assert name in printed
    # its own code, or an alias that can be drawn and is not taken
    alias = short_codes(content.design.palette, [0, 1, 2])[1]
    assert (alias == code) == (script in DRAWN)
    assert LEFT_OUT not in glyphs(alias)
    assert alias not in (content.design.palette[0].code, content.design.palette[2].code)
    # the web sheet and the list to be read aloud have it as it is
    for text in (sheet_html(content), stringing_text(content)):
        assert name in text


def test_a_chart_with_every_script_is_drawn_as_pixels():
    for script in NAMES:
        pixels = to_png(chart_page(content_of(script).design, NAMES[script][1]), 4.0)
        assert pixels.min() < 128 < pixels.max()


@settings(max_examples=60, deadline=None)
@given(st.text(max_size=60), st.booleans())
def test_every_glyph_that_stands_on_paper_is_in_its_typeface(text, bold):
    from reportlab.pdfbase.pdfmetrics import getFont

    known = getFont(registered(bold)).face.charWidths
    assert all(ord(glyph) in known for glyph in glyphs(text, bold))
