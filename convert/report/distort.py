"""What the braid does to a sketch: the report, its sentences and its picture.

Here the facts of the sketch (its flat colours, its place) and of the palette meet the numbers of
`himotif.core.show.distortion`. One motif is measured, the middle one of the repeats: all of them
get the same beads.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np

from ...core.arrays import Float32Array, Floats, Ints
from ...core.braid import Raster
from ...core.findings import Code, Finding
from ...core.paper.wording import sentence
from ...core.show import distortion as core
from ...core.show import distortion_report as values
from ...core.show.distortion_findings import CLOSED_MM, DRAW_PITCHES, distortion_findings
from ...core.srgb import linear_to_srgb
from ...palette import Palette, lab_to_linear, nearest
from ..fit import raster as sampling
from ..fit.features import reduced_labels
from ..fit.frame import motif_frame
from ..fit.size import LABELS_PX, left_out
from ..judge.memory import DRAWN_ROUND, remember
from ..read import Source, nearest_label
from .distort_colours import Colours, Tones, tones_beads

if TYPE_CHECKING:
    from ...core.design import ConversionFacts, Design
    from ...core.drawing.shapes import Page
    from ...core.paper.distortion_sheet import Panels
    from ...core.show.distortion_report import Report
    from ..fit.placement import Placement
    from ..judge.conversion import Conversion
    from ..judge.likeness import Likeness
    from ..read import Sketch


REPORT_PX_PER_PITCH = 20.0
"""Pixels of the laid sketch per bead pitch: edges are known to a fortieth of a bead."""

ROOM_BEADS = 1.5
"""Ground above and below the motif that is looked at, as far as the next repeat allows."""


@dataclass(frozen=True, eq=False)
class Distortion:
    """The report, and what its picture is drawn from.

    Parameters
    ----------
    report : Report
    panels : Panels
        What the picture shows.
    """

    report: Report
    panels: Panels

    @property
    def unit(self) -> str | None:
        """Of lengths in words and on the picture: 'in', or None for mm."""
        return self.panels.design.unit

    @cached_property
    def findings(self) -> list[Finding]:
        """At most five findings, the worst first."""
        return distortion_findings(self.report, self.panels.lattice)

    @property
    def words(self) -> list[str]:
        """The findings as sentences."""
        return [sentence(one, self.unit) for one in self.findings]

    @cached_property
    def page(self) -> Page:
        """The picture as shapes, for PNG and SVG alike."""
        from ...core.paper.distortion_sheet import distortion_page

        return distortion_page(self.panels, self.report, self.words)

    def as_dict(self) -> dict[str, Any]:
        """Return what distortion.json holds."""
        said = {"words": self.words, "findings": [one.as_dict() for one in self.findings]}
        return self.report.as_dict(lambda one: sentence(one, self.unit)) | said


def distort_conversion(conversion: Conversion, design: Design | None = None) -> Distortion:
    """Measure what came of a conversion.

    Parameters
    ----------
    conversion : Conversion
    design : Design, optional
        The design in the end, if beads were changed after the conversion.
    """
    design = conversion.design if design is None else design
    return distort(
        design,
        conversion.placement,
        conversion.motif.whole,
        design.origin.conversion or remember(conversion),
        conversion.likeness(design),
        *_said(conversion, design),
    )


def _said(
    conversion: Conversion, design: Design
) -> tuple[tuple[Finding, ...] | None, Finding | None]:
    """What the conversion found lost, and whether the motif can hardly be recognised.

    What is lost is None if the motif changed since. A first look is too short to find it, and a
    shaded picture has no parts.
    """
    from ..judge.lost import CODES

    found = conversion.design
    if (found.beads != design.beads)[found.beads != found.background].any():
        return None, conversion.unrecognised
    if conversion.order.text is not None:
        return (), None  # its letters are looked at one by one
    if not conversion.judgement.looked:
        return None, conversion.unrecognised
    codes = {*CODES.values(), Code.LOST_MORE}
    lost = tuple(finding for finding in conversion.findings if finding.code in codes)
    return lost, conversion.unrecognised


def distort(
    design: Design,
    placement: Placement,
    sketch: Sketch,
    facts: ConversionFacts,
    likeness: Likeness | None = None,
    lost: Sequence[Finding] | None = None,
    unrecognised: Finding | None = None,
) -> Distortion:
    """Measure what the braid does to a placed sketch.

    Parameters
    ----------
    design : Design
    placement : Placement
    sketch : Sketch
    facts : ConversionFacts
        What the conversion knew of it.
    likeness : Likeness, optional
        C, S and J of the conversion, to be reported along.
    lost : sequence of Finding, optional
        Parts that are lost, if they were looked for: the findings of the report leave it at that.
    unrecognised : Finding, optional
        That the motif can hardly be recognised: the first finding of the report.
    """
    lattice = design.lattice
    piece = _Piece.of(design, placement, sketch, facts)
    tones = _tones(piece, piece.raster)
    colour = Colours.of(tones, design, facts, piece.raster)
    beads = colour.beads
    laid = core.LaidSketch(colour.laid_of[tones.label], design.background, piece.raster)
    in_beads = replace(laid, colours=tones.bead_of[tones.label])
    shift = core.edge_shift(laid, beads)
    squared = None
    # a pattern whose repeat is not known cannot be drawn on squares
    if facts.repeat_rounds is not None or not design.origin.order.get("all_round"):
        squared = core.squared_paper_beads(in_beads, facts.repeat_rounds)
    bends = _bends(laid, placement, lattice.pitch_mm)
    found = core.regions(laid, beads)
    front_deg = piece.front_deg
    report = values.Report(
        sketch=sketch.kind,
        measured=piece.measured(),
        braid=_braid_size(design),
        motif=_motif(placement, design, facts, core.kept_percent(laid, beads)),
        edges=_all_edges(shift, laid, front_deg),
        regions=tuple(_colour_row(region, shift, colour, piece) for region in found),
        not_in_sketch=_other_beads({region.colour for region in found}, colour, piece),
        stretch=values.Stretches(
            bends.worst, core.squared_paper_stretch(lattice), placement.stretch, bends.ratio
        ),
        squared_paper=None
        if squared is None
        else values.SquaredPaper(
            core.edge_shift(laid, squared).numbers, core.kept_percent(laid, squared)
        ),
        visibility=core.visibility(laid, front_deg),
        seam=_seams(in_beads, piece, colour),
        colour=colour.numbers(),
        likeness=None if likeness is None else _likeness_numbers(likeness),
        lost=lost,
        unrecognised=unrecognised,
        lettered=design.origin.order.get("text") is not None,
    )
    return Distortion(report, _panels(piece, tones, laid, squared, shift, bends))


def _panels(
    piece: _Piece,
    tones: Tones,
    laid: core.LaidSketch,
    squared: Ints | None,
    shift: core.EdgeShift,
    bends: _Bends,
) -> Panels:
    """What the picture of the report is drawn from."""
    from ...core.paper.distortion_sheet import Panels

    return Panels(
        design=piece.design,
        squared=squared,
        sketch=laid,
        picture_rgb=linear_to_srgb(tones.linear),
        shift=shift,
        bends_mm=bends.points_mm,
        bends=bends.maps,
        front_deg=piece.front_deg,
    )


# -- the piece of braid that is measured -----------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Piece:
    """One motif on the braid with a little ground, and the join to the one below."""

    design: Design
    placement: Placement
    sketch: Sketch
    facts: ConversionFacts
    source: Source
    drawn: Placement
    number: int
    raster: Raster
    join_mm: float | None

    @classmethod
    def of(
        cls, design: Design, placement: Placement, sketch: Sketch, facts: ConversionFacts
    ) -> _Piece:
        lattice = design.lattice
        centres = placement.centres
        number = len(centres) // 2
        azimuth, middle = centres[number]
        reach = placement.height_mm / 2 + ROOM_BEADS * lattice.pitch_mm
        join = None
        if len(centres) > 1:
            below = centres[number - 1][1]
            reach = min(reach, (middle - below) / 2)
            join = (middle + below) / 2
        half_step = lattice.step_mm / 2
        last_mm = float(lattice.height_mm(len(design.beads) - 1))
        bottom, top = max(middle - reach, -half_step), min(middle + reach, last_mm + half_step)
        raster = _raster(design, (bottom, top - bottom), azimuth)
        source, drawn = _with_margins(sketch, placement, design)
        return cls(design, placement, sketch, facts, source, drawn, number, raster, join)

    @property
    def lab(self) -> Floats:
        """The flat colours of the sketch, (k, 3) CIELAB."""
        return np.asarray(self.sketch.colours.lab, dtype=np.float64)

    @property
    def front_deg(self) -> float:
        """Azimuth of the middle of the front."""
        picture = self.design.picture
        return self.placement.front_deg if picture is None else picture.front_deg

    @property
    def join_raster(self) -> Raster | None:
        """The pixels next to the join."""
        if self.join_mm is None:
            return None
        near = 2 * self.raster.px_mm[1]
        span_mm = self.join_mm - near, 2 * near
        return _raster(self.design, span_mm, self.raster.front_deg)

    @cached_property
    def beads(self) -> tuple[Ints, int | None]:
        """The bead of each flat colour, the last of what is not drawn, and which is the ground."""
        return tones_beads(self.lab, self.facts, self.design)

    @cached_property
    def bare(self) -> Source:
        """The sketch as it was fitted: what goes all round is worked with its outlines."""
        if not len(self.lab) or self.design.origin.order.get("all_round"):
            return self.source
        return _without_outlines(self.source, self.beads[0], self.design)

    def draw(self, raster: Raster, source: Source | None = None) -> Float32Array:
        """Draw the planes of the sketch, or of what is left of it."""
        placed = replace(self.drawn, front_deg=raster.front_deg)
        return sampling.draw(source or self.source, placed, raster)

    def measured(self) -> values.Measured:
        azimuth = [centre[0] for centre in self.placement.centres]
        return values.Measured(
            motif=self.number + 1,
            of=len(azimuth),
            from_front_deg=_turn_deg(self.front_deg - self.raster.front_deg),
            walk_deg=_turn_deg(azimuth[1] - azimuth[0]) if len(azimuth) > 1 else 0.0,
            bottom_mm=self.raster.bottom_mm,
            top_mm=self.raster.top_mm,
            azimuth_deg=self.raster.front_deg,
        )


def _with_margins(sketch: Sketch, placement: Placement, design: Design) -> tuple[Source, Placement]:
    """The sketch with the margins that were cut off, and where that lies.

    There may be colours in them that got the ground's bead. What is added beyond the picture, to
    have the motif in the middle, is transparent.
    """
    if design.picture is None:
        return sketch.source, placement
    frame, (wide, high) = design.picture.frame_px, design.picture.size_px
    if frame is None or frame == (0, 0, wide, high):
        return sketch.source, placement
    left, top, right, bottom = frame
    scale = sketch.source.scale
    more = [
        (high - bottom - top, top - (high - bottom)),
        (wide - right - left, left - wide + right),
    ]
    pad = [(round(max(a, 0) * scale), round(max(b, 0) * scale)) for a, b in more]
    source = replace(sketch.source, planes=np.pad(sketch.source.planes, [*pad, (0, 0)]))
    size_px = (round(source.planes.shape[1] / scale), round(source.planes.shape[0] / scale))
    return source, replace(placement, size_px=size_px)


def _turn_deg(angle_deg: float) -> float:
    """The same direction between -180 and 180."""
    return (angle_deg + 180.0) % 360.0 - 180.0


def _raster(design: Design, span_mm: tuple[float, float], front_deg: float) -> Raster:
    px_per_mm = REPORT_PX_PER_PITCH / design.lattice.pitch_mm
    return Raster.of(design.lattice, span_mm, px_per_mm, len(design.beads), front_deg)


def _tones(piece: _Piece, raster: Raster) -> Tones:
    """The sketch on a piece of braid: its flat colours, or the beads nearest to its shades."""
    values = piece.draw(raster)
    design, sketch = piece.design, piece.sketch
    palette = Palette.of(design)
    bead_of, ground = piece.beads
    paper = (
        palette.linear[design.background] if ground is None else lab_to_linear(piece.lab[ground])
    )
    linear = np.asarray(values[..., :3] + (1 - values[..., 3:4]) * paper, dtype=np.float32)
    drawn = values[..., 3] >= 0.5
    if sketch.kind == "flat":
        lab, bare = piece.lab, piece.bare
        most = _label(values if bare is piece.source else piece.draw(raster, bare))
        own_ground = ground is not None
    else:
        lab = palette.lab[np.unique(design.beads)]
        bead_of, ground = np.append(nearest(lab, palette.lab).bead, design.background), None
        most = nearest_label(_smoothed(linear, REPORT_PX_PER_PITCH / 4), lab.astype(np.float32))
        own_ground = bool(sketch.at_edge.sum() >= DRAWN_ROUND)
    return Tones(sketch.kind, lab, bead_of, ground, own_ground, np.where(drawn, most, -1), linear)


def _label(planes: Float32Array) -> Ints:
    """The flat colour of each pixel, (H, W), by planes (H, W, 4 + k); -1 where nothing is drawn."""
    if planes.shape[-1] == 4:
        return np.full(planes.shape[:2], -1)
    return np.where(planes[..., 3] >= 0.5, np.argmax(planes[..., 4:], axis=-1), -1)


def _without_outlines(source: Source, bead_of: Ints, design: Design) -> Source:
    """The sketch as it was fitted: without the outlines that were left out.

    Parameters
    ----------
    source : Source
    bead_of : (k + 1,) int
        The bead of each flat colour; the last of what is not drawn.
    design : Design
    """
    from scipy import ndimage

    ground = design.background
    beads = bead_of[_label(source.planes)]
    left, top, right, bottom = motif_frame(beads, ground)
    inside, planes = beads[top:bottom, left:right], source.planes[top:bottom, left:right]
    # the same question as when it was fitted, on as many pixels, has the same answer
    coarse = reduced_labels(inside, ground, LABELS_PX)
    outline = left_out(coarse, ground, design.lattice)[0]
    if not outline.any():
        return source
    row, column = (
        np.arange(fine) * few // fine for fine, few in zip(inside.shape, coarse.shape, strict=True)
    )
    fine = np.ix_(row, column)
    away, nearest_to = ndimage.distance_transform_edt(~outline[fine], return_indices=True)
    # all of the line: its edges run through coarse pixels, and through fine ones
    left_out_bead = coarse[fine][tuple(nearest_to)][..., None]
    holds = ((planes[..., 4:] > 0) & (bead_of[:-1] == left_out_bead)).any(axis=-1)
    line = holds & (away <= 2 * len(inside) / len(coarse))
    beside = ndimage.distance_transform_edt(line, return_distances=False, return_indices=True)
    bare = source.planes.copy()
    bare[top:bottom, left:right] = planes[tuple(beside)]
    return replace(source, planes=bare)


def _smoothed(linear: Float32Array, sigma_px: float) -> Float32Array:
    """Shades as a bead can show them."""
    from scipy import ndimage

    smooth: Float32Array = ndimage.gaussian_filter(
        linear, (sigma_px, sigma_px, 0), mode=("nearest", "wrap", "nearest")
    )
    return smooth


# -- parts of the report ---------------------------------------------------------------------------


def _braid_size(design: Design) -> values.BraidSize:
    lattice = design.lattice
    return values.BraidSize(
        strands=design.braid.strands,
        lay=design.braid.lay,
        turn=design.braid.turn,
        bead=design.bead.label,
        pitch_mm=lattice.pitch_mm,
        bead_area_mm2=lattice.cell_area_mm2,
        covering_radius_mm=lattice.covering_radius_mm,
        circumference_mm=lattice.circumference_mm,
        thickness_mm=lattice.thickness_mm,
        source=dict(lattice.source),
    )


def _motif(
    placement: Placement, design: Design, facts: ConversionFacts, kept_percent: float | None
) -> values.MotifNumbers:
    # a slight turn that was found makes no motif larger
    asked = replace(placement, rotate_deg=facts.asked.rotate_deg)
    pitch_mm = design.lattice.pitch_mm
    return values.MotifNumbers(
        fit=placement.fit,
        width_mm=asked.width_mm,
        height_mm=asked.height_mm,
        width_beads=asked.width_mm / pitch_mm,
        height_beads=asked.height_mm / pitch_mm,
        rotate_deg=placement.rotate_deg,
        asked_rotate_deg=asked.rotate_deg,
        kept_percent=kept_percent,
    )


def _all_edges(shift: core.EdgeShift, laid: core.LaidSketch, front_deg: float) -> values.AllEdges:
    place, line, worst = None, None, shift.worst
    if worst is not None:
        edges = shift.edges
        x_mm, y_mm = float(edges.x_mm[worst]), float(edges.y_mm[worst])
        place = core.place_of(laid.raster, x_mm, y_mm, front_deg)
        needed_mm = DRAW_PITCHES * shift.pitch_mm
        sides = [int(side[worst]) for side in (edges.one_px, edges.other_px)]
        found = [core.thin_line(laid, side, needed_mm) for side in sides]
        line = min((one for one in found if one), key=lambda one: one.width_mm, default=None)
    return values.AllEdges(**vars(shift.numbers), worst_place=place, worst_line=line)


def _colour_row(
    region: core.Region, shift: core.EdgeShift, colours: Colours, piece: _Piece
) -> values.ColourRow:
    numbers = {name: value for name, value in vars(region).items() if name != "colour"}
    numbers["edges"] = shift.of_colour(region.colour).numbers
    tone = region.colour - len(piece.design.palette)
    if tone >= 0:
        lost = colours.lost_in_ground(tone)
        return values.ColourRow(
            **numbers,
            code=lost.bead,
            name=lost.name,
            rgb=piece.design.on_cord[piece.design.background].rgb,
            scattered=0,
            lost_in_ground=True,
            sketch=lost.sketch,
            de00=lost.de00,
        )
    sketch, apart = colours.of_region(region.colour)
    numbers |= _bead(region.colour, colours, piece)
    return values.ColourRow(**numbers, lost_in_ground=False, sketch=sketch, de00=apart)


def _other_beads(asked: set[int], colours: Colours, piece: _Piece) -> tuple[values.OtherBead, ...]:
    """The beads of the braid that stand for none of the regions, so that none is passed over."""
    strung = np.bincount(piece.design.beads, minlength=len(piece.design.palette))
    return tuple(
        values.OtherBead(**_bead(index, colours, piece), on_the_braid=int(strung[index]))
        for index in np.argsort(-strung, kind="stable").tolist()
        if strung[index] and index not in asked
    )


def _bead(index: int, colours: Colours, piece: _Piece) -> dict[str, Any]:
    """A bead, and how many of it lie in the piece: for the sketch, and scattered as accents."""
    bead, inside = piece.design.on_cord[index], piece.raster.inside
    mine = inside & (piece.design.beads == index)
    scattered = int((mine & (colours.beads != index)).sum())
    return {
        "code": bead.code,
        "name": bead.name,
        "rgb": bead.rgb,
        "beads": int(mine.sum()) - scattered,
        "scattered": scattered,
    }


@dataclass(frozen=True, eq=False)
class _Bends:
    points_mm: Floats
    maps: Floats
    worst: values.Stretch | None
    ratio: float | None


def _bends(laid: core.LaidSketch, placement: Placement, pitch_mm: float) -> _Bends:
    """The local maps from sketch to braid, on a grid over the motif."""
    motif = laid.motif
    if not motif.any():
        return _Bends(np.empty((0, 2)), np.empty((0, 2, 2)), None, None)
    raster = laid.raster
    radius = raster.lattice.radius_mm
    xs, ys = raster.x_mm[motif.any(axis=0)], raster.y_mm[motif.any(axis=1)]
    x = _spread(float(xs[0]), float(xs[-1]), 1.1 * pitch_mm)
    y = _spread(float(ys[-1]), float(ys[0]), 1.1 * pitch_mm)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    azimuth = raster.front_deg - np.degrees(points[:, 0] / radius)
    maps = core.local_maps(placement.picture_px, azimuth, points[:, 1], radius, placement.px_per_mm)
    known = np.isfinite(maps).all(axis=(-1, -2))
    # as it would be bent if it were no taller than drawn
    bare = core.most_bent(np.diag([1.0, 1.0 / placement.stretch]) @ maps)
    ratio = None if bare is None else bare.ratio
    return _Bends(points[known], maps[known], core.most_bent(maps), ratio)


def _spread(low: float, high: float, step: float) -> Floats:
    """Middles of about `step` wide pieces between two ends."""
    pieces = max(1, round((high - low) / step))
    return low + (np.arange(pieces) + 0.5) / pieces * (high - low)


def _seams(
    laid: core.LaidSketch,
    piece: _Piece,
    colours: Colours,
) -> values.Seams:
    design, around_mm = piece.design, laid.raster.lattice.circumference_mm
    gap = around_mm / 2 if piece.placement.fit == "face" else around_mm - piece.placement.width_mm
    join = core.seam_round(laid)
    meets = any(met[:2] != (design.background,) * 2 for met in join.meetings)
    round_ = values.SeamRound(
        gap_mm=max(0.0, gap),
        # what goes all round has no seam, even where its tiles end
        closed=bool(gap < CLOSED_MM and meets and not design.origin.order.get("all_round")),
        times=core.times_round(laid),
        length_mm=join.length_mm,
        differ_percent=join.differ_percent,
        meetings=_meetings(join, design),
    )
    raster = piece.join_raster
    if raster is None or piece.join_mm is None:
        return values.Seams(round_, None)
    label = _tones(piece, raster).label
    joined = core.LaidSketch(colours.tones.bead_of[label], design.background, raster)
    join = core.seam_repeat(joined, piece.join_mm)
    period = piece.placement.centres[1][1] - piece.placement.centres[0][1]
    repeat = values.SeamRepeat(
        gap_mm=max(0.0, period - piece.placement.height_mm),
        times=core.times_along(laid, period),
        length_mm=join.length_mm,
        differ_percent=join.differ_percent,
        meetings=_meetings(join, design),
    )
    return values.Seams(round_, repeat)


def _meetings(join: core.Join, design: Design) -> tuple[values.BeadsMeet, ...]:
    names = [bead.code for bead in design.palette]
    return tuple(
        values.BeadsMeet(names[met.one], names[met.other], met.length_mm) for met in join.meetings
    )


def _likeness_numbers(likeness: Likeness) -> values.LikenessNumbers:
    motif, whole = (
        values.Scores(of.colour, of.colour_far, of.structure, of.flip, of.score)
        for of in (likeness.motif, likeness.whole)
    )
    return values.LikenessNumbers(motif, whole)
