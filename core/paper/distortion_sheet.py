"""The distortion picture: its panels, a legend, the sentences and a table, as one page of shapes.

How far an edge moved is shown by the lightness, the hue and the width of its line at once, on a
white casing, so that it reads on beads of any colour, in print without colour, and to people who
see few colours: the darker and wider, the further.
"""

from __future__ import annotations

from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ..arrays import Bytes, Floats, Ints
from ..drawing.fonts import text_width_mm
from ..drawing.layout import fitted, wrap
from ..drawing.shapes import (
    WHITE,
    Box,
    Circle,
    Page,
    PixelImage,
    Point,
    Polygon,
    Polyline,
    Shape,
    Text,
    rectangle,
)
from ..making.lengths import INCH_MM, small_length, small_size
from ..show.distortion import EdgeShift, LaidSketch, squared_paper_mm
from ..show.distortion_report import ColourRow, OtherBead, Report
from ..show.preview import Look, bead_shape
from ..srgb import Rgb
from .braid_piece import BraidPiece

if TYPE_CHECKING:
    from ..braid import Lattice
    from ..design import Design

INK: Rgb = (34, 34, 34)
FAINT: Rgb = (110, 110, 110)
RULE: Rgb = (200, 200, 200)
CORD: Rgb = (226, 223, 217)


class Step(NamedTuple):
    """One step of the scale: up to so many beads, drawn so."""

    beads: float
    words: str
    colour: Rgb
    width_mm: float


STEPS = (
    Step(0.25, "up to a quarter of a bead", (140, 205, 240), 0.45),
    Step(0.5, "up to half a bead", (206, 110, 0), 0.65),
    Step(1.0, "up to a bead", (150, 20, 80), 0.9),
    Step(np.inf, "more than a bead", (20, 8, 60), 1.2),
)
"""The scale of the edge shift, light and thin to dark and wide."""

LOST_STEP = len(STEPS)
LOST_DASH_MM = (1.3, 0.9)
"""A lost edge is dashed, dark and wide."""

_MARGIN = 10.0
_GAP = 5.0
_WIDTH = 297.0
_BODY = 3.0
_SMALL = 2.5
_LINE = 3.2
_CASING = 0.5
_BENT, _SQUARED = "Where it is bent", "On squared paper"
_CAPTION = 6.6
"""First baseline of a caption below the top of its panel."""
_ROOM = 1.5
"""Between a caption and what is drawn below."""


@dataclass(frozen=True, eq=False)
class Panels:
    """What the picture shows.

    Parameters
    ----------
    design : Design
    squared : (n,) int or None
        As squared paper would have given; None for a pattern whose repeat is not known.
    sketch : LaidSketch
        The piece of the unrolled braid that is shown.
    picture_rgb : (H, W, 3) uint8
        The sketch itself on the same pixels.
    shift : EdgeShift
    bends_mm : (k, 2) float
        Points of the chart.
    bends : (k, 2, 2) float
        Maps from sketch mm to chart mm there.
    front_deg : float
        Azimuth of the front.
    """

    design: Design
    squared: Ints | None
    sketch: LaidSketch
    picture_rgb: Bytes
    shift: EdgeShift
    bends_mm: Floats
    bends: Floats
    front_deg: float

    @property
    def lattice(self) -> Lattice:
        """The braid."""
        return self.design.lattice

    @property
    def seen(self) -> BraidPiece:
        """The piece as it is seen from the front, with the rims of its outermost beads."""
        raster, rim_mm = self.sketch.raster, bead_shape(self.lattice).along_mm
        window_mm = raster.bottom_mm - rim_mm, raster.top_mm + rim_mm
        return BraidPiece(Look.of(self.design), self.front_deg, window_mm)


def outlines(sketch: LaidSketch) -> list[tuple[int, Floats]]:
    """Return the outlines of the sketch's colours, the ground's left out.

    Returns
    -------
    list of (colour, (k, 2) float)
        Points in mm on the chart; an outline that crosses the back is cut there.
    """
    from scipy import ndimage
    from skimage.measure import find_contours

    width, height = sketch.raster.px_mm
    found = []
    for colour in np.unique(sketch.colours):
        if colour == sketch.background:
            continue
        inside = (sketch.colours == colour).astype(np.float32)
        smooth = ndimage.gaussian_filter(inside, 0.7, mode=("nearest", "wrap"))
        for line in find_contours(smooth, 0.5):
            x = (line[:, 1] + 0.5) * width - sketch.raster.lattice.circumference_mm / 2
            y = sketch.raster.top_mm - (line[:, 0] + 0.5) * height
            found.append((int(colour), np.stack([x, y], axis=1)))
    return found


