"""Draw conversions that read, that hint, and that do not, to be labelled by looking.

    python tests/data/draw_labels.py convert           # writes labelled.json (a few minutes)
    python tests/data/draw_labels.py add found         # adds the conversions whose size is found
    python tests/data/draw_labels.py add parts         # adds sketches of several parts
    python tests/data/draw_labels.py add groups        # adds several of one thing, and signs
    python tests/data/draw_labels.py sheets FOLDER     # contact sheets: beads, and then sketches

``labelled.json`` holds every conversion whole: the sketch by name, the lattice, where the sketch
lies on it, and the colour of every bead, so that any verdict can be computed again. ``labels.csv``
says of each what it was taken for and whether it reads.

Of the first 216 conversions four fifths are made here by a rule that belongs to no search: sketches
of any size, height and place, a bead in the colour that fills most of its cell, with or without a
bead for what is smaller than one, some damaged afterwards. The others are the program's own, at
widths and turns asked for. The 83 after them are the program's at sizes that it finds, and at two
thirds of the way round, most of them on 8 strands. The 40 last are of sketches whose parts lie
apart, and of line drawings.

Motifs of the sketch book lie in ``motifs/`` as they were when they were labelled.

How they were labelled: one reader saw the sheets of beads first, forty to a sheet in random order,
a bead 10 pixels wide, the braid unrolled, and wrote down what each was taken for without the
sketch, knowing the kinds of motif but not which was which; then saw the same sheets with the
sketches, and labelled:

    reads   named at once before the sketch was seen (any flower as a flower)
    hint    named by a guess, as something much like it, or with the sketch beside it one sees how
            the beads mean it
    no      anything else

The labels belong to the conversions stored: with another program ``convert`` draws others, which
want new labels.
"""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
import tempfile
from collections.abc import Callable, Sequence
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from himotif.convert.fit.size import Wanted, fit_motif, flat_sketch
from himotif.core.arrays import Floats, Ints
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from PIL import Image, ImageDraw, ImageFont
from scipy.spatial import cKDTree

Point = tuple[float, float]
Colour = tuple[int, int, int]

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
TYPEFACE = ROOT / "core" / "drawing" / "typefaces" / "DejaVuSans-Bold.ttf"
CONVERSIONS, LABELS = HERE / "labelled.json", HERE / "labels.csv"
SEED = 7
PX = 8
SIDE = 600

WHITE: Colour = (255, 255, 255)
NAVY, RUST, REED, AMBER = (29, 44, 80), (191, 80, 48), (94, 123, 64), (224, 159, 53)
MALLOW, TIDE, SLATE, MUD = (150, 98, 159), (47, 113, 144), (46, 55, 67), (100, 65, 42)


# Sketches -----------------------------------------------------------------------------------


class Sheet:
    """A white square of unit side to draw flat shapes on; y runs down."""

    def __init__(self) -> None:
        self.image = Image.new("RGB", (SIDE, SIDE), WHITE)
        self.draw = ImageDraw.Draw(self.image)

    def disc(self, x: float, y: float, r: float, colour: Colour, tall: float = 1.0) -> None:
        """Fill an upright ellipse, `tall` times as high as wide."""
        box = [(x - r) * SIDE, (y - r * tall) * SIDE, (x + r) * SIDE, (y + r * tall) * SIDE]
        self.draw.ellipse(box, fill=colour)

    def petal(self, x: float, y: float, size: Point, deg: float, colour: Colour) -> None:
        """Fill an ellipse of half sides `size`, its long side turned clockwise from up."""
        turn = np.linspace(0, 2 * np.pi, 60)
        across, along = size[0] * np.cos(turn), size[1] * np.sin(turn)
        angle = np.deg2rad(deg)
        points = np.c_[
            x + across * np.cos(angle) + along * np.sin(angle),
            y + across * np.sin(angle) - along * np.cos(angle),
        ]
        self.area([(float(a), float(b)) for a, b in points], colour)

    def area(self, points: Sequence[Point], colour: Colour) -> None:
        """Fill a polygon."""
        self.draw.polygon([(x * SIDE, y * SIDE) for x, y in points], fill=colour)

    def line(self, points: Sequence[Point], wide: float, colour: Colour) -> None:
        """Draw a line with round ends and joints."""
        for (x0, y0), (x1, y1) in itertools.pairwise(points):
            for k in np.linspace(0, 1, 60):
                self.disc(x0 + (x1 - x0) * k, y0 + (y1 - y0) * k, wide / 2, colour)


def ring_of(sheet: Sheet, petals: int, size: Point, reach: float, colour: Colour) -> None:
    """Draw petals in a ring round the middle."""
    for k in range(petals):
        angle = 2 * np.pi * k / petals
        x, y = 0.5 + reach * np.sin(angle), 0.5 - reach * np.cos(angle)
        sheet.petal(x, y, size, 360 / petals * k, colour)


