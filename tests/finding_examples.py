"""One finding of every code, with data as the program makes them."""

from __future__ import annotations

from typing import Any

from distortion_examples import EXAMPLES as DISTORTION
from himotif.core.findings import Code, Finding, Remedy

NAVY = {"code": "N", "name": "navy"}
REED = {"code": "R", "name": "reed green"}
LINE = {"file": "marsh.csv", "line": 3}
FILE = {"file": "heron.png"}
LOST = NAVY | {
    "where": ["top", "left"],
    "width_mm": 1.2,
    "pitch_mm": 2.65,
    "piece": False,
    "line": True,
    "draw_mm": 3.2,
    "draw_times": 2.7,
}

_EXAMPLES: dict[Code, dict[str, Any]] = {
    Code.REMARK: {"text": "The tide turns (--lay Z)."},
    # lengths
    Code.LENGTH_UNUSUAL: {"what": "ease", "value_mm": 3.0, "usual_mm": [6.0, 30.0]},
    Code.EASE_ASSUMED: {"ease_mm": 15.0},
    Code.CAPS_ASSUMED: {"caps_mm": 20.0},
    Code.ALL_OF_IT_BEADED: {},
    Code.FITS: {"closed_mm": [205.1, 255.1], "wrist_mm": [165.0, 215.0], "ease_mm": 15.0},
    Code.SAMPLE_AGREES: {"sample_mm": 205.0, "finished_mm": 205.1},
    Code.SAMPLE_DIFFERS: {"sample_mm": 190.0, "finished_mm": 205.1},
    Code.THICKNESS_OFF: {"measured_mm": 12.0, "computed_mm": 7.9804},
    Code.RISE_OFF: {"measured_mm": 1.5, "computed_mm": 2.1},
    Code.COLUMN_OFF: {"measured_rounds": 12.0, "computed_rounds": 8.0},
    # a worked swatch
    Code.LETTER_BACKWARDS: {"worked": "Z", "meant": "S"},
    Code.SWATCH_OF_OTHER_LAY: {"swatch": "Z", "braid": "S"},
    Code.SWATCH_OF_OTHER_BRAID: {"what": "strands", "swatch": 8, "braid": 12},
    # the test braid
    Code.TEST_BRAID: {"beads": 176, "per_strand": 22, "strands": 8, "length_mm": 92.4},
    Code.TEST_CORD: {},
    Code.TEST_BEADS: {"light": "L", "dark": "D"},
    Code.MEASURE_THICKNESS: {"computed_mm": 7.9804},
    Code.MEASURE_LENGTH: {"rounds": 16, "computed_mm": 33.6},
    Code.MEASURE_COLUMN: {"computed_rounds": 8.0},
    Code.MEASURE_LETTER: {},
    Code.KEEP_READINGS: {},
    # materials
    Code.COST: {
        "cost": 9.0,
        "packets": [{"code": "N", "packets": 2}, {"code": "R", "packets": 1}],
        "without": ["H"],
        "worth": 2.35,
    },
    Code.STOCK_ENOUGH: {"length_mm": 420.0, "first_out": NAVY},
    Code.STOCK_SHORT: {
        "missing": [NAVY | {"count": 208}, REED | {"count": 4}],
        "first_out": REED,
        "crossing": 84,
        "rounds": 20,
        "length_mm": 42.0,
    },
    Code.SIZE_NOT_GIVEN: {"codes": ["N", "R"], "sizes": ["11/0", "8/0"], "priced": True},
    Code.WEIGHT_NOT_KNOWN: {
        "beads": [{"code": "D", "kind": "drop", "with_spare": 22}],
        "priced": False,
    },
    Code.PACKET_NOT_KNOWN: {"codes": ["N"]},
    # mixed sizes
    Code.SIZES_MIXED: {"main": "3.1 × 2.2 mm", "measured": "8/0"},
    Code.SIZE_ODD: {
        "bead": NAVY,
        "size": "6/0",
        "wider_mm": 1.0,
        "one_mm": 1.0,
        "all_round_mm": 2.66,
    },
    Code.SIZE_TAKEN_AS_MAIN: {"beads": [{"code": "R", "size": "9/0"}]},
    # drops and accents
    Code.DROPS_STRUNG: {"toward": 3, "away": 4},
    Code.DROPS_POINT_AWAY: {},
    Code.DROPS_ALIKE: {},
    Code.DROP_TAKEN_AS: {
        "code": "P",
        "name": "foam drop",
        "width_mm": 4.0,
        "length_mm": 7.0,
        "lean_deg": 45.0,
        "measured": False,
        "out_mm": 3.26,
    },
    Code.DROPS_ON_SKIN: {
        "count": 3,
        "places": [{"strand": 3, "beads": [4, 9]}, {"strand": 5, "beads": [6]}],
    },
    Code.SCATTERED: {"code": "P", "placed": 7, "wanted": 9, "room": 120, "drop": True},
    Code.BEADS_CHANGED: {},
    # the mirror set-up
    Code.MIRRORED: {},
    Code.MIRROR_LAY: {"before": "S", "after": "Z"},
    Code.MIRROR_LISTS: {},
    Code.MIRROR_STRAND: {"strand": 1, "slot": 32, "now_strand": 2, "now_slot": 1},
    Code.MIRROR_PICTURE: FILE,
    # palette files
    Code.PALETTE_NOT_UTF8: LINE,
    Code.PALETTE_COLUMNS_UNUSED: LINE | {"columns": ["drawer", "shelf"], "more": 3},
    Code.COLOUR_IN_PERCENT: LINE | {"text": "xyY(0.4 0.36 20)"},
    Code.COLOUR_CLIPPED: LINE | {"text": "lch(60 110 150)", "shown": "#00ab1f"},
    Code.SIZE_NOT_IN_TABLE: LINE | {"size": "9/0"},
    Code.CODES_ALIKE: LINE | {"first": "N", "second": "n"},
    Code.PALETTE_MORE: {"count": 12},
    Code.PALETTE_LEFT_OUT: {"columns": ["code", "stock"]},
    Code.BEADS_ALIKE: {"one": NAVY, "other": REED, "de00": 4.2, "by_day": True, "better": None},
    Code.ALIKE_TO_SOME: {"pairs": [{"beads": ["N", "R"], "sights": ["protan", "deutan"]}]},
    Code.CODE_CHANGED: {"name": "reed", "before": "H", "after": "Q"},
    Code.STOCK_WAS_LESS: NAVY | {"count": 120, "stock": 100},
    Code.PHOTO_COLOURS: {"beads": 12, "uneven_times": 1.7},
    # picture files
    Code.PICTURE_PAGES: FILE,
    Code.PICTURE_ANIMATED: FILE,
    Code.PICTURE_PROFILE: FILE,
    Code.PICTURE_INKS: FILE,
    Code.SHEET_FOUND: FILE | {"corners_px": [[149, 152], [691, 416], [631, 986], [-46, 984]]},
    Code.PICTURE_LINEAR: FILE | {"white": 1.5},
    # files and folders
    Code.RUN_COMPLETED: {"folder": "heron"},
    Code.FILE_KEPT: {"file": "stringing.csv", "kept_as": "stringing.kept.csv"},
    Code.FILE_STAYS: {"file": "chart.svg"},
    Code.REPORT_GONE: {
        "files": ["distortion.json", "distortion.png"],
        "folder": "heron",
        "picture": "heron.png",
    },
    # braids side by side
    Code.BEST_BRAID: {
        "braid": {"strands": 16, "bead": "8/0"},
        "score": 8.25,
        "recognised": "yes",
        "alone": False,
    },
    Code.NEARLY_BEST: {"braids": [{"strands": 20, "bead": "8/0"}, {"strands": 12, "bead": "11/0"}]},
    Code.BRAIDS_IN_DOUBT: {"braids": [{"strands": 8, "bead": "8/0"}], "recognised": "hardly"},
    Code.BRAID_LEFT_OUT: {
        "braid": {"strands": 24, "bead": None},
        "why": "the motif is longer than the braid.",
    },
    # the conversion of a sketch
    Code.TOO_SMALL: {"width_mm": 7.8, "height_mm": 9.1, "beads": 1, "sure": True, "tried": True},
    Code.HARD_TO_RECOGNISE: {
        "width_mm": 7.8,
        "height_mm": 9.1,
        "beads": 6,
        "sure": False,
        "tried": True,
    },
    Code.LOST_PART: LOST,
    Code.LOST_BRANCH: LOST | {"where": [], "draw_mm": None, "draw_times": None},
    Code.LOST_OPENING: LOST,
    Code.LOST_MORE: {"count": 3},
    Code.STROKES_DRAWN_BROADER: {"stroke_mm": 0.7, "pitch_mm": 2.65},
    Code.STROKES_TOO_THIN: {"stroke_mm": 0.7, "pitch_mm": 2.65, "beads": 4},
    Code.HIDDEN_BY_FILL: NAVY | {"parts": 2},
    Code.OUTLINES_LEFT_OUT: {"names": ["navy", "rust"]},
    Code.TAKEN_AS_SHADED: {},
    Code.GREYS_ONLY: {},
    Code.KEPT_UNUSED: {"code": "N", "most": 3},
    Code.WALKS: {"each_deg": 2.3, "clockwise": True},
    Code.SPIRAL: {
        "motifs": 12,
        "round_deg": 156,
        "in_view": 5,
        "each_deg": 13.0,
        "clockwise": False,
    },
    Code.DROPS_LEFT_OUT: {"codes": ["P", "D"]},
    Code.SEEN_ON_CORD: {"codes": ["D", "I"], "cord": "#222222", "name": "black"},
    Code.ALL_ROUND: {
        "times": 2.0,
        "width_mm": 7.8,
        "height_mm": 8.4,
        "beads": 8,
        "stretch": 1.073,
        "lean_deg": 0.0,
    },
    Code.ALL_ROUND_OFF: {"high_percent": 107},
    Code.ALL_ROUND_LOST: {"colours": [{"code": "A", "name": "oyster"}], "beads": 8},
    Code.TEXT_WORKED: {"text": "REED", "letters": "up", "letter_mm": 10.5, "length_mm": 57.2},
    Code.LETTERS_IN_DOUBT: {
        "letters": [{"letter": "E", "like": "B"}, {"letter": "I", "like": "1"}]
    },
    Code.WRIST_ASSUMED: {"wrist_mm": 165.0},
    Code.PLAIN_BACK_COVERS: {"beads": 12, "whole": False},
    Code.SHORT_OF_ROOM: {"up_mm": 6.2, "motifs": 7},
}

