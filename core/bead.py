"""Beads as things: their sizes (common practice, a caliper reading always wins), one palette row.

>>> bead_size("8/0").diameter_mm
3.0
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import Any, NamedTuple

from ._data import load
from .bounds import BOUNDS, beyond, fits
from .errors import WrongUsage

Range = tuple[float, float]


@dataclass(frozen=True)
class BeadSize:
    """A round bead.

    Parameters
    ----------
    name : str or None
        Trade size such as ``'8/0'``; None for a bead given by its measures.
    diameter_mm, length_mm : float
        Across, and along the hole.
    hole_mm, beads_per_gram : (float, float), optional
        Smallest and largest usual value.
    """

    name: str | None
    diameter_mm: float
    length_mm: float
    hole_mm: Range | None = None
    beads_per_gram: Range | None = None

    def __post_init__(self) -> None:
        for label, value in (("diameter", self.diameter_mm), ("length", self.length_mm)):
            if problem := beyond("bead", value):
                raise WrongUsage(f"bead {label} {problem}.", f"bead_{label}_mm")
        # 0.3 over 1.5 is a little less than 0.2 in binary numbers
        if not fits("slenderness", round(self.length_mm / self.diameter_mm, 9)):
            low, high = BOUNDS["slenderness"].low, BOUNDS["slenderness"].high
            raise WrongUsage(
                f"bead length {self.length_mm:g} mm over diameter {self.diameter_mm:g} mm: a bead "
                f"is {low:g} to {high:g} times as long as it is across; measure it again.",
                "bead_length_mm",
            )

    @property
    def label(self) -> str:
        """The trade size, or the measures."""
        return self.name or f"{self.diameter_mm:g} × {self.length_mm:g} mm"


def bead_sizes() -> dict[str, BeadSize]:
    """Return the known sizes by trade name, smallest bead first."""
    return {
        name: BeadSize(
            name,
            row["diameter_mm"],
            row["length_mm"],
            (row["hole_mm"][0], row["hole_mm"][1]),
            (row["beads_per_gram"][0], row["beads_per_gram"][1]),
        )
        for name, row in load("bead_sizes.json")["sizes"].items()
    }


def size_name(text: str) -> str:
    """Return a trade size as it is written here; what is none stays as it is.

    >>> size_name("6"), size_name("6°"), size_name("8/O"), size_name("size 11"), size_name("6mm")
    ('6/0', '6/0', '8/0', '11/0', '6mm')
    """
    found = re.fullmatch(r"(?:size\s*)?([1-9]\d?)\s*(?:/\s*[0oO]|°|º)?", text.strip(), re.I)
    return f"{found[1]}/0" if found else text.strip()


def bead_size(name: str) -> BeadSize:
    """Return a known size; 6 is 6/0.

    Raises
    ------
    WrongUsage
        If the size is not in the table.
    """
    sizes = bead_sizes()
    name = size_name(name)
    if name not in sizes:
        raise WrongUsage(
            f"bead size {name!r:.40} is not in the table ({', '.join(sizes)}). Measure a bead "
            "instead, across it and along its hole.",
            "bead_size",
        )
    return sizes[name]


@dataclass(frozen=True)
class Bead:
    """One row of a palette.

    Parameters
    ----------
    code, name : str
        Short unique code for the lists; the name on the tube.
    rgb : (int, int, int)
        sRGB, 0-255.
    size : str, optional
        Trade size.
    shape : str, optional
        ``'round'`` or ``'drop'`` (slanted hole); None means round.
    finish : str, optional
        Free text.
    stock : int, optional
        Beads at hand.
    grams, price : float, optional
        Grams in a packet and the price of that packet.
    per_gram : float, optional
        Beads in a gram, counted; the usual number for its size otherwise.
    packet : int, optional
        Beads in a packet that is sold by the bead; it goes before `grams`.
    drop_width, drop_length : float, optional
        Of a drop as measured, in mm: across its wide end, and from end to end.
    drop_lean : float, optional
        Of a drop on the braid as measured, in degrees away from straight out.
    """

    code: str
    name: str
    rgb: tuple[int, int, int]
    size: str | None = None
    shape: str | None = None
    finish: str | None = None
    stock: int | None = None
    grams: float | None = None
    price: float | None = None
    per_gram: float | None = None
    packet: int | None = None
    drop_width: float | None = None
    drop_length: float | None = None
    drop_lean: float | None = None

    @property
    def code_and_name(self) -> dict[str, Any]:
        """Code and name, as in findings."""
        return {"code": self.code, "name": self.name}


_DROP_NARROW = 0.54
"""Radius of a drop's narrow end over that of its wide end, as drawn."""


class DropShape(NamedTuple):
    """A drop bead with a slanted hole on the braid; its hole runs through the narrow end.

    Attributes
    ----------
    width_mm, length_mm : float
        Across the wide end, and from end to end.
    lean_deg : float
        Away from straight out of the braid.
    measured : bool
        Whether the palette gives all three; what it leaves out is assumed.
    """

    width_mm: float
    length_mm: float
    lean_deg: float
    measured: bool

    @classmethod
    def of(cls, bead: Bead, diameter_mm: float) -> DropShape:
        """Return the shape of a drop beside round beads of that diameter.

        Assumed are 4 × 7 mm beside beads of 3 mm (common practice) and a lean of 45° (ours).
        """
        given = bead.drop_width, bead.drop_length, bead.drop_lean
        assumed = 4 / 3 * diameter_mm, 7 / 3 * diameter_mm, 45.0
        width, length, lean = (
            usual if own is None else own for own, usual in zip(given, assumed, strict=True)
        )
        # no drop is shorter than it is wide
        return cls(width, max(width, length), lean, None not in given)

    @property
    def drawn_mm(self) -> tuple[float, float, float, float]:
        """How it is drawn: from the hole to the middle of the wide end, outwards and aside; radius
        of the narrow and of the wide end."""
        wide = self.width_mm / 2
        narrow = _DROP_NARROW * wide
        reach = max(self.length_mm - wide - narrow, 0.0)
        lean = math.radians(self.lean_deg)
        return reach * math.cos(lean), reach * math.sin(lean), narrow, wide

    @property
    def out_mm(self) -> float:
        """How far it stands out from the middle of its hole."""
        outwards, _, _, wide = self.drawn_mm
        return outwards + wide
