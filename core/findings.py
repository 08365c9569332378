"""What is to be said about the work, as values.

Nothing below the edges of the program (the command, the page, paper, JSON) makes sentences of a
finding or reads one. A remedy names a field of the option table in `himotif.convert.options`, so
that the command can print the option, the page can offer a button, and paper can leave it out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum, IntEnum
from typing import Any


class Code(Enum):
    """What a finding is about; the value stands in files.

    The text under each names its data. Lengths stand in mm, numbers of strands, beads and
    crossings count from 1, and a `bead` is ``{code, name}``.
    """

    REMARK = "remark"
    """Text of an older file, or of a reader outside this package: text."""

    # lengths
    LENGTH_UNUSUAL = "length-unusual"
    """what ('wrist', 'length', 'ease', 'thickness', 'clasp', 'caps'), value_mm, usual_mm [low,
    high]; the remedy is the same number in a unit that makes it usual."""
    EASE_ASSUMED = "ease-assumed"
    """ease_mm."""
    CAPS_ASSUMED = "caps-assumed"
    """caps_mm: both together."""
    ALL_OF_IT_BEADED = "all-of-it-beaded"
    """Nothing is taken off the finished length."""
    FITS = "fits"
    """With an extension: closed_mm and wrist_mm, each [shortest, longest], with ease_mm."""
    SAMPLE_AGREES = "sample-agrees"
    """The finished length is that of a bracelet that fits: sample_mm, finished_mm."""
    SAMPLE_DIFFERS = "sample-differs"
    """It is not; data as before."""
    THICKNESS_OFF = "thickness-off"
    """measured_mm, computed_mm."""
    RISE_OFF = "rise-off"
    """Of one round: measured_mm, computed_mm."""
    COLUMN_OFF = "column-off"
    """Until a column is once round: measured_rounds, computed_rounds."""

    # a worked swatch
    LETTER_BACKWARDS = "letter-backwards"
    """worked ('S' or 'Z'), meant."""
    SWATCH_OF_OTHER_LAY = "swatch-of-other-lay"
    """swatch, braid: 'S' or 'Z'."""
    SWATCH_OF_OTHER_BRAID = "swatch-of-other-braid"
    """what ('strands', 'turn', 'bead diameter', 'bead length'), swatch, braid: their values."""

    # the test braid
    TEST_BRAID = "test-braid"
    """beads, per_strand, strands, length_mm."""
    TEST_CORD = "test-cord"
    TEST_BEADS = "test-beads"
    """light, dark: codes."""
    MEASURE_THICKNESS = "measure-thickness"
    """computed_mm."""
    MEASURE_LENGTH = "measure-length"
    """rounds, computed_mm."""
    MEASURE_COLUMN = "measure-column"
    """computed_rounds."""
    MEASURE_LETTER = "measure-letter"
    KEEP_READINGS = "keep-readings"

    # materials
    COST = "cost"
    """cost of what is to buy, packets [{code, packets}], without: codes to buy whose price is not
    known; worth: of the beads in the piece alone, None if not known of all."""
    STOCK_ENOUGH = "stock-enough"
    """length_mm that it allows, first_out: bead."""
    STOCK_SHORT = "stock-short"
    """missing [bead and count], first_out: bead, crossing, rounds, length_mm."""
    SIZE_NOT_GIVEN = "size-not-given"
    """Of beads whose weight is asked for: codes, sizes: those known, priced: whether a cost
    depends on it."""
    WEIGHT_NOT_KNOWN = "weight-not-known"
    """No usual number goes to a gram: beads [{code, kind, with_spare}], priced as above."""
    PACKET_NOT_KNOWN = "packet-not-known"
    """A price without the weight of its packet: codes."""

    # mixed sizes
    SIZES_MIXED = "sizes-mixed"
    """main: the bead's label; measured: the size that it is one of, if it has measures only."""
    SIZE_ODD = "size-odd"
    """bead, size: its label, wider_mm, one_mm, all_round_mm: see `OddSize`."""
    SIZE_TAKEN_AS_MAIN = "size-taken-as-main"
    """beads [{code, size}]."""

    # drops and accents
    DROPS_STRUNG = "drops-strung"
    """toward, away: how many."""
    DROPS_POINT_AWAY = "drops-point-away"
    DROPS_ALIKE = "drops-alike"
    DROP_TAKEN_AS = "drop-taken-as"
    DROPS_ON_SKIN = "drops-on-skin"
    """count, places [{strand, beads}]."""
    SCATTERED = "scattered"
    """code, placed, wanted, room: background beads that there were; drop: whether it is one."""

    BEADS_CHANGED = "beads-changed"
    """Beads were changed by hand."""

    # the mirror set-up
    MIRRORED = "mirrored"
    """The set-up is a mirror image."""
    MIRROR_LAY = "mirror-lay"
    """before, after: 'S' or 'Z'."""
    MIRROR_LISTS = "mirror-lists"
    MIRROR_STRAND = "mirror-strand"
    """strand, slot; now_strand, now_slot."""
    MIRROR_PICTURE = "mirror-picture"
    """file."""

    # palette files; all but the last have file and line
    PALETTE_NOT_UTF8 = "palette-not-utf8"
    PALETTE_COLUMNS_UNUSED = "palette-columns-unused"
    """columns, more: how many are not named."""
    COLOUR_IN_PERCENT = "colour-in-percent"
    """text."""
    COLOUR_CLIPPED = "colour-clipped"
    """text, shown: #rrggbb."""
    SIZE_NOT_IN_TABLE = "size-not-in-table"
    """size."""
    CODES_ALIKE = "codes-alike"
    """first, second."""
    PALETTE_MORE = "palette-more"
    """So many more remarks on the file: count."""
    PALETTE_LEFT_OUT = "palette-left-out"
    """columns that a GIMP palette does not hold."""

    # beads in a photograph
    PHOTO_COLOURS = "photo-colours"
    """Colours come from a camera: beads, uneven_times: brightest over darkest light on the paper.
    """

    # a stock
    CODE_CHANGED = "code-changed"
    """Of two beads of one code, in palettes that are joined, one has another: name, before, after.
    """
    STOCK_WAS_LESS = "stock-was-less"
    """A finished piece took more than there were: code, name, count, stock."""

    # picture files: file
    PICTURE_PAGES = "picture-pages"
    PICTURE_ANIMATED = "picture-animated"
    PICTURE_PROFILE = "picture-profile"
    PICTURE_INKS = "picture-inks"
    PICTURE_LINEAR = "picture-linear"
    """white: the value that is white."""
    SHEET_FOUND = "sheet-found"
    """The picture is a photographed sheet of paper, and what is drawn on it is worked: corners_px,
    clockwise, in pixels of the photograph."""

    # files and folders
    RUN_COMPLETED = "run-completed"
    """What a stopped run had left unfinished is completed: folder."""
    FILE_KEPT = "file-kept"
    """A file that is not as we made it has another name now: file, kept_as."""
    FILE_STAYS = "file-stays"
    """A file that is not wanted any more, and not as we made it: file."""
    REPORT_GONE = "report-gone"
    """A report of beads that were edited since: files, folder, picture: to be given for a new one,
    None where there can be none."""

    # braids side by side; a braid is {strands, bead}, `recognised` is yes, hardly or no
    BEST_BRAID = "best-braid"
    """braid, score, recognised, alone: whether it is the only one."""
    NEARLY_BEST = "nearly-best"
    """braids."""
    BRAIDS_IN_DOUBT = "braids-in-doubt"
    """braids, recognised."""
    BRAID_LEFT_OUT = "braid-left-out"
    """It cannot be made: braid, why: the message of the error."""

    # -- the conversion of a sketch; sizes of motifs are those on the braid
    TOO_SMALL = "too-small"
    """The motif cannot be recognised: width_mm, height_mm, beads; tried if remedies were looked
    for, sure if the motif then reads; shaded, of a picture with shades."""
    HARD_TO_RECOGNISE = "hard-to-recognise"
    """Its rough shape shows at best; data as for TOO_SMALL."""
    LOST_PART = "lost-part"
    """A part has no bead: name, code, where (words of WHERE), width_mm, pitch_mm; piece: whether
    other parts of its bead are there; line: whether it is long and narrow; draw_mm, draw_times: how
    wide, and how many times as wide, it is kept if drawn so, None if no such width was found."""
    LOST_BRANCH = "lost-branch"
    """Something that sticks out of a part has none; data as for LOST_PART."""
    LOST_OPENING = "lost-opening"
    """Ground within or between parts is closed; data as for LOST_PART, of what closes it."""
    LOST_MORE = "lost-more"
    """Smaller parts that are lost too: count."""
    STROKES_DRAWN_BROADER = "strokes-drawn-broader"
    """Thin strokes are drawn a bead wide: stroke_mm, pitch_mm."""
    STROKES_TOO_THIN = "strokes-too-thin"
    """Of a line drawing not every stroke shows: stroke_mm, pitch_mm, beads (of the motif)."""
    OUTLINES_LEFT_OUT = "outlines-left-out"
    """Outlines much narrower than a bead: names."""
    HIDDEN_BY_FILL = "hidden-by-fill"
    """Outlines are filled, and what was drawn inside in the same bead is not seen: code, name,
    parts: how many."""
    TAKEN_AS_SHADED = "taken-as-shaded"
    """The picture was taken for a photograph or a painting."""
    GREYS_ONLY = "greys-only"
    """For a picture without colour only the greyest beads are used."""
    BEADS_ALIKE = "beads-alike"
    """Beads that lie side by side are hard to tell apart: one, other: bead, de00, by_day: whether
    by day or only in weak light, better: a bead to take for the other, or None."""
    ALIKE_TO_SOME = "alike-to-some"
    """So are they for eyes that see fewer hues: pairs [{beads: two codes, sights: 'protan',
    'deutan' or 'tritan'}]."""
    KEPT_UNUSED = "kept-unused"
    """A bead was kept and nothing of the sketch became it: code, most."""
    WALKS = "walks"
    """With a measured drift each motif sits further round: each_deg, clockwise."""
    SPIRAL = "spiral"
    """The motifs wind round the braid: motifs, round_deg, in_view, each_deg, clockwise."""
    DROPS_LEFT_OUT = "drops-left-out"
    """Drop beads not chosen by colour: codes."""
    SEEN_ON_CORD = "seen-on-cord"
    """Clear beads have the colours that they show on their cord: codes, cord, and its name, which
    older files leave out."""
    ALL_ROUND = "all-round"
    """A sketch is repeated round the braid and along it: times round, width_mm, height_mm and beads
    of a tile, stretch: how many times as tall as drawn, None for stripes, lean_deg."""
    ALL_ROUND_OFF = "all-round-off"
    """No such repeat near its proportions holds it: high_percent: how high it is to be drawn, in
    percent of its width."""
    ALL_ROUND_LOST = "all-round-lost"
    """Colours that are drawn and in no bead of the tile: colours [{code, name}], beads of it."""
    TEXT_WORKED = "text-worked"
    """How a text is worked: text, letters ('up', 'down' or 'below'), letter_mm: height of its
    capitals, length_mm along the braid."""
    LETTERS_IN_DOUBT = "letters-in-doubt"
    """Letters that may be taken for others: letters [{letter, like}]."""
    WRIST_ASSUMED = "wrist-assumed"
    """No wrist and no length were given: wrist_mm."""
    PLAIN_BACK_COVERS = "plain-back-covers"
    """The plain back covers beads of the motif: beads, whole."""
    SHORT_OF_ROOM = "short-of-room"
    """The motifs were moved only as far as there is room: up_mm, motifs."""

    # what the braid does to a sketch: a `bead` is {code, name}; colours of the sketch are #rrggbb;
    # `draw` is {now_mm, needed_mm, small}: how wide it is, ought to be, and if it is a small part
    NOTHING_DRAWN = "nothing-drawn"
    """Nothing of the sketch differs from the background."""
    COLOURS_GONE = "colours-gone"
    """Colours have no bead: beads, draw."""
    PIECES_GONE = "pieces-gone"
    """Some pieces of a colour have none: bead, pieces, gone, draw."""
    LITTLE_IN_PLACE = "little-in-place"
    """Little of a colour lies where it was drawn: bead, kept_percent, draw."""
    BREAKS = "breaks"
    """A colour has more pieces than drawn: bead, before, left (of those drawn), after, draw. This
    and the four below, lettered where it is a text, which nobody can draw otherwise."""
    RUN_TOGETHER = "run-together"
    """A colour has fewer pieces than drawn: as before, and apart_mm: what keeps them apart."""
    GAP_CHANGES = "gap-changes"
    """A gap inside a colour fills up or opens: bead, draw_mm: what keeps it open."""
    EDGES_MOVED = "edges-moved"
    """Edges lie beside where they were drawn: p95_mm, p95_beads, some_lost; the worst place:
    height_mm, from_front_deg, strand, order, line: if it is one too thin for beads, gap: whether it
    is ground between two parts, needed_mm, needed_beads."""
    EDGES_LOST = "edges-lost"
    """Many edges have no bead edge of their colours: lost_percent, kind ('flat' or 'shaded')."""
    OUT_OF_SIGHT = "out-of-sight"
    """Some of the motif lies round the sides: hidden_percent; where its middle is not at the front:
    beside_deg (above 0 to the right), walk_deg from one motif to the next."""
    FEW_BEADS_WIDE = "few-beads-wide"
    """width_beads."""
    DRAWN_OUT = "drawn-out"
    """A front view is drawn out towards its sides: ratio."""
    STRETCHED = "stretched"
    """The motif is worked taller, or flatter, than drawn: times."""
    COLOURS_MERGED = "colours-merged"
    """one, other: colours of the sketch that become one bead, a code."""
    COLOUR_OUT_OF_REACH = "colour-out-of-reach"
    """No bead comes near: sketch, de00, beads; helps, helps_beads: of another colour that helps
    more beads; once: there is but one motif, or a pattern."""
    COLOURS_OFF = "colours-off"
    """mean_de00; helps: a colour to add."""
    PALETTE_OFF = "palette-off"
    """de00 on so many beads; helps; once: there is but one motif, or a pattern."""
    GROUND_OFF = "ground-off"
    """The ground's bead, a code, is unlike the ground: sketch, bead, de00, kind."""
    LOST_IN_GROUND = "lost-in-ground"
    """Colours that get the ground's bead: sketch (a list), bead, de00, nearer_helps:
    whether a bead nearer to them would."""
    SEAM_ROUND = "seam-round"
    """Where the picture closes round the braid, beads one and other meet: differ_percent."""
    SEAM_REPEAT = "seam-repeat"
    """Where one motif ends and the next begins; data as before."""
    SQUARED_PAPER_WORSE = "squared-paper-worse"
    """lean_deg (above 0 to the left), kept_percent, squared_kept_percent."""
    TONES_KEPT = "tones-kept"
    """A shaded picture comes out: mean_de00."""
    NO_EDGES = "no-edges"
    """The motif has no edges on the braid."""
    SHAPE_KEPT = "shape-kept"
    """p95_mm, p95_beads, lost_percent if some edges are lost, parts_lost: whether parts are."""
    LIMIT_EDGES_LOST = "limit-edges-lost"
    """So many edges are lost that the limit cannot be kept: lost_percent, limit_mm."""
    LIMIT_EDGES = "limit-edges"
    """p95_mm, limit_mm."""
    LIMIT_KEPT = "limit-kept"
    """code, kept_percent, limit_percent."""
    LIMIT_COLOUR = "limit-colour"
    """mean_de00, limit_de00."""


