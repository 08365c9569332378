"""Settings for all tests, and the browser that they share."""

from __future__ import annotations

import os
import sys
import tempfile
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from hypothesis import settings

if TYPE_CHECKING:
    from playwright.sync_api import Browser

# a shared machine is now and then slow; slowness is no failure of what is tested
settings.register_profile("steady", deadline=None)
settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Let workers and commands share compiled modules where Python is to keep none and has none.

    A folder of their own hides what an installer compiled: to compile all libraries anew takes
    8 s of each worker.
    """
    lacking = sys.dont_write_bytecode and not all(map(_compiled, ("himotif.core.bead", "numpy")))
    if lacking and not hasattr(config, "workerinput"):
        folder = tempfile.TemporaryDirectory(prefix="himotif-compiled-")
        config.add_cleanup(folder.cleanup)
        os.environ["PYTHONPYCACHEPREFIX"] = folder.name
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


LONGEST = ("test_page_browser", "test_page", "test_conversion", "test_cli", "test_broken_input")
"""The files that take longest: 115 to 16 s each, of 490 s in all."""


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, so that no worker is left alone with one at the end."""
    rank = {name: place for place, name in enumerate(LONGEST)}
    items.sort(key=lambda item: rank.get(item.path.stem, len(rank)))


def _compiled(module: str) -> bool:
    """Whether a module lies there compiled already."""
    found = find_spec(module)
    return found is not None and found.cached is not None and Path(found.cached).exists()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for all tests; each opens a window of its own in it."""
    from page_server import browser

    with browser() as running:
        yield running
