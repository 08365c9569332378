"""What beads look like from so far that no single one is seen.

    U = min_t Σ_inks ∫ (G * (t · beads - sketch))² / Σ_inks ∫ (G * sketch)²,   0 <= t <= 1

Sketch and beads are a plane for each colour but the ground; G is a Gaussian. U is 0 where nothing
can be told apart, 1 where nothing is drawn. With t, a row of beads broader than the line it stands
for counts as that line drawn too strongly: with t = 1 a line a fifth of a bead wide looks better
from afar as dots, and falls into 13 pieces. It stands for J, the score of a finished design (see
`himotif.convert.fit.comparison`): like it, it forgives a bead too few on one side of an edge for
one too many beside it. A plane of beads is a sum of blurred cells, so U is a quadratic form in
them; its matrix is the same wherever the sketch lies, and hundreds of colourings take a
millisecond.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from ...core.arrays import Float32Array, Floats, Ints
from ..read import gaussian_transfer
from .cells import between, cell
from .patch import Patch

BLUR_PITCHES = 0.35
"""Standard deviation of G, in bead pitches; with 0.5 letters read a little better and J is 6 %
higher."""

AFAR_WEIGHT = 1.1
"""Weight of what is unlike as much as a braid on which nothing is drawn, beside losing all
features, 1. With the wrong area in its place 35 of the 40 pictograms of
``tests/benchmarks/reading.py`` are read on 8 strands, with 1, 1.1 and 1.5 36, 37 and 38; of the
capitals of two typefaces 25 of 26 each time. From 1.2 on the flower there loses its leaves, a bead
that is hardly half leaf. Mean J is the same within 3 % (35 conversions)."""


@dataclass(frozen=True, eq=False)
class Afar:
    """A sketch over a patch as it is seen from afar.

    Parameters
    ----------
    whole : float
        Of the squared planes of the sketch, over all pixels.
    toward : (k, beads, inks) float32
        What each bead has in common with the sketch at each place, with each ink; 0 for ground.
    overlap : (beads, beads) float32
        What each bead has in common with each.
    """

    whole: float
    toward: Float32Array
    overlap: Float32Array

    @classmethod
    def of(
        cls, planes: Float32Array, patch: Patch, over_beads: Callable[[Float32Array], Float32Array]
    ) -> Afar:
        """Return a sketch as it is seen from afar.

        Parameters
        ----------
        planes : (inks, H, W) float32
            Share of each ink in each pixel of the patch, 0 for the ground.
        patch : Patch
        over_beads : callable
            From planes (p, H, W) to their values at the middles of the beads, (k, beads, p).
        """
        px_per_mm = patch.px_per_mm
        shape = planes.shape[1:]
        sigma = BLUR_PITCHES * patch.lattice.pitch_mm * px_per_mm
        blur = gaussian_transfer(shape, (sigma, sigma), (int(4 * sigma),) * 2)
        one = patch.lattice.cell_area_mm2 * px_per_mm**2 * cell(shape, patch.lattice, px_per_mm)
        bead = np.fft.rfft2(one) * blur
        drawn = np.fft.rfft2(planes) * blur
        whole = float((np.fft.irfft2(drawn, s=shape) ** 2).sum())
        toward = over_beads(np.fft.irfft2(drawn * bead, s=shape).astype(np.float32))
        alike = np.fft.fftshift(np.fft.irfft2(np.abs(bead) ** 2, s=shape))
        right = (patch.x_mm[:, None] - patch.x_mm) / patch.lattice.circumference_mm * shape[1]
        down = (patch.y_mm - patch.y_mm[:, None]) * px_per_mm
        overlap = between(
            alike[None].astype(np.float32), down + shape[0] // 2, right + shape[1] // 2
        )[0]
        return cls(max(whole, 1e-9), toward, overlap)

    def at(self, place: int) -> Afar:
        """Return the same at one of the places alone."""
        return replace(self, toward=self.toward[place : place + 1])

    def unlike(self, colours: Ints) -> Floats:
        """Return U of colours (k, beads), (k,): one of each place, or many of the only one."""
        inks = np.flatnonzero(self.toward.any(axis=(0, 1)))
        drawn = (colours[:, None] == inks[:, None]).astype(np.float32)
        both = (drawn * np.moveaxis(self.toward[..., inks], 2, 1)).sum(axis=(1, 2))
        own = ((drawn @ self.overlap) * drawn).sum(axis=(1, 2))
        gain = np.clip(both / np.maximum(own, 1e-9), 0.0, 1.0)
        unlike = self.whole - gain * (2 * both - gain * own)
        return np.asarray(unlike / self.whole, dtype=np.float64)
