"""Bends from findings: how sharp, which way in the pipe, and how sure."""

import math

import pytest
from evidence_kit import job, seen, spot, steady

from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Feature, Turn
from saltglaze.model.track import RollSample
from saltglaze.position.bends import in_the_pipe
from saltglaze.position.solve import locate


def bend(turn, drafted_by=DraftedBy.NARRATION, **facts):
    found = seen("bend", 200.0, feature=Feature.BEND, turn=turn, **facts)
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
