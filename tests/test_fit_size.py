"""Size, place and colours of flat motifs, found together."""

from dataclasses import replace

import numpy as np
import pytest
from himotif.convert.fit.afar import BLUR_PITCHES
from himotif.convert.fit.energy import Overlay, Size, extent_mm
from himotif.convert.fit.legibility import READS, Evidence, legibility_of
from himotif.convert.fit.optimise import improve
from himotif.convert.fit.patch import Patch
from himotif.convert.fit.size import (
    CLEAR,
    MOST_ROUND,
    SURE,
    Wanted,
    fit_at,
    fit_motif,
    flat_sketch,
    sizes,
)
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from scipy import ndimage
from test_fit_features import GROUND, INK, OTHER, drawing, flower

EIGHT = Lattice.computed(Braid(8), bead_size("8/0"))
LETTER_E = drawing(
    (100, 150),
    ("rectangle", INK, (0, 0, 34, 149)),
    *[("rectangle", INK, (0, y, 99, y + 29)) for y in (0, 60, 120)],
)
LETTER_H = drawing(
    (110, 150),
    ("rectangle", INK, (0, 0, 29, 149)),
    ("rectangle", INK, (80, 0, 109, 149)),
    ("rectangle", INK, (0, 60, 109, 89)),
)


def overlay(labels, size, places=None):
    sketch = flat_sketch(labels, GROUND)
    patch = Patch.of(EIGHT, extent_mm(sketch, size)[1] / 2 + 3.0)
    if places is None:
        places = patch.offsets_mm(EIGHT.pitch_mm / 4)
    return Overlay(sketch, size, patch, places)


def test_shares_of_a_cell_come_to_one_and_agree_with_the_nearest_bead():
    one = overlay(flower(6), Size(10.0, 1.2), np.array([[0.3, -0.4]]))
    assert one.shares.sum(axis=-1) == pytest.approx(np.ones(one.shares.shape[:2]), abs=1e-3)
    # points of the unrolled braid, one by one: what colour, and whose
    x, y = np.random.default_rng(1).uniform(-7, 7, (2, 200_000)) * [[1], [1.2]]
    labels = one.sketch.labels
    column = np.floor((x / 10 + 0.5) * labels.shape[1]).astype(int)
    row = np.floor((-y / 1.2 / 10 / one.sketch.aspect + 0.5) * labels.shape[0]).astype(int)
    inside = (column >= 0) & (column < labels.shape[1]) & (row >= 0) & (row < labels.shape[0])
    ink = np.where(inside, labels[row * inside, column * inside], GROUND)
    bead = one.patch.owner(x + 0.3, y - 0.4)
    count = np.bincount(bead, minlength=len(one.patch))
    for number in range(3):
        share = np.bincount(bead, ink == number, minlength=len(one.patch)) / np.maximum(count, 1)
        whole = count > 0.9 * np.median(count[count > 0])
        # a cell is counted in some thirty pixels
        apart = np.abs(share[whole] - one.shares[0, whole, number])
        assert apart.max() < 0.08
        assert apart.mean() < 0.03


def test_beads_that_keep_nothing_and_beads_that_keep_all():
    one = overlay(LETTER_E, Size(9.0, 1.5))
    kinds = np.array([f.kind for f in one.sketch.features])
    blank = np.full(one.shares.shape[:2], one.ground)
    assert (one.kept(blank)[:, kinds == "opening"] > 1 - 1e-9).all()
    assert (one.kept(blank)[:, kinds != "opening"] == 0).all()
    full = np.full_like(blank, 1 - one.ground)
    assert (one.kept(full)[:, kinds == "opening"] == 0).all()
    assert (one.kept(full)[:, kinds != "opening"] > 1 - 1e-9).all()
    # all that is drawn; its bars are as wide as two thirds of a bead, and may be drawn broader
    assert (one.wrong_area(blank) <= 1.02).all()
    assert np.ptp(one.wrong_area(blank)) < 0.02


def test_things_that_have_run_together_are_no_longer_seen_apart():
    pair = drawing(
        (40, 120), ("rectangle", INK, (0, 0, 39, 39)), ("rectangle", INK, (0, 80, 39, 119))
    )
    one = overlay(pair, Size(6.0, 1.0, 0.0), np.zeros((1, 2)))
    own = one.first_colours()[0]
    assert one.apart(own) == pytest.approx(1.0)
    joined = np.full_like(own, 1 - one.ground)
    assert one.apart(joined) == pytest.approx(0.5)
    assert one.apart(np.full_like(own, one.ground)) == 0
    sure = Evidence(1.0, 100, 1.0, 1.0)
    verdicts = [
        legibility_of(one.sketch.features, one.kept(own[None])[0], sure, one.apart(beads)).verdict
        for beads in (own, joined)
    ]
    assert verdicts == ["reads", "lost"]


