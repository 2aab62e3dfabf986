from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.demo.laws import CounterLaw, KnotLaw, WaterLaw

WAY = KnotLaw(((0.0, 0.0), (10.0, 2.0), (14.0, 2.0), (20.0, 1.0), (24.0, 1.0), (40.0, 5.0)))


def test_a_pause_is_a_true_standstill_and_a_reversal_has_no_overshoot():
    rest = np.linspace(10.2, 13.8, 50)
    assert np.allclose(WAY.at(rest), 2.0)
    assert np.allclose(WAY.rate_at(rest), 0.0)
    assert WAY.at(np.linspace(0, 24, 500)).max() <= 2.0 + 1e-12
    assert np.all(WAY.rate_at(np.linspace(14.5, 19.5, 20)) < 0)


def test_outside_the_knots_the_ends_hold():
    assert float(WAY.at(-5.0)) == 0.0
    assert float(WAY.at(99.0)) == 5.0
    assert float(WAY.rate_at(99.0)) == 0.0


@given(
    values=st.lists(st.floats(-10, 10, allow_subnormal=False), min_size=2, max_size=8),
    time=st.floats(0, 8),
)
@settings(max_examples=60, deadline=None)
def test_a_law_stays_between_its_neighbouring_knots(values, time):
    law = KnotLaw(tuple((float(k), v) for k, v in enumerate(values)))
    at = min(int(time), len(values) - 2)
    pair = values[at : at + 2]
    inside = min(time, len(values) - 1.0)
    assert min(pair) - 1e-9 <= float(law.at(inside)) <= max(pair) + 1e-9


def test_a_plain_counter_tells_the_way():
    times = np.linspace(0, 40, 30)
    assert np.allclose(CounterLaw().at(times, WAY), WAY.at(times))


def test_scale_and_zero_and_reset():
    law = CounterLaw(scale=0.98, zero_m=3.0, resets=((12.0, 0.0),))
    assert float(law.at(0.0, WAY)) == pytest.approx(3.0)
    assert float(law.at(10.0, WAY)) == pytest.approx(3.0 + 0.98 * 2.0)
    assert float(law.at(12.0, WAY)) == pytest.approx(0.0)
    assert float(law.at(40.0, WAY)) == pytest.approx(0.98 * 3.0)


def test_slack_rod_passes_the_counter_before_the_lens_turns_round():
    law = CounterLaw(play_m=0.1)
    # At rest after pushing the counter holds; before the lens comes back it runs down.
    assert float(law.at(12.0, WAY)) == pytest.approx(2.0, abs=1e-6)
    assert float(law.at(14.0, WAY)) == pytest.approx(1.9, abs=0.01)
    assert float(WAY.at(14.0)) == pytest.approx(2.0)
    assert float(law.at(40.0, WAY)) == pytest.approx(5.0, abs=1e-6)


def test_the_wander_is_of_the_stated_size_and_comes_from_the_seed():
    way = KnotLaw(((0.0, 0.0), (1000.0, 200.0)))
    times = np.linspace(0, 1000, 4000)
    gap = CounterLaw(slip_m=0.1, slip_seed=4).at(times, way) - way.at(times)
    assert 0.05 < np.std(gap) < 0.2
    assert np.array_equal(gap, CounterLaw(slip_m=0.1, slip_seed=4).at(times, way) - way.at(times))


def test_water_between_its_knots():
    law = WaterLaw(((0.0, 0.0), (2.0, 0.4)), standing=((1.0, 2.0),))
    assert np.allclose(law.share_at([0.0, 1.0, 5.0]), [0.0, 0.2, 0.4])
    assert list(law.stands_at([0.5, 1.5])) == [False, True]
