"""Which bead is seen where, bead by bead instead of in colours."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import numpy.typing as npt
from himotif.core.braid.lattice import FRONT_DEG, Lattice
from himotif.core.show.preview import (
    NOBODY,
    THE_CORE,
    Owners,
    ViewFrame,
    braid_frame,
    nearest_parts,
    scene_of,
)


def wider(frame: ViewFrame, margin_mm: float) -> ViewFrame:
    """Return a frame with so much paper on either side."""
    margin_px = int(np.ceil(margin_mm * frame.px_per_mm))
    left_mm = frame.left_mm - margin_px / frame.px_per_mm
    return replace(frame, width_px=frame.width_px + 2 * margin_px, left_mm=left_mm)


def braid_owner(
    lattice: Lattice,
    count: int,
    view_deg: float = FRONT_DEG,
    px_per_mm: float = 12.0,
    *,
    window_mm: tuple[float, float] | None = None,
    margin_mm: float = 0.0,
    drops: npt.ArrayLike | None = None,
) -> Owners:
    """Return which bead is seen at the middle of each pixel of `braid_view`.

    Returns
    -------
    array of int32, (H, W)
        Index into the beads given , `NOBODY` for the
        background, `THE_CORE` for the cords.
    """
    frame = wider(
        braid_frame(lattice, count, px_per_mm, window_mm=window_mm, drops=drops), margin_mm
    )
    scene = scene_of(lattice, count, view_deg, drops)
    part = nearest_parts(scene, frame)[1]
    return np.append(scene.bead, [THE_CORE, NOBODY]).astype(np.int32).take(part, mode="wrap")
