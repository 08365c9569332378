"""The motif's own frame, and the parts, strokes and openings of a flat sketch."""

import numpy as np
import pytest
from himotif.convert.fit.features import count_things, find_features, reduced_labels
from himotif.convert.fit.frame import Frame, motif_frame
from himotif.convert.fit.turns import free_turns_deg
from PIL import Image, ImageDraw

GROUND, INK, OTHER, THIRD = 0, 1, 2, 3


def drawing(size, *shapes):
    """Labels with ellipses, rectangles or polygons drawn one over the other."""
    image = Image.new("L", size, GROUND)
    for kind, ink, where in shapes:
        getattr(ImageDraw.Draw(image), kind)(where, fill=ink)
    return np.asarray(image).astype(np.intp)


def flower(petals, turn=0.0, leaf=False):
    """Petals twice as long as wide round a centre a fifth of the flower across."""
    image = Image.new("L", (600, 600), GROUND)
    for number in range(petals):
        petal = Image.new("L", image.size, 0)
        ImageDraw.Draw(petal).ellipse((255, 70, 345, 250), fill=255)
        image.paste(OTHER, (0, 0), petal.rotate(turn + 360 / petals * number, center=(300, 300)))
    ImageDraw.Draw(image).ellipse((254, 254, 346, 346), fill=INK)
    if leaf:
        ImageDraw.Draw(image).ellipse((280, 540, 320, 590), fill=THIRD)
    return np.asarray(image).astype(np.intp)


def of_kind(features, *kinds):
    return [f for f in features if f.kind in kinds]


def test_the_frame_is_the_smallest_box_round_what_is_drawn():
    labels = np.zeros((40, 60), dtype=np.intp)
    labels[10:21, 5:31] = INK
    labels[30, 50] = OTHER
    assert motif_frame(labels, GROUND) == Frame(5, 10, 51, 31)
    assert motif_frame(labels, GROUND).cut(labels).shape == (21, 46)


def test_the_frame_of_nothing_is_the_whole_picture():
    assert motif_frame(np.zeros((4, 7), dtype=np.intp), GROUND) == Frame(0, 0, 7, 4)


@pytest.mark.parametrize("margins", [((0, 0), (0, 0)), ((50, 3), (0, 120))])
def test_margins_change_no_feature(margins):
    labels = flower(6)
    tight = motif_frame(labels, GROUND).cut(labels)
    cut, padded = (find_features(of, GROUND) for of in (tight, np.pad(tight, margins)))
    assert cut
    for one, other in zip(cut, padded, strict=True):
        assert (one.kind, one.ink, one.width, one.area, one.salience) == (
            other.kind,
            other.ink,
            other.width,
            other.area,
            other.salience,
        )
        assert np.array_equal(one.axis, other.axis)


def test_a_ring_is_one_stroke_round_one_opening():
    ring = drawing(
        (200, 200), ("ellipse", INK, (0, 0, 199, 199)), ("ellipse", 0, (40, 40, 159, 159))
    )
    stroke, hole = find_features(ring, GROUND)
    assert (stroke.kind, stroke.ink, hole.kind, hole.ink) == ("stroke", INK, "opening", GROUND)
    # the axis of a ring from 0.3 to 0.5 of its width runs at 0.4
    radius = np.hypot(*stroke.axis.T)
    assert radius.mean() == pytest.approx(0.4, abs=0.02)
    assert stroke.width == pytest.approx(0.2, rel=0.15)
    assert stroke.area == pytest.approx(np.pi * (0.5**2 - 0.3**2), rel=0.05)
    assert hole.area == pytest.approx(np.pi * 0.3**2, rel=0.05)
    assert stroke.salience == pytest.approx(0.5)
    assert hole.salience == pytest.approx(0.5)


def test_a_disc_is_a_part_without_openings():
    (disc,) = find_features(drawing((90, 90), ("ellipse", INK, (5, 5, 84, 84))), GROUND)
    assert disc.kind == "part"
    assert disc.salience == 1.0


