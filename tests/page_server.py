"""A page being served while tests run, and a browser to look at it with."""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import threading
from pathlib import Path

import pytest
from himotif.convert.page.server import PageServer

BROWSERS = ("chromium", "chromium-browser", "google-chrome")
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking", "--no-first-run"]
# no process ahead of need, and few for all tabs: a process costs more than a tab does
ARGUMENTS += ["--disable-features=SpareRendererForSitePerProcess", "--renderer-process-limit=2"]


@contextlib.contextmanager
def served(works=None):
    """A page, served from a thread; its works lie in a folder of their own."""
    with tempfile.TemporaryDirectory() as folder:
        page = PageServer(0, works or Path(folder))
        thread = threading.Thread(target=page.serve)
        thread.start()
        try:
            yield page
        finally:
            page.stop()
            thread.join()
            page.close()


@contextlib.contextmanager
def browser():
    """A browser; without one the tests fail where it is required and skip elsewhere."""
    found = next(filter(None, map(shutil.which, BROWSERS)), None)
    if found is None:
        words = f"NO BROWSER: none of {', '.join(BROWSERS)} is installed, the page goes untested"
        if os.environ.get("HIMOTIF_BROWSER") == "required":
            pytest.fail(words)
        pytest.skip(words)
    playwright = pytest.importorskip("playwright.sync_api")
    with playwright.sync_playwright() as driver:
        running = driver.chromium.launch(executable_path=found, args=ARGUMENTS)
        yield running
        running.close()
