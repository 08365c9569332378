"""A design as plain values to draw from: every place, cell and neighbour is worked out here.

The page's scripts draw, and send back what was coloured; they hold no rule of the braid.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from ...core.arrays import Floats, Ints
from ...core.bead import Bead
from ...core.braid import FRONT_DEG, Lattice
from ...core.finish import finish_of
from ...core.paper.ring_sheet import ring_lines
from ...core.show.preview import bead_shape, core_radius_mm
from ...core.show.ring import SEEN_DEG, STEEL, Ring, newest_left, ring_parts
from ...core.show.ring_view import worn_axes

if TYPE_CHECKING:
    from ...core.design import Design, PlacedPicture

DIGITS = 4
"""Of mm after the point: a ten thousandth is far below a pixel."""


def geometry_key(design: Design) -> str:
    """Return a name of everything in `geometry`, so that it need not be sent twice."""
    return f"{lattice_key(design)} {len(design.beads)}"


def lattice_key(design: Design) -> str:
    """Return a name of the places on a braid, however long it is."""
    lattice, braid = design.lattice, design.braid
    start = (braid.start.slots, braid.start.starts) if braid.own_start else ()
    values = (
        (braid.strands, braid.lay, braid.turn, start),
        (lattice.radius_mm, lattice.rise_mm, lattice.drift_deg),
        (lattice.diameter_mm, lattice.length_mm),
    )
    return repr(values)


def geometry(design: Design) -> dict[str, Any]:
    """Return where the beads lie and whose they are, for every crossing in working order.

    The chart's x runs to the right from the worker's side, its y up from the first bead, in mm.
    """
    lattice, count = design.lattice, len(design.beads)
    crossing = np.arange(count)
    shape = bead_shape(lattice)
    return {
        "count": count,
        "x_mm": _plain(lattice.x_mm(crossing)),
        "height_mm": _plain(lattice.height_mm(crossing)),
        "azimuth_deg": _plain(lattice.azimuth_deg(crossing)),
        "strand": (design.braid.strand_of(crossing) + 1).tolist(),
        "order": (design.braid.order_of(crossing) + 1).tolist(),
        "slots": list(design.braid.start_slots),
        "neighbours": lattice.neighbours(count).ravel().tolist(),
        "cell_mm": _plain(lattice.cell_mm),
        "radius_mm": lattice.radius_mm,
        "front_deg": FRONT_DEG,
        "circumference_mm": lattice.circumference_mm,
        "thickness_mm": lattice.thickness_mm,
        "core_mm": core_radius_mm(lattice),
        "bead_mm": [shape.across_mm, shape.along_mm],
        "pitch_mm": lattice.pitch_mm,
        "rise_mm": lattice.rise_mm,
        "beads_per_round": design.braid.beads_per_round,
        "length_mm": design.length_mm,
        "source": dict(lattice.source),
    }


def drawing(design: Design) -> dict[str, Any]:
    """Return the beads' colours, the palette, and where the motifs lie."""
    # rounds from one motif to the next
    rounds = 0 if design.repeat is None else design.repeat.rounds
    out: dict[str, Any] = {
        "geometry_key": geometry_key(design),
        "lattice_key": lattice_key(design),
        "tile_beads": rounds * design.braid.beads_per_round,
        "beads": design.beads.tolist(),
        "background": design.background,
        "palette": [
            bead.code_and_name | {"shape": bead.shape, **_look(bead)} for bead in design.on_cord
        ],
        "repeat_index": [] if design.repeat is None else design.repeat_index().tolist(),
        "front_x_mm": float(design.lattice.chart_x_mm(design.front_deg)),
        "placement": None,
    }
    if design.picture is not None:
        picture, lattice = design.picture, design.lattice
        out["front_deg"] = picture.front_deg
        out["placement"] = {
            "file": picture.file,
            "fit": picture.fit,
            "size_px": list(picture.frame_size_px),
            "stretch": picture.stretch,
            "part": _part(picture),
            "px_per_mm": picture.px_per_mm,
            "rotate_deg": picture.rotate_deg,
            "centres_mm": [
                [float(lattice.chart_x_mm(azimuth)), height] for azimuth, height in picture.centres
            ],
        }
    return out


