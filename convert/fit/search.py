"""Where a shaded picture reads best on the lattice, and which bead goes where.

The sketch is drawn once for each size and turn, the lattice is moved under it by rolling the map of
bead cells, and all places are judged at once. The best places are then improved bead by bead:
every bead tries the few colours that may stand for its part of the sketch, many beads at a time
that are too far apart to matter to each other, as long as the score falls (direct binary search,
M. Analoui, J. P. Allebach, Proc. SPIE 1666 (1992) 96-108).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np

from ...core.arrays import Float32Array, Floats, Ints
from ...core.braid import Raster, Shift
from ...palette import linear_lab
from ..read import Source, cell_means
from . import raster as sampling
from .comparison import Comparison
from .dither import diffuse
from .placement import Placement
from .sweeps import MOST_ROUNDS, Sweeper, Windows
from .symmetry import alike, centres, looks_the_same_upside_down
from .tile import Tile

_T = TypeVar("_T")

PX_AT_ONCE = 150_000
"""Pixels judged in one go: enough to be quick, few enough to stay near the processor."""


# -- the sketch on it --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Inks:
    """The beads that may be used, and what the sketch's planes mean in them.

    Parameters
    ----------
    bead : (k,) int
        Places in the palette.
    planes : (k, 4) float32
        See `himotif.convert.fit.comparison.bead_planes`.
    linear, lab : (k, 3) float32
    ground : int
        The background's place among them.
    """

    bead: Ints
    planes: Float32Array
    linear: Float32Array
    lab: Float32Array
    ground: int


class View:
    """The sketch, at one size and turn, drawn over one tile.

    Parameters
    ----------
    tile : Tile
    canvas : Raster
        Of the tile.
    placement : Placement
        Unmoved; with the repeats before and after, so that the tile closes on itself.
    source : Source
        Red, green, blue times alpha, and alpha.
    inks : Inks
    ground : (3,) float32
        The background in linear light.
    """

    def __init__(
        self,
        tile: Tile,
        canvas: Raster,
        placement: Placement,
        source: Source,
        inks: Inks,
        ground: Float32Array,
    ) -> None:
        self.tile, self.canvas, self.inks = tile, canvas, inks
        drawn = sampling.draw(source, placement, canvas)
        bare = 1 - drawn[..., 3]
        self.linear = drawn[..., :3] + bare[..., None] * ground
        margin = placement.margin_mm(
            placement.chart_deg(canvas.x_mm)[None, :], canvas.y_mm[:, None]
        )
        weight = (margin > -canvas.lattice.pitch_mm).astype(np.float32)
        self.comparison = Comparison(self.linear, canvas.px_per_bead, weight)

    def contents(self, owners: Ints) -> Floats:
        """Return the mean linear light of each bead's cell, (S, beads, 3), for maps (S, H, W)."""
        return cell_means(owners, self.linear, self.canvas.beads)

    def judged(self, colours: Ints, owners: Ints) -> Floats:
        """Return J near the motif, (S,), of colours (S, beads)."""
        return np.asarray(self.losses(colours, owners).sum(axis=(1, 2), dtype=np.float64))

    def losses(self, colours: Ints, owners: Ints) -> Float32Array:
        """Return the maps that add up to J, (S, H, W), of colours (S, beads)."""
        index = np.take_along_axis(colours, owners.reshape(len(owners), -1), axis=1)
        drawn = self.inks.planes[index.reshape(owners.shape)]
        return self.comparison.loss_map(np.ascontiguousarray(np.moveaxis(drawn, -1, -3)))

    def rank(self, shifts: Sequence[Shift]) -> tuple[Floats, Ints]:
        """Return J and the first colouring, (S,) and (S, beads), at each shift."""
        at_once = max(1, PX_AT_ONCE // self.canvas.pixels)
        scores, chosen = [], []
        for begin in range(0, len(shifts), at_once):
            owners = np.stack([self.canvas.rolled(s) for s in shifts[begin : begin + at_once]])
            colours = first_colours(self, self.contents(owners))
            scores.append(self.judged(colours, owners))
            chosen.append(colours)
        return np.concatenate(scores), np.concatenate(chosen)


# -- colours -----------------------------------------------------------------------------------

CANDIDATES = 4
"""Colours that a bead may try beside the one it has."""


def first_colours(view: View, contents: Floats) -> Ints:
    """Return the first colour of each bead, (..., beads), from what lies in its cell."""
    return np.asarray(np.argmin(_apart(view, contents), axis=-1))


def _apart(view: View, means: Floats) -> Float32Array:
    """Distance of mean colours (..., 3) to every ink in Lab, chroma counted half."""
    weight = np.array([1.0, 0.5, 0.5], dtype=np.float32)
    ours = linear_lab(means.astype(np.float32)) * weight
    theirs = view.inks.lab.astype(np.float32) * weight
    squares = (ours**2).sum(axis=-1)[..., None] + (theirs**2).sum(axis=-1)
    return np.asarray(squares - 2 * (ours @ theirs.T))


def candidates(view: View, contents: Floats) -> Ints:
    """Return the colours that each bead may try, (beads, k), best first, -1 where there are fewer.

    The inks nearest to the mean of its cell, and those nearest to the neighbours'.
    """
    beads, kinds = contents.shape[0], len(view.inks.bead)
    near = view.tile.neighbours()
    apart = _apart(view, contents)
    merit = np.zeros((beads, kinds))
    rank = np.argsort(apart, axis=1, kind="stable")[:, :CANDIDATES]
    np.put_along_axis(merit, rank, 1.0 / (1 + np.arange(rank.shape[1])), axis=1)
    nearest = rank[:, 0]
    theirs = np.zeros((beads, kinds))
    np.put_along_axis(theirs, nearest[near], 0.3, axis=1)
    merit = np.maximum(merit, theirs)
    order = np.argsort(-merit, axis=1, kind="stable")[:, : CANDIDATES + 1]
    chosen = np.where(np.take_along_axis(merit, order, axis=1) > 0, order, -1)
    return np.asarray(chosen)


# -- the search --------------------------------------------------------------------------------

LOOK_PX, FINE_PX = 4.0, 7.0
"""Pixels per bead pitch for looking round, and for the last word."""

SCALES = (0.97, 1.03, 0.94, 1.06)
TURNS_DEG = (-2.0, 2.0, -4.0, 4.0)

Key = tuple[float, float]
Ranked = tuple[float, Key, Shift, Ints]

TYPICAL_BEADS = 128
"""With larger tiles fewer places are tried: the search takes its time, and place matters less."""

LARGE = 5.0
"""Tiles so many times larger are searched for the shift alone, in coarse pixels."""

TRIES = 4
"""Places improved bead by bead, at the size and turn asked for and at others; fewer of large
tiles."""

TURNED_SIZES = 2
"""Sizes that are tried turned as well."""

SHORTLIST_RATIO = 1.3
"""Places are judged in fine pixels if in coarse ones they score at most so many times the best."""

SYMMETRY_WORTH = 1.25
"""Symmetrical beads may read so much worse than the best that are not."""

WORTH_IT = 0.97
"""Another size or turn than the maker's must read at least this much better."""

HASTY_ROUNDS, HASTY_COLOURS = 2, 3
"""Rounds of changes in a first look at a large tile, and colours that a bead may have there; the
first ones gain most."""


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


@dataclass(frozen=True, eq=False)
class Scene:
    """A picture to be placed on a tile.

    Parameters
    ----------
    tile : Tile
    placement : Placement
        Centred, with one centre.
    source, inks, ground
        See `View`.
    """

    tile: Tile
    placement: Placement
    source: Source
    inks: Inks
    ground: Float32Array

    def canvas(self, px_per_pitch: float) -> Raster:
        """Return the tile as pixels, with the middle of the unmoved motif at x = 0."""
        return self.tile.raster(px_per_pitch, self.placement.front_deg)

    def view(self, canvas: Raster, scale: float = 1.0, turn_deg: float = 0.0) -> View:
        """Draw the sketch on a canvas, larger by `scale` and turned clockwise by `turn_deg`."""
        changed = replace(
            self.placement,
            px_per_mm=self.placement.px_per_mm / scale,
            rotate_deg=self.placement.rotate_deg + turn_deg,
        )
        placement = self.tile.closed(changed)
        return View(self.tile, canvas, placement, self.source, self.inks, self.ground)


@dataclass(frozen=True, eq=False)
class Found:
    """A place and the colours of the tile's beads there.

    Parameters
    ----------
    score : float
        J near the motif.
    scale, turn_deg : float
    moved_mm : (float, float)
        Right, up.
    colours : (beads,) int
        Inks.
    partner : (beads,) int, optional
        Where a half turn takes each bead, if the colours were kept symmetrical.
    """

    score: float
    scale: float
    turn_deg: float
    moved_mm: tuple[float, float]
    colours: Ints
    partner: Ints | None = None

    @property
    def plain(self) -> bool:
        """Whether size and turn are the maker's own."""
        return self.scale == 1.0 and self.turn_deg == 0.0

    def placement(self, upright: Placement) -> Placement:
        """Return a centred placement moved to this place."""
        right, up = self.moved_mm
        (azimuth, height), *_ = upright.centres
        moved_deg = float(np.rad2deg(right / upright.radius_mm))
        return replace(
            upright,
            px_per_mm=upright.px_per_mm / self.scale,
            rotate_deg=upright.rotate_deg + self.turn_deg,
            front_deg=upright.front_deg - moved_deg,
            centres=((azimuth - moved_deg, height + up),),
        )


def seek(scene: Scene, effort: Effort) -> Found:
    """Find the place and the colours that read best; the same for the same input."""
    return _Search(scene, effort).best()


class _Search:
    """The steps of a search, with what they share."""

    def __init__(self, scene: Scene, effort: Effort) -> None:
        self.scene = scene
        self.coarse = scene.canvas(LOOK_PX)
        self.fine = scene.canvas(FINE_PX)
        self._windows: dict[Raster, Windows] = {}
        self._views: dict[Key, View] = {}
        self.effort = effort
        large = max(1.0, scene.tile.beads / TYPICAL_BEADS)
        self.tries = 1 if effort.quick else max(1, round(TRIES / large))
        self.thorough = not effort.quick and large < LARGE

    def best(self) -> Found:
        """Look round, improve the best places, judge the best of these once more."""
        views, ranked = self._look_round()
        chosen = self._first(ranked, self.tries, lambda r: r[1] == (1.0, 0.0))
        if not self.effort.quick:
            chosen += [self._dithered(views[key], key, shift) for _, key, shift, _ in chosen[:2]]
        swept = [self._swept(views[key], key, shift, colours) for _, key, shift, colours in chosen]
        swept.sort(key=lambda f: f.score)
        if self.effort.quick:
            return swept[0]
        near = [found for found in swept if found.score <= SHORTLIST_RATIO * swept[0].score]
        final = self._first(near, 1, lambda f: f.plain)
        best = min(
            (self._refined(found) for found in final),
            key=lambda f: f.score * (WORTH_IT if f.plain else 1.0),
        )
        if self.thorough and self.effort.shift and looks_the_same_upside_down(self.scene.source):
            keys = dict.fromkeys([(1.0, 0.0), *((f.scale, f.turn_deg) for f in final)])
            even = min((self._symmetrical(*key) for key in keys), key=lambda f: f.score)
            if even.score < SYMMETRY_WORTH * best.score:
                return even
        return best

    def _symmetrical(self, scale: float, turn_deg: float) -> Found:
        """The best place and colours that a half turn leaves as they are."""
        view = self._closely(scale, turn_deg)
        tried = []
        for centre in centres(self.scene.tile, self.scene.placement.front_deg):
            shift = self.fine.shift_of(centre.moved_mm)
            owner = self.fine.rolled(shift)[None]
            contents = view.contents(owner)
            contents = (contents + contents[:, centre.partner]) / 2
            start = first_colours(view, contents)[0]
            free = self._swept(view, (scale, turn_deg), shift, start).colours
            colours = np.stack([start, *alike(free, centre.partner)])
            scores = view.judged(colours, np.repeat(owner, len(colours), axis=0))
            best = int(np.argmin(scores))
            even = Found(
                float(scores[best]),
                scale,
                turn_deg,
                centre.moved_mm,
                colours[best],
                partner=centre.partner,
            )
            tried.append(even)
        return min(tried, key=lambda f: f.score)

    @staticmethod
    def _first(items: list[_T], count: int, plain: Callable[[_T], bool]) -> list[_T]:
        """The first few that leave size and turn alone, and the first few that do not."""
        alone = [item for item in items if plain(item)]
        return alone[:count] + [item for item in items if not plain(item)][:count]

    def _look_round(self) -> tuple[dict[Key, View], list[Ranked]]:
        """Judge a first colouring at every shift of some sizes and turns, best first."""
        effort = self.effort
        shifts = self.coarse.shifts() if effort.shift else [(0, 0)]
        if effort.quick and self.coarse.beads > LARGE * TYPICAL_BEADS:
            shifts = shifts[:5]
        views: dict[Key, View] = {}
        ranked: list[Ranked] = []

        def look(scale: float, turn_deg: float) -> float:
            view = self.scene.view(self.coarse, scale, turn_deg)
            views[scale, turn_deg] = view
            scores, colours = view.rank(shifts)
            for score, shift, colour in zip(scores, shifts, colours, strict=True):
                ranked.append((float(score), (scale, turn_deg), shift, colour))
            return float(np.sort(scores)[:3].mean())

        sizes = {1.0: look(1.0, 0.0)}
        if effort.scale and self.thorough:
            sizes |= {scale: look(scale, 0.0) for scale in SCALES if scale <= effort.most_scale}
        if effort.turn and self.thorough:
            for scale in sorted(sizes, key=lambda s: sizes[s])[:TURNED_SIZES]:
                for turn in TURNS_DEG:
                    look(scale, turn)
        ranked.sort(key=lambda r: (r[0], r[1], r[2]))
        return views, ranked

    def _closely(self, scale: float, turn_deg: float) -> View:
        """The sketch in fine pixels."""
        if (scale, turn_deg) not in self._views:
            self._views[scale, turn_deg] = self.scene.view(self.fine, scale, turn_deg)
        return self._views[scale, turn_deg]

    def _dithered(self, view: View, key: Key, shift: Shift) -> Ranked:
        """The same place with a dithered colouring to begin with."""
        owner = self.coarse.rolled(shift)[None]
        colours = diffuse(
            view.contents(owner)[0], self.scene.inks.linear, self.scene.tile.neighbours()
        )
        return float(view.judged(colours[None], owner)[0]), key, shift, colours

    def _swept(self, view: View, key: Key, shift: Shift, colours: Ints) -> Found:
        """Improve a place bead by bead."""
        canvas = view.canvas
        owner = canvas.rolled(shift)[None]
        contents = view.contents(owner)[0]
        if canvas not in self._windows:
            self._windows[canvas] = Windows.of(self.scene.tile, canvas, view.comparison)
        sweeper = Sweeper(
            view.comparison,
            self._windows[canvas].moved(shift, canvas.shape),
            owner[0],
            view.inks.planes,
        )
        hasty = self.effort.quick and canvas.beads > LARGE * TYPICAL_BEADS
        may = candidates(view, contents)
        rounds = MOST_ROUNDS
        if hasty:
            may, rounds = may[:, :HASTY_COLOURS], HASTY_ROUNDS
        score, colours = sweeper.improve(colours, may, rounds)
        return Found(score, *key, canvas.moved_mm(shift), colours)

    def _refined(self, found: Found) -> Found:
        """Judge a place once more in finer pixels, with the places and the beads next to it."""
        view = self._closely(found.scale, found.turn_deg)
        row, column = self.fine.shift_of(found.moved_mm)
        near = [(0, 0)]
        if self.effort.shift and self.thorough:
            near = [(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1)]
        shifts = [(row + i, column + j) for i, j in near]
        owners = np.stack([self.fine.rolled(shift) for shift in shifts])
        colours = np.repeat(found.colours[None], len(shifts), axis=0)
        scores = view.judged(colours, owners)
        best = int(np.argmin(scores))
        if not self.thorough:
            moved = self.fine.moved_mm(shifts[best])
            return replace(found, score=float(scores[best]), moved_mm=moved)
        key = (found.scale, found.turn_deg)
        return self._swept(view, key, shifts[best], found.colours)
