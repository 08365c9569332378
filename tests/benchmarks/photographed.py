"""Sketches on sheets of paper, photographed: does the program see what a clean file shows?

    python tests/benchmarks/photographed.py --write      # measures 188 scenes; ten minutes
    python tests/benchmarks/photographed.py --draw 7 scene.jpg

Every scene is rendered here: one of our flat sketches or a letter, drawn in felt-pen, crayon,
pencil or biro on paper, lies on a table and is photographed with a pinhole camera: up to 35° from
above, a warm or a cold lamp or daylight, falling off to one side, a cast shadow with a hard edge,
vignetting, sensor noise, a little blur, JPEG. Ink and light multiply in linear light.

Its beads are compared with those of the clean file, at the same width and place on 16 strands: the
share of beads that agree, of all in the rounds of the motif, and of those that are motif in either;
and of all, if a bead that the clean file's ink is as near to as to its own, within what can just be
seen, is as good: which of two such beads it gets is chance.

Scenes 0 to 127 were looked at while the reading of sheets was made; the held-out scenes were not.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.read import read_drawing, read_picture
from himotif.core.findings import Code
from himotif.palette import ciede2000_matrix, linear_lab, read_palette
from PIL import Image, ImageDraw, ImageFont
from scipy import ndimage

ROOT = Path(__file__).parent.parent.parent
sys.path.insert(0, str(ROOT / "fixtures"))
import draw_motifs  # noqa: E402

if TYPE_CHECKING:
    from collections.abc import Callable

Floats = npt.NDArray[np.floating[Any]]
TABLE = Path(__file__).parent / "photographed_table.txt"
FLAT = (
    *("heron", "crescent", "reed", "sea_aster", "crab", "curlew", "sea_pink", "heart"),
    *("leaf", "paw", "minnow", "ripples", "boat"),
)
LINES = ("initials", "heron_line")
LETTERS = "BEFHKLRST"
MEDIA = ("felt-pen", "crayon", "felt-pen", "pencil", "felt-pen", "biro")
TABLES = ("planks", "cloth", "checks", "stone", "dark", "pale")
SHADOWS = ("none", "half", "hand", "none", "frame")
LAMPS = {
    "daylight": (1.0, 1.0, 1.0),
    "warm": (1.0, 0.76, 0.46),
    "cold": (0.82, 0.93, 1.0),
    "half warm": (1.0, 0.88, 0.7),
}
"""White paper as the camera renders it: a lamp of 2700 K hardly or half balanced out, shade of the
sky; from memory."""


@dataclass(frozen=True)
class Scene:
    """One photograph and what is in it."""

    number: int
    name: str
    medium: str
    table: str
    shadow: str
    lamp: str
    tilt_deg: float
    pixels: npt.NDArray[np.uint8]
    corners: Floats
    clean: Image.Image
    quality: int

    def jpeg(self) -> bytes:
        """The file."""
        out = io.BytesIO()
        Image.fromarray(self.pixels).save(out, "JPEG", quality=self.quality)
        return out.getvalue()


# -- what is drawn ---------------------------------------------------------------------------------


def drawing(name: str) -> Image.Image:
    """A sketch on nothing, RGBA."""
    if len(name) == 1:
        image = Image.new("RGBA", (360, 460))
        font = ImageFont.truetype(str(ROOT / "core/drawing/typefaces/DejaVuSans-Bold.ttf"), 440)
        colour = (*draw_motifs.NAVY, 255)
        ImageDraw.Draw(image).text((180, 230), name, colour, font, "mm")
        return image
    plain = draw_motifs.Sketch.__init__

    def on_nothing(self: Any, wide: int, high: int, ground: Any) -> None:
        plain(self, wide, high, None)

    draw_motifs.Sketch.__init__ = on_nothing  # type: ignore[method-assign]
    try:
        image = draw_motifs.MOTIFS[name]()
    finally:
        draw_motifs.Sketch.__init__ = plain  # type: ignore[method-assign]
    return image.convert("RGBA")


def _noise(rng: np.random.Generator, shape: tuple[int, int], sigma: Any) -> Floats:
    """Smooth noise with deviation 1."""
    grain = ndimage.gaussian_filter(rng.normal(size=shape).astype(np.float32), sigma, mode="wrap")
    return grain / max(float(grain.std()), 1e-9)


def sheet(
    image: Image.Image,
    medium: str,
    rng: np.random.Generator,
    high: int,
    proportions: float | None = None,
    fill: tuple[float, float] = (0.5, 0.8),
) -> tuple[Floats, Image.Image, float]:
    """Reflectance of a sheet, (h, w, 3) linear; the clean file of the same sheet; its proportions.

    The sheet is so many pixels high, and the drawing fills so much of it.
    """
    ratio = (
        float(rng.choice([1.414, 1 / 1.414, 1.294, 1.0]))
        if proportions is None
        else (1 / proportions)
    )
    wide = round(high / ratio)
    filled = rng.uniform(*fill)
    times = filled * min(wide / image.width, high / image.height)
    image = image.resize((round(image.width * times), round(image.height * times)), Image.LANCZOS)
    left = round((wide - image.width) * rng.uniform(0.35, 0.65))
    top = round((high - image.height) * rng.uniform(0.35, 0.65))
    whole = Image.new("RGBA", (wide, high))
    whole.paste(image, (left, top))
    pixels = np.asarray(whole, dtype=np.float32) / 255
    ink = draw_motifs.to_linear(pixels[..., :3]).astype(np.float32)
    cover = pixels[..., 3]
    shape = (high, wide)
    if medium == "felt-pen":
        ink = ink * (1 + 0.06 * _noise(rng, shape, (2, 14)))[..., None]
    elif medium == "crayon":
        # wax misses the hollows of the paper
        cover = cover * np.clip(1.03 + 0.13 * _noise(rng, shape, 1.6), 0.45, 1)
    elif medium == "pencil":
        hatch = np.clip(0.9 + 0.1 * _noise(rng, shape, (1.2, 9)), 0.5, 1)
        cover = cover * hatch * np.clip(0.95 + 0.08 * _noise(rng, shape, 1.2), 0.4, 1)
    else:
        cover = cover * np.clip(0.97 + 0.05 * _noise(rng, shape, 2), 0.6, 1)
    # a clean file has the colour of most of a stroke
    solid = pixels[..., 3] > 0.99
    dense = float(np.median(cover[solid]))
    flat = np.rint(pixels[..., 3:] * dense * 255)
    clean = draw_motifs.to_bytes(1 + flat / 255 * (draw_motifs.to_linear(pixels[..., :3]) - 1))
    fibre = 1 + 0.008 * _noise(rng, shape, 1.5)
    tint = np.array([1.0, rng.uniform(0.985, 1.0), rng.uniform(0.94, 1.0)])
    paper = 0.86 * fibre[..., None] * tint
    bare = 1 - cover[..., None]
    mixed = paper * (bare + cover[..., None] * ink)
    return np.clip(mixed, 0.003, 1), Image.fromarray(clean), wide / high


def table_top(kind: str, x: Floats, y: Floats, rng: np.random.Generator) -> Floats:
    """Reflectance of a table at places in sheets' heights, (h, w, 3) linear."""
    size = 1024
    at = [np.mod(v * 420, size) for v in (y, x)]

    def sampled(tile: Floats) -> Floats:
        return np.asarray(ndimage.map_coordinates(tile, at, order=1, mode="grid-wrap"))

    if kind == "planks":
        grain = sampled(
            _noise(rng, (size, size), (2, 60)) + 0.5 * _noise(rng, (size, size), (1, 12))
        )
        board = np.mod(np.floor(y / 0.42) * 0.37, 1.0)
        tone = np.clip(1 + 0.16 * grain + 0.3 * (board - 0.5), 0.3, 2)
        tone = np.where(np.mod(y, 0.42) < 0.008, 0.35, tone)
        return tone[..., None] * np.array([0.34, 0.2, 0.1])
    if kind == "cloth":
        weave = sampled(_noise(rng, (size, size), (0.7, 3)) + _noise(rng, (size, size), (3, 0.7)))
        return np.clip(1 + 0.1 * weave, 0.3, 2)[..., None] * np.array([0.12, 0.2, 0.32])
    if kind == "checks":
        even = (np.floor(x / 0.13) % 2 + np.floor(y / 0.13) % 2) / 2
        light = (1 + 0.05 * sampled(_noise(rng, (size, size), 1)))[..., None]
        red, white = np.array([0.5, 0.06, 0.06]), np.array([0.72, 0.68, 0.64])
        return light * (white + even[..., None] * (red - white))
    if kind == "stone":
        speck = sampled(_noise(rng, (size, size), 2.2)) + 0.6 * sampled(
            _noise(rng, (size, size), 9)
        )
        return np.clip(0.4 + 0.13 * speck, 0.05, 0.85)[..., None] * np.array([1, 0.97, 0.93])
    if kind == "dark":
        return np.clip(1 + 0.08 * sampled(_noise(rng, (size, size), 3)), 0.5, 2)[..., None] * (
            np.array([0.03, 0.03, 0.035])
        )
    if kind == "none":
        return np.zeros((*x.shape, 3))
    if kind == "lid":
        return np.full((*x.shape, 3), rng.uniform(0.35, 0.75)) * np.array([1, 1, 0.98])
    grain = sampled(_noise(rng, (size, size), (1, 40)))
    return np.clip(1 + 0.06 * grain, 0.5, 1.4)[..., None] * np.array([0.62, 0.5, 0.36])


