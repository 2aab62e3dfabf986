from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from saltglaze.demo.laws import CounterLaw, KnotLaw, WaterLaw
from saltglaze.demo.script import (
    Defect,
    Look,
    Overlay,
    PipeSegment,
    Recorder,
    ViewEvent,
    WallDefect,
    joint_stations,
)
from saltglaze.demo.truth import crossings, truth
from saltglaze.model.run import LengthUnit
from saltglaze.model.track import MotionKind, ViewState, WaterState

WAY = KnotLaw(((0.0, 1.0), (4.0, 2.0), (6.0, 2.0), (9.0, 1.5), (10.0, 1.5)))


@pytest.mark.parametrize(
    ("changes", "counter_m", "text"),
    [
        ({}, 3.048, "10.0 ft"),
        ({"unit_text": ""}, 3.048, "10.0"),
        ({"digits": 4}, 3.048, "0010.0 ft"),
        ({"sign": True, "unit_text": "FT", "space_before_unit": False}, 3.048, "+10.0FT"),
        ({"unit": LengthUnit.METRES, "decimals": 2, "unit_text": "m"}, 3.048, "3.05 m"),
        ({}, -0.3048, "-1.0 ft"),
        ({}, -0.001, "0.0 ft"),
        ({"digits": 3}, -0.3048, "-001.0 ft"),
    ],
)
def test_the_counter_as_shown(changes, counter_m, text):
    assert Overlay(**changes).text(counter_m) == text


def test_the_shown_value_is_what_the_letters_say():
    overlay = Overlay()
    for counter_m in np.linspace(-1, 40, 97):
        said_ft = float(overlay.text(float(counter_m)).split()[0])
        assert overlay.shown_m(float(counter_m)) == pytest.approx(said_ft * 0.3048)


def test_joints_stand_a_section_apart_and_at_boundaries(script):
    film = script(
        segments=(
            PipeSegment(0.0, 3.0, Look.CLAY, 0.1, section_m=0.6, section_sd_m=0.01),
            PipeSegment(3.0, 9.0, Look.PVC, 0.1, section_m=3.0),
        )
    )
    joints = joint_stations(film)
    clay = [j for j in joints if j < 2.9]
    assert len(clay) == 4
    assert np.allclose(np.diff([0.0, *clay]), 0.6, atol=0.05)
    assert 3.0 in joints
    assert 6.0 in joints
    assert joints == joint_stations(film)


def test_a_station_is_passed_forwards_and_back(script):
    passed = crossings(script(station=WAY), 1.8)
    assert [p.forwards for p in passed] == [True, False]
    for p in passed:
        assert float(WAY.at(p.time_s)) == pytest.approx(1.8, abs=1e-3)


def test_motion_follows_the_way_and_the_head(script):
    head = KnotLaw(((4.6, 0.0), (5.0, 10.0), (5.4, 0.0)))
    told = truth(script(station=WAY, yaw_deg=head), np.array([2.0, 4.3, 4.8, 7.5, 9.7]))
    assert told.motion == (
        MotionKind.ADVANCING,
        MotionKind.HOLDING,
        MotionKind.TURNING_HEAD,
        MotionKind.BACKING,
        MotionKind.HOLDING,
    )


def test_the_lens_is_under_water_where_the_water_is_deeper_than_it_rides(script):
    water = WaterLaw(((0.0, 0.3), (1.0, 0.3), (2.0, 0.5)), standing=((1.0, 2.5),))
    film = script(station=WAY, water=water, lens_height_m=0.06)
    told = truth(film)
    deep = 0.15 * water.share_at(told.station_m) > 0.06
    assert np.array_equal(told.under_water, deep)
    assert told.under_water.any()
    assert not told.under_water.all()
    assert {v for v, u in zip(told.view, deep, strict=True) if u} == {ViewState.UNDER_WATER}
    assert told.water_state[-1] is WaterState.STANDING


def test_spoilt_views_and_a_turned_head_are_told(script):
    film = script(
        events=(ViewEvent(ViewState.FOGGED, 1.0, 2.0), ViewEvent(ViewState.GLARE, 3.0, 4.0, 0.1)),
        yaw_deg=KnotLaw(((5.0, 0.0), (6.0, 20.0), (7.0, 0.0))),
    )
    told = truth(film, np.array([0.5, 1.5, 3.5, 6.0]))
    assert told.view == (ViewState.CLEAR, ViewState.FOGGED, ViewState.CLEAR, ViewState.OFF_AXIS)


def test_a_defect_shows_at_its_clock_plus_the_roll(script):
    film = script(
        roll_deg=KnotLaw.constant(100.0),
        defects=(WallDefect(Defect.TAP, 1.5, clock_deg=300.0, id="t"),),
    )
    (passage,) = truth(film).defects
    assert passage.defect.id == "t"
    assert passage.screen_clock_deg == pytest.approx(40.0)
    assert float(film.station.at(passage.time_s)) == pytest.approx(1.5, abs=1e-3)


def test_a_counter_can_be_unreadable(script):
    shown = script(overlay=Overlay())
    assert truth(shown).counter_readable.all()
    assert not truth(script()).counter_readable.any()
    torn = replace(shown, recorder=Recorder(dropouts_per_s=2.0))
    assert 0 < truth(torn).counter_readable.mean() < 1


def test_counter_text_follows_the_counter_law(script):
    film = script(
        station=KnotLaw(((0.0, 0.0), (10.0, 3.048))),
        counter=CounterLaw(scale=0.9),
        overlay=Overlay(),
    )
    assert truth(film, np.array([10.0])).counter_text == ("9.0 ft",)
