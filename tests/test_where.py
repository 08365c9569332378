"""Finding one's place: the disc after any crossing, and counts that agree or do not."""

from __future__ import annotations

import re
from collections import Counter
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design
from himotif.core.errors import WrongUsage
from himotif.core.making.where import find_place, fit_used, parse_used, place_at
from himotif.core.paper.place_wording import counted_lines
from hypothesis import given, settings
from hypothesis import strategies as st

PALETTE = (Bead("A", "oyster", (243, 238, 225)), Bead("B", "tide", (28, 41, 71)))


def design_of(braid: Braid, count: int = 160) -> Design:
    lattice = Lattice.computed(braid, bead_size("8/0"))
    return Design(lattice, bead_size("8/0"), PALETTE, np.arange(count) % 3 // 2)


def worked(braid: Braid, crossings: int) -> dict[int, int]:
    """Beads used by strand, counted move by move."""
    used = Counter(move.strand for move in braid.work(crossings))
    return {strand: used[strand] for strand in range(braid.strands)}


def test_the_first_crossing_by_hand():
    # S lay: the strand of slot 32 goes down to 18, beside 16 and 17. The worker at south looks
    # north: clockwise runs from right to left on her side, so 18 is the leftmost.
    place = place_at(design_of(Braid(8)), 1)
    assert [slot for slot, _ in place.facing] == [18, 17, 16]
    assert [strand for _, strand in place.facing] == [0, 5, 4]
    assert place.next is not None
    assert (place.next.strand, place.next.from_slot, place.next.to_slot) == (4, 16, 2)
    # Z lay is the mirror image: slot 1 goes to 15
    place = place_at(design_of(Braid(8, "Z")), 1)
    assert [slot for slot, _ in place.facing] == [17, 16, 15]
    assert place.next is not None
    assert (place.next.from_slot, place.next.to_slot) == (17, 31)


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("strands", STRANDS)
@settings(max_examples=20)
@given(crossings=st.integers(0, 160))
def test_the_disc_holds_every_strand_once(strands, lay, crossings):
    design = design_of(Braid(strands, lay))
    place = place_at(design, crossings)
    assert sorted(strand for _, strand in place.filled) == list(range(strands))
    assert len(place.facing) == 2 + crossings % 2
    facing = [slot for slot, _ in place.facing]
    assert {(a - b) % 32 for a, b in pairwise(facing)} == {1}
    if crossings % 2:
        # a stop that can be found again: between the two crossings of an axis one pair holds
        # three strands and the opposite pair one (common practice)
        left = place.last[-1].from_slot
        partner = left % 32 + 1 if lay == "S" else (left - 2) % 32 + 1
        filled = dict(place.filled)
        assert left not in filled
        assert partner in filled
        assert (partner + 15) % 32 + 1 in facing
    assert [move.crossing for move in place.last] == list(range(max(0, crossings - 10), crossings))
    assert (place.next is None) == (crossings == len(design.beads))


@pytest.mark.parametrize("strands", STRANDS)
@settings(max_examples=30)
@given(data=st.data())
def test_full_counts_give_the_crossing(strands, data):
    braid = Braid(strands, data.draw(st.sampled_from(["S", "Z"])))
    crossings = data.draw(st.integers(0, 160))
    fit = fit_used(braid, worked(braid, crossings), 160)
    assert fit.crossings == (crossings,)
    assert fit.miscounts == ()
    assert fit.deciding is None


@given(data=st.data())
def test_some_counts_leave_the_crossing_among_the_possible_ones(data):
    braid = Braid(data.draw(st.sampled_from(STRANDS)))
    crossings = data.draw(st.integers(0, 160))
    used = worked(braid, crossings)
    counted = data.draw(st.sets(st.integers(0, braid.strands - 1), min_size=1))
    fit = fit_used(braid, {strand: used[strand] for strand in counted}, 160)
    assert crossings in fit.crossings
    assert fit.miscounts == ()
    # every place that is offered agrees with every count
    for possible in fit.crossings:
        again = worked(braid, possible)
        assert all(again[strand] == used[strand] for strand in counted)
    if fit.deciding is not None:
        more = {strand: used[strand] for strand in {*counted, fit.deciding}}
        assert len(fit_used(braid, more, 160).crossings) < len(fit.crossings)


@given(data=st.data())
def test_a_missed_bead_is_named(data):
    braid = Braid(data.draw(st.sampled_from(STRANDS)))
    crossings = data.draw(st.integers(60, 160))
    moves = list(braid.work(crossings))
    # not one of the last two strands: their missing bead could as well be still to come
    last = {strand: crossing for crossing, strand, _, _ in moves}
    strand = data.draw(
        st.sampled_from([one for one, crossing in last.items() if crossing < crossings - 2])
    )
    used = worked(braid, crossings)
    used[strand] -= 1
    fit = fit_used(braid, used, 160)
    assert fit.crossings == (crossings,)
    ((miscount,),) = fit.miscounts
    assert (miscount.strand, miscount.used, miscount.expected) == (
        strand,
        used[strand],
        used[strand] + 1,
    )
    assert miscount.crossing == last[strand]
    found = find_place(design_of(braid), used)
    text = "\n".join(counted_lines(found))
    assert f"Strand {strand + 1} has used {used[strand]}" in text
    assert f"crossing, number {last[strand] + 1}" in text


def test_two_contradicting_counts_name_both_explanations():
    # S lay, 8 strands: strand 5 crosses just before strand 3 in every block
    found = find_place(design_of(Braid(8)), parse_used("3:17,5:16"))
    assert {(one.strand, one.used, one.expected) for (one,) in found.fit.miscounts} == {
        (2, 17, 16),
        (4, 16, 17),
    }
    text = "\n".join(counted_lines(found))
    assert "contradict" in text
    assert "Strand 3" in text
    assert "Strand 5" in text
    assert found.as_dict()["agree"] is False


def test_the_counts_of_the_examples_agree():
    readme = (Path(__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    asked = re.findall(r"himotif where \S+ --beads (\S+?)`", readme)
    asked += re.findall(r"\d+:\d+,\d+:\d+", run_help("where"))
    assert len(asked) == 2
    for text in asked:
        found = find_place(design_of(Braid(16), 44 * 16), parse_used(text))
        assert not found.fit.miscounts
        # no two beads to choose between: the place is known to a crossing or two
        assert len(found.fit.crossings) <= 2


def run_help(command: str) -> str:
    return CliRunner().invoke(main, [command, "--help"]).stdout


@pytest.mark.parametrize("text", ["", "3", "3:", "0:4", "3:17;5:16", "3:1,3:2", "a:b"])
def test_counts_that_cannot_be_read(text):
    with pytest.raises(WrongUsage):
        parse_used(text)


def test_all_problems_of_counts_come_together():
    with pytest.raises(WrongUsage) as caught:
        parse_used("x,3:1,3:2,0:1")
    assert len(str(caught.value).splitlines()) == 3
    with pytest.raises(WrongUsage) as caught:
        find_place(design_of(Braid(8)), {9: 1, 2: 21})
    assert "strand 10" in str(caught.value)
    assert "only 20 are strung" in str(caught.value)


@pytest.mark.parametrize("crossing", [-1, 161])
def test_crossings_outside_the_design(crossing):
    with pytest.raises(WrongUsage, match="1 to 160"):
        place_at(design_of(Braid(8)), crossing)
