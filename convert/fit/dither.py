"""Dithering on the bead lattice, for shaded pictures only.

Error diffusion in working order: what a bead is too light or too red is passed on, in linear
light, to those of its six neighbours that are worked later.
"""

from __future__ import annotations

import numpy as np

from ...core.arrays import Float32Array, Floats, Ints
from ...palette import linear_lab

NEAREST = 4
"""Colours that may be mixed for one. With 1 to 16 J of five pictures is the same within 0.3 % once
they are searched; far colours make grain."""


def diffuse(means: Floats, inks: Float32Array, neighbours: Ints) -> Ints:
    """Return an ink for every bead so that neighbours together make the wanted colours.

    Parameters
    ----------
    means : (beads, 3) float
        The wanted colours in linear light, in working order.
    inks : (k, 3) float32
        Colours of the inks in linear light.
    neighbours : (beads, 6) int

    Returns
    -------
    (beads,) int
    """
    wanted_lab = linear_lab(means.astype(np.float32))
    ink_lab = linear_lab(inks)
    apart = np.linalg.norm(wanted_lab[:, None] - ink_lab[None], axis=-1)
    few = np.argsort(apart, axis=1, kind="stable")[:, :NEAREST]
    later = neighbours > np.arange(len(means))[:, None]
    share = 1 / np.maximum(later.sum(axis=1), 1)
    light = inks.astype(np.float64)
    carried = np.zeros_like(means)
    chosen = np.zeros(len(means), dtype=np.intp)
    for bead in range(len(means)):
        # what no light can make up is not passed on
        target = np.clip(means[bead] + carried[bead], 0, 1)
        tone = np.sqrt(target) - np.sqrt(light[few[bead]])
        ink = few[bead][np.argmin((tone**2).sum(axis=1))]
        chosen[bead] = ink
        carried[neighbours[bead][later[bead]]] += share[bead] * (target - light[ink])
    return chosen
