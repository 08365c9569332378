"""Improving the beads one by one against the score: direct binary search.

Every bead tries the few colours that may stand for its part of the sketch. What a change does to
the score is worked out in a window round the bead, many changes at a time; of the changes that
help, those too far apart to matter to each other are made together, and the whole is judged
anew, until nothing helps (M. Analoui, J. P. Allebach, Proc. SPIE 1666 (1992) 96-108).

A bead adds its colour times its cell to the picture, and every filter is linear, so the filtered
cell of each bead is kept: a change adds a multiple of it. Only the local mean square in the
structural similarity needs one more small filter.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from itertools import count

import numpy as np

from ...core.arrays import Bools, Float32Array, Floats, Ints
from ...core.braid import Raster, quick_length
from ...palette import quick_ciede2000
from .comparison import STRUCTURE_WEIGHT, Comparison, lab_of_opponents, structure_of
from .tile import Tile

REACH_PITCHES = 1.4
"""A change is judged this far round its bead; what little it does beyond is counted when the whole
is judged anew. With a quarter of it J is 12 % higher, with 1.05 to 5.6 the same within 1.4 %."""

LEAST_GAIN_RATIO = 1e-4
"""A change of the score by less than this part of it is none. From a quarter to four times as much
J is the same within 0.2 %."""

HOPELESS = 1.5
"""A change that makes the score worse by more than so many beads' part is not tried again. With
0.4 J is 1.2 % higher, with more as high within 0.2 %."""

FLIPS_AT_ONCE = 256
"""Changes judged in one go: enough to be quick, few enough to need little memory."""


@dataclass(frozen=True, eq=False)
class Windows:
    """The surroundings of each bead of a tile, and its cell as the filters leave it.

    Parameters
    ----------
    rows, columns : (beads, h), (beads, w) int
        Pixels round each bead, on the torus.
    cells : (5, beads, h, w) float32
        Each bead's cell as the eye's three channels see it, smoothed, and smoothed twice.
    squares : (beads, h, w) float32
        The smoothed cell squared, and smoothed.
    across, down : float32
        The smoothing along a row and along a column of a window, as matrices.
    matters : (beads, beads) bool
        Which beads are so near that their windows meet where it counts.
    """

    rows: Ints
    columns: Ints
    cells: Float32Array
    squares: Float32Array
    down: Float32Array
    across: Float32Array
    matters: Bools

    @classmethod
    def of(cls, tile: Tile, raster: Raster, comparison: Comparison) -> Windows:
        """Return the windows of a tile."""
        owner, shape, per_bead = raster.owner, raster.shape, raster.px_per_bead
        reach = [
            min(int(np.ceil(REACH_PITCHES * px)), (size - 1) // 2)
            for px, size in zip(per_bead, shape, strict=True)
        ]
        middle = middles(owner, tile.beads)
        offsets = [np.arange(-r, r + 1) for r in reach]
        rows = (middle[:, :1] + offsets[0]) % shape[0]
        columns = (middle[:, 1:] + offsets[1]) % shape[1]
        every = np.arange(tile.beads)[:, None, None]
        masks = (owner[rows[:, :, None], columns[:, None, :]] == every).astype(np.float32)
        # of the kernels only what lies between a cell and its window is needed
        kernels = comparison.kernels()
        patch = [
            quick_length(2 * r + 1 + int(px) + 2) for r, px in zip(reach, per_bead, strict=True)
        ]
        taps = [np.arange(size) - size // 2 for size in patch]
        local = kernels[:, taps[0][:, None] % shape[0], taps[1][None, :] % shape[1]]
        local = np.roll(local, (-(patch[0] // 2), -(patch[1] // 2)), axis=(1, 2))
        spectra = np.fft.rfft2(local.astype(np.float32))
        seen = np.fft.rfft2(masks, s=(patch[0], patch[1]))
        high, wide = masks.shape[1:]
        cells = np.stack(
            [
                np.fft.irfft2(seen * part, s=(patch[0], patch[1]))[:, :high, :wide]
                for part in spectra
            ]
        ).astype(np.float32)
        down, across = comparison.window_matrices(high, wide)
        squares = down @ cells[3] ** 2 @ across.T
        matters = _near(tile, 2 * REACH_PITCHES * tile.lattice.pitch_mm)
        return cls(rows, columns, cells, squares, down, across, matters)

    def moved(self, shift: tuple[int, int], shape: tuple[int, int]) -> Windows:
        """Return the windows when the bead map is rolled back by `shift`."""
        return Windows(
            (self.rows - shift[0]) % shape[0],
            (self.columns - shift[1]) % shape[1],
            self.cells,
            self.squares,
            self.down,
            self.across,
            self.matters,
        )

    def at(self, plane: Float32Array, beads: Ints) -> Float32Array:
        """Return what a plane (..., H, W) holds in the windows of some beads, (..., n, h, w)."""
        index = self.rows[beads][:, :, None] * plane.shape[-1] + self.columns[beads][:, None, :]
        return np.asarray(np.take(plane.reshape(*plane.shape[:-2], -1), index, axis=-1))


def middles(owner: Ints, beads: int) -> Ints:
    """Row and column of the middle of each bead's cell on the torus, (beads, 2)."""
    flat = owner.ravel()
    middles = []
    for axis, size in enumerate(owner.shape):
        angle = 2 * np.pi * np.arange(size) / size
        along = np.broadcast_to(np.expand_dims(np.exp(1j * angle), 1 - axis), owner.shape).ravel()
        total = np.bincount(flat, along.real, beads) + 1j * np.bincount(flat, along.imag, beads)
        middles.append(np.rint(np.angle(total) / (2 * np.pi) * size).astype(np.intp) % size)
    return np.stack(middles, axis=1)


