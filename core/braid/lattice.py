"""The helical lattice of the beads: radius, rise, drift, and what follows from them.

With ``t`` counting axis steps, ``m`` axes and S lay, the bead of step ``t`` and side ``s`` lies at

    azimuth = γ·t + 180°·s        γ = (τ·180° + δ) / m,  τ = -1 usual turn, +1 other turn
    height  = (h/m)·t

``δ`` is the drift per round (computed: 90°/m), ``h`` the rise of a round. Z lay mirrors the
azimuth. Seen from outside with the newest beads on top, clockwise azimuth runs to the left, so on
the chart ``x = -R·(azimuth - front)``.

>>> from ..bead import bead_size
>>> from .braid import Braid
>>> lattice = Lattice.computed(Braid(8), bead_size("8/0"))
>>> round(lattice.radius_mm, 3), round(lattice.rise_mm, 3), round(lattice.thickness_mm, 1)
(2.491, 2.1, 8.0)
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache, cached_property
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import numpy.typing as npt

from ..arrays import Floats, Ints
from ..bounds import beyond, fits
from ..errors import WrongUsage
from .braid import Braid

if TYPE_CHECKING:
    from ..bead import BeadSize


FRONT_DEG = 180.0
"""The worker's side of the braid, south on the disc."""

VALUES = ("radius_mm", "rise_mm", "drift_deg")


@dataclass(frozen=True)
class Swatch:
    """Measured values of a worked braid; None where nothing was measured.

    Parameters
    ----------
    thickness_mm : float, optional
        Outer diameter of the beaded braid.
    rise_mm : float, optional
        Height of one round.
    drift_deg : float, optional
        Drift of a column per round: 360 divided by the rounds it needs to go once round.
    """

    thickness_mm: float | None = None
    rise_mm: float | None = None
    drift_deg: float | None = None


def solve_contacts(angle_deg: npt.ArrayLike, rises: npt.ArrayLike) -> Floats:
    """Return the helices on which unit spheres touch two given neighbours.

    Each neighbour at angle ``a`` and height ``k·h`` is one diameter away:
    ``2R²(1 - cos a) + (k·h)² = 1``; two such equations are linear in ``R²`` and ``h²``.

    Parameters
    ----------
    angle_deg : array_like, (..., 2)
        Round the axis, to each of the two.
    rises : array_like, (..., 2)
        Heights, in rises of a round.

    Returns
    -------
    (..., 2) float
        Radius and rise in sphere diameters, not a number where no such helix exists.
    """
    round_axis = 2 * (1 - np.cos(np.deg2rad(angle_deg)))
    matrix = np.stack([round_axis, np.square(rises, dtype=np.float64)], axis=-1)
    singular = np.abs(np.linalg.det(matrix)) < 1e-12
    matrix[singular] = np.eye(2)
    squares = np.linalg.solve(matrix, np.ones((*matrix.shape[:-1], 1)))[..., 0]
    squares[singular | (squares <= 1e-9).any(axis=-1)] = np.nan
    return np.sqrt(squares)


@cache
def densest_helix(axes: int, turn_sign: int) -> tuple[float, float]:
    """Return radius and rise, in bead diameters, of the densest braid of spheres.

    Every pair of contacts that leaves no overlap is tried; the one with the smallest volume of
    braid per bead wins. For the usual turn these are the next pair's bead and the bead that the
    own pair left one round before.

    Parameters
    ----------
    axes : int
        ``m``.
    turn_sign : int
        τ: -1 for the usual turn, +1 for the other.
    """
    steps, side = np.divmod(np.arange(1, 2 * (4 * axes + 1)), 2)
    step_deg = (turn_sign * 180.0 + 90.0 / axes) / axes
    angle_deg = (step_deg * steps + 180.0 * side + 180.0) % 360.0 - 180.0
    rises = steps / axes
    pairs = np.stack(np.tril_indices(len(steps), -1), axis=-1)
    helices = solve_contacts(angle_deg[pairs], rises[pairs])
    helices = helices[~np.isnan(helices[:, 0])]
    volume = (helices[:, 0] + 0.5) ** 2 * helices[:, 1]
    # mirror images of a pair differ in the last digits
    order = np.argsort(np.round(volume, 12), kind="stable")
    round_axis = 2 * (1 - np.cos(np.deg2rad(angle_deg)))
    return next(
        (float(radius), float(rise))
        for radius, rise in helices[order]
        if (radius**2 * round_axis + (rises * rise) ** 2).min() >= 1 - 1e-9
    )


