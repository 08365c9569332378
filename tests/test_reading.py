"""The reader of the benchmark: it must read what can be read, and nothing else."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from benchmarks.reading import (
    TYPEFACE,
    blot,
    candidates,
    capitals,
    flower,
    lie,
    read,
    shuffled,
    strung,
    unrolled,
)
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from PIL import Image, ImageChops

LETTERS = "EKS"
"""Upright, slanting and round; not B: a full frame is most like a B."""


@pytest.mark.parametrize("strands", [8, 12, 16, 24])
@pytest.mark.parametrize("lay", ["S", "Z"])
def test_the_reader_finds_the_beads_where_the_program_puts_them(strands: int, lay: str) -> None:
    lattice = Lattice.computed(Braid(strands, lay), bead_size("8/0"))  # type: ignore[arg-type]
    plain = {
        "braid": {"strands": strands, "lay": lay, "turn": "usual"},
        "lattice": {
            "radius_mm": lattice.radius_mm,
            "rise_mm": lattice.rise_mm,
            "drift_deg": lattice.drift_deg,
        },
        "bead": {"diameter_mm": 3.0},
    }
    found, beads = lie(plain, 200), np.arange(200)
    away = (found.x_mm - lattice.x_mm(beads)) / found.round_mm
    away -= away[0]
    np.testing.assert_allclose(away, np.round(away), atol=1e-9)
    up = found.z_mm - lattice.height_mm(beads)
    np.testing.assert_allclose(up, up[0], atol=1e-9)


@pytest.mark.parametrize("letter", LETTERS)
def test_a_large_capital_is_read_and_neither_its_frame_nor_its_beads_in_disorder(
    letter: str,
) -> None:
    among = candidates(capitals, Path(TYPEFACE))
    large = strung(capitals(Path(TYPEFACE))[letter], 24, 0.6, 0.5)
    assert read(large, letter, among).right
    assert not read({**large, "beads": [0] * len(large["beads"])}, letter, among).right
    assert not read(blot(large), letter, among).right
    assert not read(shuffled(large, 3), letter, among).right


def test_a_motif_too_far_round_is_not_read() -> None:
    among = candidates(capitals, Path(TYPEFACE))
    wide = strung(capitals(Path(TYPEFACE))["E"], 24, 0.8, 0.5)
    found = read(wide, "E", among)
    assert found.read_as == "E"
    assert found.round > 0.7
    assert not found.right


def test_a_motif_is_unrolled_whole_wherever_it_lies() -> None:
    sketch = flower()
    drawn = ImageChops.difference(sketch, Image.new("RGB", sketch.size, "white")).getbbox()
    plain = strung(sketch.crop(drawn), 16, 0.5, 0.5)
    motif = unrolled(plain)
    assert motif is not None
    assert not motif.pixels[:, [0, -1]].any()
    assert 0.3 < motif.round < 0.5
