from __future__ import annotations

import math

import pytest

from saltglaze.errors import InputError
from saltglaze.model.appraisal import Verdict
from saltglaze.model.base import Estimate
from saltglaze.model.ground import (
    FixKind,
    GroundLevel,
    Locate,
    Mark,
    MarkedFeature,
    Offset,
    Parcel,
    ParcelKind,
    PlanPoint,
    SignalReading,
    Tie,
)
from saltglaze.model.job import Job
from saltglaze.model.line import Line
from saltglaze.model.run import Direction, Run
from saltglaze.position.fixes import point_sd_m
from saltglaze.position.surface import adjust_surface_points

A = Mark(id="A", name="house corner", point=PlanPoint(east_m=0.0, north_m=0.0))
B = Mark(id="B", name="gate post", point=PlanPoint(east_m=10.0, north_m=0.0))


def at(east, north):
    return PlanPoint(east_m=east, north_m=north)


def job(*locates, **more):
    marks = more.pop("marks", (A, B))
    return Job(id="j", line=Line(id="l"), locates=locates, marks=marks, **more)


def tied(name, east, north, **more):
    """A locate and its exact ties from both marks."""
    ties = tuple(
        Tie(
            mark_id=m.id,
            point_id=name,
            distance_m=math.hypot(east - m.point.east_m, north - m.point.north_m),
        )
        for m in (A, B)
    )
    return Locate(id=name, fix=FixKind.TIES, **more), ties


def names(checks):
    return {check.name for check in checks}


@pytest.mark.parametrize(
    ("fix", "stated", "expected"),
    [
        (FixKind.GNSS_RTK, 0.02, 0.06),  # stated accuracy tripled (confirmed: receiver forum)
        (FixKind.GNSS_PHONE, None, 2.0),  # 4.9 m as a 95 % radius over 2.45 (confirmed, derived)
        (FixKind.KNOWN, 0.03, 0.03),
    ],
)
def test_margin_of_a_fix_by_kind(fix, stated, expected):
    assert point_sd_m(fix, stated) == pytest.approx(expected)
    (point,), _ = adjust_surface_points(
        job(Locate(id="L", fix=fix, point=at(1, 2), point_sd_m=stated))
    )
    assert point.covariance.east_east_m2 == pytest.approx(expected**2)


def test_a_phone_fix_is_said_to_be_coarse():
    _, checks = adjust_surface_points(job(Locate(id="L", fix=FixKind.GNSS_PHONE, point=at(1, 2))))
    assert "fix too coarse" in names(checks)


def test_two_ties_keep_both_solutions_until_one_is_ruled_out():
    locate, ties = tied("L", 4.0, 5.0)
    (point,), checks = adjust_surface_points(job(locate, ties=ties))
    assert point.mirror is not None
    assert {round(point.point.north_m, 6), round(point.mirror.north_m, 6)} == {5.0, -5.0}
    assert "two solutions of the ties" in names(checks)


def test_a_rough_point_picks_the_side():
    locate, ties = tied("L", 4.0, -5.0, point=at(3.0, -2.0))
    (point,), _ = adjust_surface_points(job(locate, ties=ties))
    assert point.mirror is None
    assert point.point.north_m == pytest.approx(-5.0, abs=1e-6)


@pytest.mark.parametrize("side", [1.0, -1.0])
def test_a_building_rules_the_mirror_out(side):
    ring = (at(-2, 0), at(12, 0), at(12, 9 * side), at(-2, 9 * side))
    house = Parcel(id="house", kind=ParcelKind.BUILDING, ring=ring, sd_m=0.3)
    locate, ties = tied("L", 4.0, 5.0)
    (point,), checks = adjust_surface_points(job(locate, ties=ties, parcels=(house,)))
    assert point.mirror is None
    assert point.point.north_m == pytest.approx(-5.0 * side, abs=1e-6)
    assert "mirror solution ruled out" in names(checks)


