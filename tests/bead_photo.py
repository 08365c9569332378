"""Photographs of bead heaps, drawn: beads in dishes, tubes or loose on paper, seen from above.

Beads are spheroids with a hole, in piles. Their light is diffuse light from the sky and one lamp
with cast shadows, weakened in crevices, where light of the beads' own colour bounces (J. Jimenez et
al., Practical real-time strategies for accurate indirect occlusion, 2016: E/(1 - r(1 - a)) for
reflectance r and openness a). Highlights follow Blinn's lobe and Schlick's Fresnel reflection of
glass (0.04 straight on). Transparent beads follow Beer's law along the chord; metallic ones mirror
a bright sky, a dark horizon and the lamp in their own colour. Nothing of it is shared with the
reader that it tests.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import numpy.typing as npt
from scipy import ndimage

Floats = npt.NDArray[np.float64]
FINISHES = ("matte", "glossy", "transparent", "metallic")
HOLDERS = ("dish", "tube", "loose")


@dataclass(frozen=True)
class DrawnHeap:
    """One heap: its middle, px, how many beads, of which kind, and their colour under the lamp."""

    x: float
    y: float
    count: int
    holder: str
    finish: str
    body: tuple[float, float, float]


@dataclass(frozen=True)
class Scene:
    """A photograph: heaps on paper under a lamp; colours are linear RGB of the sensor."""

    width: int
    height: int
    bead_px: float
    heaps: tuple[DrawnHeap, ...]
    light: tuple[float, float, float] = (1.0, 1.0, 1.0)
    paper: tuple[float, float, float] = (0.86, 0.86, 0.86)
    lamp_share: float = 0.5
    lamp_from: tuple[float, float, float] = (-0.4, -0.4, 0.82)
    gradient: tuple[float, float, float] = (0.0, 0.0, 0.0)
    noise: float = 0.004
    seed: int = 0


class _Canvas:
    """Height, normal and material of what is seen at every pixel."""

    def __init__(self, scene: Scene) -> None:
        shape = (scene.height, scene.width)
        self.z = np.zeros(shape)
        self.grid = np.indices(shape)
        self.normal = np.zeros((*shape, 3))
        self.normal[..., 2] = 1
        self.owner = np.full(shape, -1)
        self.hole = np.zeros(shape, bool)
        self.chord = np.zeros(shape)
        self.dull = np.ones(shape)  # of glass before it
        self.streak = np.zeros(shape)
        self.solid = np.full(shape, np.nan)  # grey of rims and caps

    def bead(self, number: int, centre: Floats, axis: Floats, radius: float) -> None:
        """Put a spheroid there, 0.7 times as long along its hole as across."""
        x, y, z = centre
        left, top = int(x - radius) - 1, int(y - radius) - 1
        right, bottom = int(x + radius) + 2, int(y + radius) + 2
        place = np.s_[max(top, 0) : bottom, max(left, 0) : right]
        down, across = self.grid[:, *place]
        flat = np.stack([across + 0.5 - x, down + 0.5 - y, np.zeros(across.shape)], -1) / radius
        shape = np.eye(3) + (1 / 0.7**2 - 1) * np.outer(axis, axis)
        a = shape[2, 2]
        b = flat @ shape[:, 2]
        c = np.einsum("...i,ij,...j", flat, shape, flat) - 1
        root = b * b - a * c
        inside = root > 0
        t = (-b + np.sqrt(np.maximum(root, 0))) / a
        seen = inside & (z + t * radius > self.z[place])
        point = flat + t[..., None] * [0, 0, 1]
        normal = point @ shape
        normal /= np.linalg.norm(normal, axis=-1, keepdims=True)
        along = point @ axis
        aside = np.linalg.norm(point - along[..., None] * axis, axis=-1)
        self.z[place][seen] = (z + t * radius)[seen]
        self.normal[place][seen] = normal[seen]
        self.owner[place][seen] = number
        self.hole[place][seen] = ((aside < 0.36) & (np.abs(along) > 0.3))[seen]
        self.chord[place][seen] = (2 * np.sqrt(np.maximum(root, 0)) / a)[seen]


def _piled(random: np.random.Generator, count: int, radius: float, holder: str) -> Floats:
    """Centres of beads about their middle, px, one on the other."""
    layers = {"dish": 1.6, "tube": 2.2, "loose": 0.5}[holder]
    area = count * np.pi * radius**2 / (0.8 * layers)
    if holder == "tube":
        wide = max(4 * radius, np.sqrt(area / 4))
        half = np.array([area / wide / 2, wide / 2])
    else:
        half = np.full(2, np.sqrt(area / np.pi))
    centres: list[Floats] = []
    while len(centres) < count:
        spot = random.uniform(-1, 1, 2)
        if holder != "tube" and np.hypot(*spot) > 1:
            continue
        xy = spot * np.maximum(half - radius, 1)
        under = np.array(centres).reshape(-1, 3)
        apart = np.hypot(*(under[:, :2] - xy).T)
        near = apart < 1.75 * radius
        if holder == "loose" and near.any() and random.uniform() < 0.97:
            continue
        rest = under[near, 2] + 0.8 * np.sqrt((1.75 * radius) ** 2 - apart[near] ** 2)
        centres.append(np.append(xy, max([0.8 * radius, *rest.tolist()])))
    return np.array(centres)


class Drawn(NamedTuple):
    """A photograph, and what is true of its pixels.

    Attributes
    ----------
    pixels : (h, w, 3) uint8
        SRGB.
    owner : (h, w) int
        The heap that is seen, or -1.
    path : (h, w) float
        What light passes of clear beads there, those below among them, 1 for the mean through one
        bead; NaN where no bead is seen or its hole.
    """

    pixels: npt.NDArray[np.uint8]
    owner: npt.NDArray[np.intp]
    path: Floats


def render(scene: Scene) -> Drawn:
    """Draw a scene."""
    random = np.random.default_rng(scene.seed)
    canvas, radius = _Canvas(scene), scene.bead_px / 2
    heap_of: list[int] = []
    for number, heap in enumerate(scene.heaps):
        centres = _piled(random, heap.count, radius, heap.holder)
        _holder(canvas, heap, centres, radius, random)
        for centre in centres:
            axis = random.normal(size=3)
            axis /= np.linalg.norm(axis)
            size = radius * random.normal(1, 0.03)
            canvas.bead(len(heap_of), centre + np.array([heap.x, heap.y, 0]), axis, size)
            heap_of.append(number)
    linear = _lit(scene, canvas, np.array([*heap_of, -1]))
    linear = ndimage.gaussian_filter(linear, (0.7, 0.7, 0))
    linear += random.normal(size=linear.shape) * scene.noise * np.sqrt(np.maximum(linear, 0) + 0.02)
    codes = np.clip(linear, 0, 1)
    encoded = np.where(codes <= 0.0031308, 12.92 * codes, 1.055 * codes ** (1 / 2.4) - 0.055)
    owner = np.array([*heap_of, -1])[canvas.owner]
    path = np.where((owner >= 0) & ~canvas.hole, _path(scene, canvas), np.nan)
    return Drawn(np.rint(encoded * 255).astype(np.uint8), owner, path)


def _holder(
    canvas: _Canvas, heap: DrawnHeap, centres: Floats, radius: float, random: np.random.Generator
) -> None:
    """A dish's rim, or a tube of glass with its cap."""
    if heap.holder == "loose":
        return
    down, across = np.mgrid[: canvas.z.shape[0], : canvas.z.shape[1]]
    x, y = across + 0.5 - heap.x, down + 0.5 - heap.y
    reach = np.abs(centres[:, :2]).max(axis=0) + 1.2 * radius
    if heap.holder == "dish":
        room = np.hypot(*centres[:, :2].T).max() + random.uniform(1.3, 4) * radius
        rim = np.abs(np.hypot(x, y) - room - 3) < 3
        canvas.z[rim], canvas.solid[rim] = 1.2 * radius, 0.8
        bent = (np.hypot(x, y)[rim] - room - 3) / 3
        canvas.normal[rim, 0] = 0.7 * bent * (x / np.hypot(x, y))[rim]
        canvas.normal[rim, 1] = 0.7 * bent * (y / np.hypot(x, y))[rim]
        canvas.normal[rim] /= np.linalg.norm(canvas.normal[rim], axis=-1, keepdims=True)
        return
    inside = (np.abs(x) < reach[0]) & (np.abs(y) < reach[1])
    wall = inside & (np.abs(y) > reach[1] - 2)
    canvas.dull[inside], canvas.dull[wall] = 0.94, 0.6
    canvas.streak[inside & (np.abs(y + 0.5 * reach[1]) < 1.5)] = 0.45
    cap = (np.abs(x - reach[0] - radius) < radius) & (np.abs(y) < reach[1] + 2)
    canvas.z[cap], canvas.solid[cap] = radius, random.choice([0.75, 0.8, 0.2])