def flower_six(s: Sheet) -> None:
    """A flower of six petals."""
    ring_of(s, 6, (0.105, 0.2), 0.27, RUST)
    s.disc(0.5, 0.5, 0.1, AMBER)


def flower_five(s: Sheet) -> None:
    """A flower of five round petals."""
    ring_of(s, 5, (0.15, 0.16), 0.3, MALLOW)
    s.disc(0.5, 0.5, 0.16, AMBER)


def tulip(s: Sheet) -> None:
    """A flower on a stem with two leaves."""
    s.area([(0.3, 0.05), (0.41, 0.2), (0.5, 0.02), (0.59, 0.2), (0.7, 0.05), (0.68, 0.32),
            (0.5, 0.45), (0.32, 0.32)], RUST)  # fmt: skip
    s.line([(0.5, 0.42), (0.5, 0.97)], 0.07, REED)
    s.petal(0.36, 0.72, (0.07, 0.2), -35, REED)
    s.petal(0.64, 0.72, (0.07, 0.2), 35, REED)


def heart(s: Sheet) -> None:
    """A heart."""
    s.disc(0.28, 0.32, 0.23, RUST)
    s.disc(0.72, 0.32, 0.23, RUST)
    s.area([(0.09, 0.45), (0.5, 0.36), (0.91, 0.45), (0.5, 0.95)], RUST)


def leaf(s: Sheet) -> None:
    """A leaf with its rib."""
    s.area([(0.5, 0.02), (0.68, 0.2), (0.76, 0.45), (0.66, 0.68), (0.5, 0.82), (0.34, 0.68),
            (0.24, 0.45), (0.32, 0.2)], REED)  # fmt: skip
    s.line([(0.5, 0.3), (0.5, 0.98)], 0.05, MUD)


def paw(s: Sheet) -> None:
    """A paw's print."""
    s.disc(0.5, 0.7, 0.25, MUD, 0.85)
    for x, y in ((0.14, 0.46), (0.36, 0.24), (0.64, 0.24), (0.86, 0.46)):
        s.disc(x, y, 0.11, MUD, 1.25)


def fish(s: Sheet) -> None:
    """A fish that swims to the left."""
    s.disc(0.4, 0.5, 0.36, TIDE, 0.6)
    s.area([(0.66, 0.5), (0.97, 0.25), (0.97, 0.75)], TIDE)
    s.disc(0.2, 0.45, 0.045, WHITE)


def star(s: Sheet) -> None:
    """A star of five points."""
    s.area([(0.5 + (0.48 if k % 2 == 0 else 0.2) * float(np.sin(np.pi * k / 5)),
             0.52 - (0.48 if k % 2 == 0 else 0.2) * float(np.cos(np.pi * k / 5)))
            for k in range(10)], AMBER)  # fmt: skip


def moon(s: Sheet) -> None:
    """A crescent moon."""
    s.disc(0.45, 0.5, 0.42, AMBER)
    s.disc(0.63, 0.42, 0.34, WHITE)


def anchor(s: Sheet) -> None:
    """An anchor."""
    s.disc(0.5, 0.14, 0.12, NAVY)
    s.disc(0.5, 0.14, 0.05, WHITE)
    s.line([(0.5, 0.26), (0.5, 0.9)], 0.1, NAVY)
    s.line([(0.28, 0.36), (0.72, 0.36)], 0.1, NAVY)
    s.line([(0.1, 0.62), (0.2, 0.82), (0.5, 0.92), (0.8, 0.82), (0.9, 0.62)], 0.1, NAVY)


def tree(s: Sheet) -> None:
    """A fir."""
    for top, wide, foot in ((0.02, 0.22, 0.36), (0.2, 0.32, 0.6), (0.4, 0.42, 0.84)):
        s.area([(0.5, top), (0.5 + wide, foot), (0.5 - wide, foot)], REED)
    s.area([(0.43, 0.84), (0.57, 0.84), (0.57, 0.98), (0.43, 0.98)], MUD)


def house(s: Sheet) -> None:
    """A house with a door."""
    s.area([(0.5, 0.05), (0.97, 0.5), (0.03, 0.5)], RUST)
    s.area([(0.14, 0.5), (0.86, 0.5), (0.86, 0.96), (0.14, 0.96)], AMBER)
    s.area([(0.42, 0.64), (0.6, 0.64), (0.6, 0.96), (0.42, 0.96)], MUD)


def boat(s: Sheet) -> None:
    """A sailing boat."""
    s.area([(0.52, 0.04), (0.9, 0.66), (0.52, 0.66)], TIDE)
    s.area([(0.44, 0.2), (0.44, 0.66), (0.16, 0.66)], AMBER)
    s.area([(0.04, 0.72), (0.96, 0.72), (0.78, 0.95), (0.22, 0.95)], MUD)


