"""A plain back, and accents: repeatable, near a motif, never touching, never on the back."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.accents import plain_back, scatter
from himotif.core.design.design import Design, Repeat
from himotif.core.design.drops import drop_directions
from himotif.core.design.loads import fold_parts, stringing
from himotif.core.errors import WrongUsage
from hypothesis import given, settings
from hypothesis import strategies as st

EIGHT = bead_size("8/0")
PALETTE = (
    Bead("A", "oyster", (243, 238, 225)),
    Bead("M", "moon", (28, 41, 71)),
    Bead("L", "samphire", (90, 120, 60)),
    Bead("P", "sea pink", (200, 120, 150)),
)


@cache
def moons(strands: int = 8, lay: str = "S", count: int = 6) -> Design:
    """A small moon on the front, over and over."""
    lattice = Lattice.computed(Braid(strands, lay), EIGHT)
    per_round = lattice.braid.beads_per_round
    back = lattice.face_return(2)
    beads = np.zeros(per_round * back.rounds * count, dtype=int)
    crossing = np.arange(len(beads))
    middle = back.rounds * lattice.rise_mm / 2
    moon = np.hypot(lattice.x_mm(crossing), lattice.height_mm(crossing) - middle) < 3
    for times in range(count):
        beads[back.crossing(crossing[moon], lattice.braid, times)] = 1
    repeat = Repeat(0, back.rounds, back.flip, count)
    return Design(lattice, EIGHT, PALETTE, beads, repeat=repeat)


def cells_that_touch(lattice: Lattice, count: int) -> set[tuple[int, int]]:
    """Beads whose cells share an edge of some length, seen on a raster of the unrolled braid."""
    step = lattice.pitch_mm / 20
    x = np.arange(-lattice.circumference_mm / 2, lattice.circumference_mm / 2, step)
    top = float(lattice.height_mm(count - 1))
    owner = lattice.owner(x[None, :], np.arange(0, top, step)[:, None], count)
    pairs = [
        np.stack([owner[:-1].ravel(), owner[1:].ravel()], 1),
        np.stack([owner.ravel(), np.roll(owner, 1, axis=1).ravel()], 1),
    ]
    found, times = np.unique(np.sort(np.concatenate(pairs), axis=1), axis=0, return_counts=True)
    return {
        (a, b)
        for (a, b), often in zip(found.tolist(), times.tolist(), strict=True)
        if a != b and often >= 3
    }


@pytest.mark.parametrize("strands", STRANDS)
@settings(max_examples=40)
@given(
    seed=st.integers(0, 2**32 - 1),
    share=st.floats(0.02, 0.9),
    alike=st.booleans(),
    back=st.sampled_from([0.0, 90.0, 150.0]),
)
def test_accents_keep_the_rules(strands, seed, share, alike, back):
    design = moons(strands, count=2)
    made = scatter(
        design,
        {"L": share, "P": 0.05},
        seed=seed,
        plain_back_deg=back,
        alike=alike,
    )
    beads = made.design.beads
    assert np.array_equal(made.accents, beads != design.beads)
    # only background beads, never the back or the side against the skin
    assert np.all(design.beads[made.accents] == design.background)
    lattice = design.lattice
    away = np.abs(lattice.x_mm(np.flatnonzero(made.accents))) / lattice.radius_mm
    assert np.all(away <= np.pi - np.deg2rad(max(back, 120.0)) / 2 + 1e-9)
    # never touching each other
    neighbours = lattice.neighbours(len(beads))
    touching = np.append(made.accents, False)[neighbours].any(axis=1)
    assert not np.any(touching & made.accents)
    # as many as asked for, or as fit; nothing is counted twice
    for code, index in (("L", 2), ("P", 3)):
        assert made.placed[code] == np.count_nonzero(beads == index)
    assert made.wanted["L"] == round(share * made.room["L"])
    # the same seed gives the same accents
    again = scatter(
        design,
        {"L": share, "P": 0.05},
        seed=seed,
        plain_back_deg=back,
        alike=alike,
    )
    assert np.array_equal(again.design.beads, beads)


@pytest.mark.parametrize("strands", [8, 16])
def test_no_two_accents_share_an_edge_as_drawn(strands):
    design = moons(strands, count=2)
    made = scatter(design, {"L": 0.9}, seed=4)
    accents = set(np.flatnonzero(made.accents).tolist())
    assert len(accents) > 4
    for a, b in cells_that_touch(design.lattice, len(design.beads)):
        assert not (a in accents and b in accents)


@pytest.mark.parametrize("strands", STRANDS)
def test_accents_lie_near_a_motif(strands):
    design = moons(strands, count=2)
    made = scatter(design, {"L": 0.5}, seed=1)
    lattice = design.lattice
    motif = np.flatnonzero(design.beads == 1)
    # two beads away at most: twice the longest step to a neighbour
    reach = 2 * np.hypot(*lattice.offsets_mm.T).max() + 1e-6
    assert made.accents.any()
    for accent in np.flatnonzero(made.accents).tolist():
        right = lattice.chart_x_mm(lattice.azimuth_deg(motif), float(lattice.azimuth_deg(accent)))
        up = lattice.height_mm(motif) - lattice.height_mm(accent)
        assert np.hypot(right, up).min() <= reach


def sides(design: Design, accents: np.ndarray) -> dict[tuple[int, str], int]:
    """Accents by motif and side: right, above, left or below the middle of their moon."""
    lattice, repeat = design.lattice, design.repeat
    counted: dict[tuple[int, str], int] = {}
    for accent in np.flatnonzero(accents).tolist():
        rise = lattice.height_mm(accent) / (repeat.rounds * lattice.rise_mm)
        up = (rise % 1.0 - 0.5) * repeat.rounds * lattice.rise_mm
        right = float(lattice.x_mm(accent))
        side = "above" if up > 0 else "below"
        if abs(right) > abs(up):
            side = "right" if right > 0 else "left"
        counted[int(rise), side] = counted.get((int(rise), side), 0) + 1
    return counted


@pytest.mark.parametrize("alike", [False, True])
def test_accents_lie_on_all_sides_of_every_motif(alike):
    design = moons(24, count=4)
    for seed in range(5):
        made = scatter(design, {"L": 0.2}, seed=seed, alike=alike)
        counted = sides(design, made.accents)
        for motif in range(4):
            assert {side for number, side in counted if number == motif} == {
                *("right", "above", "left", "below")
            }


def test_motifs_get_alike_many_and_not_alike():
    design = moons(16, count=6)
    period = design.repeat.rounds * design.braid.beads_per_round
    made = scatter(design, {"L": 0.1}, seed=2)
    each = made.accents.reshape(6, period)
    assert np.ptp(each.sum(axis=1)) <= 1
    assert len({row.tobytes() for row in each}) == 6


def test_the_share_is_met_where_there_is_room():
    design = moons(16, count=6)
    made = scatter(design, {"L": 0.1, "P": 0.05}, seed=2)
    assert made.placed == made.wanted
    assert made.wanted["L"] == pytest.approx(0.1 * made.room["L"], abs=0.5)
    alike = scatter(design, {"L": 0.1, "P": 0.05}, seed=2, alike=True)
    # whole motifs' worth at a time
    assert abs(alike.placed["L"] - alike.wanted["L"]) <= 3


@pytest.mark.parametrize("strands", STRANDS)
def test_accents_come_again_with_the_repeat(strands):
    design = moons(strands, count=4)
    made = scatter(design, {"L": 0.15}, seed=7, alike=True)
    period = design.repeat.rounds * design.braid.beads_per_round
    beads = made.design.beads
    # from the second to the third motif; the outer ones lack a neighbour on one side
    assert np.array_equal(beads[period : 2 * period], beads[2 * period : 3 * period])
    assert np.count_nonzero(beads == 2) > 0
    other = scatter(design, {"L": 0.15}, seed=7).design.beads
    assert not np.array_equal(other[period : 2 * period], other[2 * period : 3 * period])


def test_lists_fold_what_repeats_and_spell_out_what_does_not():
    design = moons(8, count=8)
    alike = scatter(design, {"L": 0.15}, seed=3, alike=True).design
    different = scatter(design, {"L": 0.15}, seed=3).design
    codes = [bead.code for bead in PALETTE]

    def parts(one):
        return sum(len(fold_parts([codes[index] for index in beads])) for beads in stringing(one))

    assert parts(alike) < parts(different)


def test_another_seed_gives_other_accents():
    design = moons(16)
    drawn = {scatter(design, {"L": 0.2}, seed=seed).design.beads.tobytes() for seed in range(10)}
    assert len(drawn) == 10


def waves(strands: int) -> Design:
    """Lines right round the braid, so that there is ground beside the motif on every side."""
    lattice = Lattice.computed(Braid(strands), EIGHT)
    beads = np.zeros(lattice.braid.beads_per_round * 24, dtype=int)
    beads[(np.arange(len(beads)) // lattice.braid.beads_per_round) % 6 == 0] = 1
    return Design(lattice, EIGHT, (*PALETTE, replace(PALETTE[2], code="D", shape="drop")), beads)


@pytest.mark.parametrize("strands", STRANDS)
@pytest.mark.parametrize("back", [0.0, 90.0, 150.0])
def test_drops_are_never_strewn_against_the_skin(strands, back):
    made = scatter(waves(strands), {"D": 0.2, "L": 0.2}, plain_back_deg=back)
    assert made.placed["D"] > 4
    assert len(drop_directions(made.design).on_skin) == 0
    assert made.room["D"] == made.room["L"]
    drop, round_bead = made.findings
    assert (drop.data["code"], drop.data["drop"]) == ("D", True)
    assert (round_bead.data["code"], round_bead.data["drop"]) == ("L", False)


def test_drops_of_motifs_that_walk_round_keep_off_the_skin_each():
    design = moons(16, count=6)
    lattice = replace(design.lattice, drift_deg=design.lattice.drift_deg + 3.0)
    made = scatter(replace(design, lattice=lattice, palette=waves(16).palette), {"D": 0.5})
    assert made.placed["D"] > 4
    assert len(drop_directions(made.design).on_skin) == 0


def test_too_large_a_share_is_said():
    made = scatter(moons(8), {"L": 1.0}, seed=1)
    assert made.placed["L"] < made.wanted["L"]
    (said,) = made.findings
    counts = made.placed["L"], made.wanted["L"]
    assert (said.data["placed"], said.data["wanted"]) == counts


@pytest.mark.parametrize("sector", [0, 60, 120, 180, 360])
def test_the_back_is_plain(sector):
    lattice = moons(16).lattice
    full = Design(lattice, EIGHT, PALETTE, np.ones(400, dtype=int))
    beads = plain_back(full, sector).beads
    # the share of the braid that is plain is the sector's share of a turn
    assert np.mean(beads == 0) == pytest.approx(sector / 360, abs=0.04)
    to_front = np.abs(lattice.x_mm(np.arange(400))) / lattice.radius_mm
    assert np.all(beads[to_front < np.pi - np.deg2rad(sector) / 2 - 1e-6] == 1)


def test_wrong_codes_come_together():
    with pytest.raises(WrongUsage) as caught:
        scatter(moons(), {"X": 0.6, "A": 0.6})
    assert len(str(caught.value).splitlines()) == 3
