"""Sketches that are drawn in outlines: worked as those lines alone, or as the mass they enclose.

An *outline* is a connected part of one colour that encloses more than it covers. In a line drawing
it encloses ground; in a drawing that was coloured in, other colours.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from ...core.arrays import Bools, Ints
from ..read import Sketch, relabelled
from .features import SPECK

if TYPE_CHECKING:
    from ..options import OutlineWay
    from .inks import BeadChoice

BROADER = 2.0
"""What is more than so many times as wide as its line is a shape filled in the same colour."""


class Outline(NamedTuple):
    """An outline.

    Attributes
    ----------
    bead : int
    line : (h, w) bool
        Without shapes that are filled in the same colour.
    inside : (h, w) bool
        What it encloses, itself left out.
    bare : bool
        Whether most of that is ground.
    """

    bead: int
    line: Bools
    inside: Bools
    bare: bool


def outlines_as(sketch: Sketch, choice: BeadChoice, way: OutlineWay) -> Sketch:
    """Return a flat sketch in its lines alone, or as the mass that they enclose.

    Parameters
    ----------
    sketch : Sketch
        As it is where it has no outlines.
    choice : BeadChoice
        Of its colours.
    way : 'strokes' or 'mass'
    """
    assert sketch.label is not None  # it is flat
    label, beads = sketch.label.astype(np.intp), _beads(sketch, choice)
    found = [*_outlines(beads, choice.ground)]
    if not found:
        return sketch
    if way == "strokes":
        return relabelled(sketch, _strokes(label, beads, found))
    return relabelled(sketch, _mass(label, beads, choice.ground, found))


def other_ways(sketch: Sketch, choice: BeadChoice) -> tuple[OutlineWay, ...]:
    """Return how else a sketch can be drawn: mass only if its outlines enclose ground."""
    found = [*_outlines(_beads(sketch, choice), choice.ground)] if sketch.kind == "flat" else []
    if not found:
        return ()
    return ("mass",) if all(one.bare for one in found) else ("strokes", "mass")


def hidden_parts(sketch: Sketch, choice: BeadChoice) -> dict[int, int]:
    """Count what is drawn within outlines in their own bead: as mass it is not seen, an eye.

    Parameters
    ----------
    sketch : Sketch
        Flat, as drawn.
    choice : BeadChoice

    Returns
    -------
    dict of int to int
        The number of parts by bead.
    """
    from scipy import ndimage

    beads = _beads(sketch, choice)
    hidden: dict[int, int] = {}
    for one in _outlines(beads, choice.ground):
        if not one.bare:
            continue
        pieces = ndimage.label(one.inside & (beads == one.bead), np.ones((3, 3)))[0]
        parts = int((np.bincount(pieces.ravel())[1:] >= SPECK * beads.size).sum())
        if parts:
            hidden[one.bead] = hidden.get(one.bead, 0) + parts
    return hidden


def _beads(sketch: Sketch, choice: BeadChoice) -> Ints:
    """The bead of each pixel of the labels; the ground's where nothing is drawn."""
    matched = choice.nearest_beads(sketch.colours.linear)
    return np.append(matched, choice.ground)[sketch.label]


def _outlines(beads: Ints, ground: int) -> Iterator[Outline]:
    from scipy import ndimage

    for bead in np.unique(beads[beads != ground]).tolist():
        pieces, _ = ndimage.label(beads == bead, np.ones((3, 3)))
        size = np.bincount(pieces.ravel())
        for number, box in enumerate(ndimage.find_objects(pieces), start=1):
            if size[number] < SPECK * beads.size:
                continue
            part = np.pad(pieces[box] == number, 1)
            inside = ndimage.binary_fill_holes(part) & ~part
            if inside.sum() < size[number]:
                continue
            line, closed = np.zeros(beads.shape, dtype=bool), np.zeros(beads.shape, dtype=bool)
            line[box], closed[box] = _thin(part)[1:-1, 1:-1], inside[1:-1, 1:-1]
            yield Outline(bead, line, closed, bool((beads[closed] == ground).mean() > 0.5))


def _thin(part: Bools) -> Bools:
    """A part without what is much wider than its usual line."""
    from scipy import ndimage

    edge = part & ~ndimage.binary_erosion(part)
    reach = BROADER * part.sum() / edge.sum()  # half of so many times its mean width
    wide = ndimage.distance_transform_edt(part) > reach
    if not wide.any():
        return part
    return np.asarray(part & (ndimage.distance_transform_edt(~wide) > reach))


def _strokes(label: Ints, beads: Ints, found: list[Outline]) -> Ints:
    """All that is drawn in the colours of the outlines, and nothing else."""
    return np.where(np.isin(beads, [one.bead for one in found]), label, -1)


def _mass(label: Ints, beads: Ints, ground: int, found: list[Outline]) -> Ints:
    """Ground that bare outlines enclose in their colour, and the others left out."""
    from scipy import ndimage

    filled, gone = label.copy(), np.zeros(label.shape, dtype=bool)
    for one in found:
        if one.bare:
            filled[one.inside & (beads == ground)] = label[one.line][0]
        else:
            gone |= one.line
    nearest = ndimage.distance_transform_edt(gone, return_distances=False, return_indices=True)
    return np.asarray(filled[tuple(nearest)]) if gone.any() else filled