# -- the camera ------------------------------------------------------------------------------------


def camera(
    proportions: float,
    size: tuple[int, int],
    tilt_deg: float,
    rng: np.random.Generator,
    roll_deg: float = 14,
    fills: tuple[float, float] = (0.62, 0.86),
) -> Floats:
    """Homography from the plane (sheets' heights, its middle at 0) to pixels.

    The camera is turned by up to `roll_deg`, and the sheet is so many frames wide or high.
    """
    wide, high = size
    focal = 0.75 * max(size)  # a telephone's 27 mm of 36 mm film; from memory
    tilt, way, roll = np.radians([tilt_deg, rng.uniform(0, 360), rng.uniform(-roll_deg, roll_deg)])
    axis = np.array([np.cos(way), np.sin(way), 0])
    cross = np.array([[0, -axis[2], axis[1]], [axis[2], 0, -axis[0]], [-axis[1], axis[0], 0]])
    turned = np.eye(3) + np.sin(tilt) * cross + (1 - np.cos(tilt)) * cross @ cross
    about = np.array([[np.cos(roll), -np.sin(roll), 0], [np.sin(roll), np.cos(roll), 0], [0, 0, 1]])
    turned = about @ turned
    reach = max(1.0 / high, proportions / wide)
    far = focal * reach / rng.uniform(*fills)
    shift = np.array([rng.uniform(-0.06, 0.06), rng.uniform(-0.06, 0.06), 1.0]) * far
    inner = np.array([[focal, 0, wide / 2], [0, focal, high / 2], [0, 0, 1]])
    return np.asarray(inner @ np.stack([turned[:, 0], turned[:, 1], shift], axis=1))


