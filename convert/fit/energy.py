"""What beads keep of a flat sketch, and what they get wrong: the energy of a colouring.

    E = Σ salience_f · (1 - kept_f) + AREA_WEIGHT · wrong area / drawn area

`kept_f` is the share of a feature's axis that lies under the largest connected run of beads of its
colour; ground of an enclosed opening must not run out of it. Were it not for "connected", every
bead could be given its best colour by itself; that is how a colouring begins, for many places at
once. Where it is improved bead by bead, what it looks like from afar stands for the wrong area; see
`himotif.convert.fit.afar`.
"""

from __future__ import annotations

from copy import copy
from dataclasses import dataclass
from functools import cached_property
from itertools import groupby
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from ...core.arrays import Float32Array, Floats, Ints
from ...core.groups import linked_groups
from .afar import AFAR_WEIGHT, Afar
from .cells import between, cell_means_everywhere
from .features import Feature, count_things, groups_of, pixels_of
from .legibility import LOST
from .patch import Patch
from .symmetry import UNLIKE

PEN_PITCHES, THIN_PITCHES = 0.5, 0.35
"""Strokes thinner than the second, in bead pitches, would fill the better half of no cell that they
cross: they are drawn as broad as the first. With a quarter less and more of the first 5 and 4 of 20
fits change, of the second 3 and 2, of 37 labelled conversions no verdict; these figures and those
below: `tests/benchmarks/tuning_table.txt`."""

BEAD_STROKE_PITCHES = 0.6
"""A stroke as wide as this, in bead pitches, fills the row of beads that stands for it, taken along
its axis with the spurs to its corners; a thinner one does not count for less. With a quarter less 1
fewer of 37 verdicts is as the label says, with a quarter more 2 more, with four times as much 9
fewer."""

SUBPIXELS = 2
"""Points taken across a pixel of the patch, in each direction. With 1, 3 and 8 points 6, 2
and 3 of 20 fits change, no verdict of 37."""

AREA_WEIGHT = 0.75
"""Weight of wrong area as large as all that is drawn, beside losing all features, 1. With a
quarter less 2 fewer of 37 verdicts are as the label says, with a quarter more 1 more; with a
quarter of it and with four times as much 4 and 3 fewer."""

GROUND_WEIGHT = 0.7
"""Weight of ground in a cell: a cell little more than half ground goes to the motif. With a
quarter less and more 3 and 5 of 20 fits change, no verdict of 37."""


@dataclass(frozen=True)
class Size:
    """How large a motif is worked, and how it is turned.

    Parameters
    ----------
    width_mm : float
        What the width of the motif's frame, as drawn, comes to across the braid.
    stretch : float
        How many times as long along the braid as across, after it is turned.
    turn_deg : float
        Clockwise as seen.
    fit : 'wrap' or 'face'
    """

    width_mm: float
    stretch: float = 1.0
    turn_deg: float = 0.0
    fit: Literal["wrap", "face"] = "wrap"


@dataclass(frozen=True, eq=False)
class FlatSketch:
    """A flat sketch, ready to be laid on the braid at any size.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel, cut to the motif's frame.
    ground : int
        The number of the ground.
    features : tuple of Feature
    turns_deg : tuple of float
        Turns, clockwise, after which it looks as it did; 0 first.
    """

    labels: Ints
    ground: int
    features: tuple[Feature, ...]
    turns_deg: tuple[float, ...] = (0.0,)

    @property
    def aspect(self) -> float:
        """Height over width, as drawn."""
        high, wide = self.labels.shape
        return float(high / wide)

    @cached_property
    def outline(self) -> Floats:
        """Corners of its convex hull, (n, 2): right and down from its middle, in its widths."""
        from scipy.spatial import ConvexHull

        drawn = self.labels != self.ground
        row = np.flatnonzero(drawn.any(axis=1))
        first = drawn[row].argmax(axis=1)
        last = drawn.shape[1] - drawn[row, ::-1].argmax(axis=1)
        corners = np.concatenate(
            [np.stack([column, row + j], axis=1) for column in (first, last) for j in (0, 1)]
        )
        hull = corners[ConvexHull(corners).vertices].astype(np.float64)
        high, wide = self.labels.shape
        return np.asarray((hull - [wide / 2, high / 2]) / wide)

    @cached_property
    def half_turn(self) -> bool:
        """Whether it looks the same upside down."""
        drawn = int(np.count_nonzero(self.labels != self.ground))
        unlike = int(np.count_nonzero(self.labels != self.labels[::-1, ::-1]))
        return unlike < UNLIKE * drawn

    @cached_property
    def things(self) -> float:
        """How many things it shows; see `count_things`."""
        return count_things(self.labels, self.ground)

    @cached_property
    def groups(self) -> Ints:
        """The group that each feature belongs to; see `groups_of`."""
        return groups_of(self.features, self.labels, self.ground)

    @cached_property
    def inks(self) -> Ints:
        """The numbers of its colours; the ground is among them."""
        return np.union1d(self.labels.ravel(), [self.ground])


