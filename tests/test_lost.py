"""What is reported lost is what the verdict's own numbers call lost, with its place and width."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
from converting import converted
from himotif.convert.judge.lost import NAMED_LOST, find_lost, lost_findings
from himotif.convert.read.picture import read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code
from himotif.palette.files import read_palette
from sketches import FIVE, letter_f

FIXTURES = Path(__file__).parent.parent / "fixtures"
EIGHT = Lattice.computed(Braid(8), bead_size("8/0"))


def test_lost_features_are_those_of_the_verdict() -> None:
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    heron = read_picture(FIXTURES / "motifs" / "heron_line.png")
    made = converted(heron, palette, EIGHT, 80, repeat="once")
    flat = made.fitted.flat
    assert flat is not None
    lost = find_lost(flat)
    whole = [one for one in lost if one.kind != "branch"]
    assert 0 < len(whole) <= len(flat.fitted.legibility.lost)
    findings = lost_findings(flat, palette)
    assert len(findings) == min(len(lost), NAMED_LOST) + (len(lost) > NAMED_LOST)
    assert findings[-1].code is Code.LOST_MORE or len(lost) <= NAMED_LOST
    assert [one for one in made.findings if one in findings] == findings


def test_a_bar_that_is_taken_out_is_a_lost_branch() -> None:
    made = converted(letter_f(), FIVE, EIGHT, 80, repeat="once")
    flat = made.fitted.flat
    assert flat is not None
    assert [one.kind for one in find_lost(flat)] == []
    fitted = flat.fitted
    # all beads right of the stem in the middle third of the letter
    x = (fitted.patch.x_mm - fitted.offset_mm[0]) / flat.size_mm[0]
    y = (fitted.patch.y_mm - fitted.offset_mm[1]) / flat.size_mm[1]
    bar = (x > -0.1) & (np.abs(y) < 1 / 6)
    colours = np.where(bar, made.motif.choice.ground, fitted.colours)
    assert (colours != fitted.colours).any()
    taken = replace(flat, fitted=replace(fitted, colours=colours))
    (lost,) = find_lost(taken)
    # its middle lies in the middle third
    assert (lost.kind, lost.where, lost.within) == ("branch", (), FIVE.index("N"))
