"""What of a flat sketch is lost between the beads, and what would keep it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import numpy.typing as npt

from ..core.braid import STRANDS, Braid
from ..core.errors import WrongUsage
from ..core.lattice import Lattice
from . import sampling
from .placement import Placement
from .search import LOOK_PX, Found, Inks, Scene
from .tile import plan_tile

if TYPE_CHECKING:
    from ..core.bead import BeadSize

Ints = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]
Singles = npt.NDArray[np.float32]

SMALLEST_BEADS = 0.08
"""Smaller parts than this share of a bead nobody would look for."""

MOST_PARTS = 24
LOST_BELOW, KEPT_FROM = 0.15, 0.4
"""Share of a part under beads of its colour: lost below the first, kept from the second."""

TOLD = 3
"""So many are told one by one."""

LARGER = (1.1, 1.2, 1.35, 1.5, 1.75, 2.0)
"""Sizes that are tried for a remedy."""


@dataclass(frozen=True, eq=False)
class Part:
    """One connected part of a sketch.

    Parameters
    ----------
    ink : int
    mask : (h, w) float32
        Where it lies in the planes of the sketch.
    width_mm : float
        At its widest, on the braid.
    area_beads : float
    where : str
        In words.
    """

    ink: int
    mask: Singles
    width_mm: float
    area_beads: float
    where: str


@dataclass(frozen=True, eq=False)
class Lost:
    """A part that is lost.

    Parameters
    ----------
    part : Part
    larger : float or None
        How many times larger the motif must be to keep it, if it then still goes round the braid.
    strands : int or None
        The next strand count that keeps it, the motif growing with the braid.
    """

    part: Part
    larger: float | None
    strands: int | None


def find_lost(scene: Scene, found: Found, bead: BeadSize) -> list[Lost]:
    """Return the parts that are lost, the largest first.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    bead : BeadSize
    """
    parts = list(_parts(scene))
    if not parts:
        return []
    placement = found.placement(scene.placement)
    shape = scene.canvas(LOOK_PX).shape
    owner = scene.tile.owner(shape, placement.front_deg)
    drawn = _drawn(scene, parts, replace(scene, placement=placement), shape)
    sums = _cell_sums(drawn, owner, scene.tile.beads)
    lost = []
    for number, part in enumerate(parts):
        under = sums[found.colours == part.ink, number].sum()
        if under < LOST_BELOW * sums[:, number].sum():
            lost.append(part)
    told = [Lost(part, *_remedies(scene, part, bead)) for part in lost[:TOLD]]
    return told + [Lost(part, None, None) for part in lost[TOLD:]]


def lost_notes(
    lost: Sequence[Lost], names: Sequence[str], inks: Inks, placement: Placement, lattice: Lattice
) -> list[str]:
    """Return what is to be said about lost parts, at most three of them one by one.

    Parameters
    ----------
    lost : sequence of Lost
    names : sequence of str
        Of the palette's beads.
    inks : Inks
    placement : Placement
        Before the search.
    lattice : Lattice
    """
    told: dict[str, list[str]] = {}
    for one in lost[:TOLD]:
        part = one.part
        narrow = part.width_mm < lattice.pitch_mm
        what = f"{names[int(inks.bead[part.ink])]}, {part.where}, {part.width_mm:.1f} mm wide"
        why = "narrower than a bead" if narrow else "between the beads"
        told.setdefault(f"{why} and gone; {_remedy(one, placement)}", []).append(what)
    notes = [
        f"Lost: {' / '.join(parts)}: {'each ' if len(parts) > 1 else ''}{rest}."
        for rest, parts in told.items()
    ]
    if len(lost) > TOLD:
        more = len(lost) - TOLD
        notes.append(f"Lost too: {more} smaller part{'s' if more > 1 else ''}.")
    return notes


def _remedy(one: Lost, placement: Placement) -> str:
    ways = []
    if one.larger is not None:
        width_mm = placement.width_mm * one.larger
        ways.append(f"{one.larger - 1:.0%} larger (--width {width_mm:.1f})")
    if one.strands is not None:
        ways.append(f"{one.strands} strands")
    if ways:
        return f"{' or '.join(ways)} would keep it"
    if placement.width_mm > 1.2 * placement.height_mm:
        return "turned along the braid (--rotate 90) the motif can be made much larger"
    return "smaller beads would give it more room"


def _parts(scene: Scene) -> Iterator[Part]:
    """The connected parts of the sketch that are not ground, the largest first."""
    from scipy import ndimage

    source, lattice = scene.source, scene.tile.lattice
    kinds = len(scene.inks.bead)
    shares = source.planes[..., 4 : 4 + kinds].copy()
    shares[..., scene.inks.ground] += 1 - source.planes[..., 3]
    labels = np.argmax(shares, axis=-1)
    px_per_mm = scene.placement.px_per_mm * source.scale
    px_per_bead = lattice.cell_area_mm2 * px_per_mm**2
    found = []
    for ink in np.unique(labels):
        if ink == scene.inks.ground:
            continue
        pieces, _ = ndimage.label(labels == ink, structure=np.ones((3, 3)))
        sizes = np.bincount(pieces.ravel())
        for number in np.flatnonzero(sizes >= SMALLEST_BEADS * px_per_bead):
            if number:
                found.append((int(sizes[number]), int(ink), pieces == number))
    found.sort(key=lambda f: -f[0])
    for size, ink, mask in found[:MOST_PARTS]:
        depth = float(ndimage.distance_transform_edt(np.pad(mask, 1)).max())
        yield Part(
            ink,
            mask.astype(np.float32),
            (2 * depth - 1) / px_per_mm,
            size / px_per_bead,
            _where(mask),
        )


def _where(mask: npt.NDArray[np.bool_]) -> str:
    """The place of a part in the sketch, in words."""
    row, column = (
        float(index.mean()) / size for index, size in zip(np.nonzero(mask), mask.shape, strict=True)
    )
    down = "top" if row < 1 / 3 else "bottom" if row > 2 / 3 else ""
    across = "left" if column < 1 / 3 else "right" if column > 2 / 3 else ""
    return f"{down} {across}".strip() or "in the middle"


def _drawn(scene: Scene, parts: Sequence[Part], placed: Scene, shape: tuple[int, int]) -> Singles:
    """The parts on the unrolled braid, (H, W, parts)."""
    masks = np.stack([part.mask for part in parts], axis=-1)
    source = sampling.Source(masks, scene.source.scale)
    tile = placed.tile
    placement = tile.closed(placed.placement)
    return sampling.draw(source, placement, tile.lattice, shape, tile.bottom_mm, tile.top_mm)


def _cell_sums(planes: Singles, owner: Ints, beads: int) -> Floats:
    flat = owner.ravel()
    return np.stack(
        [np.bincount(flat, planes[..., k].ravel(), beads) for k in range(planes.shape[-1])], axis=1
    )


def _remedies(scene: Scene, part: Part, bead: BeadSize) -> tuple[float | None, int | None]:
    """How much larger, or on how many strands, a part is kept somewhere on the lattice."""
    lattice, placement = scene.tile.lattice, scene.placement
    room = lattice.circumference_mm if placement.fit == "wrap" else 2 * lattice.radius_mm
    larger = next(
        (
            scale
            for scale in LARGER
            if placement.width_mm * scale <= room + 1e-6 and _kept(scene, lattice, part, scale)
        ),
        None,
    )
    for strands in STRANDS:
        if strands <= lattice.braid.strands:
            continue
        try:
            braid = Braid(strands, lattice.braid.lay, lattice.braid.turn)
        except WrongUsage:
            continue
        other = Lattice.computed(braid, bead)
        if _kept(scene, other, part, other.radius_mm / lattice.radius_mm):
            return larger, strands
    return larger, None


def _kept(scene: Scene, lattice: Lattice, part: Part, scale: float) -> bool:
    """Whether most votes keep a part somewhere in the lattice's cell."""
    size = (scene.placement.width_mm * scale, scene.placement.height_mm * scale)
    rounds = int(np.ceil(size[1] / lattice.rise_mm)) + 8
    tile = plan_tile(lattice, size, rounds, "once", 1.0)
    placement = replace(
        scene.placement,
        px_per_mm=scene.placement.px_per_mm / scale,
        radius_mm=lattice.radius_mm,
        centres=((scene.placement.front_deg, tile.middle_mm),),
    )
    placed = replace(scene, tile=tile, placement=placement)
    canvas = placed.canvas(LOOK_PX)
    view = placed.view(canvas, 1.0, 0.0, 0.0)
    drawn = _drawn(scene, [part], placed, canvas.shape)
    for shift in canvas.shifts()[::2]:
        owner = canvas.rolled(shift)
        contents = view.contents(owner[None])[0]
        sums = _cell_sums(drawn, owner, tile.beads)[:, 0]
        if sums[np.argmax(contents, axis=1) == part.ink].sum() >= KEPT_FROM * sums.sum():
            return True
    return False
