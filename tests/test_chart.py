"""The flat chart: to scale, right way round, every bead once, every letter inside its bead."""

from __future__ import annotations

import re
from dataclasses import replace
from xml.etree import ElementTree

import numpy as np
import pytest
from himotif.core.braid.lattice import Lattice, Swatch
from himotif.core.drawing.fonts import text_width_mm
from himotif.core.drawing.layout import CAPITAL
from himotif.core.drawing.shapes import Polygon, Polyline, Text
from himotif.core.drawing.svg import to_svg
from himotif.core.paper.chart import Strip, bead_shapes, chart_page
from himotif.core.paper.legend import BeadStyles, size_inside
from hypothesis import given
from hypothesis import strategies as st
from sheet_designs import marsh, printed

SVG = "{http://www.w3.org/2000/svg}"
TITLE = re.compile(r"(\S+) .*: round (\d+), crossing (\d+), strand (\d+), its bead (\d+)")
BRAIDS = [(8, "S"), (8, "Z"), (12, "Z"), (16, "S"), (20, "S"), (24, "S")]


def cells(svg: str) -> dict[int, tuple[tuple[str, int, int, int], np.ndarray, str]]:
    """Beads of an SVG by crossing: what the title says, corners, fill."""
    root = ElementTree.fromstring(svg)
    found = {}
    for polygon in root.iter(f"{SVG}polygon"):
        title = polygon.find(f"{SVG}title")
        if title is None:
            continue
        said = TITLE.fullmatch(title.text or "")
        assert said, title.text
        code, *numbers = said.groups()
        round_, crossing, strand, order = (int(number) for number in numbers)
        corners = np.array([pair.split(",") for pair in polygon.get("points").split()], dtype=float)
        assert crossing not in found
        found[crossing] = ((code, round_, strand, order), corners, polygon.get("fill"))
    return found


@pytest.mark.parametrize(("strands", "lay"), BRAIDS)
def test_every_bead_is_there_once_with_its_place(strands, lay):
    design = marsh(strands, lay, colours=5)
    found = cells(to_svg(chart_page(design, "Heron")))
    assert sorted(found) == list(range(1, len(design.beads) + 1))
    lists = {strand: [] for strand in range(1, strands + 1)}
    for crossing, ((code, round_, strand, order), _, fill) in sorted(found.items()):
        bead = design.palette[design.beads[crossing - 1]]
        assert code == bead.code
        assert fill == "#{:02x}{:02x}{:02x}".format(*bead.rgb)
        assert round_ == (crossing - 1) // (strands // 2) + 1
        lists[strand].append(order)
    # worked slot by slot, without the formulas that the chart goes by
    for move in design.braid.work(len(design.beads)):
        assert found[move.crossing + 1][0][2] == move.strand + 1
    for orders in lists.values():
        assert orders == list(range(1, len(orders) + 1))


@pytest.mark.parametrize(("strands", "lay"), BRAIDS)
def test_one_mm_is_one_mm(strands, lay):
    design = marsh(strands, lay)
    svg = to_svg(chart_page(design))
    root = ElementTree.fromstring(svg)
    assert root.get("width") == root.get("viewBox").split()[2] + "mm"
    assert root.get("height") == root.get("viewBox").split()[3] + "mm"
    centres = {n: corners.mean(axis=0) for n, (_, corners, _) in cells(svg).items()}
    per_round = design.braid.beads_per_round
    for n in (1, 2, 5):
        later = n + 2 * per_round * 4
        rise = centres[n][1] - centres[later][1]
        assert rise == pytest.approx(8 * design.lattice.rise_mm, abs=0.01)
    across = [centre[0] for centre in centres.values()]
    assert max(across) - min(across) < design.lattice.circumference_mm
    # the cells cover the unrolled braid: their areas add up to circumference times height
    corners = cells(svg)[1][1]
    x, y = corners.T
    area = abs(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1))) / 2
    whole = design.lattice.circumference_mm * design.length_mm
    assert area * len(design.beads) == pytest.approx(whole, rel=2e-3)


