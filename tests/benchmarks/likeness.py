"""How much conversions read like their sketches, beside plain ways of doing it.

    python tests/benchmarks/likeness.py            # everything: about a quarter of an hour
    python tests/benchmarks/likeness.py --fast     # a few minutes
    python tests/benchmarks/likeness.py --limit    # also the best that long annealing finds

Every motif, without its margins, is placed once, across half the braid and as tall as it is drawn:
the size that the program finds is not measured here; see ``reading.py``. The sketch as placed is
drawn on the unrolled braid, the beads as their cells; both are compared inside the picture's frame
and one bead round it. The measures are written here once more, so that the program is not judged
by itself:
C, S-CIELAB with CIEDE2000 at 10 beads per degree; S, scikit-image's structural similarity of L*
after a Gaussian of half a bead pitch; F, the FLIP of its authors' package; J = C + 40·(1 - S).

Plain ways, on the same lattice, palette and background bead:
  a  the pixel at each bead's centre, nearest in RGB
  b  the mean of sRGB values over the bead's cell, nearest in RGB
  c  the mean in linear light over the cell, nearest by CIEDE2000
  d  the picture reduced to the palette by Pillow (with its dithering), then the centre pixel
each centred (0) and as the median of random shifts within one cell of the lattice (~).
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import numpy.typing as npt
import skimage.data
from himotif.convert.job import convert
from himotif.convert.options import Order
from himotif.convert.read.picture import read_picture
from himotif.core.arrays import Bools, Floats, Ints
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.palette.files import read_palette
from himotif.palette.palette import Palette
from PIL import Image
from scipy import fft
from skimage.color import deltaE_ciede2000, rgb2lab, xyz2lab
from skimage.metrics import structural_similarity

FIXTURES = Path(__file__).parents[2] / "fixtures"
SHADED = ("dusk", "moonlit_pond")
PHOTOGRAPHS = ("astronaut.png", "chelsea.png", "coffee.png", "rocket.jpg", "camera.png")
PX_PER_PITCH = 9
BEADS_PER_DEGREE = 10
SEED = 20

XYZ_OF_RGB = np.array(
    [[0.412453, 0.357580, 0.180423], [0.212671, 0.715160, 0.072169], [0.019334, 0.119193, 0.950227]]
)
# Zhang & Wandell 1996, constants as published with the authors' code
OPPONENT_OF_XYZ = np.array(
    [
        [0.2787336, 0.7218031, -0.1065520],
        [-0.4487736, 0.2898056, 0.0771569],
        [0.0859513, -0.5899859, 0.5011089],
    ]
)
EYE = (
    ((0.05, 1.00327), (0.225, 0.114416), (7.0, -0.117686)),
    ((0.0685, 0.616725), (0.826, 0.383275)),
    ((0.092, 0.567885), (0.6451, 0.432115)),
)


def decoded(srgb: Floats) -> Floats:
    """Linear light of sRGB values 0..1 (IEC 61966-2-1)."""
    return np.where(srgb <= 0.04045, srgb / 12.92, ((srgb + 0.055) / 1.055) ** 2.4)


def encoded(linear: Floats) -> Floats:
    """The way back."""
    light = np.clip(linear, 0, 1)
    return np.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)


@dataclass(frozen=True)
class Place:
    """Where a picture's middle lies, how large and how turned it is."""

    px_per_mm: float
    azimuth_deg: float
    height_mm: float
    rotate_deg: float = 0.0


