"""Whose ground, whose pipe, whose tap: from the map and the cited rule, else unknown."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.model.appraisal import Path, PathPoint, Position
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, Feature
from saltglaze.model.ground import Parcel, ParcelKind, PlanCovariance, PlanPoint
from saltglaze.model.job import Job, OwnershipRule, Party, Place
from saltglaze.model.line import Line
from saltglaze.model.run import Direction, Run
from saltglaze.owners.crossings import crossings
from saltglaze.owners.ground import Ground
from saltglaze.owners.ownership import ownership

PROPERTY_LINE = OwnershipRule(
    split="property_line", citation="Town code 4.1 (invented)", authority="Town sewers"
)


def box(west, east, south, north):
    corners = ((west, south), (east, south), (east, north), (west, north))
    return tuple(PlanPoint(east_m=x, north_m=y) for x, y in corners)


def parcel(name, kind, ring, owner="", sd_m=0.3):
    return Parcel(id=name, kind=kind, owner=owner, ring=ring, sd_m=sd_m)


HOME = parcel("home", ParcelKind.PARCEL, box(-20, 20, -10, 10), "A. Owner")
STREET = parcel("street", ParcelKind.RIGHT_OF_WAY, box(20, 30, -60, 60))
NEXT = parcel("next", ParcelKind.PARCEL, box(-20, 20, -40, -10), "B. Neighbour")
HOUSE = parcel("house", ParcelKind.BUILDING, box(-15, 0, -5, 5), "A. Owner")
NEXT_HOUSE = parcel("next_house", ParcelKind.BUILDING, box(0, 15, -25, -14), "B. Neighbour")
PARCELS = (HOME, STREET, NEXT, HOUSE, NEXT_HOUSE)


def straight(angle_deg=0.0, sd_m=0.3, length_m=28.0):
    east, north = math.cos(math.radians(angle_deg)), math.sin(math.radians(angle_deg))
    covariance = PlanCovariance(east_east_m2=sd_m**2, north_north_m2=sd_m**2)
    points = tuple(
        PathPoint(
            station_m=s,
            point=PlanPoint(east_m=s * east, north_m=s * north),
            covariance=covariance,
        )
        for s in np.linspace(0.0, length_m, 15)
    )
    return Path(name="likeliest", weight=1.0, points=points)


def position(*paths, length_m=28.0):
    return Position(paths=paths, length_m=Estimate.of(length_m, 0.3))


def job(rule=PROPERTY_LINE, parcels=PARCELS, **facts):
    return Job(
        id="j",
        owner=Party(name="A. Owner"),
        place=Place(ownership=rule),
        line=Line(id="L"),
        runs=(Run(id="r", direction=Direction.WITH_FLOW),),
        parcels=parcels,
        **facts,
    )


def appraise(job_, position_, *findings):
    return ownership(job_, position_, [f.place for f in findings], findings)


def test_the_line_is_cut_where_it_leaves_the_parcel():
    answer = appraise(job(), position(straight()))
    assert [s.ground_id for s in answer.stretches] == ["home", "street"]
    assert [s.pipe_owner for s in answer.stretches] == ["A. Owner", "Town sewers"]
    cut = answer.stretches[0].to_m
    assert cut.value == pytest.approx(20.0, abs=0.05)
    assert cut.sd == pytest.approx(math.hypot(0.3, 0.3), rel=0.02)


def test_a_slanting_crossing_is_less_sure():
    """sd along the line = sd across the boundary / cosine of the slant."""
    answer = appraise(job(parcels=(HOME, STREET)), position(straight(20.0)))
    cut = answer.stretches[0].to_m
    assert cut.value == pytest.approx(20.0 / math.cos(math.radians(20.0)), abs=0.05)
    assert cut.sd == pytest.approx(math.hypot(0.3, 0.3) / math.cos(math.radians(20.0)), rel=0.02)


def test_without_a_cited_rule_nobody_is_named():
    answer = appraise(job(rule=None), position(straight()))
    assert all(s.pipe_owner is None for s in answer.stretches)
    assert "no local rule" in answer.plain
    assert [s.ground_id for s in answer.stretches] == ["home", "street"]


@pytest.mark.parametrize(
    ("split", "owners"),
    [
        ("main", ["A. Owner", "A. Owner"]),
        ("main_connection", ["A. Owner", "A. Owner"]),
        ("property_line", ["A. Owner", "Town sewers"]),
        ("building", ["Town sewers", "Town sewers"]),
        ("by_lot", [None, None]),
    ],
)
def test_the_rule_decides(split, owners):
    rule = OwnershipRule(split=split, citation="Town code 4.1 (invented)", authority="Town sewers")
    answer = appraise(job(rule=rule), position(straight()))
    assert [s.pipe_owner for s in answer.stretches] == owners
    assert all(r.source == rule.citation for s in answer.stretches for r in s.reasons[:1])


def test_a_rule_to_the_main_needs_no_map(found):
    rule = OwnershipRule(split="main", citation="Town code 4.1 (invented)")
    crack = found("c", 9.0, feature=Feature.CRACK)
    answer = appraise(job(rule=rule, parcels=()), position(), crack)
    assert answer.by_finding == {"c": "A. Owner"}
    assert answer.stretches[0].pipe_owner == "A. Owner"


def test_without_a_station_the_owner_is_known_only_where_one_owns_it_all(found):
    crack = found("c", None, feature=Feature.CRACK)
    rule = OwnershipRule(split="main", citation="Town code 4.1 (invented)")
    whole = appraise(job(rule=rule), position(straight()), crack)
    split = appraise(job(), position(straight()), crack)
    assert whole.by_finding["c"] == "A. Owner"
    assert "place along the line is not known" in split.by_finding["c"]


def test_a_rule_on_the_ground_needs_a_map(found):
    crack = found("c", 9.0, feature=Feature.CRACK)
    answer = appraise(job(), position(), crack)
    assert answer.by_finding["c"].startswith("not known")
    assert "not tied to the map" in answer.by_finding["c"]


def test_nothing_known_still_answers():
    bare = Job(id="j", line=Line(id="L"))
    answer = ownership(bare, Position(length_m=Estimate.unknown("nothing measured")), (), ())
    assert answer.stretches == ()
    assert "cannot be said" in answer.plain


def at(found_, east_m, sd_m):
    place = found_.place.model_copy(
        update={
            "point": PlanPoint(east_m=east_m, north_m=0.0),
            "covariance": PlanCovariance(east_east_m2=sd_m**2, north_north_m2=sd_m**2),
        }
    )
    return found_.model_copy(update={"place": place})


def test_a_finding_near_the_boundary_says_so(found):
    near = at(found("near", 19.9, feature=Feature.CRACK), 19.9, 0.5)
    clear = at(found("clear", 9.0, feature=Feature.CRACK), 9.0, 0.5)
    answer = appraise(job(), position(straight()), near, clear)
    assert answer.by_finding["clear"] == "A. Owner"
    assert "near a boundary" in answer.by_finding["near"]


def test_a_neighbours_ground_asks_for_an_easement():
    answer = appraise(job(), position(straight(-60.0)))
    through = next(s for s in answer.stretches if s.ground_id == "next")
    assert any("easement" in reason.because for reason in through.reasons)


@given(st.floats(-30.0, 30.0), st.floats(0.05, 1.5))
@settings(max_examples=30, deadline=None)
def test_chances_add_up_to_one(east_m, sd_m):
    covariance = PlanCovariance(east_east_m2=sd_m**2, north_north_m2=sd_m**2)
    chances = Ground(PARCELS).chances(PlanPoint(east_m=east_m, north_m=0.0), covariance)
    assert sum(chances.values()) == pytest.approx(1.0)


def test_a_crossing_holds_the_truth_as_often_as_it_says():
    """500 true lines and boundaries drawn from their margins: 95 % within 93 to 97 %."""
    rng = np.random.default_rng(3)
    cut = crossings(straight(25.0, sd_m=0.4), Ground((HOME, STREET)))[0].station_m
    low, high = cut.interval95
    slant = math.radians(25.0)
    shift = rng.normal(0.0, 0.4, (500, 2))
    boundary = 20.0 + rng.normal(0.0, 0.3, 500)
    truth = (boundary - shift[:, 0]) / math.cos(slant)
    share = float(np.mean((truth >= low) & (truth <= high)))
    assert 0.93 <= share <= 0.97


def test_a_ring_that_crosses_itself_is_mended():
    bow = parcel("bow", ParcelKind.PARCEL, (*box(0, 10, 0, 10)[:2], *box(0, 10, 0, 10)[:1:-1]))
    assert Ground((bow,)).shapes[0].is_valid


# ------------------------------------------------------------------ taps
def tap(found, clock_h, **facts):
    clock = Clock(from_h=clock_h, view=Direction.WITH_FLOW)
    return found("t", 8.0, feature=Feature.TAP, kind="broken_in", clock=clock, **facts)


def test_a_tap_on_the_right_points_at_the_house_on_the_right(found):
    """The line runs east with the flow: right is south, where the neighbour's house stands."""
    right = appraise(job(), position(straight()), tap(found, 3.0)).taps[0]
    left = appraise(job(), position(straight()), tap(found, 9.0)).taps[0]
    assert "B. Neighbour" in right.may_serve[0][0]
    chance = dict(right.may_serve)
    other = dict(left.may_serve)
    name = next(n for n in chance if "B. Neighbour" in n)
    assert chance[name] > other[name]
    assert sum(c for _, c in right.may_serve) == pytest.approx(1.0, abs=0.002)


def test_looking_from_the_other_end_right_is_left(found):
    back = Run(id="r", direction=Direction.AGAINST_FLOW, reversed_stationing=True)
    turned = job().model_copy(update={"runs": (back,)})
    clock = Clock(from_h=9.0, view=Direction.AGAINST_FLOW)
    here = found("t", 8.0, feature=Feature.TAP, clock=clock)
    question = appraise(turned, position(straight()), here).taps[0]
    assert "B. Neighbour" in question.may_serve[0][0]


def test_a_dye_test_is_asked_for_with_its_limits(found):
    question = appraise(job(), position(straight()), tap(found, 3.0)).taps[0]
    assert "consent" in question.test
    assert "proves little" in question.test


def test_a_capped_tap_asks_nothing(found):
    question = appraise(job(), position(straight()), tap(found, 3.0, capped=True)).taps[0]
    assert question.test.startswith("none needed")


def test_without_a_plan_no_house_is_named(found):
    question = appraise(job(), position(), tap(found, 3.0)).taps[0]
    assert question.may_serve == ()
    assert "no place on the map" in question.reasons[0].because
