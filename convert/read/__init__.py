"""From a picture file to flat colours or shades."""

from __future__ import annotations

from .filters import gaussian_transfer, run_filter
from .flat_colours import nearest_label
from .lighting import is_paper, label_step
from .picture import MOST_PX, Picture, read_picture
from .sheet import read_drawing
from .sketch import (
    Sketch,
    cell_means,
    ink_labels,
    match_linear,
    read_sketch,
    redrawn,
    relabelled,
    without_ground,
)
from .source import SAMPLES_ACROSS, Source, coloured_planes

__all__ = [
    "MOST_PX",
    "SAMPLES_ACROSS",
    "Picture",
    "Sketch",
    "Source",
    "cell_means",
    "coloured_planes",
    "gaussian_transfer",
    "ink_labels",
    "is_paper",
    "label_step",
    "match_linear",
    "nearest_label",
    "read_drawing",
    "read_picture",
    "read_sketch",
    "redrawn",
    "relabelled",
    "run_filter",
    "without_ground",
]
