"""Does it drain: yes, no or not known, for the reason that holds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.condition.wording import METRIC
from saltglaze.flow.drainage import drainage
from saltglaze.model.appraisal import Fall, LineSegment, Position, Sag, Verdict
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.line import FactSource, FixtureCount, Line, Material

FIXTURES = (
    FixtureCount(kind="toilet", count=2),
    FixtureCount(kind="lavatory", count=2),
    FixtureCount(kind="shower", count=1),
    FixtureCount(kind="kitchen_sink", count=1),
)


def line(**facts):
    return Line(**{"id": "L", "fixtures": FIXTURES, **facts})


def segments(diameter_m=0.1016, material=Material.CLAY, end_m=30.0):
    return (
        LineSegment(
            start_m=Estimate.of(0.0, 0.1),
            end_m=Estimate.of(end_m, 0.2),
            material=material,
            diameter_m=diameter_m,
            source=FactSource.RECORD,
        ),
    )


def position(slope=None, sd=0.001, length_m=30.0):
    falls = ()
    if slope is not None:
        falls = (Fall(from_m=0.0, to_m=length_m, slope=Estimate.of(slope, sd), because="levels"),)
    return Position(length_m=Estimate.of(length_m, 0.2), falls=falls)


NOWHERE = Position(length_m=Estimate.unknown("nothing measured"))


def check(answer, name):
    return next(c for c in answer.checks if c.name == name)


def test_a_line_that_falls_and_is_clear_drains():
    answer = drainage(line(), segments(), position(1 / 48), (), "IPC 2021")
    assert answer.drains is True
    assert answer.plain.startswith("It drains: it falls all the way.")
    assert check(answer, "capacity").verdict is Verdict.GOOD
    assert check(answer, "code load").verdict is Verdict.GOOD


def test_without_a_fall_the_answer_is_open_and_says_why():
    answer = drainage(line(), segments(), position(), (), "IPC 2021")
    assert answer.drains is None
    assert "fall was not measured" in answer.plain
    assert check(answer, "fall").verdict is Verdict.SKIPPED
    assert check(answer, "fall").mend
    assert not answer.stretches[0].full_flow_m3_s.known


def test_with_nothing_at_all_it_still_answers():
    answer = drainage(Line(id="L"), (), NOWHERE, ())
    assert answer.drains is None
    assert answer.stretches == ()
    assert "not listed" in answer.peak_load


def test_running_uphill_is_told_without_any_fixture():
    answer = drainage(Line(id="L"), segments(), position(-0.01), ())
    assert answer.drains is False
    assert "uphill" in answer.plain


def test_what_was_seen_decides_even_where_the_fall_is_unknown(found):
    blocked = found("b", 12.0, feature=Feature.ROOTS, section_share=Estimate.of(0.6, 0.02))
    answer = drainage(line(), segments(), position(), [blocked])
    assert answer.drains is False
    assert "roots" in answer.plain


def test_a_shallow_pond_is_a_note_and_a_deep_one_is_not(found):
    shallow = found("s", 12.0, feature=Feature.SAG, water_share=Estimate.of(0.15, 0.01))
    deep = found("d", 12.0, feature=Feature.SAG, water_share=Estimate.of(0.6, 0.01))
    fine = drainage(line(), segments(), position(1 / 48), [shallow])
    bad = drainage(line(), segments(), position(1 / 48), [deep])
    assert fine.drains is True
    assert "held back" in fine.plain
    assert bad.drains is False


def test_a_blockage_takes_capacity_and_says_that_roots_are_an_assumption(found):
    roots = found("r", 12.0, feature=Feature.ROOTS, section_share=Estimate.of(0.2, 0.02))
    answer = drainage(line(), segments(), position(1 / 48), [roots])
    reason = next(r for r in answer.reasons if "section" in r.because)
    assert "assumption" in reason.rule
    assert "20 %" in reason.because


def test_too_small_a_pipe_is_not_enough():
    many = (FixtureCount(kind="toilet", count=60),)
    answer = drainage(line(fixtures=many), segments(0.0762), position(0.01, 0.0005), (), "IPC")
    assert answer.stretches[0].enough is False
    assert answer.stretches[0].peak_depth_share.value == 1.0
    assert "half full" in answer.stretches[0].reasons[-1].because
    assert answer.drains is False
    assert check(answer, "code load").verdict is Verdict.DOUBT


@pytest.mark.parametrize(
    ("slope", "sd", "verdict"),
    [(0.025, 0.001, Verdict.GOOD), (0.012, 0.001, Verdict.DOUBT), (0.0205, 0.003, Verdict.NOTE)],
)
def test_the_fall_asked_for_is_judged_with_its_margin(slope, sd, verdict):
    answer = drainage(line(slope_required=1 / 48), segments(), position(slope, sd), ())
    assert check(answer, "fall").verdict is verdict


def test_two_per_cent_passes_for_a_quarter_inch_per_foot():
    answer = drainage(line(slope_required=1 / 48), segments(), position(0.02, 0.0), ())
    assert check(answer, "fall").verdict is Verdict.GOOD


def test_a_fixture_we_do_not_know_is_left_out_and_only_that():
    odd = (*FIXTURES, FixtureCount(kind="fish_tank", count=1))
    known = drainage(line(), segments(), position(1 / 48), (), "IPC")
    answer = drainage(line(fixtures=odd), segments(), position(1 / 48), (), "IPC")
    assert answer.stretches[0].peak_flow_m3_s == known.stretches[0].peak_flow_m3_s
    assert any("fish_tank" in c.reason for c in answer.checks)


def test_the_european_way_of_counting():
    answer = drainage(line(), segments(), position(0.02), (), "EN 12056-2:2000", words=METRIC)
    assert "L/s" in answer.peak_load
    assert answer.stretches[0].peak_flow_m3_s.value == pytest.approx(0.002)


def test_stretches_follow_bore_and_slope():
    two = (
        LineSegment(
            start_m=Estimate.of(0.0, 0.0),
            end_m=Estimate.of(4.0, 0.1),
            material=Material.CAST_IRON,
            diameter_m=0.1016,
            source=FactSource.RECORD,
        ),
        LineSegment(
            start_m=Estimate.of(4.0, 0.1),
            end_m=Estimate.of(30.0, 0.1),
            material=Material.CLAY,
            diameter_m=0.1524,
            source=FactSource.RECORD,
        ),
    )
    falls = (
        Fall(from_m=0.0, to_m=10.0, slope=Estimate.of(0.02, 0.001)),
        Fall(from_m=10.0, to_m=30.0, slope=Estimate.of(0.01, 0.001)),
    )
    answer = drainage(line(), two, Position(length_m=Estimate.of(30.0, 0.1), falls=falls), ())
    assert [(s.from_m, s.to_m) for s in answer.stretches] == [(0, 4), (4, 10), (10, 30)]
    assert [s.diameter_m for s in answer.stretches] == [0.1016, 0.1524, 0.1524]


@given(st.floats(0.004, 0.06), st.floats(0.0, 0.004))
@settings(max_examples=25, deadline=None)
def test_intervals_hold_the_middle_and_more_slope_carries_more(slope, sd):
    flat = drainage(line(), segments(), position(slope, sd), ()).stretches[0]
    steep = drainage(line(), segments(), position(slope * 1.5, sd), ()).stretches[0]
    for estimate in (flat.full_flow_m3_s, flat.peak_depth_share, flat.shear_pa):
        low, high = estimate.interval95
        assert low <= estimate.value <= high
    assert steep.full_flow_m3_s.value > flat.full_flow_m3_s.value
    assert steep.peak_depth_share.value < flat.peak_depth_share.value


def sag(share):
    return Sag(
        id="s",
        start_m=Estimate.of(10.0, 0.2),
        end_m=Estimate.of(14.0, 0.2),
        lowest_m=Estimate.of(12.0, 0.2),
        depth_m=Estimate.of(share * 0.1016, 0.001),
        volume_m3=Estimate.of(0.01, 0.002),
    )


@pytest.mark.parametrize(("share", "drains"), [(0.7, False), (0.2, True)])
def test_a_low_spot_that_only_the_levels_show_counts_too(share, drains):
    place = position(1 / 48).model_copy(update={"sags": (sag(share),)})
    assert drainage(line(), segments(), place, ()).drains is drains


def test_cuts_a_hands_breadth_apart_make_no_stretch_of_their_own():
    falls = (
        Fall(from_m=0.0, to_m=10.0, slope=Estimate.of(0.02, 0.001)),
        Fall(from_m=10.2, to_m=29.8, slope=Estimate.of(0.01, 0.001)),
    )
    answer = drainage(
        line(), segments(), Position(length_m=Estimate.of(30.0, 0.1), falls=falls), ()
    )
    assert [(s.from_m, s.to_m) for s in answer.stretches] == [(0.0, 10.0), (10.0, 30.0)]


def test_one_fall_is_told_once():
    parts = tuple(
        segment.model_copy(update={"start_m": Estimate.of(a, 0.1), "end_m": Estimate.of(b, 0.1)})
        for a, b in ((0.0, 10.0), (10.0, 20.0), (20.0, 30.0))
        for segment in segments()
    )
    answer = drainage(line(slope_required=1 / 48), parts, position(0.025), ())
    assert len(answer.stretches) == 3
    assert [c.about for c in answer.checks if c.name == "fall"] == ["0 ft to 98 ft"]


def test_a_low_spot_that_was_also_seen_is_told_once(found):
    seen = found("w", 12.0, feature=Feature.SAG, water_share=Estimate.of(0.2, 0.01))
    place = position(1 / 48).model_copy(update={"sags": (sag(0.2),)})
    both = drainage(line(), segments(), place, [seen])
    alone = drainage(line(), segments(), place, ())
    assert [c.about for c in both.checks if c.name == "standing water"] == ["w"]
    assert [c.about for c in alone.checks if c.name == "standing water"] == ["s"]
