"""Digits follow the margin: never more than it allows, never a margin made smaller."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.report.numbers import digits, grouped, money_digits


def number(text):
    return float(text.replace(",", ""))


# The GUM's own example: 100.021 47 g with u = 0.35 mg is reported as 100.021 47(35) g at two
# digits (JCGM 100:2008, 7.2.2; from memory). With a margin of 2u = 0.0007 g one digit is
# enough here, and the value stops at the same place.
def test_value_stops_where_its_margin_does():
    found = digits(100.02147, 100.02147 - 0.0007, 100.02147 + 0.0007)
    assert (found.value, found.margin) == ("100.0215", "0.0007")


@pytest.mark.parametrize(
    ("value", "half", "expected"),
    [
        (63.274, 2.0, ("63", "2")),
        (63.274, 1.96, ("63", "2")),
        (63.274, 1.2, ("63.3", "1.2")),
        (63.274, 0.31, ("63.3", "0.3")),
        (1234.0, 40.0, ("1,230", "40")),
        (9.96, 0.098, ("10.0", "0.1")),
        (4476.0, 950.0, ("4,500", "1,000")),
        (0.0, 0.4, ("0.0", "0.4")),
    ],
)
def test_one_digit_of_margin_or_two_where_one_would_mislead(value, half, expected):
    found = digits(value, value - half, value + half)
    assert (found.value, found.margin) == expected


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e3))
def test_printed_margin_is_close_to_the_true_one_and_never_much_smaller(value, half):
    found = digits(value, value - half, value + half)
    assert found.margin is not None
    ratio = number(found.margin) / half
    assert 0.9 - 1e-9 <= ratio <= 1.25 + 1e-9


@given(st.floats(-1e4, 1e4), st.floats(1e-3, 1e3))
def test_value_is_rounded_by_less_than_the_margin(value, half):
    found = digits(value, value - half, value + half)
    assert abs(number(found.value) - value) <= 0.5 * half + 1e-9


@given(st.floats(0.5, 1e5), st.floats(0.05, 0.9), st.floats(0.05, 3.0))
def test_an_interval_keeps_its_width_and_its_order(value, below, above):
    low, high = value * (1 - below), value * (1 + above)
    found = (
        money_digits(value, low, high) if high - low > 100 else digits(value, low, high, wide=0.0)
    )
    if found.low is None:
        return
    half = (high - low) / 2
    low_p, value_p, high_p = number(found.low), number(found.value), number(found.high)
    assert low_p <= value_p <= high_p
    assert low_p <= low + 0.15 * half + 0.011
    assert high_p >= high - 0.15 * half - 0.011


def test_a_depth_reads_as_people_say_it():
    found = digits(4.1, 3.1, 5.1, 0.1, 0.2)
    assert (found.value, found.low, found.high) == ("4", "3", "5")


@given(st.floats(-1e6, 1e6), st.integers(-3, 4))
def test_grouping_never_prints_a_negative_nought(value, decimals):
    text = grouped(value, decimals)
    assert not (text.startswith("-") and number(text) == 0.0)
    assert math.isclose(number(text), round(value, decimals), abs_tol=1e-9)
