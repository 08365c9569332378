"""Drawings in lines, photographs of telephones, few colours, few pixels."""

from __future__ import annotations

import base64
import hashlib
import io
from pathlib import Path

import numpy as np
import pytest
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.read import Picture, read_picture, read_sketch
from himotif.core.errors import HimotifError
from himotif.palette import read_palette
from PIL import Image

FIXTURES = Path(__file__).parent.parent / "fixtures"
SALTMARSH = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
NS = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'


def svg(inside: str, size: str = 'width="40mm" height="20mm" viewBox="0 0 200 100"') -> bytes:
    return f'<?xml version="1.0"?>\n<svg {NS} {size}>{inside}</svg>'.encode()


def file(image: Image.Image, kind: str, **options: object) -> Picture:
    out = io.BytesIO()
    image.save(out, kind, **options)
    return read_picture(out.getvalue(), f"sketch.{kind.lower()}")


def test_an_svg_drawing_is_read_at_the_size_that_is_of_use() -> None:
    data = svg('<a href="https://example.org"><circle cx="50" cy="50" r="40" fill="#c04e2c"/></a>')
    picture = read_picture(data, "disc.svg")
    assert (picture.size_px, picture.scale) == ((1200, 600), 1.0)
    assert picture.sha256 == hashlib.sha256(data).hexdigest()
    assert picture.alpha[300, 300] == 1
    assert picture.alpha[0, 0] == picture.alpha[300, 900] == 0
    # the area of a circle
    assert picture.alpha.mean() == pytest.approx(np.pi * 40**2 / (200 * 100), rel=1e-3)
    sketch = read_sketch(picture)
    assert (sketch.kind, len(sketch.colours.linear)) == ("flat", 1)
    plain = read_picture(svg("<rect width='9' height='9'/>", 'width="1in" height="48"'), "a.svg")
    assert plain.alpha.mean() == pytest.approx(81 / (96 * 48), rel=0.05)
    upright = read_picture(svg("<rect width='9' height='9'/>", 'viewBox="0 0 10 40"'), "a.svg")
    assert upright.size_px == (300, 1200)


def pixel() -> str:
    """A green picture of one pixel, as it lies in a drawing."""
    out = io.BytesIO()
    Image.new("RGB", (1, 1), (0, 255, 0)).save(out, "PNG")
    return "data:image/png;base64," + base64.b64encode(out.getvalue()).decode()


@pytest.mark.parametrize(
    ("inside", "said"),
    [
        ("<script>1</script>", "script"),
        ('<rect onclick="1" width="9" height="9"/>', "script"),
        ('<a xlink:href=" JavaScript:1"><rect width="9" height="9"/></a>', "script"),
        ('<image href="file:///etc/hostname" width="9" height="9"/>', "outside"),
        ('<image xlink:href="photo.jpg" width="9" height="9"/>', "outside"),
        ('<use href="https://example.org/a.svg#b"/>', "outside"),
        ('<image href="data:image/svg+xml;base64,PHN2Zy8+" width="9" height="9"/>', "outside"),
        ('<rect fill="url(other.svg#a)" width="9" height="9"/>', "outside"),
        ("<style>@import 'a.css';</style>", "outside"),
        ('<g><text y="50"><tspan>REED</tspan></text></g>', "text"),
        ("<foreignObject width='9' height='9'><p>REED</p></foreignObject>", "text"),
        ("<flowRoot><flowPara>REED</flowPara></flowRoot>", "text"),
        ("<style>rect { fill: url('http://example.org/#a') }</style>", "outside"),
    ],
)
def test_scripts_and_what_lies_outside_a_drawing_are_refused(inside: str, said: str) -> None:
    with pytest.raises(HimotifError, match=rf"^a\.svg: this SVG drawing .*{said}"):
        read_picture(svg(inside), "a.svg")


def test_what_lies_inside_a_drawing_is_drawn() -> None:
    inside = (
        f'<defs><linearGradient id="g"><stop stop-color="red"/></linearGradient></defs>'
        f'<image href="{pixel()}" width="100" height="100"/>'
        f'<rect fill="url(#g)" x="100" width="50" height="100"/>'
    )
    picture = read_picture(svg(inside), "a.svg")
    assert picture.linear[300, 750] == pytest.approx([1, 0, 0], abs=0.01)
    assert picture.linear[300, 300] == pytest.approx([0, 1, 0], abs=0.01)
    assert picture.alpha[300, 1100] == 0


