"""Stringing lists: out by the closed form, back by working the slots."""

from __future__ import annotations

import numpy as np
import pytest
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.design.design import Design
from himotif.core.design.loads import (
    beads_from_lists,
    first_difference,
    fold_parts,
    read_stringing_csv,
    stringing,
    stringing_csv,
)
from himotif.core.errors import HimotifError, Problems, WrongUsage
from hypothesis import given, settings
from hypothesis import strategies as st

COLOURS = ((243, 238, 225), (28, 41, 71), (176, 44, 36))
PALETTE = tuple(
    Bead(code, name, rgb)
    for code, name, rgb in zip("ABC", ("oyster", "tide", "samphire"), COLOURS, strict=True)
)


def workable() -> list[Braid]:
    """Every strand count, lay and turn whose slots do not collide."""
    found = []
    for strands in STRANDS:
        for lay in ("S", "Z"):
            for turn in ("usual", "other"):
                try:
                    found.append(Braid(strands, lay, turn))
                except WrongUsage:
                    assert (strands, turn) == (24, "other")
    return found


BRAIDS = workable()


def design_of(braid: Braid, beads: list[int] | np.ndarray) -> Design:
    lattice = Lattice.computed(braid, bead_size("8/0"))
    return Design(lattice, bead_size("8/0"), PALETTE, np.asarray(beads))


@pytest.mark.parametrize("braid", BRAIDS, ids=str)
@settings(max_examples=20)
@given(st.integers(0, 2**32 - 1), st.integers(1, 300))
def test_lists_worked_on_the_slots_give_the_design_back(braid, seed, count):
    beads = np.random.default_rng(seed).integers(0, 3, count)
    design = design_of(braid, beads)
    assert np.array_equal(beads_from_lists(stringing(design), braid), beads)


@pytest.mark.parametrize("braid", BRAIDS, ids=str)
def test_csv_comes_back(braid, tmp_path):
    design = design_of(braid, np.arange(braid.strands * 3 + 5) % 3)
    path = tmp_path / "stringing.csv"
    path.write_text(stringing_csv(design), encoding="utf-8")
    lists = read_stringing_csv(path, design)
    assert first_difference(lists, design) is None
    assert np.array_equal(beads_from_lists(lists, braid), design.beads)


def test_strand_one_starts_in_slot_32_and_bead_one_is_braided_first():
    # worked on paper (S lay): 32 goes down first, then 16 goes up
    design = design_of(Braid(8), [1, 2] + [0] * 14)
    lists = stringing(design)
    assert design.braid.start_slots == (32, 1, 8, 9, 16, 17, 24, 25)
    assert lists[0].tolist() == [1, 0]
    assert lists[4].tolist() == [2, 0]


def test_the_first_bead_that_differs_is_named(tmp_path):
    design = design_of(Braid(8), np.zeros(64, dtype=int))
    path = tmp_path / "stringing.csv"
    lines = stringing_csv(design).splitlines()
    row = lines.index("3,8,5,A,")
    lines[row] = "3,8,5,C,"
    path.write_text("\n".join(lines), encoding="utf-8")
    difference = first_difference(read_stringing_csv(path, design), design)
    assert difference is not None
    assert (difference.strand, difference.order) == (3, 5)
    assert (difference.wanted, difference.found) == ("A", "C")
    assert design.braid.strand_of(difference.crossing - 1) == 2
    assert design.braid.order_of(difference.crossing - 1) == 4


def test_all_problems_of_a_csv_come_together(tmp_path):
    design = design_of(Braid(8), np.zeros(16, dtype=int))
    path = tmp_path / "stringing.csv"
    lines = stringing_csv(design).splitlines()
    lines[1] = "1,32,1,Q"
    lines[2] = "1,31,2,A"
    lines[5] = "9,8,1,A"
    lines[6] = "3,8,one,A"
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(Problems) as caught:
        read_stringing_csv(path, design)
    assert [line.split(":")[1] for line in caught.value.problems] == ["2", "3", "6", "7"]


@pytest.mark.parametrize(
    ("line", "cells"),
    [
        (1, "strand" * 30_000 + ",slot,order,bead"),
        (3, "1,32,2," + "A" * 200_000),
        (3, '1,32,2,"A' + "\n1,32,3,A" * 20_000),
        (3, f"1,32,{'9' * 5000},A"),
    ],
    ids=["heading", "code", "open quotation", "number"],
)
def test_a_cell_without_end_is_named_with_the_problems_before_it(line, cells, tmp_path):
    design = design_of(Braid(8), np.zeros(16, dtype=int))
    path = tmp_path / "stringing.csv"
    lines = stringing_csv(design).splitlines()[:3]
    lines[1] = "1,32,1,Q"
    lines[line - 1] = cells
    path.write_text("\n".join(lines), encoding="utf-8")
    with pytest.raises(Problems) as caught:
        read_stringing_csv(path, design)
    *before, last = caught.value.problems
    assert ["bead 'Q'" in said for said in before] == [True] * (line > 1)
    assert last.startswith(f"{path}:{line}: ")
    assert len(last) < len(str(path)) + 100


def test_a_strand_that_runs_out_is_named():
    lists = stringing(design_of(Braid(8), np.zeros(64, dtype=int)))
    lists[2] = lists[2][:-2]
    with pytest.raises(HimotifError, match=r"strand 3 \(slot 8\) runs out"):
        beads_from_lists(lists, Braid(8))


def unfold(text: str) -> list[str]:
    """Read a folded list back, independently of how it was folded."""
    codes: list[str] = []
    for part in text.split(", then "):
        times, inner = 1, part
        if " × (" in part:
            head, _, inner = part.partition(" × (")
            times, inner = int(head), inner.removesuffix(")")
        once: list[str] = []
        for run in inner.split(", "):
            count, code = run.split(" ")
            once += [code] * int(count)
        codes += once * times
    return codes


@given(st.lists(st.sampled_from("ABC"), min_size=1, max_size=80), st.integers(1, 6))
def test_folded_lists_unfold_to_the_same_beads(codes, times):
    folded = ", then ".join(map(str, fold_parts(codes * times)))
    assert unfold(folded) == codes * times


def test_a_repeat_is_folded():
    codes = ["A"] * 3 + ["B"] + (["A"] * 3 + ["C"]) * 12
    assert list(map(str, fold_parts(codes))) == ["3 A, 1 B", "12 × (3 A, 1 C)"]
