"""What the distortion report has to say to a maker: at most five findings, the worst first.

Every finding gets a rank (100: the sketch cannot be read; 1: good to know). The ranks only order
the findings; they are ours, and are written beside each. Where the conversion has found what is
lost and what would keep it (``lost`` in the report), that is not said a second time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, Any

from ..findings import Code, Finding, Remedy
from .distortion_report import ColourRow, LostInGround, Report, SeamRepeat, SeamRound

if TYPE_CHECKING:
    from ..braid import Lattice

Ranked = tuple[float, Finding]

MOST_FINDINGS = 5
"""So many are listed, the weightiest; a choice of this project."""

# When a number of the report is worth a sentence: choices of this project, not norms.

BESIDE_DEG = 5.0
"""A motif whose middle is further than this from the front lies beside it."""

CLOSED_MM = 0.5
"""A picture that leaves less ground than this round the braid, or to the next, meets it."""

LOST_MUCH_PERCENT = 25.0
"""When more of the edges than this are lost, it has to be said."""

PLAIN_DE00 = 10.0
"""A colour difference (CIEDE2000) above this is plain to see."""

NEARER_DE00 = 4.0
"""For a bead that is less off than this, no nearer one need be looked for."""

DRAW_PITCHES = 1.2
"""A part so wide (bead pitches) gets a bead wherever it lies: the widest gap between the middles of
beads, twice `Lattice.covering_radius_mm`, is 1.158 to 1.166 on braids of 8 to 24 strands."""

TO_BE_DRAWN = (
    Code.BREAKS,
    Code.RUN_TOGETHER,
    Code.GAP_CHANGES,
    Code.EDGES_MOVED,
    Code.EDGES_LOST,
)
"""What another drawing would mend, if it was drawn: nobody draws the letters of a text."""

ANOTHER_GROUND = Remedy("background", None)
ANOTHER_WIDTH = Remedy("width_mm", None)


def distortion_findings(report: Report, lattice: Lattice) -> list[Finding]:
    """Return at most five findings of a report, the worst first.

    Parameters
    ----------
    report : Report
    lattice : Lattice
        The braid that was measured.
    """
    if report.motif.kept_percent is None:
        ranked = [*_colours(report)]
        # colours that mix to the ground's may have beads all the same
        if report.unrecognised is None or not report.unrecognised.data["beads"]:
            ranked.append((100.0, Finding(Code.NOTHING_DRAWN, remedies=(ANOTHER_GROUND,))))
    else:
        ranked = [
            *_visibility(report),
            *_colours(report),
            *_seams(report),
            *_bend(report),
            *_lost_edges(report),
        ]
        if report.sketch == "flat":
            ranked += [*_regions(report, lattice), *_edges(report, lattice)]
    ranked.sort(key=lambda one: -one[0])
    if report.lettered:
        ranked = [(rank, _of_letters(one)) for rank, one in ranked]
    doubt = [] if report.unrecognised is None else [report.unrecognised]
    last = [*_stretched(report), *_squared(report)]
    found = [finding for rank, finding in ranked if rank >= 10][
        : MOST_FINDINGS - len(last) - len(doubt)
    ]
    if not found and not doubt:
        found = [_all_well(report)]
    return [*doubt, *found, *last]


def _of_letters(finding: Finding) -> Finding:
    if finding.code not in TO_BE_DRAWN:
        return finding
    return replace(finding, data={**finding.data, "lettered": True})


def missed_limits(
    report: Report,
    edge_mm: float | None = None,
    kept_percent: float | None = None,
    colour_de: float | None = None,
) -> list[Finding]:
    """Return the limits that a report misses.

    Parameters
    ----------
    report : Report
    edge_mm : float, optional
        Most that the 95th percentile of the edge shift may be.
    kept_percent : float, optional
        Least that must be kept of every colour of the motif.
    colour_de : float, optional
        Most that the mean colour error (CIEDE2000) may be.
    """
    edges, mean = report.edges, report.colour.mean_de00
    missed: list[tuple[Code, dict[str, Any]]] = []
    if edge_mm is not None and edges.lost_percent > 5.0:
        data: dict[str, Any] = {"lost_percent": edges.lost_percent, "limit_mm": edge_mm}
        missed.append((Code.LIMIT_EDGES_LOST, data))
    elif edge_mm is not None and (edges.p95_mm or 0.0) > edge_mm:
        missed.append((Code.LIMIT_EDGES, {"p95_mm": edges.p95_mm, "limit_mm": edge_mm}))
    if kept_percent is not None:
        for row in report.regions:
            if not row.is_background and row.kept_percent < kept_percent:
                data = {"code": row.code, "kept_percent": row.kept_percent}
                missed.append((Code.LIMIT_KEPT, data | {"limit_percent": kept_percent}))
    if colour_de is not None and mean is not None and mean > colour_de:
        missed.append((Code.LIMIT_COLOUR, {"mean_de00": mean, "limit_de00": colour_de}))
    return [Finding(code, data) for code, data in missed]


# -- shapes ----------------------------------------------------------------------------------------


def _regions(report: Report, lattice: Lattice) -> Iterator[Ranked]:
    """What becomes of the colours: gone, partly gone, broken, run together, closed."""
    motif = [row for row in report.regions if not row.is_background and not row.lost_in_ground]
    area = sum(region.area_beads for region in motif)
    gone = [region for region in motif if region.beads == 0]
    if gone and report.lost is None:
        data = {"beads": [_bead(region) for region in gone], "draw": _draw(gone, lattice, area)}
        yield 95.0, Finding(Code.COLOURS_GONE, data)
    found = [
        one
        for region in motif
        if region.beads
        for one in _changed(report, region, lattice, _draw([region], lattice, area))
    ]
    found.sort(key=lambda one: -one[0])
    yield from found[:2]


def _changed(
    report: Report, region: ColourRow, lattice: Lattice, draw: dict[str, Any]
) -> Iterator[Ranked]:
    """At most one finding about a colour that is still there."""
    before, after, lost = region.pieces_before, region.pieces_after, region.pieces_lost
    left = before if report.lost is None else before - lost
    if left == 0:
        return
    bead = {"bead": _bead(region)}
    pieces = bead | {"before": before, "left": left, "after": after}
    if report.lost is None and 0 < lost < before:
        rank = 60.0 + (100.0 - region.kept_percent) / 4
        gone = bead | {"pieces": before, "gone": lost, "draw": draw}
        yield rank, Finding(Code.PIECES_GONE, gone)
    elif report.lost is None and lost:
        little = bead | {"kept_percent": region.kept_percent, "draw": draw}
        yield 75.0, Finding(Code.LITTLE_IN_PLACE, little)
    elif after > left:
        yield 60.0, Finding(Code.BREAKS, pieces | {"draw": draw})
    elif after < left:
        apart = pieces | {"apart_mm": DRAW_PITCHES * lattice.pitch_mm}
        yield 45.0, Finding(Code.RUN_TOGETHER, apart)
    elif region.holes_after < region.holes_before and not _closed(report, region):
        wide = bead | {"draw_mm": 1.4 * lattice.pitch_mm}
        yield 50.0, Finding(Code.GAP_CHANGES, wide)


def _closed(report: Report, region: ColourRow) -> bool:
    """Whether the conversion has said that an opening in a colour closes."""
    return any(
        one.code is Code.LOST_OPENING and one.data["code"] == region.code
        for one in report.lost or ()
    )


def _draw(regions: list[ColourRow], lattice: Lattice, motif_beads: float) -> dict[str, Any]:
    """How wide colours are drawn, and ought to be; whether they are a small part of the motif."""
    small = sum(region.area_beads for region in regions) < 0.25 * motif_beads
    return {
        "now_mm": min(region.narrowest_mm for region in regions),
        "needed_mm": DRAW_PITCHES * lattice.pitch_mm,
        "small": small,
    }


def _edges(report: Report, lattice: Lattice) -> Iterator[Ranked]:
    edges, place = report.edges, report.edges.worst_place
    if place is None or edges.p95_beads is None or edges.p95_beads < 0.6:
        return
    data: dict[str, Any] = {
        "p95_mm": edges.p95_mm,
        "p95_beads": edges.p95_beads,
        "some_lost": _some(edges.lost_percent),
        "height_mm": place.height_mm,
        "from_front_deg": place.from_front_deg,
        "strand": place.strand,
        "order": place.order,
        "line": None,
    }
    if edges.worst_line is not None:
        needed_mm = DRAW_PITCHES * lattice.pitch_mm
        if report.lost:  # where more is needed, that has been said
            needed_mm = max([needed_mm, *(one.data.get("draw_mm") or 0 for one in report.lost)])
        data["line"] = {"gap": edges.worst_line.gap, "needed_mm": needed_mm}
        data["line"] |= {"needed_beads": needed_mm / lattice.pitch_mm}
    # half a bead is what any lattice does; a whole bead changes shapes
    rank = min(55.0, 40.0 * edges.p95_beads - 10.0)
    yield rank, Finding(Code.EDGES_MOVED, data)


def _lost_edges(report: Report) -> Iterator[Ranked]:
    """How much of the drawing has no counterpart in the beads, if it is much."""
    lost = report.edges.lost_percent
    if lost < LOST_MUCH_PERCENT:
        return
    data = {"lost_percent": lost, "kind": report.sketch}
    # a quarter weighs like a seam, all of them like a colour that is gone
    rank = 35.0 + lost / 2
    yield rank, Finding(Code.EDGES_LOST, data)


def _some(percent: float) -> bool:
    """Whether it is not written as nothing."""
    return percent >= 0.5


# -- sight -----------------------------------------------------------------------------------------


def _visibility(report: Report) -> Iterator[Ranked]:
    hidden = report.visibility.hidden_percent if report.visibility else 0.0
    # of what goes once round half is always round the back, and is meant to be
    if hidden > 5 and report.seam.round.gap_mm >= CLOSED_MM:
        yield 30.0 + hidden, _out_of_sight(report, hidden)
    width = report.motif.width_beads
    # where the conversion was judged, its verdict says more
    if report.sketch == "flat" and width < 4 and report.lost is None:
        yield 38.0, Finding(Code.FEW_BEADS_WIDE, {"width_beads": width})


def _out_of_sight(report: Report, hidden_percent: float) -> Finding:
    """What is out of sight, because of the motif's width or its place.

    Half the way round can be seen, and the less the further a motif lies beside the front, as it
    does where the motifs walk round with a measured drift.
    """
    away, walk = report.measured.from_front_deg, report.measured.walk_deg
    data: dict[str, Any] = {"hidden_percent": hidden_percent}
    remedies: tuple[Remedy, ...] = ()
    if abs(away) >= BESIDE_DEG:
        data |= {"beside_deg": away, "walk_deg": walk}
        remedies = (Remedy("repeat", "once"),)
    return Finding(Code.OUT_OF_SIGHT, data, remedies)


def _bend(report: Report) -> Iterator[Ranked]:
    ratio = report.stretch.bent
    if ratio is not None and ratio >= 1.4:
        wrap = (Remedy("fit", "wrap"),)
        yield 15.0, Finding(Code.DRAWN_OUT, {"ratio": ratio}, wrap)


def _stretched(report: Report) -> list[Finding]:
    """How many times as tall as drawn the motif is worked."""
    times = report.stretch.taller
    if abs(times - 1) < 0.005:
        return []
    return [Finding(Code.STRETCHED, {"times": times})]


# -- colour and seams ------------------------------------------------------------------------------


def _colours(report: Report) -> Iterator[Ranked]:
    colour = report.colour
    for pair in colour.merged[:1]:
        data: dict[str, Any] = {"one": pair.one, "other": pair.other, "bead": pair.bead}
        yield 70.0, Finding(Code.COLOURS_MERGED, data)
    yield from _ground(report)
    yield from _lost_in_ground(colour.lost_in_ground)
    lost = {one.sketch for one in colour.lost_in_ground}
    far = [row for row in colour.out_of_reach.colours if row.sketch not in lost]
    buy, mean = colour.worth_buying, colour.mean_de00
    once: dict[str, Any] = {"once": True} if report.measured.of == 1 else {}
    if far:
        worst = far[0]
        data = {"sketch": worst.sketch, "de00": worst.best_de00, "beads": worst.beads} | once
        if buy and buy.sketch != worst.sketch:
            data |= {"helps": buy.sketch, "helps_beads": buy.beads}
        rank = 40.0 + min(30.0, worst.best_de00)
        yield rank, Finding(Code.COLOUR_OUT_OF_REACH, data)
    elif mean is not None and mean > PLAIN_DE00:
        data = {"mean_de00": mean} | ({"helps": buy.sketch} if buy else {})
        rank = 20.0 + min(30.0, mean)
        yield rank, Finding(Code.COLOURS_OFF, data, (ANOTHER_WIDTH,))
    elif buy and buy.from_de00 >= NEARER_DE00:
        data = {"de00": buy.from_de00, "beads": buy.beads, "helps": buy.sketch} | once
        yield 12.0 + buy.from_de00 / 2, Finding(Code.PALETTE_OFF, data)


def _ground(report: Report) -> Iterator[Ranked]:
    """What the background bead makes of the sketch's ground."""
    ground = report.colour.ground
    if ground is None or ground.de00 <= PLAIN_DE00:
        return
    data: dict[str, Any] = {"sketch": ground.sketch, "bead": ground.bead, "de00": ground.de00}
    data |= {"kind": report.sketch}
    rank = 40.0 + min(30.0, ground.de00)
    yield rank, Finding(Code.GROUND_OFF, data, (ANOTHER_GROUND,))


