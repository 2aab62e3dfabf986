"""Which number on the picture counts distance."""

from __future__ import annotations

import numpy as np
import pytest

from saltglaze.model.run import LengthUnit
from saltglaze.sight.counter.lines import TextLine
from saltglaze.sight.counter.places import Place, judge, unit_of_place
from saltglaze.sight.counter.words import Number

LINE = TextLine(100, 200, 40, 20)


def place_of(texts, unit=None, prefixed=False, suffixed=False):
    place = Place(LINE, 100, 150)
    for at, text in enumerate(texts):
        if text is None:
            place.miss(at * 0.2)
            continue
        count = sum(c.isdigit() for c in text)
        number = Number(
            text,
            False,
            len(text.split(".")[1]) if "." in text else None,
            np.full((count, 10), 0.1, np.float32),
            0.95,
            0,
            50,
            unit,
            unit is not None,
            prefixed,
            suffixed,
        )
        place.note(at * 0.2, number, 100, 150)
    return place


def walk(count=60, rate=0.37):
    """A counter pushed, rested and pushed again."""
    steps = np.where(np.arange(count) % 20 < 12, rate, 0.0)
    return [f"{v:.1f}" for v in 12 + np.cumsum(steps)]


def test_a_walking_number_outscores_all_others():
    others = {
        "timer": place_of([f"{k * 0.2:.1f}" for k in range(60)]),
        "pressure": place_of(["14.2"] * 60, suffixed=True),
        "seconds": place_of([str(10 + k // 5) for k in range(60)]),
        "noise": place_of([f"{v:.1f}" for v in np.random.default_rng(1).uniform(0, 90, 60)]),
        "seldom": place_of([*["3.1"] * 2, *[None] * 58]),
    }
    counter = judge(place_of(walk()))
    assert counter.moves
    assert all(judge(place).score < 0.6 * counter.score for place in others.values())


def test_a_timer_is_named_a_clock():
    assert "clock" in judge(place_of([f"{k * 0.2:.1f}" for k in range(60)])).why_not


def test_a_unit_of_length_makes_a_resting_number_a_counter():
    rest = judge(place_of(["12.3"] * 30, unit=LengthUnit.FEET))
    bare = judge(place_of(["12.3"] * 30))
    assert rest.score > 0.3
    assert bare.score < 0.05
    assert "never changes" in bare.why_not


def test_zeros_in_front_mark_a_resting_counter_only_when_it_stands_alone():
    assert judge(place_of(["0012.3"] * 30)).score > 0.12
    assert judge(place_of(["0012.3"] * 30, prefixed=True)).score < 0.05


@pytest.mark.parametrize(
    ("texts", "unit", "expected", "because"),
    [
        (walk(), LengthUnit.METRES, LengthUnit.METRES, "is shown in"),
        (["1.23", "1.24", "1.25", "1.27"], None, LengthUnit.METRES, "hundredths"),
        (walk(), None, LengthUnit.FEET, "no unit is shown; taken as feet"),
    ],
)
def test_the_unit_comes_with_its_reason(texts, unit, expected, because):
    decided, reason = unit_of_place(place_of(texts, unit))
    assert decided is expected
    assert because in reason
