"""A picture that is put together as it lies on the braid, such as a text."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

from ...core.arrays import Bytes
from ...core.drawing.png import png_bytes
from ...core.errors import WrongUsage
from ...core.findings import Finding
from ..read import Picture, read_picture, read_sketch
from .fitting import LaidMotif
from .frame import Frame
from .inks import BeadChoice
from .motif import Motif

if TYPE_CHECKING:
    from ..options import Order

SKETCH_FILE = "sketch.png"
"""What such a picture is called in a design's folder."""


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
    repeat_rounds : int, optional
        Rounds from one repeat of it to the next straight above.
    tile : str, optional
        Name of the file whose picture it repeats.
    """

    picture: Picture
    png: bytes = field(repr=False)
    motif: Motif
    fitted: LaidMotif
    findings: tuple[Finding, ...]
    repeat_rounds: int | None = None
    tile: str | None = None


def refuse_idle(order: Order, idle: Collection[str], what: str) -> None:
    """Refuse what an order asks for and such a picture does not have.

    Parameters
    ----------
    order : Order
    idle : collection of str
        Names of fields of the order.
    what : str
        The picture, as the subject of a sentence.

    Raises
    ------
    WrongUsage
        With all of them.
    """
    usual = type(order)()
    refused = [
        WrongUsage(f"{what} has no such thing. Leave it out.", one.name)
        for one in fields(order)
        if one.name in idle and getattr(order, one.name) != getattr(usual, one.name)
    ]
    if refused:
        raise WrongUsage.together(refused)


def picture_of(pixels: Bytes) -> tuple[Picture, bytes]:
    """Return pixels (h, w, 3) as a picture that was read, and its file."""
    png = png_bytes(pixels)
    return read_picture(png, SKETCH_FILE), png


def motif_of(picture: Picture, choice: BeadChoice) -> Motif:
    """Return a whole picture in flat colours as a motif."""
    wide, high = picture.size_px
    sketch = read_sketch(picture, "flat")
    return Motif(sketch, choice, Frame(0, 0, wide, high), sketch, anew=False)
