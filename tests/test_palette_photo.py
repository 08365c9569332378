"""Bead colours from a photograph, on a small drawn one; `benchmarks/photo.py` has the series."""

from __future__ import annotations

import csv

import numpy as np
import pytest
from bead_photo import DrawnHeap, Scene, render
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.core.errors import HimotifError, WrongUsage
from himotif.core.srgb import linear_to_srgb, srgb_to_linear
from himotif.palette.colour import srgb_to_lab
from himotif.palette.difference import ciede2000
from himotif.palette.from_photo import palette_of_photo
from himotif.palette.photo import even_light
from PIL import Image

# red, green, navy and straw, linear light, opaque; row by row
BODIES = ((0.42, 0.05, 0.06), (0.10, 0.30, 0.12), (0.03, 0.05, 0.20), (0.60, 0.42, 0.15))
WARM = np.array([1.0, 0.8, 0.55])


@pytest.fixture(scope="module")
def photo() -> np.ndarray:
    places = ((110, 90), (320, 90), (110, 250), (320, 250))
    holders = ("dish", "tube", "loose", "dish")
    finishes = ("matte", "glossy", "matte", "glossy")
    heaps = [
        DrawnHeap(*at, 40, holder, finish, tuple(np.array(body) * WARM))
        for at, holder, finish, body in zip(places, holders, finishes, BODIES, strict=True)
    ]
    paper = tuple(0.86 * WARM)
    uneven = (0.15, -0.1, 0.1)
    return render(Scene(430, 340, 12, tuple(heaps), tuple(WARM), paper, 0.4, gradient=uneven))[0]


def test_every_heap_is_found_with_its_colour(photo: np.ndarray) -> None:
    found = palette_of_photo(srgb_to_linear(photo), "beads.png")
    assert found.palette.codes == ("A", "B", "C", "D")
    truth = srgb_to_lab(linear_to_srgb(np.array(BODIES)))
    # the series has 95 % of matte and glossy beads below 12
    assert (ciede2000(found.palette.lab, truth) < 11).all()
    assert np.median(ciede2000(found.palette.lab, truth)) < 6
    names = [bead.name for bead in found.palette.beads]
    assert len(set(names)) == 4
    page = found.check_page()
    assert page.width_mm * 4 == pytest.approx(430)


def test_grey_beads_are_no_paper_and_metal_is_known_by_its_highlights() -> None:
    grey, gold = (0.19, 0.19, 0.19), (0.5, 0.28, 0.06)
    heaps = (
        DrawnHeap(70, 75, 24, "loose", "glossy", grey),
        DrawnHeap(210, 75, 60, "dish", "metallic", gold),
    )
    drawn = render(Scene(290, 150, 11, heaps, lamp_share=0.5))
    found = palette_of_photo(srgb_to_linear(drawn.pixels), "two.png")
    # a mirroring ball shows a bright sky and a table half as bright by equal areas
    truth = srgb_to_lab(linear_to_srgb(np.array([grey, 0.75 * np.array(gold)])))
    off = ciede2000(found.palette.lab, truth)
    # the series has 95 % of glossy and of metallic beads below 10
    assert (off < 10).all(), off


def test_the_light_is_evened_and_the_paper_is_white(photo: np.ndarray) -> None:
    evened = even_light(srgb_to_linear(photo))
    corners = evened.linear[[3, 3, -3, -3], [3, -3, 3, -3]]
    assert corners == pytest.approx(np.full((4, 3), 0.86), abs=0.05)
    # exp(2 × (0.15 + 0.1)) from corner to corner, less what the corners lose
    assert 1.3 < evened.unevenness < 1.9


def test_single_beads_and_another_white(photo: np.ndarray) -> None:
    linear = srgb_to_linear(photo)
    two = palette_of_photo(linear, "beads.png", at=[(20.0, 20.0), (110.0, 90.0)])
    assert min(two.palette.rgb[0]) > 225
    assert two.palette.rgb[1][0] > 2 * two.palette.rgb[1][2]
    # if the red beads were grey, all would be far bluer
    other = palette_of_photo(linear, "beads.png", white=(104.0, 84.0), at=[(20.0, 20.0)])
    assert other.palette.rgb[0][2] > two.palette.rgb[0][0] - 1
    with pytest.raises(WrongUsage, match="outside of the picture"):
        palette_of_photo(linear, "beads.png", at=[(900.0, 5.0)])


def test_without_beads_or_paper_it_says_so() -> None:
    with pytest.raises(HimotifError, match="no heaps"):
        palette_of_photo(np.full((90, 90, 3), 0.8, np.float32), "blank.png")
    noise = np.random.default_rng(1).uniform(0, 1, (90, 90, 3)).astype(np.float32)
    with pytest.raises(HimotifError, match="white paper"):
        palette_of_photo(noise, "noise.png")


def test_the_command_writes_the_palette_and_a_picture_to_check(photo, tmp_path) -> None:
    picture, out = tmp_path / "tray.png", tmp_path / "beads.csv"
    Image.fromarray(photo).save(picture)
    words = ["palette", "from-photo", str(picture), "--out", str(out), "--at", "110,90"]
    result = CliRunner().invoke(main, words)
    assert result.exit_code == 0, result.output
    assert "no instrument" in result.stderr
    rows = list(csv.DictReader(out.open(encoding="utf-8")))
    assert [row["code"] for row in rows] == ["A"]
    assert Image.open(tmp_path / "beads-found.png").size == (430, 340)
    out.unlink()
    again = CliRunner().invoke(main, words)
    assert again.exit_code == 1
    assert "beads-found.png: is there already" in again.stderr
    assert not out.exists()


def test_what_cannot_show_beads_or_be_grey_is_refused(photo: np.ndarray) -> None:
    for height, width in ((1, 1000), (24, 24)):
        with pytest.raises(HimotifError, match="too few to show beads"):
            palette_of_photo(np.full((height, width, 3), 0.8, np.float32), "small.png")
    narrow = np.full((40, 4000, 3), 0.8, np.float32)
    with pytest.raises(HimotifError, match="no heaps"):
        palette_of_photo(narrow, "narrow.png")
    dark = srgb_to_linear(photo).copy()
    dark[80:100, 100:120] = 0.0
    with pytest.raises(HimotifError, match="too dark"):
        palette_of_photo(dark, "beads.png", white=(110.0, 90.0), at=[(20.0, 20.0)])
