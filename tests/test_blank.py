"""A blank of the braid's cells, filled in with a paint program's bucket, gives the same beads."""

from __future__ import annotations

import io
import itertools
import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from click.testing import CliRunner
from himotif.convert.cli import main
from himotif.convert.fit.all_round import compose_all_round
from himotif.convert.options import Order
from himotif.convert.read import read_picture
from himotif.convert.write.outputs import blank_file
from himotif.core.bead import bead_size
from himotif.core.braid import FRONT_DEG, Braid, Lattice
from himotif.core.show.blank import blank_page, blank_rounds
from himotif.palette import parse_palette
from PIL import Image, ImageDraw

BEADS = parse_palette(
    b"code,name,colour\nA,white,#ffffff\nN,navy,#1c2947\nR,reed,#5e7b40\nC,rust,#bf5030\n"
    b"T,tide,#7fa8b8\nM,mist,#c4c4cc\n",
    "beads.csv",
)
ROUNDS = 60
SVG = "http://www.w3.org/2000/svg"


def filled(lattice, colours):
    """The blank with cells filled in; bead 0 of the period in its middle."""
    image = Image.open(io.BytesIO(blank_file(lattice, ".png"))).convert("RGB")
    wide, high = lattice.circumference_mm, blank_rounds(lattice) * lattice.rise_mm
    size = np.array([image.width, image.height])
    parts = np.concatenate([part * lattice.cell_mm for part in (0, 0.3, 0.6, 0.8)])
    for bead, colour in enumerate(colours):
        step, side = divmod(bead, 2)
        right = float(lattice.chart_x_mm(lattice.step_deg * step + 180.0 * side, 0.0))
        for turn, times in itertools.product((-1, 0, 1), repeat=2):
            # a cell cut by an edge is filled on both sides of it
            middle = (
                wide / 2 + right + turn * wide,
                high / 2 - step * lattice.step_mm + times * high,
            )
            px = (middle + parts * (1, -1)) / (wide, high) * size
            px = px[((px > 1.5) & (px < size - 2.5)).all(axis=1)]
            if len(px):
                at = px[np.abs(px - px.mean(axis=0)).sum(axis=1).argmin()].astype(int).tolist()
                ImageDraw.floodfill(image, tuple(at), colour, thresh=40)
    out = io.BytesIO()
    image.save(out, "PNG")
    return out.getvalue()


def filled_svg(lattice, colours):
    """The same as a drawing: every part of a cell gets its fill, found by where its middle lies."""
    wide, high = lattice.circumference_mm, blank_rounds(lattice) * lattice.rise_mm
    step, side = np.divmod(np.arange(len(colours)), 2)
    right = lattice.chart_x_mm(lattice.step_deg * step + 180.0 * side, 0.0)
    root = ElementTree.fromstring(blank_file(lattice, ".svg"))
    ElementTree.register_namespace("", SVG)
    for part in root.iter(f"{{{SVG}}}polygon"):
        corners = np.array([point.split(",") for point in part.attrib["points"].split()], float)
        x, y = corners.mean(axis=0) - (wide / 2, high / 2)
        away = (right - x) / wide, (lattice.step_mm * step + y) / high
        apart = np.hypot(
            *((side - np.rint(side)) * size for side, size in zip(away, (wide, high), strict=True))
        )
        assert apart.min() < 0.01
        part.attrib["fill"] = "#{:02x}{:02x}{:02x}".format(*colours[apart.argmin()])
    return ElementTree.tostring(root)


@pytest.mark.parametrize(
    ("strands", "lay", "fill"),
    [(8, "S", filled), (12, "Z", filled), (8, "Z", filled_svg), (24, "S", filled_svg)],
)
def test_a_filled_blank_gives_the_same_bead_for_each_cell(strands, lay, fill):
    lattice = Lattice.computed(Braid(strands, lay), bead_size("8/0"))
    period = blank_rounds(lattice) * lattice.braid.beads_per_round
    rng = np.random.default_rng(strands)
    wanted = rng.integers(0, len(BEADS) - 1, period)  # mist is the colour of the lines
    data = fill(lattice, [tuple(BEADS.rgb[bead].tolist()) for bead in wanted])
    order = Order(
        strands=strands, lay=lay, all_round=True, width_mm=round(lattice.circumference_mm, 1)
    )
    made = compose_all_round(order, read_picture(data), BEADS, lattice, ROUNDS)
    assert len(made.findings) == 1
    assert len(made.motif.whole.colours.linear) == len(BEADS) - 1
    assert made.findings[0].data["beads"] == period
    assert made.findings[0].data["stretch"] == pytest.approx(1.0, abs=0.005)
    beads = made.fitted.beads(ROUNDS, made.motif.choice.ground)
    # the middle of the blank lies on the bead nearest to the middle of the front
    crossings = np.arange(len(beads))
    middle = (ROUNDS * lattice.rise_mm - lattice.step_mm) / 2
    apart = np.hypot(lattice.x_mm(crossings, FRONT_DEG), lattice.height_mm(crossings) - middle)
    seed = int(apart.argmin())
    x = lattice.x_mm(crossings, FRONT_DEG)
    for bead, colour in enumerate(wanted):
        step, side = divmod(bead, 2)
        crossing = 2 * (seed // 2 + step) + ((seed % 2) ^ side)
        assert beads[crossing] == colour, (bead, x[crossing])


def test_a_blank_holds_every_cell_once_and_no_other_file(tmp_path):
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    page = blank_page(lattice)
    assert page.width_mm == pytest.approx(lattice.circumference_mm)
    assert blank_file(lattice, ".svg").startswith(b"<svg")
    run = CliRunner().invoke
    file = tmp_path / "blank.png"
    done = run(main, ["braids", "--blank", str(file), "--strands", "16"])
    assert done.exit_code == 0, done.output
    assert "--all-round --width 27.4mm --strands 16" in done.output
    assert Image.open(file).width > 150
    assert run(main, ["braids", "--blank", str(file)]).exit_code != 0
    assert run(main, ["braids", "--blank", str(tmp_path / "x.bmp")]).exit_code == 2
    assert run(main, ["braids", "--strands", "8"]).exit_code == 2
