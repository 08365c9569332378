"""Findings and refusals in words for the page: a text, and a button for each remedy."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Any

from ...core.findings import Code, Finding, Remedy
from ...core.paper.wording import sentence
from ..judge.verdict import UNRECOGNISED
from ..options import page_names, remedy_label
from ..wording import with_advice
from .form import form_of_remedy

if TYPE_CHECKING:
    from ...core.errors import WrongUsage
    from ...core.making.materials import Materials
    from ...core.paper.making_wording import Unit
    from ..job import Made


def said(finding: Finding, unit: Unit = None) -> dict[str, Any]:
    """Return a finding for the page.

    Parameters
    ----------
    finding : Finding
    unit : 'cm' or 'in', optional
        Of lengths.

    Returns
    -------
    dict
        ``text``, and ``buttons``; see `buttons`.
    """
    if finding.code is Code.REMARK:
        text = sentence(finding, unit)  # without the options that an older file names
    else:
        text = with_advice(finding, unit, lambda one: remedy_label(one) or "")
    return {"text": text, "buttons": buttons(finding.remedies)}


def buttons(remedies: Iterable[Remedy]) -> list[dict[str, Any]]:
    """Return a button for each remedy that the page has a field for.

    Returns
    -------
    list of dict
        ``field`` of the option table, ``value``, ``label``, and ``form``: the texts that go into
        the form by field, None where the maker fills it in.
    """
    return [
        {"field": one.field, "value": one.value, "label": label, "form": form}
        for one in remedies
        if (label := remedy_label(one)) is not None and (form := form_of_remedy(one))
    ]


def verdict(made: Made) -> str | None:
    """Return whether a motif reads: 'reads', 'a hint' or 'lost'; None where nobody judged."""
    return made.conversion.judgement.verdict


WORDS = {
    "reads": "Reads.",
    "a hint": "A hint of it.",
    "lost": "Lost.",
    None: "Shaded: judge it by eye.",
}
"""What the line begins with."""

TONES = {"reads": "good", "a hint": "doubtful", "lost": "bad", None: "open"}

MOST_REMEDIES = 3
"""Buttons beside a finding, at most: one line of the page."""


def status(made: Made | None, needed: Materials) -> dict[str, Any]:
    """Return how the work stands, in one line.

    Parameters
    ----------
    made : Made, optional
        None of a design that came without its sketch.
    needed : Materials

    Returns
    -------
    dict
        ``tone`` ('good', 'doubtful', 'bad', 'open'), ``word``, ``text``, and ``buttons``; see
        `buttons`.
    """
    short = [f"{need.buy} {need.bead.name}" for need in needed.short]
    text = f"{', '.join(short[:3])} short." if short else ""
    more = f" {len(short) - 3} more beads are short." if len(short) > 3 else ""
    if made is None:
        tone, word, ways = "good", "Open.", []
    else:
        found = verdict(made)
        empty = any(one.code is Code.NOTHING_DRAWN for one in made.findings)
        word = "Nothing is drawn." if empty else WORDS[found]
        if not empty and found is None and made.conversion.kind == "flat":
            word = "Judge it by eye."
        tone = TONES["lost" if empty else found]
        ways = [
            {**button, "label": does(remedy)}
            for one in made.findings
            if one.code in (*UNRECOGNISED, Code.NOTHING_DRAWN, Code.TAKEN_AS_SHADED)
            for remedy in one.remedies
            for button in buttons([remedy])
        ]
    if short and tone in ("good", "open"):
        tone = "doubtful"
    return {"tone": tone, "word": word, "text": text + more, "buttons": ways[:MOST_REMEDIES]}


DOES: dict[str, Callable[[Any], str]] = {
    "strands": lambda value: f"Use {value} strands",
    "rotate_deg": lambda value: "Lay it along the braid" if value % 180 else "Lay it across",
    "width_mm": lambda value: f"Make it {value:g} mm wide",
    "stretch": lambda value: f"Make it {value:g} times as tall",
    "outlines": lambda value: "Fill its outlines" if value == "mass" else "Work its lines alone",
    "repeat": lambda value: "Work one motif" if value in (1, "once") else f"Work {value} motifs",
    "kind": lambda value: f"Take it as {value}",
    "background": lambda value: "Choose the bead round it",
}
"""What taking a remedy does, by field."""


def does(remedy: Remedy) -> str:
    """Return what taking a remedy does, in a few words for a button."""
    said = [
        DOES[one.field](one.value) if one.field in DOES else remedy_label(one) or ""
        for one in (remedy, *remedy.also)
        # a width beside other changes keeps the size that was found with them
        if one is remedy or one.field not in ("width_mm", "stretch")
    ]
    first, *rest = [one for one in said if one]
    return ", ".join([first, *(one[:1].lower() + one[1:] for one in rest)])


def texts(findings: Iterable[Finding], unit: Unit = None) -> list[str]:
    """Return the texts of findings alone."""
    return [said(one, unit)["text"] for one in findings]


def refused(error: WrongUsage) -> dict[str, Any]:
    """Return what is refused, by the page's fields.

    Returns
    -------
    dict
        ``fields``: texts by field, None if a part of the error has no field there; ``buttons``: by
        field, as in `said`.
    """
    fields: dict[str, str] = {}
    ways: dict[str, list[dict[str, Any]]] = {}
    for part in error.parts:
        names = () if part.field is None else page_names(part.field)
        if not names:
            return {"fields": None, "buttons": {}}
        labels = [label for one in part.remedies if (label := remedy_label(one))]
        text = f"{part} Try {' or '.join(labels)}." if labels else str(part)
        for name in names:
            fields.setdefault(name, text)
            ways.setdefault(name, buttons(part.remedies))
    return {"fields": fields, "buttons": ways}
