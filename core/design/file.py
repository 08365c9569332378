"""The file of a design: written, and read with every problem named."""

from __future__ import annotations

import json
import math
import re
from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, fields, replace
from pathlib import Path
from typing import Any, NamedTuple, get_args

import numpy as np

from .._data import read_json
from ..bead import Bead, BeadSize, bead_sizes
from ..bounds import BOUNDS, fits, most
from ..braid import LAYS, TURNS, VALUES, Braid, Disc, Lattice
from ..errors import Problems, WrongUsage
from ..findings import Finding, remark
from ..finish import off_cord
from ..names import code_problem, name_problem
from ..srgb import Rgb
from .design import Design, Fit, PlacedPicture, Repeat
from .origin import (
    ConversionFacts,
    MotifSize,
    Origin,
    PaperChoice,
    SketchColour,
    SketchKind,
    conversion_dict,
    settings_dict,
)

SCHEMA = 1
"""Of the file of a design: a program refuses one that it does not know."""


def design_dict(design: Design) -> dict[str, Any]:
    """Return a design as the plain values of its file."""
    lattice, braid = design.lattice, design.braid
    about: dict[str, Any] = {"strands": braid.strands, "lay": braid.lay, "turn": braid.turn}
    if braid.own_start:
        about["disc"] = {
            "slots": braid.start.slots,
            "starts": [list(p) for p in braid.start.starts],
        }
    out: dict[str, Any] = {
        "schema": SCHEMA,
        "braid": about,
        "lattice": {name: getattr(lattice, name) for name in VALUES}
        | {"source": dict(lattice.source)},
        "bead": {
            "size": design.bead.name,
            "diameter_mm": design.bead.diameter_mm,
            "length_mm": design.bead.length_mm,
        },
        "palette": [_bead_dict(bead) for bead in design.palette],
        "background": design.palette[design.background].code,
        "beads": design.beads.tolist(),
    }
    if design.cord_rgb is not None:
        out["cord_rgb"] = list(design.cord_rgb)
    if design.picture is not None:
        out |= _picture_dict(design.picture)
    if design.repeat is not None:
        out["repeat"] = {
            "first_crossing": design.repeat.first + 1,
            "rounds": design.repeat.rounds,
            "flip": design.repeat.flip,
            "count": design.repeat.count,
        }
    settings = settings_dict(design.origin, design.papers)
    if settings:
        out["settings"] = settings
    if design.origin.conversion is not None:
        out["conversion"] = conversion_dict(design.origin.conversion)
    return out


def _picture_dict(picture: PlacedPicture) -> dict[str, Any]:
    """Return what stands under ``picture`` and ``placement``."""
    return {
        "picture": {
            "file": picture.file,
            "sha256": picture.sha256,
            "size_px": list(picture.size_px),
        },
        "placement": {
            "fit": picture.fit,
            "px_per_mm": picture.px_per_mm,
            "front_deg": picture.front_deg,
            "rotate_deg": picture.rotate_deg,
            "stretch": picture.stretch,
            **({} if picture.frame_px is None else {"frame_px": list(picture.frame_px)}),
            "centres": [
                {"azimuth_deg": azimuth, "height_mm": height} for azimuth, height in picture.centres
            ],
            "where_px": [
                None if np.isnan(x) else [round(float(x), 3), round(float(y), 3)]
                for x, y in picture.where_px
            ],
        },
    }


def _bead_dict(bead: Bead) -> dict[str, Any]:
    given = {item.name: getattr(bead, item.name) for item in fields(bead)}
    given["rgb"] = list(bead.rgb)
    return {name: value for name, value in given.items() if value is not None}


_ON_ONE_LINE = (("beads",), ("placement", "where_px"), ("conversion", "accents"))
"""The long per-bead values, by where they stand in the file."""


def design_json(design: Design) -> str:
    """Return the text of a design's file; the long per-bead values take one line each."""
    return _indented(design_dict(design)) + "\n"


