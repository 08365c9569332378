"""What the braid does to a picture, in numbers.

Everything is measured on the unrolled braid (the chart: x to the right round the braid, y up along
it, mm at the radius of the bead centres). Two things are compared there: the sketch as it was
placed, one bead colour per pixel (`LaidSketch`), and the beads, one colour per crossing.

========================  ==========  ============================================================
value                     unit        meaning
========================  ==========  ============================================================
edge shift                mm, beads   distance from a point of a sketch edge to the nearest bead
                                      edge of the same colours; one bead = ``Lattice.pitch_mm``
lost                      percent     share of the sketch's edges with no bead edge of their colours
                                      within two beads; not part of the mean, percentile and worst
area                      beads       area on the chart / ``Lattice.cell_area_mm2``
kept, of a colour         percent     share of its area that beads of that colour cover
kept, of the motif        percent     of the area that is motif in the sketch, in the beads or in
                                      both, the share where both have the same colour; so a bead
                                      too many counts like one that is missing
pieces, holes             count       connected parts and enclosed gaps, round the braid; specks
                                      below 3 % of a bead are no pieces; a gap that another colour
                                      fills is none; parts of the sketch that touch in a corner
                                      count as joined or parted, as the beads are; what the ends of
                                      the braid cut is left out where it does not compare
narrowest                 mm, beads   parts of a colour that are narrower than this fill together a
                                      tenth of a bead, or of the colour if that is less
stretch largest, smallest 1           singular values of the map from sketch mm to braid mm
stretch across, along     1           lengths of the images of the sketch's unit steps right and up
slant                     degrees     angle between those images, less 90; above 0 the upright
                                      leans to the left of square
row climb                 degrees     how far the image of the step right climbs
column lean               degrees     how far the image of the step up leans to the left
seen within a             percent     share of the motif's area less than a from the front
apparent width            percent     mean foreshortening (cosine) of what faces the front
seam                      percent, mm share and length of a join along which different colours meet
========================  ==========  ============================================================

*Squared paper*: one square a bead, a row a round, a column a pair; the squares of a row together go
once round the braid, so a square stands for ``circumference / pairs`` mm of the sketch.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ..arrays import Bools, Floats, Ints
from ..braid import FRONT_DEG
from .distortion_report import (
    BraidPlace,
    EdgeNumbers,
    RegionNumbers,
    Stretch,
    ThinLine,
    Visibility,
    Why,
)
from .pieces import count_gaps, count_pieces, joined_round

if TYPE_CHECKING:
    from ..braid import Lattice, Raster

# These bounds define what is counted; they are conventions of this report, not norms.

LOST_BEADS = 2.0
"""An edge with no bead edge of its colours within this many beads is lost."""

SPECK_BEADS = 0.03
"""Smaller pieces than this part of a bead are left out of the counts: no bead could show them."""

IGNORED_BEADS = 0.1
"""Narrow parts that fill less than this part of a bead do not count as narrow."""

_VOTES = 7  # points across a square of squared paper, each way

ALIKE_PERCENT = 2.0
"""A pattern that is moved by its own repeat shows the same but for so much of its motif."""

PIECE_LOST_PERCENT = 20.0
"""A piece of which less than this is covered by its colour counts as lost."""


# -- the sketch on the braid -----------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class LaidSketch:
    """The sketch as placed on a piece of the unrolled braid, one bead colour per pixel.

    Parameters
    ----------
    colours : array of int, (H, W)
        Palette index that the sketch calls for; `background` where no picture lies. A number of its
        own where it calls for what no bead of the braid stands for.
    background : int
        Palette index of the ground.
    raster : Raster
    """

    colours: Ints
    background: int
    raster: Raster

    @property
    def motif(self) -> Bools:
        """Where the sketch calls for another colour than the ground, (H, W)."""
        motif: Bools = self.colours != self.background
        return motif

    def at(self, x_mm: Floats, y_mm: Floats) -> Ints:
        """Return the colour under points of the chart (same shapes); ground beyond the ends."""
        width, height = self.raster.px_mm
        rows, columns = self.raster.shape
        column = np.floor(x_mm / width + columns / 2).astype(np.intp) % columns
        row = np.floor((self.raster.top_mm - y_mm) / height).astype(np.intp)
        found = self.colours[np.clip(row, 0, rows - 1), column]
        return np.where((row >= 0) & (row < rows), found, self.background)

    @cached_property
    def edges(self) -> Edges:
        """The edges between colours: the middles of the pixel sides that part two colours."""
        colours, raster = self.colours, self.raster
        width, height = raster.px_mm
        wide = raster.shape[1]
        row, column = np.nonzero(colours != np.roll(colours, -1, axis=1))
        below, across = np.nonzero(colours[:-1] != colours[1:])
        one_px = np.concatenate([row * wide + column, below * wide + across])
        other_px = np.concatenate([row * wide + (column + 1) % wide, (below + 1) * wide + across])
        return Edges(
            np.concatenate([(column + 1 - wide / 2) * width, raster.x_mm[across]]),
            np.concatenate([raster.y_mm[row], raster.top_mm - (below + 1) * height]),
            colours.ravel()[one_px],
            colours.ravel()[other_px],
            one_px,
            other_px,
        )


class Edges(NamedTuple):
    """Points of edges, (n,): place on the chart in mm, the colours and the pixels that meet there.

    Pixels are numbered row by row.
    """

    x_mm: Floats
    y_mm: Floats
    one: Ints
    other: Ints
    one_px: Ints
    other_px: Ints

    def only(self, which: Bools) -> Edges:
        """Return some of the points, by a mask (n,)."""
        return Edges._make(values[which] for values in self)


# -- stretch and slant -----------------------------------------------------------------------------


def stretch_of(matrix: Floats) -> Stretch:
    """Return stretch and slant of a map.

    Parameters
    ----------
    matrix : array of float, (2, 2)
        The columns are the images of the sketch's steps right and up, as (right, up).
    """
    largest, smallest = np.linalg.svd(matrix, compute_uv=False)
    right, up = matrix[:, 0], matrix[:, 1]
    climb = np.degrees(np.arctan2(right[1], right[0]))
    lean = np.degrees(np.arctan2(-up[0], up[1]))
    return Stretch(
        float(largest),
        float(smallest),
        float(np.hypot(*right)),
        float(np.hypot(*up)),
        float(lean - climb),
        float(climb),
        float(lean),
        float(largest / smallest) if smallest > 1e-9 * largest else None,
    )


def squared_paper_mm(lattice: Lattice) -> Floats:
    """Return where squared paper really goes: one column to the right, one row up.

    One column is the next pair in the same round, one row the same pair in the next round (where
    the other strand of the pair takes over, so the side of the axis changes). Within a round this
    holds along each half; between the halves the row drops by the rise it has climbed.

    Returns
    -------
    array of float, (2, 2)
        mm on the chart; first column: one square to the right, second: one square up.
    """
    sign = -1.0 if lattice.step_deg > 0 else 1.0
    radius = lattice.radius_mm
    drift = lattice.drift_deg if lattice.braid.lay == "S" else -lattice.drift_deg
    right = (sign * radius * np.deg2rad(-lattice.step_deg), sign * lattice.step_mm)
    up = (-radius * np.deg2rad(drift), lattice.rise_mm)
    return np.array([right, up]).T


def squared_paper_stretch(lattice: Lattice) -> Stretch:
    """Return the stretch and slant that a sketch on squared paper suffers."""
    return stretch_of(squared_paper_mm(lattice) / _square_mm(lattice))


def _square_mm(lattice: Lattice) -> float:
    return lattice.circumference_mm / lattice.braid.pairs


def squared_paper_squares(lattice: Lattice, count: int) -> tuple[Ints, Ints]:
    """Return the row and the column of squared paper that each bead is strung from, (n,) each.

    Columns are numbered to the right from the pair at the worker's top (usual turn).
    """
    braid = lattice.braid
    step, side = np.divmod(np.arange(count), 2)
    row, axis = np.divmod(step, braid.axes)
    rightward = braid.axes - 1 - axis if lattice.step_deg > 0 else axis
    # the strands of a pair take turns, so a pair is side 0 in one round and side 1 in the next
    column: Ints = rightward + braid.axes * (side ^ (row & 1))
    return row, column


def squared_paper_beads(sketch: LaidSketch, repeat_rows: int | None = None) -> Ints:
    """String a sketch one square a bead, and return the colour of each bead.

    As many squares are filled as the motif is large, those that hold most of it, each in the
    colour that fills most of it. The middle of the sketch goes to the bead nearest to it; the
    paper is cut at the back.

    A pattern that goes all round is drawn to as many rows as a repeat of it has rounds, and comes
    again after so many rows: its squares are a round high.

    Parameters
    ----------
    sketch : LaidSketch
        One motif, or all of a braid with a pattern.
    repeat_rows : int, optional
        Rounds from one repeat of a pattern to the next.

    Returns
    -------
    array of int, (n,)
        Palette index of each bead of the braid, in working order.
    """
    lattice, count = sketch.raster.lattice, sketch.raster.beads
    row, column = squared_paper_squares(lattice, count)
    middle_mm = _middle_mm(sketch)
    first = lattice.owner([middle_mm[0]], [middle_mm[1]], count, sketch.raster.front_deg)[0]
    pairs = lattice.braid.pairs
    right = (column - column[first] + pairs // 2) % pairs - pairs // 2
    up = row - row[first]
    wide = _square_mm(lattice)
    high = wide if repeat_rows is None else lattice.rise_mm
    part = (np.arange(_VOTES) + 0.5) / _VOTES - 0.5
    y_mm = middle_mm[1] + high * (up[:, None, None] + part[None, :, None])
    x_mm = middle_mm[0] + wide * (right[:, None, None] + part[None, None, :])
    x_mm, y_mm = np.broadcast_arrays(x_mm, y_mm)
    found = sketch.at(x_mm, y_mm).reshape(count, -1)
    colours = np.setdiff1d(found, sketch.background)
    if not len(colours):
        return np.full(count, sketch.background)
    # the same square for the beads of all repeats, by what of it lies on the braid
    square = np.arange(count) if repeat_rows is None else column + pairs * (up % repeat_rows)
    drawn = np.full(found.shape, True)
    if repeat_rows is not None:
        drawn = ((y_mm > sketch.raster.bottom_mm) & (y_mm < sketch.raster.top_mm)).reshape(
            count, -1
        )
    votes = np.zeros((square.max() + 1, len(colours)))
    np.add.at(votes, square, ((found[:, :, None] == colours) & drawn[:, :, None]).sum(axis=1))
    share = votes.sum(axis=1) / np.maximum(np.bincount(square, drawn.sum(axis=1)), 1)
    # as many squares as the motif is large, the fullest ones, so that lines are drawn too
    filled = np.argsort(-share, kind="stable")[: max(1, round(share.sum()))]
    beads = np.full(len(votes), sketch.background)
    beads[filled] = colours[np.argmax(votes[filled], axis=1)]
    return np.asarray(beads[square])


def _middle_mm(sketch: LaidSketch) -> tuple[float, float]:
    """Middle of the box round the motif."""
    motif = sketch.motif
    if not motif.any():
        return 0.0, (sketch.raster.bottom_mm + sketch.raster.top_mm) / 2
    x = sketch.raster.x_mm[motif.any(axis=0)]
    y = sketch.raster.y_mm[motif.any(axis=1)]
    return float(x[0] + x[-1]) / 2, float(y[0] + y[-1]) / 2


PicturePx = Callable[[Floats, Floats], Floats]
"""Azimuth in degrees and height in mm -> picture point (..., 2) in px, x right, y down, or nan."""


def local_maps(
    picture_px: PicturePx,
    azimuth_deg: Floats,
    height_mm: Floats,
    radius_mm: float,
    px_per_mm: float,
) -> Floats:
    """Return the map from sketch mm to braid mm near given points, by central differences.

    Parameters
    ----------
    picture_px : callable
        The placement.
    azimuth_deg, height_mm : array of float, (n,)
        Points on the braid.
    radius_mm : float
        Of the chart.
    px_per_mm : float
        Picture pixels in a millimetre of sketch.

    Returns
    -------
    array of float, (n, 2, 2)
        Columns: images of the sketch's right and up; nan where no picture lies.
    """
    small = 0.01
    turn = np.degrees(small / radius_mm)
    right = picture_px(azimuth_deg - turn, height_mm) - picture_px(azimuth_deg + turn, height_mm)
    up = picture_px(azimuth_deg, height_mm + small) - picture_px(azimuth_deg, height_mm - small)
    to_sketch = np.stack([right, up], axis=-1) / (2 * small * px_per_mm)
    to_sketch[..., 1, :] *= -1  # picture rows run downwards
    known = np.flatnonzero(np.isfinite(to_sketch).all(axis=(-1, -2)))
    known = known[np.abs(np.linalg.det(to_sketch[known])) > 1e-9]
    maps = np.full(to_sketch.shape, np.nan)
    maps[known] = np.linalg.inv(to_sketch[known])
    return maps


def most_bent(maps: Floats) -> Stretch | None:
    """Return the stretch of the map that is furthest from a true one; None without a map."""
    known = maps[np.isfinite(maps).all(axis=(-1, -2))]
    if not len(known):
        return None
    values = np.linalg.svd(known, compute_uv=False)
    worst = int(np.argmax(np.abs(np.log(values)).sum(axis=1)))
    return stretch_of(known[worst])


# -- edges -----------------------------------------------------------------------------------------


class BeadEdges:
    """The edges between beads of different colours: the shared sides of their cells.

    Parameters
    ----------
    lattice : Lattice
    beads : array of int, (n,)
        Palette index of each bead.
    front_deg : float
        Azimuth of x = 0.
    """

    _POINTS = 17  # on each side of a cell: closer than 0.05 of a bead

    def __init__(self, lattice: Lattice, beads: Ints, front_deg: float = FRONT_DEG) -> None:
        count = len(beads)
        centres = np.stack(
            [lattice.x_mm(np.arange(count), front_deg), lattice.height_mm(np.arange(count))], 1
        )
        here, there, sides = [], [], []
        neighbours = lattice.neighbours(count)
        for index, side_mm in enumerate(_cell_sides_mm(lattice)):
            other = neighbours[:, index]
            found = np.nonzero((other > np.arange(count)) & (beads != beads[other]))[0]
            here.append(beads[found])
            there.append(beads[other[found]])
            sides.append(centres[found, None] + side_mm)
        self.segments_mm: Floats = np.concatenate(sides)
        """Ends of the edges on the chart, (k, 2, 2)."""
        self.one: Ints = np.concatenate(here)
        self.other: Ints = np.concatenate(there)
        self._circumference_mm = lattice.circumference_mm
        self.cap_mm = LOST_BEADS * lattice.pitch_mm

    @cached_property
    def _points(self) -> Floats:
        part = np.linspace(0, 1, self._POINTS)[None, :, None]
        start, end = self.segments_mm[:, None, 0], self.segments_mm[:, None, 1]
        points: Floats = start + part * (end - start)
        points[..., 0] = self._round(points[..., 0])
        return points

    def _round(self, x_mm: Floats) -> Floats:
        """x once round from 0; twice, because the remainder of -1e-17 rounds to a whole round."""
        return x_mm % self._circumference_mm % self._circumference_mm

    def _distance_to(self, colour: int, points_mm: Floats) -> Floats:
        from scipy.spatial import cKDTree

        mine = (self.one == colour) | (self.other == colour)
        if not mine.any():
            return np.full(len(points_mm), self.cap_mm)
        target = self._points[mine].reshape(-1, 2)
        lowest = min(target[:, 1].min(), points_mm[:, 1].min()) - 1.0
        offset = np.array([0.0, lowest])
        tree = cKDTree(target - offset, boxsize=[self._circumference_mm, 0.0])
        distance, _ = tree.query(points_mm - offset, distance_upper_bound=self.cap_mm)
        reached: Floats = np.minimum(distance, self.cap_mm)
        return reached

    def shift_mm(self, edges: Edges) -> Floats:
        """Return how far each point of the sketch's edges lies from the bead edges, (n,) mm.

        The nearest edge of the one colour and the nearest of the other, whichever is further;
        `cap_mm` where there is none within reach.
        """
        points = np.stack([self._round(edges.x_mm), edges.y_mm], 1)
        shift = np.zeros(len(points))
        for colour in np.union1d(edges.one, edges.other):
            mine = (edges.one == colour) | (edges.other == colour)
            shift[mine] = np.maximum(shift[mine], self._distance_to(int(colour), points[mine]))
        return shift


def _cell_sides_mm(lattice: Lattice) -> Floats:
    """Sides of the cell towards each of the six neighbours, (6, 2, 2), relative to the bead."""
    cell = lattice.cell_mm
    sides = np.stack([cell, np.roll(cell, -1, axis=0)], axis=1)
    away = lattice.offsets_mm
    # the side towards a neighbour lies on the bisector; a side of no length is its corner
    off = np.abs(np.einsum("sev,nv->nse", sides, away) - (away**2).sum(1)[:, None, None] / 2)
    found: Floats = sides[np.argmin(off.max(axis=2), axis=1)]
    return found


@dataclass(frozen=True, eq=False)
class EdgeShift:
    """How far the sketch's edges moved, (n,) points."""

    edges: Edges
    shift_mm: Floats
    cap_mm: float
    pitch_mm: float

    @property
    def numbers(self) -> EdgeNumbers:
        """Mean, 95th percentile and worst in mm and beads, and the share lost."""
        found = self.shift_mm[~self.lost]
        lost_percent = 100.0 * float(self.lost.mean()) if len(self.shift_mm) else 0.0
        if not len(found):
            return EdgeNumbers(None, None, None, None, None, None, lost_percent)
        mean, p95, worst = (
            float(value) for value in (found.mean(), np.percentile(found, 95), found.max())
        )
        pitch = self.pitch_mm
        return EdgeNumbers(mean, mean / pitch, p95, p95 / pitch, worst, worst / pitch, lost_percent)

    @property
    def lost(self) -> Bools:
        """Edges without a bead edge of their colours within reach, (n,)."""
        lost: Bools = self.shift_mm >= self.cap_mm * (1 - 1e-9)
        return lost

    @property
    def worst(self) -> int | None:
        """The point that moved furthest, lost ones left out."""
        if self.lost.all():
            return None
        return int(np.argmax(np.where(self.lost, -1.0, self.shift_mm)))

    def of_colour(self, colour: int) -> EdgeShift:
        """Return the edges of one colour only."""
        mine = (self.edges.one == colour) | (self.edges.other == colour)
        return EdgeShift(self.edges.only(mine), self.shift_mm[mine], self.cap_mm, self.pitch_mm)


