"""Whether two beads can be told apart: by day, in weak light, and by eyes that see fewer hues.

By day two beads at arm's length are told apart from CIEDE2000 `HARD_TO_TELL` on. For the other
ways of seeing, colours become what they look like there, and the same holds.

Weak light: between candle light and dusk both kinds of receptors see. As in CIE 191:2010 the
luminance is a mean of the photopic and the scotopic one, with the share `PHOTOPIC`; the scotopic
luminance of a colour is estimated from its tristimulus values (G. W. Larson, H. Rushmeier, C.
Piatko, IEEE Trans. Vis. Comput. Graph. 3 (1997) 291-306), and hues fade by the same share, which is
an assumption of this project.

Fewer hues: G. M. Machado, M. M. Oliveira, L. A. F. Fernandes, IEEE Trans. Vis. Comput. Graph. 15
(2009) 1291-1298, doi:10.1109/TVCG.2009.113, severity 1 (one kind of cones is missing), on linear
light.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import compress
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from ..core.arrays import Floats, Ints
from .colour import XYZ_FROM_LINEAR, lab_to_linear, linear_to_lab
from .difference import ciede2000
from .palette import Palette

Sight = Literal["day", "weak light", "protan", "deutan", "tritan"]

# A choice of this project, not a norm: beads this near are easily mixed up in the tray and hardly
# part in the braid. Under 1 two flat patches can hardly be distinguished side by side.
HARD_TO_TELL = 5.0

PHOTOPIC = 0.5
"""Share of the photopic luminance in weak light; CIE 191 has about so much at some 0.1 cd/m², a
table in the evening by one candle (from memory)."""

# linear sRGB to what such eyes see, severity 1 (table 1 of the paper above)
MACHADO: Mapping[Sight, npt.NDArray[np.float64]] = {
    "protan": np.array(
        [
            [0.152286, 1.052583, -0.204868],
            [0.114503, 0.786281, 0.099216],
            [-0.003882, -0.048116, 1.051998],
        ]
    ),
    "deutan": np.array(
        [
            [0.367322, 0.860646, -0.227968],
            [0.280085, 0.672501, 0.047413],
            [-0.011820, 0.042940, 0.968881],
        ]
    ),
    "tritan": np.array(
        [
            [1.255528, -0.076749, -0.178779],
            [-0.078411, 0.930809, 0.147602],
            [0.004733, 0.691367, 0.303900],
        ]
    ),
}
SIGHTS: tuple[Sight, ...] = ("day", "weak light", *MACHADO)


def seen_as(lab: Floats, sight: Sight) -> Floats:
    """Return what colours look like.

    Parameters
    ----------
    lab : float array (n, 3)
        CIE Lab (D65).
    sight : 'day', 'weak light', 'protan', 'deutan' or 'tritan'

    Returns
    -------
    float array (n, 3)
        CIE Lab.
    """
    if sight == "day":
        return lab
    linear = np.asarray(lab_to_linear(lab), np.float64)
    if sight != "weak light":
        return np.asarray(linear_to_lab(np.clip(linear @ MACHADO[sight].T, 0, 1)))
    luminance = PHOTOPIC * (linear @ XYZ_FROM_LINEAR[1]) + (1 - PHOTOPIC) * scotopic(linear)
    light = linear_to_lab(np.repeat(luminance[:, None], 3, axis=1))[:, :1]
    return np.hstack([light, PHOTOPIC * lab[:, 1:]])


def scotopic(linear: Floats) -> Floats:
    """Return the scotopic luminance of linear light (n, 3), 1 for white: Larson et al., eq. 13."""
    xyz = np.vstack([linear, np.ones(3)]) @ XYZ_FROM_LINEAR.T
    x, y, z = np.maximum(xyz.T, 1e-9)
    found = np.maximum(y * (1.33 * (1 + (y + z) / x) - 1.68), 0)
    return np.asarray(found[:-1] / found[-1])


class Alike(NamedTuple):
    """Two beads that are hard to tell apart.

    Attributes
    ----------
    first, second : int
        Places in the palette, ascending.
    difference : float
        CIEDE2000 by day.
    sights : tuple of str
        The ways of seeing in which they are hard to tell apart.
    """

    first: int
    second: int
    difference: float
    sights: tuple[Sight, ...]

    def as_dict(self, palette: Palette) -> dict[str, Any]:
        """Return it as plain values."""
        codes = [palette.codes[self.first], palette.codes[self.second]]
        return {
            "beads": codes,
            "ciede2000": round(self.difference, 2),
            "alike_to": list(self.sights),
        }


def every_pair(palette: Palette) -> Ints:
    """Return every two beads of a palette, by their places, (k, 2) ascending."""
    return np.argwhere(np.triu(np.ones((len(palette), len(palette)), bool), 1))


def seen_apart(palette: Palette, pairs: Ints) -> npt.NDArray[Any]:
    """Return the CIEDE2000 of pairs (k, 2) in every way of seeing, (k, 5): by day first."""
    return np.stack([_apart(palette, sight, *pairs.T) for sight in SIGHTS], axis=1)


def alike_of(pairs: Ints, apart: npt.NDArray[Any]) -> Iterator[Alike]:
    """Yield pairs (k, 2) with what is alike by the differences (k, 5) of `seen_apart`."""
    for (first, second), differences in zip(pairs.tolist(), apart, strict=True):
        sights = tuple(compress(SIGHTS, differences < HARD_TO_TELL))
        yield Alike(first, second, float(differences[0]), sights)


def alike_beads(palette: Palette, pairs: Ints | None = None) -> list[Alike]:
    """Return the pairs that are hard to tell apart in some way of seeing, nearest by day first.

    Parameters
    ----------
    palette : Palette
    pairs : int array (k, 2), optional
        Places of the beads that are asked about; by default all.
    """
    if pairs is None:
        pairs = every_pair(palette)
    apart = seen_apart(palette, pairs)
    some = (apart < HARD_TO_TELL).any(axis=1)
    return sorted(alike_of(pairs[some], apart[some]), key=lambda one: one.difference)


def better_bead(palette: Palette, pair: Alike, keep: int, among: Ints, used: Ints) -> int | None:
    """Return the bead nearest to one of a pair that is told apart from all that are used.

    Parameters
    ----------
    palette : Palette
    pair : Alike
    keep : int
        Which of the pair stays.
    among : int array
        Places of the beads that may be taken.
    used : int array
        Places of the beads that are used.

    Returns
    -------
    int or None
        Its place; None if there is none within three times `HARD_TO_TELL`.
    """
    goes = pair.first if keep == pair.second else pair.second
    others = np.setdiff1d(used, [goes])
    free = np.setdiff1d(among, used)
    if not len(free):
        return None
    apart = np.ones(len(free), bool)
    for sight in pair.sights:
        far = _apart(palette, sight, free[:, None], others[None]) >= HARD_TO_TELL
        apart &= far.all(axis=1)
    off = np.where(apart, _apart(palette, "day", free, np.array([goes])), np.inf)
    at = int(off.argmin())
    return int(free[at]) if off[at] < 3 * HARD_TO_TELL else None


def _apart(palette: Palette, sight: Sight, first: Ints, second: Ints) -> npt.NDArray[Any]:
    """CIEDE2000 of beads, by their places, as they are seen."""
    lab = seen_as(palette.lab, sight)
    return ciede2000(lab[first], lab[second])
