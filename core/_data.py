"""Files: the core's own data, and the JSON and tables that makers hand in."""

from __future__ import annotations

import codecs
import hashlib
import json
import re
from functools import cache
from pathlib import Path
from typing import Any, cast

from .bounds import most, shown
from .errors import HimotifError
from .names import text_problem


@cache
def load(name: str) -> dict[str, Any]:
    """Return a data file of the core, parsed; `name` is its path from here."""
    text = Path(__file__).parent.joinpath(*name.split("/")).read_text(encoding="utf-8")
    return cast("dict[str, Any]", json.loads(text))


def read_json(path: Path, absent: str, mend: str) -> Any:
    """Read a maker's JSON file.

    Parameters
    ----------
    path : Path
    absent, mend : str
        What to do if there is no such file, and if it is not JSON.

    Raises
    ------
    HimotifError
        With the file, the line where one is known, and how to mend it.
    """
    return parse_json(read_limited(path, absent), str(path), mend)


def read_limited(path: Path, absent: str) -> bytes:
    """Read a maker's text file whole, if it is no larger than any of its kind can be.

    Parameters
    ----------
    path : Path
    absent : str
        What to do if there is no such file.

    Raises
    ------
    HimotifError
        If it cannot be read or is too large.
    """
    most_bytes = most("file_mb") * 10**6
    try:
        with path.open("rb") as file:
            data = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise HimotifError(f"{path}: there is no such file. {absent}") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise HimotifError(f"{path}: cannot be read ({reason}).") from None
    if len(data) > most_bytes:
        raise HimotifError(
            f"{path}: the file is larger than {most('file_mb')} MB, more than any file of this "
            "kind holds. Look whether it is the right one."
        )
    return data


_WINDOWS = {byte: bytes([byte]).decode("cp1252", "ignore") or None for byte in range(0x80, 0xA0)}
"""Windows-1252 has printing characters where Latin-1 has control characters, and five gaps."""


def decode_table(data: bytes) -> tuple[str, int | None]:
    """Return the text of a table as a spreadsheet or an editor saved it.

    Parameters
    ----------
    data : bytes
        UTF-8 with or without its mark, UTF-16 with its mark, or else taken for Western European
        (Windows-1252).

    Returns
    -------
    (str, int or None)
        The text; the first line that is no UTF-8, counted from 1, if it was taken for Western
        European.

    Raises
    ------
    ValueError
        If it is no such text; its message says what it is and how to mend it.
    """
    if data.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        try:
            return data.decode("utf-16"), None
        except UnicodeDecodeError:
            raise ValueError(
                "the UTF-16 text is broken off; save the file again as UTF-8"
            ) from None
    if data.startswith(b"PK\x03\x04") or b"\0" in data:
        raise ValueError("this is not a text file; save it as CSV from the spreadsheet")
    try:
        return data.decode("utf-8-sig"), None
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
    return data.decode("latin-1").translate(_WINDOWS), line


def table_lines(text: str) -> list[str]:
    """Return the lines of a table, however they end."""
    return re.split(r"\r\n|\r|\n", text)


def separator_of(header: str) -> str:
    """Return what separates the cells of a table: comma, semicolon or tab, by its header."""
    return max(",;\t", key=re.sub(r'"[^"]*"', "", header).count)


def parse_json(data: bytes, name: str, mend: str) -> Any:
    """Return the plain values in the bytes of a JSON file; `name` and `mend` are for messages.

    Raises
    ------
    HimotifError
        If it is not JSON, or holds what no file of ours can.
    """
    try:
        plain = json.loads(data.decode("utf-8-sig"))
    except (ValueError, RecursionError) as error:
        line = f":{error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise HimotifError(f"{name}{line}: this is not JSON text. {mend}") from None
    if problem := _odd(plain):
        raise HimotifError(f"{name}: {problem}. {mend}")
    return plain


def file_sha256(path: Path) -> str | None:
    """Return the hash of a file's content, in hexadecimal digits; None if it cannot be read."""
    try:
        with path.open("rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError:
        return None


def json_text(plain: Any) -> str:
    """Return plain values as the text of a JSON file."""
    return json.dumps(plain, ensure_ascii=False, indent=2) + "\n"


def _odd(plain: Any) -> str | None:
    """What could not be printed or walked through later, wherever it stands; layer by layer."""
    layer = [plain]
    for _ in range(most("depth") + 1):
        inner: list[Any] = []
        for value in layer:
            if isinstance(value, dict):
                inner += [*value, *value.values()]
            elif isinstance(value, list):
                inner += value
            elif isinstance(value, str) and (problem := text_problem(value, "the text")):
                return problem
            elif isinstance(value, int) and abs(value) >= 10**15:
                return f"it holds {shown(value)}"
        layer = inner
    return f"lists stand in each other more than {most('depth')} deep" if layer else None
