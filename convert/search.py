"""Where the sketch reads best on the lattice, and which bead goes where.

The sketch is drawn once for each size and turn, the lattice is moved under it by rolling the map of
bead cells, and all places are judged at once. The best places are then improved bead by bead:
every bead tries the few colours that may stand for its part of the sketch, many beads at a time
that are too far apart to matter to each other, as long as the score falls (direct binary search,
M. Analoui, J. P. Allebach, Proc. SPIE 1666 (1992) 96-108).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import numpy.typing as npt

from ..core.lattice import FRONT_DEG
from . import sampling
from .likeness import Comparison, linear_lab
from .placement import Placement
from .tile import Tile

Singles = npt.NDArray[np.float32]
Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Shift = tuple[int, int]

PX_AT_ONCE = 150_000
"""Pixels judged in one go: enough to be quick, few enough to stay near the processor."""

MATTERS_PITCHES = 1.8
"""Changing a bead changes the score within this distance; what little lies beyond is counted when
the changes are made together."""

LEAST_GAIN = 1e-4
"""A change of the score by less than this part of it is none."""


# -- the lattice as pixels ---------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Canvas:
    """One tile's beads as pixels.

    Parameters
    ----------
    tile : Tile
    shape : (int, int)
        Rows, columns.
    owner : (H, W) int
        The bead of each pixel, by its place in the tile; the front's middle at x = 0.
    """

    tile: Tile
    shape: tuple[int, int]
    owner: Ints

    @classmethod
    def of(cls, tile: Tile, px_per_pitch: float, front_deg: float = FRONT_DEG) -> Canvas:
        """Return the tile at about so many pixels per bead pitch, `front_deg` in the middle."""
        px_per_mm = px_per_pitch / tile.lattice.pitch_mm
        shape = sampling.raster_shape(tile.lattice, tile.bottom_mm, tile.top_mm, px_per_mm)
        return cls(tile, shape, tile.owner(shape, front_deg))

    @property
    def pixels(self) -> int:
        """How many pixels."""
        return self.shape[0] * self.shape[1]

    @property
    def px_per_mm(self) -> tuple[float, float]:
        """Down, across."""
        wide = self.shape[1] / self.tile.lattice.circumference_mm
        return self.shape[0] / self.tile.height_mm, wide

    def rolled(self, shift: Shift) -> Ints:
        """Return the owner map when the sketch moves by `shift` (down, right) and is kept still."""
        return np.roll(self.owner, (-shift[0], -shift[1]), axis=(0, 1))

    def moved_mm(self, shift: Shift) -> tuple[float, float]:
        """Return a shift in mm to the right and up."""
        down, across = self.px_per_mm
        return shift[1] / across, -shift[0] / down

    def shift_of(self, moved_mm: tuple[float, float]) -> Shift:
        """Return the nearest shift in pixels."""
        down, across = self.px_per_mm
        return round(-moved_mm[1] * down), round(moved_mm[0] * across)

    def shifts(self) -> list[Shift]:
        """Return the shifts of one cell of the lattice, nearest to none first."""
        down, across = self.px_per_mm
        reach = self.tile.lattice.covering_radius_mm
        rows = np.arange(-int(reach * down) - 1, int(reach * down) + 2)
        columns = np.arange(-int(reach * across) - 1, int(reach * across) + 2)
        row, column = (part.ravel() for part in np.meshgrid(rows, columns, indexing="ij"))
        place = np.stack([column / across, -row / down], axis=1)
        away = self.tile.lattice.offsets_mm
        # nearer to no shift than to any lattice shift; of two equally near, one is kept
        over = place @ away.T - (away**2).sum(axis=1) / 2
        strict = (away[:, 1] < -1e-9) | ((np.abs(away[:, 1]) <= 1e-9) & (away[:, 0] < 0))
        inside = np.where(strict, over < -1e-9, over <= 1e-9).all(axis=1)
        order = np.lexsort((column, row, np.round((place**2).sum(axis=1), 9)))
        return [(int(row[k]), int(column[k])) for k in order if inside[k]]

    @cached_property
    def matters(self) -> Bools:
        """Which beads lie within `MATTERS_PITCHES` of which, (beads, beads)."""
        tile = self.tile
        crossings = np.arange(tile.beads) + tile.first
        x, y = tile.lattice.x_mm(crossings), tile.lattice.height_mm(crossings)
        across = np.abs(x[:, None] - x)
        across = np.minimum(across, tile.lattice.circumference_mm - across)
        along = np.abs(y[:, None] - y)
        along = np.minimum(along, tile.height_mm - along)
        # the walk of a measured drift is left out: it moves what lies beyond the gap
        reach = MATTERS_PITCHES * tile.lattice.pitch_mm
        return np.asarray(across**2 + along**2 <= reach**2)

    @cached_property
    def neighbours(self) -> Ints:
        """The six neighbours of each bead in the tile, (beads, 6)."""
        return self.tile.neighbours()


# -- the sketch on it --------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Inks:
    """The beads that may be used, and what the sketch's planes mean in them.

    Parameters
    ----------
    bead : (k,) int
        Places in the palette.
    planes : (k, 4) float32
        See `himotif.convert.likeness.bead_planes`.
    lab : (k, 3) float32
    ground : int
        The background's place among them.
    """

    bead: Ints
    planes: Singles
    lab: Singles
    ground: int


class View:
    """The sketch, at one size and turn, drawn over one tile.

    Parameters
    ----------
    canvas : Canvas
    placement : Placement
        Unmoved; with the repeats before and after, so that the tile closes on itself.
    source : Source
        Red, green, blue times alpha, and alpha; for a flat sketch then the share of each ink.
    inks : Inks
    ground : (3,) float32
        The background in linear light.
    """

    def __init__(
        self,
        canvas: Canvas,
        placement: Placement,
        source: sampling.Source,
        inks: Inks,
        ground: Singles,
    ) -> None:
        self.canvas, self.placement, self.inks = canvas, placement, inks
        tile, shape = canvas.tile, canvas.shape
        drawn = sampling.draw(source, placement, tile.lattice, shape, tile.bottom_mm, tile.top_mm)
        bare = 1 - drawn[..., 3]
        self.linear = drawn[..., :3] + bare[..., None] * ground
        self.cover = drawn[..., 3]
        self.shares = drawn[..., 4:]
        self.flat = drawn.shape[-1] > 4
        if self.flat:
            self.shares[..., inks.ground] += bare
        x, y = sampling.grid_mm(tile.lattice, shape, tile.bottom_mm, tile.top_mm)
        margin = placement.margin_mm(placement.chart_deg(x)[None, :], y[:, None])
        weight = (margin > -tile.lattice.pitch_mm).astype(np.float32)
        self.comparison = Comparison(self.linear, tile.px_per_bead(shape), weight)

    def contents(self, owners: Ints) -> Floats:
        """Return what lies in each bead's cell, (S, beads, k), for owner maps (S, H, W).

        Shares of the inks for a flat sketch, mean linear light for a shaded one.
        """
        planes = self.shares if self.flat else self.linear
        places, beads = len(owners), self.canvas.tile.beads
        key = (owners + (np.arange(places) * beads)[:, None, None]).reshape(-1)
        count = np.maximum(np.bincount(key, minlength=places * beads), 1)
        sums = [
            np.bincount(key, np.tile(planes[..., k].ravel(), places), minlength=places * beads)
            for k in range(planes.shape[-1])
        ]
        means: Floats = (np.stack(sums, axis=1) / count[:, None]).reshape(places, beads, -1)
        return means

    def losses(self, colours: Ints, owners: Ints) -> Singles:
        """Return the maps that add up to J, (S, H, W), of colours (S, beads)."""
        index = np.take_along_axis(colours, owners.reshape(len(owners), -1), axis=1)
        planes = np.moveaxis(self.inks.planes[index.reshape(owners.shape)], -1, -3)
        return self.comparison.loss_map(np.ascontiguousarray(planes))

    def rank(self, shifts: Sequence[Shift]) -> tuple[Floats, Ints]:
        """Return J and the first colouring, (S,) and (S, beads), at each shift."""
        at_once = max(1, PX_AT_ONCE // self.canvas.pixels)
        scores, chosen = [], []
        for begin in range(0, len(shifts), at_once):
            owners = np.stack([self.canvas.rolled(s) for s in shifts[begin : begin + at_once]])
            colours = first_colours(self, self.contents(owners))
            scores.append(self.losses(colours, owners).sum(axis=(1, 2), dtype=np.float64))
            chosen.append(colours)
        return np.concatenate(scores), np.concatenate(chosen)


# -- colours -----------------------------------------------------------------------------------

GROUND_WEIGHT = 0.7
"""A cell that is little more than half ground goes to the motif: strokes are thin, grounds wide."""

CANDIDATES = 4
"""Colours that a bead may try beside the one it has."""


def first_colours(view: View, contents: Floats) -> Ints:
    """Return the first colour of each bead, (..., beads), from its cell's contents."""
    if view.flat:
        weight = np.ones(contents.shape[-1])
        weight[view.inks.ground] = GROUND_WEIGHT
        return np.asarray(np.argmax(contents * weight, axis=-1))
    return np.asarray(np.argmin(_apart(view, contents), axis=-1))


