"""A sketch on its beads: the place where it reads best, and the colour of every bead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ...palette.quick_colour import linear_lab
from ..read.sketch import Sketch, ink_labels
from .comparison import bead_planes
from .inks import BeadChoice
from .place import Place
from .placement import Placement
from .raster import PX_PER_PITCH
from .search import Effort, Found, Inks, Scene, seek
from .strokes import Strokes, find_outlines, find_strokes

if TYPE_CHECKING:
    from ..options import Order

Ints = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Fitted:
    """What the search found.

    Parameters
    ----------
    place : Place
        As it was asked for.
    scene : Scene
        The sketch as the search saw it.
    found : Found
    placement : Placement
        As found, with every repeat's centre.
    colours : (tile beads,) int
        Places in the palette.
    """

    place: Place
    scene: Scene
    found: Found
    placement: Placement
    colours: Ints

    def beads(self, rounds: int, ground: int) -> Ints:
        """Return the bead of every crossing of a braid of so many rounds."""
        tile = self.place.tile
        lattice = tile.lattice
        crossings = np.arange(rounds * lattice.braid.beads_per_round)
        azimuth, height = lattice.azimuth_deg(crossings), lattice.height_mm(crossings)
        # a tile closes on itself, the braid does not: nothing of a motif beyond its ends may show
        far = self.placement.margin_mm(azimuth, height) < -lattice.covering_radius_mm
        return np.where(far, ground, self.colours[tile.within(crossings)[1]])


def fit(sketch: Sketch, choice: BeadChoice, place: Place, order: Order) -> Fitted:
    """Find where a sketch reads best, and its beads.

    Parameters
    ----------
    sketch : Sketch
    choice : BeadChoice
    place : Place
    order : Order
        What the search may move.
    """
    scene = _scene(sketch, choice, place)
    found = seek(scene, _effort(order, place))
    placement = place.repeated(found.placement(place.upright))
    return Fitted(place, scene, found, placement, scene.inks.bead[found.colours])


def _scene(sketch: Sketch, choice: BeadChoice, place: Place) -> Scene:
    """The sketch in terms of the beads that may be used, with its thin strokes."""
    px_per_pitch = place.upright.px_per_mm * place.tile.lattice.pitch_mm
    beads = choice.palette.linear
    bead, ground = choice.usable, choice.ground
    source = sketch.source.reduced(px_per_pitch / PX_PER_PITCH)
    planes, tones = source.planes, beads[bead]
    strokes, outlined = Strokes.none((1, 1), len(bead)), ()
    if sketch.kind == "flat":
        matched = choice.nearest(sketch.colours.linear, bead)
        bead, first, ink = np.unique(
            np.append(matched, ground), return_index=True, return_inverse=True
        )
        tones = np.append(sketch.colours.linear, beads[[ground]], axis=0)[first]
        shares = np.zeros((*planes.shape[:2], len(bead)), dtype=np.float32)
        for colour, number in enumerate(ink[:-1]):
            shares[..., number] += planes[..., 4 + colour]
        labels = ink_labels(shares, planes[..., 3], int(ink[-1]))
        scale_px = px_per_pitch * source.scale
        outline, without = find_outlines(labels, int(ink[-1]), scale_px)
        if outline.any():
            outlined = tuple(np.unique(labels[outline]).tolist())
            labels = without
            _leave_out(outline, labels, shares)
        strokes = find_strokes(labels, len(bead), int(ink[-1]), scale_px)
        planes = np.concatenate(
            [planes[..., :4], shares, strokes.lines, strokes.gaps[..., None]], axis=-1
        )
        source = replace(source, planes=planes)
    linear = beads[bead]
    inks = Inks(
        bead,
        bead_planes(linear),
        linear,
        linear_lab(linear),
        int(np.flatnonzero(bead == ground)[0]),
    )
    paper = beads[ground]
    return Scene(
        place.tile, place.upright, source, inks, paper, strokes, tones, choice.linear, outlined
    )


def _leave_out(outline: npt.NDArray[np.bool_], labels: Ints, shares: npt.NDArray[Any]) -> None:
    """Give the shares of outlines, with their soft edges, to the colours beside them."""
    from scipy import ndimage

    soft = ndimage.binary_dilation(outline, np.ones((3, 3)), iterations=2)
    whole = shares[soft].sum(axis=-1)
    shares[soft] = 0
    shares[soft, labels[soft]] = whole


def _effort(order: Order, place: Place) -> Effort:
    """What the search may move, and how long it may look."""
    pinned = set(order.pin)
    if order.width_mm is not None or place.whole_round:
        pinned.add("scale")
    if place.whole_round:
        pinned.add("turn")
    if order.moved_mm is not None:
        pinned |= {"shift", "scale", "turn"}
    if order.quick:
        pinned |= {"scale", "turn"}
    return Effort(
        shift="shift" not in pinned,
        scale="scale" not in pinned,
        turn="turn" not in pinned,
        most_scale=place.most_scale,
        quick=order.quick,
    )
