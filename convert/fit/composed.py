"""A picture that is put together as it lies on the braid, such as a text."""

from __future__ import annotations

from dataclasses import dataclass, field

from ...core.arrays import Bytes
from ...core.drawing.png import png_bytes
from ...core.findings import Finding
from ..read import Picture, read_picture, read_sketch
from .fitting import LaidMotif
from .frame import Frame
from .inks import BeadChoice
from .motif import Motif

SKETCH_FILE = "sketch.png"
"""What such a picture is called in a design's folder."""

MOST_PX = 1200
"""Longest side: as much as is kept of a picture that is read."""


@dataclass(frozen=True, eq=False)
class Composed:
    """A picture put together, and its beads.

    Parameters
    ----------
    picture : Picture
    png : bytes
        Its file.
    motif : Motif
    fitted : LaidMotif
    findings : tuple of Finding
        What is to be said about how it was put together.
    """

    picture: Picture
    png: bytes = field(repr=False)
    motif: Motif
    fitted: LaidMotif
    findings: tuple[Finding, ...]


def picture_of(pixels: Bytes) -> tuple[Picture, bytes]:
    """Return pixels (h, w, 3) as a picture that was read, and its file."""
    png = png_bytes(pixels)
    return read_picture(png, SKETCH_FILE), png


def motif_of(picture: Picture, choice: BeadChoice) -> Motif:
    """Return a whole picture in flat colours as a motif."""
    wide, high = picture.size_px
    sketch = read_sketch(picture, "flat")
    return Motif(sketch, choice, Frame(0, 0, wide, high), sketch, bare=False)
