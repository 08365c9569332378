"""The distortion report as values.

The fields are named as in ``distortion.json`` and stand in its order; what they mean is said in
`himotif.core.show.distortion`. `Report.as_dict` is the only place that makes plain values of them.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from enum import StrEnum
from typing import Any, Literal

from ..findings import Finding
from ..srgb import Rgb

SCHEMA = 1
"""Of the file of a report."""

_FILED_AS = {"scattered": "strewn"}
"""Fields whose name in the file is older than the name here."""


@dataclass(frozen=True)
class Measured:
    """Which motif was measured, and the piece of braid it lies on."""

    motif: int
    of: int
    from_front_deg: float
    walk_deg: float
    bottom_mm: float
    top_mm: float
    azimuth_deg: float


@dataclass(frozen=True)
class BraidSize:
    """The braid, and what one bead of it takes."""

    strands: int
    lay: str
    turn: str
    bead: str
    pitch_mm: float
    bead_area_mm2: float
    covering_radius_mm: float
    circumference_mm: float
    thickness_mm: float
    source: Mapping[str, str]


@dataclass(frozen=True)
class MotifNumbers:
    """The motif as it was asked for, and how much of it is kept; None if nothing is drawn."""

    fit: str
    width_mm: float
    height_mm: float
    width_beads: float
    height_beads: float
    rotate_deg: float
    asked_rotate_deg: float
    kept_percent: float | None


@dataclass(frozen=True)
class EdgeNumbers:
    """How far edges moved; None where none are left."""

    mean_mm: float | None
    mean_beads: float | None
    p95_mm: float | None
    p95_beads: float | None
    worst_mm: float | None
    worst_beads: float | None
    lost_percent: float


@dataclass(frozen=True)
class BraidPlace:
    """A place on the braid that hands can find; crossing, strand and order count from 1."""

    azimuth_deg: float
    height_mm: float
    from_front_deg: float
    crossing: int
    strand: int
    order: int


@dataclass(frozen=True)
class ThinLine:
    """A line too thin for beads; if gap, of the ground between two parts."""

    width_mm: float
    gap: bool


@dataclass(frozen=True)
class AllEdges(EdgeNumbers):
    """How far the edges moved, and where furthest; the thin line that runs there, if one does."""

    worst_place: BraidPlace | None
    worst_line: ThinLine | None


class Why(StrEnum):
    """Why a colour changed; the value stands in distortion.json."""

    SMALLER_THAN_A_BEAD = "smaller than one bead"
    NARROWER_THAN_A_BEAD = "parts of it are narrower than a bead"
    SMALL_PIECES = "pieces of it are smaller than two beads"
    NARROWER_THAN_TWO = "parts of it are narrower than two beads, and fall between them"
    BETWEEN_THE_BEADS = "its edges, or gaps in it, fall between the beads"


@dataclass(frozen=True)
class RegionNumbers:
    """One colour of the sketch, before and after; `why` says why it changed."""

    is_background: bool
    area_beads: float
    beads: int
    kept_percent: float
    pieces_before: int
    pieces_after: int
    pieces_lost: int
    holes_before: int
    holes_after: int
    narrowest_mm: float
    narrowest_beads: float
    why: Why | None


@dataclass(frozen=True)
class ColourRow(RegionNumbers):
    """One colour of the sketch, and the bead that stands for it.

    Parameters
    ----------
    scattered : int
        Beads of it that were scattered over the ground, beside those that stand for the colour.
    lost_in_ground : bool
        Whether it gets the ground's bead and cannot be distinguished from the ground.
    sketch : str or None
        The colour in the sketch, ``#rrggbb``.
    de00 : float or None
        CIEDE2000 of the bead to it.
    """

    code: str
    name: str
    rgb: Rgb
    scattered: int
    lost_in_ground: bool
    sketch: str | None
    de00: float | None
    edges: EdgeNumbers


@dataclass(frozen=True)
class OtherBead:
    """A bead of the braid that stands for nothing in the sketch."""

    code: str
    name: str
    rgb: Rgb
    beads: int
    scattered: int
    on_the_braid: int


@dataclass(frozen=True)
class Stretch:
    """What a linear map from sketch to braid does.

    `ratio` is the largest over the smallest stretch, 1 for a true picture; None if all falls on
    one line.
    """

    largest: float
    smallest: float
    across: float
    along: float
    slant_deg: float
    row_climb_deg: float
    column_lean_deg: float
    ratio: float | None


@dataclass(frozen=True)
class Stretches:
    """The map of the placement where it is bent most, and that of squared paper.

    `taller` is how many times as tall as drawn the motif is worked, `bent` the largest over the
    smallest stretch, were it not so; None without a map.
    """

    fit: Stretch | None
    squared_paper: Stretch
    taller: float
    bent: float | None


@dataclass(frozen=True)
class SquaredPaper:
    """How the same sketch would fare on squared paper."""

    edges: EdgeNumbers
    motif_kept_percent: float | None


@dataclass(frozen=True)
class Visibility:
    """How much of the motif can be seen from the front; the last is None if nothing faces it."""

    within_30_deg_percent: float
    within_60_deg_percent: float
    within_90_deg_percent: float
    hidden_percent: float
    apparent_width_percent: float | None


@dataclass(frozen=True)
class BeadsMeet:
    """Two beads, by code, that meet along a join, and for how long."""

    one: str
    other: str
    length_mm: float


@dataclass(frozen=True)
class SeamRound:
    """Where the picture closes round the braid, or the ground that keeps it from it."""

    gap_mm: float
    closed: bool
    times: int
    length_mm: float
    differ_percent: float
    meetings: tuple[BeadsMeet, ...]


@dataclass(frozen=True)
class SeamRepeat:
    """Where one motif ends and the next begins."""

    gap_mm: float
    times: int
    length_mm: float
    differ_percent: float
    meetings: tuple[BeadsMeet, ...]


@dataclass(frozen=True)
class Seams:
    """Where the picture meets itself; `repeat` is None if it comes once."""

    round: SeamRound
    repeat: SeamRepeat | None


@dataclass(frozen=True)
class WorstBead:
    """The bead whose colour is furthest from the sketch's."""

    de00: float
    crossing: int
    strand: int
    order: int
    sketch: str
    bead: str


