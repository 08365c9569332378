"""What is said about a palette."""

from __future__ import annotations

import json

import pytest
from himotif.palette.difference import ciede2000
from himotif.palette.files import parse_palette
from himotif.palette.show import close_pairs, palette_facts, palette_text

PALETTE = parse_palette(
    "code,name,colour,size,stock\n"
    "A,reed,#5e7b40,8/0,310\n"
    "B,deep water,#1d2c50,,\n"
    "C,sedge,#5f7d42,8/0,\n"
    "D,rush,#637e45,,\n"
)


def test_pairs_that_are_hard_to_tell_apart() -> None:
    pairs = close_pairs(PALETTE).nearest
    assert [(pair.first, pair.second) for pair in pairs] == [("A", "C"), ("C", "D"), ("A", "D")]
    for first, second, difference in pairs:
        at = PALETTE.index(first), PALETTE.index(second)
        assert difference == pytest.approx(float(ciede2000(*PALETTE.lab[list(at)])))
    assert len(close_pairs(PALETTE, 1000).nearest) == 6


def test_facts_are_plain_json() -> None:
    facts = json.loads(json.dumps(palette_facts(PALETTE)))
    assert facts["beads"][0] == {
        "code": "A",
        "name": "reed",
        "rgb": [94, 123, 64],
        "size": "8/0",
        "stock": 310,
    }
    assert facts["beads"][1] == {"code": "B", "name": "deep water", "rgb": [29, 44, 80]}
    assert facts["hard_to_tell_apart"][0]["beads"] == ["A", "C"]


def test_text_names_every_bead_and_the_pairs() -> None:
    text = palette_text(PALETTE)
    for word in ("4 beads", "#5e7b40", "deep water", "310 at hand", "reed / sedge"):
        assert word in text
    two = parse_palette("code,name,colour\nA,ink,#000\nB,foam,#fff\n")
    assert "easy to tell apart" in palette_text(two)
    assert "A and B" in palette_text(two)
    one = parse_palette("code,name,colour\nA,ink,#000\n")
    assert palette_text(one).startswith("palette: 1 bead\n")
    assert "tell apart" not in palette_text(one)
