"""Choosing few beads, checked against trying every choice."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from himotif.core.bead import Bead
from himotif.core.errors import WrongUsage
from himotif.palette.choose import choose_beads, grey_beads
from himotif.palette.colour import srgb_to_lab
from himotif.palette.difference import ciede2000_matrix
from himotif.palette.files import code_of
from himotif.palette.palette import Palette


def _palette(rgb: np.ndarray) -> Palette:
    rows = enumerate(rgb.tolist())
    return Palette(tuple(Bead(code_of(at), "bead", (r, g, b)) for at, (r, g, b) in rows))


def _case(seed: int, colours: int, beads: int) -> tuple[np.ndarray, Palette, np.ndarray]:
    random = np.random.default_rng(seed)
    lab = srgb_to_lab(random.integers(0, 256, (colours, 3), dtype=np.uint8))
    palette = _palette(random.integers(0, 256, (beads, 3), dtype=np.uint8))
    return lab, palette, random.uniform(0, 3, colours)


def _total(lab: np.ndarray, palette: Palette, weights: np.ndarray, chosen: list[int]) -> float:
    costs = ciede2000_matrix(lab, palette.lab) ** 2
    return float(weights @ costs[:, chosen].min(axis=1))


def _best(
    lab: np.ndarray, palette: Palette, weights: np.ndarray, most: int, kept: list[int]
) -> float:
    return min(
        _total(lab, palette, weights, list(choice))
        for choice in combinations(range(len(palette)), most)
        if set(kept) <= set(choice)
    )


@pytest.mark.parametrize("most", [1, 2, 3, 5])
@pytest.mark.parametrize("seed", range(8))
def test_near_the_best_of_every_choice(seed: int, most: int) -> None:
    lab, palette, weights = _case(seed, 60, 12)
    kept = [] if most < 2 else [3]
    chosen = choose_beads(lab, palette, most, weights, [palette.codes[at] for at in kept])
    total = _total(lab, palette, weights, chosen.tolist())
    best = _best(lab, palette, weights, most, kept)
    # exchanging single beads may stop short of the best; with one or two free beads it does not
    assert total <= best * (1.05 if most - len(kept) > 2 else 1 + 1e-5)


def test_one_exchange_never_helps() -> None:
    lab, palette, weights = _case(9, 300, 30)
    chosen = choose_beads(lab, palette, 6, weights).tolist()
    total = _total(lab, palette, weights, chosen)
    for at in range(6):
        for bead in range(30):
            changed = [*chosen[:at], bead, *chosen[at + 1 :]]
            assert _total(lab, palette, weights, changed) >= total * (1 - 1e-5)


def test_not_the_most_frequent_but_the_best() -> None:
    """Many near-equal greys and a few reds: one grey and the red, not two greys."""
    greys = [(value, value, value) for value in (120, 122, 124, 126)]
    palette = _palette(np.array([*greys, (190, 60, 50)], np.uint8))
    picture = np.array([*greys * 20, *[(190, 60, 50)] * 4], np.uint8)
    chosen = choose_beads(srgb_to_lab(picture), palette, 2).tolist()
    assert len(chosen) == 2
    assert chosen[1] == 4


def test_keep_and_weights() -> None:
    lab, palette, weights = _case(3, 80, 15)
    kept = choose_beads(lab, palette, 4, weights, keep=("C", "H"))
    assert {2, 7} <= set(kept.tolist())
    assert kept.tolist() == sorted(set(kept.tolist()))
    assert choose_beads(lab, palette, 2, weights, keep=("H", "C")).tolist() == [2, 7]
    # a whole weight is the same as as many colours
    counts = np.arange(80) % 3
    assert (
        choose_beads(lab, palette, 5, counts).tolist()
        == choose_beads(np.repeat(lab, counts, axis=0), palette, 5).tolist()
    )


def test_no_more_beads_than_help() -> None:
    palette = _palette(
        np.array([[0, 0, 0], [255, 255, 255], [255, 255, 255], [9, 99, 9]], np.uint8)
    )
    lab = palette.lab[[0, 1, 1]]
    assert choose_beads(lab, palette, 4).tolist() == [0, 1]
    assert choose_beads(palette.lab, palette, 9).tolist() == [0, 1, 3]


def test_same_in_same_out() -> None:
    lab, palette, weights = _case(5, 500, 40)
    first = choose_beads(lab, palette, 8, weights)
    assert (first == choose_beads(lab, palette, 8, weights)).all()


def test_requests_that_cannot_be_met() -> None:
    lab, palette, _ = _case(1, 5, 5)
    with pytest.raises(WrongUsage, match="at least 1"):
        choose_beads(lab, palette, 0)
    with pytest.raises(WrongUsage, match="ask for 2 or more"):
        choose_beads(lab, palette, 1, keep=("A", "B"))
    with pytest.raises(WrongUsage, match="'Q' is not in"):
        choose_beads(lab, palette, 2, keep=("Q",))


GREYS = ("white #f4f4f2", "ash #b9bcbd", "slate #6d7278", "coal #1d1f22")
COLOURS = ("leaf #5b7f3a", "plum #6b4a7d", "straw #d9c27a", "rust #964628")


def beads_of(*lines: str) -> Palette:
    named = (line.split(" #") for line in lines)
    return Palette(tuple(Bead(n, n, tuple(bytes.fromhex(code))) for n, code in named), "some")  # type: ignore[arg-type]


def test_grey_beads_are_the_greys_and_what_is_kept() -> None:
    palette = beads_of(*GREYS, *COLOURS)
    assert [palette.codes[k] for k in grey_beads(palette)] == ["white", "ash", "slate", "coal"]
    kept = [palette.codes[k] for k in grey_beads(palette, ("plum",))]
    assert kept == ["white", "ash", "slate", "coal", "plum"]


def test_a_palette_without_light_and_dark_greys_stays_whole() -> None:
    assert len(grey_beads(beads_of(GREYS[0], *COLOURS))) == 1 + len(COLOURS)
    assert len(grey_beads(beads_of(*COLOURS))) == len(COLOURS)
    # a light one that is hardly coloured counts where there is no greyer one
    assert len(grey_beads(beads_of("cream #f6efdc", "coal #1d1f22", "leaf #5b7f3a"))) == 2
