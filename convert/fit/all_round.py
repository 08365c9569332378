"""A sketch as a tile that is repeated round the braid and along it, without a seam.

On the unrolled braid the beads make a lattice of two steps: one axis on, and across to the opposite
bead. A tile closes where both of its sides are steps of that lattice and once round the braid is a
whole number of them: then every tile has the same beads, and none breaks the repeat. Of all such
tiles those are looked at that are nearest to the sketch's proportions.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Bytes, Floats, Ints
from ...core.braid import FRONT_DEG, Lattice
from ...core.errors import WrongUsage
from ...core.findings import Code, Finding
from ...core.srgb import linear_to_srgb
from ..read import MOST_PX, Picture, read_sketch, redrawn, without_ground
from .broaden import broadened
from .composed import Composed, motif_of, picture_of, refuse_idle
from .features import reduced_labels
from .fitting import LaidMotif
from .inks import BeadChoice, bead_labels, choose_inks, ground_to_replace
from .laying import nearest_bead
from .patch import Patch
from .pieces import pieces_drawn, pieces_worked
from .place import Place
from .placement import Placement, check_width
from .size import SPACING_PITCHES
from .tile import Tile, returning

if TYPE_CHECKING:
    from ...core.bead import Bead
    from ...palette import Palette
    from ..options import Order

STEEPEST = np.tan(np.deg2rad(15.0))
"""Sides of tiles lean no more than this."""

STRETCH_NEAR = 1.25
"""A tile is near the sketch's proportions if it is stretched no more than by a quarter. Ours."""

LEAN_NEAR_DEG = 4.0
"""And if it leans no more."""

STRAIGHT_DEG = 0.01
"""And is straight if it leans no more."""

LEAN_PRICE = 1.5
"""What a radian costs beside a stretch of e."""

KEPT = 0.75
"""The smallest tile is taken whose beads keep so much of what is drawn: of the area that has not
the commonest colour, less what is wrong and less what strokes had to be broadened by."""

SKETCH_PX = 600
"""Longest side of the sketch as tiles are looked up in it: twelve pixels to a bead of a tile of
fifty."""

MOST_TILES = 24
"""Tiles, from the nearest to the sketch's proportions, whose beads are looked at."""

MOST_BEADS = 1200
"""Tiles of more beads are not looked at."""

MOST_PIECES = MOST_BEADS // 6
"""Of a drawing in more pieces none is kept by a tile: a piece and the ground round it take more."""

CELL_POINTS = 7
"""Points across a cell in which the sketch is looked up, in either direction."""

CELL_INSIDE = 0.75
"""So much of a cell's width is looked at to see whether each was filled in one colour: without the
lines of a blank, and what a bucket leaves beside them."""

PURE = 0.998
"""Of what is inside the cells so much has the colour of its cell in a blank that was filled in. A
stroke a fiftieth of a bead wide in a tile of ten beads across has as much of a plain one."""

IDLE_ALL_ROUND = (
    "fit",
    "outlines",
    "stretch",
    "rotate_deg",
    "repeat",
    "gap_rounds",
    "pin",
    "choice",
)
"""What cannot be asked for of a sketch all round."""


