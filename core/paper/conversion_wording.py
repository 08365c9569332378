"""Sentences about the conversion of a sketch; remedies are added at the other edges."""

from __future__ import annotations

from ..findings import Code
from ..making.lengths import plain_length, small_length, small_size
from ..names import counted, in_a_row
from .making_wording import Data, Unit, Wording


def _beads(count: int) -> str:
    return "no bead" if not count else "one bead" if count == 1 else f"{count} beads"


def _too_small(data: Data, unit: Unit) -> str:
    size = small_size(data["width_mm"], data["height_mm"], unit)
    if data.get("shaded") and data["beads"]:
        return (
            f"Not to be recognised: at {size}, {_beads(data['beads'])}, too little of the "
            "picture's light and dark is left."
        )
    return f"Too small to be recognised: at {size} the motif comes out as {_beads(data['beads'])}."


def _hard_to_recognise(data: Data, unit: Unit) -> str:
    size = small_size(data["width_mm"], data["height_mm"], unit)
    return (
        f"Hard to recognise: at {size} the motif comes out as {_beads(data['beads'])}, which show "
        "its rough shape at best; look at the preview."
    )


def _lost(what: str, fate: str, data: Data, unit: Unit) -> str:
    where = " ".join(data["where"]) or "in the middle"
    why = "narrower than a bead" if data["width_mm"] < data["pitch_mm"] else "between the beads"
    part = what.format(name=data["name"])
    return f"Lost: {part}, {where}, {small_length(data['width_mm'], unit)} wide: {why} and {fate}."


def _lost_more(data: Data, unit: Unit) -> str:
    count = data["count"]
    return f"Lost too: {counted(count, 'smaller part')}."


def _strokes_broader(data: Data, unit: Unit) -> str:
    return (
        f"Thin strokes {small_length(data['stroke_mm'], unit)} wide: a bead is "
        f"{small_length(data['pitch_mm'], unit)}, so "
        "they are drawn a whole bead wide."
    )


def _strokes_too_thin(data: Data, unit: Unit) -> str:
    what = "not every stroke" if data["beads"] else "nothing of it"
    return (
        f"A line drawing with strokes {small_length(data['stroke_mm'], unit)} wide: a bead is "
        f"{small_length(data['pitch_mm'], unit)}, so {what} shows."
    )


def _outlines(data: Data, unit: Unit) -> str:
    return (
        f"Outlines in {' and '.join(data['names'])}, thin lines along the edges of other shapes, "
        "are much narrower than a bead and left out: single beads of them would break the shapes "
        "up."
    )


def _hidden_by_fill(data: Data, unit: Unit) -> str:
    parts = data["parts"]
    many = f"{parts} parts are" if parts > 1 else "one part is"
    return (
        f"Outlines in {data['name']} are filled with it: {many} drawn inside in the same bead and "
        "cannot be seen, such as an eye."
    )


def _kept_unused(data: Data, unit: Unit) -> str:
    code = data["code"]
    return (
        f"{code} was kept, but nothing of the sketch became {code}, and it takes one of the "
        f"{data['most']} colours."
    )


def _walks(data: Data, unit: Unit) -> str:
    way = "clockwise" if data["clockwise"] else "counter-clockwise"
    return (
        f"With your measured drift each motif sits {data['each_deg']:.1f}° further round ({way} "
        "from above) than the one before; the middle of the braid is at the front."
    )


def _spiral(data: Data, unit: Unit) -> str:
    few = f"{data['in_view']} motifs stay" if data["in_view"] > 1 else "a single motif stays"
    return (
        f"The {data['motifs']} motifs wind round the braid, {data['round_deg']:.0f}° from the "
        f"first to the last, and only some face the front; {few} in view. {_walks(data, unit)}"
    )


def _drops_left_out(data: Data, unit: Unit) -> str:
    codes = data["codes"]
    beads, were = ("bead", "was") if len(codes) == 1 else ("beads", "were")
    return (
        f"Drop {beads} {', '.join(codes)} {were} left out: round beads do for the picture's "
        "colours."
    )


