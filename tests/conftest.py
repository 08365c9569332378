"""Settings for all tests, and the browser that they share."""

from __future__ import annotations

import gc
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
    from xdist.remote import Producer
    from xdist.scheduler import LoadFileScheduling

# a shared machine is now and then slow; slowness is no failure of what is tested
settings.register_profile("steady", deadline=None)
settings.load_profile("steady")


def pytest_configure(config: pytest.Config) -> None:
    """Give workers and commands one thread each, and compiled modules to share.

    Modules are shared where Python is to keep none and has none. A folder of their own hides what
    an installer compiled: to compile all libraries anew takes 8 s of each worker.
    """
    # there is a worker for every core: threads of matrix products would only wait for each other
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    lacking = sys.dont_write_bytecode and not all(map(_compiled, ("himotif.core.bead", "numpy")))
    if lacking and not hasattr(config, "workerinput"):
        folder = tempfile.TemporaryDirectory(prefix="himotif-compiled-")
        config.add_cleanup(folder.cleanup)
        os.environ["PYTHONPYCACHEPREFIX"] = folder.name
        os.environ.pop("PYTHONDONTWRITEBYTECODE", None)


FORKING = ("test_write", "test_nothing_lost")
"""Files that fork hundreds of times, which is cheap as long as a worker holds little."""

IN_BROWSER = ("test_page_browser", "test_sheet_html")
"""Files for one worker: to start a browser takes 2 s of the processor."""

LONGEST = (
    *IN_BROWSER,
    "test_page",
    "test_sheet",
    "test_conversion",
    "test_cli",
    "test_distortion_report",
    "test_flat_colours",
    "test_ground",
    "test_text",
    "test_all_round",
    "test_distortion",
    "test_advice_holds",
    "test_motif",
)
"""The files that take 6 s of the processor and more."""


def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadFileScheduling | None:
    """Give the files that need a browser to one worker, as if they were one file."""
    if config.getoption("dist") != "loadfile":
        return None
    from xdist.scheduler import LoadFileScheduling

    class Files(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            file: str = super()._split_scope(nodeid)
            return IN_BROWSER[0] if Path(file).stem in IN_BROWSER else file

    return Files(config, log)


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the longest files, so that no worker is left alone with one at the end."""
    rank = {name: place for place, name in enumerate((*FORKING, *LONGEST))}
    items.sort(key=lambda item: rank.get(item.path.stem, len(rank)))


def pytest_collection_finish() -> None:
    """Look for cycles in nothing that was made until now: it stays to the end."""
    gc.freeze()


def _compiled(module: str) -> bool:
    """Whether a module lies there compiled already."""
    found = find_spec(module)
    return found is not None and found.cached is not None and Path(found.cached).exists()


@pytest.fixture
def blank_views() -> Iterator[None]:
    """Views of the braid are blank; to be used where nothing but their size is looked at."""
    from drawn import blank_views

    with blank_views():
        yield


@pytest.fixture(scope="module")
def plain_pictures() -> Iterator[None]:
    """PNG files of a folder are four grey pixels; to be used where none of them is looked at."""
    from drawn import plain_pictures

    with plain_pictures():
        yield


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for all tests; each opens a window of its own in it."""
    from page_server import browser

    with browser() as running:
        yield running
