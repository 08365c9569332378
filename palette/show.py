"""What there is to say about a palette: its beads, and those that are hard to distinguish."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from .files import OPTIONAL
from .palette import Palette
from .sight import HARD_TO_TELL, Alike, alike_of, every_pair, seen_apart

MOST_PAIRS = 100
"""So many are named, more than anybody looks at; 2,000 beads of one colour make two million."""


@dataclass(frozen=True, eq=False)
class PaletteReport:
    """A palette, and which of its beads are hard to tell apart.

    Parameters
    ----------
    palette : Palette
    close, to_some : tuple of Alike
        Those of the day; and pairs that are so in weak light or to eyes that see fewer hues alone.
        Nearest by day first, `MOST_PAIRS` at most.
    more_close, more_to_some : int
        How many pairs are not among them.
    nearest : Alike or None
        The nearest pair by day, alike or not; None for a single bead.
    """

    palette: Palette
    close: tuple[Alike, ...]
    more_close: int
    to_some: tuple[Alike, ...]
    more_to_some: int
    nearest: Alike | None

    @classmethod
    def of(cls, palette: Palette) -> PaletteReport:
        """Compare every two beads of a palette."""
        pairs = every_pair(palette)
        apart = seen_apart(palette, pairs)
        nearest_first = np.argsort(apart[:, 0], kind="stable")
        near = apart[nearest_first] < HARD_TO_TELL
        by_day = nearest_first[near[:, 0]]
        some = nearest_first[~near[:, 0] & near.any(axis=1)]
        close, to_some, nearest = (
            tuple(alike_of(pairs[rows], apart[rows]))
            for rows in (by_day[:MOST_PAIRS], some[:MOST_PAIRS], nearest_first[:1])
        )
        return cls(
            palette,
            close,
            len(by_day) - len(close),
            to_some,
            len(some) - len(to_some),
            nearest[0] if nearest else None,
        )

    def as_dict(self) -> dict[str, Any]:
        """Return plain values for JSON.

        Returns
        -------
        dict
            ``name``; ``beads``, each with ``code, name, rgb``, the optional values it has, and
            ``rgb_in_braid`` if it looks otherwise there;
            ``hard_to_tell_apart``, each with ``beads`` (two codes) and ``ciede2000``, nearest
            first; ``alike_to_some``, pairs that are so in weak light or to eyes that see fewer
            hues; ``more_hard_to_tell_apart``, how many pairs are not named there; ``findings``.
        """
        palette = self.palette
        beads = []
        for bead, seen in zip(palette.beads, palette.seen_rgb.tolist(), strict=True):
            optional = {name: getattr(bead, name) for name in OPTIONAL}
            given = {name: value for name, value in optional.items() if value is not None}
            beads.append(bead.code_and_name | {"rgb": list(bead.rgb), **given})
            if seen != list(bead.rgb):
                beads[-1]["rgb_in_braid"] = seen
        close = [one.as_dict(palette) for one in self.close]
        return {
            "name": palette.name,
            "beads": beads,
            "hard_to_tell_apart": [{k: one[k] for k in ("beads", "ciede2000")} for one in close],
            "alike_to_some": [one.as_dict(palette) for one in self.to_some],
            "findings": [one.as_dict() for one in palette.findings],
            "more_hard_to_tell_apart": self.more_close,
        }
