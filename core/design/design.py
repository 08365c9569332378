"""A design: one integer per crossing, in working order.

Every other per-bead fact (strand, azimuth, height, place in the picture) is an array of the same
length in the same order.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from typing import Literal

import numpy as np

from ..arrays import Bytes, Floats, Ints
from ..bead import Bead, BeadSize
from ..braid import FRONT_DEG, Braid, FaceReturn, Lattice
from ..errors import HimotifError
from ..finish import on_cord
from ..srgb import Rgb
from .origin import (
    Origin,
    PaperChoice,
)

Fit = Literal["wrap", "face"]


@dataclass(frozen=True, eq=False)
class PlacedPicture:
    """The picture a design was made from, and where it lies.

    Parameters
    ----------
    file, sha256 : str
        Name and digest of the picture file.
    size_px : (int, int)
        Width and height, turned as the picture's orientation tag says.
    fit : 'wrap' or 'face'
        True along the circumference at the bead centres, or true in the front view.
    px_per_mm : float
        Picture pixels per mm on the braid; for `face` at the middle of the front.
    front_deg : float
        Azimuth of the middle of the front.
    where_px : (n, 2) float
        The point of the picture under each bead's centre, from the top left corner; NaN where no
        picture lies.
    rotate_deg : float
        Clockwise as seen.
    centres : tuple of (azimuth_deg, height_mm)
        Where the middle of the motif's frame lies, once for every repeat.
    stretch : float
        How many times as long along the braid as across.
    frame_px : (left, top, right, bottom), optional
        The part of the picture that is worked, without its margins; the whole if left out.
    """

    file: str
    sha256: str
    size_px: tuple[int, int]
    fit: Fit
    px_per_mm: float
    front_deg: float
    where_px: Floats
    rotate_deg: float = 0.0
    centres: tuple[tuple[float, float], ...] = ()
    stretch: float = 1.0
    frame_px: tuple[int, int, int, int] | None = None

    @property
    def frame_size_px(self) -> tuple[int, int]:
        """Width and height of what is worked."""
        if self.frame_px is None:
            return self.size_px
        left, top, right, bottom = self.frame_px
        return right - left, bottom - top


@dataclass(frozen=True)
class Repeat:
    """How a motif comes again along the braid.

    Parameters
    ----------
    first : int
        The crossing at which the first repeat begins.
    rounds : int
        From one repeat to the next.
    flip : bool
        Whether the two sides of an axis change places from one repeat to the next.
    count : int
        How many times the motif comes.
    """

    first: int
    rounds: int
    flip: bool
    count: int


@dataclass(frozen=True, eq=False)
class Design:
    """A braid of coloured beads.

    Parameters
    ----------
    lattice : Lattice
        The braid and where its beads lie.
    bead : BeadSize
        The main bead.
    palette : tuple of Bead
        What the integers mean, in their own colours.
    beads : (n,) int
        Index into the palette for every crossing, in working order.
    background : int
        Index of the background bead.
    picture : PlacedPicture, optional
    repeat : Repeat, optional
    origin : Origin
        How it came about.
    papers : PaperChoice
    cord_rgb : (int, int, int), optional
        sRGB of the cord that light meets through clear beads; white if left out.

    Raises
    ------
    HimotifError
        If there is no bead, or an index that is not in the palette.
    """

    lattice: Lattice
    bead: BeadSize
    palette: tuple[Bead, ...]
    beads: Ints
    background: int = 0
    picture: PlacedPicture | None = None
    repeat: Repeat | None = None
    origin: Origin = field(default_factory=Origin)
    papers: PaperChoice = field(default_factory=PaperChoice)
    cord_rgb: Rgb | None = None

    def __post_init__(self) -> None:
        beads = np.array(self.beads, dtype=np.intp)
        beads.flags.writeable = False
        object.__setattr__(self, "beads", beads)
        if not self.palette:
            raise HimotifError("the design has an empty palette; it needs at least one bead.")
        if beads.ndim != 1 or not len(beads):
            raise HimotifError("the design has no beads.")
        if beads.min() < 0 or beads.max() >= len(self.palette):
            wrong = int(np.argmax((beads < 0) | (beads >= len(self.palette))))
            raise HimotifError(
                f"bead {wrong + 1} of the design is number {beads[wrong]}, but the palette has "
                f"numbers 0 to {len(self.palette) - 1}."
            )

    @property
    def braid(self) -> Braid:
        """The topology."""
        return self.lattice.braid

    @cached_property
    def on_cord(self) -> tuple[Bead, ...]:
        """The palette as it looks on its cord: what is drawn, and compared with a sketch."""
        return on_cord(self.palette, self.cord_rgb)

    @property
    def front_deg(self) -> float:
        """Azimuth of the middle of the front."""
        return FRONT_DEG if self.picture is None else self.picture.front_deg

    @property
    def rounds(self) -> float:
        """Length in rounds."""
        return len(self.beads) / self.braid.beads_per_round

    @property
    def length_mm(self) -> float:
        """Beaded length."""
        return self.rounds * self.lattice.rise_mm

    @property
    def unit(self) -> str | None:
        """Unit of lengths, as on its papers: 'in', or None for cm and mm."""
        return "in" if self.papers.unit == "in" else None

    @property
    def named(self) -> str:
        """What it shows: its text, or the name of its sketch without the ending; or nothing."""
        text, facts = self.origin.order.get("text"), self.origin.conversion
        if isinstance(text, str):
            return text
        file = "" if self.picture is None else self.picture.file
        if facts is not None and facts.tile is not None:
            file = facts.tile
        return file.rpartition(".")[0] or file

    @property
    def codes(self) -> list[str]:
        """Code of every bead, in working order."""
        names = [bead.code for bead in self.palette]
        return [names[index] for index in self.beads]

    def repeat_shift(self) -> FaceReturn | None:
        """Return the lattice shift from one repeat to the next, if there is one."""
        if self.repeat is None:
            return None
        return self.lattice.shift(self.repeat.rounds, self.repeat.flip)

    def repeat_index(self) -> Ints:
        """Return for every bead its place in the motif, the same in every repeat, (n,).

        -1 for beads outside the repeats, and for all if there are none.
        """
        shift, repeat = self.repeat_shift(), self.repeat
        found = np.full(len(self.beads), -1, dtype=np.intp)
        if shift is None or repeat is None:
            return found
        first = np.arange(shift.rounds * self.braid.beads_per_round) + repeat.first
        for times in range(repeat.count):
            carried = shift.crossing(first, self.braid, times)
            inside = (carried >= 0) & (carried < len(found))
            found[carried[inside]] = np.arange(len(first))[inside]
        return found


def palette_rgb(design: Design) -> Bytes:
    """Return the colours of a design's palette on its cord, (k, 3) uint8 sRGB."""
    return np.array([bead.rgb for bead in design.on_cord], dtype=np.uint8).reshape(-1, 3)


def colours_rgb(design: Design) -> Bytes:
    """Return the colour of every bead in working order, on its cord, (n, 3) uint8 sRGB."""
    return palette_rgb(design)[design.beads]
