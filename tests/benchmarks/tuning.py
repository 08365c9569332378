"""How much hangs on the tuning numbers: each is made smaller and larger, one at a time.

    python tests/benchmarks/tuning.py                        # the table: half an hour
    python tests/benchmarks/tuning.py --only read            # one kind of case: five to ten minutes
    python tests/benchmarks/tuning.py --number LEAST_SHARE   # numbers whose names hold this
    python tests/benchmarks/tuning.py --write                # and tests/benchmarks/tuning_table.txt

Every number of the rooms below is looked for in the syntax tree, named ones and those that stand in
a function; what is no choice (bits, weights of a norm, guards against division by nothing) is left
out. Six kinds of case:

read
    Flat colours, of drawings as makers bring them: files, dithers, grain, lines, transparent edges,
    writing, photographed and scanned sheets; and of pictures of shades, photographs, textures. A
    reading counts as changed if flat becomes shaded or the other way, if the number of flat colours
    changes, or if more than one pixel in 200 gets another colour.
sheet
    Rendered photographs and scans of sheets, and photographs without one: changed if a sheet is
    found or lost, a corner moves by a hundredth, or what is drawn on it by a twentieth.
inks
    What is drawn on those sheets, evenly lit: changed if its reading does, or a colour by 2 in Lab.
fit
    Flat sketches on braids of 8 to 24 strands: changed if a size changes by 6 % (half a step of
    those tried), a tenth of the beads, the turn, the verdict, or what is said to be lost; in
    brackets by how many steps the verdicts are better.
verdict
    Every twelfth labelled conversion of ``tests/data``: changed if the verdict does; in brackets
    how many more are then judged as the label says.
shaded
    Pictures of shades on braids of 8 to 24 strands: changed if J over the motif changes by 1 %; in
    brackets by how many per cent it falls in the mean.

What changes at four times or at a quarter of a number is looked at with a quarter more and less of
it, too, and named if it changes even then, up to three cases. Not every case may be right: what is
measured is whether the number decides it.
"""

from __future__ import annotations

import argparse
import ast
import csv
import importlib
import io
import json
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from copy import deepcopy
from dataclasses import dataclass, field, replace
from functools import cache, partial
from pathlib import Path
from types import CodeType, FrameType, FunctionType, ModuleType
from typing import Any

import numpy as np
import numpy.typing as npt
import skimage.data
from himotif.convert.fit.energy import extent_mm
from himotif.convert.fit.fitting import Flat
from himotif.convert.fit.size import Wanted, fit_motif, flat_sketch
from himotif.convert.job import make
from himotif.convert.judge.lost import find_lost
from himotif.convert.options import Order
from himotif.convert.read import Picture, read_picture, sheet
from himotif.convert.read.flat_colours import Reading, read_picture_colours
from himotif.convert.read.sheet import drawing_of
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code
from PIL import Image, ImageFilter

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
sys.path[:0] = [str(HERE), str(HERE.parent)]

import fit_verdict  # noqa: E402
import photographed  # noqa: E402
import test_flat_colours as drawn  # noqa: E402

TABLE = Path(__file__).with_name("tuning_table.txt")
TIMES = (0.25, 0.75, 1.25, 4.0)
CHANGED_SHARE = 0.005
NAMED = 3

ROOMS = {
    "read": ("read.flat_colours", "read.lighting"),
    "sheet": ("read.sheet", "read.sheet_light", "read.sheet_sides"),
    "inks": ("read.inks",),
    "fit": (
        *("fit.features", "fit.afar", "fit.energy", "fit.outlines", "fit.size", "fit.optimise"),
        *("fit.turns", "fit.patch", "fit.legibility", "judge.lost"),
    ),
    "verdict": ("fit.legibility", "fit.features", "fit.energy"),
    "shaded": (
        *("fit.search", "fit.sweeps", "fit.shaded_motif", "fit.dither", "fit.symmetry"),
        *("fit.raster", "fit.tile"),
    ),
}
NO_CHOICES = {
    "_histogram": "bits of a bin",
    "_opponent": "weights of lightness",
    "_inks_at": "half a width",
    "SCHEMA": "",
}


