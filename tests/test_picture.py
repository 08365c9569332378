"""Reading pictures: colours, orientation, opacity, depth, reduction, refusals."""

from __future__ import annotations

import hashlib
import io
import pickle
import struct
import sys
import warnings
import zlib
from pathlib import Path
from unittest.mock import patch

import colour
import icc
import numpy as np
import pytest
from himotif.convert.read.picture import Picture, read_picture
from himotif.core.arrays import Bytes, Float32Array, Floats
from himotif.core.errors import HimotifError
from himotif.core.findings import Code
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from PIL import Image, ImageOps


def saved(image: Image.Image, kind: str, **options: object) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, **options)
    return file.getvalue()


def codes(picture: Picture) -> Floats:
    """The stored picture as sRGB codes, 0 to 255, not rounded; by colour-science."""
    return 255 * np.asarray(colour.cctf_encoding(picture.linear.astype(float), "sRGB"))


def some_colours(height: int = 12, width: int = 16, channels: int = 3) -> Bytes:
    rng = np.random.default_rng(7)
    return rng.integers(0, 256, (height, width, channels)).astype(np.uint8)


def png(width: int, height: int, depth: int, kind: int, rows: bytes, extra: bytes = b"") -> bytes:
    """Write a PNG file from its parts (ISO/IEC 15948): kind 0 grey, 2 RGB, 4 grey and opacity."""
    header = png_chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, depth, kind, 0, 0, 0))
    body = png_chunk(b"IDAT", zlib.compress(rows)) if rows else b""
    return b"\x89PNG\r\n\x1a\n" + header + extra + body + png_chunk(b"IEND", b"")


def png_chunk(name: bytes, content: bytes) -> bytes:
    return (
        struct.pack(">I", len(content))
        + name
        + content
        + struct.pack(">I", zlib.crc32(name + content))
    )


# --- plain pictures ------------------------------------------------------------------------------


def test_small_picture_is_kept_pixel_by_pixel(tmp_path: Path) -> None:
    rgb = some_colours()
    file = tmp_path / "reeds.png"
    Image.fromarray(rgb).save(file)
    picture = read_picture(file)
    assert picture.name == "reeds.png"
    assert picture.sha256 == hashlib.sha256(file.read_bytes()).hexdigest()
    assert picture.size_px == (16, 12)
    assert picture.scale == 1
    assert picture.findings == ()
    assert picture.linear.dtype == picture.alpha.dtype == np.float32
    # colour-science's IEC 61966-2-1 decoding
    expected = colour.cctf_decoding(rgb / 255, "sRGB")
    np.testing.assert_allclose(picture.linear, expected, atol=1e-6)
    assert (picture.alpha == 1).all()


