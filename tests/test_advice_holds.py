"""What is advised holds: whoever does it gets a better verdict."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
from himotif.convert.job import make
from himotif.convert.judge.verdict import VERDICTS
from himotif.convert.options import Order
from himotif.convert.read.picture import read_picture
from himotif.palette.files import read_palette

FIXTURES = Path(__file__).parent.parent / "fixtures"


ASKED = {"heron_line": 8.0, "heart": 4.0, "leaf": 3.0, "reed": 2.0}
"""Widths asked for, mm. At none of them the sketch reads on eight strands."""


@pytest.mark.parametrize("name", ASKED)
def test_each_remedy_named_lifts_the_verdict(name: str) -> None:
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    picture = read_picture(FIXTURES / "motifs" / f"{name}.png")
    order = Order(strands=8, wrist_mm=165.0, width_mm=ASKED[name])
    made = make(order, picture, palette)
    before, found = made.conversion.judgement.verdict, made.conversion.unrecognised
    assert before is not None
    assert found is not None
    assert found.remedies
    for remedy in found.remedies:
        fields = {one.field: one.value for one in (remedy, *remedy.also)}
        after = make(replace(order, quick=True, **fields), picture, palette)
        verdict = after.conversion.judgement.verdict
        assert verdict is not None
        assert VERDICTS.index(verdict) > VERDICTS.index(before)
