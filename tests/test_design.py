"""The design file: what is written comes back, what is broken is named whole."""

from __future__ import annotations

import json
from collections.abc import Iterator
from copy import deepcopy
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from himotif.convert.options import Papers
from himotif.convert.write.outputs import folder_files
from himotif.core.bead import Bead, bead_size
from himotif.core.braid.braid import Braid, Disc
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.design.design import Design, PlacedPicture, Repeat
from himotif.core.design.file import design_dict, design_from_dict, design_json, read_design
from himotif.core.design.origin import (
    ConversionFacts,
    MotifSize,
    Origin,
    PaperChoice,
    SketchColour,
)
from himotif.core.errors import HimotifError, Problems
from himotif.core.paper.chart import chart_page

PALETTE = (
    Bead("A", "oyster", (243, 238, 225), size="8/0", stock=40),
    Bead("Ж", "прилив", (28, 41, 71), shape="drop", grams=10.0, price=3.5),
)


def full_design(braid: Braid | None = None) -> Design:
    lattice = Lattice.computed(braid or Braid(8), bead_size("8/0"), Swatch(drift_deg=44.0))
    beads = np.arange(96) % 2
    where = np.stack([np.arange(96.0), np.arange(96.0) / 3], axis=1)
    where[5] = np.nan
    picture = PlacedPicture(
        "heron.png", "00" * 32, (640, 480), "wrap", 21.3, 180.0, where, 90.0, ((180.0, 8.4),)
    )
    return Design(
        lattice,
        bead_size("8/0"),
        PALETTE,
        beads,
        background=1,
        picture=picture,
        repeat=Repeat(8, 4, True, 2),
        origin=Origin(
            {"wrist_mm": 165.0, "scatter": {"A": 0.2}},
            finished_mm=190.0,
            conversion=ConversionFacts(
                "flat",
                (SketchColour("#1c2947", 0.25, PALETTE[0].code),),
                None,
                MotifSize(12.0, 90.0),
                MotifSize(12.4, 88.5),
                {PALETTE[0].code: (4, 18)},
            ),
        ),
        papers=PaperChoice(paper="letter", tally=True),
    )


@pytest.mark.parametrize(
    "braid",
    [
        Braid(8),
        Braid(16, "Z", "other"),
        Braid(8, disc=Disc(48, ((48, 1), (12, 13), (24, 25), (36, 37)))),
    ],
    ids=str,
)
def test_a_design_comes_back_from_its_file(braid, tmp_path):
    design = full_design(braid)
    (tmp_path / "design.json").write_text(design_json(design), encoding="utf-8")
    back = read_design(tmp_path)
    assert design_dict(back) == design_dict(design)
    assert back.lattice == design.lattice
    assert dict(back.lattice.source) == {
        "radius_mm": "computed",
        "rise_mm": "computed",
        "drift_deg": "measured",
    }
    assert design_json(back) == design_json(design)


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("flip", [True, False])
def test_repeats_walk_with_a_measured_drift(lay, flip):
    design = replace(full_design(Braid(8, lay)), repeat=Repeat(8, 4, flip, 2))
    shift = design.repeat_shift()
    assert shift is not None
    first = np.arange(8, 24)
    azimuth = design.lattice.azimuth_deg
    walked = azimuth(shift.crossing(first, design.braid)) - azimuth(first)
    assert (walked - shift.walk_deg + 180) % 360 == pytest.approx(180)
    # four rounds of 44° are 4° short of half a turn; computed they would be 45°
    assert abs(shift.walk_deg) == pytest.approx(4 if flip else 176)


def test_the_file_has_the_promised_keys():
    plain = json.loads(design_json(full_design()))
    assert plain["schema"] == 1
    assert plain["braid"] == {"strands": 8, "lay": "S", "turn": "usual"}
    assert set(plain["lattice"]) == {"radius_mm", "rise_mm", "drift_deg", "source"}
    assert plain["bead"] == {"size": "8/0", "diameter_mm": 3.0, "length_mm": 2.1}
    assert plain["palette"][0]["rgb"] == [243, 238, 225]
    assert set(plain["picture"]) == {"file", "sha256", "size_px"}
    assert plain["placement"]["where_px"][4] == [4.0, 1.333]
    assert plain["placement"]["where_px"][5] is None


def test_all_problems_come_together():
    plain = design_dict(full_design())
    del plain["braid"]["lay"]
    plain["lattice"]["rise_mm"] = "tall"
    plain["palette"][0]["rgb"] = [300, 0, 0]
    plain["beads"][3] = 7
    plain["placement"]["where_px"] = plain["placement"]["where_px"][:-1]
    plain["background"] = "Z"
    plain["settings"] |= {"wrist_mm": "wide", "clasp_mm": -50.0}
    with pytest.raises(Problems) as caught:
        design_from_dict(plain)
    said = "\n".join(caught.value.problems)
    for key in (
        "settings.wrist_mm",
        "settings.clasp_mm",
        "braid.lay",
        "lattice.rise_mm",
        "palette[0].rgb",
        "beads[3]",
        "placement.where_px",
        "background",
    ):
        assert key in said
    assert len(caught.value.problems) == 8


