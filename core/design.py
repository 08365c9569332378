"""A design: one integer per crossing, in working order, and the file that holds it.

Every other per-bead fact (strand, azimuth, height, place in the picture) is an array of the same
length in the same order.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any, Literal

import numpy as np
import numpy.typing as npt

from ._data import read_json
from .bead import Bead, BeadSize
from .braid import Braid, Disc
from .errors import HimotifError, Problems
from .lattice import VALUES, FaceReturn, Floats, Ints, Lattice

Fit = Literal["wrap", "face"]

SCHEMA = 1


@dataclass(frozen=True, eq=False)
class PlacedPicture:
    """The picture a design was made from, and where it lies.

    Parameters
    ----------
    file, sha256 : str
        Name and digest of the picture file.
    size_px : (int, int)
        Width and height, turned as the picture's orientation tag says.
    fit : 'wrap' or 'face'
        True along the circumference at the bead centres, or true in the front view.
    px_per_mm : float
        Picture pixels per mm on the braid; for `face` at the middle of the front.
    front_deg : float
        Azimuth of the middle of the front.
    where_px : (n, 2) float
        The point of the picture under each bead's centre, from the top left corner; NaN where no
        picture lies.
    rotate_deg : float
        Clockwise as seen.
    centres : tuple of (azimuth_deg, height_mm)
        Where the middle of the picture lies, once for every repeat.
    """

    file: str
    sha256: str
    size_px: tuple[int, int]
    fit: Fit
    px_per_mm: float
    front_deg: float
    where_px: Floats
    rotate_deg: float = 0.0
    centres: tuple[tuple[float, float], ...] = ()


@dataclass(frozen=True)
class Repeat:
    """How a motif comes again along the braid.

    Parameters
    ----------
    first : int
        The crossing at which the first repeat begins.
    rounds : int
        From one repeat to the next.
    flip : bool
        Whether the two sides of an axis change places from one repeat to the next.
    count : int
        How many times the motif comes.
    """

    first: int
    rounds: int
    flip: bool
    count: int


@dataclass(frozen=True, eq=False)
class Design:
    """A braid of coloured beads.

    Parameters
    ----------
    lattice : Lattice
        The braid and where its beads lie.
    bead : BeadSize
        The main bead.
    palette : tuple of Bead
        What the integers mean.
    beads : (n,) int
        Index into the palette for every crossing, in working order.
    background : int
        Index of the background bead.
    picture : PlacedPicture, optional
    repeat : Repeat, optional
    settings : mapping
        What is needed to make the design again; plain JSON values.

    Raises
    ------
    HimotifError
        If there is no bead, or an index that is not in the palette.
    """

    lattice: Lattice
    bead: BeadSize
    palette: tuple[Bead, ...]
    beads: Ints
    background: int = 0
    picture: PlacedPicture | None = None
    repeat: Repeat | None = None
    settings: Mapping[str, Any] = field(default_factory=dict)

    def __post_init__(self) -> None:
        beads = np.array(self.beads, dtype=np.intp)
        beads.flags.writeable = False
        object.__setattr__(self, "beads", beads)
        if not self.palette:
            raise HimotifError("the design has an empty palette; it needs at least one bead.")
        if beads.ndim != 1 or not len(beads):
            raise HimotifError("the design has no beads.")
        if beads.min() < 0 or beads.max() >= len(self.palette):
            wrong = int(np.argmax((beads < 0) | (beads >= len(self.palette))))
            raise HimotifError(
                f"bead {wrong + 1} of the design is number {beads[wrong]}, but the palette has "
                f"numbers 0 to {len(self.palette) - 1}."
            )

    @property
    def braid(self) -> Braid:
        """The topology."""
        return self.lattice.braid

    @property
    def rounds(self) -> float:
        """Length in rounds."""
        return len(self.beads) / self.braid.beads_per_round

    @property
    def length_mm(self) -> float:
        """Beaded length."""
        return self.rounds * self.lattice.rise_mm

    @property
    def codes(self) -> list[str]:
        """Code of every bead, in working order."""
        names = [bead.code for bead in self.palette]
        return [names[index] for index in self.beads]

    def repeat_shift(self) -> FaceReturn | None:
        """Return the lattice shift from one repeat to the next, if there is one."""
        if self.repeat is None:
            return None
        return FaceReturn(self.repeat.rounds, self.repeat.flip, 0.0)


def palette_rgb(palette: Sequence[Bead]) -> npt.NDArray[np.uint8]:
    """Return the colours of a palette, (k, 3) uint8 sRGB."""
    return np.array([bead.rgb for bead in palette], dtype=np.uint8).reshape(-1, 3)


def colours_rgb(design: Design) -> npt.NDArray[np.uint8]:
    """Return the colour of every bead in working order, (n, 3) uint8 sRGB."""
    return palette_rgb(design.palette)[design.beads]


# -- the file ----------------------------------------------------------------------------------


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
    if design.picture is not None:
        picture = design.picture
        out["picture"] = {
            "file": picture.file,
            "sha256": picture.sha256,
            "size_px": list(picture.size_px),
        }
        out["placement"] = {
            "fit": picture.fit,
            "px_per_mm": picture.px_per_mm,
            "front_deg": picture.front_deg,
            "rotate_deg": picture.rotate_deg,
            "centres": [
                {"azimuth_deg": azimuth, "height_mm": height} for azimuth, height in picture.centres
            ],
            "where_px": [
                None if np.isnan(x) else [round(float(x), 3), round(float(y), 3)]
                for x, y in picture.where_px
            ],
        }
    if design.repeat is not None:
        out["repeat"] = {
            "first_crossing": design.repeat.first + 1,
            "rounds": design.repeat.rounds,
            "flip": design.repeat.flip,
            "count": design.repeat.count,
        }
    if design.settings:
        out["settings"] = dict(design.settings)
    return out


def _bead_dict(bead: Bead) -> dict[str, Any]:
    given = {item.name: getattr(bead, item.name) for item in fields(bead)}
    given["rgb"] = list(bead.rgb)
    return {name: value for name, value in given.items() if value is not None}


def design_json(design: Design) -> str:
    """Return the text of a design's file; the long per-bead lists take one line each."""
    plain = design_dict(design)
    rows = {"beads": plain["beads"]}
    plain["beads"] = "\0beads"
    if "placement" in plain:
        rows["where_px"] = plain["placement"]["where_px"]
        plain["placement"]["where_px"] = "\0where_px"
    text = json.dumps(plain, ensure_ascii=False, indent=2)
    for name, row in rows.items():
        text = text.replace(json.dumps(f"\0{name}"), json.dumps(row, separators=(", ", ": ")))
    return text + "\n"


