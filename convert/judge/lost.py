"""What of a flat sketch is lost between the beads, and what would keep it.

A connected part of the sketch may be lost as a whole; of a part that is there a branch may be lost,
the middle bar of an F or a beak; and an opening may close, the eye of an A or the gap between two
bars. All three are places of the sketch that no bead of their colour comes near, measured along the
part: a bar is not kept by the beads of the next bar across the gap.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np
import numpy.typing as npt

from ...core.findings import Code, Finding
from ...core.show.distortion import PIECE_LOST_PERCENT
from ..fit.search import LINE_DRAWING, Found, Scene
from .alternatives import Elsewhere, along, drawn_inks, larger, shown_inks

if TYPE_CHECKING:
    from ...palette.palette import Palette

Ints = npt.NDArray[np.intp]
Bools = npt.NDArray[np.bool_]
Kind = Literal["part", "branch", "opening"]
Where = Literal["top", "bottom", "left", "right"]

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

HOPELESS_PITCHES = 0.3
"""Only by luck does a narrower part get a bead: a size at which it is no wider is not tried."""


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
    where : tuple of str
        In which third of the motif it lies, down and across; none for the middle.
    """

    kind: Kind
    ink: int
    within: int
    mask: Bools
    width_mm: float
    area_beads: float
    where: tuple[Where, ...]


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


def find_lost(scene: Scene, found: Found, elsewhere: Elsewhere | None) -> list[Lost]:
    """Return what is lost, the largest first, the first few with what would keep them.

    Parameters
    ----------
    scene : Scene
        Of a flat sketch.
    found : Found
    elsewhere : Elsewhere or None
        Of the same sketch, or None to look for no remedies.
    """
    lost = sorted(_lost_parts(scene, found), key=lambda part: -part.area_beads)
    if elsewhere is None:
        return [Lost(part) for part in lost]
    remedies = _Remedies(elsewhere, lost[:TOLD])
    return [
        Lost(part, *remedies.of(number)) if number < TOLD else Lost(part)
        for number, part in enumerate(lost)
    ]


# -- as findings -------------------------------------------------------------------------------

CODES: dict[Kind, Code] = {
    "part": Code.LOST_PART,
    "branch": Code.LOST_BRANCH,
    "opening": Code.LOST_OPENING,
}


def lost_findings(lost: Sequence[Lost], palette: Palette, elsewhere: Elsewhere) -> list[Finding]:
    """Return what is to be said about lost parts, at most three of them one by one.

    Parameters
    ----------
    lost : sequence of Lost
    palette : Palette
    elsewhere : Elsewhere
        Of the same sketch.
    """
    findings = [_finding(one, palette, elsewhere) for one in lost[:TOLD]]
    if len(lost) > TOLD:
        more = {"count": len(lost) - TOLD}
        findings.append(Finding(Code.LOST_MORE, more))
    return findings


def _finding(one: Lost, palette: Palette, elsewhere: Elsewhere) -> Finding:
    scene, part = elsewhere.scene, one.part
    bead = palette.beads[int(scene.inks.bead[part.within])]
    pitch_mm = scene.tile.lattice.pitch_mm
    needed_mm = 1.2 * pitch_mm
    remedies = []
    if one.larger is not None:
        remedies.append(larger(scene.placement, one.larger))
    if one.strands is not None:
        remedies.append(elsewhere.on_strands(one.strands))
    if one.turned and not remedies:
        remedies.append(along(scene.placement))
    data = {
        "name": bead.name,
        "code": bead.code,
        "where": list(part.where),
        "width_mm": round(part.width_mm, 1),
        "pitch_mm": round(pitch_mm, 2),
        "needed_mm": round(needed_mm, 1),
        "hopeless": needed_mm > 4 * part.width_mm and part.kind != "opening",
    }
    return Finding(CODES[part.kind], data, tuple(remedies))


def _where(mask: Bools, drawn: Bools) -> tuple[Where, ...]:
    """The place of a part in the motif; none for the middle."""
    sides: list[Where] = []
    thirds: tuple[tuple[Where, Where], ...] = (("top", "bottom"), ("left", "right"))
    for axis, (low, high) in enumerate(thirds):
        extent = np.flatnonzero(drawn.any(axis=1 - axis))
        middle = (np.nonzero(mask)[axis].mean() - extent[0] + 0.5) / (np.ptp(extent) + 1)
        if not 1 / 3 <= middle <= 2 / 3:
            sides.append(low if middle < 1 / 3 else high)
    return tuple(sides)


# -- what is lost ------------------------------------------------------------------------------


def _lost_parts(scene: Scene, found: Found) -> Iterator[Part]:
    """Everything that no bead of its colour shows."""
    from scipy import ndimage

    labels, shown, ground = drawn_inks(scene), shown_inks(scene, found), scene.inks.ground
    drawn = labels != ground
    if not drawn.any():
        return
    px_per_mm = scene.placement.px_per_mm * scene.source.scale
    px_per_pitch = px_per_mm * scene.tile.lattice.pitch_mm
    px_per_bead = scene.tile.lattice.cell_area_mm2 * px_per_mm**2

    def part(kind: Kind, ink: int, within: int, mask: Bools) -> Part:
        # twice as large, its middle is as deep as it is wide, be that an odd or an even number
        (rows, columns), *_ = ndimage.find_objects(mask.astype(np.int8))
        larger = np.pad(mask[rows, columns].repeat(2, axis=0).repeat(2, axis=1), 1)
        width_mm = float(ndimage.distance_transform_edt(larger).max()) / px_per_mm
        area = int(mask.sum()) / px_per_bead
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
    """What keeps which parts."""

    def __init__(self, elsewhere: Elsewhere, parts: Sequence[Part]) -> None:
        self.elsewhere, self.parts = elsewhere, parts
        self.kept = cache(self._kept)

    def of(self, number: int) -> tuple[float | None, int | None, bool]:
        """Return the size, the strands, and whether a turn along the braid, that keep a part."""
        larger = self._larger(number)
        braids = self.elsewhere.braids()
        strands = next((many for many in braids if self._keeps(number, 1.0, many)), None)
        grown = self.elsewhere.turned()
        turned = larger is None and strands is None and grown is not None
        return larger, strands, turned and self._keeps(number, grown or 1.0, 0, 90.0)

    def _larger(self, number: int) -> float | None:
        """The first size that keeps a part, unless by luck: the next one must keep it too."""
        before = None
        for scale in self.elsewhere.sizes():
            kept = self._keeps(number, scale)
            if kept and before is not None:
                return before
            before = scale if kept else None
        return before

    def _keeps(self, number: int, scale: float, strands: int = 0, turn_deg: float = 0.0) -> bool:
        scene, lattice = self.elsewhere.scene, self.elsewhere.lattice(strands)
        if lattice is None:
            return False
        grown = scale * lattice.radius_mm / scene.tile.lattice.radius_mm
        grown_mm = self.parts[number].width_mm * grown
        drawn_again = scene.strokes.share >= LINE_DRAWING
        if grown_mm < HOPELESS_PITCHES * lattice.pitch_mm and not drawn_again:
            return False
        return bool(self.kept(scale, strands, turn_deg)[number])

    def _kept(self, scale: float, strands: int, turn_deg: float) -> Bools:
        """Which parts a quick search keeps."""
        there = self.elsewhere.at(scale, strands, turn_deg)
        if there is None:
            return np.zeros(len(self.parts), dtype=bool)
        shown = shown_inks(*there)
        return np.array([(shown[p.mask] == p.ink).mean() >= KEPT_FROM for p in self.parts])
