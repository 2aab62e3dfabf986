"""A settled bed and a tide mark stand in the picture where the script says."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from saltglaze.demo.laws import BedLaw, KnotLaw, WaterLaw
from saltglaze.demo.lens import to_screen
from saltglaze.demo.renderer import Renderer
from saltglaze.demo.strip import pose_at
from saltglaze.demo.truth import truth
from saltglaze.model.track import WaterState

FOCAL = 320.0
LEVEL = BedLaw(((0.0, 0.2),), rough=0.0, rgb=(40.0, 30.0, 20.0))


def _changed(film, with_law):
    bare = Renderer(replace(film, bed=BedLaw())).picture(0.0).astype(float)
    laid = Renderer(replace(film, bed=with_law)).picture(0.0).astype(float)
    return np.abs(laid - bare).sum(axis=2)


def _at(grey, xy):
    column, row = xy[0] + grey.shape[1] / 2 - 0.5, xy[1] + grey.shape[0] / 2 - 0.5
    return float(cv2.getRectSubPix(grey.astype(np.float32), (3, 3), (column, row)).mean())


@pytest.mark.parametrize("share", [0.05, 0.2, 0.3])
@pytest.mark.parametrize("roll_deg", [0.0, 70.0])
def test_the_bed_stands_at_its_level_whichever_way_the_camera_lies(script, share, roll_deg):
    film = script(
        station=KnotLaw.constant(1.0), lens_height_m=0.12, roll_deg=KnotLaw.constant(roll_deg)
    )
    changed = _changed(film, replace(LEVEL, knots=((0.0, share),)))
    half = math.degrees(math.acos(1 - 2 * share))
    for side in (-1, 1):
        above = to_screen(pose_at(film, 0.0), 180 + side * (half + 5), 0.25, FOCAL)
        below = to_screen(pose_at(film, 0.0), 180 + side * (half - 7), 0.25, FOCAL)
        # The exposure follows the darker picture a little: hence not nothing above.
        assert _at(changed, above) < 25
        assert _at(changed, below) > 60


def test_a_leaning_bed_stands_higher_on_one_side(script):
    film = script(station=KnotLaw.constant(1.0), lens_height_m=0.12)
    changed = _changed(film, replace(LEVEL, lean_deg=10.0))
    half = math.degrees(math.acos(1 - 2 * 0.2))
    left, right = (
        _at(changed, to_screen(pose_at(film, 0.0), 180 + side * (half + 4), 0.25, FOCAL))
        for side in (1, -1)
    )
    assert right > 60 > left


def test_the_tide_mark_darkens_the_wall_below_it(script):
    film = script(station=KnotLaw.constant(1.0))
    stained = Renderer(replace(film, bed=BedLaw(tide_share=0.25, tide=0.4))).picture(0.0)
    grey = cv2.cvtColor(stained, cv2.COLOR_RGB2GRAY)
    half = math.degrees(math.acos(1 - 2 * 0.25))
    for side in (-1, 1):
        above = _at(grey, to_screen(pose_at(film, 0.0), 180 + side * (half + 5), 0.25, FOCAL))
        below = _at(grey, to_screen(pose_at(film, 0.0), 180 + side * (half - 8), 0.25, FOCAL))
        assert below < 0.8 * above


def test_a_clean_pipe_is_drawn_as_it_was(script):
    film = script(station=KnotLaw.constant(1.0))
    assert _changed(film, BedLaw()).max() == 0


def test_water_below_the_top_of_the_bed_is_not_seen(script):
    film = script(
        station=KnotLaw.constant(1.0),
        bed=BedLaw(((0.0, 0.2),)),
        water=WaterLaw(((0.0, 0.1),), standing=((0.0, 12.0),)),
    )
    told = truth(film, np.array([0.0]))
    assert told.water_share[0] == 0.0
    assert told.bed_share[0] == pytest.approx(0.2)
    assert told.water_state[0] is WaterState.UNKNOWN
    deep = truth(replace(film, water=WaterLaw(((0.0, 0.3),))), np.array([0.0]))
    assert deep.water_share[0] == pytest.approx(0.3)
