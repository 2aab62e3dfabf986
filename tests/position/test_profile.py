from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from section_kit import COVER_M, SLOPE, bowl, film, ground, invert, readings, segments

from profile_calibration import calibrate
from saltglaze.errors import InputError
from saltglaze.model.appraisal import Path, PathPoint, SurfacePoint
from saltglaze.model.base import Estimate
from saltglaze.model.ground import FixKind, GroundLevel, Locate, PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.model.line import Access, Line
from saltglaze.model.run import Direction
from saltglaze.position.falls import falls_of
from saltglaze.position.levels import Drop, height_above_invert, nearest_station
from saltglaze.position.profile import profile_of
from saltglaze.position.section import with_levels
from saltglaze.position.water import StandingWater, WaterDepth, standing_water

WITH, AGAINST = Direction.WITH_FLOW, Direction.AGAINST_FLOW
EVERY_5 = (0.0, 5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0)


def eastwards(length=40):
    points = tuple(
        PathPoint(station_m=float(s), point=PlanPoint(east_m=float(s), north_m=0.0))
        for s in range(length + 1)
    )
    return Path(name="A", weight=1.0, points=points)


def test_a_straight_drain_comes_back_straight():
    job, surface = readings(EVERY_5)
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    assert profile.datum_known
    for station in (0.0, 12.5, 33.0):
        depth = profile.depth_at(Estimate.of(station, 0.0))
        assert depth.value == pytest.approx(COVER_M + SLOPE * station, abs=0.01)
    assert profile.slope_between(2.0, 38.0).value == pytest.approx(SLOPE, abs=5e-4)
    assert profile.conflicts == () and profile.checks == ()


def test_the_same_depths_against_the_flow_fall_the_other_way():
    job, surface = readings(EVERY_5)
    profile = profile_of(job, 40.0, surface, (), segments(), AGAINST)
    assert profile.slope_between(2.0, 38.0).value == pytest.approx(-SLOPE, abs=2e-3)
    unknown = profile_of(job, 40.0, surface, (), segments(), None)
    assert "direction" in (unknown.slope_between(2.0, 38.0).unknown_because or "")


def test_margins_grow_away_from_the_readings():
    job, surface = readings((0.0, 5.0, 10.0))
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    sds = [profile.depth_at(Estimate.of(s, 0.0)).spread for s in (5.0, 15.0, 25.0, 40.0)]
    assert sds == sorted(sds)
    assert sds[-1] > 5.0 * sds[0]


def test_an_unsure_station_opens_the_depth_where_it_changes():
    job, surface = readings(EVERY_5)
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    sure, unsure = (profile.depth_at(Estimate.of(20.0, sd)) for sd in (0.0, 2.0))
    assert unsure.spread == pytest.approx(math.hypot(sure.spread, SLOPE * 2.0), rel=0.02)


@pytest.mark.parametrize("wrong", [1.2, -0.9])
def test_one_wrong_depth_is_named_and_does_not_bend_the_line(wrong):
    job, surface = readings(EVERY_5, off={4: wrong})
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    (conflict,) = profile.conflicts
    assert conflict.item == "depth at L4"
    assert ("deeper" if wrong > 0 else "shallower") in conflict.misfit
    assert not conflict.used
    there = profile.depth_at(Estimate.of(20.0, 0.0))
    assert there.value == pytest.approx(COVER_M + SLOPE * 20.0, abs=0.06)
    assert f"{there.value:.1f}" in conflict.without_it
    assert conflict.with_it != conflict.without_it


def test_an_invert_above_ground_is_said():
    job, surface = readings(EVERY_5, off=dict.fromkeys(range(9), -2.0))
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    assert [check.name for check in profile.checks] == ["invert above ground"]


def test_without_ground_levels_depth_is_known_and_level_is_not():
    job, surface = readings(EVERY_5, levels=False)
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    assert not profile.datum_known
    assert profile.depth_at(Estimate.of(20.0, 0.0)).value == pytest.approx(1.4, abs=0.03)
    # the ground's own slope is unknown, so the pipe's fall is loose
    with_levels_ = profile_of(*_both(EVERY_5), (), segments(), WITH)
    loose = profile.slope_between(5.0, 35.0).spread
    assert loose > 3.0 * with_levels_.slope_between(5.0, 35.0).spread


def _both(stations):
    job, surface = readings(stations)
    return job, 40.0, surface