class Scene:
    """One picture on one lattice with one palette: draws and measures."""

    def __init__(
        self, rgba: Floats, lattice: Lattice, palette: Palette, background: int, rounds: int
    ) -> None:
        self.rgba, self.lattice, self.background = rgba, lattice, background
        self.colours = np.asarray(palette.rgb, dtype=np.float64) / 255
        self.light = decoded(self.colours)
        self.lab = rgb2lab(self.colours)
        self.count = rounds * lattice.braid.beads_per_round
        self.rounds = rounds
        high = round(rounds * lattice.rise_mm / lattice.pitch_mm * PX_PER_PITCH)
        wide = round(lattice.circumference_mm / lattice.pitch_mm * PX_PER_PITCH)
        self.shape = (high, wide)
        self.x_mm = ((np.arange(wide) + 0.5) / wide - 0.5) * lattice.circumference_mm
        top = (rounds - 0.5 / lattice.braid.axes) * lattice.rise_mm
        self.y_mm = top - (np.arange(high) + 0.5) / high * rounds * lattice.rise_mm
        self.owner = lattice.owner(self.x_mm[None, :], self.y_mm[:, None], self.count)
        self.own_size = np.maximum(np.bincount(self.owner.ravel(), minlength=self.count), 1)
        flat = rgba[..., :3] * rgba[..., 3:] + self.colours[background] * (1 - rgba[..., 3:])
        linear = decoded(rgba[..., :3]) * rgba[..., 3:] + self.light[background] * (
            1 - rgba[..., 3:]
        )
        self.flat, self.linear = flat, linear
        eight_bit = Image.fromarray(np.rint(flat * 255).astype(np.uint8), "RGB")
        chart = Image.new("P", (1, 1))
        chart.putpalette(np.rint(self.colours * 255).astype(np.uint8).ravel().tolist())
        # Pillow fills the table up with black; what lands there is matched once more
        reduced = np.asarray(eight_bit.quantize(palette=chart).convert("RGB")) / 255.0
        self.quantized = reduced

    def middle_mm(self) -> float:
        return float((self.y_mm[0] + self.y_mm[-1]) / 2)

    def points(self, place: Place, x_mm: Floats, y_mm: Floats) -> tuple[Ints, Ints, Floats]:
        """Rows and columns of the picture under points of the braid, and how far inside (mm)."""
        u = x_mm - float(self.lattice.chart_x_mm(place.azimuth_deg))
        u = u - self.lattice.circumference_mm * np.rint(u / self.lattice.circumference_mm)
        w = place.height_mm - y_mm
        turn = np.deg2rad(place.rotate_deg)
        a, b = np.cos(turn) * u + np.sin(turn) * w, -np.sin(turn) * u + np.cos(turn) * w
        high, wide = self.flat.shape[:2]
        half_a, half_b = wide / 2 / place.px_per_mm, high / 2 / place.px_per_mm
        inside = np.minimum(half_a - np.abs(a), half_b - np.abs(b))
        column = np.clip(np.floor((a + half_a) * place.px_per_mm), 0, wide - 1).astype(np.intp)
        row = np.clip(np.floor((b + half_b) * place.px_per_mm), 0, high - 1).astype(np.intp)
        return row, column, inside

    def drawn(self, place: Place, pixels: Floats, ground: Floats) -> Floats:
        """The placed picture on the unrolled braid, each pixel the mean of 5 x 5 points."""
        total = np.zeros((*self.shape, 3))
        parts = (np.arange(5) + 0.5) / 5 - 0.5
        across = self.lattice.circumference_mm / self.shape[1]
        along = abs(self.y_mm[1] - self.y_mm[0])
        for i in parts:
            for j in parts:
                row, column, inside = self.points(
                    place, (self.x_mm + j * across)[None, :], (self.y_mm + i * along)[:, None]
                )
                total += np.where((inside >= 0)[..., None], pixels[row, column], ground)
        return total / 25

    def sketch(self, place: Place) -> Floats:
        return self.drawn(place, self.linear, self.light[self.background])

    def weight(self, place: Place) -> Floats:
        """1 inside the frame and one pitch round it."""
        _, _, inside = self.points(place, self.x_mm[None, :], self.y_mm[:, None])
        return (inside > -self.lattice.pitch_mm).astype(np.float64)

    def cells(self, beads: Ints) -> Floats:
        return self.light[beads][self.owner]

    def means(self, drawn: Floats) -> Floats:
        sums = [np.bincount(self.owner.ravel(), drawn[..., k].ravel()) for k in range(3)]
        return np.stack([s / self.own_size for s in sums], axis=1)

    def shares(self, place: Place, kinds: Ints, allowed: Ints) -> Floats:
        """How much of each cell would choose which bead; `kinds` is the picture's choice."""
        row, column, inside = self.points(place, self.x_mm[None, :], self.y_mm[:, None])
        ground = int(np.flatnonzero(allowed == self.background)[0])
        chosen = np.where(inside >= 0, kinds[row, column], ground)
        places = self.owner.ravel() * len(allowed) + chosen.ravel()
        count = np.bincount(places, minlength=self.count * len(allowed))
        return count.reshape(self.count, -1) / self.own_size[:, None]

    # -- the plain ways ------------------------------------------------------------------------

    def nearest_rgb(self, rgb: Floats) -> Ints:
        apart = ((rgb[:, None] - self.colours[None]) ** 2).sum(axis=-1)
        return np.argmin(apart, axis=1)

    def nearest_lab(self, linear: Floats, among: Floats | None = None) -> Ints:
        lab = rgb2lab(encoded(linear))
        beads = self.lab if among is None else among
        return np.argmin(deltaE_ciede2000(lab[:, None], beads[None]), axis=1)

    def centre_pixels(self, place: Place, pixels: Floats) -> Ints:
        bead = np.arange(self.count)
        row, column, inside = self.points(
            place, self.lattice.x_mm(bead), self.lattice.height_mm(bead)
        )
        return np.where(inside >= 0, self.nearest_rgb(pixels[row, column]), self.background)

    def plain(self, way: str, place: Place) -> Ints:
        if way == "a":
            return self.centre_pixels(place, self.flat)
        if way == "b":
            coded = self.drawn(place, self.flat, self.colours[self.background])
            return self.nearest_rgb(self.means(coded))
        if way == "c":
            return self.nearest_lab(self.means(self.sketch(place)))
        return self.centre_pixels(place, self.quantized)


