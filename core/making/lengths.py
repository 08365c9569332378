"""Lengths: reading and writing them, from a wrist to rounds of beads, and the cord it takes.

All figures are common practice of the trade unless a docstring says how they are computed.

>>> parse_length("18cm"), parse_length("180mm"), parse_length("7in"), parse_length("180")
(180.0, 180.0, 177.8, 180.0)
>>> round(worn_length_mm(165, ease_mm=15, thickness_mm=8), 1)
205.1
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from ..bounds import BOUNDS, fits, most
from ..errors import WrongUsage
from ..findings import Code, Finding, Remedy, Weight

if TYPE_CHECKING:
    from ..bead import BeadSize
    from ..braid import Lattice

INCH_MM = 25.4
"""Exact, by definition (international yard and pound agreement, 1959)."""

DEFAULT_EASE_MM = 15.0
"""Comfortable: 12.5 to 25 mm."""

DEFAULT_CAPS_MM = 20.0
"""Two end caps; 1 to 2 cm of bare braid at each end goes into them."""

EASES_MM = {"snug": (6.0, 12.5), "comfortable": (12.5, 25.0), "loose": (25.0, 30.0)}
"""By word; snug and loose stand for the middle of their range, comfortable for the usual ease."""

SAMPLE_MM = 6.25
"""Half the range of a comfortable ease: a length off by more fits otherwise than was asked for."""

CORD_FACTOR = 3.0
"""Cord of one strand over the finished length, 8 beaded strands, knots and handling included."""

LEAST_CORE_MM = 0.5
"""A core cord thinner than any working cord fills nothing."""

# exact, see `INCH_MM`
_UNITS_MM = {"": 1.0, "mm": 1.0, "cm": 10.0, "in": INCH_MM, "inch": INCH_MM, "inches": INCH_MM}
_UNITS_MM |= {'"': INCH_MM, "″": INCH_MM, "m": 1000.0}
_LENGTH = re.compile(
    r"(?P<number>\d+(?:[.,]\d+)?|[.,]\d+)?"
    r"(?:\s*(?:(?<=\d)[\s-]+|(?<![\d.,]))(?P<top>\d{1,4})/(?P<bottom>\d{1,4}))?"
    r"\s*(?P<unit>mm|cm|m|inches|inch|in|\"|″)?"
)


def parse_length(text: str, what: str = "length") -> float:
    """Return a length in mm.

    Parameters
    ----------
    text : str
        A number with ``mm``, ``cm``, ``m``, ``in`` or ``"``; a bare number is mm. A comma may
        stand for the decimal point, and inches may have a fraction: ``7 1/2in``.
    what : str
        The name of the value, for the message.

    Raises
    ------
    WrongUsage
        If the text is not a length.
    """
    found = _LENGTH.fullmatch(text.strip().lower())
    number, top, bottom = found.group("number", "top", "bottom") if found else (None, None, None)
    if found is None or (number is None and top is None) or (bottom and not int(bottom)):
        raise WrongUsage(
            f"{what} {text!r:.40} is not a length: write 18cm, 180mm or 7in; a bare number is mm."
        )
    value = float((number or "0").replace(",", "."))
    if top and bottom:
        value += int(top) / int(bottom)
    # a micrometre is fine enough, and 7in reads 177.8
    return round(value * _UNITS_MM[found.group("unit") or ""], 3)


def parse_ease(text: str) -> float:
    """Return an ease in mm, from a length or one of the words of `EASES_MM`.

    >>> parse_ease("snug"), parse_ease("comfortable"), parse_ease("1.2cm")
    (9.25, 15.0, 12.0)
    """
    word = text.strip().lower()
    if word == "comfortable":
        return DEFAULT_EASE_MM
    return sum(EASES_MM[word]) / 2 if word in EASES_MM else parse_length(text, "ease")


def in_inches(text: str) -> bool:
    """Whether a length was written in inches; `text` as for `parse_length`."""
    found = _LENGTH.fullmatch(text.strip().lower())
    return found is not None and _UNITS_MM[found.group("unit") or ""] == INCH_MM


def plain_length(mm: float, unit: str | None = None) -> str:
    """Return a length as it may have been given: mm, or inches to the hundredth.

    >>> plain_length(165.0), plain_length(165.1, "in")
    ('165 mm', '6.5 in')
    """
    return f"{_plain(mm, unit)} {'in' if unit == 'in' else 'mm'}"


def _plain(mm: float, unit: str | None) -> str:
    return f"{round(mm / INCH_MM, 2):g}" if unit == "in" else f"{mm:g}"


def format_length(mm: float, unit: str | None = None) -> str:
    """Return a length for people.

    Parameters
    ----------
    mm : float
    unit : 'mm', 'cm' or 'in', optional
        With cm, as without one, cm from 100 mm on and mm below.
    """
    if unit not in ("mm", "in"):
        unit = "cm" if abs(mm) >= 100 else "mm"
    value = mm / _UNITS_MM[unit]
    digits = {"mm": 1 if abs(value) < 20 else 0, "cm": 1, "in": 2}[unit]
    return f"{value:.{digits}f} {unit}"


def small_length(mm: float, unit: str | None = None) -> str:
    """Return a length on the braid for people: mm to the tenth, inches to the hundredth.

    >>> small_length(15.3), small_length(15.3, "in")
    ('15.3 mm', '0.60 in')
    """
    return f"{mm / INCH_MM:.2f} in" if unit == "in" else f"{mm:.1f} mm"


def small_size(wide_mm: float, high_mm: float, unit: str | None = None) -> str:
    """Return width and height on the braid; the unit stands once.

    >>> small_size(12, 8)
    '12.0 × 8.0 mm'
    """
    return f"{small_length(wide_mm, unit).partition(' ')[0]} × {small_length(high_mm, unit)}"


def braid_thickness(mm: float, unit: str | None = None) -> str:
    """Return how thick a braid is: in mm, as caps are sold, and beside it in inches if wanted.

    >>> braid_thickness(7.98), braid_thickness(7.98, "in")
    ('8.0 mm', '0.31 in (8.0 mm)')
    """
    thick = format_length(mm, "mm")
    return f"{format_length(mm, 'in')} ({thick})" if unit == "in" else thick


def cut_length(mm: float, unit: str | None = None, pieces: int = 1) -> str:
    """Return what to buy or cut, never too little.

    Nobody cuts cord to the millimetre: each piece is rounded up to the whole cm or inch. Several
    are given in m or yards, and that is rounded up too.

    Parameters
    ----------
    mm : float
        Of one piece.
    unit : 'mm', 'cm' or 'in', optional
        As for `format_length`; all but inches stand in cm and m.
    pieces : int

    >>> cut_length(1621), cut_length(1621, pieces=8), cut_length(1621, "in", pieces=8)
    ('163 cm', '13.1 m', '14.3 yd')
    """
    inches = unit == "in"
    one = math.ceil(mm / (INCH_MM if inches else 10.0) - 1e-9)
    if pieces == 1:
        return f"{one} {'in' if inches else 'cm'}"
    # in whole tenths, so that no fraction of a binary number rounds it up once more
    tenths = -(-one * pieces * 10 // (36 if inches else 100))
    return f"{tenths / 10:.1f} {'yd' if inches else 'm'}"


def worn_length_mm(wrist_mm: float, ease_mm: float, thickness_mm: float) -> float:
    """Return the length of a bracelet along the braid's centre line.

    The centre line runs half a thickness outside the wrist; for any convex wrist a curve at
    distance ``r`` is longer by exactly ``2·π·r`` (Steiner), here ``π·thickness``.
    """
    return wrist_mm + ease_mm + math.pi * thickness_mm


@dataclass(frozen=True)
class Lengths:
    """From a wrist, or a wanted length, to rounds and beads.

    Parameters
    ----------
    wrist_mm, ease_mm : float or None
        None when a length was asked for.
    thickness_mm : float
        Of the beaded braid.
    thickness_source : 'given', 'computed' or 'measured'
    finished_mm : float
        Along the braid's centre line, clasp and caps included.
    clasp_mm, caps_mm : float
        What the closed clasp adds, and both end caps together.
    extension_mm : float
        How much further it can be closed; a chain beside the clasp, none of it in the finished
        length.
    beaded_mm : float
        What is left for beads.
    rise_mm : float
        Height of a round.
    rise_source : 'computed' or 'measured'
    rounds : int
        The nearest even number, so that every strand carries the same number of beads.
    strands : int
    findings : tuple of Finding
        What looks unlikely, then what was assumed.
    """

    wrist_mm: float | None
    ease_mm: float | None
    thickness_mm: float
    thickness_source: str
    finished_mm: float
    clasp_mm: float
    caps_mm: float
    extension_mm: float
    beaded_mm: float
    rise_mm: float
    rise_source: str
    rounds: int
    strands: int
    findings: tuple[Finding, ...] = ()

    @property
    def questions(self) -> tuple[Finding, ...]:
        """Those of the findings that ask about unlikely values."""
        return tuple(one for one in self.findings if one.weight is Weight.QUESTION)

    @property
    def beads_per_strand(self) -> int:
        """Every strand crosses once in two rounds."""
        return self.rounds // 2

    @property
    def beads(self) -> int:
        """All beads of the braid."""
        return self.beads_per_strand * self.strands

    @property
    def worked_mm(self) -> float:
        """Length of the beaded braid that these rounds give."""
        return self.rounds * self.rise_mm

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines."""
        return {
            "wrist_mm": self.wrist_mm,
            "ease_mm": self.ease_mm,
            "thickness_mm": round(self.thickness_mm, 3),
            "thickness_source": self.thickness_source,
            "finished_mm": round(self.finished_mm, 3),
            "clasp_mm": self.clasp_mm,
            "caps_mm": self.caps_mm,
            "extension_mm": self.extension_mm,
            "beaded_mm": round(self.beaded_mm, 3),
            "rise_mm": round(self.rise_mm, 4),
            "rise_source": self.rise_source,
            "rounds": self.rounds,
            "worked_mm": round(self.worked_mm, 3),
            "strands": self.strands,
            "beads_per_strand": self.beads_per_strand,
            "beads": self.beads,
            "findings": [one.as_dict() for one in self.findings],
        }