def edge_shift(sketch: LaidSketch, beads: Ints) -> EdgeShift:
    """Return how far the edges of the sketch moved when it became beads.

    Parameters
    ----------
    sketch : LaidSketch
        What was to be shown.
    beads : array of int, (n,)
        Palette index of each bead.
    """
    bead_edges = BeadEdges(sketch.raster.lattice, beads, sketch.raster.front_deg)
    edges = _between_ends(sketch)
    shift = bead_edges.shift_mm(edges)
    # the outline of a piece that is not there did not move a little to some other piece's
    gone = _lost_pieces(sketch, covered(sketch, beads)).ravel()
    shift[gone[edges.one_px] | gone[edges.other_px]] = bead_edges.cap_mm
    return EdgeShift(edges, shift, bead_edges.cap_mm, sketch.raster.lattice.pitch_mm)


def _between_ends(sketch: LaidSketch) -> Edges:
    """The edges that lie a bead and more from the ends of the braid: there they may have none."""
    lattice, edges = sketch.raster.lattice, sketch.edges
    last_mm = float(lattice.height_mm(sketch.raster.beads - 1))
    between = (edges.y_mm > lattice.pitch_mm) & (edges.y_mm < last_mm - lattice.pitch_mm)
    return edges.only(between)


def covered(sketch: LaidSketch, beads: Ints) -> Bools:
    """Return where the bead has the colour that the sketch calls for, (H, W)."""
    same: Bools = beads[sketch.raster.owner] == sketch.colours
    return same