@pytest.mark.parametrize("strands", [8, 12, 20])
def test_beads_of_another_braid_are_refused(strands):
    plain = design_dict(full_design(Braid(16)))
    plain["braid"]["strands"] = strands
    with pytest.raises(Problems) as caught:
        design_from_dict(plain)
    (lattice,) = [one for one in caught.value.problems if "lattice: " in one]
    due = Lattice.computed(Braid(strands), bead_size("8/0"))
    assert f"radius_mm 4.35701, not {due.radius_mm:.6g}" in lattice
    assert f"not {due.rise_mm:.6g}" in lattice
    # the drift was measured: nothing is computed in its place
    assert "drift_deg" not in lattice
    assert len(caught.value.problems) == 1 + bool(96 % (strands // 2))


@pytest.mark.parametrize(
    ("key", "value"), [("radius_mm", 5.0), ("rise_mm", 2.0), ("drift_deg", 44.0)]
)
def test_a_computed_lattice_belongs_to_its_braid_and_a_measured_one_to_its_maker(key, value):
    plain = design_dict(full_design())
    plain["lattice"] |= {key: value}
    plain["lattice"]["source"] |= {key: "computed"}
    with pytest.raises(Problems, match=rf"lattice: .*\({key} {value:g}, not ") as caught:
        design_from_dict(plain)
    assert len(caught.value.problems) == 1
    plain["lattice"]["source"] |= {key: "measured"}
    assert getattr(design_from_dict(plain).lattice, key) == value


def test_a_computed_lattice_belongs_to_its_bead():
    plain = design_dict(full_design())
    plain["bead"] |= {"diameter_mm": 2.2}
    with pytest.raises(Problems, match="lattice: does not belong to this braid and bead"):
        design_from_dict(plain)


@pytest.mark.parametrize("more", [1, 3])
def test_a_design_has_whole_rounds(more):
    plain = design_dict(full_design())
    plain["beads"] += [0] * more
    plain["placement"]["where_px"] += [None] * more
    problem = f"beads: {96 + more} beads are {more} more than whole rounds of 4"
    with pytest.raises(Problems, match=problem):
        design_from_dict(plain)
    plain["beads"] += [0] * (4 - more)
    plain["placement"]["where_px"] += [None] * (4 - more)
    assert design_from_dict(plain).rounds == 25


@pytest.mark.parametrize(
    ("wrong", "most"), [({"count": 99}, 6), ({"count": 7}, 6), ({"rounds": 20}, 1)]
)
def test_every_repeat_lies_on_the_braid(wrong, most):
    # 24 rounds; from round 3 on a motif every 4 rounds
    plain = design_dict(full_design())
    plain["repeat"] |= wrong
    with pytest.raises(Problems, match=rf"repeat: .* count may be up to {most}\."):
        design_from_dict(plain)
    plain["repeat"]["count"] = most
    assert design_from_dict(plain).repeat.count == most
    plain["repeat"]["first_crossing"] = 200
    with pytest.raises(Problems, match=r"repeat: .* do not lie on the braid"):
        design_from_dict(plain)


def replaced(plain: Any, value: Any) -> Iterator[tuple[str, Any]]:
    """Yield copies of plain values with one of them replaced, and where that is."""

    def places(inner: Any, way: tuple[Any, ...]) -> Iterator[tuple[Any, ...]]:
        keys = inner if isinstance(inner, dict) else range(min(len(inner), 2))
        for key in keys:
            yield (*way, key)
            if isinstance(inner[key], dict | list):
                yield from places(inner[key], (*way, key))

    for *outer, last in places(plain, ()):
        copy = deepcopy(plain)
        within = copy
        for key in outer:
            within = within[key]
        within[last] = value
        yield ".".join(map(str, (*outer, last))), copy


WRONG = (None, [], {}, [[None]], {"no": 1}, "many", "", True, 0, 7, -3, 2.5, 1e400, -1e400)
WRONG += (float("nan"), 10**400, [1e400, 1e400], ["many", "more"], [5, None])


@pytest.mark.parametrize("value", WRONG, ids=lambda value: f"{value!r:.12}")
def test_any_wrong_value_is_a_problem_or_a_design_that_has_papers(value):
    design = full_design(Braid(8, disc=Disc(48, ((48, 1), (12, 13), (24, 25), (36, 37)))))
    plain = design_dict(design)
    plain["settings"] |= {"notes": ["The tide comes in."], "swatch": True}
    read, refused = [], {}
    for where, wrong in replaced(plain, value):
        try:
            read.append(design_from_dict(wrong))
        except Problems as error:
            refused[where] = error.problems
    assert len(read) + len(refused) > 100
    for where, problems in refused.items():
        assert any(where.split(".")[0] in problem for problem in problems)
        assert max(map(len, problems)) < 250
    for one in read:
        assert json.loads(design_json(one), parse_constant=pytest.fail)
        folder_files(one, Papers(lists_only=True))
        assert chart_page(one).shapes


def test_a_picture_lies_wrapped_or_on_the_face():
    plain = design_dict(full_design())
    plain["placement"]["fit"] = "foo"
    with pytest.raises(Problems, match=r'placement\.fit: is "foo", but must be wrap or face\.'):
        design_from_dict(plain)


@pytest.mark.parametrize(
    "plain", [None, [], {}, {"schema": 2}, {"schema": 1}, {"schema": 1, "braid": 3}]
)
def test_what_is_no_design_is_refused(plain):
    with pytest.raises(HimotifError):
        design_from_dict(plain)


def test_broken_json_is_named_with_its_line(tmp_path):
    path = tmp_path / "design.json"
    path.write_text('{"schema": 1,\n "beads": [1, 2,,]}', encoding="utf-8")
    with pytest.raises(HimotifError, match=r"design\.json:2: "):
        read_design(path)
