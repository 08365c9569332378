"""What the braid does to a sketch: the report, its sentences and its picture.

Here the facts of the sketch (its plain colours, its place) and of the palette meet the numbers of
`himotif.core.distortion`. One motif is measured, the middle one of the repeats: all of them get
the same beads.

Colour errors are CIEDE2000. In a flat sketch a bead is compared with the plain colour it stands
for: of the colours that fill at least a tenth of its cell, the one most like it; whether that is
the right one is a matter of edges and of what is kept. In a shaded picture it is compared with
the mean of its cell in linear light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ..core import distortion as core
from ..core.distortion_words import sentences
from ..palette.colour import hex_of, lab_to_linear, linear_to_srgb, srgb_to_linear
from ..palette.difference import ciede2000_matrix
from ..palette.match import nearest
from ..palette.palette import Palette
from . import sampling
from .colouring import read_sketch
from .likeness import linear_lab

if TYPE_CHECKING:
    from ..core.design import Design
    from ..core.distortion_sheet import Panels
    from ..core.lattice import Lattice
    from ..core.sheet.shapes import Page
    from .colouring import Kind, Sketch
    from .conversion import Conversion
    from .likeness import Likeness, Measures
    from .picture import Picture
    from .placement import Placement

Floats = npt.NDArray[np.float64]
Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]

SCHEMA = 1

PX_PER_PITCH = 20.0
"""Pixels of the laid sketch per bead pitch: edges are known to a fortieth of a bead."""

ROOM_BEADS = 1.5
"""Ground above and below the motif that is looked at, as far as the next repeat allows."""

STANDS_FOR = 0.1
"""A bead may stand for a plain colour that fills this part of its cell."""

REACH_DE00 = 10.0
"""A colour further than this from every bead is out of reach."""

WORTH_DE00 = 1.0
"""A missing colour is worth buying if it improves the mean over the motif by this much."""

MERGED_DE00 = 8.0
"""Plain colours further apart than this should not become one bead unnoticed."""


@dataclass(frozen=True, eq=False)
class Distortion:
    """The report, and what its picture is drawn from.

    Parameters
    ----------
    report : dict
        As in distortion.json.
    panels : Panels
        What the picture shows.
    """

    report: dict[str, Any]
    panels: Panels

    @property
    def words(self) -> list[str]:
        """At most five sentences, the worst first."""
        return list(self.report["words"])

    @cached_property
    def page(self) -> Page:
        """The picture as shapes, for PNG and SVG alike."""
        from ..core.distortion_sheet import distortion_page

        return distortion_page(self.panels, self.report)


def distort_conversion(
    conversion: Conversion, picture: Picture, design: Design | None = None
) -> Distortion:
    """Measure what came of a conversion.

    Parameters
    ----------
    conversion : Conversion
    picture : Picture
        The one that was converted.
    design : Design, optional
        The design in the end, if beads were changed after the conversion.
    """
    return distort(
        conversion.design if design is None else design,
        conversion.placement,
        picture,
        conversion.kind,
        conversion.found,
    )


def distort(
    design: Design,
    placement: Placement,
    picture: Picture,
    kind: Kind | None = None,
    likeness: Likeness | None = None,
) -> Distortion:
    """Measure what the braid does to a placed picture.

    Parameters
    ----------
    design : Design
    placement : Placement
    picture : Picture
    kind : 'flat' or 'shaded', optional
        Found from the picture if left out.
    likeness : Likeness, optional
        C, S and J of the conversion, to be reported along.
    """
    from ..core.distortion_sheet import Panels

    lattice, beads = design.lattice, design.beads
    sketch = read_sketch(picture, kind)
    piece = _Piece.of(design, placement)
    tones = _tones(sketch, piece)
    colour = _Colours.of(tones, design, piece)
    laid = core.LaidSketch(
        colour.bead_of[tones.label],
        design.background,
        piece.bottom_mm,
        piece.top_mm,
        lattice.circumference_mm,
        piece.azimuth_deg,
    )
    shift = core.edge_shift(laid, lattice, beads)
    squared = core.squared_paper_beads(lattice, laid, len(beads))
    bends = _bends(laid, placement, lattice.pitch_mm)
    found = core.regions(laid, lattice, beads)
    front_deg = placement.front_deg if design.picture is None else design.picture.front_deg
    report: dict[str, Any] = {
        "schema": SCHEMA,
        "sketch": sketch.kind,
        "measured": piece.as_json(),
        "braid": _braid_json(design),
        "motif": {
            "fit": placement.fit,
            "width_mm": placement.width_mm,
            "height_mm": placement.height_mm,
            "width_beads": placement.width_mm / lattice.pitch_mm,
            "height_beads": placement.height_mm / lattice.pitch_mm,
            "rotate_deg": placement.rotate_deg,
            "kept_percent": core.kept_percent(laid, lattice, beads),
        },
        "edges": _edges_json(shift, design, laid, front_deg),
        "regions": [_region_json(region, shift, colour, design) for region in found],
        "stretch": {
            "fit": None if bends.worst is None else bends.worst.as_json(),
            "squared_paper": core.squared_paper_stretch(lattice).as_json(),
        },
        "squared_paper": _squared_json(laid, lattice, squared),
        "visibility": core.visibility(laid, front_deg),
        "seam": _seam_json(laid, sketch, piece, colour, design),
        "colour": colour.as_json(),
        "likeness": None if likeness is None else _likeness_json(likeness),
    }
    report["words"] = sentences(report, lattice)
    panels = Panels(
        lattice=lattice,
        rgb=np.array([bead.rgb for bead in design.palette], dtype=np.uint8),
        beads=beads,
        squared=squared,
        sketch=laid,
        picture_rgb=linear_to_srgb(tones.linear),
        shift=shift,
        bends_mm=bends.points_mm,
        bends=bends.maps,
        front_deg=front_deg,
    )
    return Distortion(core.rounded(report), panels)


# -- the piece of braid that is measured -----------------------------------------------------------


@dataclass(frozen=True)
class _Piece:
    """One motif on the braid, with a little ground."""

    design: Design
    placement: Placement
    number: int
    azimuth_deg: float
    bottom_mm: float
    top_mm: float
    join_mm: float | None

    @classmethod
    def of(cls, design: Design, placement: Placement) -> _Piece:
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
        return cls(
            design,
            placement,
            number,
            azimuth,
            max(middle - reach, -half_step),
            min(middle + reach, float(lattice.height_mm(len(design.beads) - 1)) + half_step),
            join,
        )

    def draw(self, sketch: Sketch, bottom_mm: float, top_mm: float) -> npt.NDArray[np.float32]:
        """Draw the planes of the sketch, with the middle of the motif in the middle."""
        lattice = self.design.lattice
        per_mm = PX_PER_PITCH / lattice.pitch_mm
        shape = sampling.raster_shape(lattice, bottom_mm, top_mm, per_mm)
        turned = replace(self.placement, front_deg=self.azimuth_deg)
        return sampling.draw(sketch.source, turned, lattice, shape, bottom_mm, top_mm)

    def as_json(self) -> dict[str, Any]:
        return {
            "motif": self.number + 1,
            "of": len(self.placement.centres),
            "bottom_mm": self.bottom_mm,
            "top_mm": self.top_mm,
            "azimuth_deg": self.azimuth_deg,
        }


@dataclass(frozen=True, eq=False)
class _Tones:
    """The sketch on the piece of braid as a few tones.

    Parameters
    ----------
    lab : (k, 3) float
        The tones; for a shaded picture the beads whose colours are nearest.
    label : (H, W) int
        Tone of each pixel; -1, and so the last entry of a list, where no picture lies.
    linear : (H, W, 3) float32
        The sketch in linear light, on the background bead's colour.
    """

    kind: Kind
    lab: Floats
    label: Ints
    linear: npt.NDArray[np.float32]


def _tones(sketch: Sketch, piece: _Piece) -> _Tones:
    values = piece.draw(sketch, piece.bottom_mm, piece.top_mm)
    palette = Palette(piece.design.palette)
    ground = srgb_to_linear(palette.rgb[piece.design.background])
    cover = values[..., 3]
    linear = values[..., :3] + (1 - cover[..., None]) * ground
    if sketch.kind == "flat":
        return _Tones("flat", np.asarray(sketch.colours.lab, np.float64), _labels(values), linear)
    used = np.unique(piece.design.beads)
    smooth = _smoothed(linear, PX_PER_PITCH / 4)
    label = np.where(cover >= 0.5, _nearest_of(smooth, palette.lab[used]), -1)
    return _Tones("shaded", palette.lab[used], label, linear)


def _labels(values: npt.NDArray[np.float32]) -> Ints:
    """Number of the plain colour that fills most of each pixel; -1 beside the picture."""
    if values.shape[-1] == 4:
        return np.full(values.shape[:2], -1, dtype=np.intp)
    return np.where(values[..., 3] >= 0.5, np.argmax(values[..., 4:], axis=-1), -1)


def _smoothed(linear: npt.NDArray[np.float32], sigma_px: float) -> npt.NDArray[np.float32]:
    from scipy import ndimage

    smooth: npt.NDArray[np.float32] = ndimage.gaussian_filter(
        linear, (sigma_px, sigma_px, 0), mode=("nearest", "wrap", "nearest")
    )
    return smooth


def _nearest_of(linear: npt.NDArray[np.float32], lab: Floats) -> Ints:
    from .colouring import nearest_label

    return nearest_label(linear, lab.astype(np.float32))


# -- colours ---------------------------------------------------------------------------------------


@dataclass(frozen=True, eq=False)
class _Colours:
    """What becomes of the sketch's colours.

    Parameters
    ----------
    bead_of : (k + 1,) int
        Bead that stands for each tone; the last one is the ground.
    wanted : (n, 3) float
        CIE Lab of what each bead of the motif stands for.
    crossings : (n,) int
        Those beads.
    error, best : (n,) float
        CIEDE2000 of the bead that lies there, and of the nearest in the palette.
    """

    bead_of: Ints
    tones: _Tones
    wanted: Floats
    crossings: Ints
    error: Floats
    best: Floats
    design: Design

    @classmethod
    def of(cls, tones: _Tones, design: Design, piece: _Piece) -> _Colours:
        lattice, beads = design.lattice, design.beads
        count, kinds = len(beads), len(tones.lab)
        x, y = sampling.grid_mm(lattice, tones.label.shape, piece.bottom_mm, piece.top_mm)
        owner = lattice.owner(x[None], y[:, None], count, piece.azimuth_deg)
        cells = np.bincount(
            owner.ravel() * (kinds + 1) + (tones.label.ravel() % (kinds + 1)),
            minlength=count * (kinds + 1),
        ).reshape(count, kinds + 1)
        share = cells / np.maximum(cells.sum(axis=1, keepdims=True), 1)
        palette_lab = Palette(design.palette).lab
        bead_of = np.append(_beads_for(tones, share, beads, palette_lab), design.background)
        mostly = np.argmax(share, axis=1)
        height = lattice.height_mm(np.arange(count))
        inside = (height >= piece.bottom_mm) & (height < piece.top_mm) & (cells.sum(axis=1) > 0)
        motif = inside & ((bead_of[mostly] != design.background) | (beads != design.background))
        chosen = np.flatnonzero(motif & (share[:, :kinds].sum(axis=1) >= STANDS_FOR))
        if tones.kind == "flat":
            apart = ciede2000_matrix(tones.lab, palette_lab).reshape(kinds, len(palette_lab))
            present = share[chosen, :kinds] >= STANDS_FOR
            present[np.arange(len(chosen)), np.argmax(share[chosen, :kinds], axis=1)] = True
            errors = np.where(present, apart[:, beads[chosen]].T, np.inf)
            tone = np.argmin(errors, axis=1) if len(chosen) else np.empty(0, np.intp)
            wanted = tones.lab[tone]
            error = errors[np.arange(len(chosen)), tone]
        else:
            mean = _cell_means(owner, tones.linear, count)[chosen]
            wanted = np.asarray(linear_lab(mean.astype(np.float32)), np.float64)
            error = _pairs(wanted, palette_lab[beads[chosen]])
        best = nearest(wanted, palette_lab).difference if len(chosen) else error
        return cls(bead_of, tones, wanted, chosen, error, best, design)

    def tones_of(self, bead: int) -> Ints:
        """Tones that a bead stands for."""
        return np.flatnonzero(self.bead_of[:-1] == bead)

    def of_region(self, bead: int) -> tuple[str | None, float | None]:
        """Colour of the sketch that a bead stands for, and its CIEDE2000 to the bead."""
        pixels = self.tones.linear[(self.bead_of == bead)[self.tones.label]]
        mine = self.tones_of(bead)
        if not len(pixels) or not len(mine):
            return None, None
        share = np.array([(self.tones.label == tone).sum() for tone in mine], dtype=np.float64)
        if not share.sum():
            return None, None
        bead_lab = Palette(self.design.palette).lab[[bead]]
        if self.tones.kind == "flat":
            lab = np.average(self.tones.lab[mine], axis=0, weights=share)
            apart = ciede2000_matrix(self.tones.lab[mine], bead_lab)[:, 0]
            return _hex(lab), float(np.average(apart, weights=share))
        lab = np.asarray(linear_lab(pixels.mean(axis=0, keepdims=True)), np.float64)
        return _hex(lab[0]), float(_pairs(lab, bead_lab)[0])

    def as_json(self) -> dict[str, Any]:
        """Return the colour part of the report."""
        if not len(self.error):
            return {"beads": 0, "mean_de00": None, "p95_de00": None, "worst": None} | {
                "out_of_reach": {"limit_de00": REACH_DE00, "beads": 0, "colours": []},
                "worth_buying": None,
                "merged": [],
            }
        worst = int(np.argmax(self.error))
        crossing = int(self.crossings[worst])
        braid = self.design.braid
        return {
            "beads": len(self.error),
            "mean_de00": float(self.error.mean()),
            "p95_de00": float(np.percentile(self.error, 95)),
            "worst": {
                "de00": float(self.error[worst]),
                "crossing": crossing + 1,
                "strand": int(braid.strand_of(crossing)) + 1,
                "order": int(braid.order_of(crossing)) + 1,
                "sketch": _hex(self.wanted[worst]),
                "bead": self.design.palette[self.design.beads[crossing]].code,
            },
            "out_of_reach": self._out_of_reach(),
            "worth_buying": self._worth_buying(),
            "merged": self._merged(),
        }

    def _out_of_reach(self) -> dict[str, Any]:
        """Colours of the motif that no bead of the palette comes near, the worst first."""
        far = self.best > REACH_DE00
        rows: dict[str, dict[str, Any]] = {}
        for lab, apart in zip(self.wanted[far], self.best[far], strict=True):
            row = rows.setdefault(
                _hex(_coarse(lab) if self.tones.kind == "shaded" else lab),
                {"beads": 0, "best_de00": 0.0},
            )
            row["beads"] += 1
            row["best_de00"] = max(row["best_de00"], float(apart))
        colours = [{"sketch": name, **row} for name, row in rows.items()]
        colours.sort(key=lambda row: (-row["best_de00"], row["sketch"]))
        return {"limit_de00": REACH_DE00, "beads": int(far.sum()), "colours": colours[:8]}

    def _worth_buying(self) -> dict[str, Any] | None:
        """The one colour whose bead would improve the motif most."""
        order = np.argsort(-self.best, kind="stable")
        missed = order[self.best[order] > WORTH_DE00]
        if not len(missed):
            return None
        candidates = np.unique(np.round(self.wanted[missed], 1), axis=0)
        step = -(-len(candidates) // 64)
        candidates = candidates[::step]
        gain = np.maximum(self.best[:, None] - ciede2000_matrix(self.wanted, candidates), 0)
        best = int(np.argmax(gain.sum(axis=0)))
        improves = gain[:, best]
        if improves.mean() < WORTH_DE00:
            return None
        helped = improves > WORTH_DE00
        return {
            "sketch": _hex(candidates[best]),
            "beads": int(helped.sum()),
            "from_de00": float(self.best[helped].mean()),
            "to_de00": float((self.best - improves)[helped].mean()),
        }

    def _merged(self) -> list[dict[str, Any]]:
        """Plain colours that differ well and yet become one bead."""
        if self.tones.kind != "flat":
            return []
        apart = ciede2000_matrix(self.tones.lab, self.tones.lab)
        seen = np.unique(self.tones.label)
        return [
            {
                "one": _hex(self.tones.lab[one]),
                "other": _hex(self.tones.lab[other]),
                "de00": float(apart[one, other]),
                "bead": self.design.palette[self.bead_of[one]].code,
            }
            for other in seen[seen >= 0]
            for one in range(other)
            if one in seen
            and self.bead_of[one] == self.bead_of[other]
            and apart[one, other] > MERGED_DE00
        ]


def _beads_for(tones: _Tones, share: Floats, beads: Ints, palette_lab: Floats) -> Ints:
    """Bead that stands for each tone: what most beads well inside it are, else the nearest.

    So a colour that was given another bead than the nearest is followed.
    """
    kinds = len(tones.lab)
    if not kinds:
        return np.empty(0, dtype=np.intp)
    chosen = nearest(tones.lab, palette_lab).bead
    if tones.kind == "shaded":
        return chosen
    for tone in range(kinds):
        inside = beads[share[:, tone] >= 0.7]
        if len(inside) >= 2:
            votes = np.bincount(inside, minlength=len(palette_lab))
            if votes.max() > 0.6 * len(inside):
                chosen[tone] = int(np.argmax(votes))
    return chosen


def _cell_means(owner: Ints, linear: npt.NDArray[np.float32], count: int) -> Floats:
    flat = owner.ravel()
    size = np.maximum(np.bincount(flat, minlength=count), 1)
    sums = [np.bincount(flat, linear[..., c].ravel(), minlength=count) / size for c in range(3)]
    return np.stack(sums, axis=1)


def _pairs(one: Floats, other: Floats) -> Floats:
    from ..palette.difference import ciede2000

    return np.asarray(ciede2000(one, other), dtype=np.float64)


def _coarse(lab: Floats) -> Floats:
    """A colour rounded so that shades fall together."""
    return np.asarray(np.round(lab / 8) * 8, dtype=np.float64)


def _hex(lab: Floats) -> str:
    red, green, blue = (int(c) for c in linear_to_srgb(lab_to_linear(np.asarray(lab)[None]))[0])
    return hex_of((red, green, blue))


# -- parts of the report ---------------------------------------------------------------------------


def _braid_json(design: Design) -> dict[str, Any]:
    lattice = design.lattice
    return {
        "strands": design.braid.strands,
        "lay": design.braid.lay,
        "turn": design.braid.turn,
        "bead": design.bead.label,
        "pitch_mm": lattice.pitch_mm,
        "bead_area_mm2": lattice.cell_area_mm2,
        "covering_radius_mm": lattice.covering_radius_mm,
        "circumference_mm": lattice.circumference_mm,
        "thickness_mm": lattice.thickness_mm,
        "source": dict(lattice.source),
    }


def _edges_json(
    shift: core.EdgeShift, design: Design, laid: core.LaidSketch, front_deg: float
) -> dict[str, Any]:
    out = shift.as_json()
    out["worst_place"] = None
    worst = shift.worst
    if worst is not None:
        place = core.place_of(
            design.lattice,
            float(shift.edges.x_mm[worst]),
            float(shift.edges.y_mm[worst]),
            len(design.beads),
            front_deg,
            laid.front_deg,
        )
        out["worst_place"] = place.as_json()
    return out


def _region_json(
    region: core.Region, shift: core.EdgeShift, colours: _Colours, design: Design
) -> dict[str, Any]:
    bead = design.palette[region.colour]
    sketch, apart = colours.of_region(region.colour)
    plain = {name: value for name, value in vars(region).items() if name != "colour"}
    return {
        "code": bead.code,
        "name": bead.name,
        "rgb": list(bead.rgb),
        "sketch": sketch,
        **plain,
        "de00": apart,
        "edges": shift.of_colour(region.colour).as_json(),
    }


def _squared_json(laid: core.LaidSketch, lattice: Lattice, squared: Ints) -> dict[str, Any]:
    """How the same sketch would fare on squared paper."""
    return {
        "edges": core.edge_shift(laid, lattice, squared).as_json(),
        "motif_kept_percent": core.kept_percent(laid, lattice, squared),
    }


@dataclass(frozen=True, eq=False)
class _Bends:
    points_mm: Floats
    maps: Floats
    worst: core.Stretch | None


def _bends(laid: core.LaidSketch, placement: Placement, pitch_mm: float) -> _Bends:
    """The local maps from sketch to braid, on a grid over the motif."""
    motif = laid.motif
    if not motif.any():
        return _Bends(np.empty((0, 2)), np.empty((0, 2, 2)), None)
    radius = laid.circumference_mm / (2 * np.pi)
    xs, ys = laid.x_mm[motif.any(axis=0)], laid.y_mm[motif.any(axis=1)]
    x = _spread(float(xs[0]), float(xs[-1]), 1.1 * pitch_mm)
    y = _spread(float(ys[-1]), float(ys[0]), 1.1 * pitch_mm)
    points = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    azimuth = laid.front_deg - np.degrees(points[:, 0] / radius)
    maps = core.local_maps(placement.picture_px, azimuth, points[:, 1], radius, placement.px_per_mm)
    known = np.isfinite(maps).all(axis=(-1, -2))
    return _Bends(points[known], maps[known], core.most_bent(maps))


def _spread(low: float, high: float, step: float) -> Floats:
    """Middles of about `step` wide pieces between two ends."""
    pieces = max(1, round((high - low) / step))
    return low + (np.arange(pieces) + 0.5) / pieces * (high - low)


def _seam_json(
    laid: core.LaidSketch, sketch: Sketch, piece: _Piece, colours: _Colours, design: Design
) -> dict[str, Any]:
    gap = laid.circumference_mm - piece.placement.width_mm
    if piece.placement.fit == "face":
        gap = laid.circumference_mm / 2
    out: dict[str, Any] = {
        "round": {"gap_mm": max(0.0, gap), **_join_json(core.seam_round(laid), design)},
        "repeat": None,
    }
    if piece.join_mm is not None:
        px = laid.px_mm[1]
        strip = piece.draw(sketch, piece.join_mm - 2 * px, piece.join_mm + 2 * px)
        label = _labels(strip) if sketch.kind == "flat" else _shaded_labels(strip, design)
        joined = replace(
            laid,
            colours=colours.bead_of[label],
            bottom_mm=piece.join_mm - 2 * px,
            top_mm=piece.join_mm + 2 * px,
        )
        join = core.seam_repeat(joined, piece.join_mm)
        period = np.diff([middle for _, middle in piece.placement.centres[:2]])[0]
        if join is not None:
            out["repeat"] = {
                "gap_mm": max(0.0, float(period) - piece.placement.height_mm),
                **_join_json(join, design),
            }
    return out


def _shaded_labels(values: npt.NDArray[np.float32], design: Design) -> Ints:
    palette = Palette(design.palette)
    ground = srgb_to_linear(palette.rgb[design.background])
    linear = values[..., :3] + (1 - values[..., 3:4]) * ground
    used = np.unique(design.beads)
    return np.where(values[..., 3] >= 0.5, _nearest_of(linear, palette.lab[used]), -1)


def _join_json(join: core.Join, design: Design) -> dict[str, Any]:
    names = [bead.code for bead in design.palette]
    return {
        "length_mm": join.length_mm,
        "differ_percent": join.differ_percent,
        "meetings": [
            {"one": names[met.one], "other": names[met.other], "length_mm": met.length_mm}
            for met in join.meetings
        ],
    }


def _likeness_json(likeness: Likeness) -> dict[str, Any]:
    def plain(measures: Measures) -> dict[str, float]:
        return {
            "C": measures.colour,
            "C_far": measures.colour_far,
            "S": measures.structure,
            "F": measures.flip,
            "J": measures.score,
        }

    return {"motif": plain(likeness.motif), "whole": plain(likeness.whole)}