def mushroom(s: Sheet) -> None:
    """A spotted mushroom."""
    s.draw.pieslice([0.05 * SIDE, 0.05 * SIDE, 0.95 * SIDE, 0.95 * SIDE], 180, 360, fill=RUST)
    s.area([(0.38, 0.5), (0.62, 0.5), (0.66, 0.95), (0.34, 0.95)], MUD)
    for x, y, r in ((0.3, 0.34, 0.07), (0.56, 0.22, 0.08), (0.74, 0.38, 0.06)):
        s.disc(x, y, r, WHITE)


def butterfly(s: Sheet) -> None:
    """A butterfly."""
    for side in (-1, 1):
        s.petal(0.5 + side * 0.25, 0.32, (0.18, 0.27), side * 40, MALLOW)
        s.petal(0.5 + side * 0.2, 0.7, (0.14, 0.19), side * 140, AMBER)
    s.petal(0.5, 0.5, (0.05, 0.36), 0, SLATE)


def cat(s: Sheet) -> None:
    """A cat's face."""
    s.disc(0.5, 0.58, 0.4, SLATE, 0.9)
    s.area([(0.1, 0.04), (0.46, 0.28), (0.12, 0.55)], SLATE)
    s.area([(0.9, 0.04), (0.54, 0.28), (0.88, 0.55)], SLATE)
    s.disc(0.34, 0.52, 0.07, AMBER)
    s.disc(0.66, 0.52, 0.07, AMBER)


def smile(s: Sheet) -> None:
    """A smiling face."""
    s.disc(0.5, 0.5, 0.48, AMBER)
    s.disc(0.33, 0.38, 0.07, SLATE)
    s.disc(0.67, 0.38, 0.07, SLATE)
    s.line([(0.25, 0.6), (0.35, 0.72), (0.5, 0.77), (0.65, 0.72), (0.75, 0.6)], 0.08, SLATE)


def sun(s: Sheet) -> None:
    """A sun with its rays."""
    for k in range(8):
        angle = np.pi * k / 4
        s.line([(0.5 + 0.33 * float(np.cos(angle)), 0.5 + 0.33 * float(np.sin(angle))),
                (0.5 + 0.46 * float(np.cos(angle)), 0.5 + 0.46 * float(np.sin(angle)))],
               0.08, RUST)  # fmt: skip
    s.disc(0.5, 0.5, 0.25, AMBER)


def drop(s: Sheet) -> None:
    """A drop of water."""
    s.disc(0.5, 0.64, 0.32, TIDE)
    s.area([(0.5, 0.02), (0.79, 0.52), (0.21, 0.52)], TIDE)


def zigzag(s: Sheet) -> None:
    """A zigzag line."""
    s.line([(0.06, 0.7), (0.28, 0.3), (0.5, 0.7), (0.72, 0.3), (0.94, 0.7)], 0.1, NAVY)


def wave(s: Sheet) -> None:
    """Two waves, one above the other."""
    for top in (0.35, 0.65):
        s.line([(x, top + 0.1 * float(np.sin(2 * np.pi * 1.5 * x))) for x in
                np.linspace(0.06, 0.94, 40).tolist()], 0.11, TIDE)  # fmt: skip


def ring(s: Sheet) -> None:
    """A ring."""
    s.disc(0.5, 0.5, 0.46, MALLOW)
    s.disc(0.5, 0.5, 0.26, WHITE)


def arrow(s: Sheet) -> None:
    """An arrow that points up."""
    s.area([(0.5, 0.02), (0.9, 0.45), (0.1, 0.45)], NAVY)
    s.area([(0.38, 0.45), (0.62, 0.45), (0.62, 0.97), (0.38, 0.97)], NAVY)


def cherries(s: Sheet) -> None:
    """Two cherries on their stalks."""
    s.line([(0.25, 0.7), (0.58, 0.1), (0.76, 0.66)], 0.06, REED)
    s.disc(0.24, 0.76, 0.19, RUST)
    s.disc(0.76, 0.74, 0.19, RUST)


def eye(s: Sheet) -> None:
    """An eye."""
    s.petal(0.5, 0.5, (0.26, 0.48), 90, NAVY)
    s.petal(0.5, 0.5, (0.18, 0.37), 90, WHITE)
    s.disc(0.5, 0.5, 0.15, TIDE)
    s.disc(0.5, 0.5, 0.06, NAVY)


def moon_boat(s: Sheet) -> None:
    """A thin moon over a boat."""
    s.disc(0.24, 0.2, 0.19, AMBER)
    s.disc(0.33, 0.15, 0.16, WHITE)
    s.area([(0.56, 0.2), (0.9, 0.7), (0.56, 0.7)], TIDE)
    s.area([(0.1, 0.75), (0.98, 0.75), (0.82, 0.96), (0.26, 0.96)], MUD)


