"""What is lost between the beads, on sketches whose beads are set by hand: we know what is gone."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from converting import converted
from himotif.convert.fit.search import Found, Scene
from himotif.convert.judge.alternatives import Elsewhere
from himotif.convert.judge.conversion import Conversion
from himotif.convert.judge.lost import CODES, Lost, find_lost, lost_findings
from himotif.convert.read.picture import Picture, read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.core.findings import Code, Remedy
from himotif.core.paper.wording import sentence
from himotif.palette.files import read_palette
from sketches import FIVE, NAVY, OYSTER, RUST, picture

Bools = npt.NDArray[np.bool_]
Floats = npt.NDArray[np.float64]
EIGHT = bead_size("8/0")
FIXTURES = Path(__file__).parent.parent / "fixtures"
HIGH, WIDE = 600, 300


@dataclass
class Seen:
    """A conversion, and what it asked after what is lost."""

    scene: Scene
    found: Found
    conversion: Conversion

    def points(self) -> tuple[Floats, Floats]:
        """Where the tile's beads lie in the picture: 0..1 to the right, 0..1 down."""
        placement = self.found.placement(self.scene.placement)
        lattice, tile = self.scene.tile.lattice, self.scene.tile
        crossings = np.arange(tile.beads) + tile.first
        place = placement.picture_px(lattice.azimuth_deg(crossings), lattice.height_mm(crossings))
        across, down = np.moveaxis(place / np.array(placement.size_px), -1, 0)
        return across, down

    def with_beads(self, *shapes: tuple[Bools, str]) -> list[Lost]:
        """What is lost if beads are ground but for these, each shape over the ones before."""
        colours = np.full(self.scene.tile.beads, self.scene.inks.ground)
        codes = [FIVE.beads[bead].code for bead in self.scene.inks.bead]
        for inside, code in shapes:
            colours[inside] = codes.index(code)
        return find_lost(
            self.scene, replace(self.found, colours=colours), Elsewhere(self.scene, EIGHT)
        )


def lattice(strands: int) -> Lattice:
    return Lattice.computed(Braid(strands), EIGHT)


def seen(sketch: Picture, strands: int, **options: Any) -> Seen:
    """Convert a sketch where it lies, and catch what is asked after what is lost."""
    wish = {"repeat": "once", "pin": ("shift", "scale", "turn"), "quick": True} | options
    made = converted(sketch, FIVE, lattice(strands), **wish)
    return Seen(made.fitted.scene, made.fitted.found, made)


def drawn(*shapes: tuple[object, tuple[int, int, int]], wide: int = WIDE) -> Picture:
    """Shapes (functions of places 0..1 to the right, down) on oyster, the later over the former."""
    row, column = np.indices((HIGH, wide))
    pixels = np.full((HIGH, wide, 3), OYSTER)
    for inside, colour in shapes:
        pixels[inside((column + 0.5) / wide, (row + 0.5) / HIGH)] = colour  # type: ignore[operator]
    return picture(pixels)


def box(left: float, right: float, top: float, bottom: float):  # type: ignore[no-untyped-def]
    return lambda x, y: (x >= left) & (x <= right) & (y >= top) & (y <= bottom)


STEM, TOP, BAR = box(0.1, 0.35, 0.05, 0.95), box(0.1, 0.9, 0.05, 0.2), box(0.1, 0.8, 0.45, 0.6)
GAP = box(0.36, 0.8, 0.21, 0.44)


def letter(x: Floats, y: Floats) -> Bools:
    return STEM(x, y) | TOP(x, y) | BAR(x, y)  # type: ignore[no-any-return]


@pytest.fixture
def wide_f() -> Seen:
    """An F of about four by eight and a half beads on 12 strands, its bars a bead and more high."""
    return seen(drawn((letter, NAVY)), 12)


# -- branches and openings -------------------------------------------------------------------------


def test_nothing_is_lost_of_a_letter_whose_beads_are_all_there(wide_f: Seen) -> None:
    assert wide_f.with_beads((letter(*wide_f.points()), "N")) == []


def test_a_bar_without_beads_is_a_branch_that_is_lost(wide_f: Seen) -> None:
    x, y = wide_f.points()
    (lost,) = wide_f.with_beads((STEM(x, y) | TOP(x, y), "N"))
    assert lost.part.kind == "branch"
    assert lost.part.where == ()
    rows, columns = (index / size for index, size in zip(
        np.nonzero(lost.part.mask), lost.part.mask.shape, strict=True
    ))  # fmt: skip
    assert 0.44 < rows.min() < rows.max() < 0.66  # with a little of the stem's edge
    # beads of the stem may stand out by half a bead, no further
    assert columns.max() == pytest.approx(0.8, abs=0.03)
    assert columns.min() > 0.3


