"""Pictures against the truth: rings, holes, water and text are where the script says."""

from __future__ import annotations

import math
from dataclasses import replace

import cv2
import numpy as np
import pytest

from saltglaze.demo.laws import KnotLaw, WaterLaw
from saltglaze.demo.lens import to_screen
from saltglaze.demo.renderer import Renderer, render
from saltglaze.demo.script import (
    Bend,
    Corner,
    Defect,
    Look,
    Overlay,
    Picture,
    PipeSegment,
    Recorder,
    ViewEvent,
    WallDefect,
    joint_stations,
)
from saltglaze.demo.strip import pose_at
from saltglaze.model.track import ViewState

FOCAL = 320.0


def _grey(picture: np.ndarray) -> np.ndarray:
    return cv2.cvtColor(picture, cv2.COLOR_RGB2GRAY).astype(float)


def _at(grey: np.ndarray, xy: tuple[float, float]) -> float:
    """Sample the picture at pixels right of and below its centre."""
    column, row = xy[0] + grey.shape[1] / 2 - 0.5, xy[1] + grey.shape[0] / 2 - 0.5
    patch = cv2.getRectSubPix(grey.astype(np.float32), (1, 1), (column, row))
    return float(patch[0, 0])


@pytest.mark.parametrize(
    "pose",
    [
        {},
        {"roll_deg": KnotLaw.constant(37.0)},
        {"lens_height_m": 0.055, "lens_side_m": 0.008, "roll_deg": KnotLaw.constant(-120.0)},
        {
            "yaw_deg": KnotLaw.constant(12.0),
            "pitch_deg": KnotLaw.constant(-8.0),
            "lens_height_m": 0.06,
        },
    ],
)
def test_a_joint_ring_is_where_the_projection_of_its_station_falls(script, pose):
    segments = (PipeSegment(0.0, 12.0, Look.CONCRETE, 0.15, section_m=2.0),)
    film = script(segments=segments, station=KnotLaw.constant(1.70), **pose)
    assert joint_stations(film)[0] == pytest.approx(2.0)
    grey = _grey(Renderer(film).picture(1.0))
    here = pose_at(film, 1.0)
    darkest = []
    for clock in range(0, 360, 12):
        ahead = np.linspace(0.25, 0.36, 111)
        seen = [_at(grey, to_screen(here, clock, float(z), FOCAL)) for z in ahead]
        darkest.append(ahead[int(np.argmin(seen))])
    assert np.median(darkest) == pytest.approx(0.30, abs=0.004)
    assert np.percentile(np.abs(np.array(darkest) - 0.30), 90) < 0.008


@pytest.mark.parametrize("roll", [0.0, 90.0, 200.0])
def test_a_hole_shows_at_its_clock_angle_plus_roll(script, roll):
    hole = WallDefect(Defect.HOLE, 1.4, clock_deg=60.0, size_m=0.05)
    film = script(station=KnotLaw.constant(1.2), roll_deg=KnotLaw.constant(roll), defects=(hole,))
    plain = _grey(Renderer(replace(film, defects=())).picture(0.0))
    grey = _grey(Renderer(film).picture(0.0))
    rows, columns = np.nonzero(plain - grey > 40)
    angle = math.degrees(math.atan2(columns.mean() - 319.5, -(rows.mean() - 239.5)))
    away = (angle - (60.0 + roll) + 180) % 360 - 180
    assert abs(away) < 4.0


def test_the_picture_of_a_turning_camera_is_the_turned_picture(script):
    """Rolling by 90 degrees turns a square picture by a quarter, clockwise."""
    segments = (PipeSegment(0.0, 12.0, Look.CAST_IRON, 0.15, section_m=0.6),)
    film = script(
        segments=segments,
        width_px=400,
        height_px=400,
        lens_height_m=0.05,
        water=WaterLaw(((0.0, 0.2),), standing=((0.0, 12.0),)),
    )
    upright = _grey(Renderer(film).picture(3.0))
    rolled = _grey(Renderer(replace(film, roll_deg=KnotLaw.constant(90.0))).picture(3.0))
    turned = np.rot90(upright, -1)
    assert np.abs(rolled - turned).mean() < 2.0