def test_path_text_bytes_and_standard_input_agree(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "moon.png"
    Image.fromarray(some_colours()).save(file)
    data = file.read_bytes()

    class StandardInput:
        buffer = io.BytesIO(data)

    monkeypatch.setattr(sys, "stdin", StandardInput)
    pictures = [read_picture(s) for s in (file, str(file), data, "-")]
    for picture in pictures:
        np.testing.assert_array_equal(picture.linear, pictures[0].linear)
        assert picture.sha256 == pictures[0].sha256
    assert pictures[3].name == "standard input"
    assert read_picture(data, name="tide.png").name == "tide.png"


def test_result_can_be_handed_between_processes() -> None:
    picture = read_picture(saved(Image.fromarray(some_colours()), "PNG"))
    again = pickle.loads(pickle.dumps(picture))
    np.testing.assert_array_equal(again.linear, picture.linear)
    assert (again.sha256, again.size_px) == (picture.sha256, picture.size_px)


@pytest.mark.parametrize(
    "kind", ["PNG", "JPEG", "WEBP", "GIF", "BMP", "TIFF", "PPM", "TGA", "ICO", "JPEG2000", "PCX"]
)
def test_kinds_of_file(kind: str) -> None:
    rgb = np.zeros((32, 48, 3), np.uint8)
    rgb[:, :24], rgb[:, 24:] = (200, 30, 40), (20, 60, 160)
    options = {"WEBP": {"lossless": True}, "JPEG": {"subsampling": 0}}.get(kind, {})
    if kind == "ICO":
        rgb, options = rgb[:, 8:40], {"sizes": [(32, 32)]}
    picture = read_picture(saved(Image.fromarray(rgb), kind, **options))
    assert picture.size_px == rgb.shape[1::-1]
    np.testing.assert_allclose(codes(picture), rgb, atol=3)


@pytest.mark.parametrize(
    ("mode", "value", "expected"),
    [
        ("1", 1, (255, 255, 255)),
        ("1", 0, (0, 0, 0)),
        ("L", 119, (119, 119, 119)),
        ("P", 3, (50, 60, 70)),
        ("YCbCr", (76, 85, 255), (254, 0, 0)),
    ],
)
def test_modes(mode: str, value: int | tuple[int, ...], expected: tuple[int, ...]) -> None:
    image = Image.new(mode, (8, 8), value)
    if mode == "P":
        image.putpalette([*range(9), 50, 60, 70])
    picture = read_picture(saved(image, "TIFF"))
    np.testing.assert_allclose(codes(picture)[4, 4], expected, atol=1)


def test_lab_picture_comes_out_as_its_colours() -> None:
    # L* 60 a* 40 b* -30 (D50) through colour-science: Bradford to D65, then sRGB
    image = Image.frombytes("LAB", (8, 8), bytes([153, 40, 256 - 30]) * 64)
    picture = read_picture(saved(image, "TIFF"))
    expected = srgb_of_lab_d50(np.array([60.0, 40.0, -30.0]))
    np.testing.assert_allclose(codes(picture)[4, 4], expected, atol=1.5)


def srgb_of_lab_d50(lab: Floats) -> Floats:
    white = colour.XYZ_to_xy(np.array(icc.D50))
    xyz = colour.Lab_to_XYZ(lab, white)
    return 255 * np.clip(
        colour.XYZ_to_sRGB(xyz, white, chromatic_adaptation_transform="Bradford"), 0, 1
    )


# --- orientation ---------------------------------------------------------------------------------

# Exif 2.3, tag 274: where row 0 and column 0 of the file lie in the picture as seen
SIDES = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "TIFF"])
@pytest.mark.parametrize("orientation", range(1, 9))
def test_orientation(kind: str, orientation: int) -> None:
    blocks = np.array([[40, 90, 140], [190, 240, 10]], np.uint8)
    image = Image.fromarray(np.kron(blocks, np.ones((16, 16), np.uint8))).convert("RGB")
    exif = Image.Exif()
    exif[0x0112] = orientation
    options = {"WEBP": {"lossless": True}, "JPEG": {"quality": 100}}.get(kind, {})
    data = saved(image, kind, exif=exif, **options)
    picture = read_picture(data)
    seen = codes(picture)[8::16, 8::16, 1]

    row_side, column_side = SIDES[orientation]
    upright = np.flip(blocks, 0) if "bottom" in SIDES[orientation] else blocks
    if row_side in ("left", "right"):
        # file rows are seen as columns
        upright = blocks.T
        upright = upright[:, ::-1] if row_side == "right" else upright
        upright = upright[::-1] if column_side == "bottom" else upright
    elif column_side == "right":
        upright = upright[:, ::-1]
    np.testing.assert_allclose(seen, upright, atol=2)
    assert picture.size_px == ((32, 48) if orientation >= 5 else (48, 32))

    by_pillow = ImageOps.exif_transpose(Image.open(io.BytesIO(data))).convert("RGB")
    np.testing.assert_allclose(codes(picture), np.asarray(by_pillow), atol=0.51)


def test_senseless_orientation_is_ignored() -> None:
    exif = Image.Exif()
    exif[0x0112] = 77
    assert read_picture(saved(Image.new("RGB", (20, 10)), "JPEG", exif=exif)).size_px == (20, 10)
    broken = saved(Image.new("RGB", (20, 10)), "JPEG", exif=b"Exif\0\0rubbish" + bytes(range(40)))
    assert read_picture(broken).size_px == (20, 10)


# --- colour profiles -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("space", "curve"),
    [("Display P3", icc.SRGB_CURVE), ("Adobe RGB (1998)", icc.ADOBE_CURVE)],
)
def test_profile_leads_to_srgb(space: str, curve: bytes) -> None:
    rgb = some_colours(32, 32)
    profile = icc.rgb_profile(space, curve)
    picture = read_picture(saved(Image.fromarray(rgb), "PNG", icc_profile=profile))
    # colour-science: decode, Bradford, matrix, encode; clipped to sRGB
    expected = 255 * np.clip(
        colour.RGB_to_RGB(
            rgb / 255, space, "sRGB", "Bradford", apply_cctf_decoding=True, apply_cctf_encoding=True
        ),
        0,
        1,
    )
    np.testing.assert_allclose(codes(picture), expected, atol=1.0)
    assert np.abs(expected - rgb).max() > 20  # the profile does matter
    assert picture.findings == ()


