from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from saltglaze.errors import InputError
from saltglaze.model.ground import Mark, PlanPoint, Tie
from saltglaze.position.ellipse import matrix_of
from saltglaze.position.ties import (
    TapedDistance,
    adjust_ties,
    crossing_deg,
    level_distance,
    tape_sd_m,
)


def mark(name, east, north, sd=0.0):
    return Mark(id=name, name=name, point=PlanPoint(east_m=east, north_m=north), sd_m=sd)


def taped(east, north, distance, sd=0.02):
    return TapedDistance(mark(f"{east},{north}", east, north), distance, sd)


def xy(point):
    return np.array([point.east_m, point.north_m])


def test_the_three_four_five_triangle():
    fix = adjust_ties([taped(0.0, 0.0, 3.0), taped(5.0, 0.0, 4.0)])
    # a = (9 - 16 + 25) / 10 = 1.8, h = 2.4 (plane geometry)
    assert fix.mirror is not None
    places = sorted((round(p.east_m, 9), round(p.north_m, 9)) for p in (fix.point, fix.mirror))
    assert places == [(1.8, -2.4), (1.8, 2.4)]
    assert fix.misfit_m == 0.0
    # the two tapes cross at a right angle there: each axis has the tape's own sd
    values = np.linalg.eigvalsh(matrix_of(fix.covariance))
    assert values == pytest.approx([0.02**2, 0.02**2])


coordinate = st.floats(-20.0, 20.0)


@settings(deadline=None)
@given(coordinate, coordinate, coordinate, coordinate, coordinate, coordinate)
def test_exact_ties_give_the_point_or_its_mirror(ax, ay, bx, by, px, py):
    a, b, p = mark("A", ax, ay), mark("B", bx, by), PlanPoint(east_m=px, north_m=py)
    assume(math.hypot(ax - bx, ay - by) > 1.0)
    assume(crossing_deg(a.point, b.point, p) > 25.0)
    distances = [math.hypot(px - ax, py - ay), math.hypot(px - bx, py - by)]
    assume(min(distances) > 0.5)
    # Exact: with a real tape's margin, circles that barely meet give their spread's middle.
    fix = adjust_ties([TapedDistance(m, d, 1e-6) for m, d in zip((a, b), distances, strict=True)])
    assert fix.mirror is not None
    best = min(np.hypot(*(xy(s) - [px, py])) for s in (fix.point, fix.mirror))
    assert best < 1e-6


def test_circles_that_do_not_meet_give_the_point_between_with_the_misfit():
    fix = adjust_ties([taped(0.0, 0.0, 4.0), taped(10.0, 0.0, 5.4)])
    assert fix.misfit_m == pytest.approx(0.6)
    assert fix.misfit_ratio == pytest.approx(0.6 / math.hypot(0.02, 0.02))
    assert fix.mirror is None
    assert 4.0 < fix.point.east_m < 4.6
    assert fix.point.north_m == pytest.approx(0.0, abs=1e-9)


def test_one_circle_inside_the_other_is_a_misfit_too():
    fix = adjust_ties([taped(0.0, 0.0, 10.0), taped(2.0, 0.0, 5.0)])
    assert fix.misfit_m == pytest.approx(3.0)


def test_a_flat_crossing_is_said_and_its_margin_lies_across():
    fix = adjust_ties([taped(0.0, 0.0, 5.0), taped(10.0, 0.0, 5.01)])
    assert fix.flat
    assert fix.covariance.north_north_m2 > 25.0 * fix.covariance.east_east_m2


def test_a_third_tie_rules_the_mirror_out():
    distances = [math.hypot(3.0, 4.0), math.hypot(7.0, 4.0), math.hypot(3.0, 2.0)]
    fix = adjust_ties(
        [
            taped(0.0, 0.0, distances[0]),
            taped(10.0, 0.0, distances[1]),
            taped(0.0, 6.0, distances[2]),
        ]
    )
    assert fix.mirror is None
    assert xy(fix.point) == pytest.approx([3.0, 4.0], abs=1e-6)


def test_three_marks_on_one_wall_leave_the_mirror():
    fix = adjust_ties([taped(x, 0.0, math.hypot(3.0 - x, 4.0)) for x in (0.0, 5.0, 10.0)])
    assert fix.mirror is not None
    assert {round(fix.point.north_m, 6), round(fix.mirror.north_m, 6)} == {4.0, -4.0}


def test_least_squares_agrees_with_scipy():
    # outside check: scipy.optimize.least_squares on the same four distances
    rng = np.random.default_rng(5)
    marks = np.array([[0.0, 0.0], [12.0, 1.0], [3.0, 14.0], [-6.0, 8.0]])
    truth, sds = np.array([4.0, 6.0]), np.array([0.02, 0.03, 0.025, 0.05])
    radii = np.hypot(*(marks - truth).T) + rng.normal(0.0, sds)

    def residual(place):
        return (np.hypot(*(marks - place).T) - radii) / sds

    peer = least_squares(residual, truth, xtol=1e-14, ftol=1e-14, gtol=1e-14)
    fix = adjust_ties([taped(*m, r, s) for m, r, s in zip(marks, radii, sds, strict=True)])
    assert xy(fix.point) == pytest.approx(peer.x, abs=1e-6)
    assert matrix_of(fix.covariance) == pytest.approx(
        np.linalg.inv(peer.jac.T @ peer.jac), rel=1e-3, abs=1e-8
    )
    assert fix.chi2 == pytest.approx(2.0 * peer.cost, rel=1e-5)


def test_a_wrong_tie_among_four_is_named_and_opens_the_margin():
    marks = [(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]
    good = [taped(*m, math.hypot(m[0] - 4.0, m[1] - 5.0)) for m in marks]
    bad = [*good[:3], taped(0.0, 10.0, good[3].distance_m + 1.0)]
    assert adjust_ties(good).misfit_ratio < 1e-3
    fix = adjust_ties(bad)
    assert fix.worst_mark_id == "0.0,10.0"
    assert fix.misfit_ratio > 3.0
    assert fix.covariance.east_east_m2 > adjust_ties(good).covariance.east_east_m2


def test_a_sloping_tape_is_reduced_to_level():
    tie = Tie(mark_id="A", point_id="L1", distance_m=10.0, slope_deg=15.0)
    reduced = level_distance(tie, mark("A", 0.0, 0.0, sd=0.02))
    assert reduced.distance_m == pytest.approx(10.0 * math.cos(math.radians(15.0)))
    assert reduced.sd_m == pytest.approx(math.hypot(tape_sd_m(10.0), 0.02))


@pytest.mark.parametrize("change", [{"distance_m": -1.0}, {"distance_m": 3.0, "slope_deg": 75.0}])
def test_impossible_ties_are_refused_by_name(change):
    tie = Tie(mark_id="A", point_id="L1", **change)
    with pytest.raises(InputError, match="tie from mark A to L1"):
        level_distance(tie, mark("A", 0.0, 0.0))


def test_one_tie_or_one_mark_fixes_nothing():
    with pytest.raises(InputError, match="one tie"):
        adjust_ties([taped(0.0, 0.0, 3.0)])
    with pytest.raises(InputError, match="same point"):
        adjust_ties([taped(0.0, 0.0, 3.0), taped(0.0, 0.0, 4.0)])
