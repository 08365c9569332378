"""Plain colours, flat or shaded, and which part has which colour."""

from __future__ import annotations

import numpy as np
import pytest
import skimage.data
from himotif.convert.colouring import cell_means, match_linear, plain_colours, read_sketch
from himotif.palette.colour import srgb_to_lab
from sketches import FIVE, MID, NAVY, OYSTER, RUST, letter_f, picture, soft


def disc(size: int = 800, radius: float = 0.35) -> np.ndarray:
    row, column = np.indices((size, size)) / size - 0.5
    return np.hypot(row, column) < radius


def test_anti_aliased_edges_are_no_colours() -> None:
    found = plain_colours(soft(disc(), NAVY, OYSTER))
    assert found.kind == "flat"
    assert len(found.linear) == 2
    assert set(match_linear(found.linear, FIVE)) == {0, 1}


def test_the_fringe_of_two_colours_is_not_a_third_that_lies_between() -> None:
    # a mid blue patch far away makes mid blue a plain colour; the fringe of the disc is mid blue
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
    found = plain_colours(picture(pixels))
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
    assert plain_colours(picture(ramp)).kind == "shaded"
    on_paper = np.full((500, 500, 3), OYSTER)
    on_paper[50:450, 100:400] = ramp
    assert plain_colours(picture(on_paper)).kind == "shaded"


@pytest.mark.parametrize("name", ["camera", "astronaut", "coffee", "chelsea", "moon"])
def test_photographs_are_shaded(name: str) -> None:
    # scikit-image's bundled photographs; those that are not on this disk would be fetched
    import pathlib

    files = list(pathlib.Path(skimage.data.__file__).parent.glob(f"{name}.*"))
    if not files:
        pytest.skip("this photograph is not bundled")
    from himotif.convert.picture import read_picture

    assert plain_colours(read_picture(files[0])).kind == "shaded"


def test_noise_of_compression_does_not_make_a_sketch_shaded() -> None:
    import io

    from himotif.convert.picture import read_picture
    from PIL import Image

    out = io.BytesIO()
    pixels = np.where(disc(600)[..., None], NAVY, OYSTER).astype(np.uint8)
    Image.fromarray(pixels).save(out, "JPEG", quality=70)
    found = plain_colours(read_picture(out.getvalue(), "disc.jpg"))
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
    from himotif.palette.colour import srgb_to_linear

    assert list(match_linear(srgb_to_linear(FIVE.rgb), FIVE)) == [0, 1, 2, 3, 4]
    assert srgb_to_lab(FIVE.rgb) == pytest.approx(FIVE.lab)
