"""Sentences an owner can read."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze.condition.plain import plain_name, plain_sentence
from saltglaze.condition.wording import METRIC, US
from saltglaze.model.appraisal import FindingPlace
from saltglaze.model.base import Estimate
from saltglaze.model.finding import (
    KINDS,
    Certainty,
    Clock,
    DraftedBy,
    Evidence,
    Facts,
    Feature,
    Finding,
)


def sentence(words=US, station=None, **facts):
    finding = Finding(id="f", draft=Facts(**facts), evidence=Evidence(drafted_by=DraftedBy.TYPED))
    clock = facts.get("clock")
    place = FindingPlace(finding_id="f", station_m=station or Estimate.of(12.8, 0.05), clock=clock)
    return plain_sentence(finding, place, words)


def test_it_says_what_where_and_how_much():
    text = sentence(
        feature=Feature.ROOTS,
        kind="fine",
        at_joint=True,
        clock=Clock(from_h=0.0),
        section_share=Estimate.of(0.15, 0.05),
    )
    assert text == (
        "42 ft from the start: fine roots at a joint, at the top of the pipe. "
        "About 15 % of the pipe is filled."
    )


def test_metric_words():
    text = sentence(METRIC, feature=Feature.OPEN_JOINT, width_m=Estimate.of(0.012, 0.001))
    assert text.startswith("12.8 m from the start")
    assert "12 mm" in text


def test_a_wide_margin_is_said_and_an_unknown_place_too():
    assert "give or take 3 ft" in sentence(station=Estimate.of(12.8, 0.5), feature=Feature.CRACK)
    unknown = sentence(station=Estimate.unknown("no counter"), feature=Feature.CRACK)
    assert unknown.startswith("At a place not fixed along the line")


def test_a_supposed_finding_is_perhaps_there():
    assert "perhaps a hole" in sentence(feature=Feature.HOLE, certainty=Certainty.SUPPOSED)


def test_a_void_is_told_before_soil():
    text = sentence(feature=Feature.HOLE, void_visible=True, soil_visible=True)
    assert text.endswith("The ground behind the pipe is missing.")


@pytest.mark.parametrize("feature", list(Feature))
def test_every_feature_has_everyday_words(feature):
    for kind in (None, *KINDS.get(feature, ())):
        name = plain_name(Facts(feature=feature, kind=kind))
        assert name
        assert "_" not in name


def test_dates_are_said_as_the_reader_says_them():
    day = dt.date(2026, 8, 12)
    assert US.date(day) == "August 12, 2026"
    assert METRIC.date(day) == "12 August 2026"


@given(st.floats(0.0, 12.0, exclude_max=True), st.one_of(st.none(), st.floats(0.0, 11.9)))
def test_any_clock_can_be_said(from_h, to_h):
    text = sentence(feature=Feature.CRACK, clock=Clock(from_h=from_h, to_h=to_h))
    assert "of the pipe." in text


@pytest.mark.parametrize(
    ("slope", "said"), [(1 / 48, "1/4 in per ft"), (1 / 96, "1/8 in per ft"), (0.03, "0.36 in")]
)
def test_a_slope_is_said_as_codes_name_it(slope, said):
    assert said in US.slope(slope)
