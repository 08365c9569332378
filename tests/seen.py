"""Which bead is seen where, bead by bead instead of in colours."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
from himotif.core.braid.lattice import FRONT_DEG, Lattice
from himotif.core.show.preview import (
    NOBODY,
    THE_CORE,
    Owners,
    _nearest,
    braid_frame,
    scene_of,
)


def braid_owner(
    lattice: Lattice,
    count: int,
    view_deg: float = FRONT_DEG,
    px_per_mm: float = 12.0,
    *,
    first: int = 0,
    window_mm: tuple[float, float] | None = None,
    margin_mm: float = 0.0,
    drops: npt.ArrayLike | None = None,
) -> Owners:
    """Return which bead is seen at the middle of each pixel of `braid_view`.

    Returns
    -------
    array of int32, (H, W)
        Index into the beads given (0 is the bead of crossing `first`), `NOBODY` for the
        background, `THE_CORE` for the cords.
    """
    frame = braid_frame(
        lattice,
        count,
        px_per_mm,
        first=first,
        window_mm=window_mm,
        margin_mm=margin_mm,
        drops=drops,
    )
    scene = scene_of(lattice, count, view_deg, first, drops)
    part = _nearest(scene, frame)[1]
    return np.append(scene.bead, [THE_CORE, NOBODY]).astype(np.int32).take(part, mode="wrap")