def even_rounds(length_mm: float, rise_mm: float) -> int:
    """Return the even number of rounds whose length is nearest to `length_mm`, at least 2."""
    return max(2, 2 * math.floor(length_mm / rise_mm / 2 + 0.5))


# many: eight measures that a maker may give or leave out, by name alone
# long: a line for each measure, and for each value that comes of them
def lengths(
    lattice: Lattice,
    *,
    wrist_mm: float | None = None,
    length_mm: float | None = None,
    ease_mm: float | None = None,
    thickness_mm: float | None = None,
    clasp_mm: float | None = None,
    caps_mm: float | None = None,
    extension_mm: float | None = None,
    sample_mm: float | None = None,
    unit: str | None = None,
) -> Lengths:
    """Plan a piece from a wrist, or from a wanted finished length.

    With a wrist, 15 mm of ease and 20 mm for two end caps are assumed, and said so; with a
    length, nothing is taken off unless clasp and caps are given.

    Parameters
    ----------
    lattice : Lattice
    wrist_mm, length_mm : float, optional
        Exactly one: the wrist, or the finished length.
    ease_mm, clasp_mm, caps_mm, extension_mm : float, optional
    sample_mm : float, optional
        Finished length, clasp included, of a bracelet that fits as this one is to fit and is about
        as thick: a check.
    thickness_mm : float, optional
        Measured by the maker; the lattice's thickness otherwise.
    unit : 'in', optional
        Lengths were given in inches: refusals name them so, and thickness in mm; without it all
        are in mm.

    Raises
    ------
    WrongUsage
        If neither or both of wrist and length are given, a value is out of its `BOUNDS`, or
        nothing is left for beads.
    """
    _check_one_of(wrist_mm, length_mm)
    questions = _checked(
        unit,
        wrist=wrist_mm,
        length=length_mm,
        ease=ease_mm,
        thickness=thickness_mm,
        clasp=clasp_mm,
        caps=caps_mm,
        extension=extension_mm,
        sample=sample_mm,
    )
    thickness, source = lattice.thickness_mm, lattice.source["radius_mm"]
    if thickness_mm is not None:
        questions += off(Code.THICKNESS_OFF, "mm", thickness_mm, thickness)
        thickness, source = thickness_mm, "given"
    ease, caps, assumed = _assume(wrist_mm, ease_mm, clasp_mm, caps_mm)
    finished = length_mm or worn_length_mm(wrist_mm or 0.0, ease or 0.0, thickness)
    if extension_mm:
        assumed.append(_fits(finished, extension_mm, thickness, wrist_mm, ease))
    if sample_mm is not None:
        questions += _compared(sample_mm, finished)
    beaded = finished - (clasp_mm or 0.0) - caps
    field = "wrist_mm" if length_mm is None else "length_mm"
    rounds = _rounds(lattice, finished, beaded, unit, field)
    return Lengths(
        wrist_mm=wrist_mm,
        ease_mm=ease,
        thickness_mm=thickness,
        thickness_source=source,
        finished_mm=finished,
        clasp_mm=clasp_mm or 0.0,
        caps_mm=caps,
        extension_mm=extension_mm or 0.0,
        beaded_mm=beaded,
        rise_mm=lattice.rise_mm,
        rise_source=lattice.source["rise_mm"],
        rounds=rounds,
        strands=lattice.braid.strands,
        findings=(*questions, *assumed),
    )


