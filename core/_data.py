"""JSON files: the core's own data, and what makers hand in."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from pathlib import Path
from typing import Any, cast

from .errors import HimotifError


@cache
def load(name: str) -> dict[str, Any]:
    """Return a data file of the core, parsed; `name` is its path from here."""
    text = (
        resources.files(__package__ or "himotif.core")
        .joinpath(*name.split("/"))
        .read_text(encoding="utf-8")
    )
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
    try:
        return json.loads(path.read_text(encoding="utf-8-sig"))
    except FileNotFoundError:
        raise HimotifError(f"{path}: there is no such file. {absent}") from None
    except OSError as error:
        raise HimotifError(f"{path}: cannot be read ({error.strerror}).") from None
    except (ValueError, RecursionError) as error:
        line = f":{error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        raise HimotifError(f"{path}{line}: this is not JSON text. {mend}") from None
