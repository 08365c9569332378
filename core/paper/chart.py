"""The flat chart: the braid slit along its back and rolled out, seen from outside, to scale."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from ..arrays import Floats, Ints
from ..design import AWAY, MARKS, TOWARD
from ..drawing.fonts import set_apart, text_width_mm
from ..drawing.layout import CAPITAL, LEADING, column, fitted, wrap
from ..drawing.shapes import (
    BLACK,
    WHITE,
    Page,
    Point,
    Polygon,
    Polyline,
    Shape,
    Text,
    rectangle,
)
from ..making.lengths import INCH_MM, braid_thickness, format_length
from ..srgb import Rgb
from .legend import BeadStyles, size_inside

if TYPE_CHECKING:
    from ..design import Design

DROP_MARKS = (
    f"Drops: {MARKS[TOWARD]} is strung with its wide end toward the disc, {MARKS[AWAY]} with it "
    "away from the disc."
)
_GREY: Rgb = (110, 110, 110)
_LEGEND = 2.6
"""Size of the text of the legend, mm."""

_SIDES = ((-2, "back"), (-1, "left"), (0, "front"), (1, "right"), (2, "back"))


@dataclass(frozen=True, eq=False)
class Strip:
    """Some rounds of the chart, and where they lie on the page.

    Parameters
    ----------
    styles : BeadStyles
        How the beads of the design look.
    first, last : int
        Rounds from `first` up to but without `last`, 0-based.
    x, y : float
        Page position in mm of the front line at the height of round `first`.
    scale : float
        Millimetres of paper per millimetre of braid.
    hatched : bool
        Whether the beads carry their patterns.
    """

    styles: BeadStyles
    first: int
    last: int
    x: float
    y: float
    scale: float = 1.0
    hatched: bool = False

    @property
    def design(self) -> Design:
        """The design."""
        return self.styles.design

    @property
    def crossings(self) -> Ints:
        """The crossings of these rounds."""
        per_round = self.design.braid.beads_per_round
        stop = min(self.last * per_round, len(self.design.beads))
        return np.arange(self.first * per_round, stop)

    @property
    def half_width(self) -> float:
        """From the front line to the slit at the back, mm of paper."""
        return self.design.lattice.circumference_mm / 2 * self.scale

    @property
    def cell(self) -> Floats:
        """Outline of a bead round its centre, mm of paper, y down."""
        return self.design.lattice.cell_mm * self.scale * (1.0, -1.0)

    def paper_y(self, height_mm: float) -> float:
        """Page position of a height on the braid."""
        return self.y - (height_mm - self.first * self.design.lattice.rise_mm) * self.scale

    def centres(self) -> Floats:
        """Page positions of the beads, (k, 2)."""
        lattice = self.design.lattice
        across = self.x + lattice.x_mm(self.crossings, self.design.front_deg) * self.scale
        height = lattice.height_mm(self.crossings) - self.first * lattice.rise_mm
        return np.stack([across, self.y - height * self.scale], axis=1)


def strip_height_mm(design: Design, rounds: int, scale: float) -> float:
    """Return the height of paper that a strip of so many rounds covers."""
    tall = np.ptp(design.lattice.cell_mm[:, 1])
    return float((rounds * design.lattice.rise_mm + tall) * scale)


def bead_shapes(strip: Strip, labels: bool = False) -> list[Shape]:
    """Return the beads of a strip: cells, the front line, then the codes.

    Parameters
    ----------
    strip : Strip
    labels : bool
        Whether each cell says on screen what it is.
    """
    cells = _cells(strip, labels)
    return [*cells, *_front_line(strip), *_codes(strip)]


def _cells(strip: Strip, labels: bool) -> list[Shape]:
    centres = strip.centres()
    corners = np.round(centres[:, None] + strip.cell, 4).tolist()
    beads = strip.design.beads[strip.crossings].tolist()
    titles = _titles(strip) if labels else [None] * len(beads)
    fill = {index: strip.styles.fill(index) for index in strip.styles.used}
    hatch = strip.styles.hatches if strip.hatched else {}
    return [
        Polygon(tuple(map(tuple, outline)), fill[bead], _GREY, 0.1, hatch.get(bead), title)
        for outline, bead, title in zip(corners, beads, titles, strict=True)
    ]


def _titles(strip: Strip) -> list[str]:
    design, braid = strip.design, strip.design.braid
    crossings = strip.crossings
    strands = (braid.strand_of(crossings) + 1).tolist()
    orders = (braid.order_of(crossings) + 1).tolist()
    names = [f"{set_apart(bead.code)} {set_apart(bead.name)}" for bead in design.palette]
    return [
        f"{names[bead]}: round {number // braid.beads_per_round + 1}, crossing {number + 1}, "
        f"strand {strand}, its bead {order}"
        for number, bead, strand, order in zip(
            crossings.tolist(), design.beads[crossings].tolist(), strands, orders, strict=True
        )
    ]


def _codes(strip: Strip) -> list[Shape]:
    styles, cell = strip.styles, strip.cell
    most = 0.55 * float(np.ptp(cell[:, 1]))
    placed = _placed(strip)
    sizes = {text: size_inside(text, cell * 0.94, most) for text in {text for _, _, text in placed}}
    inks = {index: styles.ink(index) for index in styles.used}
    halos = _halos(strip, placed, sizes)
    texts = [
        Text(x, y + CAPITAL / 2 * sizes[text], text, sizes[text], "middle", False, inks[bead])
        for (x, y), bead, text in placed
    ]
    return [*halos, *texts]


def _placed(strip: Strip) -> list[tuple[Point, int, str]]:
    """Place, bead and code of each; drops with the mark of their direction."""
    centres = np.round(strip.centres(), 4).tolist()
    beads = strip.design.beads[strip.crossings].tolist()
    ways = strip.styles.drops.direction[strip.crossings].tolist()
    return [
        ((x, y), bead, strip.styles.code(bead) + MARKS[way])
        for (x, y), bead, way in zip(centres, beads, ways, strict=True)
    ]


def _halos(
    strip: Strip, placed: Sequence[tuple[Point, int, str]], sizes: dict[str, float]
) -> list[Shape]:
    """Plain ground behind codes that a pattern or the front line would run through."""
    shapes: list[Shape] = []
    for (x, y), bead, text in placed:
        width = text_width_mm(text, sizes[text]) + 0.3 * sizes[text]
        hatched = strip.hatched and strip.styles.hatches[bead]
        if hatched or abs(x - strip.x) < width / 2 + 0.15:
            height = 1.05 * sizes[text]
            shapes.append(
                rectangle(
                    x - width / 2,
                    y - height / 2,
                    width,
                    height,
                    strip.styles.fill(bead),
                    stroke=None,
                )
            )
    return shapes


def _front_line(strip: Strip) -> list[Shape]:
    ends = _span(strip)
    line = ((strip.x, ends[0]), (strip.x, ends[1]))
    return [
        Polyline(line, WHITE, 0.3),
        Polyline(line, BLACK, 0.2, (1.2, 0.8)),
    ]


def _span(strip: Strip) -> tuple[float, float]:
    """Upper and lower edge of the beads on the page."""
    centres, cell = strip.centres()[:, 1], strip.cell[:, 1]
    return float(centres.min() + cell.min()), float(centres.max() + cell.max())


def side_names(strip: Strip, size_mm: float) -> list[Shape]:
    """Return the names of the sides above a strip, the front with a mark.

    Where five names would run into each other, only front and back are named.
    """
    top = _span(strip)[0] - 1.0
    reach = strip.half_width + float(np.ptp(strip.cell[:, 0])) / 2
    names = _SIDES if _fits(_SIDES, 2 * reach, size_mm) else _SIDES[::2]
    size = size_mm if _fits(names, 2 * reach, size_mm) else 0.75 * size_mm
    shapes: list[Shape] = [
        Text(
            strip.x + part * reach / 2,
            top - 1.8,
            name,
            size,
            {-2: "start", 2: "end"}.get(part, "middle"),
            bold=name == "front",
        )
        for part, name in names
    ]
    mark = ((strip.x, top + 0.6), (strip.x - 0.9, top - 1.2), (strip.x + 0.9, top - 1.2))
    return [*shapes, Polygon(mark, BLACK, None)]


def _fits(names: Sequence[tuple[int, str]], width_mm: float, size_mm: float) -> bool:
    widest = max(text_width_mm(name, size_mm, True) for _, name in names)
    # the outer names stand flush with the edges, so their neighbours are the nearest ones
    return widest * 1.5 + size_mm / 2 <= width_mm / (len(names) - 1)


def round_numbers(strip: Strip, size_mm: float) -> list[Shape]:
    """Return a ladder left of a strip with the rounds numbered from 1."""
    lattice, braid = strip.design.lattice, strip.design.braid
    x = strip.x - strip.half_width - float(np.ptp(strip.cell[:, 0])) / 2 - 0.6
    every = _every(lattice.rise_mm * strip.scale, 1.15 * size_mm)
    low = lattice.rise_mm / (2 * braid.axes)
    shapes: list[Shape] = []
    for number in range(strip.first, strip.last + 1):
        y = strip.paper_y(number * lattice.rise_mm - low)
        shapes.append(Polyline(((x - 1.2, y), (x, y)), _GREY, 0.1))
    for number in range(strip.first, strip.last):
        if (number + 1) % every and number != strip.first:
            continue
        y = strip.paper_y((number + 0.5) * lattice.rise_mm - low)
        shapes.append(Text(x - 1.6, y + CAPITAL / 2 * size_mm, f"{number + 1}", size_mm, "end"))
    return _without_crowding(shapes, 1.15 * size_mm)


def _every(step_mm: float, least_mm: float) -> int:
    return next(k for k in (1, 2, 5, 10, 20, 50, 100, 1000) if k * step_mm >= least_mm or k == 1000)


def _without_crowding(shapes: list[Shape], least_mm: float) -> list[Shape]:
    """Drop the second number where the first of a strip and a round one come too close."""
    texts = [shape for shape in shapes if isinstance(shape, Text)]
    if len(texts) > 1 and abs(texts[0].y - texts[1].y) < least_mm:
        shapes = [shape for shape in shapes if shape is not texts[1]]
    return shapes


def repeat_brackets(strip: Strip, size_mm: float) -> list[Shape]:
    """Return brackets right of a strip, one for each repeat of the motif in it."""
    design, repeat = strip.design, strip.design.repeat
    if repeat is None:
        return []
    lattice = design.lattice
    x = strip.x + strip.half_width + float(np.ptp(strip.cell[:, 0])) / 2 + 0.8
    low = lattice.rise_mm / (2 * design.braid.axes)
    bottom, top = strip.first * lattice.rise_mm, strip.last * lattice.rise_mm
    top = min(top, design.length_mm)
    shapes: list[Shape] = []
    for number in range(repeat.count):
        start = repeat.first // 2 * lattice.step_mm + number * repeat.rounds * lattice.rise_mm
        end = start + repeat.rounds * lattice.rise_mm
        low_end, high_end = max(start, bottom), min(end, top)
        if high_end - low_end < lattice.step_mm:
            continue
        shapes += _bracket(
            x,
            (strip.paper_y(low_end - low) - 0.25, strip.paper_y(high_end - low) + 0.25),
            (low_end == start, high_end == end),
            f"repeat {number + 1}",
            size_mm,
        )
    return shapes


def _bracket(
    x: float,
    ends: tuple[float, float],
    closed: tuple[bool, bool],
    name: str,
    size_mm: float,
) -> list[Shape]:
    """One bracket; an end that lies beyond the strip stays open."""
    below, above = ends
    points: list[Point] = []
    if closed[0]:
        points.append((x, below))
    points += [(x + 1.2, below), (x + 1.2, above)]
    if closed[1]:
        points.append((x, above))
    shapes: list[Shape] = [Polyline(tuple(points), BLACK, 0.25)]
    size = fitted(name, (below - above) * 0.9, size_mm)
    if size >= 0.6 * size_mm:
        middle = (below + above) / 2
        shapes.append(Text(x + 2.0, middle, name, size, "middle", rotate_deg=90.0))
    return shapes


def scale_bar(
    x: float, y: float, length_mm: float, unit: str | None = None, scale: float = 1.0
) -> list[Shape]:
    """Return a bar of so much braid, its left end at (x, y).

    It has a tick every 10 mm; in inches it is an inch or more instead, with a tick every quarter.
    """
    tick_mm, name = 10.0, f"{length_mm:g} mm"
    if unit == "in":
        inches = max(1, round(length_mm / INCH_MM))
        tick_mm, length_mm, name = INCH_MM / 4, inches * INCH_MM, f"{inches} in"
    words = name if scale == 1.0 else f"{name} of braid"
    long = length_mm * scale
    shapes: list[Shape] = [Polyline(((x, y), (x + long, y)), BLACK, 0.3)]
    for part in range(round(length_mm / tick_mm) + 1):
        across = x + part * tick_mm * scale
        shapes.append(Polyline(((across, y - 1.2), (across, y + 1.2)), BLACK, 0.3))
    return [*shapes, Text(x + long + 1.5, y + 0.8, words, 2.4)]


def legend(styles: BeadStyles, x: float, top: float, width_mm: float) -> tuple[list[Shape], float]:
    """Return the beads in use, one a line (swatch, code, name, count), and the lower edge."""
    shapes: list[Shape] = []
    y = top
    for index in styles.used:
        swatch = styles.swatch(index, x, y + 0.3, (5.0, 3.6), 0.15)
        lines = wrap(
            f"{styles.code(index)}  {styles.words(index)}, {styles.counts[index]}",
            width_mm - 6.5,
            _LEGEND,
        )
        shapes += [swatch, *column(lines, x + 6.5, y + 0.4, _LEGEND)]
        y += max(4.6, len(lines) * _LEGEND * LEADING + 0.8)
    return shapes, y


def chart_page(design: Design, title: str = "") -> Page:
    """Return the flat chart at its true size with codes, rounds, repeats, front and scale bar.

    Parameters
    ----------
    design : Design
    title : str
        Heading.

    Returns
    -------
    Page
        Just large enough; 1 mm of paper is 1 mm of braid.
    """
    styles = BeadStyles(design)
    rounds = -(-len(design.beads) // design.braid.beads_per_round)
    margin, number_room, bracket_room, legend_width = 6.0, 8.0, 7.0, 52.0
    probe = Strip(styles, 0, rounds, 0.0, 0.0)
    beads_wide = 2 * probe.half_width + float(np.ptp(probe.cell[:, 0]))
    legend_x = margin + number_room + beads_wide + bracket_room
    width = legend_x + legend_width + margin
    head, below_head = _head(design, title, margin, width - 2 * margin)
    beads_top = below_head + 7.0
    drop = float(np.ptp(_span(probe)))
    strip = Strip(
        styles,
        0,
        rounds,
        margin + number_room + beads_wide / 2,
        beads_top - _span(probe)[0],
    )
    listed, listed_end = legend(styles, legend_x, beads_top, legend_width)
    foot = max(beads_top + drop, listed_end) + 5.0
    words = ["Round 1 is at the bottom, braided first."]
    if styles.drops.count:
        words += wrap(DROP_MARKS, width - 2 * margin, 2.4)
    shapes: Sequence[Shape] = [
        *head,
        *bead_shapes(strip, labels=True),
        *side_names(strip, 2.2),
        *round_numbers(strip, 1.6),
        *repeat_brackets(strip, 2.2),
        *listed,
        *scale_bar(margin, foot + 2.0, 50.0 if width > 85 else 20.0, design.unit),
        *column(words, margin, foot + 4.4, 2.4),
    ]
    high = foot + 5.9 + len(words) * 2.4 * LEADING + margin
    return Page(round(width, 2), round(high, 2), tuple(shapes))


def _head(design: Design, title: str, left: float, width_mm: float) -> tuple[list[Shape], float]:
    braid, lattice, unit = design.braid, design.lattice, design.unit
    about = (
        f"Flat chart, true size, seen from outside. {braid.strands} strands, {braid.lay} lay, "
        f"{braid.turn} turn, {design.bead.label} beads. "
        f"{format_length(design.length_mm, unit)} beaded, "
        f"{braid_thickness(lattice.thickness_mm, unit)} thick ({lattice.origin})."
    )
    shapes: list[Shape] = []
    y = left
    for text, size, bold in ((title, 4.4, True), (about, 2.6, False)):
        if text:
            lines = wrap(text, width_mm, size, bold)
            shapes += column(lines, left, y, size, bold)
            y += len(lines) * size * 1.3 + 0.8
    return shapes, y
