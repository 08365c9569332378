"""What colours a sketch has, and which beads may stand for its parts.

A *flat* sketch is made of a few plain colours; its anti-aliased edges are not colours of their
own. Every pixel of it gets the number of its plain colour, so that a bead's cell is a set of
shares, and only the beads that the plain colours map to are ever used. A *shaded* picture has no
such colours; a bead's cell is a mean in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from ..palette.match import nearest
from .likeness import linear_lab
from .sampling import Source, coloured_planes

if TYPE_CHECKING:
    from ..palette.palette import Palette
    from .picture import Picture

Kind = Literal["flat", "shaded"]
Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]

MOST_COLOURS = 12
"""More plain colours than this are shades."""

LEAST_SHARE = 0.002
"""A plain colour covers at least this much of the sketch."""

CORE, SHELL = 3.0, 6.0
"""Pixels within CORE (Lab) of a plain colour are that colour; in a flat sketch few lie between
CORE and SHELL, in shades as many per unit as nearer."""

NOISE = 14.0
"""Lossy files put small peaks as far as this (Lab) from a large one."""

PLAIN_STEP = 0.03
"""Neighbouring pixels of one plain colour differ by less, in square roots of linear light."""

LOOK_PX = 480
"""The longest side of the picture as it is looked at for plain colours."""

SMALL_PX = 150
"""In smaller pictures every pixel counts, in larger ones only those like their neighbours."""


@dataclass(frozen=True, eq=False)
class PlainColours:
    """The plain colours of a sketch.

    Parameters
    ----------
    linear : (k, 3) float32
        Most frequent first.
    share : (k,) float
        Of the covered pixels that are plain.
    kind : 'flat' or 'shaded'
        What the picture is by them.
    """

    linear: Singles
    share: Floats
    kind: Kind

    @cached_property
    def lab(self) -> Singles:
        """CIE Lab, (k, 3)."""
        return linear_lab(self.linear)


@dataclass(frozen=True, eq=False)
class _Look:
    """A picture thinned out, with each pixel's likeness to its neighbours in the original."""

    linear: Singles
    cover: Bools
    plain: Bools
    step: int

    @classmethod
    def at(cls, picture: Picture) -> _Look:
        high, wide = picture.alpha.shape
        step = max(1, -(-max(high, wide) // LOOK_PX))
        rows, columns = np.arange(step // 2, high, step), np.arange(step // 2, wide, step)

        def taken(down: int, across: int) -> Singles:
            row = np.clip(rows + down, 0, high - 1)
            column = np.clip(columns + across, 0, wide - 1)
            seen = picture.linear[row[:, None], column] * picture.alpha[row[:, None], column, None]
            return np.asarray(np.sqrt(seen))

        here = taken(0, 0)
        cover = picture.alpha[rows[:, None], columns] >= 0.5
        plain = cover.copy()
        if max(high, wide) >= SMALL_PX:
            for down, across in ((0, 1), (1, 0), (0, -1), (-1, 0)):
                plain &= np.abs(taken(down, across) - here).max(axis=-1) < PLAIN_STEP
        return cls(picture.linear[rows[:, None], columns], cover, plain, step)


def plain_colours(picture: Picture) -> PlainColours:
    """Find the plain colours of a picture: isolated peaks of its histogram in Lab."""
    return _plain_colours(_Look.at(picture))


def _plain_colours(look: _Look) -> PlainColours:
    pixels = look.linear[look.plain]
    covered = int(look.cover.sum())
    if not len(pixels):
        kind: Kind = "shaded" if covered else "flat"
        return PlainColours(np.empty((0, 3), dtype=np.float32), np.empty(0), kind)
    total, count = _histogram(pixels)
    light, lab = total, linear_lab(total)
    left = count.astype(np.float64)
    peaks: list[Singles] = []
    core: list[float] = []
    shell: list[float] = []
    while len(peaks) < MOST_COLOURS:
        best = int(np.argmax(left))
        apart = np.sqrt(((lab - lab[best]) ** 2).sum(axis=1))
        near = (apart <= CORE) & (left > 0)
        mass = float(left[near].sum())
        if mass < LEAST_SHARE * covered:
            break
        peaks.append(np.average(light[near], axis=0, weights=left[near]).astype(np.float32))
        core.append(mass)
        shell.append(float(count[apart <= SHELL].sum()))
        left[near] = 0
    if not peaks:
        return PlainColours(np.empty((0, 3), dtype=np.float32), np.empty(0), "shaded")
    order = np.argsort(-np.array(core), kind="stable")
    mass_of, around, peak = np.array(core)[order], np.array(shell)[order], np.array(peaks)[order]
    own = _not_noise(linear_lab(peak), mass_of)
    kind = _kind(mass_of, np.where(own, around, mass_of), len(pixels), covered)
    found = PlainColours(peak[own], mass_of[own] / len(pixels), kind)
    return _without_edges(found, look) if kind == "flat" else found


def _not_noise(lab: Singles, mass: Floats) -> Bools:
    """Which peaks are not the noise of a lossy file round a much larger one."""
    apart = np.sqrt(((lab[:, None] - lab[None]) ** 2).sum(axis=-1))
    # the smaller the peak beside the larger one, the further away it may be and still be noise
    noise = apart < NOISE * (1 - mass[:, None] / (0.3 * mass[None]))
    own: Bools = ~noise.any(axis=1)
    # noise keeps near edges and is little; much of it is a slow change of colour
    return own if mass[~own].sum() < 0.08 * mass.sum() else np.ones_like(own)


def _histogram(pixels: Singles) -> tuple[Singles, Ints]:
    """Mean linear light and number of pixels of each filled bin of 2 x 2 x 2 Lab units."""
    from_zero = linear_lab(pixels) / 2 + np.array([0, 64, 64], dtype=np.float32)
    bins = np.clip(from_zero, 0, 127).astype(np.intp)
    key = (bins[:, 0] * 128 + bins[:, 1]) * 128 + bins[:, 2]
    count = np.bincount(key)
    filled = np.flatnonzero(count)
    sums = [np.bincount(key, pixels[:, c])[filled] for c in range(3)]
    return (np.stack(sums, axis=1) / count[filled, None]).astype(np.float32), count[filled]


def _kind(core: Floats, shell: Floats, plain: int, covered: int) -> Kind:
    """Flat if the plain pixels are many, and nearly all in few peaks that stand alone.

    The largest colour is mostly the ground, so the others must pass for themselves.
    """
    others = plain - core[0]
    few = core.sum() >= 0.92 * plain and core[1:].sum() >= 0.8 * others
    alone = len(core) == 1 or core[1:].sum() >= 0.6 * np.minimum(shell[1:], plain).sum()
    return "flat" if few and alone and plain >= 0.4 * covered else "shaded"


def _without_edges(found: PlainColours, look: _Look) -> PlainColours:
    """Leave out colours that are only the mixture along the edge of two larger ones."""
    keep = np.ones(len(found.linear), dtype=bool)
    label = np.where(look.plain, nearest_label(look.linear, found.lab), -1)
    for colour in range(2, len(keep)):
        if found.share[colour] > 0.04:
            continue
        here = label == colour
        for one in range(colour):
            for other in range(one):
                if not (keep[one] and keep[other]) or not _between(
                    found.linear[colour], found.linear[one], found.linear[other]
                ):
                    continue
                both = _near(label == one) & _near(label == other)
                if (both & here).sum() > 0.7 * here.sum():
                    keep[colour] = False
    return PlainColours(found.linear[keep], found.share[keep], found.kind)


def _between(middle: Singles, one: Singles, other: Singles) -> bool:
    """Whether a colour lies on the line between two others, in linear light."""
    line = other - one
    part = float((middle - one) @ line / max(float(line @ line), 1e-9))
    return 0.05 < part < 0.95 and float(np.abs(one + part * line - middle).max()) < 0.04


def _near(mask: Bools) -> Bools:
    """The mask, grown by two pixels in every direction."""
    for axis in (0, 1):
        grown = mask.copy()
        for step in (1, 2):
            before = [slice(None)] * 2
            after = [slice(None)] * 2
            before[axis], after[axis] = slice(None, -step), slice(step, None)
            grown[tuple(after)] |= mask[tuple(before)]
            grown[tuple(before)] |= mask[tuple(after)]
        mask = grown
    return mask


def nearest_label(linear: Singles, lab: Singles) -> Ints:
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


# -- the sketch as the search sees it ----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Sketch:
    """A picture made ready to be laid on the braid.

    Parameters
    ----------
    kind : 'flat' or 'shaded'
    source : Source
        Planes: red, green, blue times alpha, alpha, then for a flat sketch the share of each of
        its plain colours.
    colours : PlainColours
        Those of a flat sketch; none for a shaded one.
    """

    kind: Kind
    source: Source
    colours: PlainColours


@lru_cache(maxsize=4)
def read_sketch(picture: Picture, kind: Kind | None = None) -> Sketch:
    """Look at a picture: is it flat, and which part has which plain colour?

    What was found is kept: one picture is placed many times while a maker tries where it goes.

    Parameters
    ----------
    picture : Picture
    kind : 'flat' or 'shaded', optional
        The maker's own word.
    """
    look = _Look.at(picture)
    found = _plain_colours(look)
    chosen = kind or found.kind
    if chosen == "shaded":
        source = Source(coloured_planes(picture), picture.scale)
        return Sketch("shaded", source, PlainColours(found.linear[:0], found.share[:0], "shaded"))
    if kind == "flat" and not len(found.linear) and look.cover.any():
        mean = look.linear[look.cover].mean(axis=0, keepdims=True)
        found = PlainColours(mean, np.ones(1), "flat")
    label = _label(look, found)
    high, wide = label.shape
    planes = np.zeros((high, wide, 4 + len(found.linear)), dtype=np.float32)
    planes[..., :3] = look.linear * look.cover[..., None]
    planes[..., 3] = look.cover
    for number in range(len(found.linear)):
        planes[..., 4 + number] = label == number
    return Sketch("flat", Source(planes, picture.scale / look.step), found)


def _label(look: _Look, found: PlainColours) -> Ints:
    """Number of the plain colour of each pixel; -1 where nothing is drawn.

    Edge pixels take the number of a plain neighbour, the one most like them: on their own, the
    mixture of two colours may look like a third.
    """
    if not len(found.linear):
        return np.full(look.cover.shape, -1, dtype=np.intp)
    alone = nearest_label(look.linear, found.lab)
    apart = np.sqrt(((linear_lab(look.linear) - found.lab[alone]) ** 2).sum(axis=-1))
    label = np.where(look.plain & (apart < 2 * SHELL), alone, -1)
    light, tones = np.sqrt(look.linear), np.sqrt(found.linear)
    for _ in range(4):
        rows, columns = np.nonzero((label < 0) & look.cover)
        if not len(rows):
            break
        best = np.full(len(rows), np.inf)
        chosen = np.full(len(rows), -1, dtype=np.intp)
        for down, across in ((0, 1), (1, 0), (0, -1), (-1, 0)):
            other = label[
                np.clip(rows + down, 0, label.shape[0] - 1),
                np.clip(columns + across, 0, label.shape[1] - 1),
            ]
            far = np.abs(light[rows, columns] - tones[other]).max(axis=-1)
            nearer = (other >= 0) & (far < best)
            best[nearer], chosen[nearer] = far[nearer], other[nearer]
        label[rows, columns] = chosen
    return np.where(look.cover, np.where(label < 0, alone, label), -1)


# -- beads for colours -------------------------------------------------------------------------


def match_linear(linear: Floats | Singles, palette: Palette) -> Ints:
    """Return the nearest bead of the palette for linear colours (k, 3)."""
    return nearest(linear_lab(np.asarray(linear, dtype=np.float32)), palette).bead


def cell_sums(owner: Ints, planes: Singles, beads: int) -> Floats:
    """Return the sum of each plane over each bead's cell, (beads, k)."""
    flat = owner.ravel()
    return np.stack(
        [
            np.bincount(flat, planes[..., k].ravel(), minlength=beads)
            for k in range(planes.shape[-1])
        ],
        axis=1,
    )


def cell_means(owner: Ints, planes: Singles, beads: int) -> Floats:
    """Return the mean of each plane over each bead's cell, (beads, k)."""
    count = np.maximum(np.bincount(owner.ravel(), minlength=beads), 1)
    means: Floats = cell_sums(owner, planes, beads) / count[:, None]
    return means
