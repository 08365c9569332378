"""A photographed sheet of paper is found, straightened and evenly lit; anything else is left alone.

The scenes are rendered by `tests/benchmarks/photographed.py`, here smaller than there.
"""

from __future__ import annotations

import io
import json
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from benchmarks import photographed
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.convert.options import CornerPoints
from himotif.convert.read import read_drawing, read_picture, read_sketch
from himotif.convert.read.inks import in_inks
from himotif.convert.read.sheet import drawing_of, is_photograph, proportions
from himotif.convert.read.sheet_light import drawing_on
from himotif.core.errors import WrongUsage
from himotif.core.findings import Code, Remedy
from himotif.core.srgb import linear_to_srgb, srgb_to_linear
from himotif.palette import linear_lab
from PIL import Image
from scipy import ndimage

pytestmark = pytest.mark.usefixtures("plain_pictures")

FIXTURES = Path(__file__).parent.parent / "fixtures"


@cache
def scene(number: int) -> photographed.Scene:
    return photographed.render(number, (400, 300), 420)


@pytest.mark.parametrize("number", [56, 40], ids=["half in shadow", "checks, warm lamp"])
def test_a_photographed_sheet_gives_the_beads_of_the_clean_file(number: int) -> None:
    found = photographed.compared(scene(number))
    assert found.found
    assert found.beads > 0.9


def test_the_command_says_what_it_understood_and_takes_the_corners(tmp_path: Path) -> None:
    one = scene(56)
    (tmp_path / "leaf.jpg").write_bytes(one.jpeg())
    palette = str(FIXTURES / "palettes" / "saltmarsh.csv")

    def run(out: str, *more: str) -> tuple[str, dict[str, object]]:
        small = ["--strands", "8", "--length", "120mm", "--quick", "--repeat", "once"]
        folder = ["--out", str(tmp_path / out), "--palette", palette, "--json", *more]
        asked = ["convert", str(tmp_path / "leaf.jpg"), *small, *folder]
        done = CliRunner().invoke(main, asked)
        assert done.exit_code == 0, done.output
        return done.stderr, json.loads(done.stdout)

    said, found = run("found")
    assert "leaf.jpg: a sheet of paper was found in it" in said
    assert "(--paper-corners)" in said
    assert "sketch.png" in found["files"]  # type: ignore[operator]
    understood = np.asarray(Image.open(tmp_path / "found" / "sketch.png"))
    assert (understood[[0, -1]] == 255).all()
    green = (understood.astype(int) - [92, 122, 62]).__abs__().max(axis=-1) < 16
    assert 0.04 < green.mean() < 0.2
    design = json.loads((tmp_path / "found" / "design.json").read_text())
    assert design["picture"]["size_px"] == [understood.shape[1], understood.shape[0]]
    corners = " ".join(f"{x:.0f},{y:.0f}" for x, y in one.corners)
    assert "H" in run("given", "--paper-corners", corners, "--lists-only")[1]["counts"]  # type: ignore[operator]
    assert not read_drawing(one.jpeg(), "leaf.jpg", ()).from_sheet
    # made again from the folder, after an edit, with the photograph at hand
    design["beads"][40] = (design["beads"][40] + 1) % 2
    (tmp_path / "found" / "design.json").write_text(json.dumps(design))
    assert CliRunner().invoke(main, ["sheet", str(tmp_path / "found")]).exit_code == 0
    assert (tmp_path / "found" / "distortion.json").is_file()


def noisy(pixels: np.ndarray, kind: str = "JPEG") -> bytes:
    out = io.BytesIO()
    grain = np.random.default_rng(1).normal(0, 3, pixels.shape)
    Image.fromarray(np.clip(pixels + grain, 0, 255).astype(np.uint8)).save(out, kind)
    return out.getvalue()


def test_what_is_no_sheet_is_left_alone() -> None:
    square = np.full((250, 300, 3), (28, 43, 79), np.uint8)
    square[50:200, 75:225] = 245
    out = io.BytesIO()
    Image.fromarray(square).save(out, "PNG")
    gradient = np.linspace(20, 230, 300)[None, :, None] * np.ones((250, 1, 3))
    for data in (out.getvalue(), noisy(gradient), noisy(np.full((250, 300, 3), 240))):
        assert not read_drawing(data, "a.png").from_sheet
    for name in ("dusk", "moonlit_pond", "heron", "tide", "crab"):
        picture = read_picture(FIXTURES / "motifs" / f"{name}.png")
        assert drawing_of(picture) is picture
        assert name in ("dusk", "moonlit_pond") or not is_photograph(picture.linear)


