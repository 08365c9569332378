"""Where a shaded picture reads best on the lattice, and which bead goes where.

The sketch is drawn once for each size and turn, the lattice is moved under it by rolling the map of
bead cells, and all places are judged at once: the shortlist. The best places are then improved bead
by bead: every bead tries the few colours that may stand for its part of the sketch, many beads at a
time that are too far apart to matter to each other, as long as the score falls (direct binary
search, M. Analoui, J. P. Allebach, Proc. SPIE 1666 (1992) 96-108).
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TypeVar

import numpy as np

from ...core.arrays import Ints
from ...core.braid import Raster, Shift
from .dither import diffuse
from .placement import Placement
from .shaded_motif import Pose, ShadedMotif, View, colours_to_try, first_colours
from .sweeps import Sweeper, Windows
from .symmetry import alike, centres, looks_the_same_upside_down

LOOK_PX, FINE_PX = 4.0, 7.0
"""Pixels per bead pitch for looking round, and for the last word. Of five pictures J is 1.4
and 1.3 % higher with a quarter less, and no lower with four times as many; these figures and those
below: `tests/benchmarks/tuning_table.txt`."""

SCALES = (0.97, 1.03, 0.94, 1.06)
TURNS_DEG = (-2.0, 2.0, -4.0, 4.0)
"""Times the size asked for, and turns from it, that are tried beside it: less than anybody minds. A
choice of this project."""

TYPICAL_BEADS = 128
"""With larger tiles fewer places are tried: the search takes its time, and place matters less.
With 32 J is 4.4 % higher, with more as high."""

LARGE = 5.0
"""Tiles so many times larger are searched for the shift alone, in coarse pixels. At 1.25
J is 2.4 % higher."""

TRIES = 4
"""Places improved bead by bead, at the size and turn asked for and at others; fewer of large
tiles. With 1 J is 4.1 % higher, with 3, 5 and 16 as high."""

TURNED_SIZES = 2
"""Sizes that are tried turned as well. With 1 J is 2.1 % higher, with 3 and 8 no lower."""

SYMMETRY_WORTH = 1.25
"""Symmetrical beads may have so many times the J of the best that are not; a choice of this
project."""

MIN_GAIN_RATIO = 0.97
"""Another size or turn than the maker's must score at most this many times as much. With 0.73
J is 2.1 % higher, with 1.2 0.6 %."""

HASTY_ROUNDS, HASTY_COLOURS = 2, 3
"""Rounds of changes in a first look at a large tile, and colours that a bead may have there; the
first ones gain most."""

HASTY_SHIFTS = 5
"""Shifts tried there."""


@dataclass(frozen=True)
class Effort:
    """What the search may move, and how long it may look.

    Parameters
    ----------
    shift, scale, turn : bool
        Whether it may move the motif, change its size, turn it.
    most_scale : float
        The largest scale there is room for.
    quick : bool
        A first look.
    """

    shift: bool = True
    scale: bool = True
    turn: bool = True
    most_scale: float = 2.0
    quick: bool = False


@dataclass(frozen=True)
class Budget:
    """How much a search may spend on a tile.

    Parameters
    ----------
    tries : int
        Places improved bead by bead, of the maker's own size and turn and of others each.
    thorough : bool
        Whether other sizes and turns are tried, and the best is searched again in fine pixels.
    hasty : bool
        A first look at a large tile.
    """

    tries: int
    thorough: bool
    hasty: bool

    @classmethod
    def of(cls, beads: int, quick: bool) -> Budget:
        """Return what a tile of so many beads is worth."""
        large = max(1.0, beads / TYPICAL_BEADS)
        tries = 1 if quick else max(1, round(TRIES / large))
        return cls(tries, not quick and large < LARGE, quick and large > LARGE)


@dataclass(frozen=True, eq=False)
class Start:
    """A place to improve.

    Parameters
    ----------
    score : float
        J near the motif.
    pose : Pose
    shift : (int, int)
        Of the bead map, in pixels.
    colours : (beads,) int
        Inks.
    """

    score: float
    pose: Pose
    shift: Shift
    colours: Ints


@dataclass(frozen=True, eq=False)
class Found:
    """A place and the colours of the tile's beads there.

    Parameters
    ----------
    score : float
        J near the motif.
    pose : Pose
    moved_mm : (float, float)
        Right, up.
    colours : (beads,) int
        Inks.
    """

    score: float
    pose: Pose
    moved_mm: tuple[float, float]
    colours: Ints

    def placement(self, upright: Placement) -> Placement:
        """Return a centred placement moved to this place."""
        right, up = self.moved_mm
        (azimuth, height), *_ = upright.centres
        moved_deg = float(np.rad2deg(right / upright.radius_mm))
        return replace(
            upright,
            px_per_mm=upright.px_per_mm / self.pose.scale,
            rotate_deg=upright.rotate_deg + self.pose.turn_deg,
            front_deg=upright.front_deg - moved_deg,
            centres=((azimuth - moved_deg, height + up),),
        )


@dataclass(frozen=True, eq=False)
class Level:
    """A shaded motif at one resolution; every pose is drawn once."""

    shaded: ShadedMotif
    canvas: Raster
    _views: dict[Pose, View] = field(default_factory=dict)

    def view(self, pose: Pose) -> View:
        """Return the motif in a pose."""
        if pose not in self._views:
            self._views[pose] = View(self.shaded, self.canvas, pose)
        return self._views[pose]

    @cached_property
    def windows(self) -> Windows:
        """The surroundings of each bead, alike in every pose."""
        return Windows.of(self.shaded.tile, self.canvas, self.view(Pose()).comparison)


_Place = TypeVar("_Place", Start, Found)


def seek(shaded: ShadedMotif, effort: Effort) -> Found:
    """Find the place and the colours that read best; the same for the same input."""
    budget = Budget.of(shaded.tile.beads, effort.quick)
    coarse = Level(shaded, shaded.canvas(LOOK_PX))
    starts = _first(_look_round(coarse, effort, budget), budget.tries)
    if not effort.quick:
        starts += [_dithered(coarse, start) for start in starts[:2]]
    swept = sorted((_improved(coarse, start, budget) for start in starts), key=lambda f: f.score)
    if effort.quick:
        return swept[0]
    fine = Level(shaded, shaded.canvas(FINE_PX))
    final = _first(swept, 1)
    best = min(
        (_refined(fine, found, effort, budget) for found in final),
        key=lambda f: f.score * (MIN_GAIN_RATIO if f.pose.plain else 1.0),
    )
    if budget.thorough and effort.shift and looks_the_same_upside_down(shaded.source):
        poses = dict.fromkeys([Pose(), *(found.pose for found in final)])
        even = min((_symmetrical(fine, pose, budget) for pose in poses), key=lambda f: f.score)
        if even.score < SYMMETRY_WORTH * best.score:
            return even
    return best


# -- the shortlist ---------------------------------------------------------------------------------


def _first(places: list[_Place], count: int) -> list[_Place]:
    """The first few that leave size and turn alone, and the first few that do not."""
    alone = [place for place in places if place.pose.plain]
    return alone[:count] + [place for place in places if not place.pose.plain][:count]


def _look_round(level: Level, effort: Effort, budget: Budget) -> list[Start]:
    """Judge a first colouring at every shift of some sizes and turns, best first."""
    shifts = level.canvas.shifts() if effort.shift else [(0, 0)]
    if budget.hasty:
        shifts = shifts[:HASTY_SHIFTS]
    starts: list[Start] = []

    def look(pose: Pose) -> float:
        scores, colours = level.view(pose).rank(shifts)
        for score, shift, colour in zip(scores, shifts, colours, strict=True):
            starts.append(Start(float(score), pose, shift, colour))
        return float(np.sort(scores)[:3].mean())

    sizes = {1.0: look(Pose())}
    if effort.scale and budget.thorough:
        sizes |= {scale: look(Pose(scale)) for scale in SCALES if scale <= effort.most_scale}
    if effort.turn and budget.thorough:
        for scale in sorted(sizes, key=lambda s: sizes[s])[:TURNED_SIZES]:
            for turn in TURNS_DEG:
                look(Pose(scale, turn))
    return sorted(starts, key=lambda start: (start.score, start.pose, start.shift))


def _dithered(level: Level, start: Start) -> Start:
    """The same place with a dithered colouring to begin with."""
    shaded, view = level.shaded, level.view(start.pose)
    owner = level.canvas.rolled(start.shift)[None]
    colours = diffuse(view.contents(owner)[0], shaded.inks.linear, shaded.tile.neighbours())
    colours = np.where(view.near(owner[0]), colours, start.colours)
    return replace(start, score=float(view.judged(colours[None], owner)[0]), colours=colours)


# -- the refinement --------------------------------------------------------------------------------


def _improved(level: Level, start: Start, budget: Budget) -> Found:
    """Improve a place bead by bead."""
    shaded, view, canvas = level.shaded, level.view(start.pose), level.canvas
    owner = canvas.rolled(start.shift)
    may = colours_to_try(shaded.inks, view.contents(owner[None])[0], shaded.tile.neighbours())
    may[~view.near(owner), 1:] = -1
    rounds: int | None = None
    if budget.hasty:
        may, rounds = may[:, :HASTY_COLOURS], HASTY_ROUNDS
    windows = level.windows.moved(start.shift, canvas.shape)
    sweeper = Sweeper(view.comparison, windows, owner, shaded.inks.planes)
    score, colours = sweeper.improve(start.colours, may, rounds)
    return Found(score, start.pose, canvas.moved_mm(start.shift), colours)


def _refined(level: Level, found: Found, effort: Effort, budget: Budget) -> Found:
    """Judge a place once more in finer pixels, with the places and the beads next to it."""
    view, canvas = level.view(found.pose), level.canvas
    row, column = canvas.shift_of(found.moved_mm)
    steps = (-1, 0, 1) if effort.shift and budget.thorough else (0,)
    shifts = [(row + i, column + j) for i in steps for j in steps]
    owners = np.stack([canvas.rolled(shift) for shift in shifts])
    scores = view.judged(np.repeat(found.colours[None], len(shifts), axis=0), owners)
    best = int(np.argmin(scores))
    if not budget.thorough:
        return replace(found, score=float(scores[best]), moved_mm=canvas.moved_mm(shifts[best]))
    start = Start(float(scores[best]), found.pose, shifts[best], found.colours)
    return _improved(level, start, budget)


def _symmetrical(level: Level, pose: Pose, budget: Budget) -> Found:
    """The best place and colours that a half turn leaves as they are."""
    shaded, view = level.shaded, level.view(pose)
    tried = []
    for centre in centres(shaded.tile, shaded.placement.front_deg):
        shift = level.canvas.shift_of(centre.moved_mm)
        owner = level.canvas.rolled(shift)[None]
        contents = view.contents(owner)
        contents = (contents + contents[:, centre.partner]) / 2
        start = first_colours(shaded.inks, contents)[0]
        free = _improved(level, Start(np.inf, pose, shift, start), budget).colours
        colours = np.stack([start, *alike(free, centre.partner)])
        scores = view.judged(colours, np.repeat(owner, len(colours), axis=0))
        best = int(np.argmin(scores))
        tried.append(Found(float(scores[best]), pose, centre.moved_mm, colours[best]))
    return min(tried, key=lambda f: f.score)
