"""What the braid does to a sketch, in sentences: what is so, and what to draw or buy otherwise."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from ..findings import Code
from ..making.lengths import INCH_MM, small_length
from ..names import in_a_row
from .making_wording import Data, Unit, Wording

DIFFERENCE = "CIEDE2000: below 1 two colours look the same, 10 is plain to see"
"""What the number of a colour difference is."""

# -- shapes ----------------------------------------------------------------------------------------


def _colours_gone(data: Data, unit: Unit) -> str:
    beads = data["beads"]
    many = len(beads) > 1
    verb, each = ("disappear", " each") if many else ("disappears", "")
    advice = _wider(data["draw"], unit, many)
    return f"{_capital(_listed(map(_name, beads)))} {verb} (too little for a bead{each}): {advice}."


def _pieces_gone(data: Data, unit: Unit) -> str:
    gone = data["gone"]
    which = f"{_number(gone)} of the {data['pieces']} pieces of {_name(data['bead'])}"
    return f"{_capital(which)} {_do('disappear', gone)}: {_wider(data['draw'], unit, gone > 1)}."


def _little_in_place(data: Data, unit: Unit) -> str:
    return (
        f"Of {_name(data['bead'])} only {data['kept_percent']:.0f} % lies where it was drawn: "
        f"{_wider(data['draw'], unit)}."
    )


def _breaks(data: Data, unit: Unit) -> str:
    before, left, after = data["before"], data["left"], data["after"]
    pieces = "one piece" if before == 1 else f"{before} pieces"
    happens = f"{_capital(_name(data['bead']))} breaks, from {pieces} in the sketch to {after} in"
    if left < before:
        happens = f"{_some_lost(data)} {_do('break', left)} into {after} in"
    return _advised(f"{happens} beads", _wider(data["draw"], unit), data)


def _run_together(data: Data, unit: Unit) -> str:
    before, after = data["before"], data["after"]
    happens = f"Pieces of {_name(data['bead'])} run together, from {before} in the sketch to"
    if data["left"] < before:
        happens = f"{_some_lost(data)} run together to"
    apart = f"leave {small_length(data['apart_mm'], unit)} between them"
    return _advised(f"{happens} {after} in beads", apart, data)


def _gap_changes(data: Data, unit: Unit) -> str:
    wide = f"draw it, and what goes round it, {small_length(data['draw_mm'], unit)} wide"
    return _advised(f"A gap inside {_name(data['bead'])} fills up or opens", wide, data)


def _advised(happens: str, advice: str, data: Data) -> str:
    """What happens, and how to draw it otherwise if it is drawn by hand."""
    return f"{happens}." if data.get("lettered") else f"{happens}: {advice}."


def _some_lost(data: Data) -> str:
    """The pieces that are left, after those that are reported as lost."""
    before, left = data["before"], data["left"]
    verb = "is" if before - left == 1 else "are"
    others = "the other" if left == 1 else f"the other {_number(left)}"
    name = _name(data["bead"])
    return f"Of the {before} pieces of {name} {_number(before - left)} {verb} lost, and {others}"


def _wider(draw: Data, unit: Unit, many: bool = False) -> str:
    """How wide to draw what is too narrow."""
    them, now_mm, needed_mm = "them" if many else "it", draw["now_mm"], draw["needed_mm"]
    now, needed = (small_length(mm, unit) for mm in (now_mm, needed_mm))
    if now_mm >= needed_mm:
        return f"enlarge {them} a little, or move {them}"
    if needed_mm <= 3 * now_mm:
        return f"draw {them} {needed} wide ({needed_mm / now_mm:.1f} times as wide)"
    if draw["small"]:
        return f"leave {them} out, or draw {them} at least {needed} wide"
    return f"draw {them} at least {needed} wide where {now} is now"


def _edges_moved(data: Data, unit: Unit) -> str:
    which = "Of the edges that are left one" if data["some_lost"] else "One edge"
    angle = data["from_front_deg"]
    line = data.get("line")
    if line is None:
        advice = "draw larger shapes with fewer corners there"
    else:
        wide = (
            f"at least {small_length(line['needed_mm'], unit)} ({line['needed_beads']:.1f} beads)"
        )
        thicker = (
            f"leave the gap there {wide}" if line["gap"] else f"draw the line there thicker, {wide}"
        )
        advice = f"{thicker} wide"
    side = "at the front" if abs(angle) < 8 else f"{abs(angle):.0f}° {_side(angle)} of the front"
    happens = (
        f"{which} in twenty moves by more than {small_length(data['p95_mm'], unit)} "
        f"({data['p95_beads']:.1f} of a bead), most of all {_height(data['height_mm'], unit)} "
        f"above the first bead, {side} (bead {data['order']} of strand {data['strand']})"
    )
    return _advised(happens, advice, data)


def _height(mm: float, unit: Unit) -> str:
    return small_length(mm, unit) if unit == "in" else f"{mm:.0f} mm"


def _edges_lost(data: Data, unit: Unit) -> str:
    flat = data["kind"] == "flat"
    whose = "the sketch's edges" if flat else "the edges between the picture's tones"
    advice = "draw fewer and larger shapes" if flat else "choose a picture of larger shapes"
    happens = f"{data['lost_percent']:.0f} % of {whose} are lost (no beads stand for them)"
    return _advised(happens, advice, data)


# -- sight -----------------------------------------------------------------------------------------


def _out_of_sight(data: Data, unit: Unit) -> str:
    happens = (
        f"{data['hidden_percent']:.0f} % of the motif lies round the sides, out of sight from the "
        "front"
    )
    if "beside_deg" in data:
        away = data["beside_deg"]
        happens += (
            f", as its middle is {abs(away):.0f}° {_side(away)} of it: each motif sits "
            f"{abs(data['walk_deg']):.0f}° further round than the one before"
        )
    return f"{happens}."


def _side(angle_deg: float) -> str:
    return "to the right" if angle_deg > 0 else "to the left"


# -- colour and seams ------------------------------------------------------------------------------


def _beads_of_each(data: Data) -> str:
    return _beads(data["beads"]) + ("" if data.get("once") else " of each motif")


def _out_of_reach(data: Data, unit: Unit) -> str:
    advice = f"a bead of that colour would mend {_beads_of_each(data)}"
    if "helps" in data:
        advice += f", a bead like {data['helps']} would help {_beads(data['helps_beads'])}"
    return (
        f"No bead comes near the sketch's colour {data['sketch']} (colour difference "
        f"{data['de00']:.0f}; 10 is plain to see): {advice}."
    )


def _colours_off(data: Data, unit: Unit) -> str:
    advice = f"add a bead like {data['helps']}" if "helps" in data else "draw fewer, plainer ones"
    return (
        f"The beads differ from the sketch's colours by {data['mean_de00']:.0f} on average (10 is "
        "plain to see): look at the preview from an arm's length, and if it does not read, "
        f"{advice}."
    )


def _ground_off(data: Data, unit: Unit) -> str:
    colour, bead = data["sketch"], data["bead"]
    becomes = (
        f"The sketch's ground, {colour}, becomes bead {bead}"
        if data["kind"] == "flat"
        else f"What becomes the background bead {bead} is {colour} on average in the sketch"
    )
    return (
        f"{becomes} (colour difference {data['de00']:.0f}; 10 is plain to see): add a bead of its "
        "colour, or choose another for the ground."
    )


def _lost_in_ground(data: Data, unit: Unit) -> str:
    colours = data["sketch"]
    gets, it = ("gets", "it") if len(colours) == 1 else ("get", "them")
    nearer = f"add a bead nearer to {it}, or " if data["nearer_helps"] else ""
    return (
        f"What is {_listed(colours)} in the sketch {gets} the ground's bead, "
        f"{_name(data['bead'])}, and cannot be told from the ground: {nearer}choose another bead "
        "for the ground."
    )


def _meets(data: Data) -> str:
    return (
        f"bead {data['one']} meets bead {data['other']} and so on along "
        f"{data['differ_percent']:.0f} % of the join"
    )


# -- squared paper, and when all is well -----------------------------------------------------------


def _squared(data: Data, unit: Unit) -> str:
    lean = data["lean_deg"]
    return (
        f"Squared paper, one square a bead, would have leaned it {abs(lean):.0f}° to the "
        f"{'left' if lean > 0 else 'right'} and agreed with the sketch over "
        f"{data['squared_kept_percent']:.0f} % of the motif instead of "
        f"{data['kept_percent']:.0f} %: string from these lists, not from squares."
    )


def _tones_kept(data: Data, unit: Unit) -> str:
    mean = data["mean_de00"]
    off = "" if mean is None else f", off by {mean:.0f} on average ({DIFFERENCE})"
    return f"The picture's tones come out{off}: look at the preview, there is nothing to mend."


def _shape_kept(data: Data, unit: Unit) -> str:
    beads = f"{data['p95_beads']:.1f} of a bead"
    within = f"within {small_length(data['p95_mm'], unit)} ({beads}) of the sketch"
    if "lost_percent" in data:
        return (
            f"What is left of the motif keeps its shape: {data['lost_percent']:.0f} % of its edges "
            f"are lost, and 95 % of the others lie {within}."
        )
    if data["parts_lost"]:
        return f"What is not lost of the motif keeps its shape: 95 % of its edges lie {within}."
    return f"The motif keeps its shape: 95 % of its edges lie {within}; there is nothing to mend."


# -- small parts -----------------------------------------------------------------------------------


def _name(bead: Data) -> str:
    return f"{bead['name']} ({bead['code']})"


def _listed(names: Any) -> str:
    """Names in a row, the fourth and further ones counted."""
    shown: Sequence[str] = list(names)
    if len(shown) > 3:
        shown = [*shown[:2], f"{len(shown) - 2} more colours"]
    return in_a_row(shown)


def _exact(mm: float, unit: Unit) -> str:
    """A limit, and what is held against it: a little more than a hundredth of an inch counts."""
    return f"{mm / INCH_MM:.3f} in" if unit == "in" else f"{mm:g} mm"


def _beads(count: int) -> str:
    return "one bead" if count == 1 else f"{count} beads"


def _number(count: int) -> str:
    return {1: "one", 2: "two", 3: "three", 4: "four", 5: "five"}.get(count, str(count))


def _do(verb: str, count: int) -> str:
    return f"{verb}s" if count == 1 else verb


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


SENTENCES: dict[Code, Wording] = {
    Code.NOTHING_DRAWN: lambda data, unit: (
        "Nothing of the sketch differs from the background: draw the motif in other colours than "
        "its ground, or choose another bead for the ground."
    ),
    Code.COLOURS_GONE: _colours_gone,
    Code.PIECES_GONE: _pieces_gone,
    Code.LITTLE_IN_PLACE: _little_in_place,
    Code.BREAKS: _breaks,
    Code.RUN_TOGETHER: _run_together,
    Code.GAP_CHANGES: _gap_changes,
    Code.EDGES_MOVED: _edges_moved,
    Code.EDGES_LOST: _edges_lost,
    Code.OUT_OF_SIGHT: _out_of_sight,
    Code.FEW_BEADS_WIDE: lambda data, unit: (
        f"The motif is only {data['width_beads']:.1f} beads wide: draw it as simply as you can."
    ),
    Code.DRAWN_OUT: lambda data, unit: (
        f"Towards its sides the motif is drawn up to {data['ratio']:.1f} times as wide, which "
        "looks true from the front and only there."
    ),
    Code.STRETCHED: lambda data, unit: (
        f"The motif is worked {data['times']:.3g} times as tall as it is drawn."
    ),
    Code.COLOURS_MERGED: lambda data, unit: (
        f"Two colours of the sketch, {data['one']} and {data['other']}, both become bead "
        f"{data['bead']}: draw one of them in another colour, or add a bead for it."
    ),
    Code.COLOUR_OUT_OF_REACH: _out_of_reach,
    Code.COLOURS_OFF: _colours_off,
    Code.PALETTE_OFF: lambda data, unit: (
        f"On {_beads_of_each(data)} the palette's nearest colour is off by "
        f"{data['de00']:.0f} ({DIFFERENCE}): a bead like {data['helps']} would help most."
    ),
    Code.GROUND_OFF: _ground_off,
    Code.LOST_IN_GROUND: _lost_in_ground,
    Code.SEAM_ROUND: lambda data, unit: (
        f"Where the picture closes round the braid, {_meets(data)}: make its left and right edges "
        "alike, or make it narrower and leave ground between."
    ),
    Code.SEAM_REPEAT: lambda data, unit: (
        f"Where one motif ends and the next begins, {_meets(data)}: make its top and bottom edges "
        "alike, or leave ground between."
    ),
    Code.SQUARED_PAPER_WORSE: _squared,
    Code.TONES_KEPT: _tones_kept,
    Code.NO_EDGES: lambda data, unit: (
        "The motif has no edges on the braid: leave some ground around it to show its shape."
    ),
    Code.SHAPE_KEPT: _shape_kept,
    Code.LIMIT_EDGES_LOST: lambda data, unit: (
        f"edges: {data['lost_percent']:.0f} % of them are lost in the beads, so 95 % cannot lie "
        f"within {_exact(data['limit_mm'], unit)}."
    ),
    Code.LIMIT_EDGES: lambda data, unit: (
        f"edges: 95 % lie within {_exact(round(data['p95_mm'], 2), unit)} of the sketch's, asked "
        f"for was at most {_exact(data['limit_mm'], unit)}."
    ),
    Code.LIMIT_KEPT: lambda data, unit: (
        f"colour {data['code']}: {data['kept_percent']:.0f} % of its area is kept, asked for was "
        f"at least {data['limit_percent']:g} %."
    ),
    Code.LIMIT_COLOUR: lambda data, unit: (
        f"colours: the beads differ from the sketch's by {data['mean_de00']:.1f} on average "
        f"(CIEDE2000; 10 is plain to see), asked for was at most {data['limit_de00']:g}."
    ),
}
