"""What is said of making the piece, in words: lengths, beads, drops, swatches, and files read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from ..design import AWAY, MARKS, TOWARD
from ..findings import Code
from ..making.lengths import EASES_MM, INCH_MM, format_length, plain_length
from ..names import LAY_MOVES, counted

Data = Mapping[str, Any]
Unit = str | None
Wording = Callable[[Data, Unit], str]

# -- small parts -----------------------------------------------------------------------------------


def _said(text: str) -> Wording:
    """Say what needs no data."""
    return lambda data, unit: text


def _bead(data: Data) -> str:
    return f"{data['code']} ({data['name']})"


def _listed(names: Any) -> str:
    return ", ".join(map(str, names))


def _lay(lay: str) -> str:
    """A lay with its two moves."""
    return f"{lay} lay ({LAY_MOVES[lay]})"


# -- lengths ---------------------------------------------------------------------------------------


def _range(low_mm: float, high_mm: float, unit: Unit) -> str:
    if unit == "in":
        return f"{round(low_mm / INCH_MM, 2):g} to {plain_length(high_mm, 'in')}"
    return f"{low_mm:g} to {high_mm:g} mm"


def _length_unusual(data: Data, unit: Unit) -> str:
    unit = None if data["what"] == "thickness" else unit
    value = plain_length(data["value_mm"], unit)
    low_mm, high_mm = data["usual_mm"]
    usual = _range(low_mm, high_mm, unit)
    return f"{data['what'].capitalize()} {value} is unusual (most are {usual})."


def _ease_assumed(data: Data, unit: Unit) -> str:
    kinds = _listed(f"{kind} {_range(low, high, unit)}" for kind, (low, high) in EASES_MM.items())
    return f"Ease of {plain_length(data['ease_mm'], unit)} assumed ({kinds})."


def _caps_assumed(data: Data, unit: Unit) -> str:
    return f"{plain_length(data['caps_mm'], unit)} for two end caps assumed."


def _fits(data: Data, unit: Unit) -> str:
    ends = (data["closed_mm"], data["wrist_mm"])
    closed, wrist = (_range(low, high, unit) for low, high in ends)
    ease = plain_length(data["ease_mm"], unit)
    return f"Closed, it is {closed} long; with an ease of {ease} it fits wrists of {wrist}."


def _sample(agrees: bool) -> Wording:
    def words(data: Data, unit: Unit) -> str:
        sample = plain_length(data["sample_mm"], unit)
        finished = plain_length(data["finished_mm"], unit)
        if agrees:
            return f"The finished length, {finished}, agrees with that of your sample, {sample}."
        way = "longer" if data["finished_mm"] > data["sample_mm"] else "shorter"
        off = plain_length(round(abs(data["finished_mm"] - data["sample_mm"]), 1), unit)
        return f"The finished length, {finished}, is {off} {way} than your sample, {sample}."

    return words


def _off(what: str, unit_of: str) -> Wording:
    """Say how far a reading is from what is computed."""

    def words(data: Data, unit: Unit) -> str:
        measured, computed = data[f"measured_{unit_of}"], data[f"computed_{unit_of}"]
        way = "more" if measured > computed else "less"
        return (
            f"{what} {measured:.3g} {unit_of} is {abs(measured / computed - 1):.0%} {way} than the "
            f"computed {computed:.3g} {unit_of}."
        )

    return words


_LENGTHS: dict[Code, Wording] = {
    Code.LENGTH_UNUSUAL: _length_unusual,
    Code.EASE_ASSUMED: _ease_assumed,
    Code.CAPS_ASSUMED: _caps_assumed,
    Code.ALL_OF_IT_BEADED: _said("All of the finished length is beads."),
    Code.FITS: _fits,
    Code.SAMPLE_AGREES: _sample(agrees=True),
    Code.SAMPLE_DIFFERS: _sample(agrees=False),
    Code.THICKNESS_OFF: _off("Thickness", "mm"),
    Code.RISE_OFF: _off("Length of one round,", "mm"),
    Code.COLUMN_OFF: _off("Rounds for a column to go once round,", "rounds"),
}

# -- swatches --------------------------------------------------------------------------------------

_SWATCH: dict[Code, Wording] = {
    Code.LETTER_BACKWARDS: lambda data, unit: (
        "The letter reads backwards, seen from outside with the newest beads on top: the braid was "
        f"most likely worked in {_lay(data['worked'])}, not in {_lay(data['meant'])}."
    ),
    Code.SWATCH_OF_OTHER_LAY: lambda data, unit: (
        f"The swatch was worked in {_lay(data['swatch'])}, this braid has {_lay(data['braid'])}."
    ),
    Code.SWATCH_OF_OTHER_BRAID: lambda data, unit: (
        f"The swatch is of another braid: {data['what']} {data['swatch']} there, {data['braid']} "
        "here."
    ),
}

_TEST_BRAID: dict[Code, Wording] = {
    Code.TEST_BRAID: lambda data, unit: (
        f"A test braid: {data['beads']} beads, {data['per_strand']} on each of {data['strands']} "
        f"strands, {format_length(data['length_mm'], unit)} long. Use the beads, the cord "
        "and the pull you mean to use for the real one."
    ),
    Code.TEST_CORD: _said(
        "Cut the cord longer than three times this length by at least the width of your disc: so "
        "short a braid leaves too little to hold."
    ),
    Code.TEST_BEADS: lambda data, unit: (
        f"{data['light']} stands for beads of any light colour, {data['dark']} for beads of any "
        "dark one. Read the braid from outside with the newest beads on top."
    ),
    Code.MEASURE_THICKNESS: lambda data, unit: (
        "1. Thickness: across the braid with a caliper, in three places, without squeezing. "
        f"Computed: {data['computed_mm']:.1f} mm."
    ),
    Code.MEASURE_LENGTH: lambda data, unit: (
        "2. Length: from the lower edge of the first dark ring to the lower edge of the second are "
        f"{data['rounds']} rounds. Computed: {data['computed_mm']:.1f} mm."
    ),
    Code.MEASURE_COLUMN: lambda data, unit: (
        "3. Column: follow the dark line that climbs from the first ring, on the front. From its "
        "lowest bead, which does not count, count the beads until one lies straight above that "
        f"bead again; between two beads it is a half. Computed: {data['computed_rounds']:g}."
    ),
    Code.MEASURE_LETTER: _said(
        "4. Letter: does the F above the second ring read right, or backwards?"
    ),
    Code.KEEP_READINGS: _said(
        "Write all four readings down beside the strands, lay and bead of this braid: "
        "himotif records them for the braids to come."
    ),
}

# -- materials -------------------------------------------------------------------------------------


def _cost(data: Data, unit: Unit) -> str:
    said = []
    if data["packets"]:
        packets = _listed(f"{one['packets']} {one['code']}" for one in data["packets"])
        least = "at least " if data["without"] else ""
        rest = f"; what {_listed(data['without'])} will cost is not known" if least else ""
        said.append(
            f"Beads to buy: {least}{data['cost']:.2f} in the palette's currency (packets: "
            f"{packets}){rest}."
        )
    if data["worth"] is not None:
        currency = "" if said else " in the palette's currency"
        said.append(f"The beads in the piece alone cost about {data['worth']:.2f}{currency}.")
    return " ".join(said)


def _stock_enough(data: Data, unit: Unit) -> str:
    return (
        f"The stock allows this braid, and {format_length(data['length_mm'], unit)} of it "
        f"if the pattern goes on; {_bead(data['first_out'])} runs out first."
    )


def _stock_short(data: Data, unit: Unit) -> str:
    beads = _listed(f"{one['count']} {_bead(one)}" for one in data["missing"])
    return (
        f"Too few beads for this braid with its spare: {beads} to buy; those at hand reach for "
        f"{format_length(data['length_mm'], unit)} ({data['rounds']} rounds), then "
        f"{_bead(data['first_out'])} runs out, at crossing {data['crossing']}."
    )


def _not_counted(data: Data) -> str:
    return "neither weight nor cost is given" if data["priced"] else "no weight is given"


def _size_not_given(data: Data, unit: Unit) -> str:
    return (
        f"How many {_listed(data['codes'])} go to a gram is not known, since the palette does not "
        f"say the size: {_not_counted(data)}."
    )


def _weight_not_known(data: Data, unit: Unit) -> str:
    beads = data["beads"]
    kinds = _listed(f"{one['code']} ({one['kind']})" for one in beads)
    shares = _listed(f"{one['code']} weighs {one['with_spare']}/50" for one in beads)
    return (
        f"How many {kinds} go to a gram is not known: there is no usual number for them, so "
        f"{_not_counted(data)}. Weigh 50 beads: with spare, {shares} of that."
    )


_MATERIALS: dict[Code, Wording] = {
    Code.COST: _cost,
    Code.STOCK_ENOUGH: _stock_enough,
    Code.STOCK_SHORT: _stock_short,
    Code.SIZE_NOT_GIVEN: _size_not_given,
    Code.WEIGHT_NOT_KNOWN: _weight_not_known,
    Code.PACKET_NOT_KNOWN: lambda data, unit: (
        f"What {_listed(data['codes'])} will cost is not known: the price is that of a packet, and "
        "the palette does not say how many grams are in it."
    ),
}

# -- mixed sizes -----------------------------------------------------------------------------------


def _size_odd(data: Data, unit: Unit) -> str:
    larger = data["wider_mm"] > 0
    wider, out, thicker = ("wider", "out", "thicker") if larger else ("narrower", "back", "thinner")
    return (
        f"{_bead(data['bead'])} is {data['size']}, {abs(data['wider_mm']):.1f} mm {wider} than the "
        f"main bead: a single one stands {out} by about {abs(data['one_mm']):.1f} mm; a length of "
        f"only these is about {abs(data['all_round_mm']):.1f} mm {thicker} (estimate)."
    )


def _sizes_mixed(data: Data, unit: Unit) -> str:
    measured = f"{data['measured']}, measured as " if data.get("measured") else ""
    return (
        "The palette mixes sizes; the braid is computed with the main size, "
        f"{measured}{data['main']}."
    )


def _size_taken_as_main(data: Data, unit: Unit) -> str:
    beads = _listed(f"{one['code']} ({one['size']})" for one in data["beads"])
    return f"Not in the table of sizes, taken as the main one: {beads}."


_SIZES: dict[Code, Wording] = {
    Code.SIZES_MIXED: _sizes_mixed,
    Code.SIZE_ODD: _size_odd,
    Code.SIZE_TAKEN_AS_MAIN: _size_taken_as_main,
}

# -- drops and accents -----------------------------------------------------------------------------


def _drops_on_skin(data: Data, unit: Unit) -> str:
    count = data["count"]
    places = "; ".join(
        f"strand {one['strand']}: bead {_listed(one['beads'])}" for one in data["places"]
    )
    return (
        f"{counted(count, 'drop')} {'lies' if count == 1 else 'lie'} on the side against the "
        f"skin; put a round bead there instead: {places}."
    )


def _scattered(data: Data, unit: Unit) -> str:
    line = (
        f"{data['placed']} {data['code']} scattered among {data['room']} background beads near the "
        "motifs and away from the side against the skin"
    )
    if data["placed"] < data["wanted"]:
        line += f" ({data['wanted']} were asked for; more would touch each other)"
    return f"{line}."


_DROPS: dict[Code, Wording] = {
    Code.DROPS_STRUNG: lambda data, unit: (
        f"Drop beads: {MARKS[TOWARD]} means string it with the wide end toward the disc, "
        f"{MARKS[AWAY]} with the wide end away from it ({data['toward']} {MARKS[TOWARD]}, "
        f"{data['away']} {MARKS[AWAY]})."
    ),
    Code.DROPS_POINT_AWAY: _said("So strung, each drop points away from the middle of its motif."),
    Code.DROP_TAKEN_AS: lambda data, unit: (
        f"{_bead(data)} is drawn {data['width_mm']:.1f} mm wide and {data['length_mm']:.1f} mm "
        f"long, leaning {data['lean_deg']:.0f}° from straight out and standing "
        f"{data['out_mm']:.1f} mm out of the round beads "
        f"({'measured' if data['measured'] else 'assumed where the palette does not say'})."
    ),
    Code.DROPS_ALIKE: _said(
        "No motif centre is known, so all drops point the same way; turn those that should not."
    ),
    Code.DROPS_ON_SKIN: _drops_on_skin,
    Code.SCATTERED: _scattered,
    Code.BEADS_CHANGED: _said(
        "Beads were changed by hand; what was said of the beads before is left out."
    ),
}

# -- the mirror set-up -----------------------------------------------------------------------------

_MIRROR: dict[Code, Wording] = {
    Code.MIRRORED: _said(
        "This is an exact mirror set-up: letters read backwards and motifs face the other way."
    ),
    Code.MIRROR_LAY: lambda data, unit: (
        f"{data['before']} lay becomes {data['after']} lay: {LAY_MOVES[data['after']]}."
    ),
    Code.MIRROR_LISTS: _said(
        "The lists change places; the order of the beads on each stays the same."
    ),
    Code.MIRROR_STRAND: lambda data, unit: (
        f"  strand {data['strand']} (slot {data['slot']}) is now strand {data['now_strand']} (slot "
        f"{data['now_slot']})"
    ),
    Code.MIRROR_PICTURE: lambda data, unit: f"{data['file']} lies mirrored on this braid.",
}

# -- files -----------------------------------------------------------------------------------------


def _columns_unused(data: Data) -> str:
    more = data.get("more", 0)
    return f"not used: {_listed(data['columns'])}{f' and {more} more' if more else ''}."


def _at(words: Callable[[Data], str]) -> Wording:
    """Say it of a line of a file."""
    return lambda data, unit: f"{data['file']}:{data['line']}: {words(data)}"


def _of(words: Callable[[Data], str]) -> Wording:
    """Say it of a file."""
    return lambda data, unit: f"{data['file']}: {words(data)}"


_PALETTE: dict[Code, Wording] = {
    Code.PALETTE_NOT_UTF8: _at(
        lambda data: "this is not UTF-8 and was read as Western European (Windows-1252)."
    ),
    Code.PALETTE_COLUMNS_UNUSED: _at(_columns_unused),
    Code.PALETTE_MORE: lambda data, unit: f"And {data['count']} more remarks on the palette.",
    Code.COLOUR_IN_PERCENT: _at(lambda data: f"Y of {data['text']} was read in per cent."),
    Code.COLOUR_CLIPPED: _at(
        lambda data: f"{data['text']} lies outside sRGB and is shown as {data['shown']}."
    ),
    Code.SIZE_NOT_IN_TABLE: _at(
        lambda data: f"size {data['size']} is not in the table of sizes; weights are left out."
    ),
    Code.CODES_ALIKE: _at(
        lambda data: f"codes {data['first']} and {data['second']} differ only in capitals."
    ),
    Code.PALETTE_LEFT_OUT: lambda data, unit: (
        f"A GIMP palette holds no {_listed(data['columns'])}: left out."
    ),
    Code.CODE_CHANGED: lambda data, unit: (
        f"Two beads had the code {data['before']}: {data['name']} is {data['after']} now."
    ),
    Code.STOCK_WAS_LESS: lambda data, unit: (
        f"{data['code']} ({data['name']}): the piece took {data['count']}, and there were "
        f"{data['stock']}; now there are none. Count them again."
    ),
    Code.PHOTO_COLOURS: lambda data, unit: (
        "A camera is no instrument: compare each colour with its beads in daylight, and correct it "
        "in the file."
        + (
            f" The light on the paper was uneven ({data['uneven_times']:g} times); even light "
            "gives better colours."
            if data["uneven_times"] > 1.5
            else ""
        )
    ),
}

_PICTURE: dict[Code, Wording] = {
    Code.PICTURE_PAGES: _of(lambda data: "the file has several pages; only the first is used."),
    Code.PICTURE_ANIMATED: _of(
        lambda data: "the picture is animated; only its first frame is used."
    ),
    Code.PICTURE_PROFILE: _of(
        lambda data: (
            "its colour profile cannot be used, so the colours are taken as ordinary screen "
            "colours (sRGB)."
        )
    ),
    Code.PICTURE_INKS: _of(
        lambda data: (
            "it holds printing inks (CMYK) without a colour profile, so its colours are a guess."
        )
    ),
    Code.PICTURE_LINEAR: _of(
        lambda data: (
            "it holds floating-point values; they are read as linear light, 0 black, "
            f"{data['white']:g} white."
        )
    ),
    Code.SHEET_FOUND: _of(
        lambda data: "a sheet of paper was found in it; what is drawn on the sheet is worked."
    ),
}

_FILES: dict[Code, Wording] = {
    Code.RUN_COMPLETED: lambda data, unit: (
        f"{data['folder']}: a run that was stopped is completed now."
    ),
    Code.FILE_KEPT: _of(
        lambda data: f"is not as himotif made it, so it is kept as {data['kept_as']}."
    ),
    Code.FILE_STAYS: _of(
        lambda data: "is not as himotif made it, so it stays, though it may be outdated."
    ),
    Code.REPORT_GONE: lambda data, unit: (
        f"{_listed(data['files'])}: what the braid does to the sketch was measured before your "
        "edit of the beads, so it is gone."
    ),
}

SENTENCES: dict[Code, Wording] = {
    **_LENGTHS,
    **_SWATCH,
    **_TEST_BRAID,
    **_MATERIALS,
    **_SIZES,
    **_DROPS,
    **_MIRROR,
    **_PALETTE,
    **_PICTURE,
    **_FILES,
}
