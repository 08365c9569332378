"""Codes and names: what may stand in them, by one rule for every reader.

A code goes into lists that spreadsheets open, so it begins with a letter and is no formula. A name
goes on paper and into files, so it holds no character that cannot be written there.

>>> code_problem("A1"), code_problem("=1+1")
(None, "code '=1+1' cannot be used; take a letter or a short word, at most 16 letters or digits, a \
letter first, no spaces")
"""

from __future__ import annotations

import os
import re
import unicodedata
from collections.abc import Sequence

from .bounds import most

LAY_MOVES = {
    "S": "top left goes down, bottom right goes up",
    "Z": "top right goes down, bottom left goes up",
}
"""The two moves of a lay, as the worker sees them."""

_UNWRITABLE = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x84\x86-\x9f\ud800-\udfff]")
"""Control characters but tab and line breaks, and halves of surrogate pairs."""


def counted(count: int, thing: str) -> str:
    """Return so many of a thing.

    >>> counted(1, "turn"), counted(2, "turn")
    ('1 turn', '2 turns')
    """
    return f"{count} {thing}{'' if count == 1 else 's'}"


def in_a_row(names: Sequence[str]) -> str:
    """Return names in a row.

    >>> in_a_row(["reed"]), in_a_row(["reed", "tide", "moon"])
    ('reed', 'reed, tide and moon')
    """
    *others, last = names
    return f"{', '.join(others)} and {last}" if others else last


def code_problem(code: str) -> str | None:
    """Return what is wrong with a code, or None."""
    kinds = "".join(unicodedata.category(letter)[0] for letter in code)
    plain = all(kind in "LMN" or letter in "-_" for kind, letter in zip(kinds, code, strict=True))
    if kinds[:1] == "L" and plain and len(code) <= most("code"):
        return None
    return (
        f"code {code!r:.40} cannot be used; take a letter or a short word, at most {most('code')} "
        "letters or digits, a letter first, no spaces"
    )


def name_problem(name: str, label: str = "name") -> str | None:
    """Return what is wrong with a name, or None; `label` says what it names."""
    if len(name) > most("name"):
        return (
            f"{label} {name[:20]!r}… has {len(name)} characters; shorten it to {most('name')} or "
            "less"
        )
    return text_problem(name, label)


def text_problem(text: str, label: str) -> str | None:
    """Return which character of a text cannot be written, or None."""
    found = _UNWRITABLE.search(text)
    if found is None:
        return None
    return (
        f"{label} {text!r:.40} holds the character U+{ord(found[0]):04X}, which cannot be printed; "
        "take it out"
    )


def writable(text: str) -> str:
    """Return a text with � for every character that cannot be written."""
    return _UNWRITABLE.sub("\ufffd", text)


def readable(file_name: str) -> str:
    """Return the name of a file as text that can be written.

    Bytes that are no UTF-8, and characters that cannot be written, become �.
    """
    return writable(os.fsencode(file_name).decode("utf-8", "replace"))
