"""Where the sketch reads best on the lattice, and which bead goes where.

The sketch is drawn once for each size and turn, the lattice is moved under it by rolling the map of
bead cells, and all places are judged at once. The best places are then improved bead by bead:
every bead tries the few colours that may stand for its part of the sketch, many beads at a time
that are too far apart to matter to each other, as long as the score falls (direct binary search,
M. Analoui, J. P. Allebach, Proc. SPIE 1666 (1992) 96-108).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import dataclass, replace
from typing import TypeVar

import numpy as np
import numpy.typing as npt

from ...core.braid.raster import Raster, Shift
from ...palette.quick_colour import linear_lab, quick_ciede2000
from ..read.sketch import cell_means
from ..read.source import Source
from . import raster as sampling
from .comparison import Comparison, bead_planes
from .dither import diffuse
from .pieces import mended, parts_of
from .placement import Placement
from .strokes import Strokes
from .sweeps import MOST_ROUNDS, Sweeper, Windows, middles
from .symmetry import alike, centres, looks_the_same_upside_down
from .tile import Tile

Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
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
    planes: Singles
    linear: Singles
    lab: Singles
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
        Red, green, blue times alpha, and alpha; for a flat sketch then the share of each ink, the
        middle lines of each ink's strokes, and the middle lines of the gaps between strokes.
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
        ground: Singles,
    ) -> None:
        self.tile, self.canvas, self.inks = tile, canvas, inks
        drawn = sampling.draw(source, placement, canvas)
        bare = 1 - drawn[..., 3]
        self.linear = drawn[..., :3] + bare[..., None] * ground
        self.flat = drawn.shape[-1] > 4
        if self.flat:
            kinds = len(inks.bead)
            self.shares, self.lines = drawn[..., 4 : 4 + kinds], drawn[..., 4 + kinds : -1]
            self.gaps = drawn[..., -1]
            self.shares[..., inks.ground] += bare
        margin = placement.margin_mm(
            placement.chart_deg(canvas.x_mm)[None, :], canvas.y_mm[:, None]
        )
        weight = (margin > -canvas.lattice.pitch_mm).astype(np.float32)
        self.comparison = Comparison(self.linear, canvas.px_per_bead, weight)

    def contents(self, owners: Ints) -> Floats:
        """Return what lies in each bead's cell, (S, beads, k), for owner maps (S, H, W).

        Shares of the inks for a flat sketch, mean linear light for a shaded one.
        """
        planes = self.shares if self.flat else self.linear
        return cell_means(owners, planes, self.canvas.beads)

    def judged(self, colours: Ints, owners: Ints) -> Floats:
        """Return J near the motif, (S,), of colours (S, beads)."""
        return np.asarray(self.losses(colours, owners).sum(axis=(1, 2), dtype=np.float64))

    def legible(self, colours: Ints, owner: Ints) -> float:
        """Return how well strokes can be read, 1 at best, 0 for a blot or for nothing at all.

        The share of the strokes under beads of their colour and the share of the gaps between
        them under beads of the ground, less 1; a gap counts by its width.
        """
        if not self.lines.any():
            return 0.0
        drawn = colours[owner]
        kept = [np.take_along_axis(self.lines, drawn[..., None], axis=-1).sum() / self.lines.sum()]
        if self.gaps.any():
            kept.append(self.gaps[drawn == self.inks.ground].sum() / self.gaps.sum())
        return float(sum(kept)) - (len(kept) - 1)

    def losses(self, colours: Ints, owners: Ints, planes: Singles | None = None) -> Singles:
        """Return the maps that add up to J, (S, H, W), of colours (S, beads).

        They are inks, or places among other `planes` of beads.
        """
        index = np.take_along_axis(colours, owners.reshape(len(owners), -1), axis=1)
        drawn = (self.inks.planes if planes is None else planes)[index.reshape(owners.shape)]
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

GROUND_WEIGHT = 0.7
"""A cell that is little more than half ground goes to the motif: strokes are thin, grounds wide."""

TRACE = 0.05
"""A bead of a flat sketch takes no colour of which there is less in its cell."""

CANDIDATES = 4
"""Colours that a bead may try beside the one it has."""


def first_colours(view: View, contents: Floats) -> Ints:
    """Return the first colour of each bead, (..., beads), from what lies in its cell."""
    if view.flat:
        weight = np.ones(contents.shape[-1])
        weight[view.inks.ground] = GROUND_WEIGHT
        return np.asarray(np.argmax(contents * weight, axis=-1))
    return np.asarray(np.argmin(_apart(view, contents), axis=-1))


def allowed(view: View, contents: Floats) -> Bools:
    """Return which inks each bead of a flat sketch may have, like what lies in the cells.

    Those of which there is more than a trace, and the ground: else pale beads beside a motif would
    make up for a ground that is paler in the sketch than its bead.
    """
    here = contents >= TRACE
    here[..., view.inks.ground] = True
    return np.asarray(here)


def _apart(view: View, means: Floats) -> Singles:
    """Distance of mean colours (..., 3) to every ink in Lab, chroma counted half."""
    weight = np.array([1.0, 0.5, 0.5], dtype=np.float32)
    ours = linear_lab(means.astype(np.float32)) * weight
    theirs = view.inks.lab.astype(np.float32) * weight
    squares = (ours**2).sum(axis=-1)[..., None] + (theirs**2).sum(axis=-1)
    return np.asarray(squares - 2 * (ours @ theirs.T))


def candidates(view: View, contents: Floats) -> Ints:
    """Return the colours that each bead may try, (beads, k), best first, -1 where there are fewer.

    For a flat sketch: the inks that lie in the cell, and of those allowed the ones that lie in much
    of a neighbour's cell. For a shaded one: the inks nearest to the mean, and those nearest to the
    neighbours'.
    """
    beads, kinds = contents.shape[0], len(view.inks.bead)
    near = view.tile.neighbours()
    if view.flat:
        merit = np.maximum(contents, 0.3 * contents[near].max(axis=1) * allowed(view, contents))
        merit[merit < 0.1] = 0
    else:
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

SMALL_BEADS = 300
"""Flat sketches on tiles up to so many beads are searched most closely: there the place matters
most."""

TRIES = {"small": (24, 8), "flat": (12, 1), "shaded": (4, 1), "glance": (4, 1)}
"""Places improved bead by bead, and judged in fine pixels: so many at the maker's size and turn,
and so many at others; fewer places of large tiles are improved."""

HOPEFUL = 1.3
"""Places are judged in fine pixels if in coarse ones they score at most so many times the best."""

WHOLENESS_WORTH = 1.15
"""Strokes in one piece and closed outlines may read so much worse by the score in a glance, and
where strokes are drawn again with a pen."""

LAST_WORTH = 1.4
"""The same where the last places are compared, but never worse than plain ways of colouring, except
for a line drawing."""

FAULT = 1.05
"""A place may read so much worse by the score for each part left in pieces at another one."""

SURE = 0.9
"""Part of the score of plain ways that counts: elsewhere they may be luckier."""

SYMMETRY_WORTH = 1.25
"""Symmetrical beads may read so much worse than the best that are not."""

WORTH_IT = 0.97
"""Another size or turn than the maker's must read at least this much better."""

