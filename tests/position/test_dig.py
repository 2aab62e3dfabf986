from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import chi2

from saltglaze.model.appraisal import FindingPlace, Path, PathPoint
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.ground import (
    Mark,
    OtherUtility,
    Parcel,
    ParcelKind,
    PlanCovariance,
    PlanPoint,
)
from saltglaze.model.job import Job, Place
from saltglaze.model.line import Line
from saltglaze.position.dig import bearing_at, digs, point_at, trench_length
from saltglaze.position.ellipse import ellipse_of, matrix_of, sd_along
from saltglaze.position.taping import tape_ties


def at(east, north):
    return PlanPoint(east_m=east, north_m=north)


def finding(name="f", feature=Feature.BREAK, **more):
    return Finding(
        id=name, draft=Facts(feature=feature), evidence=Evidence(drafted_by=DraftedBy.TYPED), **more
    )


def eastwards(name="A", weight=1.0, north=0.0):
    points = tuple(PathPoint(station_m=float(s), point=at(float(s), north)) for s in range(21))
    return Path(name=name, weight=weight, points=points)


def placed(name="f", station=10.0, depth=1.2, sd_east=0.3, sd_north=0.1, end=None):
    return FindingPlace(
        finding_id=name,
        station_m=Estimate.of(station, sd_east),
        end_station_m=None if end is None else Estimate.of(end, sd_east),
        point=at(station, 0.0),
        covariance=PlanCovariance(east_east_m2=sd_east**2, north_north_m2=sd_north**2),
        depth_m=None if depth is None else Estimate.of(depth, 0.1),
    )


def job(**more):
    return Job(id="j", line=Line(id="l"), **more)


def one(**more):
    made, where = more.pop("finding", finding()), more.pop("place", placed())
    (dig,) = digs(job(**more), (eastwards(),), (made,), (where,))
    return dig


def test_ellipses_have_the_chi_square_size():
    # outside check: scipy's chi-square law with two degrees of freedom
    dig = one()
    for ellipse, level in ((dig.ellipse68, 0.68), (dig.ellipse95, 0.95)):
        factor = math.sqrt(chi2.ppf(level, 2))
        assert ellipse.semi_major_m == pytest.approx(0.3 * factor)
        assert ellipse.semi_minor_m == pytest.approx(0.1 * factor)
        assert ellipse.bearing_deg == pytest.approx(90.0)
        assert ellipse.level == level


@settings(deadline=None)
@given(st.floats(0.01, 3.0), st.floats(0.01, 3.0), st.floats(0.0, 179.0))
def test_sd_along_the_axes_of_an_ellipse_are_its_half_axes(major, minor, bearing):
    major, minor = max(major, minor), min(major, minor)
    angle = math.radians(bearing)
    axes = np.array([[math.sin(angle), math.cos(angle)], [math.cos(angle), -math.sin(angle)]])
    m = axes.T @ np.diag([major**2, minor**2]) @ axes
    covariance = PlanCovariance(east_east_m2=m[0, 0], north_north_m2=m[1, 1], east_north_m2=m[0, 1])
    assert matrix_of(covariance) == pytest.approx(m)
    assert sd_along(covariance, bearing) == pytest.approx(major, rel=1e-6)
    assert sd_along(covariance, bearing + 90.0) == pytest.approx(minor, rel=1e-6, abs=1e-7)
    assert ellipse_of(covariance, 0.95).semi_major_m == pytest.approx(major * 2.4477, rel=1e-4)


def test_the_trench_holds_the_spot_with_95_percent():
    assert one().trench_length_m == pytest.approx(1.2)  # 2 x 1.96 x 0.3 = 1.18, rounded up
    assert one().trench_bearing_deg == pytest.approx(90.0)
    rng = np.random.default_rng(2)
    off = rng.normal(0.0, 0.9, 4000)
    held = np.mean(np.abs(off) <= trench_length(0.0, 0.9) / 2.0)
    assert 0.94 < held < 0.965


def test_a_stretch_is_bared_from_end_to_end():
    dig = one(place=placed(end=13.0), finding=finding(feature=Feature.ROOTS))
    assert dig.trench_length_m == pytest.approx(4.2)  # 3 m and 1.18 m


def test_nobody_digs_for_a_rejected_or_harmless_or_lost_finding():
    rejected = finding("r").model_copy(
        update={"edit": finding().edit, "draft": Facts(feature=Feature.START)}
    )
    lost = placed("x").model_copy(update={"point": None, "covariance": None})
    assert digs(job(), (eastwards(),), (rejected, finding("x")), (placed("r"), lost)) == ()
    assert digs(job(), (), (finding(),), (placed(),)) == ()


