"""The braid and the flat chart as pixels.

The braid is seen straight on (orthographic) from an azimuth, newest beads on top. In the picture x
runs to the right and y up, both in mm; clockwise azimuth therefore runs to the left:

    x = -R·sin(azimuth - view)      towards the viewer = R·cos(azimuth - view)

Beads are spheroids, round about the braid's axis, as tall as leaves them touching. Which bead is
seen at a pixel is decided by the exact depth of each spheroid there, not by an order of painting.

Colours are worked in linear light; see `light`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from ..arrays import Bools, Bytes, Float32Array, Floats, Ints
from ..bead import BeadSize
from ..braid import Lattice
from ..design import Design, colours_rgb, drop_directions
from ..finish import Surfaces, surfaces_of
from ..srgb import Rgb, box_mean, linear_to_srgb, srgb_to_linear
from .light import NOBODY, THE_CORE, Owners, crevice, glossy, matt

PAPER: Rgb = (250, 250, 248)
CORD_CORE: Rgb = (96, 88, 82)

_DROP_PARTS = 32
"""Spheres that make a drop; in one 6 mm long with a radius of 1 mm and more they lie 0.2 mm apart,
and its outline is smooth to 0.005 mm (0.2² / 8)."""


@dataclass(frozen=True)
class ViewFrame:
    """The piece of the view that a picture shows.

    Parameters
    ----------
    width_px, height_px : int
    px_per_mm : float
    left_mm, top_mm : float
        x of the left edge (the braid's axis is at 0) and height of the top edge.
    """

    width_px: int
    height_px: int
    px_per_mm: float
    left_mm: float
    top_mm: float

    def column_px(self, x_mm: npt.ArrayLike) -> Floats:
        """Return the horizontal pixel coordinate of x; pixel centres lie at +0.5."""
        column = (np.asarray(x_mm, dtype=np.float64) - self.left_mm) * self.px_per_mm
        return np.asarray(column, dtype=np.float64)

    def finer(self, times: int) -> ViewFrame:
        """Return the same piece with `times` times as many pixels each way."""
        return ViewFrame(
            self.width_px * times,
            self.height_px * times,
            self.px_per_mm * times,
            self.left_mm,
            self.top_mm,
        )

    @property
    def x_mm(self) -> Floats:
        """x of the pixel centres of each column."""
        return self.left_mm + np.arange(0.5, self.width_px, dtype=np.float64) / self.px_per_mm

    @property
    def y_mm(self) -> Floats:
        """Height of the pixel centres of each row, from the top down."""
        return self.top_mm - np.arange(0.5, self.height_px, dtype=np.float64) / self.px_per_mm


class Spheroid(NamedTuple):
    """Half the size of a bead, mm: across, and along the braid."""

    across_mm: float
    along_mm: float


def bead_shape(lattice: Lattice) -> Spheroid:
    """Return half the size of a bead as drawn.

    Along the braid it is as tall as leaves it touching its neighbours. Measured rises below the
    computed one squash it further; above it, the bead keeps its size and gaps open.
    """
    across = lattice.diameter_mm / 2
    return Spheroid(across, across * min(lattice.squash, _own_squash(lattice)))


def _own_squash(lattice: Lattice) -> float:
    computed = Lattice.computed(
        lattice.braid, BeadSize(None, lattice.diameter_mm, lattice.length_mm)
    )
    return computed.squash


def core_radius_mm(lattice: Lattice) -> float:
    """Return the radius of the cords as drawn behind the beads."""
    return max(0.25 * lattice.diameter_mm, lattice.radius_mm - 0.25 * lattice.diameter_mm)


def _stub_mm(lattice: Lattice) -> float:
    """How far the cords are shown beyond the middle of the first and the last bead."""
    return bead_shape(lattice).along_mm + 0.35 * lattice.diameter_mm


def braid_frame(
    lattice: Lattice,
    count: int,
    px_per_mm: float,
    *,
    window_mm: tuple[float, float] | None = None,
    drops: Floats | None = None,
) -> ViewFrame:
    """Return the frame of an upright view of the braid.

    Parameters
    ----------
    lattice : Lattice
    count : int
        Number of beads.
    px_per_mm : float
    window_mm : (float, float), optional
        Lowest and highest height to show; by default all beads and a stub of the cords.
    drops : (n, 6) float, optional
        See `Look`; where there are drop beads the frame gives them room.
    """
    beyond, out = _stub_mm(lattice), lattice.thickness_mm / 2
    if drops is not None and np.any(drops):
        outwards, aside, _, wide = drops[:, 2:].T
        beyond = max(beyond, float(np.max(aside + wide)))
        out = max(out, float(np.max(np.hypot(lattice.radius_mm + outwards, aside) + wide)))
    if window_mm is None:
        low = float(lattice.height_mm(0)) - beyond
        high = float(lattice.height_mm(max(count, 1) - 1)) + beyond
    else:
        low, high = window_mm
    half_px = int(np.ceil(out * px_per_mm - 1e-9))
    height_px = max(1, int(np.ceil((high - low) * px_per_mm - 1e-9)))
    return ViewFrame(2 * half_px, height_px, px_per_mm, -half_px / px_per_mm, high)


@dataclass(frozen=True, eq=False)
class Look:
    """The beads of a braid as they are drawn, in working order.

    Parameters
    ----------
    lattice : Lattice
    rgb : (n, 3) uint8
        Colour of each bead.
    drops : (n, 6) float, optional
        For a drop bead the way in which its wide end leans, on the braid as seen from outside:
        right, up, of any length; then its `DropShape.drawn_mm`. Zeros for a round bead.
    surfaces : Surfaces, optional
        The finish of each bead; all are opaque without.
    """

    lattice: Lattice
    rgb: Bytes
    drops: Floats | None = None
    surfaces: Surfaces | None = None

    @classmethod
    def of(cls, design: Design) -> Look:
        """Return how a design is drawn."""
        finish = surfaces_of(design.palette)[design.beads]
        return cls(design.lattice, colours_rgb(design), drop_directions(design).drawn, finish)


def braid_view(
    look: Look,
    view_deg: float,
    px_per_mm: float,
    *,
    background: Rgb = PAPER,
    window_mm: tuple[float, float] | None = None,
) -> Bytes:
    """Return the braid as seen from outside, the newest beads on top.

    Parameters
    ----------
    look : Look
    view_deg : float
        Azimuth of the viewer; 180 is the worker's side, the front.
    px_per_mm : float
    background : (int, int, int)
    window_mm : (float, float), optional
        See `braid_frame`.

    Returns
    -------
    array of uint8, (H, W, 3)
    """
    lattice, count = look.lattice, len(look.rgb)
    frame = braid_frame(lattice, count, px_per_mm, window_mm=window_mm, drops=look.drops)
    # samples per pixel each way: small beads need more to look round
    fine = 2 if lattice.diameter_mm * px_per_mm >= 24 else 3
    scene = scene_of(lattice, count, view_deg, look.drops)
    return _shade(scene, frame.finer(fine), fine, look.rgb, background, look.surfaces)


# -- what is seen where ------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class Scene:
    """What is to be drawn, as spheroids; a round bead is one of them, a drop is a row of spheres.

    Parameters
    ----------
    centres : (k, 3)
        In view coordinates, mm: right, up, towards the viewer.
    across_mm, along_mm : (k,)
        Half the size of each.
    bead : (k,) int
        The bead that it belongs to.
    """

    centres: Floats
    across_mm: Floats
    along_mm: Floats
    bead: Ints
    core_radius_mm: float
    core_mm: tuple[float, float]
    outer_radius_mm: float
    depth_mm: float  # of the layer of beads
    lay_sign: int  # 1 for S


def scene_of(lattice: Lattice, count: int, view_deg: float, drops: Floats | None) -> Scene:
    """Return what is seen of a braid from an azimuth; drops as for `Look`."""
    crossings = np.arange(count)
    turned = np.deg2rad(lattice.azimuth_deg(crossings) - view_deg)
    height = lattice.height_mm(crossings)
    outwards = np.stack([-np.sin(turned), np.zeros(count), np.cos(turned)], 1)
    centres = lattice.radius_mm * outwards
    centres[:, 1] = height
    shape = bead_shape(lattice)
    leaning: Bools = np.zeros(count, dtype=np.bool_)
    parts, radii, owners = np.zeros((0, 3)), np.zeros(0), np.zeros(0, dtype=np.intp)
    if drops is not None:
        leaning = np.asarray(drops[:, :2].any(axis=1), dtype=np.bool_)
        parts, radii = _drop_parts(drops[leaning], outwards[leaning], centres[leaning])
        owners = np.repeat(np.flatnonzero(leaning), _DROP_PARTS)
    round_beads = np.flatnonzero(~leaning)
    ends = (height.min(), height.max()) if count else (0.0, 0.0)
    stub = _stub_mm(lattice)
    return Scene(
        np.concatenate([centres[round_beads], parts]),
        np.append(np.full(len(round_beads), shape.across_mm), radii),
        np.append(np.full(len(round_beads), shape.along_mm), radii),
        np.append(round_beads, owners),
        core_radius_mm(lattice),
        (float(ends[0]) - stub, float(ends[1]) + stub),
        lattice.thickness_mm / 2,
        lattice.diameter_mm,
        1 if lattice.braid.lay == "S" else -1,
    )


def _drop_parts(drawn: Floats, outwards: Floats, holes: Floats) -> tuple[Floats, Floats]:
    """Spheres, centre (k, 3) and radius (k,), that together make drops leaning on the braid."""
    lean = drawn[:, :2] / np.linalg.norm(drawn[:, :2], axis=1, keepdims=True)
    # to the right along the braid's surface, as seen from outside
    rightwards = outwards[:, ::-1] * [1.0, 0.0, -1.0]
    along = lean[:, :1] * rightwards + lean[:, 1:] * [0.0, 1.0, 0.0]
    outwards_mm, aside_mm, narrow_mm, wide_mm = (drawn[:, [k]] for k in range(2, 6))
    wide_end = outwards_mm * outwards + aside_mm * along
    share = np.linspace(0.0, 1.0, _DROP_PARTS)
    radii = narrow_mm + (wide_mm - narrow_mm) * share**2 * (3 - 2 * share)  # a pear, not a cone
    centres = (holes[:, None] + share[:, None] * wide_end[:, None]).reshape(-1, 3)
    return centres, radii.ravel()


def nearest_parts(scene: Scene, frame: ViewFrame) -> tuple[Float32Array, Owners]:
    """Depth and spheroid of what lies nearest to the viewer at each pixel centre."""
    x, y = frame.x_mm, frame.y_mm
    depth = np.full((frame.height_px, frame.width_px), -np.inf, dtype=np.float32)
    owner = np.full(depth.shape, NOBODY, dtype=np.int32)
    rows = slice(*np.searchsorted(-y, (-scene.core_mm[1], -scene.core_mm[0])))
    columns = slice(*np.searchsorted(x, (-scene.core_radius_mm, scene.core_radius_mm)))
    depth[rows, columns] = np.sqrt(scene.core_radius_mm**2 - x[columns] ** 2)
    owner[rows, columns] = THE_CORE

    seen = _may_be_seen(scene, y)
    centre, across, along = scene.centres[seen], scene.across_mm[seen], scene.along_mm[seen]
    left = np.searchsorted(x, centre[:, 0] - across)
    right = np.searchsorted(x, centre[:, 0] + across)
    top = np.searchsorted(-y, -centre[:, 1] - along)
    bottom = np.searchsorted(-y, -centre[:, 1] + along)
    x32, y32 = x.astype(np.float32), y.astype(np.float32)
    cx, cy, cz = centre.astype(np.float32).T
    squared, tall = (across**2).astype(np.float32), (across / along).astype(np.float32)
    with np.errstate(invalid="ignore"):
        for k, part in enumerate(seen):
            place = (slice(top[k], bottom[k]), slice(left[k], right[k]))
            # (x - cx)² + (a/b)²(y - cy)² + (z - cz)² = a², solved for z
            upright = squared[k] - (tall[k] * (y32[place[0]] - cy[k])) ** 2
            surface = upright[:, None] - (x32[place[1]] - cx[k]) ** 2
            np.sqrt(surface, out=surface)
            surface += cz[k]
            # outside the outline the root is not a number, and nothing is nearer than that
            nearer = surface > depth[place]
            np.copyto(depth[place], surface, where=nearer)
            owner[place][nearer] = part
    return depth, owner


def _may_be_seen(scene: Scene, y: Floats) -> Ints:
    """Spheroids in the frame that the core does not hide for certain."""
    x, height, depth = scene.centres.T
    in_frame = (height + scene.along_mm > y[-1]) & (height - scene.along_mm < y[0])
    beside_core = np.abs(x) + scene.across_mm > scene.core_radius_mm
    return np.flatnonzero(in_frame & (beside_core | (depth > -scene.across_mm)))


# -- light -------------------------------------------------------------------------------------


def _shade(
    scene: Scene,
    frame: ViewFrame,
    fine: int,
    colours: Bytes,
    background: Rgb,
    surfaces: Surfaces | None,
) -> Bytes:
    """Draw a frame that is `fine` times too fine, and reduce it in linear light."""
    depth, owner = nearest_parts(scene, frame)
    gain, gloss = _reflection(scene, frame, depth, owner, surfaces)
    # THE_CORE = -2 and NOBODY = -1 wrap round to the last two rows
    others = np.array([CORD_CORE, background], dtype=np.uint8)
    table = srgb_to_linear(np.concatenate([colours[scene.bead], others]))
    channels = [
        box_mean(table[:, channel].take(owner, mode="wrap") * gain + gloss[channel], fine)
        for channel in range(3)
    ]
    return linear_to_srgb(np.stack(channels, -1))


def _reflection(
    scene: Scene,
    frame: ViewFrame,
    depth: Float32Array,
    owner: Owners,
    surfaces: Surfaces | None,
) -> tuple[Float32Array, list[Float32Array]]:
    """How much of its colour, and how much of the light's, each pixel sends: as `glossy`."""
    normal = _normals(scene, frame, depth, owner)
    gain = matt(normal)
    gain *= crevice(_deep(scene, frame, depth))
    gain[owner == NOBODY] = 1
    rows, columns = np.nonzero(owner == THE_CORE)
    gain[rows, columns] *= _cords(scene, frame.x_mm[columns], frame.y_mm[rows])
    shown = None if surfaces is None else surfaces[scene.bead]
    return glossy(gain, normal, owner, shown)


def _normals(
    scene: Scene, frame: ViewFrame, depth: Float32Array, owner: Owners
) -> tuple[Float32Array, Float32Array, Float32Array]:
    """Unit normals of what is seen: right, up, towards the viewer."""
    # THE_CORE and NOBODY wrap round to the last two rows
    centres = np.concatenate([scene.centres, np.zeros((2, 3))]).astype(np.float32)
    slope = np.append((scene.across_mm / scene.along_mm) ** 2, [0.0, 0.0]).astype(np.float32)
    nx = frame.x_mm.astype(np.float32) - centres[:, 0].take(owner, mode="wrap")
    ny = frame.y_mm.astype(np.float32)[:, None] - centres[:, 1].take(owner, mode="wrap")
    nz = depth - centres[:, 2].take(owner, mode="wrap")
    ny *= slope.take(owner, mode="wrap")
    nz[owner == NOBODY] = 1
    length = 1 / np.sqrt(nx * nx + ny * ny + nz * nz)
    nx *= length
    ny *= length
    nz *= length
    return nx, ny, nz


def _deep(scene: Scene, frame: ViewFrame, depth: Float32Array) -> Float32Array:
    """How far below the outside of the braid each pixel lies, in diameters of a bead."""
    x = frame.x_mm.astype(np.float32)
    outside = np.sqrt(np.where(np.isfinite(depth), depth, 0) ** 2 + x * x)
    deep: Float32Array = (np.float32(scene.outer_radius_mm) - outside) / np.float32(scene.depth_mm)
    return deep


def _cords(scene: Scene, x_mm: Floats, y_mm: Floats) -> Float32Array:
    """Brightness of the cords of the core as they are seen from a side."""
    radius = scene.core_radius_mm
    return cords(scene, np.arcsin(x_mm / radius), y_mm)


def cords(scene: Scene, angle: Floats, along_mm: Floats) -> Float32Array:
    """Return the brightness of the cords of the core, which lean like the lay.

    Parameters
    ----------
    scene : Scene
    angle : array
        Round the core, radians, to the right as seen from outside.
    along_mm : array
        Along the braid.
    """
    radius = scene.core_radius_mm
    ridges = round(2 * np.pi * radius / (0.5 * scene.depth_mm))
    turned = angle + scene.lay_sign * along_mm / radius
    brightness: Float32Array = (0.6 + 0.4 * np.abs(np.cos(ridges / 2 * turned))).astype(np.float32)
    return brightness
