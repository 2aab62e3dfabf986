"""Stills: sharpest clear frame near, upright in a round window, counter readable."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.base import Estimate
from saltglaze.model.frame import FilmFacts
from saltglaze.model.track import (
    CounterBox,
    CounterTrack,
    RollSample,
    SightTrack,
    ViewState,
    ViewStretch,
)
from saltglaze.sight.stills import best_moment, roll_at, upright


def track(**given):
    facts = FilmFacts(width_px=100, height_px=80)
    return SightTrack(run_id="r", film=facts, counter=CounterTrack(), **given)


def test_the_sharpest_clear_frame_near_is_taken():
    seen = track(
        sharpness=((9.0, 50.0), (10.0, 5.0), (10.5, 20.0), (11.0, 90.0), (20.0, 99.0)),
        view=(
            ViewStretch(start_s=0.0, end_s=10.8, state=ViewState.CLEAR),
            ViewStretch(start_s=10.8, end_s=30.0, state=ViewState.FOGGED),
        ),
    )
    assert best_moment(seen, 10.0) == 9.0
    assert best_moment(track(), 10.0) == 10.0


def test_roll_is_taken_from_nearby_or_not_at_all():
    rolls = (
        RollSample(time_s=1.0, roll_deg=Estimate.of(30.0, 2.0)),
        RollSample(time_s=5.0, roll_deg=Estimate.unknown("dark")),
    )
    assert roll_at(track(roll=rolls), 1.4).value == 30.0
    assert roll_at(track(roll=rolls), 5.0) is None


@pytest.mark.parametrize(("roll", "row", "column"), [(90.0, 40, 80), (-90.0, 40, 20)])
def test_what_shows_at_the_side_comes_to_the_top(roll, row, column):
    # Roll +90: the soffit shows at the right of the screen (model/track.py).
    picture = np.zeros((81, 101, 3), dtype=np.uint8)
    picture[row - 2 : row + 3, column - 2 : column + 3, 0] = 255
    turned = upright(picture, Estimate.of(roll, 1.0), None)
    rows, columns = np.nonzero((turned[..., 0] > 100) & (turned[..., 1] < 100))
    assert rows.mean() == pytest.approx(10, abs=2)
    assert columns.mean() == pytest.approx(40, abs=2)


@pytest.mark.parametrize(("left", "top"), [(60, 60), (5, 5), (60, 2), (0, 68)])
def test_the_counter_stays_readable(left, top):
    """Its pixels stand in the turned picture as they were, upright and whole."""
    draw = np.random.default_rng(4)
    picture = draw.integers(0, 255, (80, 100, 3)).astype(np.uint8)
    box = CounterBox(left_px=left, top_px=top, width_px=30, height_px=12)
    turned = upright(picture, Estimate.of(45.0, 1.0), box)
    digits = picture[top : top + 12, left : left + 30]
    windows = np.lib.stride_tricks.sliding_window_view(turned, digits.shape)
    assert (windows == digits).all(axis=(-3, -2, -1)).any()


@settings(deadline=None, max_examples=40)
@given(
    roll=st.floats(-180.0, 180.0).filter(lambda deg: abs(deg) > 4.0),
    height=st.integers(40, 120),
    width=st.integers(40, 160),
)
def test_a_turned_picture_has_no_black_corner(roll, height, width):
    """Whatever the turn, what no picture reaches is paper, and the window is all picture."""
    grey = np.full((height, width, 3), 120, dtype=np.uint8)
    turned = upright(grey, Estimate.of(roll, 1.0), None)
    assert turned.shape == (min(height, width),) * 2 + (3,)
    assert set(np.unique(turned)) <= {120, 255}
    assert (turned[0, 0] == 255).all()
    shown = (turned == 120).all(axis=2).mean()
    assert shown == pytest.approx(np.pi / 4, abs=0.03)


def test_an_unknown_roll_leaves_the_picture_alone():
    picture = np.full((80, 100, 3), 7, dtype=np.uint8)
    assert upright(picture, None, None) is picture