def kept_percent(sketch: LaidSketch, beads: Ints) -> float | None:
    """Return how much of the motif is in place; see the table at the top of the module.

    Parameters
    ----------
    sketch : LaidSketch
    beads : array of int, (n,)
        Palette index of each bead.

    Returns
    -------
    float or None
        0 to 100; None without a motif.
    """
    if not sketch.motif.any():
        return None
    either = sketch.motif | (beads[sketch.raster.owner] != sketch.background)
    return 100.0 * float(covered(sketch, beads)[either].mean())


def _lost_pieces(sketch: LaidSketch, same: Bools) -> Bools:
    """Where the pieces lie that are lost, (H, W)."""
    lost = np.zeros(same.shape, dtype=bool)
    for colour in np.unique(sketch.colours):
        pieces = joined_round(sketch.colours == colour, corners=True)
        size = np.bincount(pieces.ravel())
        kept = np.bincount(pieces.ravel(), weights=same.ravel()) / np.maximum(size, 1)
        kept[0] = 1.0
        lost |= 100.0 * kept[pieces] < PIECE_LOST_PERCENT
    return lost


LINE_RATIO = 3.0
"""What is so many times as long as it is wide is a line, and else a corner: a corner of 25° and
more ends so near to where it is wide enough."""


def thin_line(sketch: LaidSketch, pixel: int, needed_mm: float) -> ThinLine | None:
    """Return the line that a pixel lies on, if that is narrower than is needed.

    Parameters
    ----------
    sketch : LaidSketch
    pixel : int
        Numbered row by row.
    needed_mm : float
    """
    from scipy import ndimage

    row, column = np.divmod(pixel, sketch.raster.shape[1])
    width, height = sketch.raster.px_mm
    far = [int(np.ceil(LINE_RATIO * needed_mm / side)) for side in (height, width)]
    columns = (column + np.arange(-far[1], far[1] + 1)) % sketch.raster.shape[1]
    top = max(row - far[0], 0)
    colours = sketch.colours[top : row + far[0] + 1][:, columns]
    at = row - top, far[1]
    mask, size = colours == colours[at], (height, width)
    depth = ndimage.distance_transform_edt(mask, sampling=size)
    core = depth >= needed_mm / 2
    if core.any():
        # as far from the core as an edge is, and a pixel
        away = ndimage.distance_transform_edt(~core, sampling=size)
        mask &= away > needed_mm / 2 + max(size)
    pieces = ndimage.label(mask, np.ones((3, 3)))[0]
    if not pieces[at]:
        return None
    piece = pieces == pieces[at]
    line_mm = 2 * float(depth[piece].max())
    down, across = np.nonzero(piece)
    reach_mm = np.hypot((int(np.ptp(down)) + 1) * height, (int(np.ptp(across)) + 1) * width)
    if reach_mm < LINE_RATIO * line_mm:
        return None
    return ThinLine(line_mm, bool(colours[at] == sketch.background))


