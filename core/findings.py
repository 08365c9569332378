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

    # -- the conversion of a sketch; sizes of motifs are those on the braid
    TOO_SMALL = "too-small"
    """The motif cannot be recognised: width_mm, height_mm, beads; sure if a remedy surely helps."""
    HARD_TO_RECOGNISE = "hard-to-recognise"
    """Its rough shape shows at best; data as for TOO_SMALL."""
    LOST_PART = "lost-part"
    """A part has no bead: name, code, where (words of WHERE), width_mm, pitch_mm, hopeless."""
    LOST_BRANCH = "lost-branch"
    """Something that sticks out of a part has none; data as for LOST_PART."""
    LOST_OPENING = "lost-opening"
    """Ground within or between parts is closed; data as for LOST_PART, of what closes it."""
    LOST_MORE = "lost-more"
    """Smaller parts that are lost too: count."""
    STROKES_DRAWN_BROADER = "strokes-drawn-broader"
    """Thin strokes are drawn a bead wide: stroke_mm, pitch_mm."""
    STROKES_TOO_THIN = "strokes-too-thin"
    """Of a line drawing not every stroke shows: stroke_mm, pitch_mm, beads (of the motif)."""
    OUTLINES_LEFT_OUT = "outlines-left-out"
    """Outlines much narrower than a bead: names."""
    TAKEN_AS_SHADED = "taken-as-shaded"
    """The picture was taken for a photograph or a painting."""
    GREYS_ONLY = "greys-only"
    """For a picture without colour only the greyest beads are used."""
    KEPT_UNUSED = "kept-unused"
    """A bead was kept and nothing of the sketch became it: code, most."""
    WALKS = "walks"
    """With a measured drift each motif sits further round: each_deg, clockwise."""
    SPIRAL = "spiral"
    """The motifs wind round the braid: motifs, round_deg, in_view, each_deg, clockwise."""
    MARGINS = "margins"
    """The motif takes little of the picture's width: share."""
    DROPS_LEFT_OUT = "drops-left-out"
    """Drop beads not chosen by colour: codes."""
    WRIST_ASSUMED = "wrist-assumed"
    """No wrist and no length were given: wrist_mm."""
    PLAIN_BACK_COVERS = "plain-back-covers"
    """The plain back covers beads of the motif: beads, whole."""
    SHORT_OF_ROOM = "short-of-room"
    """The motifs were moved only as far as there is room: up_mm, motifs."""


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
