"""The option table: it agrees with what the core knows, and reads what it writes."""

from __future__ import annotations

import pickle
from typing import get_args

import pytest
from himotif.convert.options import (
    Limits,
    OneOf,
    Option,
    Order,
    Papers,
    Pin,
    all_options,
    page_names,
    read_values,
    remedy_label,
    remedy_words,
    table,
)
from himotif.core.braid.braid import LAYS, STRANDS, TURNS
from himotif.core.design.design import Fit
from himotif.core.design.origin import SketchKind
from himotif.core.errors import WrongUsage
from himotif.core.findings import Remedy

ORDER = table(Order)


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("strands", STRANDS),
        ("lay", LAYS),
        ("turn", TURNS),
        ("fit", get_args(Fit)),
        ("kind", get_args(SketchKind)),
        ("pin", get_args(Pin)),
    ],
)
def test_choices_are_those_of_the_core(field, values):
    kind = ORDER[field].kind
    assert isinstance(kind, OneOf)
    assert kind.values == tuple(values)
    assert len(kind.names) in (0, len(values))


def test_no_two_options_share_a_name():
    options = [one for of in (Order, Papers, Limits) for one in table(of).values()]
    names = [one.command for one in options]
    assert len(set(names)) == len(names) > 30
    fields = [part.name or one.name for one in options for part in one.page]
    assert len(set(fields)) == len(fields)


VALUES = {
    "strands": 12,
    "lay": "Z",
    "bead_size": "11/0",
    "bead_diameter_mm": 3.1,
    "wrist_mm": 177.8,
    "rotate_deg": -45.0,
    "repeat": 3,
    "gap_rounds": 2.5,
    "background": "A",
    "most": 4,
    "keep": ("A", "B"),
    "moved_mm": (1.5, -4.0),
    "pin": ("shift", "turn"),
    "scatter": {"L": 0.1, "R": 0.05},
    "seed": 7,
}


@pytest.mark.parametrize("field", VALUES)
def test_what_the_command_writes_it_reads(field):
    words = all_options()[field].words(VALUES[field]).split()
    texts = [text for text in words if not text.startswith("--")]
    assert set(words) - set(texts) == {ORDER[field].command}
    given = tuple(texts) if ORDER[field].collect is not None else texts[0]
    assert read_values({field: given}, ORDER) == {field: VALUES[field]}


def test_an_option_as_typed():
    assert all_options()["width_mm"].words(13.0) == "--width 13mm"
    assert all_options()["keep"].words(["A"]) == "--keep A"
    assert all_options()["quick"].words(True) == "--quick"
    assert all_options()["tally"].words(False) == "--no-tally"
    assert all_options()["kept_percent"].words(90.0) == "--require-kept 90"


def test_a_remedy_in_words_of_the_page():
    assert remedy_label(Remedy("width_mm", 13.0)) == "“Width” 13 mm"
    assert remedy_label(Remedy("rotate_deg", 90.0)) == "“Turn” 90 degrees"
    assert remedy_label(Remedy("fit", "face")) == "“Shapes are true” from the front"
    assert remedy_label(Remedy("moved_mm", (1.0, 2.0))) == "“To the right” 1 mm and “Up” 2 mm"
    assert remedy_label(Remedy("wrist_mm", None)) == "“Wrist”"
    assert remedy_label(Remedy("choice", 2)) is None
    both = Remedy("strands", 12, (Remedy("width_mm", 20.5),))
    assert remedy_label(both) == "“Strands” 12 and “Width” 20.5 mm"
    assert remedy_words(both) == "--strands 12 --width 20.5mm"
    assert remedy_words(Remedy("wrist_mm", None)) == "--wrist"


def test_fields_of_the_page():
    assert page_names("wrist_mm") == ("wrist",)
    assert page_names("moved_mm") == ("right", "up")
    assert page_names("up") == ("up",)
    assert page_names("choice") == ()
    assert page_names("palette") == ("palette",)


def test_all_that_is_wrong_is_refused_together():
    given = {"strands": "9", "wrist_mm": "long", "gap_rounds": "-1", "scatter": ("A=2", "B")}
    with pytest.raises(WrongUsage) as caught:
        read_values(given | {"lay": "Z", "most": None}, ORDER)
    parts = caught.value.parts
    assert [part.field for part in parts] == ["strands", "wrist_mm", "gap_rounds", "scatter"]
    assert str(caught.value).splitlines() == [str(part) for part in parts]
    # it comes whole from another process, too
    again = pickle.loads(pickle.dumps(caught.value))
    assert [(part.field, str(part)) for part in again.parts] == [
        (part.field, str(part)) for part in parts
    ]


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("repeat", "0"), ("repeat", "-1"), ("repeat", "1" * 5000), ("repeat", "often"),
        ("moved_mm", "1"), ("moved_mm", "1,2,3"), ("moved_mm", "a,b"), ("moved_mm", "nan,0"),
        ("rotate_deg", "inf"), ("most", "1"), ("most", "2.5"), ("seed", "-1"),
        ("width_mm", "-4"), ("width_mm", "9" * 400), ("lay", "Q"),
        ("scatter", ("L",)), ("scatter", ("L=0",)), ("scatter", ("L=1.5",)),
        ("scatter", ("=0.1",)), ("scatter", ("L=x",)),
    ],
)  # fmt: skip
def test_what_is_no_value_is_refused(field, text):
    with pytest.raises(WrongUsage) as caught:
        read_values({field: text}, ORDER)
    assert caught.value.parts[0].field == field


def test_shares_are_parts_or_percent():
    assert read_values({"scatter": ("L=0.1", " R = 12.5% ")}, ORDER) == {
        "scatter": {"L": 0.1, "R": 0.125}
    }


def test_a_place_may_have_units():
    assert read_values({"moved_mm": "1.5,-4"}, ORDER) == {"moved_mm": (1.5, -4.0)}
    assert read_values({"moved_mm": "−0.5cm,1/2in"}, ORDER) == {"moved_mm": (-5.0, 12.7)}


def test_a_design_keeps_what_differs_from_the_defaults():
    assert Order().settings() == {}
    order = Order(strands=12, scatter={"L": 0.1}, keep=("A",), unit="in")
    assert order.settings() == {
        "strands": 12, "unit": "in", "keep": ["A"], "scatter": {"L": 0.1}
    }  # fmt: skip


def test_every_option_has_a_group_and_help():
    for of in (Order, Papers, Limits):
        for name, one in table(of).items():
            assert isinstance(one, Option)
            assert one.help.endswith("."), name
            assert one.group.value != "Options", name


@pytest.mark.parametrize(
    ("text", "lay"), [("S", "S"), ("z", "Z"), ("S lay", "S"), ("z-twist", "Z"), (" Z ", "Z")]
)
def test_a_lay_is_understood(text, lay):
    assert read_values({"lay": text}, ORDER) == {"lay": lay}


@pytest.mark.parametrize("text", ["left", "Right", "left-handed", "mirrored", "mirror image"])
def test_what_can_mean_either_lay_is_answered_with_the_moves(text):
    with pytest.raises(WrongUsage) as caught:
        read_values({"lay": text}, ORDER)
    # common practice: an S lay takes the top left strand down, a Z lay the top right
    assert "S: top left goes down, bottom right goes up" in str(caught.value)
    assert "Z: top right goes down, bottom left goes up" in str(caught.value)
    (part,) = caught.value.parts
    assert [remedy.value for remedy in part.remedies] == ["S", "Z"]


def test_a_bare_number_is_a_size():
    assert read_values({"bead_size": "6"}, ORDER) == {"bead_size": "6/0"}