def place_of(raster: Raster, x_mm: float, y_mm: float, front_deg: float = FRONT_DEG) -> BraidPlace:
    """Return the place of a chart point: angle, height, and the bead that lies there.

    Parameters
    ----------
    raster : Raster
        Whose chart it is.
    x_mm, y_mm : float
    front_deg : float
        Azimuth of the front; ``from_front_deg`` is above 0 to the right of it.
    """
    lattice = raster.lattice
    bead = int(lattice.owner([x_mm], [y_mm], raster.beads, raster.front_deg)[0])
    azimuth = (raster.front_deg - np.degrees(x_mm / lattice.radius_mm)) % 360.0 % 360.0
    return BraidPlace(
        float(azimuth),
        float(y_mm),
        float((front_deg - azimuth + 180.0) % 360.0 - 180.0),
        bead + 1,
        int(lattice.braid.strand_of(bead)) + 1,
        int(lattice.braid.order_of(bead)) + 1,
    )


# -- regions ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Region(RegionNumbers):
    """One colour of the sketch, by its number in it."""

    colour: int

    @property
    def changed(self) -> bool:
        """Whether something a viewer would count has changed."""
        return (
            self.pieces_before != self.pieces_after
            or self.holes_before != self.holes_after
            or self.pieces_lost > 0
        )


