"""Can the first result be read? Capitals and pictograms by default settings, and a bracelet.

    python tests/benchmarks/reading.py                     # everything: about a quarter of an hour
    python tests/benchmarks/reading.py --only capitals --strands 8
    python tests/benchmarks/reading.py --typeface FILE     # capitals of another typeface
    python tests/benchmarks/reading.py --only reader       # the reader alone, what it can
    python tests/benchmarks/reading.py --write             # also into reading_table.txt

Every capital, black on white with margins, and every pictogram, in up to four flat colours on
white, is converted alone by ``himotif convert`` with default settings. The pictograms are glyphs
of Font Awesome 5 Free Solid (SIL Open Font License 1.1), from the package font-font-awesome:
``pip install himotif[benchmark]``.

The reader shares no code with the program. It opens ``design.json``, computes from strands, lay,
turn, radius, rise and drift where every bead lies, unrolls one repeat, paints every bead's cell in
its colour, and compares what differs from the ground, in CIELAB after a low-pass, with every
candidate: the likeliest is the one of the highest correlation, place and size free. This is the
model of letter recognition of J. M. Loomis, "A model of character recognition and legibility",
J. Exp. Psychol.: Hum. Percept. Perform. 16 (1990) 106-120 (from memory); the low-pass of a Gaussian
of 0.35 bead diameters is ours. A motif whose outermost bead centres are more than two thirds of the
way round apart is not read: nobody sees it at once.
"""

from __future__ import annotations

import argparse
import csv
import itertools
import json
import multiprocessing
import os
import string
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
from himotif.core.arrays import Bools, Floats, Ints
from PIL import Image, ImageDraw, ImageFont, ImageOps
from scipy import fft, ndimage
from scipy.spatial import cKDTree
from skimage.color import rgb2lab

ROOT = Path(__file__).parents[2]
TABLE = Path(__file__).with_name("reading_table.txt")
PALETTE = ROOT / "fixtures" / "palettes" / "saltmarsh.csv"
TYPEFACE = ROOT / "core" / "drawing" / "typefaces" / "DejaVuSans-Bold.ttf"
FARTHEST_ROUND = 2 / 3
PX = 6
"""Pixels per bead diameter on the unrolled braid."""
LOW_PASS_BEADS = 0.35
CAPITALS_AIM = {8: 24, 12: 25, 16: 26, 24: 26}
PICTOGRAMS_AIM = {8: 36, 16: 39}

WHITE, BLACK = (255, 255, 255), (0, 0, 0)
# the palette's deep water, crab rust, reed and amber
NAVY, RUST, REED, AMBER = (29, 44, 80), (191, 80, 48), (94, 123, 64), (224, 159, 53)

GLYPHS = {
    "anchor": 0xF13D,
    "apple": 0xF5D1,
    "bell": 0xF0F3,
    "bicycle": 0xF206,
    "bone": 0xF5D7,
    "bug": 0xF188,
    "camera": 0xF030,
    "car": 0xF1B9,
    "chess knight": 0xF441,
    "chess rook": 0xF447,
    "cloud": 0xF0C2,
    "coffee": 0xF0F4,
    "crow": 0xF520,
    "crown": 0xF521,
    "dove": 0xF4BA,
    "eye": 0xF06E,
    "feather": 0xF52D,
    "fire": 0xF06D,
    "fish": 0xF578,
    "flag": 0xF024,
    "frog": 0xF52E,
    "gem": 0xF3A5,
    "gift": 0xF06B,
    "glass": 0xF000,
    "heart": 0xF004,
    "home": 0xF015,
    "key": 0xF084,
    "leaf": 0xF06C,
    "lightbulb": 0xF0EB,
    "lightning": 0xF0E7,
    "lock": 0xF023,
    "moon": 0xF186,
    "music": 0xF001,
    "paw": 0xF1B0,
    "plane": 0xF072,
    "ship": 0xF21A,
    "smile": 0xF118,
    "snowflake": 0xF2DC,
    "star": 0xF005,
    "tree": 0xF1BB,
}


# Sketches -----------------------------------------------------------------------------------


