"""Swatches: readings and their file, questions, and the test braid that is measured."""

from __future__ import annotations

import json

import numpy as np
import pytest
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.errors import HimotifError, Problems, WrongUsage
from himotif.core.findings import Code, Finding, Remedy
from himotif.core.making.swatch import questions, read_readings, readings_json, record
from himotif.core.making.swatch_braid import swatch_braid
from himotif.core.paper.sheet_content import SheetContent
from hypothesis import given
from hypothesis import strategies as st

EIGHT = bead_size("8/0")
PALETTE = (Bead("L", "oyster", (243, 238, 225)), Bead("D", "tide", (28, 41, 71)))


def computed(strands: int = 8, lay: str = "S") -> Lattice:
    return Lattice.computed(Braid(strands, lay), EIGHT)


# -- readings --------------------------------------------------------------------------------------


@pytest.mark.parametrize("strands", STRANDS)
def test_a_perfect_swatch_gives_the_computed_lattice(strands):
    lattice = computed(strands)
    readings = record(
        lattice,
        thickness_mm=lattice.thickness_mm,
        rounds=20,
        length_mm=20 * lattice.rise_mm,
        column_rounds=lattice.columns_per_turn,
        reads_right=True,
    )
    assert questions(readings, lattice) == []
    again = Lattice.computed(lattice.braid, EIGHT, readings.swatch)
    assert again.radius_mm == pytest.approx(lattice.radius_mm)
    assert again.rise_mm == pytest.approx(lattice.rise_mm)
    assert again.drift_deg == pytest.approx(lattice.drift_deg)
    assert set(again.source.values()) == {"measured"}


def test_only_what_was_read_replaces_what_is_computed():
    lattice = Lattice.computed(Braid(8), EIGHT, record(computed(), thickness_mm=8.6).swatch)
    assert lattice.source == {
        "radius_mm": "measured",
        "rise_mm": "computed",
        "drift_deg": "computed",
    }
    assert lattice.thickness_mm == pytest.approx(8.6)


@given(
    # from a quarter to four times what is computed, about the axis of the braid
    thickness=st.floats(4.3, 22) | st.none(),
    length=st.floats(7, 100) | st.none(),
    column=st.floats(2.1, 31) | st.none(),
    right=st.booleans() | st.none(),
)
def test_the_file_gives_the_readings_back(tmp_path_factory, thickness, length, column, right):
    values = {
        "thickness_mm": thickness,
        "rounds": None if length is None else 12,
        "length_mm": length,
        "column_rounds": column,
        "reads_right": right,
    }
    if all(value is None for value in values.values()):
        return
    path = tmp_path_factory.getbasetemp() / "swatch.json"
    readings = record(computed(), **values)
    path.write_text(readings_json(readings), encoding="utf-8")
    assert read_readings(path) == readings
    assert json.loads(path.read_text())["schema"] == 1


@pytest.mark.parametrize(
    ("name", "values", "asked"),
    [
        ("thickness", {"thickness_mm": 7.98 * 1.3}, True),
        ("thickness", {"thickness_mm": 7.98 * 1.2}, False),
        ("thickness", {"thickness_mm": 7.98 * 0.7}, True),
        ("length", {"rounds": 20, "length_mm": 42 * 1.3}, True),
        ("length", {"rounds": 20, "length_mm": 42 * 0.8}, False),
        ("column", {"column_rounds": 12}, True),
        ("column", {"column_rounds": 9}, False),
    ],
)
def test_readings_more_than_a_quarter_off_are_questioned_not_refused(name, values, asked):
    lattice = computed()
    findings = questions(record(lattice, **values), lattice)
    codes = {
        "thickness": Code.THICKNESS_OFF,
        "length": Code.RISE_OFF,
        "column": Code.COLUMN_OFF,
    }
    assert [one.code for one in findings] == ([codes[name]] if asked else [])


def test_a_letter_that_reads_backwards_names_the_other_hand():
    for meant, worked in (("S", "Z"), ("Z", "S")):
        lattice = computed(lay=meant)
        (findings,) = questions(record(lattice, reads_right=False), lattice)
        assert findings.code is Code.LETTER_BACKWARDS
        assert findings.data == {"worked": worked, "meant": meant}
        assert findings.remedies == (Remedy("lay", worked),)


def test_a_swatch_that_reads_backwards_fits_the_other_hand():
    readings = record(computed(), thickness_mm=8.0, reads_right=False)
    assert questions(readings, computed(lay="Z")) == []


def test_a_swatch_of_another_braid_is_questioned():
    readings = record(computed(), thickness_mm=8.0)
    findings = questions(readings, computed(12))
    other = Finding(Code.SWATCH_OF_OTHER_BRAID, {"what": "strands", "swatch": 8, "braid": 12})
    assert other in findings
    (lay,) = questions(readings, computed(lay="Z"))
    assert (lay.code, lay.data) == (Code.SWATCH_OF_OTHER_LAY, {"swatch": "S", "braid": "Z"})


