"""What a conversion keeps of how it came about, for its design's file."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.design import ConversionFacts, MotifSize, SketchColour
from ...core.srgb import linear_to_srgb
from ...palette import hex_of
from ..fit.inks import MUCH_OF_BORDER

if TYPE_CHECKING:
    from ...core.arrays import Ints
    from ..fit.inks import BeadChoice
    from ..fit.placement import Placement
    from ..read import Sketch
    from .conversion import Conversion

DRAWN_ROUND = 0.5
"""A picture of whose border less than this is drawn has no ground of its own."""


def remember(
    conversion: Conversion, accents: Mapping[str, tuple[int, ...]] | None = None
) -> ConversionFacts:
    """Return what a conversion knew.

    Parameters
    ----------
    conversion : Conversion
    accents : mapping of str to tuple of int, optional
        Crossings of the accents that were scattered since, by code.
    """
    used, order = conversion.placement, conversion.order
    asked = replace(used, rotate_deg=order.rotate_deg, stretch=order.stretch or 1.0)
    facts = facts_of(conversion.motif.whole, conversion.motif.choice, asked, used, accents or {})
    composed = conversion.composed
    if composed is None:
        return facts
    return replace(facts, repeat_rounds=composed.repeat_rounds, tile=composed.tile)


def facts_of(
    sketch: Sketch,
    choice: BeadChoice,
    asked: Placement,
    used: Placement,
    accents: Mapping[str, tuple[int, ...]],
) -> ConversionFacts:
    """Return what is known of a sketch whose beads are chosen and which is placed.

    Parameters
    ----------
    sketch : Sketch
    choice : BeadChoice
    asked, used : Placement
    accents : mapping of str to tuple of int
        Crossings by code.
    """
    colours: tuple[SketchColour, ...] = ()
    ground = None
    if sketch.kind == "flat":
        beads = choice.nearest_beads(sketch.colours.linear)
        colours = tuple(
            SketchColour(hex_of(rgb), round(share, 6), choice.palette.codes[bead])
            for rgb, share, bead in zip(
                linear_to_srgb(sketch.colours.linear).tolist(),
                sketch.colours.share.tolist(),
                beads.tolist(),
                strict=True,
            )
        )
        own = _own_ground(sketch, beads, choice.ground)
        ground = None if own is None else colours[own].rgb
    return ConversionFacts(
        sketch.kind, colours, ground, _size(asked, asked), _size(used, asked), accents
    )


def _size(placement: Placement, asked: Placement) -> MotifSize:
    # a slight turn that was found makes no motif larger
    width_mm = replace(placement, rotate_deg=asked.rotate_deg).width_mm
    return MotifSize(width_mm, placement.rotate_deg, placement.stretch)


def _own_ground(sketch: Sketch, beads: Ints, ground: int) -> int | None:
    """The flat colour with the background bead that has most of the border, if it has much."""
    edge = sketch.at_edge
    if edge.sum() < DRAWN_ROUND:
        return None
    own = np.where(beads == ground, edge, 0.0)
    place = int(np.argmax(own))
    # as when the ground is looked for: a motif drawn tight to its frame owns much of the border
    return place if own[place] >= min(MUCH_OF_BORDER * edge.sum(), edge.max()) else None