def glyph(typeface: Path, character: str) -> Bools:
    """Return a glyph as a mask, cropped to itself; its longer side is about 400 pixels."""
    font = ImageFont.truetype(str(typeface), 400)
    left, top, right, bottom = font.getbbox(character)
    image = Image.new("L", (int(right - left) + 4, int(bottom - top) + 4))
    ImageDraw.Draw(image).text((2 - left, 2 - top), character, font=font, fill=255)
    return np.asarray(image.crop(image.getbbox())) > 127


def capital(typeface: Path, letter: str) -> Image.Image:
    """Return a capital, black on white, cropped to itself."""
    return Image.fromarray(np.where(glyph(typeface, letter), 0, 255).astype(np.uint8)).convert(
        "RGB"
    )


def icon_typeface() -> Path:
    """Return the file of the icon typeface.

    Raises
    ------
    SystemExit
        If the package is missing.
    """
    try:
        folder = resources.files("font_font_awesome")
    except ModuleNotFoundError:
        raise SystemExit("The icon typeface is missing: pip install himotif[benchmark].") from None
    return Path(str(folder / "files" / "FontAwesome5-Free-Solid.otf"))


def pictogram(typeface: Path, code: int) -> Image.Image:
    """Return a pictogram in up to four flat colours on white, cropped to itself.

    Its parts, largest first, are navy, rust, reed and navy again; what it encloses is amber. Parts
    and enclosed grounds below 1 % of the picture are left as drawn: navy, white.
    """
    ink = glyph(typeface, chr(code))
    pixels = np.full((*ink.shape, 3), 255, np.uint8)
    pixels[ink] = NAVY
    parts, count = ndimage.label(ink, np.ones((3, 3)))
    area = np.bincount(parts.ravel(), minlength=count + 1)[1:]
    for place, part in enumerate(np.argsort(-area, kind="stable")):
        if area[part] >= 0.01 * ink.size:
            pixels[parts == part + 1] = (NAVY, RUST, REED)[min(place, 3) % 3]
    grounds, count = ndimage.label(np.pad(~ink, 1, constant_values=True))
    for ground in range(1, count + 1):
        inside = (grounds == ground)[1:-1, 1:-1]
        if ground != grounds[0, 0] and inside.sum() >= 0.01 * ink.size:
            pixels[inside] = AMBER
    return Image.fromarray(pixels)


def with_margins(sketch: Image.Image) -> Image.Image:
    """Return a white sheet round a sketch, a tenth of its longer side wide on every side."""
    margin = max(sketch.size) // 10
    return ImageOps.expand(sketch, margin, WHITE)


def flower(petals: int = 6) -> Image.Image:
    """Return a flower: petals twice as long as wide, a centre a fifth of it across, two leaves."""
    sheet = Image.new("RGB", (1400, 1400), WHITE)
    for colour, box, turns in (
        ((40, 120, 60), (660, 220, 740, 390), (150, 210)),
        ((190, 24, 60), (615, 300, 785, 640), [360 / petals * k for k in range(petals)]),
    ):
        for turn in turns:
            mask = Image.new("L", sheet.size)
            ImageDraw.Draw(mask).ellipse(box, fill=255)
            sheet.paste(colour, (0, 0), mask.rotate(-turn, center=(700, 700)))
    ImageDraw.Draw(sheet).ellipse((620, 620, 780, 780), fill=(240, 200, 60))
    return sheet


# The braid as its folder says ---------------------------------------------------------------


@dataclass(frozen=True)
class Lie:
    """Where the beads of a design lie.

    Parameters
    ----------
    x_mm : (n,) float
        To the right as seen from outside, 0 up to the way round, in working order.
    z_mm : (n,) float
        Up.
    round_mm : float
        All the way round.
    diameter_mm : float
        Of a bead.
    """

    x_mm: Floats
    z_mm: Floats
    round_mm: float
    diameter_mm: float


