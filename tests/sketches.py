"""Small sketches drawn for the tests, as pictures in linear light."""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
from himotif.convert.read.picture import Picture
from himotif.core.arrays import Bools
from himotif.core.bead import Bead
from himotif.core.srgb import srgb_to_linear
from himotif.palette.palette import Palette

NAVY, OYSTER, RUST, MID, MOSS = (
    (28, 41, 71),
    (243, 238, 225),
    (150, 70, 40),
    (128, 138, 152),
    (80, 120, 60),
)

FIVE = Palette(
    (
        Bead("O", "oyster", OYSTER),
        Bead("N", "navy", NAVY),
        Bead("M", "mid blue", MID),
        Bead("R", "rust", RUST),
        Bead("G", "moss", MOSS),
    ),
    "five",
)


def picture(rgb: npt.ArrayLike, alpha: npt.ArrayLike | None = None) -> Picture:
    """A picture from sRGB codes (h, w, 3) and opacity 0..1."""
    codes = np.asarray(rgb, dtype=np.uint8)
    opaque = np.ones(codes.shape[:2]) if alpha is None else np.asarray(alpha)
    return Picture(
        "sketch.png",
        "0" * 64,
        (codes.shape[1], codes.shape[0]),
        srgb_to_linear(codes),
        opaque.astype(np.float32),
        1.0,
        (),
    )


def soft(mask: npt.ArrayLike, ink: tuple[int, int, int], paper: tuple[int, int, int]) -> Picture:
    """A mask four times too large, drawn in ink on paper with anti-aliased edges."""
    fine = np.asarray(mask, dtype=np.float64)
    cover = fine.reshape(fine.shape[0] // 4, 4, fine.shape[1] // 4, 4).mean(axis=(1, 3))[..., None]
    light = cover * srgb_to_linear(np.array(ink, np.uint8)) + (1 - cover) * srgb_to_linear(
        np.array(paper, np.uint8)
    )
    codes = np.rint(
        255 * np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    )
    return picture(codes)


def in_letter_f(x: npt.ArrayLike, y: npt.ArrayLike) -> Bools:
    """Whether points (0..1 to the right, 0..1 down) lie in an F, strokes a third of its width."""
    x, y = np.asarray(x), np.asarray(y)
    third = 1 / 3
    high = third / 2.7
    inside = (x >= 0) & (x <= 1) & (y >= 0) & (y <= 1)
    stem = x < third
    top = y < high * 1.2
    bar = (np.abs(y - 0.45) < high * 0.6) & (x < 0.85)
    return np.asarray(inside & (stem | top | bar))


@cache
def letter_f(margin: float = 0.12) -> Picture:
    """The letter F, 2.7 times as tall as wide, with some paper round it."""
    wide, high = 480, int(480 * 2.7)
    x = ((np.arange(wide) + 0.5) / wide * (1 + 2 * margin)) - margin
    y = ((np.arange(high) + 0.5) / high * (1 + 2 * margin / 2.7)) - margin / 2.7
    return soft(in_letter_f(x[None, :], y[:, None]), NAVY, OYSTER)


def dinghy() -> Picture:
    """Two sails, a hull, and between narrow gaps a mast a twentieth as wide as all."""
    mast = (172, 20), (186, 20), (186, 275), (172, 275)
    return _shapes(
        (360, 360),
        (RUST, ((170, 30), (170, 250), (50, 250))),
        (MOSS, ((190, 80), (190, 250), (300, 250))),
        (NAVY, mast),
        (MID, ((40, 270), (320, 270), (270, 330), (90, 330))),
    )


def tulip() -> Picture:
    """A solid flower with three points and a heart of another colour, on a stem with leaves."""
    edge = (60, 30), (105, 90), (150, 20), (195, 90), (240, 30), (235, 150), (190, 200)
    return _shapes(
        (300, 420),
        (MOSS, ((139, 180), (161, 180), (161, 400), (139, 400))),
        (MOSS, ((150, 390), (60, 300), (40, 220), (95, 290), (150, 350))),
        (MOSS, ((150, 390), (240, 300), (260, 220), (205, 290), (150, 350))),
        (RUST, (*edge, (110, 200), (65, 150))),
        (NAVY, ((150, 20), (115, 120), (150, 200), (185, 120))),
    )


def _shapes(
    size_px: tuple[int, int],
    *shapes: tuple[tuple[int, int, int], tuple[tuple[int, int], ...]],
) -> Picture:
    """Polygons, one on the other, with soft edges."""
    from PIL import Image, ImageDraw

    fine = Image.new("RGB", (4 * size_px[0], 4 * size_px[1]), OYSTER)
    for colour, corners in shapes:
        ImageDraw.Draw(fine).polygon([(4 * x, 4 * y) for x, y in corners], fill=colour)
    return picture(fine.resize(size_px, Image.Resampling.LANCZOS))
