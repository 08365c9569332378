"""The option table: what can be asked for, once for the command, the page and the design.

Each field of `Order`, `Papers` and `Limits` carries an `Option`: how its value is read from text
and written back, and what it is called on the command line and on the page. The command makes its
options of it, the page its form, and both read what they are given with `read_values`.

Nothing heavy is imported here: ``--help`` reads this table.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, fields, replace
from enum import Enum
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from ..core.bounds import most
from ..core.errors import WrongUsage
from ..core.names import LAY_MOVES

if TYPE_CHECKING:
    from ..core.braid import Disc, Lay, Turn
    from ..core.design import Fit, PaperChoice, SketchKind
    from ..core.drawing.typeface import Typeface
    from ..core.findings import Remedy
    from ..core.making.swatch import Readings


Pin = Literal["shift", "scale", "turn", "stretch"]

OutlineWay = Literal["strokes", "mass"]
"""A sketch in outlines as its lines alone, or as the mass that they enclose."""

TextWay = Literal["up", "down", "below"]
"""How a line of letters runs: along the braid from its first bead up, or from its last bead down,
with letters turned a quarter; or letter below letter, each upright while the first beads hang."""

DEFAULT_WRIST_MM = 165.0
"""Of a grown woman; common practice."""


class Group(Enum):
    """Sections of the help, in their order."""

    OTHER = "Options"
    BRAID = "Braid"
    BEAD = "Bead"
    SIZE = "Size of the piece"
    MOTIF = "Motif"
    TEXT = "Text"
    COLOURS = "Colours"
    PAPERS = "Papers"
    LIMITS = "Limits"


# -- kinds of values: text in, value out -----------------------------------------------------------


# no kind is compared or printed: methods for that took a third of the time this module loads in
@dataclass(frozen=True, eq=False, repr=False)
class ValueKind:
    """Any text; the kinds below read it as something."""

    metavar: str = "TEXT"
    unit: str = ""
    """Ends the field's name, and not the option's."""
    mark: str = ""
    """Follows the number on the command line."""

    def read(self, text: str) -> Any:
        """Return the value; raise `WrongUsage` if it is none."""
        return text.strip()

    def write(self, value: Any) -> str:
        """Return the text; `read` gives the value again."""
        return str(value)


@dataclass(frozen=True, eq=False, repr=False)
class OneOf(ValueKind):
    """One of a few values; each with its name on the page, if it has another there."""

    values: tuple[Any, ...] = ()
    names: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        object.__setattr__(self, "metavar", f"[{'|'.join(map(str, self.values))}]")

    def read(self, text: str) -> Any:
        for value in self.values:
            if str(value) == text:
                return value
        raise WrongUsage(f"{text!r} is not one of {', '.join(map(str, self.values))}.")


class Hand(OneOf):
    """A lay of the braid; words that can mean either are answered with the moves of both."""

    def read(self, text: str) -> Any:
        from ..core.findings import Remedy

        word = re.sub(r"[\s-]*(lay|twist|hand|handed)$", "", text.strip(), flags=re.IGNORECASE)
        if word.upper() in self.values:
            return word.upper()
        moves = "; ".join(f"{lay}: {LAY_MOVES[lay]}" for lay in self.values)
        if word.lower() in ("left", "right", "mirror", "mirrored", "mirror image"):
            raise WrongUsage(
                f"{text!r} can mean either lay. {moves}. For the mirror image of a design that is "
                "made use himotif mirror.",
                remedies=[Remedy("lay", lay) for lay in self.values],
            )
        raise WrongUsage(f"{text!r} is not one of {' and '.join(self.values)}. {moves}.")


@dataclass(frozen=True, eq=False, repr=False)
class SizeName(ValueKind):
    """A trade size of beads; 6 is 6/0."""

    metavar: str = "SIZE"

    def read(self, text: str) -> str:
        from ..core.bead import size_name

        return size_name(text)


@dataclass(frozen=True, eq=False, repr=False)
class Length(ValueKind):
    """A length in mm, from 18cm, 180mm, 7in or a bare number."""

    metavar: str = "LENGTH"
    unit: str = "mm"
    mark: str = "mm"
    such_as: str = "18cm, 180mm or 7in"
    signed: bool = False
    """Whether a minus sends it the other way."""

    def read(self, text: str) -> float:
        from ..core.making.lengths import parse_length

        bare = text.strip()
        minus = self.signed and bare[:1] in ("-", "−")
        try:
            length_mm = parse_length(bare.lstrip("+-− ") if self.signed else bare)
        except WrongUsage:
            length_mm = math.inf
        if not math.isfinite(length_mm):
            raise WrongUsage(
                f"{text!r} is not a length: write {self.such_as}; a bare number is mm."
            )
        return -length_mm if minus else length_mm

    def write(self, value: float) -> str:
        return f"{value:.10g}"


@dataclass(frozen=True, eq=False, repr=False)
class Ease(Length):
    """A length in mm, or a word for one."""

    metavar: str = "EASE"
    such_as: str = "snug, comfortable or loose, 15 or 1.5cm"

    def read(self, text: str) -> float:
        from ..core.making.lengths import EASES_MM, parse_ease

        return parse_ease(text) if text.strip().lower() in EASES_MM else super().read(text)


@dataclass(frozen=True, eq=False, repr=False)
class Number(ValueKind):
    """A number of something within its bounds; endless ones are refused."""

    metavar: str = "NUMBER"
    what: str = "a number"
    low: float = -math.inf
    high: float = math.inf

    def read(self, text: str) -> float:
        try:
            number = self.number(text)
            fits = math.isfinite(number) and self.low <= number <= self.high
        except (ValueError, OverflowError):
            fits = False
        if not fits:
            raise WrongUsage(f"{text!r} is not {self.what}{self._bounds()}.")
        return number

    def number(self, text: str) -> float:
        """The number, of any size."""
        return float(text.replace(",", "."))

    def _bounds(self) -> str:
        if self.low == -math.inf:
            return ""
        return f" from {self.low:g} " + ("up" if self.high == math.inf else f"to {self.high:g}")

    def write(self, value: float) -> str:
        return f"{value:.10g}"


@dataclass(frozen=True, eq=False, repr=False)
class Whole(Number):
    """A whole number."""

    metavar: str = "N"
    what: str = "a whole number"

    def number(self, text: str) -> int:
        return int(text)


@dataclass(frozen=True, eq=False, repr=False)
class RepeatCount(ValueKind):
    """How often a motif comes."""

    metavar: str = "N|fill|once"
    others: tuple[str, ...] = ("fill", "once")
    """What else than a number can be given."""

    def read(self, text: str) -> int | str:
        if text in self.others:
            return text
        if not text.isdecimal() or len(text) > 4 or not 1 <= int(text) <= 1000:
            raise WrongUsage(
                f"{text!r} is no number of motifs: give 1 or more; fill for as many as there is "
                "room for, once for one."
            )
        return int(text)


@dataclass(frozen=True, eq=False, repr=False)
class Offset(ValueKind):
    """A place on the braid, from its middle: to the right and up, in mm."""

    metavar: str = "RIGHT,UP"
    unit: str = "mm"
    part: Length = Length(such_as="5, -5 or 0.5cm", signed=True)

    def read(self, text: str) -> tuple[float, ...]:
        parts = text.split(",")
        if len(parts) != 2:
            raise WrongUsage(f"{text!r} is no place: give mm to the right and up, such as 1.5,-4.")
        return tuple(self.part.read(part) for part in parts)

    def write(self, value: Iterable[float]) -> str:
        return ",".join(map(self.part.write, value))


@dataclass(frozen=True, eq=False, repr=False)
class ColourText(ValueKind):
    """A colour in one of the notations of a palette, or by its name of CSS; as #rrggbb."""

    metavar: str = "COLOUR"

    def read(self, text: str) -> str:
        from ..core.errors import HimotifError
        from ..palette import hex_of, parse_colour

        try:
            return hex_of(parse_colour(text, named=True).rgb)
        except HimotifError as error:
            raise WrongUsage(f"{error}.") from None


