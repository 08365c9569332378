"""The examples in docstrings give what they say."""

from __future__ import annotations

import doctest
import importlib
from pathlib import Path

ROOT = Path(__file__).parent.parent
ROOMS = ("core", "convert", "palette")


def test_examples_in_docstrings_give_what_they_say() -> None:
    files = [file for room in ROOMS for file in sorted((ROOT / room).rglob("*.py"))]
    shown = [file for file in files if ">>> " in file.read_text(encoding="utf-8")]
    wrong, run = [], 0
    for file in shown:
        parts = file.relative_to(ROOT).with_suffix("").parts
        module = importlib.import_module(".".join(("himotif", *parts)).removesuffix(".__init__"))
        found = doctest.testmod(module, report=False)
        run += found.attempted
        wrong += [module.__name__] * bool(found.failed)
    assert not wrong
    assert run >= len(shown)