# -- numbers ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Number:
    """A number in a module: named, or written in a function (the line and column of it)."""

    module: ModuleType
    name: str
    value: float
    at: tuple[int, int] | None = None
    within: str = ""

    def holders(self) -> list[ModuleType]:
        """Return the modules that have it under its name."""
        return [
            one
            for name, one in sys.modules.items()
            if name.startswith("himotif.") and vars(one).get(self.name) is self.value
        ]

    def _set(self, value: float) -> None:
        for module in HOLDERS.setdefault((self.module, self.name), self.holders()):
            setattr(module, self.name, value)
            for name, places in defaults(module, self.name).items():
                function = functions(module)[name]
                given = [*(function.__defaults__ or ())]
                for place in places:
                    given[place] = value
                function.__defaults__ = tuple(given)

    def used_in(self) -> set[str]:
        """Return the functions that use it, with their files."""
        if self.at is not None:
            return {f"{self.module.__file__}:{self.within}"}
        return {
            f"{module.__file__}:{name}"
            for module in self.holders()
            for name, function in functions(module).items()
            if self.name in names_in(function.__code__) or name in defaults(module, self.name)
        }

    def changed(self, times: float) -> Callable[[], None]:
        """Make it so many times as large; return what undoes it."""
        more = scaled(self.value, times)
        if self.at is None:
            self._set(more)
            return lambda: self._set(self.value)
        function = functions(self.module)[self.within]
        before = function.__code__
        function.__code__ = recompiled(self.module, self.at, more)[self.within]

        def back() -> None:
            function.__code__ = before

        return back


def scaled(value: float, times: float) -> float:
    """A number made larger; whole numbers stay whole and change by one at least."""
    if isinstance(value, int):
        return max(1, round(value * times) if round(value * times) != value else value + 1)
    return value * times


@cache
def tree_of(module: ModuleType) -> ast.Module:
    """The syntax tree of a module."""
    return ast.parse(Path(str(module.__file__)).read_text("utf-8"))


def recompiled(module: ModuleType, at: tuple[int, int], value: float) -> dict[str, CodeType]:
    """The code of all functions of a module with another number at a place."""
    tree = deepcopy(tree_of(module))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and (node.lineno, node.col_offset) == at:
            node.value = value
    todo = [compile(tree, str(module.__file__), "exec")]
    found: dict[str, CodeType] = {}
    while todo:
        code = todo.pop()
        inside = [one for one in code.co_consts if isinstance(one, CodeType)]
        found |= {one.co_qualname: one for one in inside}
        todo += inside
    return found


HOLDERS: dict[tuple[ModuleType, str], list[ModuleType]] = {}


@cache
def defaults(module: ModuleType, number: str) -> dict[str, list[int]]:
    """The functions of a module that have a number for a default, and at which places."""
    found: dict[str, list[int]] = {}
    for node in ast.walk(tree_of(module)):
        if isinstance(node, ast.FunctionDef) and node.name in functions(module):
            for place, one in enumerate(node.args.defaults):
                if isinstance(one, ast.Name) and one.id == number:
                    found.setdefault(node.name, []).append(place)
    return found


def names_in(code: CodeType) -> set[str]:
    """The names that a function and those inside it use."""
    inside = (one for one in code.co_consts if isinstance(one, CodeType))
    return {*code.co_names}.union(*map(names_in, inside))


WRAPPED = ("fget", "func", "__func__", "__wrapped__")


@cache
def functions(module: ModuleType) -> dict[str, FunctionType]:
    """Functions and methods of a module by their names."""
    found = {}
    for owner in (module, *(one for one in vars(module).values() if isinstance(one, type))):
        for one in vars(owner).values():
            for inner in (one, *(getattr(one, within, None) for within in WRAPPED)):
                if isinstance(inner, FunctionType) and inner.__module__ == module.__name__:
                    found[inner.__qualname__] = inner
    return found


def numbers(module: ModuleType) -> Iterator[Number]:
    """Yield every tuning number of a module."""
    for node in tree_of(module).body:
        target = node.targets[0] if isinstance(node, ast.Assign) else getattr(node, "target", None)
        for one in ast.walk(target) if target is not None else ():
            value = getattr(module, one.id, None) if isinstance(one, ast.Name) else None
            if isinstance(value, int | float) and one.id not in NO_CHOICES:
                yield Number(module, one.id, value)
    for outer in ast.walk(tree_of(module)):
        owner = f"{outer.name}." if isinstance(outer, ast.ClassDef) else ""
        for node in outer.body if isinstance(outer, ast.Module | ast.ClassDef) else ():
            if isinstance(node, ast.FunctionDef) and node.name not in NO_CHOICES:
                within = owner + node.name
                for at, number in sorted(_weighed(node).items()):
                    if within in functions(module):
                        yield Number(module, f"{within}: {number:g}", number, at, within)


