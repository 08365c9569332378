"""Broken and boundless input: one clear message and exit code 1 or 2, in bounded time."""

import json
import os
import subprocess
import sys
import time
import warnings
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from drawn import blank_views, plain_pictures
from himotif.convert.cli import main
from himotif.convert.read.picture import read_picture
from himotif.convert.wording import palette_lines
from himotif.core.bead import BeadSize, bead_size
from himotif.core.bounds import BOUNDS
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.braid.own_start import disc_from_dict
from himotif.core.design.design import Design
from himotif.core.design.file import design_from_dict, design_json, read_design
from himotif.core.design.loads import stringing_csv
from himotif.core.design.origin import Origin, PaperChoice
from himotif.core.drawing.fonts import text_width_mm
from himotif.core.drawing.layout import shortened, wrap
from himotif.core.errors import HimotifError, Problems
from himotif.core.findings import Code
from himotif.core.making.lengths import lengths
from himotif.core.making.swatch import read_readings, readings_from_dict
from himotif.core.paper.preview_sheet import four_sides_page
from himotif.core.paper.wording import sentence
from himotif.palette.colour import parse_colour
from himotif.palette.files import parse_palette, read_palette
from himotif.palette.show import MOST_PAIRS, PaletteReport
from PIL import Image

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"
BEADS = FIXTURES / "palettes" / "saltmarsh.csv"
REED = FIXTURES / "motifs" / "reed.png"


def design(beads: int = 40) -> Design:
    return Design(
        Lattice.computed(Braid(8), bead_size("8/0")),
        bead_size("8/0"),
        parse_palette("code,name,colour\nA,oyster,#f3eee1\nB,mud,#443322\n").beads,
        np.arange(beads) % 2,
    )


def plain(**changed: object) -> dict[str, object]:
    return json.loads(design_json(design())) | changed


def himotif(*arguments: object, **more: object) -> "subprocess.CompletedProcess[bytes]":
    command = [sys.executable, "-m", "himotif.convert", *arguments]
    return subprocess.run(command, stderr=subprocess.PIPE, timeout=120, **more)  # type: ignore


def clear(done: "subprocess.CompletedProcess[bytes]") -> bool:
    """Whether a command ended with a message and no traceback."""
    said = done.stderr.decode("utf-8", "replace")
    return done.returncode in (1, 2) and "Traceback" not in said and "Exception" not in said


# -- tracebacks ----------------------------------------------------------------------------------


def test_names_that_are_not_utf8_are_read_and_written(tmp_path):
    odd = os.fsencode(tmp_path) + b"/s\xe4lt"
    for source, ending in ((BEADS, b".csv"), (REED, b".png")):
        Path(os.fsdecode(odd + ending)).write_bytes(source.read_bytes())
    given = [odd + b".png", "--palette", odd + b".csv", "--out", odd, "--lists-only", "--json"]
    done = himotif("convert", *given, "--length", "40mm", "--quick", stdout=subprocess.PIPE)
    assert done.returncode == 0, done.stderr
    assert json.loads(done.stdout)["folder"].endswith("s\udce4lt")
    made = read_design(Path(os.fsdecode(odd)))
    assert made.picture is not None
    assert made.picture.file == "s\ufffdlt.png"
    assert clear(himotif("check", odd + b"x", "--json", stdout=subprocess.PIPE))
    assert clear(himotif("convert", *given, "--force", "--background", b"\xff"))


@pytest.mark.parametrize(
    "text",
    [
        '{"schema": 1, "thickness_mm": ' + "9" * 400 + "}",
        '{"schema": 1, "thickness_mm": 1e999}',
        '{"schema": 1, "bead": {"diameter_mm": ' + "9" * 400 + "}}",
        '{"schema": 1, "braid": {"lay": "\\ud800"}}',
        '{"schema": 1, "\\udfff": 1}',
        "[" * 5000 + "]" * 5000,
        '{"schema": 1, "braid": ' + '{"a":' * 900 + "1" + "}" * 901,
    ],
)
def test_odd_json_is_refused_in_a_sentence(tmp_path, text):
    path = tmp_path / "odd.json"
    path.write_text(text)
    for read in (read_readings, read_design):
        with pytest.raises(HimotifError) as refused:
            read(path)
        str(refused.value).encode()


@pytest.mark.parametrize("deep", [100, 900, 5000, 100_000])
def test_deep_designs_are_refused_by_their_depth(tmp_path, deep):
    path = tmp_path / "design.json"
    text = json.dumps(plain(settings={"x": "deep"}))
    path.write_text(text.replace('"deep"', "[" * deep + "]" * deep))
    with pytest.raises(HimotifError, match=r"deep|not JSON"):
        read_design(path)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
