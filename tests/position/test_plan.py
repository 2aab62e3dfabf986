"""The plan: bends, mirror ties, more than one answer, and margins that grow with doubt."""

import math

import numpy as np
import pytest
from evidence_kit import LEAD, job, seen, spot, steady

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Turn
from saltglaze.model.ground import FixKind, KnownMain, Locate, Mark, MarkedFeature, PlanPoint, Tie
from saltglaze.model.line import Line
from saltglaze.model.run import Run
from saltglaze.position.solve import locate


def place(answer, name):
    one = next(one for one in answer.places if one.finding_id == name)
    return one, (one.point.east_m, one.point.north_m)


def widest(one):
    cov = one.covariance
    matrix = [[cov.east_east_m2, cov.east_north_m2], [cov.east_north_m2, cov.north_north_m2]]
    return math.sqrt(np.linalg.eigvalsh(matrix)[-1])


def path_at(path, station):
    at = [one.station_m for one in path.points]
    return tuple(
        np.interp(station, at, [getattr(one.point, axis) for one in path.points])
        for axis in ("east_m", "north_m")
    )


STRAIGHT = (spot("a", 5.0, 0.0, 50.0), spot("b", 25.0, 0.0, 250.0))


def test_a_straight_line_between_two_locates():
    answer = locate(job(STRAIGHT), (steady(),), (), (seen("x", 150.0),))
    _, at = place(answer, "x")
    assert at == pytest.approx((15.0 + LEAD, 0.0), abs=0.1)


def test_locates_correct_the_counter():
    # 20 m of counter between points 21 m apart: the ground wins.
    points = (spot("a", 0.0, 0.0, 50.0), spot("b", 21.0, 0.0, 250.0))
    answer = locate(job(points), (steady(),), (), (seen("x", 150.0),))
    mean = [one.station_m for one in answer.position.stationings[0].samples]
    time = [one.time_s for one in answer.position.stationings[0].samples]
    between = np.interp(250.0, time, mean) - np.interp(50.0, time, mean)
    assert between == pytest.approx(21.0, abs=0.3)
    assert answer.position.stationings[0].counter_scale.value > 1.03


def test_the_corner_of_a_spoken_bend_is_not_cut():
    # 10 m east, a 1/4 bend left, 10 m north; locates 5 m before and after the corner.
    points = (
        spot("a", 1.0, 0.0, 10.0),
        spot("b", 5.0, 0.0, 50.0),
        spot("c", 10.0, 5.0, 150.0),
        spot("d", 10.0, 10.0, 200.0),
    )
    bend = seen("bend", 100.0, feature=Feature.BEND, kind="1/4", turn=Turn.LEFT)
    with_bend = locate(job(points), (steady(),), (), (bend, seen("x", 101.0)))
    _, at = place(with_bend, "x")
    assert at == pytest.approx((10.0, 0.1), abs=0.35)
    assert with_bend.position.paths[0].weight > 0.95


def test_a_bend_of_unknown_hand_gives_two_answers_until_a_point_lies_beyond_it():
    bend = seen("bend", 200.0, feature=Feature.BEND, kind="1/8")
    before = (spot("a", 1.0, 0.0, 10.0), spot("b", 10.0, 0.0, 100.0), spot("c", 15.0, 0.0, 150.0))
    two = locate(job(before), (steady(),), (), (bend,)).position.paths
    assert [path.weight for path in two] == pytest.approx([0.5, 0.5], abs=0.01)
    ends = sorted(path_at(path, 28.0)[1] for path in two)
    side = 8.0 * math.sin(math.radians(45.0))
    assert ends == pytest.approx([-side, side], abs=0.4)

    beyond = spot("d", 20.0 + 5.0 * math.cos(math.pi / 4), 5.0 * math.sin(math.pi / 4), 250.0)
    one = locate(job((*before, beyond)), (steady(),), (), (bend,)).position.paths
    assert one[0].weight > 0.99
    assert path_at(one[0], 28.0)[1] == pytest.approx(side, abs=0.4)


def test_left_looking_with_the_run_is_right_walking_up_a_run_from_the_far_end():
    far = Run(
        id="r1",
        reversed_stationing=True,
        start_station_m=Estimate.of(30.0, 0.1),
        sonde_behind_lens_m=0.0,
    )
    points = (spot("a", 0.0, 0.0, 10.0), spot("b", 10.0, 0.0, 110.0))
    bend = seen("bend", 200.0, feature=Feature.BEND, kind="1/4", turn=Turn.LEFT)
    answer = locate(job(points, runs=(far,)), (steady(),), (), (bend,))
    best = answer.position.paths[0]
    # the head goes east and turns left, to the north; stations go down
    assert path_at(best, 0.5)[1] > 5.0
    assert best.weight == pytest.approx(0.95, abs=0.02)


def ties(name, point, marks):
    return tuple(
        Tie(
            mark_id=mark.id,
            point_id=name,
            distance_m=math.hypot(point[0] - mark.point.east_m, point[1] - mark.point.north_m),
        )
        for mark in marks
    )


def tied(name, time_s):
    return Locate(
        id=name, run_id="r1", fix=FixKind.TIES, time_s=time_s, marked=MarkedFeature.BETWEEN_NULLS
    )


MARKS = (
    Mark(id="A", name="corner", point=PlanPoint(east_m=5.0, north_m=5.0)),
    Mark(id="B", name="post", point=PlanPoint(east_m=15.0, north_m=4.0)),
)


