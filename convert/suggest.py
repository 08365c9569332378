"""Which few beads to buy for a sketch: the converter's own quick fit, tried bead by bead."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ..core.errors import HimotifError
from ..palette import Palette, ciede2000_matrix, joined, palette_on_cord
from .options import Order

if TYPE_CHECKING:
    from ..core.bead import Bead
    from .read import Picture

MOST_FITTED = 4
"""So many beads are fitted at each step: those that lower the squared colour difference most."""

ALIKE_DE00 = 3.0
"""Beads this near are alike in a braid; a choice of this project."""

LEAST_GAIN = 0.25
"""A bead that lowers J, the difference from the sketch as seen, by less is not worth buying; a
CIEDE2000 of 0.25 is not seen. A choice of this project."""


@dataclass(frozen=True)
class Standing:
    """How a sketch comes out in a palette, at a first look.

    Parameters
    ----------
    score : float
        J, lower is better.
    colour_de00 : float
        Mean CIEDE2000 over the motif, as seen.
    kept_percent : float
        Of the structure of the sketch, over the motif.
    """

    score: float
    colour_de00: float
    kept_percent: float

    def as_dict(self) -> dict[str, float]:
        """Return it as plain values."""
        return {
            "score": round(self.score, 3),
            "colour_de00": round(self.colour_de00, 2),
            "kept_percent": round(self.kept_percent, 1),
        }


@dataclass(frozen=True)
class Suggestion:
    """A bead to buy, and how the sketch stands with it and those suggested before."""

    bead: Bead
    standing: Standing


def standing(order: Order, picture: Picture, palette: Palette) -> Standing:
    """Return how a sketch comes out in a palette."""
    from .job import make

    made = make(replace(order, quick=True), picture, palette)
    found = made.conversion.likeness(made.design)
    return Standing(found.score, found.motif.colour, 100 * max(0.0, found.motif.structure))


def suggest(
    order: Order, picture: Picture, have: Palette, stock: Palette, count: int
) -> tuple[Standing, list[Suggestion]]:
    """Find the few beads of a stock that help a sketch most.

    Step by step the bead is taken with which the quick fit comes nearest to the sketch (J, colour
    and structure as seen at arm's length), until no bead helps.

    Parameters
    ----------
    order : Order
        Of the braid; it is always a first look.
    picture : Picture
    have : Palette
        The beads at hand; all stay.
    stock : Palette
        Beads that can be bought; drops and beads of another size than the work's are passed over.
    count : int
        At most so many are suggested.

    Returns
    -------
    Standing, list of Suggestion
        Of the beads at hand; what to buy, best first.

    Raises
    ------
    HimotifError
        If no bead of the stock fits the work.
    """
    before = here = standing(order, picture, have)
    found: list[Suggestion] = []
    stock = palette_on_cord(_fitting(order, have, stock), order.cord_colour)
    lab, weights = _colours(order, picture)
    while len(found) < count:
        tried = []
        for at in _likely(lab, weights, palette_on_cord(have, order.cord_colour), stock):
            with_it = joined([have, stock.subset([at])], have.name)
            if len(with_it) > len(have):
                tried.append((with_it, stock.beads[at], standing(order, picture, with_it)))
        if not tried:
            break
        best, bead, after = min(tried, key=lambda one: one[2].score)
        if after.score > here.score - LEAST_GAIN:
            break
        # under the code that the stock has it by: joined it may have another
        found.append(Suggestion(bead, after))
        have, here = best, after
    return before, found


def _fitting(order: Order, have: Palette, stock: Palette) -> Palette:
    """The round beads of a stock that are of the work's size, or of none that is said."""
    from .job import settle

    work = settle(order, have).bead.name
    fits = [
        at
        for at, bead in enumerate(stock.beads)
        if bead.shape != "drop" and (bead.size in (None, work) or work is None)
    ]
    if not fits:
        size = "" if work is None else f" of size {work}"
        raise HimotifError(f"{stock.name} has no round beads{size}; others do not fit the work.")
    return stock.subset(fits)


def _colours(order: Order, picture: Picture) -> tuple[Any, Any]:
    """Colours of the sketch, Lab (k, 3), and what each counts."""
    from .fit.inks import colours_of
    from .read import read_sketch

    return colours_of(read_sketch(picture, order.kind))


def _likely(lab: Any, weights: Any, have: Palette, stock: Palette) -> list[int]:
    """Places in the stock of the beads that lower the weighted squared difference most.

    Of beads that hardly differ only the best is among them.
    """
    costs = ciede2000_matrix(lab, stock.lab) ** 2
    now = ciede2000_matrix(lab, have.lab).min(axis=1, keepdims=True) ** 2
    gains = (weights[:, None] * np.maximum(now - costs, 0)).sum(axis=0)
    chosen: list[int] = []
    for at in np.argsort(-gains, kind="stable"):
        if gains[at] <= 0 or len(chosen) == MOST_FITTED:
            break
        near = ciede2000_matrix(stock.lab[[at]], stock.lab[chosen]) < ALIKE_DE00
        if not near.any():
            chosen.append(int(at))
    return chosen


def suggestions_dict(before: Standing, found: list[Suggestion]) -> dict[str, Any]:
    """Return what was found as plain values."""
    buy = [
        one.bead.code_and_name | {"rgb": list(one.bead.rgb)} | one.standing.as_dict()
        for one in found
    ]
    return {"now": before.as_dict(), "buy": buy}
