"""The waterline net's answer on walls, and how walls are unrolled."""

import itertools

import cv2
import numpy as np
import pytest

from saltglaze.demo.laws import BedLaw, KnotLaw, WaterLaw
from saltglaze.demo.renderer import Renderer
from saltglaze.demo.script import FilmScript, Look, Picture, PipeSegment
from saltglaze.sight.disc import SIDE_PX, disc
from saltglaze.sight.waterline import COLUMNS, DEPTHS, ROWS, unrolled, waterline


def sector(towards_rad, half_rad=0.3):
    """A disc that is bright in one direction, clockwise from the top, and dark elsewhere."""
    at = np.arange(SIDE_PX) - (SIDE_PX - 1) / 2.0
    angle = np.arctan2(at[None, :], -at[:, None]) - towards_rad
    return np.where(np.cos(angle) > np.cos(half_rad), 200, 20).astype(np.uint8)


@pytest.mark.parametrize("roll_deg", [0.0, 37.0, -150.0])
def test_the_invert_is_the_middle_column_whatever_the_roll(roll_deg):
    roll = np.deg2rad(roll_deg)
    pair = np.stack([sector(roll + np.pi)] * 2)[None]
    wall = unrolled(pair, np.array([roll]))[0, 1]
    assert wall.shape == (ROWS, COLUMNS)
    lit = np.flatnonzero(wall[0] > 100)
    assert abs(lit.mean() - (COLUMNS - 1) / 2) < 1.0
    assert len(lit) * 360 / COLUMNS == pytest.approx(np.rad2deg(0.6), abs=4.0)


def test_columns_run_clockwise_round():
    to_the_left_seen_ahead = np.stack([sector(np.pi * 1.5)] * 2)[None]
    wall = unrolled(to_the_left_seen_ahead, np.zeros(1))[0, 0]
    assert np.argmax(wall[0]) > COLUMNS // 2  # from the invert, clockwise goes up the left side


def looks_at(depth, tide_share=0.0, roll_deg=0.0):
    """Looks along a rendered line of even depth, straight from the pictures."""
    script = FilmScript(
        duration_s=6.0,
        station=KnotLaw(((0.0, 1.0), (6.0, 1.6))),
        segments=(PipeSegment(0.0, 9.0, Look.CLAY, 0.15, 0.61, 0.005),),
        width_px=320,
        height_px=240,
        seed=11,
        roll_deg=KnotLaw.constant(roll_deg),
        water=WaterLaw(((0.0, depth), (9.0, depth))),
        bed=BedLaw(tide_share=tide_share, tide=0.4 if tide_share else 0.0),
        picture=Picture(noise=3.0),
    )
    renderer = Renderer(script)
    times = np.arange(0.2, 5.9, 0.2)
    grey = [cv2.cvtColor(renderer.picture(float(t)), cv2.COLOR_RGB2GRAY) for t in times]
    discs = [disc(picture) for picture in grey]
    pairs = np.stack([np.stack(two) for two in itertools.pairwise(discs)])
    return waterline(pairs, np.full(len(pairs), np.deg2rad(roll_deg)))


@pytest.mark.parametrize(
    ("depth", "tide_share"), [(0.0, 0.0), (0.12, 0.0), (0.3, 0.0), (0.0, 0.25), (0.12, 0.3)]
)
def test_the_depth_is_that_of_the_water_not_of_its_tide_mark(depth, tide_share):
    chance = np.exp(looks_at(depth, tide_share, roll_deg=20.0))
    assert chance.sum(axis=1) == pytest.approx(1.0)
    assert np.median(chance @ DEPTHS) == pytest.approx(depth, abs=0.05)
