"""The data files of the core."""

from __future__ import annotations

import json
from functools import cache
from importlib import resources
from typing import Any, cast


@cache
def load(name: str) -> dict[str, Any]:
    """Return a data file of this package, parsed."""
    text = resources.files(__package__ or "himotif.core").joinpath(name).read_text(encoding="utf-8")
    return cast("dict[str, Any]", json.loads(text))
