"""What is said about a palette."""

from __future__ import annotations

import json

import pytest
from himotif.convert.wording import palette_lines
from himotif.palette import Palette
from himotif.palette.difference import ciede2000
from himotif.palette.files import parse_palette
from himotif.palette.show import PaletteReport

PALETTE = parse_palette(
    "code,name,colour,size,stock\n"
    "A,reed,#5e7b40,8/0,310\n"
    "B,deep water,#1d2c50,,\n"
    "C,sedge,#5f7d42,8/0,\n"
    "D,rush,#637e45,,\n"
)


def test_pairs_that_are_hard_to_tell_apart() -> None:
    report = PaletteReport.of(PALETTE)
    assert [(one.first, one.second) for one in report.close] == [(0, 2), (2, 3), (0, 3)]
    for first, second, difference, _ in report.close:
        assert difference == pytest.approx(float(ciede2000(*PALETTE.lab[[first, second]])))
    assert report.nearest == report.close[0]
    assert report.more_close == 0


def test_facts_are_plain_json() -> None:
    facts = json.loads(json.dumps(PaletteReport.of(PALETTE).as_dict()))
    assert facts["beads"][0] == {
        "code": "A",
        "name": "reed",
        "rgb": [94, 123, 64],
        "size": "8/0",
        "stock": 310,
    }
    assert facts["beads"][1] == {"code": "B", "name": "deep water", "rgb": [29, 44, 80]}
    assert facts["hard_to_tell_apart"][0]["beads"] == ["A", "C"]


def text_of(palette: Palette) -> str:
    return "\n".join(palette_lines(PaletteReport.of(palette)))


def test_text_names_every_bead_and_the_pairs() -> None:
    text = text_of(PALETTE)
    for word in ("4 beads", "#5e7b40", "deep water", "310 at hand", "reed / sedge"):
        assert word in text
    two = parse_palette("code,name,colour\nA,ink,#000\nB,foam,#fff\n")
    assert "easy to tell apart" in text_of(two)
    assert "A and B" in text_of(two)
    one = parse_palette("code,name,colour\nA,ink,#000\n")
    assert text_of(one).startswith("palette: 1 bead\n")
    assert "tell apart" not in text_of(one)
