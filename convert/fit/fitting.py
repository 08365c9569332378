"""A sketch on its beads: the place where it reads best, and the colour of every bead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Ints
from .energy import extent_mm
from .laying import nearest_bead, placed_on
from .motif import Motif
from .place import Place, place_motif, room_mm
from .placement import Placement, check_width, most_width_mm, turned_size
from .shaded import fit_shaded
from .size import MOST_ROUND, Wanted, fit_at, fit_motif

if TYPE_CHECKING:
    from ...core.braid import Lattice
    from ..options import Order
    from .energy import FlatSketch
    from .size import FittedMotif


@dataclass(frozen=True, eq=False)
class Flat:
    """A flat motif as it was fitted.

    Parameters
    ----------
    sketch : FlatSketch
        Its colours are places in the palette.
    wanted : Wanted
    fitted : FittedMotif
    outlined : (k,) int
        Beads of outlines far narrower than a bead, which are left out.
    """

    sketch: FlatSketch
    wanted: Wanted
    fitted: FittedMotif
    outlined: Ints

    @property
    def size_mm(self) -> tuple[float, float]:
        """How far the motif reaches across and along the braid."""
        return extent_mm(self.sketch, self.fitted.size)


@dataclass(frozen=True, eq=False)
class LaidMotif:
    """A motif on the braid.

    Parameters
    ----------
    place : Place
    placement : Placement
        Of every repeat.
    size_mm : (float, float)
        How far the motif reaches across and along the braid.
    colours : (tile beads,) int
        Places in the palette.
    flat : Flat or None
        How it was found, if the sketch is flat and anything is drawn.
    reach_mm : (float, float) or None
        How far below and above the middle of a repeat its beads lie; None is as far as its size
        and its tile go.
    """

    place: Place
    placement: Placement
    size_mm: tuple[float, float]
    colours: Ints
    flat: Flat | None = None
    reach_mm: tuple[float, float] | None = None

    def beads(self, rounds: int, ground: int) -> Ints:
        """Return the bead of every crossing of a braid of so many rounds."""
        tile = self.place.tile
        lattice = tile.lattice
        crossings = np.arange(rounds * lattice.braid.beads_per_round)
        # a tile closes on itself, the braid does not: nothing of a motif beyond its ends may show
        height, centres = lattice.height_mm(crossings), np.array(self.placement.centres)[:, 1]
        most_mm = min(self.size_mm[1] / 2 + lattice.covering_radius_mm, tile.height_mm / 2)
        below, above = self.reach_mm or (most_mm, most_mm)
        far = (height < centres[0] - below) | (height > centres[-1] + above)
        return np.where(far, ground, self.colours[tile.within(crossings)[1]])


def fit(motif: Motif, lattice: Lattice, rounds: int, order: Order) -> LaidMotif:
    """Find where a motif reads best, how large, and its beads.

    Parameters
    ----------
    motif : Motif
    lattice : Lattice
    rounds : int
        Beaded length, even.
    order : Order
        What is asked for is obeyed; what is not is found.

    Raises
    ------
    WrongUsage
        If the motif does not fit on the braid.
    """
    width_mm = check_width(order.width_mm, lattice, order.fit)
    if motif.sketch.kind == "flat" and (motif.labels != motif.choice.ground).any():
        return _fit_flat(motif, width_mm, lattice, rounds, order)
    wide, high = turned_size(motif.frame.size_px, order.rotate_deg)
    if width_mm is None:
        width_mm = min(
            usual_width_mm(lattice, order), room_mm(lattice, rounds, order) * wide / high
        )
    size_mm = width_mm, width_mm * high / wide
    place = place_motif(size_mm, lattice, rounds, order)
    upright = _placement(motif, place, wide / width_mm, order.rotate_deg, order)
    if motif.sketch.kind == "flat":
        plain = np.full(place.tile.beads, motif.choice.ground)
        return LaidMotif(place, place.repeated(upright), size_mm, plain)
    placement, colours = fit_shaded(motif, place, upright, order)
    size_mm = placement.width_mm, placement.height_mm
    return LaidMotif(place, place.repeated(placement), size_mm, colours)


def usual_width_mm(lattice: Lattice, order: Order) -> float:
    """Return the largest width at which all of a motif can be seen at once."""
    most_mm = most_width_mm(lattice, order.fit)
    return MOST_ROUND * most_mm if order.fit == "wrap" else most_mm


def _fit_flat(
    motif: Motif, width_mm: float | None, lattice: Lattice, rounds: int, order: Order
) -> LaidMotif:
    """A flat motif, of which something is drawn."""
    ground = motif.choice.ground
    sketch = motif.flat_sketch(lattice)
    if width_mm is None and "scale" in order.pin:
        width_mm = usual_width_mm(lattice, order)
    wanted = Wanted(
        width_mm,
        1.0 if order.stretch is None and "stretch" in order.pin else order.stretch,
        order.rotate_deg,
        order.fit,
        room_mm(lattice, rounds, order),
        pinned_turn="turn" in order.pin,
        quick=order.quick,
    )
    found = fit_motif(sketch, lattice, wanted)
    size_mm = extent_mm(sketch, found.size)
    high_mm = size_mm[1]
    if order.moved_mm is None:
        high_mm = max(
            min(high_mm, _bead_height_mm(found, ground)),
            high_mm - order.gap_rounds * lattice.rise_mm,
        )
    place = place_motif((size_mm[0], high_mm), lattice, rounds, order)
    if order.moved_mm is not None or "shift" in order.pin:
        _, offset_mm = nearest_bead(lattice, place.first_deg, place.tile.middle_mm)
        found = fit_at(sketch, lattice, found.size, replace(wanted, offset_mm=offset_mm))
    lies = placed_on(found, place.tile, place.first_deg, place.tile.middle_mm, ground)
    wide = motif.frame.size_px[0]
    placement = replace(
        _placement(motif, place, float(wide / found.size.width_mm), found.size.turn_deg, order),
        front_deg=lies.azimuth_deg,
        centres=((lies.azimuth_deg, lies.height_mm),),
        stretch=found.size.stretch,
    )
    outlined = np.setdiff1d(np.unique(motif.labels), np.append(np.unique(sketch.labels), ground))
    flat = Flat(sketch, wanted, found, outlined)
    return LaidMotif(place, place.repeated(placement), size_mm, lies.colours, flat)


def _bead_height_mm(found: FittedMotif, ground: int) -> float:
    """How high a motif's beads are, as far up from its middle as down.

    The gap between two motifs is one between beads, as long as their frames do not overlap.
    """
    drawn = found.colours != ground
    reach = np.abs(found.patch.y_mm[drawn] - found.offset_mm[1]).max(initial=0.0)
    return float(2 * reach + found.patch.lattice.pitch_mm)


def _placement(
    motif: Motif, place: Place, px_per_mm: float, turn_deg: float, order: Order
) -> Placement:
    """The first motif where it is asked for."""
    return Placement(
        order.fit,
        px_per_mm,
        turn_deg,
        motif.frame.size_px,
        place.tile.lattice.radius_mm,
        place.first_deg,
        ((place.first_deg, place.tile.middle_mm),),
    )
