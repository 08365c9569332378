"""Whether the maker is told that a motif cannot be recognised, and whether the advice helps."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from converting import converted
from himotif.convert.fit.search import Effort, Found, Scene, _Search
from himotif.convert.judge.alternatives import Elsewhere
from himotif.convert.judge.conversion import Conversion
from himotif.convert.judge.lost import CODES
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


def made_of(sketch: Picture, strands: int, **options: Any) -> Conversion:
    lattice = Lattice.computed(Braid(strands), EIGHT)
    return converted(sketch, SALTMARSH, lattice, 80, repeat="once", **options)


@pytest.mark.parametrize(("name", "strands"), [("initials", 8), ("curlew", 8), ("sea_aster", 8)])
def test_a_motif_of_a_few_beads_is_not_said_to_read_better(name: str, strands: int) -> None:
    made = made_of(fixture(name), strands)
    assert made.unrecognised is made.findings[0]
    # one advice, not another for every part
    lost = [one for one in made.findings if one.code in CODES.values()]
    assert lost
    assert not [one for one in lost if one.remedies]


@pytest.mark.parametrize(("name", "strands"), [("letter_f", 16), ("sea_aster", 24)])
def test_a_motif_that_shows_is_not_warned_of(name: str, strands: int) -> None:
    assert made_of(fixture(name), strands).unrecognised is None


def test_one_bead_shows_a_dot() -> None:
    row, column = np.indices((300, 300))
    pixels = np.full((300, 300, 3), OYSTER)
    pixels[np.hypot(row - 149.5, column - 149.5) < 57] = NAVY
    scene, found = caught(picture(pixels), 8)
    assert motif_beads(scene, found) == 1
    assert surplus(scene, found) >= 0
    assert verdict_on(scene, found, Elsewhere(scene, EIGHT)) is None


def caught(sketch: Picture, strands: int, **options: Any) -> tuple[Scene, Found]:
    """The search of a whole conversion, and what it found."""
    lattice = Lattice.computed(Braid(strands), EIGHT)
    fitted = converted(sketch, FIVE, lattice, repeat="once", quick=True, **options).fitted
    return fitted.scene, fitted.found


def test_agreement_is_the_shared_part_of_sketch_and_beads() -> None:
    row, column = np.indices((300, 300))
    pixels = np.full((300, 300, 3), OYSTER)
    pixels[(row > 60) & (row < 240) & (column > 75) & (column < 225)] = NAVY
    scene, found = caught(picture(pixels), 16)
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
    doubt = made_of(sketch, strands, **given).unrecognised
    assert doubt is not None
    assert doubt.remedies
    for remedy in doubt.remedies:
        changes = {one.field: one.value for one in (remedy, *remedy.also)}
        many = changes.pop("strands", strands)
        assert given | changes != given or many != strands
        assert made_of(sketch, many, **given | changes).unrecognised is None, remedy


@pytest.mark.parametrize("name", ["heron", "reed"])
def test_the_size_that_is_told_is_the_one_it_is_worked_at(name: str) -> None:
    made = made_of(fixture(name), 8)
    assert made.fitted.found.scale != 1
    width, height = (size / made.placement.px_per_mm for size in made.placement.size_px)
    assert made.unrecognised is not None
    data = made.unrecognised.data
    assert (data["width_mm"], data["height_mm"]) == (round(width, 1), round(height, 1))


def test_where_nothing_helps_the_drawing_is_to_change() -> None:
    row, column = np.indices((600, 600))
    pixels = np.full((600, 600, 3), OYSTER)
    inside = np.maximum(abs(row - 300), abs(column - 300)) < 250
    pixels[inside & ((row % 60 < 4) | (column % 60 < 4))] = NAVY  # a fine net
    doubt = made_of(picture(pixels), 8).unrecognised
    assert doubt is not None
    assert not doubt.remedies


def test_of_two_places_nearly_as_good_the_one_without_faults_is_taken(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    scene, _ = caught(fixture("letter_f"), 12)
    search = _Search(scene, Effort(scale=False, turn=False))
    scores = iter([(1.0, 2), *((1.08, 0),) * 30])

    def refined(found: Found) -> Found:
        score, faults = next(scores)
        return replace(found, score=score, faults=faults)

    monkeypatch.setattr(search, "_refined", refined)
    assert search.best().faults == 0
    scores = iter([(1.0, 1), *((1.08, 0),) * 30])
    assert search.best().score == 1.0
