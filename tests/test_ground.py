"""The plain ground of a sketch becomes the background bead, whichever that is."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from himotif.convert.fit.inks import bead_labels
from himotif.convert.fit.motif import Motif, find_motif
from himotif.convert.job import make
from himotif.convert.options import Order
from himotif.convert.read.picture import Picture, read_picture
from himotif.convert.read.sketch import read_sketch
from himotif.palette.files import read_palette
from PIL import Image, ImageDraw
from scipy import ndimage

FIXTURES = Path(__file__).parent.parent / "fixtures"
sys.path.insert(0, str(FIXTURES))
import draw_motifs  # noqa: E402

SALTMARSH = read_palette(FIXTURES / "palettes" / "saltmarsh.csv")
PAPER, INK, RED = (244, 239, 226), (28, 43, 79), (192, 78, 44)
OPEN = [
    "reed",
    "tide",
    "sea_aster",
    "curlew",
    "letter_f",
    "initials",
    "sea_pink",
    "heart",
    "leaf",
    "paw",
    "ripples",
    "boat",
]
"""Flat sketches on a ground that is nowhere shut in, but for the gaps between the petals of
sea_pink."""

CUT_OUT = [
    ("initials", 8),
    ("heron_line", 8),
    ("boat", 8),
    ("crescent", 16),
    ("letter_k", 16),
    ("heron", 24),
]
"""Pen lines, where what is left of the ground in soft edges was taken for an ink; ground that is
painted over a motif; straight edges. On more strands it counts which half of an edge is drawn: of
a light motif on a dark ground, and where a soft edge is tinged towards a third colour."""


def read(image: Image.Image) -> Picture:
    out = io.BytesIO()
    image.save(out, "PNG")
    return read_picture(out.getvalue(), "sketch.png")


def motif_of(picture: Picture, background: str) -> Motif:
    return find_motif(read_sketch(picture), picture, SALTMARSH, Order(background=background))


def shut_in(mask: np.ndarray) -> np.ndarray:
    """What of a mask cannot be reached from the border."""
    pieces, _ = ndimage.label(np.pad(mask, 1, constant_values=True))
    return mask & (pieces != pieces[0, 0])[1:-1, 1:-1]


def used(pixels: np.ndarray, background: str) -> set[str]:
    """Codes of the beads that a picture becomes."""
    motif = motif_of(read(Image.fromarray(pixels.astype(np.uint8))), background)
    return {SALTMARSH.codes[bead] for bead in np.unique(bead_labels(motif.sketch, motif.choice))}


@pytest.mark.parametrize("name", OPEN)
def test_a_plain_ground_is_as_good_as_none(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    plain = draw_motifs.Sketch.__init__
    monkeypatch.setattr(
        draw_motifs.Sketch, "__init__", lambda self, wide, high, _: plain(self, wide, high, None)
    )
    on_nothing = read(draw_motifs.MOTIFS[name]())
    on_paper = read_picture(FIXTURES / "motifs" / f"{name}.png")
    found = [motif_of(one, "I") for one in (on_paper, on_nothing)]
    paper, nothing = (bead_labels(one.sketch, one.choice) for one in found)
    assert np.abs(np.subtract(found[0].frame, found[1].frame)).max() <= 2
    if paper.shape == nothing.shape:
        assert (paper != nothing).mean() < 0.015  # half a pixel of soft edge
    # what is shut in keeps its colour: of paper, and nothing else
    stays = ~np.isin(paper, np.unique(nothing))
    assert not (stays & ~shut_in(stays | (paper == found[0].choice.ground))).any()
    bare = shut_in(nothing == found[1].choice.ground)
    assert stays.mean() == pytest.approx(bare.mean(), abs=0.001)


def cut_out(name: str, monkeypatch: pytest.MonkeyPatch) -> Image.Image:
    """A sketch with the ground that reaches its border made transparent; what is shut in stays.

    Soft edges get the opacity and the colour that, laid over the ground, give the sketch again
    (the operator "over": Porter & Duff, "Compositing digital images", SIGGRAPH 1984), in stored
    values, as drawing programs mix them.
    """
    grounds: list[draw_motifs.Colour] = []
    plain, average = draw_motifs.Sketch.__init__, draw_motifs.Sketch.picture

    def start(self: draw_motifs.Sketch, wide: int, high: int, ground: draw_motifs.Colour) -> None:
        grounds.append(ground)
        plain(self, wide, high, ground)

    def picture(self: draw_motifs.Sketch) -> Image.Image:
        canvas = np.array(self.image)
        own = (canvas[..., :3] == grounds[-1]).all(axis=-1)
        canvas[own & ~shut_in(own)] = 0
        self.image = Image.fromarray(canvas)
        return average(self)

    with monkeypatch.context() as patch:
        patch.setattr(draw_motifs.Sketch, "__init__", start)
        patch.setattr(draw_motifs.Sketch, "picture", picture)
        drawn = np.asarray(draw_motifs.MOTIFS[name](), dtype=np.float64)
    paper = np.asarray(Image.open(FIXTURES / "motifs" / f"{name}.png").convert("RGB"), np.float64)
    ground = np.array(grounds[-1], np.float64)
    line, cover = drawn[..., :3] - ground, drawn[..., 3]
    part = ((paper - ground) * line).sum(axis=-1) / np.maximum((line**2).sum(axis=-1), 1)
    alpha = np.where(cover % 255 == 0, cover, np.rint(255 * np.clip(part, 1 / 255, 1)))
    share = alpha[..., None] / 255
    colour = np.rint(np.clip(ground + (paper - ground) / np.maximum(share, 1 / 255), 0, 255))
    assert np.abs(share * colour + (1 - share) * ground - paper).max() < 5
    return Image.fromarray(np.dstack([colour, alpha]).astype(np.uint8))


@pytest.mark.parametrize(("name", "strands"), CUT_OUT)
def test_the_beads_are_those_of_a_transparent_ground(
    name: str, strands: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    order = Order(background="I", quick=True, strands=strands)
    if strands == 8:
        order = replace(order, width_mm=10.0, stretch=1.3)
    on_paper = read_picture(FIXTURES / "motifs" / f"{name}.png")
    on_nothing = read(cut_out(name, monkeypatch))
    paper, nothing = (make(order, one, SALTMARSH).design.beads for one in (on_paper, on_nothing))
    assert paper.tolist() == nothing.tolist()


@pytest.mark.parametrize("wide", [0.5, 0.8, 2.0])
def test_a_hairline_on_nothing_is_drawn_as_on_paper(wide: float) -> None:
    canvas = Image.new("L", (1600, 1600), 0)
    pen = ImageDraw.Draw(canvas)
    pen.ellipse((480, 480, 880, 880), fill=255)
    pen.line((160, 1202, 1440, 1320), fill=255, width=round(8 * wide))
    share = np.asarray(canvas.resize((200, 200), Image.Resampling.BOX))
    part = share[..., None] / 255
    paper = read(Image.fromarray(np.rint(part * INK + (1 - part) * PAPER).astype(np.uint8)))
    ink = np.broadcast_to(np.array(INK, np.uint8), (200, 200, 3))
    nothing = read(Image.fromarray(np.dstack([ink, share])))
    shade = share.copy()
    shade[5:40, 130:190] = 90  # an area as faint as the line is none
    shadow = read(Image.fromarray(np.dstack([ink, shade])))
    frames = [motif_of(one, "I").frame for one in (paper, nothing, shadow)]
    # the ends of the line, half a pixel wide, may be a little shorter
    assert np.abs(np.subtract(frames[0], frames[1])).max() <= 4
    assert frames[2] == frames[1]


def test_the_soft_tip_of_a_shape_is_no_hairline() -> None:
    pixels = np.zeros((60, 60, 4), np.uint8)
    pixels[..., :3] = INK
    pixels[20:40, 20:40, 3] = 255
    pixels[19, 27:31, 3] = 100
    assert motif_of(read(Image.fromarray(pixels)), "I").frame == (20, 20, 40, 40)


def test_white_inside_a_motif_stays() -> None:
    pixels = np.full((200, 160, 3), PAPER)
    pixels[30:170, 30:130] = RED
    pixels[30:50, 30:50] = PAPER
    pixels[60:120, 60:100] = PAPER
    assert used(pixels, "I") == {"I", "M", "A"}
    pixels[80:100, 90:160] = PAPER  # the ground reaches in
    assert used(pixels, "I") == {"I", "M"}


def test_stripes_to_the_edge_leave_no_rings_of_paper() -> None:
    pixels = np.full((200, 160, 3), PAPER)
    pixels[30:70] = pixels[110:150] = INK
    assert used(pixels, "I") == {"I", "B"}


def test_a_motif_that_touches_its_frame_is_no_ground() -> None:
    halves = np.full((160, 200, 3), RED)
    halves[:, 100:] = INK
    assert used(halves, "I") == {"B", "M"}
    # with paper beside it the paper is the ground, however little of the border it has
    pixels = np.full((160, 200, 3), INK)
    pixels[4:78, 60:] = pixels[82:156, 60:] = PAPER
    pixels[70:100, 180:] = PAPER
    assert used(pixels, "I") == {"B", "I"}
    # nor is it where the rest is transparent
    alpha = np.full((160, 200), 255)
    alpha[(pixels == PAPER).all(axis=-1)] = 0
    assert used(np.dstack([pixels, alpha]), "I") == {"B", "I"}