def _indented(value: Any, at: tuple[str | int, ...] = ()) -> str:
    """Return plain values as JSON, one to a line, but for what takes one line."""
    if not value or not isinstance(value, dict | list) or at in _ON_ONE_LINE:
        return json.dumps(value, ensure_ascii=False)
    margin = "  " * len(at)
    if isinstance(value, dict):
        rows = [
            f"{json.dumps(k, ensure_ascii=False)}: {_indented(v, (*at, k))}"
            for k, v in value.items()
        ]
    else:
        rows = [_indented(inner, (*at, index)) for index, inner in enumerate(value)]
    first, last = "{}" if isinstance(value, dict) else "[]"
    return f"{first}\n{margin}  " + f",\n{margin}  ".join(rows) + f"\n{margin}{last}"


def read_design(path: Path) -> Design:
    """Read a design's file.

    Parameters
    ----------
    path : Path
        The file, or the folder that holds ``design.json``.

    Raises
    ------
    HimotifError
        If the file cannot be read or is not a design; Problems names everything that is off.
    """
    path = Path(path)
    if path.is_dir():
        path = path / "design.json"
    plain = read_json(
        path,
        "Name a folder that himotif convert has made.",
        "Put back what was changed by hand, or convert the picture again.",
    )
    return design_from_dict(plain, str(path))


def design_from_dict(plain: Any, name: str = "design.json") -> Design:
    """Return the design that plain values describe.

    Raises
    ------
    Problems
        With everything that is missing or of the wrong kind.
    """
    check = _Checker(name)
    if not isinstance(plain, dict):
        raise Problems([f"{name}: this is not a design; the file must hold one JSON object."])
    if plain.get("schema") != SCHEMA:
        raise Problems(
            [
                f"{name}: schema is {plain.get('schema')!r:.40}; this version reads schema "
                f"{SCHEMA}. Use the version of himotif that wrote the file."
            ]
        )
    braid = check.braid(plain)
    bead = check.main_bead(plain)
    lattice = check.lattice(plain, braid, bead)
    palette = check.palette(plain)
    beads = check.beads(plain, len(palette), braid)
    picture = check.picture(plain, len(beads))
    repeat = check.repeat(plain, len(beads), braid)
    codes = [bead.code for bead in palette]
    cord_rgb = check.cord(plain)
    origin, papers = check.settings(plain)
    conversion = check.conversion(plain, codes, len(beads))
    background = plain.get("background", codes[0] if codes else "")
    if codes and background not in codes:
        check.say("background", f"{background!r:.40} is not a code of the palette")
    check.stop()
    assert bead is not None
    assert lattice is not None
    if cord_rgb is not None and "cord_rgb" not in plain:
        palette = off_cord(palette, cord_rgb)
    return Design(
        lattice=lattice,
        bead=bead,
        palette=palette,
        beads=np.array(beads, dtype=np.intp),
        background=codes.index(background),
        picture=picture,
        repeat=repeat,
        origin=replace(origin, conversion=conversion),
        papers=papers,
        cord_rgb=cord_rgb,
    )


class _Kind(NamedTuple):
    """A kind of value: in words, how it is known, and what stands in for a wrong one."""

    words: str
    fits: Callable[[Any], bool]
    stand_in: Any


def _is_whole(value: Any) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and fits("number", value)


def _is_number(value: Any) -> bool:
    return _is_whole(value) or (isinstance(value, float) and fits("number", value))


def _is_finding(value: Any) -> bool:
    try:
        return isinstance(Finding.from_dict(value), Finding)
    except (AttributeError, KeyError, TypeError, ValueError):
        return False


def _is_byte(value: Any) -> bool:
    return _is_whole(value) and 0 <= value <= 255


def _choice(*values: str) -> _Kind:
    return _Kind(
        " or ".join(values), lambda value: isinstance(value, str) and value in values, values[0]
    )


def _pair(kind: _Kind, words: str) -> _Kind:
    def fits(value: Any) -> bool:
        return isinstance(value, list) and len(value) == 2 and all(map(kind.fits, value))

    return _Kind(words, fits, [kind.stand_in] * 2)


