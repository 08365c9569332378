"""The closed bracelet as pixels, seen from any side.

Like `preview`, but its spheroids lean in every direction, and most of the picture is empty: what
is seen is shaded as a list of pixels.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ..arrays import Bools, Bytes, Float32Array, Floats, Ints
from ..finish import Surfaces
from ..srgb import Rgb, box_mean, linear_to_srgb, srgb_to_linear
from .light import NOBODY, THE_CORE, Normals, Owners, crevice, glossy, matt
from .preview import CORD_CORE, PAPER, cords
from .ring import Ring, RingParts

WORN_DEG = 52.0
"""How high above the wrist the viewer stands: so that the hole is seen, and more of the top."""

WRIST: Rgb = (240, 231, 221)

_CORE_STEP = 0.4
"""From one sphere of the cords to the next, in their radii: they are smooth to 2 % of it."""


@dataclass(frozen=True, eq=False)
class RingView:
    """A side from which a ring is seen, and the picture's frame.

    Parameters
    ----------
    axes : (3, 3) float
        Right, up and towards the viewer, one a row, in the axes of the ring.
    half_mm : (float, float)
        Half the width and half the height of the picture.
    px_per_mm : float
    """

    axes: Floats
    half_mm: tuple[float, float]
    px_per_mm: float

    @property
    def size_px(self) -> tuple[int, int]:
        """Width and height."""
        wide, high = (max(2, round(2 * half * self.px_per_mm)) for half in self.half_mm)
        return wide, high

    def place_px(self, points: Floats) -> Floats:
        """Return where points of the ring, (k, 3), are seen: column and row, (k, 2)."""
        right, up = (points @ self.axes[:2].T).T
        wide, high = self.size_px
        return np.stack([wide / 2 + right * self.px_per_mm, high / 2 - up * self.px_per_mm], 1)


def worn_axes(*, turned_deg: float = 0.0, newest_left: bool = False) -> Floats:
    """Return right, up and towards the viewer, for a ring on a wrist and seen from above.

    The arm points at the viewer, who looks down on the wrist from before it.

    Parameters
    ----------
    turned_deg : float
        How far the braid's middle is turned away from the top of the wrist.
    newest_left : bool
        Put on the other way round: the newest beads lie on the left.

    Returns
    -------
    (3, 3) float
        One a row, in the axes of the ring.
    """
    side = -1.0 if newest_left else 1.0
    sine, cosine = np.sin(np.deg2rad(WORN_DEG)), np.cos(np.deg2rad(WORN_DEG))
    straight = np.array([[side, 0.0, 0.0], [0.0, cosine, -side * sine], [0.0, sine, side * cosine]])
    turn = np.deg2rad(turned_deg)
    about = np.array(
        [
            [np.cos(turn), -np.sin(turn), 0.0],
            [np.sin(turn), np.cos(turn), 0.0],
            [0.0, 0.0, 1.0],
        ]
    )
    return np.asarray(straight @ about)


def ring_frame(parts: RingParts, axes: Floats, width_px: int, margin_mm: float) -> RingView:
    """Return the view of a ring that fills a picture of so many pixels' width."""
    reach = np.maximum(parts.across_mm, parts.along_mm)
    half = [float(np.max(np.abs(parts.centres @ axis) + reach)) + margin_mm for axis in axes[:2]]
    return RingView(axes, (half[0], half[1]), width_px / (2 * half[0]))


def ring_pixels(
    parts: RingParts, ring: Ring, view: RingView, rgb: Bytes, surfaces: Surfaces
) -> Bytes:
    """Return a ring as it is seen.

    Parameters
    ----------
    parts : RingParts
    ring : Ring
    view : RingView
    rgb : (n + 1, 3) uint8
        Colour of every bead, then of caps and clasp.
    surfaces : Surfaces
        The finish of each.

    Returns
    -------
    uint8 array, (H, W, 3)
    """
    fine = 2
    depth, owner = nearest_to_viewer(parts, ring, view, fine)
    where = np.flatnonzero(owner != NOBODY)
    seen = owner.ravel()[where]
    x, y = _middles_mm(view, fine)
    rows, columns = np.divmod(where, len(x))
    points = np.stack([x[columns], y[rows], depth.ravel()[where]])
    gain, gloss = _reflection(parts, ring, view, points, seen, surfaces[parts.bead])
    wrist = _on_wrist(ring, view, x, y)
    others = np.array([CORD_CORE, PAPER], dtype=np.uint8)
    table = srgb_to_linear(np.concatenate([rgb[parts.bead], others]))
    planes = []
    for channel in range(3):
        plane = np.full(owner.shape, table[NOBODY, channel], dtype=np.float32)
        plane[wrist] = srgb_to_linear(np.array(WRIST, dtype=np.uint8))[channel]
        plane.ravel()[where] = table[:, channel].take(seen, mode="wrap") * gain + gloss[channel]
        planes.append(box_mean(plane, fine))
    return linear_to_srgb(np.stack(planes, -1))


def _on_wrist(ring: Ring, view: RingView, x: Float32Array, y: Float32Array) -> Bools:
    """Where the arm is, cut through where the bracelet lies."""
    if ring.wrist_mm is None:
        return np.zeros((len(y), len(x)), dtype=np.bool_)
    radius = ring.wrist_mm / (2 * np.pi)
    # a circle is as flat as its axis leans away from the viewer
    flat = float(view.axes[2, 2])
    inside: Bools = (flat * x) ** 2 + y[:, None] ** 2 < (flat * radius) ** 2
    return inside