PENS = (0.45, 0.6, 0.75, 0.9)
"""How broad thin strokes are drawn again, in pitches."""

ONE_PEN = PENS[1:2]
"""The same for a first look, and for large tiles."""

READS, CLEAR = 0.35, 0.75
"""From the first a drawing of strokes can be read, from the second there is nothing to gain."""

HASTY_ROUNDS, HASTY_COLOURS = 2, 3
"""Rounds of changes in a first look at a large tile, and colours that a bead may have there; the
first ones gain most."""

PLAIN_PLACES = 6
"""Places at which plain ways of colouring are tried, for comparison."""

OVER = 10.0
"""What it counts against a line drawing, in J, that plain ways have a better J."""

LEGIBLE_WORTH = 100.0
"""J that it may cost to make a drawing legible that is nothing but strokes, from not at all to
wholly."""

MATTERS, LINE_DRAWING = 0.05, 0.9
"""Share of strokes in what is drawn from which they are looked at, and from which there is nothing
but strokes."""


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
    glance : bool
        Only the few best places are looked at closely.
    """

    shift: bool = True
    scale: bool = True
    turn: bool = True
    most_scale: float = 2.0
    quick: bool = False
    glance: bool = False


@dataclass(frozen=True, eq=False)
class Scene:
    """A sketch to be placed on a tile.

    Parameters
    ----------
    tile : Tile
    placement : Placement
        Centred, with one centre.
    source, inks, ground
        See `View`.
    strokes : Strokes
        Those of a flat sketch, pixel by pixel of the source.
    tones : (k, 3) float32
        The colours of the sketch that each ink stands for, in linear light.
    beads : (n, 3) float32
        All beads of the palette, in linear light.
    outlined : tuple of int
        Inks whose outlines are far narrower than a bead and were left out.
    """

    tile: Tile
    placement: Placement
    source: Source
    inks: Inks
    ground: Singles
    strokes: Strokes
    tones: Singles
    beads: Singles
    outlined: tuple[int, ...] = ()

    @property
    def flat(self) -> bool:
        """Whether the sketch is made of plain colours."""
        return bool(self.source.planes.shape[-1] > 4)

    def canvas(self, px_per_pitch: float) -> Raster:
        """Return the tile as pixels, with the middle of the unmoved motif at x = 0."""
        return self.tile.raster(px_per_pitch, self.placement.front_deg)

    def drawn_again(self, pen_pitches: float) -> Scene:
        """Return the sketch with its thin strokes drawn with a broader pen."""
        kinds = len(self.inks.bead)
        planes = self.source.planes.copy()
        px_per_pitch = self.placement.px_per_mm * self.source.scale * self.tile.lattice.pitch_mm
        inked = self.strokes.away_px <= pen_pitches / 2 * px_per_pitch
        ink = self.strokes.colour[inked]
        planes[inked, :3], planes[inked, 3] = self.tones[ink], 1
        planes[inked, 4 : 4 + kinds] = np.eye(kinds, dtype=np.float32)[ink]
        return replace(self, source=replace(self.source, planes=planes))

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
    pen_pitches : float
        How broad thin strokes were drawn again; 0 if they were left as they are.
    legible : float
        See `View.legible`; 1 for a sketch without thin strokes.
    partner : (beads,) int, optional
        Where a half turn takes each bead, if the colours were kept symmetrical.
    faults : int
        Parts left in pieces and outlines left open because mending them costs too much.
    """

    score: float
    scale: float
    turn_deg: float
    moved_mm: tuple[float, float]
    colours: Ints
    pen_pitches: float = 0.0
    legible: float = 1.0
    partner: Ints | None = None
    faults: int = 0

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
    search = _Search(scene, effort)
    strokes = scene.strokes.share
    if not scene.flat or (effort.quick and strokes < LINE_DRAWING):
        return search.best()
    search.bar = SURE * _plain_score(scene, search.fine)
    found = _legible(search) if strokes >= MATTERS else search.best()
    if effort.quick:
        return found
    if strokes >= LINE_DRAWING and found.legible >= READS:
        search.bar = np.inf
    return search.whole(*search.at(found), found, LAST_WORTH)


