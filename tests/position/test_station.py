"""Station from time, from each kind of evidence alone and together."""

import math

import numpy as np
import pytest
from evidence_kit import LEAD, SPEED, counter, film, job, seen, spot, steady

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Turn
from saltglaze.model.line import Access, FactSource, KnownLandmark, Line, Segment
from saltglaze.model.run import Run
from saltglaze.model.talk import SpokenStation
from saltglaze.model.track import (
    CounterReset,
    JointPassage,
    MotionKind,
    MotionStretch,
)
from saltglaze.position.solve import locate


def stations(placement, times, run=0):
    samples = placement.position.stationings[run].samples
    time = [one.time_s for one in samples]
    mean = np.interp(times, time, [one.station_m for one in samples])
    return mean, np.interp(times, time, [one.sd_m for one in samples])


def placed(placement, name):
    return next(one for one in placement.places if one.finding_id == name).station_m


def said(*pairs):
    return Heard(
        run_id="r1",
        stations=tuple(
            SpokenStation(time_s=t, distance_m=Estimate.of(d, 0.2), text=f"{d} m") for t, d in pairs
        ),
    )


def test_the_counter_alone_gives_stations_whose_doubt_grows_with_distance():
    answer = locate(job(), (steady(),), (), ())
    mean, sd = stations(answer, [50.0, 150.0, 290.0])
    assert mean == pytest.approx([5.0, 15.0, 29.0], abs=0.05)
    assert sd[0] < sd[1] < sd[2]
    # scale 2 %, zero 0.1 m and slip 0.04 m per root metre (the declared priors)
    assert sd[2] == pytest.approx(math.hypot(0.02 * 29.0, 0.04 * math.sqrt(29.0), 0.1), rel=0.1)


def test_talk_alone_gives_stations():
    answer = locate(job(), (film(),), (said((50.0, 5.0), (150.0, 15.0), (250.0, 25.0)),), ())
    mean, sd = stations(answer, [100.0, 200.0])
    assert mean == pytest.approx([10.0, 20.0], abs=0.3)
    assert np.all(sd > 0.5)


def test_typed_stations_alone_place_what_lies_between():
    findings = (seen("a", 40.0, 4.0), seen("b", 200.0, 20.0), seen("c", 120.0))
    answer = locate(job(), (film(),), (), findings)
    between = placed(answer, "c")
    assert between.value == pytest.approx(12.0, abs=0.2)
    assert between.spread > placed(answer, "a").spread
    assert placed(answer, "a").value == 4.0


def test_nothing_that_tells_a_distance_gives_unknown_with_a_reason():
    answer = locate(job(), (film(),), (), (seen("a", 40.0),))
    assert answer.position.stationings[0].unknown_because
    assert not answer.position.stationings[0].samples
    assert placed(answer, "a").unknown_because
    assert not answer.position.length_m.known


def test_misreads_do_not_move_the_stations():
    rng = np.random.default_rng(4)
    times = np.arange(0.0, 300.0, 0.5)
    values = SPEED * times
    wrong = rng.random(times.size) < 0.1
    values[wrong] += rng.choice([-10.0, 3.0, 10.0, 20.0], wrong.sum())
    answer = locate(job(), (film(counter(times, values, 0.9)),), (), ())
    mean, _ = stations(answer, np.arange(10.0, 290.0, 20.0))
    assert mean == pytest.approx(SPEED * np.arange(10.0, 290.0, 20.0), abs=0.1)


def test_a_reset_is_bridged():
    times = np.arange(0.0, 300.0, 0.5)
    values = np.where(times < 120.0, SPEED * times, SPEED * (times - 120.0))
    resets = (CounterReset(time_s=120.0, before_m=12.0, after_m=0.0),)
    answer = locate(job(), (film(counter(times, values, resets=resets)),), (), ())
    mean, sd = stations(answer, [100.0, 250.0])
    assert mean == pytest.approx([10.0, 25.0], abs=0.15)
    assert sd[1] > sd[0] + 0.1


def test_a_gap_in_the_counter_widens_the_doubt_inside_it_only():
    times = np.concatenate([np.arange(0.0, 100.0, 0.5), np.arange(160.0, 300.0, 0.5)])
    answer = locate(job(), (film(counter(times, SPEED * times)),), (), ())
    _, sd = stations(answer, [99.0, 130.0, 161.0])
    # unwatched, a head that may wander by 0.12 m2 a second is loose by sqrt(0.12 * 60 / 4)
    # midway (declared prior)
    extra = np.sqrt(sd[1] ** 2 - (0.5 * (sd[0] + sd[2])) ** 2)
    assert extra == pytest.approx(math.sqrt(0.12 * 60.0 / 4.0), rel=0.1)


