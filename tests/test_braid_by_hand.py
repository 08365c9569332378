"""The braid against hands: a second simulation, published slots, and stringing worked on paper.

Sources: the moves of S and Z lay, the usual starts on 32 slots, the turn against the drift of the
pairs, three strands and one as the place to stop: common practice.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise

import numpy as np
import pytest
from himotif.core.bead import bead_size
from himotif.core.braid.braid import STRANDS, Braid, Disc, Lay, Turn
from himotif.core.braid.lattice import Lattice
from himotif.core.errors import WrongUsage
from hypothesis import given
from hypothesis import strategies as st

LAYS: tuple[Lay, ...] = ("S", "Z")
TURNS: tuple[Turn, ...] = ("usual", "other")


class Collision(Exception):
    def __init__(self, crossing: int) -> None:
        self.crossing = crossing


def hands(
    slots: int, starts: list[tuple[int, int]], lay: Lay, turn: Turn, crossings: int
) -> Iterator[tuple[int, int]]:
    """Yield (starting slot, slot reached) of each crossing.

    Written without the program's braid: cords are named by their starting slots and lie in a row
    of slots; the pairs keep their order round the disc, so the disc turns by counting pairs.
    """
    cord: list[int | None] = [None] * (slots + 1)
    for pair in starts:
        for slot in pair:
            cord[slot] = slot
    pairs = [list(pair) for pair in starts]  # slots, (counter-clockwise, clockwise)
    forward = 1 if (lay == "Z") == (turn == "usual") else -1
    at = 0
    for crossing in range(crossings):
        here = pairs[(at + crossing % 2 * (len(pairs) // 2)) % len(pairs)]
        there = pairs[(at + (1 - crossing % 2) * (len(pairs) // 2)) % len(pairs)]
        leave = here.pop(0) if lay == "S" else here.pop()
        # beside the strands that wait opposite: clockwise of them in S lay, else on the other side
        beside = there[-1] + 1 if lay == "S" else there[0] - 1
        reach = (beside - 1) % slots + 1
        if cord[reach] is not None:
            raise Collision(crossing)
        moved = cord[leave]
        assert moved is not None
        cord[leave], cord[reach] = None, moved
        there.insert(len(there) if lay == "S" else 0, reach)
        yield moved, reach
        if crossing % 2:
            at = (at + forward) % len(pairs)


def works(strands: int, lay: Lay, turn: Turn) -> bool:
    try:
        Braid(strands, lay, turn)
    except WrongUsage:
        return False
    return True


WORKABLE = [
    (strands, lay, turn)
    for strands in STRANDS
    for lay in LAYS
    for turn in TURNS
    if works(strands, lay, turn)
]


def test_every_usual_start_works_and_24_only_with_one_turn() -> None:
    refused = {(strands, lay, turn) for strands in STRANDS for lay in LAYS for turn in TURNS} - set(
        WORKABLE
    )
    assert all(strands == 24 for strands, _, _ in refused)
    assert {lay for _, lay, _ in refused} == {"S", "Z"}
    assert len({(lay, turn) for _, lay, turn in refused}) == 2  # one turn each


@pytest.mark.parametrize(("strands", "lay", "turn"), WORKABLE)
def test_slots_agree_with_a_second_simulation(strands: int, lay: Lay, turn: Turn) -> None:
    braid = Braid(strands, lay, turn)
    count = 16 * braid.strands
    worked = [(braid.start_slots[move.strand], move.to_slot) for move in braid.work(count)]
    assert worked == list(hands(32, list(braid.start.starts), lay, turn, count))


@given(st.sampled_from(WORKABLE), st.lists(st.integers(0, 700), min_size=1, max_size=8))
def test_closed_form_is_what_the_slots_do(which: tuple[int, Lay, Turn], asked: list[int]) -> None:
    braid = Braid(*which)
    strands = [move.strand for move in braid.work(max(asked) + 1)]
    for crossing in asked:
        strand = strands[crossing]
        dropped = strands[:crossing].count(strand)
        assert braid.strand_of(crossing) == strand
        assert braid.order_of(crossing) == dropped
        assert braid.crossing_of(strand, dropped) == crossing


@st.composite
def own_discs(draw: st.DrawFn) -> tuple[int, list[tuple[int, int]]]:
    """A disc of 48 or 64 slots with opposite pairs, the first one at north."""
    slots = draw(st.sampled_from((48, 64)))
    axes = draw(st.integers(2, 7))
    places = draw(
        st.lists(
            st.integers(2, slots // 2 - 2), min_size=axes - 1, max_size=axes - 1, unique=True
        ).map(sorted)
    )
    places = [0, *places]
    if any(b - a < 2 for a, b in pairwise(places)):
        places = [a * (slots // 2) // axes for a in range(axes)]
    firsts = places + [place + slots // 2 for place in places]
    return slots, [((first - 1) % slots + 1, first % slots + 1) for first in firsts]


@given(own_discs(), st.sampled_from(LAYS), st.sampled_from(TURNS))
def test_own_discs_work_or_are_refused_with_the_move(
    disc: tuple[int, list[tuple[int, int]]], lay: Lay, turn: Turn
) -> None:
    slots, starts = disc
    strands = 2 * len(starts)
    count = 12 * strands
    try:
        expected = list(hands(slots, starts, lay, turn, count))
    except Collision as collision:
        with pytest.raises(WrongUsage, match=rf"crossing {collision.crossing + 1} would") as caught:
            Braid(strands, lay, turn, Disc(slots, tuple(starts)))
        assert "filled" in str(caught.value)
        return
    braid = Braid(strands, lay, turn, Disc(slots, tuple(starts)))
    worked = [(braid.start_slots[move.strand], move.to_slot) for move in braid.work(count)]
    assert worked == expected
    closed = np.asarray(braid.start_slots)[braid.strand_of(np.arange(count))]
    assert closed.tolist() == [cord for cord, _ in expected]


def test_a_collision_names_move_and_slots() -> None:
    lay, turn = next((lay, turn) for lay in LAYS for turn in TURNS if not works(24, lay, turn))
    starts = list(Braid(24, lay, "other" if turn == "usual" else "usual").start.starts)
    with pytest.raises(Collision) as met:
        list(hands(32, starts, lay, turn, 96))
    with pytest.raises(WrongUsage) as caught:
        Braid(24, lay, turn)
    assert f"crossing {met.value.crossing + 1} " in str(caught.value)
    assert f"{lay} lay" in str(caught.value)


@pytest.mark.parametrize(
    ("lay", "turn", "moves"),
    [
        # S lay is +18, Z lay +14 on 32 slots; the turn goes to the left in S lay, to the right in Z
        ("S", "usual", [(32, 18), (16, 2), (24, 10), (8, 26)]),
        ("Z", "usual", [(1, 15), (17, 31), (9, 23), (25, 7)]),
    ],
)
def test_first_moves_of_eight_strands(lay: Lay, turn: Turn, moves: list[tuple[int, int]]) -> None:
    assert [(m.from_slot, m.to_slot) for m in Braid(8, lay, turn).work(4)] == moves


@pytest.mark.parametrize(("strands", "lay", "turn"), WORKABLE)
def test_place_to_stop_is_three_and_one(strands: int, lay: Lay, turn: Turn) -> None:
    """Between the two crossings of an axis one pair holds three strands, the opposite one one."""
    braid = Braid(strands, lay, turn)
    at = list(braid.start_slots)
    for move in braid.work(6 * strands):
        assert at[move.strand] == move.from_slot
        at[move.strand] = move.to_slot
        held = _strands_beside_each_other(sorted(at), 32, braid.pairs, move.from_slot, move.to_slot)
        if move.crossing % 2 == 0:
            assert held == (1, 3)
        else:
            assert held == (2, 2)


def _strands_beside_each_other(
    filled: list[int], slots: int, pairs: int, left: int, reached: int
) -> tuple[int, int]:
    """Strands in the group that was left and in the group that was reached.

    Groups may touch when 24 strands fill the disc, so a group is what lies within two slots of
    the slot in question on the side on which its pair waits.
    """
    lay_up = (reached - left) % slots > slots // 2  # S lay: +18
    direction = -1 if lay_up else 1
    reached_group = [(reached + direction * k - 1) % slots + 1 for k in range(3)]
    left_group = [(left - direction * k - 1) % slots + 1 for k in range(1, 3)]
    return (
        sum(slot in filled for slot in left_group),
        sum(slot in filled for slot in reached_group),
    )


@pytest.mark.parametrize("strands", [8, 12, 16])
@pytest.mark.parametrize("lay", LAYS)
def test_strands_return_to_start_four_slots_on(strands: int, lay: Lay) -> None:
    """After N quarter-moves every strand stands four slots further round (common practice)."""
    braid = Braid(strands, lay)
    at = dict(enumerate(braid.start_slots))
    for moved, move in enumerate(braid.work(2 * strands), 1):
        at[move.strand] = move.to_slot
        back = {(at[s] - braid.start_slots[s]) % 32 for s in at} == {4 if lay == "S" else 28}
        assert back == (moved == 2 * strands)


def test_with_eight_strands_both_turns_are_one_operation() -> None:
    """The two strands of an axis may go in either order: half a turn changes nothing."""
    for lay in LAYS:
        usual, other = ([move.strand for move in Braid(8, lay, turn).work(160)] for turn in TURNS)
        assert [set(usual[n : n + 2]) for n in range(0, 160, 2)] == [
            set(other[n : n + 2]) for n in range(0, 160, 2)
        ]


@pytest.mark.parametrize("strands", [12, 16, 20])
def test_with_more_strands_the_turn_changes_the_braid(strands: int) -> None:
    usual, other = ([m.strand for m in Braid(strands, "S", t).work(64)] for t in TURNS)
    assert [set(usual[n : n + 2]) for n in range(0, 64, 2)] != [
        set(other[n : n + 2]) for n in range(0, 64, 2)
    ]


# An F worked on paper ------------------------------------------------------------------------
#
# 8 strands, usual turn. Strands: 1 = slot 32, 2 = 1 (north), 3 = 8, 4 = 9 (east), 5 = 16, 6 = 17
# (south), 7 = 24, 8 = 25 (west). Each pair is a queue of two; (pair leaving, opposite pair):
#
#   S lay, counter-clockwise strand leaves, north-west-south-east:
#     step 0  N(1 2) S(5 6): 1, 5 cross -> N(2 5) S(6 1)     step 4  N(5 6) S(1 2): 5, 1
#     step 1  W(7 8) E(3 4): 7, 3       -> W(8 3) E(4 7)     step 5  W(3 4) E(7 8): 3, 7
#     step 2  S(6 1) N(2 5): 6, 2       -> S(1 2) N(5 6)     step 6  S(2 5) N(6 1): 2, 6
#     step 3  E(4 7) W(8 3): 4, 8       -> E(7 8) W(3 4)     step 7  E(8 3) W(4 7): 8, 4
#   Z lay, clockwise strand leaves, north-east-south-west:
#     step 0  N(1 2) S(5 6): 2, 6 cross -> N(6 1) S(2 5)     step 4  N(5 6) S(1 2): 6, 2
#     step 1  E(3 4) W(7 8): 4, 8       -> E(8 3) W(4 7)     step 5  E(7 8) W(3 4): 8, 4
#     step 2  S(2 5) N(6 1): 5, 1       -> S(1 2) N(5 6)     step 6  S(6 1) N(2 5): 1, 5
#     step 3  W(4 7) E(8 3): 7, 3       -> W(3 4) E(7 8)     step 7  W(8 3) E(4 7): 3, 7
#   then the same again from step 8. Steps 0-3 drop bead 1 of every strand, 4-7 bead 2, ...
#
# Azimuth of step a in S lay: -67.5 a on the first side, 180 more on the other; the front is south,
# 180, and clockwise runs to the left, so right of the middle by 180 - azimuth. On the front half:
#   a      0     1    2     3      5     6     7    8     9    10    11     13    14    15  (+16)
#   side   2     2    1     1      2     2     1    1     1     2     2      1     1     2
#   right  0  67.5  -45  22.5  -22.5    45 -67.5    0  67.5   -45  22.5  -22.5    45 -67.5
# Steps 4 and 12 fall on the edges. Z lay: the same with right and left exchanged.
#
# The F, in steps up and degrees to the right: stem 5..28, -70..-10; upper bar 24..28, -70..70;
# middle bar 14..19, -70..50. Going up the front and reading strand and bead number off the tables:
#   S: 5 (7:2)  7 (8:2)  10 (2:3)  13 (3:4)  14 (2:4)  15 (4:4)  16 (5:5)  18 (6:5)  19 (4:5)
#      21 (7:6)  23 (8:6)  24 (1:7)  25 (7:7)  26 (2:7)  27 (8:7)
#   Z: 6 (5:2)  9 (4:3)  11 (3:3)  14 (1:4)  16 (6:5)  17 (8:5)  18 (5:5)  19 (7:5)  22 (5:6)
#      24 (2:7)  25 (4:7)  26 (1:7)  27 (3:7)

F_BARS = ((5, 28, -70, -10), (24, 28, -70, 70), (14, 19, -70, 50))
F_ON_PAPER: dict[Lay, list[str]] = {
    "S": [
        "......#.",
        "..##..#.",
        "...#....",
        "...##...",
        "....#...",
        "....#...",
        ".#...##.",
        ".#...##.",
    ],
    "Z": [
        "...#..#.",
        "......#.",
        "..#...#.",
        "..#...#.",
        ".#..##..",
        "....#...",
        "....#...",
        "....#...",
    ],
}


def _drawn_on_the_chart(lay: Lay, *, mirrored: bool = False) -> list[str]:
    braid = Braid(8, lay)
    lattice = Lattice.computed(braid, bead_size("8/0"))
    beads = np.arange(64)
    right_deg = np.rad2deg(lattice.x_mm(beads) / lattice.radius_mm) * (-1 if mirrored else 1)
    up = 2 * lattice.height_mm(beads) / lattice.rise_mm
    dark = np.zeros(64, dtype=bool)
    for low, high, left, right in F_BARS:
        dark |= (up > low - 0.5) & (up < high + 0.5) & (right_deg > left) & (right_deg < right)
    strung = dark[braid.crossing_of(np.arange(8)[:, None], np.arange(8))]
    return ["".join("#" if bead else "." for bead in row) for row in strung]


@pytest.mark.parametrize("lay", LAYS)
def test_the_letter_f_is_strung_as_on_paper(lay: Lay) -> None:
    assert _drawn_on_the_chart(lay) == F_ON_PAPER[lay]
    assert _drawn_on_the_chart(lay, mirrored=True) != F_ON_PAPER[lay]


@pytest.mark.parametrize("lay", LAYS)
def test_the_paper_lists_worked_on_the_slots_show_an_f(lay: Lay) -> None:
    """Drop the paper's beads move by move and look at the front: it is the F, read by eye."""
    slot_order = [32, 1, 8, 9, 16, 17, 24, 25]
    starts = [(32, 1), (8, 9), (16, 17), (24, 25)]
    dropped = dict.fromkeys(slot_order, 0)
    rows: dict[int, list[str]] = {}
    for crossing, (cord, _) in enumerate(hands(32, starts, lay, "usual", 64)):
        bead = F_ON_PAPER[lay][slot_order.index(cord)][dropped[cord]]
        dropped[cord] += 1
        step, side = divmod(crossing, 2)
        sign = -1 if lay == "S" else 1
        azimuth = (sign * 67.5 * step + 180 * side) % 360
        column = round((180 - azimuth) / 22.5) + 3  # seven columns on the front
        if 0 <= column < 7:
            rows.setdefault(step, [" "] * 7)[column] = bead
    seen = ["".join(rows.get(step, [" "] * 7)).rstrip() for step in range(27, 4, -1)]
    assert seen == F_SEEN[lay]


F_SEEN: dict[Lay, list[str]] = {
    "S": [
        "    #",
        " #",
        "      #",
        "   #",
        "#",
        "     .",
        "  #",
        "",
        "    #",
        " #",
        "      .",
        "   #",
        "#",
        "     #",
        "  #",
        "",
        "    .",
        " #",
        "      .",
        "   .",
        "#",
        "     .",
        "  #",
    ],
    "Z": [
        "  #",
        "     #",
        "#",
        "   #",
        "      .",
        " #",
        "    .",
        "",
        "  #",
        "     #",
        "#",
        "   #",
        "      .",
        " #",
        "    .",
        "",
        "  #",
        "     .",
        "#",
        "   .",
        "      .",
        " #",
        "    .",
    ],
}