@dataclass(frozen=True)
class Ground:
    """The sketch's own ground, and the bead it becomes."""

    sketch: str
    bead: str
    de00: float


@dataclass(frozen=True)
class LostInGround:
    """A colour of the motif that gets the ground's bead."""

    sketch: str
    bead: str
    name: str
    de00: float


@dataclass(frozen=True)
class FarColour:
    """A colour of the motif that no bead comes near, and how many beads it wants."""

    sketch: str
    beads: int
    best_de00: float


@dataclass(frozen=True)
class OutOfReach:
    """The colours that no bead comes near, the worst first."""

    limit_de00: float
    beads: int
    colours: tuple[FarColour, ...]


@dataclass(frozen=True)
class WorthBuying:
    """The one colour whose bead would improve the motif most."""

    sketch: str
    beads: int
    from_de00: float
    to_de00: float


@dataclass(frozen=True)
class Merged:
    """Two colours of the sketch that become one bead."""

    one: str
    other: str
    de00: float
    bead: str


@dataclass(frozen=True)
class ColourNumbers:
    """What becomes of the sketch's colours; None where no bead stands for any."""

    beads: int
    mean_de00: float | None
    p95_de00: float | None
    worst: WorstBead | None
    ground: Ground | None
    lost_in_ground: tuple[LostInGround, ...]
    out_of_reach: OutOfReach
    worth_buying: WorthBuying | None
    merged: tuple[Merged, ...]


@dataclass(frozen=True)
class Scores:
    """C, C seen from twice as far, S, F and J of a conversion, by their usual symbols."""

    C: float
    C_far: float
    S: float
    F: float
    J: float


@dataclass(frozen=True)
class LikenessNumbers:
    """The measures over the motif, and over the whole piece."""

    motif: Scores
    whole: Scores


@dataclass(frozen=True)
class Report:
    """What the braid does to a sketch.

    Parameters
    ----------
    squared_paper : SquaredPaper or None
        None for a pattern whose repeat is not known.
    lost : sequence of Finding or None
        Parts that the conversion found lost; None if it did not look for them.
    unrecognised : Finding or None
        That the motif can hardly be recognised.
    lettered : bool
        Whether it is a text.
    """

    sketch: Literal["flat", "shaded"]
    measured: Measured
    braid: BraidSize
    motif: MotifNumbers
    edges: AllEdges
    regions: tuple[ColourRow, ...]
    not_in_sketch: tuple[OtherBead, ...]
    stretch: Stretches
    squared_paper: SquaredPaper | None
    visibility: Visibility | None
    seam: Seams
    colour: ColourNumbers
    likeness: LikenessNumbers | None
    lost: Sequence[Finding] | None
    unrecognised: Finding | None
    lettered: bool = False

    def as_dict(self, say: Callable[[Finding], str]) -> dict[str, Any]:
        """Return it as plain JSON values, numbers to four decimals; `say` makes the sentences."""
        lost = None if self.lost is None else [say(one) for one in self.lost]
        doubt = None if self.unrecognised is None else say(self.unrecognised)
        plain: dict[str, Any] = {"schema": SCHEMA} | asdict(self, dict_factory=_as_filed)
        plain |= {"lost": lost, "unrecognised": doubt}
        seen = plain["visibility"] or {}
        plain["visibility"] = {name: value for name, value in seen.items() if value is not None}
        return {name: rounded(value) for name, value in plain.items()}


def _as_filed(fields: list[tuple[str, Any]]) -> dict[str, Any]:
    """The fields of a dataclass by the names that they have in the file."""
    return {_FILED_AS.get(name, name): value for name, value in fields}


def rounded(value: Any, digits: int = 4) -> Any:
    """Return a JSON value with its numbers rounded, all the way down."""
    if isinstance(value, float):
        return round(value, digits)
    if isinstance(value, Mapping):
        return {key: rounded(item, digits) for key, item in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [rounded(item, digits) for item in value]
    return value