def _middles_mm(view: RingView, fine: int) -> tuple[Float32Array, Float32Array]:
    """x of each column and y of each row of a picture that is `fine` times too fine."""
    wide, high = (fine * size for size in view.size_px)
    scale = fine * view.px_per_mm
    x = (np.arange(wide) + 0.5 - wide / 2) / scale
    y = (high / 2 - np.arange(high) - 0.5) / scale
    return x.astype(np.float32), y.astype(np.float32)


def nearest_to_viewer(
    parts: RingParts, ring: Ring, view: RingView, fine: int = 1
) -> tuple[Float32Array, Owners]:
    """Return depth and part of what lies nearest to the viewer at each pixel's centre.

    A spheroid of half-axes a across and b along t, at c, holds d = p - c with
    |d|² + k·(d·t)² = a², k = a²/b² - 1. With q = dx·tx + dy·ty this is a quadratic equation of dz.
    """
    x, y = _middles_mm(view, fine)
    depth = np.full((len(y), len(x)), -np.inf, dtype=np.float32)
    owner = np.full(depth.shape, NOBODY, dtype=np.int32)
    centres, axes, across, along, numbers = _with_core(parts, ring, view)
    flat = (across / along) ** 2 - 1
    lead = 1 + flat * axes[:, 2] ** 2
    # half the extent of the outline, across and up
    reach = np.sqrt(across**2 + (along**2 - across**2)[:, None].T * axes.T[:2] ** 2)
    left, right = (np.searchsorted(x, centres[:, 0] + way * reach[0]) for way in (-1, 1))
    top, bottom = (np.searchsorted(-y, -centres[:, 1] + way * reach[1]) for way in (-1, 1))
    values = np.column_stack([centres, axes, flat, lead, across**2]).astype(np.float32)
    with np.errstate(invalid="ignore"):
        for k, (cx, cy, cz, tx, ty, tz, bend, first, squared) in enumerate(values):
            place = (slice(top[k], bottom[k]), slice(left[k], right[k]))
            dx, dy = x[place[1]] - cx, (y[place[0]] - cy)[:, None]
            inside = squared - dx * dx - dy * dy
            if bend == 0:
                surface = np.sqrt(inside)
            else:
                q = dx * tx + dy * ty
                half = bend * tz * q
                # outside the outline the root is not a number, and nothing is nearer than that
                surface = (np.sqrt(half * half + first * (inside - bend * q * q)) - half) / first
            surface += cz
            nearer = surface > depth[place]
            np.copyto(depth[place], surface, where=nearer)
            owner[place][nearer] = numbers[k]
    return depth, owner


def _with_core(
    parts: RingParts, ring: Ring, view: RingView
) -> tuple[Floats, Floats, Floats, Floats, Ints]:
    """All spheroids as they are seen, the cords of the core before the others."""
    radius = parts.scene.core_radius_mm
    low, high = parts.scene.core_mm
    half = min((high - low) / 2, ring.around_mm / 2) / ring.radius_mm
    count = int(np.ceil(2 * half * ring.radius_mm / (_CORE_STEP * radius))) + 1
    angle = np.linspace(-half, half, count)
    circle = ring.radius_mm * np.stack([np.sin(angle), np.cos(angle), np.zeros(count)], 1)
    return (
        np.concatenate([circle, parts.centres]) @ view.axes.T,
        np.concatenate([np.zeros((count, 3)), parts.axes]) @ view.axes.T,
        np.append(np.full(count, radius), parts.across_mm),
        np.append(np.full(count, radius), parts.along_mm),
        np.append(np.full(count, THE_CORE), np.arange(len(parts.bead))),
    )


def _reflection(
    parts: RingParts,
    ring: Ring,
    view: RingView,
    points: Float32Array,
    seen: Owners,
    surfaces: Surfaces,
) -> tuple[Float32Array, list[Float32Array]]:
    """How much of its colour, and how much of the light's, each point sends; points are (3, k)."""
    scene, axes = parts.scene, view.axes.astype(np.float32)
    first, second, across = axes.T @ points
    from_centre = np.hypot(first, second)
    outwards = from_centre - np.float32(ring.radius_mm)
    normal = _normals(parts, view, points, seen)
    core = np.flatnonzero(seen == THE_CORE)
    share = outwards[core] / from_centre[core]
    of_core = axes @ np.stack([first[core] * share, second[core] * share, across[core]])
    for plane, values in zip(normal, of_core, strict=True):
        plane[core] = values / np.float32(scene.core_radius_mm)
    deep = np.float32(scene.outer_radius_mm) - np.hypot(outwards, across)
    gain = matt(normal) * crevice(deep / np.float32(scene.depth_mm))
    along = ring.radius_mm * np.arctan2(first[core], second[core])
    gain[core] *= cords(scene, np.arctan2(across[core], outwards[core]), along)
    return glossy(gain, normal, seen, surfaces)


def _normals(parts: RingParts, view: RingView, points: Float32Array, seen: Owners) -> Normals:
    """Unit normals of what is seen, the core left aside: right, up, towards the viewer."""
    axes = view.axes.astype(np.float32)
    centres = axes @ parts.centres.T.astype(np.float32)
    ways = axes @ parts.axes.T.astype(np.float32)
    flat = ((parts.across_mm / parts.along_mm) ** 2 - 1).astype(np.float32)
    part = np.maximum(seen, 0)
    away = [points[k] - centres[k].take(part) for k in range(3)]
    way = [ways[k].take(part) for k in range(3)]
    along = flat.take(part) * (away[0] * way[0] + away[1] * way[1] + away[2] * way[2])
    for one, other in zip(away, way, strict=True):
        one += along * other
    length = 1 / np.sqrt(away[0] ** 2 + away[1] ** 2 + away[2] ** 2)
    return away[0] * length, away[1] * length, away[2] * length
