"""Whether people see what it is: one verdict, from what the beads keep of a sketch's features."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ...core.arrays import Floats

if TYPE_CHECKING:
    from ..fit.features import Feature

Verdict = Literal["reads", "a hint", "lost"]

READS = (-6.99, 4.34, 2.02)
HINTS = (-6.46, 2.73, 3.01)
"""Logistic regressions of whether it reads, and of whether it reads or hints: constant, weight of
clarity, weight of the logarithm of the number of beads. Fitted on 299 labelled conversions by
``tests/benchmarks/fit_verdict.py``. On motifs left out of the fit 81 % and 87 % are judged as the
label says (8 strands: 77 % and 83 %), and the area under the curve is 0.91 and 0.94 (8 strands:
0.87 and 0.90). The share of axes kept in place of clarity does as well, clarity alone worse (0.86).
So 8 beads of a clarity of 0.7 read, or 12 of 0.5. The weak side is line drawings: of the two whose
size was found on 8 strands, both labelled no, one is judged to read and one to hint."""

OPEN = 0.4
"""A motif that keeps less of its openings, by their salience, is a blot and does not read: of the
299 labelled conversions that would be judged to read none keeps so little; a comb finer than beads,
drawn for the tests, keeps none."""

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

    @property
    def chance(self) -> float:
        """Chance that it reads, 0..1."""
        return float(1 / (1 + np.exp(-score(READS, self.clarity, self.beads))))


def evidence(clarity: float, beads: int) -> Floats:
    """Return what a verdict goes by, (2,): clarity and the logarithm of the number of beads."""
    return np.array([clarity, np.log(max(beads, 1))])


def score(weights: Sequence[float], clarity: float, beads: int) -> float:
    """Return the logit of a chance, by a constant and weights (3,)."""
    return float(weights[0] + evidence(clarity, beads) @ np.array(weights[1:]))


def _open(features: Sequence[Feature], kept: Floats, salience: Floats) -> float:
    """What is kept of the openings, 0..1; all, if there are none."""
    opening = np.array([one.kind == "opening" for one in features], dtype=bool)
    whole = salience[opening].sum()
    return float(kept[opening] @ salience[opening] / whole) if whole > 0 else 1.0


def judge(features: Sequence[Feature], kept: Floats, energy: float, beads: int) -> Legibility:
    """Judge what is kept (features,) of a sketch's features."""
    salience = np.array([f.salience for f in features])
    mean = float(kept @ salience / max(salience.sum(), 1e-12))
    lost = tuple(np.flatnonzero(kept < LOST).tolist())
    clarity = 1.0 - energy
    verdict: Verdict = "lost"
    if score(READS, clarity, beads) >= 0 and _open(features, kept, salience) >= OPEN:
        verdict = "reads"
    elif score(HINTS, clarity, beads) >= 0:
        verdict = "a hint"
    return Legibility(clarity, mean, tuple(kept.tolist()), lost, beads, verdict)
