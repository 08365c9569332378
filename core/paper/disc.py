"""The disc from above: as it lies in the hands, and small, its two moves and a bead going in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Floats
from ..braid import Braid, Lay, over_first_bead
from ..drawing.layout import CAPITAL, fitted
from ..drawing.shapes import BLACK, WHITE, Circle, Point, Polygon, Polyline, Shape, Text
from ..srgb import Rgb

if TYPE_CHECKING:
    from .sheet_content import SheetContent

_PALE: Rgb = (150, 150, 150)
_BEADS = 4
"""So many of a strand's first beads are drawn: more would reach the middle of the disc."""

_BADGE_MM = 3.1
"""Of the badge with a strand's number: two digits of 3.2 mm body height fit."""

_SIDES = 20
"""Of the polygon that stands for a bead: it is round to 1.2 % (1 - cos 9°)."""


def slot_angle_deg(slot: int, slots: int) -> float:
    """Return the azimuth of a slot: slot 1 lies half a slot clockwise of north."""
    return (slot - 0.5) * 360.0 / slots


def disc_shapes(content: SheetContent, x: float, y: float, radius_mm: float) -> list[Shape]:
    """Return the disc set up for the first bead.

    Parameters
    ----------
    content : SheetContent
    x, y : float
        The middle on the page.
    radius_mm : float
        Of the whole drawing, strand numbers included.
    """
    drawing = _Disc(content, x, y, radius_mm)
    return [*drawing.plate(), *drawing.strands(), *drawing.moves(), *drawing.turn()]


