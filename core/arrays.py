"""Names for arrays, by the kind of number they hold; their shapes stand where they are used."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
"""Lengths, angles, shares: whatever is computed once."""

Float32Array = npt.NDArray[np.float32]
"""Planes of pixels: half the memory of `Floats`, and twice the speed of a transform."""

AnyFloats = npt.NDArray[np.floating[Any]]
"""Either of the two, where the result has the type of what is given."""

Ints = npt.NDArray[np.intp]
"""Numbers of crossings, slots, rows of a palette: what other arrays are indexed with."""

Bools = npt.NDArray[np.bool_]
"""Masks."""

Bytes = npt.NDArray[np.uint8]
"""sRGB codes."""
