from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, Facts, Feature, ScreenPlace
from saltglaze.model.run import Direction
from saltglaze.position.clock import (
    as_seen,
    clock_unknown_because,
    from_behind,
    gravity_clock,
    hours_apart,
    pipe_clock,
    settled_clock,
)

WITH, AGAINST = Direction.WITH_FLOW, Direction.AGAINST_FLOW
hours = st.floats(0.0, 11.999)
octants = [p for p in ScreenPlace if p not in (ScreenPlace.CENTRE, ScreenPlace.ALL_ROUND)]


@pytest.mark.parametrize(
    ("screen", "roll_deg", "expected_h"),
    [
        (ScreenPlace.TOP, 0.0, 0.0),
        (ScreenPlace.RIGHT, 0.0, 3.0),
        (ScreenPlace.BOTTOM_LEFT, 0.0, 7.5),
        (ScreenPlace.RIGHT, 90.0, 0.0),  # the soffit shows at the right: right is 12 o'clock
        (ScreenPlace.TOP, 90.0, 9.0),
        (ScreenPlace.LEFT, -90.0, 0.0),
        (ScreenPlace.BOTTOM, 180.0, 0.0),
    ],
)
def test_a_rolled_picture_is_turned_back_into_the_pipe(screen, roll_deg, expected_h):
    clock = pipe_clock(screen, Estimate.of(roll_deg, 3.0), WITH)
    assert clock is not None
    assert hours_apart(clock.from_h, expected_h) < 1e-9
    assert clock.view is WITH
    assert clock.because == "roll"


@settings(deadline=None)
@given(st.sampled_from(octants), st.floats(-720, 720), st.floats(-360, 360))
def test_turning_the_head_moves_the_screen_place_and_not_the_pipe_place(screen, roll, more):
    still = pipe_clock(screen, Estimate.of(roll, 1.0), WITH)
    turned = pipe_clock(screen, Estimate.of(roll + more, 1.0), WITH)
    assert still is not None and turned is not None
    expected = (still.from_h - more / 30.0) % 12.0
    assert hours_apart(turned.from_h, expected) < 1e-6
    assert 0.0 <= turned.from_h < 12.0


def test_margin_joins_octant_width_and_roll():
    clock = pipe_clock(ScreenPlace.TOP, Estimate.of(0.0, 10.0), WITH)
    assert clock is not None
    assert clock.sd_h == pytest.approx(math.hypot(45.0 / math.sqrt(12.0), 10.0) / 30.0)


@pytest.mark.parametrize(
    ("screen", "roll", "word"),
    [
        (ScreenPlace.TOP, None, "roll"),
        (ScreenPlace.TOP, Estimate.unknown("no water to level by"), "no water to level by"),
        (ScreenPlace.TOP, Estimate.of(0.0, 80.0), "80 degrees"),
        (ScreenPlace.CENTRE, Estimate.of(0.0, 1.0), "centre"),
        (None, Estimate.of(0.0, 1.0), "nobody said"),
    ],
)
def test_what_does_not_tell_a_clock_position_says_why(screen, roll, word):
    assert pipe_clock(screen, roll, WITH) is None
    assert word in (clock_unknown_because(screen, roll) or "")


def test_all_round_needs_no_roll():
    clock = pipe_clock(ScreenPlace.ALL_ROUND, None, None)
    assert clock is not None and clock.all_round


@settings(deadline=None)
@given(hours, st.one_of(st.none(), hours))
def test_looking_back_twice_gives_the_same_place(from_h, to_h):
    clock = Clock(from_h=from_h, to_h=to_h, view=WITH)
    there = as_seen(clock, AGAINST)
    assert there is not None
    back = as_seen(there, WITH)
    assert back is not None
    assert hours_apart(back.from_h, from_h) < 1e-9
    if to_h is not None:
        assert back.to_h is not None and hours_apart(back.to_h, to_h) < 1e-9


@settings(deadline=None)
@given(hours, hours)
def test_a_range_keeps_its_length_and_still_runs_clockwise_in_the_mirror(from_h, to_h):
    mirrored = as_seen(Clock(from_h=from_h, to_h=to_h, view=WITH), AGAINST)
    assert mirrored is not None and mirrored.to_h is not None
    apart = ((mirrored.to_h - mirrored.from_h) - (to_h - from_h)) % 12.0
    assert min(apart, 12.0 - apart) < 1e-6


def test_left_with_the_flow_is_right_against_it():
    mirrored = as_seen(Clock(from_h=9.0, view=WITH), AGAINST)
    assert mirrored is not None
    assert mirrored.from_h == pytest.approx(3.0)
    assert mirrored.view is AGAINST


def test_without_a_view_only_what_is_its_own_mirror_image_can_be_turned():
    assert as_seen(Clock(from_h=3.0), WITH) is None
    assert as_seen(Clock(from_h=6.0), WITH) is not None
    assert as_seen(Clock(from_h=10.0, to_h=2.0), WITH) is not None


def test_standing_water_lies_about_six_whatever_the_screen_says():
    facts = Facts(
        feature=Feature.STANDING_WATER,
        screen=ScreenPlace.LEFT,
        water_share=Estimate.of(0.5, 0.1),
    )
    clock, because = settled_clock(facts, Estimate.of(90.0, 2.0), WITH)
    assert because is None and clock is not None
    # half full wets the lower half: 3 o'clock to 9 o'clock
    assert (clock.from_h, clock.to_h) == (pytest.approx(3.0), pytest.approx(9.0))
    assert "gravity" in clock.because


@pytest.mark.parametrize("feature", [Feature.ROOTS, Feature.INFILTRATION, Feature.CRACK])
def test_gravity_places_nothing_that_may_grow_or_crack_anywhere(feature):
    assert gravity_clock(Facts(feature=feature), WITH) is None


def test_a_person_s_word_outranks_the_roll():
    facts = Facts(feature=Feature.TAP, screen=ScreenPlace.TOP, clock=Clock(from_h=2.0))
    clock, _ = settled_clock(facts, Estimate.of(0.0, 2.0), AGAINST)
    assert clock is not None
    assert (clock.from_h, clock.view, clock.because) == (2.0, AGAINST, "word")


@pytest.mark.parametrize(
    ("clock", "other"),
    [
        (Clock(from_h=3.0, view=WITH), (9.0, None, AGAINST)),
        (Clock(from_h=0.0, view=AGAINST), (0.0, None, WITH)),
        (Clock(from_h=10.0, to_h=1.0, view=WITH), (11.0, 2.0, AGAINST)),
    ],
)
def test_the_other_view_changes_left_and_right_and_keeps_top_and_bottom(clock, other):
    behind = from_behind(clock)
    assert (behind.from_h, behind.to_h, behind.view) == other
    assert from_behind(behind) == clock


def test_without_a_view_there_is_no_other():
    assert from_behind(Clock(from_h=3.0)) is None
    assert from_behind(None) is None