def _at_most(name: str, things: str) -> _Kind:
    """A list of as many as the bound of that name allows."""
    limit = most(name)
    words = f"a list of at most {limit} {things}"
    return _Kind(words, lambda value: isinstance(value, list) and len(value) <= limit, [])


def _bounded(name: str, whole: bool = False) -> _Kind:
    """A number within the bounds of that name."""
    bound, kind = BOUNDS[name], _is_whole if whole else _is_number
    words = f"a{' whole' if whole else ''} number from {bound.low:.9g} to {bound.high:.9g}"
    return _Kind(
        f"{words} {bound.unit}".rstrip(),
        lambda value: kind(value) and fits(name, value),
        max(0, bound.low) if whole else max(1.0, bound.low),
    )


_FLAG = _Kind("true or false", lambda value: isinstance(value, bool), False)
_TEXT = _Kind("text", lambda value: isinstance(value, str), "")
_WORD = _Kind("text, not empty", lambda value: isinstance(value, str) and value != "", "?")
_LIST = _Kind("a list", lambda value: isinstance(value, list), [])
_ROWS, _BEADS, _CENTRES = (
    _at_most("palette", "beads"),
    _at_most("beads", "beads"),
    _at_most("repeats", "places"),
)
_TEXTS = _Kind("a list of texts", lambda v: _LIST.fits(v) and all(map(_TEXT.fits, v)), [])
_FINDINGS = _Kind("a list of findings", lambda v: _LIST.fits(v) and all(map(_is_finding, v)), [])
_OBJECT = _Kind("an object", lambda value: isinstance(value, dict), {})
_WHOLE = _Kind("a whole number", _is_whole, 0)
_SOME = _Kind("a whole number from 1 up", lambda value: _is_whole(value) and value > 0, 1)
_NUMBER = _Kind("a number", _is_number, 0.0)
_LENGTH = _Kind("a number above 0", lambda value: _is_number(value) and value > 0, 1.0)
_SIZE_PX = _pair(_bounded("picture_px", whole=True), "two whole numbers, width and height")
_POINT = _pair(_NUMBER, "two numbers, right and down, or null where no picture lies")
_FRAME = _Kind(
    "four whole numbers, left, top, right, bottom",
    lambda v: (
        _LIST.fits(v)
        and len(v) == 4
        and all(map(_is_whole, v))
        and 0 <= v[0] < v[2]
        and 0 <= v[1] < v[3]
    ),
    None,
)
_SLOTS = _pair(_SOME, "two numbers of slots")
_SOURCE = _choice("computed", "measured")
_SKETCH = _choice(*get_args(SketchKind))
_SWATCH = _Kind(
    "an object with readings, or true for a test braid",
    lambda value: value is True or isinstance(value, dict),
    {},
)
_HEX = _Kind(
    "a colour, #rrggbb",
    lambda value: isinstance(value, str) and re.fullmatch("#[0-9a-f]{6}", value) is not None,
    "#000000",
)
_SHARE = _Kind("a number from 0 to 1", lambda value: _is_number(value) and 0 <= value <= 1, 0.0)
_PAPERS: Mapping[str, _Kind] = {
    "paper": _choice("a4", "letter"),
    "unit": _choice("cm", "in"),
    "tally": _FLAG,
    "svg": _FLAG,
    "plain_sets": _bounded("plain_sets", whole=True),
    "copies": _bounded("copies", whole=True),
}
_USUAL = tuple(asdict(PaperChoice()).items())
_FIT = _choice(*get_args(Fit))