def regions(sketch: LaidSketch, beads: Ints) -> list[Region]:
    """Return what becomes of each colour of the sketch, the largest first.

    Parameters
    ----------
    sketch : LaidSketch
        One motif, with its ground.
    beads : array of int, (n,)
        Palette index of each bead of the whole braid.
    """
    same = covered(sketch, beads)
    lattice, inside = sketch.raster.lattice, sketch.raster.inside
    width, tall = sketch.raster.px_mm
    speck_px = SPECK_BEADS * lattice.cell_area_mm2 / (width * tall)
    found = []
    ground, bare = sketch.colours == sketch.background, beads == sketch.background
    for colour in np.unique(sketch.colours):
        mask = sketch.colours == colour
        # what another colour fills is no gap; the gaps in the ground are what is drawn
        any_gap = colour == sketch.background
        mine = beads == colour
        before = joined_round(mask, corners=True)
        sizes = np.bincount(before[mask])[1:]
        if sizes.max() < speck_px:
            continue
        pieces = count_pieces(sketch.raster, mask, mine, speck_px)
        gap = ~mask & (any_gap | ground)
        gaps = count_gaps(sketch.raster, mask, gap, mine, any_gap | bare, speck_px)
        kept = np.bincount(before[mask], weights=same[mask])[1:] / sizes
        cut = np.isin(np.arange(1, len(sizes) + 1), before[pieces.at_end])
        lost = (sizes >= speck_px) & (100.0 * kept < PIECE_LOST_PERCENT) & ~cut
        narrowest = narrowest_mm(
            mask, (width, tall), 2 * lattice.pitch_mm, IGNORED_BEADS * lattice.cell_area_mm2
        )
        region = Region(
            colour=int(colour),
            is_background=int(colour) == sketch.background,
            area_beads=float(mask.sum()) * width * tall / lattice.cell_area_mm2,
            beads=int((mine & inside).sum()),
            kept_percent=100.0 * float(same[mask].mean()),
            pieces_before=pieces.before,
            pieces_after=pieces.after,
            pieces_lost=int(lost.sum()),
            holes_before=gaps.before,
            holes_after=gaps.after,
            narrowest_mm=narrowest,
            narrowest_beads=narrowest / lattice.pitch_mm,
            why=None,
        )
        found.append(_explained(region))
    return sorted(found, key=lambda region: -region.area_beads)


