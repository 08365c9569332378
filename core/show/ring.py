"""The bracelet closed round a wrist: the straight braid of `preview`, bent to a circle.

The braid's front lies outside. With ρ the radius of the circle through the middle of the braid, a
point of the upright view, (x to the right, y up, z towards the viewer), goes to

    ((ρ + z)·sin ψ,  (ρ + z)·cos ψ,  x)      ψ = (y - middle) / ρ

in the axes of the ring: along the braid and outwards at its middle, and across both, which is the
right of the upright view. At the middle this only turns the braid (x, y, z go to the third, the
first and the second axis), so no letter flips. Outside the beads move apart, inside they crowd;
their size stays.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ..arrays import Bytes, Floats, Ints
from ..bead import Bead
from ..bounds import BOUNDS
from ..design import colours_rgb, drop_directions
from ..findings import Code
from ..finish import Surfaces, surfaces_of
from ..srgb import Rgb
from .preview import Scene, scene_of

if TYPE_CHECKING:
    from ..design import Design

SEEN_DEG = 60.0
"""To either side of the top of the wrist: what lies further round is foreshortened to less than
half as seen from above (cos 60° = 1/2)."""

STEEL: Rgb = (158, 160, 164)
"""Of end caps and clasp, drawn as plain metal: whatever hers are."""

_CAP_SPHERES = 64
"""Spheres that make an end cap; in one of 10 mm they lie 0.16 mm apart."""


@dataclass(frozen=True)
class Ring:
    """How a bracelet is closed.

    Parameters
    ----------
    around_mm : float
        Once round, along the middle of the braid.
    beaded_mm : float
        Of it, beads.
    clasp_mm : float
        Of the rest, the closed clasp; end caps are what is left.
    thickness_mm : float
    wrist_mm : float, optional
        Where it is known.
    """

    around_mm: float
    beaded_mm: float
    clasp_mm: float
    thickness_mm: float
    wrist_mm: float | None

    @property
    def radius_mm(self) -> float:
        """Of the circle through the middle of the braid."""
        return self.around_mm / (2 * np.pi)

    @property
    def inner_mm(self) -> float:
        """Round the hole: shorter than the middle by π thicknesses."""
        return self.around_mm - np.pi * self.thickness_mm

    @property
    def join_mm(self) -> float:
        """What caps and clasp take."""
        return self.around_mm - self.beaded_mm

    @property
    def seen_mm(self) -> float:
        """Length round the middle that is seen from above, worn with the clasp below."""
        return min(self.around_mm * SEEN_DEG / 180.0, self.beaded_mm)


def ring_of(design: Design) -> Ring | None:
    """Return how a design is closed; None for a test braid, or if it goes round no wrist."""
    ring = _closed(design)
    worn = ring.inner_mm >= BOUNDS["wrist"].low and not design.origin.test_braid
    return ring if worn else None


def _closed(design: Design) -> Ring:
    order, beaded_mm = design.origin.order, design.length_mm
    assumed = [one.data for one in design.origin.findings if one.code is Code.WRIST_ASSUMED]
    wrists = (order.get("wrist_mm"), *(data.get("wrist_mm") for data in assumed))
    # data of a finding may be anything in a file that was edited by hand
    wrist_mm = next((mm for mm in wrists if isinstance(mm, int | float)), None)
    around_mm = max(design.origin.finished_mm or 0.0, beaded_mm)
    return Ring(
        around_mm,
        beaded_mm,
        min(float(order.get("clasp_mm") or 0.0), around_mm - beaded_mm),
        design.lattice.thickness_mm,
        wrist_mm,
    )


class Motifs(NamedTuple):
    """How many motifs there are, and what share of all their length is seen."""

    motifs: int
    share: float


def motifs_seen(design: Design, ring: Ring) -> Motifs | None:
    """Return what is seen of the motifs from above; None where there is none to be counted."""
    picture = design.picture
    if picture is None or not picture.centres or design.origin.order.get("all_round"):
        return None
    wide, high = picture.frame_size_px
    turn = np.deg2rad(picture.rotate_deg)
    extent = (wide * abs(np.sin(turn)) + high * abs(np.cos(turn))) / picture.px_per_mm
    half = extent * picture.stretch / 2
    middle = np.array([height for _, height in picture.centres]) - _middle_mm(design)
    ends = np.stack([middle - half, middle + half])
    inside = np.clip(ends, -ring.seen_mm / 2, ring.seen_mm / 2)
    return Motifs(len(middle), float(np.mean(inside[1] - inside[0]) / (2 * half)))


def newest_left(design: Design) -> bool:
    """Whether the motif is upright if the newest beads lie on the left; else they lie right."""
    order = design.origin.order
    if order.get("text"):
        return order.get("letters") == "down"
    turn = 0.0 if design.picture is None else design.picture.rotate_deg
    return bool(np.sin(np.deg2rad(turn)) > 1e-9)


# -- its parts in space ----------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class RingParts:
    """Everything of a ring, as spheroids in its own axes.

    Parameters
    ----------
    centres, axes : (k, 3) float
        Middle of each, mm, and unit vector along which it has another size.
    across_mm, along_mm : (k,) float
        Half the size of each.
    bead : (k,) int
        The bead that it belongs to; caps and clasp have the number of beads.
    scene : Scene
        The straight braid.
    """

    centres: Floats
    axes: Floats
    across_mm: Floats
    along_mm: Floats
    bead: Ints
    scene: Scene


def ring_parts(design: Design, ring: Ring) -> RingParts:
    """Return the beads of a design, and its caps and clasp, closed to a ring."""
    drops = drop_directions(design).drawn
    scene = scene_of(design.lattice, len(design.beads), design.front_deg, drops)
    centres, axes = bent(scene.centres, _middle_mm(design), ring)
    along, radii = _join(design, ring)
    upright = np.stack([np.zeros_like(along), along, np.zeros_like(along)], 1)
    joined, joined_axes = bent(upright, 0.0, ring)
    return RingParts(
        np.concatenate([centres, joined]),
        np.concatenate([axes, joined_axes]),
        np.concatenate([scene.across_mm, radii]),
        np.concatenate([scene.along_mm, radii]),
        np.concatenate([scene.bead, np.full(len(radii), len(design.beads))]),
        scene,
    )


def bent(upright: Floats, middle_mm: float, ring: Ring) -> tuple[Floats, Floats]:
    """Return points of the upright view bent to a ring, and the way of the braid there.

    Parameters
    ----------
    upright : (k, 3)
        Right, up, towards the viewer, mm.
    middle_mm : float
        Height of the middle of the braid.
    ring : Ring

    Returns
    -------
    (k, 3), (k, 3)
    """
    x, y, z = upright.T
    angle = (y - middle_mm) / ring.radius_mm
    away = ring.radius_mm + z
    sine, cosine = np.sin(angle), np.cos(angle)
    points = np.stack([away * sine, away * cosine, x], 1)
    return points, np.stack([cosine, -sine, np.zeros_like(sine)], 1)


def _middle_mm(design: Design) -> float:
    """Height of the middle of the beads."""
    return float(design.lattice.height_mm(len(design.beads) - 1)) / 2


def _join(design: Design, ring: Ring) -> tuple[Floats, Floats]:
    """Caps and clasp as spheres on the circle: where along it from the middle, and how large.

    Two cups that narrow towards the clasp, and a bar for that. None where there is no room.
    """
    lattice = design.lattice
    if ring.join_mm < lattice.diameter_mm:
        return np.zeros(0), np.zeros(0)
    wide = lattice.radius_mm + 0.25 * lattice.diameter_mm
    cap_mm = (ring.join_mm - ring.clasp_mm) / 2
    share = np.linspace(0.0, 1.0, _CAP_SPHERES)
    narrowing = np.clip((share - 0.45) / 0.55, 0.0, 1.0)
    cup = wide * (1 - 0.6 * narrowing**2 * (3 - 2 * narrowing))
    along = ring.beaded_mm / 2 + share * cap_mm
    bar = np.linspace(along[-1], ring.around_mm - along[-1], _CAP_SPHERES)[1:-1]
    places = np.concatenate([along, bar, ring.around_mm - along])
    return places, np.concatenate([cup, np.full(len(bar), cup[-1]), cup])


def ring_colours(design: Design) -> tuple[Bytes, Surfaces]:
    """Return colour and finish of every bead in working order, then those of the metal."""
    rgb = np.concatenate([colours_rgb(design), np.array([STEEL], dtype=np.uint8)])
    finishes = surfaces_of((*design.palette, Bead("", "", STEEL, finish="metallic")))
    metal = len(design.palette)
    return rgb, finishes[np.append(design.beads, metal)]
