"""Published counts and the trade's small facts, found again in simulated cloth.

Nothing here uses the formula for a bead's strand: strands come from working the slots, and two
cloths are compared as coloured beads in space.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
import pytest
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid, Lay
from himotif.core.braid.lattice import Lattice

LAYS: tuple[Lay, ...] = ("S", "Z")

# Numbers of two-colour layouts that give different cloth, the plain cord among them.
# OEIS A000011 ("number of n-bead necklaces, turning over allowed, complements equivalent"),
# n = 8, 12, 16; for 16 strands, less the plain cord, the 1,157 of the printed catalogue and the
# four it was short of: "Changing Spots: Using Combinatorics to Count Japanese Braiding Patterns",
# Bridges 2022, pp. 327-330.
CLOTHS = {8: 18, 12: 122, 16: 1157 + 4 + 1}

# Starting slots along the row helix, Z lay, usual turn, as published with the counts above.
RINGS_Z = {
    8: (1, 9, 16, 24, 17, 25, 32, 8),
    12: (1, 6, 12, 16, 21, 27, 17, 22, 28, 32, 5, 11),
    16: (1, 5, 9, 13, 16, 20, 24, 28, 17, 21, 25, 29, 32, 4, 8, 12),
}


@cache
def cloth(strands: int, lay: Lay) -> tuple[Lattice, np.ndarray]:
    """A braid worked on the slots: its lattice, and the strand of each bead."""
    braid = Braid(strands, lay)
    worked = [move.strand for move in braid.work(8 * strands)]
    return Lattice.computed(braid, bead_size("8/0")), np.array(worked)


def lattice_motions(lattice: Lattice, repeat: int) -> list[np.ndarray]:
    """Rigid motions that carry the beads of an endless braid onto beads, as permutations.

    Found in space: every screw that takes bead 0 to bead k, and every half turn about a line
    across the braid that does so, is tried on beads of a long stretch; those that put every bead
    upon a bead stay. Beads are numbered within `repeat`.
    """
    stretch = np.arange(-2 * repeat, 3 * repeat)
    azimuth, height = lattice.azimuth_deg(stretch), lattice.height_mm(stretch)
    first, tried = np.arange(repeat), np.arange(repeat)
    found = []
    for sense in (1, -1):  # a half turn across the braid turns azimuth and height over
        for goal in tried:
            turned = sense * lattice.azimuth_deg(first) + lattice.azimuth_deg(goal)
            moved = sense * lattice.height_mm(first) + lattice.height_mm(goal)
            off = (turned[:, None] - azimuth + 180) % 360 - 180
            meets = (np.abs(off) < 1e-6) & (np.abs(moved[:, None] - height) < 1e-6)
            if meets.any(axis=1).all():
                found.append(stretch[meets.argmax(axis=1)] % repeat)
    return found


def mirror_keeps_the_lattice(lattice: Lattice, repeat: int) -> bool:
    """Whether any reflection in a plane through the braid's axis puts bead on bead."""
    beads = np.arange(repeat)
    here = np.stack([lattice.azimuth_deg(beads), lattice.height_mm(beads)], 1)
    for goal in range(repeat):
        if abs(lattice.height_mm(goal)) > 1e-9:
            continue
        turned = -here[:, 0] + lattice.azimuth_deg(goal)
        off = (turned[:, None] - here[:, 0] + 180) % 360 - 180
        meets = (np.abs(off) < 1e-6) & (np.abs(here[:, None, 1] - here[:, 1]) < 1e-6)
        if meets.any(axis=1).all():
            return True
    return False


