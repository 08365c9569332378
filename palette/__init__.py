"""Beads and their colours: palette files, colour difference, matching, choosing."""

from __future__ import annotations

from .choose import choose_beads, grey_beads
from .colour import XYZ_FROM_LINEAR, hex_of, lab_to_linear, parse_colour, srgb_to_lab
from .difference import ciede2000, ciede2000_matrix
from .files import palette_file, parse_palette, read_palette
from .from_photo import PhotoPalette, palette_of_photo
from .match import nearest
from .palette import Palette
from .quick_colour import D65_WHITE, cube_root, lightness, linear_lab, quick_ciede2000
from .show import palette_facts, palette_text

__all__ = [
    "D65_WHITE",
    "XYZ_FROM_LINEAR",
    "Palette",
    "PhotoPalette",
    "choose_beads",
    "ciede2000",
    "ciede2000_matrix",
    "cube_root",
    "grey_beads",
    "hex_of",
    "lab_to_linear",
    "lightness",
    "linear_lab",
    "nearest",
    "palette_facts",
    "palette_file",
    "palette_of_photo",
    "palette_text",
    "parse_colour",
    "parse_palette",
    "quick_ciede2000",
    "read_palette",
    "srgb_to_lab",
]
