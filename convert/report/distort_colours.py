"""What becomes of a sketch's colours on the braid, in CIEDE2000.

In a flat sketch a bead is compared with the flat colour it stands for: of the colours that fill
at least a tenth of its cell, the one most like it; whether that is the right one is a matter of
edges and of what is kept. In a shaded picture it is compared with the mean of its cell in linear
light.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.show import distortion_report as values
from ...core.srgb import linear_to_srgb
from ...palette import (
    Palette,
    ciede2000,
    ciede2000_matrix,
    hex_of,
    lab_to_linear,
    linear_lab,
    nearest,
    parse_colour,
    srgb_to_lab,
)
from ..read import cell_means

if TYPE_CHECKING:
    from ...core.braid import Raster
    from ...core.design import ConversionFacts, Design, SketchKind


STANDS_FOR = 0.1
"""A bead may stand for a flat colour that fills this part of its cell."""

REACH_DE00 = 10.0
"""A colour further than this from every bead is out of reach."""

WORTH_DE00 = 1.0
"""A missing colour is worth buying if it improves the mean over the motif by this much."""

MERGED_DE00 = 8.0
"""Flat colours further apart than this should not become one bead unnoticed."""

BESIDE_GROUND = 0.25
"""A colour with the ground's bead is lost in it if so much of its outline borders on the ground; a
window in a hull is not."""


@dataclass(frozen=True, eq=False)
class Tones:
    """The sketch on the piece of braid as a few tones.

    Parameters
    ----------
    lab : (k, 3) float
        The tones; for a shaded picture the beads whose colours are nearest.
    bead_of : (k + 1,) int
        Bead that stands for each tone; the last one is the ground.
    ground : int or None
        The tone of a flat sketch's own ground, if that is not transparent and gets the background
        bead.
    own_ground : bool
        Whether the sketch has a ground of its own; of a shaded one: is drawn at its border.
    label : (H, W) int
        Tone of each pixel; -1, and so the last entry of a list, where no picture lies.
    linear : (H, W, 3) float32
        The sketch in linear light, on its own ground's colour or, if it has none, on that of the
        background bead.
    """

    kind: SketchKind
    lab: Floats
    bead_of: Ints
    ground: int | None
    own_ground: bool
    label: Ints
    linear: Float32Array


@dataclass(frozen=True, eq=False)
class Colours:
    """What becomes of the sketch's colours.

    Parameters
    ----------
    tones : Tones
    swallowed : tuple of int
        Tones of the motif that get the background bead and border on the ground.
    wanted : (n, 3) float
        CIE Lab of what each bead of the motif stands for.
    crossings : (n,) int
        Those beads.
    error : (n,) float
        CIEDE2000 of the bead that lies there.
    asked : (m, 3) float
        CIE Lab of what fills most of the cell of each bead that the motif takes.
    best : (m,) float
        CIEDE2000 to that of the nearest bead of the palette.
    beads : (N,) int
        Palette index of each bead of the braid, scattered accents taken for ground.
    strung : (b,) int
        The beads that occur in the piece.
    """

    tones: Tones
    swallowed: tuple[int, ...]
    wanted: Floats
    crossings: Ints
    error: Floats
    asked: Floats
    best: Floats
    beads: Ints
    strung: Ints
    design: Design

    @classmethod
    def of(cls, tones: Tones, design: Design, facts: ConversionFacts, raster: Raster) -> Colours:
        """Follow the tones of a piece of braid into its beads."""
        share = _shares(tones, raster)
        palette_lab = Palette.of(design).lab
        most = np.argmax(share, axis=1)
        beads = _without_accents(design, facts)
        swallowed = _swallowed(tones, design.background)
        called_for = _laid_of(tones.bead_of, swallowed, len(design.palette))[most]
        motif = (called_for != design.background) | (beads != design.background)
        drawn = share[:, :-1].sum(axis=1) >= STANDS_FOR
        crossings = np.flatnonzero(motif & drawn & raster.inside)
        called = np.flatnonzero(drawn & raster.inside & (called_for != design.background))
        beads_lab = palette_lab[beads[crossings]]
        if not len(tones.lab):
            wanted = asked = np.empty((0, 3))  # nothing is drawn, so no bead stands for anything
        elif tones.kind == "flat":
            wanted = tones.lab[_stood_for(tones.lab, share[crossings, :-1], beads_lab)]
            asked = tones.lab[np.argmax(share[called, :-1], axis=1)]
        else:
            means = cell_means(raster.owner, tones.linear, raster.beads)
            lab = np.asarray(linear_lab(means.astype(np.float32)), dtype=np.float64)
            wanted, asked = lab[crossings], lab[called]
        error = np.asarray(ciede2000(wanted, beads_lab), dtype=np.float64)
        best = nearest(asked, palette_lab).difference if len(asked) else np.empty(0)
        seen = np.unique(design.beads[raster.inside])
        return cls(
            tones,
            swallowed,
            wanted,
            crossings,
            error,
            asked,
            best,
            beads,
            seen,
            design,
        )

    @property
    def laid_of(self) -> Ints:
        """What the sketch calls for by tone, (k + 1,): a bead, or what is lost in the ground.

        A tone that is lost in the ground is called by a number beyond the palette's.
        """
        return _laid_of(self.tones.bead_of, self.swallowed, len(self.design.palette))

    def tones_of(self, bead: int) -> Ints:
        """Tones that a bead stands for; of a flat sketch the background bead for its ground."""
        if bead == self.design.background and self.tones.kind == "flat":
            return np.array([] if self.tones.ground is None else [self.tones.ground], dtype=np.intp)
        return np.flatnonzero(self.tones.bead_of[:-1] == bead)

    def lost_in_ground(self, tone: int) -> values.LostInGround:
        """A tone of the motif that gets the background bead, and how unlike that it is."""
        ground = self.design.background
        bead = self.design.palette[ground]
        apart = ciede2000(self.tones.lab[tone], Palette.of(self.design).lab[ground])
        return values.LostInGround(_hex(self.tones.lab[tone]), bead.code, bead.name, float(apart))

    def of_region(self, bead: int) -> tuple[str | None, float | None]:
        """Colour of the sketch that a bead stands for, and its CIEDE2000 to the bead."""
        label = self.tones.label
        pixels = self.tones.linear[(self.tones.bead_of == bead)[label] & (label >= 0)]
        mine = self.tones_of(bead)
        if not len(pixels) or not len(mine):
            return None, None
        share = np.array([(self.tones.label == tone).sum() for tone in mine], dtype=np.float64)
        if not share.sum():
            return None, None
        bead_lab = Palette.of(self.design).lab[[bead]]
        if self.tones.kind == "flat":
            lab = np.average(self.tones.lab[mine], axis=0, weights=share)
            apart = ciede2000_matrix(self.tones.lab[mine], bead_lab)[:, 0]
            return _hex(lab), float(np.average(apart, weights=share))
        lab = np.asarray(linear_lab(pixels.mean(axis=0, keepdims=True)), np.float64)
        return _hex(lab[0]), float(ciede2000(lab, bead_lab)[0])

    def numbers(self) -> values.ColourNumbers:
        """Return the colour part of the report."""
        any_beads = bool(len(self.error))
        return values.ColourNumbers(
            beads=len(self.error),
            mean_de00=float(self.error.mean()) if any_beads else None,
            p95_de00=float(np.percentile(self.error, 95)) if any_beads else None,
            worst=self._worst() if any_beads else None,
            ground=self._ground(),
            lost_in_ground=tuple(self.lost_in_ground(tone) for tone in self.swallowed),
            out_of_reach=self._out_of_reach(),
            worth_buying=self._worth_buying(),
            merged=self._merged(),
        )

    def _worst(self) -> values.WorstBead:
        worst = int(np.argmax(self.error))
        crossing = int(self.crossings[worst])
        braid = self.design.braid
        return values.WorstBead(
            de00=float(self.error[worst]),
            crossing=crossing + 1,
            strand=int(braid.strand_of(crossing)) + 1,
            order=int(braid.order_of(crossing)) + 1,
            sketch=_hex(self.wanted[worst]),
            bead=self.design.palette[self.design.beads[crossing]].code,
        )

    def _ground(self) -> values.Ground | None:
        """The sketch's own ground that the background bead stands for; None if it has none."""
        if not self.tones.own_ground:
            return None
        sketch, apart = self.of_region(self.design.background)
        if sketch is None or apart is None:
            return None
        return values.Ground(sketch, self.design.palette[self.design.background].code, apart)

    def _out_of_reach(self) -> values.OutOfReach:
        """Colours of the motif that no bead comes near, the worst first; like shades together."""
        far = self.best > REACH_DE00
        rows: dict[str, values.FarColour] = {}
        order = np.argsort(-self.best[far], kind="stable")
        for lab, apart in zip(self.asked[far][order], self.best[far][order], strict=True):
            key = str(np.round(lab / 8)) if self.tones.kind == "shaded" else _hex(lab)
            row = rows.setdefault(key, values.FarColour(_hex(lab), 0, float(apart)))
            rows[key] = replace(row, beads=row.beads + 1)
        return values.OutOfReach(REACH_DE00, int(far.sum()), tuple(rows.values())[:8])

    def _worth_buying(self) -> values.WorthBuying | None:
        """The one colour whose bead would improve the motif most."""
        order = np.argsort(-self.best, kind="stable")
        missed = order[self.best[order] > WORTH_DE00]
        if not len(missed):
            return None
        wanted = self.asked[missed]
        # like shades once, each as the sketch has it
        kinds = np.unique(np.round(wanted, 1), axis=0, return_index=True)[1]
        candidates = wanted[kinds[:: -(-len(kinds) // 64)]]
        gain = np.maximum(self.best[:, None] - ciede2000_matrix(self.asked, candidates), 0)
        best = int(np.argmax(gain.sum(axis=0)))
        improves = gain[:, best]
        if improves.mean() < WORTH_DE00:
            return None
        helped = improves > WORTH_DE00
        return values.WorthBuying(
            sketch=_hex(candidates[best]),
            beads=int(helped.sum()),
            from_de00=float(self.best[helped].mean()),
            to_de00=float((self.best - improves)[helped].mean()),
        )

    def _merged(self) -> tuple[values.Merged, ...]:
        """Flat colours that differ well and yet become one bead that is on the braid.

        What is lost in the ground, or has no beads at all, is reported as that.
        """
        if self.tones.kind != "flat":
            return ()
        apart, bead_of = ciede2000_matrix(self.tones.lab, self.tones.lab), self.tones.bead_of
        seen = np.unique(self.tones.label)
        return tuple(
            values.Merged(
                one=_hex(self.tones.lab[one]),
                other=_hex(self.tones.lab[other]),
                de00=float(apart[one, other]),
                bead=self.design.palette[bead_of[one]].code,
            )
            for other in seen[seen >= 0].tolist()
            for one in range(other)
            if one in seen
            and not {one, other} & {*self.swallowed}
            and bead_of[one] in self.strung
            and bead_of[one] == bead_of[other]
            and apart[one, other] > MERGED_DE00
        )


def _swallowed(tones: Tones, background: int) -> tuple[int, ...]:
    """Tones of the motif that the ground about them swallows: they get the background bead."""
    if tones.kind != "flat":
        return ()
    label, ground = tones.label, tones.ground
    is_ground = (label < 0) | (label == (-1 if ground is None else ground))
    found = []
    for tone in np.flatnonzero(tones.bead_of[:-1] == background).tolist():
        if tone == ground:
            continue
        if ground is not None and ciede2000(*tones.lab[[tone, ground]]) <= MERGED_DE00:
            continue
        if _border_share(label == tone, is_ground) >= BESIDE_GROUND:
            found.append(tone)
    return tuple(found)


def _border_share(mask: Bools, beside: Bools) -> float:
    """Part of the outline of a mask that borders on another one; both close round the braid."""
    round_mask, round_beside = (np.roll(of, -1, axis=1) for of in (mask, beside))
    outline = (mask != round_mask).sum() + (mask[:-1] != mask[1:]).sum()
    shared = (mask & round_beside).sum() + (round_mask & beside).sum()
    shared += (mask[:-1] & beside[1:]).sum() + (mask[1:] & beside[:-1]).sum()
    return float(shared / outline) if outline else 0.0


def _laid_of(bead_of: Ints, swallowed: tuple[int, ...], beads: int) -> Ints:
    laid = bead_of.copy()
    for tone in swallowed:
        laid[tone] = beads + tone
    return laid


def _shares(tones: Tones, raster: Raster) -> Floats:
    """Part of each bead's cell that each tone fills, the ground last, (n, k + 1).

    A cell outside the piece is ground.
    """
    kinds = len(tones.lab) + 1
    key = raster.owner * kinds + tones.label % kinds
    cells = np.bincount(key.ravel(), minlength=raster.beads * kinds).reshape(-1, kinds)
    cells[cells.sum(axis=1) == 0, -1] = 1
    share: Floats = cells / cells.sum(axis=1, keepdims=True)
    return share


def _without_accents(design: Design, facts: ConversionFacts) -> Ints:
    """The beads, (n,), with the background bead for every accent that still is one."""
    beads = design.beads.copy()
    codes = [bead.code for bead in design.palette]
    for code, crossings in facts.accents.items():
        at = np.array(crossings, dtype=np.intp)
        beads[at[beads[at] == codes.index(code)]] = design.background
    return beads


def _stood_for(lab: Floats, share: Floats, beads_lab: Floats) -> Ints:
    """The flat colour that each bead stands for, (n,): of those in its cell the one most like it.

    Parameters
    ----------
    lab : (k, 3) float
        Flat colours.
    share : (n, k) float
        Part of the bead's cell that each fills.
    beads_lab : (n, 3) float
    """
    present = (share >= STANDS_FOR) | (share == share.max(axis=1, keepdims=True, initial=0))
    apart = np.where(present, ciede2000_matrix(beads_lab, lab), np.inf)
    return np.asarray(np.argmin(apart, axis=1), dtype=np.intp)


def tones_beads(lab: Floats, facts: ConversionFacts, design: Design) -> tuple[Ints, int | None]:
    """Return what became of the flat colours of a sketch.

    A colour is known by its likeness to those that the conversion kept, as these are rounded.

    Parameters
    ----------
    lab : (k, 3) float
    facts : ConversionFacts
    design : Design

    Returns
    -------
    (k + 1,) int
        Bead of each colour; the last one is the ground's.
    int or None
        The colour that is the sketch's own ground.
    """
    if not len(lab) or not facts.colours:
        return np.full(len(lab) + 1, design.background, dtype=np.intp), None
    kept = np.array([parse_colour(colour.rgb).rgb for colour in facts.colours], dtype=np.uint8)
    known = np.argmin(ciede2000_matrix(lab, srgb_to_lab(kept)), axis=1)
    codes = [bead.code for bead in design.palette]
    beads = np.array([codes.index(colour.bead) for colour in facts.colours], dtype=np.intp)
    rgb = [facts.colours[place].rgb for place in known]
    ground = rgb.index(facts.ground) if facts.ground in rgb else None
    return np.append(beads[known], design.background), ground


def _hex(lab: Floats) -> str:
    return hex_of(linear_to_srgb(lab_to_linear(np.asarray(lab)[None]))[0].tolist())
