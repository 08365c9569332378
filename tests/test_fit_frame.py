"""A sketch with margins is the sketch without them."""

import io

import numpy as np
import pytest
from himotif.convert.fit.frame import Frame, cut_picture, motif_frame
from himotif.convert.fit.size import Wanted, fit_motif, flat_sketch
from himotif.convert.read.picture import read_picture
from himotif.convert.read.sketch import read_sketch
from himotif.core.bead import bead_size
from himotif.core.braid.braid import Braid
from himotif.core.braid.lattice import Lattice
from PIL import Image
from test_fit_features import flower

COLOURS = np.array([(255, 255, 255), (240, 200, 60), (190, 24, 60)], dtype=np.uint8)


def picture(labels):
    data = io.BytesIO()
    Image.fromarray(COLOURS[labels]).save(data, "PNG")
    return read_picture(data.getvalue(), "flower.png")


def labels_of(sketch):
    """The lightest colour is the ground."""
    return sketch.source.planes[..., 4:].argmax(axis=-1), int(sketch.colours.lab[:, 0].argmax())


def test_a_cut_picture_knows_where_it_was():
    whole = picture(np.pad(flower(6), ((30, 80), (10, 50))))
    cut, (left, top) = cut_picture(whole, Frame(20, 40, 120, 90), whole.scale)
    assert cut.size_px == (100, 50)
    assert (left, top) == (20, 40)
    assert np.array_equal(cut.linear, whole.linear[40:90, 20:120])


def test_a_sketch_with_margins_gives_the_same_beads():
    lattice = Lattice.computed(Braid(8), bead_size("8/0"))
    tight = flower(6)
    rows, columns = np.flatnonzero(tight.any(axis=1)), np.flatnonzero(tight.any(axis=0))
    tight = tight[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
    found = []
    for margins in (((0, 0), (0, 0)), ((60, 60), (60, 60)), ((5, 250), (130, 40))):
        whole = picture(np.pad(tight, margins))
        sketch = read_sketch(whole)
        frame = motif_frame(*labels_of(sketch))
        cut, _ = cut_picture(whole, frame, sketch.source.scale)
        labels, ground = labels_of(read_sketch(cut))
        fitted = fit_motif(flat_sketch(labels, ground, lattice), lattice, Wanted())
        shown = read_sketch(cut).colours.lab[fitted.colours].round(1)
        found.append((fitted.size.stretch, fitted.size.turn_deg, shown.tolist()))
        # a frame is found to a pixel of the labels, which may be two of the picture
        assert frame.size_px[0] / sketch.source.scale == pytest.approx(tight.shape[1], abs=2)
    assert found[0] == found[1] == found[2]