_RGB = _Kind(
    "three whole numbers from 0 to 255",
    lambda value: _LIST.fits(value) and len(value) == 3 and all(map(_is_byte, value)),
    [0, 0, 0],
)
_BEAD: Mapping[str, _Kind] = {
    "size": _TEXT,
    "shape": _choice("round", "drop"),
    "finish": _TEXT,
    "stock": _bounded("stock", whole=True),
    "grams": _bounded("grams"),
    "price": _bounded("price"),
    "per_gram": _bounded("per_gram"),
    "packet": _bounded("packet", whole=True),
    "drop_width": _bounded("bead"),
    "drop_length": _bounded("bead"),
    "drop_lean": _bounded("drop_lean"),
}
"""What a row of the palette may hold besides code, name and rgb."""


class _Checker:
    """Collects everything that is wrong with a design's plain values."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.problems: list[str] = []
        self.keys: set[str] = set()

    def say(self, key: str, what: str) -> None:
        self.keys.add(key)
        self.problems.append(f"{self.name}: {key}: {what}.")

    def stop(self) -> None:
        if self.problems:
            raise Problems(self.problems)

    def take(self, plain: Any, key: str, kind: _Kind, inside: str = "") -> Any:
        """Return what stands under a dotted key; `inside` names what `plain` itself is."""
        value: Any = plain
        for part in key.split("."):
            if not isinstance(value, dict) or part not in value:
                self.say(inside + key, f"is missing; it must be {kind.words}")
                return kind.stand_in
            value = value[part]
        return self.kind(inside + key, value, kind)

    def maybe(self, plain: Any, key: str, kind: _Kind, absent: Any, inside: str = "") -> Any:
        """Return what stands under a dotted key, or `absent` if nothing does."""
        *outer, last = key.split(".")
        value: Any = plain
        for depth, part in enumerate(outer, start=1):
            value = value.get(part, {})
            if not isinstance(value, dict):
                self.once(inside + ".".join(outer[:depth]), f"{_shown(value)} {_OBJECT.words}")
                return absent
        return self.kind(inside + key, value[last], kind) if last in value else absent

    def kind(self, key: str, value: Any, kind: _Kind) -> Any:
        if kind.fits(value):
            return value
        self.say(key, f"{_shown(value)} {kind.words}")
        return kind.stand_in

    def text(self, key: str, problem: str | None) -> None:
        """Say what is wrong with a text, if anything is."""
        if problem:
            self.say(key, problem)

    def once(self, key: str, what: str) -> None:
        if key not in self.keys:
            self.say(key, what)

    def braid(self, plain: Mapping[str, Any]) -> Braid | None:
        before = len(self.problems)
        strands = self.take(plain, "braid.strands", _bounded("strands", whole=True))
        lay = self.take(plain, "braid.lay", _choice(*LAYS))
        turn = self.take(plain, "braid.turn", _choice(*TURNS))
        disc = None
        about = plain.get("braid")
        if isinstance(about, dict) and about.get("disc") is not None:
            slots = self.take(plain, "braid.disc.slots", _bounded("slots", whole=True))
            starts = [
                self.kind(f"braid.disc.starts[{index}]", pair, _SLOTS)
                for index, pair in enumerate(self.take(plain, "braid.disc.starts", _ROWS))
            ]
            disc = Disc(slots, tuple((first, second) for first, second in starts))
        if len(self.problems) > before:
            return None
        try:
            return Braid(strands, lay, turn, disc)
        except WrongUsage as error:
            self.problems.append(f"{self.name}: braid: {error}")
            return None

    def main_bead(self, plain: Mapping[str, Any]) -> BeadSize | None:
        before = len(self.problems)
        diameter = self.take(plain, "bead.diameter_mm", _LENGTH)
        length = self.take(plain, "bead.length_mm", _LENGTH)
        size = None
        if isinstance(plain.get("bead"), dict) and plain["bead"].get("size") is not None:
            size = self.take(plain, "bead.size", _WORD)
        if len(self.problems) > before:
            return None
        known = bead_sizes().get(size or "")
        try:
            if known is None:
                return BeadSize(size, diameter, length)
            return BeadSize(size, diameter, length, known.hole_mm, known.beads_per_gram)
        except WrongUsage as error:
            self.problems.append(f"{self.name}: {error}")
            return None

    def lattice(
        self, plain: Mapping[str, Any], braid: Braid | None, bead: BeadSize | None
    ) -> Lattice | None:
        before = len(self.problems)
        values = {key: self.take(plain, f"lattice.{key}", _bounded(key)) for key in VALUES}
        source = {
            key: self.maybe(plain, f"lattice.source.{key}", _SOURCE, "computed") for key in VALUES
        }
        if braid is None or bead is None or len(self.problems) > before:
            return None
        due = Lattice.computed(braid, bead)
        wrong = [
            key
            for key in VALUES
            if source[key] == "computed" and not _alike(values[key], getattr(due, key))
        ]
        if wrong:
            differing = ", ".join(
                f"{key} {values[key]:.6g}, not {getattr(due, key):.6g}" for key in wrong
            )
            self.say(
                "lattice",
                f"does not belong to this braid and bead ({differing}). Put back what was changed; "
                "for another braid or bead convert the picture again",
            )
        try:
            return Lattice(
                braid,
                diameter_mm=bead.diameter_mm,
                length_mm=bead.length_mm,
                source=source,
                **values,
            )
        except WrongUsage as error:
            self.problems.append(f"{self.name}: lattice: {error}")
            return None

    def palette(self, plain: Mapping[str, Any]) -> tuple[Bead, ...]:
        before = len(self.problems)
        rows = self.take(plain, "palette", _ROWS)
        if not rows and len(self.problems) == before:
            self.say("palette", "is empty; it needs at least one bead")
        beads = [self.bead(row, f"palette[{index}]") for index, row in enumerate(rows)]
        codes = [bead.code for bead in beads]
        doubled = sorted({c for c, times in Counter(codes).items() if times > 1} - {_WORD.stand_in})
        if doubled:
            self.say("palette", f"code {', '.join(doubled)} stands there more than once")
        return tuple(beads)

    def cord(self, plain: Mapping[str, Any]) -> Rgb | None:
        """Colour of the cord.

        In older files it stands among the settings alone, and the palette's colours are those on
        the cord.
        """
        given = self.maybe(plain, "cord_rgb", _RGB, None)
        if given is None and (asked := self.maybe(plain, "settings.cord_colour", _HEX, None)):
            given = bytes.fromhex(asked[1:])
        return given and (given[0], given[1], given[2])

    def bead(self, row: Any, key: str) -> Bead:
        if not isinstance(row, dict):
            self.say(key, "must be an object with code, name and rgb")
            return Bead(_WORD.stand_in, "", (0, 0, 0))
        inside = f"{key}."
        code, name = self.take(row, "code", _WORD, inside), self.take(row, "name", _TEXT, inside)
        if code != _WORD.stand_in:
            self.text(inside + "code", code_problem(code))
        self.text(inside + "name", name_problem(name))
        rgb = self.take(row, "rgb", _RGB, inside)
        more = {
            part: self.take(row, part, kind, inside)
            for part, kind in _BEAD.items()
            if row.get(part) is not None
        }
        self.text(inside + "finish", name_problem(more.get("finish", ""), "finish"))
        return Bead(code, name, (rgb[0], rgb[1], rgb[2]), **more)

    def beads(self, plain: Mapping[str, Any], below: int, braid: Braid | None) -> list[int]:
        before = len(self.problems)
        beads: list[int] = self.take(plain, "beads", _BEADS)
        if not beads and len(self.problems) == before:
            self.say("beads", "holds no beads")
        for index, bead in enumerate(beads if below else ()):
            if not _is_whole(bead) or not 0 <= bead < below:
                self.say(
                    f"beads[{index}]",
                    f"{_shown(bead)} a whole number from 0 to {below - 1}",
                )
                break
        if braid is not None and (more := len(beads) % braid.beads_per_round):
            self.say(
                "beads",
                f"{len(beads)} beads are {more} more than whole rounds of {braid.beads_per_round}, "
                f"as {braid.strands} strands make them. Put back what was changed, or add or take "
                "off whole rounds",
            )
        return beads

    def picture(self, plain: Mapping[str, Any], count: int) -> PlacedPicture | None:
        if "picture" not in plain or "placement" not in plain:
            return None
        text = {key: self.take(plain, f"picture.{key}", _TEXT) for key in ("file", "sha256")}
        size = self.take(plain, "picture.size_px", _SIZE_PX)
        fit = self.take(plain, "placement.fit", _FIT)
        px_per_mm = self.take(plain, "placement.px_per_mm", _LENGTH)
        front = self.take(plain, "placement.front_deg", _NUMBER)
        before = len(self.problems)
        where = self.take(plain, "placement.where_px", _BEADS)
        if len(where) != count and len(self.problems) == before:
            self.say("placement.where_px", f"has {len(where)} entries for {count} beads")
        for index, point in enumerate(where):
            if point is not None and not _POINT.fits(point):
                self.say(f"placement.where_px[{index}]", f"{_shown(point)} {_POINT.words}")
                where = []
                break
        if not isinstance(plain["placement"], dict):
            return None
        rotate = self.maybe(plain, "placement.rotate_deg", _NUMBER, 0.0)
        stretch = self.maybe(plain, "placement.stretch", _LENGTH, 1.0)
        frame = self.maybe(plain, "placement.frame_px", _FRAME, None)
        if frame and (frame[2] > size[0] or frame[3] > size[1]):
            self.say("placement.frame_px", f"{_shown(frame)} a part of the picture")
        centres = tuple(
            (
                self.take(row, "azimuth_deg", _NUMBER, f"placement.centres[{index}]."),
                self.take(row, "height_mm", _NUMBER, f"placement.centres[{index}]."),
            )
            for index, row in enumerate(self.maybe(plain, "placement.centres", _CENTRES, []))
        )
        points = [(np.nan, np.nan) if point is None else point for point in where]
        return PlacedPicture(
            **text,
            size_px=(size[0], size[1]),
            fit=fit,
            px_per_mm=px_per_mm,
            front_deg=front,
            where_px=np.array(points, dtype=np.float64).reshape(-1, 2),
            rotate_deg=rotate,
            centres=centres,
            stretch=stretch,
            frame_px=frame and (frame[0], frame[1], frame[2], frame[3]),
        )

    def repeat(self, plain: Mapping[str, Any], beads: int, braid: Braid | None) -> Repeat | None:
        if plain.get("repeat") is None:
            return None
        before = len(self.problems)
        first = self.take(plain, "repeat.first_crossing", _WHOLE)
        rounds, count = (self.take(plain, f"repeat.{key}", _SOME) for key in ("rounds", "count"))
        flip = self.take(plain, "repeat.flip", _FLAG)
        if braid is not None and len(self.problems) == before:
            # room round a motif may reach over an end of the braid, its middle lies on it
            each = rounds * braid.beads_per_round
            low = first - 1 + each // 2
            if not -2 <= low <= low + (count - 1) * each <= beads + 2:
                fitting = (beads + 2 - low) // each + 1
                self.say(
                    "repeat",
                    f"{count} times {rounds} rounds from crossing {first} do not lie on the braid"
                    + (f"; count may be up to {fitting}" if low >= -2 and fitting > 0 else ""),
                )
        return Repeat(first - 1, rounds, flip, count)

    def settings(self, plain: Mapping[str, Any]) -> tuple[Origin, PaperChoice]:
        """How it came about, but for what the conversion knew, and how its papers are made."""
        found: dict[str, Any] = self.maybe(plain, "settings", _OBJECT, {})
        inside = "settings."
        self.endless("settings", found)
        # texts of older files
        remarks = map(remark, self.maybe(found, "notes", _TEXTS, [], inside))
        findings = map(Finding.from_dict, self.maybe(found, "findings", _FINDINGS, [], inside))
        self.maybe(found, "scatter", _OBJECT, {}, inside)
        for name in ("wrist", "clasp"):
            self.maybe(found, f"{name}_mm", _bounded(name), 0.0, inside)
        finished_mm = None
        if found.get("finished_mm") is not None:
            finished_mm = self.take(found, "finished_mm", _LENGTH, inside)
        # the readings of a worked swatch are a part of the order
        swatch = self.maybe(found, "swatch", _SWATCH, {}, inside)
        papers = PaperChoice(
            **{key: self.maybe(found, key, _PAPERS[key], usual, inside) for key, usual in _USUAL}
        )
        own = {"notes", "findings", "finished_mm", "mirrored", *_PAPERS}
        if swatch is True:
            own.add("swatch")
        origin = Origin(
            order={key: value for key, value in found.items() if key not in own},
            finished_mm=finished_mm,
            findings=(*findings, *remarks),
            mirrored=self.maybe(found, "mirrored", _FLAG, False, inside),
            test_braid=swatch is True,
        )
        return origin, papers

    def conversion(
        self, plain: Mapping[str, Any], codes: Sequence[str], beads: int
    ) -> ConversionFacts | None:
        """What the conversion knew of its sketch; None if the file does not say."""
        found = self.maybe(plain, "conversion", _OBJECT, {})
        if not found:
            return None
        inside = "conversion."
        code = _Kind(
            "a code of the palette", lambda value: value in codes, codes[0] if codes else "?"
        )
        kind: SketchKind = self.take(found, "kind", _SKETCH, inside)
        colours = tuple(
            self.sketch_colour(row, code, f"{inside}colours[{index}].")
            for index, row in enumerate(self.take(found, "colours", _LIST, inside))
        )
        ground = found.get("ground")
        if ground is not None and ground not in [colour.rgb for colour in colours]:
            self.say(inside + "ground", f"{_shown(ground)} the rgb of one of the colours, or null")
        crossing = _Kind(
            f"a whole number from 1 to {beads}", lambda at: _is_whole(at) and 0 < at <= beads, 1
        )
        accents = {}
        for name, places in self.maybe(found, "accents", _OBJECT, {}, inside).items():
            here = f"{inside}accents.{name:.16}"
            self.kind(here, name, code)
            places = self.kind(here, places, _LIST)
            accents[name] = tuple(self.kind(here, at, crossing) - 1 for at in places)
        return ConversionFacts(
            kind,
            colours,
            ground,
            self.motif_size(found, "asked"),
            self.motif_size(found, "used"),
            accents,
            self.maybe(found, "repeat_rounds", _SOME, None, inside),
            self.maybe(found, "tile", _WORD, None, inside),
        )

    def sketch_colour(self, row: Any, code: _Kind, inside: str) -> SketchColour:
        rgb = self.take(row, "rgb", _HEX, inside)
        share = self.take(row, "share", _SHARE, inside)
        return SketchColour(rgb, share, self.take(row, "bead", code, inside))

    def motif_size(self, found: Mapping[str, Any], key: str) -> MotifSize:
        inside = "conversion."
        return MotifSize(
            self.take(found, f"{key}.width_mm", _LENGTH, inside),
            self.take(found, f"{key}.rotate_deg", _NUMBER, inside),
            self.maybe(found, f"{key}.stretch", _LENGTH, 1.0, inside),
        )

    def endless(self, key: str, value: Any) -> None:
        """Refuse numbers that no JSON file can hold, however deep they lie."""
        if isinstance(value, dict):
            for part, inner in value.items():
                self.endless(f"{key}.{part}", inner)
        elif isinstance(value, list):
            for index, inner in enumerate(value):
                self.endless(f"{key}[{index}]", inner)
        elif isinstance(value, float) and not math.isfinite(value):
            self.once(key, f"{_shown(value)} {_NUMBER.words}")


def _alike(one: float, other: float) -> bool:
    """Whether two numbers are the same but for the last digits of a calculation."""
    return math.isclose(one, other, rel_tol=1e-6)


def _shown(value: Any) -> str:
    return f"is {json.dumps(value, ensure_ascii=False):.60}, but must be"