def test_ground_shots_beside_the_path_count():
    job, surface = readings(EVERY_5, levels=False)
    shots = tuple(
        GroundLevel(
            id=f"G{e}", point=PlanPoint(east_m=e, north_m=1.0), level_m=Estimate.of(100.0, 0.01)
        )
        for e in (0.0, 20.0, 40.0)
    )
    job = job.model_copy(update={"levels": shots})
    profile = profile_of(job, 40.0, surface, (), segments(), WITH, path=eastwards())
    assert profile.datum_known
    far = shots[0].model_copy(update={"point": PlanPoint(east_m=0.0, north_m=50.0)})
    alone = job.model_copy(update={"levels": (far,)})
    assert not profile_of(alone, 40.0, surface, (), segments(), WITH, path=eastwards()).datum_known


def test_an_access_with_a_taped_invert_counts():
    access = Access(
        name="manhole",
        kind="manhole",
        station_m=Estimate.of(10.0, 0.1),
        invert_depth_m=Estimate.of(1.8, 0.02),
    )
    job = Job(id="j", line=Line(id="l", accesses=(access,)))
    profile = profile_of(job, 20.0, (), (), segments(), WITH)
    assert profile.depth_at(Estimate.of(10.0, 0.0)).value == pytest.approx(1.8, abs=0.02)


def test_nothing_known_gives_no_profile():
    job = Job(id="j", line=Line(id="l"))
    assert profile_of(job, 20.0, (), (), segments(), WITH) is None


@pytest.mark.parametrize(
    ("target", "bore", "low", "high"),
    [
        ("invert", 0.1, 0.0, 0.0),
        ("axis", 0.1, 0.05, 0.05),
        ("crown", 0.1, 0.1, 0.1),
        ("transmitter", 0.1, 0.015, 0.05),
        ("transmitter", None, 0.0, 0.08),
    ],
)
def test_what_a_depth_was_read_to(target, bore, low, high):
    above = height_above_invert(target, bore)
    assert low <= above.value <= high
    if target == "transmitter" and bore:
        # uniform between a head lying bare and one centred on skids
        assert above.value == pytest.approx(0.0325)
        assert above.spread == pytest.approx(0.035 / math.sqrt(12.0))


def test_an_unknown_target_is_refused():
    with pytest.raises(InputError, match="depth_to"):
        height_above_invert("sky", 0.1, "L1")


@pytest.mark.parametrize("height", [Estimate.of(0.4, 0.05), None])
def test_a_drop_is_not_smeared_out(height):
    stations = tuple(float(s) for s in range(0, 41, 2))
    job, surface = readings(stations, sd=0.02)
    dropped = tuple(
        p.model_copy(update={"depth_m": Estimate.of(p.depth_m.value + 0.4, 0.02)})
        if p.station_m.value > 21.0
        else p
        for p in surface
    )
    profile = profile_of(job, 40.0, dropped, (), segments(), WITH, drops=(Drop(21.0, height),))
    before, after = (profile.depth_at(Estimate.of(s, 0.0)).value for s in (20.4, 21.6))
    assert after - before == pytest.approx(0.4, abs=0.08)
    assert profile.conflicts == ()


def test_water_alone_draws_the_bed_below_it():
    track, stationing = film(bowl(0.5))
    water = standing_water([track], [stationing])
    job = Job(id="j", line=Line(id="l"))
    profile = profile_of(job, 40.0, (), water, segments(), WITH)
    bed = profile.rows(np.array([10.5, 12.5, 14.5]), invert=1.0) @ profile.solution.unknowns
    shape = bed - bed.mean()
    truth = -0.1 * np.array([0.5 * (1 - 0.8**2), 0.5, 0.5 * (1 - 0.8**2)])
    assert shape == pytest.approx(truth - truth.mean(), abs=0.004)


def test_levels_go_on_the_path():
    job, surface = readings(EVERY_5)
    track, stationing = film(bowl(0.4))
    water = standing_water([track], [stationing])
    profile = profile_of(job, 40.0, surface, water, segments(), WITH)
    points = with_levels(eastwards(), profile).points
    for point in (points[2], points[35]):
        assert point.invert_level_m.value == pytest.approx(invert(point.station_m), abs=0.05)
        assert point.ground_level_m.value == pytest.approx(ground(point.station_m), abs=0.05)
        assert point.depth_m.value == pytest.approx(
            point.ground_level_m.value - point.invert_level_m.value
        )
        assert point.water_level_m is None
    assert points[12].water_level_m > points[12].invert_level_m.value


def test_falls_follow_one_another_over_the_whole_line():
    job, surface = readings(EVERY_5)
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    falls = falls_of(profile)
    assert falls[0].from_m == pytest.approx(0.0) and falls[-1].to_m == pytest.approx(40.0)
    for one, after in pairwise(falls):
        assert one.to_m == after.from_m
    for fall in falls:
        assert 2.0 <= fall.to_m - fall.from_m <= 15.0
        assert abs(fall.slope.value - SLOPE) < 2.0 * fall.slope.spread + 1e-4


