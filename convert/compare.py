"""The same sketch on several braids, the best first.

A braid on which a flat sketch can be recognised stands before one on which it hardly can, and that
before one on which it cannot. Among these the score decides: J, and what is lost.

J is taken (see `himotif.convert.fit.comparison`) over the picture's frame, with every motif looked
at from where it seems equally large: as if its width on each braid were made of as many beads as
on the finest one, at ten such beads to a degree. Taken at so many of its own beads to a degree, a
coarse braid would be looked at from far away, where nobody misses what it lost. Even so a blot in
the right colours may come near a sketch whose shapes are gone: the edges of a flat sketch for
which no beads stand count as well, see `LOST_EDGES`. What a braid's size means for the wrist and
the evening's work stands beside the score.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from ..core._data import json_text
from ..core.errors import HimotifError, Problems, WrongUsage
from ..core.findings import Code, Finding, distinct, first_with
from ..core.paper.compare_sheet import BraidNumbers
from ..core.paper.conversion_wording import left_out_words
from ..core.paper.wording import sentence
from ..core.show.distortion_report import rounded

if TYPE_CHECKING:
    from ..core.drawing.shapes import Page
    from ..core.show.distortion_report import Report
    from ..palette import Palette
    from .job import Made
    from .options import Order
    from .read import Picture

SCHEMA = 1
"""Of the file of a comparison."""

MOST = 24
"""More braids than this would fill no readable sheet."""

LOST_EDGES = 10.0
"""Added to J, times the share of a flat sketch's edges that are lost: an edge of which nothing
shows counts like a colour that is off by 10, which is plain to see."""

AGREES = 50.0
"""Percent of the motif that must be as in the sketch if colours are lost in the ground."""

RECOGNISED = ("yes", "hardly", "no")
"""Whether the sketch can be told from its beads, by `Braided.doubt`."""

NEARLY_BEST = 1.1
"""A braid whose score is at most this many times the best one's reads nearly as well."""


@dataclass(frozen=True, eq=False)
class Braided:
    """The sketch on one braid, and its score; lower reads better.

    Parameters
    ----------
    made : Made
    seen : float
        J as seen from where all braids seem equally large.
    """

    made: Made
    seen: float

    @cached_property
    def score(self) -> float:
        """J and what is lost."""
        report = self.made.distortion.report
        if report.sketch != "flat":
            return self.seen
        return self.seen + LOST_EDGES * report.edges.lost_percent / 100

    @property
    def doubt(self) -> int:
        """Whether the sketch can be recognised: 0 yes, 1 hardly, 2 no; 0 if nobody looked."""
        report = self.made.distortion.report
        if report.unrecognised is not None:
            return 1 if report.unrecognised.code is Code.HARD_TO_RECOGNISE else 2
        if self.letters_in_doubt is not None:
            return 1
        # the verdict passes over colours that cannot be told from the ground; they are missed
        missed = report.lost is not None and report.colour.lost_in_ground
        return int(bool(missed) and (report.motif.kept_percent or 0.0) < AGREES)

    @property
    def letters_in_doubt(self) -> Finding | None:
        """What says that letters of a text may be taken for others."""
        return first_with(self.made.findings, Code.LETTERS_IN_DOUBT)

    @cached_property
    def numbers(self) -> BraidNumbers:
        """The key numbers."""
        return _numbers(self)

    @property
    def rank(self) -> tuple[int, float, int]:
        """Lower is better; of equal ones fewer strands are."""
        return self.doubt, self.score, self.made.design.braid.strands

    @property
    def name(self) -> dict[str, Any]:
        """Strands and bead, as in findings."""
        return {"strands": self.made.design.braid.strands, "bead": self.made.design.bead.label}

    @property
    def findings(self) -> list[Finding]:
        """Whether it can be recognised, then what is lost: nothing else of a comparison says it."""
        distortion = self.made.distortion
        doubt = distortion.report.unrecognised or self.letters_in_doubt
        first = [] if doubt is None else [doubt]
        return distinct([*first, *(distortion.report.lost or ()), *distortion.findings])