def _fits(
    finished_mm: float,
    extension_mm: float,
    thickness_mm: float,
    wrist_mm: float | None,
    ease_mm: float | None,
) -> Finding:
    """Shortest and longest it can be closed, and the wrists that this fits with the same ease."""
    ease_mm = DEFAULT_EASE_MM if ease_mm is None else ease_mm
    if wrist_mm is None:
        wrist_mm = finished_mm - ease_mm - math.pi * thickness_mm
    data = {
        "closed_mm": [round(finished_mm, 1), round(finished_mm + extension_mm, 1)],
        "wrist_mm": [round(wrist_mm, 1), round(wrist_mm + extension_mm, 1)],
        "ease_mm": ease_mm,
    }
    return Finding(Code.FITS, data)


def _compared(sample_mm: float, finished_mm: float) -> list[Finding]:
    """Compare the finished length with that of a bracelet that fits."""
    data = {"sample_mm": sample_mm, "finished_mm": round(finished_mm, 1)}
    agrees = abs(sample_mm - finished_mm) <= SAMPLE_MM
    return [Finding(Code.SAMPLE_AGREES if agrees else Code.SAMPLE_DIFFERS, data)]


def _check_one_of(wrist_mm: float | None, length_mm: float | None) -> None:
    if (wrist_mm is None) == (length_mm is None):
        raise WrongUsage(
            "give the wrist or the finished length, one of the two, not both.",
            "wrist_mm" if wrist_mm is None else "length_mm",
        )


