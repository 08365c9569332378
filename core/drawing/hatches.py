"""Forty patterns that distinguish beads without colour.

A pattern is a set of strokes in a unit square from -1 to 1, so that a bead in the chart and the
larger swatch in the list of materials carry the same drawing. Pattern 0 is plain.
"""

from __future__ import annotations

from functools import lru_cache

import numpy as np
import numpy.typing as npt

from ..arrays import Floats

Segments = Floats
"""Strokes, shape (k, 2, 2): start and end, x and y."""

_REACH = 2.5
"""How far strokes go from the middle, in radii: a square turned in any way is covered (√2), even
by what is moved by a step (1)."""

HATCH_MM = 0.12
"""Width of a stroke, mm: a third of a point, one dot of a printer of 200 dots to the inch."""


def _lines(angle_deg: float, gap: float, offset: float = 0.0) -> Segments:
    """Parallel lines, `gap` apart; angle 0 is level, 90 upright, 45 rises to the right."""
    count = int(np.ceil(_REACH / gap))
    across = np.arange(-count, count + 1) * gap + offset
    angle = np.radians(angle_deg)
    along = np.array([np.cos(angle), -np.sin(angle)])
    normal = np.array([np.sin(angle), np.cos(angle)])
    middle = across[:, None] * normal
    return np.stack([middle - _REACH * along, middle + _REACH * along], axis=1)


def _dashes(angle_deg: float, gap: float, on: float, off: float) -> Segments:
    """Broken parallel lines, every second one moved by half a step."""
    step = on + off
    count = int(np.ceil(_REACH / step))
    starts = np.arange(-count, count + 1) * step - on / 2
    angle = np.radians(angle_deg)
    along = np.array([np.cos(angle), -np.sin(angle)])
    parts = []
    for row, line in enumerate(_lines(angle_deg, gap)):
        shift = step / 2 if row % 2 else 0.0
        begin = line.mean(axis=0) + (starts + shift)[:, None] * along
        parts.append(np.stack([begin, begin + on * along], axis=1))
    return np.concatenate(parts)


def _stamps(outline: npt.ArrayLike, size: float, gap: float) -> Segments:
    """One small open drawing on every node of a staggered grid."""
    shape = np.asarray(outline, dtype=np.float64) * size
    strokes = np.stack([shape[:-1], shape[1:]], axis=1)
    count = int(np.ceil(_REACH / gap))
    rows, columns = np.mgrid[-count : count + 1, -count : count + 1]
    nodes = np.stack([(columns + (rows % 2) / 2) * gap, rows * gap], axis=-1).reshape(-1, 1, 1, 2)
    return (nodes + strokes).reshape(-1, 2, 2)


def _ring(sides: int, turn_deg: float = 0.0) -> Floats:
    angle = np.radians(turn_deg) + np.arange(sides + 1) * 2 * np.pi / sides
    return np.stack([np.sin(angle), -np.cos(angle)], axis=1)


def _waves(upright: bool, gap: float, pointed: bool) -> Segments:
    samples = np.linspace(-_REACH, _REACH, 41)
    phase = samples / 0.5
    height = np.abs((phase % 2) - 1) * 2 - 1 if pointed else np.sin(np.pi * phase)
    parts = []
    for line in np.arange(-8, 9) * gap:
        path = np.stack([samples, line + 0.16 * height], axis=1)
        path = path[:, ::-1] if upright else path
        parts.append(np.stack([path[:-1], path[1:]], axis=1))
    return np.concatenate(parts)


# corners of stamps, in parts of their size
_CROSS = [(-1, 0), (1, 0), (0, 0), (0, -1), (0, 1)]
_SALTIRE = [(-1, -1), (1, 1), (0, 0), (1, -1), (-1, 1)]


