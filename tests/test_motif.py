"""Margins, size and height through the command, and advice that holds."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from click.testing import CliRunner
from converting import no_trials
from drawn import plain_pictures
from himotif.convert.cli import main
from himotif.convert.job import make
from himotif.convert.judge.verdict import VERDICTS
from himotif.convert.options import Order
from himotif.convert.read.picture import read_picture
from himotif.core.design.file import read_design
from himotif.palette.files import read_palette
from PIL import Image

FIXTURES = Path(__file__).parent.parent / "fixtures"
PALETTE = FIXTURES / "palettes" / "saltmarsh.csv"
SALTMARSH = read_palette(PALETTE)
PAPER, INK = (243, 238, 225), (29, 44, 80)


def letter_e() -> np.ndarray:
    """A mask, tight to the letter."""
    mask = np.zeros((350, 240), dtype=bool)
    mask[:, :80] = mask[:70] = mask[140:210, :200] = mask[280:] = True
    return mask


def worked(tmp_path: Path, image: Image.Image, *more: str) -> dict[str, object]:
    """What the command makes of a picture, as design.json holds it."""
    image.save(tmp_path / "sketch.png")
    out = ["--out", str(tmp_path / "out"), "--force", "--lists-only", *more]
    words = ["convert", str(tmp_path / "sketch.png"), "--palette", str(PALETTE), *out]
    with no_trials():
        done = CliRunner().invoke(main, words)
    assert done.exit_code == 0, done.output
    return dict(json.loads((tmp_path / "out" / "design.json").read_text()))


@pytest.mark.parametrize("more", [(), ("--width", "9mm")])
def test_margins_of_paper_or_of_nothing_change_no_bead(
    tmp_path: Path, more: tuple[str, ...]
) -> None:
    def drawn(mask: np.ndarray, *, alpha: bool) -> Image.Image:
        pixels = np.where(mask[..., None], INK, PAPER).astype(np.uint8)
        if alpha:
            pixels = np.concatenate([pixels, 255 * mask[..., None]], axis=-1).astype(np.uint8)
        return Image.fromarray(pixels)

    plain = worked(tmp_path, drawn(letter_e(), alpha=False), "--background", "A", *more)
    even, uneven = ((60, 60), (60, 60)), ((3, 200), (150, 11))
    for margins, alpha in ((even, False), (uneven, False), (uneven, True)):
        wide = np.pad(letter_e(), margins)
        other = worked(tmp_path, drawn(wide, alpha=alpha), "--background", "A", *more)
        assert other["beads"] == plain["beads"]
        assert other["placement"]["centres"] == plain["placement"]["centres"]  # type: ignore[index]
        # places are given in the whole picture
        (top, _), (left, _) = margins
        assert other["placement"]["frame_px"][:2] == [left, top]  # type: ignore[index]


def test_a_stretch_is_obeyed_found_or_left_out(tmp_path: Path) -> None:
    image = Image.fromarray(np.where(letter_e()[..., None], INK, PAPER).astype(np.uint8))
    pinned = worked(tmp_path, image, "--pin", "stretch")
    asked = worked(tmp_path, image, "--stretch", "1.4", "--width", "9mm")
    assert pinned["placement"]["stretch"] == 1.0  # type: ignore[index]
    assert asked["placement"]["stretch"] == 1.4  # type: ignore[index]
    design = read_design(tmp_path / "out")
    assert design.picture is not None
    assert design.picture.stretch == 1.4
    # the point under a bead, from the middle of the frame: a stretch apart along the braid
    known = ~np.isnan(design.picture.where_px[:, 0])
    height = design.lattice.height_mm(np.arange(len(design.beads)))[known]
    down = design.picture.where_px[known, 1]
    slope = np.diff(down[::2])[:3] / np.diff(height[::2])[:3]
    assert slope == pytest.approx(-design.picture.px_per_mm / 1.4, rel=1e-3)


@pytest.mark.parametrize(
    ("name", "more"),
    [("minnow", {"width_mm": 3.0}), ("letter_f", {"width_mm": 3.0})],
)
def test_what_is_advised_raises_the_verdict(name: str, more: dict[str, object]) -> None:
    order = Order(**more)  # type: ignore[arg-type]
    sketch = read_picture(FIXTURES / "motifs" / f"{name}.png")
    made = make(order, sketch, SALTMARSH)
    doubt = made.conversion.unrecognised
    assert doubt is not None
    assert doubt.remedies
    for remedy in doubt.remedies:
        changes = {one.field: one.value for one in (remedy, *remedy.also)}
        with no_trials():
            again = make(replace(order, **changes), sketch, SALTMARSH).conversion
        before, after = (
            one.fitted.flat.fitted.legibility.verdict  # type: ignore[union-attr]
            for one in (made.conversion, again)
        )
        assert VERDICTS.index(after) > VERDICTS.index(before)
        assert (again.unrecognised is None) == doubt.data["sure"]


def test_a_choice_is_worked_as_it_is_shown(tmp_path: Path) -> None:
    def run(out: str, *more: str) -> dict[str, object]:
        folder = ["--palette", str(PALETTE), "--out", str(tmp_path / out), "--json", *more]
        done = CliRunner().invoke(
            main, ["convert", str(FIXTURES / "motifs" / "heart.png"), *folder]
        )
        assert done.exit_code == 0, done.output
        return dict(json.loads(done.stdout))

    with plain_pictures():
        answer = run("heart", "--repeat", "once")
    choices = answer["choices"]
    assert isinstance(choices, list)
    assert (tmp_path / "heart" / "choices.png").is_file()
    assert 2 <= len(choices) <= 6
    assert [one["number"] for one in choices] == list(range(1, len(choices) + 1))
    run("third", "--repeat", "once", "--choice", "3", "--lists-only")
    design = read_design(tmp_path / "third")
    drawn = int((design.beads != design.background).sum())
    assert (design.braid.strands, drawn) == (choices[2]["strands"], choices[2]["beads"])
    assert not (tmp_path / "third" / "choices.png").exists()
    heart = str(FIXTURES / "motifs" / "heart.png")
    asked = ["--quick", "--choice", "2", "--out", str(tmp_path / "no")]
    refused = CliRunner().invoke(main, ["convert", heart, "--palette", str(PALETTE), *asked])
    assert refused.exit_code == 2
    assert "--choice: " in refused.stderr


def test_what_cannot_be_recognised_is_said_first(tmp_path: Path) -> None:
    image = Image.fromarray(np.where(letter_e()[..., None], INK, PAPER).astype(np.uint8))
    image.save(tmp_path / "e.png")
    with no_trials():
        made = make(Order(width_mm=2.0), read_picture(tmp_path / "e.png"), SALTMARSH)
    assert made.findings[0] is made.conversion.unrecognised
    assert made.findings[0].data["beads"] < 3
    assert made.findings[0].code.value == "too-small"
