"""A fitted motif on the beads of a tile, and the ways a maker may choose from."""

import numpy as np
import pytest
from himotif.convert.fit.energy import Overlay, Size, extent_mm
from himotif.convert.fit.laying import nearest_bead, placed_on
from himotif.convert.fit.patch import Patch
from himotif.convert.fit.placement import Placement
from himotif.convert.fit.size import Wanted, fit_motif, flat_sketch
from himotif.convert.fit.tile import plan_tile
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import FRONT_DEG, Lattice
from test_fit_features import GROUND, flower
from test_fit_size import LETTER_E


def lattice(strands, lay="S"):
    return Lattice.computed(Braid(strands, lay=lay), bead_size("8/0"))


@pytest.mark.parametrize("strands", [8, 16])
@pytest.mark.parametrize("lay", ["S", "Z"])
def test_beads_on_the_braid_show_the_sketch_where_it_lies(strands, lay):
    """Every bead of the motif has the colour of most of its cell, or of a neighbour's."""
    own = lattice(strands, lay)
    sketch = flat_sketch(LETTER_E, GROUND)
    fitted = fit_motif(sketch, own, Wanted(width_mm=0.6 * own.circumference_mm))
    tile = plan_tile(own, extent_mm(sketch, fitted.size), 60, "once", 1.0)
    placed = placed_on(fitted, tile, FRONT_DEG, tile.middle_mm, GROUND)
    assert np.count_nonzero(placed.colours != GROUND) == fitted.legibility.beads
    # the motif lies where it was wanted, up to the cell of a bead
    across = (placed.azimuth_deg - FRONT_DEG + 180) % 360 - 180
    away = np.hypot(np.deg2rad(across) * own.radius_mm, placed.height_mm - tile.middle_mm)
    assert away <= 2 * own.covering_radius_mm + 1e-6
    # points of the sketch as the braid has them: its right is to the left of azimuth
    x, y = tile.places_mm(placed.azimuth_deg)
    right, down = x / fitted.size.width_mm, placed.height_mm - y
    down = down / fitted.size.width_mm / fitted.size.stretch
    high, wide = sketch.labels.shape
    column = np.floor((right + 0.5) * wide).astype(int)
    row = np.floor((down / sketch.aspect + 0.5) * high).astype(int)
    inside = (column >= 0) & (column < wide) & (row >= 0) & (row < high)
    at_centre = np.where(inside, sketch.labels[row * inside, column * inside], GROUND)
    drawn = at_centre != GROUND
    assert (placed.colours == at_centre)[drawn | (placed.colours != GROUND)].mean() > 0.7


def test_all_places_of_the_lattice_are_alike():
    own = lattice(12)
    sketch = flat_sketch(flower(6), GROUND)
    fitted = fit_motif(sketch, own, Wanted(width_mm=14.0))
    tile = plan_tile(own, extent_mm(sketch, fitted.size), 60, 2, 1.0)
    counts = {
        tuple(np.bincount(placed_on(fitted, tile, azimuth, tile.middle_mm, GROUND).colours))
        for azimuth in range(0, 360, 45)
    }
    assert len(counts) == 1


def test_the_nearest_bead_is_the_lattices_owner():
    own = lattice(8)
    for azimuth, height in np.random.default_rng(2).uniform((0, 30), (360, 60), (50, 2)):
        crossing, (right, up) = nearest_bead(own, azimuth, height)
        x = own.chart_x_mm(azimuth)
        assert crossing == own.owner([x], [height], 600)[0]
        assert own.height_mm(crossing) + up == pytest.approx(height)
        assert np.hypot(right, up) <= own.covering_radius_mm + 1e-9


def test_a_placement_has_the_picture_where_the_engine_has_it():
    """The same points of the sketch, by the formulas of `Placement`, turned and stretched."""
    own = lattice(16)
    sketch = flat_sketch(LETTER_E, GROUND)
    size = Size(11.0, 1.3, 20.0)
    overlay = Overlay(sketch, size, Patch.of(own, 14.0), np.array([[0.4, 0.7]]))
    high, wide = sketch.labels.shape
    placement = Placement(
        "wrap", wide / 11.0, 20.0, (wide, high), own.radius_mm, 100.0, ((100.0, 30.0),), 1.3
    )
    right, up = np.random.default_rng(4).uniform(-6, 6, (2, 500))
    azimuth = 100.0 - np.rad2deg(right / own.radius_mm)
    points = (placement.picture_px(azimuth, 30.0 + up) - np.array([wide, high]) / 2) / wide
    inside = np.isfinite(points).all(axis=-1)
    assert inside.sum() > 200
    points, right, up = points[inside], right[inside], up[inside]
    assert np.stack(overlay.to_sketch(right, up), axis=-1) == pytest.approx(points, abs=1e-9)
    assert overlay.from_sketch(points) == pytest.approx(np.stack([right, up], axis=-1), abs=1e-9)