MEASURES = (ast.Compare, ast.BinOp, ast.UnaryOp, ast.IfExp, ast.Call, ast.Tuple)


def _weighed(function: ast.FunctionDef) -> dict[tuple[int, int], float]:
    """Numbers that something is measured against, or by, by their lines and columns."""
    return {
        (node.lineno, node.col_offset): node.value
        for statement in function.body
        for outer in ast.walk(statement)
        if isinstance(outer, MEASURES)
        for node in ast.iter_child_nodes(outer)
        if isinstance(node, ast.Constant)
        if isinstance(node.value, int | float) and _a_choice(node.value, outer)
    }


def _a_choice(value: float, outer: ast.AST) -> bool:
    """Whether a number in a function may be one: no half pixel, no axis, no weight of a norm."""
    if isinstance(value, bool) or value in (180, 255, 360):
        return False
    measured = isinstance(outer, ast.Compare) or (
        isinstance(outer, ast.BinOp) and isinstance(outer.op, ast.Mult)
    )
    if isinstance(value, int) or value == 0.5:
        return measured and (value > 2 or value == 0.5)
    return 1e-4 < value < 1e5 and value not in (1.0, 2.0)


# -- pictures --------------------------------------------------------------------------------------


def taken(image: Image.Image, kind: str = "PNG", **how: Any) -> Picture:
    """A picture that has been through a file."""
    file = io.BytesIO()
    image.save(file, kind, **how)
    return read_picture(file.getvalue(), f"sketch.{kind.lower()}")


LONG_PX = 320
"""Longest side of most pictures: the table takes its time."""


def bundled(name: str) -> Image.Image:
    """A sketch of the book, of `LONG_PX`."""
    image = Image.open(ROOT / "fixtures/motifs" / f"{name}.png").convert("RGB")
    image.thumbnail((LONG_PX, LONG_PX))
    return image


def photograph(name: str) -> Image.Image:
    """A picture of scikit-image, of `LONG_PX`."""
    image = Image.open(Path(skimage.data.__file__).parent / f"{name}.png").convert("RGB")
    image.thumbnail((LONG_PX, LONG_PX))
    return image


def on_a_table(image: Image.Image) -> Image.Image:
    """On paper lit from the left, a little out of focus, with grain."""
    soft = np.asarray(image.filter(ImageFilter.GaussianBlur(1.2)), dtype=float)
    light = np.linspace(1.0, 0.75, image.width)[None, :, None]
    grain = np.random.default_rng(1).normal(0, 4, soft.shape)
    return Image.fromarray(np.clip(soft * light + grain, 0, 255).astype(np.uint8))


def dithered(image: Image.Image) -> Image.Image:
    """In 32 colours, dithered."""
    few = image.quantize(32)
    return image.quantize(palette=few, dither=Image.Dither.FLOYDSTEINBERG).convert("RGB")


def to_be_read() -> Iterator[tuple[str, Picture]]:
    """Yield pictures whose flat colours are looked for."""
    for name in ("heron", "crab", "letter_k", "sea_aster", "moonlit_pond"):
        image = bundled(name)
        yield name, taken(image)
        yield f"{name}, lossy", taken(image, "JPEG", quality=50)
        yield f"{name}, dithered", taken(dithered(image))
        yield f"{name}, photographed", taken(on_a_table(image))
    boat = drawn.drawing(drawn.boat(360, 270))
    for name, file in drawn.FILES.items():
        yield f"boat, {name}", file(boat)
    yield from _lines_and_edges()
    for seed in range(3):
        random = np.random.default_rng(seed)
        parts = np.zeros((1000, 1400), dtype=int)
        for number, row in enumerate(range(100, 900, 160), 1):
            column = random.integers(40, 700)
            parts[row : row + 120, column : column + random.integers(60, 600)] = number
        inks = drawn.BEADS.rgb[random.permutation(8)[:6]]
        yield f"patches {seed}", drawn.saved(drawn.drawing(parts, inks), "JPEG", quality=80)
    for name in [
        "camera",
        "coffee",
        "chelsea",
        "moon",
        "brick",
        "grass",
        "gravel",
        "page",
        "coins",
    ]:
        yield name, taken(photograph(name))
    for number, scene in scenes():
        yield f"scene {number}", drawing_of(scene)