class FaceReturn(NamedTuple):
    """A shift that carries the lattice onto itself and back to the same face.

    Attributes
    ----------
    rounds : int
        How many rounds further up.
    flip : bool
        Whether the two sides of an axis change places.
    walk_deg : float
        What is left over, azimuth; 0 for the computed drift.
    """

    rounds: int
    flip: bool
    walk_deg: float

    def crossing(self, crossings: npt.ArrayLike, braid: Braid, times: int = 1) -> Ints:
        """Return where the given crossings go when the shift is made `times` times."""
        step, side = np.divmod(np.asarray(crossings, dtype=np.intp), 2)
        step = step + times * self.rounds * braid.axes
        carried: Ints = 2 * step + (side ^ (self.flip * times % 2))
        return carried


@dataclass(frozen=True)
class Lattice:
    """Where the beads of a braid lie.

    Parameters
    ----------
    braid : Braid
        The topology.
    radius_mm : float
        Distance of the bead centres from the braid's axis.
    rise_mm : float
        Height of one round.
    drift_deg : float
        Azimuth of a pair's next bead, one round later (S lay: clockwise from above).
    diameter_mm, length_mm : float
        The bead, across and along the hole.
    source : mapping
        ``'computed'`` or ``'measured'`` for each of radius_mm, rise_mm, drift_deg.
    """

    braid: Braid
    radius_mm: float
    rise_mm: float
    drift_deg: float
    diameter_mm: float
    length_mm: float
    source: Mapping[str, str] = field(
        default_factory=lambda: dict.fromkeys(VALUES, "computed"), compare=False
    )

    def __post_init__(self) -> None:
        computed = self._computed(self.braid, self.diameter_mm, self.length_mm)
        for name in VALUES:
            value, (label, unit) = getattr(self, name), name.split("_")
            if problem := beyond(name, value):
                raise WrongUsage(f"{label} {problem}.")
            if not fits("over_computed", value / computed[name]):
                raise WrongUsage(
                    f"{label} {value:.4g} {unit} is {value / computed[name]:.2g} times the "
                    f"computed {computed[name]:.4g} {unit}: this was not measured on that braid; "
                    "measure again."
                )

    @classmethod
    def computed(cls, braid: Braid, bead: BeadSize, swatch: Swatch | None = None) -> Lattice:
        """Return the lattice of a braid of beads of one size; a swatch's readings win.

        The axial direction is scaled so that 8 strands rise one bead length a round: the strung
        length on each strand is half the braid's length (common practice).

        Parameters
        ----------
        braid : Braid
        bead : BeadSize
        swatch : Swatch, optional
            Measured values.

        Raises
        ------
        WrongUsage
            If the swatch is no thicker than one bead.
        """
        values = cls._computed(braid, bead.diameter_mm, bead.length_mm)
        source = dict.fromkeys(VALUES, "computed")
        if swatch is not None:
            measured = {"rise_mm": swatch.rise_mm, "drift_deg": swatch.drift_deg}
            if swatch.thickness_mm is not None:
                if problem := too_thin(swatch.thickness_mm, bead.diameter_mm):
                    raise WrongUsage(problem, "readings")
                measured["radius_mm"] = (swatch.thickness_mm - bead.diameter_mm) / 2
            for name, value in measured.items():
                if value is not None:
                    values[name] = value
                    source[name] = "measured"
        return cls(
            braid,
            diameter_mm=bead.diameter_mm,
            length_mm=bead.length_mm,
            source=source,
            **values,
        )

    @staticmethod
    def _computed(braid: Braid, diameter_mm: float, length_mm: float) -> dict[str, float]:
        """The values of the densest braid of such beads."""
        radius, rise = densest_helix(braid.axes, -1 if braid.turn == "usual" else 1)
        return {
            "radius_mm": radius * diameter_mm,
            "rise_mm": length_mm * rise / densest_helix(2, -1)[1],
            "drift_deg": 90.0 / braid.axes,
        }

    # -- positions -----------------------------------------------------------------------------

    @property
    def _mirror(self) -> int:
        return 1 if self.braid.lay == "S" else -1

    @property
    def step_deg(self) -> float:
        """Azimuth from one axis step to the next on the same side (γ, with the lay's sign)."""
        turn = -1 if self.braid.turn == "usual" else 1
        return self._mirror * (turn * 180.0 + self.drift_deg) / self.braid.axes

    @property
    def step_mm(self) -> float:
        """Height from one axis step to the next."""
        return self.rise_mm / self.braid.axes

    def azimuth_deg(self, crossing: npt.ArrayLike) -> Floats:
        """Return the azimuth of each crossing's bead, [0, 360), clockwise from north."""
        step, side = np.divmod(np.asarray(crossing), 2)
        # two steps of reduction: the remainder of a tiny negative number may round to 360
        azimuth: Floats = (self.step_deg * step + 180.0 * side) % 360.0 % 360.0
        return azimuth

    def height_mm(self, crossing: npt.ArrayLike) -> Floats:
        """Return the height of each crossing's bead above the first one."""
        height: Floats = self.step_mm * (np.asarray(crossing) // 2)
        return height

    def x_mm(self, crossing: npt.ArrayLike, front_deg: float = FRONT_DEG) -> Floats:
        """Return the chart's horizontal position of each bead, [-πR, πR), to the right."""
        return self.chart_x_mm(self.azimuth_deg(crossing), front_deg)

    def chart_x_mm(self, azimuth_deg: npt.ArrayLike, front_deg: float = FRONT_DEG) -> Floats:
        """Return the chart's horizontal position of an azimuth, [-πR, πR), to the right."""
        turned = (front_deg - np.asarray(azimuth_deg, dtype=np.float64) + 180.0) % 360.0 - 180.0
        x: Floats = np.deg2rad(turned) * self.radius_mm
        return x

    # -- sizes ---------------------------------------------------------------------------------

    @property
    def circumference_mm(self) -> float:
        """Once round at the bead centres."""
        return 2 * np.pi * self.radius_mm

    @property
    def thickness_mm(self) -> float:
        """Outer diameter of the beaded braid."""
        return 2 * self.radius_mm + self.diameter_mm

    @property
    def hollow_mm(self) -> float:
        """Diameter of the hollow between the beads."""
        return 2 * self.radius_mm - self.diameter_mm

    @property
    def squash(self) -> float:
        """Axial size of the beads over their diameter, so that they touch as spheres would."""
        rise = densest_helix(self.braid.axes, -1 if self.braid.turn == "usual" else 1)[1]
        return self.rise_mm / (rise * self.diameter_mm)

    @property
    def cell_area_mm2(self) -> float:
        """Area of the unrolled braid that belongs to one bead."""
        return self.circumference_mm * self.rise_mm / self.braid.beads_per_round

    @property
    def pitch_mm(self) -> float:
        """Distance between neighbours if the same number of beads lay in even hexagons."""
        return float(np.sqrt(self.cell_area_mm2 * 2 / np.sqrt(3)))

    @property
    def columns_per_turn(self) -> float:
        """Rounds a column needs to go once round."""
        return 360.0 / self.drift_deg

    @property
    def origin(self) -> str:
        """Which values were measured and which computed, for people."""
        labels = {"radius_mm": "thickness", "rise_mm": "rise", "drift_deg": "drift"}
        measured = [labels[name] for name in VALUES if self.source.get(name) == "measured"]
        computed = [labels[name] for name in VALUES if labels[name] not in measured]
        return "; ".join(
            f"{', '.join(names)} {word}"
            for names, word in ((measured, "measured on a swatch"), (computed, "computed"))
            if names
        )

    # -- neighbourhood -------------------------------------------------------------------------

    def about(self, reach: int) -> tuple[Ints, Ints, Floats, Floats]:
        """Return the beads up to so many axis steps from a bead, itself among them.

        Returns
        -------
        step, flip, x_mm, y_mm : (4·reach + 2,)
            Axis steps from the bead, and whether the side changes; to the right of it, the shorter
            way round, and above it.
        """
        step = np.repeat(np.arange(-reach, reach + 1), 2)
        flip = np.tile((0, 1), 2 * reach + 1)
        x = self.chart_x_mm(self.step_deg * step + 180.0 * flip, 0.0)
        return step, flip, x, np.asarray(self.step_mm * step, dtype=np.float64)

    def _differences(self) -> tuple[Ints, Floats]:
        """All lattice steps that may matter near a bead: (k, 2) step and flip, (k, 2) mm."""
        step, flip, x, y = self.about(4 * self.braid.axes)
        other = (step != 0) | (flip != 0)
        steps, away = np.stack([step, flip], 1)[other], np.stack([x, y], 1)[other]
        # the opposite bead lies half a round away on either hand; all others have a nearer hand
        half_round = [self.circumference_mm / 2, 0.0]
        return np.vstack([steps, [0, 1]]), np.vstack([away, half_round])

    @cached_property
    def _nearest(self) -> tuple[Ints, Floats]:
        """The six neighbours, counter-clockwise from the right: step and flip; mm."""
        steps, away = self._differences()
        chosen = np.argsort(-_edge_lengths(away), kind="stable")[:6]
        angle = np.arctan2(away[chosen, 1], away[chosen, 0]) % (2 * np.pi)
        chosen = chosen[np.argsort(angle)]
        return steps[chosen], away[chosen]

    @property
    def offsets(self) -> Ints:
        """The neighbours whose cells share an edge with a bead's cell: step and flip, (6, 2).

        Ordered by angle on the chart, counter-clockwise from the right. In thin braids with a
        high rise the opposite bead is a neighbour on either hand.
        """
        return self._nearest[0]

    @property
    def offsets_mm(self) -> Floats:
        """The same neighbours as vectors on the chart, (6, 2) mm: right, up."""
        return self._nearest[1]

    def beside(self, crossings: Ints) -> Ints:
        """Return the crossings of the six neighbours of each bead, (n, 6), on an endless braid."""
        step, side = np.divmod(crossings, 2)
        beside: Ints = 2 * (step[:, None] + self.offsets[:, 0]) + (
            side[:, None] ^ self.offsets[:, 1]
        )
        return beside

    def neighbours(self, count: int) -> Ints:
        """Return the six neighbours of each of `count` beads, (count, 6); -1 beyond the ends."""
        beside = self.beside(np.arange(count))
        return np.where((beside >= 0) & (beside < count), beside, -1)

    @cached_property
    def cell_mm(self) -> Floats:
        """The Voronoi cell round a bead on the unrolled braid, (k, 2) mm, counter-clockwise."""
        reach = 2 * (self.diameter_mm + self.rise_mm + self.radius_mm)
        cell = np.array([[-reach, -reach], [reach, -reach], [reach, reach], [-reach, reach]])
        for away in self._differences()[1]:
            cell = _clip(cell, away)
        return cell

    @property
    def covering_radius_mm(self) -> float:
        """Greatest distance of any point of the unrolled braid from its nearest bead centre."""
        return float(np.hypot(self.cell_mm[:, 0], self.cell_mm[:, 1]).max())

    def owner(
        self,
        x_mm: npt.ArrayLike,
        y_mm: npt.ArrayLike,
        count: int,
        front_deg: float = FRONT_DEG,
    ) -> Ints:
        """Return the bead whose centre is nearest to each point of the unrolled braid.

        Parameters
        ----------
        x_mm, y_mm : array of float, shapes that broadcast
            Points of the chart; x is taken round the braid.
        count : int
            Number of beads; points beyond the ends belong to the nearest bead that exists.
        front_deg : float
            Azimuth of x = 0.
        """
        x, y = np.asarray(x_mm, dtype=np.float64), np.asarray(y_mm, dtype=np.float64)
        last = (count - 1) // 2
        base = np.clip(np.rint(y / self.step_mm).astype(np.intp), 0, last)
        reach = int(np.ceil(1.01 * self.covering_radius_mm / self.step_mm)) + 1
        best = np.full(np.broadcast_shapes(x.shape, y.shape), np.inf)
        owner = np.zeros(best.shape, dtype=np.intp)
        round_mm = self.circumference_mm
        # all points of one height look at the same few beads
        for shift in range(-reach, reach + 1):
            step = base + shift
            rise = self.step_mm * step - y
            for side in range(2):
                bead = 2 * step + side
                across = x - self.x_mm(bead, front_deg)
                across -= round_mm * np.rint(across / round_mm)
                distance = across**2 + np.where((bead < 0) | (bead >= count), np.inf, rise**2)
                nearer = distance < best
                np.copyto(best, distance, where=nearer)
                np.copyto(owner, bead, where=nearer)
        return owner

    def face_return(self, times: int = 1) -> FaceReturn:
        """Return the shift of about `times` half turns of a column that returns to the same face.

        Half a turn of a column brings the opposite column to the face, because the lattice has a
        two-fold axis: 2m rounds for the computed drift. For an even number of half turns the
        strands, too, are the same.

        Parameters
        ----------
        times : int
            1 for the smallest shift, 2 for twice as much, ...
        """
        rounds = max(1, round(times * 180.0 / self.drift_deg))
        turned = (self.step_deg * self.braid.axes * rounds) % 360.0
        return self.shift(rounds, bool(90.0 <= turned < 270.0))

    def shift(self, rounds: int, flip: bool) -> FaceReturn:
        """Return the shift by so many rounds, with what it walks round the braid."""
        turned = self.step_deg * self.braid.axes * rounds + 180.0 * flip
        walk = (turned + 180.0) % 360.0 - 180.0
        return FaceReturn(rounds, flip, 0.0 if abs(walk) < 1e-9 else float(walk))


def _clip(polygon: Floats, away: Floats) -> Floats:
    """Cut a convex polygon round the origin at the bisector towards `away`."""
    side = polygon @ away - (away @ away) / 2
    out: list[Floats] = []
    for index, here in enumerate(side):
        before = side[index - 1]
        if (here > 1e-12) != (before > 1e-12):
            part = before / (before - here)
            out.append(polygon[index - 1] + part * (polygon[index] - polygon[index - 1]))
        if here <= 1e-12:
            out.append(polygon[index])
    return np.array(out)


def _edge_lengths(away: Floats) -> Floats:
    """Length of the edge that the cell round the origin shares with each neighbour, (k,)."""
    middle = away / 2
    along = np.stack([-middle[:, 1], middle[:, 0]], 1) / np.hypot(*middle.T)[:, None]
    # how far along the bisector of one (row) the bisector of another leaves room
    slope = along @ away.T
    room = (away**2).sum(axis=1) / 2 - middle @ away.T
    np.fill_diagonal(slope, 0.0)
    np.fill_diagonal(room, 0.0)
    level = np.abs(slope) < 1e-12
    end = np.divide(room, slope, out=np.zeros_like(room), where=~level)
    high = np.where(~level & (slope > 0), end, np.inf).min(axis=1)
    low = np.where(~level & (slope < 0), end, -np.inf).max(axis=1)
    hidden = (level & (room < 0)).any(axis=1)
    return np.where(hidden, 0.0, np.maximum(0.0, high - low))


def too_thin(thickness_mm: float, diameter_mm: float) -> str | None:
    """Return what is wrong with a braid that is no thicker than one of its beads."""
    if thickness_mm > diameter_mm:
        return None
    return (
        f"thickness {thickness_mm:g} mm is no more than one bead of {diameter_mm:g} mm: measure "
        "the whole braid, beads included."
    )