def _explained(region: Region) -> Region:
    """Say why a colour changed."""
    from dataclasses import replace

    if not region.changed and region.kept_percent >= 60.0:
        return region
    if region.beads == 0 and region.area_beads < 1.0:
        why = Why.SMALLER_THAN_A_BEAD
    elif region.narrowest_beads < 1.0:
        why = Why.NARROWER_THAN_A_BEAD
    elif region.area_beads < 2 * region.pieces_before:
        why = Why.SMALL_PIECES
    elif region.narrowest_beads < 2.0:
        why = Why.NARROWER_THAN_TWO
    else:
        why = Why.BETWEEN_THE_BEADS
    return replace(region, why=why)


def narrowest_mm(
    mask: Bools, px_mm: tuple[float, float], reach_mm: float, ignored_mm2: float
) -> float:
    """Return the width of the narrowest parts of a mask that matter.

    Widths are read on the centre line: where the distance to the edge hardly grows in any
    direction, as between two sides that run side by side, and in the middle of a round raster, but
    not in a corner. Parts that fill less than `ignored_mm2` together, such as the tip of a tapering
    shape, or less than a tenth of the mask, are passed over.

    Parameters
    ----------
    mask : array of bool, (H, W)
        Closes round the braid.
    px_mm : (float, float)
        Width and height of a pixel.
    reach_mm : float
        Widths up to twice this are distinguished.
    ignored_mm2 : float
    """
    from scipy import ndimage

    if not mask.any():
        return 0.0
    margin_x, margin_y = (int(np.ceil(reach_mm / size)) for size in px_mm)
    margin_x = min(margin_x, mask.shape[1])
    padded = np.pad(mask, ((0, 0), (margin_x, margin_x)), mode="wrap")
    padded = np.pad(padded, ((margin_y, margin_y), (0, 0)), mode="edge")
    ours = np.zeros(padded.shape, dtype=bool)
    ours[margin_y:-margin_y, margin_x:-margin_x] = True
    # no edge is nearer than those round the mask
    ((box),) = ndimage.find_objects(padded.astype(np.int8))
    box = tuple(slice(max(side.start - 1, 0), side.stop + 1) for side in box)
    # doubled pixels: the middle of a stroke then always lies between two of them
    doubled, inner = (
        part[box].repeat(2, axis=0).repeat(2, axis=1) for part in (padded, padded & ours)
    )
    step_y, step_x = px_mm[1] / 2, px_mm[0] / 2
    distance = ndimage.distance_transform_edt(doubled, sampling=(step_y, step_x))
    down, right = np.gradient(distance, step_y, step_x)
    half = np.sort(distance[inner & (np.hypot(down, right) < 0.6)])
    # a piece of centre line stands for an area of its width; the ridge is two fine pixels thick
    area = np.cumsum(half) * (step_x + step_y) / 2
    total = float(mask.sum()) * px_mm[0] * px_mm[1]
    first = int(np.searchsorted(area, min(ignored_mm2, 0.1 * total)))
    # the middle of a wide round raster may fall between the pixels and leave no centre line
    return 2 * float(half[first] if first < len(half) else distance[inner].max())