@dataclass(frozen=True)
class Tiling:
    """A tile that closes.

    Parameters
    ----------
    lattice : Lattice
    across, along : (int, int)
        Its sides: axis steps, and times across to the opposite bead.
    aspect : float
        Height over width of the sketch.
    """

    lattice: Lattice
    across: tuple[int, int]
    along: tuple[int, int]
    aspect: float

    @property
    def beads(self) -> int:
        """How many beads a tile has."""
        return abs(self._turns)

    @property
    def _turns(self) -> int:
        (a, b), (c, d) = self.across, self.along
        return a * d - c * b

    @property
    def sides_mm(self) -> Floats:
        """Its sides as columns, (2, 2): right, up."""
        return steps_mm(self.lattice, np.array([self.across, self.along])).T

    @cached_property
    def drawn_mm(self) -> Floats:
        """What one width of the sketch to the right, and up, comes to, as columns (2, 2)."""
        return np.asarray(self.sides_mm / [1.0, self.aspect])

    @property
    def stretch(self) -> float:
        """How many times longer it makes the one way than the other, 1 or more."""
        most, least = np.linalg.svd(self.drawn_mm, compute_uv=False)
        return float(most / least)

    @property
    def lean_deg(self) -> float:
        """How far its sides lean, the one that leans more."""
        (x, z), (right, up) = self.sides_mm.T
        return float(np.rad2deg(max(abs(np.arctan2(z, x)), abs(np.arctan2(right, up)))))

    @property
    def cost(self) -> float:
        """How far it is from the sketch's proportions."""
        return float(np.log(self.stretch) + LEAN_PRICE * np.deg2rad(self.lean_deg))

    @property
    def repeat_rounds(self) -> int | None:
        """Rounds from one tile to the next above it; None where that is not straight above."""
        rounds, rest = divmod(self.along[0], self.lattice.braid.axes)
        straight = abs(self.sides_mm[0, 1]) < 1e-6 * self.lattice.circumference_mm
        return rounds if straight and not rest else None

    @property
    def times_round(self) -> float:
        """How many tiles lie side by side round the braid."""
        return float(self.lattice.circumference_mm / self.sides_mm[0, 0])

    def places(self, step: Ints, side: Ints) -> Ints:
        """Return where beads lie in the tile, (..., 2): right and up, in parts of `beads`.

        Beads so many steps from each other that are sides of tiles have the same place.
        """
        (a, b), (c, d) = self.across, self.along
        sign = int(np.sign(self._turns))
        right, up = sign * (step * d - side * c), sign * (side * a - step * b)
        return np.asarray(np.stack([right, up], axis=-1) % self.beads)


def steps_mm(lattice: Lattice, steps: Ints) -> Floats:
    """Return axis steps and times across (..., 2) as right and up, mm."""
    right = -np.deg2rad(lattice.step_deg) * lattice.radius_mm
    one = np.array([[right, lattice.step_mm], [lattice.circumference_mm / 2, 0.0]])
    return np.asarray(steps @ one)


def tilings(lattice: Lattice, aspect: float, width_mm: float | None) -> list[Tiling]:
    """Return the tiles that close, nearest to the sketch's proportions first.

    Parameters
    ----------
    lattice : Lattice
    aspect : float
        Height over width of the sketch.
    width_mm : float, optional
        How wide a tile is wanted; None if that is to be found.
    """
    round_mm = lattice.circumference_mm
    high_mm = 1.6 * aspect * (width_mm or round_mm) + lattice.face_return().rounds * lattice.rise_mm
    steps = _near(lattice, max(high_mm, STEEPEST * round_mm))
    x, z = steps_mm(lattice, steps).T
    across = steps[(x > 0) & (x < round_mm + 1e-6) & (np.abs(z) <= STEEPEST * x)]
    along = steps[(z > 0) & (np.abs(x) <= STEEPEST * z)]
    (a, b), (c, d) = across.T[:, :, None], along.T[:, None, :]
    area = a * d - c * b
    # once round, twice across, is p times the one side and q times the other
    closes = (area != 0) & (np.abs(area) <= MOST_BEADS)
    closes &= (2 * c % np.where(area, area, 1) == 0) & (2 * a % np.where(area, area, 1) == 0)
    found = [
        Tiling(lattice, tuple(across[i].tolist()), tuple(along[j].tolist()), aspect)
        for i, j in np.argwhere(closes)
    ]
    if width_mm is not None:
        nearest = min((abs(np.log(one.sides_mm[0, 0] / width_mm)) for one in found), default=0.0)
        found = [
            one for one in found if abs(np.log(one.sides_mm[0, 0] / width_mm)) < nearest + 0.05
        ]
    return sorted(found, key=lambda one: (round(one.cost, 6), one.beads))


def _near(lattice: Lattice, high_mm: float) -> Ints:
    """All steps of the lattice up to a height, once round to either side, (n, 2)."""
    reach = int(high_mm / lattice.step_mm) + 1
    step = np.arange(-reach, reach + 1)
    right = steps_mm(lattice, np.stack([step, 0 * step], axis=-1))[:, 0]
    half = lattice.circumference_mm / 2
    # times across that bring it near to where it began
    first = np.rint(-right / half).astype(np.intp)
    steps = np.stack([np.repeat(step, 5), (first[:, None] + np.arange(-2, 3)).ravel()], axis=-1)
    return np.asarray(steps)