@dataclass(frozen=True, eq=False, repr=False)
class PicturePlace(ValueKind):
    """A place in a picture, in pixels from its top left corner."""

    metavar: str = "X,Y"

    def read(self, text: str) -> tuple[float, float]:
        parts = text.split(",")
        try:
            x, y = (float(part) for part in parts)
        except ValueError:
            raise WrongUsage(
                f"{text!r} is no place in the picture: give pixels to the right and down from its "
                "top left corner, such as 640,480."
            ) from None
        return x, y

    def write(self, value: Iterable[float]) -> str:
        return ",".join(f"{each:g}" for each in value)


@dataclass(frozen=True, eq=False, repr=False)
class BeadPlace(ValueKind):
    """A bead by its place, and its new code: 3:17=B or r12:3=B."""

    metavar: str = "PLACE=CODE"

    def read(self, text: str) -> Any:
        from ..core.design import parse_change

        return parse_change(text)


@dataclass(frozen=True, eq=False, repr=False)
class CornerPoints(ValueKind):
    """The corners of a sheet in its photograph, pixels from the top left; none for no sheet."""

    metavar: str = "'X,Y X,Y X,Y X,Y'"

    def read(self, text: str) -> tuple[tuple[float, float], ...]:
        if text.strip() == "none":
            return ()
        try:
            found = [tuple(map(float, point.split(","))) for point in text.split()]
        except ValueError:
            found = []
        sound = all(len(point) == 2 and max(map(abs, point)) < 1e6 for point in found)
        if len(found) != 4 or not sound:
            raise WrongUsage(
                f"{text!r} are not four corners: give pixels from the top left of the photograph, "
                "such as '210,180 1490,205 1530,1120 160,1090', or none if it is no sheet."
            )
        return tuple((point[0], point[1]) for point in found)

    def write(self, value: Iterable[tuple[float, float]]) -> str:
        corners = " ".join(f"{x:g},{y:g}" for x, y in value)
        return f"'{corners}'" if corners else "none"


