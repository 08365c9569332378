"""A worked swatch: what a maker measured, which always wins over what is computed.

The file of a swatch holds the readings as they were taken; what follows from them is worked out
when it is read:

    {"schema": 1, "braid": {"strands": 8, "lay": "S", "turn": "usual"},
     "bead": {"diameter_mm": 3.0, "length_mm": 2.1},
     "thickness_mm": 8.2, "rounds": 16, "length_mm": 34.5, "column_rounds": 8.2,
     "reads_right": true}

>>> readings = Readings(thickness_mm=8.2, rounds=16, length_mm=34.4, column_rounds=8)
>>> readings.swatch
Swatch(thickness_mm=8.2, rise_mm=2.15, drift_deg=45.0)
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from .._data import json_text, read_json
from ..bounds import beyond, fits
from ..braid import LAYS, TURNS, Swatch, too_thin
from ..errors import Problems, WrongUsage
from ..findings import Code, Finding, Remedy

if TYPE_CHECKING:
    from ..braid import Lattice

SCHEMA = 1
"""Of the file of a swatch: a program refuses one that it does not know."""


_NUMBERS = {
    "thickness_mm": ("thickness", "thickness"),
    "rounds": ("swatch_rounds", "number of rounds"),
    "length_mm": ("length", "length of these rounds"),
    "column_rounds": ("column_rounds", "rounds for a column to go once round"),
}
"""The bounds and the name in words of each reading."""


_WORKED: dict[str, dict[str, str | tuple[str, ...]]] = {
    "braid": {"strands": "strands", "lay": LAYS, "turn": TURNS},
    "bead": {"diameter_mm": "bead", "length_mm": "bead"},
}
"""The bounds or the words of what is noted of the worked swatch."""


@dataclass(frozen=True)
class Readings:
    """What was read off a worked swatch.

    Parameters
    ----------
    thickness_mm : float, optional
        Outer diameter of the beaded braid.
    rounds, length_mm : float, optional
        So many rounds are so long; both or neither.
    column_rounds : float, optional
        Rounds a column needs to go once round.
    reads_right : bool, optional
        Whether the letter reads right, seen from outside with the newest beads on top.
    braid, bead : dict, optional
        What was worked: strands, lay and turn; diameter_mm and length_mm.

    Raises
    ------
    Problems
        With every reading that cannot be.
    """

    thickness_mm: float | None = None
    rounds: float | None = None
    length_mm: float | None = None
    column_rounds: float | None = None
    reads_right: bool | None = None
    braid: dict[str, Any] | None = None
    bead: dict[str, Any] | None = None

    def __post_init__(self) -> None:
        problems = _impossible(self)
        if problems:
            raise Problems(problems)

    @property
    def swatch(self) -> Swatch:
        """The measured values that replace computed ones."""
        return Swatch(
            thickness_mm=self.thickness_mm,
            rise_mm=self.length_mm / self.rounds if self.length_mm and self.rounds else None,
            drift_deg=360.0 / self.column_rounds if self.column_rounds else None,
        )


def _impossible(readings: Readings) -> list[str]:
    problems = []
    for name, (bound, label) in _NUMBERS.items():
        value = getattr(readings, name)
        if value is not None and (problem := beyond(bound, value)):
            problems.append(f"{label} {problem}.")
    if (readings.rounds is None) != (readings.length_mm is None):
        problems.append(
            "a length needs its number of rounds, and the other way round: from the lower edge of "
            "the first dark ring to the lower edge of the second, give the length and how many "
            "rounds it has."
        )
    across = (readings.bead or {}).get("diameter_mm")
    thickness = readings.thickness_mm
    if across is not None and thickness is not None and (problem := too_thin(thickness, across)):
        problems.append(problem)
    return problems


def record(lattice: Lattice, **readings: Any) -> Readings:
    """Return readings of a swatch worked as `lattice` says, with what was worked noted in them.

    Parameters
    ----------
    lattice : Lattice
        The computed lattice.
    **readings
        As in `Readings`: thickness_mm, rounds, length_mm, column_rounds, reads_right.

    Raises
    ------
    WrongUsage
        If nothing was read, or a reading cannot be.
    """
    if all(value is None for value in readings.values()):
        raise WrongUsage(
            "no reading is given: give at least one of thickness, rounds with their length, "
            "rounds for a column to go once round, or whether the letter reads right."
        )
    braid = lattice.braid
    try:
        taken = Readings(
            **readings,
            braid={"strands": braid.strands, "lay": braid.lay, "turn": braid.turn},
            bead={"diameter_mm": lattice.diameter_mm, "length_mm": lattice.length_mm},
        )
    except Problems as error:
        raise WrongUsage(str(error)) from None
    if far := _far_off(taken, lattice):
        raise WrongUsage.together(map(WrongUsage, far))
    return taken


def _far_off(readings: Readings, lattice: Lattice) -> list[str]:
    """Readings that are of no such braid: a lattice made of them is refused."""
    measured, bead_mm = readings.swatch, lattice.diameter_mm
    given = (
        ("thickness", measured.thickness_mm, lattice.thickness_mm, bead_mm, "mm"),
        ("length of one round", measured.rise_mm, lattice.rise_mm, 0.0, "mm"),
        ("rounds of a column", readings.column_rounds, lattice.columns_per_turn, 0.0, "rounds"),
    )
    return [
        f"{label} {value:.3g} {unit}, where {computed:.3g} {unit} are computed: this is not of "
        "such a braid. Check the unit, and measure again."
        for label, value, computed, inside, unit in given
        if value is not None and not fits("over_computed", (value - inside) / (computed - inside))
    ]


def questions(readings: Readings, lattice: Lattice) -> list[Finding]:
    """Question readings that are unlikely, or taken from another braid; none is refused.

    Parameters
    ----------
    readings : Readings
    lattice : Lattice
        Computed, for the braid that the readings are to be used for.

    Returns
    -------
    list of Finding
        Empty if all is likely.
    """
    from .lengths import off

    measured = readings.swatch
    found: list[Finding] = []
    if measured.thickness_mm is not None:
        found += off(Code.THICKNESS_OFF, "mm", measured.thickness_mm, lattice.thickness_mm)
    if measured.rise_mm is not None:
        found += off(Code.RISE_OFF, "mm", measured.rise_mm, lattice.rise_mm)
    if readings.column_rounds is not None:
        computed = lattice.columns_per_turn
        found += off(Code.COLUMN_OFF, "rounds", readings.column_rounds, computed)
    worked = {**(readings.braid or {}), **(readings.bead or {})}
    if readings.reads_right is False:
        meant = worked.get("lay", lattice.braid.lay)
        worked["lay"] = "Z" if meant == "S" else "S"
        if worked["lay"] != lattice.braid.lay:
            found.append(_backwards(worked["lay"], meant))
            del worked["lay"]
    return found + _other_work(worked, lattice)


def _backwards(worked: str, meant: str) -> Finding:
    data = {"worked": worked, "meant": meant}
    return Finding(Code.LETTER_BACKWARDS, data, (Remedy("lay", worked),))


def _other_work(worked: dict[str, Any], lattice: Lattice) -> list[Finding]:
    """Whether the swatch was worked with another braid or bead."""
    braid, found = lattice.braid, []
    if worked.get("lay", braid.lay) != braid.lay:
        lays = {"swatch": worked["lay"], "braid": braid.lay}
        found.append(Finding(Code.SWATCH_OF_OTHER_LAY, lays))
    now = {
        "strands": braid.strands,
        "turn": braid.turn,
        "diameter_mm": lattice.diameter_mm,
        "length_mm": lattice.length_mm,
    }
    for name, value in now.items():
        if worked.get(name, value) != value:
            label = name.removesuffix("_mm")
            what = f"bead {label}" if label != name else label
            data = {"what": what, "swatch": worked[name], "braid": value}
            found.append(Finding(Code.SWATCH_OF_OTHER_BRAID, data))
    return found


# -- the file ------------------------------------------------------------------------------------


def readings_json(readings: Readings) -> str:
    """Return the text of a swatch's file."""
    plain: dict[str, Any] = {"schema": SCHEMA, "braid": readings.braid, "bead": readings.bead}
    plain |= {name: getattr(readings, name) for name in (*_NUMBERS, "reads_right")}
    given = {name: value for name, value in plain.items() if value is not None}
    return json_text(given)