@dataclass(frozen=True)
class Measures:
    colour: float
    structure: float
    flip: float = np.nan

    @property
    def j(self) -> float:
        return self.colour + 40 * (1 - self.structure)


class Judge:
    """Measures pictures against one sketch."""

    def __init__(self, scene: Scene, sketch: Floats, weight: Floats) -> None:
        self.rows, self.columns = scene.shape
        degree = PX_PER_PITCH * BEADS_PER_DEGREE
        self.margin = degree // 2
        self.ground = scene.light[scene.background]
        self.sketch_linear, self.weight = sketch, weight / weight.sum()
        shape = (self.rows + 2 * self.margin, self.columns)
        self.padded_shape = shape
        self.eye = [self._transfer(widths, degree, self.margin) for widths in EYE]
        self.sigma = PX_PER_PITCH / 2
        self.soft = self._transfer(((self.sigma * 2.3548 / degree, 1.0),), degree, 16)
        self.lab, self.soft_light = self._seen(sketch)
        self._means = self._moments(self.soft_light)

    def _transfer(
        self, gaussians: Iterable[tuple[float, float]], degree: int, half: int
    ) -> npt.NDArray[np.complex128]:
        place = np.arange(-half, half + 1)
        kernel, weights = np.zeros((len(place), len(place))), 0.0
        for width, weight in gaussians:
            line = np.exp(-(place**2) / (2 * (width * degree / 2.3548) ** 2))
            line /= line.sum()
            kernel += weight * line[:, None] * line[None, :]
            weights += weight
        high, wide = self.padded_shape
        round_the_braid = np.zeros((high, wide))
        np.add.at(round_the_braid, (place[:, None] % high, place[None, :] % wide), kernel / weights)
        return np.asarray(fft.rfft2(round_the_braid))

    def _filter(self, values: Floats, transfer: npt.NDArray[np.complex128]) -> Floats:
        return np.asarray(fft.irfft2(fft.rfft2(values) * transfer, s=self.padded_shape))

    def _seen(self, linear: Floats) -> tuple[Floats, Floats]:
        padded = np.empty((*self.padded_shape, 3))
        padded[:] = self.ground
        padded[self.margin : self.margin + self.rows] = linear
        xyz = padded @ XYZ_OF_RGB.T
        opponent = xyz @ OPPONENT_OF_XYZ.T
        seen = np.stack([self._filter(opponent[..., k], self.eye[k]) for k in range(3)], axis=-1)
        back = np.maximum(seen @ np.linalg.inv(OPPONENT_OF_XYZ).T, 0)
        inside = slice(self.margin, self.margin + self.rows)
        return xyz2lab(back[inside]), self._filter(xyz2lab(xyz)[..., 0], self.soft)

    def _moments(self, light: Floats) -> tuple[Floats, Floats]:
        mean = self._filter(light, self.soft)
        return mean, self._filter(light**2, self.soft) - mean**2

    def quick_structure(self, light: Floats) -> float:
        """S by the same Gaussian run round the braid: for annealing."""
        mean1, var1 = self._means
        mean2, var2 = self._moments(light)
        both = self._filter(self.soft_light * light, self.soft) - mean1 * mean2
        ssim = ((2 * mean1 * mean2 + 1) * (2 * both + 9)) / (
            (mean1**2 + mean2**2 + 1) * (var1 + var2 + 9)
        )
        return float((ssim[self.margin : self.margin + self.rows] * self.weight).sum())

    def quick(self, linear: Floats) -> Measures:
        lab, light = self._seen(linear)
        colour = float((deltaE_ciede2000(self.lab, lab) * self.weight).sum())
        return Measures(colour, self.quick_structure(light))

    def measure(self, linear: Floats, *, flip: bool = False) -> Measures:
        lab, light = self._seen(linear)
        colour = float((deltaE_ciede2000(self.lab, lab) * self.weight).sum())
        around = ((0, 0), (3 * PX_PER_PITCH, 3 * PX_PER_PITCH))
        _, ssim = structural_similarity(
            np.pad(self.soft_light, around, mode="wrap"),
            np.pad(light, around, mode="wrap"),
            data_range=100,
            gaussian_weights=True,
            sigma=self.sigma,
            use_sample_covariance=False,
            full=True,
        )
        inside = ssim[self.margin : self.margin + self.rows, 3 * PX_PER_PITCH : -3 * PX_PER_PITCH]
        return Measures(
            colour,
            float((inside * self.weight).sum()),
            self._flip(linear) if flip else np.nan,
        )

    def _flip(self, linear: Floats) -> float:
        import flip_evaluator

        around = ((0, 0), (self.margin, self.margin), (0, 0))
        pair = [
            np.pad(encoded(p), around, mode="wrap").astype(np.float32)
            for p in (self.sketch_linear, linear)
        ]
        ppd = PX_PER_PITCH * BEADS_PER_DEGREE
        error, _, _ = flip_evaluator.evaluate(
            pair[0], pair[1], "LDR", applyMagma=False, parameters={"ppd": float(ppd)}
        )
        mean = (error[:, self.margin : -self.margin, 0] * self.weight).sum()
        return float(mean)


