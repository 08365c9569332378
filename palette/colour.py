"""Colours as numbers: sRGB codes, linear light, CIE Lab, and the notations a palette may use.

Everything inside is CIE Lab under D65 and the 2° observer, the white of sRGB; colours given
under another white are brought to it by the Bradford transform.

>>> parse_colour("#f3eee1").rgb
(243, 238, 225)
>>> parse_colour("lab(62 10 -4)").rgb
(165, 144, 157)
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple, cast

import numpy as np

from ..core.arrays import AnyFloats, Bytes, Floats
from ..core.bounds import fits
from ..core.errors import HimotifError
from ..core.findings import Code, Finding
from ..core.srgb import Rgb, decode_srgb, encode_srgb

# linear sRGB to CIE XYZ (D65, 2°): IEC 61966-2-1 in the six digits of scikit-image's converter,
# so that this path and skimage.color.rgb2lab agree to rounding
XYZ_FROM_LINEAR = np.array(
    [
        [0.412453, 0.357580, 0.180423],
        [0.212671, 0.715160, 0.072169],
        [0.019334, 0.119193, 0.950227],
    ]
)
_LINEAR_FROM_XYZ = np.linalg.inv(XYZ_FROM_LINEAR)

# tristimulus values of D65, 2°, as in scikit-image's converter (ASTM E308, from memory)
D65_WHITE = np.array([0.95047, 1.0, 1.08883])

# CIE 1976 L*a*b* (CIE 15): below the first ratio, whose root is the second, f(t) is a straight line
_LINE_ENDS, _LINE_ENDS_ROOT = 0.008856, 0.2068966
_LINE, _LINE_FROM = 7.787, 16 / 116


def linear_to_lab(linear: AnyFloats) -> AnyFloats:
    """Return CIE Lab (D65, 2°) from linear light.

    Parameters
    ----------
    linear : float32 or float64 array (..., 3)

    Returns
    -------
    float array (..., 3), same type
        L* 0..100, a*, b*.
    """
    # scikit-image has the same, and imports scipy.linalg for it: a quarter of a second at the start
    ratio = linear @ XYZ_FROM_LINEAR.T.astype(linear.dtype) / D65_WHITE.astype(linear.dtype)
    root = np.where(ratio > _LINE_ENDS, np.cbrt(ratio), _LINE * ratio + _LINE_FROM)
    x, y, z = root[..., 0], root[..., 1], root[..., 2]
    return np.stack([116 * y - 16, 500 * (x - y), 200 * (y - z)], axis=-1)


def lab_to_linear(lab: AnyFloats) -> AnyFloats:
    """Return linear light from CIE Lab (D65, 2°), not clipped.

    Parameters
    ----------
    lab : float32 or float64 array (..., 3)

    Returns
    -------
    float array (..., 3), same type
        Outside 0..1 where sRGB does not reach.
    """
    y = (lab[..., 0] + 16) / 116
    root = np.stack([lab[..., 1] / 500 + y, y, np.maximum(y - lab[..., 2] / 200, 0)], axis=-1)
    ratio = np.where(root > _LINE_ENDS_ROOT, root**3, (root - _LINE_FROM) / _LINE)
    return cast(
        "AnyFloats", ratio * D65_WHITE.astype(lab.dtype) @ _LINEAR_FROM_XYZ.T.astype(lab.dtype)
    )


def srgb_to_lab(rgb: Bytes) -> Floats:
    """Return CIE Lab (D65, 2°) from sRGB codes.

    Parameters
    ----------
    rgb : uint8 array (..., 3)

    Returns
    -------
    float64 array (..., 3)
    """
    return cast("Floats", linear_to_lab(decode_srgb(np.divide(rgb, 255, dtype=np.float64))))


class Colour(NamedTuple):
    """A colour as read: its sRGB codes, and what had to be done to it (mostly nothing)."""

    rgb: Rgb
    findings: tuple[Finding, ...] = ()


def hex_of(rgb: Sequence[int]) -> str:
    """Return ``#rrggbb`` of sRGB, 0-255."""
    return "#{:02x}{:02x}{:02x}".format(*rgb)


_HOW = (
    "write #rrggbb, or lab(L a b), lch(L C h) or xyY(x y Y), with an illuminant if it is not D65, "
    "as in lab(62 10 -4 D50)"
)
_HEX = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})", re.IGNORECASE)
_MEASURED = re.compile(r"(lab|lch|xyy)\s*\((.*)\)", re.IGNORECASE)
_NUMBER = re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)", re.ASCII)
_WHITE = re.compile(r"(?P<illuminant>[a-z]\d{0,2})(?:\s*/\s*(?P<observer>\d+)°?)?", re.IGNORECASE)


