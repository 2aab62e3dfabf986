"""What the reader's odds say in characters and numbers."""

from __future__ import annotations

import numpy as np
import pytest

from saltglaze.model.run import LengthUnit
from saltglaze.sight.counter.nets import CHARSET
from saltglaze.sight.counter.words import characters, numbers

FT, M = LengthUnit.FEET, LengthUnit.METRES


def odds_for(text, unsure=()):
    """Odds as a sure reader gives them: each character two steps, a blank after it.

    The characters at the positions ``unsure`` are only just read.
    """
    rows = []
    for at, char in enumerate(text):
        row = np.full(len(CHARSET) + 1, 0.001, np.float32)
        row[CHARSET.index(char) + 1] = 0.978
        if at in unsure:
            row[0], row[CHARSET.index(char) + 1] = 0.378, 0.6
        blank = np.full(len(CHARSET) + 1, 0.001, np.float32)
        blank[0] = 0.978
        rows += [row, row, blank]
    return np.array(rows)


def read(text):
    return numbers(characters(odds_for(text)))


def test_characters_come_back_in_order_with_repeats():
    assert "".join(c.char for c in characters(odds_for("0112.33'"))) == "0112.33'"


@pytest.mark.parametrize(
    ("shown", "value", "decimals", "unit"),
    [
        ("12.3", 123, 1, None),
        ("0012.3", 123, 1, None),
        ("12.34 m", 1234, 2, M),
        ("12.34m", 1234, 2, M),
        ("12.3'", 123, 1, FT),
        ("12.3 ft", 123, 1, FT),
        ("12.3ft.", 123, 1, FT),
        ("12.3 f##t", 123, 1, FT),
        ("12,3", 123, 1, None),
        ("+12.3", 123, 1, None),
        ("-0.4", -4, 1, None),
        ("##t: 7.5", 75, 1, None),
        ("###t:9.8ft", 98, 1, FT),
        ("118", 118, None, None),
    ],
)
def test_numbers_as_counters_write_them(shown, value, decimals, unit):
    (number,) = read(shown)
    assert (number.value, number.decimals, number.unit) == (value, decimals, unit)


@pytest.mark.parametrize(
    "shown",
    [
        "10:12:44",
        "2031-04-17",
        "04/17/2031",
        "17.04.2031",
        "##### t",
        "m#t#",
        "##9#",
        "12:3",
        "3/8",
    ],
)
def test_clocks_dates_and_words_are_no_numbers(shown):
    assert read(shown) == []


def test_an_unsure_second_point_is_a_speck_and_a_sure_one_makes_a_date():
    (number,) = numbers(characters(odds_for("0.45.9ft", unsure=(1,))))
    assert (number.value, number.decimals, number.unit) == (459, 1, FT)
    assert read("0.45.9ft") == []


def test_a_number_before_another_word_is_marked():
    (number,) = read("14.2 ##9#")
    assert number.suffixed
    assert number.unit is None


def test_odds_of_the_digits_sum_to_one():
    (number,) = read("0468.2")
    assert number.digits.shape == (5, 10)
    assert number.digits.sum(axis=1) == pytest.approx(np.ones(5), abs=1e-5)