def _look(bead: Bead) -> dict[str, Any]:
    """Colour and finish of a bead."""
    return {"rgb": list(bead.rgb), "finish": asdict(finish_of(bead.finish))}


def piece(
    lattice: Lattice,
    palette: Sequence[Bead],
    beads: Ints,
    window_mm: tuple[float, float],
    lean: Floats | None = None,
) -> dict[str, Any]:
    """Return a short piece of a braid to draw from.

    Parameters
    ----------
    lattice : Lattice
    palette : sequence of Bead
    beads : (n,) int
        Places in the palette, in working order.
    window_mm : (float, float)
        Heights between which beads are given.
    lean : (n, 6) float, optional
        Of drops, as `Drops.drawn_mm` has it.
    """
    shape = bead_shape(lattice)
    low_mm, high_mm = window_mm
    crossing = np.arange(len(beads))
    height = lattice.height_mm(crossing)
    inside = (height > low_mm - 2 * shape.along_mm) & (height < high_mm + 2 * shape.along_mm)
    crossing = crossing[inside]
    return {
        "count": len(crossing),
        "height_mm": _plain(height[inside]),
        "azimuth_deg": _plain(lattice.azimuth_deg(crossing)),
        "palette": [_look(bead) for bead in palette],
        "beads": beads[inside].tolist(),
        "radius_mm": lattice.radius_mm,
        "thickness_mm": lattice.thickness_mm,
        "core_mm": core_radius_mm(lattice),
        "bead_mm": [shape.across_mm, shape.along_mm],
        "window_mm": [low_mm, high_mm],
        "drops": [] if lean is None else leaning(lean[inside]),
    }


def closed(design: Design, ring: Ring) -> dict[str, Any]:
    """Return the bracelet closed, every part as a spheroid, to draw from.

    Returns
    -------
    dict
        ``centres``, ``axes``: of each part, x, y, z; ``half_mm``: across its axis and along it;
        ``bead``: its place in working order, that of no bead for caps and clasp, of the colour
        ``metal``. Radii of the circle, the cords, the wrist and the outside, mm, and for how much
        of the circle there are cords and the top that is seen from above, degrees. ``view``:
        right, up and towards the viewer, one after the other. ``words`` stand beside it.
    """
    parts = ring_parts(design, ring)
    wrist = None if ring.wrist_mm is None else ring.wrist_mm / (2 * np.pi)
    return {
        "count": len(design.beads),
        "centres": _plain(parts.centres.ravel()),
        "axes": _plain(parts.axes.ravel()),
        "half_mm": _plain(np.stack([parts.across_mm, parts.along_mm], 1).ravel()),
        "bead": parts.bead.tolist(),
        "metal": list(STEEL),
        "radius_mm": ring.radius_mm,
        "core_mm": parts.scene.core_radius_mm,
        "core_deg": 360.0 * ring.beaded_mm / ring.around_mm,
        "wrist_mm": wrist,
        "thickness_mm": ring.thickness_mm,
        "seen_deg": 2 * SEEN_DEG,
        "view": _plain(worn_axes(newest_left=newest_left(design)).ravel()),
        "words": ring_lines(design, ring),
    }


def _part(picture: PlacedPicture) -> list[float]:
    """What of the picture is worked: left, top, right, bottom, in parts of its width and height."""
    wide, high = picture.size_px
    left, top, right, bottom = picture.frame_px or (0, 0, wide, high)
    return [left / wide, top / high, right / wide, bottom / high]


def leaning(drawn_mm: Floats) -> list[list[float]]:
    """Return the drop beads and how each is drawn.

    Parameters
    ----------
    drawn_mm : (n, 6) float
        As `Drops.drawn_mm` has it.

    Returns
    -------
    list of [bead, right, up, outwards, aside, narrow, wide]
        Place of the bead, 0-based; which way its wide end leans; its sizes, mm.
    """
    where = np.flatnonzero(np.any(drawn_mm[:, :2] != 0, axis=1)).tolist()
    return [[bead, *np.round(drawn_mm[bead], DIGITS).tolist()] for bead in where]


def _plain(values: Floats) -> Any:
    return np.round(values, DIGITS).tolist()