def _legible(search: _Search) -> Found:
    """Draw thin strokes with broader pens if they cannot be read as they are.

    A bead is far wider than a thin stroke, so J may be best where most strokes are left out. What
    can be read with some pen is preferred, by how much of the drawing strokes are, but not where
    plain ways of colouring have a better J; of a line drawing nothing is left without them, so it
    may read worse than those.
    """
    scene = search.scene

    def drawn(pen: float, effort: Effort) -> Found:
        other = search.instead(scene.drawn_again(pen) if pen else scene, effort)
        other.bar = np.inf if pen else search.bar
        return _read(search, replace(other.best(), pen_pitches=pen))

    nothing_else = scene.strokes.share >= LINE_DRAWING
    worth = LEGIBLE_WORTH * scene.strokes.share

    def cost(one: Found) -> float:
        return one.score - worth * one.legible + (OVER if one.score > search.bar else 0.0)

    def better(found: Found, tried: list[Found]) -> Found:
        readable = [one for one in (found, *tried) if one.legible >= READS]
        if nothing_else:
            return min(readable or [found], key=cost)
        return min([found, *(one for one in readable if one.score <= search.bar)], key=cost)

    glance = replace(search.effort, scale=False, turn=False, glance=True)
    found = drawn(0.0, glance)
    if found.legible < CLEAR:
        found = better(
            found, [drawn(pen, glance) for pen in (PENS if search.thorough else ONE_PEN)]
        )
    if not search.thorough:
        return found
    closely = drawn(found.pen_pitches, search.effort)
    return better(found, [closely]) if found.pen_pitches else closely


def _read(search: _Search, found: Found) -> Found:
    """Judge what was found by the sketch as it is, and how well its strokes can be read."""
    view, owner = search.at(found)
    score = float(view.judged(found.colours[None], owner[None])[0])
    return replace(found, score=score, legible=view.legible(found.colours, owner))