# The limit -----------------------------------------------------------------------------------


def own_beads(scene: Scene, kind: str) -> Ints:
    """The beads that may be used: for a flat motif those that its own colours map to.

    Left free, annealing mixes a grey outline from rust and pale blue: a better J, and dirt to the
    eye. Colours of at least 0.2 % of the pixels count, of those whose neighbours have the same:
    the soft pixels of an edge are no colours of the motif.
    """
    if kind != "flat":
        return np.arange(len(scene.light))
    codes = np.rint(scene.flat * 255).astype(np.uint8)
    inner = codes[1:-1, 1:-1]
    plain = np.ones(inner.shape[:2], dtype=bool)
    for rows, columns in ((1, 0), (1, 2), (0, 1), (2, 1)):
        shifted = codes[rows:, columns:][: inner.shape[0], : inner.shape[1]]
        plain &= (shifted == inner).all(axis=-1)
    levels, count = np.unique(inner[plain], axis=0, return_counts=True)
    common = levels[count >= 0.002 * count.sum()] / 255.0
    return np.unique(np.append(scene.nearest_lab(decoded(common)), scene.background))


TRACE = 0.05
"""A colour of which there is less in a bead's cell does not lie there."""


def limit(
    scene: Scene,
    start: Place,
    allowed: Ints,
    found: tuple[Place, Ints],
    *,
    thorough: int,
    in_cells: bool,
) -> float:
    """The best J that a search of placements and long annealing of the beads find.

    `thorough` 1 is quick, 3 is long. Placements: shifts over one cell of the lattice, five scales
    to 6 %, three turns to 4 degrees, each with the cells' means and with their votes, and what
    the conversion `found`; the best few are swept bead by bead, the best annealed.

    Left free, a bead beside a grey wing or a green stem may mix with its neighbours from any of
    the `allowed`; `in_cells` it has only the ground and what lies in its own cell, so that no
    in-between beads line the edges.
    """
    rng = np.random.default_rng(SEED)
    steps = 6 + 2 * thorough
    ground = allowed == scene.background
    kinds = scene.nearest_lab(scene.linear.reshape(-1, 3), scene.lab[allowed])
    kinds = kinds.reshape(scene.linear.shape[:2])

    def may(place: Place, shares: Floats | None = None) -> Bools:
        if not in_cells:
            return np.ones((scene.count, len(allowed)), dtype=bool)
        shares = scene.shares(place, kinds, allowed) if shares is None else shares
        return np.asarray((shares >= TRACE) | ground)

    tried: list[tuple[float, Place, Ints]] = []
    for scale in (0.94, 0.97, 1.0, 1.03, 1.06):
        for turn in (-4.0, 0.0, 4.0):
            for i in range(steps):
                for j in range(steps):
                    place = Place(
                        start.px_per_mm * scale,
                        start.azimuth_deg + 180.0 * i / steps,
                        start.height_mm + scene.lattice.step_mm * j / steps,
                        start.rotate_deg + turn,
                    )
                    sketch = scene.sketch(place)
                    judge = Judge(scene, sketch, scene.weight(place))
                    shares = scene.shares(place, kinds, allowed)
                    means = scene.nearest_lab(scene.means(sketch), scene.lab[allowed])
                    votes = np.argmax(shares, axis=1)
                    there = may(place, shares)[np.arange(scene.count), means]
                    for choice in (np.where(there, means, votes), votes):
                        beads = allowed[choice]
                        tried.append((judge.quick(scene.cells(beads)).j, place, beads))
    tried.sort(key=lambda t: t[0])
    swept = sorted(
        (
            anneal(scene, place, beads, allowed, may(place), rng, 0)
            for place, beads in [found, *(t[1:] for t in tried[: 10 * thorough])]
        ),
        key=lambda t: t[0],
    )
    final = [
        anneal(scene, place, beads, allowed, may(place), rng, 3000 * thorough)
        for _, place, beads in swept[: 1 + thorough]
    ]
    _, place, beads = min(swept[:1] + final, key=lambda t: t[0])
    return measured(scene, place, beads).j


