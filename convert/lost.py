"""What of a flat sketch is lost between the beads, and what would keep it.

A connected part of the sketch may be lost as a whole; of a part that is there a branch may be lost,
the middle bar of an F or a beak; and an opening may close, the eye of an A or the gap between two
bars. All three are places of the sketch that no bead of their colour comes near, measured along the
part: a bar is not kept by the beads of the next bar across the gap.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from ..core.braid import STRANDS, Braid
from ..core.distortion import PIECE_LOST_PERCENT
from ..core.errors import WrongUsage
from ..core.lattice import Lattice
from .colouring import ink_labels
from .placement import Placement
from .search import LINE_DRAWING, Effort, Found, Inks, Scene, seek
from .tile import plan_tile

if TYPE_CHECKING:
    from ..core.bead import BeadSize

Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Kind = Literal["part", "branch", "opening"]

SMALLEST_BEADS = 0.08
"""Smaller parts than this share of a bead nobody would look for."""

LOST_BELOW, KEPT_FROM = PIECE_LOST_PERCENT / 100, 0.55
"""Share of a part under beads of its colour: lost below the first, and worth telling as a remedy
from the second. A remedy is found by a quick search and the full one has the last word: of 31 told
for our own sketches it kept 26."""

BESIDE_PITCHES = 0.25
"""No edge of beads is truer than this: so near to a bead of its colour a part is there."""

STUB = (0.7, 0.4)
"""Pitches and beads: what is missing of a part is missed if it goes so far and fills so much."""

LINE = (1.1, SMALLEST_BEADS)
"""The same for thin branches."""

OPENING_PITCHES = 2.0
"""Wider ground between shapes is not an opening that beads close."""

OPENING_BEADS = 0.3
"""Smaller ones are hardly seen: in every corner between two strokes a bead rounds off as much."""

TOLD = 3
"""So many are told one by one."""

MOST_BEADS = 1000
"""Larger tiles are not searched for a remedy: it would take longer than the conversion."""

LARGER = (1.1, 1.25, 1.5, 2.0)
"""Sizes that are tried for a remedy."""

HOPELESS_PITCHES = 0.3
"""Only by luck does a narrower part get a bead: a size at which it is no wider is not tried."""

MAP_PX = 12.0
"""Pixels per bead pitch of the map on which the bead under a point of the sketch is looked up."""


@dataclass(frozen=True, eq=False)
class Part:
    """Something of a sketch that ought to show.

    Parameters
    ----------
    kind : 'part', 'branch' or 'opening'
        A connected part, something that sticks out of one, or ground within or between parts.
    ink : int
        Its own; the ground for an opening.
    within : int
        The ink round an opening, otherwise its own.
    mask : (h, w) bool
        Where it lies in the planes of the sketch.
    width_mm : float
        At its widest, on the braid.
    area_beads : float
    where : str
        In words.
    """

    kind: Kind
    ink: int
    within: int
    mask: Bools
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
    turned : bool
        Whether the motif turned along the braid, as wide across as it is now, keeps it.
    """

    part: Part
    larger: float | None = None
    strands: int | None = None
    turned: bool = False


def find_lost(scene: Scene, found: Found, bead: BeadSize) -> list[Lost]:
    """Return what is lost, the largest first, the first few with what would keep them.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    bead : BeadSize
    """
    lost = sorted(_lost_parts(scene, found), key=lambda part: -part.area_beads)
    remedies = _Remedies(scene, bead, lost[:TOLD])
    return [
        Lost(part, *remedies.of(number)) if number < TOLD else Lost(part)
        for number, part in enumerate(lost)
    ]


# -- in words ----------------------------------------------------------------------------------

LOST_NOTE = "Lost"
"""How every note about lost parts begins."""


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
        name = names[int(inks.bead[part.within])]
        what = {"part": name, "branch": f"a branch of {name}", "opening": f"an opening in {name}"}
        why = "narrower than a bead" if part.width_mm < lattice.pitch_mm else "between the beads"
        fate = "closed" if part.kind == "opening" else "gone"
        told.setdefault(f"{why} and {fate}; {_remedy(one, placement, lattice)}", []).append(
            f"{what[part.kind]}, {part.where}, {part.width_mm:.1f} mm wide"
        )
    notes = [
        f"{LOST_NOTE}: {' / '.join(parts)}: {'each ' if len(parts) > 1 else ''}{rest}."
        for rest, parts in told.items()
    ]
    if len(lost) > TOLD:
        more = len(lost) - TOLD
        notes.append(f"{LOST_NOTE} too: {more} smaller part{'s' if more > 1 else ''}.")
    return notes


