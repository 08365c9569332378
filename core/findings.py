"""What is to be said about the work, as values.

Nothing below the edges of the program (the command, the page, paper, JSON) makes sentences of a
finding or reads one. A remedy names a field of the option table in `himotif.convert.options`, so
that the command can print the option, the page can offer a button, and paper can leave it out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from enum import Enum, IntEnum
from typing import Any


class Code(Enum):
    """What a finding is about; the value stands in files."""

    REMARK = "remark"
    """Text of an older file, or of a reader outside this package: data has 'text'."""

    # what the conversion of a sketch found
    TOO_SMALL = "too-small"
    """The motif cannot be recognised."""
    HARD_TO_RECOGNISE = "hard-to-recognise"
    """Its rough shape shows at best."""
    LOST_PART = "lost-part"
    """A part of the sketch has no bead."""
    LOST_OPENING = "lost-opening"
    """Ground within or between parts is closed: code and name of the bead that closes it."""

    # what the braid does to a sketch: a `bead` is {code, name}; colours of the sketch are #rrggbb;
    # `draw` is {now_mm, needed_mm, small}: how wide it is, ought to be, and if it is a small part
    NOTHING_DRAWN = "nothing-drawn"
    """Nothing of the sketch differs from the background."""
    COLOURS_GONE = "colours-gone"
    """Colours have no bead: beads, draw."""
    PIECES_GONE = "pieces-gone"
    """Some pieces of a colour have none: bead, pieces, gone, draw."""
    LITTLE_IN_PLACE = "little-in-place"
    """Little of a colour lies where it was drawn: bead, kept_percent, draw."""
    BREAKS = "breaks"
    """A colour has more pieces than drawn: bead, before, left (of those drawn), after, draw."""
    RUN_TOGETHER = "run-together"
    """A colour has fewer pieces than drawn: as before, and apart_mm: what keeps them apart."""
    GAP_CHANGES = "gap-changes"
    """A gap inside a colour fills up or opens: bead, draw_mm: what keeps it open."""
    EDGES_MOVED = "edges-moved"
    """Edges lie beside where they were drawn: p95_mm, p95_beads, some_lost; the worst place:
    height_mm, from_front_deg, strand, order."""
    EDGES_LOST = "edges-lost"
    """Many edges have no bead edge of their colours: lost_percent, kind ('flat' or 'shaded')."""
    OUT_OF_SIGHT = "out-of-sight"
    """Some of the motif lies round the sides: hidden_percent; where its middle is not at the front:
    beside_deg (above 0 to the right), walk_deg from one motif to the next."""
    FEW_BEADS_WIDE = "few-beads-wide"
    """width_beads."""
    DRAWN_OUT = "drawn-out"
    """A front view is drawn out towards its sides: ratio."""
    COLOURS_MERGED = "colours-merged"
    """one, other: colours of the sketch that become one bead, a code."""
    COLOUR_OUT_OF_REACH = "colour-out-of-reach"
    """No bead comes near: sketch, de00, beads; helps, helps_beads: of another colour that helps
    more beads."""
    COLOURS_OFF = "colours-off"
    """mean_de00; helps: a colour to add."""
    PALETTE_OFF = "palette-off"
    """de00 on so many beads; helps."""
    GROUND_OFF = "ground-off"
    """The ground's bead, a code, is unlike the ground: sketch, bead, de00, kind."""
    LOST_IN_GROUND = "lost-in-ground"
    """Colours that get the ground's bead: sketch (a list), bead, de00, nearer_helps:
    whether a bead nearer to them would."""
    SEAM_ROUND = "seam-round"
    """Where the picture closes round the braid, beads one and other meet: differ_percent."""
    SEAM_REPEAT = "seam-repeat"
    """Where one motif ends and the next begins; data as before."""
    SQUARED_PAPER_WORSE = "squared-paper-worse"
    """lean_deg (above 0 to the left), kept_percent, squared_kept_percent."""
    TONES_KEPT = "tones-kept"
    """A shaded picture comes out: mean_de00."""
    NO_EDGES = "no-edges"
    """The motif has no edges on the braid."""
    SHAPE_KEPT = "shape-kept"
    """p95_mm, p95_beads, lost_percent if some edges are lost, parts_lost: whether parts are."""
    LIMIT_EDGES_LOST = "limit-edges-lost"
    """So many edges are lost that the limit cannot be kept: lost_percent, limit_mm."""
    LIMIT_EDGES = "limit-edges"
    """p95_mm, limit_mm."""
    LIMIT_KEPT = "limit-kept"
    """code, kept_percent, limit_percent."""
    LIMIT_COLOUR = "limit-colour"
    """mean_de00, limit_de00."""


class Weight(IntEnum):
    """How much a finding matters to the maker; the greater first."""

    NOTE = 10
    """What was done or assumed; nothing is to be done."""
    QUESTION = 20
    """A value that is possible and unlikely."""
    MISSING = 30
    """Something is missing: beads, a part of the sketch, a limit."""
    CHANGE = 40
    """Something should be changed before the piece is worked."""
    READS = 50
    """Whether the sketch can be recognised."""


@dataclass(frozen=True)
class Remedy:
    """A change of one option that mends what was found.

    Parameters
    ----------
    field : str
        Of the option table.
    value : Any
        A plain JSON value, in the field's unit.
    also : tuple of Remedy
        Changes that belong to it.
    """

    field: str
    value: Any
    also: tuple[Remedy, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        plain: dict[str, Any] = {"field": self.field, "value": self.value}
        return plain | ({"also": [one.as_dict() for one in self.also]} if self.also else {})

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> Remedy:
        """Return it from plain values; the inverse of `as_dict`."""
        also = tuple(cls.from_dict(one) for one in plain.get("also", ()))
        return cls(str(plain["field"]), plain["value"], also)


@dataclass(frozen=True)
class Finding:
    """One thing to be said.

    Parameters
    ----------
    code : Code
    weight : Weight
    data : mapping of str to plain JSON values
        What the sentence needs; lengths in mm, angles in degrees, shares 0..1; units stand in the
        names.
    remedies : tuple of Remedy
        Ways to mend it, the best first; each was tried.
    """

    code: Code
    weight: Weight
    data: Mapping[str, Any] = field(default_factory=dict)
    remedies: tuple[Remedy, ...] = ()

    def as_dict(self) -> dict[str, Any]:
        """Return it as plain JSON values."""
        plain: dict[str, Any] = {"code": self.code.value, "weight": self.weight.name.lower()}
        plain |= {"data": dict(self.data)} if self.data else {}
        remedies = [remedy.as_dict() for remedy in self.remedies]
        return plain | ({"remedies": remedies} if remedies else {})

    @classmethod
    def from_dict(cls, plain: Mapping[str, Any]) -> Finding:
        """Return it from plain values; the inverse of `as_dict`.

        Raises
        ------
        KeyError, ValueError
            If something is missing or unknown.
        """
        return cls(
            Code(plain["code"]),
            Weight[plain["weight"].upper()],
            dict(plain.get("data", {})),
            tuple(Remedy.from_dict(one) for one in plain.get("remedies", ())),
        )


def distinct(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings in their order, each code and data once."""
    found: list[Finding] = []
    for one in findings:
        if not any(one.code is other.code and one.data == other.data for other in found):
            found.append(one)
    return found


def by_weight(findings: Iterable[Finding]) -> list[Finding]:
    """Return findings by weight, the greatest first, otherwise in their order."""
    return sorted(findings, key=lambda one: -one.weight)