@pytest.mark.parametrize(("name", "quality"), [("heron", 60), ("sea_aster", 45), ("heart", 90)])
def test_a_drawing_with_noise_is_no_sheet(name: str, quality: int) -> None:
    pixels = np.asarray(Image.open(FIXTURES / "motifs" / f"{name}.png").convert("RGB"), np.float64)
    rng = np.random.default_rng(7)
    # of each channel, and of lightness alone; and in black and white dots
    noised = [pixels + rng.normal(0, 5, (*pixels.shape[:2], deep)) for deep in (3, 1)]
    kinds = [Image.fromarray(np.clip(one, 0, 255).astype(np.uint8)) for one in noised]
    for image in (*kinds, Image.fromarray(pixels.astype(np.uint8)).convert("1").convert("L")):
        out = io.BytesIO()
        image.save(out, "JPEG", quality=quality)
        picture = read_drawing(out.getvalue(), "noisy.jpg")
        assert not picture.from_sheet
        assert not picture.findings


@pytest.mark.parametrize("beyond", [0, 255, "rough"])
def test_a_table_too_dark_too_bright_or_rough_hides_no_sheet(beyond: int | str) -> None:
    row, column = np.indices((240, 300))
    paper = (150 + column / 6)[..., None] * np.ones(3)
    paper[np.hypot(row - 120, column - 150) < 30] *= [0.35, 0.4, 0.6]
    seen = np.random.default_rng(3).normal(paper, 2)
    table = (abs(row - 120) > 56) | (abs(column - 150) > 70)
    seen[table] = np.random.default_rng(4).normal(120, 20, (int(table.sum()), 1))
    if beyond != "rough":
        seen[table] = beyond
    picture = srgb_to_linear(np.clip(seen, 0, 255).astype(np.uint8))
    assert is_photograph(picture)


def test_photographs_of_other_things_are_left_alone() -> None:
    from skimage import data

    textures = (data.gravel(), data.brick(), data.grass(), data.moon(), data.coins())
    for shown in (data.astronaut(), data.coffee(), data.cat(), data.rocket(), *textures):
        out = io.BytesIO()
        Image.fromarray(shown).convert("RGB").save(out, "JPEG", quality=90)
        picture = read_drawing(out.getvalue(), "photograph.jpg")
        assert not picture.from_sheet
        assert not picture.findings


@pytest.mark.parametrize("table", photographed.TABLES)
def test_a_table_is_no_drawing(table: str) -> None:
    y, x = np.mgrid[:240, :320] / 240
    linear = photographed.table_top(table, x, y, np.random.default_rng(4))
    assert drawing_on(np.clip(linear, 0, 1).astype(np.float32)) is None


def test_light_and_noise_are_no_drawings() -> None:
    row, column = np.indices((240, 320))
    rng = np.random.default_rng(4)
    for grey in (
        row + column,
        200 - np.hypot(row - 120, column - 160),
        rng.uniform(0, 255, (240, 320)),
    ):
        pixels = np.clip(grey[..., None] * 0.45 + rng.normal(0, 3, (240, 320, 3)), 0, 255)
        assert drawing_on(srgb_to_linear(pixels.astype(np.uint8))) is None


@pytest.mark.parametrize(
    ("number", "size"), [(2006, (400, 300)), (3007, (310, 438))], ids=["close", "scan"]
)
def test_a_sheet_close_up_and_a_scan_are_drawings(number: int, size: tuple[int, int]) -> None:
    found = photographed.compared(photographed.render(number, size, 420))
    assert found.found
    assert found.beads > 0.9


def test_paper_without_edges_fills_the_frame() -> None:
    row, column = np.indices((240, 300))
    light = (110 + column / 3) * np.where(row + column > 260, 1, 0.7)  # half in shadow
    paper = light[..., None] * np.ones(3)
    paper[np.hypot(row - 120, column - 150) < 50] *= [0.35, 0.4, 0.6]
    picture = read_drawing(noisy(paper), "disc.jpg")
    assert picture.from_sheet
    assert picture.findings[0].data["corners_px"] == [[0, 0], [300, 0], [300, 240], [0, 240]]
    assert picture.findings[0].remedies == (Remedy("paper_corners", None),)
    assert len(np.unique(picture.linear.reshape(-1, 3), axis=0)) == 2
    assert not read_drawing(noisy(paper), "disc.jpg", ()).findings