def _remedy(one: Lost, placement: Placement, lattice: Lattice) -> str:
    part = one.part
    ways = []
    if one.larger is not None:
        width_mm = placement.width_mm * one.larger
        ways.append(f"{one.larger - 1:.0%} larger (--width {width_mm:.1f})")
    if one.strands is not None:
        ways.append(f"{one.strands} strands")
    if one.turned and not ways:
        ways.append(f"the motif turned along the braid (--rotate {placement.rotate_deg + 90:g})")
    if ways:
        keep = "keep it open" if part.kind == "opening" else "keep it"
        return f"{' or '.join(ways)} should {keep}"
    needed_mm = 1.2 * lattice.pitch_mm
    if part.width_mm >= needed_mm:
        return "smaller beads would give it more room"
    hopeless = needed_mm > 4 * part.width_mm and part.kind != "opening"
    instead = "leave it out" if hopeless else "take smaller beads"
    return f"draw it {needed_mm:.1f} mm wide, or {instead}"


def _where(mask: Bools, drawn: Bools) -> str:
    """The place of a part in the motif, in words."""
    words = []
    for axis, (low, high) in enumerate((("top", "bottom"), ("left", "right"))):
        extent = np.flatnonzero(drawn.any(axis=1 - axis))
        middle = (np.nonzero(mask)[axis].mean() - extent[0] + 0.5) / (np.ptp(extent) + 1)
        words.append(low if middle < 1 / 3 else high if middle > 2 / 3 else "")
    return " ".join(filter(None, words)) or "in the middle"


# -- what is lost ------------------------------------------------------------------------------


def _lost_parts(scene: Scene, found: Found) -> Iterator[Part]:
    """Everything that no bead of its colour shows."""
    from scipy import ndimage

    labels, shown, ground = _labels(scene), _shown(scene, found), scene.inks.ground
    drawn = labels != ground
    if not drawn.any():
        return
    px_per_mm = scene.placement.px_per_mm * scene.source.scale
    px_per_pitch = px_per_mm * scene.tile.lattice.pitch_mm
    px_per_bead = scene.tile.lattice.cell_area_mm2 * px_per_mm**2

    def part(kind: Kind, ink: int, within: int, mask: Bools) -> Part:
        depth = float(ndimage.distance_transform_edt(np.pad(mask, 1)).max())
        width_mm, area = (2 * depth - 1) / px_per_mm, int(mask.sum()) / px_per_bead
        return Part(kind, ink, within, mask, width_mm, area, _where(mask, drawn))

    for ink in np.unique(labels[drawn]).tolist():
        mine = labels == ink
        pieces, _ = ndimage.label(mine, structure=np.ones((3, 3)))
        size = np.bincount(pieces.ravel())
        there = np.bincount(pieces.ravel(), (shown == ink).ravel())
        gone = (there < LOST_BELOW * size) & (size >= SMALLEST_BEADS * px_per_bead)
        gone[0] = False
        for number in np.flatnonzero(gone):
            yield part("part", ink, ink, pieces == number)
        rest = mine & ~gone[pieces]
        for missing in _missing(rest, shown == ink, px_per_pitch, px_per_bead):
            yield part("branch", ink, ink, missing)
    openings = _openings(drawn, 0.5 * OPENING_PITCHES * px_per_pitch)
    # where another colour of the sketch grew over the ground
    for missing in _missing(~drawn, shown == ground, px_per_pitch, px_per_bead, openings):
        if missing.sum() < OPENING_BEADS * px_per_bead:
            continue
        ring = ndimage.binary_dilation(missing, np.ones((3, 3)), int(px_per_pitch / 2)) & drawn
        if ring.any():
            yield part("opening", ground, int(np.bincount(labels[ring]).argmax()), missing)


def _labels(scene: Scene) -> Ints:
    """The ink of each pixel of the sketch's planes."""
    planes, inks = scene.source.planes, scene.inks
    return ink_labels(planes[..., 4 : 4 + len(inks.bead)], planes[..., 3], inks.ground)


def _shown(scene: Scene, found: Found) -> Ints:
    """The ink of the bead that lies over each pixel of the sketch's planes."""
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


def _missing(
    mask: Bools,
    shown: Bools,
    px_per_pitch: float,
    px_per_bead: float,
    within: Bools | None = None,
) -> Iterator[Bools]:
    """The connected pieces of a mask that lie far from where it is shown."""
    from scipy import ndimage

    if not mask.any():
        return
    beside = _spread(mask & shown, mask, BESIDE_PITCHES * px_per_pitch)
    away = mask & ~beside
    if not away.any():
        return
    pieces, _ = ndimage.label(away if within is None else away & within, np.ones((3, 3)))
    size = np.bincount(pieces.ravel())
    missed = np.zeros(len(size), dtype=bool)
    reached, reach = beside, BESIDE_PITCHES
    for far, area in (STUB, LINE):
        reached = _spread(reached, mask, (far - reach) * px_per_pitch)
        reach = far
        beyond = np.unique(pieces[mask & ~reached])
        missed[beyond[size[beyond] >= area * px_per_bead]] = True
    missed[0] = False
    for number in np.flatnonzero(missed):
        yield pieces == number


