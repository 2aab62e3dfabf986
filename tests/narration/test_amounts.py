"""Spoken numbers and units, as said and as speech-to-text damages them."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.talk import Cue
from saltglaze.narration.amounts import amounts_in
from saltglaze.narration.numbers import Measure
from saltglaze.narration.words import words_of
from saltglaze.units import M_PER_FT, M_PER_IN, PA_PER_PSI

ONES = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
]
ONES += ["fifteen", "sixteen", "seventeen", "eighteen", "nineteen"]
TENS = """twenty thirty forty fifty sixty seventy eighty ninety""".split()  # noqa: SIM905 - a table reads better


def say(n: int) -> str:
    """Say a whole number below ten thousand the long way."""
    if n < 20:
        return ONES[n]
    if n < 100:
        tens, ones = divmod(n, 10)
        return TENS[tens - 2] + (f" {ONES[ones]}" if ones else "")
    if n < 1000:
        hundreds, rest = divmod(n, 100)
        return f"{ONES[hundreds]} hundred" + (f" and {say(rest)}" if rest else "")
    thousands, rest = divmod(n, 1000)
    return f"{say(thousands)} thousand" + (f" {say(rest)}" if rest else "")


def heard(text: str):
    words = [word.text for word in words_of([Cue(start_s=0.0, text=text)])]
    return [found.amount for found in amounts_in(words)]


def only(text: str):
    (amount,) = heard(text)
    return amount


@settings(max_examples=400, deadline=None)
@given(st.integers(0, 9999))
def test_what_is_said_is_heard(n):
    assert only(f"at {say(n)} feet").value == pytest.approx(n * M_PER_FT)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 999), st.integers(0, 9))
def test_decimals_said_are_heard(n, tenth):
    amount = only(f"counter {say(n)} point {ONES[tenth]} metres")
    assert amount.value == pytest.approx(n + tenth / 10)


@settings(max_examples=200, deadline=None)
@given(st.integers(0, 9999), st.sampled_from(["feet", "ft", "inches", "metres", "mm", "percent"]))
def test_digits_are_heard_like_words(n, unit):
    spoken, written = only(f"about {say(n)} {unit}"), only(f"about {n} {unit}")
    assert spoken.value == pytest.approx(written.value)
    assert spoken.measure is written.measure


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12))
def test_hours_are_heard(hour):
    assert only(f"at {say(hour)} o'clock").value == hour % 12
    assert only(f"at {hour} o'clock").value == hour % 12


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("one eighty", 180),
        ("one oh five", 105),
        ("nineteen fifty-two", 1952),
        ("hundred and twelve", 112),
        ("a hundred and forty two", 142),
        ("fifteen hundred", 1500),
        ("two two five", 225),
        ("forty two point five", 42.5),
        ("twenty-two and a half", 22.5),
        ("22 and a half", 22.5),
        ("27 1/2", 27.5),
        ("3,000", 3000),
    ],
)
def test_ways_of_saying_a_number(text, value):
    assert only(text).value == pytest.approx(value)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("four inch", 4 * M_PER_IN),
        ("a quarter inch", 0.25 * M_PER_IN),
        ("three quarters of an inch", 0.75 * M_PER_IN),
        ("one and a half inches", 1.5 * M_PER_IN),
        ("inch and a half", 1.5 * M_PER_IN),
        ("about an inch", M_PER_IN),
        ("twenty-seven and a half feet", 27.5 * M_PER_FT),
        ("27 foot six", 27.5 * M_PER_FT),
        ("27 feet 6 inches", 27.5 * M_PER_FT),
        ("27'6\"", 27.5 * M_PER_FT),
        ("ten feet and a half", 10.5 * M_PER_FT),
        ("point three metres", 0.3),
        ("150mm", 0.15),
        ("fifteen mil", 0.015),
        ("a couple of feet", 2 * M_PER_FT),
    ],
)
def test_lengths_in_every_unit_of_the_trade(text, metres):
    amount = only(text)
    assert amount.measure is Measure.LENGTH
    assert amount.value == pytest.approx(metres)


@pytest.mark.parametrize(
    ("text", "low", "high"),
    [
        ("nine to three o'clock", 9, 3),
        ("between ten and two o'clock", 10, 2),
        ("two o'clock round to seven", 2, 7),
        ("twenty to thirty percent", 0.2, 0.3),
        ("twenty, twenty five percent", 0.2, 0.25),
        ("two or three inches", 2 * M_PER_IN, 3 * M_PER_IN),
        ("from ten to two", 10, 2),
    ],
)
def test_ranges(text, low, high):
    amount = only(text)
    assert (amount.value, amount.to) == (pytest.approx(low), pytest.approx(high))


@pytest.mark.parametrize(
    ("text", "share"),
    [("half full", 0.5), ("a third of the pipe", 1 / 3), ("three quarters blocked", 0.75)],
)
def test_shares_without_percent(text, share):
    amount = only(text)
    assert amount.measure is Measure.SHARE
    assert amount.value == pytest.approx(share)


@pytest.mark.parametrize(
    ("text", "measure", "value"),
    [
        ("at for the two feet", Measure.LENGTH, 42 * M_PER_FT),
        ("crack to the clock", Measure.CLOCK, 2),
        ("at for o'clock", Measure.CLOCK, 4),
        ("five a clock", Measure.CLOCK, 5),
        ("100 and 12 feet", Measure.LENGTH, 112 * M_PER_FT),
        ("thirty to feet", Measure.LENGTH, 32 * M_PER_FT),
        ("fifty ate feet", Measure.LENGTH, 58 * M_PER_FT),
        ("seven tea one feet", Measure.LENGTH, 71 * M_PER_FT),
        ("for inch clay", Measure.LENGTH, 4 * M_PER_IN),
        ("20 7 feet", Measure.LENGTH, 27 * M_PER_FT),
    ],
)
def test_damage_by_speech_to_text_is_mended_beside_a_unit(text, measure, value):
    amount = only(text)
    assert amount.measure is measure
    assert amount.value == pytest.approx(value)


@pytest.mark.parametrize(
    "text", ["going for the gate", "that one is fine", "to the left", "one of those", "won it too"]
)
def test_small_words_are_no_numbers_by_themselves(text):
    assert heard(text) == []


def test_pressure_in_pounds():
    assert only("three thousand psi").value == pytest.approx(3000 * PA_PER_PSI)


@settings(max_examples=300, deadline=None)
@given(
    st.lists(
        st.sampled_from(
            [
                *ONES,
                *TENS,
                "and",
                "a",
                "half",
                "point",
                "feet",
                "inch",
                "to",
                "hundred",
                "o'clock",
                "for",
                "the",
                "percent",
                "oh",
                ",",
                "12",
                "1/4",
                "3.5",
                "mm",
                "of",
                "couple",
            ]
        ),
        max_size=14,
    )
)
def test_any_jumble_of_number_words_is_read_without_overlap(words):
    found = amounts_in(words)
    ends = [0, *(item.end for item in found)]
    assert all(item.start >= end for item, end in zip(found, ends, strict=False))
    assert all(item.end <= len(words) for item in found)
