"""What is reported lost is what the verdict's own numbers call lost, with its place and width."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from converting import advised, converted, no_trials
from himotif.convert.judge import keeping, trials
from himotif.convert.judge.conversion import Conversion
from himotif.convert.judge.keeping import NAMED_LOST, lost_findings
from himotif.convert.judge.lost import find_lost
from himotif.convert.read.picture import Picture, read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code, Finding
from himotif.palette.files import read_palette
from sketches import FIVE, NAVY, OYSTER, RUST, letter_f, picture

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
    assert made.trials is not None
    with no_trials():
        findings = lost_findings(flat, palette, made.trials)
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


# -- what would keep it ----------------------------------------------------------------------------

EYE_PX = 12.0


def eye(radius_px: float) -> Picture:
    """A navy disc with a rust eye in its upper right half."""
    y, x = np.mgrid[:150, :150]
    codes = np.full((150, 150, 3), OYSTER)
    codes[np.hypot(x - 75, y - 75) < 55] = NAVY
    codes[np.hypot(x - 90, y - 50) < radius_px / 2] = RUST
    return picture(codes)


def of_the_eye(made: Conversion) -> Finding | None:
    """What is said of a lost eye."""
    return next((one for one in made.findings if one.data.get("code") == "R"), None)


@pytest.fixture(scope="module")
def blind() -> Conversion:
    """The disc on a braid where its eye is lost."""
    return advised(eye(EYE_PX), FIVE, EIGHT, 80, repeat="once")


def test_what_is_said_to_keep_a_lost_part_keeps_it(blind: Conversion) -> None:
    lost = of_the_eye(blind)
    assert lost is not None
    assert lost.code is Code.LOST_PART
    assert lost.data["draw_mm"] / lost.data["pitch_mm"] >= 1.2
    # a little more, as pixels are whole
    redrawn = eye(EYE_PX * lost.data["draw_times"] + 1)
    assert blind.judgement.verdict == "reads"
    (remedy,) = lost.remedies
    assert remedy.field == "strands"
    other = Lattice.computed(Braid(remedy.value), bead_size("8/0"))
    for drawn, lattice in ((redrawn, EIGHT), (eye(EYE_PX), other)):
        after = converted(drawn, FIVE, lattice, 80, repeat="once")
        assert of_the_eye(after) is None
        assert after.judgement.verdict == "reads"


def test_what_was_not_carried_out_is_not_said(
    blind: Conversion, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert blind.trials is not None
    assert blind.fitted.flat is not None
    monkeypatch.setattr(keeping, "MOST_SEARCHES", 0)
    fresh = replace(blind.trials, _done={})
    (said,) = lost_findings(blind.fitted.flat, FIVE, fresh)
    assert (said.remedies, said.data["draw_mm"]) == ((), None)
    # what is known already is named and takes no search
    monkeypatch.setattr(trials, "fit", lambda *_: pytest.fail("searched once more"))
    (known,) = lost_findings(blind.fitted.flat, FIVE, blind.trials)
    lost = of_the_eye(blind)
    assert lost is not None
    assert known.remedies == lost.remedies


def test_nothing_is_searched_for_a_motif_that_loses_nothing(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    for search in ("fit", "fit_motif"):
        monkeypatch.setattr(trials, search, lambda *_: pytest.fail("a search"))
    made = advised(eye(45.0), FIVE, EIGHT, 80, repeat="once")
    assert of_the_eye(made) is None


def test_smaller_beads_are_tried_only_where_they_get_more_beads(blind: Conversion) -> None:
    trials = blind.trials
    assert trials is not None
    assert [*trials.smaller_beads()] == []
    # with the other turn 24 strands cannot be worked: that braid alone is passed over
    other = replace(trials, lattice=Lattice.computed(Braid(8, turn="other"), bead_size("8/0")))
    assert trials.strands() == ([], [12, 16, 20, 24])
    assert other.strands() == ([], [12, 16, 20])
    asked = replace(trials, order=replace(trials.order, width_mm=10.0))
    assert [*asked.smaller_beads()] == [{"bead_size": "11/0"}, {"bead_size": "15/0"}]
    done = asked.carried_out({"bead_size": "11/0"})
    assert done is not None
    assert done[0].diameter_mm == 2.1
