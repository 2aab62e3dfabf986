"""Time decides: course, confidence, resets, on readings with known truth."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.sight.counter.settle import settle
from saltglaze.sight.counter.words import Number

FOOT_TENTH_M = 0.03048


def number(text, sure=0.97, rivals=()):
    """A reading of ``text``; ``rivals`` gives (position, digit, odds) of second thoughts."""
    figures = [int(c) for c in text if c.isdigit()]
    odds = np.full((len(figures), 10), (1 - sure) / 9, np.float32)
    odds[np.arange(len(figures)), figures] = sure
    for position, digit, odd in rivals:
        odds[position] *= (1 - odd) / odds[position].sum()
        odds[position, digit] = odd
    decimals = len(text.split(".")[1]) if "." in text else None
    return Number(text, text[0] == "-", decimals, odds, sure, 0, 50, None, False, False, False)


def course_of(texts, gap_s=0.2, decimals=1):
    readings = [t if isinstance(t, Number) or t is None else number(t) for t in texts]
    return settle(np.arange(len(texts)) * gap_s, readings, decimals, FOOT_TENTH_M)


def shown(values):
    return [f"{v / 10:.1f}" for v in values]


@given(
    start=st.integers(0, 2000),
    steps=st.lists(st.integers(-2, 3), min_size=5, max_size=60),
)
@settings(max_examples=40, deadline=None)
def test_a_clean_course_is_kept_as_read(start, steps):
    values = np.abs(start + np.cumsum(steps))
    course = course_of(shown(values))
    assert course.value.tolist() == values.tolist()
    assert np.all((course.probability > 0.5) & (course.probability <= 1 + 1e-9))


@given(at=st.integers(5, 25), long=st.integers(1, 2), seed=st.integers(0, 10_000))
@settings(max_examples=30, deadline=None)
def test_a_slip_of_the_tens_digit_is_mended(at, long, seed):
    rng = np.random.default_rng(seed)
    values = 150 + np.cumsum(rng.integers(0, 3, 32))
    texts = shown(values)
    for k in range(at, at + long):
        texts[k] = f"{(values[k] + 500) / 10:.1f}"
    assert course_of(texts).value.tolist() == values.tolist()


def test_three_and_eight_confused_with_second_thoughts_is_settled_by_the_neighbours():
    values = np.arange(128, 148)
    texts = shown(values)
    texts[10] = number("18.8", sure=0.6, rivals=((1, 3, 0.3),))
    course = course_of(texts)
    assert course.value.tolist() == values.tolist()
    assert course.probability[10] > 0.8


def test_a_reset_to_zero_is_followed_at_once():
    values = [*range(200, 215), *range(0, 15)]
    assert course_of(shown(values)).value.tolist() == values


def test_a_jump_that_lasts_is_followed():
    values = [*range(200, 215), *range(700, 730)]
    assert course_of(shown(values)).value.tolist() == values


def test_backing_up_is_followed():
    values = [*range(100, 130), *range(130, 90, -1)]
    assert course_of(shown(values)).value.tolist() == values


def test_gaps_are_filled_with_less_confidence():
    texts = [*shown(range(100, 110)), None, None, None, *shown(range(110, 120))]
    course = course_of(texts)
    assert 109 <= course.value[11] <= 110
    assert course.probability[11] < course.probability[3]


def test_a_lost_point_and_a_lost_first_digit_are_mended():
    values = list(range(1200, 1230))
    texts = shown(values)
    texts[7] = texts[7].replace(".", "")
    texts[15] = texts[15][1:]
    assert course_of(texts).value.tolist() == values


def test_whole_numbers_are_followed():
    values = [10, 10, 11, 11, 12, 12, 13]
    assert course_of([str(v) for v in values], decimals=0).value.tolist() == values


def test_confidence_says_when_two_courses_are_as_good():
    doubtful = number("13.5", sure=0.99, rivals=((1, 8, 0.495),))
    course = course_of([doubtful] * 6)
    assert course.probability.max() < 0.75
    assert course.probability.min() == pytest.approx(course.probability.max(), abs=0.2)