def test_notches_of_an_e_are_openings():
    bars = [("rectangle", INK, (0, y, 99, y + 29)) for y in (0, 60, 120)]
    letter = drawing((100, 150), ("rectangle", INK, (0, 0, 34, 149)), *bars)
    features = find_features(letter, GROUND)
    notches = of_kind(features, "opening")
    assert len(of_kind(features, "stroke")) == 1
    assert len(notches) == 2
    assert all(f.axis[:, 0].mean() > 0 for f in notches)


def test_a_flower_has_its_petals_and_its_centre():
    features = find_features(flower(6), GROUND)
    petals = [f for f in features if f.ink == OTHER]
    (centre,) = (f for f in features if f.ink == INK)
    assert len(petals) == 6
    assert np.abs(centre.axis).max() < 0.05
    # by the root of its area a small part is not drowned by large ones
    assert centre.salience / petals[0].salience == pytest.approx(
        np.sqrt(centre.area / petals[0].area)
    )
    assert sum(f.salience for f in features) == pytest.approx(1.0)


def test_weights_of_an_axis_come_to_one():
    features = find_features(flower(5), GROUND)
    assert len(features) > 5
    for feature in features:
        assert feature.weight.sum() == pytest.approx(1.0)
        assert (feature.weight > 0).all()
        assert len(feature.weight) == len(feature.axis)


def test_a_blank_sketch_has_no_features():
    assert find_features(np.zeros((30, 30), dtype=np.intp), GROUND) == ()


def test_thin_lines_are_not_lost_when_labels_are_reduced():
    line = np.zeros((600, 600), dtype=np.intp)
    line[:, 300:304] = INK
    small = reduced_labels(line, GROUND, 120)
    assert small.shape == (120, 120)
    assert (small == INK).any(axis=1).all()


def test_turns_that_suit_a_flower_lie_within_half_a_period():
    turns = free_turns_deg(flower(6), GROUND)
    assert turns[0] == 0.0
    assert len(turns) == 6
    assert max(turns) - min(turns) < 60.0
    assert len(free_turns_deg(flower(5), GROUND)) == 7
    assert len(free_turns_deg(flower(6, leaf=True), GROUND)) == 6


@pytest.mark.parametrize(
    "labels",
    [
        drawing((200, 200), ("ellipse", INK, (0, 0, 199, 199))),
        drawing(
            (200, 200), ("rectangle", INK, (80, 0, 119, 199)), ("rectangle", INK, (0, 80, 199, 119))
        ),
        drawing((200, 100), ("polygon", INK, ((0, 99), (100, 0), (199, 99)))),
    ],
    ids=["disc", "cross", "triangle"],
)
def test_what_has_an_upright_of_its_own_or_none_is_not_turned(labels):
    assert free_turns_deg(labels, GROUND) == (0.0,)


def test_parts_of_one_colour_and_parts_that_nearly_touch_are_one_thing():
    disc, far = (10, 10, 110, 110), (180, 180, 280, 280)
    two = drawing((300, 300), ("ellipse", INK, disc), ("ellipse", OTHER, far))
    assert count_things(two, GROUND) == pytest.approx(2.0)
    alike = drawing((300, 300), ("ellipse", INK, disc), ("ellipse", INK, far))
    assert count_things(alike, GROUND) == pytest.approx(1.0)
    near = drawing((300, 300), ("ellipse", INK, disc), ("ellipse", OTHER, (105, 10, 205, 110)))
    assert count_things(near, GROUND) == pytest.approx(1.0)
    small = drawing((300, 300), ("ellipse", INK, disc), ("ellipse", OTHER, (250, 250, 270, 270)))
    assert 1.0 < count_things(small, GROUND) < 1.7


def test_an_opening_is_closed_where_the_drawing_goes_all_the_way_round_it():
    ring = [("ellipse", INK, (0, 0, 199, 199)), ("ellipse", GROUND, (50, 50, 149, 149))]
    closed = of_kind(find_features(drawing((200, 200), *ring), GROUND), "opening")
    assert [f.closed for f in closed] == [True]
    cut = drawing((200, 200), *ring, ("rectangle", GROUND, (90, 0, 110, 100)))
    assert [f.closed for f in of_kind(find_features(cut, GROUND), "opening")] == [False]
