"""Reading a picture."""

from __future__ import annotations

import hashlib
import io
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt

from ..core.errors import HimotifError
from ..palette.colour import srgb_to_linear


@dataclass(frozen=True, eq=False)
class Picture:
    """A picture in linear light."""

    name: str
    sha256: str
    size_px: tuple[int, int]
    linear: npt.NDArray[np.float32]
    alpha: npt.NDArray[np.float32]
    scale: float
    notes: tuple[str, ...] = ()


def read_picture(source: str | Path | bytes, name: str | None = None) -> Picture:
    """Read a picture."""
    from PIL import Image, ImageOps

    try:
        data = source if isinstance(source, bytes) else Path(source).read_bytes()
        image = ImageOps.exif_transpose(Image.open(io.BytesIO(data)))
        size = image.size
        image.thumbnail((1200, 1200))
        rgba = np.asarray(image.convert("RGBA"))
    except OSError as error:
        raise HimotifError(f"{name or source!r}: cannot be read as a picture ({error}).") from None
    return Picture(
        name or Path(str(source)).name,
        hashlib.sha256(data).hexdigest(),
        size,
        srgb_to_linear(rgba[..., :3]),
        rgba[..., 3].astype(np.float32) / 255,
        image.width / size[0],
    )
