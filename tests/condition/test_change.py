"""Two visits are laid over each other and each finding is told from the other."""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.condition.alignment import Anchor, align
from saltglaze.condition.change import compare, last_visit
from saltglaze.model.appraisal import ChangeKind, NotSeen
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.job import History, PriorVisit
from saltglaze.model.run import Direction

LAST = dt.date(2025, 4, 22)


def old(name, station_m, **facts):
    return Finding(
        id=name,
        draft=Facts(**facts),
        evidence=Evidence(drafted_by=DraftedBy.HISTORY),
        station_m=None if station_m is None else Estimate.of(station_m, 0.2),
    )


def history(*findings):
    return History(visits=(PriorVisit(date=LAST, findings=findings, source="the record"),))


def kinds(changes):
    return {c.finding_id or c.prior_id: c.kind for c in changes}


def test_no_former_record_gives_no_changes(found):
    assert compare([found("a", 3.0, feature=Feature.CRACK)], History()) == ()
    assert last_visit(History(visits=(PriorVisit(date=LAST),))) is None


def test_the_latest_visit_with_findings_counts():
    early = PriorVisit(date=dt.date(2020, 1, 1), findings=(old("e", 1.0, feature=Feature.CRACK),))
    late = PriorVisit(date=LAST, findings=(old("l", 1.0, feature=Feature.CRACK),))
    empty = PriorVisit(date=dt.date(2026, 1, 1))
    assert last_visit(History(visits=(late, empty, early))) is late


@pytest.mark.parametrize(
    ("was", "now", "kind"),
    [
        (
            {"section_share": Estimate.of(0.1, 0.03)},
            {"section_share": Estimate.of(0.4, 0.05)},
            "worse",
        ),
        (
            {"section_share": Estimate.of(0.4, 0.03)},
            {"section_share": Estimate.of(0.1, 0.05)},
            "better",
        ),
        (
            {"section_share": Estimate.of(0.2, 0.1)},
            {"section_share": Estimate.of(0.25, 0.1)},
            "same",
        ),
        ({"kind": "fine"}, {"kind": "mass"}, "worse"),
        ({}, {}, "same"),
    ],
)
def test_roots_grown_or_not(found, was, now, kind):
    record = history(old("o", 10.0, feature=Feature.ROOTS, **was))
    changes = compare([found("n", 10.1, feature=Feature.ROOTS, **now)], record)
    assert [c.kind.value for c in changes] == [kind]
    assert changes[0].prior_id == "o"


def test_a_crack_that_has_become_a_break_is_worse(found):
    record = history(old("o", 10.0, feature=Feature.CRACK))
    changes = compare([found("n", 10.0, feature=Feature.BREAK)], record)
    assert changes[0].kind is ChangeKind.WORSE
    assert "was a crack and is now a break" in changes[0].reasons[0].because


def test_unlike_things_at_one_place_are_not_one(found):
    record = history(old("o", 10.0, feature=Feature.ROOTS))
    changes = compare([found("n", 10.0, feature=Feature.OPEN_JOINT)], record)
    assert kinds(changes) == {"n": ChangeKind.NEW, "o": ChangeKind.GONE}


def test_the_clock_tells_two_taps_apart(found):
    record = history(old("o", 10.0, feature=Feature.TAP, clock=Clock(from_h=3.0)))
    here = found("n", 10.0, feature=Feature.TAP, clock=Clock(from_h=9.0))
    assert kinds(compare([here], record))["n"] is ChangeKind.NEW


def test_a_clock_seen_from_the_other_end_is_turned_over(found):
    record = history(
        old("o", 10.0, feature=Feature.TAP, clock=Clock(from_h=3.0, view=Direction.WITH_FLOW))
    )
    clock = Clock(from_h=9.0, view=Direction.AGAINST_FLOW)
    here = found("n", 10.0, feature=Feature.TAP, clock=clock)
    assert kinds(compare([here], record))["n"] is ChangeKind.SAME


def test_beyond_where_the_camera_went_is_not_seen_and_not_gone(found):
    record = history(
        old("near", 5.0, feature=Feature.CRACK), old("far", 25.0, feature=Feature.ROOTS)
    )
    changes = compare([], record, Estimate.of(12.0, 0.2))
    assert kinds(changes) == {"near": ChangeKind.GONE, "far": ChangeKind.NOT_SEEN}


def test_a_blind_stretch_is_not_seen():
    record = history(old("o", 10.0, feature=Feature.CRACK))
    blind = NotSeen(from_m=Estimate.of(8.0, 0.2), to_m=Estimate.of(12.0, 0.2), why="lens fouled")
    changes = compare([], record, Estimate.of(30.0, 0.2), [blind])
    assert changes[0].kind is ChangeKind.NOT_SEEN
    assert "lens fouled" in changes[0].plain