class Weight(IntEnum):
    """How much a finding matters to the maker; the greater first."""

    NOTE = 10
    """What was done or assumed; nothing is to be done."""
    MISSING = 20
    """Something is missing: a part of the sketch, a colour, a limit."""
    CHANGE = 30
    """Something should be changed before the piece is worked."""
    QUESTION = 40
    """A value that is possible and unlikely: if it is wrong, all the rest changes."""
    READS = 50
    """Whether the sketch can be recognised."""
    WARNING = 60
    """What may hurt the wearer, and what became of the maker's files; never left out."""


_HEAVIER: dict[Weight, tuple[Code, ...]] = {
    Weight.WARNING: (
        Code.DROPS_ON_SKIN,
        Code.RUN_COMPLETED,
        Code.FILE_KEPT,
        Code.FILE_STAYS,
        Code.REPORT_GONE,
    ),
    Weight.READS: (
        Code.TOO_SMALL,
        Code.HARD_TO_RECOGNISE,
        Code.LETTERS_IN_DOUBT,
        Code.NOTHING_DRAWN,
        Code.SHAPE_KEPT,
        Code.TONES_KEPT,
        Code.BEST_BRAID,
        Code.NEARLY_BEST,
        Code.BRAIDS_IN_DOUBT,
    ),
    Weight.QUESTION: (
        Code.SHEET_FOUND,
        Code.ALL_ROUND,
        Code.LENGTH_UNUSUAL,
        Code.SAMPLE_DIFFERS,
        Code.THICKNESS_OFF,
        Code.RISE_OFF,
        Code.COLUMN_OFF,
        Code.LETTER_BACKWARDS,
        Code.SWATCH_OF_OTHER_LAY,
        Code.SWATCH_OF_OTHER_BRAID,
    ),
    Weight.CHANGE: (
        Code.STOCK_SHORT,
        Code.STROKES_TOO_THIN,
        Code.SPIRAL,
        Code.ALL_ROUND_OFF,
        Code.PLAIN_BACK_COVERS,
        Code.BREAKS,
        Code.RUN_TOGETHER,
        Code.GAP_CHANGES,
        Code.EDGES_MOVED,
        Code.OUT_OF_SIGHT,
        Code.FEW_BEADS_WIDE,
        Code.BEADS_ALIKE,
        Code.COLOURS_MERGED,
        Code.COLOUR_OUT_OF_REACH,
        Code.COLOURS_OFF,
        Code.PALETTE_OFF,
        Code.GROUND_OFF,
        Code.LOST_IN_GROUND,
        Code.SEAM_ROUND,
        Code.SEAM_REPEAT,
        Code.NO_EDGES,
    ),
    Weight.MISSING: (
        Code.BRAID_LEFT_OUT,
        Code.ALL_ROUND_LOST,
        Code.LOST_PART,
        Code.LOST_BRANCH,
        Code.LOST_OPENING,
        Code.LOST_MORE,
        Code.HIDDEN_BY_FILL,
        Code.COLOURS_GONE,
        Code.PIECES_GONE,
        Code.LITTLE_IN_PLACE,
        Code.EDGES_LOST,
        Code.LIMIT_EDGES_LOST,
        Code.LIMIT_EDGES,
        Code.LIMIT_KEPT,
        Code.LIMIT_COLOUR,
    ),
}
WEIGHTS: dict[Code, Weight] = {code: weight for weight, codes in _HEAVIER.items() for code in codes}
"""Of every code that is more than a note."""


