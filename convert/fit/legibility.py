"""Whether people see what it is: one verdict, from what the beads keep of a sketch's features."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

if TYPE_CHECKING:
    from ..fit.features import Feature

Floats = npt.NDArray[np.float64]
Verdict = Literal["reads", "a hint", "lost"]

READS, HINT = 0.8, 0.6
"""From the first mean of what is kept a motif reads, from the second its beads hint at it. Chosen
by looking at sixteen motifs on 8 and 16 strands beside their sketches; to be fitted on labels."""

FEW_BEADS, LEAST_BEADS = 5, 3
"""Fewer beads hint at a shape at best; fewer than the second show nothing but a dot."""

LOST = 0.25
"""A feature of which less is kept is lost."""


@dataclass(frozen=True)
class Legibility:
    """How well a motif can be read.

    Parameters
    ----------
    clarity : float
        1 less the energy: what is kept, less the wrong area; 1 at best, may be below 0.
    kept : float
        Mean of what is kept of its features, weighted by their salience, 0..1.
    each : tuple of float
        What is kept of each feature, 0..1.
    lost : tuple of int
        Numbers of the features of which hardly anything is kept.
    beads : int
        Beads that are not ground.
    verdict : 'reads', 'a hint' or 'lost'
    """

    clarity: float
    kept: float
    each: tuple[float, ...]
    lost: tuple[int, ...]
    beads: int
    verdict: Verdict

    @property
    def reads(self) -> bool:
        """Whether people see what it is."""
        return self.verdict == "reads"


def judge(features: Sequence[Feature], kept: Floats, energy: float, beads: int) -> Legibility:
    """Judge what is kept (features,) of a sketch's features."""
    salience = np.array([f.salience for f in features])
    mean = float(kept @ salience / max(salience.sum(), 1e-12))
    lost = tuple(np.flatnonzero(kept < LOST).tolist())
    clarity = 1.0 - energy
    verdict: Verdict = "lost"
    if beads >= LEAST_BEADS and mean >= HINT:
        verdict = "reads" if mean >= READS and beads >= FEW_BEADS else "a hint"
    return Legibility(clarity, mean, tuple(kept.tolist()), lost, beads, verdict)