def test_proportions_follow_from_the_perspective() -> None:
    rng = np.random.default_rng(3)
    for ratio in (1.0, 1.414, 0.7):
        plane = photographed.camera(ratio, (1200, 900), 30.0, rng)
        ends = np.array([[-1, -1, 2], [1, -1, 2], [1, 1, 2], [-1, 1, 2]]) / 2 * [ratio, 1, 1]
        seen = ends @ plane.T
        assert proportions(seen[:, :2] / seen[:, 2:], (1200, 900)) == pytest.approx(ratio, rel=1e-3)


def test_proportions_do_not_hang_on_a_pixel() -> None:
    # two sides nearly parallel: the focal length that makes such corners square is anything
    corners = np.array([[130.1, 269.0], [942.8, 367.7], [800.6, 854.4], [133.2, 771.2]])
    for seed in range(8):
        seen = corners + np.random.default_rng(seed).normal(0, 1, (4, 2))
        assert proportions(seen, (900, 1200)) == pytest.approx(1.414, rel=0.03)


def test_grain_goes_and_near_tones_stay() -> None:
    rng = np.random.default_rng(2)
    inks = np.array([[0.13, 0.19, 0.36], [0.42, 0.25, 0.53], [0.52, 0.36, 0.63]], np.float32)
    area = np.zeros((240, 240), int)
    area[40:100, 40:200], area[100:200, 40:120], area[100:200, 120:200] = 1, 2, 3
    grain = ndimage.gaussian_filter(rng.normal(size=area.shape), 1.2)
    cover = np.clip(1.03 + 0.12 * grain / grain.std(), 0.45, 1)[..., None]
    ground = np.append(np.ones((1, 3), np.float32), inks, axis=0)[area]
    drawn = np.where(area[..., None] > 0, 1 + cover * (ground - 1), 1).astype(np.float32)
    found = in_inks(drawn)
    colours, label = np.unique(found.reshape(-1, 3), axis=0, return_inverse=True)
    assert len(colours) == 4
    label = label.reshape(area.shape)
    for k, ink in enumerate(inks, 1):
        own = np.bincount(label[area == k]).argmax()
        assert (label[area == k] == own).mean() > 0.97
        assert colours[own] == pytest.approx(1 + np.median(cover) * (ink - 1), abs=0.03)


def test_paper_that_shows_through_wax_does_not_lighten_it() -> None:
    rng = np.random.default_rng(5)
    ink = np.array([0.02, 0.03, 0.08], np.float32)
    grain = ndimage.gaussian_filter(rng.normal(size=(160, 160)), 1.6)
    cover = np.clip(1.03 + 0.13 * grain / grain.std(), 0.45, 1)
    cover[:20], cover[-20:], cover[:, :20], cover[:, -20:] = 0, 0, 0, 0
    seen = ndimage.gaussian_filter(1 + cover[..., None] * (ink - 1), (0.8, 0.8, 0))
    seen += rng.normal(0, 0.004, seen.shape)
    seen[cover == 0] = 1
    found = in_inks(seen.astype(np.float32))[80, 80]
    middle = np.median(seen[40:120, 40:120], axis=(0, 1))
    labs = linear_lab(np.array([found, middle, ink], np.float32))
    off = np.linalg.norm(labs[:2] - labs[2], axis=1)
    assert off[0] < 1
    assert off[1] > 2.5


@pytest.mark.parametrize("seed", [0, 2, 5])
def test_pencil_is_its_median_whatever_its_grain(seed: int) -> None:
    ink = np.array([0.05, 0.08, 0.2], np.float32)
    grain = ndimage.gaussian_filter(np.random.default_rng(seed).normal(size=(140, 140)), (1.5, 5))
    cover = 0.8 + 0.06 * grain / grain.std()
    seen = np.ones((180, 180, 3), np.float32)
    seen[20:160, 20:160] = 1 + cover[..., None] * (ink - 1)
    found = in_inks(seen)[90, 90]
    middle = np.median(seen[26:154, 26:154], axis=(0, 1))
    lab = linear_lab(np.array([found, middle], np.float32))
    assert np.linalg.norm(lab[0] - lab[1]) < 0.4


def test_coarse_pencil_is_one_ink_and_a_shaded_drawing_none() -> None:
    close = photographed.render_close(7047, (600, 450), 1000)
    found = read_drawing(close.jpeg(), "close.jpg")
    assert len(np.unique(found.linear.reshape(-1, 3), axis=0)) == 2
    row, column = np.indices((240, 240)) - 120
    light = 0.25 + 0.35 * np.clip(1 - (row + column) / 150, 0, 2)
    ball = np.where((np.hypot(row, column) < 100)[..., None], light[..., None] * [0.6, 0.7, 1], 1)
    shaded = in_inks(np.clip(ball, 0, 1).astype(np.float32))
    assert len(np.unique(shaded.reshape(-1, 3), axis=0)) > 100