@lru_cache(maxsize=1)
def patterns() -> tuple[Segments, ...]:
    """Return the forty patterns; the first ones differ most."""
    singles = {angle: _lines(angle, 0.62) for angle in (0, 45, 90, 135)}
    close = {angle: _lines(angle, 0.3) for angle in (0, 45, 90, 135)}
    pairs = {
        a: np.concatenate([_lines(a, 0.8, -0.1), _lines(a, 0.8, 0.1)]) for a in (0, 45, 90, 135)
    }
    broken = {angle: _dashes(angle, 0.42, 0.5, 0.3) for angle in (0, 45, 90, 135)}
    return (
        np.empty((0, 2, 2)),
        singles[45],
        _stamps(_ring(8), 0.06, 0.5),
        singles[0],
        np.concatenate([singles[0], singles[90]]),
        singles[135],
        _stamps(_ring(12), 0.22, 0.62),
        singles[90],
        np.concatenate([singles[45], singles[135]]),
        close[45],
        _stamps(_CROSS, 0.2, 0.55),
        close[0],
        _stamps(_ring(3), 0.26, 0.6),
        close[135],
        _waves(False, 0.5, False),
        close[90],
        np.concatenate([close[0], close[90]]),
        pairs[45],
        _stamps(_ring(4, 45), 0.26, 0.6),
        pairs[0],
        np.concatenate([close[45], close[135]]),
        pairs[135],
        _waves(True, 0.5, False),
        pairs[90],
        _stamps(_SALTIRE, 0.17, 0.55),
        broken[0],
        _waves(False, 0.36, True),
        broken[90],
        np.concatenate([_lines(0, 0.6), _lines(60, 0.6), _lines(120, 0.6)]),
        broken[45],
        _stamps(_ring(4), 0.3, 0.66),
        broken[135],
        _waves(True, 0.36, True),
        np.concatenate([singles[0], close[90]]),
        _stamps(_ring(3, 180), 0.26, 0.6),
        np.concatenate([close[0], singles[90]]),
        np.concatenate([pairs[0], pairs[90]]),
        np.concatenate([singles[45], close[135]]),
        np.concatenate([pairs[45], pairs[135]]),
        np.concatenate([_stamps(_ring(12), 0.24, 0.62), _stamps(_ring(6), 0.05, 0.62)]),
    )


@lru_cache(maxsize=4096)
def _clipped(outline: tuple[tuple[float, float], ...], number: int) -> Segments:
    """Strokes of a pattern inside a convex outline given about its own middle."""
    corners = np.asarray(outline)
    scale = np.abs(corners).max(axis=0).min()
    strokes = patterns()[number % len(patterns())] * scale
    start, way = strokes[:, 0], strokes[:, 1] - strokes[:, 0]
    edge = np.roll(corners, -1, axis=0) - corners
    turn = np.sign(np.sum(corners[:, 0] * edge[:, 1] - corners[:, 1] * edge[:, 0]))
    inward = turn * np.stack([-edge[:, 1], edge[:, 0]], axis=1)
    # Cyrus-Beck: the part of each stroke on the inner side of every edge
    room = np.einsum("kij,ij->ki", start[:, None] - corners[None], inward)
    pace = way @ inward.T
    level = np.abs(pace) < 1e-12
    at = -room / np.where(level, 1.0, pace)
    enter = np.where(~level & (pace > 0), at, 0.0).max(axis=1, initial=0.0)
    leave = np.where(~level & (pace < 0), at, 1.0).min(axis=1, initial=1.0)
    kept = (enter < leave) & ~np.any(level & (room < 0), axis=1)
    ends = np.stack([start + enter[:, None] * way, start + leave[:, None] * way], axis=1)
    return np.asarray(ends[kept], dtype=np.float64)


Contour = tuple[tuple[float, float], ...]


def hatch_about(points: Contour, number: int) -> tuple[tuple[float, float], Contour, Segments]:
    """Return the strokes of a pattern inside a convex polygon, about the polygon's middle.

    Parameters
    ----------
    points : tuple of (x, y)
        Corners in mm, either way round.
    number : int
        0 or more; the patterns repeat after forty.

    Returns
    -------
    middle : (x, y)
    outline : tuple of (x, y)
        The corners about the middle; equal polygons have equal outlines on any part of the page.
    strokes : array, shape (k, 2, 2)
        Start and end of each stroke in mm about the middle.
    """
    xs, ys = [x for x, _ in points], [y for _, y in points]
    x, y = (min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2
    outline = tuple([(round(px - x, 3), round(py - y, 3)) for px, py in points])
    return (x, y), outline, _clipped(outline, number)


def hatch_strokes(points: Contour, number: int) -> Segments:
    """Return the strokes of a pattern inside a convex polygon, (k, 2, 2) mm, where they lie."""
    middle, _, strokes = hatch_about(points, number)
    placed: Segments = strokes + middle
    return placed
