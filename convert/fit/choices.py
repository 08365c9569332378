"""Ways to work the same motif that differ to the eye, for the maker to choose from."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from ...core.braid.lattice import Lattice
from .energy import AREA_WEIGHT, FlatSketch, extent_mm
from .size import MOST_ROUND, Fitted, Wanted, fit_motif

Way = Literal[
    "as worked",
    "as drawn",
    "taller",
    "larger",
    "along the braid",
    "strokes",
    "mass",
    "more strands",
    "fewer strands",
]

MOST_CHOICES = 6

TALLER = 1.75
"""How many times as tall as drawn a motif is offered that would not need it."""

STROKES, MASS = 0.4, 2.5
"""Area weights, in times the usual, that bring out strokes and mass."""

DIFFERENT = 0.12
"""Ways whose size or number of beads differs by less look alike."""


@dataclass(frozen=True, eq=False)
class Choice:
    """One way to work a motif.

    Parameters
    ----------
    way : Way
        How it differs from what was worked.
    lattice : Lattice
        The braid; another one only for more or fewer strands.
    fitted : Fitted
        Carried out in full, with its verdict.
    """

    way: Way
    lattice: Lattice
    fitted: Fitted


def choices(
    sketch: FlatSketch,
    lattice: Lattice,
    wanted: Wanted,
    worked: Fitted,
    others: Sequence[Lattice] = (),
) -> tuple[Choice, ...]:
    """Return up to six ways, what was worked first, then those that can be read best.

    Parameters
    ----------
    sketch : FlatSketch
    lattice : Lattice
    wanted : Wanted
        What the maker asked for.
    worked : Fitted
        What was found for it.
    others : sequence of Lattice
        The next braids, fewer strands and more.
    """
    first = Choice("as worked", lattice, worked)
    found: list[Choice] = []
    for way, there, asked in _asked(sketch, lattice, wanted, worked, others):
        one = Choice(way, there, fit_motif(sketch, there, asked))
        if all(_differ(sketch, one, other) for other in (first, *found)):
            found.append(one)
    found.sort(key=lambda one: -one.fitted.legibility.clarity)
    return (first, *found[: MOST_CHOICES - 1])


def _asked(
    sketch: FlatSketch,
    lattice: Lattice,
    wanted: Wanted,
    worked: Fitted,
    others: Sequence[Lattice],
) -> Iterator[tuple[Way, Lattice, Wanted]]:
    size = worked.size
    width_mm = extent_mm(sketch, size)[0]
    free = replace(wanted, offset_mm=None)
    here = replace(free, width_mm=width_mm, stretch=size.stretch)
    if size.stretch > 1.0:
        yield "as drawn", lattice, replace(here, stretch=1.0)
    else:
        yield "taller", lattice, replace(here, stretch=TALLER)
    widest_mm = MOST_ROUND * lattice.circumference_mm
    if wanted.fit == "wrap" and width_mm < widest_mm / (1 + DIFFERENT):
        yield "larger", lattice, replace(here, width_mm=widest_mm)
    along = replace(free, turn_deg=wanted.turn_deg + 90.0, width_mm=None, stretch=None)
    yield "along the braid", lattice, along
    yield "strokes", lattice, replace(here, area_weight=STROKES * AREA_WEIGHT)
    yield "mass", lattice, replace(here, area_weight=MASS * AREA_WEIGHT)
    for other in others:
        more = other.braid.strands > lattice.braid.strands
        asked = replace(free, width_mm=None, stretch=None)
        yield ("more strands" if more else "fewer strands"), other, asked


def _differ(sketch: FlatSketch, one: Choice, other: Choice) -> bool:
    """Whether two ways differ to the eye: in braid, turn, size, or in a bead in eight."""
    if one.lattice != other.lattice or one.fitted.size.turn_deg != other.fitted.size.turn_deg:
        return True
    measures = [
        np.array([*extent_mm(sketch, way.fitted.size), max(way.fitted.legibility.beads, 1)])
        for way in (one, other)
    ]
    return bool((np.abs(np.log(measures[0] / measures[1])) > DIFFERENT).any())
