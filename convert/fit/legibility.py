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

READS = (-4.61, 2.80, 1.46, -5.90, -2.99)
HINTS = (-3.87, 1.72, 2.13, -3.18, -2.39)
"""Logistic regressions of whether it reads, and of whether it reads or hints: constant and weights
of `Evidence`. Fitted on 339 labelled conversions by ``tests/benchmarks/fit_verdict.py``. On motifs
left out of the fit 84 % and 86 % are judged as the label says (8 strands: 83 % and 81 %), and the
area under the curve is 0.91 and 0.91 (8 strands: 0.89 and 0.90). By clarity and beads alone it is
78 % and 81 %, 0.87 and 0.89; of the 40 conversions of line drawings and of things side by side 57 %
and 55 %, where it is now 78 % and 65 %. What is kept of the worst part that matters adds nothing:
84 %, 0.91."""

OPEN = 0.4
"""A motif that keeps less of its openings, by their salience, is a blot and does not read: of the
339 labelled conversions that would be judged to read none keeps so little; a comb finer than beads,
drawn for the tests, keeps none."""

LOST = 0.25
"""A feature of which less is kept is lost."""

LEAST_APART = 0.55
"""Where less of the things that lie apart is seen by itself, by salience, all is lost: half of them
have run together. Of the 101 labelled conversions that show several of one thing, and signs, 36 are
then judged too kindly, without it 48, and 4 too hard, without it 3; of the 339 others 46 and 49,
and 41 both times. With 0.4 it is 45 and 3, 49 and 41; with 0.7 33 and 5, 43 and 43."""


class Evidence(NamedTuple):
    """What a verdict goes by.

    Attributes
    ----------
    clarity : float
        1 less the energy: what is kept, less the wrong area; 1 at best, may be below 0.
    beads : int
        Beads that are not ground.
    broader : float
        How many times as much area as is drawn the beads take, 1 or more: a stroke far thinner
        than a bead becomes a row of beads, and what lies between such rows is not seen.
    things : float
        How many things there are that have to be recognised each by itself, 1 or more.
    """

    clarity: float
    beads: int
    broader: float
    things: float

    @property
    def row(self) -> Floats:
        """What the regressions take, (4,): clarity, and the logarithms of the others."""
        return np.array([self.clarity, *np.log(np.maximum(self[1:], 1.0))])

    def logit(self, weights: Sequence[float]) -> float:
        """Return the logit of a chance, by a constant and weights (5,)."""
        return float(weights[0] + self.row @ np.array(weights[1:]))


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


def _open(features: Sequence[Feature], kept: Floats, salience: Floats) -> float:
    """What is kept of the openings, 0..1; all, if there are none."""
    opening = np.array([one.kind == "opening" for one in features], dtype=bool)
    whole = salience[opening].sum()
    return float(kept[opening] @ salience[opening] / whole) if whole > 0 else 1.0


def legibility_of(
    features: Sequence[Feature], kept: Floats, seen: Evidence, apart: float
) -> Legibility:
    """Judge what is kept (features,) of a sketch's features, and how much is seen apart, 0..1."""
    salience = np.array([f.salience for f in features])
    mean = float(kept @ salience / max(salience.sum(), 1e-12))
    lost = tuple(np.flatnonzero(kept < LOST).tolist())
    verdict: Verdict = "lost"
    # where all parts are specks and no bead shows them, nothing is wrong either
    something = seen.beads > 0 and apart >= LEAST_APART
    if something and seen.logit(READS) >= 0 and _open(features, kept, salience) >= OPEN:
        verdict = "reads"
    elif something and seen.logit(HINTS) >= 0:
        verdict = "a hint"
    return Legibility(seen, mean, tuple(kept.tolist()), lost, verdict)
