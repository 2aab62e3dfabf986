"""The belief about stoppages is calibrated; the trend finds a trend."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.cleaning.events import Rate, fit_power_law
from saltglaze.cleaning.regrowth import RISK, belief, root_prior, trend, waits
from saltglaze.model.job import Service


def test_the_prior_stands_for_the_habit():
    prior = root_prior()
    assert prior.time_to_risk(RISK) == pytest.approx(1.5)
    assert prior.survival(1.5) == pytest.approx(1.0 - RISK)


def test_the_interval_holds_the_truth_as_often_as_it_says():
    """2,000 lines drawn from the prior, five waits each, cut short after two years.

    The 95 % interval of the time to a one in five risk must hold the true time in
    93.5 to 96.5 % of them (two-sided: too wide is wrong as well).
    """
    rng = np.random.default_rng(17)
    prior = root_prior()
    held = 0
    for _ in range(2000):
        rate = rng.gamma(prior.events, 1.0 / prior.exposure)
        truth = (-np.log(1.0 - RISK) / rate) ** (1.0 / prior.shape)
        drawn = (rng.exponential(1.0, 5) / rate) ** (1.0 / prior.shape)
        seen, ended = np.minimum(drawn, 2.0), drawn <= 2.0
        low, high = prior.after(list(seen), list(ended)).time_to_risk_interval(RISK)
        held += low <= truth <= high
    assert 0.935 <= held / 2000 <= 0.965


def test_the_chance_of_a_stoppage_at_the_advised_time_is_one_in_five():
    """Over lines drawn from the prior: 20 % +- 2 of them stop before the advised time."""
    rng = np.random.default_rng(18)
    prior = root_prior()
    stopped = 0
    for _ in range(4000):
        rate = rng.gamma(prior.events, 1.0 / prior.exposure)
        drawn = (rng.exponential(1.0, 3) / rate) ** (1.0 / prior.shape)
        after = prior.after(list(np.minimum(drawn, 2.0)), list(drawn <= 2.0))
        advised = after.time_to_risk(RISK)
        stopped += (rng.exponential(1.0) / rate) ** (1.0 / prior.shape) < advised
    assert 0.18 <= stopped / 4000 <= 0.22


def test_the_trend_interval_holds_the_true_exponent():
    """1,000 power-law processes, about ten events each: 95 % interval, 93.5 to 96.5 %."""
    rng = np.random.default_rng(19)
    held = kept = 0
    while kept < 1000:
        count = rng.poisson(10)
        if count < 4:
            continue
        times = np.sort(20.0 * rng.uniform(size=count) ** (1.0 / 1.4))
        fit = fit_power_law(list(times), 20.0)
        held += fit.shape_low95 <= 1.4 <= fit.shape_high95
        kept += 1
    assert 0.935 <= held / kept <= 0.965


@given(st.lists(st.tuples(st.floats(0.05, 8.0), st.booleans()), max_size=8), st.floats(0.05, 0.9))
def test_a_stoppage_never_lengthens_the_wait_and_a_quiet_wait_never_shortens_it(seen, risk):
    base = root_prior().after([w for w, _ in seen], [e for _, e in seen])
    assert base.after([1e-6], [True]).time_to_risk(risk) <= base.time_to_risk(risk) + 1e-9
    assert base.after([3.0], [False]).time_to_risk(risk) >= base.time_to_risk(risk) - 1e-9


@given(st.floats(0.01, 0.5), st.floats(0.01, 0.5))
def test_more_risk_allowed_is_a_longer_wait(one, other):
    small, large = sorted((one, other))
    rate = Rate(2.0, 3.0, 2.0)
    assert rate.time_to_risk(small) <= rate.time_to_risk(large)


def service(day, kind):
    return Service(date=dt.date(2020, 1, 1) + dt.timedelta(days=day), kind=kind)


def test_waits_run_between_clearings_and_end_in_a_stoppage_or_not():
    services = [
        service(800, "cleaning"),
        service(0, "stoppage"),
        service(365, "stoppage"),
        service(500, "camera"),
    ]
    told = waits(services, dt.date(2020, 1, 1) + dt.timedelta(days=1165))
    assert [round(y, 2) for y in told.years] == [1.0, 1.19, 1.0]
    assert told.stopped == (True, False, False)


def test_two_visits_on_one_day_are_no_wait():
    told = waits([service(0, "stoppage"), service(0, "cleaning")], dt.date(2020, 1, 1))
    assert told.years == ()


def test_no_history_and_no_roots_give_no_belief():
    assert belief(waits([], dt.date(2026, 1, 1)), roots=False) is None
    assert belief(waits([service(0, "cleaning")], dt.date(2026, 1, 1)), roots=False) is None


def test_a_trend_needs_four_stoppages_after_the_first_record():
    few = [service(400 * i, "stoppage") for i in range(4)]
    assert trend(few, dt.date(2026, 1, 1)) is None
    assert trend([*few, service(1600, "stoppage")], dt.date(2026, 1, 1)) is not None
    assert trend(few, None) is None
