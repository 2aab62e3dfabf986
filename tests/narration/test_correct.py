"""Mis-heard trade words: by list, by sound and spelling, always gated, always shown."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.talk import Cue
from saltglaze.narration.correct import corrected
from saltglaze.narration.sound import edit_distance, sound_key
from saltglaze.narration.words import words_of


def understood(text):
    words, corrections = corrected(words_of([Cue(start_s=0.0, end_s=4.0, text=text)]))
    return " ".join(word.text for word in words), corrections


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("roots", "rutes"),
        ("clay", "klay"),
        ("fracture", "frakture"),
        ("knick", "nick"),
        ("phase", "faze"),
        ("crack", "krak"),
        ("encrustation", "inkrustation"),
    ],
)
def test_words_of_like_sound_share_a_key(one, other):
    assert sound_key(one) == sound_key(other)


def test_words_of_unlike_sound_do_not():
    assert len({sound_key(w) for w in ("crack", "root", "joint", "offset", "belly")}) == 5


@pytest.mark.parametrize(
    ("a", "b", "steps"),
    [
        ("root", "root", 0),
        ("root", "roots", 1),
        ("caly", "clay", 1),
        ("belly", "billy", 1),
        ("tap", "wye", 3),
    ],
)
def test_edit_distance_counts_a_swap_as_one(a, b, steps):
    assert edit_distance(a, b) == steps


@settings(max_examples=200, deadline=None)
@given(st.text("abcdef", max_size=8), st.text("abcdef", max_size=8))
def test_edit_distance_is_a_distance(a, b):
    assert edit_distance(a, b) == edit_distance(b, a)
    assert (edit_distance(a, b) == 0) == (a == b)


def test_an_unlisted_spelling_is_understood_by_its_sound_beside_trade_words():
    text, corrections = understood("some enkrustation at the joint")
    assert "encrustation" in text
    assert [c.heard for c in corrections] == ["enkrustation"]
    assert "joint" in corrections[0].because


def test_without_trade_words_near_nothing_is_corrected():
    assert understood("the enkrustation of my aunt")[1] == ()


def test_plain_words_are_never_corrected_by_sound_alone():
    assert understood("the client claimed his green dream at the joint") == (
        "the client claimed his green dream at the joint",
        (),
    )


def test_spellings_that_are_no_mistake_are_taken_silently():
    text, corrections = understood("there is a p v c clean-out")
    assert "pvc" in text
    assert corrections == ()


def test_a_corrected_word_keeps_its_time():
    words, _ = corrected(words_of([Cue(start_s=10.0, end_s=14.0, text="routes at the joint")]))
    assert words[0].text == "roots"
    assert 10.0 <= words[0].start_s < words[0].end_s <= 14.0


@pytest.mark.parametrize(
    ("heard", "meant"),
    [
        ("the joints pulled apart", "the joint 's pulled apart"),
        ("gaskets hanging down", "gasket 's hanging down"),
        ("the joints are good", "the joints are good"),
        ("roots hanging down", "roots hanging down"),
        ("water drains off here", "water drains off here"),
        ("it levels out and drains dry", "it levels out and drains dry"),
        ("it opens up and runs back", "it opens up and runs back"),
    ],
)
def test_a_lost_apostrophe_is_given_back_before_a_state_only(heard, meant):
    assert understood(heard) == (meant, ())