def test_ties_come_from_the_two_marks_that_cross_best():
    marks = (
        Mark(id="W", name="west corner", point=at(4.0, 0.0)),
        Mark(id="E", name="east corner", point=at(16.0, 0.1)),
        Mark(id="N", name="north post", point=at(10.0, 6.0)),
    )
    ties = one(marks=marks).ties
    assert "N" in {tie.mark_id for tie in ties}
    assert len(ties) == 2
    distance = {tie.mark_id: tie.distance_m for tie in ties}
    assert distance["N"] == pytest.approx(6.0)
    assert [tie.mark_id for tie in tape_ties(marks[:1], at(10.0, 0.0))] == ["W"]
    assert tape_ties((), at(0.0, 0.0)) == ()


def test_marks_beyond_a_tape_s_length_come_last():
    near = [Mark(id=f"n{k}", name="", point=at(k, 8.0)) for k in (0.0, 3.0)]
    far = [Mark(id="far", name="", point=at(60.0, 0.0), sd_m=0.001)]
    assert {t.mark_id for t in tape_ties([*near, *far], at(10.0, 0.0))} == {"n0.0", "n3.0"}


def test_ground_names_the_outline_and_doubts_its_edge():
    lot = Parcel(
        id="12",
        kind=ParcelKind.PARCEL,
        owner="A. Moss",
        sd_m=0.5,
        ring=(at(0, -20), at(9.7, -20), at(9.7, 20), at(0, 20)),
    )
    street = Parcel(
        id="Elm",
        kind=ParcelKind.RIGHT_OF_WAY,
        sd_m=0.5,
        ring=(at(9.7, -20), at(30, -20), at(30, 20), at(9.7, 20)),
    )
    close = one(parcels=(lot, street)).ground
    assert "parcel of A. Moss (just outside its drawn edge)" in close
    assert "right of way Elm (just inside its drawn edge)" in close
    clear = one(parcels=(lot, street), place=placed(station=5.0)).ground
    assert clear == "parcel of A. Moss"
    assert one().ground == "outside every outline given"


def test_every_dig_says_to_call_first():
    assert any("811" in text for text in one().cautions)
    (dig,) = digs(
        Job(id="j", line=Line(id="l"), place=Place(one_call="0800 1234")),
        (eastwards(),),
        (finding(),),
        (placed(),),
    )
    assert any("0800 1234" in text for text in dig.cautions)
    assert any("Private services" in text for text in dig.cautions)


@pytest.mark.parametrize(
    ("depth", "asked"), [(0.7, False), (1.2, False), (1.4, True), (2.5, True), (None, True)]
)
def test_a_trench_that_may_reach_five_feet_asks_for_a_protective_system(depth, asked):
    # 29 CFR 1926 Subpart P: 5 ft = 1.524 m (from memory)
    said = any("protective system" in text for text in one(place=placed(depth=depth)).cautions)
    assert said is asked


@pytest.mark.parametrize(("north", "near"), [(0.5, True), (1.6, True), (8.0, False)])
def test_a_service_within_the_tolerance_zone_is_named(north, near):
    # 18 in each side of the facility (CGA Best Practice 5.19, confirmed)
    gas = OtherUtility(id="G1", kind="gas", points=(at(0, north), at(20, north)), sd_m=0.2)
    said = [text for text in one(utilities=(gas,)).cautions if "gas G1" in text]
    assert bool(said) is near


def test_other_hypotheses_show_where_it_would_lie_then():
    paths = (eastwards(weight=0.7), eastwards("B", 0.28, 4.0), eastwards("C", 0.02, 9.0))
    (dig,) = digs(job(), paths, (finding(),), (placed(),))
    assert [(p.east_m, p.north_m) for p in dig.alternatives] == [pytest.approx((10.0, 4.0))]


def test_a_path_is_read_between_and_beyond_its_points():
    path = eastwards()
    assert point_at(path, 3.25).east_m == pytest.approx(3.25)
    assert point_at(path, 21.5).east_m == pytest.approx(21.5)
    assert bearing_at(path, 0.0) == pytest.approx(90.0)
    assert point_at(Path(name="A", weight=1.0, points=()), 1.0) is None


def test_a_broken_outline_does_not_stop_the_dig():
    bow = Parcel(id="bow", kind=ParcelKind.PARCEL, ring=(at(0, 0), at(20, 1), at(20, 0), at(0, 1)))
    line = Parcel(id="line", kind=ParcelKind.BUILDING, ring=(at(0, 0), at(1, 1)))
    assert one(parcels=(bow, line)).ground == "outside every outline given"
