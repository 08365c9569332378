"""A palette: the beads a maker has, and their colours as arrays.

A bead's own colour is that on white paper. What is matched and measured is how it looks in the
braid: on its cord, and a metallic bead is darker, as it mirrors the dark of a room, too; see
`finishes.json`.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..core.arrays import Bytes, Float32Array, Floats
from ..core.bead import Bead
from ..core.errors import WrongUsage
from ..core.findings import Code, Finding
from ..core.finish import finish_of, on_cord
from ..core.srgb import Rgb, linear_to_srgb, srgb_to_linear
from .colour import linear_to_lab, srgb_to_lab

if TYPE_CHECKING:
    from ..core.design import Design


@dataclass(frozen=True)
class Palette:
    """The beads at hand, in the order of their file.

    Parameters
    ----------
    beads : tuple of Bead
        At least one, in their own colours; codes are unique.
    name : str
        The name of the palette or of its file.
    findings : tuple of Finding
        What the reader has to say about the file.
    cord_rgb : (int, int, int), optional
        sRGB of the cord that they are worked on; white if left out.
    """

    beads: tuple[Bead, ...]
    name: str = "palette"
    findings: tuple[Finding, ...] = ()
    cord_rgb: Rgb | None = None

    @classmethod
    def of(cls, design: Design) -> Palette:
        """Return the beads of a design, on its cord."""
        return cls(design.palette, cord_rgb=design.cord_rgb)

    def __len__(self) -> int:
        return len(self.beads)

    @property
    def codes(self) -> tuple[str, ...]:
        """The codes, in order."""
        return tuple(bead.code for bead in self.beads)

    @cached_property
    def on_cord(self) -> tuple[Bead, ...]:
        """The beads as they look on their cord."""
        return on_cord(self.beads, self.cord_rgb)

    @cached_property
    def rgb(self) -> Bytes:
        """SRGB codes of the beads on their cord, uint8 (n, 3)."""
        return np.array([bead.rgb for bead in self.on_cord], dtype=np.uint8).reshape(-1, 3)

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
        return np.array([finish_of(bead.finish).shade for bead in self.beads], np.float32)

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
        return replace(self, beads=tuple(self.beads[index] for index in indices))


def palette_on_cord(palette: Palette, cord: str | None) -> Palette:
    """Return a palette that is worked on a cord; clear beads look otherwise there: a finding.

    Parameters
    ----------
    palette : Palette
    cord : str or None
        #rrggbb; the palette as it is if nothing is said of it.
    """
    if cord is None:
        return palette
    red, green, blue = bytes.fromhex(cord[1:])
    codes = [bead.code for bead in palette.beads if finish_of(bead.finish).clear > 0]
    findings = palette.findings
    if codes:
        from .colour_names import colour_names

        (name,) = colour_names([(red, green, blue)])
        findings += (Finding(Code.SEEN_ON_CORD, {"codes": codes, "cord": cord, "name": name}),)
    return replace(palette, findings=findings, cord_rgb=(red, green, blue))
