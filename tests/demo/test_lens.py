"""The look-up table against the forward projection of single points, which is its inverse."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.demo.lens import Pose, screen_map, to_screen

poses = st.builds(
    Pose,
    radius_m=st.floats(0.04, 0.2),
    right_m=st.floats(-0.01, 0.01),
    up_m=st.floats(-0.02, 0.02),
    roll_deg=st.floats(-360, 360),
    yaw_deg=st.floats(-25, 25),
    pitch_deg=st.floats(-20, 20),
)


def test_on_the_axis_a_wall_point_shows_at_focal_length_times_radius_over_distance():
    """r = f R / z, the pinhole relation."""
    for ahead in (0.2, 0.5, 2.0):
        x, y = to_screen(Pose(0.075), 90.0, ahead, 320.0)
        assert (x, y) == pytest.approx((320.0 * 0.075 / ahead, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    ("roll", "place"), [(0, (0, -1)), (90, (1, 0)), (180, (0, 1)), (-90, (-1, 0))]
)
def test_roll_turns_the_soffit_clockwise(roll, place):
    """Roll +90 shows the soffit at the right of the screen (see RollSample)."""
    x, y = to_screen(Pose(0.05, roll_deg=roll), 0.0, 0.2, 400.0)
    assert (x / 100.0, y / 100.0) == pytest.approx(place, abs=1e-9)


def test_turning_the_head_right_moves_the_far_end_left():
    x, _y = to_screen(Pose(0.05, yaw_deg=10.0), 0.0, 1000.0, 400.0)
    assert x == pytest.approx(-400.0 * math.tan(math.radians(10.0)), rel=1e-3)
    assert to_screen(Pose(0.05, pitch_deg=10.0), 0.0, 1000.0, 400.0)[1] > 0


@given(pose=poses, clock=st.floats(0, 360), ahead=st.floats(0.15, 3.0))
@settings(max_examples=60, deadline=None)
def test_the_table_finds_the_point_that_the_projection_put_there(pose, clock, ahead):
    width, height, focal = 160, 120, 80.0
    x, y = to_screen(pose, clock, ahead, focal)
    column, row = x + width / 2 - 0.5, y + height / 2 - 0.5
    inside = 0 <= column <= width - 2 and 0 <= row <= height - 2
    # Angles are told about the far end of the pipe, which a turned head moves off the middle.
    far_x, far_y = to_screen(pose, clock, 1e6, focal)
    off = math.hypot(x - far_x, y - far_y)
    if not inside or off < 4:
        return
    table = screen_map(pose, width, height, focal)
    c, r = int(column), int(row)
    weight = np.outer([1 - (row - r), row - r], [1 - (column - c), column - c])
    seen_inverse = float((table.inverse_z[r : r + 2, c : c + 2] * weight).sum())
    turned = np.exp(1j * table.angle_rad[r : r + 2, c : c + 2])
    angle = math.degrees(np.angle((turned * weight).sum())) - pose.roll_deg
    # Half a pixel, expressed in 1/z and in degrees.
    assert seen_inverse == pytest.approx(
        1 / ahead, abs=0.6 / (focal * pose.radius_m) + 0.03 / ahead
    )
    away = (angle - clock + 180.0) % 360.0 - 180.0
    assert abs(away) < 60.0 / off + 0.5
