"""Beads and their colours: palette files, colour difference, matching, choosing."""

from __future__ import annotations

from .choose import choose_beads, grey_beads
from .colour import D65_WHITE, XYZ_FROM_LINEAR, hex_of, lab_to_linear, parse_colour, srgb_to_lab
from .difference import ciede2000, ciede2000_matrix
from .files import (
    palette_file,
    parse_palette,
    read_palette,
    read_palettes,
    rewritten,
    starter_palette,
)
from .from_photo import PhotoPalette, palette_of_photo
from .match import nearest
from .palette import Palette, palette_on_cord
from .quick_colour import cube_root, lightness, linear_lab, quick_ciede2000
from .show import PaletteReport
from .sight import HARD_TO_TELL, Alike, Sight, alike_beads, better_bead, seen_as
from .stock import (
    Near,
    SortBy,
    counts,
    joined,
    near_beads,
    sorted_palette,
    used_dict,
    used_up,
)

__all__ = [
    "D65_WHITE",
    "HARD_TO_TELL",
    "XYZ_FROM_LINEAR",
    "Alike",
    "Near",
    "Palette",
    "PaletteReport",
    "PhotoPalette",
    "Sight",
    "SortBy",
    "alike_beads",
    "better_bead",
    "choose_beads",
    "ciede2000",
    "ciede2000_matrix",
    "counts",
    "cube_root",
    "grey_beads",
    "hex_of",
    "joined",
    "lab_to_linear",
    "lightness",
    "linear_lab",
    "near_beads",
    "nearest",
    "palette_file",
    "palette_of_photo",
    "palette_on_cord",
    "parse_colour",
    "parse_palette",
    "quick_ciede2000",
    "read_palette",
    "read_palettes",
    "rewritten",
    "seen_as",
    "sorted_palette",
    "srgb_to_lab",
    "starter_palette",
    "used_dict",
    "used_up",
]
