"""A worked swatch: what a maker measured, which always wins over what is computed."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Swatch:
    """Measured values of a worked braid; None where nothing was measured.

    Parameters
    ----------
    thickness_mm : float, optional
        Outer diameter of the beaded braid.
    rise_mm : float, optional
        Height of one round.
    drift_deg : float, optional
        Drift of a column per round: 360 divided by the rounds it needs to go once round.
    """

    thickness_mm: float | None = None
    rise_mm: float | None = None
    drift_deg: float | None = None
