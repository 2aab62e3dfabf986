"""Where the camera goes in and which way, told in anybody's words; what a tap serves."""

from __future__ import annotations

import pytest

from saltglaze.model.talk import Cue, LineFactKind, Transcript
from saltglaze.narration import listen


def facts(*remarks, first_s=2.0):
    """The facts heard in remarks, nine seconds apart."""
    cues = tuple(
        Cue(start_s=first_s + 9.0 * i, end_s=first_s + 9.0 * i + 4.0, text=text)
        for i, text in enumerate(remarks)
    )
    return {fact.kind: fact.value for fact in listen(Transcript(cues=cues)).facts}


@pytest.mark.parametrize(
    ("remark", "way"),
    [
        ("I'm headed for the lane.", "with_flow"),
        ("We're pushing on toward the soakaway.", "with_flow"),
        ("Camera pointed at the highway.", "with_flow"),
        ("Running back up to the school.", "against_flow"),
        ("I go against the stream here.", "against_flow"),
        ("We're looking up from the pit.", "against_flow"),
        ("Going with the fall.", "with_flow"),
    ],
)
def test_which_way_the_camera_goes(remark, way):
    assert facts(remark)[LineFactKind.DIRECTION] == way


def test_later_the_same_words_tell_no_direction():
    assert LineFactKind.DIRECTION not in facts("The pipe goes on up to the school.", first_s=200.0)


@pytest.mark.parametrize(
    "remark",
    [
        "Lid's off at number nine.",
        "I've popped the cap by the shed.",
        "We start in the sump by the gate.",
        "In at the grating, hundred mil.",
    ],
)
def test_where_the_camera_goes_in(remark):
    assert LineFactKind.START_ACCESS in facts(remark)


@pytest.mark.parametrize(
    "remarks",
    [
        ("Wye on the left, that's the upstairs loo.",),
        ("Tap on the right, from the laundry I think.",),
        ("Branch at nine o'clock.", "That'd be unit four."),
    ],
)
def test_what_a_tap_serves(remarks):
    assert LineFactKind.HOUSE_CONNECTION in facts(*remarks, first_s=100.0)
    assert LineFactKind.HOUSE_CONNECTION not in facts("Tap on the left, dry.", first_s=100.0)


def test_an_end_of_the_line_is_no_way_to_go():
    told = facts("Access is the downstream manhole, working upstream.")
    assert told[LineFactKind.DIRECTION] == "against_flow"


@pytest.mark.parametrize(
    "remark",
    [
        "So this is the run from the bungalow, hundred mil clay.",
        "Well, I figured plastic and it's old terracotta.",
    ],
)
def test_what_the_line_is_made_of_behind_other_words(remark):
    assert facts(remark)[LineFactKind.MATERIAL] == "clay"
