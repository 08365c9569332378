"""Sheets worked as a reader works them: by a program that knows nothing but their text.

It holds a disc with numbered slots and does what the sentences say, as seen by somebody who sits at
six o'clock: left and right, top and bottom, the next empty slot. The rule "+18 slots" and the braid
of the program are not used.
"""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pypdf
import pytest
from himotif.core.braid.braid import LAYS, STRANDS, TURNS, Braid
from himotif.core.braid.tuck import tucked_under
from himotif.core.design.design import Design
from himotif.core.design.origin import PaperChoice
from himotif.core.drawing.shapes import Text
from himotif.core.errors import WrongUsage
from himotif.core.making.where import place_at
from himotif.core.paper.disc import disc_shapes
from himotif.core.paper.place_wording import place_lines
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.setup import setup_pdf
from himotif.core.paper.sheet_content import SheetContent
from sheet_designs import marsh, unfold

BRAIDS = [
    (n, lay, turn) for n in STRANDS for lay in LAYS for turn in TURNS if (n, turn) != (24, "other")
]


class Hands:
    """A disc in the hands of somebody who reads.

    Parameters
    ----------
    text : str
        Of a sheet, white space made even.
    """

    def __init__(self, text: str) -> None:
        self.slots = int(re.search(r"disc with (\d+) slots", text)[1])
        laid = re.findall(r"(\d+) and (\d+) in slots (\d+) and (\d+)", text)
        self.at = {int(row[2 + k]): int(row[k]) for row in laid for k in (0, 1)}
        down = re.search(
            r"Take the (left|right) strand of the top pair down, into the empty slot to the "
            r"(left|right) of the bottom pair",
            text,
        )
        up = re.search(
            r"Take the outermost (left|right) one up, into the empty slot to the (left|right) of "
            r"the strand at the top",
            text,
        )
        self.down, self.up = down.groups(), up.groups()
        self.turned = re.search(r"Turn the disc (counter-)?clockwise until the next pair", text)[1]
        # the pair at the top: the slots with the highest number and with 1
        self.top = [self.slots, 1]

    def beside(self, slot: int, step: int) -> int:
        return (slot + step - 1) % self.slots + 1

    def round_from(self, slot: int) -> list[int]:
        """Filled slots clockwise from one of them: pairs may touch, so they are counted."""
        return sorted(self.at, key=lambda other: (other - slot) % self.slots)

    def move(self, start: int, target: int) -> tuple[int, int, int]:
        assert target not in self.at, "the slot is filled"
        strand = self.at.pop(start)
        self.at[target] = strand
        return strand, start, target

    def turn(self) -> list[tuple[int, int, int]]:
        """Steps 1 to 3; strand, from and to of both moves."""
        half = len(self.at) // 2
        # at the top clockwise runs to the right, at the bottom to the left
        top = dict(zip(("left", "right"), self.top, strict=True))
        right, left = self.round_from(self.top[0])[half : half + 2]
        target = {"left": self.beside(left, 1), "right": self.beside(right, -1)}[self.down[1]]
        moves = [self.move(top.pop(self.down[0]), target)]
        (alone,) = top.values()
        three = sorted([right, left, target], key=lambda slot: (slot - right + 2) % self.slots)
        outermost = {"left": three[-1], "right": three[0]}[self.up[0]]
        target = self.beside(alone, {"left": -1, "right": 1}[self.up[1]])
        moves.append(self.move(outermost, target))
        # as the disc turns clockwise, what was on the left comes to the top
        first = sorted([alone, target], key=lambda slot: (slot - alone + 1) % self.slots)[0]
        ring = self.round_from(first)
        self.top = ring[2:4] if self.turned else ring[-2:]
        return moves


def lists_of(text: str) -> dict[int, tuple[int, list[str]]]:
    """Slot and beads of every strand, as the sheet or the text for reading aloud has them."""
    sheet = re.findall(r"Strand (\d+), slot (\d+): (.*?) ?= ?\d+ beads", text)
    spoken = re.findall(r"Strand (\d+), slot (\d+), \d+ beads: (.*?)(?= Strand| The same)", text)
    return {int(n): (int(slot), unfold(folded)) for n, slot, folded in sheet or spoken}