class _Looked:
    """A tile with its beads.

    Parameters
    ----------
    tiling : Tiling
    labels : (h, w) int
        Bead of each pixel of the sketch.
    offsets_mm : (n, 2) float
        Places that are tried.
    """

    def __init__(self, tiling: Tiling, labels: Ints, offsets_mm: Floats) -> None:
        self.tiling = tiling
        # every place comes within so many axis steps
        step, side = np.divmod(np.arange(2 * tiling.beads), 2)
        self.places, first = np.unique(tiling.places(step, side), axis=0, return_index=True)
        self._first = np.stack([step, side], axis=-1)[first]
        self._at_mm = steps_mm(tiling.lattice, self._first)
        inside = _cell_points(tiling.lattice, CELL_INSIDE)
        self.colours, pure = self._most(labels, inside, offsets_mm[0])
        self.offset_mm, self.kept = offsets_mm[0], 1.0
        self.by_cell = pure > PURE
        if not self.by_cell:
            self._search(labels, offsets_mm)

    def _search(self, labels: Ints, offsets_mm: Floats) -> None:
        """Find the place at which the cells agree best with the sketch."""
        usual = int(np.bincount(labels.ravel()).argmax())
        drawn, labels = labels, broadened(labels, usual, self._pitch_px(labels))
        points, best = _cell_points(self.tiling.lattice), -1.0
        for offset in offsets_mm:
            colours, agrees = self._most(labels, points, offset)
            if agrees > best + 1e-9:
                best, self.offset_mm, self.colours = agrees, offset, colours
        wrong = 1.0 - best + float((labels != drawn).mean())
        self.kept = 1.0 - wrong / max(float((labels != usual).mean()), 1e-9)

    def _most(self, labels: Ints, points_mm: Floats, offset_mm: Floats) -> tuple[Ints, float]:
        """What most of some points of each cell has, (beads,), and how much of it on average."""
        place = self.place(self._at_mm[:, None] + points_mm - offset_mm)
        seen = labels[_pixels(place, labels.shape)]
        inks = np.unique(seen)
        share = np.stack([(seen == ink).mean(axis=1) for ink in inks], axis=1)
        return inks[share.argmax(axis=1)], float(share.max(axis=1).mean())

    def place(self, points_mm: Floats) -> Floats:
        """Return points (..., 2) on the tile, in parts of its sides: right and up, 0..1."""
        return np.asarray((points_mm @ np.linalg.inv(self.tiling.sides_mm).T + 0.5) % 1.0)

    def _pitch_px(self, labels: Ints) -> float:
        """Pixels of the sketch to a bead pitch, if it is not stretched."""
        area_mm2 = abs(np.linalg.det(self.tiling.sides_mm))
        return float(self.tiling.lattice.pitch_mm * np.sqrt(labels.size / area_mm2))

    @cached_property
    def pieces(self) -> Counter[int]:
        """In how many pieces each bead of it lies."""
        (step, side), (steps, flips) = self._first.T, self.tiling.lattice.offsets.T
        beside = self._number(step[:, None] + steps, side[:, None] ^ flips)
        return pieces_worked(self.colours, beside)

    def without_lines(self, picture: Picture) -> Picture:
        """Return a filled blank with each cell in the colour of its middle, up to the next."""
        from scipy.spatial import cKDTree

        (high, wide), sides = picture.alpha.shape, self.tiling.sides_mm
        middle = self.place(self._at_mm - self.offset_mm)
        at = _pixels(middle, (high, wide))
        # the tile comes again on all sides
        again = np.stack(np.meshgrid((-1, 0, 1), (-1, 0, 1)), axis=-1).reshape(-1, 1, 2)
        right, up = (np.arange(wide) + 0.5) / wide, 1 - (np.arange(high) + 0.5) / high
        place = np.stack(np.meshgrid(right, up), axis=-1).reshape(-1, 2)
        tree = cKDTree((middle + again).reshape(-1, 2) @ sides.T)
        cell = tree.query(place @ sides.T)[1].reshape(high, wide) % len(middle)
        return replace(picture, linear=picture.linear[at][cell], alpha=picture.alpha[at][cell])

    def beads(self, step: Ints, side: Ints) -> Ints:
        """Return the bead of crossings so many steps from the tile's middle."""
        return np.asarray(self.colours[self._number(step, side)])

    def _number(self, step: Ints, side: Ints) -> Ints:
        """Which bead of the tile they are."""
        places = self.tiling.places(step, side)
        key = places[..., 0] * self.tiling.beads + places[..., 1]
        keys = self.places[:, 0] * self.tiling.beads + self.places[:, 1]
        return np.searchsorted(keys, key)


