"""An order as the page's form gives it: texts and numbers, checked and read all together."""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from typing import Any

from ...core.bounds import beyond
from ...core.braid.braid import LAYS, STRANDS, TURNS
from ...core.errors import HimotifError, WrongUsage
from ...core.making.lengths import parse_length
from ...core.making.swatch import readings_from_dict
from ..job import Order

LABELS = {
    "--bead-diameter": "“Across the bead”",
    "--bead-length": "“Along its hole”",
    "--bead-size": "“Bead size”",
    "--background": "“Bead round the motif”",
    "--wrist": "“Round the wrist”",
    "--length": "“Finished length”",
    "--width": "“Width”",
    "--rotate": "“Turn”",
    "--fit": "“Shapes are true”",
    "--move": "“To the right” and “Up”",
    "--repeat": "“Repeats”",
    "--gap": "“Least gap”",
    "--strands": "“Strands”",
    "--lay": "“Hand”",
    "--ease": "“Ease”",
    "--clasp": "“Clasp”",
    "--caps": "“End caps”",
}
"""What the page calls the options of the command."""

_OPTION = re.compile(r"--[a-z-]+")

_ONLY_THE_COMMANDS = (
    (r" Ask for a drop .*?--scatter \S+",
     " Colour beads with it by hand where you want it."),
    (r"say that it is flat \(--kind flat\)", "choose “Kind of picture”: flat colours"),
    (r"; you may add others \(--keep CODE\)", ""),
    (r"--fit wrap\b", "“Shapes are true”: rolled out"),
    (r"--fit face\b", "“Shapes are true”: from the front"),
    (r" or --length\b", ""),
    (r" Or give a finished length \(--length\)\.", ""),
)  # fmt: skip
"""What the command offers and the page has not, or has in other words."""


class FormProblems(HimotifError):
    """What is wrong in the form, by field.

    Parameters
    ----------
    fields : mapping of str to str
        A sentence for each field.
    """

    def __init__(self, fields: Mapping[str, str]) -> None:
        self.fields = dict(fields)
        super().__init__("\n".join(self.fields.values()))


def page_words(text: str) -> str:
    """Return a message of the command in the words of the page: options by their labels."""
    for pattern, words in _ONLY_THE_COMMANDS:
        text = re.sub(pattern, words, text)
    return _OPTION.sub(lambda found: LABELS.get(found[0], found[0]), text)


def order_from(plain: Mapping[str, Any], quick: bool = False) -> Order:
    """Read an order.

    Parameters
    ----------
    plain : mapping
        Values of the form by name; a missing or empty one is left to himotif.
    quick : bool
        A first look only.

    Raises
    ------
    FormProblems
        With everything that is wrong.
    """
    form = _Form(plain)
    values = {
        "strands": form.one_of("strands", STRANDS, 8),
        "lay": form.one_of("lay", LAYS, "S"),
        "turn": form.one_of("turn", TURNS, "usual"),
        "fit": form.one_of("fit", ("wrap", "face"), "wrap"),
        "kind": form.one_of("kind", ("flat", "shaded"), None),
        "repeat": form.repeat(),
        "background": form.text("background"),
        "wrist_mm": form.length("wrist", "165, 16.5cm or 6 1/2in"),
        "ease_mm": form.length("ease", "15 or 1.5cm"),
        "clasp_mm": form.length("clasp", "12 or 1.2cm"),
        "caps_mm": form.length("caps", "20 or 2cm"),
        "width_mm": form.length("width", "12, 1.2cm or 1/2in"),
        "rotate_deg": form.number("rotate", -360.0, 360.0, 0.0, " degrees, such as 45 or -45"),
        "gap_rounds": form.number("gap", 0.0, 1000.0, 1.0, " rounds, such as 2"),
        "most": form.most(),
        "moved_mm": form.moved(),
        **form.bead(),
        "readings": form.readings(),
    }
    form.stop()
    return Order(**values, quick=quick)