def _lost_in_ground(lost: Sequence[LostInGround]) -> Iterator[Ranked]:
    """Colours of the motif that get the same bead as the ground about it."""
    if not lost:
        return
    apart = max(one.de00 for one in lost)
    data = {
        "sketch": [one.sketch for one in lost],
        "bead": {"code": lost[0].bead, "name": lost[0].name},
        "de00": apart,
        "nearer_helps": apart >= NEARER_DE00,
    }
    yield 72.0, Finding(Code.LOST_IN_GROUND, data, (ANOTHER_GROUND,))


def _seams(report: Report) -> Iterator[Ranked]:
    seam = report.seam.round
    if seam.closed and seam.times == 1 and seam.differ_percent > 10:
        rank = 30.0 + seam.differ_percent / 4
        yield rank, Finding(Code.SEAM_ROUND, _meets(seam), (ANOTHER_WIDTH,))
    join = report.seam.repeat
    if join is None or join.gap_mm >= CLOSED_MM or join.times > 1:
        return
    if join.differ_percent > 10:
        rank, gap = 25.0 + join.differ_percent / 4, Remedy("gap_rounds", 1.0)
        yield rank, Finding(Code.SEAM_REPEAT, _meets(join), (gap,))


def _meets(seam: SeamRound | SeamRepeat) -> dict[str, Any]:
    unlike = next(met for met in seam.meetings if met.one != met.other)
    return {"one": unlike.one, "other": unlike.other, "differ_percent": seam.differ_percent}


