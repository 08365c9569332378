"""Quadrilaterals in a photograph that may be a sheet of paper.

Straight edges are found by the Hough transform (Duda & Hart, Comm. ACM 15 (1972) 11-15), each pixel
voting for lines across its own gradient only (O'Gorman & Clowes, IEEE Trans. Comput. 25 (1976)
449-456), on logarithms of light, so that an edge in the shadow counts as much as one in the sun.
Pairs of pairs of lines are quadrilaterals. One is the better, the more of its sides lies on edges
with the same side lighter. Corners may be missing, or lie beyond the frame, as only sides count;
where a sheet reaches out of the photograph, the frame stands for its side. A side with the same
smooth surface beyond it, only darker, is the edge of a shadow.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.srgb import box_mean
from .sheet_light import SHADOW, log_light

SEARCH_PX = 400
"""The longest side, in pixels, of the picture in which sides are searched for."""

LINES = 64
"""So many straight edges are tried as sides."""


# -- straight edges --------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Edges:
    """Edges of a reduced picture.

    Parameters
    ----------
    at : (n, 2) int
        Row and column of each edge pixel.
    angle : (n,) float
        Direction of its gradient, radians, 0..pi.
    light : (h, w) float
        Logarithm of light, smooth.
    logs : (h, w, 3) float
        The same of each channel.
    rough : (h, w) float
        Its deviation about each pixel.
    """

    at: Ints
    angle: Floats
    light: Floats
    logs: Floats
    rough: Floats


def _edges(small: Float32Array) -> _Edges:
    """The edges of any channel: paper and table may differ in colour alone."""
    from scipy import ndimage
    from skimage.feature import canny

    logs = log_light(small)
    found = np.zeros(small.shape[:2], dtype=bool)
    steep = np.zeros(small.shape[:2])
    angle = np.zeros(small.shape[:2])
    for channel in range(3):
        soft = ndimage.gaussian_filter(logs[..., channel], 1.5, mode="nearest")
        down, across = np.gradient(soft)
        size = np.hypot(down, across)
        edge = canny(
            logs[..., channel], 1.5, low_threshold=0.75, high_threshold=0.88, use_quantiles=True
        )
        more = edge & (size > steep)
        steep[more] = size[more]
        angle[more] = np.arctan2(down, across)[more]
        found |= edge
    rows, columns = np.nonzero(found)
    smooth = ndimage.gaussian_filter(logs, (1.0, 1.0, 0.0), mode="nearest")
    light = smooth.mean(axis=-1)
    mean = ndimage.uniform_filter(light, ROUGH_PX)
    square = ndimage.uniform_filter(light**2, ROUGH_PX)
    rough = np.sqrt(np.maximum(square - mean**2, 0))
    at = np.stack([rows, columns], axis=1)
    return _Edges(at, angle[rows, columns] % np.pi, light, smooth, rough)


ROUGH_PX = 5
"""Side, in pixels, of the window in which it is measured how rough a surface is."""


def _outlines(edges: _Edges) -> Floats:
    """Lines, (k, 3), along the convex outlines of smooth surfaces.

    On checks and planks there are more and longer edges than those of the sheet, but no surface as
    large and smooth.
    """
    from scipy import ndimage
    from scipy.spatial import ConvexHull

    steps = [np.abs(np.gradient(edges.logs, axis=axis)).max(axis=-1) for axis in (0, 1)]
    pieces, count = ndimage.label(np.maximum(*steps) < SMOOTH_STEP)
    size = np.bincount(pieces.ravel(), minlength=count + 1)
    size[0] = 0
    lines = []
    for piece in np.argsort(-size)[:SURFACES]:
        if size[piece] < LEAST_SURFACE * pieces.size:
            break
        points = np.argwhere(pieces == piece)[:, ::-1].astype(np.float64)
        hull = points[ConvexHull(points).vertices]
        corners = _simplified(np.concatenate([hull, hull[:1]]), OUTLINE_PX)
        for one, along in zip(corners, np.diff(corners, axis=0), strict=False):
            long = float(np.hypot(*along))
            if long >= LEAST_LINE * min(pieces.shape):
                normal = np.array([-along[1], along[0]]) / long
                lines.append(_refitted(edges, np.array([*normal, normal @ (one + along / 2)])))
    return np.array(lines).reshape(-1, 3)


def _simplified(chain: Floats, most_px: float) -> Floats:
    """Points (k, 2) of a chain (n, 2) from which no other is farther off (Douglas & Peucker,
    Cartographica 10 (1973) 112-122).

    `skimage.measure` has the same and takes half a second to import.
    """
    first, along = chain[0], chain[-1] - chain[0]
    share = (chain - first) @ along / max(float(along @ along), 1e-12)
    off = np.linalg.norm(chain - first - np.clip(share, 0, 1)[:, None] * along, axis=1)
    farthest = int(np.argmax(off))
    if off[farthest] <= most_px:
        return chain[[0, -1]]
    before = _simplified(chain[: farthest + 1], most_px)
    return np.concatenate([before[:-1], _simplified(chain[farthest:], most_px)])


SMOOTH_STEP = 0.035
"""In logarithms of light, from one pixel to the next, on a smooth surface: the step at which planks
and cloth of the rendered scenes fall apart and paper does not."""

SURFACES, LEAST_SURFACE = 4, 0.03
"""So many surfaces are outlined: paper in the light and in shadows; share of the photograph."""

OUTLINE_PX = 2.5
"""How far an outline may be from a straight line, in pixels."""

LEAST_LINE = 0.12
"""Length of the shortest side, in shorter sides of the photograph."""


def _turned_by(angle: Floats, other: Floats | float) -> Floats:
    """How far two directions differ, radians, 0..pi/2."""
    apart = np.abs(angle - other) % np.pi
    return np.asarray(np.minimum(apart, np.pi - apart))


def _lines(edges: _Edges) -> Floats:
    """Straight edges, (k, 3): unit normal across and down, and distance from the origin."""
    from skimage.transform import hough_line, hough_line_peaks

    shape = edges.light.shape
    thetas = np.radians(np.arange(-90.0, 90.0))
    votes: list[npt.NDArray[Any]] = []
    for first in range(0, 180, 6):
        part = thetas[first : first + 6]
        own = _turned_by(edges.angle, float(part.mean())) < np.radians(9)
        mask = np.zeros(shape, dtype=bool)
        mask[edges.at[own, 0], edges.at[own, 1]] = True
        counted, _, distance = hough_line(mask, theta=part)
        votes.append(counted)
    least = LEAST_LINE * min(shape)
    _, theta, rho = hough_line_peaks(
        np.concatenate(votes, axis=1).astype(np.float64),
        thetas,
        distance,
        min_distance=3,
        min_angle=2,
        threshold=least,
        num_peaks=LINES,
    )
    lines = [
        _refitted(edges, np.array([np.cos(t), np.sin(t), r]))
        for t, r in zip(theta, rho, strict=True)
    ]
    return np.array(lines).reshape(-1, 3)


def _refitted(edges: _Edges, line: Floats) -> Floats:
    """A line through the edge pixels beside it, by total least squares."""
    points = edges.at[:, ::-1].astype(np.float64)
    for reach in (3.0, 1.8):
        off = points @ line[:2] - line[2]
        near = (np.abs(off) < reach) & (
            _turned_by(edges.angle, float(np.arctan2(line[1], line[0]))) < np.radians(15)
        )
        if near.sum() < 12:
            return line
        middle = points[near].mean(axis=0)
        normal = np.linalg.svd(points[near] - middle, full_matrices=False)[2][1]
        normal = normal if normal @ line[:2] >= 0 else -normal
        line = np.array([*normal, normal @ middle])
    return line


# -- the quadrilateral -----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Profile:
    """What lies along a line: sums, up to each pixel of it, (n, 6), of pixels in the frame; edge
    pixels with the lighter side where its normal points, and with the darker; pixels beside which
    there is another edge where its normal points, and on the other side; edges of shadows."""

    start: float
    sums: Floats

    def between(self, one: Floats, other: Floats) -> Floats:
        """Sums of the six between two places along the line, (n, 6)."""
        low, high = np.minimum(one, other) - self.start, np.maximum(one, other) - self.start
        last = len(self.sums) - 1
        a, b = (np.clip(np.rint(v), 0, last).astype(np.intp) for v in (low, high))
        return np.asarray(self.sums[b] - self.sums[a])


def _profile(edges: _Edges, line: Floats) -> _Profile:
    from scipy import ndimage

    high, wide = edges.light.shape
    normal, along = line[:2], np.array([-line[1], line[0]])
    reach = float(np.hypot(high, wide))
    places = np.arange(-reach, reach + 1)
    points = normal * line[2] + places[:, None] * along
    inside = ((points >= 2) & (points <= np.array([wide, high]) - 3)).all(axis=1)
    off = edges.at[:, ::-1] @ normal - line[2]
    near = (np.abs(off) < 2.0) & (
        _turned_by(edges.angle, float(np.arctan2(normal[1], normal[0]))) < np.radians(20)
    )
    edge = np.zeros(len(places), dtype=bool)
    at = np.rint(edges.at[near, ::-1] @ along + reach).astype(np.intp)
    for by in (-1, 0, 1):
        edge[np.clip(at + by, 0, len(places) - 1)] = True
    sides = [
        ndimage.map_coordinates(
            edges.light, (points + by * normal).T[::-1], order=1, mode="nearest"
        )
        for by in (4.0, -4.0)
    ]
    edge &= inside
    lighter = edge & (sides[0] > sides[1])
    crowded = []
    for side in (off, -off):
        beside = np.zeros(len(places), dtype=bool)
        there = (side > STRIP_PX[0]) & (side < STRIP_PX[1])
        beside[np.rint(edges.at[there, ::-1] @ along + reach).astype(np.intp)] = True
        crowded.append(beside & inside)
    shaded = inside & _shadow_edge(edges, points, normal)
    found = np.stack([inside, lighter, edge & ~lighter, *crowded, shaded], axis=-1)
    return _Profile(-reach, np.cumsum(found, axis=0, dtype=np.float64))


def _shadow_edge(edges: _Edges, points: Floats, normal: Floats) -> Bools:
    """At which points (n, 2) one smooth surface may lie on both sides, in the light and shaded."""
    from scipy import ndimage

    def beside(plane: Floats, by: float) -> Floats:
        at = (points + by * normal).T[::-1]
        return np.asarray(ndimage.map_coordinates(plane, at, order=1, mode="nearest"))

    out, back = BESIDE_PX, -BESIDE_PX
    step = np.stack([beside(c, out) - beside(c, back) for c in np.moveaxis(edges.logs, -1, 0)])
    depth = np.abs(step.mean(axis=0))
    rough = np.maximum(beside(edges.rough, out), beside(edges.rough, back))
    shade = (depth > LEAST_SHADOW) & (depth < SHADOW) & (np.ptp(step, axis=0) < SHADOW_TINGE)
    return np.asarray(shade & (rough < SMOOTH))


BESIDE_PX = 6.0
"""From a line to what is compared on either side of it: clear of the window of `ROUGH_PX`."""

LEAST_SHADOW, SHADOW_TINGE = 0.25, 0.3
"""How much darker a shadow is at least, in logarithms of light, and how far it is of another
colour, in those of ratios. Sheets on a white table are brighter than it by less, wood differs from
paper by more (rendered scenes)."""

SMOOTH = 0.06
"""Deviation of the logarithm of light on a smooth surface; on stone and cloth it is twice that."""

STRIP_PX = (3.0, 9.0)
"""Beside a side of the sheet its margin is bare: there are few edges so near."""


def _crossings(lines: Floats) -> Floats:
    """Where each of the lines (n, 3) crosses each, (n, n, 2); far away where they do not."""
    one, other = lines[:, None], lines[None]
    det = one[..., 0] * other[..., 1] - one[..., 1] * other[..., 0]
    det = np.where(np.abs(det) < 1e-6, 1e-6, det)
    across = one[..., 2] * other[..., 1] - one[..., 1] * other[..., 2]
    down = one[..., 0] * other[..., 2] - one[..., 2] * other[..., 0]
    return np.stack([across, down], axis=-1) / det[..., None]


def _quads(lines: Floats) -> Ints:
    """Numbers of lines (n, 4) that may be sides in turn: the first and third nearly parallel."""
    angle = np.arctan2(lines[:, 1], lines[:, 0]) % np.pi
    turn = _turned_by(angle[:, None], angle[None])
    pairs = np.argwhere(np.triu(turn < np.radians(40), 1))
    # lines that may lie between the two of a pair, then pairs of such lines
    between = (turn[pairs] > np.radians(40)).all(axis=1)
    first, second = np.nonzero(np.triu(between[:, pairs].all(axis=2), 1))
    return np.stack([pairs[first, 0], pairs[second, 0], pairs[first, 1], pairs[second, 1]], axis=1)


def _sheet_like(corners: Floats, shape: tuple[int, int]) -> Ints:
    """Numbers of those of the quadrilaterals (n, 4, 2) that have the form and size of a sheet."""
    high, wide = shape
    left = np.flatnonzero(area(corners) < 2.5 * high * wide)
    left = left[area(np.clip(corners[left], 0, [wide - 1, high - 1])) > 0.06 * high * wide]
    left = left[convex(corners[left])]
    length = np.linalg.norm(corners[left] - np.roll(corners[left], -1, axis=1), axis=-1)
    return np.asarray(left[length.max(axis=1) < 5 * length.min(axis=1)])


def _scores(edges: _Edges, lines: Floats, sides: Ints, corners: Floats) -> Floats:
    """How well each quadrilateral is supported by edges, 0..1; -1 if most of it is not seen."""
    high, wide = edges.light.shape
    profiles = [_profile(edges, line) for line in lines]
    middle = corners.mean(axis=1)
    support = np.zeros((len(sides), 4, 6))
    length = np.zeros((len(sides), 4))
    for k in range(4):
        for number in np.unique(sides[:, k]):
            mine = np.flatnonzero(sides[:, k] == number)
            along = np.array([-lines[number, 1], lines[number, 0]])
            one, other = (corners[mine, c] @ along for c in (k, (k + 1) % 4))
            found = profiles[number].between(one, other)
            inner = middle[mine] @ lines[number, :2] > lines[number, 2]
            found[~inner] = found[~inner][:, [0, 2, 1, 4, 3, 5]]
            support[mine, k] = found
            length[mine, k] = np.abs(one - other)
    seen = support[..., 0]
    share = np.minimum(support[..., 1:3] / np.maximum(seen, 1)[..., None], 1)
    # what is not seen of a side says nothing
    visible = seen.sum(axis=1) / np.maximum(length.sum(axis=1), 1)
    whole = support[..., 1:3].sum(axis=1) / np.maximum(seen.sum(axis=1), 1)[:, None]
    unseen = seen < 0.25 * length
    weakest = np.where(unseen[..., None], 1, share).min(axis=1)
    score = (0.6 * whole + 0.4 * weakest).max(axis=1) - UNSEEN * unseen.sum(axis=1)
    shaded = np.where(unseen, 0, support[..., 5] / np.maximum(seen, 1)).max(axis=1)
    score -= SHADED * np.clip(2 * shaded - 1, 0, 1)  # less than half of a side may be chance
    score -= CROWDED * support[..., 3].sum(axis=1) / np.maximum(seen.sum(axis=1), 1)
    inside = np.clip(corners, 0, [wide - 1, high - 1])
    share_of_frame = area(inside) / (high * wide)
    return np.where(visible > 0.5, score + 0.12 * np.sqrt(share_of_frame), -1)


UNSEEN = 0.15
"""What a side beyond the frame costs: a little less than a quarter, as it may yet be one."""

SHADED = 0.8
"""What a side costs that is the edge of a shadow on one surface, all along."""

CROWDED = 2.0
"""A check on a cloth has edges beside a tenth of its sides, a sheet in a shadow hardly any."""


def area(corners: Floats) -> Floats:
    """Return the area of quadrilaterals (..., 4, 2)."""
    x, y = corners[..., 0], corners[..., 1]
    return np.asarray(
        0.5 * np.abs((x * np.roll(y, -1, axis=-1) - y * np.roll(x, -1, axis=-1)).sum(axis=-1))
    )


def convex(corners: Floats) -> Bools:
    step = np.roll(corners, -1, axis=1) - corners
    after = np.roll(step, -1, axis=1)
    turn = step[..., 0] * after[..., 1] - step[..., 1] * after[..., 0]
    return np.asarray((turn > 0).all(axis=1) | (turn < 0).all(axis=1))


def candidates(linear: Float32Array, most: int = 12) -> list[tuple[float, Floats]]:
    """Return quadrilaterals that may be the sheet, the best first, each with its score.

    Parameters
    ----------
    linear : (h, w, 3) float32
    most : int

    Returns
    -------
    list of (float, (4, 2) float)
        Score; corners clockwise as seen, from the one nearest to the top left, in pixels.
    """
    times = max(1, -(-max(linear.shape[:2]) // SEARCH_PX))
    edges = _edges(box_mean(linear, times))
    if len(edges.at) < 40:
        return []
    high, wide = edges.light.shape
    frame = np.array([[1.0, 0, 0], [1, 0, wide - 1], [0, 1, 0], [0, 1, high - 1]])
    lines = np.concatenate([_lines(edges), _outlines(edges), frame])
    sides = _quads(lines)
    corners = _crossings(lines)[np.roll(sides, 1, axis=1), sides]
    left = _sheet_like(corners, edges.light.shape)
    sides, corners = sides[left], corners[left]
    score = _scores(edges, lines, sides, corners)
    found: list[tuple[float, Floats]] = []
    for number in np.argsort(-score)[:200]:
        quad = clockwise(corners[number])
        if score[number] < 0 or len(found) == most:
            break
        if all(np.abs(quad - other).max() > 8 for _, other in found):
            found.append((float(score[number]), quad))
    return [(score, (quad + 0.5) * times - 0.5) for score, quad in found]


def clockwise(corners: Floats) -> Floats:
    """Corners clockwise as seen, from the one nearest to the top left."""
    around = corners - corners.mean(axis=0)
    corners = corners[np.argsort(np.arctan2(around[:, 1], around[:, 0]))]
    return np.roll(corners, -int(np.argmin(corners.sum(axis=1))), axis=0)
