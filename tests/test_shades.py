"""A picture with shades is judged as well: what is said first, and what the labels say."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from converting import converted
from himotif.convert.advice import CONVERSION
from himotif.convert.job import make
from himotif.convert.judge.shades import Seen, seen_in
from himotif.convert.options import Order
from himotif.convert.read.picture import read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code, Weight
from himotif.palette.files import read_palette
from himotif.palette.palette import Palette
from sketches import FIVE
from sketches import picture as drawn_picture

HERE = Path(__file__).parent
FIXTURES = HERE.parent / "fixtures"


@pytest.mark.parametrize(("strands", "verdict"), [(8, "lost"), (24, "reads")])
def test_a_sunset_is_lost_on_eight_strands_and_reads_on_twenty_four(
    strands: int, verdict: str
) -> None:
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    dusk = read_picture(FIXTURES / "motifs" / "dusk.png")
    lattice = Lattice.computed(Braid(strands), bead_size("8/0"))
    made = converted(dusk, palette, lattice, 80, repeat="once", quick=True)
    assert (made.kind, made.judgement.verdict) == ("shaded", verdict)
    if verdict == "reads":
        assert made.unrecognised is None
        return
    first = made.findings[0]
    assert (first.code, first.weight) == (Code.TOO_SMALL, Weight.READS)
    assert first.data["beads"] == (made.fitted.colours != made.motif.choice.ground).sum()
    assert "fewer, larger shapes" in CONVERSION[first.code](first, "", None)
    # beads like the picture itself would read on no other evidence than theirs
    drawn, choice = made.drawn, made.motif.choice
    ground = choice.palette.linear[choice.ground]
    assert seen_in(drawn, drawn.linear, ground).alike == pytest.approx(1)
    bare = np.broadcast_to(ground, drawn.linear.shape).astype(np.float32)
    assert seen_in(drawn, bare, ground) == Seen(0.0, 0.0)


def test_the_verdict_is_mostly_that_of_the_labels() -> None:
    text = (HERE / "data" / "shaded.csv").read_text("utf-8").splitlines()
    rows = list(csv.DictReader(one for one in text if not one.startswith("#")))
    said = [Seen(float(row["alike"]), float(row["contrast"])).verdict for row in rows]
    label = [row["label"] for row in rows]
    assert len(rows) >= 30
    assert {"reads", "hint", "no"} == set(label)
    # as often as on pictures left out of the fit: 90 % and 90 %, see the verdict's weights
    reads = [(one == "reads") == (other == "reads") for one, other in zip(said, label, strict=True)]
    lost = [(one == "lost") == (other == "no") for one, other in zip(said, label, strict=True)]
    assert min(np.mean(reads), np.mean(lost)) >= 0.9
    # what reads is never called lost
    assert not [row["id"] for row, one in zip(rows, said, strict=True)
                if row["label"] == "reads" and one == "lost"]  # fmt: skip


def test_too_few_bead_colours_come_right_after_the_verdict() -> None:
    two = Palette((FIVE.beads[0], FIVE.beads[1]), "two")
    y, x = np.mgrid[:80, :80] * 255 / 79
    noise = np.random.default_rng(1).integers(0, 255, (80, 80, 3))
    for codes in (np.stack([x, y, 255 - x], axis=-1), noise):
        made = make(Order(quick=True, kind="shaded"), drawn_picture(codes), two)
        first, *others = made.everything()
        assert first.code is Code.TOO_SMALL
        assert first.data["beads"] > 0
        # it has beads: it is not said in the same breath that nothing is drawn
        assert Code.NOTHING_DRAWN not in {one.code for one in others}
        changed = [one.code for one in others if one.weight is Weight.CHANGE]
        if codes is not noise:
            assert changed[0] is Code.COLOUR_OUT_OF_REACH