def _lit(scene: Scene, canvas: _Canvas, heap_of: npt.NDArray[np.intp]) -> Floats:
    radius = scene.bead_px / 2
    lamp = np.array(scene.lamp_from) / np.linalg.norm(scene.lamp_from)
    seen = 1 - _shadow(canvas.z, lamp, radius)
    above = ndimage.gaussian_filter(canvas.z, 0.6 * radius) - canvas.z
    open_sky = np.clip(1 - 0.45 * np.maximum(above, 0) / radius, 0.15, 1)
    sky = (1 - scene.lamp_share) * open_sky * (1 + canvas.normal[..., 2]) / 2
    direct = scene.lamp_share / lamp[2] * np.maximum(canvas.normal @ lamp, 0) * seen
    bodies = np.array([heap.body for heap in scene.heaps] + [scene.paper])
    light = np.array(scene.light)
    owner = heap_of[canvas.owner]
    body = bodies[owner]
    grey = ~np.isnan(canvas.solid) & (canvas.owner < 0)
    body[grey] = canvas.solid[grey, None] * light
    share = body / light
    bounced = 1 / (1 - share * (1 - open_sky[..., None]) * 0.8)
    linear = body * (sky + direct)[..., None] * bounced
    finish = np.array([FINISHES.index(heap.finish) for heap in scene.heaps] + [-1])[owner]
    clear = finish == FINISHES.index("transparent")
    linear[clear] = _through(scene, canvas, share, open_sky, lamp, clear) * light
    metal = finish == FINISHES.index("metallic")
    linear[metal] = body[metal] * _mirrored(scene, canvas, lamp, open_sky, metal)[:, None]
    linear[canvas.hole & (finish >= 0)] *= 0.3
    linear += _highlights(scene, canvas, finish, lamp, seen, open_sky)[..., None] * light
    linear = linear * canvas.dull[..., None] + canvas.streak[..., None] * 0.6 * light
    return linear * gradient(scene)


