"""Ways to work the same motif that differ to the eye, for the maker to choose from.

Each is a change of what is asked for, carried out in full: whoever asks for it gets it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from ...core.arrays import Floats, Ints
from ...core.bead import BeadSize
from ...core.design import Design, drop_directions
from ...core.finish import surfaces_of
from ..fit.fitting import Flat, LaidMotif
from ..fit.size import MOST_ROUND
from .trials import Changes, Trials

if TYPE_CHECKING:
    from ...core.braid import Lattice
    from ...core.drawing.shapes import Page
    from ...palette import Palette

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
"""So many stand beside each other on a page."""

TALLER = 1.75
"""How many times as tall as drawn a motif is offered that would not need it."""

DIFFERENT = 0.12
"""Ways whose size or beads, colour by colour, differ by less look alike."""

ROOM_PITCHES = 1.5
"""Ground that is shown above and below the motif."""


@dataclass(frozen=True, eq=False)
class Choice:
    """One way to work a motif.

    Parameters
    ----------
    number : int
        To ask for it; 1 is what the order comes to by itself.
    way : Way
    changes : mapping
        Fields of the order, and their values.
    lattice : Lattice
    fitted : LaidMotif
    flat : Flat
        Of it.
    """

    number: int
    way: Way
    changes: Changes
    lattice: Lattice
    fitted: LaidMotif
    flat: Flat

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        legibility, (wide, high) = self.flat.fitted.legibility, self.flat.size_mm
        return {
            "number": self.number,
            "way": self.way,
            "verdict": legibility.verdict,
            "beads": legibility.beads,
            "strands": self.lattice.braid.strands,
            "width_mm": round(wide, 2),
            "height_mm": round(high, 2),
            "stretch": self.flat.fitted.size.stretch,
            "changes": dict(self.changes),
        }


def find_choices(trials: Trials) -> tuple[Choice, ...]:
    """Return up to six ways, what was worked first, then those that can be read best.

    Parameters
    ----------
    trials : Trials
        Of a motif of which something is drawn.
    """
    first, *found = each_choice(trials)
    found.sort(key=lambda one: -one.flat.fitted.legibility.clarity)
    best = found[: MOST_CHOICES - 1]
    return (first, *(replace(one, number=k) for k, one in enumerate(best, start=2)))


def each_choice(trials: Trials) -> Iterator[Choice]:
    """Return every way that differs from those before it, what was worked first, as it is found.

    Parameters
    ----------
    trials : Trials
        Of a motif of which something is drawn.
    """
    worked = trials.worked
    assert worked.flat is not None
    found = [Choice(1, "as worked", {}, trials.lattice, worked, worked.flat)]
    yield found[0]
    for way, changes in _ways(trials, worked.flat):
        done = trials.carried_out(changes)
        if done is None or done[1].flat is None:
            continue
        one = Choice(0, way, changes, *done, done[1].flat)
        if all(_differ(one, other) for other in found):
            found.append(one)
            yield one


def _ways(trials: Trials, worked: Flat) -> Iterator[tuple[Way, Changes]]:
    order = trials.order
    yield from size_ways(trials, worked)
    yield "along the braid", trials.settled({"rotate_deg": (order.rotate_deg + 90) % 360})
    for outlines in trials.outlines():
        yield outlines, trials.settled({"outlines": outlines})
    fewer, more = trials.strands()
    for way, strands in (("more strands", more[:1]), ("fewer strands", fewer[:1])):
        for many in strands:
            yield way, trials.settled({"strands": many})  # type: ignore[misc]


def size_ways(trials: Trials, worked: Flat) -> Iterator[tuple[Way, Changes]]:
    """Yield other sizes of a motif: as drawn or taller, and as large as can be seen at once."""
    stretch = worked.fitted.size.stretch
    width_mm = float(np.floor(10 * worked.size_mm[0]) / 10)
    if stretch > 1.0:
        yield "as drawn", {"width_mm": width_mm, "stretch": 1.0}
    else:
        yield "taller", {"width_mm": width_mm, "stretch": TALLER}
    widest_mm = float(np.floor(10 * MOST_ROUND * trials.lattice.circumference_mm) / 10)
    if trials.order.fit == "wrap" and width_mm < widest_mm / (1 + DIFFERENT):
        yield "larger", {"width_mm": widest_mm, "stretch": stretch}


def _differ(one: Choice, other: Choice) -> bool:
    """Whether two ways differ to the eye: how they read, in braid, turn, size, or many beads."""
    if one.lattice != other.lattice:
        return True
    if one.flat.fitted.legibility.verdict != other.flat.fitted.legibility.verdict:
        return True
    if one.flat.fitted.size.turn_deg != other.flat.fitted.size.turn_deg:
        return True
    sizes = np.log([way.flat.size_mm for way in (one, other)])
    if (np.abs(sizes[0] - sizes[1]) > DIFFERENT).any():
        return True
    counts = [_counts(way.flat) for way in (one, other)]
    beads = {bead: counts[0][bead] - counts[1][bead] for bead in counts[0] | counts[1]}
    most = max(sum(count.values()) for count in counts)
    return sum(map(abs, beads.values())) > DIFFERENT * most


def _counts(flat: Flat) -> Counter[int]:
    """How many beads of each colour a motif has."""
    colours = flat.fitted.colours
    return Counter(colours[colours != flat.sketch.ground].tolist())


@dataclass(frozen=True, eq=False)
class ChoiceView:
    """What is shown of a choice: its beads, how drops lean, the side seen, a motif's heights."""

    palette: Palette
    beads: Ints
    azimuth_deg: float
    window_mm: tuple[float, float]
    lean: Floats | None


def sight(trials: Trials, one: Choice) -> ChoiceView:
    """Return what is to be shown of a choice: one motif with a little ground."""
    lattice, beads = one.lattice, trials.motif.choice
    rounds = 2 * round(trials.rounds * trials.lattice.rise_mm / lattice.rise_mm / 2)
    centres = one.fitted.placement.centres
    azimuth, middle = centres[len(centres) // 2]
    half = one.flat.size_mm[1] / 2 + ROOM_PITCHES * lattice.pitch_mm
    rows = one.fitted.beads(rounds, beads.ground)
    bead = BeadSize(None, lattice.diameter_mm, lattice.length_mm)
    design = Design(lattice, bead, beads.palette.beads, rows)
    lean = drop_directions(design, centres).drawn
    return ChoiceView(beads.palette, rows, azimuth, (middle - half, middle + half), lean)


def sheet_of_choices(trials: Trials, choices: tuple[Choice, ...]) -> Page:
    """Return the choices as a sheet of shapes."""
    from ...core.paper.braid_piece import BraidPiece
    from ...core.paper.choices_sheet import ChoiceCard, choices_page
    from ...core.show.preview import Look

    cards = []
    for one in choices:
        shown, plain = sight(trials, one), one.as_dict()
        cards.append(
            ChoiceCard(
                one.number,
                one.way,
                str(plain["verdict"]),
                (
                    f"{plain['strands']} strands, {plain['beads']} beads",
                    f"{plain['width_mm']:.1f} × {plain['height_mm']:.1f} mm",
                ),
                BraidPiece(
                    Look(
                        one.lattice,
                        shown.palette.rgb[shown.beads],
                        shown.lean,
                        surfaces_of(shown.palette.beads)[shown.beads],
                    ),
                    shown.azimuth_deg,
                    shown.window_mm,
                ),
            )
        )
    return choices_page(cards)
