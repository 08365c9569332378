"""The same sketch at another size, turned, or on more strands, as a quick search shows it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ...core.braid.braid import STRANDS, Braid
from ...core.braid.lattice import Lattice
from ...core.errors import WrongUsage
from ...core.findings import Remedy
from ..fit.placement import Placement, most_width_mm, usual_width_mm
from ..fit.search import Effort, Found, Scene, seek
from ..fit.tile import plan_tile
from ..read.sketch import ink_labels

if TYPE_CHECKING:
    from ...core.bead import BeadSize

Ints = npt.NDArray[np.intp]

MOST_BEADS = 1000
"""Larger tiles are not searched for a remedy: it would take longer than the conversion."""

LARGER = (1.1, 1.25, 1.5, 2.0)
"""Sizes that are tried for a remedy."""

WIDE = 1.2
"""A motif so many times wider than high grows when it is turned along the braid."""

MAP_PX = 12.0
"""Pixels per bead pitch of the map on which the bead under a point of the sketch is looked up."""


def drawn_inks(scene: Scene) -> Ints:
    """Return the ink of each pixel of the sketch's planes, (h, w)."""
    planes, inks = scene.source.planes, scene.inks
    return ink_labels(planes[..., 4 : 4 + len(inks.bead)], planes[..., 3], inks.ground)


def shown_inks(scene: Scene, found: Found) -> Ints:
    """Return the ink of the bead that lies over each pixel of the sketch's planes, (h, w)."""
    placement, tile = found.placement(scene.placement), scene.tile
    shape = scene.canvas(MAP_PX).shape
    owner = tile.owner(shape, placement.front_deg)
    right, up = _offsets_mm(scene.source.planes.shape[:2], scene.source.scale, placement)
    if placement.fit == "face":
        radius = placement.radius_mm
        right = radius * np.arcsin(np.clip(right / radius, -1, 1))
    across = right / tile.lattice.circumference_mm + 0.5
    down = (tile.top_mm - placement.centres[0][1] - up) / tile.height_mm
    row = np.floor(down * shape[0]).astype(np.intp) % shape[0]
    column = np.floor(across * shape[1]).astype(np.intp) % shape[1]
    return np.asarray(found.colours[owner[row, column]])


def _offsets_mm(
    shape: tuple[int, int], scale: float, placement: Placement
) -> tuple[npt.NDArray[np.float64], npt.NDArray[np.float64]]:
    """How far to the right of and above the motif's middle the pixels of its planes lie."""
    down = ((np.arange(shape[0]) + 0.5) / scale - placement.size_px[1] / 2)[:, None]
    across = ((np.arange(shape[1]) + 0.5) / scale - placement.size_px[0] / 2)[None, :]
    turn = np.deg2rad(placement.rotate_deg)
    right = np.cos(turn) * across - np.sin(turn) * down
    below = np.sin(turn) * across + np.cos(turn) * down
    return right / placement.px_per_mm, -below / placement.px_per_mm


def larger(placement: Placement, scale: float) -> Remedy:
    """Return the remedy of a motif so many times larger than it was asked for."""
    return Remedy("width_mm", round(placement.width_mm * scale, 1))


def along(placement: Placement) -> Remedy:
    """Return the remedy of a motif turned along the braid."""
    return Remedy("rotate_deg", (placement.rotate_deg + 90) % 360)


class Elsewhere:
    """Where else a sketch may be worked; each is searched once, when it is first asked for.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch, as the maker wants it.
    bead : BeadSize
    """

    def __init__(self, scene: Scene, bead: BeadSize) -> None:
        self.scene, self.bead = scene, bead
        self.lattice = cache(self._lattice)
        self.at = cache(self._at)

    def sizes(self) -> Iterator[float]:
        """Yield how many times larger the motif may be."""
        placement = self.scene.placement
        most_mm = most_width_mm(self.scene.tile.lattice, placement.fit)
        return (scale for scale in LARGER if placement.width_mm * scale <= most_mm + 1e-6)

    def braids(self) -> Iterator[int]:
        """Yield larger strand counts."""
        return (strands for strands in STRANDS if strands > self.scene.tile.lattice.braid.strands)

    def on_strands(self, strands: int, *also: Remedy) -> Remedy:
        """Return the remedy of the motif on so many strands, growing with them."""
        placement, here = self.scene.placement, self.scene.tile.lattice
        there = self.lattice(strands)
        usual_mm = usual_width_mm(here, placement.fit)
        if there is None or abs(placement.width_mm - usual_mm) < 1e-6:
            return Remedy("strands", strands, also)
        # only the usual width grows by itself
        width_mm = placement.width_mm * there.radius_mm / here.radius_mm
        return Remedy("strands", strands, (Remedy("width_mm", round(width_mm, 1)), *also))

    def turned(self) -> float | None:
        """Return how many times larger a wide motif gets if it is turned, as wide across as now."""
        times = self.scene.placement.width_mm / self.scene.placement.height_mm
        return times if times > WIDE else None

    def _lattice(self, strands: int) -> Lattice | None:
        """The braid as it is (0), or with so many strands if there is such a braid."""
        here = self.scene.tile.lattice
        if not strands:
            return here
        try:
            braid = Braid(strands, here.braid.lay, here.braid.turn)
        except WrongUsage:
            return None
        return Lattice.computed(braid, self.bead)

    def _at(
        self, scale: float, strands: int = 0, turn_deg: float = 0.0
    ) -> tuple[Scene, Found] | None:
        """Search the sketch so many times larger, beyond what it grows with the strands.

        None where there is no such braid or where the search would take too long.
        """
        lattice = self.lattice(strands)
        if lattice is None:
            return None
        scene = self.scene
        scale *= lattice.radius_mm / scene.tile.lattice.radius_mm
        placement = replace(
            scene.placement,
            px_per_mm=scene.placement.px_per_mm / scale,
            rotate_deg=scene.placement.rotate_deg + turn_deg,
            radius_mm=lattice.radius_mm,
        )
        size_mm = (placement.width_mm, placement.height_mm)
        rounds = int(np.ceil(size_mm[1] / lattice.rise_mm)) + 8
        tile = plan_tile(lattice, size_mm, rounds, "once", 1.0)
        if tile.beads > MOST_BEADS:
            return None
        placement = replace(placement, centres=((placement.front_deg, tile.middle_mm),))
        other = replace(scene, tile=tile, placement=placement)
        return other, seek(other, Effort(scale=False, turn=False, quick=True))
