"""Bends from findings: how sharp, which way in the pipe, and how sure."""

import math

import pytest
from evidence_kit import counter, film, job, seen, spot, steady

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Feature, Turn
from saltglaze.model.talk import SpokenStation
from saltglaze.model.track import RollSample
from saltglaze.position.bends import in_the_pipe
from saltglaze.position.solve import locate


def bend(turn, drafted_by=DraftedBy.NARRATION, name="bend", time_s=200.0, **facts):
    found = seen(name, time_s, feature=Feature.BEND, turn=turn, **facts)
    evidence = found.evidence.model_copy(update={"drafted_by": drafted_by})
    return found.model_copy(update={"evidence": evidence})


@pytest.mark.parametrize(
    ("screen", "roll", "pipe"),
    # Roll +90: the soffit shows at the right of the screen, so right on it is up.
    [
        (Turn.LEFT, 10.0, Turn.LEFT),
        (Turn.RIGHT, 90.0, Turn.UP),
        (Turn.LEFT, 90.0, Turn.DOWN),
        (Turn.UP, 90.0, Turn.LEFT),
        (Turn.LEFT, 180.0, Turn.RIGHT),
        (Turn.RIGHT, -90.0, Turn.DOWN),
        (Turn.DOWN, 350.0, Turn.DOWN),
    ],
)
def test_what_the_eye_drafted_is_turned_by_the_roll(screen, roll, pipe):
    hand = in_the_pipe(bend(screen, DraftedBy.SIGHT), Estimate.of(roll, 5.0))
    assert hand.turn is pipe
    assert hand.sure >= 0.95


def test_a_word_is_kept_but_doubted_where_the_picture_lay_over():
    upright = in_the_pipe(bend(Turn.LEFT), Estimate.of(5.0, 5.0))
    unknown = in_the_pipe(bend(Turn.LEFT), None)
    on_its_side = in_the_pipe(bend(Turn.LEFT), Estimate.of(90.0, 5.0))
    upside_down = in_the_pipe(bend(Turn.LEFT), Estimate.of(180.0, 5.0))
    assert {one.turn for one in (upright, unknown, on_its_side, upside_down)} == {Turn.LEFT}
    assert upright.sure > unknown.sure > on_its_side.sure > upside_down.sure == 0.5


def test_an_upside_down_picture_leaves_both_ways_open():
    points = (spot("a", 1.0, 0.0, 10.0), spot("b", 10.0, 0.0, 100.0), spot("c", 15.0, 0.0, 150.0))
    roll = tuple(
        RollSample(time_s=float(t), roll_deg=Estimate.of(180.0, 5.0)) for t in range(190, 211)
    )
    answer = locate(job(points), (steady(roll=roll),), (), (bend(Turn.LEFT, kind="1/8"),))
    assert [path.weight for path in answer.position.paths] == pytest.approx([0.5, 0.5], abs=0.01)


def test_bends_up_and_down_do_not_turn_the_plan():
    points = (spot("a", 1.0, 0.0, 10.0), spot("b", 15.0, 0.0, 150.0))
    answer = locate(job(points), (steady(),), (), (bend(Turn.DOWN, kind="1/8"),))
    assert len(answer.position.paths) == 1
    assert answer.position.paths[0].points[-1].point.north_m == pytest.approx(0.0, abs=0.2)


@pytest.mark.parametrize(
    ("facts", "angle_deg"),
    # Trade names are shares of a full turn.
    [
        ({"kind": "1/16"}, 22.5),
        ({"kind": "1/8"}, 45.0),
        ({"kind": "1/6"}, 60.0),
        ({"kind": "1/4"}, 90.0),
        ({"angle_deg": Estimate.of(30.0, 1.0)}, 30.0),
    ],
)
def test_a_named_bend_turns_by_its_angle(facts, angle_deg):
    points = (spot("a", 1.0, 0.0, 10.0), spot("b", 15.0, 0.0, 150.0))
    answer = locate(job(points), (steady(),), (), (bend(Turn.LEFT, **facts),))
    first, last = answer.position.paths[0].points[-8], answer.position.paths[0].points[-1]
    heading = math.atan2(
        last.point.north_m - first.point.north_m, last.point.east_m - first.point.east_m
    )
    assert math.degrees(heading) == pytest.approx(angle_deg, abs=1.0)