def test_only_the_largest_run_of_a_stroke_is_kept():
    bar = drawing((300, 40), ("rectangle", INK, (0, 0, 299, 39)))
    one = overlay(bar, Size(14.0, 1.0, 90.0), np.zeros((1, 2)))
    colours = np.where(one.axis[0, :1] > 0, 1 - one.ground, one.ground)
    assert one.kept(colours)[0, 0] == pytest.approx(1.0)
    # without one bead a little below its middle
    y = one.patch.y_mm
    lost = np.flatnonzero((one.axis[0, 0] > 0) & (y < -1))[-1]
    cut = colours.copy()
    cut[0, lost] = one.ground
    above, below = one.axis[0, 0, y > y[lost]].sum(), one.axis[0, 0, y < y[lost]].sum()
    assert above > below > 0.1
    assert one.kept(cut)[0, 0] == pytest.approx(above)
    mended = improve(one, cut[0])
    assert mended.kept[0] > max(above + below, 0.8)


def test_an_enclosed_opening_that_leaks_is_not_kept():
    ring = drawing(
        (200, 200), ("ellipse", INK, (0, 0, 199, 199)), ("ellipse", GROUND, (60, 60, 139, 139))
    )
    one = overlay(ring, Size(10.0, 1.0), np.zeros((1, 2)))
    (opening,) = np.flatnonzero(one.closed)
    colours = np.where(one.shares[:, :, one.ground] < 0.9, 1 - one.ground, one.ground)
    seed = len(one.patch) // 2 - 1
    seed += int(np.argmin(np.hypot(one.patch.x_mm, one.patch.y_mm)[seed : seed + 3]))
    colours[0, seed] = one.ground
    assert one.kept(colours)[0, opening] > 0.3
    leak = colours.copy()
    leak[0, one.patch.x_mm > 0] = one.ground
    assert one.kept(leak)[0, opening] == 0


def test_improving_never_raises_the_energy():
    one = overlay(flower(5), Size(9.0, 1.0))
    colours = one.first_colours()
    energies = one.energy_afar(colours)
    assert len(colours) > 5
    for place in range(0, len(colours), 5):
        found = improve(one.at(place), colours[place])
        assert found.energy <= energies[place] + 1e-12
        assert found.energy == pytest.approx(one.at(place).energy_afar(found.colours[None])[0])


def test_what_is_seen_from_afar_agrees_with_drawn_and_blurred_beads():
    one = overlay(flower(6), Size(10.0, 1.2), np.array([[0.3, -0.4]]))
    high, wide = one.planes.shape[1:]
    x = ((np.arange(wide) + 0.5) / wide - 0.5) * EIGHT.circumference_mm + 0.3
    y = (high / 2 - np.arange(high) - 0.5) / one.patch.px_per_mm - 0.4
    owner = one.patch.owner(x[None], y[:, None])
    colours = one.first_colours()
    middle = np.abs(one.patch.y_mm) < 6
    colours[0, np.flatnonzero(middle)[::7]] = 1 - one.ground
    inks = np.delete(np.arange(len(one.inks)), one.ground)

    def seen(planes):
        sigma = BLUR_PITCHES * EIGHT.pitch_mm * one.patch.px_per_mm
        return ndimage.gaussian_filter(planes, (0, sigma, sigma), mode="wrap")

    sketch = seen(one.planes[inks])
    beads = seen((colours[0][owner] == inks[:, None, None]).astype(float))
    unlike = min(
        ((t * beads - sketch) ** 2).sum() / (sketch**2).sum() for t in np.linspace(0, 1, 101)
    )
    assert one.afar.unlike(colours)[0] == pytest.approx(unlike, rel=0.03)
    plain = np.full_like(colours, one.ground)
    assert one.afar.unlike(plain)[0] == pytest.approx(1.0)


