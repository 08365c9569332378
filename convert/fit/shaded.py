"""A shaded picture on its beads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Ints
from ...palette import linear_lab
from .comparison import bead_planes
from .motif import Motif
from .place import Place
from .placement import Placement, most_width_mm
from .raster import PX_PER_PITCH
from .search import Effort, seek
from .shaded_motif import Inks, ShadedMotif

if TYPE_CHECKING:
    from ..options import Order


def fit_shaded(
    motif: Motif, place: Place, upright: Placement, order: Order
) -> tuple[Placement, Ints]:
    """Find where a shaded picture reads best, and its beads.

    Parameters
    ----------
    motif : Motif
    place : Place
    upright : Placement
        Of the first motif, where it is asked for.
    order : Order
        What the search may move.

    Returns
    -------
    Placement, (tile beads,) int
        Of the first motif; places in the palette.
    """
    shaded = _shaded_motif(motif, place, upright)
    found = seek(shaded, _effort(place, upright, order))
    return found.placement(upright), shaded.inks.bead[found.colours]


def _shaded_motif(motif: Motif, place: Place, upright: Placement) -> ShadedMotif:
    """The picture in terms of the beads that may be used."""
    choice = motif.choice
    px_per_pitch = upright.px_per_mm * place.tile.lattice.pitch_mm
    source = motif.sketch.source.reduced(px_per_pitch / PX_PER_PITCH)
    linear = choice.palette.linear[choice.usable]
    inks = Inks(
        choice.usable,
        bead_planes(linear),
        linear,
        linear_lab(linear),
        int(np.flatnonzero(choice.usable == choice.ground)[0]),
    )
    return ShadedMotif(place.tile, upright, source, inks, choice.palette.linear[choice.ground])


def _effort(place: Place, upright: Placement, order: Order) -> Effort:
    """What the search may move, and how long it may look."""
    tile = place.tile
    lattice = tile.lattice
    pinned = set(order.pin)
    whole_round = order.fit == "wrap" and upright.width_mm > 0.95 * lattice.circumference_mm
    if order.width_mm is not None or whole_round:
        pinned.add("scale")
    if whole_round:
        pinned.add("turn")
    if order.moved_mm is not None:
        pinned |= {"shift", "scale", "turn"}
    if order.quick:
        pinned |= {"scale", "turn"}
    along_mm = tile.height_mm - order.gap_rounds * lattice.rise_mm
    room = min(along_mm / upright.height_mm, most_width_mm(lattice, order.fit) / upright.width_mm)
    return Effort(
        shift="shift" not in pinned,
        scale="scale" not in pinned,
        turn="turn" not in pinned,
        most_scale=room,
        quick=order.quick,
    )