def sun_waves(s: Sheet) -> None:
    """A sun over two waves."""
    s.disc(0.5, 0.24, 0.22, AMBER)
    for top in (0.64, 0.86):
        s.line([(x, top + 0.06 * float(np.sin(2 * np.pi * 1.5 * x))) for x in
                np.linspace(0.06, 0.94, 40).tolist()], 0.1, TIDE)  # fmt: skip


def heart_star(s: Sheet) -> None:
    """A heart beside a star."""
    s.disc(0.13, 0.4, 0.12, RUST)
    s.disc(0.34, 0.4, 0.12, RUST)
    s.area([(0.03, 0.46), (0.235, 0.4), (0.44, 0.46), (0.235, 0.74)], RUST)
    s.area([(0.76 + (0.23 if k % 2 == 0 else 0.1) * float(np.sin(np.pi * k / 5)),
             0.52 - (0.23 if k % 2 == 0 else 0.1) * float(np.cos(np.pi * k / 5)))
            for k in range(10)], AMBER)  # fmt: skip


def bird_tree(s: Sheet) -> None:
    """A bird beside a fir."""
    for top, wide, foot in ((0.05, 0.16, 0.45), (0.3, 0.24, 0.84)):
        s.area([(0.7, top), (0.7 + wide, foot), (0.7 - wide, foot)], REED)
    s.area([(0.65, 0.84), (0.75, 0.84), (0.75, 0.98), (0.65, 0.98)], MUD)
    s.petal(0.22, 0.36, (0.1, 0.19), 110, NAVY)
    s.disc(0.08, 0.26, 0.08, NAVY)
    s.area([(0.02, 0.22), (0.02, 0.31), (-0.06, 0.27)], AMBER)


def fish_shoal(s: Sheet) -> None:
    """Three fish, one above the other."""
    for x, y in ((0.42, 0.18), (0.58, 0.5), (0.42, 0.82)):
        s.disc(x - 0.06, y, 0.24, TIDE, 0.5)
        s.area([(x + 0.12, y), (x + 0.36, y - 0.13), (x + 0.36, y + 0.13)], TIDE)


def flower_leaves(s: Sheet) -> None:
    """A flower of five petals with two leaves."""
    for k in range(5):
        angle = 2 * np.pi * k / 5
        s.disc(0.5 + 0.2 * float(np.sin(angle)), 0.34 - 0.2 * float(np.cos(angle)), 0.14, MALLOW)
    s.disc(0.5, 0.34, 0.11, AMBER)
    s.line([(0.5, 0.6), (0.5, 0.98)], 0.07, REED)
    s.petal(0.33, 0.78, (0.08, 0.19), -50, REED)
    s.petal(0.67, 0.78, (0.08, 0.19), 50, REED)


def moon_stars(s: Sheet) -> None:
    """A moon with three stars."""
    s.disc(0.4, 0.52, 0.38, AMBER)
    s.disc(0.56, 0.44, 0.31, WHITE)
    for x, y in ((0.62, 0.4), (0.86, 0.24), (0.86, 0.72)):
        s.area([(x + (0.11 if k % 2 == 0 else 0.045) * float(np.sin(np.pi * k / 5)),
                 y - (0.11 if k % 2 == 0 else 0.045) * float(np.cos(np.pi * k / 5)))
                for k in range(10)], RUST)  # fmt: skip


def key_heart(s: Sheet) -> None:
    """A key under a heart."""
    s.disc(0.4, 0.16, 0.12, RUST)
    s.disc(0.6, 0.16, 0.12, RUST)
    s.area([(0.3, 0.22), (0.5, 0.16), (0.7, 0.22), (0.5, 0.46)], RUST)
    s.disc(0.2, 0.74, 0.19, NAVY)
    s.disc(0.2, 0.74, 0.09, WHITE)
    s.line([(0.38, 0.74), (0.94, 0.74)], 0.09, NAVY)
    s.area([(0.68, 0.74), (0.76, 0.74), (0.76, 0.94), (0.68, 0.94)], NAVY)
    s.area([(0.86, 0.74), (0.95, 0.74), (0.95, 0.94), (0.86, 0.94)], NAVY)


