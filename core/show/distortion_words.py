"""What the distortion report says to a maker: five sentences at most, the worst first.

Every finding gets a weight (100: the sketch cannot be read; 1: good to know) and comes with a
remedy. The weights only order the sentences; they are ours, and are written beside each finding.
Where the conversion has told what is lost and what would keep it (``lost`` in the report), that is
not said a second time.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from typing import TYPE_CHECKING

from ..braid.braid import STRANDS, Braid
from ..errors import WrongUsage
from .distortion_report import (
    ColourRow,
    LostInGround,
    Place,
    Report,
    SeamRepeat,
    SeamRound,
    WorthBuying,
)

if TYPE_CHECKING:
    from ..braid.lattice import Lattice

Finding = tuple[float, str]

MOST = 5

BESIDE_DEG = 5.0
"""A motif further than this from the front lies beside it."""

CLOSED_MM = 0.5
"""A picture that leaves less ground than this round the braid, or to the next, meets it."""

LOST_MUCH_PERCENT = 25.0
"""When more of the edges than this are lost, it has to be said."""

PLAIN_DE00 = 10.0
"""A colour difference (CIEDE2000) above this is plain to see."""

NEARER_DE00 = 4.0
"""For a bead that is less off than this, no nearer one need be looked for."""

NOTHING_THERE = (
    "Nothing of the sketch differs from the background: draw the motif in other colours than its "
    "ground, or choose another bead for the ground with --background."
)


def sentences(report: Report, lattice: Lattice) -> list[str]:
    """Return at most five sentences about a report, the worst first, each with a remedy.

    Parameters
    ----------
    report : Report
    lattice : Lattice
        The braid that was measured.
    """
    if report.motif.kept_percent is None:
        findings = [(100.0, NOTHING_THERE), *_colours(report)]
    else:
        findings = [
            *_visibility(report, lattice),
            *_colours(report),
            *_seams(report),
            *_bend(report),
            *_lost_edges(report, lattice),
        ]
        if report.sketch == "flat":
            findings += [*_regions(report, lattice), *_edges(report, lattice)]
    findings.sort(key=lambda finding: -finding[0])
    unrecognised = [report.unrecognised] if report.unrecognised else []
    said = [sentence for weight, sentence in findings if weight >= 10]
    said = said[: MOST - 1 - len(unrecognised)]
    if not said:
        said = [] if unrecognised else [_all_well(report)]
    return [*unrecognised, *said, *_squared(report)]


# -- shapes ----------------------------------------------------------------------------------------


def _regions(report: Report, lattice: Lattice) -> Iterator[Finding]:
    """What becomes of the colours: gone, partly gone, broken, run together, closed."""
    motif = [
        region
        for region in report.regions
        if not region.is_background and not region.lost_in_ground
    ]
    area, told = sum(region.area_beads for region in motif), report.lost
    gone = [region for region in motif if region.beads == 0]
    if gone and told is None:
        yield 95.0, _gone(gone, lattice, area)
    found = [
        finding
        for region in motif
        if region.beads
        for finding in _changed(region, lattice, area, told)
    ]
    found.sort(key=lambda finding: -finding[0])
    yield from found[:2]


def _gone(regions: list[ColourRow], lattice: Lattice, motif_beads: float) -> str:
    names = _listed([_name(region) for region in regions])
    verb = "disappears" if len(regions) == 1 else "disappear"
    why = "too little for a bead" if len(regions) == 1 else "too little for a bead each"
    return f"{_capital(names)} {verb} ({why}): {_wider(regions, lattice, motif_beads)}."


def _changed(
    region: ColourRow, lattice: Lattice, motif_beads: float, told: Sequence[str] | None
) -> Iterator[Finding]:
    """At most one finding about a colour that is still there."""
    before, after, lost = region.pieces_before, region.pieces_after, region.pieces_lost
    left = before if told is None else before - lost
    if left == 0:
        return
    closed = any(f"opening in {region.name}" in note for note in told or ())
    name, wider = _name(region), _wider([region], lattice, motif_beads)
    if told is None and 0 < lost < before:
        which = f"{_number(lost)} of the {before} pieces of {name}"
        yield (
            60.0 + (100.0 - region.kept_percent) / 4,
            f"{_capital(which)} {_do('disappear', lost)}: {wider if lost == 1 else _many(wider)}.",
        )
    elif told is None and lost:
        yield (
            75.0,
            f"Of {name} only {region.kept_percent:.0f} % lies where it was drawn: {wider}.",
        )
    elif after > left:
        pieces = "one piece" if before == 1 else f"{before} pieces"
        happens = f"{_capital(name)} breaks, from {pieces} in the sketch to {after} in beads"
        if left < before:
            happens = f"{_some_lost(region, left)} {_do('break', left)} into {after} in beads"
        yield 60.0, f"{happens}: {wider}."
    elif after < left:
        happens = f"Pieces of {name} run together, from {before} in the sketch to {after} in beads"
        if left < before:
            happens = f"{_some_lost(region, left)} run together to {after} in beads"
        yield 45.0, f"{happens}: leave {_mm(1.2 * lattice.pitch_mm)} between them."
    elif region.holes_after < region.holes_before and not closed:
        yield (
            50.0,
            f"A gap inside {name} fills up or opens: draw it, and what goes round it, "
            f"{_mm(1.4 * lattice.pitch_mm)} wide.",
        )


def _some_lost(region: ColourRow, left: int) -> str:
    """The pieces that are left, after those that were told as lost."""
    before = region.pieces_before
    verb = "is" if before - left == 1 else "are"
    others = "the other" if left == 1 else f"the other {_number(left)}"
    return (
        f"Of the {before} pieces of {_name(region)} {_number(before - left)} {verb} lost, and "
        f"{others}"
    )


def _do(verb: str, count: int) -> str:
    return f"{verb}s" if count == 1 else verb


def _wider(regions: list[ColourRow], lattice: Lattice, motif_beads: float) -> str:
    """How wide to draw colours, or which braid would keep them as they are."""
    them = "it" if len(regions) == 1 else "them"
    now = min(region.narrowest_mm for region in regions)
    needed = 1.2 * lattice.pitch_mm
    if now >= needed:
        return f"enlarge {them} a little, or move {them}"
    small = sum(region.area_beads for region in regions) < 0.25 * motif_beads
    if needed > 3 * now and small:
        remedy = f"leave {them} out, or draw {them} at least {_mm(needed)} wide"
    elif needed > 3 * now:
        remedy = f"draw {them} at least {_mm(needed)} wide where {now:.1f} mm is now"
    else:
        remedy = f"draw {them} {_mm(needed)} wide ({needed / now:.1f} times as wide)"
    strands = _strands_that_keep(lattice, now)
    if strands is not None:
        remedy += f", or work {strands} strands with the motif grown to match"
    return remedy


def _many(remedy: str) -> str:
    """The remedy for one piece as that for several."""
    return remedy.replace(" it ", " them ")


def _strands_that_keep(lattice: Lattice, width_mm: float) -> int | None:
    """Fewest strands on which a part, grown with the braid, is as wide as a bead."""
    for other in _larger(lattice):
        grown = width_mm * other.circumference_mm / lattice.circumference_mm
        if grown >= other.pitch_mm:
            return other.braid.strands
    return None


def _larger(lattice: Lattice) -> Iterator[Lattice]:
    """The same beads and lay with more strands, computed."""
    from ..bead import BeadSize

    bead = BeadSize(None, lattice.diameter_mm, lattice.length_mm)
    for strands in STRANDS:
        if strands > lattice.braid.strands:
            with suppress(WrongUsage):
                braid = Braid(strands, lattice.braid.lay, lattice.braid.turn)
                yield type(lattice).computed(braid, bead)


def _edges(report: Report, lattice: Lattice) -> Iterator[Finding]:
    edges = report.edges
    place = edges.worst_place
    if place is None or edges.p95_mm is None or edges.p95_beads is None or edges.p95_beads < 0.6:
        return
    more = next(_larger(lattice), None)
    remedy = "draw larger shapes with fewer corners there"
    if more is not None:
        remedy = f"{more.braid.strands} strands make finer steps, or {remedy}"
    which = "Of the edges that are left one" if _some(edges.lost_percent) else "One edge"
    yield (
        # half a bead is what any lattice does; a whole bead changes shapes
        min(55.0, 40.0 * edges.p95_beads - 10.0),
        f"{which} in twenty moves by more than {_mm(edges.p95_mm)} "
        f"({edges.p95_beads:.1f} of a bead), most of all {_where(place)}: "
        f"{remedy}.",
    )


def _lost_edges(report: Report, lattice: Lattice) -> Iterator[Finding]:
    """How much of the drawing has no counterpart in the beads, if it is much."""
    lost = report.edges.lost_percent
    if lost < LOST_MUCH_PERCENT:
        return
    flat = report.sketch == "flat"
    whose = "the sketch's edges" if flat else "the edges between the picture's tones"
    remedy = "draw fewer and larger shapes" if flat else "choose a picture of larger shapes"
    if next(_larger(lattice), None) is not None:
        remedy += ", or work more strands"
    yield (
        # a quarter weighs like a seam, all of them like a colour that is gone
        35.0 + lost / 2,
        f"{lost:.0f} % of {whose} are lost (no beads stand for them): {remedy}.",
    )


def _some(percent: float) -> bool:
    """Whether it is not written as nothing."""
    return percent >= 0.5


def _where(place: Place) -> str:
    angle = place.from_front_deg
    side = "at the front" if abs(angle) < 8 else f"{abs(angle):.0f}° {_side(angle)} of the front"
    return (
        f"{place.height_mm:.0f} mm above the first bead, {side} (bead {place.order} of "
        f"strand {place.strand})"
    )


def _side(angle_deg: float) -> str:
    return "to the right" if angle_deg > 0 else "to the left"


# -- sight -----------------------------------------------------------------------------------------


def _visibility(report: Report, lattice: Lattice) -> Iterator[Finding]:
    hidden = report.visibility.hidden_percent if report.visibility else 0.0
    motif = report.motif
    turn = ""
    closed = report.seam.round.closed
    if motif.width_mm > 1.2 * motif.height_mm and not closed:
        quarter_deg = (motif.asked_rotate_deg + 90) % 360
        turn = f"turn the motif along the braid (--rotate {quarter_deg:g})"
    # of what goes once round half is always round the back, and is meant to be
    if hidden > 5 and not closed:
        yield 30.0 + hidden, _hidden(report, hidden, lattice, turn)
    width = motif.width_beads
    if report.sketch == "flat" and width < 4 and not report.unrecognised:
        remedies = [turn, *_more_beads(width, lattice)]
        yield (
            38.0,
            f"The motif is only {width:.1f} beads wide: "
            f"{' or '.join(filter(None, remedies)) or 'draw it as simply as you can'}.",
        )


def _hidden(report: Report, hidden_percent: float, lattice: Lattice, turn: str) -> str:
    """What is out of sight, because of the motif's width or its place, and the remedy.

    Half the way round can be seen, and the less the further a motif lies beside the front, as it
    does where the motifs walk round with a measured drift.
    """
    motif, measured = report.motif, report.measured
    away, walk = measured.from_front_deg, measured.walk_deg
    happens = (
        f"{hidden_percent:.0f} % of the motif lies round the sides, out of sight from the front"
    )
    remedies = []
    if abs(away) >= BESIDE_DEG:
        happens += (
            f", as its middle is {abs(away):.0f}° {_side(away)} of it: each motif sits "
            f"{abs(walk):.0f}° further round than the one before"
        )
        remedies.append("work the motif once, at the front (--repeat once)")
    room_mm = lattice.circumference_mm * (0.5 - abs(away) / 180.0)
    if abs(away) < BESIDE_DEG or room_mm > motif.width_mm / 2:
        remedies.append(f"make it at most {_mm(room_mm)} wide (--width)")
    return f"{happens}; {' or '.join(filter(None, (*remedies, turn)))}."


def _more_beads(width_beads: float, lattice: Lattice) -> Iterator[str]:
    """The braid on which a motif as far round would be four beads wide."""
    here = lattice.circumference_mm / lattice.pitch_mm
    for other in _larger(lattice):
        grown = width_beads * other.circumference_mm / other.pitch_mm / here
        if grown >= 4:
            yield f"work {other.braid.strands} strands, where it is {grown:.1f} beads wide"
            return


def _bend(report: Report) -> Iterator[Finding]:
    fit = report.stretch.fit
    if fit is None or fit.ratio is None or fit.ratio < 1.4:
        return
    yield (
        15.0,
        f"Towards its sides the motif is drawn up to {fit.ratio:.1f} times as wide, which looks "
        "true from the front and only there: for a piece seen from all sides take --fit wrap.",
    )


# -- colour and seams ------------------------------------------------------------------------------


def _colours(report: Report) -> Iterator[Finding]:
    colour = report.colour
    for pair in colour.merged[:1]:
        yield (
            70.0,
            f"Two colours of the sketch, {pair.one} and {pair.other}, both become bead "
            f"{pair.bead}: draw one of them in another colour, or add a bead for it.",
        )
    yield from _ground(report)
    yield from _lost_in_ground(colour.lost_in_ground)
    told = {one.sketch for one in colour.lost_in_ground}
    far = [row for row in colour.out_of_reach.colours if row.sketch not in told]
    buy = colour.worth_buying
    if far:
        worst = far[0]
        others = f"a bead like {buy.sketch} would help {_beads(buy.beads)}" if buy else ""
        remedy = f"a bead of that colour would mend {_beads(worst.beads)} of each motif"
        if buy and buy.sketch != worst.sketch:
            remedy = f"{remedy}, {others}"
        yield (
            40.0 + min(30.0, worst.best_de00),
            f"No bead comes near the sketch's colour {worst.sketch} (colour difference "
            f"{worst.best_de00:.0f}; 10 is plain to see): {remedy}.",
        )
    elif colour.mean_de00 is not None and colour.mean_de00 > PLAIN_DE00:
        yield (
            20.0 + min(30.0, colour.mean_de00),
            f"The beads differ from the sketch's colours by {colour.mean_de00:.0f} on average "
            "(10 is plain to see): look at the preview from an arm's length, and if it does not "
            f"read, {_nearer(buy)}.",
        )
    elif buy and buy.from_de00 >= NEARER_DE00:
        yield (
            12.0 + buy.from_de00 / 2,
            f"The palette's colours are off by {buy.from_de00:.0f} on {_beads(buy.beads)} of "
            f"each motif: a bead like {buy.sketch} would help most.",
        )


def _ground(report: Report) -> Iterator[Finding]:
    """What the background bead makes of the sketch's ground."""
    ground = report.colour.ground
    if ground is None or ground.de00 <= PLAIN_DE00:
        return
    colour, bead = ground.sketch, ground.bead
    becomes = (
        f"The sketch's ground, {colour}, becomes bead {bead}"
        if report.sketch == "flat"
        else f"What becomes the background bead {bead} is {colour} on average in the sketch"
    )
    yield (
        40.0 + min(30.0, ground.de00),
        f"{becomes} (colour difference {ground.de00:.0f}; 10 is plain to see): add a bead of "
        "its colour, or choose another for the ground with --background.",
    )