def test_right_is_right():
    """Hand-derived, S lay, 8 strands (geometry of the disc seen from above, worker at south).

    The first crossing leaves the worker's top, so its bead lies at the back; the second lies at
    the front, on the middle line. Then the disc goes on to the pair counter-clockwise, the west
    one. Its crossing leaves the west side, where the braid's drift has moved it towards the back:
    seen by the worker's eye, which looks north, west is on the left. So bead 3 is left of the
    front, and bead 4, on the opposite side, right of it.
    """
    svg = to_svg(chart_page(marsh(8, "S")))
    x = {n: corners[:, 0].mean() for n, (_, corners, _) in cells(svg).items()}
    line = next(
        s for s in chart_page(marsh(8, "S")).shapes if isinstance(s, Polyline) and s.dash_mm
    )
    front = line.points[0][0]
    assert abs(x[2] - front) < 0.01
    assert x[3] < front - 1
    assert x[4] > front + 1
    # Z lay is the mirror image
    mirrored = to_svg(chart_page(marsh(8, "Z")))
    x = {n: corners[:, 0].mean() for n, (_, corners, _) in cells(mirrored).items()}
    assert x[3] > front + 1
    assert x[4] < front - 1


@pytest.mark.parametrize("size", ["15/0", "8/0", "6/0"])
@pytest.mark.parametrize(("strands", "lay"), BRAIDS)
def test_letters_stand_inside_their_beads(strands, lay, size):
    design = marsh(strands, lay, colours=40, rounds=24, size=size)
    strip = Strip(BeadStyles(design), 0, 24, 100.0, 200.0, 1.5, hatched=True)
    shapes = bead_shapes(strip)
    outlines = [s for s in shapes if isinstance(s, Polygon) and s.stroke is not None]
    texts = [s for s in shapes if isinstance(s, Text)]
    assert len(outlines) == len(texts) == len(design.beads)
    for outline, text in zip(outlines, texts, strict=True):
        half = text_width_mm(text.text, text.size_mm) / 2
        high = CAPITAL * text.size_mm
        for x in (text.x - half, text.x + half):
            for y in (text.y, text.y - high):
                assert inside((x, y), np.array(outline.points))


def inside(point: tuple[float, float], corners: np.ndarray) -> bool:
    edge = np.roll(corners, -1, axis=0) - corners
    away = np.array(point) - corners
    turn = edge[:, 0] * away[:, 1] - edge[:, 1] * away[:, 0]
    return bool(np.all(turn >= -1e-6) or np.all(turn <= 1e-6))


@given(
    st.text(st.characters(codec="latin-1", categories=("Lu", "Ll", "Nd")), min_size=1, max_size=9)
)
def test_any_code_fits_its_bead(code):
    design = marsh(16)
    cell = design.lattice.cell_mm
    size = size_inside(code, cell, 9.0)
    half, high = text_width_mm(code, size) / 2, CAPITAL * size / 2
    for x in (-half, half):
        for y in (-high, high):
            assert inside((x, y), cell * 1.000001)


def test_rounds_repeats_front_and_scale_are_named():
    design = marsh(8, rounds=40)
    texts = [s.text for s in chart_page(design, "Moon over reeds").shapes if isinstance(s, Text)]
    assert [t for t in texts if t.isdecimal()] == [str(n) for n in range(1, 41)]
    assert {f"repeat {n}" for n in range(1, design.repeat.count + 1)} <= set(texts)
    assert {"front", "50 mm", "Moon over reeds"} <= set(texts)


@pytest.mark.parametrize(("unit", "text", "long_mm"), [("cm", "50 mm", 50.0), ("in", "2 in", 50.8)])
def test_the_scale_bar_is_as_long_as_it_says(unit, text, long_mm):
    shapes = chart_page(printed(marsh(8), unit=unit)).shapes
    label = next(s for s in shapes if isinstance(s, Text) and s.text == text)
    bars = [s for s in shapes if isinstance(s, Polyline) and abs(s.points[0][1] - label.y) < 1.0]
    lengths = [abs(bar.points[1][0] - bar.points[0][0]) for bar in bars]
    assert max(lengths) == pytest.approx(long_mm)


def test_the_heading_says_what_was_measured():
    design = marsh()
    swatch = Swatch(rise_mm=2.3, drift_deg=43.0)
    measured = Lattice.computed(design.braid, design.bead, swatch)
    for lattice, origin in (
        (design.lattice, "thickness, rise, drift computed"),
        (measured, "rise, drift measured on a swatch; thickness computed"),
    ):
        shapes = chart_page(replace(design, lattice=lattice)).shapes
        said = " ".join(shape.text for shape in shapes if isinstance(shape, Text))
        assert f"mm thick ({origin})." in said