def test_the_margin_turns_with_the_solution():
    ring = (at(-2, 0), at(12, 0), at(12, 9), at(-2, 9))
    house = Parcel(id="house", kind=ParcelKind.BUILDING, ring=ring, sd_m=0.3)
    locate, ties = tied("L", 2.0, 3.0)
    (open_,), _ = adjust_surface_points(job(locate, ties=ties))
    (ruled,), _ = adjust_surface_points(job(locate, ties=ties, parcels=(house,)))
    sign = math.copysign(1.0, open_.point.north_m * ruled.point.north_m)
    assert open_.covariance.east_north_m2 != pytest.approx(0.0, abs=1e-6)
    assert ruled.covariance.east_north_m2 == pytest.approx(sign * open_.covariance.east_north_m2)
    assert ruled.covariance.east_east_m2 == pytest.approx(open_.covariance.east_east_m2)


def test_a_chord_longer_than_the_pipe_rules_the_mirror_out():
    locate, ties = tied("L2", 4.0, 5.0)
    first = Locate(
        id="L1", fix=FixKind.KNOWN, point=at(0.0, 6.0), marked=MarkedFeature.BETWEEN_NULLS
    )
    stations = {"L1": Estimate.of(2.0, 0.1), "L2": Estimate.of(6.5, 0.1)}
    points, _ = adjust_surface_points(job(first, locate, ties=ties), stations)
    # 4.1 m along the chord to the near solution, 11.7 m to its mirror, and 4.5 m of pipe
    assert points[1].mirror is None
    assert points[1].point.north_m == pytest.approx(5.0, abs=1e-6)


def test_offset_from_a_wall_line_lies_right_of_the_walk():
    locate = Locate(
        id="L",
        fix=FixKind.OFFSET,
        offset=Offset(from_mark="A", to_mark="B", along_m=3.0, right_m=2.0),
    )
    (point,), _ = adjust_surface_points(job(locate))
    assert (point.point.east_m, point.point.north_m) == pytest.approx((3.0, -2.0))
    assert point.covariance.east_east_m2 >= 0.05**2


def test_the_mark_takes_the_station_of_its_feature():
    # a front null at 1.5 m, level: 0.70711 d ahead of the transmitter (computed)
    locate = Locate(
        id="L",
        run_id="r",
        fix=FixKind.KNOWN,
        point=at(0, 0),
        marked=MarkedFeature.FRONT_NULL,
        pitch_deg=0.0,
        depth_m=Estimate.of(1.5, 0.01),
    )
    ahead = adjust_surface_points(job(locate), {"L": Estimate.of(20.0, 0.1)})[0][0].station_m
    assert ahead.value == pytest.approx(21.06, abs=0.01)
    assert ahead.spread > 0.1
    counting_down = Run(id="r", reversed_stationing=True)
    back = adjust_surface_points(job(locate, runs=(counting_down,)), {"L": Estimate.of(20.0, 0.1)})[
        0
    ][0].station_m
    assert back.value == pytest.approx(18.94, abs=0.01)


def test_without_a_pitch_the_total_peak_is_taken_to_trail_a_falling_pipe():
    run = Run(id="r", direction=Direction.WITH_FLOW)
    locate = Locate(
        id="L",
        run_id="r",
        fix=FixKind.KNOWN,
        point=at(0, 0),
        marked=MarkedFeature.PEAK_TOTAL,
        depth_m=Estimate.of(1.5, 0.1),
    )
    stations = {"L": Estimate.of(20.0, 0.1)}
    down = adjust_surface_points(job(locate, runs=(run,)), stations)[0][0].station_m
    up_run = run.model_copy(update={"direction": Direction.AGAINST_FLOW})
    up = adjust_surface_points(job(locate, runs=(up_run,)), stations)[0][0].station_m
    assert down.value < 19.9 and up.value > 20.1
    assert down.spread > 0.2


def test_a_locate_without_station_says_so():
    (point,), _ = adjust_surface_points(job(Locate(id="L", fix=FixKind.KNOWN, point=at(0, 0))))
    assert not point.station_m.known


@pytest.mark.parametrize("depth", [-0.4, 0.0, 40.0])
def test_a_depth_that_cannot_be_is_named_and_left_out(depth):
    locate = Locate(id="L", fix=FixKind.KNOWN, point=at(0, 0), depth_m=Estimate.of(depth, 0.1))
    (point,), checks = adjust_surface_points(job(locate))
    assert point.depth_m is None
    assert [c.verdict for c in checks if c.name == "depth cannot be"] == [Verdict.DOUBT]