def test_profile_of_a_large_photograph_and_of_a_palette_picture() -> None:
    profile = icc.rgb_profile("Display P3", icc.SRGB_CURVE)
    red = Image.new("RGB", (1400, 900), (180, 90, 60))
    expected = 255 * colour.RGB_to_RGB(
        np.array([180, 90, 60]) / 255,
        "Display P3",
        "sRGB",
        "Bradford",
        apply_cctf_decoding=True,
        apply_cctf_encoding=True,
    )
    for data in (
        saved(red, "JPEG", quality=100, subsampling=0, icc_profile=profile),
        saved(red.quantize(4), "PNG", icc_profile=profile),
    ):
        seen = codes(read_picture(data, most_px=200))
        np.testing.assert_allclose(seen, np.broadcast_to(expected, seen.shape), atol=1.5)


def test_profile_of_srgb_changes_nothing() -> None:
    rgb = some_colours(32, 32)
    profile = icc.rgb_profile("sRGB", icc.SRGB_CURVE)
    picture = read_picture(saved(Image.fromarray(rgb), "PNG", icc_profile=profile))
    np.testing.assert_allclose(codes(picture), rgb, atol=1e-3)


@pytest.mark.parametrize("deep", [False, True])
def test_grey_profile(deep: bool) -> None:
    ramp = np.arange(256, dtype=np.uint8).reshape(16, 16)
    image = Image.fromarray(ramp.astype(np.uint16) * 257 if deep else ramp)
    picture = read_picture(saved(image, "PNG", icc_profile=icc.grey_profile(1.8)))
    np.testing.assert_allclose(picture.linear[..., 0], (ramp / 255) ** 1.8, atol=0.006)
    np.testing.assert_array_equal(picture.linear[..., 0], picture.linear[..., 2])


def test_rgb_profile_in_a_grey_picture() -> None:
    ramp = np.arange(256, dtype=np.uint8).reshape(16, 16)
    profile = icc.rgb_profile("Adobe RGB (1998)", icc.ADOBE_CURVE)
    picture = read_picture(saved(Image.fromarray(ramp), "PNG", icc_profile=profile))
    np.testing.assert_allclose(picture.linear[..., 1], (ramp / 255) ** (563 / 256), atol=0.006)


@pytest.mark.parametrize(
    "profile",
    [b"rubbish", b"\0" * 200, icc.rgb_profile("sRGB", icc.SRGB_CURVE)[:200], icc.grey_profile(2)],
)
def test_broken_or_foreign_profile_is_taken_as_srgb(profile: bytes) -> None:
    rgb = some_colours()
    picture = read_picture(saved(Image.fromarray(rgb), "PNG", icc_profile=profile), name="a.png")
    np.testing.assert_allclose(codes(picture), rgb, atol=1e-3)
    (found,) = picture.findings
    assert (found.code, found.data) == (Code.PICTURE_PROFILE, {"file": "a.png"})


INKS = np.array(
    [[c, m, y, k] for c in (0, 255) for m in (0, 255) for y in (0, 255) for k in (0, 255)], np.uint8
)


def test_cmyk_with_profile() -> None:
    # made-up overprints inside sRGB; no ink is white, all inks are black
    lab = np.array([[20 + 75 * (i % 7) / 6, 30 * np.sin(i), 30 * np.cos(2 * i)] for i in range(16)])
    lab[0], lab[15] = (100, 0, 0), (0, 0, 0)
    image = Image.fromarray(INKS.reshape(4, 4, 4), "CMYK")
    picture = read_picture(saved(image, "TIFF", icc_profile=icc.cmyk_profile(lab)))
    expected = srgb_of_lab_d50(lab).reshape(4, 4, 3)
    np.testing.assert_allclose(codes(picture), expected, atol=2.5)
    assert picture.findings == ()


