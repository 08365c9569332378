"""A fitted sketch judged: how well its beads read, and what is to be said about them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Bools
from ...core.findings import Code, Finding, Remedy
from ..fit.energy import BEAD_STROKE_PITCHES
from ..fit.features import pixels_of
from ..fit.fitting import Flat, LaidMotif
from ..fit.inks import BeadChoice
from ..fit.legibility import Verdict
from ..fit.raster import Drawn
from ..fit.tile import Tile
from ..read import Source, coloured_planes
from .keeping import lost_findings
from .likeness import Likeness, draw_tile, likeness_of
from .shades import seen_in
from .verdict import shaded_findings, verdict_findings

if TYPE_CHECKING:
    from ...palette import Palette
    from ..fit.motif import Motif
    from ..options import Order
    from ..read import Picture
    from .trials import Trials


FEWEST_BEADS = 3
"""Of fewer beads nothing can be recognised; the verdict on flat motifs has found so by itself."""


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
    verdict : 'reads', 'a hint', 'lost' or None
        None of a picture that was put together on the braid.
    findings : tuple of Finding
    """

    drawn: Drawn
    likeness: Likeness
    looked: bool
    verdict: Verdict | None
    findings: tuple[Finding, ...]


def judge(
    motif: Motif, picture: Picture, fitted: LaidMotif, order: Order, trials: Trials | None
) -> Judgement:
    """Judge a fitted sketch.

    Parameters
    ----------
    motif : Motif
    picture : Picture
        What the sketch was read from, with all its shades; the motif alone.
    fitted : LaidMotif
    order : Order
    trials : Trials or None
        Other ways to work it; None at a first look.
    """
    tile, choice = fitted.place.tile, motif.choice
    source = Source(coloured_planes(picture), picture.scale)
    source = source.reduced(fitted.placement.px_per_mm / tile.fine_px_per_mm)
    ground = choice.palette.seen_rgb[choice.ground]
    drawn = draw_tile(source, fitted.placement, tile, ground)
    linear = choice.palette.linear
    likeness = likeness_of(drawn, linear[fitted.colours], linear[choice.ground])
    said: list[Finding] = []
    verdict: Verdict | None = None
    if fitted.flat is not None:
        verdict = fitted.flat.fitted.legibility.verdict
        said = _flat(fitted.flat, choice.palette, trials)
    elif motif.sketch.kind == "shaded":
        seen = seen_in(drawn, linear[fitted.colours][drawn.raster.owner], linear[choice.ground])
        beads = int((fitted.colours != choice.ground).sum())
        verdict = seen.verdict if beads >= FEWEST_BEADS else "lost"
        said = [*shaded_findings(verdict, fitted.size_mm, beads), *_shaded(choice, order)]
    # of a flat motif without a bead it is said that it is too small
    if fitted.flat is None and not (fitted.colours != choice.ground).any():
        said = [Finding(Code.NOTHING_DRAWN, remedies=(Remedy("background", None),)), *said]
    findings = (*_walk(tile), *said, *_hidden(motif), *_kept(fitted, choice, order))
    looked = fitted.flat is not None and trials is not None
    return Judgement(drawn, likeness, looked, verdict, findings)


def _flat(flat: Flat, palette: Palette, trials: Trials | None) -> list[Finding]:
    """What became of a flat sketch; no `trials` at a first look: to find what helps takes time."""
    findings = verdict_findings(flat, trials)
    findings += _strokes(flat)
    if len(flat.outlined):
        names = [palette.beads[bead].name for bead in flat.outlined.tolist()]
        findings.append(Finding(Code.OUTLINES_LEFT_OUT, {"names": names}))
    if trials is None or flat.fitted.legibility.beads == 0:
        return findings  # what is lost is all of it
    return findings + lost_findings(flat, palette, trials)


def _strokes(flat: Flat) -> list[Finding]:
    """What becomes of thin strokes."""
    width_mm = flat.fitted.size.width_mm
    pitch_mm = flat.fitted.patch.lattice.pitch_mm
    parts = [one for one in flat.sketch.features if one.kind != "opening"]
    strokes = [one for one in parts if one.kind == "stroke"]
    thin = [
        one for one in strokes if one.area * width_mm < BEAD_STROKE_PITCHES * pitch_mm * one.length
    ]
    places = {ink: _thin_places(flat, ink) for ink in {one.ink for one in thin}}
    drawn = [(one, places[one.ink][pixels_of(one.axis, flat.sketch.labels)]) for one in thin]
    lines = [(one, where) for one, where in drawn if one.weight @ where > 0.5]
    if not lines:
        return []
    area = sum(one.area * (one.widths @ where) / one.widths.sum() for one, where in lines)
    stroke_mm = width_mm * area / sum(one.length * where.mean() for one, where in lines)
    data = {"stroke_mm": round(float(stroke_mm), 1), "pitch_mm": round(pitch_mm, 2)}
    legibility = flat.fitted.legibility
    # a drawing in lines is one whose area is mostly lines
    if legibility.reads or 2 * area <= sum(one.area for one in parts):
        return [Finding(Code.STROKES_DRAWN_BROADER, data)]
    data["beads"] = legibility.beads
    return [Finding(Code.STROKES_TOO_THIN, data)]


def _thin_places(flat: Flat, ink: int) -> Bools:
    """Where in the sketch, (h, w), no disc of a colour fits in that makes a row of beads.

    A solid shape with points has a long axis, too, for it runs into each of them; and a body may
    have legs.
    """
    from scipy import ndimage

    labels, size = flat.sketch.labels, flat.fitted.size
    pitch_px = flat.fitted.patch.lattice.pitch_mm / size.width_mm * labels.shape[1]
    radius = BEAD_STROKE_PITCHES * pitch_px / 2
    core = ndimage.distance_transform_edt(np.pad(labels == ink, 1)) >= radius
    if not core.any():
        return np.ones(labels.shape, dtype=bool)
    return np.asarray((ndimage.distance_transform_edt(~core) > radius)[1:-1, 1:-1])


def _shaded(choice: BeadChoice, order: Order) -> list[Finding]:
    """What a shaded picture was taken for, if nobody said so."""
    findings = []
    if order.kind is None:
        flat = (Remedy("kind", "flat"),)
        findings.append(Finding(Code.TAKEN_AS_SHADED, remedies=flat))
    if order.most is None and len(choice.usable) < len(choice.by_colour):
        findings.append(Finding(Code.GREYS_ONLY))
    return findings


def _hidden(motif: Motif) -> list[Finding]:
    """What is not seen any more as the outlines round it are filled."""
    beads = motif.choice.palette.beads
    return [
        Finding(Code.HIDDEN_BY_FILL, beads[bead].code_and_name | {"parts": parts})
        for bead, parts in motif.hidden.items()
    ]


def _kept(fitted: LaidMotif, choice: BeadChoice, order: Order) -> list[Finding]:
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