def _lost_in_ground(lost: Sequence[LostInGround]) -> Iterator[Finding]:
    """Colours of the motif that get the same bead as the ground about it."""
    if not lost:
        return
    names = _listed([one.sketch for one in lost])
    gets, it = ("gets", "it") if len(lost) == 1 else ("get", "them")
    nearer = max(one.de00 for one in lost) >= NEARER_DE00
    remedy = f"add a bead nearer to {it}, or " if nearer else ""
    yield (
        72.0,
        f"What is {names} in the sketch {gets} the ground's bead, {lost[0].name} "
        f"({lost[0].bead}), and cannot be told from the ground: {remedy}choose another bead for "
        "the ground with --background.",
    )


def _nearer(buy: WorthBuying | None) -> str:
    if buy is None:
        return "make the motif larger with --width, or its colours fewer and plainer"
    return f"add a bead like {buy.sketch}, or make the motif larger with --width"


def _seams(report: Report) -> Iterator[Finding]:
    seam = report.seam.round
    if seam.closed and seam.times == 1 and seam.differ_percent > 10:
        yield (
            30.0 + seam.differ_percent / 4,
            f"Where the picture closes round the braid, {_meets(seam)}: make its left and right "
            "edges alike, or make it narrower with --width and leave ground between.",
        )
    join = report.seam.repeat
    if join is None or join.gap_mm >= CLOSED_MM or join.times > 1:
        return
    if join.differ_percent > 10:
        yield (
            25.0 + join.differ_percent / 4,
            f"Where one motif ends and the next begins, {_meets(join)}: make its top and bottom "
            "edges alike, or leave ground between with --gap 1.",
        )


