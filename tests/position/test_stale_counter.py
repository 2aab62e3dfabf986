"""A counter that still shows a former run when the film begins is taken from where it is zeroed."""

import numpy as np
import pytest

from saltglaze.position.evidence import CounterSays
from saltglaze.position.run_rows import continued, stale_zero


def says(values):
    count = len(values)
    return CounterSays(
        np.arange(count, dtype=float),
        np.array(values, dtype=float),
        np.full(count, 0.03),
        np.full(count, 0.01),
        10.0,
    )


LEFT_OVER = [64.7] * 6 + [65.1] * 6
RUN = list(np.arange(0.0, 5.0, 0.25))


def test_the_zero_is_the_one_taken_for_this_run():
    counter, resets = says(LEFT_OVER + RUN), ((12.0, 65.1),)
    stale = stale_zero(counter, resets)
    path = continued(counter, resets, stale).value_m
    assert path[12:] == pytest.approx(RUN)
    assert path[0] == pytest.approx(64.7 - 65.1)


def test_a_counter_that_begins_near_zero_keeps_its_own_zero():
    counter, resets = says(RUN + RUN), ((20.0, 4.75),)
    assert stale_zero(counter, resets) == 0.0
    assert continued(counter, resets).value_m[-1] == pytest.approx(2 * 4.75)


def test_a_counter_that_is_never_zeroed_is_left_as_it_is():
    assert stale_zero(says(LEFT_OVER), ()) == 0.0