class _Form:
    """Takes values from the form, collecting what is wrong."""

    def __init__(self, plain: Mapping[str, Any]) -> None:
        self.plain = plain
        self.problems: dict[str, str] = {}

    def stop(self) -> None:
        if self.problems:
            raise FormProblems(self.problems)

    def text(self, name: str) -> str | None:
        value = self.plain.get(name)
        return None if value is None or value == "" else str(value)[:200].strip()

    def take(self, name: str, read: Callable[[str], Any], otherwise: Any = None) -> Any:
        text = self.text(name)
        if not text:
            return otherwise
        try:
            return read(text)
        except HimotifError as error:
            self.problems[name] = page_words(str(error))
            return otherwise

    def one_of(self, name: str, known: tuple[Any, ...], otherwise: Any) -> Any:
        def read(text: str) -> Any:
            for value in known:
                if str(value) == text:
                    return value
            raise WrongUsage(f"{name}: {text!r} is none of {', '.join(map(str, known))}.")

        return self.take(name, read, otherwise)

    def length(self, name: str, such_as: str) -> float | None:
        found: float | None = self.take(name, lambda text: _length_mm(text, such_as))
        return found

    def number(self, name: str, low: float, high: float, otherwise: float, what: str = "") -> float:
        def read(text: str) -> float:
            try:
                value = float(text.replace(",", "."))
            except ValueError:
                value = math.nan
            if not low <= value <= high:
                raise WrongUsage(f"“{text}”: give a number from {low:g} to {high:g}{what}.")
            return value

        found: float = self.take(name, read, otherwise)
        return found

    def repeat(self) -> Any:
        def read(text: str) -> Any:
            if text in ("fill", "once"):
                return text
            if not text.isdecimal() or not 1 <= int(text) <= 1000:
                raise WrongUsage(
                    f"“{text}”: give how many motifs, 1 or more; “fill” for as many as there is "
                    "room for, “once” for one."
                )
            return int(text)

        return self.take("repeat", read, "fill")

    def moved(self) -> tuple[float, float] | None:
        if not self.text("right") and not self.text("up"):
            return None
        right, up = (
            self.take(name, lambda text: _length_mm(text, "5, -5 or 0.5cm"), 0.0)
            for name in ("right", "up")
        )
        return right, up

    def most(self) -> int | None:
        def read(text: str) -> int:
            if not text.isdecimal() or not 2 <= int(text) <= 1000:
                raise WrongUsage(
                    f"“{text}”: give a whole number of bead colours from 2, the one round the "
                    "motif among them; leave it empty to use as many as serve."
                )
            return int(text)

        found: int | None = self.take("most", read)
        return found

    def bead(self) -> dict[str, Any]:
        size = self.text("bead_size")
        if size != "measured":
            return {"bead_size": size}
        found = {f"{name}_mm": self.measure(name) for name in ("bead_diameter", "bead_length")}
        for name, value in found.items():
            if value is None:
                words = "Measure a bead in mm, such as 3.0; ten in a row help."
                self.problems.setdefault(name.removesuffix("_mm"), words)
        return found

    def measure(self, name: str) -> float | None:
        """Of a bead."""

        def read(text: str) -> float:
            value = _length_mm(text, "3.0")
            if problem := beyond("bead", value):
                raise WrongUsage(f"“{text}” {problem}.")
            return value

        found: float | None = self.take(name, read)
        return found

    def readings(self) -> Any:
        swatch = self.plain.get("swatch")
        if not isinstance(swatch, Mapping):
            return None
        try:
            return readings_from_dict(dict(swatch))
        except HimotifError as error:
            self.problems["swatch"] = str(error)
            return None


def _length_mm(text: str, such_as: str) -> float:
    """A length in mm; with a minus it goes the other way."""
    sign = -1.0 if text[:1] in "-−" else 1.0
    try:
        return sign * parse_length(text.lstrip("+-− "))
    except WrongUsage:
        raise WrongUsage(
            f"“{text}” is not a length: write {such_as}; a bare number is mm."
        ) from None
