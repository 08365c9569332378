"""Finishes of beads: what the free text of a palette says of gloss and of light that passes."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import astuple, dataclass, fields, replace

import numpy as np

from ._data import load
from .arrays import Float32Array, Ints
from .bead import Bead
from .srgb import Rgb, linear_to_srgb, srgb_to_linear


@dataclass(frozen=True)
class Finish:
    """How a finish looks, as shares of the light; see ``finishes.json``, all from memory.

    Parameters
    ----------
    gloss, sheen : float
        A sharp and a wide highlight.
    tint : float
        How far these have the bead's own colour.
    clear : float
        Light that passes to what lies in the hole.
    glass : float
        Light at the rim of clear glass.
    lining : float
        How far the middle outshines the rim.
    rainbow : float
        Hues that change with the angle.
    shade : float
        How much less light than its colour a bead sends to the viewer on the whole.
    """

    gloss: float
    sheen: float
    tint: float
    clear: float
    glass: float
    lining: float
    rainbow: float
    shade: float


def finish_names() -> tuple[str, ...]:
    """Return the finishes whose looks are known, opaque first."""
    return tuple(load("finishes.json")["finishes"])


def finish_of(text: str | None) -> Finish:
    """Return how a bead looks by the free text of its finish; opaque if that says nothing.

    >>> finish_of("matte transparent").gloss, finish_of("transparent, matte").clear
    (0.0, 0.6)
    """
    table = load("finishes.json")["finishes"]
    written = " ".join(re.findall(r"[a-z]+", (text or "").lower().replace("color", "colour")))
    values = dict(table["opaque"])
    for name, row in table.items():
        if re.search(rf"\b{name.replace('-', ' ')}\b", written):
            values |= row
    return Finish(**values)


Surfaces = Float32Array
"""The finish of each bead, (n, 8), in the order of the parts of `Finish`."""


def surfaces_of(beads: Iterable[Bead]) -> Surfaces:
    """Return the finishes of the beads of a palette."""
    found = [astuple(finish_of(bead.finish)) for bead in beads]
    return np.array(found, np.float32).reshape(-1, len(fields(Finish)))


def on_cord(beads: Iterable[Bead], cord_rgb: Rgb | None) -> tuple[Bead, ...]:
    """Return beads with their colours as they look on their cord.

    A bead's colour is that on white paper; what passes a clear bead meets the cord instead.

    Parameters
    ----------
    beads : iterable of Bead
        In their own colours.
    cord_rgb : (int, int, int), optional
        sRGB; white if left out.
    """
    return _recoloured(beads, cord_rgb, lambda seen, own: seen[own])


def off_cord(beads: Iterable[Bead], cord_rgb: Rgb) -> tuple[Bead, ...]:
    """Return beads in their own colours from what they look like on their cord.

    Of all the codes that look the same there the middle one is taken, so that `on_cord` gives the
    same colours again.
    """

    def own(seen: Ints, code: int) -> int:
        away = np.abs(seen - code)
        nearest = np.flatnonzero(away == away.min())
        return int(nearest[len(nearest) // 2])

    return _recoloured(beads, cord_rgb, own)


def _recoloured(
    beads: Iterable[Bead], cord_rgb: Rgb | None, code_of: Callable[[Ints, int], int]
) -> tuple[Bead, ...]:
    """Clear beads with each code exchanged by the (256,) codes that their own ones look like."""
    beads = tuple(beads)
    if cord_rgb is None:
        return beads
    own = srgb_to_linear(np.arange(256, dtype=np.uint8)).astype(float)
    cord = srgb_to_linear(np.array(cord_rgb, np.uint8)).astype(float)
    found = []
    for bead in beads:
        if clear := float(np.float32(finish_of(bead.finish).clear)):
            seen = linear_to_srgb(np.outer(1 - clear + clear * cord, own)).astype(int)
            red, green, blue = (
                int(code_of(codes, code)) for codes, code in zip(seen, bead.rgb, strict=True)
            )
            bead = replace(bead, rgb=(red, green, blue))
        found.append(bead)
    return tuple(found)