@pytest.mark.parametrize(
    "data",
    [
        svg("<rect"),
        svg("", ""),
        svg("", 'width="100%" height="100%"'),
        svg("", 'viewBox="0 0 0 0"'),
        svg("", 'viewBox="0 0 1 1000"'),
        b'<!DOCTYPE svg [<!ENTITY a "aaaa">]><svg width="9" height="9">&a;</svg>',
        b'<?xml version="1.0" encoding="none"?><svg width="9" height="9"/>',
    ],
)
def test_a_broken_drawing_is_one_clear_message(data: bytes) -> None:
    with pytest.raises(HimotifError, match=r"^a\.svg: this SVG drawing .*PNG"):
        read_picture(data, "a.svg")


def test_a_telephone_s_photograph_is_read_where_its_library_is() -> None:
    heif = pytest.importorskip("pillow_heif")
    pixels = np.full((90, 120, 3), (192, 78, 44), np.uint8)
    pixels[:, 60:] = (28, 43, 79)
    out = io.BytesIO()
    heif.from_pillow(Image.fromarray(pixels)).save(out, quality=90)
    picture = read_picture(out.getvalue(), "photo.heic")
    assert picture.size_px == (120, 90)
    seen = (picture.linear[45, [20, 100]] ** (1 / 2.2) * 255).round()
    assert np.abs(seen - [(192, 78, 44), (28, 43, 79)]).max() < 8


def test_dithered_and_indexed_files_are_flat() -> None:
    # colours that the web palette of 216 does not have
    heart = Image.open(FIXTURES / "motifs" / "heart.png").convert("RGB")
    web = heart.convert("P", palette=Image.Palette.WEB, dither=Image.Dither.FLOYDSTEINBERG)
    few = heart.convert("P", palette=Image.Palette.ADAPTIVE, colors=8)
    for picture in (file(web, "GIF"), file(few, "GIF"), file(few, "PNG")):
        sketch = read_sketch(picture)
        assert sketch.kind == "flat"
        assert len(sketch.colours.linear) == 2
        rust = sketch.colours.linear[np.argmin(sketch.colours.linear[:, 2])]
        assert (
            np.abs(rust - read_sketch(file(heart, "PNG")).colours.linear[[0, 1]]).max(axis=1).min()
            < 0.03
        )


HEART = (
    "..........",
    "..##..##..",
    ".####.###.",
    ".########.",
    ".########.",
    ".########.",
    "..######..",
    "...####...",
    "....##....",
    "..........",
)


def test_a_heart_of_ten_pixels_keeps_its_notch() -> None:
    drawn = np.array([[c == "#" for c in row] for row in HEART])
    pixels = np.where(drawn[..., None], (192, 78, 44), (244, 239, 226)).astype(np.uint8)
    order = Order(strands=16, width_mm=18.0, stretch=1.0, repeat="once", quick=True)
    made = make(order, file(Image.fromarray(pixels), "PNG"), SALTMARSH)
    design = made.design
    crossings = np.arange(len(design.beads))
    azimuth, height = design.lattice.azimuth_deg(crossings), design.lattice.height_mm(crossings)
    red = design.beads != design.background
    centre_deg, middle_mm = made.conversion.placement.centres[0]
    off_mm = np.radians((azimuth - centre_deg + 180) % 360 - 180) * design.lattice.radius_mm
    top = height - middle_mm
    notch = (np.abs(off_mm) < 1.2) & (top > 5.5)
    lobes = (np.abs(np.abs(off_mm) - 4) < 1.5) & (top > 4.0) & (top < 7.0)
    assert red[lobes].any()
    assert not red[notch & (height < height[red].max() + 1)].any()


@pytest.mark.parametrize("compression", [None, "zlib"])
def test_sixteen_bit_colour_of_tiff_files(compression: str | None) -> None:
    import tifffile  # of scikit-image

    values = np.random.default_rng(5).integers(0, 65536, (9, 7, 3)).astype(np.uint16)
    out = io.BytesIO()
    tifffile.imwrite(out, values, photometric="rgb", compression=compression)
    picture = read_picture(out.getvalue(), "a.tiff")
    share = values / 65535
    # IEC 61966-2-1
    light = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    np.testing.assert_allclose(picture.linear, light, atol=2e-6)