def parse_colour(text: str, named: bool = False) -> Colour:
    """Read a colour in one of the notations of a palette file.

    Parameters
    ----------
    text : str
        ``#rrggbb``, ``#rgb``, ``lab(L a b)``, ``lch(L C h)`` with h in degrees, or ``xyY(x y Y)``
        with Y 0..1 (above 1: in per cent, which is a finding). The last three take an
        illuminant and an observer: ``lab(62 10 -4 D50)``, ``lab(62 10 -4 D50/10)``; without them
        they are meant under D65 and the 2° observer. Commas may stand between the numbers.
    named : bool
        Whether a name of CSS, such as ``teal``, will do. On a tube a word says less than that.

    Returns
    -------
    Colour
        The nearest sRGB codes. A colour that sRGB cannot hold is clipped channel by channel in
        linear light, which is a finding.

    Raises
    ------
    HimotifError
        If the text is no such notation, or a value is out of range.
    """
    text = text.strip()
    if _HEX.fullmatch(text):
        digits = text[1:] if len(text) == 7 else "".join(2 * digit for digit in text[1:])
        return Colour(cast("Rgb", tuple(bytes.fromhex(digits))))
    measured = _MEASURED.fullmatch(text)
    if measured is None:
        if named and (rgb := _css_colour(text)):
            return Colour(rgb)
        if _HEX.fullmatch("#" + text):
            raise HimotifError(f"colour {text!r:.40} lacks its #; write #{text:.40}")
        raise HimotifError(f"colour {text!r:.40} cannot be read; {_HOW}")
    return _measured_colour(text, measured[1].lower(), measured[2])


def _css_colour(text: str) -> Rgb | None:
    """The codes of a named colour of CSS Color Module Level 4, section 6.1, as Pillow has them."""
    from PIL import ImageColor

    if text.lower() not in ImageColor.colormap:
        return None
    red, green, blue = ImageColor.getrgb(text)[:3]
    return red, green, blue


def _measured_colour(text: str, space: str, inside: str) -> Colour:
    words = re.split(r"\s*,\s*|\s+", re.sub(r"\s*/\s*", "/", inside.strip()))
    if not 3 <= len(words) <= 4 or not all(_NUMBER.fullmatch(word) for word in words[:3]):
        raise HimotifError(f"colour {text!r:.40} needs three numbers; {_HOW}")
    first, second, third = (float(word) for word in words[:3])
    if not all(fits("number", value) for value in (first, second, third)):
        raise HimotifError(f"colour {text!r:.40} is out of range; {_HOW}")
    found = []
    if space == "xyy":
        if third > 1:
            third /= 100
            found.append(Finding(Code.COLOUR_IN_PERCENT, {"text": text[:40]}))
        if not (0 <= first <= 1 and 0 < second <= 1 and first + second <= 1 and 0 <= third <= 1):
            raise HimotifError(
                f"colour {text!r:.40} is out of range; x and y lie above 0 and add up to 1 at "
                "most, Y runs from 0 to 1"
            )
    elif not 0 <= first <= 100:
        raise HimotifError(f"colour {text!r:.40}: the lightness {first:g} must lie from 0 to 100")
    elif space == "lch" and second < 0:
        raise HimotifError(f"colour {text!r:.40}: the chroma {second:g} must not be below 0")
    elif max(abs(second), 0 if space == "lch" else abs(third)) > 200:
        raise HimotifError(f"colour {text!r:.40} is out of range; no surface is that colourful")
    xyz = _xyz_d65(text, space, (first, second, third), words[3] if len(words) == 4 else "D65")
    encoded = encode_srgb(_LINEAR_FROM_XYZ @ xyz)
    rgb = cast("Rgb", tuple(int(code) for code in np.rint(np.clip(encoded, 0, 1) * 255)))
    # half a code beyond the range still rounds into it: that is rounding, not clipping
    if np.any(np.abs(encoded - 0.5) > 0.5 + 0.5 / 255):
        shown = {"text": text[:40], "shown": hex_of(rgb)}
        found.append(Finding(Code.COLOUR_CLIPPED, shown))
    return Colour(rgb, tuple(found))


def _xyz_d65(text: str, space: str, values: tuple[float, float, float], white: str) -> Floats:
    """CIE XYZ under D65, 2°, shape (3,), of a colour measured under `white`."""
    from colormath.chromatic_adaptation import apply_chromatic_adaptation
    from colormath.color_constants import ILLUMINANTS
    from colormath.color_conversions import convert_color
    from colormath.color_objects import LabColor, LCHabColor, XYZColor, xyYColor

    match = _WHITE.fullmatch(white)
    illuminant = match["illuminant"].lower() if match else ""
    observer = (match["observer"] if match else None) or "2"
    if illuminant not in ILLUMINANTS.get(observer, {}):
        known = "; ".join(
            f"{', '.join(name.upper() for name in names)} for /{angle}"
            for angle, names in ILLUMINANTS.items()
        )
        raise HimotifError(
            f"colour {text!r:.40}: illuminant {white!r:.40} is not known; use {known}"
        )
    kind = {"lab": LabColor, "lch": LCHabColor, "xyy": xyYColor}[space]
    xyz = convert_color(kind(*values, observer=observer, illuminant=illuminant), XYZColor)
    # the white points are given as numbers because convert_color itself, on the way to sRGB,
    # takes every illuminant for its 2° version
    adapted = apply_chromatic_adaptation(
        *xyz.get_value_tuple(), ILLUMINANTS[observer][illuminant], ILLUMINANTS["2"]["d65"]
    )
    return np.array(adapted)
