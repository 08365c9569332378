"""Every package and data file of the checkout is in the installed distribution."""

from __future__ import annotations

import importlib
import tomllib
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
CONFIG = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["tool"]["setuptools"]


def folders() -> list[Path]:
    return [
        path.parent.relative_to(ROOT)
        for room in ("core", "palette", "convert", "fixtures")
        for path in sorted((ROOT / room).rglob("__init__.py"))
    ]


def test_every_package_is_listed():
    found = {"himotif." + ".".join(folder.parts): str(folder) for folder in folders()}
    assert CONFIG["package-dir"] == found
    assert sorted(CONFIG["packages"]) == sorted(found)


@pytest.mark.parametrize("folder", folders(), ids=str)
def test_every_file_of_a_package_is_installed(folder):
    package = importlib.import_module("himotif." + ".".join(folder.parts))
    installed = Path(package.__file__).parent
    # the README's pictures belong to the checkout alone
    files = [
        path
        for path in (ROOT / folder).rglob("*")
        if path.is_file() and not {"__pycache__", "pictures"} & set(path.parts)
    ]
    assert files
    for path in files:
        assert (installed / path.relative_to(ROOT / folder)).is_file(), path