PHOTOGRAPHS = ("camera", "coffee", "chelsea", "moon", "brick", "grass", "gravel", "page", "coins")


def _lines_and_edges() -> Iterator[tuple[str, Picture]]:
    white, black, amber = drawn.WHITE, drawn.BLACK, drawn.AMBER
    yield "hairlines 1.6", drawn.saved(drawn.hairlines(1.6, (200, 30, 30), (30, 150, 40)))
    yield (
        "hairlines 1, lossy",
        drawn.saved(drawn.hairlines(1.0, drawn.NAVY, drawn.OYSTER), "JPEG", quality=75),
    )
    y, x = np.indices((1600, 2000)) / 1600
    far = np.hypot(x - 0.62, y - 0.5)
    ring = drawn.drawing(np.where(far < 0.3, 2, np.where(far < 0.306, 1, 0)), (white, black, amber))
    yield "outline", drawn.saved(ring)
    yield "outline, lossy", drawn.saved(ring, "JPEG")
    y, x = np.indices((2000, 2000)) / 2000 - 0.5
    far, turn = np.hypot(x, y), np.arctan2(y, x)
    petal = far < 0.48 * np.abs(np.cos(4 * turn)) ** 0.3
    odd = np.floor((turn + np.pi / 8) / (np.pi / 4)) % 2 > 0
    flower = np.where(far < 0.14, 3, np.where(petal, 1 + odd, 0))
    tones = (white, (150, 116, 148), (168, 134, 164), (212, 158, 96))
    for seed in (4, 5):
        yield (
            f"two tones on paper {seed}",
            drawn.saved(drawn.on_paper(flower, tones, seed), "JPEG", quality=88),
        )
    yield (
        "felt pen",
        drawn.saved(
            drawn.on_paper(drawn.boat(480, 360), (white, drawn.NAVY, drawn.RUST, amber), 1), "JPEG"
        ),
    )
    small = Image.fromarray(np.rint(drawn.drawing(drawn.boat(160, 120))).astype(np.uint8))
    large = small.resize((640, 480), Image.Resampling.BICUBIC)
    yield "enlarged", taken(large, "JPEG", quality=85)
    dots = drawn.boat(24, 24)[2::4, 2::4]
    yield "pixel art", drawn.saved(np.array(drawn.HULL)[dots])
    check = np.indices((24, 24)).sum(axis=0) % 2
    yield "check", drawn.saved(np.array([drawn.NAVY, drawn.OYSTER])[check])
    boat = drawn.boat(360, 270)
    solid = drawn.box_mean((boat > 0)[..., None].astype(np.float32), 4)
    whole = drawn.drawing(boat, (black, drawn.NAVY, drawn.RUST, amber)) - np.array(black) * (
        1 - solid
    )
    yield (
        "cut out",
        drawn.saved(np.concatenate([whole / np.maximum(solid, 1e-6), 255 * solid], axis=-1)),
    )
    y, x = np.indices((270, 360))
    sky = np.array([40.0, 40, 110]) + (y / 270)[..., None] * np.array([210.0, 110, -50])
    dusk = np.where((y > 190 + 22 * np.sin(x / 45))[..., None], np.array(black), sky)
    yield "gradient", drawn.saved(dusk)
    yield "gradient, pattern", drawn.saved(drawn.ordered(dusk), "GIF")
    yield "gradient, error", drawn.saved(drawn.few_colours(dusk), "GIF")
    light = 240 - 0.1 * x[..., None] * np.ones(3)
    r = np.hypot(x - 180, y - 135)[..., None] / 90
    ball = np.array(drawn.RUST) * 1.4 * np.sqrt(np.clip(1 - r * r, 0.02, 1))
    yield "ball on paper", drawn.saved(np.where(r < 1, ball, light), "JPEG", quality=85)


SCENES = (2, 5, 12, 21, 23, 2003, 3000, 4001)


@cache
def scenes() -> tuple[tuple[int, Picture], ...]:
    """Photographs and scans of sheets, a million pixels and less."""
    found = []
    for number in SCENES:
        size = (880, 1240) if number // 1000 == 3 else (1000, 750)
        found.append((number, read_picture(photographed.render(number, size).jpeg(), "scene.jpg")))
    return tuple(found)


# -- what comes of a case --------------------------------------------------------------------------


