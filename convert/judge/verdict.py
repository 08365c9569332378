"""Whether what a flat sketch shows can be recognised in its beads, and where else it could.

Placement and colours are the best that were found; of a motif one bead wide nothing can be read
all the same. That has to be said before anything is strung.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import numpy as np

from ...core.findings import Code, Finding, Remedy
from ..fit.search import LINE_DRAWING, Found, Scene
from .alternatives import Elsewhere, along, drawn_inks, larger, shown_inks

UNRECOGNISED = (Code.HARD_TO_RECOGNISE, Code.TOO_SMALL)
"""What says so, the lesser doubt first."""

FEW_BEADS = 5
"""Fewer beads show a shape only if they fill it well, as one bead does a dot."""

AGREES, FILLS = 0.5, 0.65
"""Shares of what is drawn or beaded that must agree: of a motif, and of one of few beads. Of 124
conversions looked at side by side with their sketches, ours and others, hardly any below the first
could be told without knowing the sketch, most above it could."""

LEGIBLE = 0.55
"""The same for a drawing of nothing but strokes, see `himotif.convert.fit.search.View.legible`."""

BLOT = 0.25
"""Below this not even the rough shape shows."""

SEEN_AT_ONCE = 1.5
"""A motif so many times as wide as usual, half of the braid, bends out of sight."""

SURE = 0.05
"""A remedy must be better than just enough: it is found by a quick search."""


def agreement(scene: Scene, found: Found) -> float:
    """Return the share of what is drawn or beaded that has the bead of its colour, 0..1.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    """
    drawn, shown = drawn_inks(scene), shown_inks(scene, found)
    either = (drawn != scene.inks.ground) | (shown != scene.inks.ground)
    return float((drawn == shown)[either].mean()) if either.any() else 1.0


def surplus(scene: Scene, found: Found) -> float:
    """Return by how much the sketch can be told from its beads; less than 0 if it cannot.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    """
    few = motif_beads(scene, found) < FEW_BEADS
    if scene.strokes.share >= LINE_DRAWING:
        return -np.inf if few else found.legible - LEGIBLE
    return agreement(scene, found) - (FILLS if few else AGREES)


def motif_beads(scene: Scene, found: Found) -> int:
    """Return how many beads of the tile are not ground."""
    return int(np.count_nonzero(found.colours != scene.inks.ground))


def verdict_on(scene: Scene, found: Found, elsewhere: Elsewhere) -> Finding | None:
    """Return what to say of a sketch that cannot be recognised; None if it can.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    elsewhere : Elsewhere
        Of the same sketch.
    """
    if surplus(scene, found) >= 0:
        return None
    beads, placement = motif_beads(scene, found), scene.placement
    # as it is worked; a slight turn does not make it larger
    wide, high = (found.scale * side for side in (placement.width_mm, placement.height_mm))
    sure, remedies = _remedies(scene, elsewhere)
    lines = scene.strokes.share >= LINE_DRAWING
    hopeless = beads < FEW_BEADS or (not lines and agreement(scene, found) < BLOT)
    return Finding(
        Code.TOO_SMALL if hopeless else Code.HARD_TO_RECOGNISE,
        {"width_mm": round(wide, 1), "height_mm": round(high, 1), "beads": beads, "sure": sure},
        tuple(remedies),
    )


def _remedies(scene: Scene, elsewhere: Elsewhere) -> tuple[bool, list[Remedy]]:
    """Whether what to do about it surely helps, and what to do."""

    @cache
    def beyond(scale: float, strands: int = 0, turn_deg: float = 0.0) -> float:
        there = elsewhere.at(scale, strands, turn_deg)
        return -np.inf if there is None else surplus(*there)

    if ways := _ways(scene, elsewhere, lambda *where: beyond(*where) >= SURE):
        return True, ways
    return False, _ways(scene, elsewhere, lambda *where: beyond(*where) >= 0)


def _ways(scene: Scene, elsewhere: Elsewhere, shows: Callable[..., bool]) -> list[Remedy]:
    """What `shows` it: a larger size or a turn on this braid, and the next braid."""
    turned = along(scene.placement)
    grown = elsewhere.turned()
    sizes = list(elsewhere.sizes())
    scale = next((scale for scale in sizes if scale <= SEEN_AT_ONCE and shows(scale)), None)
    ways = [] if scale is None else [larger(scene.placement, scale)]
    if not ways and grown and shows(grown, 0, 90.0):
        ways = [turned]
    for strands in elsewhere.braids():
        if shows(1.0, strands):
            return [*ways, elsewhere.on_strands(strands)]
        if grown and shows(grown, strands, 90.0):
            return [*ways, elsewhere.on_strands(strands, turned)]
    if not ways:
        scale = next((scale for scale in sizes if scale > SEEN_AT_ONCE and shows(scale)), None)
        if scale is not None:
            ways = [larger(scene.placement, scale)]
    return ways