@dataclass(frozen=True, eq=False, repr=False)
class Share(ValueKind):
    """A bead's share of others: CODE=SHARE, the share 0.1 or 10%."""

    metavar: str = "CODE=SHARE"

    def read(self, text: str) -> tuple[str, float]:
        code, equals, share = (part.strip() for part in text.partition("="))
        try:
            value = float(share.removesuffix("%")) / (100 if share.endswith("%") else 1)
        except ValueError:
            value = math.nan
        if not (code and equals and 0 < value <= 1):
            raise WrongUsage(
                f"{text!r} is no share: write CODE=SHARE with a share above 0 and at most 1, such "
                "as L=0.1 or L=10%."
            )
        return code, value

    def write(self, value: tuple[str, float]) -> str:
        return f"{value[0]}={value[1]:g}"


@dataclass(frozen=True, eq=False, repr=False)
class Words(ValueKind):
    """Words to be worked: in capitals, one space between two."""

    most: int = 60

    def read(self, text: str) -> str:
        words = " ".join(text.upper().split())
        if not words or len(words) > self.most:
            raise WrongUsage(f"{text[:20]!r} is no text of 1 to {self.most} letters.")
        return words


@dataclass(frozen=True, eq=False, repr=False)
class File(ValueKind):
    """What a file holds."""

    metavar: str = "FILE"
    reader: Callable[[Path], Any] = Path

    def read(self, text: str) -> Any:
        return self.reader(Path(text))


@dataclass(frozen=True, eq=False, repr=False)
class Several(ValueKind):
    """Values of one kind, with commas between."""

    of: ValueKind = ValueKind()

    def read(self, text: str) -> tuple[Any, ...]:
        return tuple(self.of.read(part.strip()) for part in text.split(",") if part.strip())

    def write(self, value: Iterable[Any]) -> str:
        return ",".join(map(self.of.write, value))


@dataclass(frozen=True, eq=False, repr=False)
class Flag(ValueKind):
    """Given or not."""

    off: str = ""
    """Name of the option that says no; without it only yes can be said."""

    def read(self, text: str) -> bool:
        return bool(text)


def _own_start(path: Path) -> Disc:
    from ..core.braid import read_own_start

    return read_own_start(path)


def _typeface(path: Path) -> Typeface:
    from ..core.drawing.typeface import Typeface

    return Typeface.read(path)


def _swatch(path: Path) -> Readings:
    from ..core.making.swatch import read_readings

    return read_readings(path)


# -- options ---------------------------------------------------------------------------------------


@dataclass(frozen=True)
class PageField:
    """A field of the page's form.

    Parameters
    ----------
    label : str
    place : str
        Part of the form that it stands in; none if the page has a button for it.
    name : str
        Of the field; the option's if empty.
    hint : str
        What stands in it while it is empty; in a choice, the name of no choice.
    yes : str
        Name of the one choice that a flag gives.
    only_if : (str, str), optional
        Field and value that it needs to be seen.
    """

    label: str
    place: str
    name: str = ""
    hint: str = ""
    yes: str = ""
    only_if: tuple[str, str] | None = None