class _Disc:
    """Places on the disc; azimuth in degrees, clockwise from north."""

    def __init__(self, content: SheetContent, x: float, y: float, radius_mm: float) -> None:
        self.content, self.design, self.styles = content, content.design, content.styles
        self.x, self.y, self.reach = x, y, radius_mm
        self.slots = content.design.braid.start.slots
        # as it lies at the first bead: strands 1 and 2 are the pair at the top
        begun = content.design.braid.start_slots[0]
        self.turned = self.of_slot(content.slots[0]) - self.of_slot(begun)
        # many strands crowd: what stands beside each other is made smaller
        crowded = np.pi * radius_mm / content.design.braid.strands
        self.badge_mm = float(min(_BADGE_MM, 0.85 * crowded))
        self.bead_mm = float(min(2.3, 0.035 * radius_mm, 0.6 * crowded))
        self.rim = radius_mm - 2 * self.badge_mm - 2 * _BEADS * self.bead_mm - 2.2

    def at(self, azimuth_deg: float, radius_mm: float) -> Point:
        turn = np.radians(azimuth_deg)
        return float(self.x + radius_mm * np.sin(turn)), float(self.y - radius_mm * np.cos(turn))

    def of_slot(self, slot: int) -> float:
        return slot_angle_deg(slot, self.slots)

    def angle(self, slot: int) -> float:
        """Where a slot lies, from the top."""
        return self.of_slot(slot) - self.turned

    def plate(self) -> list[Shape]:
        """The rim, the hole with the front mark, the slots and their numbers, filled ones bold."""
        front = self.design.front_deg
        mark = (
            self.at(front, 3.6),
            self.at(front + 50.0, 1.6),
            self.at(front - 50.0, 1.6),
        )
        shapes: list[Shape] = [
            Circle(self.x, self.y, self.rim, (247, 247, 247), BLACK, 0.4),
            Circle(self.x, self.y, 4.0, WHITE, BLACK, 0.3),
            Polygon(mark, BLACK, None),
        ]
        filled = set(self.content.slots)
        # what fits between two neighbours on the ring of numbers
        room = 2 * np.pi * (self.rim - 4.0) / self.slots
        size = fitted("88 ", float(room), 2.6, bold=True)
        for slot in range(1, self.slots + 1):
            angle = self.angle(slot)
            ends = self.at(angle, self.rim - 1.8), self.at(angle, self.rim)
            shapes.append(Polyline(ends, BLACK, 0.5))
            across, down = self.at(angle, self.rim - 4.0)
            shapes.append(
                Text(across, down + CAPITAL / 2 * size, str(slot), size, "middle", slot in filled)
            )
        return shapes

    def strands(self) -> list[Shape]:
        """Each strand out of its slot: its first beads, the first nearest the disc, its number."""
        shapes: list[Shape] = []
        for number, slot in enumerate(self.content.slots):
            angle = self.angle(slot)
            badge = self.at(angle, self.reach - self.badge_mm)
            shapes.append(Polyline((self.at(angle, self.rim), badge), _PALE, 0.6))
            for place, index in enumerate(self.content.strands[number].beads[:_BEADS]):
                middle = self.rim + 0.8 + (2 * place + 1) * self.bead_mm
                shapes += self.bead(index, *self.at(angle, middle))
            size = 3.2 * self.badge_mm / _BADGE_MM
            shapes.append(Circle(*badge, self.badge_mm, WHITE, BLACK, 0.4))
            shapes.append(
                Text(badge[0], badge[1] + CAPITAL / 2 * size, str(number + 1), size, "middle", True)
            )
        return shapes

    def bead(self, index: int, x: float, y: float) -> list[Shape]:
        code = self.styles.code(index)
        around = np.arange(_SIDES) * 2 * np.pi / _SIDES
        ring = tuple(
            (x + self.bead_mm * float(np.cos(a)), y + self.bead_mm * float(np.sin(a)))
            for a in around
        )
        size = fitted(code, 1.5 * self.bead_mm, 2.4)
        # the patterns are left out here: at this size they would hide the letter
        return [
            Polygon(ring, self.styles.fill(index), BLACK, 0.2),
            Text(x, y + CAPITAL / 2 * size, code, size, "middle", False, self.styles.ink(index)),
        ]

    def moves(self) -> list[Shape]:
        """The first two crossings as numbered arrows."""
        shapes: list[Shape] = []
        inner = self.rim - 6.6
        for move in self.design.braid.work(2, self.content.plain_sets):
            start = self.at(self.angle(move.from_slot), inner)
            end = self.at(self.angle(move.to_slot), inner)
            shapes += arrow((start, end))
            mark = tuple(a + 0.3 * (b - a) for a, b in zip(start, end, strict=True))
            shapes += step_mark(mark[0], mark[1], move.crossing + 1)
        return shapes

    def turn(self) -> list[Shape]:
        """The turn of the disc as an arc: it brings the next pair to the top."""
        sense = -self.design.braid.turn_sense
        radius = 0.62 * self.rim
        angles = -sense * np.linspace(105.0, 40.0, 23)
        arc = tuple(self.at(float(angle), radius) for angle in angles)
        return [*arrow(arc), *step_mark(*arc[8], 3)]


def arrow(points: tuple[Point, ...], stroke_mm: float = 0.6) -> list[Shape]:
    """Return a line with a filled head at its last point."""
    tip = np.array(points[-1])
    way = tip - np.array(points[-2])
    way = way / np.hypot(*way)
    across = np.array([-way[1], way[0]])
    back = tip - 3.2 * way
    head = (tip, back + 1.2 * across, back - 1.2 * across)
    stem = (*points[:-1], (float(back[0]), float(back[1])))
    if len(points) > 2:
        stem = tuple(p for p in points if np.hypot(p[0] - tip[0], p[1] - tip[1]) > 2.6)
    return [
        Polyline(stem, BLACK, stroke_mm),
        Polygon(tuple((float(px), float(py)) for px, py in head), BLACK, None),
    ]


def step_mark(x: float, y: float, number: int) -> list[Shape]:
    """Return a black disc with the number of a step, as it stands beside the text."""
    return [
        Circle(x, y, 2.2, BLACK, WHITE, 0.4),
        Text(x, y + CAPITAL / 2 * 2.9, str(number), 2.9, "middle", True, WHITE),
    ]


