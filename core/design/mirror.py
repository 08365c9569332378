"""The mirror set-up of a design, for working the same braid with the other hand.

Everything is reflected in the vertical plane through the worker and the braid: left and right
change places, front stays front. Pairs swap sides, lay S becomes Z, and the strand that began in
slot k begins in the slot as far on the other side of north. The worker's top stays the worker's
top, so the beads come in the same working order.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING

from ..braid import Braid, Disc
from ..findings import Code, Finding, Remedy
from .design import Design

if TYPE_CHECKING:
    from ..braid import Lay

OF_ONE_HAND = frozenset(
    {
        Code.REMARK,
        Code.LETTER_BACKWARDS,
        Code.SWATCH_OF_OTHER_LAY,
        Code.WALKS,
        Code.SPIRAL,
    }
)
"""What is about the lay, or left and right of the braid; nobody knows what a remark is about."""


def mirror_disc(disc: Disc) -> Disc:
    """Return a disc's start reflected in the axis through its first pair.

    Slots count clockwise, so slot ``s`` becomes ``a + b - s`` where ``a, b`` is the pair at north.
    """
    slots = disc.slots
    first = sum(disc.starts[0])

    def reflect(slot: int) -> int:
        return (first - slot - 1) % slots + 1

    pairs = [(reflect(second), reflect(first)) for first, second in disc.starts]
    # the pair at north stays first; the others now come in the opposite order
    return Disc(slots, (pairs[0], *reversed(pairs[1:])))


def mirror_braid(braid: Braid) -> Braid:
    """Return the braid of the other lay whose every crossing is the mirror image."""
    lay: Lay = "Z" if braid.lay == "S" else "S"
    disc = mirror_disc(braid.start) if braid.own_start else None
    return Braid(braid.strands, lay, braid.turn, disc)


def mirror_strands(braid: Braid) -> list[int]:
    """Return the strand (0-based) of the mirror set-up that each strand's list goes on."""
    # counted from the first pair's counter-clockwise strand; that pair's two change places
    return [(1 - strand) % braid.strands for strand in range(braid.strands)]


def mirror_design(design: Design) -> Design:
    """Return the exact mirror set-up of a design.

    The picture's points stay those of the picture file, which now lies mirrored on the braid;
    its origin says so.

    Returns
    -------
    Design
        Same beads in the same working order on the braid of the other lay. Applied twice it is
        the identity.
    """
    picture = design.picture
    if picture is not None:
        picture = replace(
            picture,
            front_deg=_reflect(picture.front_deg),
            rotate_deg=-picture.rotate_deg if picture.rotate_deg else 0.0,
            centres=tuple((_reflect(azimuth), height) for azimuth, height in picture.centres),
        )
    return replace(
        design,
        lattice=replace(design.lattice, braid=mirror_braid(design.braid)),
        picture=picture,
        origin=replace(design.origin, mirrored=not design.origin.mirrored),
    )


def _reflect(azimuth_deg: float) -> float:
    """An exact reflection: front and back are their own image, and twice is the identity."""
    return azimuth_deg if azimuth_deg % 180.0 == 0 else -azimuth_deg


def still_true(findings: Iterable[Finding]) -> list[Finding]:
    """Return the findings of a design that hold for its mirror set-up as well.

    Those about the lay, where the motif was put, which way it was turned or which way the
    repeats walk are true of the design alone. The parts of a sketch are where they were.
    """
    return [one for one in findings if one.code not in OF_ONE_HAND]


def mirrored_finding(mirrored: Design) -> Finding:
    """Return that a set-up is a mirror image, and the lay that gives the picture unmirrored."""
    return Finding(Code.MIRRORED, {}, (Remedy("lay", mirrored.braid.lay),))


def mirror_findings(design: Design, mirrored: Design) -> list[Finding]:
    """Return what changes in the set-up.

    Parameters
    ----------
    design, mirrored : Design
        A design and its mirror set-up.
    """
    old, new = design.braid, mirrored.braid
    found = [
        mirrored_finding(mirrored),
        Finding(Code.MIRROR_LAY, {"before": old.lay, "after": new.lay}),
        Finding(Code.MIRROR_LISTS),
    ]
    for number, image in enumerate(mirror_strands(old)):
        data = {
            "strand": number + 1,
            "slot": old.start_slots[number],
            "now_strand": image + 1,
            "now_slot": new.start_slots[image],
        }
        found.append(Finding(Code.MIRROR_STRAND, data))
    if mirrored.picture is not None and mirrored.origin.mirrored:
        file = {"file": mirrored.picture.file}
        found.append(Finding(Code.MIRROR_PICTURE, file))
    return found
