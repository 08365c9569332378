"""Finishes of beads: what the free text of a palette says of gloss and of light that passes."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from ._data import load
from .arrays import Float32Array, Floats, Ints
from .bead import Bead


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


class Surfaces(NamedTuple):
    """The finish of each bead, float32 (n,) each; see `Finish`."""

    gloss: Float32Array
    sheen: Float32Array
    tint: Float32Array
    clear: Float32Array
    glass: Float32Array
    lining: Float32Array
    rainbow: Float32Array
    shade: Float32Array

    def take(self, beads: Ints) -> Surfaces:
        """Return those of some beads, (k,)."""
        return Surfaces(*(values[beads] for values in self))


def surfaces_of(beads: Iterable[Bead]) -> Surfaces:
    """Return the finishes of the beads of a palette."""
    found = [finish_of(bead.finish) for bead in beads]
    return Surfaces(
        *(
            np.array([getattr(one, part.name) for one in found], np.float32)
            for part in fields(Finish)
        )
    )


def on_cord(linear: Floats, clear: Floats, cord: Floats) -> Floats:
    """Return the colours of beads as they look on their cord.

    The palette has a bead's colour as it lies on white paper; what passes it meets the cord.

    Parameters
    ----------
    linear : (n, 3)
        Linear light.
    clear : (n,)
        Share of the light that passes.
    cord : (3,)
        Linear light.
    """
    passing = clear[:, None]
    return np.asarray(linear * (1 - passing + passing * cord))