def test_standing_still_needs_no_counter():
    times = np.concatenate([np.arange(0.0, 100.0, 0.5), np.arange(160.0, 300.0, 0.5)])
    values = np.where(times < 100.0, SPEED * times, SPEED * (times - 60.0))
    hold = (MotionStretch(start_s=100.0, end_s=160.0, kind=MotionKind.HOLDING),)
    still = locate(job(), (film(counter(times, values), motion=hold),), (), ())
    mean, sd = stations(still, [99.0, 130.0])
    assert mean[1] == pytest.approx(10.0, abs=0.1)
    assert sd[1] == pytest.approx(sd[0], abs=0.05)


def sections(length, recorded):
    segment = Segment(
        start_m=Estimate.of(0.0, 0.0),
        section_length_m=length if recorded else None,
        source=FactSource.RECORD,
    )
    return Line(id="line", segments=(segment,))


def test_joints_of_known_length_settle_the_counter_scale():
    # 12 sections of 2.0 m are 24.0 m where the counter says 25.0: it reads 4.17 % over
    # (computed in the field dossier).
    joints = tuple(JointPassage(time_s=20.0 * n + 5.0, strength=1.0) for n in range(13))
    times = np.arange(0.0, 250.0, 0.5)
    track = film(counter(times, times * 25.0 / 240.0), 250.0, joints=joints)
    answer = locate(job(line=sections(2.0, True)), (track,), (), ())
    stationing = answer.position.stationings[0]
    mean, _ = stations(answer, [5.0, 245.0])
    assert mean[1] - mean[0] == pytest.approx(24.0, abs=0.25)
    # 24 / 25 seen through laying length (0.7 %) and slip (0.8 %), against a prior of 1 +- 2 %
    expected = 1.0 - 0.04 * 0.02**2 / (0.02**2 + 0.007**2 + (0.04 / math.sqrt(25.0)) ** 2)
    assert stationing.counter_scale.value == pytest.approx(expected, abs=0.004)
    check = next(one for one in answer.position.checks if one.name == "joint count")
    assert "12 sections" in check.reason
    assert "+4.2%" in check.reason


def test_missed_joints_are_counted_over():
    joints = tuple(
        JointPassage(time_s=20.0 * n + 5.0, strength=1.0) for n in range(13) if n not in (3, 7, 8)
    )
    times = np.arange(0.0, 250.0, 0.5)
    track = film(counter(times, times * 25.0 / 240.0), 250.0, joints=joints)
    answer = locate(job(line=sections(2.0, True)), (track,), (), ())
    mean, _ = stations(answer, [5.0, 245.0])
    assert mean[1] - mean[0] == pytest.approx(24.0, abs=0.3)


def test_even_joints_of_unknown_length_do_not_shrink_the_counter():
    rng = np.random.default_rng(11)
    joints = tuple(
        JointPassage(time_s=float(12.0 * n + 5.0 + rng.normal(0.0, 0.3)), strength=1.0)
        for n in range(24)
    )
    answer = locate(job(line=sections(1.2, False)), (steady(joints=joints),), (), ())
    assert answer.position.stationings[0].counter_scale.value == pytest.approx(1.0, abs=0.004)


def test_a_landmark_from_a_record_corrects_the_zero_and_the_scale():
    line = Line(
        id="line",
        landmarks=(
            KnownLandmark(
                name="cast iron to clay",
                feature="material_change",
                station_m=Estimate.of(20.6, 0.05),
                source=FactSource.RECORD,
            ),
        ),
    )
    change = seen("change", 200.0, feature=Feature.MATERIAL_CHANGE)
    plain = locate(job(), (steady(),), (), (change,))
    told = locate(job(line=line), (steady(),), (), (change,))
    before, after = stations(plain, [200.0]), stations(told, [200.0])
    assert before[0][0] == pytest.approx(20.0, abs=0.05)
    assert after[0][0] == pytest.approx(20.6 - LEAD, abs=0.15)
    assert after[1][0] < 0.6 * before[1][0]


def test_a_clean_out_on_record_is_a_landmark_but_the_start_is_none():
    line = Line(
        id="line",
        accesses=(
            Access(name="start", kind="clean-out", station_m=Estimate.of(0.0, 0.0)),
            Access(name="yard", kind="clean-out", station_m=Estimate.of(20.5, 0.05)),
        ),
    )
    found = (seen("yard", 200.0, feature=Feature.CLEAN_OUT),)
    mean, _ = stations(locate(job(line=line), (steady(),), (), found), [5.0, 200.0])
    assert mean[1] == pytest.approx(20.5 - LEAD, abs=0.15)
    assert mean[0] == pytest.approx(0.5 - LEAD, abs=0.25)


