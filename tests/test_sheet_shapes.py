"""Shapes, patterns and fonts: alike in every back end, distinct, in any script."""

from __future__ import annotations

import io
import itertools
import shutil
import subprocess
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from himotif.core.drawing.fonts import font_bytes, glyphs, missing, set_apart, text_width_mm
from himotif.core.drawing.hatches import hatch_strokes, patterns
from himotif.core.drawing.pdf import to_pdf
from himotif.core.drawing.png import to_png
from himotif.core.drawing.shapes import (
    Circle,
    Page,
    PixelImage,
    Polygon,
    Polyline,
    Text,
    ink,
    moved,
    rectangle,
)
from himotif.core.drawing.svg import to_svg
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageDraw, ImageFont, features

HEXAGON = tuple((5 + 4 * np.sin(a), 5 + 4 * np.cos(a)) for a in np.arange(6) * np.pi / 3)


def every_shape() -> Page:
    rgb = np.array([[[200, 30, 30], [30, 30, 200]]], dtype=np.uint8)
    return Page(
        60.0,
        40.0,
        (
            rectangle(2, 2, 10, 8, (240, 220, 90), (0, 0, 0), 0.5),
            Polygon(tuple((x + 12, y) for x, y in HEXAGON), (20, 40, 90), (0, 0, 0), 0.3, 4),
            Circle(32, 6, 4, (90, 160, 90), (120, 0, 0), 0.8),
            Polyline(((40, 2), (56, 2), (56, 10)), (0, 0, 0), 0.6, (3.0, 1.5)),
            PixelImage(2, 14, 12, 6, rgb),
            Text(20, 20, "Heron 12 ×", 5.0),
            Text(56, 30, "moon", 4.0, "end", True, (0, 90, 0)),
            Text(10, 36, "turned", 4.0, "start", False, (90, 0, 0), -90.0),
        ),
    )


def rendered_pdf(pdf: bytes, px_per_mm: float, folder) -> np.ndarray:
    """The first page as another program draws it."""
    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm is not installed")
    (folder / "page.pdf").write_bytes(pdf)
    call = ["pdftoppm", "-r", f"{px_per_mm * 25.4}", "-png", "-singlefile"]
    subprocess.run([*call, folder / "page.pdf", folder / "page"], check=True)
    return np.asarray(Image.open(folder / "page.png").convert("RGB"))


def test_pdf_and_pixels_agree(tmp_path):
    page = every_shape()
    ours = to_png(page, 8.0).astype(int)
    theirs = rendered_pdf(to_pdf([page], "shapes"), 8.0, tmp_path).astype(int)
    assert ours.shape == (320, 480, 3)
    assert theirs.shape == ours.shape
    # edges are smoothed differently; a shape that is missing, moved or mirrored shows at once
    off = np.abs(ours - theirs).max(axis=2) > 128
    assert off.mean() < 0.01


def test_svg_holds_the_same_shapes():
    root = ElementTree.fromstring(to_svg(every_shape(), "shapes & <more>"))
    tags = [element.tag.rpartition("}")[2] for element in root.iter()]
    for tag, count in (("polygon", 2), ("circle", 1), ("polyline", 1), ("image", 1), ("text", 3)):
        assert tags.count(tag) == count
    assert root.find("{http://www.w3.org/2000/svg}title").text == "shapes & <more>"


@given(st.text(max_size=40))
def test_any_text_gives_a_document_that_parses(text):
    page = Page(50, 20, (Text(5, 10, text, 4.0), replace(rectangle(1, 1, 5, 5), label=text)))
    ElementTree.fromstring(to_svg(page, text))
    assert to_pdf([page], "x").startswith(b"%PDF")
    assert text_width_mm(text, 4.0) >= 0


def test_moved_and_scaled():
    page = every_shape()
    twice = Page(120.0, 80.0, tuple(moved(page.shapes, 0.0, 0.0, 2.0)))
    small, large = to_png(page, 8.0).astype(int), to_png(twice, 4.0).astype(int)
    assert np.abs(small - large).mean() < 1.0


def test_forty_patterns_can_be_told_apart_without_colour():
    """As printed black on white, in a swatch and in a bead of the chart."""
    assert len(patterns()) == 40
    drawn = []
    for number in range(40):
        shape = Polygon(HEXAGON, (255, 255, 255), (0, 0, 0), 0.2, number)
        drawn.append(to_png(Page(10.0, 10.0, (shape,)), 12.0).mean(axis=2))
    inner = np.array(drawn)[:, 30:90, 30:90]
    for a, b in itertools.combinations(range(40), 2):
        # a difference that a blur of half a millimetre does not wipe out
        apart = np.abs(box_blur(inner[a], 6) - box_blur(inner[b], 6))
        assert apart.max() > 12, (a, b)


