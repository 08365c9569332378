"""How large a motif is worked, how tall, turned how, and where on the lattice.

Sizes are looked at from the smallest: widths from where the narrowest part that matters is nearly a
bead wide up to two thirds of the way round, heights from as drawn up to twice as tall. At each size
all places are coloured at once; the best are improved bead by bead. The first size that reads is
taken; if none does, the one that reads best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Literal, NamedTuple

import numpy as np

from ...core.arrays import Bools, Floats, Ints
from ...core.braid import Lattice
from .energy import FlatSketch, Overlay, Size, extent_mm
from .features import find_features, reduced_labels
from .frame import motif_frame
from .legibility import READS, Evidence, Legibility, legibility_of
from .optimise import improve
from .outlines import find_outlines
from .patch import Patch
from .turns import free_turns_deg

MOST_ROUND = 2 / 3
"""Of the way round: what goes further cannot be seen at once."""

STRETCHES = (1.0, 1.15, 1.3, 1.5, 1.75, 2.0)
"""How many times as tall as drawn a flat motif may be worked."""

WIDTH_STEP = 1.12
"""From one width to the next; a place differs as much as a size between them does."""

LEAST_PART_BEADS = 0.8
"""How wide, in bead pitches, the narrowest part that matters is at the smallest width tried."""

MATTERS = 0.05
"""Parts of less salience do not bound the width."""

LABELS_PX = 240
"""Longest side of the labels that are laid on the braid: ten pixels and more for each bead of a
motif two thirds of the way round 24 strands."""

SPACING_PITCHES = 1 / 6
"""Distance of the places that are tried, in bead pitches: some thirty in a cell."""

FINALISTS = 3
"""Places that are improved bead by bead, of the size that is taken; one of each other. With 1, 2
and 6 other beads are found in 43, 9 and 20 of 168 fits: pictograms, capitals, bundled sketches and
line drawings on 8 to 24 strands. With 1 a pictogram fewer is read, with 6 none more."""

ROUND_STRETCH = 1.3
"""A motif that looks the same when turned, a flower, looks so no more if it is taller than this."""

MOST_GAIN = 0.03
"""Energy that improving a place bead by bead gains in 19 of 20 cases at most; mostly none. It saves
improving sizes that cannot surely read: with 0.06 and 0.12 the same beads are found in all of the
168 fits, with 0.015 and 0 others in 1 and 7."""

BEST_SIZES = 4
"""Sizes that are improved bead by bead where none surely reads."""

STRETCH_PRICE = 0.075
"""Energy that twice as tall must gain. With 0 and 0.075 38 of 40 pictograms are read on 8 strands,
with 0.15 and 0.2 36 and 35; of the capitals with 0, 0.075 and 0.15 25 of 26. These figures, and
those below, with an `AFAR_WEIGHT` of 1.5."""

SURE = 1.0
"""The smallest size whose logit of reading is as high, a chance of 0.73, is taken. With 0, 0.5 and
1 38 of 40 pictograms are read on 8 strands: it is the verdict's word, not the reader's, that a
smaller one has less chance."""

CLEAR = 0.7
"""A size of less clarity is not sure to read however many beads it has. Without this bound as many
capitals are read on 16 strands, 26 of 26."""

ENOUGH_BEADS = 6
"""Of a motif, beads that are not ground; a motif of fewer is dearer."""

FEW_PRICE = READS[2] / READS[1]
"""Energy that a motif of e times fewer beads than are enough must gain: what its beads are worth in
the verdict. With 4, 6 and 8 beads 38, 38 and 37 of 40 pictograms are read on 8 strands. Without it
2 of the 168 fits take fewer beads, and a crow on 8 strands is lost that is a hint."""

FAR_PRICE = 1.0
"""Energy of a place at which beads go further than two thirds of the way round: as much as that of
losing all. With 4 the same beads are found in all of the 168 fits; without it in 6 line drawings
others, of which two then go 0.72 of the way round."""

ROUNDING_MM = 1e-6
"""Of a sum of rises and pitches: a millionth of a bead."""


@dataclass(frozen=True)
class Wanted:
    """What the maker has asked for; what is None is found.

    Parameters
    ----------
    width_mm : float, optional
        Of the motif on the braid, after it is turned.
    stretch : float, optional
        How many times as tall as drawn; 1.25 is a quarter taller.
    turn_deg : float
        Clockwise as seen.
    fit : 'wrap' or 'face'
    most_height_mm : float
        As much as the braid has room for.
    offset_mm : (float, float), optional
        Where the motif's middle lies: right of and above the seed bead.
    pinned_turn : bool
        Not turned, even if it looks the same.
    quick : bool
        A first look: fewer sizes and places.
    """

    width_mm: float | None = None
    stretch: float | None = None
    turn_deg: float = 0.0
    fit: Literal["wrap", "face"] = "wrap"
    most_height_mm: float = np.inf
    offset_mm: tuple[float, float] | None = None
    pinned_turn: bool = False
    quick: bool = False


@dataclass(frozen=True, eq=False)
class FittedMotif:
    """A motif at one size and place, and the colours of its beads.

    Parameters
    ----------
    size : Size
    patch : Patch
    offset_mm : (float, float)
        The motif's middle, right of and above the seed bead of the patch.
    colours : (beads,) int
        Numbers of the sketch's colours, for the beads of the patch.
    energy : float
    legibility : Legibility
    """

    size: Size
    patch: Patch
    offset_mm: tuple[float, float]
    colours: Ints
    energy: float
    legibility: Legibility


def flat_sketch(labels: Ints, ground: int, lattice: Lattice | None = None) -> FlatSketch:
    """Make a flat sketch ready: cut to the motif's frame, with its features.

    The last ones are kept: of most motifs the same is left for every braid, and a page asks for the
    same motif again and again.

    Parameters
    ----------
    labels : (h, w) int
        Number of the colour of each pixel.
    ground : int
        The number of the ground.
    lattice : Lattice, optional
        Outlines that are far narrower than its beads at any size are left out.
    """
    inside = reduced_labels(motif_frame(labels, ground).cut(labels), ground, LABELS_PX)
    if lattice is not None:
        inside = left_out(inside, ground, lattice)[1]
    return _made_ready(np.asarray(inside, np.intp).tobytes(), inside.shape, ground)


@lru_cache(maxsize=16)
def _made_ready(pixels: bytes, shape: tuple[int, int], ground: int) -> FlatSketch:
    labels = np.frombuffer(pixels, np.intp).reshape(shape)
    features, turns = find_features(labels, ground), free_turns_deg(labels, ground)
    return FlatSketch(labels, ground, features, turns)


def left_out(labels: Ints, ground: int, lattice: Lattice) -> tuple[Bools, Ints]:
    """Find the outlines that no bead can follow at any size, within the same frame.

    Parameters
    ----------
    labels : (h, w) int
        Beads in the motif's frame, on at most `LABELS_PX` pixels.
    ground : int
        The number of the ground.
    lattice : Lattice

    Returns
    -------
    (h, w) bool, (h, w) int
        Where they are, and the labels without them.
    """
    widest_mm = MOST_ROUND * lattice.circumference_mm
    outline, without = find_outlines(labels, ground, labels.shape[1] * lattice.pitch_mm / widest_mm)
    if outline.any() and (without != ground).any():
        return outline, without
    return np.zeros(labels.shape, dtype=bool), labels


def fit_motif(sketch: FlatSketch, lattice: Lattice, wanted: Wanted) -> FittedMotif:
    """Find size, place and colours of a flat motif.

    Parameters
    ----------
    sketch : FlatSketch
        With something drawn.
    lattice : Lattice
    wanted : Wanted
    """
    looks: list[tuple[float, _Look]] = []
    for size in sizes(sketch, lattice, wanted):
        look = _look(sketch, lattice, size, wanted)
        best = int(np.argmin(look.energies))
        energy = float(look.energies[best])
        beads = int(np.count_nonzero(look.colours[best] != look.overlay.ground))
        if _sure(_evidence(look.overlay, energy - MOST_GAIN, beads)):
            found = _finished(look, wanted)
            if _sure(found.legibility.evidence):
                return found
        looks.append((energy + _price(size, beads), look))
        # what cannot be the best any more is not kept
        looks = sorted(looks, key=lambda one: one[0])[: 1 if wanted.quick else BEST_SIZES]
    finished = [_finished(look, wanted, 1) for _, look in looks]
    priced = [one.energy + _price(one.size, one.legibility.beads) for one in finished]
    best = int(np.argmin(priced))
    return finished[best] if wanted.quick else _finished(looks[best][1], wanted)


def _evidence(overlay: Overlay, energy: float, beads: int) -> Evidence:
    return Evidence(1.0 - energy, beads, overlay.broader, overlay.sketch.things)


def _sure(seen: Evidence) -> bool:
    """Whether a size surely reads: no larger one is looked at."""
    return seen.clarity >= CLEAR and seen.logit(READS) >= SURE


def _price(size: Size, beads: int) -> float:
    """What it costs to be tall and to have few beads."""
    few = float(np.log(max(ENOUGH_BEADS / max(beads, 1), 1.0)))
    return STRETCH_PRICE * (size.stretch - 1) + FEW_PRICE * few


def sizes(sketch: FlatSketch, lattice: Lattice, wanted: Wanted) -> list[Size]:
    """Return the sizes that are tried: smallest first, and first those that are not turned."""
    if wanted.stretch is not None:
        stretches: Sequence[float] = (wanted.stretch,)
    else:
        round_motif = len(sketch.turns_deg) > 1
        stretches = [
            s
            for s in STRETCHES[:: 2 if wanted.quick else 1]
            if not round_motif or s <= ROUND_STRETCH
        ]
    found = []
    turns = (0.0,) if wanted.turn_deg or wanted.pinned_turn else sketch.turns_deg
    for turn, stretch in product(turns, stretches):
        one = Size(1.0, stretch, wanted.turn_deg + turn, wanted.fit)
        wide, high = extent_mm(sketch, one)
        if wanted.width_mm is not None:
            # a height that is found is not found too tall; one that is asked for is refused later
            fits = wanted.width_mm * high / wide <= wanted.most_height_mm
            widths = [wanted.width_mm] if fits or stretch == stretches[0] else []
        else:
            room = (
                2 * lattice.radius_mm
                if wanted.fit == "face"
                else (MOST_ROUND * lattice.circumference_mm)
            )
            room = min(room, wanted.most_height_mm * wide / high)
            widths = list(_widths(_least_width_mm(sketch, lattice) * wide, room))
        found += [replace(one, width_mm=width / wide) for width in widths]
    # a motif stays upright where it reads so
    return sorted(
        found, key=lambda s: (s.turn_deg != wanted.turn_deg, np.prod(extent_mm(sketch, s)))
    )


def _widths(least: float, most: float) -> Floats:
    """Widths from the least to the most, in even ratios."""
    if least >= most:
        return np.array([most])
    count = 1 + int(np.ceil(np.log(most / least) / np.log(WIDTH_STEP)))
    return np.geomspace(least, most, count)


def _least_width_mm(sketch: FlatSketch, lattice: Lattice) -> float:
    """The width at which the narrowest part that matters is nearly a bead wide."""
    widths = [f.width for f in sketch.features if f.kind != "opening" and f.salience >= MATTERS]
    return LEAST_PART_BEADS * lattice.pitch_mm / min(widths, default=1.0)


def fit_at(sketch: FlatSketch, lattice: Lattice, size: Size, wanted: Wanted) -> FittedMotif:
    """Find the best place and colours at one size."""
    return _finished(_look(sketch, lattice, size, wanted), wanted)


class _Look(NamedTuple):
    """A sketch at one size, with first colours (k, beads) at all places, and their energies."""

    overlay: Overlay
    colours: Ints
    energies: Floats


def _look(sketch: FlatSketch, lattice: Lattice, size: Size, wanted: Wanted) -> _Look:
    """Give each bead its best colour by itself, at all places at once."""
    high = extent_mm(sketch, size)[1]
    patch = Patch.of(lattice, high / 2 + 1.5 * lattice.covering_radius_mm)
    if wanted.offset_mm is not None:
        places = np.array([wanted.offset_mm])
    elif sketch.half_turn:
        places = patch.centres_mm
    else:
        apart = 1.5 * SPACING_PITCHES if wanted.quick else SPACING_PITCHES
        places = patch.offsets_mm(apart * lattice.pitch_mm)
    overlay = Overlay(sketch, size, patch, places)
    colours = overlay.first_colours()
    energies = overlay.energy(colours)
    # what is seen at once counts, from bead to bead: less than two thirds of the way round
    far = overlay.reach_mm(colours) > _most_mm(lattice, wanted)
    energies = np.where(far, energies + FAR_PRICE, energies)
    return _Look(overlay, colours, energies)


def _most_mm(lattice: Lattice, wanted: Wanted) -> float:
    """How far apart round the braid the outermost beads may lie, where the size is found."""
    found = wanted.width_mm is None
    return MOST_ROUND * lattice.circumference_mm - ROUNDING_MM if found else np.inf


def _finished(look: _Look, wanted: Wanted, places: int = FINALISTS) -> FittedMotif:
    """Improve the best places bead by bead, and judge the best of them."""
    overlay, colours, energies = look
    order = np.argsort(energies, kind="stable")
    most_mm = _most_mm(overlay.patch.lattice, wanted)
    # a place that goes too far round is none, if there is another
    near = overlay.reach_mm(colours)[order] <= most_mm
    order = order[near] if near.any() else order
    finalists = []
    for place in order[: 1 if wanted.quick else places].tolist():
        partner = None
        if overlay.sketch.half_turn and wanted.offset_mm is None:
            partner = overlay.patch.upside_down(overlay.offsets_mm[place])
        found = improve(overlay.at(place), colours[place], partner, most_mm)
        finalists.append((place, found))
    place, best = min(finalists, key=lambda one: one[1].energy)
    beads = int(np.count_nonzero(best.colours != overlay.ground))
    energy = float(overlay.at(place).energy(best.colours[None])[0])
    apart = overlay.at(place).apart(best.colours)
    right, up = overlay.offsets_mm[place]
    return FittedMotif(
        overlay.size,
        overlay.patch,
        (float(right), float(up)),
        overlay.inks[best.colours],
        energy,
        legibility_of(overlay.sketch.features, best.kept, _evidence(overlay, energy, beads), apart),
    )
