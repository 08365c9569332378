"""The same sketch on several braids, on one sheet."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from io import BytesIO
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from converting import no_trials
from himotif.convert.compare import Braided, compare, seen_alike
from himotif.convert.options import Order
from himotif.convert.read.picture import read_picture
from himotif.core.bead import Bead
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code, Finding, Weight
from himotif.core.paper.conversion_wording import braid_title
from himotif.core.paper.wording import sentence
from himotif.palette.files import read_palette
from himotif.palette.palette import Palette
from PIL import Image
from sketches import picture

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


def ranked(found, *braids):
    """Order in which braids come: (doubt, % of edges lost, J, % kept, some lost in the ground)."""

    def made(doubt, edges, kept, hidden):
        report = SimpleNamespace(
            sketch="flat",
            unrecognised=doubt,
            lost=(),
            edges=SimpleNamespace(lost_percent=edges),
            motif=SimpleNamespace(kept_percent=kept),
            colour=SimpleNamespace(lost_in_ground=("#f0dc96",) if hidden else ()),
        )
        design = found.braids[0].made.design
        return SimpleNamespace(
            design=design,
            distortion=SimpleNamespace(report=report),
            findings=(),
        )

    all_of_them = [
        Braided(made(doubt, edges, kept, hidden), seen)
        for doubt, edges, seen, kept, hidden in braids
    ]
    return sorted(range(len(braids)), key=lambda number: all_of_them[number].rank)


def test_what_can_be_recognised_comes_before_what_cannot(found):
    small, hard = (Finding(code) for code in (Code.TOO_SMALL, Code.HARD_TO_RECOGNISE))
    order = ranked(
        found,
        (small, 0.0, 1.0, 40.0, False),
        (hard, 0.0, 2.0, 40.0, False),
        (None, 0.0, 3.0, 60.0, False),
        # colours that cannot be told from the ground are missed as well
        (None, 0.0, 1.5, 44.0, True),
    )
    assert order == [2, 3, 1, 0]


def test_lost_edges_weigh(found):
    # a blot of five beads with half of the edges against a boat with nearly all of them
    hard = Finding(Code.HARD_TO_RECOGNISE)
    assert ranked(found, (hard, 54.0, 8.9, 43.0, False), (hard, 1.5, 11.1, 49.0, False)) == [1, 0]


def boat():
    """A boat with two sails on its water, on nothing; one sail in nearly the sand's colour."""
    codes = np.zeros((420, 500, 3), dtype=np.uint8)
    down, right = np.mgrid[:420, :500]
    parts = [
        ((down > 90) & (down < 270) & (right > 232 - (down - 90) * 0.62) & (right < 233), 0xF0DC96),
        ((down > 50) & (down < 270) & (right > 265) & (right < 266 + (down - 50) * 0.75), 0xDC3C28),
        ((down > 300) & (down < 370) & (abs(right - 250) < 190 - (down - 300) * 0.86), 0x6E3C1E),
        ((down > 375) & (down < 401) & (right > 20) & (right < 481), 0x285A96),
        ((down > 40) & (down < 300) & (abs(right - 249) < 10), 0x3C281E),
    ]
    for mask, colour in parts:
        codes[mask] = colour >> 16, colour >> 8 & 255, colour & 255
    return picture(codes, codes.any(axis=-1))


BOAT_BEADS = Palette(
    (
        Bead("m", "mud brown", (110, 60, 30)),
        Bead("S", "sail red", (216, 58, 40)),
        Bead("W", "sand white", (239, 227, 200)),
        Bead("T", "tide blue", (40, 90, 150)),
        Bead("K", "peat black", (28, 26, 24)),
    )
)


def test_the_boat_reads_best_where_most_of_it_is_there():
    order = Order(length_mm=90.0, repeat="once")
    with no_trials():
        found = compare(order, boat(), BOAT_BEADS, [8, 16, 24], [])
    rows = found.report["best_first"]
    assert [row["strands"] for row in rows] == [24, 16, 8]
    said = [{"yes": 0, "hardly": 1, "no": 2}[row["recognised"]] for row in rows]
    assert said == sorted(said)
    assert said[-1] >= 1
    for row in rows:
        assert row["score"] == pytest.approx(row["seen"] + row["edge_lost_percent"] / 10, abs=1e-3)
        assert "#f0dc96" in row["colours_lost"]
    for braided in found.braids:
        # whether it can be recognised is the first to be said of a braid
        doubts = [one.weight is Weight.READS for one in braided.findings]
        assert doubts[0] == any(doubts)
    doubted = [one for one in found.findings if one.code is Code.BRAIDS_IN_DOUBT]
    assert {"strands": 8, "bead": "8/0"} in [b for one in doubted for b in one.data["braids"]]
    assert found.findings[0].code is Code.BEST_BRAID
    assert found.findings[0].data["recognised"] == rows[0]["recognised"]
    assert found.report["words"] == list(map(sentence, found.findings))
    text = found.files()["compare.svg"].decode()
    assert ">recognised</" in text


