"""Whether what a flat sketch shows can be recognised in its beads, and where else it could.

Placement and colours are the best that were found; of a motif one bead wide nothing can be read
all the same. That has to be said before anything is strung.
"""

from __future__ import annotations

import numpy as np

from .elsewhere import Elsewhere, along_words, drawn_inks, larger_words, shown_inks
from .search import LINE_DRAWING, Found, Scene

UNRECOGNISED = ("Too small to be recognised", "Hard to recognise")
"""How a note begins that says so."""

FEW_BEADS = 5
"""Fewer beads show a shape only if they fill it well, as one bead does a dot."""

AGREES, FILLS = 0.5, 0.65
"""Shares of what is drawn or beaded that must agree: of a motif, and of one of few beads. Of 124
conversions looked at side by side with their sketches, ours and others, hardly any below the first
could be told without knowing the sketch, most above it could."""

LEGIBLE = 0.55
"""The same for a drawing of nothing but strokes, see `himotif.convert.search.View.legible`."""

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


def recognised(scene: Scene, found: Found, *, surely: bool = False) -> bool:
    """Return whether the sketch can be told from its beads.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    surely : bool
        Whether just enough will not do.
    """
    few = motif_beads(scene, found) < FEW_BEADS
    more = SURE if surely else 0.0
    if scene.strokes.share >= LINE_DRAWING:
        return not few and found.legible >= LEGIBLE + more
    return agreement(scene, found) >= (FILLS if few else AGREES) + more


def motif_beads(scene: Scene, found: Found) -> int:
    """Return how many beads of the tile are not ground."""
    return int(np.count_nonzero(found.colours != scene.inks.ground))


def verdict_on(scene: Scene, found: Found, elsewhere: Elsewhere) -> str | None:
    """Return what to say of a sketch that cannot be recognised; None if it can.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    elsewhere : Elsewhere
        Of the same sketch.
    """
    if recognised(scene, found):
        return None
    beads, placement = motif_beads(scene, found), scene.placement
    # as it is worked; a slight turn does not make it larger
    wide, high = (found.scale * side for side in (placement.width_mm, placement.height_mm))
    many = "no bead" if not beads else "one bead" if beads == 1 else f"{beads} beads"
    size = f"{wide:.1f} × {high:.1f} mm"
    advice = _advice(scene, elsewhere)
    lines = scene.strokes.share >= LINE_DRAWING
    if beads < FEW_BEADS or (not lines and agreement(scene, found) < BLOT):
        told = f"{UNRECOGNISED[0]}: at {size} the motif comes out as {many}"
    else:
        told = (
            f"{UNRECOGNISED[1]}: at {size} the motif comes out as {many}, which show its rough "
            "shape at best; look at the preview"
        )
    return f"{told}; {advice}."


def _advice(scene: Scene, elsewhere: Elsewhere) -> str:
    """What to do about it."""
    if ways := _ways(scene, elsewhere, surely=True):
        return f"{' or '.join(ways)} should show more of it"
    simpler = "draw fewer, larger and thicker shapes"
    if ways := _ways(scene, elsewhere, surely=False):
        return f"{' or '.join(ways)} may just show it, or {simpler}"
    return f"no larger size or braid that was tried shows it; {simpler}"


def _ways(scene: Scene, elsewhere: Elsewhere, *, surely: bool) -> list[str]:
    """What shows it: a larger size or a turn on this braid, and the next braid."""

    def shows(scale: float, strands: int = 0, turn_deg: float = 0.0) -> bool:
        found = elsewhere.at(scale, strands, turn_deg)
        return found is not None and recognised(*found, surely=surely)

    along = along_words(scene.placement)
    grown = elsewhere.turned()
    larger = {scale: larger_words(scene.placement, scale) for scale in elsewhere.sizes()}
    ways = [words for scale, words in larger.items() if scale <= SEEN_AT_ONCE and shows(scale)][:1]
    if not ways and grown and shows(grown, 0, 90.0):
        ways = [along]
    for strands in elsewhere.braids():
        if shows(1.0, strands):
            return [*ways, elsewhere.strands_words(strands)]
        if grown and shows(grown, strands, 90.0):
            return [*ways, f"{elsewhere.strands_words(strands)} with {along}"]
    if not ways:
        ways = [
            f"{words}, more than can be seen at once,"
            for scale, words in larger.items()
            if scale > SEEN_AT_ONCE and shows(scale)
        ]
    return ways[:1]
