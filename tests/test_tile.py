"""The piece of braid that holds one motif: counted, copied and closed on itself."""

from __future__ import annotations

import numpy as np
import pytest
from himotif.convert.fit.tile import plan_tile
from himotif.core.bead import bead_size
from himotif.core.braid.braid import STRANDS, Braid
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.braid.raster import Raster, quick_length
from hypothesis import given
from hypothesis import strategies as st

EIGHT = bead_size("8/0")
BRAIDS = st.tuples(st.sampled_from(STRANDS), st.sampled_from(["S", "Z"]))


@given(BRAIDS, st.floats(2, 60), st.integers(20, 60), st.floats(0, 6))
def test_a_tile_holds_the_motif_and_the_gap(
    braid: tuple[int, str], height_mm: float, rounds: int, gap: float
) -> None:
    lattice = Lattice.computed(Braid(*braid), EIGHT)  # type: ignore[arg-type]
    if height_mm > rounds * lattice.rise_mm:
        return
    tile = plan_tile(lattice, (8.0, height_mm), rounds, "fill", gap)
    assert tile.height_mm >= height_mm + gap * lattice.rise_mm - 1e-6
    assert tile.count == 1 or tile.count * tile.shift.rounds <= rounds
    if tile.count > 1:
        # all tiles lie on the braid, and their middle is the braid's
        assert tile.first >= 0
        assert tile.first + tile.count * tile.beads <= rounds * lattice.braid.beads_per_round
    middle = tile.middle_mm + (tile.count - 1) / 2 * tile.height_mm
    assert middle == pytest.approx((rounds * lattice.rise_mm - lattice.step_mm) / 2)
    assert tile.bottom_mm <= tile.middle_mm - height_mm / 2 + lattice.step_mm
    assert tile.bottom_mm + tile.height_mm >= tile.middle_mm + height_mm / 2 - lattice.step_mm


@given(BRAIDS, st.floats(2, 30))
def test_crossings_of_all_tiles_have_their_place_in_the_first(
    braid: tuple[int, str], height_mm: float
) -> None:
    lattice = Lattice.computed(Braid(*braid), EIGHT)  # type: ignore[arg-type]
    tile = plan_tile(lattice, (8.0, height_mm), 60, "fill", 1.0)
    crossings = np.arange(-200, 800)
    number, place = tile.within(crossings)
    assert place.min() >= 0
    assert place.max() < tile.beads
    first = place + tile.first
    # the same azimuth, whole tiles further up
    apart = (lattice.azimuth_deg(crossings) - lattice.azimuth_deg(first) + 180) % 360 - 180
    assert np.abs(apart).max() < 1e-6
    up = lattice.height_mm(crossings) - lattice.height_mm(first)
    np.testing.assert_allclose(up, number * tile.height_mm, atol=1e-6)


@pytest.mark.parametrize("swatch", [None, Swatch(drift_deg=41.0, rise_mm=2.3)])
@pytest.mark.parametrize("strands", [8, 16])
def test_the_bead_under_a_pixel_is_the_lattices(strands: int, swatch: Swatch | None) -> None:
    lattice = Lattice.computed(Braid(strands), EIGHT, swatch)
    tile = plan_tile(lattice, (8.0, 9.0), 60, "fill", 1.0)
    raster = tile.raster(5.0, 170.0)
    x, y = raster.x_mm, raster.y_mm
    count = 60 * lattice.braid.beads_per_round
    there = lattice.owner(x[None, :], y[:, None], count, 170.0)
    ours = raster.owner
    assert (tile.within(there)[1] != ours).mean() < 0.002
    assert set(np.unique(ours)) == set(range(tile.beads))


def test_equal_rasters_share_one_map_of_their_beads() -> None:
    def raster(front_deg: float) -> Raster:
        lattice = Lattice.computed(Braid(16), EIGHT)
        return plan_tile(lattice, (8.0, 9.0), 60, "fill", 1.0).raster(5.0, front_deg)

    owner = raster(170.0).owner
    assert raster(170.0).owner is owner
    assert raster(171.0).owner is not owner
    with pytest.raises(ValueError, match="read-only"):
        owner[0, 0] = 1


def test_quick_lengths_are_those_of_scipy() -> None:
    from scipy.fft import next_fast_len

    lengths = range(1, 3000)
    assert [quick_length(one) for one in lengths] == [
        next_fast_len(one, real=True) for one in lengths
    ]


def test_neighbours_within_the_tile_are_neighbours_on_the_braid() -> None:
    lattice = Lattice.computed(Braid(16), EIGHT)
    tile = plan_tile(lattice, (8.0, 9.0), 60, "fill", 1.0)
    near = tile.neighbours()
    on_braid = lattice.neighbours(60 * lattice.braid.beads_per_round)
    crossings = np.arange(tile.beads) + tile.first
    np.testing.assert_array_equal(tile.within(on_braid[crossings])[1], near)
    for bead in range(tile.beads):
        assert all(bead in near[other] for other in near[bead])
