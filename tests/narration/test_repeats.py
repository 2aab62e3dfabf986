"""Remarks that name nothing and repeat: each in words that no table of phrases holds."""

from __future__ import annotations

from functools import partial

import pytest
import talk_kit

from saltglaze.model.finding import Feature

drafts = partial(talk_kit.drafts, every_s=12.0)


@pytest.mark.parametrize(
    ("remark", "times"),
    [
        ("And in the next, a little less.", 1),
        ("Also the next length, and the next.", 2),
        ("The next one too, and the one after that.", 2),
        ("And the following section, not as much.", 1),
        ("Yep, next collar, same deal, and the one after.", 2),
        ("Again on the other side, two o'clock.", 1),
        ("Next one's clean.", 0),
        ("And the one after that is tight.", 0),
        ("Next joint.", 0),
        ("And the next one?", 0),
        ("The customer next door called again.", 0),
    ],
)
def test_a_remark_repeats_as_often_as_it_steps_on(remark, times):
    found = drafts("Fine roots at the joint at ten o'clock.", remark)
    assert [d.feature for d in found] == [Feature.ROOTS] * (1 + times)
    assert all(d.at_joint for d in found[1:]) or "side" in remark


def test_the_next_joint_is_another_place():
    assert [d.feature for d in drafts("Roots top. Roots next joint.")] == [Feature.ROOTS] * 2


def test_what_is_the_same_as_the_first_is_found_by_its_word():
    found = drafts(
        "There's a gasket hanging down.",
        "Crack at two o'clock.",
        "Gasket again, same as the first one.",
    )
    assert [d.feature for d in found] == [
        Feature.INTRUDING_SEAL,
        Feature.CRACK,
        Feature.INTRUDING_SEAL,
    ]


@pytest.mark.parametrize(
    ("remark", "share"),
    [
        ("Gets worse, that's twenty.", 0.2),
        ("Still more of it now, about eighteen percent.", 0.18),
        ("And here it's bigger again, a third.", 1 / 3),
        ("Better here, say eight.", 0.08),
    ],
)
def test_what_was_measured_is_measured_again(remark, share):
    found = drafts("The pipe's oval, ten percent.", "Moving up.", remark)
    assert [d.feature for d in found] == [Feature.DEFORMATION] * 2
    assert found[1].deformation_share.value == pytest.approx(share, abs=1e-3)
    assert found[1].grade_word is None


@pytest.mark.parametrize(
    "remark", ["Better picture now, about time.", "That's fifteen more minutes."]
)
def test_a_number_that_compares_nothing_measures_nothing(remark):
    assert len(drafts("The pipe's oval, ten percent.", remark)) == 1


def test_worse_tells_it_anew_and_its_size_may_follow():
    found = drafts("The pipe's oval, ten percent.", "Worse again here. Call that thirty.")
    assert [d.deformation_share.value for d in found] == [pytest.approx(0.1), pytest.approx(0.3)]


def test_and_the_other_side_is_one_more_only_where_the_first_has_a_side():
    assert [d.screen for d in drafts("Crack on the left.", "And the right.")] == ["left", "right"]
    assert [d.screen for d in drafts("Crack here.", "And on the right.")] == ["right"]


def test_rising_water_stays_one_stretch():
    (draft,) = drafts("Standing water, ten percent.", "Getting deeper, now it's thirty percent.")
    assert draft.feature is Feature.STANDING_WATER


@pytest.mark.parametrize(
    ("remark", "times"),
    [
        ("Roots here and then the next joint has a few more.", 2),
        ("Cracked here, and the next length is the same.", 2),
        ("Roots here, and they go on to the next joint.", 1),
        ("After this crack there's another, at four o'clock.", 1),
        ("Two cracks, ten and two o'clock.", 2),
    ],
)
def test_the_next_in_the_same_breath(remark, times):
    assert len(drafts("First joint's fine.", remark)) == times