@pytest.mark.parametrize("words", [("braids", "--json"), ("--help",), ("braids", "--help")])
def test_a_full_device_is_one_clear_message(words):
    with open("/dev/full", "wb") as full:
        done = himotif(*words, stdout=full)
    assert clear(done)
    assert done.returncode == 1
    assert done.stderr.count(b"\n") == 1


# -- bounds --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "readings",
    [{"column_rounds": 20_000}, {"thickness_mm": 5000}, {"rounds": 1e6, "length_mm": 10}],
)
def test_readings_beyond_their_bounds_are_refused(readings):
    with pytest.raises(Problems, match="must be from"):
        readings_from_dict({"schema": 1, **readings})


@pytest.mark.parametrize(("key", "times"), [("radius_mm", 1000), ("rise_mm", 1e-3), ("rise_mm", 8)])
def test_a_measured_lattice_lies_near_the_computed_one(key, times):
    lattice = plain()["lattice"]
    assert isinstance(lattice, dict)
    lattice[key] *= times
    lattice["source"][key] = "measured"
    with pytest.raises(Problems, match=key.split("_")[0]):
        design_from_dict(plain(lattice=lattice))


def test_counts_beyond_their_bounds_are_refused_at_once():
    started = time.monotonic()
    disc = {"slots": 10**8, "starts": [[10**8, 1], [1, 2]]}
    with pytest.raises(Problems, match=r"slots: is 100000000"):
        design_from_dict(plain(braid={"strands": 8, "lay": "S", "turn": "usual", "disc": disc}))
    with pytest.raises(Problems, match="at most 20000 beads"):
        design_from_dict(plain(beads=[0] * 1_000_000))
    with pytest.raises(Problems, match="pairs"):
        disc_from_dict({"slots": 32, "pairs": [[1, 2]] * 100_000})
    with pytest.raises(HimotifError, match="takes 66664 beads"):
        lengths(Lattice.computed(Braid(8), BeadSize(None, 0.3, 0.3)), length_mm=5000)
    assert time.monotonic() - started < 5


def test_a_bead_is_no_needle_and_no_sheet():
    # 0.3 over 1.5 is a little less than 0.2 in binary numbers
    for diameter, length in ((1.5, 0.3), (0.3, 1.5)):
        assert BeadSize(None, diameter, length).length_mm == length
    for diameter, length in ((30, 0.3), (0.3, 30)):
        with pytest.raises(HimotifError, match="times as long"):
            BeadSize(None, diameter, length)


def test_the_longest_braid_of_the_longest_beads_can_be_drawn():
    tubes = BeadSize(None, 6, 30)
    lattice = Lattice.computed(Braid(24), tubes)
    palette = design().palette
    made = Design(lattice, tubes, palette, np.arange(19_992) % 2)
    assert four_sides_page(made).width_mm < 10_000
    with blank_views():
        inches = four_sides_page(replace(made, papers=PaperChoice(unit="in")))
    assert inches.width_mm < 10_000


def test_every_bound_says_why_and_is_a_range():
    for name, bound in BOUNDS.items():
        assert bound.low < bound.high, name
        assert bound.why, name


# -- names, codes and messages -------------------------------------------------------------------


@pytest.mark.parametrize("code", ["=1+1", "+A", "-A", "@A", "\tA", "\rA", "A\0", "", "A" * 17])
def test_a_code_is_no_formula_for_any_reader(code):
    row = {"code": code, "name": "oyster", "rgb": [1, 2, 3]}
    with pytest.raises(Problems, match=r"code"):
        design_from_dict(plain(palette=[row, {**row, "code": "B"}], background="B"))
    if code.strip():
        with pytest.raises(Problems, match="code"):
            parse_palette(f'code,name,colour\n"{code}x=",oyster,#010203\n')


@pytest.mark.parametrize("name", ["oys\0ter", "oys\x1bter", "oys\ud800ter", "o" * 61])
def test_a_name_can_be_printed_for_every_reader(name):
    texts = (f"code,name,colour\nA,{name},#010203\n", f"GIMP Palette\n1 2 3 {name}\n")
    for text in texts:
        with pytest.raises(Problems, match="name"):
            parse_palette(text)
    with pytest.raises(Problems, match="name"):
        parse_palette(texts[0].encode("utf-16", "surrogatepass")) if "\ud800" not in name else (
            parse_palette(texts[0])
        )
    with pytest.raises(Problems, match="name"):
        design_from_dict(plain(palette=[{"code": "A", "name": name, "rgb": [1, 2, 3]}] * 2))


