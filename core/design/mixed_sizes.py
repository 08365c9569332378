"""Palettes that mix bead sizes: the main size, and what the others do to the braid."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..bead import bead_sizes
from ..findings import Code, Finding

if TYPE_CHECKING:
    from ..bead import Bead, BeadSize
    from .design import Design


@dataclass(frozen=True)
class OddSize:
    """A bead that is not of the main size.

    Parameters
    ----------
    bead : Bead
    size : BeadSize
    wider_mm : float
        Its diameter less the main one.
    one_mm : float
        How far a single one stands out (or back, below 0) from its neighbours.
    all_round_mm : float
        By how much a length of only such beads is thicker (or thinner).
    """

    bead: Bead
    size: BeadSize
    wider_mm: float
    one_mm: float
    all_round_mm: float

    @property
    def finding(self) -> Finding:
        """What it does to the braid."""
        return Finding(
            Code.SIZE_ODD,
            {
                "bead": self.bead.code_and_name,
                "size": self.size.label,
                "wider_mm": self.wider_mm,
                "one_mm": self.one_mm,
                "all_round_mm": self.all_round_mm,
            },
        )


def round_sizes(palette: Sequence[Bead]) -> list[str]:
    """Return the sizes of a palette's round beads, each once, in their order."""
    sizes = (bead.size for bead in palette if bead.shape != "drop")
    return list(dict.fromkeys(size for size in sizes if size is not None))


def main_size(palette: Sequence[Bead]) -> str | None:
    """Return the size that most beads of a palette have.

    Beads without a size do not count; the first in the palette wins a tie; None if no bead has a
    size.
    """
    sizes = [bead.size for bead in palette if bead.size is not None and bead.shape != "drop"]
    return max(Counter(sizes).items(), key=lambda one: one[1], default=(None, 0))[0]


def odd_sizes(design: Design) -> list[OddSize]:
    """Return the beads in use that are not of the design's main size.

    The braid is computed with the main size. A single larger bead rests on the same core, so its
    outside stands out by the difference of the diameters; where only such beads lie, the whole
    braid grows in proportion to them. A main bead given by its measures is one of the palette's
    main size, a little off as beads are; the others are compared with what that size usually
    measures.
    """
    main = bead_sizes().get(_main_name(design) or "", design.bead)
    thick = design.lattice.thickness_mm / design.bead.diameter_mm
    used = np.bincount(design.beads, minlength=len(design.palette))
    found = []
    for bead, count in zip(design.palette, used.tolist(), strict=True):
        size = bead_sizes().get(bead.size or "")
        if not count or size is None or bead.shape == "drop":
            continue
        wider = size.diameter_mm - main.diameter_mm
        if abs(wider) > 0.01:
            found.append(OddSize(bead, size, wider, wider, thick * wider))
    return found


def _main_name(design: Design) -> str | None:
    return design.bead.name or main_size(design.palette)


def size_findings(design: Design) -> list[Finding]:
    """Return what mixed sizes do to the braid; nothing if all beads are of one size."""
    odd, main = odd_sizes(design), _main_name(design)
    unknown = [
        {"code": bead.code, "size": bead.size}
        for bead in design.palette
        if bead.size and bead.size not in (*bead_sizes(), main) and bead.shape != "drop"
    ]
    if not odd and not unknown:
        return []
    data = {"main": design.bead.label}
    if design.bead.name is None and main is not None:
        data["measured"] = main
    found = [Finding(Code.SIZES_MIXED, data), *(one.finding for one in odd)]
    if unknown:
        found.append(Finding(Code.SIZE_TAKEN_AS_MAIN, {"beads": unknown}))
    return found