@dataclass(frozen=True)
class Option:
    """One thing that can be asked for.

    Parameters
    ----------
    kind : ValueKind
        How its value is read and written.
    group : Group
    help : str
    default : Any
        A value, None where it is found or left out.
    usual : str
        What the help says of the default, where it is no fixed value.
    name : str
        On the command line without its dashes, and on the page; the field's without its unit.
    collect : callable, optional
        Makes one value of several: the option can be given again and again.
    page : tuple of PageField
        On the page; several are parts of one value.
    """

    kind: ValueKind
    group: Group = Group.OTHER
    help: str = ""
    default: Any = None
    usual: str = ""
    name: str = ""
    collect: Callable[[Iterable[Any]], Any] | None = None
    page: tuple[PageField, ...] = ()

    @property
    def command(self) -> str:
        """The option of the command."""
        return f"--{self.name.replace('_', '-')}"

    def read(self, given: Any) -> Any:
        """Return the value of what was given; whether a flag is given needs no reading."""
        if isinstance(given, bool):
            return given
        if self.collect is not None:
            return self.collect(self.kind.read(text) for text in given)
        return self.kind.read(given)

    def text(self, value: Any) -> str:
        """Return a value as it stands in a field of the page."""
        if isinstance(self.kind, Flag):
            return "yes" if value else "no"
        if self.collect is None:
            return self.kind.write(value).strip("'")
        several = value.items() if isinstance(value, Mapping) else value
        return " ".join(map(self.kind.write, several))

    def words(self, value: Any) -> str:
        """Return the option with a value as typed on the command line; alone without a value."""
        if value is None:
            return self.command
        if isinstance(self.kind, Flag):
            return self.command if value else self.kind.off
        if self.collect is None:
            return f"{self.command} {self.kind.write(value)}{self.kind.mark}"
        several = value.items() if isinstance(value, Mapping) else value
        return " ".join(f"{self.command} {self.kind.write(each)}" for each in several)


def option(default: Any, kind: ValueKind, group: Group, help: str, **more: Any) -> Any:
    """Return a dataclass field that is an option; see `Option`."""
    metadata = {"option": Option(kind, group, help, default, **more)}
    if isinstance(default, dict):
        return field(default_factory=dict, metadata=metadata)
    return field(default=default, metadata=metadata)


def named(options: Mapping[str, Option]) -> dict[str, Option]:
    """Return options with their names: the fields', without the unit."""
    return {
        name: replace(one, name=one.name or name.removesuffix(f"_{one.kind.unit}"))
        for name, one in options.items()
    }


@cache
def table(of: Any) -> dict[str, Option]:
    """Return the options of a dataclass by field."""
    return named(
        {item.name: item.metadata["option"] for item in fields(of) if "option" in item.metadata}
    )


# a choice on the page is short
_MOVES = {lay: moves.replace(" goes", "") for lay, moves in LAY_MOVES.items()}
DEGREES = Number("DEG", unit="deg", what="a number of degrees")
BEAD_CODE = ValueKind("CODE")