def anneal(
    scene: Scene,
    place: Place,
    beads: Ints,
    allowed: Ints,
    may: Bools,
    rng: np.random.Generator,
    trials: int,
) -> tuple[float, Place, Ints]:
    """Anneal the colours of the beads near the picture, then sweep until nothing gets better."""
    weight = scene.weight(place)
    judge = Judge(scene, scene.sketch(place), weight)
    near = np.unique(scene.owner[weight > 0])
    drawn = scene.cells(beads)
    now = judge.quick(drawn).j
    pixels = {int(bead): scene.owner == bead for bead in near}
    choice = {int(bead): allowed[may[bead]] for bead in near}
    beads = beads.copy()

    def change(bead: int, colour: int, heat: float) -> None:
        nonlocal now
        old = beads[bead]
        if colour == old:
            return
        drawn[pixels[bead]] = scene.light[colour]
        then = judge.quick(drawn).j
        if then < now or (heat > 0 and rng.random() < np.exp((now - then) / heat)):
            now, beads[bead] = then, colour
        else:
            drawn[pixels[bead]] = scene.light[old]

    free = [bead for bead, colours in choice.items() if len(colours) > 1]
    for trial in range(trials if free else 0):
        heat = 0.05 * now * (0.002 ** (trial / trials))
        bead = int(rng.choice(free))
        change(bead, int(rng.choice(choice[bead])), heat)
    before = np.inf
    while now < before - 1e-9:
        before = now
        for bead in rng.permutation(near):
            for colour in choice[int(bead)]:
                change(int(bead), int(colour), 0.0)
    return now, place, beads