def test_shown_depth_and_nulls_that_agree_are_joined():
    locate = Locate(
        id="L",
        fix=FixKind.KNOWN,
        point=at(0, 0),
        marked=MarkedFeature.BETWEEN_NULLS,
        depth_m=Estimate.of(1.5, 0.12),
        null_front_m=1.0,
        null_rear_m=1.0,
    )
    (point,), _ = adjust_surface_points(job(locate))
    assert 1.414 < point.depth_m.value < 1.5
    assert point.depth_m.spread < 0.12


def test_shown_depth_and_nulls_that_disagree_open_the_margin_and_are_named():
    locate = Locate(
        id="L",
        fix=FixKind.KNOWN,
        point=at(0, 0),
        marked=MarkedFeature.BETWEEN_NULLS,
        depth_m=Estimate.of(2.6, 0.1),
        null_front_m=0.9,
        null_rear_m=0.9,
    )
    (point,), checks = adjust_surface_points(job(locate))
    assert "depths disagree" in names(checks)
    low, high = point.depth_m.interval95
    assert low < 1.27 < high


def test_two_heights_over_one_spot_tell_the_depth():
    # 1.5 m below the lower reading, 0.4 m between them: ratio 2.0323 (computed)
    readings = tuple(
        SignalReading(point=at(0, 0), height_m=height, coil="along", signal=signal, sd_share=0.01)
        for height, signal in ((0.1, 2.0323), (0.5, 1.0))
    )
    locate = Locate(id="L", fix=FixKind.KNOWN, point=at(0, 0), readings=readings)
    (point,), _ = adjust_surface_points(job(locate))
    assert point.depth_m.value == pytest.approx(1.4, abs=1e-3)
    silent = locate.model_copy(
        update={"readings": (readings[0], readings[1].model_copy(update={"signal": 0.0}))}
    )
    with pytest.raises(InputError, match="two-height"):
        adjust_surface_points(job(silent))


def test_thin_evidence_is_named_not_guessed():
    lonely = Locate(id="L1", fix=FixKind.TIES)
    blank = Locate(id="L2", fix=FixKind.GNSS_RTK)
    wall = Locate(id="L3", fix=FixKind.OFFSET)
    ties = (Tie(mark_id="A", point_id="L1", distance_m=3.0),)
    points, checks = adjust_surface_points(job(lonely, blank, wall, ties=ties))
    assert points == ()
    assert {c.about for c in checks if c.name == "locate without a place"} == {"L1", "L2", "L3"}


def test_ties_that_disagree_are_named_with_the_mark():
    marks = (A, B, Mark(id="C", name="tree", point=at(0.0, 10.0)))
    locate, ties = tied("L", 4.0, 5.0)
    ties = (*ties, Tie(mark_id="C", point_id="L", distance_m=math.hypot(4.0, 5.0) + 1.5))
    _, checks = adjust_surface_points(job(locate, ties=ties, marks=marks))
    assert any(c.name == "ties disagree" and "sd" in c.reason for c in checks)


@pytest.mark.parametrize(
    ("broken", "where"),
    [
        (job(marks=(A, A)), "marks"),
        (
            job(*(Locate(id="L", fix=FixKind.KNOWN, point=at(0, 0)) for _ in range(2))),
            "locates",
        ),
        (job(ties=(Tie(mark_id="Z", point_id="L", distance_m=1.0),)), "ties, entry 1, mark_id"),
        (job(ties=(Tie(mark_id="A", point_id="Z", distance_m=1.0),)), "ties, entry 1, point_id"),
        (
            job(
                Locate(
                    id="L",
                    fix=FixKind.OFFSET,
                    offset=Offset(from_mark="A", to_mark="Q", along_m=1, right_m=1),
                )
            ),
            "locate L, to_mark",
        ),
    ],
)
def test_ids_that_do_not_fit_are_refused_by_field(broken, where):
    with pytest.raises(InputError) as caught:
        adjust_surface_points(broken)
    assert caught.value.where == where


def test_a_tie_may_also_go_to_a_ground_shot():
    level = GroundLevel(id="G", point=at(1, 1), level_m=Estimate.of(100.0, 0.01))
    ties = (Tie(mark_id="A", point_id="G", distance_m=1.4),)
    assert adjust_surface_points(job(levels=(level,), ties=ties)) == ((), ())
