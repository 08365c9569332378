"""A minimal writer of ICC profiles (ICC.1:2010), so that the tests need nobody's profile files."""

from __future__ import annotations

import struct
from collections.abc import Sequence

import colour
import numpy as np
from numpy.typing import ArrayLike

D50 = (0.9642, 1.0, 0.8249)


def _s15(value: float) -> bytes:
    return struct.pack(">i", round(value * 65536))


def _xyz(values: Sequence[float]) -> bytes:
    return b"XYZ \0\0\0\0" + b"".join(map(_s15, values))


def _text(words: str) -> bytes:
    coded = words.encode("utf-16-be")
    return b"mluc\0\0\0\0" + struct.pack(">II2s2sII", 1, 12, b"en", b"US", len(coded), 28) + coded


def _profile(kind: bytes, space: bytes, pcs: bytes, tags: dict[bytes, bytes]) -> bytes:
    tags = {b"desc": _text("test"), b"cprt": _text("none"), b"wtpt": _xyz(D50), **tags}
    offset = 132 + 12 * len(tags)
    table, body = struct.pack(">I", len(tags)), b""
    for name, content in tags.items():
        content += b"\0" * (-len(content) % 4)
        table += name + struct.pack(">II", offset + len(body), len(content))
        body += content
    size = 128 + len(table) + len(body)
    header = struct.pack(">I4xI4s4s4s12x4s", size, 0x04200000, kind, space, pcs, b"acsp")
    header = header.ljust(68, b"\0") + b"".join(map(_s15, D50))
    return header.ljust(128, b"\0") + table + body


def _parametric(gamma: float, a: float, b: float, c: float, d: float) -> bytes:
    return b"para\0\0\0\0" + struct.pack(">HH", 3, 0) + b"".join(map(_s15, (gamma, a, b, c, d)))


SRGB_CURVE = _parametric(2.4, 1 / 1.055, 0.055 / 1.055, 1 / 12.92, 0.04045)
ADOBE_CURVE = b"para\0\0\0\0" + struct.pack(">HH", 0, 0) + _s15(563 / 256)


def rgb_profile(colourspace: str, curve: bytes) -> bytes:
    """Return a display profile with the primaries that colour-science knows by this name."""
    space = colour.RGB_COLOURSPACES[colourspace]
    to_d50 = colour.adaptation.matrix_chromatic_adaptation_VonKries(
        colour.xy_to_XYZ(space.whitepoint), D50, transform="Bradford"
    )
    columns = (to_d50 @ space.matrix_RGB_to_XYZ).T
    tags = {
        name + b"XYZ": _xyz(column)
        for name, column in zip((b"r", b"g", b"b"), columns, strict=True)
    }
    tags |= {name + b"TRC": curve for name in (b"r", b"g", b"b")}
    return _profile(b"mntr", b"RGB ", b"XYZ ", tags)


def grey_profile(gamma: float) -> bytes:
    """Return a grey profile with a plain power curve."""
    curve = b"para\0\0\0\0" + struct.pack(">HH", 0, 0) + _s15(gamma)
    return _profile(b"mntr", b"GRAY", b"XYZ ", {b"kTRC": curve})


def cmyk_profile(corner_lab: ArrayLike) -> bytes:
    """Return a printer profile from the Lab (D50) of the 16 full overprints, linear in between.

    `corner_lab` is (2, 2, 2, 2, 3): cyan, magenta, yellow, black without and with ink.
    """
    lab = np.asarray(corner_lab, float).reshape(16, 3)
    # lut16Type holds Lab in its older coding: 65280 for L* = 100, 32768 for a* = b* = 0
    codes = np.rint(lab * (652.8, 256, 256) + (0, 32768, 32768)).clip(0, 65535).astype(">u2")
    ramp = np.array([0, 65535], ">u2").tobytes()
    table = b"mft2\0\0\0\0" + bytes((4, 3, 2, 0))
    table += b"".join(map(_s15, (1, 0, 0, 0, 1, 0, 0, 0, 1))) + struct.pack(">HH", 2, 2)
    table += ramp * 4 + codes.tobytes() + ramp * 3
    tags = dict.fromkeys((b"A2B0", b"A2B1", b"A2B2"), table)
    return _profile(b"prtr", b"CMYK", b"Lab ", tags)