def test_what_cannot_be_is_refused_all_together():
    with pytest.raises(WrongUsage) as caught:
        record(computed(), thickness_mm=2.9, rounds=20, column_rounds=1.5)
    text = str(caught.value)
    assert len(text.splitlines()) == 3
    assert "no more than one bead" in text
    assert "a length needs its number of rounds" in text
    assert "_mm" not in text
    with pytest.raises(WrongUsage, match="no reading"):
        record(computed(), thickness_mm=None)


def test_a_reading_in_the_wrong_unit_is_refused_when_it_is_recorded():
    # cm for mm, and the length of another number of rounds
    with pytest.raises(WrongUsage) as caught:
        record(computed(), thickness_mm=80.0, rounds=160, length_mm=33.6)
    thickness, one_round = str(caught.value).splitlines()
    assert thickness.startswith("thickness 80 mm, where 7.98 mm are computed")
    assert one_round.startswith("length of one round 0.21 mm, where 2.1 mm are computed")
    # what is recorded can be worked with
    taken = record(computed(), thickness_mm=12.0, rounds=16, length_mm=60.0, column_rounds=20.0)
    assert Lattice.computed(Braid(8), EIGHT, taken.swatch).thickness_mm == pytest.approx(12.0)


def test_a_broken_file_names_all_its_problems(tmp_path):
    path = tmp_path / "swatch.json"
    path.write_text(
        json.dumps(
            {"schema": 1, "thickness_mm": "8", "rounds": -3, "reads_right": "yes", "twist": 4}
        )
    )
    with pytest.raises(Problems) as caught:
        read_readings(path)
    text = str(caught.value)
    for part in ("thickness_mm", "rounds", "reads_right", "twist", "a length needs its"):
        assert part in text
    assert all(line.startswith(str(path)) for line in text.splitlines())


@pytest.mark.parametrize("text", ["", "{", "[]", '{"schema": 2}', "\x00"])
def test_files_that_are_no_swatch(tmp_path, text):
    path = tmp_path / "swatch.json"
    path.write_text(text)
    with pytest.raises(HimotifError, match="Make it again"):
        read_readings(path)
    with pytest.raises(HimotifError, match="no such file"):
        read_readings(tmp_path / "none.json")


def test_empty_swatch_changes_nothing():
    assert Lattice.computed(Braid(8), EIGHT, Swatch()) == computed()


# -- the test braid --------------------------------------------------------------------------------


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("strands", STRANDS)
def test_the_rings_and_the_column_measure_what_they_say(strands, lay):
    lattice = computed(strands, lay)
    made = swatch_braid(lattice, EIGHT, PALETTE)
    beads = made.design.beads
    assert len(beads) % strands == 0
    dark = beads.reshape(-1, lattice.braid.beads_per_round).all(axis=1)
    first, second = np.flatnonzero(dark)[:2]
    assert second - first == made.rounds
    # every strand count has room for the column to come round between the rings
    assert made.rounds - 1 > lattice.columns_per_turn
    column = np.array(made.column)
    # a line: each bead one round above the last, beside it
    assert np.diff(lattice.height_mm(column)) == pytest.approx(lattice.rise_mm)
    start = lattice.azimuth_deg(column[0])
    turned = (lattice.azimuth_deg(column) - start) % 360
    straight = np.flatnonzero(np.minimum(turned, 360 - turned) < 1e-6)
    assert straight[1] == pytest.approx(lattice.columns_per_turn)
    assert np.abs(lattice.x_mm(column[:1])) < lattice.pitch_mm
    (length,) = [one for one in made.findings if one.code is Code.MEASURE_LENGTH]
    assert length.data["rounds"] == made.rounds
    assert length.data["computed_mm"] == pytest.approx(made.rounds * lattice.rise_mm)


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("strands", STRANDS)
def test_the_letter_is_an_f_that_reads_right(strands, lay):
    # seen from outside with the newest beads on top, in either hand: ink left of right, and in
    # the right half only in the upper part
    lattice = computed(strands, lay)
    made = swatch_braid(lattice, EIGHT, PALETTE)
    per_round = lattice.braid.beads_per_round
    above = (2 + made.rounds + 1) * per_round
    ink = above + np.flatnonzero(made.design.beads[above:])
    x, y = lattice.x_mm(ink), lattice.height_mm(ink)
    left, right = x.min(), x.max()
    assert np.abs(x).max() <= lattice.circumference_mm / 4 + lattice.pitch_mm / 2
    middle = (left + right) / 2
    assert np.count_nonzero(x < middle) > np.count_nonzero(x > middle)
    foot = y.min() + 0.3 * np.ptp(y)
    assert np.all(x[y < foot] < middle + lattice.pitch_mm / 2)
    assert y[x > middle].mean() > y.mean()


def test_the_papers_of_a_test_braid_are_called_so():
    made = swatch_braid(computed(), EIGHT, PALETTE)
    assert SheetContent(made.design).heading == "Test braid"
