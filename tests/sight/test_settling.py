"""Water, motion and view over time."""

import itertools

import numpy as np
import pytest
from sight_kit import glances, slides, waterlines

from saltglaze.model.track import (
    CounterReading,
    CounterTrack,
    MotionKind,
    ViewState,
    WaterState,
)
from saltglaze.sight.glance import VIEWS
from saltglaze.sight.travel import TOO_FAST_M_S, motion_stretches, too_fast, travel
from saltglaze.sight.view import judge_view, stretches
from saltglaze.sight.water import settle_water

COUNT = 120
TIMES = np.arange(COUNT) * 0.2
ALL = np.ones(COUNT, dtype=bool)
CLEAR = (ViewState.CLEAR,) * COUNT


STANDS = np.full(COUNT, 0.95)


def test_water_is_averaged_and_its_state_told():
    draw = np.random.default_rng(2)
    looks = waterlines(0.3 + draw.normal(0, 0.03, COUNT), 0.03)
    samples = settle_water(TIMES, looks, STANDS, ALL)
    assert np.mean([s.depth_share.value for s in samples]) == pytest.approx(0.3, abs=0.02)
    assert {s.state for s in samples} == {WaterState.STANDING}


def test_unsure_or_blind_water_is_unknown():
    vague = settle_water(TIMES, waterlines(np.full(COUNT, 0.3), 0.2), STANDS, ALL)
    blind = settle_water(TIMES, waterlines(np.full(COUNT, 0.3), 0.02), STANDS, ~ALL)
    assert not any(s.depth_share.known for s in (*vague, *blind))


def test_two_edges_are_no_depth_between_them():
    """Water at 0.10 under a tide mark at 0.30: until a look tells them apart, unknown."""
    either = np.logaddexp(waterlines([0.1] * COUNT, 0.01), waterlines([0.3] * COUNT, 0.01))
    unsure = settle_water(TIMES, either - np.log(2.0), STANDS, ALL)
    assert not any(s.depth_share.known for s in unsure)
    either[::3] = waterlines(0.1, 0.01)
    told = settle_water(TIMES, either, STANDS, ALL)
    assert {round(s.depth_share.value, 2) for s in told} == {0.1}


def test_a_dry_pipe_neither_flows_nor_stands():
    samples = settle_water(TIMES, waterlines(np.zeros(COUNT), 0.01), STANDS, ALL)
    assert {s.state for s in samples} == {WaterState.UNKNOWN}


def counter(metres_per_s):
    readings = [
        CounterReading(time_s=float(t), distance_m=float(t * metres_per_s), confidence=0.99)
        for t in TIMES
    ]
    return CounterTrack(readings=tuple(readings))


def gone(advance_d, read, states=CLEAR):
    return travel(TIMES, glances(COUNT), slides(COUNT, advance_d), states, read)


def test_the_counter_gives_motion_its_scale():
    way = gone(0.2, counter(0.1))
    assert way.metres_per_d == pytest.approx(0.1, rel=0.02)
    (stretch,) = motion_stretches(TIMES, way, CLEAR)
    assert stretch.kind is MotionKind.ADVANCING
    low, high = stretch.speed_m_s.interval95
    assert low < 0.1 < high


def test_without_a_counter_speed_is_in_diameters_only():
    way = gone(-0.2, CounterTrack())
    (stretch,) = motion_stretches(TIMES, way, CLEAR)
    assert stretch.kind is MotionKind.BACKING
    assert stretch.speed_m_s is None
    assert not too_fast(way).any()


def test_the_speed_limit_of_push_cameras_is_kept():
    # 30 ft a minute: City of Sunny Isles Beach, section 02762 (field dossier, confirmed).
    assert pytest.approx(30 * 0.3048 / 60) == TOO_FAST_M_S
    slow = gone(0.2, counter(0.12))
    fast = gone(0.2, counter(0.25))
    assert not too_fast(slow).any()
    assert too_fast(fast)[10:-10].all()


def test_holding_turning_and_blind_are_told_apart():
    states = (ViewState.CLEAR,) * 40 + (ViewState.OFF_AXIS,) * 40 + (ViewState.FOGGED,) * 40
    way = gone(0.0, CounterTrack(), states)
    kinds = [s.kind for s in motion_stretches(TIMES, way, states)]
    assert kinds == [MotionKind.HOLDING, MotionKind.TURNING_HEAD, MotionKind.UNKNOWN]


def test_the_way_is_known_through_the_dark_where_the_same_wall_is_seen():
    states = (ViewState.CLEAR,) * 40 + (ViewState.DARK,) * 80
    seen = travel(TIMES, glances(COUNT), slides(COUNT, 0.1), states, CounterTrack())
    blind = travel(
        TIMES, glances(COUNT), slides(COUNT, 0.1, same_wall=False), states, CounterTrack()
    )
    assert seen.known.sum() == COUNT - 1
    assert seen.way_d[-1] == pytest.approx(0.1 * (COUNT - 1))
    assert blind.known[:40].sum() == 39
    assert not blind.known[40:].any()
    assert blind.way_d[-1] == pytest.approx(0.1 * 39)


def test_with_the_head_turned_the_net_tells_the_way_and_none_is_sure():
    states = (ViewState.OFF_AXIS,) * COUNT
    way = travel(TIMES, glances(COUNT, advance_d=0.05), slides(COUNT, 0.3), states, CounterTrack())
    assert way.way_d[-1] == pytest.approx(0.05 * (COUNT - 1))
    assert not way.known.any()


def views_of(state):
    views = np.full((COUNT, len(VIEWS)), 0.01)
    views[:, VIEWS.index(state)] = 0.9
    return views


def test_a_black_picture_is_dark_and_a_white_one_glare_whatever_is_thought():
    grey = np.where(np.arange(COUNT) < 60, 3.0, 240.0)
    states = judge_view(views_of(ViewState.CLEAR), grey, np.full(COUNT, 0.2))
    assert set(states[:60]) == {ViewState.DARK}
    assert set(states[60:]) == {ViewState.GLARE}


def test_a_picture_with_light_and_shade_was_not_taken_under_water():
    grey = np.full(COUNT, 60.0)
    flat = judge_view(views_of(ViewState.UNDER_WATER), grey, np.full(COUNT, 0.2))
    deep = judge_view(views_of(ViewState.UNDER_WATER), grey, np.full(COUNT, 0.55))
    assert set(flat) == {ViewState.UNDER_WATER}
    assert ViewState.UNDER_WATER not in deep


def test_stretches_cover_the_film_without_gap():
    states = (ViewState.CLEAR,) * 30 + (ViewState.DARK,) * 50 + (ViewState.CLEAR,) * 40
    rows = stretches(TIMES, states, ~ALL)
    assert [r.state for r in rows] == [ViewState.CLEAR, ViewState.DARK, ViewState.CLEAR]
    assert rows[0].start_s == TIMES[0]
    assert rows[-1].end_s == TIMES[-1]
    assert all(a.end_s == b.start_s for a, b in itertools.pairwise(rows))