SHAPES: dict[str, Callable[[Sheet], None]] = {
    shape.__name__: shape
    for shape in (
        flower_six, flower_five, tulip, heart, leaf, paw, fish, star, moon, anchor, tree, house,
        boat, mushroom, butterfly, cat, smile, sun, drop, zigzag, wave, ring, arrow, cherries, eye,
    )
}  # fmt: skip
PARTED: dict[str, Callable[[Sheet], None]] = {
    shape.__name__: shape
    for shape in (
        moon_boat, sun_waves, heart_star, bird_tree, fish_shoal, flower_leaves, moon_stars,
        key_heart,
    )
}  # fmt: skip
"""Sketches of several parts that lie apart."""
PLACES: dict[str, tuple[Point, ...]] = {
    "pair": ((0, 0), (1, 0)),
    "stack": ((0, 0), (0, 1)),
    "row": ((0, 0), (1, 0), (2, 0)),
    "column": ((0, 0), (0, 1), (0, 2)),
    "square": ((0, 0), (1, 0), (0, 1), (1, 1)),
    "quincunx": ((0, 0), (1.6, 0), (0.8, 0.8), (0, 1.6), (1.6, 1.6)),
    "shoal": ((0.3, 0), (1.4, 0.3), (0, 0.9), (1.1, 1.3), (0.4, 2.0)),
}
"""Where the same thing is drawn several times, in its own width and height and a fifth."""
GROUPS = [
    f"{shape} {places}"
    for shape, some in (
        ("fish", ("pair", "stack", "column", "quincunx", "shoal")),
        ("heart", ("pair", "stack", "row", "column", "square", "shoal")),
        ("star", ("pair", "stack", "column", "square")),
        ("moon", ("stack", "row", "square")),
        ("drop", ("pair", "row", "square", "shoal")),
        ("ring", ("pair", "stack", "column", "quincunx")),
        ("arrow", ("pair", "column", "square")),
        ("tree", ("pair", "row", "square")),
        ("flower_five", ("stack", "column", "square")),
        ("paw", ("stack", "column")),
        ("boat", ("stack", "pair", "column")),
        ("house", ("pair", "square")),
        ("leaf", ("pair", "shoal")),
    )
    for places in some
]
"""Several of one thing, apart from one another."""
SIGNS = [*"♠♣♥♦☁☂★✈☕♫⚓☘✿⚑☺♜235&?", "♥♥", "12", "HO", "IV", "OO"]
"""Of the bundled bold typeface."""
LETTERS = [*"ABCDEFGHJKLMNPRSTUVWXYZ", "MT", "LK", "AB"]
BUNDLED = (
    "heron", "crescent", "reed", "tide", "sea_aster", "crab", "curlew", "initials", "heron_line",
)  # fmt: skip


@cache
def sketch_of(name: str) -> Image.Image:
    """Return a sketch in flat colours on white, cropped to itself.

    Parameters
    ----------
    name : str
        A shape of this file, a bundled motif, or letters.
    """
    if name in SHAPES or name in PARTED:
        sheet = Sheet()
        (SHAPES | PARTED)[name](sheet)
        image = sheet.image
    elif name in GROUPS:
        image = grouped(*name.split(" "))
    elif name in BUNDLED:
        image = bundled(name)
    else:
        image = Image.new("RGB", (SIDE * 2, SIDE), WHITE)
        font = ImageFont.truetype(str(TYPEFACE), 400)
        drawing = ImageDraw.Draw(image)
        drawing.fontmode = "1"
        drawing.text((60, 60), name, font=font, fill=NAVY)
    drawn = (np.asarray(image) != WHITE).any(axis=2)
    rows, columns = np.flatnonzero(drawn.any(axis=1)), np.flatnonzero(drawn.any(axis=0))
    return image.crop((int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1))