def readings_differ(one: Reading, other: Reading) -> bool:
    """Whether two readings of a picture differ."""
    kinds = {one.found.kind, other.found.kind}
    if kinds == {"shaded"}:
        return False
    if len(kinds) > 1 or len(one.found.linear) != len(other.found.linear):
        return True
    if one.label.shape != other.label.shape:
        return False  # of another resolution, with the same colours
    return float(np.mean(one.label != other.label)) > CHANGED_SHARE


@dataclass(frozen=True)
class Taken:
    """A sheet in a photograph: its corners, none if there is no sheet; what is drawn on it."""

    picture: Picture
    corners: tuple[tuple[int, int], ...]
    share: float
    colour: npt.NDArray[np.floating[Any]]


def sheet_in(picture: Picture) -> Taken:
    """Find the sheet in a photograph and light it evenly; its inks are not looked for."""
    inks = sheet.in_inks
    sheet.in_inks = lambda drawn: drawn
    try:
        found = drawing_of(picture)
    finally:
        sheet.in_inks = inks
    said = [f.data["corners_px"] for f in found.findings if f.code is Code.SHEET_FOUND]
    drawn = (found.linear < 0.8).any(axis=-1)
    colour = found.linear[drawn].mean(axis=0) if drawn.any() else np.ones(3)
    return Taken(found, tuple(map(tuple, said[0])) if said else (), float(drawn.mean()), colour)


def sheets_differ(one: Taken, other: Taken) -> bool:
    """Whether another sheet is found, or another drawing on it."""
    if not one.corners or not other.corners:
        return bool(one.corners) != bool(other.corners)
    if np.abs(np.array(one.corners) - np.array(other.corners)).max() > 10:
        return True
    part = abs(other.share / max(one.share, 1e-9) - 1)
    return bool(part > 0.05 or np.abs(one.colour - other.colour).max() > 0.05)


def inks_of(picture: Picture) -> Reading:
    """Read an evenly lit drawing in its inks."""
    linear = sheet.in_inks(picture.linear)
    alpha = np.ones(linear.shape[:2], dtype=np.float32)
    return read_picture_colours(replace(picture, linear=linear, alpha=alpha))


def inks_differ(one: Reading, other: Reading) -> bool:
    """Whether readings differ, or their colours."""
    if readings_differ(one, other):
        return True
    if one.found.kind == "shaded":
        return False
    mine, its = (each.found.lab[np.argsort(-each.found.share)] for each in (one, other))
    return bool(np.linalg.norm(mine - its, axis=1).max(initial=0) > 2)


FITTED = (
    *(("heron_line", 16), ("crab", 12), ("curlew", 8), ("reed", 8), ("initials", 12)),
    *(("E", 8), ("K", 12), ("flower_six", 8), ("flower_five", 12), ("flower_leaves", 8)),
    *(("fish shoal", 12), ("heart pair", 8), ("smile", 12), ("zigzag", 8)),
    *(("outlined", 12), ("comb", 16)),
)


