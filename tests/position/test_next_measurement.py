"""What to measure next: the promised margin is the one the measurement then gives."""

import math

import numpy as np
import pytest
from evidence_kit import film, job, seen, spot, steady

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.ground import GroundLevel, PlanPoint
from saltglaze.model.line import FactSource, Line, Segment
from saltglaze.model.talk import SpokenStation
from saltglaze.position.next_measurement import REACH95
from saltglaze.position.solve import locate

ENDS = (spot("a", 0.0, 0.0, 20.0), spot("b", 8.0, 0.0, 100.0))


def margin(answer, name):
    cov = next(one for one in answer.places if one.finding_id == name).covariance
    matrix = [[cov.east_east_m2, cov.east_north_m2], [cov.east_north_m2, cov.north_north_m2]]
    return REACH95 * math.sqrt(np.linalg.eigvalsh(matrix)[-1])


def offers(answer, name):
    return [one for one in answer.position.next_measurements if one.finding_id == name]


def test_margin_before_is_the_long_half_axis_of_the_95_ellipse():
    answer = locate(job(ENDS), (steady(),), (), (seen("x", 280.0),))
    (dig,) = answer.position.digs
    assert offers(answer, "x")[0].margin_before_m == pytest.approx(dig.ellipse95.semi_major_m)
    assert pytest.approx(2.4477, abs=1e-4) == REACH95  # chi-square table, 2 degrees, 0.95


def test_a_locate_at_the_defect_comes_first_and_keeps_its_promise():
    answer = locate(job(ENDS), (steady(),), (), (seen("x", 280.0),))
    first = offers(answer, "x")[0]
    assert first.worth_it
    assert "the defect itself" in first.action
    assert first.margin_after_m < 0.3 * first.margin_before_m
    taken = locate(job((*ENDS, spot("c", 25.9, 0.4, 280.0))), (steady(),), (), (seen("x", 280.0),))
    # The margin afterwards also counts the chance that the new point is itself wrong.
    assert margin(taken, "x") == pytest.approx(first.margin_after_m, rel=0.4)


def test_a_locate_elsewhere_keeps_its_promise_too():
    answer = locate(job(ENDS), (steady(),), (), (seen("x", 280.0),))
    other = next(one for one in offers(answer, "x") if "at this station" in one.action)
    time = 10.0 * other.station_m
    there = spot("c", other.station_m - 2.0, 0.3, time)
    taken = locate(job((*ENDS, there)), (steady(),), (), (seen("x", 280.0),))
    assert margin(taken, "x") < other.margin_before_m
    assert margin(taken, "x") == pytest.approx(other.margin_after_m, rel=0.35)


def test_ranked_by_what_is_left_and_none_promises_to_widen():
    answer = locate(job(ENDS), (steady(),), (), (seen("x", 280.0), seen("y", 200.0)))
    for name in ("x", "y"):
        after = [one.margin_after_m for one in offers(answer, name)]
        assert after == sorted(after)
        assert all(one.margin_after_m <= one.margin_before_m for one in offers(answer, name))


def test_when_the_spot_is_known_nothing_more_is_worth_its_time():
    near = (*ENDS, spot("c", 10.0, 0.0, 120.0), spot("d", 10.05, 0.0, 121.0))
    answer = locate(job(near), (steady(),), (), (seen("x", 120.0),))
    told = offers(answer, "x")
    assert len(told) == 1
    assert not told[0].worth_it
    assert told[0].margin_before_m < 0.6


def test_without_any_ground_evidence_the_first_locate_is_asked_for():
    answer = locate(job(), (steady(),), (), (seen("x", 280.0),))
    told = offers(answer, "x")
    assert told[0].worth_it
    assert told[0].margin_before_m == pytest.approx(29.9, abs=0.2)


def test_two_answers_still_standing_are_told_apart_beyond_the_bend():
    points = (spot("a", 1.0, 0.0, 10.0), spot("b", 10.0, 0.0, 100.0), spot("c", 15.0, 0.0, 150.0))
    bend = seen("bend", 200.0, feature=Feature.BEND, kind="1/8")
    answer = locate(job(points), (steady(),), (), (bend, seen("x", 290.0)))
    first = offers(answer, "x")[0]
    assert first.margin_before_m > 9.0  # the other answer lies 2 * 9 m * sin 45 away
    assert first.margin_after_m < 1.0
    assert first.station_m > 21.0


def test_joints_are_offered_for_counting_where_their_length_is_known():
    segment = Segment(start_m=Estimate.of(0.0, 0.0), section_length_m=1.5, source=FactSource.RECORD)
    line = Line(id="line", segments=(segment,))
    # only two distances were called out: along the pipe the spot is loose
    said = tuple(
        SpokenStation(time_s=t, distance_m=Estimate.of(0.1 * t, 0.2), text="")
        for t in (20.0, 280.0)
    )
    told = locate(
        job((spot("a", 0.0, 0.0, 20.0), spot("b", 26.0, 0.0, 280.0)), line=line),
        (film(),),
        (Heard(run_id="r1", stations=said),),
        (seen("x", 150.0),),
    )
    joints = next(one for one in offers(told, "x") if "count the joints" in one.action)
    assert joints.worth_it
    assert joints.margin_after_m < 0.6 * joints.margin_before_m


def test_the_worst_findings_come_first():
    findings = (
        seen("roots", 150.0, feature=Feature.ROOTS),
        seen("collapse", 280.0, feature=Feature.COLLAPSE),
        seen("tap", 250.0, feature=Feature.TAP),
    )
    answer = locate(job(ENDS), (steady(),), (), findings)
    names = [one.finding_id for one in answer.position.next_measurements]
    assert names[0] == "collapse"
    assert "tap" not in names


def levelled(name, east, time_s, depth, ground, depth_sd=0.05):
    return spot(
        name,
        east,
        0.0,
        time_s,
        depth_m=None if depth is None else Estimate.of(depth, depth_sd),
        ground_level_m=None if ground is None else Estimate.of(ground, 0.02),
        depth_to="invert",
    )


def test_a_loose_depth_asks_for_a_depth_or_a_ground_shot_and_both_keep_their_promise():
    ends = (levelled("a", 0.0, 10.0, 1.5, 100.0), levelled("b", 25.0, 260.0, 1.9, 100.0))
    found = (seen("x", 135.0),)

    def depth_margin(*points, levels=()):
        answer = locate(job((*ends, *points), levels=levels), (steady(),), (), found)
        return 1.96 * answer.places[0].depth_m.spread, offers(answer, "x")

    before, told = depth_margin()
    asked = {one.action.split(" ", 1)[0]: one for one in told if "at the defect" in one.action}
    assert asked["read"].margin_before_m == pytest.approx(before, rel=1e-3)
    read, _ = depth_margin(levelled("c", 12.5, 135.0, 1.7, None, 0.05 * 1.7 + 0.05))
    shot, _ = depth_margin(
        levels=(
            GroundLevel(
                id="s", point=PlanPoint(east_m=12.5, north_m=0.0), level_m=Estimate.of(100.0, 0.02)
            ),
        )
    )
    assert read == pytest.approx(asked["read"].margin_after_m, rel=0.35)
    assert shot == pytest.approx(asked["shoot"].margin_after_m, rel=0.35)