def write_design(design: Design, path: Path) -> None:
    """Write a design's file (UTF-8)."""
    path.write_text(design_json(design), encoding="utf-8")


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
                f"{name}: schema is {plain.get('schema')!r}; this version reads schema {SCHEMA}. "
                "Use the version of himotif that wrote the file."
            ]
        )
    strands = check.take(plain, "braid.strands", int)
    lay = check.take(plain, "braid.lay", str)
    turn = check.take(plain, "braid.turn", str)
    disc = check.disc(plain)
    values = {key: check.take(plain, f"lattice.{key}", float) for key in VALUES}
    diameter = check.take(plain, "bead.diameter_mm", float)
    length = check.take(plain, "bead.length_mm", float)
    beads = check.take(plain, "beads", list)
    palette = check.palette(plain)
    check.numbers("beads", beads, len(palette))
    picture = check.picture(plain, len(beads) if isinstance(beads, list) else 0)
    repeat = check.repeat(plain)
    codes = [bead.code for bead in palette]
    background = plain.get("background", codes[0] if codes else "")
    if codes and background not in codes:
        check.say("background", f"{background!r} is not a code of the palette")
    check.stop()
    source = plain["lattice"].get("source", {})
    size = plain["bead"].get("size")
    return Design(
        lattice=Lattice(
            Braid(strands, lay, turn, disc),
            diameter_mm=diameter,
            length_mm=length,
            source={key: str(source.get(key, "computed")) for key in VALUES},
            **values,
        ),
        bead=_size(size, diameter, length),
        palette=palette,
        beads=np.array(beads, dtype=np.intp),
        background=codes.index(str(background)),
        picture=picture,
        repeat=repeat,
        settings=plain.get("settings", {}),
    )


def _size(name: str | None, diameter_mm: float, length_mm: float) -> BeadSize:
    from .bead import bead_sizes

    known = bead_sizes().get(name or "")
    if known is None:
        return BeadSize(name, diameter_mm, length_mm)
    return BeadSize(name, diameter_mm, length_mm, known.hole_mm, known.beads_per_gram)


_KINDS = {
    bool: "true or false",
    int: "a whole number",
    float: "a number",
    str: "text",
    list: "a list",
    dict: "an object",
}


