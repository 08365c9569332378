"""What looks the same upside down has beads that do so; a mirror axis the lattice cannot keep."""

from __future__ import annotations

import numpy as np
import pytest
from converting import converted
from himotif.convert.fit.symmetry import alike, centres, looks_the_same_upside_down
from himotif.convert.fit.tile import plan_tile
from himotif.convert.read.picture import Picture
from himotif.convert.read.sketch import read_sketch
from himotif.core.bead import bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice
from sketches import FIVE, NAVY, OYSTER, letter_f, soft

EIGHT = bead_size("8/0")


def lozenge() -> Picture:
    row, column = np.abs(np.indices((800, 800)) / 799 - 0.5)
    return soft((row + column < 0.42) & (row + column > 0.16), NAVY, OYSTER)


def slanted_s() -> Picture:
    """A Z-like bar with two arms: the same upside down, not the same in a mirror."""
    row, column = np.indices((800, 800)) / 799 - 0.5
    bar = np.abs(row + 0.8 * column) < 0.12
    arms = ((row < -0.28) & (column > -0.1)) | ((row > 0.28) & (column < 0.1))
    return soft((bar | arms) & (np.abs(row) < 0.44) & (np.abs(column) < 0.44), NAVY, OYSTER)


@pytest.mark.parametrize("strands", STRANDS)
@pytest.mark.parametrize("lay", ["S", "Z"])
def test_a_half_turn_about_a_centre_brings_the_lattice_onto_itself(strands: int, lay: str) -> None:
    lattice = Lattice.computed(Braid(strands, lay), EIGHT)  # type: ignore[arg-type]
    tile = plan_tile(lattice, (8.0, 8.0), 60, "fill", 1.0)
    x, y = tile.places_mm()
    found = centres(tile)
    assert len(found) == 4
    for centre in found:
        right, up = centre.moved_mm
        assert np.hypot(right, up) <= lattice.covering_radius_mm + 1e-9
        there_x, there_y = 2 * right - x, 2 * (tile.middle_mm + up) - y
        apart_x = (there_x - x[centre.partner]) / lattice.circumference_mm
        apart_y = (there_y - y[centre.partner]) / tile.height_mm
        np.testing.assert_allclose(apart_x, np.rint(apart_x), atol=1e-9)
        np.testing.assert_allclose(apart_y, np.rint(apart_y), atol=1e-9)
        np.testing.assert_array_equal(centre.partner[centre.partner], np.arange(tile.beads))
        for colours in alike(np.arange(tile.beads), centre.partner):
            np.testing.assert_array_equal(colours, colours[centre.partner])


@pytest.mark.parametrize("strands", STRANDS)
def test_no_mirror_axis_of_the_lattice_is_upright_or_level(strands: int) -> None:
    lattice = Lattice.computed(Braid(strands), EIGHT)
    mirrored = lattice.offsets_mm * [-1, 1]
    apart = np.linalg.norm(mirrored[:, None] - lattice.offsets_mm[None], axis=-1)
    assert apart.min(axis=1).max() > 0.1 * lattice.pitch_mm


def test_which_sketches_look_the_same_upside_down() -> None:
    assert looks_the_same_upside_down(read_sketch(lozenge()).source)
    assert looks_the_same_upside_down(read_sketch(slanted_s()).source)
    assert not looks_the_same_upside_down(read_sketch(letter_f()).source)


@pytest.mark.parametrize("sketch", [lozenge(), slanted_s()], ids=["lozenge", "s"])
@pytest.mark.parametrize("strands", [8, 16])
@pytest.mark.parametrize(
    "kind",
    [
        "shaded",
        "flat",
    ],
)
def test_such_a_sketch_gets_beads_that_look_the_same_upside_down(
    sketch: Picture, strands: int, kind: str
) -> None:
    lattice = Lattice.computed(Braid(strands), EIGHT)
    conversion = converted(sketch, FIVE, lattice, 30, repeat="once", kind=kind)
    design = conversion.design
    assert design.picture is not None
    azimuth, height = design.picture.centres[0]
    n = np.arange(len(design.beads))
    turned = (lattice.azimuth_deg(n) - azimuth + 180) % 360 - 180
    up = lattice.height_mm(n) - height
    shown = design.beads != design.background
    drawn = [
        (round(float(a), 3) % 360, round(float(b), 3))
        for a, b in zip(turned[shown], up[shown], strict=True)
    ]
    assert len(drawn) >= 2
    upside_down = {(round(-a, 3) % 360, -b) for a, b in drawn}
    close = [
        any(abs((a - c + 180) % 360 - 180) < 0.01 and abs(b - d) < 0.01 for c, d in upside_down)
        for a, b in drawn
    ]
    assert all(close)