def _plain_score(scene: Scene, canvas: Raster) -> float:
    """What plain ways of colouring score where they are lucky: cell means, and centre points.

    Both are tried at places spread over a cell of the lattice; the best quarter counts.
    """
    view = scene.view(canvas)
    shifts = canvas.shifts()
    shifts = shifts[:: max(1, len(shifts) // PLAIN_PLACES)]
    owners = np.stack([canvas.rolled(shift) for shift in shifts])
    means = cell_means(owners, view.linear, canvas.beads).astype(np.float32)
    beads = np.moveaxis(linear_lab(scene.beads), -1, 0)
    apart = quick_ciede2000(np.moveaxis(linear_lab(means)[..., None, :], -1, 0), beads)
    row, column = middles(canvas.owner, canvas.beads).T
    down, across = (np.array(part)[:, None] for part in zip(*shifts, strict=True))
    centre = view.shares[(row - down) % canvas.shape[0], (column - across) % canvas.shape[1]]
    scores = [
        view.losses(colours, owners, bead_planes(linear)).sum(axis=(1, 2), dtype=np.float64)
        for colours, linear in (
            (np.argmin(apart, axis=-1), scene.beads),
            (np.argmax(centre, axis=-1), scene.inks.linear),
        )
    ]
    return float(np.quantile(np.concatenate(scores), 0.25))


class _Search:
    """The steps of a search, with what they share."""

    def __init__(self, scene: Scene, effort: Effort) -> None:
        self.scene = scene
        self.coarse = scene.canvas(LOOK_PX)
        self.fine = scene.canvas(FINE_PX)
        self._windows: dict[Raster, Windows] = {}
        self._views: dict[Key, View] = {}
        self.bar = np.inf
        self.worth = LAST_WORTH
        self._take(effort)

    def _take(self, effort: Effort) -> None:
        self.effort = effort
        beads = self.scene.tile.beads
        large = max(1.0, beads / TYPICAL_BEADS)
        flat = "small" if beads <= SMALL_BEADS else "flat"
        kind = "glance" if effort.glance else flat if self.scene.flat else "shaded"
        tries, finalists = TRIES[kind]
        if kind != "small":
            tries = max(1, round(tries / large))
        self.turned_sizes = len(SCALES) + 1 if kind == "small" else 2
        self.tries, self.finalists = (1, 1) if effort.quick else (tries, finalists)
        self.thorough = not effort.quick and large < LARGE

    def instead(self, scene: Scene, effort: Effort) -> _Search:
        """Return the search of another drawing on the same tile."""
        other = copy(self)
        other.scene, other._views = scene, {}
        other._take(effort)
        if scene is not self.scene or effort.glance:
            other.worth = WHOLENESS_WORTH
        return other

    def best(self) -> Found:
        """Look round, improve the best places, judge the best of these once more."""
        views, ranked = self._look_round()
        chosen = self._first(ranked, self.tries, lambda r: r[1] == (1.0, 0.0))
        if not self.scene.flat and not self.effort.quick:
            chosen += [self._dithered(views[key], key, shift) for _, key, shift, _ in chosen[:2]]
        swept = [self._swept(views[key], key, shift, colours) for _, key, shift, colours in chosen]
        swept.sort(key=lambda f: f.score)
        if self.effort.quick:
            return swept[0]
        near = [found for found in swept if found.score <= HOPEFUL * swept[0].score]
        final = self._first(near, self.finalists, lambda f: f.plain)
        best = min(
            (self._refined(found) for found in final),
            key=lambda f: f.score * FAULT**f.faults * (WORTH_IT if f.plain else 1.0),
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
            if view.flat:
                even = self.whole(view, owner[0], even, WHOLENESS_WORTH)
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
            for scale in sorted(sizes, key=lambda s: sizes[s])[: self.turned_sizes]:
                for turn in TURNS_DEG:
                    look(scale, turn)
        ranked.sort(key=lambda r: (r[0], r[1], r[2]))
        return views, ranked

    def at(self, found: Found) -> tuple[View, Ints]:
        """The sketch and the bead of each pixel, in fine pixels, where something was found."""
        shift = self.fine.shift_of(found.moved_mm)
        return self._closely(found.scale, found.turn_deg), self.fine.rolled(shift)

    def _closely(self, scale: float, turn_deg: float) -> View:
        """The sketch in fine pixels."""
        if (scale, turn_deg) not in self._views:
            self._views[scale, turn_deg] = self.scene.view(self.fine, scale, turn_deg)
        return self._views[scale, turn_deg]

    def whole(self, view: View, owner: Ints, found: Found, worth: float) -> Found:
        """Show what is lost, join what is in pieces, shut what leaks, as far as it is worth it."""
        inks, covers = parts_of(view.shares, view.inks.ground, owner, self.scene.tile.beads)
        score, partner = found.score, found.partner
        most = worth * score if score > self.bar else min(worth * score, self.bar)
        faults = 0

        def borne(colours: Ints) -> Ints | None:
            nonlocal score, faults
            if partner is not None:
                changed = colours != found.colours
                colours = np.where(changed[partner], colours[partner], colours)
            judged = float(view.judged(colours[None], owner[None])[0])
            if judged > most:
                faults += 1
                return None
            score = judged
            return colours

        colours = mended(found.colours, inks, covers, self.scene.tile.neighbours(), borne)
        return replace(found, score=score, colours=colours, faults=faults)

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
        if view.flat:
            free = np.take_along_axis(allowed(view, contents), colours[:, None], axis=-1)[:, 0]
            colours = np.where(free, colours, first_colours(view, contents))
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
        better = self._swept(view, key, shifts[best], found.colours)
        if not view.flat:
            return better
        return self.whole(view, owners[best], better, self.worth)