@dataclass(frozen=True)
class Order:
    """What the maker asks for; lengths in mm, None where she leaves it to us."""

    # fmt: off
    strands: int = option(
        8, OneOf(values=(8, 12, 16, 20, 24)), Group.BRAID, "Working strands.",
        page=(PageField("Strands", "braid"),),
    )
    lay: Lay = option(
        "S",
        Hand(values=("S", "Z"), names=tuple(f"{k}: {v}" for k, v in _MOVES.items())),
        Group.BRAID, "; ".join(f"{lay}: {moves}" for lay, moves in LAY_MOVES.items()) + ".",
        page=(PageField("Hand", "braid"),),
    )
    turn: Turn = option(
        "usual", OneOf(values=("usual", "other"), names=("Usual", "Other way")), Group.BRAID,
        "Usual: the disc turns against the drift of the pairs.",
        page=(PageField("Turn of the disc", "more"),),
    )
    disc: Disc | None = option(
        None, File(reader=_own_start), Group.BRAID, "Own disc: a JSON file with slots and pairs.",
        name="start", page=(PageField("Your own disc", "more"),),
    )
    unit: Literal["cm", "in"] | None = None
    bead_size: str | None = option(
        None, SizeName(), Group.BEAD, "Trade size, such as 11/0.",
        usual="8/0, or the palette's", page=(PageField("Bead size", "braid", hint="of the tray"),),
    )
    bead_diameter_mm: float | None = option(
        None, Length(such_as="3.0"), Group.BEAD, "Measured across the bead.",
        page=(PageField("Across the bead", "braid", only_if=("bead_size", "measured")),),
    )
    bead_length_mm: float | None = option(
        None, Length(such_as="3.0"), Group.BEAD, "Measured along its hole.",
        page=(PageField("Along its hole", "braid", only_if=("bead_size", "measured")),),
    )
    readings: Readings | None = option(
        None, File(reader=_swatch), Group.BEAD, "Measured values of a worked swatch.",
        name="swatch", page=(PageField("Your swatch", "more"),),
    )
    wrist_mm: float | None = option(
        None, Length(such_as="165, 16.5cm or 6 1/2in"), Group.SIZE, "Round the wrist.",
        usual=f"{DEFAULT_WRIST_MM:g}mm",
        page=(PageField("Wrist", "braid", hint=f"{DEFAULT_WRIST_MM:g}"),),
    )
    length_mm: float | None = option(
        None, Length(), Group.SIZE, "Instead of a wrist: the finished length.",
        page=(PageField("Finished length instead", "more"),),
    )
    ease_mm: float | None = option(
        None, Ease(), Group.SIZE,
        "Room between wrist and bracelet: snug (6 to 12.5 mm, taken as 9.25), comfortable (to 25, "
        "taken as 15), loose (to 30, taken as 27.5), common practice; or a length.",
        usual="comfortable", page=(PageField("Ease", "more", hint="15"),),
    )
    clasp_mm: float | None = option(
        None, Length(such_as="12 or 1.2cm"), Group.SIZE, "What the closed clasp adds.",
        usual="0", page=(PageField("Clasp", "more", hint="0"),),
    )
    caps_mm: float | None = option(
        None, Length(such_as="20 or 2cm"), Group.SIZE, "Both end caps together.",
        usual="20mm to a wrist", page=(PageField("End caps", "more", hint="20"),),
    )
    extension_mm: float | None = option(
        None, Length(such_as="50, 5cm or 2in"), Group.SIZE,
        "Chain by which it can be closed further; it adds nothing to the finished length.",
        usual="none", page=(PageField("Extension chain", "more", hint="none"),),
    )
    sample_mm: float | None = option(
        None, Length(such_as="20.5cm"), Group.SIZE,
        "A check: finished length, clasp included, of a bracelet about as thick that fits.",
        name="sample_length", page=(PageField("Length of one that fits", "more"),),
    )
    fit: Fit = option(
        "wrap", OneOf(values=("wrap", "face"), names=("rolled out", "from the front")),
        Group.MOTIF, "wrap: true along the circumference. face: true seen from the front.",
        page=(PageField("Shapes are true", "motif"),),
    )
    text: str | None = option(
        None, Words(), Group.TEXT,
        "Work this instead of a picture: letters, digits, ♥, dot, dash.",
        page=(PageField("Letters", "text"),),
    )
    letters: TextWay = option(
        "up",
        OneOf(
            values=("up", "down", "below"),
            names=("along, from the first bead", "along, from the last bead", "one below another"),
        ),
        Group.TEXT,
        "up, down: along the braid, from its first bead or from its last; turned end for end on "
        "the wrist it is upright for the wearer or for others. below: one below the other.",
        page=(PageField("They run", "text"),),
    )
    letter_bead: str | None = option(
        None, BEAD_CODE, Group.TEXT, "Bead of the letters.", usual="unlike the background's",
        page=(PageField("Bead of the letters", "text", hint="found"),),
    )
    font: Typeface | None = option(
        None, File(reader=_typeface), Group.TEXT, "Typeface of the letters: a .ttf or .otf file.",
        usual="a bold one", page=(PageField("Typeface", "text"),),
    )
    width_mm: float | None = option(
        None, Length(such_as="12, 1.2cm or 1/2in"), Group.MOTIF, "Of the motif across.",
        usual="found", page=(PageField("Width", "motif"),),
    )
    stretch: float | None = option(
        None, Number("TIMES", what="a number of times", low=0.25, high=4), Group.MOTIF,
        "How many times as tall as drawn.", usual="found, flat sketches up to 2",
        page=(PageField("Stretched, times", "motif", hint="found"),),
    )
    rotate_deg: float = option(
        0.0, DEGREES, Group.MOTIF, "Turn the motif clockwise.",
        page=(PageField("Turn", "motif", hint="0"),),
    )
    repeat: int | Literal["fill", "once"] | None = option(
        None, RepeatCount(), Group.MOTIF, "How often the motif comes.",
        usual="fill; a text once",
        page=(PageField("Motifs", "braid", hint="all that fit"),),
    )
    all_round: bool = option(
        False, Flag(), Group.MOTIF,
        "A border or a pattern: repeat the whole picture round the braid and along it.",
        page=(PageField("The sketch goes", "motif", hint="once round", yes="all round, a border"),),
    )
    gap_rounds: float = option(
        1.0, Number("ROUNDS", unit="rounds", what="a number of rounds", low=0, high=1000),
        Group.MOTIF, "Least room between motifs, half of it at either end.",
        page=(PageField("Least gap", "motif", hint="1"),),
    )
    background: str | None = option(
        None, BEAD_CODE, Group.COLOURS, "Bead round the motif.", usual="found",
        page=(PageField("Bead round the motif", "colours", hint="found"),),
    )
    paper_corners: tuple[tuple[float, float], ...] | None = option(
        None, CornerPoints(), Group.COLOURS,
        "Corners of the sheet in a photograph of one, in pixels; none: it is no sheet.",
        usual="found", page=(PageField("Corners of the sheet, pixels", "colours", hint="found"),),
    )
    kind: SketchKind | None = option(
        None, OneOf(values=("flat", "shaded"), names=("Flat colours", "Shaded")), Group.COLOURS,
        "Kind of picture.", usual="found",
        page=(PageField("Kind of picture", "colours", hint="found"),),
    )
    outlines: OutlineWay | None = option(
        None, OneOf(values=("strokes", "mass"), names=("Lines alone", "Filled shapes")),
        Group.MOTIF,
        "Of a sketch in outlines work the lines alone, or fill what they enclose, an eye too.",
        usual="as drawn", page=(PageField("Outlines become", "motif", hint="As drawn"),),
    )
    most: int | None = option(
        None,
        Whole(what="a whole number of bead colours, the background among them,", low=2),
        Group.COLOURS, "Use at most N bead colours.",
        page=(PageField("Colours, at most", "colours", hint="all"),),
    )
    keep: tuple[str, ...] = option(
        (), BEAD_CODE, Group.COLOURS, "Always among these; repeatable.", collect=tuple,
        page=(PageField("Always use, codes", "colours", hint="none"),),
    )
    cord_colour: str | None = option(
        None, ColourText(), Group.COLOURS, "Of the cord; transparent beads take it.",
        usual="white", page=(PageField("Colour of the cord", "colours", hint="white"),),
    )
    moved_mm: tuple[float, float] | None = option(
        None, Offset(), Group.MOTIF, "Put the motif there, mm from the middle.", usual="found",
        name="move",
        page=(
            PageField("To the right", "motif", "right", "found"),
            PageField("Up", "motif", "up", "found"),
        ),
    )
    pin: tuple[Pin, ...] = option(
        (), OneOf(
            values=("shift", "scale", "turn", "stretch"),
            names=("place", "size", "turn", "proportions"),
        ),
        Group.MOTIF,
        "Leave that as it is while searching where the motif reads best; repeatable.",
        collect=tuple, page=(PageField("Leave as it is", "motif"),),
    )
    choice: int = option(
        1, Whole(what="a choice's number", low=1, high=6), Group.MOTIF,
        "Work that one of the ways in choices.png.",
    )
    quick: bool = option(False, Flag(), Group.MOTIF, "A first look: a shorter search.")
    seed: int = option(
        0, Whole(low=0), Group.COLOURS, "Another number scatters differently.",
        page=(PageField("Scatter number", "colours", hint="0"),),
    )
    plain_back_deg: float = option(
        0.0, replace(DEGREES, low=0, high=360), Group.MOTIF,
        "Keep that much of the back in the background bead.",
        page=(PageField("Plain back", "motif", hint="0"),),
    )
    scatter: Mapping[str, float] = option(
        {}, Share(), Group.COLOURS,
        "Scatter accents near the motif, such as R=0.1; repeatable.", collect=dict,
        page=(PageField("Scatter", "colours", hint="such as K=0.1"),),
    )
    scatter_alike: bool = option(
        False, Flag(off="--scatter-anew"), Group.COLOURS,
        "Scatter them alike at each repeat, or differently.", usual="differently",
        page=(PageField("Scattered", "colours", hint="differently", yes="alike"),),
    )
    # fmt: on

    @property
    def repeats(self) -> int | Literal["fill", "once"]:
        """How often the motif comes."""
        return self.repeat or ("fill" if self.text is None else "once")

    def settings(self) -> dict[str, Any]:
        """Return what differs from the defaults, as plain values: enough to order again."""
        plain: dict[str, Any] = {}
        usual = Order()
        for item in fields(self):
            value = getattr(self, item.name)
            if value == getattr(usual, item.name) or item.name == "disc":
                continue
            if item.name == "readings":
                plain["swatch"] = {
                    part.name: getattr(value, part.name)
                    for part in fields(value)
                    if getattr(value, part.name) is not None
                }
            elif item.name == "font":
                plain["font"] = value.name
            elif isinstance(value, Mapping):
                plain[item.name] = dict(value)
            else:
                plain[item.name] = list(value) if isinstance(value, tuple) else value
        return plain


