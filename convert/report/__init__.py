"""What the braid does to the sketch, and braids side by side."""

from __future__ import annotations

from .distort import Distortion, distort_conversion
from .remeasure import comparable, distortion_again, find_sketch

__all__ = [
    "Distortion",
    "comparable",
    "distort_conversion",
    "distortion_again",
    "find_sketch",
]
