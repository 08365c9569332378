"""A fitted sketch judged: how well its beads read, and what is to be said about them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ...core.findings import Code, Finding, Remedy
from ..fit.fitting import Fitted
from ..fit.inks import BeadChoice
from ..fit.raster import Drawn
from ..fit.search import LINE_DRAWING, READS, Found, Scene
from ..fit.tile import Tile
from ..read.source import Source, coloured_planes
from .alternatives import Elsewhere
from .likeness import Likeness, draw_tile, likeness_of
from .lost import find_lost, lost_findings
from .verdict import motif_beads, verdict_on

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ..options import Order
    from ..read.picture import Picture
    from ..read.sketch import Sketch

Ints = npt.NDArray[np.intp]


@dataclass(frozen=True, eq=False)
class Judgement:
    """How a fitted sketch reads.

    Parameters
    ----------
    drawn : Drawn
        One tile of the sketch as placed; the middle of the motif at x = 0.
    likeness : Likeness
    looked : bool
        Whether anybody looked for what is lost: not at a first look, nor in a shaded picture.
    findings : tuple of Finding
    """

    drawn: Drawn
    likeness: Likeness
    looked: bool
    findings: tuple[Finding, ...]


def judge(
    sketch: Sketch,
    picture: Picture,
    choice: BeadChoice,
    fitted: Fitted,
    order: Order,
    bead: BeadSize,
) -> Judgement:
    """Judge a fitted sketch.

    Parameters
    ----------
    sketch : Sketch
    picture : Picture
        What the sketch was read from, with all its shades.
    choice : BeadChoice
    fitted : Fitted
    order : Order
    bead : BeadSize
    """
    tile, scene = fitted.place.tile, fitted.scene
    source = Source(coloured_planes(picture), picture.scale)
    source = source.reduced(fitted.place.upright.px_per_mm / tile.fine_px_per_mm)
    ground = choice.palette.rgb[choice.ground]
    drawn = draw_tile(source, fitted.placement, tile, ground)
    linear = choice.palette.linear
    likeness = likeness_of(drawn, linear[fitted.colours], linear[choice.ground])
    looked = sketch.kind == "flat" and not order.quick
    if sketch.kind == "flat":
        said = _flat(scene, fitted.found, choice, bead if looked else None)
    else:
        said = _shaded(scene, choice, order)
    findings = (*_walk(tile), *said, *_kept(fitted, choice, order))
    return Judgement(drawn, likeness, looked, findings)


def _flat(scene: Scene, found: Found, choice: BeadChoice, bead: BeadSize | None) -> list[Finding]:
    """What became of a flat sketch; no `bead` at a first look: what is lost takes time."""
    elsewhere = None if bead is None else Elsewhere(scene, bead)
    verdict = None if elsewhere is None else verdict_on(scene, found, elsewhere)
    findings = [] if verdict is None else [verdict]
    if scene.strokes.share >= LINE_DRAWING or found.pen_pitches:
        findings += _strokes(scene, found)
    palette = choice.palette
    if scene.outlined:
        names = [palette.beads[int(scene.inks.bead[ink])].name for ink in scene.outlined]
        findings.append(Finding(Code.OUTLINES_LEFT_OUT, {"names": names}))
    if elsewhere is None:
        return findings
    lost = find_lost(scene, found, elsewhere if verdict is None else None)
    return findings + lost_findings(lost, palette, elsewhere)


def _strokes(scene: Scene, found: Found) -> list[Finding]:
    """What becomes of thin strokes."""
    pitch_mm = scene.tile.lattice.pitch_mm
    data = {
        "stroke_mm": round(scene.strokes.width_pitches * pitch_mm, 1),
        "pitch_mm": round(pitch_mm, 2),
    }
    if found.pen_pitches:
        return [Finding(Code.STROKES_DRAWN_BROADER, data)]
    if found.legible >= READS:
        return []
    data["beads"] = motif_beads(scene, found)
    return [Finding(Code.STROKES_TOO_THIN, data)]


def _shaded(scene: Scene, choice: BeadChoice, order: Order) -> list[Finding]:
    """What a shaded picture was taken for, if nobody said so."""
    findings = []
    if order.kind is None:
        flat = (Remedy("kind", "flat"),)
        findings.append(Finding(Code.TAKEN_AS_SHADED, remedies=flat))
    if order.most is None and len(scene.inks.bead) < len(choice.by_colour):
        findings.append(Finding(Code.GREYS_ONLY))
    return findings


def _kept(fitted: Fitted, choice: BeadChoice, order: Order) -> list[Finding]:
    """Which beads were kept among the few although nothing of the sketch became them."""
    if order.most is None:
        return []
    used = {choice.palette.codes[bead] for bead in {choice.ground, *fitted.colours.tolist()}}
    return [
        Finding(
            Code.KEPT_UNUSED,
            {"code": code, "most": order.most},
            (
                Remedy("keep", [other for other in order.keep if other != code]),
                Remedy("most", order.most + 1),
            ),
        )
        for code in order.keep
        if code not in used
    ]


SPIRAL_DEG = 60.0
"""Motifs that walk further round the braid than this, from the first to the last, no longer lie in
view together."""


def _walk(tile: Tile) -> list[Finding]:
    """Where motifs lie that walk with a measured drift."""
    each_deg = abs(tile.shift.walk_deg)
    if tile.count < 2 or each_deg == 0:
        return []
    data = {"each_deg": round(each_deg, 1), "clockwise": bool(tile.shift.walk_deg > 0)}
    round_deg = each_deg * (tile.count - 1)
    if round_deg <= SPIRAL_DEG:
        return [Finding(Code.WALKS, data)]
    in_view = int(SPIRAL_DEG / each_deg) + 1
    data |= {"motifs": tile.count, "round_deg": round(round_deg), "in_view": in_view}
    remedy = Remedy("repeat", in_view if in_view > 1 else "once")
    return [Finding(Code.SPIRAL, data, (remedy,))]