def test_a_thin_stroke_is_a_mixture_in_light() -> None:
    wanted = np.array([0.03, 0.05, 0.13], np.float32)
    cover = np.zeros((160, 240))
    for row in (40, 80, 120):
        cover[row : row + 5, 20:220] = 1
    seen = 1 + ndimage.gaussian_filter(cover, 1.0)[..., None] * (wanted - 1)
    out = io.BytesIO()
    Image.fromarray(linear_to_srgb(seen)).save(out, "JPEG", quality=90, subsampling=2)
    drawn = read_picture(out.getvalue(), "strokes.jpg").linear
    drawn[(drawn > 0.9).all(axis=-1)] = 1
    colours, size = np.unique(in_inks(drawn).reshape(-1, 3), axis=0, return_counts=True)
    assert len(colours) == 2
    found = linear_lab(np.array([colours[np.argmin(size)], wanted], np.float32))
    # blur leaves a hundredth of paper in the middle, which is 3 in lightness
    assert np.linalg.norm(found[0] - found[1]) < 5


@pytest.mark.parametrize("number", [4000, 4004], ids=["dark table", "checks"])
def test_a_sheet_with_a_folded_corner_is_found(number: int) -> None:
    one = photographed.render(number, (400, 300), 420)
    (said,) = read_drawing(one.jpeg(), "folded.jpg").findings
    apart = np.linalg.norm(np.array(said.data["corners_px"])[:, None] - one.corners, axis=-1)
    assert apart.min(axis=1).max() < 6


@pytest.mark.parametrize("ink", [(192, 78, 44), (20, 110, 60)], ids=["rust", "green"])
def test_a_thin_stroke_keeps_its_hue_though_a_file_spreads_it(ink: tuple[int, ...]) -> None:
    pixels = np.full((160, 240, 3), 255, np.uint8)
    for row in (40, 80, 120):
        pixels[row : row + 2, 20:220] = ink
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", quality=80, subsampling=2)
    drawn = read_picture(out.getvalue(), "strokes.jpg").linear
    drawn[(drawn > 0.9).all(axis=-1)] = 1  # as on evenly lit paper
    colours, size = np.unique(in_inks(drawn).reshape(-1, 3), axis=0, return_counts=True)
    assert len(colours) == 2
    core = drawn[[40, 41, 80, 81, 120, 121], 30:200].mean(axis=(0, 1))
    seen, middle, wanted = linear_lab(
        np.array([colours[np.argmin(size)], core, srgb_to_linear(np.array(ink))], np.float32)
    )
    assert np.linalg.norm(seen - wanted) < 0.9 * np.linalg.norm(middle - wanted)


def test_paper_is_white_in_a_tray_with_cream() -> None:
    picture = read_drawing(scene(40).jpeg(), "warm.jpg")
    assert [one.code for one in picture.findings] == [Code.SHEET_FOUND]
    sketch = read_sketch(picture)
    paper = sketch.colours.linear[np.argmax(sketch.colours.share)]
    assert paper == pytest.approx([1, 1, 1], abs=1e-6)


@pytest.mark.parametrize("text", ["1,2 3,4", "a,b c,d e,f g,h", "1,2 3,4 5,6 inf,2", ""])
def test_corners_that_are_none_are_refused(text: str) -> None:
    with pytest.raises(WrongUsage, match="four corners"):
        CornerPoints().read(text)
    kind = CornerPoints()
    corners = ((1.0, 2.0), (30.0, 2.5), (30.0, 40.0), (0.0, 41.0))
    assert kind.read(kind.write(corners).strip("'")) == corners
    assert kind.read("none") == ()


def test_corners_in_a_line_are_refused() -> None:
    with pytest.raises(WrongUsage, match="no corners"):
        drawing_of(
            read_picture(FIXTURES / "motifs" / "dusk.png"), ((0, 0), (10, 10), (20, 20), (30, 30))
        )


@pytest.mark.parametrize("reach", [(5000.0, 5100.0), (-9e5, 9e5)])
def test_a_sheet_outside_the_photograph_is_refused(reach: tuple[float, float]) -> None:
    low, high = reach
    corners = ((low, low), (high, low), (high, high), (low, high))
    with pytest.raises(WrongUsage, match="outside the photograph"):
        drawing_of(read_picture(FIXTURES / "motifs" / "dusk.png"), corners)
