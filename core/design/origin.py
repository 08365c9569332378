"""How a design came about, and how its papers are made: what its file keeps besides the beads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from typing import Any, Literal

from ..findings import Finding

SketchKind = Literal["flat", "shaded"]


@dataclass(frozen=True)
class SketchColour:
    """A colour of a flat sketch, and the bead it became.

    Parameters
    ----------
    rgb : str
        sRGB, '#rrggbb'.
    share : float
        Part of what is drawn that it fills, 0 to 1.
    bead : str
        Code.
    """

    rgb: str
    share: float
    bead: str


@dataclass(frozen=True)
class MotifSize:
    """Size and turn of a motif.

    Parameters
    ----------
    width_mm : float
        Across the picture, turned as it was asked for, at the middle of the front.
    rotate_deg : float
        Clockwise as seen.
    stretch : float
        How many times taller than drawn.
    """

    width_mm: float
    rotate_deg: float
    stretch: float = 1.0


@dataclass(frozen=True)
class ConversionFacts:
    """What a conversion knew of its sketch, so that nobody need guess it again.

    Parameters
    ----------
    kind : 'flat' or 'shaded'
        As the sketch was taken.
    colours : tuple of SketchColour
        Of a flat sketch; none of a shaded one.
    ground : str or None
        The colour of a flat sketch that is its own ground and became the background bead;
        None if there is none, as where the sketch is transparent.
    asked, used : MotifSize
        As the maker asked for, or as is usual, and as the search found.
    accents : mapping of str to tuple of int
        Crossings of the scattered accents by code, counted from 0.
    repeat_rounds : int, optional
        Rounds from one repeat of a sketch that goes all round to the next straight above.
    tile : str, optional
        Name of the file of that sketch: the design's picture is how it lies on the braid.
    """

    kind: SketchKind
    colours: tuple[SketchColour, ...]
    ground: str | None
    asked: MotifSize
    used: MotifSize
    accents: Mapping[str, tuple[int, ...]] = field(default_factory=dict)
    repeat_rounds: int | None = None
    tile: str | None = None


@dataclass(frozen=True)
class Origin:
    """How a design came about; all of it left out in a design that was drawn by hand.

    Parameters
    ----------
    order : mapping
        What was asked for, as plain JSON values by the names of the option table.
    finished_mm : float, optional
        Finished length, clasp and caps included.
    findings : tuple of Finding
        What is to be said about the design.
    mirrored : bool
        Whether it is the mirror set-up of the design that all else is about.
    test_braid : bool
        Whether it is worked to be measured, not to be worn.
    conversion : ConversionFacts, optional
        Older files hold none.
    """

    order: Mapping[str, Any] = field(default_factory=dict)
    finished_mm: float | None = None
    findings: tuple[Finding, ...] = ()
    mirrored: bool = False
    test_braid: bool = False
    conversion: ConversionFacts | None = None


@dataclass(frozen=True)
class PaperChoice:
    """How the papers of a design are made.

    Parameters
    ----------
    paper : 'a4' or 'letter'
    unit : 'cm' or 'in'
    tally : bool
        Whether the sheet has the round-by-round tally.
    svg : bool
        Whether its pages are made as SVG, too.
    plain_sets : int
        Sets of plain braid before the first bead, 0 to 99. After eight every strand of the usual
        disc of 32 slots is back in its own slot: a set moves it four slots on.
    copies : int
        How many pieces the papers are for; more than one make the sheet a handout for a class.
    """

    paper: Literal["a4", "letter"] = "a4"
    unit: Literal["cm", "in"] = "cm"
    tally: bool = False
    svg: bool = False
    plain_sets: int = 8
    copies: int = 1


# -- as plain values -------------------------------------------------------------------------------


def settings_dict(origin: Origin, papers: PaperChoice = PaperChoice()) -> dict[str, Any]:
    """Return what stands under ``settings`` in a design's file; what is as usual is left out."""
    plain = dict(origin.order)
    if origin.finished_mm is not None:
        plain["finished_mm"] = origin.finished_mm
    if origin.findings:
        plain["findings"] = [one.as_dict() for one in origin.findings]
    if origin.mirrored:
        plain["mirrored"] = True
    if origin.test_braid:
        plain["swatch"] = True
    usual = asdict(PaperChoice())
    return plain | {key: value for key, value in asdict(papers).items() if value != usual[key]}


def conversion_dict(facts: ConversionFacts) -> dict[str, Any]:
    """Return what stands under ``conversion`` in a design's file; crossings count from 1 there."""
    accents = {code: [at + 1 for at in crossings] for code, crossings in facts.accents.items()}
    plain = asdict(facts) | {
        "colours": [asdict(colour) for colour in facts.colours],
        "accents": accents,
    }
    for key in ("repeat_rounds", "tile"):
        if plain[key] is None:
            del plain[key]
    return plain
