"""Flat colours, flat or shaded, and which part has which colour."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from functools import cache

import numpy as np
import pytest
import skimage.data
from himotif.convert.fit.inks import background_index
from himotif.convert.read.flat_colours import read_picture_colours
from himotif.convert.read.picture import Picture, read_picture
from himotif.convert.read.sketch import (
    Sketch,
    cell_means,
    match_linear,
    read_sketch,
)
from himotif.core.bead import Bead
from himotif.core.srgb import box_mean, linear_to_srgb, srgb_to_linear
from himotif.palette.colour import srgb_to_lab
from himotif.palette.palette import Palette
from PIL import Image
from sketches import FIVE, MID, NAVY, OYSTER, RUST, letter_f, picture, soft


def disc(size: int = 800, radius: float = 0.35) -> np.ndarray:
    row, column = np.indices((size, size)) / size - 0.5
    return np.hypot(row, column) < radius


def test_anti_aliased_edges_are_no_colours() -> None:
    found = read_picture_colours(soft(disc(), NAVY, OYSTER)).found
    assert found.kind == "flat"
    assert len(found.linear) == 2
    assert set(match_linear(found.linear, FIVE)) == {0, 1}


def test_the_fringe_of_two_colours_is_not_a_third_that_lies_between() -> None:
    # a mid blue patch far away makes mid blue a flat colour; the fringe of the disc is mid blue
    # too, but belongs to the disc or to the paper
    mask = disc()
    sketch = soft(mask, NAVY, OYSTER)
    linear = sketch.linear.copy()
    linear[2:14, 2:14] = picture(np.full((1, 1, 3), MID)).linear[0, 0]
    read = read_sketch(type(sketch)(**{**vars(sketch), "linear": linear}))
    beads = match_linear(read.colours.linear, FIVE)
    assert set(beads) == {0, 1, 2}
    shares = read.source.planes[..., 4:][..., list(beads).index(2)]
    # within a pixel or two of the patch, and nowhere along the disc
    assert shares[:18, :18].sum() >= 100
    shares[:18, :18] = 0
    assert shares.sum() == 0


def test_a_thin_stroke_counts_though_it_is_small() -> None:
    pixels = np.full((300, 300, 3), OYSTER)
    pixels[100:200, 80:220] = NAVY
    pixels[240:246, 60:180] = RUST
    found = read_picture_colours(picture(pixels)).found
    assert found.share.min() < 0.01
    assert set(match_linear(found.linear, FIVE)) == {0, 1, 3}


def test_small_pictures_are_read_pixel_by_pixel() -> None:
    pixels = np.full((16, 16, 3), OYSTER)
    pixels[4:12, 4:12] = NAVY
    pixels[7, 7] = RUST
    sketch = read_sketch(picture(pixels))
    assert sketch.kind == "flat"
    assert len(sketch.colours.linear) == 3


def test_gradients_are_shaded() -> None:
    ramp = np.linspace(20, 235, 400)[:, None, None] * np.ones((1, 300, 3))
    assert read_picture_colours(picture(ramp)).found.kind == "shaded"
    on_paper = np.full((500, 500, 3), OYSTER)
    on_paper[50:450, 100:400] = ramp
    assert read_picture_colours(picture(on_paper)).found.kind == "shaded"


@pytest.mark.parametrize("name", ["camera", "astronaut", "coffee", "chelsea", "moon"])
def test_photographs_are_shaded(name: str) -> None:
    # scikit-image's bundled photographs; those that are not on this disk would be fetched
    import pathlib

    files = list(pathlib.Path(skimage.data.__file__).parent.glob(f"{name}.*"))
    if not files:
        pytest.skip("this photograph is not bundled")
    from himotif.convert.read.picture import read_picture

    assert read_picture_colours(read_picture(files[0])).found.kind == "shaded"


def test_noise_of_compression_does_not_make_a_sketch_shaded() -> None:
    import io

    from himotif.convert.read.picture import read_picture
    from PIL import Image

    out = io.BytesIO()
    pixels = np.where(disc(600)[..., None], NAVY, OYSTER).astype(np.uint8)
    Image.fromarray(pixels).save(out, "JPEG", quality=70)
    found = read_picture_colours(read_picture(out.getvalue(), "disc.jpg")).found
    assert found.kind == "flat"
    assert set(match_linear(found.linear, FIVE)) == {0, 1}


def test_the_maker_has_the_last_word() -> None:
    assert read_sketch(letter_f(), "shaded").kind == "shaded"
    ramp = picture(np.linspace(20, 235, 400)[:, None, None] * np.ones((1, 300, 3)))
    assert read_sketch(ramp, "flat").kind == "flat"
    assert len(read_sketch(ramp, "flat").colours.linear) >= 1


def test_nothing_drawn_is_a_flat_sketch_without_colours() -> None:
    empty = picture(np.zeros((40, 40, 3)), np.zeros((40, 40)))
    sketch = read_sketch(empty)
    assert sketch.kind == "flat"
    assert len(sketch.colours.linear) == 0


def test_cell_means_are_means() -> None:
    owner = np.array([[0, 0, 1], [2, 1, 1]])
    planes = np.arange(12, dtype=np.float32).reshape(2, 3, 2)
    means = cell_means(owner, planes, 4)
    assert means[0] == pytest.approx((planes[0, 0] + planes[0, 1]) / 2)
    assert means[1] == pytest.approx((planes[0, 2] + planes[1, 1] + planes[1, 2]) / 3)
    assert means[3] == pytest.approx(0)


def test_every_bead_matches_itself() -> None:
    from himotif.core.srgb import srgb_to_linear

    assert list(match_linear(srgb_to_linear(FIVE.rgb), FIVE)) == [0, 1, 2, 3, 4]
    assert srgb_to_lab(FIVE.rgb) == pytest.approx(FIVE.lab)


# -- pictures as makers bring them ----------------------------------------------------------------
# Each is drawn here with known colours, then saved, dithered or photographed; the drawing itself is
# the truth that the reading is held against.

WHITE, BLACK, AMBER = (255, 255, 255), (12, 12, 12), (224, 159, 53)
BEADS = Palette(
    (
        *FIVE.beads,
        Bead("W", "white", WHITE),
        Bead("K", "black", BLACK),
        Bead("A", "amber", AMBER),
    ),
    "eight",
)
HULL = (OYSTER, NAVY, RUST, AMBER)


@cache
def boat(wide: int = 480, high: int = 360) -> np.ndarray:
    """Numbers of the colours of a boat, four times too large: paper, hull and mast, sail, flag."""
    y, x = np.indices((4 * high, 4 * wide)) / [[[4 * high]], [[4 * wide]]]
    drawn = np.zeros(x.shape, dtype=int)
    drawn[(y > 0.65) & (y < 0.85) & (np.abs(x - 0.5) < 0.35 - 0.65 * (y - 0.65))] = 1
    drawn[(np.abs(x - 0.5) < 0.006) & (y > 0.06) & (y < 0.66)] = 1
    drawn[(x > 0.52) & (y < 0.6) & (y - 0.2 > 1.5 * (x - 0.52))] = 2
    drawn[(x > 0.5) & (x < 0.58) & (np.abs(y - 0.08) < 0.035)] = 3  # half a per cent
    return drawn


def drawing(drawn: np.ndarray, inks: Sequence[tuple[int, int, int]] = HULL) -> np.ndarray:
    """Codes (h, w, 3) of a drawing four times too large, its edges mixed as drawing programs do."""
    codes = np.array(inks, dtype=float)[drawn]
    return box_mean(codes.astype(np.float32), 4)


def saved(codes: np.ndarray, kind: str = "PNG", **how: object) -> Picture:
    """A picture that has been through a file."""
    out = io.BytesIO()
    Image.fromarray(np.clip(np.rint(codes), 0, 255).astype(np.uint8)).save(out, kind, **how)
    return read_picture(out.getvalue(), f"sketch.{kind.lower()}")


def beads_of(sketch: Sketch) -> str:
    """The beads of its flat colours, as letters."""
    return "".join(sorted(BEADS.codes[k] for k in match_linear(sketch.colours.linear, BEADS)))


def wrong_share(sketch: Sketch, drawn: np.ndarray, inks: Sequence[tuple[int, int, int]]) -> float:
    """How much of the drawing, but for its edges, has the colour of another part."""
    shares = sketch.source.planes[..., 4:]
    high, wide = shares.shape[:2]
    row = ((np.arange(high) + 0.5) / high * drawn.shape[0]).astype(int)
    column = ((np.arange(wide) + 0.5) / wide * drawn.shape[1]).astype(int)
    truth = drawn[row[:, None], column]
    inside = np.ones(truth.shape, dtype=bool)
    for down, across in ((0, 1), (1, 0), (0, -1), (-1, 0)):
        reach = 2 * drawn.shape[1] // wide
        there = drawn[
            np.clip(row + down * reach, 0, drawn.shape[0] - 1)[:, None],
            np.clip(column + across * reach, 0, drawn.shape[1] - 1),
        ]
        inside &= there == truth
    own = match_linear(srgb_to_linear(np.array(inks, np.uint8)), BEADS)
    read = match_linear(sketch.colours.linear, BEADS)[shares.argmax(axis=-1)]
    return float((read != own[truth])[inside].mean())


def ordered(codes: np.ndarray) -> np.ndarray:
    """Dither with a regular pattern of 8 x 8 (Bayer 1973) to six levels of each colour."""
    pattern = np.zeros((1, 1))
    for _ in range(3):
        pattern = np.block([[4 * pattern, 4 * pattern + 2], [4 * pattern + 3, 4 * pattern + 1]])
    high, wide = codes.shape[:2]
    over = np.tile((pattern + 0.5) / 64 - 0.5, (high // 8 + 1, wide // 8 + 1))[:high, :wide, None]
    return np.clip(np.rint(codes / 51 + over), 0, 5) * 51


def few_colours(codes: np.ndarray) -> np.ndarray:
    """Spread errors to the neighbours (Floyd & Steinberg 1976), in six levels of each colour."""
    levels = Image.new("P", (1, 1))
    steps = range(0, 256, 51)
    levels.putpalette([code for r in steps for g in steps for b in steps for code in (r, g, b)])
    image = Image.fromarray(np.rint(codes).astype(np.uint8))
    return np.asarray(image.quantize(palette=levels).convert("RGB"), dtype=float)


def on_paper(drawn: np.ndarray, inks: Sequence[tuple[int, int, int]], seed: int) -> np.ndarray:
    """Photograph a drawing in felt pen: grain, streaks, yellowish light that falls off, blur."""
    from scipy.ndimage import gaussian_filter

    random = np.random.default_rng(seed)
    light = srgb_to_linear(np.rint(drawing(drawn, inks)).astype(np.uint8)).astype(float)
    high, wide = light.shape[:2]
    for size, much in ((1.0, 0.02), (4.0, 0.04)):
        grain = gaussian_filter(random.standard_normal((high, wide)), size)
        light *= 1 + much * grain[..., None] / grain.std()
    y, x = np.indices((high, wide)) / [[[high]], [[wide]]] - 0.5
    light *= 0.8 * np.exp(-0.4 * (1.1 * x + 0.6 * y + 1.3 * (x * x + y * y)))[..., None]
    light *= [1.0, 0.97, 0.88]
    light = gaussian_filter(light, (1, 1, 0))
    codes = 255 * np.where(light < 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return codes + random.normal(0, 2, codes.shape)


FILES = {
    "png": lambda codes: saved(codes),
    "png with few colours": lambda codes: saved(
        np.asarray(
            Image.fromarray(codes.astype(np.uint8))
            .quantize(32, dither=Image.Dither.NONE)
            .convert("RGB")
        )
    ),
    "jpeg 30": lambda codes: saved(codes, "JPEG", quality=30, subsampling=2),
    "jpeg 75": lambda codes: saved(codes, "JPEG", quality=75, subsampling=2),
    "webp": lambda codes: saved(codes, "WEBP", quality=60),
    "dithered by a pattern": lambda codes: saved(ordered(codes), "GIF"),
    "dithered by error": lambda codes: saved(few_colours(codes), "GIF"),
    "grain": lambda codes: saved(codes + np.random.default_rng(3).normal(0, 5, codes.shape)),
}


@pytest.mark.parametrize("file", FILES)
def test_a_flat_drawing_is_read_the_same_from_any_file(file: str) -> None:
    drawn = boat(720, 540)
    shown = FILES[file](drawing(drawn))
    sketch = read_sketch(shown)
    assert sketch.kind == "flat"
    assert beads_of(sketch) == "ANOR"
    assert wrong_share(sketch, drawn, HULL) < 0.005
    assert BEADS.codes[background_index(sketch, shown, BEADS)] == "O"


@pytest.mark.parametrize("paper_light", [1, 2])
def test_felt_pen_on_unevenly_lit_paper_is_flat(paper_light: int) -> None:
    drawn = boat(800, 600)
    inks = (WHITE, NAVY, RUST, AMBER)
    sketch = read_sketch(saved(on_paper(drawn, inks, paper_light), "JPEG", quality=88))
    assert sketch.kind == "flat"
    # the light is not that of the beads, so colours are distinguished, not named
    assert len(sketch.colours.linear) == 4
    lab = srgb_to_lab(np.array(inks, np.uint8))
    apart = np.linalg.norm(lab[:, None] - sketch.colours.lab[None], axis=-1)
    assert len(set(apart.argmin(axis=1))) == 4
    shares = sketch.source.planes[..., 4:].mean(axis=(0, 1))
    truth = np.bincount(drawn.ravel()) / drawn.size
    assert shares[apart.argmin(axis=1)] == pytest.approx(truth, rel=0.3)


def test_a_flower_that_fills_its_sheet_in_two_near_tones_is_flat() -> None:
    y, x = np.indices((2400, 2400)) / 2400 - 0.5
    far, turn = np.hypot(x, y), np.arctan2(y, x)
    drawn = np.zeros(x.shape, dtype=int)
    petal = far < 0.48 * np.abs(np.cos(4 * turn)) ** 0.3
    drawn[petal] = 1 + ((np.floor((turn + np.pi / 8) / (np.pi / 4)) % 2)[petal] > 0)
    drawn[far < 0.14] = 3
    inks = (WHITE, (150, 116, 148), (168, 134, 164), (212, 158, 96))
    sketch = read_sketch(saved(on_paper(drawn, inks, 4), "JPEG", quality=88))
    assert sketch.kind == "flat"
    assert len(sketch.colours.linear) == 4
    shares = np.sort(sketch.source.planes[..., 4:].mean(axis=(0, 1)))
    truth = np.sort(np.bincount(drawn.ravel()) / drawn.size)
    assert truth[-1] < 0.5  # more flower than paper
    assert shares == pytest.approx(truth, rel=0.3)


def test_a_sheet_with_shaded_things_on_it_is_shaded() -> None:
    y, x = np.indices((480, 640))
    light = 240 - 0.08 * x[..., None] * np.ones(3)
    r = np.hypot(x - 320, y - 240)[..., None] / 150
    ball = np.array(RUST) * 1.4 * np.sqrt(np.clip(1 - r * r, 0.02, 1))
    assert read_sketch(saved(np.where(r < 1, ball, light), "JPEG", quality=85)).kind == "shaded"


@pytest.mark.parametrize("dither", [ordered, few_colours])
def test_dithering_does_not_make_shades_flat(dither: Callable[[np.ndarray], np.ndarray]) -> None:
    y, x = np.indices((360, 480))
    sky = np.array([40.0, 40, 110]) + (y / 360)[..., None] * np.array([210.0, 110, -50])
    hill = y > 250 + 30 * np.sin(x / 60)
    dusk = np.where(hill[..., None], np.array(BLACK), sky)
    assert read_sketch(saved(dusk)).kind == "shaded"
    assert read_sketch(saved(dither(dusk), "GIF")).kind == "shaded"


@cache
def star(width_px: float) -> np.ndarray:
    """Lines through a point, four times too large."""
    y, x = np.indices((1200, 1600)) / 4
    drawn = np.zeros(x.shape, dtype=int)
    for degrees in range(4, 180, 22):
        turn = np.deg2rad(degrees)
        across = (x - 200) * np.sin(turn) - (y - 150) * np.cos(turn)
        drawn[(np.abs(across) < width_px / 2) & (np.hypot(x - 200, y - 150) < 130)] = 1
    return drawn


@pytest.mark.parametrize("width_px", [1.0, 1.5, 3.0])
@pytest.mark.parametrize("inks", [(OYSTER, NAVY), (WHITE, BLACK), (BLACK, WHITE), (OYSTER, RUST)])
def test_thin_lines_keep_their_own_colour(
    width_px: float, inks: tuple[tuple[int, int, int], tuple[int, int, int]]
) -> None:
    drawn = star(width_px)
    sketch = read_sketch(saved(drawing(drawn, inks)))
    assert sketch.kind == "flat"
    own = match_linear(srgb_to_linear(np.array(inks, np.uint8)), BEADS)
    assert list(match_linear(sketch.colours.linear, BEADS)) == list(own)
    share = sketch.source.planes[..., 5].mean()
    assert share == pytest.approx(drawn.mean(), rel=0.25)


def hairlines(
    width_px: float, line: tuple[int, int, int], ground: tuple[int, int, int]
) -> np.ndarray:
    """Four lines with soft edges, line and ground mixed in light."""
    y, x = np.mgrid[0:1600, 0:1600] / 4
    drawn = np.zeros(x.shape, dtype=bool)
    for left, slope in ((60, 0.3), (140, -0.2), (220, 0.05), (300, 0.6)):
        drawn |= np.abs(y - left - slope * (x - 40)) < width_px / 2 * np.hypot(1, slope)
    inside = (np.abs(x - 200) < 160) & (np.abs(y - 200) < 180)
    part = (drawn & inside).reshape(400, 4, 400, 4).mean(axis=(1, 3))[..., None]
    one, other = srgb_to_linear(np.array([line, ground], np.uint8))
    return linear_to_srgb((part * one + (1 - part) * other).astype(np.float32))


def test_hairlines_mixed_in_light_are_flat() -> None:
    sketch = read_sketch(saved(hairlines(1.6, (200, 30, 30), (30, 150, 40))))
    assert (sketch.kind, len(sketch.colours.linear)) == ("flat", 2)


def test_hairlines_that_a_lossy_file_has_blurred_do_not_vanish() -> None:
    sketch = read_sketch(saved(hairlines(1.0, NAVY, OYSTER), "JPEG", quality=75))
    assert sketch.kind == "shaded"


def test_lines_between_fields_are_neither_lost_nor_mixtures() -> None:
    y, x = np.indices((1600, 2000)) / 1600
    r = np.hypot(x - 0.62, y - 0.5)
    drawn = np.where(r < 0.3, 2, np.where(r < 0.306, 1, 0))  # an outline of 2.4 pixels
    inks = (WHITE, BLACK, AMBER)
    for picture_read in (saved(drawing(drawn, inks)), saved(drawing(drawn, inks), "JPEG")):
        sketch = read_sketch(picture_read)
        assert beads_of(sketch) == "AKW"
        share = sketch.source.planes[..., 4:].mean(axis=(0, 1))
        black = list(match_linear(sketch.colours.linear, BEADS)).index(BEADS.index("K"))
        assert share[black] == pytest.approx((drawn == 1).mean(), rel=0.5)


def test_an_edge_blurred_by_enlarging_has_no_colours_of_its_own() -> None:
    drawn = boat(200, 150)
    small = Image.fromarray(np.rint(drawing(drawn)).astype(np.uint8))
    large = np.asarray(small.resize((1000, 750), Image.Resampling.BICUBIC), dtype=float)
    sketch = read_sketch(saved(large, "JPEG", quality=85))
    assert beads_of(sketch) == "ANOR"
    assert wrong_share(sketch, drawn, HULL) < 0.01


@pytest.mark.parametrize("size", [16, 24, 48, 64])
def test_pixel_art_is_read_dot_by_dot(size: int) -> None:
    drawn = boat(size, size)[2::4, 2::4].copy()
    drawn[size // 2 :: 5, ::5] = 3  # single dots
    sketch = read_sketch(saved(np.array(HULL)[drawn]))
    assert sketch.kind == "flat"
    own = match_linear(srgb_to_linear(np.array(HULL, np.uint8)), BEADS)
    read = match_linear(sketch.colours.linear, BEADS)
    assert (read[sketch.source.planes[..., 4:].argmax(axis=-1)] == own[drawn]).all()


def test_a_check_of_single_pixels_has_two_colours() -> None:
    drawn = np.indices((24, 24)).sum(axis=0) % 2
    sketch = read_sketch(saved(np.array([NAVY, OYSTER])[drawn]))
    assert sketch.kind == "flat"
    assert beads_of(sketch) == "NO"


def test_a_soft_shadow_hides_nothing() -> None:
    from scipy.ndimage import gaussian_filter

    drawn = boat()
    inks = (WHITE, NAVY, RUST, AMBER)
    solid = box_mean((drawn > 0)[..., None].astype(np.float32), 4)[..., 0]
    shade = 0.4 * gaussian_filter(np.roll(solid, (6, 6), (0, 1)), 4) * (1 - solid)
    sketch = read_sketch(saved(drawing(drawn, inks) * (1 - shade[..., None])))
    assert sketch.kind == "flat"
    assert set("ANRW") <= set(beads_of(sketch))


def test_soft_transparent_edges_have_the_colour_of_what_they_are_the_edge_of() -> None:
    drawn = boat()
    solid = box_mean((drawn > 0)[..., None].astype(np.float32), 4)
    whole = drawing(drawn, (BLACK, NAVY, RUST, AMBER)) - np.array(BLACK) * (1 - solid)
    codes = np.concatenate([whole / np.maximum(solid, 1e-6), 255 * solid], axis=-1)
    sketch = read_sketch(saved(codes))
    assert sketch.kind == "flat"
    assert beads_of(sketch) == "ANR"
    assert sketch.source.planes[..., 3].mean() == pytest.approx((drawn > 0).mean(), rel=0.02)


@pytest.mark.parametrize("size", [1, 2, 5, 300])
def test_one_colour_is_a_flat_sketch(size: int) -> None:
    sketch = read_sketch(saved(np.full((size, size, 3), RUST)))
    assert sketch.kind == "flat"
    assert beads_of(sketch) == "R"


def test_noise_is_shaded() -> None:
    noise = np.random.default_rng(1).integers(0, 256, (200, 200, 3))
    assert read_sketch(saved(noise)).kind == "shaded"
    assert read_sketch(saved(noise[:64, :64])).kind == "shaded"


@pytest.mark.parametrize("seed", range(12))
def test_patches_of_any_beads_come_back_as_those_beads(seed: int) -> None:
    random = np.random.default_rng(seed)
    which = random.permutation(8)[: random.integers(2, 7)]
    drawn = np.zeros((1440, 1920), dtype=int)
    for number in range(1, len(which)):
        row, column = 240 * number, random.integers(40, 1000)
        high, wide = random.integers((100, 120), (220, 800))
        drawn[row : row + high, column : column + wide] = number
    quality = int(random.integers(75, 96))
    sketch = read_sketch(saved(drawing(drawn, BEADS.rgb[which]), "JPEG", quality=quality))
    assert sketch.kind == "flat"
    assert set(beads_of(sketch)) == {BEADS.codes[k] for k in which}