@pytest.mark.parametrize("labels", [LETTER_E, flower(6)], ids=["E", "flower"])
def test_margins_change_no_bead(labels):
    wide = np.pad(labels, ((80, 10), (33, 200)))
    one = fit_motif(flat_sketch(labels, GROUND), EIGHT, Wanted())
    other = fit_motif(flat_sketch(wide, GROUND), EIGHT, Wanted())
    assert one.size == other.size
    assert one.offset_mm == other.offset_mm
    assert np.array_equal(one.colours, other.colours)


def test_sizes_go_no_further_than_two_thirds_round_and_twice_as_tall():
    sketch = flat_sketch(LETTER_H, GROUND)
    tried = sizes(sketch, EIGHT, Wanted())
    across = [extent_mm(sketch, size)[0] for size in tried]
    assert max(across) == pytest.approx(MOST_ROUND * EIGHT.circumference_mm)
    assert {size.stretch for size in tried} >= {1.0, 2.0}
    assert max(size.stretch for size in tried) == 2.0
    area = [np.prod(extent_mm(sketch, size)) for size in tried]
    assert area == sorted(area)


def test_what_the_maker_asks_for_is_obeyed():
    sketch = flat_sketch(LETTER_H, GROUND)
    wanted = Wanted(width_mm=8.0, stretch=1.4, turn_deg=90.0, offset_mm=(0.5, -0.25))
    (size,) = sizes(sketch, EIGHT, wanted)
    # turned by a quarter its height lies across
    assert extent_mm(sketch, size)[0] == pytest.approx(8.0)
    assert extent_mm(sketch, size)[1] == pytest.approx(8.0 * 110 / 150 * 1.4)
    found = fit_motif(sketch, EIGHT, wanted)
    assert (found.size, found.offset_mm) == (size, (0.5, -0.25))
    short = sizes(sketch, EIGHT, Wanted(most_height_mm=9.0))
    assert all(extent_mm(sketch, size)[1] <= 9.0 + 1e-6 for size in short)


def test_the_first_size_that_reads_is_taken():
    sketch = flat_sketch(LETTER_E, GROUND)
    found = fit_motif(sketch, EIGHT, Wanted())
    assert found.legibility.verdict == "reads"
    tried = sizes(sketch, EIGHT, Wanted())
    for smaller in tried[: tried.index(found.size)]:
        seen = fit_at(sketch, EIGHT, smaller, Wanted()).legibility
        assert seen.clarity < CLEAR or seen.evidence.logit(READS) < SURE


def test_a_flower_of_six_petals_has_them_all_round_its_centre():
    """Its centre, a fifth of it across, has the bead that lies under it, on the thinnest braid."""
    lattice = Lattice.computed(Braid(8), bead_size("6/0"))
    found = fit_motif(flat_sketch(flower(6, leaf=True), GROUND), lattice, Wanted())
    centres = np.flatnonzero(found.colours == INK)
    assert len(centres) == 1
    assert (found.colours[found.patch.neighbours[centres[0]]] == OTHER).sum() == 6


def test_the_mirror_braid_shows_the_mirror_motif():
    other = Lattice.computed(Braid(8, lay="Z"), bead_size("8/0"))
    one = fit_motif(flat_sketch(LETTER_E, GROUND), EIGHT, Wanted())
    two = fit_motif(flat_sketch(LETTER_E[:, ::-1], GROUND), other, Wanted())
    assert one.legibility.verdict == two.legibility.verdict
    assert two.legibility.clarity == pytest.approx(one.legibility.clarity, abs=0.1)


def test_face_draws_the_motif_as_it_is_seen_from_the_front():
    """Across the front view, as wide as the sine of the angle; nothing lies behind."""
    square = drawing((100, 100), ("rectangle", INK, (0, 0, 99, 99)))
    wide = 2 * EIGHT.radius_mm * np.sin(np.deg2rad(60))
    one = overlay(square, Size(wide, 1.0, 0.0, "face"), np.zeros((1, 2)))
    full = one.shares[0, :, 1 - one.ground]
    level = np.abs(one.patch.y_mm) < wide / 2 - EIGHT.pitch_mm
    inside = np.abs(one.patch.x_mm) < np.pi / 3 * EIGHT.radius_mm - EIGHT.pitch_mm / 1.5
    outside = np.abs(one.patch.x_mm) > np.pi / 3 * EIGHT.radius_mm + EIGHT.pitch_mm / 1.5
    assert (full[level & inside] > 0.97).all()
    assert (full[outside] < 0.03).all()
    assert replace(one.size, fit="wrap") != one.size