def _apart(view: View, means: Floats) -> Singles:
    """Distance of mean colours (..., 3) to every ink in Lab, chroma counted half."""
    weight = np.float32([1.0, 0.5, 0.5])
    ours = linear_lab(means.astype(np.float32)) * weight
    theirs = view.inks.lab.astype(np.float32) * weight
    squares = (ours**2).sum(axis=-1)[..., None] + (theirs**2).sum(axis=-1)
    return np.asarray(squares - 2 * (ours @ theirs.T))


def candidates(view: View, contents: Floats) -> Ints:
    """Return the colours that each bead may try, (beads, k), best first, -1 where there are fewer.

    For a flat sketch: the inks that lie in the cell, and those that lie in most of a neighbour's
    cell. For a shaded one: the inks nearest to the mean, and those nearest to the neighbours'.
    """
    beads, kinds = contents.shape[0], len(view.inks.bead)
    near = view.canvas.neighbours
    if view.flat:
        merit = np.maximum(contents, 0.3 * contents[near].max(axis=1))
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


def sweep(
    view: View, shift: Shift, colours: Ints, allowed: Ints, most_maps: int = 100_000
) -> tuple[float, Ints]:
    """Change beads, many at a time, as long as the score falls.

    Parameters
    ----------
    view : View
    shift : (int, int)
    colours : (beads,) int
        Inks to begin with.
    allowed : (beads, k) int
        Inks that each bead may take; -1 is none.
    most_maps : int
        Stop after so many judgements.

    Returns
    -------
    (J, colours)
    """
    canvas = view.canvas
    owner = canvas.rolled(shift)
    matters = canvas.matters
    colours = colours.copy()
    loss = view.losses(colours[None], owner[None])[0]
    score = float(loss.sum(dtype=np.float64))
    open_beads = np.flatnonzero((allowed >= 0).sum(axis=1) > 1)
    maps = 0
    while len(open_beads) and maps < most_maps:
        flips = [
            (int(bead), int(ink))
            for bead in open_beads
            for ink in allowed[bead]
            if ink >= 0 and ink != colours[bead]
        ]
        groups = _apart_groups(flips, matters)
        maps += len(groups)
        gains = _gains(view, owner, colours, loss, groups)
        changed = _best_apart(gains, matters, LEAST_GAIN * score)
        if not changed:
            break
        while changed:
            trial = colours.copy()
            for bead, ink in changed:
                trial[bead] = ink
            new_loss = view.losses(trial[None], owner[None])[0]
            new_score = float(new_loss.sum(dtype=np.float64))
            maps += 1
            if new_score < score * (1 - LEAST_GAIN / 10):
                colours, loss, score = trial, new_loss, new_score
                break
            # what each promised does not come together: keep the better half
            changed = changed[: len(changed) // 2]
        if not changed:
            break
        touched = matters[[bead for bead, _ in changed]].any(axis=0)
        open_beads = np.flatnonzero(touched & ((allowed >= 0).sum(axis=1) > 1))
    return score, colours


Flip = tuple[int, int]


def _apart_groups(flips: list[Flip], matters: Bools) -> list[list[Flip]]:
    """Pack changes into groups of beads that do not matter to each other."""
    groups: list[list[Flip]] = []
    taken: list[Bools] = []
    for bead, ink in flips:
        for group, near in zip(groups, taken, strict=True):
            if not near[bead]:
                group.append((bead, ink))
                # twice the distance, so that no pixel is near two of them
                near |= matters[matters[bead]].any(axis=0)
                break
        else:
            groups.append([(bead, ink)])
            taken.append(matters[matters[bead]].any(axis=0))
    return groups


def _gains(
    view: View, owner: Ints, colours: Ints, loss: Singles, groups: list[list[Flip]]
) -> dict[Flip, float]:
    """How much each change raises the score near its bead (below 0: it reads better)."""
    canvas = view.canvas
    at_once = max(1, PX_AT_ONCE // canvas.pixels)
    gains: dict[Flip, float] = {}
    for begin in range(0, len(groups), at_once):
        part = groups[begin : begin + at_once]
        trial = np.repeat(colours[None], len(part), axis=0)
        for row, group in enumerate(part):
            for bead, ink in group:
                trial[row, bead] = ink
        owners = np.broadcast_to(owner, (len(part), *owner.shape))
        worse = view.losses(trial, owners) - loss
        for row, group in enumerate(part):
            by_bead = np.bincount(owner.ravel(), worse[row].ravel(), minlength=canvas.tile.beads)
            for bead, ink in group:
                gains[bead, ink] = float(by_bead @ canvas.matters[bead])
    return gains


def _best_apart(gains: dict[Flip, float], matters: Bools, least: float) -> list[Flip]:
    """The best changes that do not matter to each other, best first."""
    chosen: list[Flip] = []
    near = np.zeros(len(matters), dtype=bool)
    for flip in sorted(gains, key=lambda f: (gains[f], f)):
        if gains[flip] > -least:
            break
        if not near[flip[0]]:
            chosen.append(flip)
            near |= matters[flip[0]]
    return chosen


# -- the search --------------------------------------------------------------------------------

LOOK_PX, FINE_PX = 5.0, 9.0
"""Pixels per bead pitch for looking round, and for the last word."""

SCALES = (0.97, 1.03, 0.94, 1.06)
TURNS_DEG = (-2.0, 2.0, -4.0, 4.0)

WORTH_IT = 0.97
"""Another size or turn than the maker's must read at least this much better."""


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
    """

    shift: bool = True
    scale: bool = True
    turn: bool = True
    most_scale: float = 2.0
    quick: bool = False


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
    """

    tile: Tile
    placement: Placement
    source: sampling.Source
    inks: Inks
    ground: Singles

    def view(self, canvas: Canvas, scale: float, turn_deg: float) -> View:
        """Draw the sketch on a canvas, larger by `scale` and turned clockwise by `turn_deg`."""
        changed = replace(
            self.placement,
            px_per_mm=self.placement.px_per_mm / scale,
            rotate_deg=self.placement.rotate_deg + turn_deg,
        )
        placement = self.tile.closed(changed)
        return View(canvas, placement, self.source, self.inks, self.ground)


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
    """

    score: float
    scale: float
    turn_deg: float
    moved_mm: tuple[float, float]
    colours: Ints

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
    canvas = Canvas.of(scene.tile, LOOK_PX, scene.placement.front_deg)
    shifts = canvas.shifts() if effort.shift else [(0, 0)]
    looks: dict[tuple[float, float], View] = {}
    ranked: list[tuple[float, tuple[float, float], Shift, Ints]] = []

    def look(scale: float, turn_deg: float) -> float:
        """Rank all shifts at one size and turn; return how good its best are."""
        view = looks[scale, turn_deg] = scene.view(canvas, scale, turn_deg)
        scores, colours = view.rank(shifts)
        for score, shift, colour in zip(scores, shifts, colours, strict=True):
            ranked.append((float(score), (scale, turn_deg), shift, colour))
        return float(np.sort(scores)[:3].mean())

    sizes = {1.0: look(1.0, 0.0)}
    if effort.scale:
        sizes |= {scale: look(scale, 0.0) for scale in SCALES if scale <= effort.most_scale}
    if effort.turn:
        for scale in sorted(sizes, key=lambda s: sizes[s])[:2]:
            for turn in TURNS_DEG:
                look(scale, turn)
    ranked.sort(key=lambda r: (r[0], r[1], r[2]))
    tries = 1 if effort.quick else 8
    plain = [r for r in ranked if r[1] == (1.0, 0.0)][: max(1, tries // 2)]
    other = [r for r in ranked if r[1] != (1.0, 0.0)][: tries // 2]
    swept = [_swept(looks[key], key, shift, colours) for _, key, shift, colours in plain + other]
    swept.sort(key=lambda f: f.score)
    fine = Canvas.of(scene.tile, FINE_PX, scene.placement.front_deg)
    best: Found | None = None
    for found in swept[: 1 if effort.quick else 3]:
        view = scene.view(fine, found.scale, found.turn_deg)
        shift = fine.shift_of(found.moved_mm)
        owner = fine.rolled(shift)[None]
        score = float(view.losses(found.colours[None], owner).sum(dtype=np.float64))
        this = replace(found, score=score)
        if best is None or this.score < best.score:
            best = this
    assert best is not None
    return best


def _swept(view: View, key: tuple[float, float], shift: Shift, colours: Ints) -> Found:
    """Improve a place bead by bead."""
    contents = view.contents(view.canvas.rolled(shift)[None])[0]
    score, colours = sweep(view, shift, colours, candidates(view, contents))
    return Found(score, *key, view.canvas.moved_mm(shift), colours)
