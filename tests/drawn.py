"""Pictures that nothing is asked of, drawn at once: most of what papers take to make."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any
from unittest.mock import patch

import numpy as np
from himotif.core.arrays import Bytes
from himotif.core.show.preview import ViewFrame


@contextmanager
def blank_views() -> Iterator[None]:
    """Leave every view of a braid blank; it is as large as it would be."""

    def blank(_scene: Any, frame: ViewFrame, fine: int, *_: Any) -> Bytes:
        return np.full((frame.height_px // fine, frame.width_px // fine, 3), 200, dtype=np.uint8)

    with patch("himotif.core.show.preview._shade", blank):
        yield


@contextmanager
def plain_pictures() -> Iterator[None]:
    """Draw four grey pixels for every PNG file of a folder, and blank views on its papers."""
    grey = np.full((2, 2, 3), 128, dtype=np.uint8)
    with (
        blank_views(),
        patch("himotif.core.drawing.png.to_png", lambda *_: grey),
        patch("himotif.core.paper.preview_sheet.four_sides", lambda *_: grey),
        patch("himotif.core.paper.ring_sheet.ring_picture", lambda *_: grey),
    ):
        yield