def _plain_back(data: Data, unit: Unit) -> str:
    beads = f"{counted(data['beads'], 'bead')} of the motif"
    return f"The plain back covers {beads}{', which is all of it' if data['whole'] else ''}."


def _short_of_room(data: Data, unit: Unit) -> str:
    way = "up" if data["up_mm"] >= 0 else "down"
    return f"Moved {small_length(abs(data['up_mm']), unit)} {way}, as far as there is room."


def _cord(data: Data) -> str:
    """The cord; older files have no name of its colour."""
    name = data.get("name")
    return f"a cord in {name} ({data['cord']})" if name else f"a cord of {data['cord']}"


def _all_round(data: Data, unit: Unit) -> str:
    wide, high = (small_length(data[side], unit) for side in ("width_mm", "height_mm"))
    times = {1.0: "once", 2.0: "twice"}.get(data["times"], f"{data['times']:g} times")
    stretch, changed = data["stretch"], ""  # stripes are as high, or as wide, as they come
    if stretch is not None:
        kept = abs(stretch - 1) < 0.005
        changed = ", in proportion" if kept else f", {stretch:.2f} times as tall as drawn"
    lean = f", leaning {data['lean_deg']:.0f}°" if data["lean_deg"] >= 0.5 else ""
    return (
        f"Repeated {times} round the braid and all along it, each {wide} wide and "
        f"{high} high, {data['beads']} beads{changed}{lean}; no bead breaks the repeat."
    )


def _all_round_lost(data: Data, unit: Unit) -> str:
    some = in_a_row([f"{one['name']} ({one['code']})" for one in data["colours"]])
    return (
        f"Lost: {some}, for which a repeat of {data['beads']} beads has no room: draw fewer and "
        "larger shapes."
    )


def _text_worked(data: Data, unit: Unit) -> str:
    way = {
        "up": "along the braid, its first letter at the first beads",
        "down": "along the braid, its first letter at the last beads",
        "below": "one letter below the other while the first beads hang down",
    }[data["letters"]]
    return (
        f"“{data['text']}” runs {small_length(data['length_mm'], unit)} {way}; letters are "
        f"{small_length(data['letter_mm'], unit)} high."
    )


def _letters_in_doubt(data: Data, unit: Unit) -> str:
    first, *more = [(one["letter"], one["like"]) for one in data["letters"]]
    pairs = [f"{first[0]} may be taken for {first[1]}", *(f"{a} for {b}" for a, b in more)]
    return f"Hard to read: {', '.join(pairs)}."


def braid_title(braid: Data) -> str:
    """Return strands and bead, as a heading."""
    return f"{braid['strands']} strands" + (f", {braid['bead']}" if braid["bead"] else "")


def _titles(data: Data) -> str:
    return "; ".join(map(braid_title, data["braids"]))


def _best_braid(data: Data, unit: Unit) -> str:
    braid, recognised = braid_title(data["braid"]), data["recognised"]
    if recognised == "yes":
        verdict = f"{braid} reads best"
    elif data["alone"]:
        doubt = "hard to recognise" if recognised == "hardly" else "too small to be recognised"
        verdict = f"On {braid} the sketch is {doubt}"
    elif recognised == "hardly":
        verdict = f"On these braids the sketch is hard to recognise; {braid} comes nearest"
    else:
        verdict = f"On none of these braids can the sketch be recognised; {braid} comes nearest"
    return (
        f"{verdict}: score {data['score']:.1f} (how far its colours and shapes, seen at a "
        "distance, are from the sketch's, and what is lost of its edges; 0 is the same, less is "
        "better)."
    )


def _in_doubt(data: Data, unit: Unit) -> str:
    hardly = data["recognised"] == "hardly"
    doubt = "Hard to recognise" if hardly else "Too small to be recognised"
    return f"{doubt}: {_titles(data)}."


