"""Stretches opened and closed in words that no table of phrases holds as a whole."""

from __future__ import annotations

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import listen


def findings(*remarks, every_s=12.0):
    """Listen to remarks, one cue each."""
    cues = tuple(
        Cue(start_s=100.0 + i * every_s, end_s=104.0 + i * every_s, text=text)
        for i, text in enumerate(remarks)
    )
    return listen(Transcript(cues=cues)).findings


@pytest.mark.parametrize(
    ("begin", "end"),
    [
        ("Gravel in the bottom from here on.", "Gravel tapers off."),
        ("Scale all along here, heavy.", "Walls are bare again, scale's done."),
        ("The roof is spalled from here.", "Roof's sound again."),
        ("Standing water here, a quarter.", "There, and she's dry."),
        ("The camera's under water.", "Okay, back."),
        ("Grease on the lens.", "Better."),
        ("Belly here, holding water.", "Up she comes, it's dry at thirty."),
    ],
)
def test_a_stretch_runs_until_the_words_that_end_it(begin, end):
    (finding,) = findings(begin, "Nothing else to say.", end)
    assert finding.end_s == pytest.approx(124.0, abs=0.1)


@pytest.mark.parametrize(
    "remark",
    [
        "Still not dry.",
        "It's about a quarter of the way up.",
        "We're up against the wall now.",
        "Is it dry yet?",
        "It won't be dry until the main.",
    ],
)
def test_words_that_end_nothing_leave_the_water_open(remark):
    (finding,) = findings("Standing water in the line here.", remark, "Now it's dry.")
    assert finding.end_s == pytest.approx(124.0, abs=0.1)


def test_a_tap_is_no_stretch():
    (finding,) = findings("Tap on the left from here.", "Long silence.", "It's done.")
    assert finding.end_s < 110.0


@pytest.mark.parametrize("begin", ["Standing water here.", "Belly starts.", "And we go under."])
@pytest.mark.parametrize(
    "end",
    [
        "Up and out.",
        "And that's the end of it, thirty feet.",
        "It levels out here.",
        "And it lets go at thirty.",
        "Running clear again.",
        "No more water.",
        "Thirty, out of it.",
        "Pipe's empty again.",
        "Water drops away again.",
        "Good fall again from here.",
        "And we're back on grade.",
    ],
)
def test_water_ends_in_many_words(begin, end):
    (finding,) = findings(begin, "Nothing else to say.", end)
    assert finding.end_s == pytest.approx(124.0, abs=2.0)


@pytest.mark.parametrize(
    "begin", ["Heavy grease from here on.", "The bottom's rusted from here on."]
)
@pytest.mark.parametrize(
    "end",
    [
        "That's the last of it.",
        "It's better from here.",
        "Good pipe from here on.",
        "It eases off.",
    ],
)
def test_what_clings_and_what_wears_end_in_many_words(begin, end):
    (finding,) = findings(begin, "Nothing else to say.", end)
    assert finding.end_s == pytest.approx(124.0, abs=2.0)