def _all_beaded() -> list[Finding]:
    """That nothing is taken off the finished length for clasp and caps."""
    remedies = (Remedy("clasp_mm", None), Remedy("caps_mm", None))
    return [Finding(Code.ALL_OF_IT_BEADED, {}, remedies)]


def _rounds(
    lattice: Lattice, finished_mm: float, beaded_mm: float, unit: str | None, field: str
) -> int:
    """Return how many rounds fill the beaded length; refuse too few and too many, at `field`."""
    if beaded_mm < 2 * lattice.rise_mm:
        raise WrongUsage(
            f"Of {format_length(finished_mm, unit)} only "
            f"{format_length(max(0.0, beaded_mm), unit)} is left for beads, less than two rounds "
            f"({format_length(2 * lattice.rise_mm, unit)}): give a longer wrist or length, or a "
            "shorter clasp and caps.",
            field,
        )
    rounds = even_rounds(beaded_mm, lattice.rise_mm)
    if (beads := rounds * lattice.braid.beads_per_round) > most("beads"):
        raise WrongUsage(
            f"length {format_length(beaded_mm, unit)} takes {beads} beads, more than "
            f"{most('beads')}: make it shorter, or take larger beads or fewer strands.",
            field,
        )
    return rounds


def _checked(asked_unit: str | None, **values: float | None) -> list[Finding]:
    """Refuse impossible values, all together; return questions about unusual ones."""
    refused, questions = [], []
    for name, value in values.items():
        if value is None:
            continue
        usual = BOUNDS[name].usual or (BOUNDS[name].low, BOUNDS[name].high)
        unit = None if name == "thickness" else asked_unit
        meant = None if unit == "in" else _meant(value, usual)
        if not fits(name, value):
            range_mm = f"{_plain(usual[0], unit)} to {plain_length(usual[1], unit)}"
            size = "large" if value > BOUNDS[name].high else "small"
            guess = "" if meant is None else f" Did you mean {value:g}{meant}?"
            bare = "" if unit == "in" else f"{guess} A bare number is mm."
            sentence = (
                f"{name} {plain_length(value, unit)} is too {size}: usual are {range_mm}.{bare}"
            )
            refused.append(WrongUsage(sentence, f"{name}_mm"))
        elif not usual[0] <= value <= usual[1]:
            questions.append(_unusual(name, value, usual, meant))
    if refused:
        raise WrongUsage.together(refused)
    return questions


