"""A film's own digits, learned from what time has settled."""

from __future__ import annotations

import numpy as np
import pytest

from saltglaze.sight.counter.own_digits import relearned
from saltglaze.sight.counter.settle import settle
from saltglaze.sight.counter.words import Number

WIDTH = 12


def film(values, seed, confused=0.0):
    """Readings with looks true to their digits; a share of eights is taken for threes."""
    draw = np.random.default_rng(seed)
    shapes = draw.normal(0, 1, (10, WIDTH))
    made = []
    for value in values:
        text = f"{value:04d}"
        odds = np.full((4, 10), 0.002)
        for place, char in enumerate(text):
            odds[place, int(char)] = 0.98
            if char == "8" and draw.random() < confused:
                odds[place, 3], odds[place, 8] = 0.7, 0.28
        odds /= odds.sum(axis=1, keepdims=True)
        looks = shapes[[int(c) for c in text]] + draw.normal(0, 0.25, (4, WIDTH))
        shown = "".join(str(int(d)) for d in odds.argmax(axis=1))
        made.append(
            Number(
                f"{shown[:3]}.{shown[3]}",
                False,
                1,
                odds.astype(np.float32),
                0.9,
                0,
                60,
                None,
                False,
                False,
                False,
                looks.astype(np.float16),
            )
        )
    return made


def test_learning_gives_eights_back_that_were_read_as_threes():
    values = list(range(760, 920))
    numbers = film(values, 3, confused=0.5)
    course = settle(np.arange(160) * 0.2, numbers, 1, 0.03048)
    learned = relearned(numbers, course, 1)
    assert learned is not None
    before = np.mean([n.value == v for n, v in zip(numbers, values, strict=True)])
    after = np.mean(
        [
            int("".join(str(d) for d in n.digits.argmax(axis=1))) == v
            for n, v in zip(learned, values, strict=True)
        ]
    )
    assert before < 0.8
    assert after > 0.97


def test_odds_stay_odds_and_missing_readings_stay_missing():
    values = list(range(100, 160))
    numbers = [*film(values, 4), None]
    course = settle(np.arange(61) * 0.2, numbers, 1, 0.03048)
    learned = relearned(numbers, course, 1)
    assert learned[-1] is None
    assert all(n.digits.sum(axis=1) == pytest.approx(np.ones(4), abs=1e-4) for n in learned[:-1])


def test_too_few_examples_teach_nothing():
    numbers = film([111, 111, 111], 5)
    course = settle(np.arange(3) * 0.2, numbers, 1, 0.03048)
    assert relearned(numbers, course, 1) is None
