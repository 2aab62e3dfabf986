"""What one sentence tells of one thing is one finding, whatever else its words could name."""

from __future__ import annotations

import pytest
from talk_kit import found

ONCE = (
    ("fracture", "Big split down the side of the ABS."),
    ("hole", "Whole bottom's gone out of this cast iron."),
    ("bend", "Forty-four, ninety, heading down."),
    ("tap", "One lateral, left side."),
    ("crack", "That black line is a crack, it's got water in it."),
    ("crack", "There's a crack, since the ground's settled here."),
    ("crack", "Looks to be a stress crack where the rock's sitting on it."),
    ("could_not_pass", "I can't get past here, it's too tight, she won't go."),
    ("offset_joint", "There's a bump, because the next pipe's sitting half an inch higher."),
    ("collapse", "That's collapsed, the top's down and it's full of dirt."),
    (
        "attached_deposits",
        "Lump of mineral on the left, that's from water getting in over the years.",
    ),
    ("attached_deposits", "Chalk deposit at crack."),
    ("infiltration", "Infiltration dripping at hole."),
    ("roots", "Twenty-six, root ball, big one."),
    ("roots", "One nine, more roots."),
    ("deformation", "It narrows here, the pipe's been squeezed."),
    ("angled_joint", "Bit of a kink there too, pipe heads off to the left."),
    (
        "roots",
        "What we've got, and I'll stop so you can have a good look, is a fair mass of roots.",
    ),
)


@pytest.mark.parametrize(("feature", "said"), ONCE)
def test_one_thing_told_in_one_sentence_is_one_finding(feature: str, said: str) -> None:
    assert found(said) == [feature]


def test_one_each_side_is_two() -> None:
    assert found("A lateral each side here, one on the left and one on the right.") == ["tap"] * 2


def test_a_share_without_a_name_grades_what_was_told_before() -> None:
    assert found("There's roots here.", "I'd say sixty percent blocked.") == ["roots"]


def test_soil_with_a_distance_of_its_own_lies_in_the_pipe() -> None:
    said = found("Open joint here.", "Twenty foot, mud, an inch deep, runs a ways.")
    assert said == ["open_joint", "settled_deposits"]


@pytest.mark.parametrize(
    "again",
    [
        "Couple more, right side this time.",
        "Another bunch at the next one.",
        "There's more on the next joint down.",
    ],
)
def test_more_of_it_without_a_name_is_one_more(again: str) -> None:
    assert found("There's roots here.", again) == ["roots", "roots"]


def test_a_number_and_a_side_between_stops_is_a_bend() -> None:
    assert found("Forty-five, to the left.") == ["bend"]
    assert found("Line deviates left, twenty-two and a half.") == ["bend"]


def test_a_finding_told_before_a_question_stands() -> None:
    assert found("That's a crack, see that dark line up top?") == ["crack"]


def test_a_tap_said_to_be_busted_in_is_no_break() -> None:
    assert found("Tap coming in there.", "Yeah, on the right, they just busted it in.") == ["tap"]


def test_a_warning_is_no_end_and_a_course_no_leak() -> None:
    assert "end" not in found("Now don't run over that rock.")
    assert found("Crack starts here at the hub and runs down the side.") == ["crack"]


def test_asked_to_look_where_it_let_go_tells_that_it_did() -> None:
    assert found("You see where the glue joint let go?") == ["open_joint"]


def test_so_that_is_one_names_what_was_just_shown() -> None:
    assert found("The joint let go here.", "So that's an open joint, you write that down.") == [
        "open_joint"
    ]


def test_a_second_bend_the_other_way_is_another() -> None:
    assert found("Forty five to the left.", "Forty five to the right.") == ["bend", "bend"]


def test_what_the_pipe_will_be_is_no_change_yet() -> None:
    assert found("This here is clay for a ways and then she'll go to iron.") == []


def test_the_joining_of_the_main_is_the_end_and_no_tap() -> None:
    assert found("At 52 feet, connection to main, end of inspection.") == ["end"]