def box_blur(picture: np.ndarray, width: int) -> np.ndarray:
    summed = np.cumsum(np.cumsum(np.pad(picture, ((1, 0), (1, 0))), axis=0), axis=1)
    w = width
    return (summed[w:, w:] - summed[:-w, w:] - summed[w:, :-w] + summed[:-w, :-w]) / w**2


@pytest.mark.parametrize("number", range(40))
def test_patterns_stay_inside(number):
    strokes = hatch_strokes(HEXAGON, number)
    corners = np.array(HEXAGON)
    edge = np.roll(corners, -1, axis=0) - corners
    for end in (strokes[:, 0], strokes[:, 1]):
        away = end[:, None] - corners
        turn = edge[:, 0] * away[..., 1] - edge[:, 1] * away[..., 0]
        assert np.all(turn <= 1e-2) or np.all(turn >= -1e-2)
    assert len(strokes) or number == 0


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_ink_contrasts(fill):
    """WCAG 2.2: contrast ratio of at least 4.5 : 1; black or white always reaches it."""

    def luminance(rgb):
        linear = [
            c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4
            for c in (v / 255 for v in rgb)
        ]
        return float(np.dot((0.2126, 0.7152, 0.0722), linear))

    dark, light = sorted((luminance(fill), luminance(ink(fill))))
    assert (light + 0.05) / (dark + 0.05) >= 4.5


# -- scripts -------------------------------------------------------------------------------------

NAMES = [
    "oyster, matt",
    "zelená řasa",
    "зелёный камыш",
    "ασημένιο φεγγάρι",
    "לבן צדף (מט)",
    "أزرق المد والجزر",
    "آبی گلی",
    "שחור 12 mm",
    "قمر (فضي)",
]


@pytest.mark.skipif(not features.check("raqm"), reason="Pillow without its layout library")
@pytest.mark.parametrize("name", NAMES)
def test_names_are_set_like_a_layout_library_sets_them(name):
    """Reference: FriBidi and HarfBuzz, through Pillow, on the same font."""
    assert not missing(name)
    file = font_bytes(False)

    def line(text: str, engine: ImageFont.Layout) -> np.ndarray:
        font = ImageFont.truetype(io.BytesIO(file), 40, layout_engine=engine)
        picture = Image.new("L", (900, 70), 255)
        more = {} if engine is ImageFont.Layout.BASIC else {"features": ["-kern", "-liga"]}
        ImageDraw.Draw(picture).text((10, 50), text, 0, font, "ls", **more)
        columns = np.flatnonzero(np.asarray(picture).min(axis=0) < 128)
        return np.asarray(picture)[:, columns[0] : columns[-1] + 1].astype(float)

    ours = line(glyphs(name), ImageFont.Layout.BASIC)
    theirs = line(name, ImageFont.Layout.RAQM)
    assert abs(ours.shape[1] - theirs.shape[1]) <= 0.03 * theirs.shape[1]
    # same letters in the same order: compare the ink along the line, stretched to one width
    at = np.linspace(0, 1, 300)
    profiles = [
        np.interp(at, np.linspace(0, 1, p.shape[1]), 255 - p.mean(axis=0)) for p in (ours, theirs)
    ]
    assert np.corrcoef(*profiles)[0, 1] > 0.9
    mirrored = np.corrcoef(profiles[0][::-1], profiles[1])[0, 1]
    assert mirrored < 0.6


def test_a_right_to_left_name_does_not_carry_its_count_away():
    """UAX 9: without isolation the number would be drawn on the left of the name."""
    name = "לבן צדף"
    line = glyphs(f"B  {set_apart(name)}, 12")
    assert line.startswith("B  ")
    assert line.endswith(", 12")
    assert line[3:-4] == name[::-1]


def test_letters_without_a_glyph_are_left_out_visibly():
    assert glyphs("blue 中村!") == "blue […]!"
    assert glyphs("สี ฟ้า 12") == "[…] 12"
    assert missing("中")
    assert not missing("plain […]")
    assert missing("[…] 中")
    assert glyphs("a\tb\u200b\x01c") == "a b c"


def test_svg_texts_cannot_outgrow_their_room():
    svg = to_svg(Page(50, 20, (Text(5, 10, "salt marsh", 4.0), Text(5, 15, "中 marsh", 4.0))))
    measured, unknown = (
        element for element in ElementTree.fromstring(svg).iter() if element.tag.endswith("text")
    )
    assert float(measured.get("textLength")) == pytest.approx(
        text_width_mm("salt marsh", 4.0), abs=1e-3
    )
    # a letter that we had to spell is narrower than its spelling, so the browser may set it freely
    assert unknown.get("textLength") is None