def _unusual(
    name: str, value_mm: float, usual_mm: tuple[float, float], meant: str | None
) -> Finding:
    data = {"what": name, "value_mm": value_mm, "usual_mm": list(usual_mm)}
    if meant is None:
        return Finding(Code.LENGTH_UNUSUAL, data)
    instead = Remedy(f"{name}_mm", round(value_mm * _UNITS_MM[meant], 3))
    return Finding(Code.LENGTH_UNUSUAL, data, (instead,))


def _meant(value_mm: float, usual_mm: tuple[float, float]) -> str | None:
    """Return the unit that would have made the number a usual length."""
    for unit in ("cm", "in"):
        if usual_mm[0] <= value_mm * _UNITS_MM[unit] <= usual_mm[1] and value_mm:
            return unit
    return None


def _assume(
    wrist_mm: float | None, ease_mm: float | None, clasp_mm: float | None, caps_mm: float | None
) -> tuple[float | None, float, list[Finding]]:
    """Ease and caps, and what had to be assumed; a wanted length has no ease."""
    if wrist_mm is None:
        all_beaded = clasp_mm is None and caps_mm is None
        return None, caps_mm or 0.0, _all_beaded() if all_beaded else []
    assumed = []
    if ease_mm is None:
        ease_mm = DEFAULT_EASE_MM
        assumed.append(Finding(Code.EASE_ASSUMED, {"ease_mm": ease_mm}))
    if caps_mm is None:
        caps_mm = DEFAULT_CAPS_MM
        assumed.append(Finding(Code.CAPS_ASSUMED, {"caps_mm": caps_mm}))
    return ease_mm, caps_mm, assumed


def off(code: Code, unit: str, measured: float, computed: float) -> list[Finding]:
    """Question a reading that is more than 25 % from the computed value.

    Parameters
    ----------
    code : Code
    unit : 'mm' or 'rounds'
    measured, computed : float

    Returns
    -------
    list of Finding
        The question, or nothing for a likely reading.
    """
    if abs(measured - computed) <= 0.25 * computed:
        return []
    data = {f"measured_{unit}": measured, f"computed_{unit}": computed}
    return [Finding(code, data)]