# Running it ----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Row:
    picture: str
    kind: str
    strands: int
    palette: str
    ours: Measures
    seconds: float
    zero: dict[str, Measures]
    median: dict[str, float]
    limit: float = np.nan
    limit_in_cells: float = np.nan
    beads: int = 0


def case(path: Path, kind: str, strands: int, palette: Palette, shifts: int, thorough: int) -> Row:
    """Convert one picture and measure it beside the plain ways."""
    rgba = np.asarray(Image.open(path).convert("RGBA"), dtype=np.float64) / 255
    lattice = Lattice.computed(Braid(strands), bead_size("8/0"))
    across_mm = lattice.circumference_mm / 2
    # without its margins a motif may be more times as tall as wide than its picture
    tall_mm = 1.6 * across_mm * rgba.shape[0] / rgba.shape[1] + 4 * lattice.pitch_mm
    rounds = 2 * int(np.ceil(tall_mm / lattice.rise_mm / 2)) + 4
    picture = read_picture(path)
    order = Order(repeat="once", width_mm=across_mm, stretch=1.0)
    begun = time.perf_counter()
    made = convert(order, picture, palette, lattice, bead_size("8/0"), rounds)
    seconds = time.perf_counter() - begun
    design = made.design
    assert design.picture is not None
    left, top, right, bottom = design.picture.frame_px or (0, 0, *rgba.shape[1::-1])
    rgba = rgba[top:bottom, left:right]
    px_per_mm = rgba.shape[1] / across_mm
    scene = Scene(rgba, lattice, palette, design.background, rounds)
    placed = Place(design.picture.px_per_mm, *design.picture.centres[0], design.picture.rotate_deg)
    ours = measured(scene, placed, design.beads, flip=True)
    start = Place(px_per_mm, 180.0, scene.middle_mm())
    zero = plain_ways(scene, start, flip=True)
    rng = np.random.default_rng(SEED)
    moved = [
        plain_ways(
            scene,
            replace(
                start,
                azimuth_deg=180.0 + 180.0 * float(rng.random()),
                height_mm=start.height_mm + lattice.step_mm * float(rng.random()),
            ),
        )
        for _ in range(shifts)
    ]
    median = {way: float(np.median([found[way].j for found in moved])) for way in "abcd"}
    beads = len(np.unique(scene.owner[scene.weight(start) > 0]))
    best = [np.nan, np.nan]
    if thorough and beads <= 300:
        own, here = own_beads(scene, kind), (placed, design.beads)
        best = [
            limit(scene, start, own, here, thorough=thorough, in_cells=in_cells)
            for in_cells in ((False, True) if kind == "flat" else (False,))
        ]
        best = [best[0], best[-1]]
    return Row(
        path.stem,
        kind,
        strands,
        palette.name,
        ours,
        seconds,
        zero,
        median,
        best[0],
        best[-1],
        beads,
    )


def plain_ways(scene: Scene, place: Place, *, flip: bool = False) -> dict[str, Measures]:
    """Measure all the plain ways at one place."""
    judge = Judge(scene, scene.sketch(place), scene.weight(place))
    return {way: judge.measure(scene.cells(scene.plain(way, place)), flip=flip) for way in "abcd"}


def measured(scene: Scene, place: Place, beads: Ints, *, flip: bool = False) -> Measures:
    judge = Judge(scene, scene.sketch(place), scene.weight(place))
    return judge.measure(scene.cells(beads), flip=flip)


HEAD = (
    f"{'picture':13} {'N':>2} {'palette':9} {'beads':>5} {'s':>5} | {'J':>5} {'S':>5} {'F':>5} |"
    f" {'a0':>5} {'b0':>5} {'c0':>5} {'d0':>5} | {'a~':>5} {'b~':>5} {'c~':>5} {'d~':>5} |"
    f" {'S c0':>5} {'F c0':>5} | {'J/c~':>5} |"
    f" {'limit':>5} {'J/lim':>5} | {'cells':>5} {'J/lim':>5}"
)