@dataclass(frozen=True)
class Papers:
    """How the papers are made; as the design's papers were made before, where it is None."""

    # fmt: off
    paper: Literal["a4", "letter"] | None = option(
        None, OneOf(values=("a4", "letter"), names=("A4", "Letter")), Group.PAPERS,
        "Paper of the sheet.", usual="a4, or as before",
        page=(PageField("Paper", "papers"),),
    )
    unit: Literal["cm", "in"] | None = option(
        None, OneOf(values=("cm", "in"), names=("cm", "inches")), Group.PAPERS,
        "Unit of lengths on the papers.", usual="cm, or as before",
        page=(PageField("Lengths in", "papers"),),
    )
    tally: bool | None = option(
        None, Flag(off="--no-tally"), Group.PAPERS, "The round-by-round tally on the sheet.",
        usual="none, or as before",
        page=(PageField("Round-by-round tally", "papers", hint="none", yes="yes"),),
    )
    plain_sets: int | None = option(
        None, Whole(what="a whole number of sets", low=0, high=most("plain_sets")), Group.PAPERS,
        "Sets of plain braid before the first bead; slots on the papers are as they are then.",
        usual="8, or as before", page=(PageField("Plain braid first, sets", "papers", hint="8"),),
    )
    copies: int | None = option(
        None, Whole(what="a number of pieces", low=1, high=most("copies")), Group.PAPERS,
        "A handout for a class: totals for so many, a line for the name, no stock.",
        usual="1, or as before", page=(PageField("Copies, for a class", "papers", hint="1"),),
    )
    lists_only: bool = option(
        False, Flag(), Group.PAPERS, "Only design.json and the stringing lists.",
        page=(PageField("In the folder", "papers", hint="all", yes="only the lists"),),
    )
    svg: bool | None = option(
        None, Flag(off="--no-svg"), Group.PAPERS, "The pages of the sheet as SVG, too.",
        usual="none, or as before",
        page=(PageField("The sheet as SVG, too", "papers", hint="no", yes="yes"),),
    )
    # fmt: on

    def choice(self, before: PaperChoice) -> PaperChoice:
        """Return how they are made: as before where nothing is asked for."""
        asked = {item.name: getattr(self, item.name) for item in fields(before)}
        return replace(before, **{name: one for name, one in asked.items() if one is not None})