def left_out_words(data: Data) -> str:
    """Return which braid cannot be made, and why."""
    return f"{braid_title(data['braid'])}: {data['why']}"


SENTENCES: dict[Code, Wording] = {
    Code.BEST_BRAID: _best_braid,
    Code.NEARLY_BEST: lambda data, unit: f"Nearly as well: {_titles(data)}.",
    Code.BRAIDS_IN_DOUBT: _in_doubt,
    Code.BRAID_LEFT_OUT: lambda data, unit: (
        f"Left out: {' '.join(left_out_words(data).splitlines())}"
    ),
    Code.TOO_SMALL: _too_small,
    Code.HARD_TO_RECOGNISE: _hard_to_recognise,
    Code.LOST_PART: lambda data, unit: _lost(
        "a piece of the {name}" if data.get("piece") else "{name}", "gone", data, unit
    ),
    Code.LOST_BRANCH: lambda data, unit: _lost("part of the {name}", "gone", data, unit),
    Code.LOST_OPENING: lambda data, unit: _lost("an opening in {name}", "closed", data, unit),
    Code.LOST_MORE: _lost_more,
    Code.STROKES_DRAWN_BROADER: _strokes_broader,
    Code.STROKES_TOO_THIN: _strokes_too_thin,
    Code.OUTLINES_LEFT_OUT: _outlines,
    Code.HIDDEN_BY_FILL: _hidden_by_fill,
    Code.TAKEN_AS_SHADED: lambda data, unit: (
        "Taken for a photograph or a painting with shades, its colours mixed from beads."
    ),
    Code.GREYS_ONLY: lambda data, unit: (
        "A picture without colour: only the greyest beads are used."
    ),
    Code.BEADS_ALIKE: lambda data, unit: _beads_alike(data),
    Code.ALIKE_TO_SOME: lambda data, unit: _alike_to_some(data),
    Code.KEPT_UNUSED: _kept_unused,
    Code.WALKS: _walks,
    Code.SPIRAL: _spiral,
    Code.DROPS_LEFT_OUT: _drops_left_out,
    Code.SEEN_ON_CORD: lambda data, unit: (
        f"Light passes clear beads ({', '.join(data['codes'])}): pictures and swatches show them "
        f"as on {_cord(data)}, not as in the tube."
    ),
    Code.ALL_ROUND: _all_round,
    Code.ALL_ROUND_OFF: lambda data, unit: (
        "No repeat of this braid near the sketch's proportions holds it: for this one draw it "
        f"{data['high_percent'] / 100:.2f} times as high as wide."
    ),
    Code.ALL_ROUND_LOST: _all_round_lost,
    Code.TEXT_WORKED: _text_worked,
    Code.LETTERS_IN_DOUBT: _letters_in_doubt,
    Code.WRIST_ASSUMED: lambda data, unit: (
        f"A wrist of {plain_length(data['wrist_mm'], 'in' if unit == 'in' else None)} assumed."
    ),
    Code.PLAIN_BACK_COVERS: _plain_back,
    Code.SHORT_OF_ROOM: _short_of_room,
}
"""A sentence for each code of a conversion."""


def _beads_alike(data: Data) -> str:
    one, other, better = (data[key] for key in ("one", "other", "better"))
    when = "" if data["by_day"] else " in weak light"
    text = (
        f"{one['code']} ({one['name']}) and {other['code']} ({other['name']}) lie side by side and "
        f"are hard to tell apart{when} (ΔE00 {data['de00']:g} by day)."
    )
    if better is None:
        return text
    return f"{text} {better['code']} ({better['name']}) instead of {other['code']} stands out."


def _alike_to_some(data: Data) -> str:
    pairs = [" and ".join(pair["beads"]) for pair in data["pairs"]]
    return f"Hard to tell apart for eyes that see fewer hues: {'; '.join(pairs)}."
