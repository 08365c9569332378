"""A palette from a photograph of beads, and the picture to check it by."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ..core.arrays import Float32Array
from ..core.bead import Bead
from ..core.drawing.shapes import BLACK, WHITE, Page, PixelImage, Polygon, Shape, Text, rectangle
from ..core.errors import HimotifError, WrongUsage
from ..core.findings import Code, Finding
from ..core.srgb import linear_to_srgb
from .colour_names import colour_names
from .files import code_of
from .palette import Palette
from .photo import Heap, bead_at, even_light, find_heaps

PhotoPoint = tuple[float, float]

CHECK_PX_PER_MM = 4.0
"""Of the picture to check by, for the pixels of the photograph."""

_LABEL_MM = 6.0
"""Height of a label with a code and its swatch."""

_OUTLINES = ((WHITE, 1.4), (BLACK, 0.5))
"""Colours and widths, mm, of the lines round a heap: black on white is seen on any bead."""


@dataclass(frozen=True, eq=False)
class PhotoPalette:
    """What was found in a photograph.

    Parameters
    ----------
    palette : Palette
        Codes in the order of the heaps, colours by name.
    heaps : tuple of Heap
        In the same order.
    linear : (h, w, 3) float32
        The photograph as it was given.
    """

    palette: Palette
    heaps: tuple[Heap, ...]
    linear: Float32Array

    def check_png(self) -> bytes:
        """Return the picture to check by, as PNG."""
        from ..core.drawing.png import png_bytes, to_png

        return png_bytes(to_png(self.check_page(), CHECK_PX_PER_MM))

    def check_page(self) -> Page:
        """Return the photograph with every heap outlined, its code and its colour on it."""
        height, width = self.linear.shape[:2]
        shapes: list[Shape] = [
            PixelImage(
                0, 0, width / CHECK_PX_PER_MM, height / CHECK_PX_PER_MM, linear_to_srgb(self.linear)
            )
        ]
        for heap in self.heaps:
            points = tuple(
                (x / CHECK_PX_PER_MM, y / CHECK_PX_PER_MM) for x, y in heap.outline.tolist()
            )
            shapes += [Polygon(points, None, ink, stroke_mm=wide) for ink, wide in _OUTLINES]
        for bead, heap in zip(self.palette.beads, self.heaps, strict=True):
            shapes += _label(bead, heap)
        return Page(width / CHECK_PX_PER_MM, height / CHECK_PX_PER_MM, tuple(shapes))


def _label(bead: Bead, heap: Heap) -> list[Shape]:
    """The code on white, and the colour beside it."""
    x, y = (value / CHECK_PX_PER_MM for value in heap.middle)
    wide = _LABEL_MM * max(1.0, 0.55 * len(bead.code))
    left, top = x - wide, y - _LABEL_MM / 2
    return [
        rectangle(left, top, wide, _LABEL_MM, WHITE, BLACK, 0.25),
        rectangle(x, top, wide, _LABEL_MM, bead.rgb, BLACK, 0.25),
        Text(left + wide / 2, y + 0.3 * _LABEL_MM, bead.code, 0.75 * _LABEL_MM, "middle", True),
    ]


def palette_of_photo(
    linear: Float32Array,
    name: str,
    scale: float = 1.0,
    white: PhotoPoint | None = None,
    at: Sequence[PhotoPoint] = (),
) -> PhotoPalette:
    """Return the palette of the beads in a photograph.

    Parameters
    ----------
    linear : (h, w, 3) float32
        Linear light.
    name : str
        Of the photograph.
    scale : float
        Stored pixels for a pixel of the photograph, in which places are given.
    white : (x, y), optional
        A place that is white or grey, such as a grey card.
    at : sequence of (x, y)
        Single beads; by default all heaps are looked for.

    Raises
    ------
    WrongUsage
        If a place lies outside of the photograph.
    HimotifError
        If there is no paper to go by, or no heap.
    """
    for field, places in (("white", [white] if white else []), ("at", at)):
        for x, y in places:
            if not (0 <= x * scale < linear.shape[1] and 0 <= y * scale < linear.shape[0]):
                size = f"{linear.shape[1] / scale:.0f} × {linear.shape[0] / scale:.0f}"
                raise WrongUsage(f"{x:g},{y:g} lies outside of the picture ({size} px).", field)
    stored = [(int(x * scale), int(y * scale)) for x, y in at]
    grey = None if white is None else (int(white[0] * scale), int(white[1] * scale))
    try:
        photo = even_light(linear, grey)
    except HimotifError as error:
        raise HimotifError(f"{name}: {error}.") from None
    heaps = tuple(bead_at(photo, place) for place in stored) if at else find_heaps(photo)
    if not heaps:
        raise HimotifError(
            f"{name}: no heaps of beads are found. Lay 20 beads or more of each colour close "
            "together on white paper, or name single beads by their place."
        )
    names = colour_names([heap.rgb for heap in heaps])
    beads = tuple(
        Bead(code_of(k), called, heap.rgb)
        for k, (called, heap) in enumerate(zip(names, heaps, strict=True))
    )
    data = {"beads": len(beads), "uneven_times": round(photo.unevenness, 2)}
    found = (Finding(Code.PHOTO_COLOURS, data),)
    return PhotoPalette(Palette(beads, name, found), heaps, np.asarray(linear))
