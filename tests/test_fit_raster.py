"""The sketch on the unrolled braid: the right way round, averaged in linear light."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from himotif.convert.fit.placement import Placement
from himotif.convert.fit.raster import Drawn, unroll
from himotif.convert.read.picture import Picture
from himotif.convert.read.source import Source, coloured_planes
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.braid.raster import Raster
from himotif.core.srgb import box_mean, srgb_to_linear

LATTICE = Lattice.computed(Braid(16), bead_size("8/0"))


def picture_of(linear: npt.ArrayLike, alpha: npt.ArrayLike | None = None) -> Picture:
    """A picture from linear light (h, w, 3), stored as it is."""
    pixels = np.asarray(linear, dtype=np.float32)
    opaque = np.ones(pixels.shape[:2]) if alpha is None else alpha
    return Picture(
        "sketch.png",
        "0" * 64,
        (pixels.shape[1], pixels.shape[0]),
        pixels,
        np.asarray(opaque, dtype=np.float32),
        1.0,
        (),
    )


def placed(picture: Picture, width_mm: float, **more: object) -> Placement:
    values: dict[str, object] = {
        "fit": "wrap",
        "px_per_mm": picture.size_px[0] / width_mm,
        "rotate_deg": 0.0,
        "size_px": picture.size_px,
        "radius_mm": LATTICE.radius_mm,
        "front_deg": 180.0,
        "centres": ((180.0, 10.0),),
    }
    return Placement(**(values | more))  # type: ignore[arg-type]


def raster_of(px_per_mm: float) -> Raster:
    return Raster.of(LATTICE, (0.0, 20.0), px_per_mm, 400)


def drawn_of(
    picture: Picture, width_mm: float, px_per_mm: float, background: tuple[int, int, int]
) -> Drawn:
    """The picture, so wide, on the braid."""
    source = Source(coloured_planes(picture), picture.scale)
    return unroll(source, placed(picture, width_mm), raster_of(px_per_mm), background)


def quarters() -> Picture:
    """Red top left, green top right, blue bottom left, white bottom right."""
    pixels = np.zeros((60, 60, 3))
    pixels[:30, :30, 0] = 1
    pixels[:30, 30:, 1] = 1
    pixels[30:, :30, 2] = 1
    pixels[30:, 30:] = 1
    return picture_of(pixels)


def test_left_is_left_and_up_is_up() -> None:
    drawn = drawn_of(quarters(), 10.0, 4.0, (0, 0, 0))
    middle, row = drawn.raster.shape[1] // 2, drawn.raster.shape[0] // 2
    assert drawn.linear[row - 8, middle - 8] == pytest.approx([1, 0, 0], abs=1e-5)
    assert drawn.linear[row - 8, middle + 8] == pytest.approx([0, 1, 0], abs=1e-5)
    assert drawn.linear[row + 8, middle - 8] == pytest.approx([0, 0, 1], abs=1e-5)
    assert drawn.linear[row + 8, middle + 8] == pytest.approx([1, 1, 1], abs=1e-5)
    assert drawn.linear[0, 0] == pytest.approx([0, 0, 0])


def test_the_area_on_the_braid_is_the_area_of_the_picture() -> None:
    drawn = drawn_of(quarters(), 10.0, 4.0, (0, 0, 0))
    px_mm2 = LATTICE.circumference_mm / drawn.raster.shape[1] * 20.0 / drawn.raster.shape[0]
    assert drawn.cover.sum() * px_mm2 == pytest.approx(100.0, rel=0.01)


def test_fine_patterns_average_in_linear_light() -> None:
    checks = (np.indices((400, 400)).sum(axis=0) % 2)[..., None].repeat(3, axis=2)
    drawn = drawn_of(picture_of(checks), 12.0, 3.5, (0, 0, 0))
    inside = drawn.linear[drawn.cover > 0.999]
    # half the light, which is code 188 and not 128 (IEC 61966-2-1)
    assert inside == pytest.approx(0.5, abs=0.02)


def test_the_background_shines_through_what_is_transparent() -> None:
    pixels = np.zeros((40, 40, 3))
    alpha = np.zeros((40, 40))
    alpha[:, :20] = 1.0
    sketch = picture_of(pixels, alpha)
    drawn = drawn_of(sketch, 10.0, 4.0, (200, 100, 50))
    ground = srgb_to_linear(np.array([200, 100, 50], dtype=np.uint8))
    middle, row = drawn.raster.shape[1] // 2, drawn.raster.shape[0] // 2
    assert drawn.linear[row, middle + 8] == pytest.approx(ground, abs=1e-5)
    assert drawn.linear[row, middle - 8] == pytest.approx([0, 0, 0], abs=1e-5)


def test_reducing_keeps_the_mean() -> None:
    values = np.random.default_rng(1).random((60, 90, 2)).astype(np.float32)
    assert box_mean(values, 3).mean(axis=(0, 1)) == pytest.approx(
        values.mean(axis=(0, 1)), rel=1e-5
    )
    assert box_mean(values[:59, :88], 3).shape == (20, 30, 2)
    reduced = Source(values, 1.0).reduced(6.0)
    assert (reduced.planes.shape, reduced.scale) == ((20, 30, 2), pytest.approx(1 / 3))