# -- what can be seen, and where things meet -------------------------------------------------------


def visibility(sketch: LaidSketch, front_deg: float = FRONT_DEG) -> Visibility | None:
    """Return how much of the motif can be seen from the front, in percent of its area.

    ``apparent_width_percent`` is the mean cosine of the part that faces the front; None without a
    motif.
    """
    radius = sketch.raster.lattice.radius_mm
    azimuth = sketch.raster.front_deg - np.degrees(sketch.raster.x_mm / radius)
    away = np.abs((azimuth - front_deg + 180.0) % 360.0 - 180.0)
    weight = sketch.motif.sum(axis=0).astype(np.float64)
    total = weight.sum()
    if total == 0:
        return None
    near, beside, facing = (
        100.0 * float(weight[away <= angle].sum() / total) for angle in (30, 60, 90)
    )
    seen = weight * (away <= 90.0)
    apparent = None
    if seen.sum() > 0:
        apparent = 100.0 * float((seen * np.cos(np.deg2rad(away))).sum() / seen.sum())
    return Visibility(near, beside, facing, 100.0 - facing, apparent)


class Meeting(NamedTuple):
    """Two colours that meet along a join, and for how long."""

    one: int
    other: int
    length_mm: float


@dataclass(frozen=True)
class Join:
    """Where a picture meets itself, or its next repeat."""

    length_mm: float
    meetings: tuple[Meeting, ...]

    @property
    def differ_percent(self) -> float:
        """Share of the join along which two different colours meet."""
        differ = sum(met.length_mm for met in self.meetings if met.one != met.other)
        return 100.0 * differ / self.length_mm if self.length_mm else 0.0