_REMEDIES: dict[Code, tuple[Remedy, ...]] = {
    Code.SHEET_FOUND: (Remedy("paper_corners", None),),
    Code.LENGTH_UNUSUAL: (Remedy("ease_mm", 30.0),),
    Code.ALL_OF_IT_BEADED: (Remedy("clasp_mm", None), Remedy("caps_mm", None)),
    Code.LETTER_BACKWARDS: (Remedy("lay", "Z"),),
    Code.MIRRORED: (Remedy("lay", "Z"),),
    Code.TOO_SMALL: (
        Remedy("width_mm", 11.7),
        Remedy("strands", 16, (Remedy("rotate_deg", 90.0),)),
    ),
    Code.LOST_OPENING: (Remedy("strands", 12),),
    Code.BRAID_LEFT_OUT: (Remedy("width_mm", 12.0),),
    Code.TAKEN_AS_SHADED: (Remedy("kind", "flat"),),
    Code.KEPT_UNUSED: (Remedy("keep", ["A"]), Remedy("most", 4)),
    Code.SPIRAL: (Remedy("repeat", 5),),
    Code.DROPS_LEFT_OUT: (Remedy("keep", ["P"]), Remedy("scatter", {"P": 0.1})),
    Code.WRIST_ASSUMED: (Remedy("wrist_mm", None),),
    Code.SHORT_OF_ROOM: (Remedy("repeat", 6),),
}

