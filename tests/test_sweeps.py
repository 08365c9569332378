"""Changing beads one by one: judged truly, and to the end."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from himotif.convert.fit.comparison import Comparison, bead_planes
from himotif.convert.fit.sweeps import Sweeper, Windows
from himotif.convert.fit.tile import plan_tile
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.srgb import srgb_to_linear
from sketches import FIVE

PLANES = bead_planes(srgb_to_linear(FIVE.rgb))


def sweeper(strands: int, shift: tuple[int, int], seed: int) -> tuple[Sweeper, Comparison]:
    lattice = Lattice.computed(Braid(strands), bead_size("8/0"))
    tile = plan_tile(lattice, (8.0, 8.0), 60, "fill", 1.0)
    canvas = tile.raster(5.0)
    # a random sketch with soft forms
    rng = np.random.default_rng(seed)
    rough = rng.random((canvas.shape[0] // 6 + 1, canvas.shape[1] // 6 + 1, 3))
    linear = np.kron(rough, np.ones((6, 6, 1)))[: canvas.shape[0], : canvas.shape[1]]
    comparison = Comparison(linear.astype(np.float32), canvas.px_per_bead)
    windows = Windows.of(tile, canvas, comparison).moved(shift, canvas.shape)
    return Sweeper(comparison, windows, canvas.rolled(shift), PLANES), comparison


def score(sweep: Sweeper, comparison: Comparison, colours: np.ndarray) -> float:
    drawn = np.moveaxis(PLANES[colours[sweep.owner]], -1, 0)
    return float(comparison.loss_map(np.ascontiguousarray(drawn)).sum())


@pytest.mark.parametrize(("strands", "shift"), [(8, (0, 0)), (16, (2, -3))])
def test_a_change_is_worth_what_the_whole_says(strands: int, shift: tuple[int, int]) -> None:
    sweep, comparison = sweeper(strands, shift, 1)
    colours = np.random.default_rng(2).integers(0, 5, len(sweep.windows.rows))
    state = sweep.state(colours)
    assert state.score == pytest.approx(score(sweep, comparison, colours), rel=1e-5)
    beads = np.arange(0, len(colours), 3)
    inks = (colours[beads] + 1) % 5
    gains = sweep.gains(state, beads, inks)
    true = []
    for bead, ink in zip(beads, inks, strict=True):
        changed = colours.copy()
        changed[bead] = ink
        true.append(score(sweep, comparison, changed) - state.score)
    # only what lies far from the bead is left out
    assert np.corrcoef(gains, true)[0, 1] > 0.97
    assert np.abs(gains - true).max() < 0.25 * np.abs(true).max()


def test_no_single_change_helps_any_more() -> None:
    sweep, comparison = sweeper(8, (0, 0), 3)
    beads = len(sweep.windows.rows)
    start = np.zeros(beads, dtype=np.intp)
    allowed = np.tile(np.arange(5), (beads, 1))
    reached, colours = sweep.improve(start, allowed)
    assert reached == pytest.approx(score(sweep, comparison, colours), rel=1e-5)
    assert reached < 0.7 * score(sweep, comparison, start)
    better = []
    for bead, ink in itertools.product(range(beads), range(5)):
        changed = colours.copy()
        changed[bead] = ink
        better.append(score(sweep, comparison, changed) < reached * (1 - 5e-3))
    # a change that looked hopeless at first is not tried again, so a few may be left
    assert np.mean(better) < 0.03


def test_only_allowed_colours_are_taken() -> None:
    sweep, _ = sweeper(8, (0, 0), 4)
    beads = len(sweep.windows.rows)
    start = np.full(beads, 2)
    allowed = np.tile([2, 3, -1], (beads, 1))
    allowed[::2] = [2, -1, -1]
    _, colours = sweep.improve(start, allowed)
    assert (colours[::2] == 2).all()
    assert set(np.unique(colours)) <= {2, 3}
