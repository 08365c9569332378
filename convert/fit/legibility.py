"""Whether people see what it is: one verdict, from what the beads keep of a sketch's features."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np

from ...core.arrays import Floats

if TYPE_CHECKING:
    from ..fit.features import Feature

Verdict = Literal["reads", "a hint", "lost"]

READS = (-5.50, 1.87, 1.69, 1.83, -2.97)
HINTS = (-4.32, 1.83, 0.57, 2.68, -3.58)
"""Logistic regressions of whether it reads, and of whether it reads or hints: constant and weights
of `Evidence`. Fitted on 339 labelled conversions by ``tests/benchmarks/fit_verdict.py``. On motifs
left out of the fit 81 % and 85 % are judged as the label says (8 strands: 82 % and 84 %), and the
area under the curve is 0.90 and 0.92 (8 strands: 0.89 and 0.91). By clarity and beads alone it is
78 % and 83 %, 0.87 and 0.89; of the 40 conversions of line drawings and of parts that lie apart,
labelled last, 50 % and 57 %, where now it is 80 % and 67 %."""

OPEN = 0.4
"""A motif that keeps less of its openings, by their salience, is a blot and does not read: of the
299 labelled conversions that would be judged to read none keeps so little; a comb finer than beads,
drawn for the tests, keeps none."""

LOST = 0.25
"""A feature of which less is kept is lost."""


MATTERS = 0.1
"""A part with less of the parts' salience is not looked at by itself."""


class Evidence(NamedTuple):
    """What a verdict goes by.

    Attributes
    ----------
    clarity : float
        1 less the energy: what is kept, less the wrong area; 1 at best, may be below 0.
    worst : float
        What is kept of the part that matters of which least is, 0..1.
    beads : int
        Beads that are not ground.
    sparse : float
        Area of the sketch's convex hull over what is drawn, 1 or more: line drawings, and parts
        that lie apart, need more beads.
    """

    clarity: float
    worst: float
    beads: int
    sparse: float

    @property
    def row(self) -> Floats:
        """What the regressions take, (4,)."""
        return np.array(
            [self.clarity, self.worst, np.log(max(self.beads, 1)), np.log(max(self.sparse, 1.0))]
        )

    def logit(self, weights: Sequence[float]) -> float:
        """Return the logit of a chance, by a constant and weights (5,)."""
        return float(weights[0] + self.row @ np.array(weights[1:]))


def evidence(
    features: Sequence[Feature], kept: Floats, energy: float, beads: int, sparse: float
) -> Evidence:
    """Return what a verdict goes by, from what is kept (features,) of a sketch's features."""
    salience = np.array([f.salience if f.kind != "opening" else 0.0 for f in features])
    matters = kept[salience >= MATTERS * salience.sum()]
    return Evidence(1.0 - energy, float(matters.min(initial=1.0)), beads, sparse)


@dataclass(frozen=True)
class Legibility:
    """How well a motif can be read.

    Parameters
    ----------
    evidence : Evidence
    kept : float
        Mean of what is kept of its features, weighted by their salience, 0..1.
    each : tuple of float
        What is kept of each feature, 0..1.
    lost : tuple of int
        Numbers of the features of which hardly anything is kept.
    verdict : 'reads', 'a hint' or 'lost'
    """

    evidence: Evidence
    kept: float
    each: tuple[float, ...]
    lost: tuple[int, ...]
    verdict: Verdict

    @property
    def clarity(self) -> float:
        """1 less the energy."""
        return self.evidence.clarity

    @property
    def beads(self) -> int:
        """Beads that are not ground."""
        return self.evidence.beads

    @property
    def reads(self) -> bool:
        """Whether people see what it is."""
        return self.verdict == "reads"

    @property
    def chance(self) -> float:
        """Chance that it reads, 0..1."""
        return float(1 / (1 + np.exp(-self.evidence.logit(READS))))


def _open(features: Sequence[Feature], kept: Floats, salience: Floats) -> float:
    """What is kept of the openings, 0..1; all, if there are none."""
    opening = np.array([one.kind == "opening" for one in features], dtype=bool)
    whole = salience[opening].sum()
    return float(kept[opening] @ salience[opening] / whole) if whole > 0 else 1.0


def judge(
    features: Sequence[Feature], kept: Floats, energy: float, beads: int, sparse: float
) -> Legibility:
    """Judge what is kept (features,) of a sketch's features; see `Evidence`."""
    salience = np.array([f.salience for f in features])
    mean = float(kept @ salience / max(salience.sum(), 1e-12))
    lost = tuple(np.flatnonzero(kept < LOST).tolist())
    seen = evidence(features, kept, energy, beads, sparse)
    verdict: Verdict = "lost"
    if seen.logit(READS) >= 0 and _open(features, kept, salience) >= OPEN:
        verdict = "reads"
    elif seen.logit(HINTS) >= 0:
        verdict = "a hint"
    return Legibility(seen, mean, tuple(kept.tolist()), lost, verdict)
