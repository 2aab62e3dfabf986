"""The word error rate of the speech benchmark.

Checked against worked examples of the edit distance: "kitten" to "sitting" is 3 and
"saturday" to "sunday" is 3 (the textbook pairs, from memory), letters standing for words.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.model.talk import Cue

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import score_speech

WORDS = st.lists(st.sampled_from(["root", "wye", "two", "joint"]), max_size=12)


def edits(said: list[str], heard: list[str]) -> int:
    return sum(a != b for a, b in score_speech.alignment(said, heard))


@pytest.mark.parametrize(
    ("said", "heard", "count"),
    [("kitten", "sitting", 3), ("saturday", "sunday", 3), ("", "abc", 3), ("abc", "abc", 0)],
)
def test_edits_are_the_least(said: str, heard: str, count: int) -> None:
    assert edits(list(said), list(heard)) == count


@given(WORDS, WORDS)
def test_an_alignment_keeps_both_sides_and_counts_the_same_either_way(
    said: list[str], heard: list[str]
) -> None:
    pairs = score_speech.alignment(said, heard)
    assert [a for a, _ in pairs if a] == said
    assert [b for _, b in pairs if b] == heard
    assert edits(said, heard) == edits(heard, said)
    assert abs(len(said) - len(heard)) <= edits(said, heard) <= max(len(said), len(heard))


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("42 feet", "forty two feet"),
        ("Forty-two feet.", "forty two feet"),
        ("at 2 o'clock, 12.5%", "at two oclock twelve point five percent"),
        ("3000 PSI", "three thousand psi"),
        ("112 metres", "one hundred twelve meters"),
    ],
)
def test_figures_and_words_read_alike(written: str, read: str) -> None:
    assert score_speech.plain_words(written) == read.split()


def test_mixed_up_words_are_counted_in_runs() -> None:
    said = ["roots", "at", "two", "oclock"]
    heard = ["roots", "set", "to", "the", "clock"]
    counts = score_speech.confusions(score_speech.alignment(said, heard))
    assert sum(counts.values()) == 1
    ((missed, taken_for),) = counts
    assert missed.endswith("two oclock")
    assert taken_for.endswith("to the clock")


def test_labels_move_with_speech_that_outlasts_its_slot(monkeypatch: pytest.MonkeyPatch) -> None:
    two_s = np.ones(2 * score_speech.RATE_HZ, np.float32)
    monkeypatch.setattr(score_speech, "speak", lambda text, *voice: two_s)
    cues = [Cue(start_s=at, end_s=at + 1, text="x") for at in (0.0, 1.0, 9.0)]
    spoken = score_speech.speak_talk(cues, ("en", 150, 50), None)
    assert spoken.is_s == pytest.approx([0.0, 2.9, 9.0])
    assert spoken.moved(1.0) == pytest.approx(2.9)
    assert spoken.moved(9.5) == pytest.approx(9.5)
    assert float(np.abs(spoken.audio).max()) == 1.0