def line(row: Row) -> str:
    """One row of the table."""
    zero = " ".join(f"{row.zero[way].j:5.2f}" for way in "abcd")
    median = " ".join(f"{row.median[way]:5.2f}" for way in "abcd")
    c = row.zero["c"]
    return (
        f"{row.picture:13} {row.strands:2} {row.palette[:9]:9} {row.beads:5} {row.seconds:5.2f} |"
        f" {row.ours.j:5.2f} {row.ours.structure:5.3f} {row.ours.flip:5.3f} | {zero} | {median} |"
        f" {c.structure:5.3f} {c.flip:5.3f} | {row.ours.j / row.median['c']:5.2f}"
        f" | {row.limit:5.2f} {row.ours.j / row.limit:5.2f}"
        f" | {row.limit_in_cells:5.2f} {row.ours.j / row.limit_in_cells:5.2f}"
    )


def summary(rows: Sequence[Row]) -> list[str]:
    """The aims, and how far they are met."""
    ours = [row for row in rows if row.kind != "photograph"]
    ratio = np.exp(np.mean([np.log(row.ours.j / row.median["c"]) for row in ours]))
    beaten = [row for row in rows if row.ours.j < min(row.zero["c"].j, row.zero["d"].j)]
    flat = [row for row in ours if row.kind == "flat"]
    kept = [
        row
        for row in flat
        if row.ours.flip <= row.zero["c"].flip and row.ours.structure >= row.zero["c"].structure
    ]
    lines = [
        f"J, geometric mean over our motifs, beside median-shift c: {ratio:.3f} (aim 0.5)",
        f"J below the better of c0 and d0: {len(beaten)} of {len(rows)}",
        f"S and F not worse than c0 on flat motifs: {len(kept)} of {len(flat)}",
    ]
    for name, of in (("the limit", "limit"), ("the limit in cells", "limit_in_cells")):
        limited = [row for row in rows if np.isfinite(getattr(row, of))]
        if not limited:
            continue
        ours_to = [row.ours.j / getattr(row, of) for row in limited]
        best = np.exp(np.mean([np.log(getattr(row, of) / row.median["c"]) for row in limited]))
        lines.append(
            f"J beside {name}: median {np.median(ours_to):.3f}, worst {max(ours_to):.3f}"
            f" (aim 1.05), {sum(r <= 1.05 for r in ours_to)} of {len(limited)} within;"
            f" {name} itself beside median-shift c: {best:.3f}"
        )
    return lines


def main(arguments: Sequence[str] | None = None) -> int:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--fast", action="store_true", help="8 and 16 strands, fewer shifts")
    parser.add_argument("--limit", type=int, nargs="?", const=1, default=0, metavar="1|2|3")
    parser.add_argument("--only", nargs="*", default=[], help="names of pictures")
    parser.add_argument("--strands", type=int, nargs="*")
    parser.add_argument("--palettes", nargs="*", default=["saltmarsh", "dusk"])
    wish = parser.parse_args(arguments)
    bundled = Path(skimage.data.__file__).parent
    pictures = [
        (path, "shaded" if path.stem in SHADED else "flat")
        for path in sorted((FIXTURES / "motifs").glob("*.png"))
    ] + [(bundled / name, "photograph") for name in PHOTOGRAPHS]
    pictures = [(p, kind) for p, kind in pictures if not wish.only or p.stem in wish.only]
    palettes = [read_palette(FIXTURES / "palettes" / f"{name}.csv") for name in wish.palettes]
    if wish.fast:
        palettes = palettes[:1]
    counts = wish.strands or ([8, 16] if wish.fast else [8, 12, 16, 24])
    rows: list[Row] = []
    print(HEAD)
    for path, kind in pictures:
        for strands in counts:
            for palette in palettes:
                rows.append(case(path, kind, strands, palette, 8 if wish.fast else 24, wish.limit))
                print(line(rows[-1]), flush=True)
    print("\n".join(summary(rows)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