@dataclass(frozen=True)
class Limits:
    """What the result must hold; nothing is asked for where it is None."""

    # fmt: off
    edge_mm: float | None = option(
        None, Length(), Group.LIMITS, "95 % of the edges must lie this near.",
        name="require_edge", page=(PageField("95 % of edges within", "limits", hint="any"),),
    )
    kept_percent: float | None = option(
        None, Number("PERCENT", unit="percent", what="a number in percent", low=0, high=100),
        Group.LIMITS,
        "Of every colour of the motif at least this much must be kept.", name="require_kept",
        page=(PageField("Of each colour kept, at least", "limits", hint="any"),),
    )
    colour_de00: float | None = option(
        None, Number("DE", unit="de00", what="a number for the colour difference", low=0),
        Group.LIMITS,
        "The mean colour difference (CIEDE2000; 10 is plain to see) may be this much.",
        name="require_colour", page=(PageField("Colour off by, at most", "limits", hint="any"),),
    )
    # fmt: on


READINGS = named(
    {
        "thickness_mm": Option(
            Length(), help="Reading: outer diameter of the braid.",
            page=(PageField("Across the braid", "readings"),),
        ),
        "rounds": Option(
            Whole(what="a whole number of rounds"), help="Reading: so many rounds ...",
            page=(PageField("So many rounds", "readings"),),
        ),
        "length_mm": Option(
            Length(), help="Reading: ... are so long.", name="length",
            page=(PageField("are so long", "readings", "rounds_length"),),
        ),
        "column_rounds": Option(
            Number("ROUNDS", unit="rounds", what="a number of rounds"),
            help="Reading: rounds for a column to go once round.", name="column_rounds",
            page=(PageField("A column goes once round in", "readings"),),
        ),
        "reads_right": Option(
            OneOf(values=("yes", "no")), help="Reading: does the letter read right?",
            page=(PageField("The letter reads right", "readings", hint="not looked at"),),
        ),
    }
)  # fmt: skip
"""What is measured on a test braid."""