# -- beside it, drawn small: the two moves of a lay, and how a bead goes in ------------------------

_PAIR, _BESIDE, _FAR = 0.2, 0.58, 0.74
"""Places of the strands, in radii of the disc: off the middle, beside the other pair, outwards."""


def moves_shapes(lay: Lay, x: float, y: float, radius_mm: float) -> list[Shape]:
    """Return the disc with its top and bottom pair and the two moves as numbered arrows.

    Parameters
    ----------
    lay : 'S' or 'Z'
    x, y : float
        The middle on the page.
    radius_mm : float

    Returns
    -------
    list of shapes
        S lay: top left goes down, bottom right goes up; Z lay is the mirror image.
    """
    side = -1.0 if lay == "S" else 1.0

    def at(across: float, down: float) -> Point:
        return x + across * side * radius_mm, y + down * radius_mm

    shapes: list[Shape] = [Circle(x, y, radius_mm, WHITE, BLACK, 0.3)]
    # the first move leaves the top on its own side, the second the bottom on the other
    for number, down in ((1, -1.0), (2, 1.0)):
        own = -down
        start, end = at(own * _PAIR, down * _FAR), at(own * _BESIDE, -down * 0.66 * _FAR)
        rest = at(-own * _PAIR, down * _FAR)
        shapes += [
            *arrow((start, end), 0.5),
            Circle(*start, 0.09 * radius_mm, BLACK, BLACK, 0.2),
            Circle(*rest, 0.09 * radius_mm, WHITE, BLACK, 0.2),
            Text(
                start[0] + own * side * 0.2 * radius_mm,
                start[1] + CAPITAL / 2 * 2.6 - down * 0.02 * radius_mm,
                str(number),
                2.6,
                "middle",
                True,
            ),
        ]
    return shapes


_PLATE: Rgb = (247, 247, 247)
_STRAND: Rgb = (120, 120, 120)
_WIDE, _BEAD_RADIUS, _BEAD_AT = 0.08, 0.2, 0.33
"""Width of a strand, radius of the bead and its place, in radii of the disc as drawn."""


def tuck_shapes(braid: Braid, x: float, y: float, radius_mm: float) -> list[Shape]:
    """Return the bead of step 1 under the strand that holds it, and the way its strand goes.

    Parameters
    ----------
    braid : Braid
    x, y : float
        The middle of the disc on the page.
    radius_mm : float
        Of the disc as drawn.
    """
    past, own = over_first_bead(braid)
    slots = braid.start.slots
    # turned so that the pair stands at the top, as it does at the start
    turn = slot_angle_deg(own.from_slot, slots) - slot_angle_deg(
        braid.start_slots[own.strand], slots
    )

    def way(slot: int) -> Floats:
        angle = np.radians(slot_angle_deg(slot, slots) - turn)
        return np.array([np.sin(angle), -np.cos(angle)])

    def at(place: Floats) -> Point:
        return float(x + radius_mm * place[0]), float(y + radius_mm * place[1])

    start, end = way(past.from_slot), way(past.to_slot)
    across = at(start + 0.3 * (end - start)), at(end)
    bead = at(_BEAD_AT * way(own.from_slot))
    goal = 0.8 * (way(own.to_slot) - way(own.from_slot)) + way(own.from_slot)
    wide = _WIDE * radius_mm
    return [
        Circle(x, y, radius_mm, _PLATE, BLACK, 0.3),
        Polyline((at(np.zeros(2)), at(way(own.from_slot))), _STRAND, wide),
        Circle(*bead, _BEAD_RADIUS * radius_mm, WHITE, BLACK, 0.4),
        Polyline(across, BLACK, wide + 0.4),
        Polyline(across, _STRAND, wide),
        *arrow((at(0.9 * way(own.from_slot) - (0.1, 0.0)), at(goal - (0.1, 0.0))), 0.4),
    ]