def test_the_stem_below_the_bar_is_missed_as_well(wide_f: Seen) -> None:
    x, y = wide_f.points()
    (lost,) = wide_f.with_beads((letter(x, y) & (y < 0.65), "N"))
    assert (lost.part.kind, lost.part.where) == ("branch", ("bottom", "left"))


def test_the_beads_of_another_bar_do_not_stand_in_for_a_lost_one(wide_f: Seen) -> None:
    # the top bar hangs down to where the middle one begins, and the middle one is not there
    x, y = wide_f.points()
    found = wide_f.with_beads((STEM(x, y) | box(0.1, 0.9, 0.05, 0.4)(x, y), "N"))
    assert {lost.part.kind for lost in found} == {"branch", "opening"}


def test_a_gap_between_bars_that_fills_up_is_an_opening_that_closes(wide_f: Seen) -> None:
    x, y = wide_f.points()
    (lost,) = wide_f.with_beads((letter(x, y) | box(0.3, 1.0, 0.15, 0.5)(x, y), "N"))
    assert lost.part.kind == "opening"
    mask = lost.part.mask
    rows, columns = (np.nonzero(mask)[axis] / mask.shape[axis] for axis in (0, 1))
    assert GAP(columns, rows).mean() > 0.8  # the rest lies beyond its mouth
    (finding,) = lost_findings([lost], FIVE, Elsewhere(wide_f.scene, EIGHT))
    assert finding.code is Code.LOST_OPENING
    assert finding.data["name"] == "navy"


@pytest.mark.parametrize("filled", [False, True])
def test_the_eye_of_a_ring(filled: bool) -> None:
    def away(x: Floats, y: Floats) -> Floats:
        return np.hypot((x - 0.5) * WIDE, (y - 0.5) * HIGH) / WIDE  # type: ignore[no-any-return]

    def ring(x: Floats, y: Floats) -> Bools:
        return (away(x, y) < 0.42) & (away(x, y) > 0.16)

    on = seen(drawn((ring, NAVY)), 16)
    x, y = on.points()
    found = on.with_beads((away(x, y) < 0.42 if filled else ring(x, y), "N"))
    assert [(lost.part.kind, lost.part.where) for lost in found] == (
        [("opening", ())] if filled else []
    )


def test_a_part_of_its_own_is_lost_as_a_whole() -> None:
    dot = box(0.6, 0.9, 0.8, 0.95)
    on = seen(drawn((STEM, NAVY), (dot, RUST)), 12)
    x, y = on.points()
    assert on.with_beads((STEM(x, y), "N"), (dot(x, y), "R")) == []
    (lost,) = on.with_beads((STEM(x, y), "N"))
    assert (lost.part.kind, lost.part.where) == ("part", ("bottom", "right"))
    assert FIVE.beads[on.scene.inks.bead[lost.part.ink]].code == "R"


@pytest.mark.parametrize("turn_deg", [0.0, 90.0, 180.0])
@pytest.mark.parametrize("fit", ["wrap", "face"])
def test_beads_are_looked_up_where_they_lie(turn_deg: float, fit: str) -> None:
    # an L that no turn or mirror leaves as it is
    def shape(x: Floats, y: Floats) -> Bools:
        return box(0.1, 0.4, 0.05, 0.95)(x, y) | box(0.1, 0.95, 0.75, 0.95)(x, y)  # type: ignore[no-any-return]

    on = seen(drawn((shape, NAVY), wide=HIGH), 16, rotate_deg=turn_deg, fit=fit)
    x, y = on.points()
    found = on.with_beads((box(0.1, 0.4, 0.05, 0.95)(x, y), "N"))
    assert [lost.part.kind for lost in found] == ["branch"]
    mask = found[0].part.mask
    rows, columns = (np.nonzero(mask)[axis] / mask.shape[axis] for axis in (0, 1))
    assert ((columns > 0.39) & (rows > 0.74)).mean() > 0.9


# -- the letter F of our fixtures on eight strands -------------------------------------------------

LETTER_F = FIXTURES / "motifs" / "letter_f.png"


def bar_of(sketch: Picture) -> tuple[float, float, float, float]:
    """The middle bar in the picture: left and right (0..1), top and bottom; read off its pixels."""
    dark = sketch.linear.mean(axis=-1) < 0.3
    high, wide = dark.shape
    rows = np.flatnonzero(dark.any(axis=1))
    stem = np.flatnonzero(dark[rows[-1]])[-1]
    right = np.array([np.flatnonzero(dark[row])[-1] for row in rows])
    runs = np.split(rows[right > stem + 0.1 * wide], np.flatnonzero(
        np.diff(rows[right > stem + 0.1 * wide]) > 1) + 1)  # fmt: skip
    assert len(runs) == 2  # the top and the middle bar
    bar = runs[1]
    return stem / wide, right[bar - rows[0]].min() / wide, bar[0] / high, (bar[-1] + 1) / high


