"""Drop beads with a slanted hole: which way round to string each one.

A drop leans along its strand. On the chart the strand's way from one of its beads to the next is

    right = R·(180° - 2·drift) in radians (S lay; Z lay to the left)      up = 2·rise

A drop that is to point away from its motif's centre points along that way, towards the newer
beads, if the way and the direction away from the centre make less than a right angle; else against
it, towards the older ones. While the bead waits on its strand, the older part of the strand leads
over the edge of the disc to the braid: a drop that is to point to the older beads is strung with
its wide end **toward the disc**, one that is to point to the newer beads **away from it**.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
import numpy.typing as npt

from ..arrays import Bools, Floats, Ints
from ..bead import DropShape
from ..braid import FRONT_DEG
from ..findings import Code, Finding

if TYPE_CHECKING:
    from ..braid import Lattice
    from .design import Design

TOWARD, AWAY = 1, -1
"""Wide end toward the disc, and away from it, while the bead waits on its strand."""

SKIN_DEG = 120.0
"""The sector at the back where a drop meets the skin: one that stands out by half the braid's
thickness touches a flat skin up to 60° from the middle of the back (cos 60° = 1/2)."""

WAYS = {TOWARD: "toward", AWAY: "away", 0: ""}
"""As the table of the lists has it."""

MARKS = {TOWARD: "←", AWAY: "→", 0: ""}
"""Along the reading direction of a list, whose first bead lies nearest the disc: as if the disc
stood on its left."""
ASCII_MARKS = {TOWARD: "<", AWAY: ">", 0: ""}


@dataclass(frozen=True, eq=False)
class Drops:
    """How the drop beads of a design are strung.

    Parameters
    ----------
    direction : (n,) int8
        `TOWARD` or `AWAY` for a drop, 0 for any other bead, in working order.
    drawn_mm : (n, 6) float
        For pictures: unit vector on the chart, right and up, in which the wide end points, then
        `DropShape.drawn_mm` of the bead; zero for others.
    on_skin : (k,) int
        Crossings of drops that lie against the skin.
    centred : bool
        Whether motif centres were known; if not, all drops point toward the disc.
    """

    direction: npt.NDArray[np.int8]
    drawn_mm: Floats
    on_skin: Ints
    centred: bool

    @property
    def drawn(self) -> Floats | None:
        """`drawn_mm`, or None without drops."""
        return self.drawn_mm if self.count else None

    @property
    def count(self) -> int:
        """How many drops there are."""
        return int(np.count_nonzero(self.direction))


def strand_way_mm(lattice: Lattice) -> tuple[float, float]:
    """Return the way from a bead to the next on its strand, on the chart: right and up, mm."""
    turn = np.deg2rad(180.0 - 2 * lattice.drift_deg)
    sense = 1 if lattice.braid.lay == "S" else -1
    return float(sense * lattice.radius_mm * turn), 2 * lattice.rise_mm


def drop_directions(design: Design, centres: Sequence[tuple[float, float]] | None = None) -> Drops:
    """Return which way round to string every drop bead of a design.

    Parameters
    ----------
    design : Design
    centres : sequence of (azimuth_deg, height_mm), optional
        Motif centres; those of the design's picture otherwise. Each drop goes by the nearest.
    """
    lattice = design.lattice
    is_drop = np.array([bead.shape == "drop" for bead in design.palette])[design.beads]
    where = np.flatnonzero(is_drop)
    way = np.array(strand_way_mm(lattice))
    if centres is None:
        centres = design.picture.centres if design.picture is not None else ()
    direction = np.zeros(len(design.beads), dtype=np.int8)
    direction[where] = TOWARD
    if len(centres) and len(where):
        along = _away_mm(lattice, where, np.array(centres, dtype=np.float64)) @ way
        direction[where[along > 0]] = AWAY
    lean = -direction[:, None] * (way / np.hypot(*way))
    sizes = np.zeros((len(design.palette), 4))
    for row in np.unique(design.beads[where]).tolist():
        sizes[row] = DropShape.of(design.palette[row], lattice.diameter_mm).drawn_mm
    drawn = np.concatenate([lean, sizes[design.beads]], axis=1)
    on_skin = where[back_mask(lattice, where, SKIN_DEG, design.front_deg)]
    return Drops(direction, drawn, on_skin, bool(len(centres)))


def worked_directions(design: Design) -> npt.NDArray[np.int8]:
    """Return which way round every drop goes, from the way of its strand as the disc is worked.

    Nothing of the closed form of `strand_way_mm` is used: the strand's next bead is looked for
    crossing by crossing, and the way is measured from bead to bead.

    Returns
    -------
    (n,) int8
        `TOWARD` or `AWAY` for a drop, 0 for any other bead, in working order.
    """
    lattice, count = design.lattice, len(design.beads)
    last: dict[int, int] = {}
    after = np.zeros(count, dtype=np.intp)
    for move in design.braid.work(count + 2 * design.braid.strands):
        before = last.get(move.strand, count)
        if before < count:
            after[before] = move.crossing
        last[move.strand] = move.crossing
    where = np.flatnonzero([design.palette[bead].shape == "drop" for bead in design.beads])
    direction = np.zeros(count, dtype=np.int8)
    direction[where] = TOWARD
    centres = design.picture.centres if design.picture is not None else ()
    if len(centres) and len(where):
        turn = (lattice.azimuth_deg(after[where]) - lattice.azimuth_deg(where)) % 360.0
        # seen from outside clockwise runs to the left; taut cord takes the shorter way
        right = -np.deg2rad(np.where(turn > 180.0, turn - 360.0, turn)) * lattice.radius_mm
        up = lattice.height_mm(after[where]) - lattice.height_mm(where)
        out = _away_mm(lattice, where, np.array(centres, dtype=np.float64))
        direction[where[np.sum(out * np.stack([right, up], 1), axis=1) > 0]] = AWAY
    return direction


def _away_mm(lattice: Lattice, crossing: Ints, centres: Floats) -> Floats:
    """Vector on the chart from the nearest centre to each bead, (k, 2): right, up."""
    right = np.stack(
        [lattice.chart_x_mm(lattice.azimuth_deg(crossing), azimuth) for azimuth in centres[:, 0]], 1
    )
    up = lattice.height_mm(crossing)[:, None] - centres[:, 1]
    nearest = np.argmin(np.hypot(right, up), axis=1)
    rows = np.arange(len(crossing))
    return np.stack([right[rows, nearest], up[rows, nearest]], 1)


def back_mask(
    lattice: Lattice, crossing: npt.ArrayLike, sector_deg: float, front_deg: float = FRONT_DEG
) -> Bools:
    """Return whether beads lie in a sector round the middle of the back.

    Parameters
    ----------
    crossing : array of int
    sector_deg : float
        Whole width of the sector, 0 to 360.
    """
    off = (lattice.azimuth_deg(crossing) - front_deg) % 360.0 - 180.0
    inside: Bools = np.abs(off) <= sector_deg / 2 + 1e-9
    return inside


def marked_codes(design: Design, drops: Drops) -> list[str]:
    """Return the code of every bead in working order, drops with their mark: ``B←``."""
    return [code + MARKS[int(way)] for code, way in zip(design.codes, drops.direction, strict=True)]


def drop_findings(design: Design, drops: Drops) -> list[Finding]:
    """Return what is to be said about drops: the legend, and those on the skin; nothing without."""
    if not drops.count:
        return []
    toward = int(np.count_nonzero(drops.direction == TOWARD))
    ways = {"toward": toward, "away": drops.count - toward}
    found = [
        Finding(Code.DROPS_STRUNG, ways),
        Finding(Code.DROPS_POINT_AWAY if drops.centred else Code.DROPS_ALIKE),
        *(_taken_as(design, row) for row in np.unique(design.beads[drops.direction != 0]).tolist()),
    ]
    if len(drops.on_skin):
        where = {"count": len(drops.on_skin), "places": _places(design, drops.on_skin)}
        found.append(Finding(Code.DROPS_ON_SKIN, where))
    return found


def _taken_as(design: Design, row: int) -> Finding:
    """How large a drop is taken to be, how it leans, how far it stands out of the round beads."""
    bead, diameter_mm = design.palette[row], design.lattice.diameter_mm
    shape = DropShape.of(bead, diameter_mm)
    data = bead.code_and_name | shape._asdict()
    return Finding(Code.DROP_TAKEN_AS, data | {"out_mm": shape.out_mm - diameter_mm / 2})


def _places(design: Design, crossings: Ints) -> list[dict[str, Any]]:
    """Strands and the places of beads on them, counted from 1."""
    strand = design.braid.strand_of(crossings)
    order = design.braid.order_of(crossings) + 1
    return [
        {"strand": number + 1, "beads": order[strand == number].tolist()}
        for number in np.unique(strand).tolist()
    ]


def drops_dict(design: Design, drops: Drops) -> dict[str, object]:
    """Return the plain values, for machines; strands, orders and crossings count from 1."""
    where = np.flatnonzero(drops.direction)

    def row(crossing: int) -> dict[str, object]:
        return {
            "crossing": crossing + 1,
            "strand": int(design.braid.strand_of(crossing)) + 1,
            "order": int(design.braid.order_of(crossing)) + 1,
            "bead": design.palette[int(design.beads[crossing])].code,
            "wide_end": "toward disc" if drops.direction[crossing] == TOWARD else "away from disc",
        }

    return {
        "drops": [row(crossing) for crossing in where.tolist()],
        "on_skin_crossings": (drops.on_skin + 1).tolist(),
        "centred": drops.centred,
    }