def read_readings(path: Path) -> Readings:
    """Read a swatch's file.

    Raises
    ------
    HimotifError
        If the file cannot be read or is not JSON.
    Problems
        With everything in it that is wrong.
    """
    plain = read_json(
        Path(path),
        "Make it from the readings of a worked swatch.",
        "Make it again from the readings.",
    )
    return readings_from_dict(plain, str(path))


def _unlike(value: Any, known: str | tuple[str, ...] | None) -> str | None:
    """Return what is wrong with a value that must be a number in bounds or one of some words."""
    if known is None:
        return "is not known here; leave it out"
    if isinstance(known, tuple):
        return None if value in known else f"is {value!r:.40}, but must be {' or '.join(known)}"
    if isinstance(value, bool) or not isinstance(value, int | float):
        return f"is {value!r:.40}, but must be a number"
    return beyond(known, value)


def readings_from_dict(plain: Any, name: str = "swatch") -> Readings:
    """Return the readings in the plain values of a swatch's file; `name` is for messages.

    Raises
    ------
    Problems
        With everything that is wrong.
    """
    if not isinstance(plain, dict) or plain.get("schema") != SCHEMA:
        found = plain.get("schema") if isinstance(plain, dict) else None
        raise Problems(
            [
                f'{name}: this is not a swatch of schema {SCHEMA} (found "schema": {found!r:.40}). '
                "Make it again from the readings."
            ]
        )
    problems = []
    known = {item.name for item in fields(Readings)} | {"schema"}
    for key in plain.keys() - known:
        problems.append(
            f"{name}: {key:.40}: is not a reading; known are {', '.join(sorted(known))}."
        )
    values: dict[str, Any] = {}
    for key in _NUMBERS:
        value = plain.get(key)
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            problems.append(f"{name}: {key}: is {value!r:.40}, but must be a number.")
        else:
            values[key] = value
    for key, kind, label in (
        ("reads_right", bool, "true or false"),
        ("braid", dict, "an object"),
        ("bead", dict, "an object"),
    ):
        value = plain.get(key)
        if value is not None and not isinstance(value, kind):
            problems.append(f"{name}: {key}: is {value!r:.40}, but must be {label}.")
        else:
            values[key] = value
    for part, known_parts in _WORKED.items():
        for key, value in (values.get(part) or {}).items():
            if problem := _unlike(value, known_parts.get(key)):
                problems.append(f"{name}: {part}.{key:.40}: {problem}.")
                values[part] = None
    try:
        readings = Readings(**values)
    except Problems as error:
        problems += [f"{name}: {problem}" for problem in error.problems]
    if problems:
        raise Problems(problems)
    return readings
