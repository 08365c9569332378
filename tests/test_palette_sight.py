"""Whether beads can be told apart, in several ways of seeing."""

from __future__ import annotations

import warnings

import numpy as np
import pytest
from himotif.convert.judge.alike import alike_findings, meeting
from himotif.core.bead import bead_size
from himotif.core.braid import Braid, Lattice
from himotif.core.design import Design
from himotif.core.findings import Code
from himotif.palette import Palette, alike_beads, better_bead, parse_palette, seen_as
from himotif.palette.sight import MACHADO, scotopic

PALETTE = parse_palette(
    "code,name,colour\n"
    "R,rust,#b04a30\nM,moss,#6b6a28\nW,white,#f3f3f0\nC,cream,#f0efe6\nN,navy,#1d2c50\n"
    "B,black,#16181c\nS,sky,#4fb7dc\n"
)


def test_the_matrices_are_the_published_ones() -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from colour.blindness import CVD_MATRICES_MACHADO2010 as TABLE

    for sight, name in (
        ("protan", "Protanomaly"),
        ("deutan", "Deuteranomaly"),
        ("tritan", "Tritanomaly"),
    ):
        assert MACHADO[sight] == pytest.approx(np.array(TABLE[name][1.0]), abs=5e-7)


def test_greys_stay_grey_in_every_sight() -> None:
    greys = np.array([[20.0, 0, 0], [60, 0, 0], [95, 0, 0]])
    for sight in ("day", "weak light", "protan", "deutan", "tritan"):
        assert seen_as(greys, sight) == pytest.approx(greys, abs=0.4)


def test_blue_is_brighter_and_red_darker_to_the_rods() -> None:
    """The Purkinje shift; rods peak at 507 nm (CIE 1951 scotopic)."""
    red, green, blue = scotopic(np.eye(3))
    photopic = np.array([0.2127, 0.7152, 0.0722])
    assert red < photopic[0] / 2
    assert blue > 2 * photopic[2]
    assert red + green + blue == pytest.approx(1, abs=0.12)


def test_pairs_are_found_with_the_eyes_that_mix_them_up() -> None:
    found = {
        (PALETTE.codes[one.first] + PALETTE.codes[one.second]): one for one in alike_beads(PALETTE)
    }
    assert "day" in found["WC"].sights
    assert "RN" not in found
    red_green = parse_palette("code,name,colour\nA,a,#9a6a3a\nB,b,#6f7a3a\n")
    (pair,) = alike_beads(red_green)
    assert "day" not in pair.sights
    assert {"protan", "deutan"} & {*pair.sights}
    assert "tritan" not in pair.sights


def design_of(beads: list[int]) -> Design:
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    return Design(lattice, bead_size("8/0"), PALETTE.beads, np.array(beads), 2)


def test_a_pair_that_meets_is_said_with_a_better_bead() -> None:
    beads = [2] * 80
    beads[33] = 3
    design = design_of(beads)
    assert meeting(design).tolist() == [[2, 3]]
    (finding,) = alike_findings(design)
    assert finding.code is Code.BEADS_ALIKE
    assert finding.data["one"]["code"] == "W"
    assert finding.data["other"]["code"] == "C"
    # nothing in this palette is nearly cream and not white
    assert finding.data["better"] is None
    assert alike_findings(design_of([2] * 40 + [4] * 40)) == []


def test_the_better_bead_is_the_nearest_that_is_told_apart() -> None:
    palette = Palette(
        parse_palette(
            "code,name,colour\nA,a,#808080\nB,b,#838383\nC,c,#868686\nD,d,#989898\nE,e,#b0b0b0\n"
        ).beads
    )
    pair = alike_beads(palette, np.array([[0, 1]]))[0]
    assert better_bead(palette, pair, 0, np.arange(5), np.array([0, 1])) == 3
    assert better_bead(palette, pair, 0, np.array([0, 1, 2]), np.array([0, 1])) is None
