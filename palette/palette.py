"""A palette: the beads a maker has, and their colours as arrays.

`rgb` is a bead as it lies on white paper. What is matched and measured is how it looks in the
braid: a metallic bead is darker there, as it mirrors the dark of a room, too; see `finishes.json`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..core.arrays import Bytes, Float32Array, Floats
from ..core.bead import Bead
from ..core.errors import WrongUsage
from ..core.findings import Code, Finding
from ..core.finish import on_cord, surfaces_of
from ..core.srgb import linear_to_srgb, srgb_to_linear
from .colour import linear_to_lab, srgb_to_lab


@dataclass(frozen=True)
class Palette:
    """The beads at hand, in the order of their file.

    Parameters
    ----------
    beads : tuple of Bead
        At least one; codes are unique.
    name : str
        The name of the palette or of its file.
    findings : tuple of Finding
        What the reader has to say about the file.
    """

    beads: tuple[Bead, ...]
    name: str = "palette"
    findings: tuple[Finding, ...] = ()

    def __len__(self) -> int:
        return len(self.beads)

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes, in order."""
        return tuple(bead.code for bead in self.beads)

    @cached_property
    def rgb(self) -> Bytes:
        """SRGB codes, uint8 (n, 3)."""
        return np.array([bead.rgb for bead in self.beads], dtype=np.uint8).reshape(-1, 3)

    @cached_property
    def lab(self) -> Floats:
        """CIE Lab (D65, 2°) of the beads as they look in the braid, float64 (n, 3)."""
        plain = srgb_to_lab(self.rgb)
        shaded = self._shade > 0
        if shaded.any():
            plain[shaded] = linear_to_lab(self.linear[shaded].astype(np.float64))
        return plain

    @cached_property
    def linear(self) -> Float32Array:
        """Linear light of the beads as they look in the braid, 0..1, float32 (n, 3)."""
        return srgb_to_linear(self.rgb) * (1 - self._shade[:, None])

    @property
    def seen_rgb(self) -> Bytes:
        """SRGB codes of the beads as they look in the braid, uint8 (n, 3)."""
        return np.where(self._shade[:, None] > 0, linear_to_srgb(self.linear), self.rgb)

    @cached_property
    def _shade(self) -> Float32Array:
        return surfaces_of(self.beads).shade

    def index(self, code: str) -> int:
        """Return the place of a bead.

        Raises
        ------
        WrongUsage
            If no bead has this code.
        """
        codes = self.codes
        if code not in codes:
            raise WrongUsage(
                f"bead {code!r:.40} is not in {self.name}; its codes are {', '.join(codes)}."
            )
        return codes.index(code)

    def subset(self, indices: Iterable[int]) -> Palette:
        """Return a palette of the beads at `indices`, in that order."""
        return Palette(tuple(self.beads[index] for index in indices), self.name, self.findings)


def palette_on_cord(palette: Palette, cord: str) -> Palette:
    """Return a palette as its beads look on their cord, which is a finding.

    What passes clear beads meets it.

    Parameters
    ----------
    palette : Palette
        Colours as on white paper.
    cord : str
        #rrggbb.
    """
    light = srgb_to_linear(np.array(list(bytes.fromhex(cord[1:])), np.uint8))
    clear = surfaces_of(palette.beads).clear
    linear = srgb_to_linear(palette.rgb)
    seen = on_cord(linear.astype(float), clear.astype(float), light.astype(float))
    codes = linear_to_srgb(seen).tolist()
    beads = tuple(
        bead if not passing else replace(bead, rgb=(red, green, blue))
        for bead, passing, (red, green, blue) in zip(palette.beads, clear, codes, strict=True)
    )
    codes = [bead.code for bead, passing in zip(palette.beads, clear, strict=True) if passing]
    said = (Finding(Code.SEEN_ON_CORD, {"codes": codes, "cord": cord}),) if codes else ()
    return Palette(beads, palette.name, (*palette.findings, *said))
