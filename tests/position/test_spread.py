"""Draws from the answers: the linear law where it holds, the true bend of the course where not."""

import math

import numpy as np
import pytest
from evidence_kit import film, job, seen, spot, steady

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Turn
from saltglaze.model.talk import SpokenStation
from saltglaze.position import solve
from saltglaze.position.solve import locate
from saltglaze.position.spread import Spot, spots

STRAIGHT = tuple(spot(f"p{s}", s, 0.0, 10.0 * s) for s in (2.0, 8.0, 14.0, 20.0))


def answers(monkeypatch, *arguments):
    kept = []

    def listening(problem, weigh=solve.weigh):
        kept.append(weigh(problem))
        return kept[-1]

    monkeypatch.setattr(solve, "weigh", listening)
    return locate(*arguments), kept[-1]


def test_amid_points_the_draws_follow_the_covariance(monkeypatch):
    arguments = (job(STRAIGHT), (steady(),), (), (seen("x", 110.0),))
    answer, hypotheses = answers(monkeypatch, *arguments)
    key = hypotheses[0].fit.keys.index("finding:x")
    linear = hypotheses[0].fit.at_keys([key])[1][0]
    drawn = spots(hypotheses, [key])[key].covariance
    # 500 draws: shapes and sizes within a fifth.
    assert np.sqrt(np.diag(drawn)) == pytest.approx(np.sqrt(np.diag(linear)), rel=0.2)
    assert answer.places[0].alternatives == ()


def test_the_same_evidence_gives_the_same_draws(monkeypatch):
    arguments = (job(STRAIGHT), (steady(),), (), (seen("x", 110.0),))
    first, second = locate(*arguments), locate(*arguments)
    assert first.places == second.places


def test_far_beyond_the_last_point_the_wide_margin_grows_more_than_the_narrow():
    near, far = seen("near", 205.0), seen("far", 290.0)
    answer = locate(job(STRAIGHT), (steady(),), (), (near, far))
    ratio = [p.ellipse95.semi_major_m / p.ellipse68.semi_major_m for p in answer.places]
    normal = math.sqrt(math.log(0.05) / math.log(0.32))  # chi-square, two degrees
    assert ratio[0] == pytest.approx(normal, rel=0.25)
    assert ratio[1] > 1.5 * normal


def test_loose_stations_beside_a_bend_spread_round_it_both_ways():
    # Distances called out only every minute; a quarter bend at 10 m, the spot about at it:
    # it lies before the bend or beyond it, so off either leg but never off both.
    said = tuple(
        SpokenStation(time_s=t, distance_m=Estimate.of(0.1 * t, 0.25), text="said")
        for t in (20.0, 80.0, 140.0, 200.0)
    )
    points = (
        spot("a", 2.0, 0.0, 20.0),
        spot("b", 6.0, 0.0, 60.0),
        spot("c", 10.0, -4.0, 140.0),
        spot("d", 10.0, -9.0, 190.0),
    )
    bend = seen("b", 100.0, feature=Feature.BEND, kind="1/4", turn=Turn.RIGHT)
    heard = (Heard(run_id="r1", stations=said),)
    answer = locate(job(points), (film(),), heard, (bend, seen("x", 100.0)))
    place = answer.places[1]
    assert place.ellipse95.semi_major_m > 0.5
    assert place.ellipse95.semi_minor_m > 0.25


def test_a_spot_measures_along_any_bearing():
    off = np.random.default_rng(1).normal(size=(20_000, 2)) * (2.0, 0.5)
    drawn = Spot(np.zeros(2), np.zeros((0, 2)), off)
    assert drawn.along(90.0, 0.95) == pytest.approx(2.0 * 1.96, rel=0.03)
    assert drawn.along(0.0, 0.95) == pytest.approx(0.5 * 1.96, rel=0.03)
    for level in (0.68, 0.95):
        size = math.sqrt(-2.0 * math.log1p(-level))
        assert drawn.ellipse(level).semi_major_m == pytest.approx(2.0 * size, rel=0.04)
        assert drawn.ellipse(level).semi_minor_m == pytest.approx(0.5 * size, rel=0.04)
        assert drawn.ellipse(level).bearing_deg == pytest.approx(90.0, abs=2.0)
    assert np.sqrt(np.diag(drawn.covariance)) == pytest.approx([2.0, 0.5], rel=0.04)