class _Checker:
    """Collects everything that is wrong with a design's plain values."""

    def __init__(self, name: str) -> None:
        self.name = name
        self.problems: list[str] = []

    def say(self, key: str, what: str) -> None:
        self.problems.append(f"{self.name}: {key}: {what}.")

    def stop(self) -> None:
        if self.problems:
            raise Problems(self.problems)

    def take(self, plain: Mapping[str, Any], key: str, kind: type) -> Any:
        value: Any = plain
        for part in key.split("."):
            if not isinstance(value, dict) or part not in value:
                self.say(key, f"is missing; it must be {_KINDS[kind]}")
                return kind()
            value = value[part]
        return self.kind(key, value, kind)

    def kind(self, key: str, value: Any, kind: type) -> Any:
        fits = isinstance(value, (int, float) if kind is float else kind)
        if (
            not fits
            or (kind is not bool and isinstance(value, bool))
            or (kind is float and not np.isfinite(value))
        ):
            self.say(key, f"is {value!r:.60}, but must be {_KINDS[kind]}")
            return kind()
        return value

    def disc(self, plain: Mapping[str, Any]) -> Disc | None:
        braid = plain.get("braid")
        disc = braid.get("disc") if isinstance(braid, dict) else None
        if disc is None:
            return None
        try:
            return Disc(int(disc["slots"]), tuple((int(a), int(b)) for a, b in disc["starts"]))
        except (KeyError, TypeError, ValueError):
            self.say("braid.disc", "must hold slots (a number) and starts (pairs of slots)")
            return None

    def palette(self, plain: Mapping[str, Any]) -> tuple[Bead, ...]:
        rows = self.take(plain, "palette", list)
        known = {item.name for item in fields(Bead)}
        beads: list[Bead] = []
        for index, row in enumerate(rows):
            key = f"palette[{index}]"
            if not isinstance(row, dict):
                self.say(key, "must be an object with code, name and rgb")
                continue
            code, name = self.take(row, "code", str), self.take(row, "name", str)
            rgb = self.take(row, "rgb", list)
            if len(rgb) != 3 or not all(
                isinstance(v, int) and not isinstance(v, bool) and 0 <= v <= 255 for v in rgb
            ):
                self.say(f"{key}.rgb", "must be three whole numbers from 0 to 255")
                rgb = [0, 0, 0]
            more = {k: v for k, v in row.items() if k in known and k not in ("code", "name", "rgb")}
            beads.append(Bead(code, name, (rgb[0], rgb[1], rgb[2]), **more))
        doubled = sorted({b.code for b in beads if sum(o.code == b.code for o in beads) > 1})
        if doubled:
            self.say("palette", f"code {', '.join(doubled)} stands there more than once")
        return tuple(beads)

    def numbers(self, key: str, values: Any, below: int) -> None:
        if not values:
            self.say(key, "holds no beads")
        for index, value in enumerate(values):
            if not isinstance(value, int) or isinstance(value, bool) or not 0 <= value < below:
                self.say(
                    f"{key}[{index}]",
                    f"is {value!r:.40}, but must be a whole number from 0 to {below - 1}",
                )
                return

    def picture(self, plain: Mapping[str, Any], count: int) -> PlacedPicture | None:
        if "picture" not in plain or "placement" not in plain:
            return None
        before = len(self.problems)
        where = self.take(plain, "placement.where_px", list)
        if len(where) != count:
            self.say("placement.where_px", f"has {len(where)} entries for {count} beads")
        size = self.floats("picture.size_px", self.take(plain, "picture.size_px", list), 2)
        points = [
            self.floats("placement.where_px", (np.nan, np.nan) if point is None else point, 2)
            for point in where
        ]
        text = {key: self.take(plain, f"picture.{key}", str) for key in ("file", "sha256")}
        number = {
            key: self.take(plain, f"placement.{key}", float) for key in ("px_per_mm", "front_deg")
        }
        fit = self.take(plain, "placement.fit", str)
        if len(self.problems) > before:
            return None
        placement = plain["placement"]
        centres = [
            self.floats("placement.centres", (row.get("azimuth_deg"), row.get("height_mm")), 2)
            for row in placement.get("centres", [])
            if isinstance(row, dict)
        ]
        return PlacedPicture(
            **text,
            **number,
            size_px=(int(size[0]), int(size[1])),
            fit=fit,
            where_px=np.array(points, dtype=np.float64).reshape(-1, 2),
            rotate_deg=self.kind("placement.rotate_deg", placement.get("rotate_deg", 0.0), float),
            centres=tuple((azimuth, height) for azimuth, height in centres),
        )

    def floats(self, key: str, values: Any, count: int) -> tuple[float, ...]:
        try:
            found = tuple(float(value) for value in values)
        except (TypeError, ValueError):
            found = ()
        if len(found) != count:
            line = f"{self.name}: {key}: {values!r:.40} should be {count} numbers."
            if line not in self.problems:
                self.problems.append(line)
            return (0.0,) * count
        return found

    def repeat(self, plain: Mapping[str, Any]) -> Repeat | None:
        if plain.get("repeat") is None:
            return None
        first, rounds, count = (
            self.take(plain, f"repeat.{key}", int) for key in ("first_crossing", "rounds", "count")
        )
        flip = self.take(plain, "repeat.flip", bool)
        return Repeat(first - 1, rounds, flip, count)