def _spread(start: Bools, mask: Bools, reach_px: float) -> Bools:
    """Everything of a mask within a way of some pixels that does not leave it."""
    from scipy import ndimage

    # crosses and squares in turn make octagons
    cross, square = ndimage.generate_binary_structure(2, 1), np.ones((3, 3))
    for step in range(round(reach_px)):
        start = ndimage.binary_dilation(start, square if step % 2 else cross, mask=mask) | start
    return start


def _openings(drawn: Bools, reach_px: float) -> Bools:
    """The ground that shapes enclose, and what lies between them closer than twice the reach."""
    from scipy import ndimage

    room = int(np.ceil(reach_px)) + 1
    padded = np.pad(drawn, room)
    near = ndimage.distance_transform_edt(~padded) <= reach_px
    closed = ndimage.distance_transform_edt(near) > reach_px
    openings = (closed | ndimage.binary_fill_holes(padded)) & ~padded
    return np.asarray(openings[room:-room, room:-room])


# -- what would keep it ------------------------------------------------------------------------


class _Remedies:
    """What keeps which parts; a size or a braid is searched once, when it is first asked for."""

    def __init__(self, scene: Scene, bead: BeadSize, parts: Sequence[Part]) -> None:
        self.scene, self.bead, self.parts = scene, bead, parts
        self._lattice = cache(self._lattice_of)
        self.kept = cache(self._kept)

    def of(self, number: int) -> tuple[float | None, int | None, bool]:
        """Return the size, the strands, and whether a turn along the braid, that keep a part."""
        larger = self._larger(number)
        strands = next((many for many in self._braids() if self._keeps(number, 1.0, many)), None)
        turned = larger is None and strands is None and self._turns(number)
        return larger, strands, turned

    def _larger(self, number: int) -> float | None:
        """The first size that keeps a part, unless by luck: the next one must keep it too."""
        before = None
        for scale in self._sizes():
            kept = self._keeps(number, scale)
            if kept and before is not None:
                return before
            before = scale if kept else None
        return before

    def _keeps(self, number: int, scale: float, strands: int = 0, turn_deg: float = 0.0) -> bool:
        here = self.scene.tile.lattice
        lattice = self._lattice(strands)
        if lattice is None:
            return False
        grown_mm = self.parts[number].width_mm * scale * lattice.radius_mm / here.radius_mm
        drawn_again = self.scene.strokes.share >= LINE_DRAWING
        if grown_mm < HOPELESS_PITCHES * lattice.pitch_mm and not drawn_again:
            return False
        return bool(self.kept(scale, strands, turn_deg)[number])

    def _lattice_of(self, strands: int) -> Lattice | None:
        """The braid as it is, or with so many strands if there is such a braid."""
        here = self.scene.tile.lattice
        if not strands:
            return here
        try:
            braid = Braid(strands, here.braid.lay, here.braid.turn)
        except WrongUsage:
            return None
        return Lattice.computed(braid, self.bead)

    def _sizes(self) -> Iterator[float]:
        placement = self.scene.placement
        lattice = self.scene.tile.lattice
        room = lattice.circumference_mm if placement.fit == "wrap" else 2 * lattice.radius_mm
        return (scale for scale in LARGER if placement.width_mm * scale <= room + 1e-6)

    def _braids(self) -> Iterator[int]:
        return (strands for strands in STRANDS if strands > self.scene.tile.lattice.braid.strands)

    def _turns(self, number: int) -> bool:
        """Whether a wide motif grows by a turn, and by enough."""
        placement = self.scene.placement
        times = placement.width_mm / placement.height_mm
        return times > 1.2 and self._keeps(number, times, 0, 90.0)

    def _kept(self, scale: float, strands: int, turn_deg: float) -> Bools:
        """Which parts a quick search keeps."""
        scene, lattice = self.scene, self._lattice(strands)
        assert lattice is not None
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
            return np.zeros(len(self.parts), dtype=bool)
        placement = replace(placement, centres=((placement.front_deg, tile.middle_mm),))
        other = replace(scene, tile=tile, placement=placement)
        shown = _shown(other, seek(other, Effort(scale=False, turn=False, quick=True)))
        return np.array([(shown[p.mask] == p.ink).mean() >= KEPT_FROM for p in self.parts])
