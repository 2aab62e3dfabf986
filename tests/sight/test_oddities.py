"""The odd net's answer on rendered walls: what is on them, and little where nothing is."""

import cv2
import numpy as np
import pytest

from saltglaze.demo.laws import KnotLaw
from saltglaze.demo.renderer import Renderer
from saltglaze.demo.script import Defect, FilmScript, Look, Picture, PipeSegment, WallDefect
from saltglaze.sight.oddities import odd_heat
from saltglaze.sight.strips import ANGLES, RINGS, strip


def strips(look, *defects):
    """Strips on the way up to 1.2 m of a line with these defects."""
    script = FilmScript(
        duration_s=6.0,
        station=KnotLaw(((0.0, 0.6), (6.0, 1.05))),
        segments=(PipeSegment(0.0, 9.0, look, 0.15, 3.0, 0.0),),
        width_px=640,
        height_px=480,
        seed=5,
        defects=defects,
        picture=Picture(noise=3.0),
    )
    renderer = Renderer(script)
    times = np.arange(0.2, 5.9, 0.4)
    greys = [cv2.cvtColor(renderer.picture(float(t)), cv2.COLOR_RGB2GRAY) for t in times]
    return np.stack([strip(grey) for grey in greys])


def defect(kind, **given):
    usual = {"station_m": 1.2, "clock_deg": 300.0, "extent_deg": 50.0, "length_m": 0.2}
    return WallDefect(kind=kind, size_m=0.04, strength=0.9, id="d", **(usual | given))


@pytest.mark.parametrize("kind", [Defect.ROOT_MASS, Defect.HOLE, Defect.FRACTURE, Defect.GREASE])
def test_what_is_on_the_wall_stands_out_on_its_side(kind):
    heat = odd_heat(strips(Look.CLAY, defect(kind))).astype(float)
    best = np.sort(heat.max(axis=1), axis=0)[-4:].mean(axis=0)  # per angle, the best few pictures
    assert abs((np.argmax(best) * 360 / ANGLES - 300 + 180) % 360 - 180) < 40
    assert best.max() > 60


@pytest.mark.parametrize("look", list(Look))
def test_a_clean_wall_hardly_stands_out(look):
    heat = odd_heat(strips(look))
    assert (heat > 50).mean() < 0.005


def test_a_turned_picture_is_told_turned():
    some = strips(Look.CLAY, defect(Defect.HOLE))[:2]
    turned = np.roll(some, 24, axis=2)
    apart = odd_heat(turned).astype(int) - np.roll(odd_heat(some), 24, axis=2)
    assert np.abs(apart).max() <= 1


def test_no_strips_are_no_heat():
    assert odd_heat(np.zeros((0, RINGS, ANGLES), np.int8)).shape[0] == 0
