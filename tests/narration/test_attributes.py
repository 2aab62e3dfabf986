"""Sizes, places, courses and grades go where the words put them."""

from __future__ import annotations

import pytest
from talk_kit import drafts

from saltglaze.units import M_PER_IN


@pytest.mark.parametrize(
    ("remark", "kind"),
    [
        ("Crack here, it wanders off along the barrel.", "longitudinal"),
        ("There's a crack, it heads away from us.", "longitudinal"),
        ("A crack that carries right round.", "circumferential"),
        ("This crack goes up and over the crown.", "circumferential"),
        ("Crack at two o'clock, tight.", None),
    ],
)
def test_a_crack_runs_the_way_its_verb_says(remark, kind):
    assert [draft.kind for draft in drafts(remark)] == [kind]


@pytest.mark.parametrize(
    ("remark", "wide_m", "in_m"),
    [
        ("Tap on the left, hundred mil, sticking in about forty mil.", 0.1, 0.04),
        ("Intruding tap at nine o'clock, poking in two inches.", None, 2 * M_PER_IN),
        ("There's a four inch tap on the right, protruding an inch.", 4 * M_PER_IN, M_PER_IN),
        ("Lateral at three o'clock, six inch.", 6 * M_PER_IN, None),
    ],
)
def test_how_wide_a_tap_is_and_how_far_it_sticks_in(remark, wide_m, in_m):
    (draft,) = drafts(remark)
    assert (draft.diameter_m.value if draft.diameter_m else None) == pytest.approx(wide_m)
    assert (draft.width_m.value if draft.width_m else None) == pytest.approx(in_m)


@pytest.mark.parametrize(
    ("remark", "place"),
    [
        ("Coming up on the left there's a tap.", "left"),
        ("Crack down the right wall.", "right"),
        ("Roots, high, on the left.", "top_left"),
        ("Tap up and to the right.", "top_right"),
        ("Scale, left hand side, lower left.", "bottom_left"),
        ("Roots in the bottom right here.", "bottom"),
    ],
)
def test_a_side_is_a_corner_only_where_it_is_one(remark, place):
    assert [draft.screen for draft in drafts(remark)] == [place]


@pytest.mark.parametrize(
    "remarks",
    [
        ("See that line, on the left?", "That's a crack."),
        ("What's that over on the left?", "Yeah, that's a crack."),
        ("Look at that thing on the left wall.", "It's a crack."),
    ],
)
def test_what_was_pointed_at_gets_its_place_when_it_is_named(remarks):
    found = drafts("Tap on the right.", *remarks)
    assert [(draft.feature.value, draft.screen) for draft in found] == [
        ("tap", "right"),
        ("crack", "left"),
    ]


@pytest.mark.parametrize(
    ("remark", "grade"),
    [
        ("Hole, about as big as a plum.", None),
        ("Crack a bit further on.", None),
        ("A small pipe ties in on the left.", None),
        ("Gap in the joint, two inches wide.", None),
        ("Grease on top, not thick.", "slight"),
        ("Scale all round, heavy.", "heavy"),
        ("Deformed, a good twelve percent.", None),
    ],
)
def test_a_grade_is_no_measure(remark, grade):
    assert [draft.grade_word for draft in drafts(remark)] == [grade]


def test_a_bare_correction_has_the_unit_it_replaces():
    (draft,) = drafts("Offset joint, twelve mil, no, eighteen.")
    assert draft.width_m.value == pytest.approx(0.018)


def test_a_size_told_behind_adds_to_the_thing():
    (bend,) = drafts("She turns to the right.", "Twenty two and a half, I'd say.", every_s=5.0)
    assert bend.kind == "1/16"
    (sag,) = drafts("Belly here.", "Water's halfway up.", every_s=5.0)
    assert sag.water_share.value == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("remarks", "hour"),
    [
        (("Crack. At nine.",), 9.0),
        (("Tap, nine.",), 9.0),
        (("Roots at eight, no, nine.",), 9.0),
        (("Hole at eight.", "Make that nine."), 9.0),
        (("A root at the nine position.",), 9.0),
        (("Offset, two.",), None),
    ],
)
def test_a_bare_number_is_an_hour_only_in_its_place(remarks, hour):
    (draft,) = drafts(*remarks, every_s=5.0)
    assert (draft.clock.from_h if draft.clock else None) == hour


@pytest.mark.parametrize(
    ("remark", "place"),
    [
        ("Crack on the left, I mean right.", "right"),
        ("Roots on the far left.", "left"),
        ("Deformed, top to bottom.", None),
        ("An offset right at the wall.", None),
    ],
)
def test_a_side_taken_back_and_sides_that_are_none(remark, place):
    assert [draft.screen for draft in drafts(remark)] == [place]