def test_nearest_station():
    assert nearest_station(eastwards(), PlanPoint(east_m=7.3, north_m=2.0)) == (
        pytest.approx(7.3),
        pytest.approx(2.0),
    )
    assert (
        nearest_station(Path(name="A", weight=1.0, points=()), PlanPoint(east_m=0, north_m=0))
        is None
    )


finite = st.floats(-1e3, 1e3)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-5, 130), st.floats(0.01, 14), st.floats(0.001, 3)), max_size=8),
    st.lists(st.tuples(st.floats(0, 120), st.floats(0, 1)), max_size=6),
    st.floats(0.0, 200.0),
    st.sampled_from([WITH, AGAINST, None]),
    st.sampled_from([0.05, 0.15, None]),
)
def test_any_evidence_is_answered_with_finite_numbers(depths, wet, length, direction, bore):
    locates, surface = [], []
    for number, (station, depth, sd) in enumerate(depths):
        locates.append(Locate(id=f"L{number}", fix=FixKind.KNOWN))
        surface.append(
            SurfacePoint(
                locate_id=f"L{number}",
                point=PlanPoint(east_m=0, north_m=0),
                covariance=PlanCovariance(east_east_m2=1, north_north_m2=1),
                station_m=Estimate.of(station, sd),
                depth_m=Estimate.of(depth, sd),
            )
        )
    samples = tuple(WaterDepth(s, share, 0.03) for s, share in sorted(wet))
    water = ()
    if samples:
        low, high = samples[0].station_m, samples[-1].station_m
        water = (StandingWater("w", Estimate.of(low, 0.1), Estimate.of(high, 0.1), samples),)
    job = Job(id="j", line=Line(id="l"), locates=tuple(locates))
    profile = profile_of(job, length, surface, water, segments(200.0, bore), direction)
    if profile is None:
        assert not depths and not (wet and samples)
        return
    assert np.isfinite(profile.solution.unknowns).all()
    depth = profile.depth_at(Estimate.of(0.5 * length, 0.3))
    assert math.isfinite(depth.value) and math.isfinite(depth.spread)


SAG_FIGURES = ("sag depth", "sag lowest", "sag start", "sag end", "sag volume")


def held_as_told(score, what, chance):
    """Whether the 68 and 95 % margins held within 4 and 2 points and so many binomial sds."""
    in68, in95, count = score.rate(what)
    return abs(in68 - 0.68) < 0.04 + chance * math.sqrt(0.68 * 0.32 / count) and abs(
        in95 - 0.95
    ) < 0.02 + chance * math.sqrt(0.95 * 0.05 / count)


def test_margins_of_depths_falls_and_sags_hold_on_drawn_sections():
    # 60 seeded drains; bounds two-sided, four binomial sds beyond the reach
    score = calibrate(60, 21, ("section",))
    assert score.rate("sag found once")[2] > 15
    for what in ("depth", "fall", *SAG_FIGURES):
        assert held_as_told(score, what, 4.0), (what, score.rate(what))


@pytest.mark.slow
def test_margins_hold_on_five_hundred_sagging_lines():
    # 1200 seeded drains hold some 500 sags; two binomial sds beyond the reach
    score = calibrate(1200, 22, ("section",))
    in_sags, _, sags = score.rate("sag found once")
    assert sags > 450 and in_sags > 0.97
    for what in ("depth", "fall", *SAG_FIGURES):
        assert held_as_told(score, what, 2.0), (what, score.rate(what))


def test_a_depth_shown_too_shallow_is_not_believed_more_for_it():
    # the error law grows with depth: of two readings equally far off, the shallow one
    # states less margin, and would pull the mean its way
    job, surface = readings(EVERY_5)
    pulled = tuple(
        point.model_copy(update={"depth_m": Estimate.of(shown, 0.05 * shown + 0.05)})
        for number, point in enumerate(surface)
        for shown in [point.depth_m.value + (0.12 if number % 2 else -0.12)]
    )
    scaled = tuple(locate.model_copy(update={"depth_to": "transmitter"}) for locate in job.locates)
    job = job.model_copy(update={"locates": scaled})
    profile = profile_of(job, 40.0, pulled, (), segments(), WITH)
    high = height_above_invert("transmitter", 0.1).value
    off = [
        profile.depth_at(Estimate.of(s, 0.0)).value - (COVER_M + SLOPE * s + high)
        for s in (5.0, 15.0, 25.0, 35.0)
    ]
    assert abs(np.mean(off)) < 0.02