def distortion_page(panels: Panels, report: Report, lines: Sequence[str]) -> Page:
    """Return the picture, lengths in the unit of the design.

    Parameters
    ----------
    panels : Panels
    report : Report
        Its numbers are quoted.
    lines : sequence of str
        What is said below the panels.
    """
    drawing, unit = _Drawing(panels, report), panels.design.unit
    captions = drawing.captions()
    layout = _layout(drawing.width_mm, drawing.height_mm, captions)
    shapes = list(_heading(report, panels.lattice.origin, unit))
    top = _MARGIN + 17.0
    titles = [f"{number + 1}  {title}" for number, (title, _) in enumerate(captions)]
    title_mm = min(fitted(title, layout.box_mm, _BODY, bold=True) for title in titles)
    for number, (_, caption) in enumerate(captions):
        column, row = number % layout.columns, number // layout.columns
        x = _MARGIN + column * (layout.box_mm + _GAP)
        y = top + row * layout.row_mm
        shapes.append(Text(x, y + 3, titles[number], title_mm, bold=True, fill=INK))
        for line_number, line in enumerate(wrap(caption, layout.box_mm, _SMALL)):
            shapes.append(Text(x, y + _CAPTION + _LINE * line_number, line, _SMALL, fill=FAINT))
        frame = _Frame(
            x + layout.box_mm / 2,
            y + layout.heading_mm + drawing.rim_mm * layout.scale,
            layout.scale,
            panels.sketch.raster.top_mm,
        )
        shapes += drawing.panel(number, frame)
    y = top + layout.rows * layout.row_mm + 1.0
    shapes += _legend(report, layout.scale, y, unit, [title for title, _ in captions])
    y += 13.0
    left, foot = _sentences(lines, y)
    right, table_foot = _table(report, y, unit)
    shapes += left + right
    return Page(_WIDTH, max(foot, table_foot) + _MARGIN - 3.0, tuple(shapes))


class _Layout(NamedTuple):
    columns: int
    rows: int
    scale: float
    box_mm: float
    heading_mm: float
    row_mm: float


