"""The braid: pairs, slots, the lattice of its beads."""

from __future__ import annotations

from .braid import LAYS, STRANDS, TURNS, Braid, Disc, Lay, Move, Turn
from .lattice import FRONT_DEG, VALUES, FaceReturn, Lattice, Swatch, too_thin
from .own_start import disc_from_dict, read_own_start
from .raster import Period, Raster, Shift, quick_length
from .tuck import over_first_bead, tucked_under

__all__ = [
    "FRONT_DEG",
    "LAYS",
    "STRANDS",
    "TURNS",
    "VALUES",
    "Braid",
    "Disc",
    "FaceReturn",
    "Lattice",
    "Lay",
    "Move",
    "Period",
    "Raster",
    "Shift",
    "Swatch",
    "Turn",
    "disc_from_dict",
    "over_first_bead",
    "quick_length",
    "read_own_start",
    "too_thin",
    "tucked_under",
]
