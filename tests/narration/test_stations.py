"""Distances called out aloud, whole, clipped and damaged by speech-to-text."""

from __future__ import annotations

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import listen
from saltglaze.units import M_PER_FT

METRIC = ("Two metres, tap on the left.", "Good here.")
FEET = ("Nine feet, tap on the left.", "Good here.")


def heard_m(before, remark):
    """The distances heard in a remark, in metres."""
    cues = tuple(
        Cue(start_s=20.0 * i, end_s=20.0 * i + 5.0, text=text)
        for i, text in enumerate((*before, remark))
    )
    return [s.distance_m.value for s in listen(Transcript(cues=cues)).stations if s.time_s >= 40.0]


@pytest.mark.parametrize(
    ("remark", "metres"),
    [
        ("Four metres six, crack on top.", 4.6),
        ("Tap on the left, three metres one.", 3.1),
        ("Six metres and forty, roots.", 6.4),
        ("three point ate metres crack on the left", 3.8),
        ("for point too roots at the joint", 4.2),
        ("Five metres nothing new.", 5.0),
        ("Ponding ends four point six.", 4.6),
    ],
)
def test_metres_and_their_tenths(remark, metres):
    assert heard_m(METRIC, remark) == [pytest.approx(metres)]


@pytest.mark.parametrize(
    ("remark", "feet"),
    [
        ("thirteen feet pit on the left", 13),
        ("twenty ate there is a tap", 28),
        ("fore teen feet crack up top", 14),
        ("out of the belly at thirty too", 32),
        ("The water quits at nine teen feet.", 19),
        ("Okay out of that fifteen and a half feet.", 15.5),
        ("At eighteen they switched to plastic.", 18),
    ],
)
def test_feet_through_bad_ears(remark, feet):
    assert heard_m(FEET, remark) == [pytest.approx(feet * M_PER_FT)]


@pytest.mark.parametrize(
    "remark",
    [
        "A crack, two o'clock, four metres long.",
        "It runs for six metres.",
        "About three metres of silt.",
        "One point for the crew.",
        "He ate lunch at two too.",
    ],
)
def test_what_is_no_distance_called_out(remark):
    assert heard_m(METRIC, remark) == []


def test_who_says_metres_may_say_inches():
    assert heard_m(("Two metres, a two inch gap.", "Half inch here."), "Three one, dip.") == [
        pytest.approx(3.1)
    ]


@pytest.mark.parametrize(
    ("remark", "feet"),
    [
        ("twenty six another tap on the left", 26),
        ("thirty one feet pump house", 31),
        ("and theres the far wall fifty two feet", 52),
    ],
)
def test_distances_in_talk_without_marks(remark, feet):
    assert heard_m(FEET, remark) == [pytest.approx(feet * M_PER_FT)]


def test_eight_foot_is_how_long_and_eight_feet_where():
    assert heard_m(FEET, "Twelve foot lengths in here.") == []
    assert heard_m(FEET, "Twelve feet catch basin.") == [pytest.approx(12 * M_PER_FT)]


@pytest.mark.parametrize(("digit", "metres"), [("two", 1.2), ("five", 1.5), ("nine", 1.9)])
def test_one_and_a_digit_open_a_remark_as_metres_and_tenths(digit, metres):
    said = heard_m(
        ("Point eight metres, clay.", "Good here."), f"One {digit}, and there it is, roots."
    )
    assert said == [pytest.approx(metres)]