def extent_mm(sketch: FlatSketch, size: Size) -> tuple[float, float]:
    """Return how far a motif reaches across and along the braid."""
    across, along = np.ptp(turned(sketch.outline, size.turn_deg), axis=0) * size.width_mm
    return float(across), float(along) * size.stretch


def turned(points: Floats, turn_deg: float) -> Floats:
    """Return points (n, 2) right and down, turned clockwise."""
    turn = np.deg2rad(turn_deg)
    matrix = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    return np.asarray(points @ matrix)


class Overlay:
    """A sketch at one size over a patch of the lattice, for all places at once.

    Parameters
    ----------
    sketch : FlatSketch
    size : Size
    patch : Patch
        Higher than the motif by a bead on either side at least.
    offsets_mm : (k, 2) float
        Where the motif's middle lies: right of and above the seed.

    Attributes
    ----------
    planes : (inks, H, W) float32
        Share of each ink in each pixel of the patch, the motif's middle in the middle.
    shares : (k, beads, inks) float
        What fills each bead's cell at each place.
    axis : (k, features, beads) float
        Share of each feature's axis that lies over each bead.
    over : three of (n,) int
        Place, feature and bead wherever there is such a share.
    """

    def __init__(
        self,
        sketch: FlatSketch,
        size: Size,
        patch: Patch,
        offsets_mm: Floats,
    ) -> None:
        self.sketch, self.size, self.patch, self.offsets_mm = sketch, size, patch, offsets_mm
        self.inks = sketch.inks
        self.ground = int(np.searchsorted(self.inks, sketch.ground))
        self.ink_of = np.searchsorted(self.inks, [f.ink for f in sketch.features])
        self.salience = np.array([f.salience for f in sketch.features])
        self.closed = np.array([f.closed for f in sketch.features], dtype=bool)
        self.planes = self._planes()
        self.shares = self.over_beads(
            cell_means_everywhere(self.planes, patch.lattice, self.patch.px_per_mm)
        )
        self.axis = self._axis()
        self.over = np.nonzero(self.axis)
        self.drawn_beads = self._drawn_beads()

    def at(self, place: int) -> Overlay:
        """Return the same at one of the places alone."""
        one = copy(self)
        one.offsets_mm = self.offsets_mm[place : place + 1]
        one.shares, one.axis = self.shares[place : place + 1], self.axis[place : place + 1]
        one.over = np.nonzero(one.axis)
        one.afar = self.afar.at(place)
        return one

    @cached_property
    def afar(self) -> Afar:
        """What it looks like from afar at each of the places."""
        planes = self.planes.copy()
        planes[self.ground] = 0
        return Afar.of(planes, self.patch, self.over_beads)

    # -- the sketch in millimetres -------------------------------------------------------------

    def to_sketch(self, right: Floats, up: Floats) -> tuple[Floats, Floats]:
        """Places on the unrolled braid as right and down in widths of the motif."""
        size = self.size
        if size.fit == "face":
            radius = self.patch.lattice.radius_mm
            right = np.where(
                np.abs(right) <= np.pi / 2 * radius, radius * np.sin(right / radius), 1e6
            )
        turn = np.deg2rad(size.turn_deg)
        down = -up / size.stretch
        a = np.cos(turn) * right + np.sin(turn) * down
        b = -np.sin(turn) * right + np.cos(turn) * down
        return a / size.width_mm, b / size.width_mm

    def from_sketch(self, points: Floats) -> Floats:
        """Points right and down in widths of the motif as places (n, 2) on the unrolled braid."""
        size = self.size
        right, down = (turned(points, size.turn_deg) * size.width_mm).T
        if size.fit == "face":
            radius = self.patch.lattice.radius_mm
            right = radius * np.arcsin(np.clip(right / radius, -1, 1))
        return np.stack([right, -down * size.stretch], axis=1)

    def _drawn_labels(self) -> Ints:
        """The sketch with strokes too thin for a row of beads drawn with a broader pen."""
        from scipy import ndimage

        labels = self.sketch.labels
        pitch = self.patch.lattice.pitch_mm / self.size.width_mm
        pen = PEN_PITCHES * pitch
        thin = [
            f
            for f in self.sketch.features
            if f.kind == "stroke" and f.area < THIN_PITCHES * pitch * f.length
        ]
        for ink, strokes in groupby(sorted(thin, key=lambda f: f.area), key=lambda f: f.ink):
            axis = np.concatenate([stroke.axis for stroke in strokes])
            away = np.ones(labels.shape, dtype=bool)
            away[pixels_of(axis, labels)] = False
            near = ndimage.distance_transform_edt(away) <= pen / 2 * labels.shape[1]
            labels = np.where(near, ink, labels)
        return labels

    def _drawn_beads(self) -> float:
        """How many beads stand for what is drawn."""
        stroke = BEAD_STROKE_PITCHES * self.patch.lattice.pitch_mm / self.size.width_mm
        areas = [
            max(f.area, f.length * stroke if f.kind == "stroke" else 0.0)
            for f in self.sketch.features
            if f.kind != "opening"
        ]
        return max(sum(areas) / self._bead_area, 1e-9)

    @property
    def _bead_area(self) -> float:
        """Of a bead's cell, in squares of the motif's width."""
        size = self.size
        return self.patch.lattice.cell_area_mm2 / (size.width_mm**2 * size.stretch)

    @property
    def broader(self) -> float:
        """How many times as much area as is drawn its beads take, 1 or more: strokes are rows."""
        area = sum(f.area for f in self.sketch.features if f.kind != "opening")
        return self.drawn_beads * self._bead_area / max(area, 1e-9)

    # -- what lies where -----------------------------------------------------------------------

    def over_beads(self, planes: Float32Array) -> Float32Array:
        """Return planes (p, H, W) at the middles of the beads at each place, (k, beads, p)."""
        high, wide = planes.shape[1:]
        x = self.patch.x_mm - self.offsets_mm[:, :1]
        y = self.patch.y_mm - self.offsets_mm[:, 1:]
        column = (x / self.patch.lattice.circumference_mm + 0.5) * wide - 0.5
        row = high / 2 - y * self.patch.px_per_mm - 0.5
        return np.asarray(between(planes, row, column).transpose(1, 2, 0))

    def _planes(self) -> Float32Array:
        lattice, px_per_mm = self.patch.lattice, self.patch.px_per_mm
        wide = max(8, round(lattice.circumference_mm * px_per_mm))
        reach = float(self.patch.y_mm[-1]) + 2 * lattice.covering_radius_mm
        half = int(np.ceil(reach * px_per_mm))
        across = (np.arange(wide * SUBPIXELS) + 0.5) / (wide * SUBPIXELS) - 0.5
        along = half - (np.arange(2 * half * SUBPIXELS) + 0.5) / SUBPIXELS
        ink = self._inks_at(
            *self.to_sketch(
                (across * lattice.circumference_mm)[None, :], (along / px_per_mm)[:, None]
            )
        )
        shape = 2 * half, SUBPIXELS, wide, SUBPIXELS
        return np.stack(
            [
                (ink == number).reshape(shape).mean(axis=(1, 3), dtype=np.float32)
                for number in self.inks
            ]
        )

    def _inks_at(self, a: Floats, b: Floats) -> Ints:
        """The ink at points of the sketch, right and down in widths of the motif."""
        labels = self._drawn_labels()
        high, wide = labels.shape
        inside = (np.abs(a) < 0.5) & (np.abs(b) < 0.5 * self.sketch.aspect)
        column = np.clip(np.where(inside, (a + 0.5) * wide, 0).astype(np.intp), 0, wide - 1)
        row = np.clip(
            np.where(inside, (b / self.sketch.aspect + 0.5) * high, 0).astype(np.intp), 0, high - 1
        )
        return np.where(inside, labels[row, column], self.sketch.ground)

    def owners(self, points: Floats) -> Ints:
        """Return the bead over each point (n, 2), right and down in widths, at the first place."""
        where = self.from_sketch(points)[None] + self.offsets_mm[:1, None]
        found: Ints = self.patch.owner_map.at(where)[0]
        return found

    def _axis(self) -> Floats:
        patch, features = self.patch, self.sketch.features
        places, beads = len(self.offsets_mm), len(patch)
        points = np.concatenate([self.from_sketch(f.axis) for f in features])
        which = np.repeat(np.arange(len(features)), [len(f.axis) for f in features])
        weight = np.concatenate([f.weight for f in features])
        owner = patch.owner_map.at(points[None] + self.offsets_mm[:, None])
        key = (np.arange(places)[:, None] * len(features) + which) * beads + owner
        length = np.bincount(
            key.ravel(), np.tile(weight, places), minlength=places * len(features) * beads
        )
        return np.asarray(length.reshape(places, len(features), beads), dtype=np.float64)

    # -- colourings ----------------------------------------------------------------------------

    @staticmethod
    def _of_place(values: npt.NDArray[Any], count: int) -> npt.NDArray[Any]:
        """Values (k, ...) for so many colourings: one of each place, or many of the only one."""
        return np.broadcast_to(values, (count, *values.shape[1:]))

    def merit(self) -> Floats:
        """Return what each bead adds with each ink, (k, beads, inks), if runs did not count."""
        weight = np.ones(len(self.inks))
        weight[self.ground] = GROUND_WEIGHT
        merit = self.shares * (AREA_WEIGHT * weight / self.drawn_beads)
        for number in range(len(self.inks)):
            mine = self.ink_of == number
            merit[..., number] += np.tensordot(self.axis[:, mine], self.salience[mine], (1, 0))
        return np.asarray(merit)

    def first_colours(self) -> Ints:
        """Return the best colour of each bead by itself, (k, beads)."""
        return np.asarray(np.argmax(self.merit(), axis=-1))

    def kept(self, colours: Ints) -> Floats:
        """Return the share of each feature's axis kept, (k, features), by colours (k, beads)."""
        runs = connected_runs(colours, self.patch.neighbours)
        place, feature, bead = self.over
        if len(self.axis) == 1:  # many colourings of the one place
            which, at = np.nonzero(colours[:, bead] == self.ink_of[feature])
        else:
            at = np.flatnonzero(colours[place, bead] == self.ink_of[feature])
            which = place[at]
        place, feature, bead = place[at], feature[at], bead[at]
        run = runs[which, bead]
        # the patch begins and ends with ground that lies outside
        outside = (run == runs[which, 0]) | (run == runs[which, -1])
        length = np.where(outside & self.closed[feature], 0.0, self.axis[place, feature, bead])
        shape = len(colours), len(self.closed), len(self.patch)
        key = (which * shape[1] + feature) * shape[2] + run
        return np.asarray(
            np.bincount(key, length, minlength=int(np.prod(shape))).reshape(shape).max(axis=-1)
        )

    def apart(self, colours: Ints) -> float:
        """Return how much of what lies apart in the sketch is still seen by itself, 0..1.

        Of groups whose main parts have run together in colours (beads,) only the one that matters
        most counts, and none whose main part is lost: five fish that are one blob are a fifth.
        """
        runs = connected_runs(colours[None], self.patch.neighbours)[0]
        own: dict[int, float] = {}
        whole = 0.0
        for group in np.unique(self.sketch.groups[self.sketch.groups > 0]):
            parts = np.flatnonzero(self.sketch.groups == group)
            matters = float(self.salience[parts].sum())
            main = parts[self.salience[parts].argmax()]
            shown = np.bincount(runs, self.axis[0, main] * (colours == self.ink_of[main]))
            run = int(shown.argmax())
            if shown[run] >= LOST:
                own[run] = max(own.get(run, 0.0), matters)
            whole += matters
        return sum(own.values()) / max(whole, 1e-12)

    def reach_mm(self, colours: Ints) -> Floats:
        """Return how far apart round the braid the outermost beads of colours (k, beads) lie."""
        around = self.patch.lattice.circumference_mm
        right = self.patch.x_mm - self.offsets_mm[:, :1]
        right = right - around * np.rint(right / around)
        drawn = colours != self.ground
        most = np.where(drawn, right, -np.inf).max(axis=1)
        least = np.where(drawn, right, np.inf).min(axis=1)
        return np.asarray(np.where(drawn.any(axis=1), most - least, 0.0))

    def wrong_area(self, colours: Ints) -> Floats:
        """Return the area that has another colour in the beads, (k,), in what is drawn."""
        shares = self._of_place(self.shares, len(colours))
        right = np.take_along_axis(shares, colours[..., None], axis=-1)[..., 0]
        return np.asarray((1 - right).sum(axis=1) / self.drawn_beads)

    def energy(self, colours: Ints) -> Floats:
        """Return E of colours (k, beads), (k,)."""
        lost = (1 - self.kept(colours)) @ self.salience
        return np.asarray(lost + AREA_WEIGHT * self.wrong_area(colours))

    def energy_afar(self, colours: Ints) -> Floats:
        """Return E of colours (k, beads), (k,), by what they look like from afar."""
        lost = (1 - self.kept(colours)) @ self.salience
        return np.asarray(lost + AFAR_WEIGHT * self.afar.unlike(colours))


def connected_runs(colours: Ints, neighbours: Ints) -> Ints:
    """Return the number of the connected run of one colour that each bead belongs to.

    Parameters
    ----------
    colours : (k, beads) int
    neighbours : (beads, n) int
        -1 is none.

    Returns
    -------
    (k, beads) int
        Numbers of beads: each run's largest.
    """
    places, beads = colours.shape
    bead, hand = np.nonzero(neighbours > np.arange(beads)[:, None])
    other = neighbours[bead, hand]
    place, edge = np.nonzero(colours[:, bead] == colours[:, other])
    first, second = place * beads + bead[edge], place * beads + other[edge]
    runs = linked_groups(first, second, places * beads).reshape(places, beads)
    return np.asarray((runs - runs.min(axis=1, keepdims=True)) % beads)