@pytest.mark.parametrize("share", [0.1, 0.3, 0.45])
def test_the_waterline_stands_at_its_level(script, share):
    # From high up, where still water mirrors little and hides the wall below.
    water = WaterLaw(((0.0, share),), standing=((0.0, 12.0),))
    film = script(water=water, station=KnotLaw.constant(1.0), lens_height_m=0.13)
    dry = Renderer(replace(film, water=WaterLaw())).picture(0.0).astype(float)
    wet = Renderer(film).picture(0.0).astype(float)
    changed = np.abs(wet - dry).sum(axis=2)
    here = pose_at(film, 0.0)
    # Clock angle of the waterline on the wall: cos = 1 - 2 share from 6 o'clock.
    half = math.degrees(math.acos(1 - 2 * share))
    for side in (-1, 1):
        above = to_screen(here, 180 + side * (half + 4), 0.2, FOCAL)
        below = to_screen(here, 180 + side * (half - 9), 0.2, FOCAL)
        assert _at(changed, above) < 6
        assert _at(changed, below) > 12


def test_still_water_mirrors_the_wall_and_running_water_moves(script):
    film = script(station=KnotLaw.constant(1.0), lens_height_m=0.09)
    still = replace(film, water=WaterLaw(((0.0, 0.3),), standing=((0.0, 12.0),)))
    running = replace(film, water=WaterLaw(((0.0, 0.3),)))
    pictures = {}
    for name, one in (("still", still), ("running", running)):
        renderer = Renderer(one)
        pictures[name] = [_grey(renderer.picture(t)) for t in (1.0, 1.4)]
    assert np.abs(pictures["still"][0] - pictures["still"][1]).max() < 3
    assert np.abs(pictures["running"][0] - pictures["running"][1]).max() > 30


def test_a_lens_under_water_sees_next_to_nothing(script):
    water = WaterLaw(((0.0, 0.6),), standing=((0.0, 12.0),))
    segments = (PipeSegment(0.0, 12.0, Look.CONCRETE, 0.15, section_m=0.3),)
    film = script(water=water, segments=segments, lens_height_m=0.05)
    dry = _grey(Renderer(replace(film, water=WaterLaw())).picture(5.0))
    under = _grey(Renderer(film).picture(5.0))
    detail = cv2.Laplacian(under, cv2.CV_64F).std() / cv2.Laplacian(dry, cv2.CV_64F).std()
    assert detail < 0.3


@pytest.mark.parametrize("state", [ViewState.DARK, ViewState.FOGGED, ViewState.FOULED])
def test_a_spoilt_view_has_less_contrast(script, state):
    segments = (PipeSegment(0.0, 12.0, Look.CAST_IRON, 0.15, section_m=0.3),)
    film = script(segments=segments, events=(ViewEvent(state, 4.0, 6.0, 1.0),))
    renderer = Renderer(film)
    clear, spoilt = (
        cv2.Laplacian(_grey(renderer.picture(t)), cv2.CV_64F).std() for t in (3.0, 5.0)
    )
    assert spoilt < 0.6 * clear


def test_a_narrower_pipe_ahead_shows_as_a_smaller_ring(script):
    """The rim of the far pipe is at f R2 / z about the far axis, the inverts level."""
    segments = (
        PipeSegment(0.0, 1.5, Look.PVC, 0.15),
        PipeSegment(1.5, 12.0, Look.CAST_IRON, 0.10),
    )
    film = script(segments=segments, station=KnotLaw.constant(1.2))
    grey = _grey(Renderer(film).picture(0.0))
    centre_y = FOCAL * 0.025 / 0.3  # the far axis lies 25 mm lower
    rim = FOCAL * 0.05 / 0.3
    inside = [_at(grey, (0.93 * rim * math.sin(a), centre_y - 0.93 * rim * math.cos(a)))
              for a in np.linspace(0, 6.28, 24)]  # fmt: skip
    outside = [_at(grey, (1.12 * rim * math.sin(a), centre_y - 1.12 * rim * math.cos(a)))
               for a in np.linspace(-2.2, 2.2, 24)]  # fmt: skip
    assert np.median(inside) < 0.75 * np.median(outside)