def labels_of(name: str) -> npt.NDArray[np.intp]:
    """Return the numbers of a sketch's colours; the ground is 0."""
    if name not in ("outlined", "comb"):
        labels = np.asarray(fit_verdict.drawing().labels_of(name))
        return labels[:: max(1, max(labels.shape) // 240), :: max(1, max(labels.shape) // 240)]
    y, x = np.indices((240, 200))
    if name == "comb":
        return np.where((y < 40) | (x % 8 < 4), 1, 0)
    far = np.hypot(x - 100, (y - 120) / 1.2)
    return np.where(far < 86, 1 + (y > 130), np.where(far < 90, 3, 0))


def lattice(strands: int) -> Lattice:
    """A braid of 8/0 beads."""
    return Lattice.computed(Braid(strands), bead_size("8/0"))


@dataclass(frozen=True)
class Fit:
    """What a sketch becomes: how large, how many beads of each colour, and how it is judged."""

    wide_high: tuple[float, float]
    turn_deg: float
    counts: npt.NDArray[np.intp]
    judged: tuple[Any, ...]


def fitted(labels: npt.NDArray[np.intp], strands: int, wanted: Wanted) -> Fit:
    """Fit a sketch whose ground is 0."""
    sketch = flat_sketch(labels, 0, lattice(strands))
    found = fit_motif(sketch, lattice(strands), wanted)
    flat = Flat(sketch, wanted, found, np.empty(0, np.intp))
    lost = tuple(one.key for one in find_lost(flat))
    counts = np.bincount(found.colours[found.colours != 0], minlength=8)
    return Fit(
        extent_mm(sketch, found.size), found.size.turn_deg, counts, (found.legibility.verdict, lost)
    )


def fits_differ(one: Fit, other: Fit) -> bool:
    """Whether two fits differ by half a step of size, a tenth of the beads, turn, or verdict."""
    sizes = np.abs(np.log(one.wide_high) - np.log(other.wide_high)).max()
    beads = np.abs(one.counts - other.counts).sum() / max(one.counts.sum(), 1)
    turned = one.turn_deg != other.turn_deg
    return bool(sizes > 0.06 or beads > 0.1 or turned or one.judged != other.judged)


def labelled() -> Iterator[tuple[str, str, Any]]:
    """Every twelfth labelled conversion: its name, its label, and what it is made of."""
    items = json.loads((fit_verdict.DATA / "labelled.json").read_text("utf-8"))
    lines = (fit_verdict.DATA / "labels.csv").read_text("utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    pairs = [*zip(rows, items, strict=True)][::12]
    for number, (row, item) in enumerate(pairs):
        yield f"{item['sketch']} {number}", row["label"], item


PICTURES = (
    *(("dusk", 16, False), ("moonlit_pond", 8, False), ("moonlit_pond", 24, True)),
    *(("lens", 12, False), ("coffee", 12, False)),
)


def shaded(picture: Picture, strands: int, quick: bool) -> float:
    """Return J of a shaded picture over the motif."""
    order = Order(strands=strands, kind="shaded", quick=quick, repeat="once")
    made = make(order, picture, photographed.SALTMARSH)
    return made.conversion.likeness(made.design).motif.score


def in_shades(name: str) -> Picture:
    """A picture with shades; the lens looks the same upside down."""
    if name != "lens":
        return taken(photograph(name) if name == "coffee" else bundled(name))
    y, x = np.indices((240, 240)) / 120 - 1
    light = np.cos(2 * x + y) ** 2 * (np.hypot(x, y) < 0.9)
    return taken(Image.fromarray((255 - 200 * light[..., None] * [1, 0.7, 0.3]).astype(np.uint8)))


VERDICTS = ("lost", "a hint", "reads")


@dataclass(frozen=True)
class Kind:
    """The cases of a kind, whether two results of one differ, and how much better the second is."""

    cases: Mapping[str, Callable[[], Any]]
    differs: Callable[[Any, Any], bool]
    better: Callable[[Any, Any], float] | None = None


def kind_of(name: str) -> Kind:
    """Return a kind of case by its name."""
    found: dict[str, Callable[[], Any]] = {}
    if name == "read":
        shown = to_be_read()
        return Kind({n: partial(read_picture_colours, p) for n, p in shown}, readings_differ)
    if name == "sheet":
        sheets = [(f"scene {n}", p) for n, p in scenes()]
        sheets += [(n, taken(photograph(n), "JPEG")) for n in ("brick", "coffee", "moon", "page")]
        return Kind({n: partial(sheet_in, p) for n, p in sheets}, sheets_differ)
    if name == "inks":
        lit = [(f"scene {n}", sheet_in(p)) for n, p in scenes()]
        return Kind({n: partial(inks_of, t.picture) for n, t in lit if t.corners}, inks_differ)
    if name == "shaded":
        for picture, strands, quick in PICTURES:
            called = f"{picture} on {strands}{', quick' * quick}"
            found[called] = partial(shaded, in_shades(picture), strands, quick)
        return Kind(found, lambda one, other: abs(other / one - 1) > 0.01,
                    lambda one, other: 100 * (1 - other / one) / len(PICTURES))  # fmt: skip
    if name == "fit":
        asked = [(sketch, strands, Wanted()) for sketch, strands in FITTED]
        asked += [("heron", 24, Wanted(width_mm=9.0)), ("E", 12, Wanted(quick=True))]
        asked += [("flower_six", 12, Wanted(quick=True)), ("curlew", 16, Wanted(fit="face"))]
        for sketch, strands, wanted in asked:
            ways = "".join(f", {w}" for w in ("width_mm", "quick") if getattr(wanted, w))
            found[f"{sketch} on {strands}{ways}"] = partial(
                fitted, labels_of(sketch), strands, wanted
            )
        return Kind(found, fits_differ, lambda one, other: (
            VERDICTS.index(other.judged[0]) - VERDICTS.index(one.judged[0])))  # fmt: skip
    draw = fit_verdict.drawing()
    labels = {called: label.replace("hint", "a hint").replace("no", "lost")
              for called, label, _ in labelled()}  # fmt: skip
    for called, _, item in labelled():
        found[called] = partial(judged, item, draw, labels[called])
    return Kind(found, lambda one, other: one != other, lambda one, other: other[1] - one[1])


def judged(item: Any, draw: ModuleType, label: str) -> tuple[str, bool]:
    """Return the verdict on a labelled conversion, and whether it is the label."""
    verdict = fit_verdict.measured(item, draw)[1]
    return verdict, verdict == label


# -- the table -------------------------------------------------------------------------------------


@dataclass
class Trial:
    """The cases of a kind, and what comes of them as the numbers are."""

    kind: Kind
    usual: dict[str, Any] = field(default_factory=dict)
    ran: dict[str, set[str]] = field(default_factory=dict)
    """The functions that each case calls: no other number can change it."""

    def __post_init__(self) -> None:
        """Look at every case once."""
        for name, case in self.kind.cases.items():
            ran: set[str] = set()

            def called(frame: FrameType, event: str, _: Any, ran: set[str] = ran) -> None:
                if event == "call":
                    ran.add(f"{frame.f_code.co_filename}:{frame.f_code.co_qualname}")

            sys.setprofile(called)
            self.usual[name] = case()
            sys.setprofile(None)
            self.ran[name] = ran

    def changed(self, number: Number, times: float, among: Iterable[str]) -> tuple[list[str], str]:
        """The cases that change, and how the table counts them."""
        undo = number.changed(times)
        found, better = [], 0.0
        try:
            for name in among:
                try:
                    now = self.kind.cases[name]()
                except Exception:
                    found.append(name)
                    continue
                if self.kind.differs(self.usual[name], now):
                    found.append(name)
                if self.kind.better is not None:
                    better += self.kind.better(self.usual[name], now)
        finally:
            undo()
        return found, f"{len(found)}({better:+.3g})" if better else f"{len(found)}"

    def row(self, number: Number) -> str:
        """What a number decides."""
        uses = number.used_in()
        every = [name for name in self.usual if not uses.isdisjoint(self.ran[name])]
        ends = {times: self.changed(number, times, every) for times in (TIMES[0], TIMES[-1])}
        among = [name for name in every if any(name in names for names, _ in ends.values())]
        if among:
            ends |= {times: self.changed(number, times, among) for times in TIMES[1:-1]}
        near = sorted({name for times in TIMES[1:-1] for name in ends.get(times, ([], ""))[0]})
        about = "; ".join(near[:NAMED]) + (" ..." if len(near) > NAMED else "")
        counts = " ".join(f"{ends[times][1] if times in ends else '.':>9}" for times in TIMES)
        room = number.module.__name__.split("convert.")[1]
        return f"{room:<18} {number.name:<26} {number.value:>8g} {counts}  {about}".rstrip()


def table(kind: str, asked: str) -> Iterator[str]:
    """Yield the lines of the table of one kind of case."""
    trial = Trial(kind_of(kind))
    yield f"{kind}: {len(trial.usual)} cases; how many change with so many times the number"
    yield f"{'':<18} {'':<26} {'':>8} " + " ".join(f"{times:>9g}" for times in TIMES)
    for room in ROOMS[kind]:
        for number in numbers(importlib.import_module(f"himotif.convert.{room}")):
            if asked in number.name:
                yield trial.row(number)


def main(kinds: Sequence[str] = tuple(ROOMS)) -> None:
    """Print the table."""
    options = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    options.add_argument("--write", action="store_true")
    options.add_argument("--only", choices=kinds, nargs="*", default=kinds)
    options.add_argument("--number", default="", help="numbers whose names hold this")
    asked = options.parse_args()
    parts = {part.split(":")[0]: part for part in TABLE.read_text("utf-8").strip().split("\n\n")}
    for kind in asked.only:
        lines = []
        for line in table(kind, asked.number):
            print(line, flush=True)
            lines.append(line)
        parts[kind] = "\n".join(lines)
    if asked.write:
        whole = "\n\n".join(parts[kind] for kind in kinds if kind in parts)
        TABLE.write_text(whole + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
