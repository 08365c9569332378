"""Strokes in one piece, closed outlines: worked on beads set by hand."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt
import pytest
from himotif.convert.fit.pieces import mended, parts_of
from himotif.convert.fit.strokes import find_strokes
from himotif.convert.fit.tile import plan_tile
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice

TILE = plan_tile(Lattice.computed(Braid(24), bead_size("8/0")), (18.0, 18.0), 60, "fill", 2.0)
CANVAS = TILE.raster(8.0)


def shares_of(mask: npt.NDArray[np.bool_]) -> npt.NDArray[np.float32]:
    return np.stack([~mask, mask], axis=-1).astype(np.float32)


def ring() -> npt.NDArray[np.bool_]:
    high, wide = CANVAS.shape
    down, across = CANVAS.px_per_mm
    y = (np.arange(high)[:, None] - high / 2) / down
    x = (np.arange(wide)[None, :] - wide / 2) / across
    return np.abs(np.hypot(x, y) - 7.0) < 1.1


def anything(trial: npt.NDArray[np.intp]) -> npt.NDArray[np.intp]:
    return trial


def pieces(chosen: npt.NDArray[np.bool_]) -> int:
    left, count = set(np.flatnonzero(chosen).tolist()), 0
    while left:
        count += 1
        walk = [left.pop()]
        while walk:
            for other in TILE.neighbours()[walk.pop()].tolist():
                if other in left:
                    left.remove(other)
                    walk.append(other)
    return count


def test_parts_cover_the_cells_they_lie_in() -> None:
    inks, covers = parts_of(shares_of(ring()), 0, CANVAS.owner, TILE.beads)
    # the ring, the ground inside it and the ground outside
    assert sorted(inks) == [0, 0, 1]
    np.testing.assert_allclose(covers.sum(axis=0), 1.0, atol=1e-9)


def test_parts_that_meet_across_the_seams_are_one() -> None:
    mask = np.zeros(CANVAS.shape, dtype=bool)
    mask[:8, :] = mask[-8:, :] = True
    inks, _ = parts_of(shares_of(mask), 0, CANVAS.owner, TILE.beads)
    assert sorted(inks) == [0, 1]


def test_a_broken_ring_is_joined_and_shut() -> None:
    mask = ring()
    inks, covers = parts_of(shares_of(mask), 0, CANVAS.owner, TILE.beads)
    part = int(np.flatnonzero(inks == 1)[0])
    whole = (covers[part] > 0.35).astype(np.intp)
    assert pieces(whole == 1) == 1
    # take the beads at the left and at the right out: two pieces, and the inside runs out
    x, y = TILE.places_mm()
    broken = np.where(np.abs(y - TILE.middle_mm) < 2.5, 0, whole)
    assert np.abs(x[whole == 1]).max() < 10
    assert pieces(broken == 1) == 2
    assert pieces(broken == 0) == 1
    after = mended(broken, inks, covers, TILE.neighbours(), anything)
    assert pieces(after == 1) == 1
    assert pieces(after == 0) == 2
    # nothing is drawn where the ring does not even touch the cell
    assert (covers[part][(after == 1) & (broken == 0)] > 0.05).all()
    # there is nothing more to mend
    np.testing.assert_array_equal(mended(after, inks, covers, TILE.neighbours(), anything), after)


def test_a_part_as_large_as_a_bead_that_nobody_shows_gets_its_best_bead() -> None:
    down, across = CANVAS.px_per_mm
    y, x = np.ogrid[: CANVAS.shape[0], : CANVAS.shape[1]]
    spot = np.hypot((y - 60) / down, (x - 40) / across) < 1.6
    inks, covers = parts_of(shares_of(spot), 0, CANVAS.owner, TILE.beads)
    none = np.zeros(TILE.beads, dtype=np.intp)
    shown = mended(none, inks, covers, TILE.neighbours(), anything)
    assert np.flatnonzero(shown).tolist() == [int(np.argmax(covers[inks == 1][0]))]


def test_what_cannot_be_borne_is_left_and_the_rest_mended_all_the_same() -> None:
    mask = ring()
    inks, covers = parts_of(shares_of(mask), 0, CANVAS.owner, TILE.beads)
    whole = (covers[int(np.flatnonzero(inks == 1)[0])] > 0.35).astype(np.intp)
    y = TILE.places_mm()[1]
    broken = np.where(np.abs(y - TILE.middle_mm) < 2.5, 0, whole)
    asked: list[npt.NDArray[np.intp]] = []

    def nothing(trial: npt.NDArray[np.intp]) -> None:
        asked.append(trial)

    np.testing.assert_array_equal(mended(broken, inks, covers, TILE.neighbours(), nothing), broken)
    # both joining the ring and shutting it were asked for
    assert len(asked) >= 2


def test_strokes_are_what_is_thin_and_shows_by_itself() -> None:
    px = 12.0  # per bead pitch
    line = np.zeros((120, 120), dtype=np.intp)
    line[40:43, 10:110] = 1
    strokes = find_strokes(line, 2, 0, px)
    assert strokes.share > 0.9
    assert strokes.lines[41, 20:100, 1].all()
    assert strokes.lines[..., 0].sum() == 0
    # length times width of the middle line, give or take its ends
    assert strokes.lines[..., 1].sum() / (0.25 * px) == np.clip(
        strokes.lines[..., 1].sum() / (0.25 * px), 80, 150
    )
    broad = np.zeros((120, 120), dtype=np.intp)
    broad[30:90, 30:90] = 1
    assert find_strokes(broad, 2, 0, px).share == 0
    # a dark line round a filled shape shows where the shape ends anyway
    outlined = np.zeros((120, 120), dtype=np.intp)
    outlined[27:93, 27:93] = 2
    outlined[30:90, 30:90] = 1
    assert find_strokes(outlined, 3, 0, px).lines[..., 2].sum() == 0
    # the same line across the fill shows
    outlined[58:61, 40:80] = 2
    assert find_strokes(outlined, 3, 0, px).lines[59, 45:75, 2].all()


def test_gaps_between_strokes_are_known_with_their_width() -> None:
    px = 12.0
    two = np.zeros((160, 160), dtype=np.intp)
    two[20:140, 60:63] = two[20:140, 80:83] = 1
    strokes = find_strokes(two, 2, 0, px)
    # the gap is 17 px wide, 1.42 pitches; its middle lies at column 71
    assert strokes.gaps[80, 71] == pytest.approx(17 / 2 / px, abs=0.06)
    assert strokes.gaps[80, :58].max() == strokes.gaps[80, 85:].max() == 0
    # strokes far from each other have no gap between them
    far = np.zeros((160, 160), dtype=np.intp)
    far[20:140, 30:33] = far[20:140, 120:123] = 1
    assert find_strokes(far, 2, 0, px).gaps.max() == 0


def test_every_place_knows_its_nearest_stroke() -> None:
    px = 12.0
    two = np.zeros((120, 120), dtype=np.intp)
    two[10:110, 20:23] = 1
    two[10:110, 90:93] = 2
    strokes = find_strokes(two, 3, 0, px)
    assert strokes.colour[60, 30] == 1
    assert strokes.colour[60, 80] == 2
    assert strokes.away_px[60, 21] < 1
    assert strokes.away_px[60, 45] == pytest.approx(24, abs=2)
