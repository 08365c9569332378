"""Where a picture lies: hand-made cases for every sign, and the way there and back."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from himotif.convert.fit.placement import Placement, turned_size
from hypothesis import given
from hypothesis import strategies as st

PLAIN = Placement("wrap", 10.0, 0.0, (200, 100), 5.0, 180.0, ((180.0, 40.0),))


def at(placement: Placement, azimuth_deg: float, height_mm: float) -> tuple[float, float]:
    x, y = placement.picture_px(azimuth_deg, height_mm)
    return float(x), float(y)


def test_the_middle_lies_at_the_centre() -> None:
    assert at(PLAIN, 180.0, 40.0) == pytest.approx((100, 50))


def test_up_the_braid_is_up_the_picture() -> None:
    assert at(PLAIN, 180.0, 42.0) == pytest.approx((100, 30))


def test_clockwise_from_above_is_left_seen_from_outside() -> None:
    # standing south of the braid, west is on the left; clockwise from above, south leads to west
    one_mm_deg = np.rad2deg(1 / 5.0)
    assert at(PLAIN, 180.0 + one_mm_deg, 40.0) == pytest.approx((90, 50))


def test_a_quarter_turn_clockwise_brings_the_left_edge_to_the_top() -> None:
    turned = replace(PLAIN, rotate_deg=90.0)
    # 9 mm above the middle lies what was 9 mm to the left of it
    assert at(turned, 180.0, 49.0) == pytest.approx((10, 50))
    # and what was at the top is at the right now
    right = 180.0 - np.rad2deg(4 / 5.0)
    assert at(turned, right, 40.0) == pytest.approx((100, 10))
    assert (turned.width_mm, turned.height_mm) == pytest.approx((10, 20))


def test_face_is_true_in_the_front_view() -> None:
    face = replace(PLAIN, fit="face")
    for angle in (-80.0, -30.0, 10.0, 60.0):
        seen_right_mm = -5.0 * np.sin(np.deg2rad(angle))
        assert at(face, 180.0 + angle, 40.0) == pytest.approx((100 + 10 * seen_right_mm, 50))
    assert np.isnan(face.picture_px(180.0 + 91.0, 40.0)).all()
    assert np.isnan(face.picture_px(0.0, 40.0)).all()


def test_nothing_lies_outside_the_frame() -> None:
    assert np.isnan(PLAIN.picture_px(180.0, 45.01)).all()
    assert not np.isnan(PLAIN.picture_px(180.0, 44.99)).any()
    assert float(PLAIN.margin_mm(180.0, 44.0)) == pytest.approx(1.0)
    assert float(PLAIN.margin_mm(180.0, 46.0)) == pytest.approx(-1.0)


def test_every_repeat_has_its_own_centre() -> None:
    twice = replace(PLAIN, centres=((180.0, 40.0), (190.0, 60.0)))
    assert np.isnan(twice.picture_px(180.0, 49.0)).all()
    assert at(twice, 190.0, 60.0) == pytest.approx((100, 50))
    assert at(twice, 180.0, 44.0) == pytest.approx((100, 10))


@given(
    st.sampled_from(["wrap", "face"]),
    st.floats(-180, 180),
    st.floats(1, 100),
    st.floats(-70, 70),
    st.floats(-4, 4),
    st.floats(0, 360),
)
def test_picture_points_lead_back_to_the_braid(
    fit: str, rotate: float, px_per_mm: float, angle: float, up: float, front: float
) -> None:
    size = (4000, 3000)
    placed = Placement(fit, px_per_mm, rotate, size, 4.0, front, ((front, 20.0),))  # type: ignore[arg-type]
    x, y = placed.picture_px(front + angle, 20.0 + up)
    assert np.isfinite([x, y]).all()
    # by hand: from the picture's middle, turned back clockwise, y upwards
    right, above = (x - size[0] / 2) / px_per_mm, -(y - size[1] / 2) / px_per_mm
    turn = np.deg2rad(rotate)
    u = right * np.cos(turn) + above * np.sin(turn)
    v = -right * np.sin(turn) + above * np.cos(turn)
    assert v == pytest.approx(up, abs=1e-6)
    expected = -4.0 * (np.sin(np.deg2rad(angle)) if fit == "face" else np.deg2rad(angle))
    assert u == pytest.approx(expected, abs=1e-6)


def test_a_quarter_turn_gives_back_the_very_size() -> None:
    assert turned_size((640, 480), 90.0) == (480, 640)
    assert turned_size((640, 480), 180.0) == (640, 480)
    assert turned_size((100, 100), 45.0) == pytest.approx((141.42, 141.42), abs=0.01)