def _shade(kind: str, size: tuple[int, int], rng: np.random.Generator) -> Floats:
    """How much of the lamp reaches each pixel, 0..1."""
    wide, high = size
    image = Image.new("L", (wide, high), 255)
    pen = ImageDraw.Draw(image)
    unit = max(size)
    if kind == "half":
        angle, out = rng.uniform(0, 2 * np.pi), rng.uniform(-0.12, 0.12)
        normal, along = (
            np.array([np.cos(angle), np.sin(angle)]),
            np.array([-np.sin(angle), np.cos(angle)]),
        )
        start = np.array([wide, high]) / 2 + out * unit * normal
        far = 2 * unit
        box = [
            start + far * along,
            start + far * (along + normal),
            start + far * (normal - along),
            start - far * along,
        ]
        pen.polygon([tuple(p) for p in box], 0)
    elif kind == "hand":
        tip = np.array([wide, high]) * rng.uniform(0.35, 0.6, 2)
        way = rng.uniform(0.2, 0.8) * np.pi
        arm = np.array([np.cos(way), np.sin(way)])
        for spread, length in ((-0.35, 0.1), (-0.1, 0.0), (0.15, 0.03), (0.4, 0.14)):
            angle = way + spread
            on = tip + unit * length * arm
            end = tip + unit * 0.35 * np.array([np.cos(angle), np.sin(angle)])
            pen.line([tuple(on), tuple(end)], 0, int(0.055 * unit))
            pen.circle(tuple(on), 0.027 * unit, 0)
        palm = tip + unit * 0.5 * np.array([np.cos(way), np.sin(way)])
        pen.circle(tuple(palm), 0.22 * unit, 0)
        pen.line(
            [tuple(palm), tuple(palm + unit * np.array([np.cos(way), np.sin(way)]))],
            0,
            int(0.3 * unit),
        )
    elif kind == "frame":
        angle = rng.uniform(-0.5, 0.5)
        for k in (-1, 1):
            at = np.array([wide, high]) / 2 + unit * (0.3 * k + rng.uniform(-0.1, 0.1)) * np.array(
                [np.cos(angle), np.sin(angle)]
            )
            along = unit * 2 * np.array([-np.sin(angle), np.cos(angle)])
            pen.line([tuple(at - along), tuple(at + along)], 0, int(0.09 * unit))
    reached = np.asarray(image, dtype=np.float32) / 255
    soft = rng.uniform(0.6, 2.5) * unit / 1200
    return np.asarray(ndimage.gaussian_filter(reached, soft))