@pytest.mark.parametrize("kind", ["TIFF", "JPEG"])
def test_cmyk_without_profile_is_a_guess_and_says_so(kind: str) -> None:
    inks = np.kron(INKS.reshape(4, 4, 4), np.ones((16, 16, 1), np.uint8))
    options = {"quality": 100} if kind == "JPEG" else {}
    picture = read_picture(saved(Image.fromarray(inks, "CMYK"), kind, **options))
    c, m, y, k = np.moveaxis(inks[8::16, 8::16] / 255, -1, 0)
    expected = 255 * (1 - np.stack([c, m, y], -1)) * (1 - k)[..., None]
    np.testing.assert_allclose(codes(picture)[8::16, 8::16], expected, atol=3)
    assert [one.code for one in picture.findings] == [Code.PICTURE_INKS]


def jpeg_of_four_samples(samples: tuple[int, int, int, int]) -> bytes:
    """Write one block of plain colour by hand (ITU-T T.81), with an Adobe marker: four inks."""

    def segment(marker: int, content: bytes) -> bytes:
        return struct.pack(">BBH", 0xFF, marker, len(content) + 2) + content

    bits = ""
    for sample in samples:
        level = 8 * (sample - 128)  # the only coefficient, in steps of 1
        size = abs(level).bit_length()
        bits += {0: "0", 10: "10", 11: "110"}[size]
        bits += f"{level if level > 0 else level + 2**size - 1:0{size}b}" if size else ""
        bits += "0"  # end of block
    bits += "1" * (-len(bits) % 8)
    scan = bytes(int(bits[k : k + 8], 2) for k in range(0, len(bits), 8)).replace(
        b"\xff", b"\xff\0"
    )
    return b"".join(
        (
            b"\xff\xd8",
            segment(0xEE, b"Adobe" + struct.pack(">HHHB", 100, 0, 0, 0)),
            segment(0xDB, b"\0" + b"\1" * 64),
            segment(
                0xC0,
                struct.pack(">BHHB", 8, 8, 8, 4) + bytes.fromhex("011100 021100 031100 041100"),
            ),
            segment(0xC4, b"\x00" + bytes([1, 1, 1] + [0] * 13) + bytes([0, 10, 11])),
            segment(0xC4, b"\x10" + bytes([1] + [0] * 15) + b"\0"),
            segment(0xDA, bytes.fromhex("04 0100 0200 0300 0400 00 3f 00")),
            scan,
            b"\xff\xd9",
        )
    )


def test_photograph_with_inverted_inks_is_not_a_negative() -> None:
    """A JPEG with an Adobe marker holds inks upside down: 255 is bare paper. Common practice."""
    paper = read_picture(jpeg_of_four_samples((255, 255, 255, 255)))
    np.testing.assert_allclose(codes(paper)[4, 4], (255, 255, 255), atol=1)
    cyan = read_picture(jpeg_of_four_samples((0, 255, 255, 255)))
    np.testing.assert_allclose(codes(cyan)[4, 4], (0, 255, 255), atol=1)
    black = read_picture(jpeg_of_four_samples((255, 255, 255, 0)))
    np.testing.assert_allclose(codes(black)[4, 4], (0, 0, 0), atol=1)


# --- more than eight bits ------------------------------------------------------------------------


def deep_ramp() -> NDArray[np.uint16]:
    return np.arange(65536, dtype=np.uint16).reshape(256, 256)


@pytest.mark.parametrize("kind", ["PNG", "TIFF", "TIFF big-endian", "PPM"])
def test_sixteen_bit_grey_keeps_its_steps(kind: str) -> None:
    ramp = deep_ramp()
    image = Image.fromarray(ramp)
    if kind == "TIFF big-endian":
        image = Image.frombytes("I;16B", image.size, ramp.astype(">u2").tobytes())
    if kind == "PPM":
        data = b"P5 256 256 65535\n" + ramp.astype(">u2").tobytes()
    else:
        data = saved(image, kind.split()[0])
    picture = read_picture(data)
    grey = picture.linear[..., 0].ravel()
    np.testing.assert_allclose(
        grey, colour.cctf_decoding(ramp.ravel() / 65535, "sRGB"), atol=2e-6, rtol=1e-5
    )
    assert (np.diff(grey) > 0).all()
    np.testing.assert_array_equal(picture.linear[..., 0], picture.linear[..., 2])


def test_sixteen_bit_negative() -> None:
    """TIFF, tag 262 = 0: zero is white."""
    data = saved(Image.fromarray(deep_ramp()), "TIFF")
    entry = struct.pack("<HHIHH", 262, 3, 1, 1, 0)
    assert data.count(entry) == 1
    picture = read_picture(data.replace(entry, struct.pack("<HHIHH", 262, 3, 1, 0, 0)))
    assert picture.linear[0, 0, 0] == 1
    assert picture.linear[-1, -1, 0] == 0