def repeat_of(worked: np.ndarray) -> int:
    """Beads after which strands drop beads in the same order again."""
    return next(
        n for n in range(2, len(worked) // 2, 2) if (worked[n:] == worked[: len(worked) - n]).all()
    )


def canonical_cloths(strands: int, lay: Lay) -> np.ndarray:
    """The smallest picture, in bits, among all that equal each layout's cloth; (2**strands,)."""
    lattice, worked = cloth(strands, lay)
    repeat = repeat_of(worked)
    assert repeat <= 32
    best = np.full(2**strands, np.iinfo(np.uint64).max, dtype=np.uint64)
    plain = np.uint64(2**repeat - 1)
    for motion in lattice_motions(lattice, repeat):
        pictures = np.zeros(1, dtype=np.uint64)
        for strand in range(strands):  # the dark beads of a layout: those of its dark strands
            carried = motion[np.flatnonzero(worked[:repeat] == strand)]
            bits = np.bitwise_or.reduce(np.uint64(1) << carried.astype(np.uint64))
            pictures = np.concatenate([pictures, pictures | bits])
        np.minimum(best, pictures, out=best)
        np.minimum(best, plain ^ pictures, out=best)  # colours exchanged
    return best


@pytest.mark.parametrize("lay", LAYS)
@pytest.mark.parametrize("strands", [8, 12, 16])
def test_number_of_different_two_colour_cloths(strands: int, lay: Lay) -> None:
    assert len(np.unique(canonical_cloths(strands, lay))) == CLOTHS[strands]


@pytest.mark.parametrize("strands", [8, 12, 16])
def test_the_lattice_has_a_two_fold_axis_and_no_mirror(strands: int) -> None:
    lattice, worked = cloth(strands, "S")
    repeat = repeat_of(worked)
    motions = {tuple(motion) for motion in lattice_motions(lattice, repeat)}
    assert len(motions) == 2 * repeat  # one screw and one half turn for every bead of a repeat
    assert not mirror_keeps_the_lattice(lattice, repeat)


@pytest.mark.parametrize("strands", [8, 12, 16])
def test_ring_of_starting_slots(strands: int) -> None:
    """Follow the row helix of Z lay: next pair, next axis, always the pair at the worker's top."""
    braid = Braid(strands, "Z")
    slots = [braid.start_slots[move.strand] for move in braid.work(4 * strands)]
    ring = RINGS_Z[strands]
    assert tuple(slots[0 : 2 * strands : 2]) == ring
    place = {slot: index for index, slot in enumerate(ring)}
    # across the braid half the ring; up a column (the other side, one round on) a quarter back
    for crossing in range(2 * strands):
        here = place[slots[crossing]]
        assert place[slots[crossing ^ 1]] == (here + strands // 2) % strands
        above = (crossing + braid.beads_per_round) ^ 1
        assert place[slots[above]] == (here - strands // 4) % strands


def test_seven_half_and_half_layouts_five_without_mirror_images() -> None:
    """Eight strands, four of each colour (common practice).

    Layouts count once that are mirror images on the disc (slot 1 for slot 32), or become so while
    they are worked: worked in the other lay they give the mirror image of the cloth.
    """
    classes = canonical_cloths(8, "S")
    slots = Braid(8, "S").start_slots
    mirror = [slots.index(33 - slot) for slot in slots]
    groups: list[set[int]] = []
    for dark in combinations(range(8), 4):
        here = sum(1 << strand for strand in dark)
        there = sum(1 << mirror[strand] for strand in dark)
        joined = {int(classes[here]), int(classes[there])}
        joined |= {word for group in groups if group & joined for word in group}
        groups = [group for group in groups if not group & joined] + [joined]
    assert sum(len(group) for group in groups) == 7
    assert len(groups) == 5


def test_the_mirror_of_a_cloth_is_the_mirrored_layout_in_the_other_lay() -> None:
    braid_s, braid_z = Braid(8, "S"), Braid(8, "Z")
    s_slots = [braid_s.start_slots[m.strand] for m in braid_s.work(64)]
    z_slots = [braid_z.start_slots[m.strand] for m in braid_z.work(64)]
    assert [33 - slot for slot in s_slots] == z_slots
    s, z = (Lattice.computed(b, bead_size("8/0")) for b in (braid_s, braid_z))
    beads = np.arange(64)
    assert (s.azimuth_deg(beads) + z.azimuth_deg(beads)) % 360 % 360 == pytest.approx(
        np.zeros(64), abs=1e-9
    )


def test_one_bead_and_its_six_neighbours() -> None:
    """S lay, eight strands, repeated every eight rounds (common practice)."""
    lattice, worked = cloth(8, "S")
    repeat, inside = 32, 16  # beads; so that no neighbour lies beyond the ends
    pairs = _pairs_on_the_disc(lattice.braid, repeat + inside)
    for centre in range(inside, inside + repeat):
        near = lattice.neighbours(len(worked))[centre]
        spot = {centre % repeat, *(int(bead) % repeat for bead in near)}
        assert len(spot) == 7
        off = (lattice.azimuth_deg(near) - lattice.azimuth_deg(centre) + 180) % 360 - 180
        assert np.abs(off).max() == pytest.approx(67.5)
        lists = {
            strand: [int(bead in spot) for bead in np.flatnonzero(worked[:repeat] == strand)]
            for strand in range(8)
        }
        carried = {strand: sum(beads) for strand, beads in lists.items()}
        assert carried[int(worked[centre])] == 1
        twos, ones, none = (
            {strand for strand, beads in carried.items() if beads == many} for many in (2, 1, 0)
        )
        assert (len(twos), len(ones), len(none)) == (2, 3, 3)
        assert twos in pairs[centre]
        for strand in twos:  # two on, two off
            assert any((np.roll(lists[strand], k) == (1, 1, 0, 0)).all() for k in range(4))
        assert any(pair < none for pair in pairs[centre])


def _pairs_on_the_disc(braid: Braid, crossings: int) -> list[list[set[int]]]:
    """The strands that sit side by side on the disc as the axis of each crossing is begun."""
    at = {slot: strand for strand, slot in enumerate(braid.start_slots)}
    axes: list[list[set[int]]] = []
    for move in braid.work(crossings):
        if move.crossing % 2 == 0:
            # gaps part the pairs: each begins after an empty slot
            firsts = [slot for slot in at if (slot - 2) % 32 + 1 not in at]
            axes += 2 * [[{at[slot], at[slot % 32 + 1]} for slot in firsts]]
        at[move.to_slot] = at.pop(move.from_slot)
    return axes


@pytest.mark.parametrize("lay", LAYS)
def test_opposite_pairs_alike_give_diagonal_stripes(lay: Lay) -> None:
    """North and south one colour, east and west another (common practice)."""
    lattice, worked = cloth(8, lay)
    slots = np.array(lattice.braid.start_slots)[worked]
    light = np.isin(slots, (32, 1, 16, 17))
    near = lattice.neighbours(len(worked))
    inner = np.flatnonzero((near >= 0).all(axis=1))
    same = light[near[inner]] == light[inner, None]
    assert (same.sum(axis=1) == 2).all()  # one bead wide: one like neighbour either way along it
    for bead, alike in zip(inner, same, strict=True):
        along = near[bead][alike]
        up = along[lattice.height_mm(along) > lattice.height_mm(bead)]
        down = along[lattice.height_mm(along) < lattice.height_mm(bead)]
        assert (len(up), len(down)) == (1, 1)
        right = lattice.x_mm(up, front_deg=float(lattice.azimuth_deg(bead)))
        assert (right[0] > 0) == (lay == "Z")  # the stripes lean like the letter
