"""Dithering on the bead lattice, for shaded pictures only.

Error diffusion in working order: what a bead is too light or too red is passed on, in linear
light, to those of its six neighbours that are worked later. A bead only takes colours of about
the lightness that is wanted there: of several ways to mix a colour the one that varies least in
brightness shows least (D. Shaked, N. Arad, A. Fitzhugh, I. Sobel, "Color Diffusion:
Error-Diffusion for Color Halftones", HP Labs report HPL-96-128, 1996).
"""

from __future__ import annotations

import numpy as np

from ...core.arrays import Float32Array, Floats, Ints
from ...palette import linear_lab

NEAREST = 4
"""Colours that may be mixed for one."""

LIGHTNESS_BAND = 14.0
"""They may be so much further from the wanted lightness L* than the nearest is."""

PASSED_ON = 0.9
"""Part of the error that is passed on: all of it makes worms where colours are out of reach."""


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
    off = np.abs(ink_lab[few, 0] - wanted_lab[:, :1])
    allowed = off <= off[:, :1] + LIGHTNESS_BAND
    later = neighbours > np.arange(len(means))[:, None]
    share = PASSED_ON / np.maximum(later.sum(axis=1), 1)
    light = inks.astype(np.float64)
    carried = np.zeros_like(means)
    chosen = np.zeros(len(means), dtype=np.intp)
    for bead in range(len(means)):
        target = means[bead] + carried[bead]
        choices = few[bead][allowed[bead]]
        tone = np.sqrt(np.clip(target, 0, 1)) - np.sqrt(light[choices])
        ink = choices[np.argmin((tone**2).sum(axis=1))]
        chosen[bead] = ink
        error = np.clip(target - light[ink], -0.3, 0.3)
        carried[neighbours[bead][later[bead]]] += share[bead] * error
    return chosen
