"""One finding of the distortion report of every code, with data as the program makes them."""

from __future__ import annotations

from typing import Any

from himotif.core.findings import Code, Finding, Remedy
from himotif.core.show.distortion_findings import ANOTHER_GROUND, ANOTHER_WIDTH

REED = {"code": "H", "name": "reed"}
NAVY = {"code": "N", "name": "navy"}
DRAW = {"now_mm": 2.4, "needed_mm": 3.696, "small": False}
THIN = {"now_mm": 0.6, "needed_mm": 3.696, "small": True}
MORE_STRANDS = Remedy("strands", 12, (Remedy("width_mm", 18.2),))

_DATA: dict[Code, dict[str, Any]] = {
    Code.NOTHING_DRAWN: {},
    Code.COLOURS_GONE: {"beads": [REED, NAVY], "draw": THIN},
    Code.PIECES_GONE: {"bead": REED, "pieces": 5, "gone": 2, "draw": DRAW},
    Code.LITTLE_IN_PLACE: {"bead": REED, "kept_percent": 31.4, "draw": THIN | {"small": False}},
    Code.BREAKS: {"bead": REED, "before": 5, "left": 3, "after": 4, "draw": DRAW},
    Code.RUN_TOGETHER: {"bead": REED, "before": 3, "left": 3, "after": 2, "apart_mm": 3.696},
    Code.GAP_CHANGES: {"bead": REED, "draw_mm": 4.312},
    Code.EDGES_MOVED: {
        "p95_mm": 2.2,
        "p95_beads": 0.71,
        "some_lost": True,
        "height_mm": 92.0,
        "from_front_deg": -35.0,
        "strand": 1,
        "order": 23,
        "line": {"gap": False, "needed_mm": 3.7, "needed_beads": 1.2},
    },
    Code.EDGES_LOST: {"lost_percent": 58.0, "kind": "flat"},
    Code.OUT_OF_SIGHT: {"hidden_percent": 7.2, "beside_deg": -11.0, "walk_deg": 22.0},
    Code.FEW_BEADS_WIDE: {"width_beads": 2.6},
    Code.DRAWN_OUT: {"ratio": 1.52},
    Code.STRETCHED: {"times": 1.3},
    Code.COLOURS_MERGED: {"one": "#1d2c50", "other": "#144678", "bead": "N"},
    Code.COLOUR_OUT_OF_REACH: {
        "sketch": "#eec03f",
        "de00": 14.0,
        "beads": 2,
        "helps": "#2f6195",
        "helps_beads": 4,
    },
    Code.COLOURS_OFF: {"mean_de00": 25.0, "helps": "#2f6195"},
    Code.PALETTE_OFF: {"de00": 9.0, "beads": 4, "helps": "#2f6195"},
    Code.GROUND_OFF: {"sketch": "#28963c", "bead": "A", "de00": 31.0, "kind": "flat"},
    Code.LOST_IN_GROUND: {"sketch": ["#f0dc96"], "bead": NAVY, "de00": 12.0, "nearer_helps": True},
    Code.SEAM_ROUND: {"one": "N", "other": "H", "differ_percent": 41.0},
    Code.SEAM_REPEAT: {"one": "N", "other": "H", "differ_percent": 41.0},
    Code.SQUARED_PAPER_WORSE: {
        "lean_deg": 21.0,
        "kept_percent": 77.0,
        "squared_kept_percent": 48.0,
    },
    Code.TONES_KEPT: {"mean_de00": 6.2},
    Code.NO_EDGES: {},
    Code.SHAPE_KEPT: {"p95_mm": 1.1, "p95_beads": 0.36, "parts_lost": False},
    Code.LIMIT_EDGES_LOST: {"lost_percent": 12.0, "limit_mm": 0.5},
    Code.LIMIT_EDGES: {"p95_mm": 1.14, "limit_mm": 0.5},
    Code.LIMIT_KEPT: {"code": "H", "kept_percent": 71.0, "limit_percent": 90.0},
    Code.LIMIT_COLOUR: {"mean_de00": 4.2, "limit_de00": 3.0},
}

_REMEDIES: dict[Code, tuple[Remedy, ...]] = {
    Code.NOTHING_DRAWN: (ANOTHER_GROUND,),
    Code.COLOURS_GONE: (MORE_STRANDS,),
    Code.EDGES_MOVED: (MORE_STRANDS,),
    Code.EDGES_LOST: (MORE_STRANDS,),
    Code.OUT_OF_SIGHT: (Remedy("repeat", "once"), Remedy("width_mm", 13.7)),
    Code.FEW_BEADS_WIDE: (Remedy("rotate_deg", 90.0), MORE_STRANDS),
    Code.DRAWN_OUT: (Remedy("fit", "wrap"),),
    Code.COLOURS_OFF: (ANOTHER_WIDTH,),
    Code.GROUND_OFF: (ANOTHER_GROUND,),
    Code.LOST_IN_GROUND: (ANOTHER_GROUND,),
    Code.SEAM_ROUND: (ANOTHER_WIDTH,),
    Code.SEAM_REPEAT: (Remedy("gap_rounds", 1.0),),
}

EXAMPLES: dict[Code, Finding] = {
    code: Finding(code, data, _REMEDIES.get(code, ())) for code, data in _DATA.items()
}