def work(text: str) -> tuple[list[str], int]:
    """Beads in the order of crossing, and the strand of the last one."""
    hands = Hands(text)
    per_set = int(re.search(r"(\d+) turns are one set", text)[1])
    for _ in range(int(re.search(r"Work (\d+) sets? of plain braid", text)[1]) * per_set):
        hands.turn()
    ready = re.search(r"strand 1 is in slot (\d+)(?: again)? and strand 2 in slot (\d+)", text)
    assert [hands.at[slot] for slot in hands.top] == [1, 2]
    assert sorted(hands.top) == sorted(map(int, ready.groups()))
    lists = lists_of(text)
    assert {slot: strand for strand, (slot, _) in lists.items()} == hands.at
    named = re.findall(r"first time: strand (\d+), from slot (\d+) to slot (\d+)", text)
    beads: list[str] = []
    total = sum(len(codes) for _, codes in lists.values())
    order = []
    while len(beads) < total:
        for move in hands.turn():
            if len(beads) < 2:
                assert move == tuple(map(int, named[len(beads)]))
            beads.append(lists[move[0]][1].pop(0))
            order.append(move[0])
    checked = re.search(r"cross in this order, each once: ([\d, ]+)\.", text)[1]
    assert order[: len(lists)] == [int(strand) for strand in checked.split(", ")]
    last = re.search(rf"In all: {total} beads, {total // 2} turns.*?on strand (\d+)\.", text)
    return beads, int(last[1]) - order[-1]


def told_plain(design: Design, sets: int) -> SheetContent:
    return SheetContent(replace(design, papers=PaperChoice(plain_sets=sets)), "Heron")


def even(text: str) -> str:
    return re.sub(r"\s+", " ", text)


@pytest.mark.parametrize(
    ("braid", "sets", "rounds"),
    [((8, "S", "usual"), 8, 27), ((12, "Z", "other"), 3, 30), ((24, "S", "usual"), 8, 22)],
)
def test_a_sheet_worked_from_its_text_is_the_design(braid, sets, rounds):
    design = marsh(*braid, colours=5, rounds=rounds)
    content = told_plain(design, sets)
    pdf = pypdf.PdfReader(io.BytesIO(setup_pdf(content)))
    printed = even(" ".join(page.extract_text() for page in pdf.pages))
    for text in (printed, even(stringing_text(content))):
        assert work(text) == (design.codes, 0)


@pytest.mark.parametrize(("strands", "lay", "turn"), BRAIDS)
def test_after_eight_sets_every_strand_is_back_and_not_before(strands, lay, turn):
    """A set moves every strand four slots on, clockwise in S lay: 8 × 4 are the 32 of the disc.

    Worked from the sentences, crossing by crossing; beads after it as after no plain braid.
    """
    braid = Braid(strands, lay, turn)
    hands = Hands(even(stringing_text(told_plain(marsh(strands, lay, turn, rounds=4), 8))))
    way = 4 if lay == "S" else -4
    for sets in range(9):
        stands = {strand: slot for slot, strand in hands.at.items()}
        assert braid.slots_after(sets) == tuple(stands[s] for s in range(1, strands + 1))
        assert (braid.slots_after(sets) == braid.start_slots) == (sets % 8 == 0)
        assert all(
            (slot - start - way * sets) % 32 == 0
            for slot, start in zip(braid.slots_after(sets), braid.start_slots, strict=True)
        )
        moves = [move for _ in range(strands) for move in hands.turn()]
        worked = [(m.strand + 1, m.from_slot, m.to_slot) for m in braid.work(2 * strands, sets)]
        assert moves == worked


@pytest.mark.parametrize("sets", [0, 2, 8])
def test_the_place_is_found_in_the_slots_as_they_are(sets):
    design = told_plain(marsh(12, "Z"), sets).design
    place = place_at(design, 31)
    hands = Hands(even(stringing_text(SheetContent(design))))
    for _ in range(12 * sets + 15):
        hands.turn()
    before = dict(hands.at)
    first, second = hands.turn()
    # between the two steps of the sixteenth turn
    before[first[2]] = before.pop(first[1])
    assert {slot: strand + 1 for slot, strand in place.filled} == before
    assert (place.next.strand + 1, place.next.from_slot, place.next.to_slot) == second
    one, two = design.braid.slots_after(sets)[:2]
    assumed = place_lines(place)[0]
    assert assumed.startswith(f"Assumed: {sets or 'no'} sets of plain braid")
    assert f"strand 1 was in slot {one} and strand 2 in slot {two}" in assumed
    assert place.as_dict()["plain_sets"] == sets


