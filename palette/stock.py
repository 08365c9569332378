"""A maker's stock: searched, sorted, put together, and less what a bracelet took."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from typing import Any, Literal, NamedTuple

import numpy as np
import numpy.typing as npt

from ..core.arrays import Ints
from ..core.bead import Bead
from ..core.bounds import most
from ..core.errors import HimotifError, WrongUsage
from ..core.findings import Code, Finding
from ..core.srgb import Rgb
from .colour import srgb_to_lab
from .difference import ciede2000
from .files import code_of
from .palette import Palette

SortBy = Literal["hue", "lightness", "stock"]

GREY_CHROMA = 10.0
"""Beads of less chroma stand before the hues, by lightness; a choice of this project."""


class Near(NamedTuple):
    """A bead, and its CIEDE2000 to the colour that was asked for."""

    bead: Bead
    difference: float

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain values."""
        bead = self.bead
        plain = bead.code_and_name | {"rgb": list(bead.rgb)}
        return plain | {"stock": bead.stock, "ciede2000": round(self.difference, 2)}


def near_beads(palette: Palette, rgb: Rgb, count: int) -> list[Near]:
    """Return the beads nearest to a colour, nearest first."""
    lab = srgb_to_lab(np.array(rgb, np.uint8))
    apart = ciede2000(palette.lab, lab[None])
    order = np.argsort(apart, kind="stable")[:count]
    return [Near(palette.beads[at], float(apart[at])) for at in order]


def sorted_palette(palette: Palette, by: SortBy) -> Palette:
    """Return the palette with its beads in order.

    Parameters
    ----------
    palette : Palette
    by : 'hue', 'lightness' or 'stock'
        Hues as they run round from red, greys first; the lightest first; the most first, and
        those without a number last.
    """
    light, green, yellow = palette.lab.T
    if by == "lightness":
        keys: Sequence[npt.NDArray[Any]] = (-light,)
    elif by == "stock":
        keys = (np.array([-1 if b.stock is None else b.stock for b in palette.beads]) * -1,)
    else:
        hue = np.degrees(np.arctan2(yellow, green)) % 360
        grey = np.hypot(green, yellow) < GREY_CHROMA
        keys = (-light, np.where(grey, -1, np.round(hue / 15)))
    return palette.subset(np.lexsort(keys).tolist())


def joined(palettes: Sequence[Palette], name: str) -> Palette:
    """Return one palette of several.

    The same bead in two of them, alike but for its code and its stock, is one, with both stocks. A
    code that is taken already is replaced by the next that is free, which is a finding.

    Raises
    ------
    HimotifError
        If there are more beads than a palette holds.
    """
    beads: list[Bead] = []
    place: dict[Bead, int] = {}
    renamed = []
    taken = {bead.code for palette in palettes for bead in palette.beads}
    used: set[str] = set()
    free = (code for code in map(code_of, itertools.count()) if code not in taken)
    for palette in palettes:
        for bead in palette.beads:
            kind = replace(bead, code="", stock=None)
            if kind in place:
                known = beads[place[kind]]
                both = [one.stock for one in (known, bead) if one.stock is not None]
                beads[place[kind]] = replace(known, stock=sum(both) if both else None)
                continue
            if bead.code in used:
                renamed.append({"name": bead.name, "before": bead.code, "after": next(free)})
                bead = replace(bead, code=renamed[-1]["after"])
            used.add(bead.code)
            place[kind] = len(beads)
            beads.append(bead)
    if len(beads) > most("palette"):
        raise HimotifError(
            f"together they have {len(beads)} beads, more than the {most('palette')} that a "
            "palette holds; join fewer."
        )
    found = [finding for palette in palettes for finding in palette.findings]
    found += [Finding(Code.CODE_CHANGED, data) for data in renamed]
    return Palette(tuple(beads), name, tuple(found))


def used_up(palette: Palette, took: Mapping[Bead, int]) -> Palette:
    """Return the palette less what a bracelet took.

    Parameters
    ----------
    palette : Palette
        With the stock.
    took : mapping of Bead to int
        How many of each bead of a design.

    Returns
    -------
    Palette
        With a finding for each bead of which there were fewer; it is at 0.

    Raises
    ------
    WrongUsage
        If a bead of the design is not in the palette, or is another one there, or has no stock.
    """
    by_code = {bead.code: bead for bead in palette.beads}
    wrong = [text for bead in took if (text := _unlike(bead, by_code.get(bead.code)))]
    if wrong:
        raise WrongUsage(f"{'; '.join(wrong)}. Name the palette that the bracelet was made with.")
    found, less = list(palette.findings), {bead.code: count for bead, count in took.items()}
    beads = []
    for bead in palette.beads:
        gone = less.get(bead.code, 0)
        if gone and bead.stock is not None:
            if bead.stock < gone:
                data = bead.code_and_name | {"count": gone, "stock": bead.stock}
                found.append(Finding(Code.STOCK_WAS_LESS, data))
            bead = replace(bead, stock=max(0, bead.stock - gone))
        beads.append(bead)
    return Palette(tuple(beads), palette.name, tuple(found))


def used_dict(took: Mapping[Bead, int], left: Palette) -> dict[str, Any]:
    """Return what a bracelet took, and what is left of those beads, as plain values."""
    stock = {bead.code: bead.stock for bead in left.beads}
    beads = [
        bead.code_and_name | {"took": count, "stock": stock[bead.code]}
        for bead, count in took.items()
    ]
    return {"beads": beads, "findings": [one.as_dict() for one in left.findings]}


def _unlike(bead: Bead, here: Bead | None) -> str | None:
    """What keeps a bead of a design from being taken off a stock."""
    if here is None:
        return f"there is no bead {bead.code} ({bead.name})"
    if here.name != bead.name:
        return f"{bead.code} is {bead.name} in the bracelet and {here.name} here"
    if here.stock is None:
        return f"{bead.code} ({bead.name}) has no stock"
    return None


def counts(palette: Iterable[Bead], places: Ints) -> dict[Bead, int]:
    """Return how many of each bead a design takes; `places` in the palette, one a crossing."""
    beads = tuple(palette)
    number = np.bincount(places, minlength=len(beads))
    return {bead: int(count) for bead, count in zip(beads, number, strict=True) if count}