def test_nothing_reads_best_that_cannot_be_recognised():
    order = Order(length_mm=60.0, repeat="once", width_mm=3.0, quick=True)
    found = compare(order, boat(), BOAT_BEADS, [8, 12], [])
    best, *others = found.findings
    assert best.code is Code.BEST_BRAID
    assert best.data["recognised"] == "no"
    assert not best.data["alone"]
    assert others == []  # none is nearly as good, nor worse than all of them
    (alone,) = replace(found, braids=found.braids[:1]).findings
    assert alone.data["recognised"] == "no"
    assert alone.data["alone"]


def test_more_beads_across_read_better(found):
    # the letter reads on 8 strands, and better on 16
    strands = [row["strands"] for row in found.report["best_first"]]
    assert strands[0] == 16
    assert found.findings[0].data["braid"]["strands"] == 16


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
        assert braid_title(braided.name) in text


def test_what_cannot_be_made_is_left_out_with_its_reason(letter, palette):
    # once round 8 strands is less than that
    order = Order(quick=True, length_mm=60.0, repeat="once", width_mm=16.0)
    found = compare(order, letter, palette, [8, 24], ["8/0"])
    assert [b.made.design.braid.strands for b in found.braids] == [24]
    (left_out,) = found.refused
    assert left_out.code is Code.BRAID_LEFT_OUT
    assert left_out.data["braid"] == {"strands": 8, "bead": "8/0"}
    assert found.findings[-1] == left_out
    (why,) = found.report["refused"]
    assert why == f"8 strands, 8/0: {left_out.data['why']}"
    (left_out,) = compare(order, letter, palette, [24, 9], ["8/0"]).refused
    assert left_out.data["why"] == "this braid is worked with 8, 12, 16, 20, 24 strands, not 9."


def test_nothing_to_compare(letter, palette):
    with pytest.raises(WrongUsage, match="0 braids"):
        compare(ORDER, letter, palette, [], ["8/0"])
    with pytest.raises(WrongUsage, match="30 braids"):
        compare(ORDER, letter, palette, [8, 12, 16, 20, 24, 28], ["a", "b", "c", "d", "e"])
    with pytest.raises(WrongUsage, match="bead size"):
        compare(ORDER, letter, palette, [8], ["99/0"])


def test_what_no_braid_is_to_blame_for_is_reported_once(letter, palette):
    order = Order(quick=True, wrist_mm=17.0)
    with pytest.raises(WrongUsage) as caught:
        compare(order, letter, palette, [8, 12, 16], [])
    assert str(caught.value).startswith("wrist 17 mm")
    assert len(str(caught.value).splitlines()) == 1


def test_a_picture_of_nothing_reads_best_on_no_braid(palette):
    clear = BytesIO()
    Image.new("RGBA", (40, 60)).save(clear, "PNG")
    found = compare(ORDER, read_picture(clear.getvalue(), "clear.png"), palette, [8, 16], [])
    (only,) = found.findings
    assert only.code is Code.NOTHING_DRAWN
    assert set(found.files()) == {"compare.json", "compare.png", "compare.svg"}


def test_a_text_is_compared_like_a_sketch_and_doubt_about_a_letter_counts(palette):
    compared = compare(Order(text="REED", length_mm=90.0, quick=True), None, palette, (8, 12), ())
    assert compared.report["picture"] == "“REED”"
    assert {one.numbers.strands for one in compared.braids} == {8, 12}
    best = compared.braids[0]
    assert best.doubt == 0
    doubt = Finding(Code.LETTERS_IN_DOUBT, {"letters": [{"letter": "E", "like": "B"}]})
    doubtful = Braided(replace(best.made, findings=(doubt,)), best.seen)
    assert doubtful.doubt == 1
    assert doubtful.findings[0] is doubt
    assert doubtful.rank > best.rank
