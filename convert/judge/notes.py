"""What a conversion has to tell its maker, sentence by sentence."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..fit.search import LINE_DRAWING, READS, Found, Scene
from .alternatives import Elsewhere
from .lost import find_lost, lost_notes
from .verdict import motif_beads, verdict_on

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ...core.design.design import Design
    from ...palette.palette import Palette
    from ..conversion import ConvertOptions
    from ..fit.comparison import Likeness
    from ..fit.tile import Tile


def times_better(before: Likeness, after: Likeness) -> float:
    """Return how many times better the second reads."""
    return before.score / max(after.score, 1e-9)


def _ways(moved_mm: tuple[float, float]) -> list[str]:
    """How far right and up, in words."""
    return [
        f"{abs(value):.1f} mm {positive if value > 0 else negative}"
        for value, (positive, negative) in zip(
            moved_mm, (("right", "left"), ("up", "down")), strict=True
        )
        if abs(value) >= 0.05
    ]


def gain_note(
    found: Found,
    before: Likeness | None,
    after: Likeness,
    put_mm: tuple[float, float] | None = None,
) -> str:
    """Return what the search did, nothing if that is not worth telling.

    Parameters
    ----------
    found : Found
    before, after : Likeness
        Of plain averages in the middle, and of the design; the first may not have been measured.
    put_mm : (float, float), optional
        Right and up, where the maker put the motif herself.
    """
    parts = _ways(found.moved_mm)
    if abs(found.scale - 1) > 1e-6:
        parts.append(f"{abs(found.scale - 1):.0%} {'larger' if found.scale > 1 else 'smaller'}")
    if abs(found.turn_deg) > 1e-6:
        way = "clockwise" if found.turn_deg > 0 else "counter-clockwise"
        parts.append(f"turned {abs(found.turn_deg):.0f}° {way}")
    gain = 0.0 if before is None else times_better(before, after)
    if gain < 1.05:
        return ""
    if put_mm is not None:
        where = ", ".join(_ways(put_mm)) or "in the middle"
        return f"Where you put it ({where}) it reads {gain:.1f} × better than with plain averages."
    where = ", ".join(parts) if parts else "in the middle"
    return f"Placed {where}: reads {gain:.1f} × better than centred with plain averages."


def flat_notes(
    scene: Scene, found: Found, palette: Palette, bead: BeadSize | None, gain: str
) -> list[str]:
    """Return what became of a flat sketch.

    Parameters
    ----------
    scene : Scene
    found : Found
    palette : Palette
    bead : BeadSize or None
        None for a first look: what is lost, and where else it would show, takes time.
    gain : str
        See `gain_note`; it is nothing if nobody can tell what the beads show.
    """
    elsewhere = None if bead is None else Elsewhere(scene, bead)
    unrecognised = None if elsewhere is None else verdict_on(scene, found, elsewhere)
    notes = [gain if unrecognised is None else unrecognised]
    if scene.strokes.share >= LINE_DRAWING or found.pen_pitches:
        notes.append(_line_note(scene, found, advise=unrecognised is None))
    names = [one.name for one in palette.beads]
    if scene.outlined:
        whose = " and ".join(names[int(scene.inks.bead[ink])] for ink in scene.outlined)
        notes.append(
            f"Outlines in {whose}, thin lines along the edges of other shapes, are much narrower "
            "than a bead and left out: single beads of them would break the shapes up."
        )
    if elsewhere is None:
        return notes
    remedies = elsewhere if unrecognised is None else None
    lost = find_lost(scene, found, remedies)
    return notes + lost_notes(lost, names, scene, remedies)


def shaded_notes(scene: Scene, beads: int, options: ConvertOptions) -> list[str]:
    """Return what a shaded picture was taken for, if nobody said so.

    Parameters
    ----------
    scene : Scene
    beads : int
        In the palette.
    options : ConvertOptions
    """
    told = []
    if options.kind is None:
        told.append(
            "Taken for a photograph or a painting with shades, its colours mixed from beads; for a "
            "drawing in plain colours say that it is flat (--kind flat)."
        )
    if options.most is None and len(scene.inks.bead) < beads:
        told.append(
            "A picture without colour: only the greyest beads are used; you may add others "
            "(--keep CODE)."
        )
    return told


def kept_notes(design: Design, options: ConvertOptions) -> list[str]:
    """Return which beads were kept among the few although nothing of the sketch became them."""
    if options.most is None:
        return []
    used = {design.palette[bead].code for bead in np.unique(design.beads)}
    return [
        f"{code} was kept (--keep {code}), but nothing of the sketch became {code}, and it takes "
        f"one of the {options.most} colours: leave it out, or allow one more "
        f"(--most {options.most + 1})."
        for code in options.keep
        if code not in used
    ]


def _line_note(scene: Scene, found: Found, *, advise: bool) -> str:
    """What becomes of thin strokes."""
    pitch_mm = scene.tile.lattice.pitch_mm
    wide = f"strokes {scene.strokes.width_pitches * pitch_mm:.1f} mm wide"
    if found.pen_pitches:
        return f"Thin {wide}: a bead is {pitch_mm:.1f} mm, so they are drawn a whole bead wide."
    if found.legible >= READS:
        return ""
    what = "not every stroke" if motif_beads(scene, found) else "nothing of it"
    told = f"A line drawing with {wide}: a bead is {pitch_mm:.1f} mm, so {what} shows."
    if not advise:
        return told
    return (
        f"{told} Thicker strokes, more strands, smaller beads or a larger motif along the braid "
        "show them better."
    )


SPIRAL_DEG = 60.0
"""Motifs that walk further round the braid than this, from the first to the last, no longer lie in
view together."""


def walk_notes(tile: Tile) -> list[str]:
    """Return where motifs lie that walk with a measured drift."""
    each_deg = abs(tile.shift.walk_deg)
    if tile.count < 2 or each_deg == 0:
        return []
    way = "clockwise" if tile.shift.walk_deg > 0 else "counter-clockwise"
    told = (
        f"With your measured drift each motif sits {each_deg:.1f}° further round "
        f"({way} from above) than the one before; the middle of the braid is at the front."
    )
    round_deg = each_deg * (tile.count - 1)
    if round_deg <= SPIRAL_DEG:
        return [told]
    most = int(SPIRAL_DEG / each_deg) + 1
    few = f"{most} motifs (--repeat {most}) stay in view"
    advice = few if most > 1 else "a single motif (--repeat once) faces it"
    return [
        f"The {tile.count} motifs wind round the braid, {round_deg:.0f}° from the first to the "
        f"last, and only some face the front: {advice}. {told}"
    ]