def render(number: int, size: tuple[int, int] | None = None, sheet_px: int = 1200) -> Scene:
    """Return a scene; the same number always gives the same."""
    for group in GROUPS:
        if number in group.scenes or number in group.held_out:
            return group.rendered(number, size, sheet_px)
    rng = np.random.default_rng(20_000 + number)
    name, medium = _drawn(number)
    table, shadow = TABLES[number // 2 % 6], SHADOWS[number % 5]
    lamp = [*LAMPS][number // 3 % 4]
    if size is None:
        size = (4000, 3000) if number % 16 == 5 else (1200, 900)
    if number % 3 == 0:
        size = (size[1], size[0])
    paper, clean, proportions = sheet(drawing(name), medium, rng, sheet_px)
    tilt_deg = 35.0 * np.sqrt(rng.uniform(0.02, 1))
    plane = camera(proportions, size, tilt_deg, rng)
    light = _light(size, lamp, shadow, rng)
    pixels = _exposed(Sheet(paper, proportions), plane, light, table, rng)
    return Scene(
        number, name, medium, table, shadow, lamp, float(tilt_deg),
        pixels, _ends(proportions, plane), clean, int(rng.integers(72, 93)),
    )  # fmt: skip


def _drawn(number: int) -> tuple[str, str]:
    """What is drawn in a scene, and with what."""
    name = [*FLAT, *LETTERS, *LINES][number % 24]
    medium = MEDIA[number % 6] if name not in LINES else ("felt-pen", "biro")[number // 24 % 2]
    return name, "crayon" if medium == "biro" and name not in LINES else medium


def render_close(number: int, size: tuple[int, int] | None, sheet_px: int) -> Scene:
    """A telephone held over the drawing: the sheet fills the frame, no edge of it is seen."""
    rng = np.random.default_rng(20_000 + number)
    name, medium = _drawn(number)
    shadow, lamp = SHADOWS[number % 5], [*LAMPS][number // 3 % 4]
    image = drawing(name)
    size = size or ((4000, 3000) if number % 12 == 5 else (1200, 900))
    if image.height > image.width:
        size = (size[1], size[0])
    paper, clean, proportions = sheet(image, medium, rng, sheet_px, size[0] / size[1], (0.4, 0.55))
    tilt_deg = rng.uniform(0, 12)
    plane = camera(proportions, size, tilt_deg, rng, 3, (1.4, 1.55))
    light = _light(size, lamp, shadow, rng)
    pixels = _exposed(Sheet(paper, proportions), plane, light, "none", rng)
    return Scene(
        number, name, medium, "none", shadow, lamp, float(tilt_deg),
        pixels, _frame(size), clean, int(rng.integers(72, 93)),
    )  # fmt: skip


def render_scan(number: int, size: tuple[int, int] | None, sheet_px: int) -> Scene:
    """A sheet on a flatbed: evenly lit, a little turned, the lid round it or wider than the bed."""
    rng = np.random.default_rng(20_000 + number)
    name, medium = _drawn(number)
    size = size or (1240, 1754)  # A4 at 150 dots to the inch
    whole = number % 3 == 0
    paper, clean, proportions = sheet(
        drawing(name), medium, rng, sheet_px, size[0] / size[1] if whole else None
    )
    turn = np.radians(rng.uniform(-2, 2))
    fits = min(size[1], size[0] / proportions)
    times = fits * (1.06 if whole else rng.uniform(0.66, 0.96))
    around = np.array(size) - times * np.array([proportions, 1])
    middle = np.array(size) / 2 + around * (0 if whole else rng.uniform(-0.5, 0.5, 2))
    plane = np.array(
        [
            [times * np.cos(turn), -times * np.sin(turn), middle[0]],
            [times * np.sin(turn), times * np.cos(turn), middle[1]],
            [0, 0, 1],
        ]
    )
    level = rng.uniform(0.95, 1.12) * np.array([1, rng.uniform(0.98, 1), rng.uniform(0.96, 1)])
    ends = 1 - SCAN_FALL * np.linspace(-1, 1, size[0]) ** 2  # of the lamp
    light = (ends[:, None] * np.full((size[1], 1, 3), level)).astype(np.float32)
    pixels = _exposed(Sheet(paper, proportions), plane, light, "lid", rng, SCAN_NOISE)
    corners = _frame(size) if whole else _ends(proportions, plane)
    return Scene(
        number, name, medium, "none" if whole else "lid", "none", "scanner", 0.0,
        pixels, corners, clean, int(rng.integers(80, 96)),
    )  # fmt: skip


SCAN_NOISE, SCAN_FALL = 0.4, 0.03
"""Noise of a flatbed in parts of a telephone's, so that it is half a per cent of white, and how
much darker its lamp is at the ends; from memory."""


def render_folded(number: int, size: tuple[int, int] | None, sheet_px: int) -> Scene:
    """A sheet on a table, one corner of it folded over."""
    rng = np.random.default_rng(20_000 + number)
    name, medium = _drawn(number)
    table, lamp = TABLES[number % 6], [*LAMPS][number % 4]
    size = size or (1200, 900)
    paper, clean, proportions = sheet(drawing(name), medium, rng, sheet_px, None, (0.45, 0.6))
    gone = _folded(paper, number % 4, rng)
    tilt_deg = rng.uniform(3, 30)
    plane = camera(proportions, size, tilt_deg, rng)
    light = _light(size, lamp, "none", rng)
    pixels = _exposed(Sheet(paper, proportions, gone), plane, light, table, rng)
    return Scene(
        number, name, medium, table, "none", lamp, float(tilt_deg),
        pixels, _ends(proportions, plane), clean, int(rng.integers(72, 93)),
    )  # fmt: skip


def _folded(paper: Floats, corner: int, rng: np.random.Generator) -> npt.NDArray[np.bool_]:
    """Fold a corner of a sheet over: its back, and its shadow. Return what of it is gone."""
    turned = (paper, paper[:, ::-1], paper[::-1], paper[::-1, ::-1])[corner]
    down, across = np.indices(paper.shape[:2], dtype=np.float32)
    one, other = rng.uniform(0.12, 0.24, 2) * min(paper.shape[:2])
    # a place mirrored at the fold from (one, 0) to (0, other) lies on the flap
    over = (across / one + down / other - 1) / (1 / one**2 + 1 / other**2)
    back_x, back_y = across - 2 * over / one, down - 2 * over / other
    flap = (over > 0) & (back_x > 0) & (back_y > 0)
    shadow = ndimage.gaussian_filter(flap.astype(np.float32), 0.006 * paper.shape[0])
    turned *= (1 - 0.35 * np.roll(shadow, (4, 4), (0, 1)))[..., None]
    turned[flap] = 0.78 * np.array([1, 0.995, 0.98])
    gone = over < 0
    return np.asarray((gone, gone[:, ::-1], gone[::-1], gone[::-1, ::-1])[corner])


@dataclass(frozen=True)
class Sheet:
    """Reflectance of a sheet, (h, w, 3) linear, how many times as wide as high; what is gone."""

    paper: Floats
    proportions: float
    gone: npt.NDArray[np.bool_] | None = None


def _ends(proportions: float, plane: Floats) -> Floats:
    """Corners of a sheet in the photograph."""
    ends = np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]]) / 2 * [proportions, 1]
    seen = np.c_[ends, np.ones(4)] @ plane.T
    return np.asarray(seen[:, :2] / seen[:, 2:])


def _frame(size: tuple[int, int]) -> Floats:
    """Corners of the photograph."""
    return np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size


def _exposed(
    seen: Sheet,
    plane: Floats,
    light: npt.NDArray[np.float32],
    table: str,
    rng: np.random.Generator,
    noise: float = 1.0,
) -> npt.NDArray[np.uint8]:
    """Return the photograph of a sheet, (h, w, 3)."""
    high, wide = light.shape[:2]
    paper, proportions = seen.paper, seen.proportions
    down, across = np.mgrid[:high, :wide].astype(np.float32)
    back = np.linalg.inv(plane)
    x, y, z = (row[0] * across + row[1] * down + row[2] for row in back.astype(np.float32))
    x, y = x / z, y / z
    u, v = (x / proportions + 0.5) * paper.shape[1] - 0.5, (y + 0.5) * paper.shape[0] - 0.5
    on_sheet = (u > -0.5) & (v > -0.5) & (u < paper.shape[1] - 0.5) & (v < paper.shape[0] - 0.5)
    if seen.gone is not None:
        at = [
            np.clip(np.rint(w), 0, n - 1).astype(int)
            for w, n in zip((v, u), paper.shape[:2], strict=True)
        ]
        on_sheet &= ~seen.gone[at[0], at[1]]
    scene = table_top(table, x, y, rng).astype(np.float32)
    lifted = ndimage.gaussian_filter(on_sheet.astype(np.float32), 0.004 * max(high, wide))
    scene *= (1 - 0.3 * np.roll(lifted, (2, 3), (0, 1)))[..., None]  # the sheet's own soft shadow
    coarse = max(1.0, paper.shape[0] / max(high, wide) * 1.1)
    for channel in range(3):
        soft = ndimage.gaussian_filter(paper[..., channel], 0.35 * coarse)
        shown = ndimage.map_coordinates(soft, [v, u], order=1, mode="nearest")
        scene[..., channel][on_sheet] = shown[on_sheet]
    scene *= light
    blur = 0.6 * max(high, wide) / 1200
    scene = ndimage.gaussian_filter(scene, (blur, blur, 0))
    grain = np.sqrt(2e-5 + 3e-4 * np.maximum(scene, 0))
    scene += noise * rng.normal(size=scene.shape) * grain
    return np.asarray(draw_motifs.to_bytes(scene))


@dataclass(frozen=True)
class Group:
    """Scenes of one kind: those looked at while sheets were learnt to be read, and the others."""

    name: str
    rendered: Callable[[int, tuple[int, int] | None, int], Scene]
    scenes: range
    held_out: range


GROUPS = (
    Group("Close, no edge in the frame", render_close, range(2000, 2012), range(2500, 2512)),
    Group("Scans", render_scan, range(3000, 3012), range(3500, 3512)),
    Group("A corner folded over", render_folded, range(4000, 4006), range(4500, 4506)),
)


def _light(
    size: tuple[int, int], lamp: str, shadow: str, rng: np.random.Generator
) -> npt.NDArray[np.float32]:
    """Light on every pixel, (h, w, 3): lamp, fall-off, vignette, shadow filled by the sky."""
    wide, high = size
    down, across = np.mgrid[:high, :wide].astype(np.float32)
    x, y = (across - wide / 2) / max(size), (down - high / 2) / max(size)
    angle = rng.uniform(0, 2 * np.pi)
    fall = np.exp(rng.uniform(0, 0.9) * (x * np.cos(angle) + y * np.sin(angle)))
    vignette = 1 / (1 + 0.55 * rng.uniform(0.3, 1) * (x**2 + y**2) / 0.39) ** 2
    own = np.array(LAMPS[lamp], dtype=np.float32)
    fill = np.array([0.9, 0.97, 1.05], dtype=np.float32) * own * rng.uniform(0.4, 0.65)
    reached = _shade(shadow, size, rng)[..., None].astype(np.float32)
    every = (fall * vignette * rng.uniform(0.75, 1.0))[..., None].astype(np.float32)
    return np.asarray(every * (reached * own + (1 - reached) * fill), dtype=np.float32)


# -- what comes of it ------------------------------------------------------------------------------

ORDER = Order(
    strands=16, width_mm=14.0, stretch=1.0, pin=("shift", "turn"), repeat="once", quick=True
)
SALTMARSH = read_palette(ROOT / "fixtures" / "palettes" / "saltmarsh.csv")


@dataclass(frozen=True)
class Agreement:
    """How a photograph compares with its clean file."""

    found: bool
    off_px: float
    """The corner furthest off, in thousandths of the longer side of the photograph."""
    beads: float
    motif: float
    with_ties: float
    seconds: float


def compared(scene: Scene) -> Agreement:
    """Convert a photograph and its clean file, and compare their beads."""
    out = io.BytesIO()
    scene.clean.save(out, "PNG")
    clean = make(ORDER, read_picture(out.getvalue(), "clean.png"), SALTMARSH)
    start = time.process_time()
    picture = read_drawing(scene.jpeg(), "photograph.jpg")
    seconds = time.process_time() - start
    corners = [f.data["corners_px"] for f in picture.findings if f.code is Code.SHEET_FOUND]
    off = np.inf
    if corners:
        apart = np.linalg.norm(np.array(corners[0])[:, None] - scene.corners[None], axis=-1)
        off = 1000 * apart.min(axis=1).max() / max(scene.pixels.shape)
    mine = make(ORDER, picture, SALTMARSH)
    one, other = (made.design.beads for made in (clean, mine))
    ground = clean.design.background
    drawn = (one != ground) | (other != mine.design.background)
    rows = np.flatnonzero(one != ground)
    rows = np.arange(rows[0], rows[-1] + 1)
    return Agreement(
        bool(off < FOUND_WITHIN),
        float(off),
        float((one[rows] == other[rows]).mean()),
        float((one[drawn] == other[drawn]).mean()),
        float(_as_near(scene.clean)[one[rows], other[rows]].mean()),
        seconds,
    )


def _as_near(clean: Image.Image) -> npt.NDArray[np.bool_]:
    """Whether a bead (column) is as near to an ink as the bead (row) that is nearest to it."""
    colours, often = np.unique(np.asarray(clean).reshape(-1, 3), axis=0, return_counts=True)
    inks = draw_motifs.to_linear(colours[often >= LEAST_INK * often.max()] / 255)
    apart = ciede2000_matrix(linear_lab(inks.astype(np.float32)), SALTMARSH.lab)
    near = np.eye(len(SALTMARSH), dtype=bool)
    for own in apart:
        near[own.argmin()] |= own - own.min() < JUST_SEEN
    return near


JUST_SEEN, LEAST_INK = 1.0, 0.003
"""CIEDE2000 that can just be seen (common practice), and the least part of the paper's pixels that
an ink has: colours of soft edges have fewer."""


FOUND_WITHIN = 15.0
"""Thousandths of the longer side within which all four corners count as found."""


HEAD = """scene, sketch, medium, table, shadow, lamp, tilt, size, sheet found, corner furthest off
(1/1000 of the longer side), beads that agree of the rounds of the motif, of the motif, and of the
rounds with ties (%), time
"""


def main() -> None:
    """Measure the scenes, or draw one."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--write", action="store_true", help=f"write {TABLE.name}")
    parser.add_argument("--scenes", type=int, nargs="*", default=list(range(64)))
    parser.add_argument("--draw", nargs=2, metavar=("NUMBER", "FILE"))
    asked = parser.parse_args()
    if asked.draw:
        Path(asked.draw[1]).write_bytes(render(int(asked.draw[0])).jpeg())
        return
    measured = [_measured(asked.scenes)]
    if asked.write:
        for group in GROUPS:
            measured += [group.name, _measured(list(group.scenes))]
        measured += ["Held-out scenes", _measured(list(HELD_OUT))]
        for group in GROUPS:
            measured += [f"{group.name}, held out", _measured(list(group.held_out))]
        TABLE.write_text("\n".join([HEAD, *measured]) + "\n")


HELD_OUT = range(1000, 1064)


def _measured(scenes: list[int]) -> str:
    """A line for each scene, and one for all."""
    lines, found = [], []
    for number in scenes:
        scene = render(number)
        one = compared(scene)
        found.append(one)
        lines.append(line_of(scene, scene.pixels.shape, one))
        print(lines[-1], flush=True)
    print(summary(found))
    return "\n".join([*lines, summary(found)])


def line_of(scene: Any, shape: tuple[int, ...], one: Agreement) -> str:
    """The row of the table for one scene."""
    return (
        f"{scene.number:4} {scene.name:10} {scene.medium:8} {scene.table:7} {scene.shadow:5} "
        f"{scene.lamp:9} {scene.tilt_deg:3.0f}° {shape[0] * shape[1] / 1e6:4.0f} MP  "
        f"{'yes' if one.found else 'no':3} {one.off_px:6.1f}  {100 * one.beads:5.1f} "
        f"{100 * one.motif:5.1f}  {100 * one.with_ties:5.1f}  {one.seconds:4.1f} s"
    )


def summary(found: list[Agreement]) -> str:
    """What the table says of all scenes."""
    beads, motif, ties = (
        np.array([getattr(f, of) for f in found]) for of in ("beads", "motif", "with_ties")
    )
    return (
        f"sheet found in {sum(f.found for f in found)} of {len(found)}; beads that agree: median "
        f"{100 * np.median(beads):.1f} %, worst {100 * beads.min():.1f} %, {(beads < 0.85).sum()} "
        f"below 85 %; with ties worst {100 * ties.min():.1f} %; of the motif's alone: median "
        f"{100 * np.median(motif):.1f} %, worst {100 * motif.min():.1f} %; "
        f"median time {np.median([f.seconds for f in found]):.1f} s"
    )


if __name__ == "__main__":
    main()