def test_the_lists_hold_no_formula():
    lines = stringing_csv(design()).splitlines()[1:]
    assert len(lines) == len(design().beads)
    for line in lines:
        *_, code, way = line.split(",")
        assert code[0].isalpha()
        assert way in ("", "toward", "away")


def test_messages_stop_after_twenty():
    problems = Problems([f"line {number}" for number in range(200_000)])
    assert str(problems).count("\n") == 20
    assert str(problems).endswith("And 199980 more problems like these.")


def test_a_palette_of_a_million_beads_is_refused_by_its_size(tmp_path):
    path = tmp_path / "palette.csv"
    path.write_text("code,name,colour\n" + "A,oyster,#010203\n" * 1_000_000)
    started = time.monotonic()
    with pytest.raises(HimotifError, match="larger than 16 MB"):
        read_palette(path)
    codes = [f"A{number}" for number in range(2001)]
    rows = "".join(f"{code},oyster,#010203\n" for code in codes)
    with pytest.raises(Problems, match=r":2002: .*more than the 2000"):
        parse_palette("code,name,colour\n" + rows)
    assert time.monotonic() - started < 5


def test_wrapping_takes_time_in_proportion():
    def seconds(letters: int) -> float:
        # another letter each time, so that no width is known already
        word = ("reedmoontide" * (letters // 12 + 1))[:letters]
        started = time.process_time()
        lines = wrap(f"a {word} b", 40, 3.2)
        assert "".join(lines).replace(" ", "") == f"a{word}b"
        assert all(text_width_mm(line, 3.2) <= 40 for line in lines)
        assert text_width_mm(shortened(word, 40, 3.2), 3.2) <= 40
        return time.process_time() - started

    seconds(100)
    # quadratic wrapping takes 256 times as long and more
    assert seconds(64_000) < 80 * max(seconds(4000), 0.002)


def test_a_design_is_written_as_before_whatever_its_texts_hold():
    made = design()
    settings = {"texts": ["\0beads", "\0where_px"], "scatter": {}, "empty": []}
    origin = Origin(settings)
    made = Design(made.lattice, made.bead, made.palette, made.beads, origin=origin)
    text = design_json(made)
    assert json.loads(text)["settings"] == settings
    row = json.dumps(made.beads.tolist())
    apart = json.dumps(json.loads(text) | {"beads": 0}, ensure_ascii=False, indent=2) + "\n"
    assert text == apart.replace('"beads": 0', f'"beads": {row}')


def test_a_message_quotes_no_more_than_the_beginning(tmp_path):
    long = "x" * 100_000
    swatches = (
        {"schema": long},
        {"schema": 1, long: 1},
        {"schema": 1, "braid": {"strands": [long]}},
        {"schema": 1, "bead": {"length_mm": {}, long: 2}},
        {"schema": 1, "braid": {"lay": long, "turn": [long]}},
    )
    for swatch in swatches:
        with pytest.raises(Problems) as refused:
            readings_from_dict(swatch)
        assert len(str(refused.value)) < 500
    for cells in (f"A,oyster,{long},", f"A,oyster,#010203,{long}", f"{long},oyster,#010203,"):
        with pytest.raises(Problems) as refused:
            parse_palette(f"code,name,colour,size\n{cells}\n")
        assert len(str(refused.value)) < 500
    with pytest.raises(Problems) as refused:
        parse_palette(f"GIMP Palette\n{long}\n")
    assert len(str(refused.value)) < 500
    with pytest.raises(Problems, match="palette name"):
        parse_palette(f"GIMP Palette\nName: {long}\n1 2 3 mud\n")
    header = ",".join(f"{long[:200]}{number}" for number in range(500))
    palette = parse_palette(f"code,name,colour,{header}\nA,mud,#010203\n")
    assert len("".join(map(sentence, palette.findings))) < 1000


def test_what_was_noted_of_a_swatch_is_checked_as_her_readings_are():
    worked = {"strands": 12, "lay": "Z", "turn": "usual"}, {"diameter_mm": 3, "length_mm": 2.1}
    readings = readings_from_dict({"schema": 1, "braid": worked[0], "bead": worked[1]})
    assert (readings.braid, readings.bead) == worked
    for part, key, value in (
        ("braid", "strands", 10**6),
        ("braid", "strands", "8"),
        ("braid", "lay", "s"),
        ("braid", "slots", 32),
        ("bead", "length_mm", float("nan")),
        ("bead", "diameter_mm", True),
    ):
        with pytest.raises(Problems, match=rf"{part}\.{key}: "):
            readings_from_dict({"schema": 1, part: {key: value}})


def test_notes_stop_after_twenty_and_can_be_printed():
    rows = "".join(f"A{number},mud,#010203,99/0\n" for number in range(2000))
    palette = parse_palette(f"code,name,colour,size,\x1bshelf\n{rows}", "heron\x1b.csv")
    assert len(palette.findings) == 21
    assert palette.findings[-1].code is Code.PALETTE_MORE
    assert palette.findings[-1].data == {"count": 1981}
    said = [sentence(one) for one in palette.findings]
    assert not any("\x1b" in text for text in (*said, palette.name))


def test_a_palette_of_one_colour_names_only_the_nearest_pairs():
    rows = "".join(f"A{number},mud,#010203\n" for number in range(600))
    palette = parse_palette(f"code,name,colour\n{rows}")
    report = PaletteReport.of(palette)
    facts = report.as_dict()
    assert len(facts["hard_to_tell_apart"]) == MOST_PAIRS
    assert facts["more_hard_to_tell_apart"] == 600 * 599 // 2 - MOST_PAIRS
    text = palette_lines(report)
    assert text[-1] == "  and 179600 more pairs"
    assert len(text) == 600 + MOST_PAIRS + 5


@pytest.mark.parametrize(
    "words",
    [
        ("where", "rep", "--beads", "1:" + "9" * 5000),
        ("where", "rep", "--crossing", "9" * 5000),
        ("plan", "--wrist", "9" * 5000),
        ("plan", "--wrist", "165", "--spare", "2"),
        ("plan", "--wrist", "165", "--packet", "0"),
        ("convert", "rep.png", "--palette", "rep.csv", "--out", "x", "--repeat", "9" * 5000),
        ("compare", "rep.png", "--palette", "rep.csv", "--out", "x", "--strands", "9" * 5000),
    ],
)
def test_endless_numbers_are_refused_in_a_sentence(tmp_path, monkeypatch, words):
    monkeypatch.chdir(tmp_path)
    Path("rep").mkdir()
    Path("rep/design.json").write_text(design_json(design()))
    done = CliRunner().invoke(main, words)
    assert isinstance(done.exception, SystemExit)
    assert done.exit_code == 2
    assert done.stderr.startswith("himotif: ")
    assert len(done.stderr) < 6000


def test_endless_colours_are_refused():
    for colour in ("lch(50, 10, {})", "lab(50, {}, 1)", "lch({}, 1, 1)", "xyy(0.3, 0.3, {})"):
        with pytest.raises(HimotifError, match="out of range"):
            parse_colour(colour.format("9" * 400))


def test_a_picture_of_any_name_gives_a_folder_that_can_be_read(tmp_path):
    odd = tmp_path / "we\x01ird\x1b[31m.png"
    odd.write_bytes(REED.read_bytes())
    given = ("--palette", BEADS, "--out", tmp_path / "rep", "--lists-only", "--length", "8cm")
    done = CliRunner().invoke(main, [*map(str, ("convert", odd, *given)), "--quick"])
    assert done.exit_code == 0, done.stderr
    made = read_design(tmp_path / "rep")
    assert made.picture is not None
    assert made.picture.file == "we\ufffdird\ufffd[31m.png"


# -- thin pictures -------------------------------------------------------------------------------


@pytest.mark.parametrize("size", [(1, 1), (1, 60), (60, 1), (2, 60), (60, 2)])
@pytest.mark.parametrize("shaded", [False, True])
def test_thin_pictures_give_a_design_or_one_message(tmp_path, size, shaded):
    from himotif.convert.job import Order, make
    from himotif.convert.write.outputs import Papers

    said = ""
    count = size[0] * size[1]
    ramp = np.linspace(0, 255, count) if shaded else np.where(np.arange(count) < count // 2, 0, 255)
    pixels = np.repeat(ramp.astype(np.uint8).reshape(size[1], size[0], 1), 3, axis=2)
    path = tmp_path / "thin.png"
    Image.fromarray(pixels).save(path)
    order = Order(length_mm=30, quick=True, kind="shaded" if shaded else "flat")
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        try:
            made = make(order, read_picture(path), read_palette(BEADS))
            with plain_pictures():
                files = made.files(Papers())
        except HimotifError as error:
            said, files = str(error), {}
    assert "design.json" in files or (said and "\n" not in said)
