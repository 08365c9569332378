"""The lists to be read aloud: complete, in plain words, in the promised form."""

from __future__ import annotations

import re
from dataclasses import replace

import numpy as np
import pytest
from himotif.core.design.design import PlacedPicture
from himotif.core.design.loads import beads_from_lists
from himotif.core.design.origin import Origin
from himotif.core.findings import remark
from himotif.core.paper.read_aloud import stringing_text
from himotif.core.paper.sheet_content import SheetContent
from sheet_designs import marsh, printed, unfold

NOWHERE = np.full((160, 2), np.nan)

LINE = re.compile(r"^Strand (\d+), slot (\d+), (\d+) beads: (.*)$", re.MULTILINE)


def spoken(text: str) -> list[list[str]]:
    """The lists in words, as somebody who listens would write them down: names, bead by bead."""
    out: list[list[str]] = []
    said = text.split("The same lists in words:")[1].split("With beads:")[0]
    for line in said.splitlines():
        if re.fullmatch(r"Strand \d+ of \d+, slot \d+, \d+ beads\.", line):
            out.append([])
            continue
        found = re.fullmatch(
            r"(?:(\d+) times, (\d+) beads each time: )?(.*)\. Now ((?:\d+, )*)(\d+)\.", line
        )
        if not found:
            continue
        times, each, words, between, now = found.groups()
        beads: list[str] = []
        for part in words.split("; "):
            runs, _, so_far = part.partition(", so far ")
            for run in re.split(r", (?=\d+ )", runs):
                number, name = run.split(" ", 1)
                beads += [name] * int(number)
            assert not so_far or len(beads) == int(so_far)
        assert each is None or len(beads) == int(each)
        # after each time of a repeat the number is said
        ends = [len(out[-1]) + len(beads) * time for time in range(1, int(times or 1))]
        assert between == "".join(f"{end}, " for end in ends)
        out[-1] += beads * int(times or 1)
        assert len(out[-1]) == int(now)
    return out


@pytest.mark.parametrize(("strands", "lay"), [(8, "S"), (8, "Z"), (16, "Z"), (24, "S")])
def test_both_forms_of_the_lists_give_the_design(strands, lay):
    design = marsh(strands, lay, colours=6, rounds=60)
    text = stringing_text(SheetContent(design, "Heron"))
    lines = LINE.findall(text)
    assert [(int(s), int(slot)) for s, slot, *_ in lines] == list(
        enumerate(design.braid.start_slots, start=1)
    )
    codes = {bead.code: index for index, bead in enumerate(design.palette)}
    names = {bead.name: index for index, bead in enumerate(design.palette)}
    written = [[codes[code] for code in unfold(folded)] for *_, folded in lines]
    heard = [[names[name] for name in beads] for beads in spoken(text)]
    for lists in (written, heard):
        np.testing.assert_array_equal(beads_from_lists(lists, design.braid), design.beads)


def test_a_long_repeat_is_counted_inside_and_after_each_time():
    design = marsh(8, colours=6, rounds=80)
    strand = design.braid.strand_of(np.arange(len(design.beads)))
    own = [0, 1, 2, 3, 4, 5, 0, 1, 2, 3, 0, 1, 2, 5]
    beads = design.beads.copy()
    beads[strand == 2] = np.resize(own, np.count_nonzero(strand == 2))
    text = stringing_text(SheetContent(replace(design, beads=beads)))
    (line,) = [line for line in text.splitlines() if "14 beads each time" in line]
    assert line.startswith("2 times, 14 beads each time: 1 oyster, 1 deep water, ")
    assert ", so far 10; " in line
    assert line.endswith(". Now 14, 28.")
    assert len(spoken(text)) == 8


def test_nobody_has_to_count_far():
    """The number on the strand is said at least every ten beads and a run, or with each repeat."""
    text = stringing_text(SheetContent(marsh(8, colours=6, rounds=80)))
    lines = [
        line
        for line in text.split("The same lists in words:")[1].splitlines()
        if line.endswith(".") and ". Now " in line and " times, " not in line
    ]
    assert len(lines) >= 8  # at least one a strand
    for line in lines:
        counts = [int(run.split(" ", 1)[0]) for run in re.split(r", (?=\d+ )", line)]
        assert sum(counts[:-1]) < 10


def test_beads_of_one_name_are_told_apart():
    design = marsh(8, colours=3)
    twins = tuple(replace(bead, name="oyster") for bead in design.palette[:2])
    text = stringing_text(SheetContent(replace(design, palette=(*twins, design.palette[2]))))
    said = text.split("The same lists in words:")[1]
    assert "oyster A" in said
    assert "oyster B" in said
    assert "reed green" in said
    assert "reed green C" not in said


def test_drops_are_turned_in_words():
    design = marsh(8, colours=2)
    design = replace(design, palette=(design.palette[0], replace(design.palette[1], shape="drop")))
    text = stringing_text(SheetContent(design))
    said = text.split("The same lists in words:")[1].split("With beads:")[0]
    assert "deep water, wide end toward the disc" in said
    assert "←" not in said
    assert "1 B←" in text


def test_plain_sentences():
    """No drawn lines, no tables, nothing that a screen reader would spell out."""
    text = stringing_text(
        SheetContent(marsh(8), "Moon", findings=(remark("Leave the back plain."),))
    )
    assert not re.search(r"[│─━═|_*#<>\t]|\.\.\.|  ", text)
    assert "Leave the back plain." in text
    assert all(line == line.strip() for line in text.splitlines())
    assert text.endswith(".\n")


def test_same_design_same_text():
    assert stringing_text(SheetContent(marsh(8))) == stringing_text(SheetContent(marsh(8)))


def test_the_stock_is_reported_in_her_unit():
    design = marsh()
    stocked = tuple(replace(bead, stock=500) for bead in design.palette)
    text = stringing_text(SheetContent(printed(replace(design, palette=stocked), unit="in")))
    line = next(line for line in text.splitlines() if line.startswith("The stock"))
    assert re.search(r"\d in ", line)
    assert " cm" not in line


@pytest.mark.parametrize(
    ("front_deg", "side"),
    [
        (180.0, "side that faces you:"),
        (168.5, "side that points between 5 and 6 o'clock"),
        (150.0, "side that points to 5 o'clock"),
        (-175.0, "side that faces you:"),
        (-165.0, "side that points between 6 and 7 o'clock"),
        (15.0, "side that points between 12 and 1 o'clock"),
        (345.0, "side that points between 11 and 12 o'clock"),
        (0.0, "side that faces away from you:"),
    ],
)
def test_the_front_is_said_to_half_an_hour(front_deg, side):
    design = marsh()
    picture = PlacedPicture("moon.png", "", (9, 9), "wrap", 1.0, front_deg, NOWHERE)
    assert side in SheetContent(replace(design, picture=picture)).plain_start[2]


def test_settings_are_reported_with_units_and_without_what_stands_elsewhere():
    order = {
        "strands": 8,
        "length_mm": 177.8,
        "rotate_deg": 90.0,
        "gap_rounds": 0.0,
        "keep": ["A", "B"],
        "scatter": {"C": 0.1},
        "swatch": {"rounds": 20, "thickness_mm": 8.4},
        "quick": True,
    }
    origin = Origin(order, findings=(remark("Sentences of their own."),))
    settings = "; ".join(SheetContent(replace(marsh(), origin=origin)).settings)
    assert (
        "length 17.78 cm; rotate 90°; gap 0 rounds; keep A, B; scatter C 0.1; "
        "swatch rounds 20; swatch thickness 8.4 mm; quick;" in settings
    )
    assert "Sentences" not in settings
    assert "[" not in settings