def test_sixteen_bit_colour_and_opacity() -> None:
    values = np.random.default_rng(3).integers(0, 65536, (9, 7, 3)).astype(">u2")
    rows = b"".join(b"\0" + row.tobytes() for row in values)
    picture = read_picture(png(7, 9, 16, 2, rows))
    np.testing.assert_allclose(codes(picture), values / 257, atol=1.0)
    exact = colour.models.eotf_sRGB(values / 65535)
    np.testing.assert_allclose(picture.linear, exact, atol=2e-6)
    # a hundred tones within one step of eight bits
    ramp = np.repeat((5000 + np.arange(100))[None, :, None], 3, axis=2).astype(">u2")
    picture = read_picture(png(100, 1, 16, 2, b"\0" + ramp.tobytes()))
    assert (np.diff(picture.linear[0, :, 0]) > 0).all()

    values = values[..., :2]
    rows = b"".join(b"\0" + row.tobytes() for row in values)
    picture = read_picture(png(7, 9, 16, 4, rows))
    np.testing.assert_allclose(picture.alpha, values[..., 1] / 65535, atol=1 / 255)
    opaque = picture.alpha > 0
    np.testing.assert_allclose(
        codes(picture)[opaque][:, 0], (values[..., 0] / 257)[opaque], atol=1.0
    )


def test_sixteen_bit_grey_with_a_transparent_value() -> None:
    values = np.array([[0, 1000, 1001], [65535, 1000, 7]], ">u2")
    rows = b"".join(b"\0" + row.tobytes() for row in values)
    key = png_chunk(b"tRNS", struct.pack(">H", 1000))
    picture = read_picture(png(3, 2, 16, 0, rows, key))
    np.testing.assert_array_equal(picture.alpha, [[1, 0, 1], [1, 0, 1]])


def test_floating_point_is_linear_light() -> None:
    values = np.linspace(0, 1, 64, dtype=np.float32).reshape(8, 8)
    picture = read_picture(saved(Image.fromarray(values), "TIFF"))
    np.testing.assert_allclose(picture.linear[..., 1], values, atol=1e-6)
    assert [one.code for one in picture.findings] == [Code.PICTURE_LINEAR]
    values[0, 0], values[0, 1], values[7, 7] = np.nan, -3, 4
    picture = read_picture(saved(Image.fromarray(values), "TIFF"))
    assert picture.linear[0, 0, 0] == picture.linear[0, 1, 0] == 0
    assert picture.linear[7, 7, 0] == 1
    np.testing.assert_allclose(picture.linear[3, 3, 0], values[3, 3] / 4, atol=1e-6)


def test_whole_numbers_beyond_sixteen_bits() -> None:
    values = np.array([[0, 1 << 20], [1 << 19, -5]], np.int32)
    picture = read_picture(saved(Image.fromarray(values), "TIFF"))
    assert picture.linear[0, 1, 0] == 1
    assert picture.linear[1, 1, 0] == picture.linear[0, 0, 0] == 0
    assert 0 < picture.linear[1, 0, 0] < 1


# --- opacity -------------------------------------------------------------------------------------


def test_opacity_of_every_kind() -> None:
    colours = some_colours(6, 8, 4)
    rgba = Image.fromarray(colours)
    for image, kind in ((rgba, "PNG"), (rgba, "TIFF"), (rgba.convert("LA"), "PNG")):
        picture = read_picture(saved(image, kind))
        np.testing.assert_allclose(picture.alpha, colours[..., 3] / 255, atol=1e-6)
    picture = read_picture(saved(rgba, "PNG"))
    opaque = picture.alpha > 0
    np.testing.assert_allclose(codes(picture)[opaque], colours[..., :3][opaque], atol=1e-2)


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB"])
def test_a_colour_that_means_transparent(mode: str) -> None:
    stripes = np.zeros((8, 8), np.uint8)
    stripes[:, ::2] = 255
    image = Image.fromarray(stripes).convert(mode)
    key = {"1": 255, "L": 255, "P": image.getpixel((0, 0)), "RGB": (255, 255, 255)}[mode]
    picture = read_picture(saved(image, "PNG", transparency=key))
    np.testing.assert_array_equal(picture.alpha, (stripes == 0).astype(np.float32))
    assert (picture.linear[:, 1::2] == 0).all()


