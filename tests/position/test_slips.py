"""The law of a station's error under rare slips: narrower in the middle than its sd says."""

import numpy as np
import pytest
from evidence_kit import job, steady

from saltglaze.model.base import Z68
from saltglaze.position import priors
from saltglaze.position.slips import MOST_EXCESS, NARROWER, half68
from saltglaze.position.solve import locate


def test_the_half_interval_is_exact_for_the_normal_and_the_double_exponential():
    # Quantiles of the two laws with sd 1, by numpy's generators (declared seed).
    rng = np.random.default_rng(20251125)
    for draws, excess in ((rng.normal(size=400_000), 0.0), (rng.laplace(size=400_000), 3.0)):
        half = np.quantile(np.abs(draws / draws.std()), 0.68)
        assert Z68 / (1.0 + NARROWER * excess) == pytest.approx(half, rel=0.01)


def test_a_station_a_few_metres_in_has_a_narrow_middle_and_a_far_one_is_normal():
    samples = locate(job(), (steady(900),), (), ()).position.stationings[0].samples
    ratio = [one.half68_m / (Z68 * one.sd_m) for one in samples]
    near = ratio[next(n for n, one in enumerate(samples) if one.station_m > 3.0)]
    assert 1.0 / (1.0 + NARROWER * MOST_EXCESS) <= near < 0.97
    assert near < ratio[-1] <= 1.0


def test_the_excess_is_that_of_drawn_slips():
    # A counter zeroed and scaled exactly, 10 m in: the station's error is the slip alone,
    # a compound Poisson sum; its middle 68 % by drawing.
    rng = np.random.default_rng(20251126)
    length, size = 60.0, priors.SLIP_JUMP_M
    rate = priors.SLIP_M_PER_SQRT_M**2 / (2.0 * size**2) * length
    count = rng.poisson(rate, 200_000)
    sums = np.array([rng.laplace(0.0, size, n).sum() for n in count])
    excess = 24.0 * size**4 * rate / (priors.SLIP_M_PER_SQRT_M**2 * length) ** 2
    drawn = np.quantile(np.abs(sums), 0.68) / sums.std()
    assert excess < MOST_EXCESS
    assert Z68 / (1.0 + NARROWER * excess) == pytest.approx(drawn, rel=0.06)


def test_no_moments_no_intervals():
    assert half68(None, np.zeros(0), np.zeros(0)).size == 0