@dataclass(frozen=True, eq=False)
class BraidComparison:
    """Several braids of one sketch.

    Parameters
    ----------
    name : str
        Of the picture, or the text.
    braids : tuple of Braided
        Best first.
    refused : tuple of Finding
        Combinations that cannot be made, and why.
    """

    name: str
    braids: tuple[Braided, ...]
    refused: tuple[Finding, ...]

    @cached_property
    def report(self) -> dict[str, Any]:
        """What compare.json holds."""
        return {
            "schema": SCHEMA,
            "picture": self.name,
            "best_first": [
                {"rank": rank, **rounded(asdict(braided.numbers))}
                for rank, braided in enumerate(self.braids, start=1)
            ],
            "refused": [left_out_words(one.data) for one in self.refused],
            "words": self.words,
            "findings": [one.as_dict() for one in self.findings],
        }

    @cached_property
    def findings(self) -> list[Finding]:
        """What it comes to."""
        best, *others = self.braids
        distortion = best.made.distortion
        if distortion.report.motif.kept_percent is None:  # a score of nothing says nothing
            return [distortion.findings[0], *self.refused]
        data = {
            "braid": best.name,
            "score": round(best.score, 3),
            "recognised": RECOGNISED[best.doubt],
            "alone": not others,
        }
        found = [Finding(Code.BEST_BRAID, data)]
        near = [
            braided.name
            for braided in others
            if braided.score <= NEARLY_BEST * best.score and braided.doubt == best.doubt
        ]
        if near and best.doubt < 2:
            found.append(Finding(Code.NEARLY_BEST, {"braids": near}))
        for doubt in range(best.doubt + 1, len(RECOGNISED)):
            names = [braided.name for braided in self.braids if braided.doubt == doubt]
            if names:
                data = {"braids": names, "recognised": RECOGNISED[doubt]}
                found.append(Finding(Code.BRAIDS_IN_DOUBT, data))
        return [*found, *self.refused]

    @property
    def words(self) -> list[str]:
        """The findings as sentences."""
        return [sentence(one) for one in self.findings]

    @cached_property
    def page(self) -> Page:
        """The sheet as shapes, for PNG and SVG alike."""
        from ..core.paper.compare_sheet import Card, compare_page

        cards = [Card(one.numbers, one.made.distortion.panels.seen) for one in self.braids]
        return compare_page(self.name, self.words, cards)

    def files(self) -> dict[str, bytes]:
        """Return the files of the comparison, by name."""
        from ..core.drawing.png import page_png
        from ..core.drawing.svg import to_svg

        return {
            "compare.json": json_text(self.report).encode(),
            "compare.svg": to_svg(self.page).encode(),
            "compare.png": page_png(self.page),
        }


def compare(
    order: Order,
    picture: Picture | None,
    palette: Palette,
    strands: Sequence[int],
    bead_sizes: Sequence[str],
) -> BraidComparison:
    """Carry out an order on several braids.

    Parameters
    ----------
    order : Order
        What is the same for all of them.
    picture : Picture or None
        None if the order has a text.
    palette : Palette
    strands : sequence of int
    bead_sizes : sequence of str
        Trade sizes; every one is tried with every number of strands. None: the order's own bead.

    Raises
    ------
    WrongUsage
        If nothing or too much is asked for, or only what cannot be made: why, one by one.
    Problems
        If none of the braids can be made for other reasons.
    """
    from .job import make
    from .read import read_sketch

    sketch = None if picture is None else read_sketch(picture, order.kind)
    done: list[Made] = []
    refused: list[tuple[Finding, HimotifError]] = []
    for each in _orders(order, strands, bead_sizes):
        try:
            done.append(make(each, picture, _in_size(palette, each.bead_size), sketch))
        except HimotifError as error:
            refused.append((_left_out(each, error), error))
    if not done:
        raise _none_of(refused)
    finest = max(made.conversion.placement.width_mm / made.design.lattice.pitch_mm for made in done)
    braids = [Braided(made, seen_alike(made, finest)) for made in done]
    braids.sort(key=lambda braided: braided.rank)
    name = f"“{order.text}”" if picture is None else picture.name
    return BraidComparison(name, tuple(braids), tuple(finding for finding, _ in refused))


def _orders(order: Order, strands: Sequence[int], bead_sizes: Sequence[str]) -> list[Order]:
    """The order for every braid; refused if there are none or too many."""
    sizes: list[str | None] = [*dict.fromkeys(bead_sizes)] or [order.bead_size]
    wanted = [
        replace(order, strands=count, bead_size=size)
        for count in dict.fromkeys(strands)
        for size in sizes
    ]
    if not wanted or len(wanted) > MOST:
        raise WrongUsage(
            f"{len(wanted)} braids to compare: name from one to {MOST}, strands times bead sizes.",
            "strands",
        )
    return wanted