def test_palette_with_opacities() -> None:
    image = Image.new("P", (3, 1))
    image.putpalette([10, 20, 30, 40, 50, 60, 70, 80, 90])
    image.putdata([0, 1, 2])
    picture = read_picture(saved(image, "PNG", transparency=bytes([0, 128, 255])))
    np.testing.assert_allclose(picture.alpha, [[0, 128 / 255, 1]], atol=1e-6)
    np.testing.assert_allclose(codes(picture)[0, 1:], [(40, 50, 60), (70, 80, 90)], atol=1e-2)


def test_what_is_transparent_does_not_bleed_into_what_is_not() -> None:
    rgba = np.zeros((400, 400, 4), np.uint8)
    rgba[...] = (0, 255, 0, 0)
    rgba[:, 1::3] = (200, 30, 40, 255)
    picture = read_picture(saved(Image.fromarray(rgba), "PNG"), most_px=100)
    assert picture.scale == 1 / 4
    assert (picture.alpha > 0).all()
    seen = codes(picture)
    np.testing.assert_allclose(seen, np.broadcast_to((200, 30, 40), seen.shape), atol=0.01)
    np.testing.assert_allclose(picture.alpha.mean(), 1 / 3, atol=0.01)


# --- reduction -----------------------------------------------------------------------------------


def test_averages_are_of_light_not_of_codes() -> None:
    checks = (np.indices((600, 600)).sum(0) % 2 * 255).astype(np.uint8)
    picture = read_picture(saved(Image.fromarray(checks), "PNG"), most_px=150)
    # half the light; the code in the middle, 128, would be 22 % of it
    np.testing.assert_allclose(picture.linear, 0.5, atol=1e-6)


