"""Conversions for the tests: a picture on a braid of so many rounds, without a wrist."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache
from typing import Any
from unittest.mock import patch

from himotif.convert.job import convert
from himotif.convert.judge import keeping
from himotif.convert.judge.conversion import Conversion
from himotif.convert.judge.trials import Trials
from himotif.convert.options import Order
from himotif.convert.read.picture import Picture
from himotif.convert.read.sketch import read_sketch
from himotif.core.bead import bead_size
from himotif.core.braid.lattice import Lattice
from himotif.palette.palette import Palette

read_once = lru_cache(maxsize=8)(read_sketch)


@contextmanager
def no_trials() -> Iterator[None]:
    """Carry no other way out: beads, verdict and what is lost are the same, without remedies."""
    with (
        patch.object(Trials, "_carried_out", lambda *_: None),
        patch.object(keeping, "MOST_SEARCHES", 0),
    ):
        yield


def converted(
    picture: Picture, palette: Palette, lattice: Lattice, rounds: int = 60, **order: Any
) -> Conversion:
    """Convert a picture in 8/0 beads, without remedies."""
    with no_trials():
        return advised(picture, palette, lattice, rounds, **order)


def advised(
    picture: Picture, palette: Palette, lattice: Lattice, rounds: int = 60, **order: Any
) -> Conversion:
    """Convert a picture in 8/0 beads, with the remedies for what is lost."""
    asked = Order(**order)
    sketch = read_once(picture, asked.kind)
    return convert(asked, picture, palette, lattice, bead_size("8/0"), rounds, sketch)