# -- squared paper, and when all is well -----------------------------------------------------------


def _squared(report: Report) -> Iterator[Finding]:
    """What squared paper would have done, where that is worse."""
    if report.squared_paper is None:
        return
    kept, ours = report.squared_paper.motif_kept_percent, report.motif.kept_percent
    if kept is None or ours is None or round(kept) >= round(ours):
        return
    lean_deg = report.stretch.squared_paper.column_lean_deg
    data = {"lean_deg": lean_deg, "kept_percent": ours, "squared_kept_percent": kept}
    yield Finding(Code.SQUARED_PAPER_WORSE, data)


def _all_well(report: Report) -> Finding:
    edges = report.edges
    if report.sketch == "shaded":
        return Finding(Code.TONES_KEPT, {"mean_de00": report.colour.mean_de00})
    if edges.p95_mm is None:
        return Finding(Code.NO_EDGES)
    data: dict[str, Any] = {"p95_mm": edges.p95_mm, "p95_beads": edges.p95_beads}
    if _some(edges.lost_percent):
        data |= {"lost_percent": edges.lost_percent}
    return Finding(Code.SHAPE_KEPT, data | {"parts_lost": bool(report.lost)})


def _bead(region: ColourRow) -> dict[str, str]:
    return {"code": region.code, "name": region.name}
