"""A design and how it came about."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ...core.arrays import Ints
from ...core.design import Design
from ...core.findings import first_with
from ...palette import Palette
from .likeness import likeness_of
from .verdict import UNRECOGNISED

if TYPE_CHECKING:
    from ...core.design import SketchKind
    from ...core.findings import Finding
    from ..fit.composed import Composed
    from ..fit.fitting import LaidMotif
    from ..fit.motif import Motif
    from ..fit.placement import Placement
    from ..fit.raster import Drawn
    from ..fit.tile import Tile
    from ..options import Order
    from ..read import Sketch
    from .choices import Choice
    from .judgement import Judgement
    from .likeness import Likeness
    from .trials import Trials


@dataclass(frozen=True, eq=False)
class Conversion:
    """What every step of a conversion came to.

    Parameters
    ----------
    order : Order
    sketch : Sketch
        Of the whole picture, as it was read.
    motif : Motif
    fitted : LaidMotif
    judgement : Judgement
    design : Design
        Without plain back and accents.
    trials : Trials or None
        Other ways to work it, as far as they were tried; None where there are none.
    composed : Composed or None
        A picture that was put together here.
    """

    order: Order
    sketch: Sketch
    motif: Motif
    fitted: LaidMotif
    judgement: Judgement
    design: Design
    trials: Trials | None
    composed: Composed | None = None

    @cached_property
    def choices(self) -> tuple[Choice, ...]:
        """Ways to work it, what was worked first; none at a first look, nor of a shaded picture."""
        from .choices import find_choices

        return () if self.trials is None else find_choices(self.trials)

    @property
    def kind(self) -> SketchKind:
        """'flat' or 'shaded'."""
        return self.motif.sketch.kind

    @property
    def placement(self) -> Placement:
        """Where the motifs lie."""
        return self.fitted.placement

    @property
    def tile(self) -> Tile:
        """The piece of braid that holds one motif."""
        return self.fitted.place.tile

    @property
    def drawn(self) -> Drawn:
        """One tile of the sketch as placed."""
        return self.judgement.drawn

    @property
    def owner(self) -> Ints:
        """Crossing (of the first repeat) that each pixel of the drawn sketch belongs to."""
        return self.drawn.raster.owner + self.tile.first

    @property
    def findings(self) -> tuple[Finding, ...]:
        """What is to be said about it."""
        return self.judgement.findings

    @property
    def unrecognised(self) -> Finding | None:
        """What says that the motif can hardly be recognised, if so."""
        return first_with(self.findings, *UNRECOGNISED)

    def likeness(self, design: Design) -> Likeness:
        """Measure a design whose beads may have been changed since: its most changed motif."""
        tile = self.tile
        seen = Palette.of(design).linear
        linear = seen[design.beads]
        changed = (linear != Palette.of(self.design).linear[self.design.beads]).any(axis=1)
        number, place = tile.within(np.arange(len(linear)))
        own = (number >= 0) & (number < tile.count)
        if not changed[own].any():
            return self.judgement.likeness
        most = own & (number == np.bincount(number[own & changed]).argmax())
        ground = seen[design.background]
        beads = np.repeat(ground[None], tile.beads, axis=0)
        beads[place[most]] = linear[most]
        return likeness_of(self.drawn, beads, ground)
