"""The same sketch on several braids, on one sheet."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from io import BytesIO
from pathlib import Path

import numpy as np
import pytest
from himotif.convert.compare import compare, seen_alike
from himotif.convert.job import Order
from himotif.convert.picture import read_picture
from himotif.core.errors import WrongUsage
from himotif.palette.files import read_palette
from PIL import Image

FIXTURES = Path(__file__).parent.parent / "fixtures"
ORDER = Order(quick=True, length_mm=90.0, repeat="once")


@pytest.fixture(scope="module")
def palette():
    return read_palette(FIXTURES / "palettes" / "saltmarsh.csv")


@pytest.fixture(scope="module")
def letter():
    return read_picture(FIXTURES / "motifs" / "letter_f.png")


@pytest.fixture(scope="module")
def found(letter, palette):
    return compare(ORDER, letter, palette, [8, 16], ["11/0", "8/0"])


def test_every_combination_once_and_the_best_first(found):
    rows = found.report["best_first"]
    assert {(row["strands"], row["bead"]) for row in rows} == {
        (8, "11/0"), (8, "8/0"), (16, "11/0"), (16, "8/0"),
    }  # fmt: skip
    scores = [row["score"] for row in rows]
    assert scores == sorted(scores)
    assert [row["rank"] for row in rows] == [1, 2, 3, 4]
    assert found.report["schema"] == 1


def test_more_beads_across_read_better(found):
    # the letter reads well on 16 strands and barely on 8 (common practice)
    strands = [row["strands"] for row in found.report["best_first"]]
    assert strands == [16, 16, 8, 8]
    assert found.lines[0].startswith("16 strands")
    assert "less is better" in found.lines[0]


def test_the_scale_of_a_braid_does_not_change_its_score(found):
    # 11/0 and 8/0 beads have nearly the same proportions, 1.45 : 2.1 and 2.1 : 3.0
    score = {(r["strands"], r["bead"]): r["score"] for r in found.report["best_first"]}
    assert score[16, "11/0"] == pytest.approx(score[16, "8/0"], rel=0.35)


def test_seen_from_far_a_coarse_braid_seems_better(found):
    # what the score guards against: the fewer beads across it seems to have, the less is missed
    made = found.braids[-1].made
    assert seen_alike(made, 40.0) > seen_alike(made, 4.0)


def test_the_files_hold_together(found):
    files = found.files()
    assert set(files) == {"compare.json", "compare.png", "compare.svg"}
    assert json.loads(files["compare.json"]) == json.loads(json.dumps(found.report))
    assert ElementTree.fromstring(files["compare.svg"]).tag.endswith("svg")
    pixels = np.asarray(Image.open(BytesIO(files["compare.png"])))
    assert pixels.shape[1] > 1500
    text = files["compare.svg"].decode()
    for braided in found.braids:
        assert braided.title in text


def test_what_cannot_be_made_is_left_out_with_its_reason(letter, palette):
    # half round 24 strands the letter is wider, and so longer than the braid
    order = Order(quick=True, length_mm=40.0, repeat="once")
    found = compare(order, letter, palette, [8, 24], ["8/0"])
    assert [b.made.design.braid.strands for b in found.braids] == [8]
    (why,) = found.refused
    assert why.startswith("24 strands, 8/0: ")
    assert why in found.lines[-1]


def test_nothing_to_compare(letter, palette):
    with pytest.raises(WrongUsage, match="0 braids"):
        compare(ORDER, letter, palette, [], ["8/0"])
    with pytest.raises(WrongUsage, match="30 braids"):
        compare(ORDER, letter, palette, [8, 12, 16, 20, 24, 28], ["a", "b", "c", "d", "e"])
    with pytest.raises(WrongUsage, match="bead size"):
        compare(ORDER, letter, palette, [8], ["99/0"])


def test_what_no_braid_is_to_blame_for_is_told_once(letter, palette):
    order = Order(quick=True, wrist_mm=17.0)
    with pytest.raises(WrongUsage) as caught:
        compare(order, letter, palette, [8, 12, 16], [])
    assert str(caught.value).startswith("wrist 17 mm")
    assert len(str(caught.value).splitlines()) == 1


def test_a_picture_of_nothing_reads_best_on_no_braid(palette):
    clear = BytesIO()
    Image.new("RGBA", (40, 60)).save(clear, "PNG")
    found = compare(ORDER, read_picture(clear.getvalue(), "clear.png"), palette, [8, 16], [])
    (only,) = found.lines
    assert only.startswith("Nothing of the sketch differs from the background")
    assert set(found.files()) == {"compare.json", "compare.png", "compare.svg"}