def grouped(shape: str, places: str) -> Image.Image:
    """Return a shape drawn several times, without margins."""
    one = sketch_of(shape)
    one = one.resize((one.width // 2, one.height // 2), Image.Resampling.NEAREST)
    corners = [(round(1.2 * one.width * x), round(1.2 * one.height * y)) for x, y in PLACES[places]]
    right, down = (max(corner[axis] for corner in corners) for axis in (0, 1))
    image = Image.new("RGB", (right + one.width, down + one.height), WHITE)
    for corner in corners:
        image.paste(one, corner)
    return image


def bundled(name: str) -> Image.Image:
    """Return a motif of the sketch book as it was when it was labelled: flat colours on white."""
    with Image.open(HERE / "motifs" / f"{name}.png") as opened:
        return opened.convert("RGB")


def palette_of(sketch: Image.Image) -> list[Colour]:
    """Return the flat colours of a sketch, white first."""
    counted = sketch.getcolors(sketch.width * sketch.height)
    colours: Any = {colour for _, colour in counted or ()}
    return [WHITE, *sorted(colours - {WHITE})]


# Conversions --------------------------------------------------------------------------------


def lattice_of(strands: int) -> Lattice:
    """Return the lattice of a braid of 8/0 beads."""
    return Lattice.computed(Braid(strands), bead_size("8/0"))


def shares(item: dict[str, Any], beads: Ints) -> Floats:
    """Return how much of each bead's cell each flat colour of the sketch fills, (n, colours).

    Parameters
    ----------
    item : dict
        ``sketch``, ``strands``, ``width_mm``, ``height_mm``; ``x_mm``, ``z_mm``: where the sketch's
        middle lies, to the right as seen from outside and up; ``rotate_deg`` clockwise.
    beads : (n,) int
        Crossings.
    """
    lattice, sketch = lattice_of(item["strands"]), sketch_of(item["sketch"])
    around, pitch = lattice.circumference_mm, 3.0
    size = [max(3, round(item[side] / pitch * PX)) for side in ("width_mm", "height_mm")]
    pixels = np.asarray(sketch.resize((4 * size[0], 4 * size[1]), Image.Resampling.NEAREST))
    down, across = (np.mgrid[: pixels.shape[0], : pixels.shape[1]] + 0.5) / (4 * PX) * pitch
    right, under = across.ravel() - item["width_mm"] / 2, down.ravel() - item["height_mm"] / 2
    turn = np.deg2rad(item["rotate_deg"])
    x = item["x_mm"] + right * np.cos(turn) - under * np.sin(turn)
    z = item["z_mm"] - right * np.sin(turn) - under * np.cos(turn)
    centres = np.c_[lattice.x_mm(beads) % around, lattice.height_mm(beads)]
    step = np.array([around, 0])
    tree = cKDTree(np.concatenate([centres - step, centres, centres + step]))
    owner = tree.query(np.c_[x % around, z])[1] % len(beads)
    area = lattice.cell_area_mm2 * (4 * PX / pitch) ** 2
    found = [
        np.bincount(owner, (pixels == one).all(axis=2).ravel(), minlength=len(beads)) / area
        for one in palette_of(sketch)
    ]
    return np.stack(found, axis=1)


def by_shares(item: dict[str, Any], least: float, small: bool) -> Ints:
    """Return bead colours: ground where less than `least` of a cell is drawn on, else the most.

    `small` gives a colour that has no bead the bead that holds most of it.
    """
    braid = Braid(item["strands"])
    rounds = int(
        np.ceil((item["z_mm"] + item["height_mm"] / 2 + 9) / lattice_of(braid.strands).rise_mm)
    )
    beads = np.arange(rounds * braid.strands // 2)
    share = shares(item, beads)
    drawn = share[:, 1:]
    colours = np.where(drawn.sum(axis=1) < least, 0, drawn.argmax(axis=1) + 1)
    if small:
        for colour in range(1, share.shape[1]):
            most = share[:, colour].argmax()
            if not (colours == colour).any() and share[most, colour] > 0.15:
                colours[most] = colour
    return np.asarray(colours, np.intp)


def own_item(name: str, random: np.random.Generator) -> dict[str, Any]:
    """Return a conversion by the rule, of random size, height and place."""
    strands = int(random.choice([8, 8, 8, 12, 16, 16, 24]))
    lattice, sketch = lattice_of(strands), sketch_of(name)
    width = float(random.uniform(0.3, 0.7)) * lattice.circumference_mm
    stretch = float(random.choice([1.0, 1.0, 1.3, 1.6, 2.0]))
    # no taller than three times the way round
    height = min(width * sketch.height / sketch.width * stretch, 3 * lattice.circumference_mm)
    item: dict[str, Any] = {
        "sketch": name,
        "by": "shares",
        "strands": strands,
        "width_mm": round(width, 3),
        "height_mm": round(height, 3),
        "x_mm": round(float(random.uniform(0, lattice.circumference_mm)), 3),
        "z_mm": round(float(random.uniform(9, 15)) + height / 2, 3),
        "rotate_deg": 0.0,
    }
    colours = by_shares(item, float(random.choice([0.38, 0.5])), bool(random.random() < 0.6))
    if random.random() < 0.12:
        item["by"] = "shares, damaged"
        drawn = np.flatnonzero(colours)
        struck = random.choice(drawn, len(drawn) // 4, replace=False)
        colours[struck] = random.permutation(colours)[struck]
    return item | {"first": 0, "beads": "".join(map(str, colours))}


def program_item(name: str, strands: int, share: float, rotate: float) -> dict[str, Any]:
    """Return the program's own conversion at a width asked for."""
    sketch, lattice = sketch_of(name), lattice_of(strands)
    with tempfile.TemporaryDirectory() as folder:
        here = Path(folder)
        sketch.save(here / "sketch.png")
        rows = [f"C{k},colour {k},#{r:02x}{g:02x}{b:02x}" for k, (r, g, b) in
                enumerate(palette_of(sketch))]  # fmt: skip
        (here / "beads.csv").write_text("\n".join(["code,name,colour", *rows]) + "\n")
        words = [sys.executable, "-m", "himotif.convert", "convert", "sketch.png", "--out", "out"]
        words += ["--palette", "beads.csv", "--background", "C0", "--strands", str(strands)]
        words += ["--width", f"{share * lattice.circumference_mm:.2f}mm", "--lists-only"]
        words += ["--rotate", str(rotate)]
        subprocess.run(words, cwd=here, check=True, capture_output=True)
        plain = json.loads((here / "out" / "design.json").read_text("utf-8"))
    place, repeat = plain["placement"], plain["repeat"]
    period = repeat["rounds"] * strands // 2
    turn = repeat["count"] // 2
    first = repeat["first_crossing"] - 1 + period * turn
    centre = place["centres"][turn]
    return {
        "sketch": name,
        "by": "program",
        "strands": strands,
        "width_mm": round(sketch.width / place["px_per_mm"], 3),
        "height_mm": round(sketch.height / place["px_per_mm"], 3),
        "x_mm": round(float(lattice.x_mm(0) + (lattice.azimuth_deg(0) - centre["azimuth_deg"])
                            / 360 * lattice.circumference_mm) % lattice.circumference_mm, 3),
        "z_mm": round(centre["height_mm"], 3),
        "rotate_deg": place["rotate_deg"],
        "first": first,
        "beads": "".join(map(str, plain["beads"][first : first + period])),
    }  # fmt: skip


def convert() -> None:
    """Write the conversions."""
    import multiprocessing

    random = np.random.default_rng(SEED)
    shapes = [*SHAPES, *SHAPES, *SHAPES, *SHAPES, *LETTERS, *LETTERS, *BUNDLED, *BUNDLED]
    items = [own_item(name, random) for name in shapes]
    asked = []
    for name in [*SHAPES, *BUNDLED, *"ABEFGKMRSW", "MT", "LK"]:
        strands = int(random.choice([8, 8, 12, 16]))
        asked.append((name, strands, round(float(random.uniform(0.4, 0.66)), 3),
                      float(random.choice([0, 0, 0, 20]))))  # fmt: skip
    with multiprocessing.Pool(2) as pool:
        items += pool.starmap(program_item, asked, 1)
    order = random.permutation(len(items))
    rows = [json.dumps({"id": k + 1} | items[place]) for k, place in enumerate(order)]
    CONVERSIONS.write_text("[\n" + ",\n".join(rows) + "\n]\n", encoding="utf-8")
    print(f"{len(rows)} conversions in {CONVERSIONS}")


def found_item(name: str, strands: int, share: float | None) -> dict[str, Any]:
    """Return the program's own conversion at the size that it finds, or at a share of the way."""
    sketch, lattice = sketch_of(name), lattice_of(strands)
    flat = flat_sketch(labels_of(name), 0, lattice)
    width = None if share is None else share * lattice.circumference_mm
    found = fit_motif(flat, lattice, Wanted(width_mm=width))
    seed = -2 * int(found.patch.step[0])
    right, up = found.offset_mm
    return {
        "sketch": name,
        "by": "program, size found" if share is None else "program",
        "strands": strands,
        "width_mm": round(found.size.width_mm, 3),
        "height_mm": round(found.size.width_mm * sketch.height / sketch.width
                           * found.size.stretch, 3),
        "x_mm": round(float(lattice.x_mm(seed) + right) % lattice.circumference_mm, 3),
        "z_mm": round(float(lattice.height_mm(seed)) + up, 3),
        "rotate_deg": found.size.turn_deg,
        "first": 0,
        "beads": "".join(map(str, found.colours)),
    }  # fmt: skip


def labels_of(name: str) -> Ints:
    """Return the number of each pixel's colour in the sketch's palette, white 0."""
    pixels = np.asarray(sketch_of(name))
    labels = np.zeros(pixels.shape[:2], np.intp)
    for number, colour in enumerate(palette_of(sketch_of(name))):
        labels[(pixels == colour).all(axis=2)] = number
    return labels


def sizes_found() -> list[tuple[str, int, float | None]]:
    """Return sketches, strands and shares of the way round of the second batch."""
    random = np.random.default_rng(SEED + 1)
    letters = random.permutation([*"ABCDEFGHJKLMNPRSTUVWXYZ"])
    asked: list[tuple[str, int, float | None]] = [(name, 8, None) for name in [*SHAPES, *BUNDLED]]
    asked += [(str(name), 8, None) for name in [*letters[:10], "MT", "LK"]]
    asked += [(name, 8, 0.66) for name in [*list(SHAPES)[::2], *map(str, letters[10:15])]]
    asked += [(name, 12, None) for name in [*list(SHAPES)[1::2], *map(str, letters[15:20])]]
    return asked + [(name, 16, None) for name in ("heron", "curlew")]


def several_parts() -> list[tuple[str, int, float | None]]:
    """Return those of the third batch: sketches of several parts, and line drawings."""
    asked: list[tuple[str, int, float | None]] = [
        (name, strands, share)
        for name in PARTED
        for strands, share in ((8, None), (12, None), (16, 0.4), (16, 0.6))
    ]
    asked += [("heron_line", strands, None) for strands in (8, 12, 16, 24)]
    return asked + [("initials", strands, None) for strands in (8, 12, 16, 24)]


def groups() -> list[tuple[str, int, float | None]]:
    """Return those of the fourth batch: several of one thing, and signs of the typeface."""
    asked: list[tuple[str, int, float | None]] = [(name, 8, None) for name in [*GROUPS, *SIGNS]]
    return asked + [(name, 12, None) for name in [*GROUPS[::2], *SIGNS[::3]]]


def add(asked: Sequence[tuple[str, int, float | None]]) -> None:
    """Add the program's conversions at sizes found to those that are there."""
    rows = [json.dumps(item) for item in json.loads(CONVERSIONS.read_text("utf-8"))]
    for place in np.random.default_rng(SEED + len(rows)).permutation(len(asked)):
        rows.append(json.dumps({"id": len(rows) + 1} | found_item(*asked[place])))
    CONVERSIONS.write_text("[\n" + ",\n".join(rows) + "\n]\n", encoding="utf-8")
    print(f"{len(rows)} conversions in {CONVERSIONS}")


# Contact sheets -----------------------------------------------------------------------------

TILE, COLUMNS, ROWS, BEAD = 170, 10, 4, 10


def beads_drawn(item: dict[str, Any]) -> Image.Image:
    """Draw the beads of a conversion unrolled, as discs, its back cut at the sides."""
    lattice, sketch = lattice_of(item["strands"]), sketch_of(item["sketch"])
    colours, around = np.array([int(one) for one in item["beads"]]), lattice.circumference_mm
    scale = BEAD / 3.0
    wide = round(around * scale)
    high = round((item["height_mm"] + 9) * scale)
    image = Image.new("RGB", (wide, min(high, 2 * TILE)), (120, 120, 120))
    draw, rgb = ImageDraw.Draw(image), palette_of(sketch)
    low = item["z_mm"] - item["height_mm"] / 2 - 4.5
    whole = np.arange(max(0, item["first"] - 200), item["first"] + len(colours) + 200)
    x = (lattice.x_mm(whole) - item["x_mm"] + around / 2) % around * scale
    z = high - (lattice.height_mm(whole) - low) * scale
    for crossing, left, down in zip(whole, x, z, strict=True):
        inside = 0 <= crossing - item["first"] < len(colours)
        colour = rgb[colours[crossing - item["first"]]] if inside else WHITE
        for turn in (-wide, 0, wide):
            draw.ellipse(
                (left + turn - BEAD / 2, down - BEAD / 2, left + turn + BEAD / 2, down + BEAD / 2),
                fill=(238, 236, 230) if colour == WHITE else colour,
            )
    return image


def sheets(folder: Path) -> None:
    """Write contact sheets into `folder`: beads alone, and with their sketches."""
    folder.mkdir(parents=True, exist_ok=True)
    items = json.loads(CONVERSIONS.read_text("utf-8"))
    each = COLUMNS * ROWS
    for start in range(0, len(items), each):
        for kind in ("beads", "sketches"):
            sheet = Image.new("RGB", (COLUMNS * TILE, ROWS * (TILE + 14)), (120, 120, 120))
            draw = ImageDraw.Draw(sheet)
            for k, item in enumerate(items[start : start + each]):
                left, top = k % COLUMNS * TILE, k // COLUMNS * (TILE + 14)
                one = beads_drawn(item)
                one.thumbnail((TILE - 8, TILE))
                if kind == "sketches":
                    drawn = sketch_of(item["sketch"]).copy()
                    drawn.thumbnail((70, 80))
                    one.thumbnail((TILE - 84, TILE))
                    sheet.paste(drawn, (left + TILE - 78, top + 14))
                sheet.paste(one, (left, top + 14))
                draw.text((left + 2, top + 1), str(item["id"]), fill=(255, 255, 0))
            sheet.save(folder / f"{kind}_{start // each + 1}.png")


if __name__ == "__main__":
    if sys.argv[1:2] == ["convert"] and len(sys.argv) == 2:
        convert()
    elif sys.argv[1:] == ["add", "found"]:
        add(sizes_found())
    elif sys.argv[1:] == ["add", "parts"]:
        add(several_parts())
    elif sys.argv[1:] == ["add", "groups"]:
        add(groups())
    elif sys.argv[1:2] == ["sheets"] and len(sys.argv) == 3:
        sheets(Path(sys.argv[2]))
    else:
        sys.exit(__doc__)
