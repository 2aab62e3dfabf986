"""Contradictory evidence is named, measured, and answered with and without it."""

import re

import numpy as np
import pytest
from evidence_kit import LEAD, SPEED, counter, film, job, seen, spot, steady

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Turn
from saltglaze.model.line import FactSource, KnownLandmark, Line
from saltglaze.model.track import MotionKind, MotionStretch
from saltglaze.position.conflicts import counter_over
from saltglaze.position.solve import locate

GOOD = tuple(
    spot(f"g{n}", east, 0.0, 10.0 * east) for n, east in enumerate((2.0, 8.0, 14.0, 20.0, 26.0))
)


def point(answer, name):
    one = next(one for one in answer.places if one.finding_id == name).point
    return one.east_m, one.north_m


def conflict(answer, item):
    return next(one for one in answer.position.conflicts if one.item == item)


def test_good_evidence_has_no_conflicts():
    answer = locate(job(GOOD), (steady(),), (), (seen("x", 110.0),))
    assert answer.position.conflicts == ()
    assert all(one.used for one in answer.position.surface)


def test_a_locate_five_metres_off_is_left_aside_and_named():
    bad = spot("bad", 11.0, 5.0, 110.0)
    clean = locate(job(GOOD), (steady(),), (), (seen("x", 115.0),))
    answer = locate(job((*GOOD, bad)), (steady(),), (), (seen("x", 115.0),))
    named = conflict(answer, "locate bad")
    assert not named.used
    assert named.misfit.startswith("5.0 m")
    told = re.fullmatch(r"the hole at 11\.7 m .* would lie (\d\.\d) m .*", named.with_it)
    # Held to be right, a point 5 m aside and half a metre from it takes the hole along.
    assert told is not None
    assert float(told[1]) == pytest.approx(5.0, abs=0.5)
    assert named.finding_ids == ("x",)
    assert point(answer, "x") == pytest.approx(point(clean, "x"), abs=0.02)
    surface = next(one for one in answer.position.surface if one.locate_id == "bad")
    assert not surface.used
    assert surface.misfit_m == pytest.approx(5.0, abs=0.05)
    assert surface.misfit_ratio > 5.0


def test_a_chord_longer_than_the_pipe_is_named_whichever_way_it_is_resolved():
    points = (spot("a", 0.0, 0.0, 50.0), spot("b", 18.0, 0.0, 150.0))
    answer = locate(job(points), (steady(),), (), (seen("x", 100.0),))
    text = " ".join(one.misfit for one in answer.position.conflicts)
    assert "8.0 m (26.2 ft) further from" in text or "8.0 m (26.2 ft) further apart" in text


def test_a_chord_a_little_too_long_is_kept_but_named():
    points = (spot("a", 0.0, 0.0, 50.0), spot("b", 11.3, 0.0, 150.0))
    answer = locate(job(points), (steady(),), (), (seen("x", 100.0),))
    named = answer.position.conflicts
    assert len(named) == 1
    assert named[0].used
    assert named[0].item == "locate a and locate b"


def test_a_counter_that_runs_backwards_is_turned_round_and_named():
    times = np.arange(0.0, 300.0, 0.5)
    ahead = (MotionStretch(start_s=0.0, end_s=300.0, kind=MotionKind.ADVANCING),)
    answer = locate(
        job(), (film(counter(times, -SPEED * times), motion=ahead),), (), (seen("x", 100.0),)
    )
    assert "ran back" in conflict(answer, "counter of run r1").misfit
    assert answer.places[0].station_m.value == pytest.approx(10.0 + LEAD, abs=0.1)


def test_backing_up_is_no_backward_counter():
    times = np.arange(0.0, 390.0, 0.5)
    values = np.where(times < 200.0, SPEED * times, 20.0 - SPEED * (times - 200.0))
    motion = (
        MotionStretch(start_s=0.0, end_s=200.0, kind=MotionKind.ADVANCING),
        MotionStretch(start_s=200.0, end_s=390.0, kind=MotionKind.BACKING),
    )
    answer = locate(job(), (film(counter(times, values), 390.0, motion=motion),), (), ())
    assert answer.position.conflicts == ()


def test_a_depth_above_the_ground_is_named():
    high = spot("high", 11.0, 0.0, 110.0, depth_m=Estimate.of(-0.3, 0.1))
    answer = locate(job((*GOOD, high)), (steady(),), (), (seen("x", 110.0),))
    assert "above the ground" in conflict(answer, "depth of locate high").misfit
    assert point(answer, "x") == pytest.approx((11.0 + LEAD, 0.0), abs=0.1)


def test_a_record_that_does_not_fit_the_run_is_named():
    line = Line(
        id="line",
        landmarks=(
            KnownLandmark(
                name="the tap",
                feature="tap",
                station_m=Estimate.of(25.0, 0.1),
                source=FactSource.RECORD,
            ),
        ),
    )
    answer = locate(job(line=line), (steady(),), (), (seen("t", 150.0, feature=Feature.TAP),))
    named = conflict(answer, "landmark the tap")
    assert "25.0 m" in named.misfit
    assert "15.2 m" in named.misfit
    assert answer.places[0].station_m.value == pytest.approx(15.0, abs=0.3)


def test_a_bend_against_the_word_is_named():
    points = (*GOOD[:3], spot("c", 18.0, 6.0, 240.0), spot("d", 18.0, 11.0, 290.0))
    bend = seen("bend", 180.0, feature=Feature.BEND, kind="1/4", turn=Turn.RIGHT)
    answer = locate(job(points), (steady(),), (), (bend,))
    assert "right" in conflict(answer, "the bend at 18.1 m (59.3 ft)").misfit
    assert answer.position.paths[0].points[-1].point.north_m > 9.0


def test_no_sentence_calls_a_finding_by_its_id():
    """Ids stand in their own field; a person reads the feature and its place."""
    bad = spot("bad", 11.0, 5.0, 110.0)
    points = (*GOOD[:3], bad, spot("c", 18.0, 6.0, 240.0), spot("d", 18.0, 11.0, 290.0))
    bend = seen("r1-0180-q", 180.0, feature=Feature.BEND, kind="1/4", turn=Turn.RIGHT)
    typed = seen("r1-0130-z", 130.0, station=25.0)
    answer = locate(job(points), (steady(),), (), (bend, typed)).position
    assert {i for one in answer.conflicts for i in one.finding_ids} >= {"r1-0180-q", "r1-0130-z"}
    said = [t for c in answer.conflicts for t in (c.item, c.misfit, c.with_it, c.without_it)]
    said += [path.because for path in answer.paths]
    assert not [text for text in said if "r1-01" in text or ":" in text]


@pytest.mark.parametrize(
    ("sections", "length", "counter_m", "over"),
    # Computed in the field dossier.
    [(12, 2.0, 25.0, 0.0417), (10, 5.0, 49.2, -0.0160), (20, 3.0, 61.5, 0.0250)],
)
def test_counter_against_the_joint_count(sections, length, counter_m, over):
    assert counter_over(sections * length, counter_m) == pytest.approx(over, abs=5e-5)