@dataclass(frozen=True)
class Remedy:
    """A change of one option that mends what was found.

    Parameters
    ----------
    field : str
        Of the option table.
    value : Any
        A plain JSON value, in the field's unit; None where the maker alone knows it.
    also : tuple of Remedy
        Changes that belong to it.
    """

    field: str
    value: Any
    also: tuple[Remedy, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        plain: dict[str, Any] = {"field": self.field, "value": self.value}
        return plain | ({"also": [one.as_dict() for one in self.also]} if self.also else {})

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> Remedy:
        """Return it from plain values; the inverse of `as_dict`."""
        also = tuple(cls.from_dict(one) for one in plain.get("also", ()))
        return cls(str(plain["field"]), plain["value"], also)


@dataclass(frozen=True)
class Finding:
    """One thing to be said.

    Parameters
    ----------
    code : Code
    data : mapping of str to plain JSON values
        What the sentence needs; lengths in mm, angles in degrees, shares 0..1; units stand in the
        names.
    remedies : tuple of Remedy
        Ways to mend it, the best first; each was tried.
    """

    code: Code
    data: Mapping[str, Any] = field(default_factory=dict)
    remedies: tuple[Remedy, ...] = ()

    @property
    def weight(self) -> Weight:
        """How much it matters: that of its code."""
        return WEIGHTS.get(self.code, Weight.NOTE)

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        plain: dict[str, Any] = {"code": self.code.value, "weight": self.weight.name.lower()}
        plain |= {"data": dict(self.data)} if self.data else {}
        remedies = [remedy.as_dict() for remedy in self.remedies]
        return plain | ({"remedies": remedies} if remedies else {})

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> Finding:
        """Return it from plain values; the inverse of `as_dict`.

        Raises
        ------
        KeyError, ValueError
            If something is missing or unknown.
        """
        return cls(
            Code(plain["code"]),
            dict(plain.get("data", {})),
            tuple(Remedy.from_dict(one) for one in plain.get("remedies", ())),
        )


def remark(text: str) -> Finding:
    """Return a text that is said as it stands."""
    return Finding(Code.REMARK, {"text": text})


def first_with(findings: Iterable[Finding], *codes: Code) -> Finding | None:
    """Return the first of the findings that has one of some codes; None if there is none."""
    return next((one for one in findings if one.code in codes), None)


def distinct(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings in their order, each code and data once."""
    found: list[Finding] = []
    for one in findings:
        if not any(one.code is other.code and one.data == other.data for other in found):
            found.append(one)
    return found


def by_weight(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings by weight, the greatest first, otherwise in their order."""
    return sorted(findings, key=lambda one: -one.weight)
