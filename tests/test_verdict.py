"""Whether the maker is told that a motif cannot be recognised, and whether the advice helps."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from himotif.convert import conversion as conversion_module
from himotif.convert.conversion import ConvertOptions, convert_picture
from himotif.convert.fit.search import Effort, Found, Scene, _Search
from himotif.convert.judge.alternatives import Elsewhere
from himotif.convert.judge.verdict import agreement, motif_beads, surplus, verdict_on
from himotif.convert.read.picture import Picture, read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.palette.files import read_palette
from sketches import FIVE, NAVY, OYSTER, picture

EIGHT = bead_size("8/0")
FIXTURES = Path(__file__).parent.parent / "fixtures"
SALTMARSH = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")


def fixture(name: str) -> Picture:
    return read_picture(FIXTURES / "motifs" / f"{name}.png")


def notes(sketch: Picture, strands: int, **options: object) -> tuple[str, ...]:
    wish = ConvertOptions(rounds=80, repeat="once", **options)  # type: ignore[arg-type]
    lattice = Lattice.computed(Braid(strands), EIGHT)
    return convert_picture(sketch, SALTMARSH, lattice, EIGHT, wish).notes


def unrecognised(told: tuple[str, ...]) -> bool:
    return told[0].startswith(("Too small to be recognised", "Hard to recognise"))


@pytest.mark.parametrize(("name", "strands"), [("initials", 8), ("curlew", 8), ("sea_aster", 8)])
def test_a_motif_of_a_few_beads_is_not_said_to_read_better(name: str, strands: int) -> None:
    told = notes(fixture(name), strands)
    assert unrecognised(told)
    assert not [note for note in told if "reads" in note]
    # one advice, not another for every part
    assert not [note for note in told if note.startswith("Lost") and "should keep" in note]


@pytest.mark.parametrize(("name", "strands"), [("letter_f", 16), ("sea_aster", 24)])
def test_a_motif_that_shows_is_not_warned_of(name: str, strands: int) -> None:
    told = notes(fixture(name), strands)
    assert not unrecognised(told)
    assert "reads" in told[0]


def test_one_bead_shows_a_dot(monkeypatch: pytest.MonkeyPatch) -> None:
    row, column = np.indices((300, 300))
    pixels = np.full((300, 300, 3), OYSTER)
    pixels[np.hypot(row - 149.5, column - 149.5) < 57] = NAVY
    scene, found = caught(picture(pixels), 8, monkeypatch)
    assert motif_beads(scene, found) == 1
    assert surplus(scene, found) >= 0
    assert verdict_on(scene, found, Elsewhere(scene, EIGHT)) is None


def caught(
    sketch: Picture, strands: int, monkeypatch: pytest.MonkeyPatch, **options: object
) -> tuple[Scene, Found]:
    """The search of a whole conversion, and what it found."""
    seen: list[tuple[Scene, Found]] = []
    real = conversion_module.seek

    def seek(scene: Scene, effort: object) -> Found:
        found = real(scene, effort)  # type: ignore[arg-type]
        seen.append((scene, found))
        return found

    monkeypatch.setattr(conversion_module, "seek", seek)
    wish = ConvertOptions(rounds=60, repeat="once", quick=True, **options)  # type: ignore[arg-type]
    convert_picture(sketch, FIVE, Lattice.computed(Braid(strands), EIGHT), EIGHT, wish)
    monkeypatch.setattr(conversion_module, "seek", real)
    return seen[0]


def test_agreement_is_the_shared_part_of_sketch_and_beads(monkeypatch: pytest.MonkeyPatch) -> None:
    row, column = np.indices((300, 300))
    pixels = np.full((300, 300, 3), OYSTER)
    pixels[(row > 60) & (row < 240) & (column > 75) & (column < 225)] = NAVY
    scene, found = caught(picture(pixels), 16, monkeypatch)
    assert agreement(scene, found) > 0.7
    for beads, share in (("all ground", 0.0), ("all navy", (179 * 149) / 300**2)):
        navy = int(np.flatnonzero(scene.inks.bead == FIVE.index("N"))[0])
        colour = scene.inks.ground if beads == "all ground" else navy
        colours = np.full_like(found.colours, colour)
        changed = Found(**{**vars(found), "colours": colours})
        assert agreement(scene, changed) == pytest.approx(share, abs=0.01)


@pytest.mark.parametrize(
    ("name", "strands", "given"),
    [
        ("sea_aster", 8, {}),
        ("tide", 8, {}),
        ("initials", 16, {}),
        ("sea_aster", 8, {"width_mm": 7.0}),  # it does not grow with the strands by itself
    ],
)
def test_what_is_advised_is_recognised(name: str, strands: int, given: dict[str, object]) -> None:
    sketch = fixture(name)
    told = notes(sketch, strands, **given)[0]
    assert unrecognised((told,))
    ways = told.split("; ")[-1].split(" or ")
    tried = 0
    for way in ways:
        options = dict(given)
        many = strands
        if width := re.search(r"--width ([\d.]+)", way):
            options["width_mm"] = float(width[1])
        if turn := re.search(r"--rotate (\d+)", way):
            options["rotate_deg"] = float(turn[1])
        if braid := re.search(r"(\d+) strands", way):
            many = int(braid[1])
        assert options != given or many != strands
        assert not unrecognised(notes(sketch, many, **options)), way
        tried += 1
    assert tried


@pytest.mark.parametrize("name", ["heron", "reed"])
def test_the_size_that_is_told_is_the_one_it_is_worked_at(name: str) -> None:
    wish = ConvertOptions(rounds=80, repeat="once")
    lattice = Lattice.computed(Braid(8), EIGHT)
    made = convert_picture(fixture(name), SALTMARSH, lattice, EIGHT, wish)
    assert made.scale != 1
    width, height = (size / made.placement.px_per_mm for size in made.placement.size_px)
    assert f"at {width:.1f} × {height:.1f} mm" in str(made.unrecognised)


def test_where_nothing_helps_the_drawing_is_to_change() -> None:
    row, column = np.indices((600, 600))
    pixels = np.full((600, 600, 3), OYSTER)
    inside = np.maximum(abs(row - 300), abs(column - 300)) < 250
    pixels[inside & ((row % 60 < 4) | (column % 60 < 4))] = NAVY  # a fine net
    told = notes(picture(pixels), 8)[0]
    assert unrecognised((told,))
    assert "--" not in told
    assert "draw fewer, larger and thicker shapes" in told


def test_of_two_places_nearly_as_good_the_one_without_faults_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    scene, _ = caught(fixture("letter_f"), 12, monkeypatch)
    search = _Search(scene, Effort(scale=False, turn=False))
    scores = iter([(1.0, 2), *((1.08, 0),) * 30])

    def refined(found: Found) -> Found:
        score, faults = next(scores)
        return replace(found, score=score, faults=faults)

    monkeypatch.setattr(search, "_refined", refined)
    assert search.best().faults == 0
    scores = iter([(1.0, 1), *((1.08, 0),) * 30])
    assert search.best().score == 1.0
