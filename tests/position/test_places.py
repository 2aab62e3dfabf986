"""Places of findings: clock from roll, reasons where something is unknown."""

import pytest
from evidence_kit import film, job, seen, spot, steady

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, ScreenPlace
from saltglaze.model.run import Direction, Run
from saltglaze.model.track import RollSample
from saltglaze.position.solve import locate


def rolled(*pairs):
    return tuple(RollSample(time_s=t, roll_deg=Estimate.of(roll, 4.0)) for t, roll in pairs)


def clock(roll, screen=ScreenPlace.RIGHT, **more):
    found = seen("x", 100.0, screen=screen)
    return locate(job(**more), (steady(roll=roll),), (), (found,)).places[0]


def test_roll_at_the_moment_turns_the_screen_into_the_pipe():
    # +90 puts the soffit at the right of the screen, so what shows there is at 12.
    one = clock(rolled((20.0, 0.0), (99.0, 90.0), (101.0, 90.0), (180.0, 0.0)))
    assert one.clock.from_h == pytest.approx(0.0, abs=0.05) or one.clock.from_h > 11.95
    assert one.clock.because == "roll"


def test_roll_is_averaged_round_the_circle():
    one = clock(rolled((99.0, 358.0), (100.0, 2.0), (101.0, 360.0)))
    assert one.clock.from_h == pytest.approx(3.0, abs=0.05)


def test_a_roll_that_swings_widens_the_clock():
    still = clock(rolled((99.0, 10.0), (101.0, 10.0)))
    swinging = clock(rolled((98.5, -25.0), (99.5, 30.0), (100.5, -20.0), (101.5, 35.0)))
    assert swinging.clock.sd_h > still.clock.sd_h + 0.2


def test_without_roll_the_clock_is_unknown_and_says_so():
    one = clock(())
    assert one.clock is None
    assert "roll" in one.clock_unknown_because


def test_a_self_levelling_head_needs_no_roll():
    found = seen("x", 100.0, screen=ScreenPlace.RIGHT)
    one = locate(job(), (steady(self_levelling=True),), (), (found,)).places[0]
    assert one.clock.from_h == pytest.approx(3.0)


def test_the_clock_keeps_the_direction_of_view():
    run = Run(id="r1", direction=Direction.AGAINST_FLOW)
    assert clock(rolled((100.0, 0.0)), runs=(run,)).clock.view is Direction.AGAINST_FLOW


def test_every_unknown_has_its_reason():
    blind = locate(job(), (film(),), (), (seen("x", 100.0),)).places[0]
    assert blind.station_m.unknown_because
    assert blind.point_unknown_because
    timeless = seen("y").model_copy(update={"start_s": None})
    untold = locate(job((spot("a", 0.0, 0.0, 50.0),)), (steady(),), (), (timeless,)).places[0]
    assert "neither a moment" in untold.station_m.unknown_because


def test_a_finding_has_the_margin_of_its_moment_beside_the_lens_own():
    answer = locate(job(), (steady(),), (), (seen("x", 100.0, feature=Feature.TAP),))
    lens = next(s for s in answer.position.stationings[0].samples if s.time_s == 100.0)
    # The run's lead 0.1 m, this finding about it 0.15 m, and one second at 0.1 m/s
    # (declared priors, no source).
    expected = (lens.sd_m**2 + 0.1**2 + 0.15**2 + 0.1**2) ** 0.5
    assert answer.places[0].station_m.spread == pytest.approx(expected, rel=0.02)