def _meets(seam: SeamRound | SeamRepeat) -> str:
    unlike = [met for met in seam.meetings if met.one != met.other]
    return (
        f"bead {unlike[0].one} meets bead {unlike[0].other} and so on along "
        f"{seam.differ_percent:.0f} % of the join"
    )


# -- squared paper, and when all is well -----------------------------------------------------------


def _squared(report: Report) -> Iterator[str]:
    """What squared paper would have done, where that is worse."""
    kept, ours = report.squared_paper.motif_kept_percent, report.motif.kept_percent
    if kept is None or ours is None or round(kept) >= round(ours):
        return
    bent = report.stretch.squared_paper
    side = "left" if bent.column_lean_deg > 0 else "right"
    yield (
        f"Squared paper, one square a bead, would have leaned it {abs(bent.column_lean_deg):.0f}"
        f"° to the {side} and agreed with the sketch over {kept:.0f} % of the motif instead of "
        f"{ours:.0f} %: string from these lists, not from squares."
    )


def _all_well(report: Report) -> str:
    edges = report.edges
    if report.sketch == "shaded":
        mean = report.colour.mean_de00
        off = "" if mean is None else f" with a mean colour difference of {mean:.0f}"
        return f"The picture's tones come out{off}: look at the preview, there is nothing to mend."
    if edges.p95_mm is None:
        return "The motif has no edges on the braid: leave some ground around it to show its shape."
    within = f"within {_mm(edges.p95_mm)} ({edges.p95_beads:.1f} of a bead) of the sketch"
    lost = edges.lost_percent
    if _some(lost):
        return (
            f"What is left of the motif keeps its shape: {lost:.0f} % of its edges are lost, and "
            f"95 % of the others lie {within}."
        )
    well = f"95 % of its edges lie {within}"
    if report.lost:
        return f"What is not lost of the motif keeps its shape: {well}."
    return f"The motif keeps its shape: {well}; there is nothing to mend."


def _name(region: ColourRow) -> str:
    return f"{region.name} ({region.code})"


def _listed(names: list[str]) -> str:
    """Names in a row, the fourth and further ones counted."""
    if len(names) > 3:
        names = [*names[:2], f"{len(names) - 2} more colours"]
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def _mm(value: float) -> str:
    return f"{value:.1f} mm"


def _beads(count: int) -> str:
    return "one bead" if count == 1 else f"{count} beads"


def _number(count: int) -> str:
    return {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}.get(count, str(count))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
