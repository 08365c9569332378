"""A maker's own start on another disc."""

from __future__ import annotations

import json

import numpy as np
import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.core.braid.braid import Braid
from himotif.core.braid.own_start import disc_from_dict, read_own_start
from himotif.core.errors import HimotifError, Problems, WrongUsage


def evenly(slots: int, pairs: int) -> dict:
    """A start spread as evenly as whole slots allow."""
    half = [slots, *(round(index * slots / pairs) for index in range(1, pairs // 2))]
    firsts = half + [(first + slots // 2 - 1) % slots + 1 for first in half]
    return {"slots": slots, "pairs": [[first, first % slots + 1] for first in firsts]}


@pytest.mark.parametrize("slots", [48, 64])
@pytest.mark.parametrize("strands", [8, 12, 16, 20, 24])
def test_larger_discs_give_the_same_braid(tmp_path, slots, strands):
    # the topology does not know the disc: the order of the strands is that of the usual disc
    path = tmp_path / "start.json"
    path.write_text(json.dumps(evenly(slots, strands // 2)))
    for lay in ("S", "Z"):
        braid = Braid(strands, lay, disc=read_own_start(path))
        moves = list(braid.work(6 * strands))
        assert np.array_equal(
            [move.strand for move in moves], Braid(strands, lay).strand_of(np.arange(6 * strands))
        )
        # S lay goes half a disc and two slots on, Z lay two short of it
        reach = {(move.to_slot - move.from_slot) % slots for move in moves}
        assert reach == {slots // 2 + (2 if lay == "S" else -2)}


def test_a_collision_is_named_with_its_move(tmp_path):
    # pairs shoulder to shoulder leave no slot to put a strand down
    path = tmp_path / "crowded.json"
    pairs = [[16, 1], *([slot, slot + 1] for slot in range(2, 16, 2))]
    path.write_text(json.dumps({"slots": 16, "pairs": pairs}))
    disc = read_own_start(path)
    with pytest.raises(WrongUsage, match=r"crossing 1 would take the strand in slot 16 to slot 10"):
        Braid(16, disc=disc)
    # what is named instead can be worked; where nothing can, another start is asked for
    for braid in ({"strands": 24, "turn": "other"}, {"strands": 16, "disc": disc}):
        with pytest.raises(WrongUsage) as caught:
            Braid(**braid)
        for remedy in caught.value.remedies:
            Braid(**(braid | {remedy.field: remedy.value}))
        assert bool(caught.value.remedies) is ("another start" not in str(caught.value))
    assert not caught.value.remedies


def test_all_problems_come_together(tmp_path):
    path = tmp_path / "start.json"
    path.write_text(
        json.dumps({"slots": 48, "pairs": [[1, 2], [12, 14], [12, 13], [90, 91]], "twist": 1})
    )
    with pytest.raises(Problems) as caught:
        read_own_start(path)
    text = str(caught.value)
    for part in (
        "twist",
        "slot 90, 91: the disc has slots 1 to 48",
        "pair 2 (12, 14)",
        "slot 12 is taken by pair 2",
        "begin with the pair at north, slots 48 and 1",
    ):
        assert part in text
    assert all(line.startswith(str(path)) for line in text.splitlines())


def test_a_pair_that_is_not_opposite_is_named():
    plain = evenly(48, 4)
    plain["pairs"][3] = [37, 38]
    with pytest.raises(Problems, match=r"pair 4 starts in slot 37.*must start in slot 36"):
        disc_from_dict(plain)


@pytest.mark.parametrize(
    "plain",
    [
        [],
        {},
        {"slots": 48},
        {"slots": 47, "pairs": [[47, 1]]},
        {"slots": True, "pairs": []},
        {"slots": 48, "pairs": [[48, 1], [24, 25]]},
        {"slots": 48, "pairs": [[48, "1"], [12, 13], [24, 25], [36, 37]]},
        {"slots": 48, "pairs": [[48, 1], [36, 37], [24, 25], [12, 13]]},
        {"slots": 48, "pairs": {}},
    ],
)
def test_what_is_no_start(plain):
    with pytest.raises(Problems):
        disc_from_dict(plain)


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(HimotifError, match="no such file"):
        read_own_start(tmp_path / "none.json")
    path = tmp_path / "start.json"
    path.write_text('{"slots": 48,\n "pairs": }')
    with pytest.raises(HimotifError, match=r"start.json:2: this is not JSON"):
        read_own_start(path)


def test_strands_that_the_disc_has_not_are_refused(tmp_path):
    start = tmp_path / "start.json"
    start.write_text('{"slots": 32, "pairs": [[32, 1], [8, 9], [16, 17], [24, 25]]}')
    asked = ["convert", "x.png", "--palette", "x.csv", "--out", str(tmp_path / "out")]
    for strands, said in (("12", "--strands: your own disc has 8 strands, not 12"), ("8", "x.csv")):
        done = CliRunner().invoke(main, [*asked, "--start", str(start), "--strands", strands])
        assert said in done.output