def _pixels(place: Floats, shape: tuple[int, ...]) -> tuple[Ints, Ints]:
    """Row and column of places (..., 2), parts of a picture: right and up."""
    high, wide = shape
    column = np.minimum(place[..., 0] * wide, wide - 1)
    row = np.minimum((1 - place[..., 1]) * high, high - 1)
    return row.astype(np.intp), column.astype(np.intp)


def _cell_points(lattice: Lattice, inside: float = 1.0) -> Floats:
    """Points spread over a bead's cell, or over so much of its width, (n, 2) mm."""
    reach = lattice.covering_radius_mm
    side = (np.arange(2 * CELL_POINTS) + 0.5) / CELL_POINTS * reach - reach
    point = np.stack(np.meshgrid(side, side), axis=-1).reshape(-1, 2)
    away = lattice.offsets_mm
    return np.asarray(point[(point @ away.T < inside * (away**2).sum(axis=1) / 2).all(axis=1)])


def compose_all_round(
    order: Order, picture: Picture, palette: Palette, lattice: Lattice, rounds: int
) -> Composed:
    """Repeat a sketch round the braid and along it.

    Parameters
    ----------
    order : Order
    picture : Picture
        All of it is the tile.
    palette : Palette
    lattice : Lattice
    rounds : int
        Beaded length, even.

    Raises
    ------
    WrongUsage
        If something is asked for that goes only for single motifs.
    """
    refuse_idle(order, IDLE_ALL_ROUND, "A sketch that goes all round")
    labels, choice, picture = _labels(order, picture, palette)
    labels = reduced_labels(labels, choice.ground, SKETCH_PX)
    looked = _fitted(order, labels, lattice, picture.size_px[1] / picture.size_px[0])
    if looked.by_cell:
        picture = looked.without_lines(picture)
    place = _whole_braid(lattice, rounds)
    tile = place.tile
    seed, _ = nearest_bead(lattice, FRONT_DEG, tile.middle_mm)
    step, side = np.divmod(np.arange(tile.beads) + tile.first, 2)
    colours = looked.beads(step - seed // 2, side - seed % 2)
    pixels, placement = _drawn(looked, place, seed, picture, palette.seen_rgb[choice.ground])
    composed, png = picture_of(pixels)
    size_mm = placement.width_mm, placement.height_mm
    fitted = LaidMotif(place, placement, size_mm, colours)
    # the lines of a blank that was filled in are no colour of it
    shown = {} if looked.by_cell else pieces_drawn(labels)
    lost = [choice.palette.beads[k] for k in shown if k not in looked.pieces]
    found = (*_said(looked, striped(labels)), *_lost(looked.tiling, lost))
    motif = motif_of(composed, choice)
    repeat_rounds = looked.tiling.repeat_rounds
    return Composed(composed, png, motif, fitted, found, repeat_rounds, picture.name)


def _labels(order: Order, picture: Picture, palette: Palette) -> tuple[Ints, BeadChoice, Picture]:
    """The bead of each pixel, the beads, and the picture with its ground left out."""
    sketch = read_sketch(picture, order.kind)
    choice = choose_inks(sketch, picture, palette, order)
    if sketch.kind == "shaded":
        times = max(1, max(picture.alpha.shape) // 300)
        linear, alpha = picture.linear[::times, ::times], picture.alpha[::times, ::times]
        nearest = choice.nearest_beads(linear.reshape(-1, 3)).reshape(alpha.shape)
        return np.where(alpha < 0.5, choice.ground, nearest), choice, picture
    ground = ground_to_replace(sketch, choice)
    if ground is not None:
        sketch = without_ground(sketch, ground)
        picture = redrawn(picture, sketch)
        choice = choose_inks(sketch, picture, palette, order, choice.ground)
    return bead_labels(sketch, choice), choice, picture


def _fitted(order: Order, labels: Ints, lattice: Lattice, aspect: float) -> _Looked:
    """The tile whose cells were filled in, else the smallest near the sketch that keeps it.

    Else one whose colours lie in as many pieces as they are drawn in, even if it is straight and no
    more near: a ring stays closed as long as there is room for it. Else the best of those near.
    """
    found = tilings(lattice, aspect, check_width(order.width_mm, lattice, "wrap"))
    near = [one for one in found if one.stretch <= STRETCH_NEAR and one.lean_deg <= LEAN_NEAR_DEG]
    # rings stay rings before columns stay straight; a slight lean does for the rest
    rings = [one for one in near if one.across[0] == 0]
    straight = [one for one in found if one.lean_deg < STRAIGHT_DEG]
    # stripes may be as high, or as wide, as they come
    upright = straight if striped(labels) else [one for one in straight if one in rings]
    tried = (upright or rings or near or straight[:1] or found[:1])[:MOST_TILES]
    if not tried:
        raise WrongUsage(
            "No tile of such proportions closes round this braid. Draw it less long.", "all_round"
        )
    if order.moved_mm is not None:
        offsets = np.array([order.moved_mm])
    else:
        offsets = Patch.of(lattice, lattice.pitch_mm).offsets_mm(SPACING_PITCHES * lattice.pitch_mm)
    filled = _Looked(tried[0], labels, offsets)
    if filled.by_cell:
        return filled
    first: list[_Looked] = []
    for one in sorted(tried, key=lambda one: (one.beads, one.cost)):
        first.append(filled if one is tried[0] else _Looked(one, labels, offsets))
        if first[-1].kept >= KEPT:
            return first[-1]
    wanted = pieces_drawn(labels)
    whole = [looked for looked in first if looked.pieces == wanted]
    if not whole and sum(wanted.values()) <= MOST_PIECES:
        others = [one for one in straight[:MOST_TILES] if one not in tried]
        more = (_Looked(one, labels, offsets) for one in others)
        whole = [looked for looked in more if looked.pieces == wanted]
    return max(whole or first, key=lambda looked: looked.kept - looked.tiling.cost)


def striped(labels: Ints) -> bool:
    """Whether all rows of a sketch are alike, or all columns."""
    return bool((labels == labels[:1]).all() or (labels == labels[:, :1]).all())


def _whole_braid(lattice: Lattice, rounds: int) -> Place:
    """The piece of the lattice that holds all of the braid."""
    middle_mm = (rounds * lattice.rise_mm - lattice.step_mm) / 2
    return Place(Tile.about(lattice, returning(lattice, rounds), middle_mm), FRONT_DEG, 0.0)


def _drawn(
    looked: _Looked, place: Place, seed: int, picture: Picture, ground: Bytes
) -> tuple[Bytes, Placement]:
    """The tiles as they lie on the braid, and where that picture lies."""
    lattice, tile = place.tile.lattice, place.tile
    round_mm, high_mm = lattice.circumference_mm, tile.height_mm
    px_per_mm = (MOST_PX - 2) / high_mm
    wide, high = round(round_mm * px_per_mm), round(high_mm * px_per_mm)
    x = (np.arange(wide) + 0.5) / px_per_mm - wide / px_per_mm / 2
    z = tile.middle_mm + (high / 2 - np.arange(high) - 0.5) / px_per_mm
    x = x - float(lattice.chart_x_mm(lattice.azimuth_deg(seed), FRONT_DEG))
    away = np.stack(np.meshgrid(x, z - float(lattice.height_mm(seed))), axis=-1)
    at = _pixels(looked.place(away - looked.offset_mm), picture.alpha.shape)
    rgb = linear_to_srgb(picture.linear)[at]
    rgb[picture.alpha[at] < 0.5] = ground
    placement = Placement(
        "wrap",
        px_per_mm,
        0.0,
        (wide, high),
        lattice.radius_mm,
        FRONT_DEG,
        ((FRONT_DEG, tile.middle_mm),),
    )
    return rgb, placement


def _said(looked: _Looked, stripes: bool) -> Iterator[Finding]:
    """How the sketch is repeated, and the proportions to draw if they are not near."""
    tiling = looked.tiling
    (wide, _), (_, high) = tiling.sides_mm.T
    data = {
        "times": round(tiling.times_round, 1),
        "width_mm": round(float(wide), 1),
        "height_mm": round(float(high), 1),
        "beads": tiling.beads,
        "stretch": None if stripes else round(float(high / wide / tiling.aspect), 3),
        "lean_deg": round(tiling.lean_deg, 1),
    }
    yield Finding(Code.ALL_ROUND, data)
    if stripes:
        return
    if tiling.stretch > STRETCH_NEAR or tiling.lean_deg > LEAN_NEAR_DEG:
        yield Finding(Code.ALL_ROUND_OFF, {"high_percent": round(100 * float(high / wide))})


def _lost(tiling: Tiling, lost: Sequence[Bead]) -> Iterator[Finding]:
    """Which colours that are drawn the tile has no bead of."""
    if lost:
        colours = [bead.code_and_name for bead in lost]
        yield Finding(Code.ALL_ROUND_LOST, {"colours": colours, "beads": tiling.beads})
