"""What is spoken of and not claimed, in words that no table holds; and its like that is claimed."""

from __future__ import annotations

from functools import partial

import pytest
import talk_kit

from saltglaze.model.finding import Certainty, Feature

drafts = partial(talk_kit.drafts, every_s=12.0)


@pytest.mark.parametrize(
    "remark",
    [
        "I'd chop out that slab and set a new clean-out on the left.",
        "I'd have a word with them before the roots come back.",
        "We'd slip a liner through there in a morning.",
        "I would send a digger and open up that hole some more.",
        "We pushed the brush through here on Monday.",
        "It's hard to see for the steam and the water running.",
        "Can't tell with the water pouring in.",
        "That was after they put in the tap.",
        "Is that why it backs up?",
        "Somebody ought to have cut this root out.",
    ],
)
def test_what_would_be_done_was_done_or_only_hides_the_view_is_no_finding(remark):
    assert drafts(remark) == []


@pytest.mark.parametrize(
    ("remark", "feature"),
    [
        ("I'd call that a crack on the left.", Feature.CRACK),
        ("I'd put that offset at half an inch.", Feature.OFFSET_JOINT),
        ("I'd say that's a broken pipe.", Feature.BREAK),
        ("I'd never seen it before, but there's a hole at two o'clock.", Feature.HOLE),
        ("It backs up because the pipe's broken there.", Feature.BREAK),
        ("Water is coming in at the joint, look, because there's a gap.", Feature.INFILTRATION),
        ("Here the joint is open, since it's pulled apart.", Feature.OPEN_JOINT),
    ],
)
def test_what_is_said_of_the_pipe_in_like_words_is_one(remark, feature):
    assert feature in [draft.feature for draft in drafts(remark)]


def test_a_cause_is_no_second_finding():
    found = drafts("Standing water here, because all that mud came down.")
    assert [d.feature for d in found] == [Feature.STANDING_WATER]


@pytest.mark.parametrize(
    ("remark", "certainty"),
    [
        ("Tap on the left, from the laundry I guess.", Certainty.CERTAIN),
        ("Tap on the left, I guess.", Certainty.SUPPOSED),
    ],
)
def test_a_closing_hedge_is_on_the_origin_where_one_is_told(remark, certainty):
    assert [draft.certainty for draft in drafts(remark)] == [certainty]


@pytest.mark.parametrize(
    "remark",
    [
        "The fellow before me claimed it was a collapse.",
        "Nobody's roots in here.",
        "The last outfit figured it was a broken pipe.",
    ],
)
def test_what_others_hold_and_what_nobody_has_is_no_finding(remark):
    assert drafts(remark) == []