@pytest.mark.parametrize(("strands", "lay", "turn"), BRAIDS)
def test_the_strand_over_the_bead_lies_between_the_middle_and_its_slot(strands, lay, turn):
    """By the chords in millimetres: the newest one that cuts the spoke of the bead's strand."""
    braid = Braid(strands, lay, turn)

    def spot(slot: int) -> complex:
        return complex(np.exp(1j * np.pi * (0.5 - (slot - 0.5) / 16)))

    def cuts(move, slot: int) -> bool:
        a, b, spoke = spot(move.from_slot), spot(move.to_slot), spot(slot)
        # solve a + t (b - a) = r spoke
        t, r = np.linalg.solve(
            [[(b - a).real, -spoke.real], [(b - a).imag, -spoke.imag]], [-a.real, -a.imag]
        )
        return bool(0 < t < 1 and 0 < r < 1)

    moves = list(braid.work(4 * strands + 2))
    for step, move in enumerate(moves[-2:]):
        past = next(m for m in reversed(moves[:-2]) if cuts(m, move.from_slot))
        assert past.crossing // 2 == move.crossing // 2 - 1
        assert past.crossing % 2 + 1 == tucked_under(braid)[step]


@pytest.mark.parametrize(("strands", "lay", "turn"), BRAIDS)
@pytest.mark.parametrize("rounds", [40, 43])
def test_the_second_front_mark_lies_over_the_first(strands, lay, turn, rounds):
    """Both knots in one line: the side that is named and the bead that is named agree."""
    design = marsh(strands, lay, turn, rounds=rounds)
    words = SheetContent(design).finish[0]
    strand = int(re.search(r"that of strand (\d+) lies nearest", words)[1])
    own = [m.crossing for m in design.braid.work(len(design.beads)) if m.strand == strand - 1]
    off = (design.lattice.azimuth_deg(own[-1]) - 180.0 + 180.0) % 360.0 - 180.0
    # the last beads of the strands lie evenly round the braid, in two rows
    assert abs(off) <= 360.0 / strands + 1e-9
    side = re.search(r"on the side that (.*?);", words)[1]
    hour = {"faces you": 6.0, "faces away from you": 12.0}.get(side)
    if hour is None:
        hours = re.search(r"points (?:to|between) (\d+)(?: and (\d+))? o'clock", side)
        hour = int(hours[1]) + (0.5 if hours[2] else 0.0)
    # the bead of the next crossing would lie at the top; seen from there the front is so far round
    top = design.lattice.azimuth_deg(len(design.beads))
    assert abs((180.0 - top - 30.0 * hour + 180.0) % 360.0 - 180.0) <= 7.5 + 1e-6


def test_no_plain_braid_and_one_set():
    assert "1 set of plain braid" in " ".join(told_plain(marsh(), 1).plain_start)
    none = told_plain(marsh(), 0)
    assert "without plain braid" in none.plain_start[0]
    assert none.slots == none.design.braid.start_slots


def test_other_turn_with_24_strands_is_refused():
    for lay in LAYS:
        with pytest.raises(WrongUsage):
            Braid(24, lay, "other")


@pytest.mark.parametrize("lay", LAYS)
@pytest.mark.parametrize("sets", [0, 3, 8])
def test_the_drawing_shows_the_disc_as_it_lies_at_the_first_bead(lay, sets):
    """Strand 1 at the top on the left, strand 2 on the right, in the slots of the text."""
    content = told_plain(marsh(12, lay), sets)
    texts = [s for s in disc_shapes(content, 0.0, 0.0, 50.0) if isinstance(s, Text)]
    # the strands' numbers stand outside, the slots' ones inside the rim
    far = {t.text: t for t in texts if t.text.isdecimal() and np.hypot(t.x, t.y) >= 32.0}
    near = {
        int(t.text): t
        for t in texts
        if t.text.isdecimal() and np.hypot(t.x, t.y) < 32.0 and t.fill == (0, 0, 0)
    }
    assert far["1"].x < 0 < far["2"].x
    assert max(far["1"].y, far["2"].y) < -40
    for number, slot in enumerate(content.slots, start=1):
        strand, place = far[str(number)], near[slot]
        assert place.bold
        across = np.degrees(np.arctan2(strand.x, -strand.y + 1.2) - np.arctan2(place.x, -place.y))
        assert (across + 180) % 360 - 180 == pytest.approx(0, abs=4)