@dataclass(frozen=True)
class Cord:
    """Cord, core and end caps.

    Parameters
    ----------
    strands : int
    finished_mm : float
        Length of the piece, clasp and caps included.
    strand_mm : float
        To cut for one working strand.
    factor : float
        `strand_mm` over the finished length.
    thickness_mm : (float, float) or None
        Fills 1/2 to 2/3 of the bead's hole; None if the hole is not known.
    core_mm : (float, float) or None
        Thickness (estimate) and length of a core cord, from 12 strands on; None if the strands
        fill the hollow themselves.
    hollow_mm, thickness_braid_mm : float
        Inside and outside diameter of the beaded braid.
    """

    strands: int
    finished_mm: float
    strand_mm: float
    factor: float
    thickness_mm: tuple[float, float] | None
    core_mm: tuple[float, float] | None
    hollow_mm: float
    thickness_braid_mm: float

    @property
    def pieces(self) -> int:
        """Pieces to cut when each is folded in the middle to make two strands."""
        return self.strands // 2

    @property
    def piece_mm(self) -> float:
        """Length of such a piece."""
        return 2 * self.strand_mm

    @property
    def total_mm(self) -> float:
        """All the cord of the working strands."""
        return self.strands * self.strand_mm

    def as_dict(self) -> dict[str, object]:
        """Return the plain values, for machines."""
        return {
            "finished_mm": round(self.finished_mm, 1),
            "strand_mm": round(self.strand_mm, 1),
            "factor": round(self.factor, 3),
            "folded_pieces": self.pieces,
            "folded_piece_mm": round(self.piece_mm, 1),
            "total_mm": round(self.total_mm, 1),
            "thickness_mm": None if self.thickness_mm is None else list(self.thickness_mm),
            "core_thickness_mm": None if self.core_mm is None else round(self.core_mm[0], 2),
            "core_length_mm": None if self.core_mm is None else round(self.core_mm[1], 1),
            "cap_inside_bare_mm": round(self.hollow_mm, 2),
            "cap_inside_beads_mm": round(self.thickness_braid_mm, 2),
        }


def take_up(lattice: Lattice) -> float:
    """Return strand between two beads over the braid's length between them, at least.

    Along its strand the next bead lies ``180° - 2·drift`` round and two rounds up; the straight
    way there is a lower bound.
    """
    turn = math.radians(180.0 - 2 * lattice.drift_deg)
    across = 2 * lattice.radius_mm * math.sin(turn / 2)
    return math.hypot(across, 2 * lattice.rise_mm) / (2 * lattice.rise_mm)


def cord(lattice: Lattice, bead: BeadSize, finished_mm: float) -> Cord:
    """Return the cord, core and caps of a piece.

    Three times the finished length holds for 8 strands. With more strands each one has a longer
    way across a thicker braid; what that adds is computed (`take_up`). The core fills what the
    strands leave of the hollow, counting that 8 strands fill theirs, so N strands fill N/8 of
    that area.

    Parameters
    ----------
    lattice : Lattice
    bead : BeadSize
        For the hole.
    finished_mm : float
        Clasp and caps included.
    """
    eight = _eight_strands(lattice, bead)
    strands = lattice.braid.strands
    longer = 0.0 if strands == 8 else max(0.0, take_up(lattice) - take_up(eight))
    core = None
    if strands >= 12:
        rest = lattice.hollow_mm**2 - strands / 8 * eight.hollow_mm**2
        thickness = math.sqrt(max(0.0, rest))
        core = (thickness, finished_mm) if thickness >= LEAST_CORE_MM else None
    return Cord(
        strands=strands,
        finished_mm=finished_mm,
        strand_mm=(CORD_FACTOR + longer) * finished_mm,
        factor=CORD_FACTOR + longer,
        thickness_mm=None if bead.hole_mm is None else (bead.hole_mm[0] / 2, bead.hole_mm[0] / 1.5),
        core_mm=core,
        hollow_mm=lattice.hollow_mm,
        thickness_braid_mm=lattice.thickness_mm,
    )


def _eight_strands(lattice: Lattice, bead: BeadSize) -> Lattice:
    from ..braid import Braid

    return type(lattice).computed(Braid(8), bead)