def _layout(width_mm: float, height_mm: float, captions: Sequence[tuple[str, str]]) -> _Layout:
    """The panels in one row or in two, whichever shows them larger, below their captions."""
    found = []
    for rows, most_mm in ((1, 120.0), (2, 64.0)):
        columns = -(-len(captions) // rows)
        box = (_WIDTH - 2 * _MARGIN - (columns - 1) * _GAP) / columns
        scale = min(box / width_mm, most_mm / height_mm)
        lines = max(len(wrap(caption, box, _SMALL)) for _, caption in captions)
        # the last baseline, and below it the descenders and a gap before what is drawn
        heading = _CAPTION + _LINE * (lines - 1) + 0.25 * _SMALL + _ROOM
        found.append(_Layout(columns, rows, scale, box, heading, heading + scale * height_mm + 4))
    return max(found, key=lambda layout: layout.scale)


class _Frame(NamedTuple):
    """Where a chart lies on the page: mm on the braid to mm on the page."""

    x: float
    y: float
    scale: float
    top_mm: float

    def points(self, mm: Floats) -> tuple[Point, ...]:
        x = self.x + mm[:, 0] * self.scale
        y = self.y + (self.top_mm - mm[:, 1]) * self.scale
        return tuple(zip(x.tolist(), y.tolist(), strict=True))

    def box(self, left: float, top: float, right: float, bottom: float) -> Box:
        """x, y, width and height on the page of a box of the chart."""
        return (
            self.x + left * self.scale,
            self.y + (self.top_mm - top) * self.scale,
            (right - left) * self.scale,
            (top - bottom) * self.scale,
        )


class _Drawing:
    """Draws the panels; what several of them need is worked out once."""

    def __init__(self, panels: Panels, report: Report) -> None:
        self.of, self.unit = panels, panels.design.unit
        self.report = report
        self.lines = outlines(panels.sketch)
        self.shape = bead_shape(panels.lattice)
        self.rim_mm = self.shape.along_mm
        sketch = panels.sketch
        self.half_mm = sketch.raster.lattice.circumference_mm / 2
        self.width_mm = sketch.raster.lattice.circumference_mm + 2 * self.shape.across_mm
        self.height_mm = sketch.raster.top_mm - sketch.raster.bottom_mm + 2 * self.rim_mm
        away = np.radians(sketch.raster.front_deg - panels.front_deg)
        self.front_x_mm = float(away * panels.lattice.radius_mm)

    @property
    def stretched(self) -> bool:
        """Whether the motif is worked taller, or flatter, than it is drawn."""
        return abs(self.report.stretch.taller - 1) >= 0.005

    def captions(self) -> list[tuple[str, str]]:
        report = self.report
        edges, seen = report.edges, report.visibility
        squared, paper = report.squared_paper, report.stretch.squared_paper
        fit, taller = report.stretch.fit, report.stretch.taller
        placed = "The braid unrolled, with the outlines of the colours."
        bend = "Wrapped true: no stretch on the braid. Dashed: as the front view narrows it."
        if self.stretched:
            placed += f" {taller:.3g} times as tall as drawn."
            bend = f"{taller:.3g} times as tall as drawn. Dashed: as the front view narrows it."
        if fit is not None and report.stretch.bent is not None and report.stretch.bent >= 1.02:
            bend = f"Drawn out up to {fit.largest:.2f} times. Dashed: as the front view shows it."
        moved = "No edges." if edges.lost_percent == 0 else ""
        if edges.mean_mm is not None and edges.p95_mm is not None:
            moved = (
                f"Mean {small_length(edges.mean_mm, self.unit)}, 95 % within "
                f"{small_length(edges.p95_mm, self.unit)} "
                f"({edges.p95_beads:.1f} of a bead)."
            )
        if edges.lost_percent >= 0.5:
            moved += f" {edges.lost_percent:.0f} % are lost."
        near, beside, hidden = 0.0, 0.0, 0.0
        if seen is not None:
            near, beside = seen.within_30_deg_percent, seen.within_60_deg_percent
            hidden = seen.hidden_percent
        front = f"Within 30°: {near:.0f} %, within 60°: {beside:.0f} % of the motif. " + (
            f"Dashed: {hidden:.0f} % round the sides." if hidden >= 0.5 else "Nothing hidden."
        )
        unthinking = f"One square a bead: leans {abs(paper.column_lean_deg):.0f}°"
        if squared is not None and squared.motif_kept_percent is not None:
            unthinking += (
                f", agrees with the sketch over {squared.motif_kept_percent:.0f} % "
                f"({report.motif.kept_percent:.0f} % as designed)"
            )
        drawn = [("Sketch as drawn", "Before it is stretched.")] if self.stretched else []
        last = [] if self.of.squared is None else [(_SQUARED, unthinking + ".")]
        return [
            *drawn,
            ("Sketch as placed", placed),
            ("Beads as they will lie", "The same piece, true to scale."),
            ("How far edges move", moved),
            (_BENT, bend),
            ("From the front", front),
            *last,
        ]

    def panel(self, number: int, frame: _Frame) -> list[Shape]:
        draw = (
            *((self._as_drawn,) if self.stretched else ()),
            self._as_placed,
            self._as_beads,
            self._as_moved,
            self._as_bent,
            self._as_seen,
            self._as_squared,
        )[number]
        return list(draw(frame))

    # -- the panels

    def _as_drawn(self, frame: _Frame) -> Iterator[Shape]:
        """The sketch in its own proportions, within the room that it takes as it is placed."""
        raster, taller = self.of.sketch.raster, self.report.stretch.taller
        wide, high = min(1.0, taller), min(1.0, 1 / taller)
        middle = (raster.top_mm + raster.bottom_mm) / 2
        half = wide * self.half_mm, high * (raster.top_mm - raster.bottom_mm) / 2
        box = frame.box(-half[0], middle + half[1], half[0], middle - half[1])
        yield PixelImage(*box, self.of.picture_rgb)
        for _, line in self.lines:
            drawn = np.stack([line[:, 0] * wide, middle + (line[:, 1] - middle) * high], axis=1)
            yield from _cased(frame.points(drawn), INK, 0.25)
        yield rectangle(*box, stroke=RULE, stroke_mm=0.15)

    def _as_placed(self, frame: _Frame) -> Iterator[Shape]:
        yield self._sketch(frame, self.of.picture_rgb)
        for _, line in self.lines:
            yield from _cased(frame.points(line), INK, 0.25)
        yield from self._marks(frame)

    def _as_beads(self, frame: _Frame) -> Iterator[Shape]:
        yield from self._beads(frame, self.of.design.beads)
        yield from self._marks(frame)

    def _as_moved(self, frame: _Frame) -> Iterator[Shape]:
        yield from self._beads(frame, self.of.design.beads)
        runs = [run for _, line in self.lines for run in self._runs(line)]
        for line, step in runs:
            yield Polyline(frame.points(line), WHITE, _style(step).width_mm + _CASING)
        for line, step in sorted(runs, key=lambda run: run[1]):
            style = _style(step)
            dash = LOST_DASH_MM if step == LOST_STEP else None
            yield Polyline(frame.points(line), style.colour, style.width_mm, dash)
        yield from self._worst(frame)
        yield from self._marks(frame)

    def _as_bent(self, frame: _Frame) -> Iterator[Shape]:
        pale = 255 - (255 - self.of.picture_rgb.astype(np.int16)) * 2 // 5
        yield self._sketch(frame, pale.astype(np.uint8))
        size = 0.42 * self.of.lattice.pitch_mm
        turn = np.linspace(0, 2 * np.pi, 33)
        circle = size * np.stack([np.cos(turn), np.sin(turn)])
        for point, bend in zip(self.of.bends_mm, self.of.bends, strict=True):
            seen = np.cos((point[0] - self.front_x_mm) / self.of.lattice.radius_mm)
            if seen > 0.05:
                view = np.diag([seen, 1.0]) @ bend @ circle
                outline = frame.points(point + view.T)
                yield Polyline(outline, INK, 0.2, (0.7, 0.5))
            yield Polyline(frame.points(point + (bend @ circle).T), INK, 0.35)
            for axis in (0, 1):
                arm = np.outer([-size, size], bend[:, axis])
                yield Polyline(frame.points(point + arm), INK, 0.2)
        yield from self._marks(frame)

    def _as_seen(self, frame: _Frame) -> Iterator[Shape]:
        lattice, sketch = self.of.lattice, self.of.sketch
        yield self.of.seen.image(frame.x, frame.y - self.rim_mm * frame.scale, frame.scale)
        for _, line in self.lines:
            for part, hidden in self._bent_round(line):
                if hidden:
                    yield Polyline(frame.points(part), FAINT, 0.35, (0.9, 0.7))
                else:
                    yield from _cased(frame.points(part), INK, 0.35)
        for side in (-1, 1):
            at = side * (lattice.radius_mm + self.shape.across_mm)
            line = np.array([[at, sketch.raster.top_mm], [at, sketch.raster.bottom_mm]])
            yield Polyline(frame.points(line), FAINT, 0.15)

    def _as_squared(self, frame: _Frame) -> Iterator[Shape]:
        assert self.of.squared is not None
        yield from self._beads(frame, self.of.squared)
        yield from self._squares(frame)
        yield from self._marks(frame)

    # -- their parts

    def _sketch(self, frame: _Frame, rgb: Bytes) -> PixelImage:
        sketch = self.of.sketch
        box = frame.box(-self.half_mm, sketch.raster.top_mm, self.half_mm, sketch.raster.bottom_mm)
        return PixelImage(*box, rgb)

    def _beads(self, frame: _Frame, beads: Ints) -> Iterator[Shape]:
        sketch, lattice, palette = self.of.sketch, self.of.lattice, self.of.design.on_cord
        box = frame.box(-self.half_mm, sketch.raster.top_mm, self.half_mm, sketch.raster.bottom_mm)
        yield rectangle(*box, fill=CORD, stroke=None)
        shown = np.flatnonzero(sketch.raster.inside)
        x, y = lattice.x_mm(shown, sketch.raster.front_deg), lattice.height_mm(shown)
        centre = np.stack([x, y], 1)
        turn = np.linspace(0, 2 * np.pi, 24, endpoint=False)
        rim = np.stack([np.cos(turn) * self.shape.across_mm, np.sin(turn) * self.rim_mm], 1)
        # just inside the touching outline, so that neighbours do not run into each other
        rim *= 0.97
        for bead, middle in zip(shown, centre, strict=True):
            red, green, blue = palette[beads[bead]].rgb
            outline = frame.points(middle + rim)
            yield Polygon(outline, (red, green, blue), _rim_of((red, green, blue)), 0.12)

    def _runs(self, line: Floats) -> Iterator[tuple[Floats, int]]:
        """Cut an outline where the step of the scale changes."""
        from scipy.spatial import cKDTree

        edges = self.of.shift.edges
        if not len(edges.x_mm):
            return
        _, near = cKDTree(np.stack([edges.x_mm, edges.y_mm], 1)).query(line)
        beads = self.of.shift.shift_mm[near] / self.of.shift.pitch_mm
        step = np.searchsorted([s.beads for s in STEPS], beads)
        step[self.of.shift.lost[near]] = LOST_STEP
        cuts = np.flatnonzero(np.diff(step)) + 1
        for start, end in zip([0, *cuts], [*cuts, len(line)], strict=True):
            yield line[start : end + 1], int(step[start])

    def _worst(self, frame: _Frame) -> Iterator[Shape]:
        shift = self.of.shift
        worst = shift.worst
        if worst is None:
            return
        ((x, y),) = frame.points(np.array([[shift.edges.x_mm[worst], shift.edges.y_mm[worst]]]))
        yield Circle(x, y, 2.0, None, WHITE, 0.8)
        yield Circle(x, y, 2.0, None, INK, 0.35)

    def _bent_round(self, line: Floats) -> Iterator[tuple[Floats, bool]]:
        """An outline as seen from the front; what lies round the sides is folded out flat."""
        radius = self.of.lattice.radius_mm
        angle = (line[:, 0] - self.front_x_mm) / radius
        angle = (angle + np.pi) % (2 * np.pi) - np.pi
        side = np.sign(angle)
        past = np.abs(angle) - np.pi / 2
        beside = radius + self.shape.across_mm + radius * np.maximum(past, 0)
        hidden = past > 0
        x = np.where(hidden, side * beside, radius * np.sin(angle))
        seen = np.stack([x, line[:, 1]], axis=1)
        jump = (np.diff(hidden.astype(int)) != 0) | (np.abs(np.diff(x)) > radius / 2)
        cuts = np.flatnonzero(jump) + 1
        for start, end in zip([0, *cuts], [*cuts, len(line)], strict=True):
            if end - start > 1:
                yield seen[start:end], bool(hidden[start])

    def _squares(self, frame: _Frame) -> Iterator[Shape]:
        """What becomes of a block of two by two squares, in the lower left corner."""
        right, up = squared_paper_mm(self.of.lattice).T
        room = np.abs(right) + np.abs(up)
        corner = np.array([-self.half_mm, self.of.sketch.raster.bottom_mm])
        middle = corner + room + 0.2 * self.of.lattice.pitch_mm
        for along in (-1, 0, 1):
            for one, other in ((right, up), (up, right)):
                line = np.array([middle + along * one - other, middle + along * one + other])
                yield from _cased(frame.points(line), INK, 0.25)

    def _marks(self, frame: _Frame) -> Iterator[Shape]:
        """The frame of the chart, its front, and where the sides begin."""
        sketch = self.of.sketch
        box = frame.box(-self.half_mm, sketch.raster.top_mm, self.half_mm, sketch.raster.bottom_mm)
        yield rectangle(*box, stroke=RULE, stroke_mm=0.15)
        ends = (sketch.raster.top_mm, sketch.raster.bottom_mm)
        for turn in (-0.25, 0.25):
            x = self.front_x_mm + turn * 2 * self.half_mm
            x = (x + self.half_mm) % (2 * self.half_mm) - self.half_mm
            line = frame.points(np.array([[x, end] for end in ends]))
            yield Polyline(line, FAINT, 0.15, (1.2, 0.9))
        ((x, y),) = frame.points(np.array([[self.front_x_mm, ends[1]]]))
        yield Polygon(((x, y + 0.4), (x - 1.1, y + 2.4), (x + 1.1, y + 2.4)), INK, None)


def _style(step: int) -> Step:
    return STEPS[min(step, len(STEPS) - 1)]


def _rim_of(fill: Rgb) -> Rgb:
    red, green, blue = fill
    return red * 3 // 5, green * 3 // 5, blue * 3 // 5


def _cased(points: tuple[Point, ...], colour: Rgb, width_mm: float) -> Iterator[Shape]:
    """A line on a white casing, to be seen on any colour."""
    yield Polyline(points, WHITE, width_mm + _CASING)
    yield Polyline(points, colour, width_mm)


# -- words and numbers on the page -----------------------------------------------------------------


def _heading(report: Report, origin: str, unit: str | None) -> Iterator[Shape]:
    braid, motif, measured = report.braid, report.motif, report.measured
    yield Text(_MARGIN, _MARGIN + 4, "What the braid does to the sketch", 5.0, bold=True, fill=INK)
    pitch = small_length(braid.pitch_mm, unit) if unit == "in" else f"{braid.pitch_mm:.2f} mm"
    which = f"; motif {measured.motif} of {measured.of}" if measured.of > 1 else ""
    lines = (
        f"{braid.strands} strands, {braid.lay} lay, {braid.bead} beads. The motif is "
        f"{small_size(motif.width_mm, motif.height_mm, unit)}, "
        f"{motif.width_beads:.1f} × "
        f"{motif.height_beads:.1f} beads{which}.",
        f"Braid {small_length(braid.thickness_mm, unit)} thick, one bead takes {pitch} ({origin}).",
    )
    for number, line in enumerate(lines):
        yield Text(_MARGIN, _MARGIN + 9 + 4 * number, line, _BODY, fill=INK)


def _legend(
    report: Report, scale: float, y: float, unit: str | None, panels: Sequence[str]
) -> Iterator[Shape]:
    """The steps of the edge shift; below them the scale bar and what the marks mean."""
    yield Polyline(((_MARGIN, y), (_WIDTH - _MARGIN, y)), RULE, 0.15)
    line = y + 5.5
    yield Text(_MARGIN, line, "An edge moved", _SMALL, bold=True, fill=INK)
    x = _MARGIN + 24.0
    pitch = report.braid.pitch_mm
    for number, step in enumerate((*STEPS, STEPS[-1])):
        lost = number == LOST_STEP
        sample = ((x, line - 0.9), (x + 8.0, line - 0.9))
        yield Polyline(sample, step.colour, step.width_mm, LOST_DASH_MM if lost else None)
        words = "lost: no such edge near" if lost else step.words
        if np.isfinite(step.beads):
            words += f" ({small_length(step.beads * pitch, unit)})"
        yield Text(x + 9.5, line, words, _SMALL, fill=INK)
        x += 14.0 + text_width_mm(words, _SMALL)
    line += 4.8
    bar, name = scale_bar(scale, unit)
    yield rectangle(_MARGIN, line - 1.6, bar * scale, 1.2, fill=INK, stroke=None)
    words = f"{name} on the braid ({scale:.1f} : 1)"
    x = _MARGIN + bar * scale + 1.5
    yield Text(x, line, words, _SMALL, fill=INK)
    x += text_width_mm(words, _SMALL) + 8
    yield Polygon(((x, line), (x + 2.2, line), (x + 1.1, line - 2)), INK, None)
    x = yield from _note(x + 3.5, line, "middle of the front")
    yield Polyline(((x, line - 0.9), (x + 6, line - 0.9)), FAINT, 0.2, (1.2, 0.9))
    x = yield from _note(x + 7.5, line, "where the braid turns out of sight, 90° round")
    yield Circle(x + 1.5, line - 0.9, 1.5, None, INK, 0.35)
    x = yield from _note(x + 4.5, line, "the worst place")
    for title, words in ((_BENT, "circles drawn on the sketch"), (_SQUARED, "four squares")):
        if title in panels:
            x = yield from _note(x, line, f"{panels.index(title) + 1}: {words}")


def _note(x: float, y: float, words: str) -> Generator[Shape, None, float]:
    """A note of the legend; gives back where the next may begin."""
    yield Text(x, y, words, _SMALL, fill=INK)
    return x + text_width_mm(words, _SMALL) + 6


def scale_bar(scale: float, unit: str | None = None) -> tuple[float, str]:
    """Return the length of a scale bar, mm, and its name: round, at most 30 mm on the page."""
    lengths = [(float(mm), f"{mm} mm") for mm in (1, 2, 5, 10, 20, 50, 100)]
    if unit == "in":
        parts = ("1/16", "1/8", "1/4", "1/2", "1", "2", "4")
        lengths = [(INCH_MM * float(Fraction(part)), f"{part} in") for part in parts]
    return max((one for one in lengths if one[0] * scale <= 30), default=lengths[0])


def _sentences(lines: Sequence[str], y: float) -> tuple[list[Shape], float]:
    width = 150.0
    shapes: list[Shape] = []
    for number, sentence in enumerate(lines):
        parts = wrap(sentence, width - 5, _BODY)
        shapes.append(Text(_MARGIN, y + 3, f"{number + 1}.", _BODY, bold=True, fill=INK))
        for line in parts:
            shapes.append(Text(_MARGIN + 5, y + 3, line, _BODY, fill=INK))
            y += 4.1
        y += 1.2
    return shapes, y


_COLUMNS = (
    ("colour", 0.0, "start"),
    ("beads wanted", 53.0, "end"),
    ("got", 63.0, "end"),
    ("kept", 73.0, "end"),
    ("pieces", 94.0, "end"),
    ("narrowest", 115.0, "end"),
)
_TABLE_WIDTH = 115.0
"""Of the table, mm, and above where its columns end."""

_MOST_ROWS = 24
"""Colours that are listed: a page has room for them."""


def _table(report: Report, y: float, unit: str | None) -> tuple[list[Shape], float]:
    """What every colour asked for and got; every bead that was strung has its row."""
    left = _MARGIN + 160.0
    shapes: list[Shape] = [
        Text(left + at, y + 3, title, _SMALL, anchor, bold=True, fill=INK)
        for title, at, anchor in _COLUMNS
    ]
    regions, others = report.regions, report.not_in_sketch
    rows: list[tuple[ColourRow | OtherBead, tuple[str, ...]]] = [
        *((region, _region_cells(region, unit)) for region in regions),
        *((other, ("–", _got(other), "–", "", "not in the sketch")) for other in others),
    ]
    for bead, cells in rows[:_MOST_ROWS]:
        y += 4.2
        red, green, blue = bead.rgb
        name = f"{bead.name} ({bead.code})"
        if isinstance(bead, ColourRow) and bead.lost_in_ground and bead.sketch:
            red, green, blue = (int(bead.sketch[at : at + 2], 16) for at in (1, 3, 5))
            name = f"{bead.sketch}, as the ground"
        shapes.append(rectangle(left, y + 0.7, 3.4, 2.6, (red, green, blue), INK, 0.12))
        while text_width_mm(name, _SMALL) > 32:
            name = name[:-2] + "…"
        shapes.append(Text(left + 4.8, y + 3, name, _SMALL, fill=INK))
        shapes += [
            Text(left + at, y + 3, cell, _SMALL, anchor, fill=INK)
            for cell, (_, at, anchor) in zip(cells, _COLUMNS[1:], strict=True)
        ]
    y += 5.0
    for note in _table_notes(report, len(rows)):
        for line in wrap(note, _TABLE_WIDTH, _SMALL):
            shapes.append(Text(left, y + 3, line, _SMALL, fill=FAINT))
            y += 3.5
    return shapes, y + 0.7


def _region_cells(region: ColourRow, unit: str | None) -> tuple[str, ...]:
    before, after, lost = region.pieces_before, region.pieces_after, region.pieces_lost
    pieces = f"{before}" if before == after else f"{before} → {after}"
    if lost:
        pieces = f"{before} → {after}, {lost} lost"
    return (
        f"{region.area_beads:.1f}",
        _got(region),
        f"{region.kept_percent:.0f} %",
        pieces,
        "ground" if region.is_background else small_length(region.narrowest_mm, unit),
    )


def _got(row: ColourRow | OtherBead) -> str:
    return f"{row.beads}" + (f" + {row.scattered}" if row.scattered else "")


def _table_notes(report: Report, rows: int) -> Iterator[str]:
    of, others = report.measured.of, report.not_in_sketch
    if rows > _MOST_ROWS:
        yield f"And {rows - _MOST_ROWS} more colours, in distortion.json."
    if of > 1:
        yield f"Beads of one motif with the ground about it; there are {of} motifs on the braid."
    if any(row.scattered for row in report.regions) or any(row.scattered for row in others):
        yield "+ beads scattered over the ground, which stand for nothing in the sketch."
    elsewhere = [
        f"{row.on_the_braid} {row.name} ({row.code})"
        for row in others
        if not row.beads and not row.scattered
    ]
    if elsewhere:
        yield f"Elsewhere on the braid: {', '.join(elsewhere)}."