def _join(one: Ints, other: Ints, step_mm: float) -> Join:
    pairs, counts = np.unique(np.stack([one, other], 1), axis=0, return_counts=True)
    order = np.argsort(-counts, kind="stable")
    meetings = [
        Meeting(int(pairs[i, 0]), int(pairs[i, 1]), float(counts[i]) * step_mm) for i in order
    ]
    return Join(len(one) * step_mm, tuple(meetings))


def seam_round(sketch: LaidSketch) -> Join:
    """Return what meets at the back of the motif, where the picture closes round the braid.

    ``one`` is the colour at the picture's right edge, ``other`` that at its left edge.
    """
    return _join(sketch.colours[:, -1], sketch.colours[:, 0], sketch.raster.px_mm[1])


def seam_repeat(sketch: LaidSketch, height_mm: float) -> Join:
    """Return what meets where two repeats join, at a height inside the raster.

    ``one`` is the colour below the join, ``other`` the one above it.
    """
    width, height = sketch.raster.px_mm
    below = round((sketch.raster.top_mm - height_mm) / height)
    return _join(sketch.colours[below], sketch.colours[below - 1], width)


def times_round(sketch: LaidSketch) -> int:
    """Return how often a pattern comes in going once round the braid; 1 if it is none.

    Where it closes, a pattern looks as between any two of its repeats: no colours meet there that
    were not meant to.
    """
    colours, lattice = sketch.colours, sketch.raster.lattice
    for times in range(int(lattice.circumference_mm / lattice.pitch_mm), 1, -1):
        moved = np.roll(colours, round(colours.shape[1] / times), axis=1)
        if _alike(colours, moved, sketch.background, axis=1):
            return times
    return 1


def times_along(sketch: LaidSketch, period_mm: float) -> int:
    """Return how often a pattern comes in a length of the braid; 1 if it is none.

    As `times_round`, for motifs that follow each other without ground between them.
    """
    colours, raster = sketch.colours, sketch.raster
    for times in range(int(period_mm / raster.lattice.pitch_mm), 1, -1):
        by = round(period_mm / times / raster.px_mm[1])
        if _alike(colours[by:], colours[:-by], sketch.background, axis=0):
            return times
    return 1


def _alike(one: Ints, other: Ints, background: int, axis: int) -> bool:
    """Whether two pieces show the same, but for edges that fall on the next pixel."""
    near = [np.roll(other, by, axis) for by in (-1, 0, 1)]
    unlike = np.logical_and.reduce([one != moved for moved in near]).sum()
    motif = (one != background).sum()
    return bool(motif and 100.0 * unlike <= ALIKE_PERCENT * motif)