def test_mirror_ties_are_settled_by_the_rest_of_the_line():
    points = (spot("a", 0.0, 0.0, 10.0), tied("t", 110.0), spot("b", 20.0, 0.0, 210.0))
    answer = locate(
        job(points, marks=MARKS, ties=ties("t", (10.0, 0.0), MARKS)), (steady(),), (), ()
    )
    assert len(answer.position.paths) == 1
    middle = next(one for one in answer.position.surface if one.locate_id == "t")
    assert (middle.point.east_m, middle.point.north_m) == pytest.approx((10.0, 0.0), abs=0.1)
    assert middle.used


def test_mirror_ties_that_nothing_settles_leave_two_answers():
    points = (tied("t", 10.0), tied("u", 110.0))
    taped = ties("t", (4.0, 0.0), MARKS) + ties("u", (14.0, 0.0), MARKS)
    answer = locate(job(points, marks=MARKS, ties=taped), (steady(),), (), (seen("x", 60.0),))
    weights = [path.weight for path in answer.position.paths]
    assert len(weights) >= 2
    assert weights[0] < 0.8
    assert any(
        math.hypot(path_at(path, 5.95)[0] - 9.0, path_at(path, 5.95)[1]) < 0.5
        for path in answer.position.paths
    )


def test_the_margin_grows_away_from_the_evidence():
    findings = tuple(seen(f"x{n}", float(t)) for n, t in enumerate((50.0, 150.0, 250.0, 290.0)))
    points = (spot("a", 0.0, 0.0, 40.0), spot("b", 2.0, 0.0, 60.0))
    answer = locate(job(points), (steady(),), (), findings)
    margins = [widest(place(answer, one.id)[0]) for one in findings]
    assert margins == sorted(margins)
    assert margins[-1] > 5.0 * margins[0]


def test_one_point_and_a_bearing_make_a_plan_and_one_point_alone_does_not():
    point = (spot("a", 0.0, 0.0, 50.0),)
    told = locate(
        job(point, start_bearing_deg=Estimate.of(90.0, 3.0)), (steady(),), (), (seen("x", 150.0),)
    )
    one, at = place(told, "x")
    assert at == pytest.approx((10.0, 0.0), abs=0.2)
    # 3 degrees over 10 m, and the wander of a pipe of unknown make (0.02 rad per root metre,
    # integrated: 0.02 * sqrt(10**3 / 3)); one line in ten has an unmentioned bend on the way.
    plain = math.hypot(10.0 * math.radians(3.0), 0.02 * math.sqrt(10.0**3 / 3.0))
    assert plain < widest(one) < 2.0 * plain

    alone = locate(job(point), (steady(),), (), (seen("x", 150.0), seen("y", 51.0)))
    far, near = (next(p for p in alone.places if p.finding_id == n) for n in ("x", "y"))
    assert far.point is None
    assert "bearing" in far.point_unknown_because
    assert (near.point.east_m, near.point.north_m) == pytest.approx((0.0, 0.0), abs=0.01)
    assert 0.1 < widest(near) < 0.6


def test_the_start_and_the_tap_on_the_main_tie_the_ends():
    line = Line(id="line", length_m=Estimate.of(30.0, 0.1))
    main = KnownMain(
        id="m",
        points=(PlanPoint(east_m=30.0, north_m=-5.0), PlanPoint(east_m=30.0, north_m=5.0)),
        tap=PlanPoint(east_m=30.0, north_m=0.0),
        tap_sd_m=0.3,
    )
    answer = locate(
        job(line=line, mains=(main,), start_point=PlanPoint(east_m=0.0, north_m=0.0)),
        (steady(),),
        (),
        (seen("x", 150.0),),
    )
    _, at = place(answer, "x")
    assert at == pytest.approx((15.0, 0.0), abs=0.2)


def test_a_stiff_pipe_is_surer_between_its_points_than_a_limp_one():
    from saltglaze.model.line import FactSource, Material, Segment

    def margin(material):
        segment = Segment(
            start_m=Estimate.of(0.0, 0.0), material=material, source=FactSource.RECORD
        )
        line = Line(id="line", segments=(segment,))
        answer = locate(job(STRAIGHT, line=line), (steady(),), (), (seen("x", 150.0),))
        return place(answer, "x")[0].covariance.north_north_m2

    assert margin(Material.CLAY) < 0.5 * margin(Material.POLYETHYLENE)


@pytest.mark.parametrize("turn", [0.0, 40.0, 133.0, 270.0])
def test_turning_the_map_turns_the_answer(turn):
    angle = math.radians(turn)

    def turned(east, north):
        return (
            east * math.cos(angle) + north * math.sin(angle) + 100.0,
            north * math.cos(angle) - east * math.sin(angle) - 50.0,
        )

    plain = [(1.0, 0.0, 10.0), (9.0, 0.0, 90.0), (10.0, 8.0, 180.0)]
    bend = seen("bend", 100.0, feature=Feature.BEND, kind="1/4", turn=Turn.LEFT)
    answers = []
    for move in (lambda e, n: (e, n), turned):
        points = tuple(spot(f"p{n}", *move(e, no), t) for n, (e, no, t) in enumerate(plain))
        answers.append(locate(job(points), (steady(),), (), (bend, seen("x", 140.0))))
    _, before = place(answers[0], "x")
    _, after = place(answers[1], "x")
    assert after == pytest.approx(turned(*before), abs=1e-3)
