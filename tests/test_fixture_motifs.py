"""The demo motifs and palettes are what the notes beside them say."""

from __future__ import annotations

import importlib.util
from pathlib import Path
from types import ModuleType
from typing import Literal

import numpy as np
import pytest
from himotif.convert.fit.motif import find_motif
from himotif.convert.fit.size import Wanted, fit_motif
from himotif.convert.options import Order
from himotif.convert.read import read_sketch
from himotif.convert.read.picture import read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from himotif.palette.files import read_palette
from PIL import Image

FIXTURES = Path(__file__).parents[1] / "fixtures"
MOTIFS = sorted((FIXTURES / "motifs").glob("*.png"))


@pytest.fixture(scope="module")
def drawing() -> ModuleType:
    spec = importlib.util.spec_from_file_location("draw_motifs", FIXTURES / "draw_motifs.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_every_motif_has_its_drawing(drawing: ModuleType) -> None:
    assert {path.stem for path in MOTIFS} == set(drawing.MOTIFS)


@pytest.mark.parametrize("name", ["letter_f", "crescent", "crab", "initials"])
def test_drawing_again_gives_the_stored_picture(drawing: ModuleType, name: str) -> None:
    stored = np.asarray(Image.open(FIXTURES / "motifs" / f"{name}.png"), dtype=int)
    again = np.asarray(drawing.MOTIFS[name](), dtype=int)
    assert stored.shape == again.shape
    # another Pillow may draw an edge pixel a little differently
    assert (np.abs(stored - again) > 2).mean() < 1e-3


@pytest.mark.parametrize("path", MOTIFS, ids=lambda path: path.stem)
def test_motifs_are_of_a_handy_size(path: Path) -> None:
    with Image.open(path) as picture:
        assert min(picture.size) >= 200
        assert max(picture.size) <= 900


FAIL = {"heron_line", "dusk", "moonlit_pond"}
"""Kept because they do not read on 8 strands; the notes beside them name them."""

PALETTES = ("saltmarsh.csv", "dusk.csv", "first_light.gpl")
WAYS = [
    (path, PALETTES[place % 3], lay)
    for place, path in enumerate(path for path in MOTIFS if path.stem not in FAIL)
    for lay in (("S", "Z") if path.stem in ("crab", "ripples") else ("SZ"[place % 2],))
]


@pytest.mark.parametrize(
    ("path", "palette", "lay"), WAYS, ids=lambda one: getattr(one, "stem", one)
)
def test_every_other_motif_reads_on_eight_strands(
    path: Path, palette: str, lay: Literal["S", "Z"]
) -> None:
    picture = read_picture(path)
    beads = read_palette(FIXTURES / "palettes" / palette)
    motif = find_motif(read_sketch(picture), picture, beads, Order())
    size = bead_size("11/0" if palette == "dusk.csv" else "8/0")
    lattice = Lattice.computed(Braid(8, lay=lay), size)
    assert fit_motif(motif.flat_sketch(lattice), lattice, Wanted()).legibility.reads


def test_letter_f_has_its_proportions() -> None:
    navy = np.asarray(Image.open(FIXTURES / "motifs" / "letter_f.png").convert("L")) < 128
    high, wide = navy.shape
    assert high / wide == pytest.approx(2.7)
    assert navy[-1].sum() == wide / 3  # the stem
    assert navy[:, -1].sum() == wide / 3  # the upper bar
    middle = navy[high // 4 :, wide // 2]
    assert middle.sum() == wide / 3
    assert navy[:, 0].all()  # tight to the frame, stem on the left
    assert not (navy == navy[:, ::-1]).all()


def test_crab_lies_on_a_transparent_ground() -> None:
    alpha = np.asarray(Image.open(FIXTURES / "motifs" / "crab.png"))[..., 3]
    assert alpha[0, 0] == 0
    assert alpha.max() == 255


def test_wave_row_joins_left_to_right() -> None:
    row = np.asarray(Image.open(FIXTURES / "motifs" / "tide.png"), dtype=int)
    seam = np.abs(row[:, 0] - row[:, -1]).mean()
    inside = np.abs(np.diff(row, axis=1)).mean(axis=(0, 2))
    assert seam <= inside.max()


@pytest.mark.parametrize(("name", "beads"), [("saltmarsh", 16), ("dusk", 12)])
def test_palettes_hold_what_the_notes_say(name: str, beads: int) -> None:
    palette = read_palette(FIXTURES / "palettes" / f"{name}.csv")
    assert len(palette.beads) == beads
    assert len({bead.rgb for bead in palette.beads}) == beads
    for bead in palette.beads:
        assert bead.stock is not None
        # one packet's weight and price, as the notes say
        assert bead.grams == {"8/0": 10, "11/0": 5, None: 10}[bead.size]
        assert bead.price is not None
        assert bead.price > 0


def test_gpl_palette_is_read() -> None:
    assert len(read_palette(FIXTURES / "palettes" / "first_light.gpl").beads) == 10