def _shadow(z: Floats, lamp: Floats, radius: float) -> Floats:
    """Where something stands between a pixel and the lamp."""
    hidden = np.zeros(z.shape)
    flat = lamp[:2] / max(np.hypot(*lamp[:2]), 1e-9)
    rise = lamp[2] / max(np.hypot(*lamp[:2]), 1e-9)
    for step in np.arange(1.0, 5 * radius, 1.5):
        there = ndimage.shift(z, -flat[::-1] * step, order=0)
        hidden = np.maximum(hidden, there > z + step * rise + 0.5)
    return ndimage.gaussian_filter(hidden, 1.0)


def _through(
    scene: Scene, canvas: _Canvas, share: Floats, open_sky: Floats, lamp: Floats, where: Floats
) -> Floats:
    """Light that has passed clear beads."""
    path = _path(scene, canvas)[where]
    facing = canvas.normal[where] @ (lamp * [-1, -1, 1])
    lit = (1 - scene.lamp_share) * (0.4 + 0.6 * open_sky[where]) + scene.lamp_share * (
        0.55 + 0.45 * np.clip(facing, 0, 1) ** 2 * 2
    )
    return np.clip(share[where], 0.005, 1) ** path[:, None] * lit[:, None]


def _path(scene: Scene, canvas: _Canvas) -> Floats:
    """Way through clear beads, 1 at the mean chord of a sphere, 4/3 radii.

    Light from beads below has passed those, too.
    """
    under = np.clip(canvas.z / (0.8 * scene.bead_px), 1, 3)
    return np.asarray((0.4 + 0.6 * canvas.chord / (4 / 3)) * under)


def _mirrored(
    scene: Scene, canvas: _Canvas, lamp: Floats, open_sky: Floats, where: Floats
) -> Floats:
    """What a metallic bead mirrors, 1 where it is as bright as white paper.

    Above the horizon an even sky, below it a table half as bright; and a lamp of which half is a
    broad window and half a bulb, lobes cos^n whose light on the paper is the lamp's share of it.
    """
    normal = canvas.normal[where]
    towards = 2 * normal[:, 2:] * normal - [0, 0, 1]
    sky = 0.75 + 0.25 * np.clip(4 * towards[:, 2], -1, 1)
    lobe = np.clip(towards @ lamp, 0, 1)
    bulb = sum(0.5 * (n + 1) / 2 / lamp[2] * lobe**n for n in (8, 80))
    room = 0.15 * sky * open_sky[where]
    lit = (1 - scene.lamp_share) * sky * open_sky[where]
    return np.asarray(lit + scene.lamp_share * (0.85 * bulb + room))


def _highlights(
    scene: Scene, canvas: _Canvas, finish: Floats, lamp: Floats, seen: Floats, open_sky: Floats
) -> Floats:
    half = lamp + np.array([0, 0, 1])
    half /= np.linalg.norm(half)
    mirror = np.clip(canvas.normal @ half, 0, 1)
    fresnel = 0.04 + 0.96 * (1 - np.clip(canvas.normal[..., 2], 0, 1)) ** 5
    glass = (finish == 1) | (finish == 2)
    gloss = 1.6 * mirror**200 * seen + 0.8 * fresnel * open_sky * (1 - scene.lamp_share)
    return np.where(glass, gloss, np.where(finish == 0, 0.02 * mirror**8 * seen, 0.0))


def gradient(scene: Scene) -> Floats:
    """Uneven light, and an exposure at which the paper is just below the brightest code."""
    down, across = np.mgrid[: scene.height, : scene.width]
    x, y = 2 * across / scene.width - 1, 2 * down / scene.height - 1
    right, below, corners = scene.gradient
    gain = np.exp(right * x + below * y - corners * (x * x + y * y))
    brightest = (gain[..., None] * np.array(scene.paper)).max()
    return np.asarray(0.88 * gain / brightest)[..., None]