def lie(plain: Mapping[str, Any], beads: int) -> Lie:
    """Compute where the first `beads` beads lie, from a design's plain values."""
    axes = plain["braid"]["strands"] // 4
    lattice, lay = plain["lattice"], plain["braid"]["lay"]
    turn = -1 if plain["braid"]["turn"] == "usual" else 1
    axis, side = np.divmod(np.arange(beads), 2)
    step = turn * 180 / axes + lattice["drift_deg"] / axes
    azimuth = (step * axis + 180 * side) * (1 if lay == "S" else -1)
    around = 2 * np.pi * lattice["radius_mm"]
    return Lie(
        (-azimuth / 360 * around) % around,
        lattice["rise_mm"] / axes * axis,
        around,
        plain["bead"]["diameter_mm"],
    )


@dataclass(frozen=True)
class Motif:
    """One motif as it is seen on the unrolled braid.

    Parameters
    ----------
    pixels : (rows, columns, 3) float
        CIELAB less the ground's, in bead cells; one way round, cut at the motif's back.
    round : float
        Share of the way round from the leftmost to the rightmost bead centre.
    """

    pixels: Floats
    round: float


def unrolled(plain: Mapping[str, Any]) -> Motif | None:
    """Return one motif of a design, None if all its beads are ground."""
    beads = np.array(plain["beads"])
    where = lie(plain, len(beads))
    lab = rgb2lab(np.array([bead["rgb"] for bead in plain["palette"]], np.uint8)[None])[0]
    ground = [bead["code"] for bead in plain["palette"]].index(plain["background"])
    motif = beads != ground
    repeat = plain.get("repeat")
    if repeat is not None:
        period = repeat["rounds"] * plain["braid"]["strands"] // 2
        # whole ones lie between the ends of the braid
        first = repeat["first_crossing"] - 1 + period * (repeat["count"] // 2)
        motif &= (np.arange(len(beads)) >= first) & (np.arange(len(beads)) < first + period)
    if not motif.any():
        return None
    around, size = where.round_mm, where.diameter_mm
    x = np.sort(where.x_mm[motif])
    gaps = np.diff(x, append=x[0] + around)
    left = x[(gaps.argmax() + 1) % len(x)] - gaps.max() / 2
    z = where.z_mm[motif]
    columns, rows = (int(np.ceil(side / size * PX)) for side in (around, np.ptp(z) + 3 * size))
    down, across = (np.mgrid[:rows, :columns] + 0.5) * size / PX
    points = np.c_[(across.ravel() + left) % around, z.max() + 1.5 * size - down.ravel()]
    centres = np.c_[where.x_mm, where.z_mm]
    turn = np.array([around, 0])
    tree = cKDTree(np.concatenate([centres - turn, centres, centres + turn]))
    owner = tree.query(points)[1] % len(beads)
    seen = np.where(motif[:, None], lab[beads] - lab[ground], 0.0)[owner]
    return Motif(seen.reshape(rows, columns, 3), float(1 - gaps.max() / around))


# The reader ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Candidate:
    """What a motif may be: CIELAB less white, three planes, cropped to itself."""

    name: str
    planes: tuple[Image.Image, ...]


def candidate(name: str, sketch: Image.Image) -> Candidate:
    """Return a sketch on white, cropped to itself, as a candidate."""
    lab = (rgb2lab(np.asarray(sketch)) - [100.0, 0.0, 0.0]).astype(np.float32)
    return Candidate(name, tuple(Image.fromarray(lab[..., band]) for band in range(3)))


def spectrum(pixels: Floats, shape: tuple[int, int]) -> npt.NDArray[np.complex64]:
    """Return the low-passed spectrum of an image less its mean, of unit norm, on a plane."""
    plane = np.zeros((3, *shape), np.float32)
    plane[:, : pixels.shape[0], : pixels.shape[1]] = np.moveaxis(pixels, -1, 0)
    waves = np.hypot(fft.fftfreq(shape[0])[:, None], fft.rfftfreq(shape[1]))
    found = fft.rfft2(plane) * np.exp(-2 * (np.pi * LOW_PASS_BEADS * PX * waves) ** 2)
    found[:, 0, 0] = 0
    # a half spectrum holds every wave but those of the first and the last column once for twice
    once = (np.abs(found[..., 0]) ** 2).sum()
    once += (np.abs(found[..., -1]) ** 2).sum() if shape[1] % 2 == 0 else 0.0
    energy = 2 * (np.abs(found) ** 2).sum() - once
    return np.asarray(found / np.sqrt(energy / np.prod(shape)), np.complex64)


SIZES_BEADS = (-0.8, -0.4, 0.0, 0.4)
"""A sketch may be this much wider or taller than the outlines of the beads that show it."""
TALLEST, WIDEST = 2.6, 1.6
"""How far from its own shape a reader takes a sketch to be the same, stretched."""


def likeliest(
    motif: Motif,
    candidates: Sequence[Candidate],
    tallest: float = TALLEST,
    widest: float = WIDEST,
) -> list[tuple[float, str]]:
    """Return correlation and name of every candidate, likeliest first."""
    rows, columns = (np.flatnonzero(motif.pixels.any(axis=(axis, 2))) for axis in (1, 0))
    cut = motif.pixels[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    high, wide = cut.shape[:2]
    shape = fft.next_fast_len(high + 2 * PX), fft.next_fast_len(wide + 2 * PX)
    there = np.zeros((high + PX, wide + PX, 3))
    there[PX:, PX:] = cut
    seen = spectrum(there, shape).conj()
    found = []
    for one in candidates:
        best = -1.0
        own = one.planes[0].height / one.planes[0].width
        for more_wide, more_high in itertools.product(SIZES_BEADS, SIZES_BEADS):
            size = round(wide + more_wide * PX), round(high + more_high * PX)
            if min(size) < PX // 2 or not 1 / widest < size[1] / size[0] / own < tallest:
                continue
            drawn = np.stack([np.asarray(band.resize(size, Image.Resampling.BOX))
                              for band in one.planes], axis=-1)  # fmt: skip
            product = (spectrum(drawn, shape) * seen).sum(axis=0)
            best = max(best, float(fft.irfft2(product, shape).max()))
        found.append((best, one.name))
    return sorted(found, reverse=True)


# Conversions --------------------------------------------------------------------------------


def convert(sketch: Image.Image, strands: int, folder: Path) -> dict[str, Any]:
    """Convert a sketch by default settings; return the plain values of its design."""
    picture = folder / "sketch.png"
    sketch.save(picture)
    command(picture, PALETTE, folder / "out", "--strands", str(strands), "--lists-only")
    plain: dict[str, Any] = json.loads((folder / "out" / "design.json").read_text("utf-8"))
    return plain


def command(picture: Path, palette: Path, out: Path, *options: str) -> str:
    """Run ``himotif convert``; return what it prints."""
    words = [sys.executable, "-m", "himotif.convert", "convert", str(picture)]
    words += ["--palette", str(palette), "--out", str(out), *options]
    return subprocess.run(words, check=True, capture_output=True, text=True, cwd=out.parent).stdout


@dataclass(frozen=True)
class Reading:
    """What came of one sketch: read as what, how far round, how many beads, how long it took."""

    name: str
    read_as: str
    round: float
    beads: int
    seconds: float

    @property
    def right(self) -> bool:
        """Whether it is read, and seen at once."""
        return self.read_as == self.name and self.round <= FARTHEST_ROUND


@cache
def capitals(typeface: Path) -> dict[str, Image.Image]:
    """Return the capitals of a typeface by letter."""
    return {letter: capital(typeface, letter) for letter in string.ascii_uppercase}


@cache
def pictograms(typeface: Path) -> dict[str, Image.Image]:
    """Return the pictograms by name."""
    return {name: pictogram(typeface, code) for name, code in GLYPHS.items()}


@cache
def candidates(
    draw: Callable[[Path], dict[str, Image.Image]], typeface: Path
) -> tuple[Candidate, ...]:
    """Return every sketch of a set as a candidate."""
    return tuple(candidate(name, sketch) for name, sketch in draw(typeface).items())


def reading(
    draw: Callable[[Path], dict[str, Image.Image]], typeface: Path, strands: int, name: str
) -> Reading:
    """Convert one sketch of a set, and read it among all of them."""
    start = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        plain = convert(with_margins(draw(typeface)[name]), strands, Path(folder))
    seconds = time.perf_counter() - start
    return read(plain, name, candidates(draw, typeface), seconds)


def read(
    plain: Mapping[str, Any], name: str, among: Sequence[Candidate], seconds: float = 0.0
) -> Reading:
    """Read the motif of a design among candidates."""
    motif = unrolled(plain)
    if motif is None:
        return Reading(name, "nothing", 0.0, 0, seconds)
    cells = np.count_nonzero(motif.pixels.any(axis=2)) / PX**2
    return Reading(name, likeliest(motif, among)[0][1], motif.round, round(cells), seconds)


def row(kind: str, strands: int, aim: int | None, found: Sequence[Reading]) -> list[str]:
    """Return the lines of the table for one set on one braid."""
    right = [one for one in found if one.right]
    said = f"{kind:<11}{strands:>4} strands: {len(right):>2} of {len(found)} read"
    said += "" if aim is None else f" (aim {aim})"
    said += f"; {np.mean([one.round for one in found]):.2f} of the way round in the mean, "
    said += f"{max(one.round for one in found):.2f} at most"
    far = [one.name for one in found if one.round > FARTHEST_ROUND]
    wrong = [one for one in found if not one.right and one.name not in far]
    lines = [said, "    read: " + ", ".join(one.name for one in right)]
    lines.append("    not: " + ", ".join(f"{one.name} (as {one.read_as})" for one in wrong))
    return lines + (["    too far round: " + ", ".join(far)] if far else [])


# The bracelet -------------------------------------------------------------------------------

BRACELET = """code,name,colour,size,shape
A,white,#ffffff,6/0,round
Y,yellow,#f0c83c,6/0,round
R,red,#be183c,6/0,drop
G,green,#28783c,6/0,round
"""
SHORT_REPEAT = 8
"""Beads: what can be strung by heart. Ours; four is the repeat of one bead and its neighbours."""


def period(beads: Sequence[str]) -> int:
    """Return after how many beads a list repeats, from its first to its last bead of the motif."""
    drawn = [place for place, bead in enumerate(beads) if not bead.startswith("A")]
    if not drawn:
        return 1
    between = beads[drawn[0] : drawn[-1] + 1]
    return next(
        step
        for step in range(1, len(between) + 1)
        if all(one == other for one, other in zip(between, between[step:], strict=False))
    )


def bracelet() -> list[str]:
    """Convert the flower of six drop petals on 8 strands; return what came of it, in lines."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        flower().save(folder / "flower.png")
        (folder / "beads.csv").write_text(BRACELET, encoding="utf-8")
        asked = ("--bead-size", "6/0", "--strands", "8", "--plain-back", "120", "--wrist", "17cm")
        said = json.loads(
            command(folder / "flower.png", folder / "beads.csv", folder / "out", *asked, "--json")
        )
        plain = json.loads((folder / "out" / "design.json").read_text("utf-8"))
        with (folder / "out" / "stringing.csv").open(encoding="utf-8", newline="") as lists:
            strung: dict[str, list[str]] = {}
            for bead in csv.DictReader(lists):
                strung.setdefault(bead["strand"], []).append(bead["bead"])
    codes = [bead["code"] for bead in plain["palette"]]
    colour = np.array(codes)[plain["beads"]]
    where = lie(plain, len(colour))
    whole = petals_round(colour, where)
    outward, drops = outward_drops(said, plain, where, colour)
    periods = [period(beads) for beads in strung.values()]
    return [
        f"Bracelet of a flower, 6/0 beads, 8 strands, plain back 120°, wrist 17 cm: "
        f"{said['motifs']} motifs, {', '.join(f'{v} {k}' for k, v in said['counts'].items())}",
        f"    centres with six petals beside them: {whole.count(6)} of {len(whole)} "
        f"centre beads (petals beside each: {', '.join(map(str, whole)) or 'none'})",
        f"    strands of more than one bead that repeat within {SHORT_REPEAT} beads: "
        f"{sum(1 < one <= SHORT_REPEAT for one in periods)} of 8 (aim 3 or more; repeats of "
        f"{', '.join(map(str, periods))}; 1 is a plain strand)",
        f"    drops that point outward: {outward} of {drops}",
    ]


def away(where: Lie, bead: int | Ints, centre: int) -> Floats:
    """Return the way from one bead to others on the unrolled braid, (k, 2): right, up, mm."""
    right = where.x_mm[bead] - where.x_mm[centre]
    right = (right + where.round_mm / 2) % where.round_mm - where.round_mm / 2
    return np.stack([right, where.z_mm[bead] - where.z_mm[centre]], axis=-1)


def petals_round(colour: npt.NDArray[np.str_], where: Lie) -> list[int]:
    """Return how many of its six neighbours are petals, for every centre bead."""
    everyone = np.arange(len(colour))
    found = []
    for centre in np.flatnonzero(colour == "Y").tolist():
        near = np.argsort(np.hypot(*away(where, everyone, centre).T), kind="stable")[1:7]
        found.append(int((colour[near] == "R").sum()))
    return found


def outward_drops(
    said: Mapping[str, Any], plain: Mapping[str, Any], where: Lie, colour: npt.NDArray[np.str_]
) -> tuple[int, int]:
    """Return how many drops point away from the nearest centre bead, and how many there are.

    A drop leans along its strand. A strand crosses to the opposite pair and drifts twice before its
    next bead; a wide end toward the disc points to the older beads (see the geometry of drops).
    Without a centre bead none points outward.
    """
    drops, centres = said.get("drops", []), np.flatnonzero(colour == "Y").tolist()
    if not centres:
        return 0, len(drops)
    lattice = plain["lattice"]
    turn = np.deg2rad(180 - 2 * lattice["drift_deg"]) * lattice["radius_mm"]
    way = np.array([turn if plain["braid"]["lay"] == "S" else -turn, 2 * lattice["rise_mm"]])
    outward = 0
    for drop in drops:
        bead = drop["crossing"] - 1
        from_centres = np.stack([away(where, bead, centre) for centre in centres])
        out = from_centres[np.hypot(*from_centres.T).argmin()]
        points = -way if drop["wide_end"] == "toward disc" else way
        outward += bool(points @ out > 0)
    return outward, len(drops)


# The reader's own proof ---------------------------------------------------------------------


def strung(sketch: Image.Image, strands: int, share_round: float, least: float) -> dict[str, Any]:
    """Return the plain values of a design that shows a sketch once, beads by share of their cell.

    Radius and rise are those of touching spheres; any number of strands that four divides.
    """
    axes = strands // 4
    drift = 90 / axes
    chords = 2 - 2 * np.cos(np.deg2rad([180 / axes - drift / axes, drift]))
    (radius2, rise2) = np.linalg.solve([[chords[0], 1 / axes**2], [chords[1], 1.0]], [1.0, 1.0])
    radius, rise = float(np.sqrt(radius2)), float(np.sqrt(rise2))
    rgb = [WHITE, *sorted({tuple(one) for one in np.asarray(sketch).reshape(-1, 3)} - {WHITE})]
    wide = share_round * 2 * np.pi * radius
    high = wide * sketch.height / sketch.width
    plain: dict[str, Any] = {
        "braid": {"strands": strands, "lay": "S", "turn": "usual"},
        "lattice": {"radius_mm": radius, "rise_mm": rise, "drift_deg": drift},
        "bead": {"diameter_mm": 1.0},
        "palette": [{"code": str(k), "rgb": list(one)} for k, one in enumerate(rgb)],
        "background": "0",
    }
    beads = int((high + 6) / rise) * 2 * axes
    where = lie(plain, beads)
    size = max(2, round(wide * PX)), max(2, round(high * PX))
    pixels = np.asarray(sketch.resize(size, Image.Resampling.NEAREST))
    down, across = (np.mgrid[: size[1], : size[0]] + 0.5) / PX
    centres = np.c_[where.x_mm, where.z_mm]
    turn = np.array([where.round_mm, 0])
    tree = cKDTree(np.concatenate([centres - turn, centres, centres + turn]))
    owner = tree.query(np.c_[across.ravel() + 0.31, high + 3 - down.ravel()])[1] % beads
    area = np.sqrt(0.75) * PX**2  # of a cell in the closest packing
    share = (
        np.stack(
            [
                np.bincount(owner, (pixels == one).all(axis=2).ravel(), minlength=beads)
                for one in rgb[1:]
            ],
            axis=1,
        )
        / area
    )
    plain["beads"] = np.where(share.sum(axis=1) < least, 0, share.argmax(axis=1) + 1).tolist()
    return plain


def blot(plain: Mapping[str, Any]) -> dict[str, Any]:
    """Return a design with every bead inside the motif's frame in one colour."""
    beads, where = np.array(plain["beads"]), lie(plain, len(plain["beads"]))
    drawn = beads != 0
    inside = [
        (side >= side[drawn].min() - 1e-9) & (side <= side[drawn].max() + 1e-9)
        for side in (where.x_mm, where.z_mm)
    ]
    return {**plain, "beads": (inside[0] & inside[1]).astype(int).tolist()}


def shuffled(plain: Mapping[str, Any], seed: int) -> dict[str, Any]:
    """Return a design with the beads inside the motif's frame in another order."""
    beads, inside = np.array(plain["beads"]), np.flatnonzero(blot(plain)["beads"])
    beads[inside] = np.random.default_rng(seed).permutation(beads[inside])
    return {**plain, "beads": beads.tolist()}


def proof(draw: Callable[[Path], dict[str, Image.Image]], typeface: Path, name: str) -> list[bool]:
    """Return whether a sketch is read on 48 and 24 strands, as a blot, and shuffled."""
    sketch, among = draw(typeface)[name], candidates(draw, typeface)
    large = strung(sketch, 24, 0.6, 0.5)
    seed = sorted(draw(typeface)).index(name)
    designs = strung(sketch, 48, 0.6, 0.5), large, blot(large), shuffled(large, seed)
    return [read(plain, name, among).right for plain in designs]


# The table ----------------------------------------------------------------------------------

PARTS = ("reader", "capitals", "pictograms", "bracelet")


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table, and write it if asked for."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--only", choices=PARTS, action="append", help="a part; repeatable")
    options.add_argument("--strands", type=int, choices=(8, 12, 16, 24), action="append")
    options.add_argument("--typeface", type=Path, default=TYPEFACE, help="of the capitals")
    options.add_argument("--processes", type=int, default=os.cpu_count())
    options.add_argument("--write", action="store_true", help=f"write {TABLE.name}")
    chosen = options.parse_args(arguments)
    parts, lines = chosen.only or PARTS, list[str]()

    def say(said: Sequence[str]) -> None:
        lines.extend(said)
        print("\n".join(said), flush=True)

    named = {"capitals": (capitals, chosen.typeface, CAPITALS_AIM)}
    if not {"reader", "pictograms"}.isdisjoint(parts):
        named["pictograms"] = (pictograms, icon_typeface(), PICTOGRAMS_AIM)
    with multiprocessing.Pool(chosen.processes) as pool:
        for kind, (draw, typeface, aims) in named.items():
            names = list(draw(typeface))
            if "reader" in parts:
                right = np.sum(pool.map(partial(proof, draw, typeface), names, 1), axis=0)
                say([f"Reader, {kind} of {typeface.stem}, {len(names)}: beads by plain shares, 0.6 "
                     f"of the way round 48 strands {right[0]}, 24 strands {right[1]}; the frame "
                     f"filled {right[2]}, beads shuffled {right[3]}"])  # fmt: skip
            for strands, aim in aims.items():
                if kind in parts and strands in (chosen.strands or aims):
                    work = partial(reading, draw, typeface, strands)
                    found = pool.map(work, names, 1)
                    say(row(kind, strands, aim, found))
                    # not into the table: it is the machine's as much as the program's
                    print(f"    {np.median([one.seconds for one in found]):.1f} s each")
    if "bracelet" in parts:
        say(bracelet())
    if chosen.write:
        TABLE.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
