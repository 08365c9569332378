"""The same motif worked in other ways: each is a change of what is asked for, carried out in full.

What is advised and what is offered to choose from are changes of options. Each was carried out by
the same search and judged by the same verdict as what was worked, so whoever asks for it gets it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from ...core.bead import bead_size, bead_sizes
from ...core.braid import STRANDS, Braid, Lattice
from ...core.design import main_size
from ...core.errors import WrongUsage
from ..fit.fitting import LaidMotif, fit
from ..fit.line_work import other_ways
from ..fit.motif import Motif, find_motif
from ..fit.size import fit_at, fit_motif

if TYPE_CHECKING:
    from ...core.bead import BeadSize
    from ..fit.energy import FlatSketch
    from ..fit.fitting import Flat
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
        changes["width_mm"] = float(np.floor(10 * done[1].size_mm[0]) / 10)
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

    def braid(self, strands: int, size: str | None = None) -> Lattice | None:
        """Return the braid of so many strands, of beads of another size, if there is one."""
        here = self.lattice.braid
        if strands == here.strands and size is None:
            return self.lattice
        try:
            # not every braid can be worked with the other turn
            braid = here if strands == here.strands else Braid(strands, here.lay, here.turn)
            return Lattice.computed(braid, self.bead if size is None else bead_size(size))
        except WrongUsage:
            return None

    def smaller_beads(self) -> Iterator[Changes]:
        """Yield changes to smaller beads, the largest of them first.

        A width that is found is a share of the way round, and of the same beads whatever their
        size: only a width that is asked for gets more of them. A palette that names sizes is of
        those beads and no others; of measured beads and of a swatch there are none but they.
        """
        order, usual = self.order, main_size(self.motif.choice.palette.beads)
        measured = order.readings is not None or order.bead_diameter_mm is not None
        if measured or usual is not None or order.width_mm is None:
            return
        for name, bead in sorted(bead_sizes().items(), key=lambda one: -one[1].diameter_mm):
            if bead.diameter_mm < self.bead.diameter_mm:
                yield {"bead_size": name}

    def carried_out(self, changes: Changes) -> tuple[Lattice, LaidMotif] | None:
        """Carry an order out with changes; None if that cannot be."""
        key = repr(sorted(changes.items()))
        if key not in self._done:
            self._done[key] = self._carried_out(dict(changes))
        return self._done[key]

    def known(self, changes: Changes) -> bool:
        """Whether changes were carried out before: to ask again takes no search."""
        return repr(sorted(changes.items())) in self._done

    def fit_again(self, flat: Flat, sketch: FlatSketch) -> Flat:
        """Return what the same search makes of the same motif drawn otherwise."""
        found = fit_motif(sketch, self.lattice, flat.wanted)
        if self.order.moved_mm is not None or "shift" in self.order.pin:
            wanted = replace(flat.wanted, offset_mm=flat.fitted.offset_mm)
            found = fit_at(sketch, self.lattice, found.size, wanted)
        return replace(flat, sketch=sketch, fitted=found)

    def _carried_out(self, changes: dict[str, Any]) -> tuple[Lattice, LaidMotif] | None:
        strands = changes.pop("strands", self.lattice.braid.strands)
        lattice = self.braid(strands, changes.pop("bead_size", None))
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