def test_a_bend_nobody_mentioned_is_found_and_named():
    # 15 m east, then 15 m at 45 degrees to the left, nine points, nobody said "bend".
    cos = math.cos(math.pi / 4)

    def at_station(s):
        return (min(s, 15.0) + max(s - 15.0, 0.0) * cos, max(s - 15.0, 0.0) * cos)

    stations = (2.0, 5.0, 8.0, 11.0, 14.0, 17.0, 20.0, 24.0, 28.0)
    points = tuple(spot(f"p{n}", *at_station(s), 10.0 * s) for n, s in enumerate(stations))
    answer = locate(job(points), (steady(),), (), (seen("x", 160.0),))
    named = next(one for one in answer.position.checks if one.name == "unmentioned bend")
    assert "to the left near 15" in named.reason or "to the left near 14" in named.reason
    assert all(one.used for one in answer.position.surface)
    at = answer.places[0].point
    assert (at.east_m, at.north_m) == pytest.approx((15.0 + cos, cos), abs=0.3)


def test_a_straight_line_is_given_no_such_bend():
    points = tuple(spot(f"p{n}", s, 0.0, 10 * s) for n, s in enumerate((2.0, 8.0, 14.0, 20.0)))
    answer = locate(job((*points, spot("bad", 11.0, 5.0, 110.0))), (steady(),), (), ())
    assert not any(one.name == "unmentioned bend" for one in answer.position.checks)


def test_two_bends_named_one_after_the_other_are_two_however_loose_the_stations():
    # No counter: distances are called out three times in 300 s, so that stations 1.2 m
    # apart are far looser than that; truly east, then 90 degrees round by two 1/8 bends.
    said = tuple(
        SpokenStation(time_s=t, distance_m=Estimate.of(0.1 * t, 0.2), text="")
        for t in (30.0, 280.0)
    )
    heard = (Heard(run_id="r1", stations=said),)
    root = math.sqrt(0.5) * 1.2
    points = (
        spot("a", 1.0, 0.0, 10.0),
        spot("b", 8.0, 0.0, 80.0),
        spot("c", 10.0 + root, -root - 4.0, 152.0),
        spot("d", 10.0 + root, -root - 14.0, 252.0),
    )
    one = bend(Turn.RIGHT, kind="1/8", name="one", time_s=100.0)
    two = bend(Turn.RIGHT, kind="1/8", name="two", time_s=112.0)
    answer = locate(job(points), (film(),), heard, (one, two, seen("x", 200.0)))
    assert all(point.used for point in answer.position.surface)
    assert not any(check.name == "unmentioned bend" for check in answer.position.checks)
    at = next(place.point for place in answer.places if place.finding_id == "x")
    assert at.east_m == pytest.approx(10.0 + root, abs=0.4)


def test_a_bend_met_again_on_the_way_back_is_one():
    # Out 20 m at 0.1 m/s, then back at the same pace: the bend at 15 m is passed at 150 s
    # and again at 250 s.
    times = [0.5 * n for n in range(600)]
    track = film(counter(times, [0.1 * min(t, 400.0 - t) for t in times]), 300.0)
    points = (spot("a", 1.0, 0.0, 10.0), spot("b", 13.0, 0.0, 130.0))
    once = bend(Turn.LEFT, kind="1/8", name="once", time_s=150.0)
    again = bend(Turn.LEFT, kind="1/8", name="again", time_s=250.0)
    alone = locate(job(points), (track,), (), (once,)).position.paths[0].points[-1].point
    twice = locate(job(points), (track,), (), (once, again)).position.paths[0].points[-1].point
    assert (twice.east_m, twice.north_m) == pytest.approx((alone.east_m, alone.north_m), abs=0.2)
