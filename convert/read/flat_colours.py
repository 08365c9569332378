"""The flat colours of a sketch, and which pixel has which.

1. *Peaks*: pixels that are like their neighbours are counted in Lab; isolated peaks are flat
   colours. In shades there is as much round a peak as in it.
2. *Edges*: a pixel that is a mixture of two flat colours beside it takes the number of the nearer.
3. *Thin*: what no mixture explains may be a line or a dot without a uniform pixel. Its colour is
   the far end of what its pixels are mixtures of: a thin line keeps its ink, not its average.
4. A picture of which nearly everything is explained so is flat.

Shares are parts of one, Lab is CIE Lab (D65), tones run from 0 to 255. The numbers below are
choices. Behind each stands in brackets how many of 63 pictures are read otherwise with a quarter
less and with a quarter more of it; those that stand in functions are in the table, too
(`tests/benchmarks/tuning_table.txt`). `tests/test_flat_colours.py` checks what they do together, on
pictures whose colours are known: files, dithers, photographs of paper, shades.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import Bools, Bytes, Float32Array, Floats, Ints
from ...core.design import SketchKind
from ...palette import linear_lab
from .lighting import (
    MOST_TEXTURE,
    ToneImage,
    denoised_tones,
    from_tones,
    label_step,
    shifted,
    stored_tones,
    stroke_height,
    tiles,
    to_stored,
)

if TYPE_CHECKING:
    from .picture import Picture

Labels = npt.NDArray[np.int8]
"""Numbers of flat colours; -1 for none."""

MOST_COLOURS = 12
"""A picture with more flat colours than this is shaded (1, 0)."""

LEAST_SHARE = 0.0005
"""A flat colour covers at least this much of the sketch. Without it a letter saved lossily gets a
third colour (0, 0)."""

CORE, SHELL = 3.0, 6.0
"""Pixels within CORE (Lab) of a flat colour are that colour; in a flat sketch few lie between
CORE and SHELL, in shades as many per unit as nearer (7, 5; 4, 2)."""

BROAD = 0.95
"""A peak with this much of what is within twice SHELL within SHELL is broad, not a shade
(1, 1)."""

TIGHT = 0.75
"""On paper a peak with this much of it within half of CORE is a flat colour, however near another
one is; along shades it is half. Without it a flower in two near tones on a photographed sheet has
no colours (1, 2)."""

NOISE = 14.0
"""Lossy files put small peaks as far as this (Lab) from a large one (3, 1)."""

MOST_NOISE = 0.08
"""Of the uniform pixels no more than this are such noise. Without it a photograph of a man with a
camera counts as flat (0, 0)."""

OWN = 12.0
"""Pixels within this (tones) of a colour may be that colour (0, 1)."""

SLANT = 0.15
"""A mixture may lie this far, in parts of its length, beside the line between two colours: whether
light or code values were mixed makes that difference. Without it red hairlines on green, mixed in
light, become shades (0, 0)."""

LOSSY_RADIUS = 8
"""Pixels about an edge that lossy files disturb at least: JPEG works in blocks of 8 x 8 pixels
(ITU-T T.81; 1, 0)."""

MOST_LEFT = 0.2
"""Of what is not the largest colour, no more than this is unexplained in a flat sketch. Without it
a drawing of hairlines saved lossily counts as flat and bare (0, 0)."""

LEAST_OTHERS = 0.5
"""At least this much of what is not the largest colour of a flat sketch is plainly one of the
others, unless all that is but a few lines. Without it a photograph of a landscape of the moon
counts as flat (0, 0)."""

DENOISE_PX = 100
"""Least side, in pixels, of a picture that is denoised; in smaller ones every pixel counts
(0, 0; with 400 nine)."""

EVEN = 0.9
"""Plain areas stray from their colour by no more than this (tones) once dots are blurred. Without
it a photograph of a landscape of the moon counts as flat (0, 0)."""

PURE_PX = 8
"""Side, in pixels, of the tiles of one colour whose mean is compared with it (0, 0)."""

# steps down and across to the eight neighbours, and to what is within two pixels
_EIGHT = ((0, 1), (1, 0), (0, -1), (-1, 0), (1, 1), (-1, -1), (1, -1), (-1, 1))
_WINDOW = tuple((down, across) for down in range(-2, 3) for across in range(-2, 3))


@dataclass(frozen=True, eq=False)
class FlatColours:
    """The flat colours of a sketch.

    Parameters
    ----------
    linear : (k, 3) float32
    share : (k,) float
        Of the pixels that are drawn on.
    kind : 'flat' or 'shaded'
        What the picture is by them.
    """

    linear: Float32Array
    share: Floats
    kind: SketchKind

    @cached_property
    def lab(self) -> Float32Array:
        """CIE Lab, (k, 3)."""
        return linear_lab(self.linear)


@dataclass(frozen=True, eq=False)
class Reading:
    """What was seen.

    Parameters
    ----------
    found : FlatColours
    label : (h, w) int8
        The flat colour of each pixel, -1 where nothing is drawn.
    step : int
        Pixels of it, in each direction, in a pixel of the downsampled label image.
    """

    found: FlatColours
    label: Labels
    step: int


def read_picture_colours(picture: Picture) -> Reading:
    """Find the flat colours of a picture, after denoising if there are none at first."""
    image = stored_tones(picture)
    texture = image.texture_share()
    reading = None if texture >= MOST_TEXTURE else _read(image)
    large = min(image.cover.shape) >= DENOISE_PX
    if large and (reading is None or reading.found.kind == "shaded"):
        denoised, light = denoised_tones(picture, texture)
        again = _read_denoised(denoised, light is not None)
        if reading is None or again.found.kind == "flat":
            return again
    return reading or _read(image)


def _read_denoised(image: ToneImage, paper: bool) -> Reading:
    """Read denoised tones; areas that denoising made uniform must be uniform indeed."""
    reading = _read(image)
    # a sheet with nothing on it may as well be a picture of its shades
    even = len(reading.found.linear) > 1 if paper else _straying(image, reading) <= EVEN
    return reading if even else replace(reading, found=replace(reading.found, kind="shaded"))


def _straying(image: ToneImage, reading: Reading) -> float:
    """How far flat areas mostly stray from their colour, in tones."""
    label = tiles(reading.label, PURE_PX)
    one = label[:, 0]
    pure = (label == one[:, None]).all(axis=1) & (one >= 0)
    if not pure.any():
        return 0.0
    own = 255 * np.sqrt(reading.found.linear[one[pure]])
    tones = [tiles(image.tones[..., channel], PURE_PX)[pure].mean(axis=1) for channel in range(3)]
    apart = np.stack(tones, axis=1) - own
    return float(np.median(np.abs(apart).max(axis=-1)))


def _read(image: ToneImage) -> Reading:
    covered = int(np.count_nonzero(image.cover))
    label = np.full(image.cover.shape, -1, dtype=np.int8)
    if not covered:
        return Reading(_found(np.empty((0, 3), np.float32), np.empty(0), "flat"), label, image.step)
    peaks = _without_shadows(_find_peaks(image), covered)
    if len(peaks.tones) > 1 and not peaks.alone(int(np.count_nonzero(image.uniform))):
        return Reading(_found(peaks.tones, peaks.mass, "shaded"), peaks.label, image.step)
    tones, lossy = _refined(image, peaks)
    if lossy and not image.denoised:
        image = replace(image, radius=max(image.radius, LOSSY_RADIUS))
    label, unknown = _edges(image, tones, peaks.label)
    if unknown.any():
        tones, label, unknown = _thin(image, tones, label, unknown, lossy)
    size = np.bincount(label[label >= 0], minlength=len(tones)).astype(np.float64)
    kind: SketchKind = "flat" if _explained(image, tones, label, unknown, size) else "shaded"
    return Reading(_found(tones, size, kind), label, image.step)


def _found(tones: Float32Array, size: Floats, kind: SketchKind) -> FlatColours:
    return FlatColours(from_tones(tones), size / max(1.0, size.sum()), kind)


def _explained(
    image: ToneImage, tones: Float32Array, label: Labels, unknown: Bools, size: Floats
) -> bool:
    """Whether the flat colours explain the picture."""
    covered = np.count_nonzero(image.cover)
    if not len(tones):
        return False
    left = np.count_nonzero(unknown)
    if left > MOST_LEFT * (covered - size.max()):
        return False
    every = (slice(None, None, image.step),) * 2
    seen, drawn = label[every], image.tones[every]
    drawn, seen = drawn[seen >= 0], seen[seen >= 0]
    core = np.abs(drawn - tones[seen]).max(axis=-1) < OWN * image.width
    rest = seen != np.argmax(size)
    lines = len(tones) <= 3 and rest.mean() < 0.1
    return bool(lines or core[rest].mean() > LEAST_OTHERS)


# -- peaks ------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Peaks:
    """Tones (k, 3), pixels in each peak and in and round it, the peak of each uniform pixel."""

    tones: Float32Array
    mass: Floats
    around: Floats
    label: Labels

    def alone(self, uniform: int) -> bool:
        """Whether the peaks stand alone, the largest apart: it is mostly the ground."""
        return bool(self.mass[1:].sum() >= 0.6 * np.minimum(self.around[1:], uniform).sum())


def _histogram(tones: Bytes) -> tuple[Float32Array, Ints, Ints]:
    """Middle and number of pixels of each filled bin of four tones, and the bin of each pixel."""
    coarse = (tones >> 2).astype(np.int32)
    key = (coarse[:, 0] << 12) | (coarse[:, 1] << 6) | coarse[:, 2]
    count = np.bincount(key, minlength=1 << 18)
    filled = np.flatnonzero(count)
    middle = np.stack([filled >> 12, (filled >> 6) & 63, filled & 63], axis=1) * 4 + 1.5
    place = np.zeros(1 << 18, dtype=np.intp)
    place[filled] = np.arange(len(filled))
    return middle.astype(np.float32), count[filled], place[key]


def _find_peaks(image: ToneImage) -> _Peaks:
    """Find the isolated peaks of the uniform pixels, largest first."""
    label = np.full(image.cover.shape, -1, dtype=np.int8)
    pixels = image.tones[image.uniform]
    if not len(pixels):
        return _Peaks(np.empty((0, 3), np.float32), np.empty(0), np.empty(0), label)
    middle, count, place = _histogram(pixels)
    lab = linear_lab(from_tones(middle))
    least = max(1.0, 0.5 * LEAST_SHARE * np.count_nonzero(image.cover))
    left = count.astype(np.float64)
    tones: list[Floats] = []
    mass: list[float] = []
    around: list[Bools] = []
    tight: list[bool] = []
    members: list[Bools] = []
    while len(tones) < MOST_COLOURS:
        near = (_apart(lab, lab[np.argmax(left)]) <= CORE * image.width) & (left > 0)
        if left[near].sum() < least:
            break
        # a bin's edge may run through the peak: measure from its middle again
        centre = linear_lab(from_tones(np.average(middle[near], axis=0, weights=left[near])))
        apart = _apart(lab, centre)
        core, shell = CORE * image.width, SHELL * image.width
        broad = left[apart <= shell].sum()
        if not image.denoised and broad >= BROAD * count[apart <= 2 * shell].sum():
            # broad but by itself: the noise of a lossy file, not shades
            core, shell = shell, 2 * shell
        near = near | (apart <= core) & (left > 0)
        tones.append(np.average(middle[near], axis=0, weights=left[near]))
        mass.append(float(left[near].sum()))
        around.append(apart <= shell)
        middle_part = count[apart <= core / 2].sum() / count[apart <= core].sum()
        tight.append(bool(image.denoised and middle_part >= TIGHT))
        members.append(near)
        left[near] = 0
    if not tones:
        return _Peaks(np.empty((0, 3), np.float32), np.empty(0), np.empty(0), label)
    order = np.argsort(-np.array(mass), kind="stable")
    heap = np.array(mass)[order]
    peak = np.array(tones, dtype=np.float32)[order]
    number = np.full(len(middle), -1, dtype=np.int8)
    for new, old in enumerate(order):
        number[members[old]] = new
    label[image.uniform] = number[place]
    own = _not_noise(
        linear_lab(from_tones(peak)), heap, NOISE * (1 + image.width) / 2, _solid(label, len(peak))
    )
    beyond = _shells(count, around, members, np.array(tight))[order]
    return _Peaks(peak[own], heap[own], beyond[own], _renumbered(label, own))


def _shells(count: Ints, around: list[Bools], members: list[Bools], tight: Bools) -> Floats:
    """How much lies round each peak, but for what is in another tight one."""
    inside = np.array(members)
    shells = []
    for number, shell in enumerate(around):
        others = tight & (np.arange(len(tight)) != number)
        shells.append(count[shell & ~inside[others].any(axis=0)].sum())
    return np.array(shells, dtype=np.float64)


def _solid(label: Labels, count: int) -> Bools:
    """Which labels are mostly solid: the same two pixels away on either side."""
    same = label >= 0
    for axis in (0, 1):
        less, more = shifted(axis, 2)
        alike = label[less] == label[more]
        same[less] &= alike
        same[more] &= alike
    size = np.bincount(label[label >= 0], minlength=count)
    solid: Bools = np.bincount(label[same], minlength=count) >= 0.5 * size
    return solid


def _apart(lab: Float32Array, other: Float32Array) -> Float32Array:
    away = lab - other
    return np.asarray(np.sqrt(np.einsum("...k,...k", away, away)))


def _not_noise(lab: Float32Array, mass: Floats, reach: float, solid: Bools) -> Bools:
    """Which peaks are not the noise of a lossy file round a much larger one."""
    apart = _apart(lab[:, None], lab[None])
    # the smaller the peak beside the larger one, the further away it may be and still be noise
    noise = apart < reach * (1 - mass[:, None] / (0.3 * mass[None]))
    # a patch of its own is none, unless the two are hardly distinguishable
    noise &= ~solid[:, None] | (apart < SHELL)
    own: Bools = np.asarray(~noise.any(axis=1))
    # noise keeps near edges and is little; much of it is a slow change of colour
    return own if mass[~own].sum() < MOST_NOISE * mass.sum() else np.ones_like(own)


def _without_shadows(peaks: _Peaks, covered: int) -> _Peaks:
    """Leave out a little shading, such as a shadow: peaks that do not stand alone."""
    shade = peaks.mass < 0.6 * peaks.around
    if not shade.any() or shade.all() or peaks.mass[shade].sum() > 0.08 * covered:
        return peaks
    label = _renumbered(peaks.label, ~shade)
    return _Peaks(peaks.tones[~shade], peaks.mass[~shade], peaks.around[~shade], label)


def _renumbered(label: Labels, keep: Bools) -> Labels:
    """The labels when only some colours are kept."""
    new = np.append(np.where(keep, np.cumsum(keep) - 1, -1), -1).astype(np.int8)
    return new[label]


def _refined(image: ToneImage, peaks: _Peaks) -> tuple[Float32Array, float]:
    """The mean tones of each peak, and how lossy the file is: the share of pixels that stray."""
    every = max(1, peaks.label.size // 150_000)
    label, pixels = peaks.label.ravel()[::every], image.tones.reshape(-1, 3)[::every]
    pixels, label = pixels[label >= 0].astype(np.float32), label[label >= 0]
    if not len(label):
        return peaks.tones, 0.0
    count = np.bincount(label, minlength=len(peaks.tones))[:, None]
    sums = np.stack([np.bincount(label, c, minlength=len(count)) for c in pixels.T], axis=1)
    tones = np.where(count > 0, sums / np.maximum(count, 1), peaks.tones).astype(np.float32)
    strays = (np.abs(band - own[label]) > 1.5 for band, own in zip(pixels.T, tones.T, strict=True))
    stray = float(np.logical_or.reduce([*strays]).mean())
    if image.denoised:
        return tones, max(stray, 0.01)
    return tones, stray if stray > 0.003 else 0.0


# -- edges ------------------------------------------------------------------------------------


def _edges(image: ToneImage, tones: Float32Array, label: Labels) -> tuple[Labels, Bools]:
    """Give edge pixels the number of one of the two flat colours that they are a mixture of.

    Twice: at wide edges, as of lossy files, the first round brings the colours nearer.

    Returns
    -------
    label, unknown
        The pixels that are no mixture are unknown.
    """
    label = label.copy()
    unknown: Bools = image.cover & (label < 0)
    for _ in range(2):
        if len(tones) and unknown.any():
            _mix(image, tones, label, unknown)
    return label, unknown


def _mix(image: ToneImage, tones: Float32Array, label: Labels, unknown: Bools) -> None:
    """Label, in place, what is a mixture of flat colours beside it."""
    rows, columns = np.nonzero(unknown)
    near = _beside(label, image.radius)[rows, columns]
    pixels = image.tones[rows, columns].astype(np.float32)
    chosen = np.full(len(rows), -1, dtype=np.int8)
    order = np.argsort(near, kind="stable")
    sets, start = np.unique(near[order], return_index=True)
    for bits, here in zip(sets, np.split(order, start[1:]), strict=True):
        number = np.array([k for k in range(len(tones)) if bits >> k & 1], dtype=np.int8)
        if len(number):
            nearest = _mixed(pixels[here], tones[number], OWN * image.width)
            chosen[here] = np.where(nearest >= 0, number[nearest], -1)
    label[rows, columns] = chosen
    unknown[rows, columns] = chosen < 0


def _along(
    colour: Float32Array, one: Float32Array, other: Float32Array
) -> tuple[float, float, float]:
    """How far along the line between two others a colour lies (0..1), how far beside it, and
    how long the line is."""
    line = other - one
    part = float((colour - one) @ line / max(float(line @ line), 1e-9))
    beside = float(np.linalg.norm(colour - one - part * line))
    return part, beside, float(np.linalg.norm(line))


def _beside(label: Labels, radius: int) -> npt.NDArray[np.uint16]:
    """The set of labels within a square about each pixel, as bits."""
    bit = np.left_shift(1, np.maximum(label, 0).astype(np.uint16), dtype=np.uint16)
    bits: npt.NDArray[np.uint16] = np.where(label >= 0, bit, 0).astype(np.uint16)
    for axis in (0, 1):
        reach = 0
        while reach < radius:
            by = min(reach + 1, radius - reach)
            less, more = shifted(axis, by)
            grown = bits.copy()
            grown[less] |= bits[more]
            grown[more] |= bits[less]
            bits, reach = grown, reach + by
    return bits


def _mixed(pixels: Float32Array, near: Float32Array, own: float) -> Ints:
    """Place of the nearer of the two colours that each pixel is a mixture of; -1 for no mixture."""
    apart = np.stack([_apart(pixels, tone) for tone in near], axis=1)
    best, chosen = apart.min(axis=1), apart.argmin(axis=1)
    good = best <= own
    colour, ends = _opponent(pixels), _opponent(near)
    stored, stored_ends = to_stored(pixels), to_stored(near)
    for one in range(len(near)):
        for other in range(one):
            line = near[other] - near[one]
            length = float(np.linalg.norm(line))
            part = np.clip((pixels - near[one]) @ line / max(length**2, 1e-9), 0, 1)
            off = _apart(pixels, near[one] + part[:, None] * line)
            better = off < best
            best[better] = off[better]
            # half of a soft edge is where its opacity is a half: programs mix stored values
            more = (2 * stored - stored_ends[one] - stored_ends[other]) @ (
                stored_ends[other] - stored_ends[one]
            )
            chosen[better] = np.where(more[better] > 0, other, one)
            # lossy files keep lightness sharp and blur the colour: any of either will do
            low, high = np.minimum(ends[one], ends[other]), np.maximum(ends[one], ends[other])
            slack = OWN + 0.1 * (high - low).max()
            inside = ((colour >= low - slack) & (colour <= high + slack)).all(axis=1)
            good |= (off <= own + SLANT * length) | inside
    return np.where(good, chosen, -1)


def _opponent(tones: Float32Array) -> Float32Array:
    """Lightness, red against green, yellow against blue, in tones."""
    red, green, blue = tones[..., 0], tones[..., 1], tones[..., 2]
    light = 0.3 * red + 0.6 * green + 0.1 * blue
    return np.stack([light, red - green, (red + green) / 2 - blue], axis=-1)


# -- thin strokes and dots --------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Thin:
    """Pixels that no flat colour beside them explains.

    Parameters
    ----------
    rows, columns : (n,) int
    pixels : (n, 3) float32
        Tones.
    ground : (n,) int8
        The flat colour they lie on; -1 for none.
    away : (n,) float32
        How far their tones are from the ground.
    far : (h, w) float32
        The same as a picture.
    edge : (n,) bool
        What is partly transparent beside a flat colour: its soft edge, which is no ink of its own.
        Where a ground was taken out, what is left of it there tinges the colour.
    known : int
        How many flat colours there are; colours beyond these are inks of thin lines.
    """

    rows: Ints
    columns: Ints
    pixels: Float32Array
    ground: Labels
    away: Float32Array
    far: Float32Array
    edge: Bools
    known: int

    @classmethod
    def of(cls, image: ToneImage, tones: Float32Array, label: Labels, unknown: Bools) -> _Thin:
        """The unexplained pixels of an image, with what lies about them."""
        rows, columns = np.nonzero(unknown)
        pixels = image.tones[rows, columns].astype(np.float32)
        ground = _ground(label, rows, columns, image.radius)
        away = np.full(len(rows), 255.0, dtype=np.float32)
        on = ground >= 0
        away[on] = _apart(pixels[on], tones[ground[on]])
        far = np.zeros(label.shape, dtype=np.float32)
        far[rows, columns] = away
        beside = _beside(label, image.radius)[rows, columns]
        return cls(
            rows,
            columns,
            pixels,
            ground,
            away,
            far,
            image.soft[rows, columns] & (beside > 0),
            len(tones),
        )

    def around(
        self, picture: npt.NDArray[Any], down: int, across: int, here: Ints | None = None
    ) -> npt.NDArray[Any]:
        """Values of a picture so far from (some of) the pixels; the border is repeated."""
        rows = self.rows if here is None else self.rows[here]
        columns = self.columns if here is None else self.columns[here]
        high, wide = self.far.shape
        return picture[np.clip(rows + down, 0, high - 1), np.clip(columns + across, 0, wide - 1)]

    def furthest(self, image: ToneImage) -> Float32Array:
        """The tones furthest from the ground within two pixels of each."""
        best, tones = self.away.copy(), self.pixels.copy()
        for down, across in _WINDOW:
            away = self.around(self.far, down, across)
            more = away > best
            best[more] = away[more]
            tones[more] = self.around(image.tones, down, across)[more]
        return tones

    def tops(self) -> Bools:
        """Which are nearly as far from the ground as anything beside them."""
        top = np.ones(len(self.rows), dtype=bool)
        for down, across in _EIGHT:
            top &= 0.85 * self.around(self.far, down, across) <= self.away
        return top


def _ground(label: Labels, rows: Ints, columns: Ints, radius: int) -> Labels:
    """The nearest flat colour in one of eight directions, -1 for none within the radius."""
    ground = np.full(len(rows), -1, dtype=np.int8)
    high, wide = label.shape
    todo = np.arange(len(rows))
    for reach in range(1, radius + 1):
        for down, across in _EIGHT:
            row = np.clip(rows[todo] + reach * down, 0, high - 1)
            column = np.clip(columns[todo] + reach * across, 0, wide - 1)
            ground[todo] = label[row, column]
            todo = todo[ground[todo] < 0]
    return ground


def _thin(
    image: ToneImage, tones: Float32Array, label: Labels, unknown: Bools, lossy: float
) -> tuple[Float32Array, Labels, Bools]:
    """Find the colours of what is too thin to have a uniform pixel, and label it."""
    thin = _Thin.of(image, tones, label, unknown)
    tones = _inks(image, thin, tones, lossy)
    furthest = thin.furthest(image)
    while True:
        chosen = _traced(image, thin, furthest, tones)
        drop = _not_an_ink(image, thin, tones, chosen, lossy)
        if drop is None:
            break
        tones = np.delete(tones, drop, axis=0)
    label, unknown = label.copy(), unknown.copy()
    unknown[thin.rows, thin.columns] = (chosen < 0) & ~thin.edge
    # a soft edge may be tinged towards a flat colour that is nowhere near
    tinged = thin.edge & (chosen < thin.known)
    chosen = np.where(tinged | (chosen < 0), thin.ground, chosen)
    lost = chosen < 0
    if len(tones) and lost.any():
        chosen[lost] = nearest_label(from_tones(thin.pixels[lost]), linear_lab(from_tones(tones)))
    label[thin.rows, thin.columns] = chosen
    return tones, label, unknown


def _inks(image: ToneImage, thin: _Thin, tones: Float32Array, lossy: float) -> Float32Array:
    """Append the colours that the unexplained pixels seem to be mixtures of with their ground."""
    top = thin.tops() & ~thin.edge
    for tone in tones:
        top &= _apart(thin.pixels, tone) >= OWN
    least = max(1.0, LEAST_SHARE * np.count_nonzero(image.cover))
    for _ in range(2 * MOST_COLOURS):
        if len(tones) == MOST_COLOURS or np.count_nonzero(top) < least:
            break
        index = np.flatnonzero(top)
        crowd, ink = _crowd(image.tones[thin.rows[index], thin.columns[index]])
        crowd = index[crowd]
        ground = int(np.bincount(thin.ground[crowd] + 1).argmax()) - 1
        ray = crowd
        if ground >= 0:
            same = index[thin.ground[index] == ground]
            line = ink - tones[ground]
            length = float(np.linalg.norm(line))
            part = (thin.pixels[same] - tones[ground]) @ line / max(length**2, 1e-9)
            off = _apart(thin.pixels[same], tones[ground] + part[:, None] * line)
            on = (off < OWN * image.width + SLANT * part * length) & (part > 0.3)
            ray, part = same[on], part[on]
            if len(ray):
                # most pixels of a thin line are mixtures: its ink is the far end
                ink = thin.pixels[ray[part >= 0.93 * np.quantile(part, 0.9)]].mean(axis=0)
        top[crowd] = top[ray] = False
        if _is_new(image, ink, tones, lossy):
            tones = np.concatenate([tones, ink[None]])
    return tones


def _crowd(tones: Bytes) -> tuple[Ints, Float32Array]:
    """The pixels near the commonest of these tones, and their mean."""
    middle, count, place = _histogram(tones)
    lab = linear_lab(from_tones(middle))
    often = np.argsort(-count, kind="stable")[:200]
    near = _apart(lab[often, None], lab[None]) <= 2 * CORE
    best = near[np.argmax(near @ count)]
    return np.flatnonzero(best[place]), np.average(middle[best], axis=0, weights=count[best])


def _is_new(image: ToneImage, ink: Float32Array, tones: Float32Array, lossy: float) -> bool:
    """Whether an ink is further from all known colours than the noise of the file."""
    noisy = image.width if image.denoised else 1 + min(1.0, 8 * lossy)
    apart = _apart(linear_lab(from_tones(tones)), linear_lab(from_tones(ink)))
    return bool(apart.min(initial=np.inf) >= NOISE * noisy)


def _traced(image: ToneImage, thin: _Thin, furthest: Float32Array, tones: Float32Array) -> Labels:
    """The ink or the ground of each pixel; -1 if it is no mixture of its ground and a colour.

    The furthest pixel beside it tells which ink; a stroke is drawn as wide as there is ink,
    though that may be spread.
    """
    chosen = np.full(len(thin.rows), -1, dtype=np.int8)
    best = np.full(len(thin.rows), np.inf)
    for number, tone in enumerate(tones):
        start = np.where((thin.ground >= 0)[:, None], tones[thin.ground], tone)
        line = tone - start
        square = (line * line).sum(axis=1)
        length = np.sqrt(square)

        def part(
            pixels: Float32Array,
            start: Float32Array = start,
            line: Float32Array = line,
            square: Float32Array = square,
        ) -> Float32Array:
            along = ((pixels - start) * line).sum(axis=1) / np.maximum(square, 1)
            return np.where(square > 1, along, 1)

        here, top = part(thin.pixels), part(furthest)
        off = _apart(thin.pixels, start + np.clip(here, 0, 1)[:, None] * line)
        cost = off + 0.25 * np.abs(1 - top) * length
        good = (cost < best) & (off < OWN * image.width + SLANT * length)
        best[good] = cost[good]
        chosen[good] = np.where(here > stroke_height(top), number, thin.ground)[good]
    return chosen


def _not_an_ink(
    image: ToneImage,
    thin: _Thin,
    tones: Float32Array,
    chosen: Labels,
    lossy: float,
) -> int | None:
    """The number of an ink that is too small, mere specks or a fringe; None if all are good."""
    size = np.bincount(chosen[chosen >= 0], minlength=len(tones))
    least = LEAST_SHARE * np.count_nonzero(image.cover)
    inks = np.arange(thin.known, len(tones))
    small = inks[size[inks] < least]
    if not len(small) and lossy:
        small = np.array([k for k in inks if _specks(thin, chosen, int(k))], dtype=np.intp)
    if len(small):
        return int(small[np.argmin(size[small])])
    for ink in inks:
        if _is_fringe(thin, tones, chosen, int(ink)):
            return int(ink)
    return None


def _specks(thin: _Thin, chosen: Labels, ink: int) -> bool:
    """Whether an ink is seen here and there only, as the noise of lossy files is."""
    mine = np.flatnonzero(chosen == ink)
    seen = np.zeros(thin.far.shape, dtype=np.int8)
    seen[thin.rows[mine], thin.columns[mine]] = 1
    alike = sum(thin.around(seen, down, across, mine) for down, across in _EIGHT)
    return bool((np.asarray(alike) >= 3).mean() < 0.5)


def _is_fringe(thin: _Thin, tones: Float32Array, chosen: Labels, ink: int) -> bool:
    """Whether an ink is but a lighter mixture of another colour with the ground."""
    mine = np.flatnonzero(chosen == ink)
    grounds = np.bincount(thin.ground[mine] + 1, minlength=len(tones) + 1)[1:]
    for other in range(len(tones)):
        for ground in np.flatnonzero(grounds >= 0.3 * len(mine)):
            if ink in (other, ground) or other == ground:
                continue
            part, off, length = _along(tones[ink], tones[ground], tones[other])
            if 0.3 < part < 1 and off < OWN + 0.04 * length:
                return True
    return False


# -- the nearest of a few colours --------------------------------------------------------------


def nearest_label(linear: Float32Array, lab: Float32Array) -> Ints:
    """Return the nearest of a few Lab colours (k, 3) for every pixel (..., 3)."""
    ours = linear_lab(linear)
    best = np.full(ours.shape[:-1], np.inf, dtype=np.float32)
    label = np.zeros(ours.shape[:-1], dtype=np.intp)
    for number, colour in enumerate(lab):
        apart = ((ours - colour) ** 2).sum(axis=-1)
        nearer = apart < best
        best[nearer] = apart[nearer]
        label[nearer] = number
    return label


def labels_for_beads(picture: Picture, reading: Reading) -> tuple[Labels, int]:
    """Return a label of every pixel, whatever the kind, and how many go into one of the planes'.

    The maker may call flat what is not; then every pixel has the nearest of the colours found.
    """
    if reading.found.kind == "flat":
        return reading.label, reading.step
    cover = picture.alpha >= 0.5
    label = nearest_label(picture.linear, reading.found.lab)
    return np.where(cover, label, -1).astype(np.int8), label_step(picture)
