"""Bead by bead, and path by path: a colouring of one place, improved as long as the energy falls.

Two moves: one bead takes another colour, and a path of beads takes the colour of a feature whose
axis they lie under, so that two runs of it become one.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator
from dataclasses import dataclass
from math import inf

import numpy as np

from ...core.arrays import Bools, Floats, Ints
from .energy import Overlay

TRACE = 0.08
"""A bead takes no colour of which there is less in its cell, but the ground's."""

LEAST_ENERGY_GAIN = 1e-4
"""Moves that lower the energy by less are not made."""


@dataclass(frozen=True, eq=False)
class Coloured:
    """A colouring of one place.

    Parameters
    ----------
    energy : float
        By what it looks like from afar.
    colours : (beads,) int
        Places among the inks of the sketch.
    kept : (features,) float
    """

    energy: float
    colours: Ints
    kept: Floats


def improve(
    overlay: Overlay, colours: Ints, partner: Ints | None = None, most_mm: float = np.inf
) -> Coloured:
    """Improve a colouring of the only place of a laid sketch.

    Parameters
    ----------
    overlay : Overlay
        At one place.
    colours : (beads,) int
    partner : (beads,) int, optional
        The bead that is to have the same colour as each.
    most_mm : float
        No single bead makes a motif reach further round the braid; a path may, to stay whole.
    """
    if partner is not None:
        every = np.arange(len(colours))
        colours = colours[np.minimum(every, partner)]
    energy = float(overlay.energy_afar(colours[None])[0])
    while True:
        single = [*_single(overlay, colours)]
        trials = np.array([*single, *_paths(overlay, colours)], dtype=np.intp)
        if not len(trials):
            break
        if partner is not None:
            changed = trials != colours
            trials = np.where(changed[:, partner], trials[:, partner], trials)
        energies = overlay.energy_afar(trials)
        most = max(most_mm, float(overlay.reach_mm(colours[None])[0]))
        energies[: len(single)][overlay.reach_mm(trials[: len(single)]) > most] = np.inf
        best = int(np.argmin(energies))
        if energies[best] > energy - LEAST_ENERGY_GAIN:
            break
        energy, colours = float(energies[best]), trials[best]
    return Coloured(energy, colours, overlay.kept(colours[None])[0])


def _single(overlay: Overlay, colours: Ints) -> Iterator[Ints]:
    """Every colouring in which one bead takes another colour that lies in its cell."""
    shares = overlay.shares[0]
    may = shares >= TRACE
    may[:, overlay.ground] |= (shares[:, overlay.ground] < 1 - TRACE) & (colours != overlay.ground)
    may[np.arange(len(colours)), colours] = False
    for bead, ink in np.argwhere(may):
        trial = colours.copy()
        trial[bead] = ink
        yield trial


def _paths(overlay: Overlay, colours: Ints) -> Iterator[Ints]:
    """Every colouring in which two runs of a feature's beads are joined."""
    from .energy import connected_runs

    runs = connected_runs(colours[None], overlay.patch.neighbours)[0]
    merit = overlay.merit()[0]
    for number, ink in enumerate(overlay.ink_of):
        here = overlay.axis[0, number] * (colours == ink)
        length = np.bincount(runs, here)
        if np.count_nonzero(length) < 2:
            continue
        first = runs == np.argmax(length)
        goal = (here > 0) & ~first
        loss = np.take_along_axis(merit, colours[:, None], axis=1)[:, 0] - merit[:, ink]
        open_beads = (overlay.shares[0, :, ink] >= TRACE) | (colours == ink)
        cost = np.where(open_beads, np.maximum(loss, 0.0), np.inf)
        path = cheapest_path(first, goal, cost, overlay.patch.neighbours)
        if path is not None:
            trial = colours.copy()
            trial[path] = ink
            yield trial


def cheapest_path(start: Bools, goal: Bools, cost: Floats, neighbours: Ints) -> list[int] | None:
    """Return the beads of the cheapest path between two sets, None if there is none.

    Parameters
    ----------
    start, goal : (beads,) bool
    cost : (beads,) float
        Of walking over a bead, 0 or more; infinite where no path goes.
    neighbours : (beads, n) int
        -1 is none.
    """
    best = dict.fromkeys(np.flatnonzero(start).tolist(), 0.0)
    came: dict[int, int] = {}
    queue = [(0.0, bead) for bead in best]
    # plain numbers: to look single ones up in an array takes ten times as long
    goals, costs, beside = goal.tolist(), cost.tolist(), neighbours.tolist()
    while queue:
        so_far, bead = heapq.heappop(queue)
        if so_far > best[bead]:
            continue
        if goals[bead]:
            path = [bead]
            while path[-1] in came:
                path.append(came[path[-1]])
            return path
        for other in beside[bead]:
            if other < 0:
                continue
            through = so_far + costs[other]
            # nothing is less than infinite where no path goes
            if through < best.get(other, inf):
                best[other], came[other] = through, bead
                heapq.heappush(queue, (through, other))
    return None
