"""The same motif worked in other ways: each is a change of what is asked for, carried out in full.

What is advised and what is offered to choose from are changes of options. Each was carried out by
the same search and judged by the same verdict as what was worked, so whoever asks for it gets it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...core.braid import STRANDS, Braid, Lattice
from ...core.errors import WrongUsage
from ..fit.fitting import LaidMotif, fit
from ..fit.line_work import other_ways
from ..fit.motif import Motif, find_motif

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ..options import Order, OutlineWay
    from ..read import Picture, Sketch

Changes = Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Trials:
    """A flat motif, to be worked in other ways than it was asked for.

    Parameters
    ----------
    picture : Picture
    sketch : Sketch
        Of the whole picture, as it was read.
    motif : Motif
        Of them, as it was asked for.
    order : Order
        What was asked for.
    lattice : Lattice
    bead : BeadSize
    rounds : int
    worked : LaidMotif
        What came of it.
    """

    picture: Picture
    sketch: Sketch
    motif: Motif
    order: Order
    lattice: Lattice
    bead: BeadSize
    rounds: int
    worked: LaidMotif
    _done: dict[str, tuple[Lattice, LaidMotif] | None] = field(default_factory=dict)

    def settled(self, free: Changes) -> Changes:
        """Return changes by which the sizes that are found with `free` can be asked for.

        Sizes that the maker leaves open stay open.
        """
        order = self.order
        changes = dict(free)
        if order.width_mm is None and order.stretch is None and not order.pin:
            return changes
        done = self.carried_out({"width_mm": None, "stretch": None, "pin": ()} | changes)
        if done is None or done[1].flat is None:
            return changes
        changes["width_mm"] = np.floor(10 * done[1].size_mm[0]) / 10
        changes["stretch"] = done[1].flat.fitted.size.stretch
        return changes

    def outlines(self) -> tuple[OutlineWay, ...]:
        """Return what else can become of a sketch's outlines; nothing if that is asked for."""
        if self.order.outlines is not None:
            return ()
        return other_ways(self.motif.whole, self.motif.choice)

    def strands(self) -> tuple[list[int], list[int]]:
        """Return fewer and more strands that there are braids of, the next first."""
        own = self.lattice.braid.strands
        if self.lattice.braid.own_start or self.order.readings is not None:
            return [], []
        there = [many for many in STRANDS if self.braid(many)]
        return [many for many in reversed(there) if many < own], [m for m in there if m > own]

    def braid(self, strands: int) -> Lattice | None:
        """Return the braid of so many strands, if there is one."""
        here = self.lattice.braid
        if strands == here.strands:
            return self.lattice
        try:
            return Lattice.computed(Braid(strands, here.lay, here.turn), self.bead)
        except WrongUsage:
            return None

    def carried_out(self, changes: Changes) -> tuple[Lattice, LaidMotif] | None:
        """Carry an order out with changes; None if that cannot be."""
        key = repr(sorted(changes.items()))
        if key not in self._done:
            self._done[key] = self._carried_out(dict(changes))
        return self._done[key]

    def _carried_out(self, changes: dict[str, Any]) -> tuple[Lattice, LaidMotif] | None:
        lattice = self.braid(changes.pop("strands", self.lattice.braid.strands))
        if lattice is None:
            return None
        length_mm = self.rounds * self.lattice.rise_mm
        rounds = 2 * round(length_mm / lattice.rise_mm / 2)
        order = replace(self.order, **changes)
        try:
            return lattice, fit(self._motif(order), lattice, rounds, order)
        except WrongUsage:
            return None

    def _motif(self, order: Order) -> Motif:
        if order.outlines == self.order.outlines:
            return self.motif
        return find_motif(self.sketch, self.picture, self.motif.choice.palette, order)
