"""The letter F, converted, strung, worked by a second pair of hands, and looked at.

Neither the program's lattice nor its braid is asked where a bead lies: the slots are worked here,
and the azimuths come from the drift of the pairs (a quarter turn shared among the axes).
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from converting import converted
from himotif.convert.read.picture import read_picture
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid, Lay
from himotif.core.braid.lattice import Lattice
from himotif.core.design.loads import stringing
from himotif.palette.files import read_palette
from PIL import Image
from test_braid_by_hand import hands

FIXTURES = Path(__file__).parents[1] / "fixtures"
LETTER = FIXTURES / "motifs" / "letter_f.png"


def worked_by_hand(lists: list[np.ndarray], strands: int, lay: Lay) -> list[tuple[int, int, int]]:
    """(axis step, side, bead) of every crossing, from the strands' lists and the slots alone."""
    starts = list(Braid(strands, lay).start.starts)
    # strand 1 starts in slot 32, 2 in slot 1, and so on clockwise
    number = {slot: i for i, slot in enumerate(sorted({s for p in starts for s in p}, key=_turn))}
    dropped = [0] * strands
    seen = []
    crossings = sum(len(beads) for beads in lists)
    for crossing, (cord, _) in enumerate(hands(32, starts, lay, "usual", crossings)):
        strand = number[cord]
        seen.append((crossing // 2, crossing % 2, int(lists[strand][dropped[strand]])))
        dropped[strand] += 1
    return seen


def _turn(slot: int) -> int:
    return slot % 32


@pytest.mark.parametrize("lay", ["S", "Z"])
@pytest.mark.parametrize("strands", [8, 12, 16])
def test_the_letter_reads_as_f(strands: int, lay: Lay) -> None:
    palette = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
    bead = bead_size("8/0")
    lattice = Lattice.computed(Braid(strands, lay), bead)
    design = converted(read_picture(LETTER), palette, lattice, 26, repeat="once").design
    assert design.picture is not None

    step, side, colour = np.array(worked_by_hand(stringing(design), strands, lay)).T
    axes = strands // 4
    lay_sign = 1 if lay == "S" else -1
    azimuth = lay_sign * (-180 + 90 / axes) / axes * step + 180 * side
    height = step / axes * lattice.rise_mm

    # clockwise from above runs to the left seen from outside
    middle_deg, middle_mm = design.picture.centres[0]
    turned = (middle_deg - azimuth + 180) % 360 - 180
    right, up = np.deg2rad(turned) * lattice.radius_mm, height - middle_mm
    letter = np.asarray(Image.open(LETTER).convert("L")) < 128
    # the motif's own frame lies on the braid, as tall as it was found to read
    assert design.picture.frame_px is not None
    first, top, last, bottom = design.picture.frame_px
    letter = letter[top:bottom, first:last]
    up = up / design.picture.stretch
    high, wide = letter.shape
    tilt = np.deg2rad(design.picture.rotate_deg)
    across = (np.cos(tilt) * right - np.sin(tilt) * up) * design.picture.px_per_mm + wide / 2
    down = (-np.sin(tilt) * right - np.cos(tilt) * up) * design.picture.px_per_mm + high / 2
    column, row = np.floor(across).astype(int), np.floor(down).astype(int)
    framed = (column >= 0) & (column < wide) & (row >= 0) & (row < high)
    dark = palette.lab[colour, 0] < 50

    def agreement(drawing: np.ndarray) -> float:
        return float((drawing[row[framed], column[framed]] == dark[framed]).mean())

    # a bead whose centre lies near an edge may go either way; a wrong hand costs far more
    assert agreement(letter) > 0.85
    for wrong in (letter[:, ::-1], letter[::-1], letter[::-1, ::-1]):
        # few beads blur the letter, but at least half of what tells the two apart must show
        assert agreement(letter) - agreement(wrong) > 0.5 * (letter != wrong).mean()
    # nothing dark beside the letter, bar beads that the frame cuts
    pitch_px = lattice.pitch_mm * design.picture.px_per_mm
    off = np.maximum(np.maximum(-across, across - wide), np.maximum(-down, down - high))
    assert not dark[off > pitch_px / 2].any()
    # it faces the worker
    assert abs((middle_deg - 180 + 180) % 360 - 180) < 60