@given(
    width=st.integers(1, 90),
    height=st.integers(1, 90),
    most_px=st.integers(1, 24),
    seed=st.integers(0, 99),
)
@settings(max_examples=60)
def test_reduced_pixels_are_the_means_of_their_blocks(
    width: int, height: int, most_px: int, seed: int
) -> None:
    rgba = np.random.default_rng(seed).integers(0, 256, (height, width, 4)).astype(np.uint8)
    picture = read_picture(saved(Image.fromarray(rgba), "PNG", compress_level=1), most_px=most_px)
    block = round(1 / picture.scale)
    assert picture.size_px == (width, height)
    assert max(picture.alpha.shape) <= most_px
    assert picture.alpha.shape == (-(-height // block), -(-width // block))
    light = colour.cctf_decoding(rgba[..., :3] / 255, "sRGB")
    for row, column in np.ndindex(picture.alpha.shape):
        here = np.s_[row * block : (row + 1) * block, column * block : (column + 1) * block]
        weight = rgba[here][..., 3] / 255
        np.testing.assert_allclose(picture.alpha[row, column], weight.mean(), atol=1e-5)
        if weight.sum() > 0:
            mean = np.average(light[here].reshape(-1, 3), axis=0, weights=weight.ravel())
            np.testing.assert_allclose(picture.linear[row, column], mean, atol=1e-4)


def photograph(width: int, height: int) -> Image.Image:
    """A smooth picture with some grain and a few hard edges."""
    y, x = np.mgrid[0:height, 0:width]
    rgb = np.stack([110 + 90 * np.sin(x / 170), 120 + 80 * np.cos(y / 130), 90 + 70 * (x > y)], -1)
    grain = np.random.default_rng(5).normal(0, 5, rgb.shape)
    return Image.fromarray(np.clip(rgb + grain, 0, 255).astype(np.uint8))


@pytest.mark.parametrize(("size", "orientation"), [((1800, 1203), 1), ((1801, 1200), 6)])
def test_reduced_decoding_of_a_jpeg_loses_next_to_nothing(
    size: tuple[int, int], orientation: int
) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    data = saved(photograph(*size), "JPEG", quality=90, exif=exif)
    picture = read_picture(data, most_px=300)
    # the same file decoded whole, and averaged in linear light
    whole = saved(Image.open(io.BytesIO(data)).convert("RGB"), "PNG", compress_level=1, exif=exif)
    exact = read_picture(whole, most_px=-(-size[0] // round(1 / picture.scale)))
    assert picture.size_px == exact.size_px == (size if orientation == 1 else size[::-1])
    assert picture.scale == exact.scale
    assert max(picture.alpha.shape) <= 300
    difference = colour.delta_E(lab(picture.linear), lab(exact.linear), method="CIE 2000")
    assert difference.mean() < 0.3
    assert np.percentile(difference, 99) < 2


def lab(linear: Float32Array) -> Floats:
    xyz = colour.RGB_to_XYZ(linear.astype(float), "sRGB")
    return np.asarray(colour.XYZ_to_Lab(xyz, colour.CCS_ILLUMINANTS["cie_2_1931"]["D65"]))


@pytest.mark.parametrize("size", [(2400, 1600), (2399, 1601), (4000, 3), (3, 4000), (1203, 1199)])
@pytest.mark.parametrize("kind", ["JPEG", "PNG"])
def test_places_are_found_again_at_the_scale(kind: str, size: tuple[int, int]) -> None:
    width, height = size
    rgb = np.full((height, width, 3), 255, np.uint8)
    left, top = int(0.8 * width), int(0.7 * height)
    rgb[top : top + 60, left : left + 60] = 0
    picture = read_picture(saved(Image.fromarray(rgb), kind), most_px=400)
    assert picture.size_px == size
    dark = 1 - picture.linear[..., 1]
    for axis, start, length in ((1, left, width), (0, top, height)):
        index = np.arange(dark.shape[axis]) + 0.5
        centre = (dark.sum(1 - axis) * index).sum() / dark.sum()
        expected = (start + min(start + 60, length)) / 2 * picture.scale
        assert abs(centre - expected) < 0.5


# --- several pictures in one file ----------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "code"),
    [
        ("GIF", Code.PICTURE_ANIMATED),
        ("WEBP", Code.PICTURE_ANIMATED),
        ("PNG", Code.PICTURE_ANIMATED),
        ("TIFF", Code.PICTURE_PAGES),
    ],
)
def test_first_frame_with_a_note(kind: str, code: Code) -> None:
    first, second = Image.new("RGB", (20, 10), (200, 0, 0)), Image.new("RGB", (20, 10), (0, 0, 200))
    options = {"lossless": True} if kind == "WEBP" else {}
    data = saved(first, kind, save_all=True, append_images=[second], **options)
    picture = read_picture(data)
    np.testing.assert_allclose(codes(picture)[5, 5], (200, 0, 0), atol=2)
    assert [one.code for one in picture.findings] == [code]
    assert read_picture(saved(first, kind)).findings == ()


def test_previews_in_a_camera_file_are_no_animation() -> None:
    first, second = Image.new("RGB", (64, 64), (200, 0, 0)), Image.new("RGB", (32, 32))
    data = saved(first, "MPO", save_all=True, append_images=[second])
    picture = read_picture(data)
    assert picture.size_px == (64, 64)
    assert picture.findings == ()


# --- refusals ------------------------------------------------------------------------------------


def refusal(source: str | Path | bytes, **options: object) -> str:
    """The one message; nothing else may be said, not even as a warning."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        with pytest.raises(HimotifError) as caught:
            read_picture(source, **options)
    message = str(caught.value)
    assert "\n" not in message
    assert message.endswith(".")
    return message


@pytest.mark.parametrize("side", [12_000, 20_000, 2_000_000])
def test_too_many_pixels_are_refused_before_decoding(side: int, tmp_path: Path) -> None:
    file = tmp_path / "wall.png"
    file.write_bytes(png(side, side, 8, 2, b""))  # a header and no pixels at all
    message = refusal(file)
    assert message.startswith("wall.png: the picture has ")
    assert "at most 120,000,000" in message
    if side == 12_000:
        assert "12,000 × 12,000" in message


def test_more_pixels_than_the_limit_are_not_decoded(monkeypatch: pytest.MonkeyPatch) -> None:
    data = saved(Image.new("RGB", (11, 10)), "PNG")
    monkeypatch.setattr("himotif.convert.read.picture.PIXEL_LIMIT", 110)
    assert read_picture(data).size_px == (11, 10)

    def never(*_: object) -> None:
        raise AssertionError("decoded")

    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", never)
    monkeypatch.setattr("himotif.convert.read.picture.PIXEL_LIMIT", 109)
    assert "11 × 10 = 110 pixels; at most 109 " in refusal(data)


@pytest.mark.parametrize(
    ("start", "word"),
    [
        (b"%PDF-1.7 ...", "PDF"),
        (b'<?xml version="1.0"?>\n<svg xmlns="http://www.w3.org/2000/svg">', "SVG"),
        (b"\xef\xbb\xbf<svg>", "SVG"),
        (b"<!DOCTYPE html><html><body><svg></svg>", "web page"),
        (b"\0\0\0\x18ftypheic\0\0\0\0mif1heic", "pip install pillow-heif"),
        (b"\0\0\0\x18ftypmif1\0\0\0\0mif1heic", "HEIF"),
        (b"\0\0\0\x18ftypmp42\0\0\0\0isommp42", "film"),
        (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n", "PostScript"),
        (b"PK\x03\x04" + b"\0" * 60, "ZIP"),
        (b"\xff\x0a" + b"\0" * 60, "JPEG XL"),
        (b"code,name,colour\nA,oyster,#f3eee1\n", "not a picture"),
        (bytes(range(1, 200)), "not a picture"),
    ],
)
def test_what_is_no_picture_is_named(
    start: bytes, word: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    file = tmp_path / "heron.png"
    file.write_bytes(start)
    message = refusal(file)
    assert message.startswith("heron.png: ")
    assert word in message


def test_missing_empty_folder_and_odd_names(tmp_path: Path) -> None:
    assert "no such file" in refusal(tmp_path / "none.png")
    assert "folder" in refusal(tmp_path)
    (tmp_path / "empty.png").touch()
    assert refusal(tmp_path / "empty.png") == (
        "empty.png: the file is empty. Save or copy the picture again."
    )
    assert refusal(b"").startswith("the picture: the file is empty")
    refusal("a\0b.png")
    refusal(str(tmp_path / ("x" * 5000)))


FILES = {
    "JPEG": saved(photograph(160, 120), "JPEG"),
    "JPEG progressive": saved(photograph(160, 120), "JPEG", progressive=True),
    "PNG": saved(photograph(60, 40), "PNG"),
    "PNG profile": saved(
        photograph(60, 40), "PNG", icc_profile=icc.rgb_profile("Display P3", icc.SRGB_CURVE)
    ),
    "PNG palette": saved(photograph(60, 40).quantize(16), "PNG", transparency=bytes(range(16))),
    "GIF": saved(
        photograph(60, 40), "GIF", save_all=True, append_images=[Image.new("RGB", (9, 9))]
    ),
    "WEBP": saved(photograph(60, 40), "WEBP"),
    "TIFF": saved(Image.fromarray(deep_ramp()[:40, :60]), "TIFF"),
    "TIFF profile": saved(
        photograph(9, 7), "TIFF", icc_profile=icc.rgb_profile("Display P3", icc.SRGB_CURVE)
    ),
    "TIFF packed": saved(photograph(60, 40), "TIFF", compression="tiff_lzw"),
    "BMP": saved(photograph(30, 20), "BMP"),
    "ICO": saved(photograph(32, 32), "ICO", sizes=[(32, 32)]),
    "JPEG2000": saved(photograph(60, 40), "JPEG2000"),
    "PSD-like": b"8BPS\0\1" + bytes(6) + b"\0\3\0\0\0\4\0\0\0\4\0\x08\0\3" + bytes(80),
}


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "GIF", "TIFF", "TIFF packed", "BMP", "WEBP"])
@pytest.mark.parametrize("share", [0.3, 0.6, 0.9])
def test_half_a_file_is_no_picture(
    kind: str, share: float, capfd: pytest.CaptureFixture[str]
) -> None:
    data = FILES[kind]
    assert read_picture(data).linear.size
    message = refusal(data[: int(share * len(data))], name="tide")
    assert message.startswith("tide: the picture ")
    assert capfd.readouterr() == ("", "")


@given(data=st.data(), kind=st.sampled_from(sorted(FILES)))
@settings(max_examples=250)
def test_broken_bytes_make_one_clear_error_or_a_sound_picture(
    data: st.DataObject, kind: str
) -> None:
    broken = bytearray(FILES[kind])
    end = data.draw(st.sampled_from([64, 400, len(broken)]))  # headers deserve more attention
    for _ in range(data.draw(st.integers(1, 6))):
        place = data.draw(st.integers(0, min(end, len(broken)) - 1))
        broken[place] = data.draw(st.integers(0, 255))
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            with patch("himotif.convert.read.picture.PIXEL_LIMIT", 300_000):
                picture = read_picture(bytes(broken), most_px=100)
        except HimotifError:
            return
    assert picture.linear.shape == (*picture.alpha.shape, 3)
    for values in (picture.linear, picture.alpha):
        assert np.isfinite(values).all()
        assert values.min() >= 0
        assert values.max() <= 1.0001
    assert max(picture.alpha.shape) <= 100