def test_an_offset_joint_changes_the_picture_beyond_it_only(script):
    step = WallDefect(Defect.OFFSET_JOINT, 1.5, clock_deg=180.0, size_m=0.02)
    film = script(station=KnotLaw.constant(1.2))
    plain = _grey(Renderer(film).picture(0.0))
    stepped = _grey(Renderer(replace(film, defects=(step,))).picture(0.0))
    rows, columns = np.nonzero(np.abs(plain - stepped) > 12)
    radius = np.hypot(columns - 319.5, rows - 239.5)
    assert radius.max() < FOCAL * 0.075 / 0.3 + 3
    # The far pipe dropped by 20 mm: between f (R - step) / z and f R / z its end stands proud
    # at the top, lit head on; at the foot the wall seen is farther off and darker.
    change = stepped - plain
    assert _at(change, (0.0, -FOCAL * 0.065 / 0.3)) > 25
    assert _at(change, (0.0, FOCAL * 0.065 / 0.3)) < -5


def test_a_bend_moves_the_dark_end_its_way(script):
    bend = Bend(1.6, 0.25, 22.5, clock_deg=90.0)
    film = script(station=KnotLaw.constant(1.2), bends=(bend,))
    straight, bent = (_grey(Renderer(f).picture(0.0)) for f in (replace(film, bends=()), film))

    def darkest(grey: np.ndarray) -> float:
        soft = cv2.GaussianBlur(grey[160:320, 220:420], (0, 0), 4)
        return float(np.unravel_index(np.argmin(soft), soft.shape)[1]) + 220

    assert darkest(bent) > darkest(straight) + 8


def test_the_overlay_shows_the_counter_of_the_truth(script):
    overlay = Overlay(font="mono", size_px=24, corner=Corner.TOP_LEFT, margin_px=20)
    film = script(station=KnotLaw(((0.0, 0.0), (10.0, 3.048))), overlay=overlay)
    renderer = Renderer(film)
    first, later = renderer.picture(0.0), renderer.picture(10.0)
    corner = (slice(10, 60), slice(10, 200))
    assert np.count_nonzero(first[corner].min(axis=2) > 240) > 100
    assert np.abs(first[corner].astype(int) - later[corner]).max() > 150
    assert overlay.text(3.048) == "10.0 ft"


def test_pictures_come_at_the_scripts_rate_and_size(script):
    film = script(duration_s=1.0, fps=12.5)
    frames = list(render(film))
    assert [t for t, _ in frames] == pytest.approx(list(np.arange(12) / 12.5))
    assert all(p.shape == (480, 640, 3) and p.dtype == np.uint8 for _, p in frames)


def test_the_same_script_gives_the_same_pictures(script):
    film = script(
        picture=Picture(), overlay=Overlay(), recorder=Recorder(2.0, 0.1, 1.0, False, 2.0, 1.0)
    )
    assert np.array_equal(Renderer(film).picture(2.0), Renderer(film).picture(2.0))


def test_noise_has_the_size_that_was_asked_for(script):
    film = script(picture=Picture(noise=5.0, vignette=0.0, motion_blur=False))
    bare = _grey(Renderer(replace(film, picture=replace(film.picture, noise=0.0))).picture(0.0))
    noisy = _grey(Renderer(film).picture(0.0))
    middling = (bare > 40) & (bare < 200)
    assert (noisy - bare)[middling].std() == pytest.approx(5.0, rel=0.2)
