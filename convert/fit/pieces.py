"""Parts that show, strokes that stay in one piece, and outlines that stay closed.

A part of a flat sketch as large as a bead that no bead shows gets the bead that it covers best. A
part that its beads show in several pieces is joined by the path of beads that it covers best; a
ground inside an outline that runs into the ground outside is shut off by the bead of the leak that
the outline covers best.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.intp]
Floats = npt.NDArray[np.float64]
Bools = npt.NDArray[np.bool_]
Singles = npt.NDArray[np.float32]

TOUCHED = 0.06
"""A part that covers less of a bead's cell only touches it."""

SHOWING = 0.2
"""A bead whose cell a part covers so much may stand for it."""

FINE = 0.3
"""A pixel with more of another ink than this part of its ground belongs to the other."""

PART_BEADS = 0.8
"""Smaller parts are not looked after."""


def parts_of(shares: Singles, ground: int, owner: Ints, beads: int) -> tuple[Ints, Floats]:
    """Return the ink of each connected part of a sketch, and how much of each cell it covers.

    Parts smaller than a bead are left out; a colour that has no larger one is a part as a whole.

    Parameters
    ----------
    shares : (H, W, k) float32
        Share of each ink in each pixel, on the torus.
    ground : int
        The ink of the background.
    owner : (H, W) int
    beads : int

    Returns
    -------
    (parts,) int, (parts, beads) float
    """
    from scipy import ndimage

    # a line may be finer than a pixel: it must not fall apart here
    weight = np.ones(shares.shape[-1], dtype=np.float32)
    weight[ground] = FINE
    ink = np.argmax(shares * weight, axis=-1)
    size = np.bincount(owner.ravel(), minlength=beads)
    inks, covers = [], []
    for number in np.unique(ink):
        pieces, _ = ndimage.label(ink == number, structure=np.ones((3, 3)))
        pieces = _joined(pieces)
        parts = [pieces == piece for piece in np.unique(pieces[pieces > 0])]
        large = [part for part in parts if part.sum() >= PART_BEADS * size.mean()]
        # a colour in small pieces is looked after as one
        for part in large or [ink == number]:
            if part.sum() >= PART_BEADS * size.mean():
                inks.append(int(number))
                covers.append(np.bincount(owner[part], minlength=beads) / np.maximum(size, 1))
    return np.array(inks, dtype=np.intp), np.array(covers).reshape(len(inks), beads)


def _joined(pieces: Ints) -> Ints:
    """Give pieces that meet across the seams of the torus one number."""
    number = np.arange(pieces.max() + 1)
    for one, other in ((pieces[0], pieces[-1]), (pieces[:, 0], pieces[:, -1])):
        for a, b in {(int(a), int(b)) for a, b in zip(one, other, strict=True) if a and b}:
            number[number == number[a]] = number[b]
    return np.asarray(number[pieces])


def mended(
    colours: Ints,
    inks: Ints,
    covers: Floats,
    neighbours: Ints,
    borne: Callable[[Ints], Ints | None],
) -> Ints:
    """Mend one fault after the other, as far as it can be borne.

    Parameters
    ----------
    colours : (beads,) int
    inks : (parts,) int
    covers : (parts, beads) float
    neighbours : (beads, 6) int
    borne : callable
        Takes colours with one more fault mended; returns those to go on with, or None to leave
        the fault.

    Returns
    -------
    (beads,) int
    """

    def changed(beads: list[int], ink: int) -> bool:
        nonlocal colours
        trial = colours.copy()
        trial[beads] = ink
        kept = borne(trial)
        if kept is not None:
            colours = kept
        return kept is not None

    for part, ink in enumerate(inks):
        bead = _best_place(part, colours, inks, covers)
        if bead is not None:
            changed([bead], int(ink))
        for _ in range(8):
            path = _missing_link(colours, int(ink), covers[part], neighbours)
            if path is None or not changed(path, int(ink)):
                break
    for one in range(len(inks)):
        for other in range(one):
            if inks[one] != inks[other]:
                continue
            for _ in range(8):
                leak = _leak(colours, inks, covers, (one, other), neighbours)
                if leak is None or not changed([leak[0]], leak[1]):
                    break
    return colours


def _best_place(part: int, colours: Ints, inks: Ints, covers: Floats) -> int | None:
    """The bead to change so that a part shows at all; None if it does, or nowhere covers enough.

    A bead that alone shows another part is left to it.
    """
    shown = (colours == inks[:, None]) & (covers >= TOUCHED)
    if shown[part].any():
        return None
    alone = shown.sum(axis=1) == 1
    free = ~shown[alone].any(axis=0) & (covers[part] >= SHOWING)
    return int(np.argmax(np.where(free, covers[part], -1))) if free.any() else None


def _reached(start: list[int], allowed: Bools, neighbours: Ints) -> dict[int, int]:
    """Beads reached from some by walking over allowed ones, with the bead each came from."""
    came = dict.fromkeys(start, -1)
    walk = list(start)
    for bead in walk:
        for other in neighbours[bead].tolist():
            if allowed[other] and other not in came:
                came[other] = bead
                walk.append(other)
    return came


def _missing_link(colours: Ints, ink: int, cover: Floats, neighbours: Ints) -> list[int] | None:
    """The beads to change to join two pieces of a part; None if it is in one piece."""
    same = colours == ink
    shown = np.flatnonzero(same & (cover >= TOUCHED)).tolist()
    if not shown:
        return None
    first = _reached(shown[:1], same, neighbours)
    rest = [bead for bead in shown if bead not in first]
    if not rest:
        return None
    # the cheapest way to another piece: nothing for beads of this ink, less for well covered ones
    goal = set(rest)
    cost = np.where(same, 0.0, np.where(cover >= TOUCHED, 1.2 - cover, np.inf))
    best = dict.fromkeys(first, 0.0)
    came = dict.fromkeys(first, -1)
    queue = [(0.0, bead) for bead in first]
    heapq.heapify(queue)
    while queue:
        so_far, bead = heapq.heappop(queue)
        if so_far > best[bead]:
            continue
        if bead in goal:
            path = []
            while bead != -1:
                if not same[bead]:
                    path.append(bead)
                bead = came[bead]
            return path
        for other in neighbours[bead].tolist():
            further = so_far + float(cost[other])
            if further < best.get(other, np.inf):
                best[other], came[other] = further, bead
                heapq.heappush(queue, (further, other))
    return None


def _leak(
    colours: Ints, inks: Ints, covers: Floats, pair: tuple[int, int], neighbours: Ints
) -> tuple[int, int] | None:
    """The bead to change, and its ink, to part two parts of one ink; None if they are apart."""
    ink = int(inks[pair[0]])
    same = colours == ink
    one, other = (np.flatnonzero(same & (covers[part] >= 0.6)).tolist() for part in pair)
    if not one or not other:
        return None
    came = _reached(one, same, neighbours)
    bead = next((bead for bead in other if bead in came), None)
    best: tuple[float, int, int] | None = None
    while bead is not None and bead != -1:
        for part in np.flatnonzero(inks != ink).tolist():
            cover = float(covers[part, bead])
            if cover >= TOUCHED and (best is None or cover > best[0]):
                best = (cover, bead, int(inks[part]))
        bead = came[bead]
    return None if best is None else best[1:]