def test_the_lost_bar_of_an_f_is_named_and_what_is_advised_keeps_it() -> None:
    sketch = read_picture(LETTER_F)
    left, right, top, bottom = bar_of(sketch)
    on = seen(sketch, 8, pin=(), quick=False)
    x, y = on.points()
    colours = on.found.colours.copy()
    margin = 0.5 * on.scene.tile.lattice.pitch_mm / on.scene.placement.height_mm
    colours[(x > left) & (y > top - margin) & (y < bottom + margin)] = on.scene.inks.ground
    elsewhere = Elsewhere(on.scene, EIGHT)
    lost = find_lost(on.scene, replace(on.found, colours=colours), elsewhere)
    finding, *_ = lost_findings(lost, FIVE, elsewhere)
    assert (finding.code, finding.data["name"]) == (Code.LOST_BRANCH, "navy")
    first = lost[0]
    assert first.larger is not None or first.strands is not None
    advised = []
    if first.larger is not None:
        width_mm = round(on.scene.placement.width_mm * first.larger, 1)
        assert Remedy("width_mm", width_mm) in finding.remedies
        advised.append((8, {"width_mm": width_mm}))
    if first.strands is not None:
        assert Remedy("strands", first.strands) in finding.remedies
        advised.append((first.strands, {}))
    for strands, options in advised:
        made = converted(sketch, FIVE, lattice(strands), repeat="once", **options).design
        assert made.picture is not None
        across, down = np.moveaxis(made.picture.where_px / np.array(sketch.size_px), -1, 0)
        in_bar = (across > left) & (across < right) & (down > top) & (down < bottom)
        assert in_bar.any()
        assert (made.beads[in_bar] == FIVE.index("N")).mean() > 0.5


@pytest.mark.parametrize("wide", [9, 10, 20])
def test_a_lost_part_is_as_wide_as_it_was_drawn(wide: int) -> None:
    # on twelve strands the picture's 300 pixels are half the way round
    px_per_mm = WIDE / (np.pi * lattice(12).radius_mm)
    bar = box(0.4 - wide / 2 / WIDE, 0.4 + wide / 2 / WIDE, 0.1, 0.9)
    on = seen(drawn((bar, NAVY)), 12)
    (lost,) = on.with_beads()
    # told of pixels of the look, which may be coarser than the picture's
    coarse_px = 1 / on.scene.source.scale
    assert lost.part.width_mm == pytest.approx(wide / px_per_mm, abs=1.01 * coarse_px / px_per_mm)


# -- told once -------------------------------------------------------------------------------------


def test_what_is_lost_is_not_told_a_second_time() -> None:
    from himotif.convert.report.distort import distort_conversion

    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    sketch = read_picture(FIXTURES / "motifs" / "heron.png")
    made = converted(sketch, palette, lattice(8), repeat="once")
    codes = {*CODES.values(), Code.LOST_MORE}
    lost = [one for one in made.findings if one.code in codes]
    assert lost
    told = distort_conversion(made)
    assert told.as_dict()["lost"] == list(map(sentence, lost))
    gone = {Code.COLOURS_GONE, Code.PIECES_GONE, Code.LITTLE_IN_PLACE}
    assert not (gone | {Code.SHAPE_KEPT}) & {one.code for one in told.findings}
    # a first look does not look for lost parts, so its report tells them
    quick = converted(sketch, palette, lattice(8), repeat="once", quick=True)
    first = distort_conversion(quick)
    assert first.report.lost is None
    assert gone & {one.code for one in first.findings}


def test_a_report_begins_with_what_is_too_small_to_be_recognised() -> None:
    from himotif.convert.report.distort import distort_conversion

    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    sketch = read_picture(FIXTURES / "motifs" / "initials.png")
    made = converted(sketch, palette, lattice(8), repeat="once")
    told = distort_conversion(made)
    assert made.unrecognised is not None
    assert told.findings[0] == told.report.unrecognised == made.unrecognised
    assert not {Code.SHAPE_KEPT, Code.FEW_BEADS_WIDE} & {one.code for one in told.findings}
    flower = read_picture(FIXTURES / "motifs" / "sea_aster.png")
    made = converted(flower, palette, lattice(24), repeat="once")
    assert made.unrecognised is None
    assert distort_conversion(made).report.unrecognised is None
