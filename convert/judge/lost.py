"""What of a flat sketch is lost between the beads.

The same numbers that the verdict comes from say it: what is kept of each feature. A part or an
opening of which hardly anything is kept is lost; of a part that is there a branch may be lost, the
middle bar of an F or a beak: beads under its axis, next to each other, that do not show it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from ...core.arrays import Bools, Floats, Ints
from ...core.findings import Code
from ..fit.energy import Overlay, connected_runs
from ..fit.features import STROKE_RATIO

if TYPE_CHECKING:
    from ..fit.features import Feature
    from ..fit.fitting import Flat

LostKind = Literal["part", "branch", "opening"]
Where = Literal["top", "bottom", "left", "right"]
Key = tuple[int, tuple[Where, ...]]

BRANCH_PITCHES = 1.1
"""What is missing of a part is missed if its axis is so long, in bead pitches."""

CODES: dict[LostKind, Code] = {
    "part": Code.LOST_PART,
    "branch": Code.LOST_BRANCH,
    "opening": Code.LOST_OPENING,
}


@dataclass(frozen=True, eq=False)
class Lost:
    """Something of a sketch that is lost.

    Parameters
    ----------
    kind : 'part', 'branch' or 'opening'
    within : int
        Its bead; for an opening that of what lies round it.
    width_mm : float
        On the braid.
    salience : float
        How much of what the sketch is recognised by is lost with it.
    where : tuple of str
        In which third of the motif it lies, down and across; none for the middle.
    points : (n, 2) float
        Of the medial axis of what is lost, right and down from the middle of the motif, in widths
        of it.
    line : bool
        Whether it is long and narrow.
    piece : bool
        Whether other parts of its bead are there.
    """

    kind: LostKind
    within: int
    width_mm: float
    salience: float
    where: tuple[Where, ...]
    points: Floats
    line: bool
    piece: bool = False

    @property
    def key(self) -> Key:
        """What tells it from others in words: its bead, and where it lies."""
        return self.within, self.where


def find_lost(flat: Flat) -> list[Lost]:
    """Return what is lost, what matters most first."""
    fitted = flat.fitted
    overlay = Overlay(flat.sketch, fitted.size, fitted.patch, np.array([fitted.offset_mm]))
    axis = overlay.axis[0]
    gone = {
        number
        for number in fitted.legibility.lost
        if not _worked(flat.sketch.features[number], axis[number], fitted.colours)
    }
    lost = [*_lost_features(flat, gone), *_lost_branches(flat, gone, overlay)]
    return sorted(lost, key=lambda one: -one.salience)


def _worked(part: Feature, axis: Floats, colours: Ints) -> bool:
    """Whether a part has beads of its colour where it lies, be they too few to show it."""
    return part.kind != "opening" and bool((colours[axis > 0] == part.ink).any())


def _lost_features(flat: Flat, gone: set[int]) -> Iterator[Lost]:
    features, legibility = flat.sketch.features, flat.fitted.legibility
    for number in sorted(gone):
        one = features[number]
        opening = one.kind == "opening"
        yield Lost(
            "opening" if opening else "part",
            _round(one, features) if opening else one.ink,
            float(one.width * flat.fitted.size.width_mm),
            one.salience * (1 - legibility.each[number]),
            _where(one.axis.mean(axis=0), flat.sketch.aspect),
            one.axis,
            one.kind == "stroke" or (opening and one.length >= STROKE_RATIO * one.width),
            not opening
            and any(
                other.ink == one.ink and other.kind != "opening" and place not in gone
                for place, other in enumerate(features)
            ),
        )


def _round(opening: Feature, features: tuple[Feature, ...]) -> int:
    """The colour of the part that comes nearest to an opening."""
    parts = [one for one in features if one.kind != "opening"]
    middle = opening.axis.mean(axis=0)
    away = [np.linalg.norm(one.axis - middle, axis=1).min() for one in parts]
    return parts[int(np.argmin(away))].ink


def _lost_branches(flat: Flat, gone: set[int], overlay: Overlay) -> Iterator[Lost]:
    """What is missing of parts that are there."""
    fitted, sketch = flat.fitted, flat.sketch
    patch, size = fitted.patch, fitted.size
    runs = connected_runs(fitted.colours[None], patch.neighbours)[0]
    shortest = BRANCH_PITCHES * patch.lattice.pitch_mm / size.width_mm
    for number, one in enumerate(sketch.features):
        if one.kind == "opening" or number in gone:
            continue
        axis = overlay.axis[0, number]
        mine = np.where(fitted.colours == one.ink, axis, 0.0)
        shown = runs == np.argmax(np.bincount(runs, mine, minlength=len(runs)))
        missing = (axis > 0) & ~(shown & (fitted.colours == one.ink))
        for beads in _pieces(missing, patch.neighbours):
            share = float(axis[beads].sum())
            if share * one.length < shortest:
                continue
            there = beads[overlay.owners(one.axis)]
            middle = np.average(one.axis[there], axis=0, weights=one.weight[there])
            width = float(np.median(one.widths[there]))
            yield Lost(
                "branch",
                one.ink,
                float(width * size.width_mm),
                one.salience * share,
                _where(middle, sketch.aspect),
                one.axis[there],
                share * one.length >= STROKE_RATIO * width,
            )


def _pieces(mask: Bools, neighbours: Ints) -> Iterator[Bools]:
    """The connected pieces of some beads."""
    runs = connected_runs(mask.astype(np.intp)[None], neighbours)[0]
    for run in np.unique(runs[mask]):
        yield runs == run


def _where(middle: Floats, aspect: float) -> tuple[Where, ...]:
    """The third of the motif that a place lies in, right and down from its middle, in widths."""
    sides: list[Where] = []
    down, across = float(middle[1]) / aspect, float(middle[0])
    if abs(down) > 1 / 6:
        sides.append("top" if down < 0 else "bottom")
    if abs(across) > 1 / 6:
        sides.append("left" if across < 0 else "right")
    return tuple(sides)