def test_a_fracture_that_is_gone_is_not_said_to_have_healed():
    changes = compare([], history(old("o", 10.0, feature=Feature.FRACTURE)), Estimate.of(30.0, 0.2))
    assert "does not heal" in changes[0].plain


def test_a_tap_does_not_grow(found):
    record = history(old("o", 10.0, feature=Feature.TAP))
    changes = compare([found("n", 10.0, feature=Feature.TAP)], record)
    assert changes[0].plain.endswith("still there since April 2025.")


def test_what_lies_beyond_the_last_record_is_not_held_against_it(found):
    went = PriorVisit(
        date=LAST,
        findings=(old("o", 3.0, feature=Feature.CRACK),),
        line_length_m=Estimate.of(12.0, 0.3),
    )
    near, far = found("n", 10.0, feature=Feature.ROOTS), found("f", 20.0, feature=Feature.SAG)
    told = {c.finding_id: c.plain for c in compare([near, far], History(visits=(went,)))}
    assert "went only 39 ft" in told["f"]
    assert "went only" not in told["n"]


def test_bends_help_to_align_but_are_no_news(found):
    record = history(old("o", 10.0, feature=Feature.BEND))
    assert compare([found("n", 20.0, feature=Feature.BEND)], record) == ()


def test_a_record_without_station_matches_what_alone_is_like_it(found):
    record = history(old("o", None, feature=Feature.SAG))
    changes = compare([found("n", 20.0, feature=Feature.SAG)], record)
    assert [c.kind for c in changes] == [ChangeKind.SAME]


@given(st.floats(-1.5, 1.5), st.floats(0.96, 1.04))
@settings(max_examples=30, deadline=None)
def test_a_common_shift_and_stretch_is_found(shift, scale):
    prior = [
        Anchor(f, s, 0.1)
        for f, s in (("tap", 6.0), ("bend", 11.0), ("roots", 15.0), ("roots", 24.0))
    ]
    now = [Anchor(a.family, shift + scale * a.station_m, 0.1) for a in prior]
    laid = align(prior, now)
    for a in prior:
        assert laid.now(a.station_m) == pytest.approx(shift + scale * a.station_m, abs=0.25)
    assert laid.agreeing == 4


def test_one_stray_finding_does_not_pull_the_alignment():
    prior = [
        Anchor(f, s, 0.1) for f, s in (("tap", 6.0), ("bend", 11.0), ("sag", 15.0), ("wall", 24.0))
    ]
    now = [Anchor(a.family, 0.5 + a.station_m, 0.1) for a in prior[:3]] + [
        Anchor("wall", 29.0, 0.1)
    ]
    laid = align(prior, now)
    assert laid.now(10.0) == pytest.approx(10.5, abs=0.15)
    assert laid.agreeing == 3


def test_simulated_visits_are_matched(found):
    """200 made-up pairs of visits with slipping counters: most pairs right, few wrong.

    Declared noise: shift sd 0.5 m, scale sd 0.02, 0.15 m each call, faults 1.2 m apart
    or more, a quarter of them new and a quarter of them gone.
    """
    rng = np.random.default_rng(5)
    right = wrong = missed = 0
    features = [Feature.ROOTS, Feature.CRACK, Feature.OPEN_JOINT, Feature.TAP, Feature.SAG]
    for _ in range(200):
        stations = np.cumsum(rng.uniform(1.2, 5.0, 8))
        names = [features[int(i)] for i in rng.integers(0, 5, 8)]
        shift, scale = rng.normal(0.0, 0.5), rng.normal(1.0, 0.02)
        gone, new = set(rng.choice(8, 2, replace=False)), set(rng.choice(8, 2, replace=False))
        before = [
            old(f"{i}", float(stations[i] + rng.normal(0, 0.15)), feature=names[i])
            for i in range(8)
            if i not in new
        ]
        today = [
            found(
                f"{i}", float(shift + scale * stations[i] + rng.normal(0, 0.15)), feature=names[i]
            )
            for i in range(8)
            if i not in gone
        ]
        truly = {str(i) for i in range(8) if i not in gone and i not in new}
        pairs = {
            c.finding_id: c.prior_id
            for c in compare(today, history(*before))
            if c.prior_id and c.finding_id
        }
        right += sum(pairs.get(name) == name for name in truly)
        wrong += sum(a != b for a, b in pairs.items())
        missed += sum(name not in pairs for name in truly)
    assert right / (right + missed) > 0.93
    assert wrong / right < 0.08
