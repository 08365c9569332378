"""What can be: one table of bounds, the same for every reader of files, options and forms.

A value outside is a slip of the unit or of the hand, or more than this program is made for; within
the table every piece can be converted and printed in bounded time and memory.

>>> beyond("slots", 400)
'is 400, but must be from 16 to 200'
>>> beyond("length", 0.5), beyond("slots", 32)
('is 0.5, but must be from 1 to 5000 mm', None)
"""

from __future__ import annotations

from typing import NamedTuple


class Bound(NamedTuple):
    """From where to where a quantity can lie.

    Attributes
    ----------
    unit : str
        Empty for plain numbers.
    low, high : float
        Least and greatest value that is taken.
    why : str
    usual : (float, float), optional
        Outside it a value is asked about.
    """

    unit: str
    low: float
    high: float
    why: str
    usual: tuple[float, float] | None = None


BOUNDS = {
    # a piece
    "wrist": Bound("mm", 50, 400, "a baby's wrist to a thigh", (100, 260)),
    "length": Bound("mm", 1, 5000, "usual: a pendant to a long necklace", (40, 1500)),
    "ease": Bound("mm", 0, 100, "usual: snug to loose, common practice", (6, 30)),
    "thickness": Bound("mm", 1, 500, "asked about beside the computed one", (1, 500)),
    "clasp": Bound("mm", 0, 150, "ours", (0, 40)),
    "caps": Bound("mm", 0, 150, "ours", (0, 60)),
    "extension": Bound("mm", 0, 300, "ours", (0, 100)),
    "sample": Bound("mm", 1, 5000, "as a length", (40, 1500)),
    "beads": Bound("beads", 1, 20_000, "1.5 m of 15/0 beads on 24 strands take 15,054"),
    "repeats": Bound("", 1, 10_000, "a motif has at least two beads"),
    "spare": Bound("", 0, 1, "a share: as many spare beads as the piece takes"),
    # a bead
    "bead": Bound("mm", 0.3, 30, "below the smallest and above the largest beads of the trade"),
    "slenderness": Bound("", 0.2, 5, "length over diameter: a flat disc to a tube"),
    "stock": Bound("beads", 0, 999_999_999, "nine digits"),
    "grams": Bound("g", 1e-9, 1e9, "nine digits"),
    "per_gram": Bound("beads", 0.01, 10_000, "a bead of 100 g; 40 times as many as 15/0 beads"),
    "packet": Bound("beads", 1, 999_999_999, "nine digits"),
    "price": Bound("", 0, 1e9, "nine digits"),
    "palette": Bound("beads", 1, 2000, "more than a full stand of colours"),
    "name": Bound("characters", 0, 60, "what stands on a tube"),
    "code": Bound("characters", 1, 16, "a short word, to stand in lists"),
    "drop_lean": Bound("°", 0, 90, "straight out to flat on the braid"),
    # a disc and a worked braid
    "slots": Bound("", 16, 200, "the smallest disc that holds 8 strands to a large stand"),
    "strands": Bound("", 8, 200, "one in every slot of the largest disc"),
    "swatch_rounds": Bound("rounds", 1, 10_000, "more than the longest piece has"),
    "column_rounds": Bound("rounds", 2.1, 400, "in two it would step over its neighbours"),
    "over_computed": Bound("", 0.25, 4, "a measure over the computed one; cm for mm would be 0.1"),
    "rise_mm": Bound("mm", 1e-3, 300, "from the bounds of the beads"),
    "radius_mm": Bound("mm", 0.1, 5000, "from the bounds of the beads and of the disc"),
    "drift_deg": Bound("°", 0.9, 171.5, "360 over the rounds of a column"),
    "plain_sets": Bound("sets", 0, 99, "ours: some 12 to 25 cm of plain braid"),
    "copies": Bound("", 1, 999, "ours: a large class"),
    # files
    "number": Bound("", -1e9, 1e9, "any number of a design; none comes near it"),
    "file_mb": Bound("MB", 0, 16, "ten times the file of the largest design"),
    "depth": Bound("", 0, 50, "lists and objects within each other; a design has six"),
    "picture_px": Bound("px", 1, 120_000_000, "12,000 × 9,000 and more; so no side is longer"),
}
"""By the name of the quantity. Where `why` names no source the bound is ours."""


def most(name: str) -> int:
    """Return the upper bound of a count."""
    return int(BOUNDS[name].high)


def fits(name: str, value: float) -> bool:
    """Whether a value lies within its bounds; false for what is no number."""
    bound = BOUNDS[name]
    return bool(bound.low <= value <= bound.high)


def beyond(name: str, value: float) -> str | None:
    """Return what is wrong with a value in the words of a message, or None if it fits."""
    if fits(name, value):
        return None
    bound = BOUNDS[name]
    unit = f" {bound.unit}" if bound.unit else ""
    return f"is {shown(value)}, but must be from {bound.low:.9g} to {bound.high:.9g}{unit}"


def shown(value: float) -> str:
    """Return a number as it can stand in a message, however long it is."""
    if isinstance(value, int) and abs(value) >= 10**15:
        return "a number of more than 15 digits"
    return f"{value:.9g}"