def _near(tile: Tile, limit_mm: float) -> Bools:
    """Which beads of the tile lie within a distance of which, (beads, beads)."""
    x, y = (place.astype(np.float32) for place in tile.places_mm())
    near = np.zeros((tile.beads, tile.beads), dtype=bool)
    for bead in range(tile.beads):
        across, along = np.abs(x - x[bead]), np.abs(y - y[bead])
        across = np.minimum(across, tile.lattice.circumference_mm - across)
        along = np.minimum(along, tile.height_mm - along)
        near[bead] = across * across + along * along <= limit_mm**2
    return near


class State:
    """The beads as they are, with everything filtered, ready to be changed."""

    def __init__(
        self, comparison: Comparison, owner: Ints, planes: Float32Array, colours: Ints
    ) -> None:
        self.colours = colours
        drawn = np.ascontiguousarray(np.moveaxis(planes[colours[owner]], -1, 0))
        self.seen = comparison.seen_opponents(drawn[:3])
        self.smooth, self.mean, self.square, self.both = comparison.moments_with(drawn[3])
        self.loss = comparison.loss_of(self.seen, self.mean, self.square, self.both)
        self.score = float(self.loss.sum(dtype=np.float64))


class Sweeper:
    """Improves colourings of one tile.

    Parameters
    ----------
    comparison : Comparison
    windows : Windows
        Of the bead map.
    owner : (H, W) int
    planes : (inks, 4) float32
        See `himotif.convert.fit.comparison.bead_planes`.
    """

    def __init__(
        self,
        comparison: Comparison,
        windows: Windows,
        owner: Ints,
        planes: Float32Array,
    ) -> None:
        self.comparison, self.windows, self.owner = comparison, windows, owner
        self.planes = planes

    @cached_property
    def _sketch_cells(self) -> Float32Array:
        """The smoothed sketch times each bead's smoothed cell, smoothed, (beads, h, w)."""
        windows = self.windows
        every = np.arange(len(windows.rows))
        product = windows.at(self.comparison.smooth, every) * windows.cells[3]
        return np.asarray(windows.down @ product @ windows.across.T)

    def improve(
        self, colours: Ints, allowed: Ints, rounds: int | None = None
    ) -> tuple[float, Ints]:
        """Change beads as long as the score falls.

        Parameters
        ----------
        colours : (beads,) int
            Inks to begin with.
        allowed : (beads, k) int
            Inks that each bead may take; -1 is none.
        rounds : int, optional
            So often changes are made together, at most; until none helps if left out.

        Returns
        -------
        (score, colours)
        """
        state = self.state(colours)
        allowed = allowed.copy()
        open_beads = np.flatnonzero((allowed >= 0).sum(axis=1) > 1)
        for _ in count() if rounds is None else range(rounds):
            tried = allowed[open_beads]
            row, column = np.nonzero((tried >= 0) & (tried != state.colours[open_beads][:, None]))
            if not len(row):
                break
            beads, inks = open_beads[row], tried[row, column]
            gains = self.gains(state, beads, inks)
            hopeless = gains > HOPELESS * state.score / len(colours)
            allowed[beads[hopeless], column[hopeless]] = -1
            chosen = self._best_apart(beads, gains, LEAST_GAIN_RATIO * state.score)
            while len(chosen):
                trial = state.colours.copy()
                trial[beads[chosen]] = inks[chosen]
                new = self.state(trial)
                if new.score < state.score * (1 - LEAST_GAIN_RATIO / 10):
                    break
                # what each promised does not come together: keep the better half
                chosen = chosen[: len(chosen) // 2]
            if not len(chosen):
                break
            state = new
            touched = self.windows.matters[beads[chosen]].any(axis=0)
            open_beads = np.flatnonzero(touched & ((allowed >= 0).sum(axis=1) > 1))
        return state.score, state.colours

    def state(self, colours: Ints) -> State:
        return State(self.comparison, self.owner, self.planes, colours)

    def _best_apart(self, beads: Ints, gains: Floats, least: float) -> Ints:
        """The best changes that do not matter to each other, best first."""
        near = np.zeros(len(self.windows.matters), dtype=bool)
        chosen = []
        for at in np.argsort(gains, kind="stable"):
            if gains[at] > -least:
                break
            if not near[beads[at]]:
                chosen.append(int(at))
                near |= self.windows.matters[beads[at]]
        return np.array(chosen, dtype=np.intp)

    def gains(self, state: State, beads: Ints, inks: Ints) -> Floats:
        """How much each change raises the score (below 0: it reads better)."""
        parts = [
            self._gains_of(state, beads[k : k + FLIPS_AT_ONCE], inks[k : k + FLIPS_AT_ONCE])
            for k in range(0, len(beads), FLIPS_AT_ONCE)
        ]
        return np.concatenate(parts)

    def _gains_of(self, state: State, beads: Ints, inks: Ints) -> Floats:
        windows, comparison = self.windows, self.comparison
        change = self.planes[inks] - self.planes[state.colours[beads]]
        cells = windows.cells[:, beads]
        light = change[:, 3, None, None]
        seen = windows.at(state.seen, beads) + change.T[:3, :, None, None] * cells[:3]
        smooth = windows.at(state.smooth, beads)
        mean = windows.at(state.mean, beads) + light * cells[4]
        product = windows.down @ (smooth * cells[3]) @ windows.across.T
        square = windows.at(state.square, beads) + light * (
            2 * product + light * windows.squares[beads]
        )
        both = windows.at(state.both, beads) + light * self._sketch_cells[beads]
        colour = quick_ciede2000(
            windows.at(comparison.seen(), beads), lab_of_opponents(np.moveaxis(seen, 0, 1))
        )
        structure = structure_of(
            windows.at(comparison.mean, beads),
            windows.at(comparison.square, beads),
            mean,
            square,
            both,
        )
        loss = (colour + np.float32(STRUCTURE_WEIGHT) * (1 - structure)) * windows.at(
            comparison.weight, beads
        )
        loss -= windows.at(state.loss, beads)
        return np.asarray(loss.sum(axis=(1, 2), dtype=np.float64))
