"""Whether people see what a shaded picture shows: what is left of it at the size of beads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from ...core.arrays import AnyFloats, Float32Array
from ...palette import linear_lab
from ..fit.legibility import Verdict
from ..fit.raster import Drawn
from ..read import gaussian_transfer, run_filter

LOW_PASS_BEADS = 0.35
"""Standard deviation of the low-pass, in bead pitches: what is finer than beads is not read. By a
model of how letters are read (J. M. Loomis, "A model of character recognition and legibility", J.
Exp. Psychol.: Hum. Percept. Perform. 16 (1990) 106-120, from memory); the width is ours, that of
``tests/benchmarks/reading.py``."""

SHADED_READS = (-60.40, 55.64, 0.280)
SHADED_HINTS = (-44.58, 37.02, 0.514)
"""Logistic regressions of whether it reads, and of whether it reads or hints: constant and weights
of `Seen`. Fitted on the 120 labelled conversions of 20 pictures in ``tests/data/shaded.csv`` by
``tests/benchmarks/fit_verdict.py shaded``. On pictures left out of the fit 90 % and 90 % are judged
as the label says, where always no would be 87 % and 65 %; the area under the curve is 0.93 and
0.95. Of those that read half are found, the others are said to be hard to recognise. Of 72
conversions of photographs and paintings one reads, so `SHADED_READS` rests on motifs drawn with
shades. S and J over the motif do not tell them apart: held out 87 % and 56 %, areas 0.62 and
0.59."""


@dataclass(frozen=True)
class Seen:
    """What is seen of a shaded picture in its beads, both low-passed, in Lab.

    Parameters
    ----------
    alike : float
        Correlation of picture and beads as they differ from the background, -1..1.
    contrast : float
        How strongly the beads show the pattern of the picture: its own standard deviation, times
        the slope of the beads on it; 0 where one colour is left of it.
    """

    alike: float
    contrast: float

    def logit(self, weights: tuple[float, float, float]) -> float:
        """Return the logit of a chance, by a constant and two weights."""
        return weights[0] + weights[1] * self.alike + weights[2] * self.contrast

    @property
    def verdict(self) -> Verdict:
        """'reads', 'a hint' or 'lost'."""
        if self.logit(SHADED_HINTS) < 0:
            return "lost"
        return "reads" if self.logit(SHADED_READS) >= 0 else "a hint"


def seen_in(drawn: Drawn, linear: Float32Array, ground: Float32Array) -> Seen:
    """Measure the beads of one tile beside the shaded picture that they show.

    Parameters
    ----------
    drawn : Drawn
        One tile of the picture.
    linear : (H, W, 3) float32
        The beads of the tile, drawn, in linear light.
    ground : (3,) float32
        The background bead's.
    """
    down, across = (LOW_PASS_BEADS * px for px in drawn.raster.px_per_bead)
    reach = (round(4 * down), round(4 * across))
    blur = gaussian_transfer(drawn.raster.shape, (down, across), reach)
    picture, beads = (
        run_filter(np.moveaxis(linear_lab(one) - linear_lab(ground), -1, 0), blur)
        for one in (drawn.linear, linear)
    )
    there = drawn.cover > 0.5
    if not there.any():
        return Seen(0.0, 0.0)
    inside = (one[:, there] for one in (picture, beads))
    mine, theirs = (one - one.mean(axis=1, keepdims=True) for one in inside)
    spread = float(np.sqrt(np.square(mine).sum(axis=0).mean()))
    together = float((mine * theirs).sum(axis=0).mean())
    return Seen(_cosine(picture, beads), together / spread if spread > 0 else 0.0)


def _cosine(one: AnyFloats, other: AnyFloats) -> float:
    """Return the cosine of two planes as vectors; 0 if one of them is nothing."""
    length = np.sqrt(float(np.square(one).sum()) * float(np.square(other).sum()))
    return float((one * other).sum()) / length if length > 0 else 0.0
