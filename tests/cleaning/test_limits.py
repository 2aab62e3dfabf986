"""Pressure limits by material and condition."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from saltglaze import units
from saltglaze.cleaning.advice import appraise_cleaning
from saltglaze.cleaning.limits import jet_limit
from saltglaze.cleaning.reach import needed_pull, push_reach, reach
from saltglaze.cleaning.rod import rod_reach_m
from saltglaze.model.appraisal import LineSegment
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.job import Job
from saltglaze.model.line import FactSource, Line, Material


@pytest.mark.parametrize("material", [None, *Material])
def test_worse_condition_never_allows_more(material):
    limits = [jet_limit(material, grade).pressure_pa or 0.0 for grade in (1, 2, 3, 4, 5)]
    assert limits == sorted(limits, reverse=True)
    unknown = jet_limit(material, None).pressure_pa or 0.0
    assert unknown <= limits[1]
    assert unknown == limits[2]


@pytest.mark.parametrize("material", [None, *Material])
def test_every_limit_has_a_reason(material):
    for grade in (None, 1, 3, 5):
        assert jet_limit(material, grade).reasons


def test_brick_stays_below_the_worn_line():
    """1500 psi for brick is less than 1900 for worn pipe: the lower holds."""
    limit = jet_limit(Material.BRICK, 4)
    assert units.psi(limit.pressure_pa) == pytest.approx(1500.0)
    assert limit.fragile


def test_broken_asbestos_cement_is_not_jetted():
    assert jet_limit(Material.ASBESTOS_CEMENT, 5).pressure_pa is None


@given(
    st.floats(5.0, 400.0),
    st.floats(1.0, 12.0),
    st.floats(0.2, 0.7),
    st.lists(st.tuples(st.floats(0.0, 60.0), st.floats(5.0, 90.0)), max_size=5),
)
def test_reach_is_where_the_needed_pull_is_used_up(pull, weight, friction, bends):
    got = reach(pull, weight, friction, bends)
    assert needed_pull(got, weight, friction, bends) <= pull * (1.0 + 1e-6)
    assert needed_pull(got + 0.05, weight, friction, bends) > pull
    assert got <= pull / (weight * friction) * (1.0 + 1e-9)


def test_no_pull_goes_nowhere():
    assert reach(-3.0, 1.0, 0.5) == 0.0


@given(st.lists(st.tuples(st.floats(0.0, 40.0), st.floats(5.0, 90.0)), max_size=6))
def test_bends_never_lengthen_the_push(bends):
    assert push_reach(40.0, 1.2, 0.3, bends) <= push_reach(40.0, 1.2, 0.3) * (1.0 + 1e-9)


def test_a_bend_near_the_entry_costs_a_pushed_rod_most():
    near, far = (
        push_reach(40.0, 1.2, 0.3, [(1.0, 90.0)]),
        push_reach(40.0, 1.2, 0.3, [(50.0, 90.0)]),
    )
    assert near < far


def test_a_straight_rod_reaches_its_lock_up():
    """9 mm rod in a 100 mm bore, friction 0.3: 209.1 m, as in tests/references."""
    assert rod_reach_m(0.100, []) == pytest.approx(209.1, rel=2e-3)


def test_where_the_camera_stopped_is_judged_by_what_a_rod_can_do(found):
    stop = found("x", 20.0, feature=Feature.COULD_NOT_PASS)
    bends = [found(f"b{i}", 1.0 + i, feature=Feature.BEND, kind="1/4") for i in range(8)]
    segment = LineSegment(
        start_m=Estimate.of(0.0, 0.1),
        end_m=Estimate.of(30.0, 0.2),
        diameter_m=0.1016,
        source=FactSource.RECORD,
    )
    bare = Job(id="j", line=Line(id="L"))
    straight = appraise_cleaning(bare, [segment], [stop]).checks
    crooked = appraise_cleaning(bare, [segment], [stop, *bends]).checks
    assert "something in the pipe stopped it" in straight[0].reason
    assert "may have come to its end" in crooked[0].reason
    assert appraise_cleaning(bare, [], [stop]).checks == ()
