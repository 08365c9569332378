"""A design, its file, its lists, and what changes it."""

from __future__ import annotations

from .accents import plain_back, scatter
from .design import Design, Fit, PlacedPicture, Repeat, colours_rgb, palette_rgb
from .drops import (
    ASCII_MARKS,
    AWAY,
    MARKS,
    TOWARD,
    Drops,
    drop_directions,
    drop_findings,
    drops_dict,
    marked_codes,
)
from .edit import change_beads, design_from_lists, parse_change
from .file import design_from_dict, design_json, read_design
from .loads import (
    FoldedRun,
    Run,
    beads_from_lists,
    first_difference,
    first_turned,
    fold_parts,
    read_directions,
    read_stringing_csv,
    stringing,
    stringing_csv,
)
from .mirror import mirror_design, mirror_findings, mirror_strands, mirrored_finding, still_true
from .mixed_sizes import main_size, round_sizes, size_findings
from .origin import (
    ConversionFacts,
    MotifSize,
    Origin,
    PaperChoice,
    SketchColour,
    SketchKind,
    settings_dict,
)

__all__ = [
    "ASCII_MARKS",
    "AWAY",
    "MARKS",
    "TOWARD",
    "ConversionFacts",
    "Design",
    "Drops",
    "Fit",
    "FoldedRun",
    "MotifSize",
    "Origin",
    "PaperChoice",
    "PlacedPicture",
    "Repeat",
    "Run",
    "SketchColour",
    "SketchKind",
    "beads_from_lists",
    "change_beads",
    "colours_rgb",
    "design_from_dict",
    "design_from_lists",
    "design_json",
    "drop_directions",
    "drop_findings",
    "drops_dict",
    "first_difference",
    "first_turned",
    "fold_parts",
    "main_size",
    "marked_codes",
    "mirror_design",
    "mirror_findings",
    "mirror_strands",
    "mirrored_finding",
    "palette_rgb",
    "parse_change",
    "plain_back",
    "read_design",
    "read_directions",
    "read_stringing_csv",
    "round_sizes",
    "scatter",
    "settings_dict",
    "size_findings",
    "still_true",
    "stringing",
    "stringing_csv",
]
