"""The unrolled braid as pixels.

A raster goes once round the braid, columns from left to right, from the back over the front to the
back, and rows from the top down. It shows a piece of a braid with two ends, or a period of the
lattice, which closes on itself from top to bottom as well, so that every filter can run round it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np
import numpy.typing as npt

from ..arrays import Bools, Floats, Ints
from .lattice import FRONT_DEG, Lattice

Shift = tuple[int, int]

KEPT_MAPS = 16
"""Owner maps kept: those of one sketch and its variants, a few MB each."""


@dataclass(frozen=True)
class Period:
    """A piece of the lattice after which it comes again.

    Parameters
    ----------
    first : int
        Its first crossing, even.
    steps : int
        Axis steps until the lattice comes again.
    flip : bool
        Whether the two sides of the axes have changed places then.
    """

    first: int
    steps: int
    flip: bool

    @property
    def beads(self) -> int:
        """Beads of one period."""
        return 2 * self.steps

    def within(self, crossings: npt.ArrayLike) -> tuple[Ints, Ints]:
        """Return the period of each crossing, and its place in the first one."""
        step, side = np.divmod(np.asarray(crossings, dtype=np.intp), 2)
        number = (step - self.first // 2) // self.steps
        flipped = side ^ (int(self.flip) * (number & 1))
        place: Ints = 2 * (step - number * self.steps) + flipped - self.first
        return number, place


@dataclass(frozen=True)
class Raster:
    """The pixels of a piece of the unrolled braid.

    Parameters
    ----------
    lattice : Lattice
    shape : (int, int)
        Rows and columns.
    bottom_mm, height_mm : float
        The lower edge, and how high the piece is.
    ends : int or Period
        Beads of the braid, if it ends; a period if the piece is one.
    front_deg : float
        Azimuth of the middle of a row, where x = 0.
    """

    lattice: Lattice
    shape: tuple[int, int]
    bottom_mm: float
    height_mm: float
    ends: int | Period
    front_deg: float = FRONT_DEG

    @classmethod
    def of(
        cls,
        lattice: Lattice,
        span_mm: tuple[float, float],
        px_per_mm: float,
        ends: int | Period,
        front_deg: float = FRONT_DEG,
    ) -> Raster:
        """Return a raster of about so many pixels per mm, a number quick to transform.

        Parameters
        ----------
        lattice : Lattice
        span_mm : (float, float)
            The lower edge, and the height.
        px_per_mm : float
        ends, front_deg
            As above.
        """
        bottom_mm, height_mm = span_mm
        high = quick_length(max(4, round(height_mm * px_per_mm)))
        wide = quick_length(max(8, round(lattice.circumference_mm * px_per_mm)))
        return cls(lattice, (high, wide), bottom_mm, height_mm, ends, front_deg)

    def finer(self, times: int) -> Raster:
        """Return the same piece with every pixel cut into `times` x `times`."""
        return replace(self, shape=(self.shape[0] * times, self.shape[1] * times))

    # -- measures --------------------------------------------------------------------------------

    @property
    def top_mm(self) -> float:
        """Height of the upper edge."""
        return self.bottom_mm + self.height_mm

    @property
    def pixels(self) -> int:
        """How many pixels."""
        return self.shape[0] * self.shape[1]

    @property
    def beads(self) -> int:
        """Beads that the owner map may name."""
        return self.ends.beads if isinstance(self.ends, Period) else self.ends

    @property
    def px_mm(self) -> tuple[float, float]:
        """Width and height of a pixel."""
        rows, columns = self.shape
        return self.lattice.circumference_mm / columns, self.height_mm / rows

    @property
    def px_per_mm(self) -> tuple[float, float]:
        """Pixels down and across."""
        rows, columns = self.shape
        return rows / self.height_mm, columns / self.lattice.circumference_mm

    @property
    def px_per_bead(self) -> tuple[float, float]:
        """Pixels per bead pitch, down and across."""
        down, across = self.px_per_mm
        return down * self.lattice.pitch_mm, across * self.lattice.pitch_mm

    @property
    def x_mm(self) -> Floats:
        """Chart x of the middles of the columns, (W,)."""
        columns = self.shape[1]
        middle = (np.arange(columns) + 0.5) / columns - 0.5
        return np.asarray(middle * self.lattice.circumference_mm)

    @property
    def y_mm(self) -> Floats:
        """Heights of the middles of the rows, (H,), from the top down."""
        rows, top_mm = self.shape[0], self.top_mm
        down = (np.arange(rows) + 0.5) / rows
        return np.asarray(top_mm - down * (top_mm - self.bottom_mm))

    # -- beads -----------------------------------------------------------------------------------

    @property
    def owner(self) -> Ints:
        """The bead nearest to each pixel, (H, W): its crossing, or its place in the period.

        The map is shared by all equal rasters, and cannot be written to.
        """
        return _owner(self)

    @cached_property
    def inside(self) -> Bools:
        """Which beads of a braid with ends have their centre on the raster, (n,)."""
        height = self.lattice.height_mm(np.arange(self.beads))
        return np.asarray((height >= self.bottom_mm) & (height < self.top_mm))

    # -- moving what lies on it ------------------------------------------------------------------

    def rolled(self, shift: Shift) -> Ints:
        """Return the owner map when the sketch moves by `shift` (down, right) and is kept still."""
        return np.roll(self.owner, (-shift[0], -shift[1]), axis=(0, 1))

    def moved_mm(self, shift: Shift) -> tuple[float, float]:
        """Return a shift in mm to the right and up."""
        down, across = self.px_per_mm
        return shift[1] / across, -shift[0] / down

    def shift_of(self, moved_mm: tuple[float, float]) -> Shift:
        """Return the nearest shift in pixels."""
        down, across = self.px_per_mm
        return round(-moved_mm[1] * down), round(moved_mm[0] * across)

    def shifts(self) -> list[Shift]:
        """Return the shifts of one cell of the lattice, nearest to none first."""
        down, across = self.px_per_mm
        reach = self.lattice.covering_radius_mm
        rows = np.arange(-int(reach * down) - 1, int(reach * down) + 2)
        columns = np.arange(-int(reach * across) - 1, int(reach * across) + 2)
        row, column = (part.ravel() for part in np.meshgrid(rows, columns, indexing="ij"))
        place = np.stack([column / across, -row / down], axis=1)
        away = self.lattice.offsets_mm
        # nearer to no shift than to any lattice shift; of two equally near, one is kept
        over = place @ away.T - (away**2).sum(axis=1) / 2
        strict = (away[:, 1] < -1e-9) | ((np.abs(away[:, 1]) <= 1e-9) & (away[:, 0] < 0))
        inside = np.where(strict, over < -1e-9, over <= 1e-9).all(axis=1)
        order = np.lexsort((column, row, np.round((place**2).sum(axis=1), 9)))
        return [(int(row[k]), int(column[k])) for k in order if inside[k]]


def quick_length(least: int) -> int:
    """Return the least length, not below `least`, that is quick to transform.

    It has no prime factor above 5: it divides a power of 30. ``scipy.fft.next_fast_len`` finds the
    same for real input, but importing it takes a quarter of a second, and a search needs no more
    of SciPy.
    """
    length = least
    while pow(30, length.bit_length(), length):
        length += 1
    return length


@lru_cache(maxsize=KEPT_MAPS)
def _owner(raster: Raster) -> Ints:
    lattice, ends = raster.lattice, raster.ends
    if isinstance(ends, Period):
        owner = ends.within(_nearest(raster))[1]
    else:
        owner = lattice.owner(raster.x_mm[None], raster.y_mm[:, None], ends, raster.front_deg)
    owner.setflags(write=False)
    return owner


def _nearest(raster: Raster) -> Ints:
    """The nearest crossing of a lattice without ends, (H, W); in single precision, for speed."""
    lattice, x, y = raster.lattice, raster.x_mm, raster.y_mm
    base = np.rint(y / lattice.step_mm).astype(np.intp)
    reach = int(np.ceil(1.01 * lattice.covering_radius_mm / lattice.step_mm)) + 1
    around = lattice.circumference_mm
    best = np.full(raster.shape, np.inf, dtype=np.float32)
    nearest = np.zeros(raster.shape, dtype=np.intp)
    # all pixels of a row look at the same few beads
    for shift in range(-reach, reach + 1):
        step = base + shift
        rise = ((lattice.step_mm * step - y) ** 2).astype(np.float32)[:, None]
        for side in range(2):
            bead = 2 * step + side
            beside = lattice.x_mm(bead, raster.front_deg)[:, None]
            across = (x[None, :] - beside).astype(np.float32)
            across -= np.float32(around) * np.rint(across * np.float32(1 / around))
            across *= across
            across += rise
            nearer = across < best
            np.copyto(best, across, where=nearer)
            np.copyto(nearest, bead[:, None], where=nearer)
    return nearest
