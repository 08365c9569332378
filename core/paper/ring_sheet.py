"""The closed bracelet as one picture: as it is worn, seen from above, and turned to its join."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Bytes
from ..drawing.layout import LEADING, wrap
from ..drawing.png import to_png
from ..drawing.shapes import Page, PixelImage, Polyline, Shape, Text, rectangle
from ..making.lengths import braid_thickness, format_length
from ..show.preview import PAPER
from ..show.ring import (
    SEEN_DEG,
    Motifs,
    Ring,
    motifs_seen,
    newest_left,
    ring_colours,
    ring_parts,
)
from ..show.ring_view import RingView, ring_frame, ring_pixels, worn_axes
from ..srgb import Rgb

if TYPE_CHECKING:
    from ..design import Design

RING_PX_PER_MM = 8.0
"""Pixels of the picture per mm of its page."""

# the view in pixels, all else in mm of the page; chosen by eye
_VIEW_PX = 720
_MARGIN = 5.0
_TITLE, _BODY = 2.3, 2.1
_ARC_MM = 1.2  # from the outline to the line beside it, on the page
_TICK_MM = 0.6
_LINE_MM = 0.25
_ROOM_MM = 4.0  # of the braid, round a view
_INK: Rgb = (40, 38, 36)
_SEEN: Rgb = (23, 81, 107)


def ring_picture(design: Design, ring: Ring) -> Bytes:
    """Return the picture, (H, W, 3) uint8."""
    return to_png(ring_page(design, ring), RING_PX_PER_MM)


def ring_page(design: Design, ring: Ring) -> Page:
    """Return the picture as shapes."""
    wide = _VIEW_PX / RING_PX_PER_MM
    total = 2 * wide + 3 * _MARGIN
    shapes: list[Shape] = []
    y = _MARGIN - _TITLE / 2
    for number, text in enumerate(ring_lines(design, ring)):
        size = _BODY if number else _TITLE
        for line in wrap(text, total - 2 * _MARGIN, size, bold=not number):
            y += LEADING * size
            shapes.append(Text(_MARGIN, y, line, size, bold=not number, fill=_INK))
    parts, left_first = ring_parts(design, ring), newest_left(design)
    rgb, surfaces = ring_colours(design)
    y += 2.6 * _BODY
    bottom = y
    for place, (title, turned) in enumerate(_SIDES):
        view = ring_frame(
            parts, worn_axes(turned_deg=turned, newest_left=left_first), _VIEW_PX, _ROOM_MM
        )
        pixels = ring_pixels(parts, ring, view, rgb, surfaces)
        left, tall = _MARGIN + place * (wide + _MARGIN), pixels.shape[0] / RING_PX_PER_MM
        top = y + 1.2 * _BODY
        shapes.append(Text(left + wide / 2, y, title, _BODY, "middle", True, _INK))
        shapes.append(PixelImage(left, top, wide, tall, pixels))
        if not turned:
            shapes += _seen_arc(ring, view, left, top)
        bottom = max(bottom, top + tall)
    high = float(np.ceil(bottom + _BODY))
    paper = rectangle(0, 0, total, high, fill=PAPER, stroke=None)
    return Page(total, high, (paper, *shapes))


_SIDES = (("As worn, seen from above", 0.0), ("Turned half round: the join", 180.0))


def ring_lines(design: Design, ring: Ring) -> list[str]:
    """Return what is to be read beside a closed bracelet."""
    unit = design.unit
    wrist = f", for a wrist of {format_length(ring.wrist_mm, unit)}" if ring.wrist_mm else ""
    join = f"caps and clasp take {format_length(ring.join_mm, unit)}"
    if ring.join_mm < design.lattice.diameter_mm:
        join = "its ends meet, with no room for caps and clasp"
    seen = [f"{format_length(ring.seen_mm, unit)} of the beads"]
    seen += _motif_words(motifs_seen(design, ring))
    return [
        f"{format_length(ring.inner_mm, unit)} round inside{wrist}.",
        f"{len(design.beads)} beads, {braid_thickness(ring.thickness_mm, unit)} thick; {join}.",
        f"Seen from above, as worn: {', '.join(seen)}.",
    ]


def _motif_words(found: Motifs | None) -> list[str]:
    if found is None:
        return []
    if found.motifs == 1:
        return [f"{100 * found.share:.0f} % of the motif"]
    return [f"{found.motifs * found.share:.1f} of {found.motifs} motifs"]


def _seen_arc(ring: Ring, view: RingView, left: float, top: float) -> list[Shape]:
    """A line beside the part that is seen from above, with its ends."""
    angle = np.deg2rad(np.linspace(-SEEN_DEG, SEEN_DEG, 41))
    circle = ring.radius_mm * np.stack([np.sin(angle), np.cos(angle), np.zeros_like(angle)], 1)
    middle = view.place_px(circle) / RING_PX_PER_MM + (left, top)
    way = np.gradient(middle, axis=0)
    outwards = np.stack([way[:, 1], -way[:, 0]], 1) / np.hypot(*way.T)[:, None]
    # the side that is away from the hole
    outwards *= np.sign(-outwards[len(outwards) // 2, 1])
    reach = ring.thickness_mm / 2 * view.px_per_mm / RING_PX_PER_MM + _ARC_MM
    line = middle + reach * outwards
    ends = [(line[k] - outwards[k] * _TICK_MM, line[k] + outwards[k] * _TICK_MM) for k in (0, -1)]
    strokes = [line, *(np.array(end) for end in ends)]
    x, y = line[len(line) // 2] - (0.0, _BODY / 2)
    return [
        Text(x, y, "seen from above", _BODY, "middle", fill=_SEEN),
        *(Polyline(tuple(map(tuple, one.tolist())), _SEEN, _LINE_MM) for one in strokes),
    ]
