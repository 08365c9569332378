"""The rooms stand one on the other: no import climbs back up, none goes in a circle."""

from __future__ import annotations

import ast
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent

ROOMS = (
    "core",
    "core.braid",
    "core.design",
    "core.making",
    "core.drawing",
    "core.show",
    "core.paper",
    "palette",
    "convert",
    "convert.options",
    "convert.read",
    "convert.fit",
    "convert.judge",
    "convert.report",
    "convert.write",
    "convert.job",
    "convert.compare",
    "convert.suggest",
    "convert.advice",
    "convert.wording",
    "convert.page",
    "convert.cli",
    "convert.__main__",
)
"""From the ground up; a module may import from its own room and from those below it."""

DOORS = ("core.braid", "core.design", "palette", "convert.read", "convert.report")
"""Rooms that others enter through the names their ``__init__`` exports.

The others are entered by their modules, so that a command loads what it needs and no more.
"""


def module_names() -> dict[str, Path]:
    """Return every module of the packages, packages by their own name."""
    found = {}
    for top in ("core", "palette", "convert"):
        for path in sorted((ROOT / top).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            found[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    return found


MODULES = module_names()


def room_of(module: str) -> str:
    """Return the room that a module stands in."""
    return max((room for room in ROOMS if f"{module}.".startswith(f"{room}.")), key=len)


@cache
def imports_of(module: str, source: str) -> list[str]:
    """Return the modules that a module imports, wherever in it, for types as well."""
    package = module.split(".")
    if MODULES.get(module, Path()).name != "__init__.py":
        package = package[:-1]
    found = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.ImportFrom) or not node.level:
            continue
        base = package[: len(package) - node.level + 1]
        target = ".".join([*base, *([node.module] if node.module else [])])
        for name in node.names:
            inner = f"{target}.{name.name}"
            found.append(inner if inner in MODULES else target)
    return found


def climbing(module: str, source: str) -> list[str]:
    """Return the imports of a module that climb back up."""
    here = ROOMS.index(room_of(module))
    return [name for name in imports_of(module, source) if ROOMS.index(room_of(name)) > here]


def past_the_door(module: str, source: str) -> list[str]:
    """Return the imports of a module that go past the ``__init__`` of another room."""
    return [
        name
        for name in imports_of(module, source)
        if room_of(name) in DOORS and room_of(name) not in (name, room_of(module))
    ]


@pytest.mark.parametrize("module", MODULES)
def test_rooms_are_entered_by_their_door(module: str) -> None:
    names = past_the_door(module, MODULES[module].read_text(encoding="utf-8"))
    assert names == []


@pytest.mark.parametrize("module", MODULES)
def test_no_import_climbs_back_up(module: str) -> None:
    assert climbing(module, MODULES[module].read_text(encoding="utf-8")) == []


def test_no_imports_go_in_a_circle() -> None:
    graph = {
        module: set(imports_of(module, path.read_text(encoding="utf-8"))) - {module}
        for module, path in MODULES.items()
    }
    # a package is entered by every module in it
    graph = {module: {n for n in names if n in graph} for module, names in graph.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


def test_an_arrow_back_up_is_seen() -> None:
    assert climbing("core.braid.lattice", "from ..making.swatch import Swatch") == [
        "core.making.swatch"
    ]
    assert climbing("convert.fit.tile", "def f():\n    from ..judge import lost") == [
        "convert.judge.lost"
    ]
    assert climbing("convert.judge.lost", "from ..fit.tile import Tile") == []
    assert past_the_door("core.making.where", "from ..braid.braid import Braid") == [
        "core.braid.braid"
    ]
    assert past_the_door("core.making.where", "from ..braid import Braid") == []
    assert past_the_door("core.braid.raster", "from .braid import Braid") == []
