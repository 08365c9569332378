"""The short test braid of a swatch: a column to follow, two rings to measure between, a letter.

From the end that is worked first: two plain rounds, a dark ring, the column, the second ring, and
above it the letter F on the front.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ..arrays import Bools, Floats, Ints
from ..braid import FRONT_DEG
from ..design import Design, Origin
from ..findings import Code, Finding

if TYPE_CHECKING:
    from collections.abc import Sequence

    from ..bead import Bead, BeadSize
    from ..braid import Lattice

PLAIN_ROUNDS = 2
"""Before the ring that is measured from, and before and after the letter."""

LEAST_ROUNDS = 16
"""Rounds to measure over: a caliper's tenth of a mm then matters little."""

SLENDER = 2.7
"""Height of the letter over its width; its strokes are a third of its width."""


@dataclass(frozen=True)
class SwatchBraid:
    """A swatch to work.

    Parameters
    ----------
    design : Design
        Two beads, light and dark.
    rounds : int
        From the lower edge of one dark ring to the lower edge of the other.
    column : tuple of int
        Crossings of the dark column between the rings.
    """

    design: Design
    rounds: int
    column: tuple[int, ...]

    @property
    def findings(self) -> list[Finding]:
        """How to work it and what to measure."""
        design = self.design
        lattice = design.lattice
        light, dark = design.palette[:2]
        strands = design.braid.strands
        size = {
            "beads": len(design.beads),
            "per_strand": len(design.beads) // strands,
            "strands": strands,
            "length_mm": design.length_mm,
        }
        length = {"rounds": self.rounds, "computed_mm": self.rounds * lattice.rise_mm}
        said: list[tuple[Code, dict[str, Any]]] = [
            (Code.TEST_BRAID, size),
            (Code.TEST_CORD, {}),
            (Code.TEST_BEADS, {"light": light.code, "dark": dark.code}),
            (Code.MEASURE_THICKNESS, {"computed_mm": lattice.thickness_mm}),
            (Code.MEASURE_LENGTH, length),
            (Code.MEASURE_COLUMN, {"computed_rounds": lattice.columns_per_turn}),
            (Code.MEASURE_LETTER, {}),
            (Code.KEEP_READINGS, {}),
        ]
        return [Finding(code, data) for code, data in said]


def swatch_braid(lattice: Lattice, bead: BeadSize, palette: Sequence[Bead]) -> SwatchBraid:
    """Design the test braid.

    Parameters
    ----------
    lattice : Lattice
        Computed.
    bead : BeadSize
    palette : sequence of Bead
        The light bead, then the dark one.
    """
    braid = lattice.braid
    per_round = braid.beads_per_round
    between = max(LEAST_ROUNDS, 2 * math.ceil(lattice.columns_per_turn / 2 + 1))
    ring = PLAIN_ROUNDS
    foot = ring + between + 1 + PLAIN_ROUNDS
    width = min(lattice.circumference_mm / 2, 4 * lattice.pitch_mm)
    rounds = foot + math.ceil(SLENDER * width / lattice.rise_mm) + 1 + PLAIN_ROUNDS
    rounds += rounds % 2
    beads = np.zeros(rounds * per_round, dtype=np.intp)
    for place in (ring, ring + between):
        beads[place * per_round : (place + 1) * per_round] = 1
    column = _column(lattice, (ring + 1) * per_round, between - 1)
    beads[column] = 1
    beads[_letter(lattice, len(beads), width, foot * lattice.rise_mm)] = 1
    return SwatchBraid(
        Design(lattice, bead, tuple(palette[:2]), beads, 0, origin=Origin(test_braid=True)),
        between,
        tuple(column.tolist()),
    )


def _column(lattice: Lattice, first: int, rounds: int) -> Ints:
    """The column that starts in the given round nearest to the middle of the front."""
    per_round = lattice.braid.beads_per_round
    start = first + np.arange(per_round)
    away = np.abs(lattice.x_mm(start))
    chosen: Ints = start[np.argmin(away)] + per_round * np.arange(rounds)
    return chosen


def _letter(lattice: Lattice, count: int, width: float, foot_mm: float) -> Ints:
    """Crossings of the letter F that stands on the front, its foot at the given height or a
    little above.

    A bead is dark if the letter covers most of its cell; of all places within the lattice's
    period the one with the least doubt is taken.
    """
    best: tuple[float, Ints] | None = None
    for right in np.linspace(-0.5, 0.5, 7) * lattice.pitch_mm:
        for up in foot_mm + np.linspace(0, 1, 9, endpoint=False) * lattice.rise_mm:
            share = _share(lattice, count, width, float(right), float(up))
            doubt = float(np.minimum(share, 1 - share).sum())
            if best is None or doubt < best[0] - 1e-9:
                best = (doubt, np.flatnonzero(share > 0.5))
    assert best is not None
    return best[1]


def _share(lattice: Lattice, count: int, width: float, right: float, up: float) -> Floats:
    """Share of each bead's cell that the letter covers, (count,), for one place of it."""
    step = lattice.pitch_mm / 8
    x, y = np.meshgrid(np.arange(-width / 2, width / 2, step), np.arange(0, SLENDER * width, step))
    inked = _inked(x, y, width)
    owner = lattice.owner(x[inked] + right, y[inked] + up, count, FRONT_DEG)
    cells = np.bincount(owner, minlength=count).astype(np.float64)
    share: Floats = np.minimum(cells * step**2 / lattice.cell_area_mm2, 1.0)
    return share


def _inked(x: Floats, y: Floats, width: float) -> Bools:
    """Whether points lie in the letter F, its foot at y = 0, its middle at x = 0."""
    stroke = width / 3
    left, top = x + width / 2, SLENDER * width - y
    stem = left < stroke
    arm = top < stroke
    bar = (np.abs(top - 0.45 * SLENDER * width) < stroke / 2) & (left < 0.85 * width)
    inked: Bools = stem | arm | bar
    return inked
