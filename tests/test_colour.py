"""Colour conversions against IEC 61966-2-1, scikit-image and colour-science."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from himotif.core.errors import HimotifError
from himotif.core.findings import Code
from himotif.core.srgb import decode_srgb, encode_srgb, linear_to_srgb, srgb_to_linear
from himotif.palette.colour import hex_of, lab_to_linear, linear_to_lab, parse_colour, srgb_to_lab
from himotif.palette.difference import ciede2000
from hypothesis import given
from hypothesis import strategies as st

with warnings.catch_warnings():
    warnings.simplefilter("ignore")  # it says that matplotlib is missing
    import colour

CODES = np.arange(256, dtype=np.uint8)
CHART = colour.CCS_COLOURCHECKERS["ColorChecker 2005"]
# a set of sRGB colours all over the cube, corners included
CUBE = np.stack(np.meshgrid(*[np.arange(0, 256, 17, dtype=np.uint8)] * 3), axis=-1).reshape(-1, 3)


def test_srgb_matches_the_standard() -> None:
    # IEC 61966-2-1: both pieces as the standard states them, in its 8-bit codes
    value = CODES / 255
    low = value / 12.92
    high = ((value + 0.055) / 1.055) ** 2.4
    expected = np.where(value <= 0.04045, low, high)
    np.testing.assert_allclose(decode_srgb(value), expected, rtol=0, atol=1e-12)
    # the two pieces meet at 0.04045 = 12.92 × 0.0031308 to the four digits given
    assert decode_srgb(np.array([0.04045]))[0] == pytest.approx(0.0031308, abs=1e-7)
    assert srgb_to_linear(CODES)[[0, 255]].tolist() == [0, 1]


def test_srgb_matches_colour_science() -> None:
    value = np.linspace(0, 1, 4097)
    np.testing.assert_allclose(decode_srgb(value), colour.models.eotf_sRGB(value), atol=1e-7)
    np.testing.assert_allclose(
        encode_srgb(value), colour.models.eotf_inverse_sRGB(value), atol=1e-7
    )
    np.testing.assert_allclose(
        srgb_to_linear(CODES), colour.models.eotf_sRGB(CODES / 255), rtol=0, atol=1e-7
    )


def test_every_code_comes_back() -> None:
    np.testing.assert_array_equal(linear_to_srgb(srgb_to_linear(CODES)), CODES)
    assert linear_to_srgb(np.array([-0.5, 1.5])).tolist() == [0, 255]


def test_types_are_kept() -> None:
    assert srgb_to_linear(CUBE).dtype == np.float32
    assert linear_to_lab(srgb_to_linear(CUBE)).dtype == np.float32
    assert decode_srgb(np.zeros(3, np.float32)).dtype == np.float32
    assert encode_srgb(np.zeros(3, np.float32)).dtype == np.float32
    assert linear_to_srgb(np.zeros((2, 3), np.float32)).dtype == np.uint8


def test_lab_matches_scikit_image() -> None:
    from skimage.color import rgb2lab

    np.testing.assert_allclose(srgb_to_lab(CUBE), rgb2lab(CUBE), atol=1e-9)
    np.testing.assert_allclose(linear_to_lab(srgb_to_linear(CUBE)), rgb2lab(CUBE), atol=1e-3)


def test_lab_matches_colour_science() -> None:
    # 0.02: the matrices differ in the fourth digit (IEC's rounded inverse against six digits)
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"]
    expected = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(CUBE / 255), white)
    assert ciede2000(srgb_to_lab(CUBE), expected).max() < 0.02


def test_lab_comes_back() -> None:
    np.testing.assert_array_equal(linear_to_srgb(lab_to_linear(srgb_to_lab(CUBE))), CUBE)


def test_means_belong_in_linear_light() -> None:
    # black and white threads in equal parts send back half the light: sRGB code 188, not 128
    mean = srgb_to_linear(np.array([0, 255], np.uint8)).mean()
    assert linear_to_srgb(np.array([mean]))[0] == 188


# ------------------------------------------------------------------------------- notations


@given(st.tuples(*[st.integers(0, 255)] * 3), st.booleans())
def test_hex_comes_back(rgb: tuple[int, int, int], capitals: bool) -> None:
    text = hex_of(rgb).upper() if capitals else hex_of(rgb)
    assert parse_colour(f" {text} ") == (rgb, ())


def test_short_hex() -> None:
    assert parse_colour("#1aF").rgb == (0x11, 0xAA, 0xFF)


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_lab_of_an_srgb_colour_comes_back(rgb: tuple[int, int, int]) -> None:
    lab = srgb_to_lab(np.array(rgb, np.uint8))
    lightness, a, b = lab
    chroma, hue = np.hypot(a, b), np.degrees(np.arctan2(b, a))
    for text in (
        f"lab({lightness:.5f} {a:.5f} {b:.5f})",
        f"LAB( {lightness:.5f}, {a:.5f}, {b:.5f}, D65 )",
        f"lch({lightness:.5f} {chroma:.5f} {hue:.5f} d65/2)",
    ):
        assert parse_colour(text) == (rgb, ())


@pytest.mark.parametrize("observer", ["2", "10"])
@pytest.mark.parametrize("illuminant", ["A", "B", "C", "D50", "D55", "D65", "D75", "E", "F11"])
def test_each_white_is_white_and_each_grey_grey(illuminant: str, observer: str) -> None:
    if observer == "10" and not illuminant.startswith("D"):
        with pytest.raises(HimotifError, match="illuminant"):
            parse_colour(f"lab(100 0 0 {illuminant}/10)")
        return
    assert parse_colour(f"lab(100 0 0 {illuminant}/{observer})") == ((255, 255, 255), ())
    red, green, blue = parse_colour(f"lch(50 0 77 {illuminant} / {observer})").rgb
    assert red == green == blue == 119  # L* 50 is sRGB code 119


def _notations(xyz: np.ndarray, white: np.ndarray, tail: str) -> list[str]:
    """A colour in every notation; figures by colour-science."""
    lab = colour.XYZ_to_Lab(xyz, white)
    lch = colour.models.Lab_to_LCHab(lab)
    return [
        f"{space}({values[0]:.6f} {values[1]:.6f} {values[2]:.6f} {tail})"
        for space, values in (("lab", lab), ("lch", lch), ("xyY", colour.XYZ_to_xyY(xyz)))
    ]


# colormath knows the D illuminants alone for the 10° observer
@pytest.mark.parametrize(
    ("illuminant", "observer"),
    [
        *[("A", 2), ("C", 2), ("D50", 2), ("D55", 2), ("D75", 2), ("E", 2)],
        *[("D50", 10), ("D55", 10), ("D65", 10), ("D75", 10)],
    ],
)
def test_notations_match_colour_science(illuminant: str, observer: int) -> None:
    """Colours measured under another white, by colour-science and by us; Bradford in both."""
    observers = {
        2: "CIE 1931 2 Degree Standard Observer",
        10: "CIE 1964 10 Degree Standard Observer",
    }
    white = colour.CCS_ILLUMINANTS[observers[observer]][illuminant]
    d65 = colour.CCS_ILLUMINANTS[observers[2]]["D65"]
    for rgb in CUBE[5::211] / 255:
        xyz = colour.chromatic_adaptation(
            colour.sRGB_to_XYZ(rgb),
            colour.xy_to_XYZ(d65),
            colour.xy_to_XYZ(white),
            method="Von Kries",
            transform="Bradford",
        )
        for text in _notations(xyz, white, f"{illuminant}/{observer}"):
            # one code: white points are rounded to four or five digits in colormath
            np.testing.assert_allclose(parse_colour(text).rgb, rgb * 255, atol=1.0, err_msg=text)


@pytest.mark.parametrize("patch", list(CHART.data))
def test_test_chart_matches_colour_science(patch: str) -> None:
    """The 24 patches of a colour test chart (ColorChecker 2005, D50, from colour-science)."""
    xyz = colour.xyY_to_XYZ(CHART.data[patch])
    srgb = colour.XYZ_to_sRGB(xyz, CHART.illuminant, chromatic_adaptation_transform="Bradford")
    expected = np.clip(srgb, 0, 1) * 255
    for text in _notations(xyz, CHART.illuminant, "D50"):
        read = parse_colour(text)
        np.testing.assert_allclose(read.rgb, expected, atol=1.0, err_msg=text)
        # cyan is the one patch that sRGB cannot hold (well known)
        assert bool(read.findings) == (srgb.min() < -0.5 / 255)
        assert bool(read.findings) == patch.startswith("cyan")


# published sRGB values of the same chart, from memory; they are not the conversion of the
# published D50 values but near it
PUBLISHED_SRGB = [
    *[(115, 82, 68), (194, 150, 130), (98, 122, 157), (87, 108, 67), (133, 128, 177)],
    *[(103, 189, 170), (214, 126, 44), (80, 91, 166), (193, 90, 99), (94, 60, 108)],
    *[(157, 188, 64), (224, 163, 46), (56, 61, 150), (70, 148, 73), (175, 54, 60)],
    *[(231, 199, 31), (187, 86, 149), (8, 133, 161), (243, 243, 242), (200, 200, 200)],
    *[(160, 160, 160), (122, 122, 121), (85, 85, 85), (52, 52, 52)],
]


def test_test_chart_is_near_its_published_srgb() -> None:
    read = [
        parse_colour(_notations(colour.xyY_to_XYZ(xyy), CHART.illuminant, "D50")[0]).rgb
        for xyy in CHART.data.values()
    ]
    differences = ciede2000(
        srgb_to_lab(np.array(read, np.uint8)), srgb_to_lab(np.array(PUBLISHED_SRGB, np.uint8))
    )
    assert differences.mean() < 2
    assert differences.max() < 5


def test_without_an_illuminant_a_colour_is_meant_under_d65() -> None:
    for inside in ("62 10 -4", "30 -20 25"):
        assert parse_colour(f"lab({inside})") == parse_colour(f"lab({inside} D65/2)")
    assert parse_colour("xyY(0.3127 0.3290 1)").rgb == (255, 255, 255)


def test_per_cent_is_taken_with_a_note() -> None:
    part, per_cent = parse_colour("xyY(0.4 0.36 0.2)"), parse_colour("xyY(0.4 0.36 20)")
    assert part.rgb == per_cent.rgb
    assert part.findings == ()
    assert [one.code for one in per_cent.findings] == [Code.COLOUR_IN_PERCENT]


def test_colours_outside_srgb_are_clipped_with_a_note() -> None:
    read = parse_colour("lch(60 110 150)")
    assert min(read.rgb) == 0
    (clipped,) = read.findings
    assert clipped.code is Code.COLOUR_CLIPPED
    assert clipped.data == {"text": "lch(60 110 150)", "shown": hex_of(read.rgb)}


@pytest.mark.parametrize(
    ("text", "mend"),
    [
        ("", "#rrggbb"),
        ("blue", "#rrggbb"),
        ("1d2c50", "#1d2c50"),
        ("#12345", "#rrggbb"),
        ("#12345g", "#rrggbb"),
        ("#１２３", "#rrggbb"),
        ("lab(50 10)", "three numbers"),
        ("lab(50 10 nan)", "three numbers"),
        ("lab(50 10 1e9)", "three numbers"),
        ("lab(50 10 5 6 7)", "three numbers"),
        ("lab(150 10 5)", "0 to 100"),
        ("lab(-1 10 5)", "0 to 100"),
        ("lab(50 900 5)", "colourful"),
        ("lch(50 -3 5)", "chroma"),
        ("xyY(0.3 0 0.5)", "out of range"),
        ("xyY(0.7 0.7 0.5)", "out of range"),
        ("xyY(0.3 0.3 400)", "out of range"),
        ("lab(50 10 5 D51)", "D50"),
        ("lab(50 10 5 F2/10)", "for /10"),
        ("lab(50 10 5 D50/7)", "for /2"),
    ],
)
def test_bad_colours_say_how_to_mend_them(text: str, mend: str) -> None:
    with pytest.raises(HimotifError) as error:
        parse_colour(text)
    assert mend in str(error.value)
    assert ";" in str(error.value) or "must" in str(error.value)


@given(st.text(max_size=30))
def test_any_text_is_read_or_refused_in_words(text: str) -> None:
    try:
        rgb, _ = parse_colour(text)
    except HimotifError:
        return
    assert all(0 <= value <= 255 for value in rgb)
