"""Beads that meet in the motif and are hard to tell apart there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ...core.findings import Code, Finding
from ...palette import Palette, alike_beads, better_bead

if TYPE_CHECKING:
    from ...core.arrays import Ints
    from ...core.design import Design

SAID = 3
"""So many pairs are named one by one."""


def alike_findings(design: Design) -> list[Finding]:
    """Return what is to be said of beads that lie side by side and look alike.

    Pairs that are alike by day or in weak light come one by one, each with a bead of the palette
    that is told apart; those alike to eyes that see fewer hues together.

    Parameters
    ----------
    design : Design
        Of a flat sketch: in a shaded one near beads are meant to blend.
    """
    palette = Palette.of(design)
    found = alike_beads(palette, meeting(design))
    usual = [one for one in found if {"day", "weak light"} & {*one.sights}]
    used, count = np.unique(design.beads, return_counts=True)
    many = dict(zip(used.tolist(), count.tolist(), strict=True))
    may = np.array(
        [k for k, b in enumerate(palette.beads) if b.shape != "drop" and b.stock != 0], np.intp
    )
    findings = []
    for pair in usual[:SAID]:
        keep, goes = sorted((pair.first, pair.second), key=lambda place: -many[place])
        better = better_bead(palette, pair, keep, may, used)
        data = {
            "one": palette.beads[keep].code_and_name,
            "other": palette.beads[goes].code_and_name,
            "de00": round(pair.difference, 1),
            "by_day": "day" in pair.sights,
            "better": None if better is None else palette.beads[better].code_and_name,
        }
        findings.append(Finding(Code.BEADS_ALIKE, data))
    some = [one for one in found if one not in usual]
    if some:
        pairs = [{"beads": one.as_dict(palette)["beads"], "sights": [*one.sights]} for one in some]
        findings.append(Finding(Code.ALIKE_TO_SOME, {"pairs": pairs}))
    return findings


def meeting(design: Design) -> Ints:
    """Return the pairs of palette places, (k, 2) ascending, that lie side by side somewhere."""
    neighbours = design.lattice.neighbours(len(design.beads))
    here = np.repeat(design.beads[:, None], neighbours.shape[1], axis=1)
    there = np.where(neighbours >= 0, design.beads[neighbours], here)
    pairs = np.sort(np.stack([here.ravel(), there.ravel()], axis=1), axis=1)
    return np.unique(pairs[pairs[:, 0] != pairs[:, 1]], axis=0).reshape(-1, 2)
