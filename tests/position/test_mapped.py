"""Facts of the map: they settle what the points leave open, and are named when they are wrong."""

import datetime as dt

import numpy as np
import pytest
from evidence_kit import LEAD, job, seen, spot, steady

from saltglaze.model.finding import Feature, Turn
from saltglaze.model.ground import KnownMain, Parcel, ParcelKind, PlanPoint
from saltglaze.model.job import History, PriorVisit
from saltglaze.model.run import Direction, Run
from saltglaze.position.mapped import _moments
from saltglaze.position.solve import locate

FROM_THE_HOUSE = (
    Run(
        id="r1",
        direction=Direction.WITH_FLOW,
        sonde_behind_lens_m=0.0,
        start_access="basement clean-out",
    ),
)


def at(east, north):
    return PlanPoint(east_m=east, north_m=north)


def outline(*corners, owner="", sd=0.3):
    ring = tuple(at(*one) for one in corners)
    return Parcel(id="house", kind=ParcelKind.BUILDING, owner=owner, ring=ring, sd_m=sd)


def around(east, north, half=4.0):
    return outline(
        (east - half, north - half),
        (east + half, north - half),
        (east + half, north + half),
        (east - half, north + half),
    )


def main(*points, **more):
    return KnownMain(id="m", points=tuple(at(*one) for one in points), sd_m=1.0, **more)


def weights(answer):
    """Belief in ending north and in ending south."""
    north = sum(p.weight for p in answer.position.paths if p.points[-1].point.north_m > 0.0)
    return north, 1.0 - north


BEND = seen("b", 100.0, feature=Feature.BEND, kind="1/4")
END = seen("end", 250.0, feature=Feature.END)
LEG = (spot("a", 2.0, 0.0, 20.0), spot("b", 9.0, 0.0, 90.0))


def test_moments_of_an_outline_are_those_of_its_area():
    # A rectangle of 6 by 4: 6**2 / 12 and 4**2 / 12 (textbook); an L by numbers.
    mean, spread = _moments(outline((1.0, 1.0), (7.0, 1.0), (7.0, 5.0), (1.0, 5.0)))
    assert mean == pytest.approx([4.0, 3.0])
    assert spread == pytest.approx(np.diag([3.0, 4.0 / 3.0]))
    corners = ((0.0, 0.0), (4.0, 0.0), (4.0, 2.0), (2.0, 2.0), (2.0, 6.0), (0.0, 6.0))
    mean, spread = _moments(outline(*corners))
    grid = np.stack(np.meshgrid(np.arange(0.005, 4, 0.01), np.arange(0.005, 6, 0.01)), -1)
    inside = grid[(grid[..., 0] < 2.0) | (grid[..., 1] < 2.0)]
    assert mean == pytest.approx(inside.mean(axis=0), abs=1e-3)
    assert spread == pytest.approx(np.cov(inside.T), abs=1e-2)


def test_the_main_settles_which_way_an_untold_bend_turns():
    without = locate(job(LEG, runs=FROM_THE_HOUSE), (steady(),), (), (BEND, END))
    assert weights(without) == pytest.approx((0.5, 0.5), abs=0.02)
    mains = (main((-20.0, 15.0), (40.0, 15.0)),)
    told = locate(job(LEG, runs=FROM_THE_HOUSE, mains=mains), (steady(),), (), (BEND, END))
    assert weights(told)[0] > 0.9


def test_one_locate_and_the_house_give_a_plan_with_a_wide_margin():
    answer = locate(
        job((spot("a", 20.0, 0.0, 200.0),), runs=FROM_THE_HOUSE, parcels=(around(0.0, 0.0),)),
        (steady(),),
        (),
        (seen("x", 100.0),),
    )
    place = answer.places[0]
    assert (place.point.east_m, place.point.north_m) == pytest.approx((10.0, 0.0), abs=1.0)
    assert 1.0 < place.ellipse95.semi_major_m < 12.0


@pytest.mark.parametrize(
    "runs",
    [
        (Run(id="r1", direction=Direction.WITH_FLOW, start_access="manhole 4"),),
        (Run(id="r1", direction=Direction.AGAINST_FLOW, start_access="clean-out"),),
        (Run(id="r1", direction=Direction.WITH_FLOW),),
    ],
)
def test_a_run_that_does_not_start_at_the_house_is_not_tied_to_it(runs):
    answer = locate(
        job((spot("a", 20.0, 0.0, 200.0),), runs=runs, parcels=(around(0.0, 0.0),)),
        (steady(),),
        (),
        (seen("x", 100.0),),
    )
    assert answer.position.paths == ()


def test_a_house_that_the_points_contradict_is_named_and_moves_nothing():
    points = tuple(spot(f"p{s}", s, 0.0, 10.0 * s) for s in (2.0, 6.0, 12.0, 20.0))
    wrong = (around(60.0, 60.0),)
    found = (seen("x", 150.0),)
    plain = locate(job(points, runs=FROM_THE_HOUSE), (steady(),), (), found)
    told = locate(job(points, runs=FROM_THE_HOUSE, parcels=wrong), (steady(),), (), found)
    named = next(one for one in told.position.conflicts if one.item == "house outline")
    assert not named.used
    one, other = plain.places[0].point, told.places[0].point
    assert (other.east_m, other.north_m) == pytest.approx((one.east_m, one.north_m), abs=0.05)


def test_a_former_path_makes_a_plan_and_gives_way_to_the_points_of_today():
    path = tuple((float(s), at(float(s), 0.0)) for s in range(0, 31, 5))
    visit = PriorVisit(date=dt.date(2019, 5, 1), path=path)
    history = History(visits=(visit,))
    alone = locate(job(history=history), (steady(),), (), (seen("x", 150.0),))
    place = alone.places[0]
    spot_at = (place.point.east_m, place.point.north_m)
    assert spot_at == pytest.approx((15.0 + LEAD, 0.0), abs=0.2)
    assert place.ellipse95.semi_major_m > 1.0
    points = tuple(spot(f"p{s}", s, 1.0, 10.0 * s) for s in (2.0, 12.0, 18.0, 28.0))
    today = locate(job(points, history=history), (steady(),), (), (seen("x", 150.0),))
    assert today.places[0].point.north_m == pytest.approx(1.0, abs=0.1)
    assert today.position.length_m.value == pytest.approx(29.9, abs=0.2)


def test_a_bend_said_to_turn_outweighs_a_main_drawn_on_the_other_side():
    said = BEND.model_copy(update={"draft": BEND.draft.model_copy(update={"turn": Turn.RIGHT})})
    past = (spot("c", 10.0, -8.0, 180.0), spot("d", 10.0, -13.0, 230.0))
    mains = (main((-20.0, 15.0), (40.0, 15.0)),)
    answer = locate(
        job((*LEG, *past), runs=FROM_THE_HOUSE, mains=mains), (steady(),), (), (said, END)
    )
    assert weights(answer)[1] > 0.95
    assert any(one.item == "main as mapped" for one in answer.position.conflicts)