def order_of(asked: Mapping[str, Any]) -> Order:
    """Return an order; an own disc has its own number of strands."""
    order = Order(**asked)
    return order if order.disc is None else replace(order, strands=2 * len(order.disc.starts))


# -- reading and naming ----------------------------------------------------------------------------


def read_values(given: Mapping[str, Any], options: Mapping[str, Option]) -> dict[str, Any]:
    """Read what was given.

    Parameters
    ----------
    given : mapping
        Text by field, several texts where the option can be given again, True or False for a
        flag; None or no text for what is left out.
    options : mapping of str to Option

    Returns
    -------
    dict
        Values by field, of what was given.

    Raises
    ------
    WrongUsage
        With everything that is refused, each with its field.
    HimotifError
        If a file that is named cannot be read.
    """
    values, refused = {}, []
    for name, one in options.items():
        text = given.get(name)
        if text is None or text == ():
            continue
        try:
            values[name] = one.read(text)
        except WrongUsage as error:
            refused.append(error.at(name))
    if refused:
        raise WrongUsage.together(refused)
    return values


@cache
def all_options() -> dict[str, Option]:
    """Return the whole table by field; parts of a value stand in it by their own names."""
    found = table(Order) | table(Papers) | table(Limits)
    parts = {part.name: one for one in found.values() for part in one.page if part.name}
    return found | parts


def page_names(field: str) -> tuple[str, ...]:
    """Return the names of the page's fields for a field of the table; none if it has none.

    What is no option, such as the palette, has its own name on the page.
    """
    one = all_options().get(field)
    if one is None:
        return (field,)
    found = tuple(part.name or one.name for part in one.page)
    return (field,) if field in found else found


def remedy_words(remedy: Remedy) -> str:
    """Return a remedy as typed on the command line, with the changes that belong to it.

    >>> from ..core.findings import Remedy
    >>> remedy_words(Remedy("width_mm", 13.0, (Remedy("keep", ("A",)),)))
    '--width 13mm --keep A'
    """
    return " ".join(all_options()[one.field].words(one.value) for one in (remedy, *remedy.also))


def remedy_label(remedy: Remedy) -> str | None:
    """Return a remedy in the words of the page's form; None if the page has no such field.

    >>> from ..core.findings import Remedy
    >>> remedy_label(Remedy("width_mm", 13.0)), remedy_label(Remedy("choice", 2))
    ('“Width” 13 mm', None)
    """
    labels = []
    for one in (remedy, *remedy.also):
        option = all_options().get(one.field)
        if option is None or not option.page:
            return None
        unit = UNITS.get(option.kind.unit, "")
        parts = option.page
        if one.value is None:
            texts = [""] * len(parts)
        elif len(parts) > 1:
            texts = option.kind.write(one.value).split(",")
        else:
            texts = [value_name(option, one.value)]
        labels += [
            f"“{part.label}” {text} {unit if text else ''}".strip()
            for part, text in zip(parts, texts, strict=True)
        ]
    return " and ".join(labels)


UNITS = {"mm": "mm", "deg": "degrees", "rounds": "rounds", "percent": "%", "de00": "ΔE00"}
"""Of fields' names, in words."""


def value_name(one: Option, value: Any) -> str:
    """Return a value as the page names it."""
    if isinstance(one.kind, OneOf) and one.kind.names and value in one.kind.values:
        return one.kind.names[one.kind.values.index(value)]
    return one.text(value)