_PIECES = {"bead": REED, "apart_mm": 3.7, "draw": {"now_mm": 2, "needed_mm": 3.7, "small": False}}
_PAINTED = {
    "width_mm": 10.9,
    "height_mm": 15.6,
    "beads": 18,
    "sure": False,
    "tried": False,
    "shaded": True,
}
_BRAID = {"braid": {"strands": 12, "bead": "8/0"}, "score": 8.25}

VARIANTS: tuple[Finding, ...] = (
    Finding(Code.BREAKS, _PIECES | {"before": 1, "left": 1, "after": 2}),
    Finding(Code.BREAKS, _PIECES | {"before": 2, "left": 1, "after": 2}),
    Finding(Code.RUN_TOGETHER, _PIECES | {"before": 5, "left": 3, "after": 1}),
    Finding(Code.RUN_TOGETHER, _PIECES | {"before": 5, "left": 4, "after": 3, "lettered": True}),
    Finding(Code.EDGES_LOST, {"lost_percent": 87.0, "kind": "shaded"}),
    Finding(Code.OUT_OF_SIGHT, {"hidden_percent": 7.2}),
    Finding(Code.COLOUR_OUT_OF_REACH, {"sketch": "#eec03f", "de00": 14.0, "beads": 2}),
    Finding(Code.PALETTE_OFF, {"de00": 9.0, "beads": 4, "helps": "#2f6195", "once": True}),
    Finding(
        Code.ALL_ROUND,
        {
            "times": 1.0,
            "width_mm": 15.6,
            "height_mm": 16.8,
            "beads": 32,
            "stretch": 1.001,
            "lean_deg": 0.0,
        },
    ),
    Finding(Code.GROUND_OFF, {"sketch": "#808080", "bead": "A", "de00": 25.0, "kind": "shaded"}),
    Finding(
        Code.SHAPE_KEPT,
        {"p95_mm": 1.1, "p95_beads": 0.36, "lost_percent": 20.0, "parts_lost": False},
    ),
    Finding(
        Code.TOO_SMALL,
        {"width_mm": 7.8, "height_mm": 9.1, "beads": 0, "sure": False, "tried": True},
    ),
    Finding(Code.TOO_SMALL, _PAINTED),
    Finding(Code.HARD_TO_RECOGNISE, _PAINTED),
    Finding(Code.STROKES_TOO_THIN, {"stroke_mm": 0.7, "pitch_mm": 2.65, "beads": 0}),
    Finding(Code.BEST_BRAID, _BRAID | {"recognised": "hardly", "alone": False}),
    Finding(Code.BEST_BRAID, _BRAID | {"recognised": "hardly", "alone": True}),
    Finding(Code.BEST_BRAID, _BRAID | {"recognised": "no", "alone": False}),
    Finding(Code.BEST_BRAID, _BRAID | {"recognised": "no", "alone": True}),
    Finding(Code.BRAIDS_IN_DOUBT, {"braids": [_BRAID["braid"]], "recognised": "no"}),
)
"""More of some codes, where the sentence is another."""

EXAMPLES = DISTORTION | {
    code: Finding(code, data, _REMEDIES.get(code, ())) for code, data in _EXAMPLES.items()
}
