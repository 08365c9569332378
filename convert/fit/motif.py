"""The motif of a picture: what is worked of it, without plain margins, and in which beads."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from ..read import Sketch, Source, label_step, read_sketch, redrawn, without_ground
from .frame import Frame, cut_picture, motif_frame
from .inks import BeadChoice, bead_labels, choose_inks, ground_to_replace
from .line_work import hidden_parts, outlines_as
from .size import flat_sketch

if TYPE_CHECKING:
    from ...core.arrays import Ints
    from ...core.braid import Lattice
    from ...palette import Palette
    from ..options import Order
    from ..read import Picture
    from .energy import FlatSketch

MOST_CUTS = 3
"""Margins are found on a reduced picture and again on the finer one that is left."""


@dataclass(frozen=True, eq=False)
class Motif:
    """What is worked of a picture.

    Parameters
    ----------
    sketch : Sketch
        Of what lies in the frame.
    choice : BeadChoice
    frame : Frame
        In pixels of the original picture.
    whole : Sketch
        Of the whole picture.
    anew : bool
        Whether the whole sketch is not the picture as it was read; see `as_worked`.
    hidden : dict of int to int
        How many parts by bead are not seen as their outlines are filled; see `hidden_parts`.
    """

    sketch: Sketch
    choice: BeadChoice
    frame: Frame
    whole: Sketch
    anew: bool
    hidden: dict[int, int] = field(default_factory=dict)
    _flat: dict[Lattice, FlatSketch] = field(default_factory=dict)

    @cached_property
    def labels(self) -> Ints:
        """The bead of each pixel (h, w) of a flat sketch."""
        return bead_labels(self.sketch, self.choice)

    def flat_sketch(self, lattice: Lattice) -> FlatSketch:
        """Return what is drawn on a flat sketch, ready to be laid on a braid; made once."""
        if lattice not in self._flat:
            self._flat[lattice] = flat_sketch(self.labels, self.choice.ground, lattice)
        return self._flat[lattice]

    def cut(self, picture: Picture) -> Picture:
        """Return what lies in the frame, of the picture that the sketch was read from."""
        if self.anew:
            picture = redrawn(picture, self.whole)
        if self.frame == (0, 0, *picture.size_px):
            return picture
        return cut_picture(picture, self.frame, 1.0)[0]


def find_motif(sketch: Sketch, picture: Picture, palette: Palette, order: Order) -> Motif:
    """Choose the beads of a picture, and cut its plain margins off.

    Margins are what has the ground's bead; of a shaded picture only what is transparent. A flat
    sketch is read again without them, so that its margins change nothing. A plain ground becomes
    the background bead, whichever that is.

    Parameters
    ----------
    sketch : Sketch
        Of the whole picture.
    picture : Picture
    palette : Palette
    order : Order
    """
    choice = choose_inks(sketch, picture, palette, order)
    filled = sketch.kind == "flat" and order.outlines == "mass"
    hidden = hidden_parts(_on_ground(sketch, choice), choice) if filled else {}
    whole = as_worked(sketch, choice, order)
    anew = whole is not sketch
    if anew:
        picture = redrawn(picture, whole)
        choice = choose_inks(whole, picture, palette, order, choice.ground)
    sketch = whole
    left = top = 0
    cut = picture
    for last in (*[False] * (MOST_CUTS - 1), True):
        frame, scale = _frame(sketch, choice, cut)
        wide, high = _whole(sketch, cut)
        if frame == (0, 0, wide, high):
            break
        reduced = scale < cut.scale
        wider = frame.grown(wide, high)
        # the outermost pixels may be half of them margin
        if reduced and not last and _finer(cut, wider, scale):
            frame, reduced = wider, False
        cut, (right, down) = cut_picture(cut, frame, scale)
        left, top = left + round(right), top + round(down)
        sketch = _read_again(sketch, cut, frame)
        choice = choose_inks(sketch, cut, palette, order, choice.ground)
        if reduced:
            break
    wide, high = cut.size_px
    frame = Frame(left, top, left + wide, top + high)
    return Motif(sketch, choice, frame, whole, anew, hidden)


def as_worked(sketch: Sketch, choice: BeadChoice, order: Order) -> Sketch:
    """Return a whole sketch as it is worked.

    It is without its ground where that would have another bead by its colour, and its outlines are
    as they are asked for.

    Parameters
    ----------
    sketch : Sketch
    choice : BeadChoice
    order : Order
        `outlines` counts.
    """
    sketch = _on_ground(sketch, choice)
    if sketch.kind == "flat" and order.outlines is not None:
        sketch = outlines_as(sketch, choice, order.outlines)
    return sketch


def _on_ground(sketch: Sketch, choice: BeadChoice) -> Sketch:
    """A sketch without its ground, where that would have another bead by its colour."""
    ground = ground_to_replace(sketch, choice)
    return sketch if ground is None else without_ground(sketch, ground)


def _whole(sketch: Sketch, picture: Picture) -> tuple[int, int]:
    """Size in the pixels that a frame is found in."""
    high, wide = (sketch.source.planes if sketch.kind == "flat" else picture.alpha).shape[:2]
    return wide, high


def _frame(sketch: Sketch, choice: BeadChoice, picture: Picture) -> tuple[Frame, float]:
    """The frame of what is drawn, and its pixels per original pixel."""
    if sketch.kind == "flat":
        return motif_frame(bead_labels(sketch, choice), choice.ground), sketch.source.scale
    return motif_frame((picture.alpha >= 0.5).astype(np.intp), 0), picture.scale


def _finer(picture: Picture, frame: Frame, scale: float) -> bool:
    """Whether the sketch is read on finer pixels in a frame than in the picture."""
    return label_step(cut_picture(picture, frame, scale)[0]) < label_step(picture)


def _read_again(sketch: Sketch, picture: Picture, frame: Frame) -> Sketch:
    """The sketch of what lies in a frame of the picture that it was read from; made once."""
    if frame not in sketch.within:
        sketch.within[frame] = _read_cut(sketch, picture, frame)
    return sketch.within[frame]


def _read_cut(sketch: Sketch, picture: Picture, frame: Frame) -> Sketch:
    """The sketch of what lies in a frame: cut, where it no longer looks flat without margins."""
    if sketch.kind == "shaded":
        return read_sketch(picture, "shaded")
    again = read_sketch(picture, "flat")
    if len(again.colours.linear) >= len(sketch.colours.linear) - 1:
        return again
    left, top, right, bottom = frame
    planes = sketch.source.planes[top:bottom, left:right]
    return replace(sketch, source=Source(planes, sketch.source.scale))