def _in_size(palette: Palette, size: str | None) -> Palette:
    """The palette as if its colours were there in a size that none of its beads has."""
    from ..core.design import round_sizes

    if size is None or size in round_sizes(palette.beads):
        return palette
    beads = (bead if bead.shape == "drop" else replace(bead, size=None) for bead in palette.beads)
    return replace(palette, beads=tuple(beads))


def _left_out(order: Order, error: HimotifError) -> Finding:
    """That a braid cannot be made, and why."""
    parts = error.parts if isinstance(error, WrongUsage) else ()
    remedies = tuple(remedy for part in parts for remedy in part.remedies)
    braid = {"strands": order.strands, "bead": order.bead_size}
    return Finding(Code.BRAID_LEFT_OUT, {"braid": braid, "why": str(error)}, remedies)


def _none_of(refused: Sequence[tuple[Finding, HimotifError]]) -> HimotifError:
    """The error of a comparison of nothing; what no braid is to blame for is said once."""
    errors = [error for _, error in refused]
    if len({str(error) for error in errors}) == 1:
        return errors[0]
    wrong = [error for error in errors if isinstance(error, WrongUsage)]
    if len(wrong) < len(errors):
        return Problems([left_out_words(finding.data) for finding, _ in refused])
    return WrongUsage.together(
        WrongUsage(left_out_words(finding.data), error.field, error.remedies)
        for (finding, _), error in zip(refused, wrong, strict=True)
    )


def seen_alike(made: Made, beads_across: float) -> float:
    """Return J over the picture's frame, with the motif seen as if so many beads wide.

    Parameters
    ----------
    made : Made
    beads_across : float
        At ten such beads to a degree.
    """
    import numpy as np

    from ..palette import Palette
    from .fit.comparison import Comparison
    from .judge.likeness import measure

    design, conversion = made.design, made.conversion
    raster = conversion.drawn.raster
    placement = conversion.placement
    lone = replace(placement, centres=placement.centres[:1])
    frame = np.isfinite(
        lone.picture_px(lone.chart_deg(raster.x_mm)[None], raster.y_mm[:, None])[..., 0]
    )
    crossing = conversion.owner
    on_braid = (crossing >= 0) & (crossing < len(design.beads))
    bead = np.where(on_braid, design.beads[crossing * on_braid], design.background)
    drawn = Palette.of(design).linear[bead]
    size_mm = placement.width_mm / beads_across
    down, across = raster.px_per_mm
    likening = Comparison(conversion.drawn.linear, (down * size_mm, across * size_mm))
    return measure(likening, drawn, frame).motif.score


def _numbers(braided: Braided) -> BraidNumbers:
    made = braided.made
    report, design = made.distortion.report, made.design
    assert report.likeness is not None  # only a design measured again has none
    likeness, seen = report.likeness.motif, report.visibility
    return BraidNumbers(
        strands=design.braid.strands,
        lay=design.braid.lay,
        turn=design.braid.turn,
        bead=design.bead.label,
        score=braided.score,
        seen=braided.seen,
        recognised=None if report.lost is None else RECOGNISED[braided.doubt],
        C=likeness.C,
        S=likeness.S,
        J=likeness.J,
        kept_percent=report.motif.kept_percent,
        colours_lost=_colours_lost(report),
        edge_p95_mm=report.edges.p95_mm,
        edge_p95_beads=report.edges.p95_beads,
        edge_lost_percent=report.edges.lost_percent,
        colour_mean_de00=report.colour.mean_de00,
        within_60_deg_percent=None if seen is None else seen.within_60_deg_percent,
        motif_width_mm=report.motif.width_mm,
        motif_height_mm=report.motif.height_mm,
        motif_width_beads=report.motif.width_beads,
        motif_height_beads=report.motif.height_beads,
        motifs=report.measured.of,
        thickness_mm=round(design.lattice.thickness_mm, 3),
        beads=len(design.beads),
        words=tuple(map(sentence, braided.findings)),
    )


def _colours_lost(report: Report) -> tuple[str, ...]:
    """Colours of which nothing is left: a bead far from where its colour was drawn keeps none."""
    return tuple(
        region.sketch if region.lost_in_ground and region.sketch else region.code
        for region in report.regions
        if not region.is_background
        and (not region.beads or region.pieces_lost == region.pieces_before)
    )