def test_the_same_tap_going_out_and_coming_back_takes_up_slip():
    # Out at 0.1 m/s for 200 s; on the way back the counter has slipped by 1 m.
    times = np.arange(0.0, 390.0, 0.5)
    true = np.where(times < 200.0, SPEED * times, 20.0 - SPEED * (times - 200.0))
    shown = np.where(times < 200.0, true, true + 0.6)
    track = film(counter(times, shown), 390.0)
    out, back = seen("out", 100.0, feature=Feature.TAP), seen("back", 300.0, feature=Feature.TAP)
    alone = locate(job(), (track,), (), (out,))
    both = locate(job(), (track,), (), (out, back))
    _, before = stations(alone, [300.0])
    mean, after = stations(both, [100.0, 300.0])
    assert abs(mean[1] - mean[0]) < 0.35
    assert after[1] < before[0]


def test_a_run_from_the_far_end_counts_down_the_line():
    far = Run(id="r2", reversed_stationing=True, start_station_m=Estimate.of(40.0, 0.2))
    answer = locate(job(runs=(far,)), (steady(run_id="r2"),), (), (seen("a", 100.0, run_id="r2"),))
    assert placed(answer, "a").value == pytest.approx(30.0 - LEAD, abs=0.1)
    assert answer.position.length_m.value == pytest.approx(40.0, abs=0.5)


def test_two_runs_from_opposite_ends_share_their_landmarks():
    near = Run(id="r1", sonde_behind_lens_m=0.0)
    far = Run(id="r2", reversed_stationing=True, start_station_m=Estimate.of(41.0, 1.0))
    tracks = (steady(), steady(run_id="r2"))
    alone = locate(job(runs=(near, far)), tracks, (), (seen("b", 200.0, run_id="r2"),))
    shared = (
        seen("tap", 100.0, feature=Feature.TAP),
        seen("tap2", 300.0 - 0.5, feature=Feature.TAP, run_id="r2"),
        seen("b", 200.0, run_id="r2"),
    )
    both = locate(job(runs=(near, far)), tracks, (), shared)
    # by the first run the tap lies at 10.0, by the second at 41.0 - 29.95 = 11.05
    assert placed(both, "tap").value == pytest.approx(10.1, abs=0.2)
    assert placed(both, "tap2").value == pytest.approx(10.1, abs=0.2)
    assert placed(both, "b").value < placed(alone, "b").value - 0.5
    assert placed(both, "b").spread < 0.7 * placed(alone, "b").spread


def test_a_run_that_began_no_one_knows_where_is_placed_by_what_both_runs_saw():
    near = Run(id="r1", sonde_behind_lens_m=0.0)
    far = Run(id="r2", reversed_stationing=True, start_station_m=Estimate.of(60.0, 300.0))
    both = (
        seen("tap", 100.0, feature=Feature.TAP),
        seen("hole", 160.0, feature=Feature.HOLE),
        seen("tap2", 240.0, feature=Feature.TAP, run_id="r2"),
        seen("hole2", 180.0, feature=Feature.HOLE, run_id="r2"),
        seen("x", 50.0, feature=Feature.ROOTS, run_id="r2"),
    )
    answer = locate(job(runs=(near, far)), (steady(), steady(run_id="r2")), (), both)
    # tap at 10 and hole at 16: the far run began at 34, and x lies 5 m down from there
    assert placed(answer, "hole2").value == pytest.approx(16.0, abs=0.3)
    assert placed(answer, "x").value == pytest.approx(29.0, abs=0.5)
    assert placed(answer, "x").spread < 1.0


def test_bends_between_locates_teach_how_far_ahead_a_run_names_things():
    # True bends at 10, 20 and 30 m, each named when the lens is 0.35 m short of it; locates
    # on both legs show where the bends really are, so the defect named likewise moves up.
    bends, turn = (10.0, 20.0, 30.0), math.radians(45.0)

    def at_station(s):
        legs = [min(max(s - low, 0.0), 10.0) for low in (0.0, 10.0, 20.0)] + [max(s - 30.0, 0.0)]
        ways = [0.0, turn, 0.0, turn]
        east = sum(leg * math.cos(way) for leg, way in zip(legs, ways, strict=True))
        return east, sum(leg * math.sin(way) for leg, way in zip(legs, ways, strict=True))

    places = (2.0, 5.0, 8.0, 12.0, 15.0, 18.0, 22.0, 25.0, 28.0, 32.0, 35.0, 38.0)
    points = tuple(spot(f"p{s}", *at_station(s), 10.0 * s) for s in places)
    ways = (Turn.LEFT, Turn.RIGHT, Turn.LEFT)
    named = tuple(
        seen(f"b{s}", 10.0 * (s - 0.35), feature=Feature.BEND, kind="1/8", turn=way)
        for s, way in zip(bends, ways, strict=True)
    )
    defect = seen("x", 10.0 * (25.0 - 0.35))
    alone = locate(job(points), (steady(450),), (), (defect,))
    told = locate(job(points), (steady(450),), (), (*named, defect))
    assert placed(alone, "x").value < 24.9
    assert 24.85 < placed(told, "x").value < 25.15
    assert placed(told, "x").spread < placed(alone, "x").spread
