"""What the distortion report says to a maker: five sentences at most, the worst first.

Every finding gets a weight (100: the sketch cannot be read; 1: good to know) and comes with a
remedy. The weights only order the sentences; they are ours, and are written beside each finding.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from .braid import STRANDS, Braid
from .errors import WrongUsage

if TYPE_CHECKING:
    from .lattice import Lattice

Report = dict[str, Any]
Finding = tuple[float, str]

MOST = 5


def sentences(report: Report, lattice: Lattice) -> list[str]:
    """Return at most five sentences about a report, the worst first, each with a remedy.

    Parameters
    ----------
    report : dict
        As in distortion.json.
    lattice : Lattice
        The braid that was measured.
    """
    findings = [*_visibility(report, lattice), *_colours(report), *_seams(report), *_bend(report)]
    if report["sketch"] == "flat":
        findings += [*_regions(report, lattice), *_edges(report, lattice)]
    findings.sort(key=lambda finding: -finding[0])
    said = [sentence for weight, sentence in findings if weight >= 10][: MOST - 1]
    if not said:
        said = [_all_well(report)]
    return [*said, _squared(report)]


# -- shapes ----------------------------------------------------------------------------------------


def _regions(report: Report, lattice: Lattice) -> Iterator[Finding]:
    """One finding for each colour that loses more than its outline."""
    told: list[Finding] = []
    for region in report["regions"]:
        if region["is_background"]:
            continue
        name = f"{_capital(region['name'])} ({region['code']})"
        before, after, lost = (region[f"pieces_{key}"] for key in ("before", "after", "lost"))
        wider = _wider(region, lattice)
        if region["beads"] == 0:
            told.append((95.0, f"{name} disappears: {_why(region, lattice)}. {wider}"))
        elif lost:
            which = f"{_number(lost)} of {before} pieces of {name}" if before > 1 else name
            verb = "disappears" if lost == 1 or before == 1 else "disappear"
            share = 100.0 - region["kept_percent"]
            told.append(
                (
                    60.0 + share / 4,
                    f"{_capital(which)} {verb} or hardly shows: {_why(region, lattice)}. {wider}"
                    if verb == "disappears"
                    else f"{_capital(which)} {verb} or hardly show: {_why(region, lattice)}. "
                    f"{wider}",
                )
            )
        elif after > before:
            pieces = "one piece" if before == 1 else f"{before} pieces"
            told.append((60.0, f"{name} breaks: {pieces} in the sketch, {after} in beads. {wider}"))
        elif after < before:
            told.append(
                (
                    45.0,
                    f"Pieces of {name} run together: {before} in the sketch, {after} in beads. "
                    f"Leave {_mm(1.2 * lattice.pitch_mm)} between them.",
                )
            )
        elif region["holes_after"] < region["holes_before"]:
            told.append(
                (
                    50.0,
                    f"A gap inside {name} closes. Draw it {_mm(1.4 * lattice.pitch_mm)} wide, a "
                    "bead and a half.",
                )
            )
    told.sort(key=lambda finding: -finding[0])
    yield from told[:2]


def _why(region: Report, lattice: Lattice) -> str:
    pitch = _mm(lattice.pitch_mm)
    if region["area_beads"] < 1:
        return f"it fills {region['area_beads']:.1f} of a bead"
    if region["narrowest_beads"] < 1:
        return f"it is {_mm(region['narrowest_mm'])} wide where it is narrow, a bead takes {pitch}"
    return "it falls between the beads"


def _wider(region: Report, lattice: Lattice) -> str:
    """How wide to draw it, or which braid would keep it as it is."""
    needed = 1.2 * lattice.pitch_mm
    now = region["narrowest_mm"]
    if now >= needed:
        return "Move or enlarge it a little, or try more strands or smaller beads."
    times = f" ({needed / now:.1f} times as wide)" if now > 0 else ""
    remedy = f"Draw it {_mm(needed)} wide{times}"
    strands = _strands_that_keep(lattice, now)
    if strands is not None:
        remedy += f", or work {strands} strands with the motif grown in proportion"
    return remedy + "."


def _strands_that_keep(lattice: Lattice, width_mm: float) -> int | None:
    """Fewest strands on which a part, grown with the braid, is as wide as a bead."""
    from .bead import BeadSize
    from .lattice import Lattice as Made

    bead = BeadSize(None, lattice.diameter_mm, lattice.length_mm)
    for strands in STRANDS:
        if strands <= lattice.braid.strands:
            continue
        try:
            other = Made.computed(Braid(strands, lattice.braid.lay, lattice.braid.turn), bead)
        except WrongUsage:
            continue
        grown = width_mm * other.circumference_mm / lattice.circumference_mm
        if grown >= other.pitch_mm:
            return strands
    return None


def _edges(report: Report, lattice: Lattice) -> Iterator[Finding]:
    edges = report["edges"]
    if edges["p95_beads"] is None or edges["p95_beads"] < 0.6:
        return
    place = edges["worst_place"]
    # half a bead is what any lattice does; a whole bead changes shapes
    weight = min(55.0, 40.0 * edges["p95_beads"] - 10.0)
    yield (
        weight,
        f"One edge in twenty moves by {_mm(edges['p95_mm'])} or more "
        f"({edges['p95_beads']:.1f} of a bead); the worst lies {_where(place)}. Smaller beads or "
        "more strands make finer steps; shapes without details below "
        f"{_mm(2 * lattice.pitch_mm)} suffer least.",
    )


def _where(place: Report) -> str:
    angle = place["from_front_deg"]
    side = "at the front" if abs(angle) < 8 else f"{abs(angle):.0f}° {_side(angle)} of the front"
    return (
        f"{place['height_mm']:.0f} mm above the first bead, {side}, at bead {place['order']} of "
        f"strand {place['strand']}"
    )


def _side(angle_deg: float) -> str:
    return "to the right" if angle_deg > 0 else "to the left"


# -- sight -----------------------------------------------------------------------------------------


def _visibility(report: Report, lattice: Lattice) -> Iterator[Finding]:
    hidden = report["visibility"].get("hidden_percent", 0.0)
    motif = report["motif"]
    front_mm = lattice.circumference_mm / 2
    turn = ""
    if motif["width_mm"] > 1.2 * motif["height_mm"]:
        turn = ", or turn the motif along the braid (--rotate 90)"
    if hidden > 5:
        yield (
            30.0 + hidden,
            f"{hidden:.0f} % of the motif lies round the sides and cannot be seen from the front. "
            f"Make it at most {_mm(front_mm)} wide{turn}.",
        )
    width = motif["width_beads"]
    if report["sketch"] == "flat" and width < 4:
        wider = _wider_braid(lattice)
        yield (
            38.0,
            f"The motif is only {width:.1f} beads wide. Take smaller beads{wider}{turn}.",
        )


def _wider_braid(lattice: Lattice) -> str:
    more = [strands for strands in STRANDS if strands > lattice.braid.strands]
    return f" or {more[min(1, len(more) - 1)]} strands" if more else ""


def _bend(report: Report) -> Iterator[Finding]:
    fit = report["stretch"]["fit"]
    if fit is None or fit["ratio"] < 1.4:
        return
    yield (
        15.0,
        f"Towards its sides the motif is drawn up to {fit['ratio']:.1f} times as wide, so that it "
        "looks true from the front and only there. For a piece seen from all sides use --fit wrap.",
    )


# -- colour and seams ------------------------------------------------------------------------------


def _colours(report: Report) -> Iterator[Finding]:
    colour = report["colour"]
    for pair in colour["merged"][:1]:
        yield (
            70.0,
            f"Two colours of the sketch, {pair['one']} and {pair['other']}, both become bead "
            f"{pair['bead']}. Draw one of them in another colour, or add a bead for it.",
        )
    far, buy = colour["out_of_reach"], colour["worth_buying"]
    if far["beads"] and far["colours"]:
        worst = far["colours"][0]
        remedy = (
            f"A bead like {buy['sketch']} would mend {buy['beads']} beads of each motif"
            if buy
            else "Redraw it in a colour of the palette"
        )
        yield (
            40.0 + min(30.0, worst["best_de00"]),
            f"No bead comes near the sketch's colour {worst['sketch']} (colour difference "
            f"{worst['best_de00']:.0f}; 10 is plain to see). {remedy}.",
        )
    elif buy:
        yield (
            12.0 + buy["from_de00"] / 2,
            f"The palette's colours are off by {buy['from_de00']:.0f} on {buy['beads']} beads of "
            f"each motif; a bead like {buy['sketch']} would help most.",
        )


def _seams(report: Report) -> Iterator[Finding]:
    seam = report["seam"]["round"]
    if seam["gap_mm"] < 0.5 and seam["differ_percent"] > 10:
        yield (
            30.0 + seam["differ_percent"] / 4,
            f"Where the picture closes round the braid, {_meets(seam)}. Make its left and right "
            "edges alike, or make it narrower with --width and leave ground between.",
        )
    seam = report["seam"]["repeat"]
    if seam is not None and seam["gap_mm"] < 0.5 and seam["differ_percent"] > 10:
        yield (
            25.0 + seam["differ_percent"] / 4,
            f"Where one motif ends and the next begins, {_meets(seam)}. Make its top and bottom "
            "edges alike, or leave ground between with --gap 1.",
        )


def _meets(seam: Report) -> str:
    unlike = [met for met in seam["meetings"] if met["one"] != met["other"]]
    return (
        f"bead {unlike[0]['one']} meets bead {unlike[0]['other']} and so on along "
        f"{seam['differ_percent']:.0f} % of the join"
    )


# -- squared paper, and when all is well -----------------------------------------------------------


def _squared(report: Report) -> str:
    bent = report["stretch"]["squared_paper"]
    lean = abs(bent["column_lean_deg"])
    side = "left" if bent["column_lean_deg"] > 0 else "right"
    return (
        f"Drawn on squared paper, one square a bead, it would lean {lean:.0f}° to the {side} and "
        f"come out {100 * bent['smallest'] / bent['largest']:.0f} % as thick one way as the other: "
        "string from these lists, not from squares."
    )


def _all_well(report: Report) -> str:
    edges = report["edges"]
    if report["sketch"] == "shaded":
        mean = report["colour"]["mean_de00"]
        off = "" if mean is None else f" with a mean colour difference of {mean:.0f}"
        return f"The picture's tones come out{off}; look at the preview, there is nothing to mend."
    if edges["p95_mm"] is None:
        return "The sketch has no edges on the braid: check that there is a motif in the picture."
    return (
        f"The motif keeps its shape: 95 % of its edges lie within {_mm(edges['p95_mm'])} "
        f"({edges['p95_beads']:.1f} of a bead) of the sketch; there is nothing to mend."
    )


def _mm(value: float) -> str:
    return f"{value:.1f} mm"


def _number(count: int) -> str:
    return {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}.get(count, str(count))


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]
