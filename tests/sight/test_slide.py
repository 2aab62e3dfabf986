"""Steps between strips of a wall whose true motion is known."""

import numpy as np
import pytest
from sight_kit import glances

from saltglaze.sight.slide import RIM_D, ROW, slide
from saltglaze.sight.strips import ANGLES, RINGS

COUNT = 60
CLEAR = np.ones(COUNT, dtype=bool)
NO_RINGS = np.zeros((COUNT, RINGS // 2), dtype=np.float32)


def strips(rows_gone, draw, grain=30.0, noise=6.0):
    """Strips of a grained wall; sample k shows it ``rows_gone[k]`` rows further on."""
    fine = 4
    wall = draw.normal(0, 1, (3000, ANGLES))
    kernel = np.hanning(4 * fine)
    wall = np.apply_along_axis(lambda c: np.convolve(c, kernel / kernel.sum(), "same"), 0, wall)
    wall = (wall + np.roll(wall, 1, axis=1)) * grain / wall.std()
    pictures = np.empty((len(rows_gone), RINGS, ANGLES))
    for k, gone in enumerate(rows_gone):
        at = (400 + np.round((gone + np.arange(RINGS)) * fine)).astype(int)
        pictures[k] = wall[at]
    pictures += draw.normal(0, noise, pictures.shape)
    return np.clip(pictures, -127, 127).astype(np.int8)


def net_says(steps_rows, rim_d=RIM_D, factor=1.0, draw=None):
    advance = np.asarray(steps_rows) * ROW * rim_d * factor
    if draw is not None:
        advance = advance + draw.normal(0, 0.02, advance.shape)
    return glances(COUNT, advance_d=advance, advance_sd_d=0.02)


@pytest.mark.parametrize("step_rows", [-2.5, 0.75, 1.0, 3.25, 6.0])
def test_steps_on_a_grained_wall_are_true_to_a_fraction_of_a_row(step_rows):
    draw = np.random.default_rng(1)
    steps = np.full(COUNT, step_rows)
    pictures = strips(np.cumsum(steps) + (160 if step_rows < 0 else 0), draw)
    slid = slide(pictures, NO_RINGS, net_says(steps, factor=0.8, draw=draw), CLEAR)
    assert np.median(slid.step[1:] / ROW) == pytest.approx(step_rows, abs=0.15)
    assert slid.same_wall[1:].all()


def test_the_net_leads_where_the_wall_is_bare():
    draw = np.random.default_rng(2)
    steps = np.full(COUNT, 3.0)
    pictures = strips(np.cumsum(steps), draw, grain=0.0, noise=12.0)
    slid = slide(pictures, NO_RINGS, net_says(steps), CLEAR)
    assert np.mean(slid.step[1:] / ROW) == pytest.approx(3.0, abs=1.0)
    assert not slid.same_wall.any()


def test_a_ring_tells_the_step_where_the_wall_is_bare_and_the_net_is_wrong():
    draw = np.random.default_rng(3)
    steps = np.full(COUNT, 0.5)
    pictures = strips(np.cumsum(steps), draw, grain=0.0, noise=12.0)
    rows = np.arange(RINGS // 2)
    where = 35.0 - 0.5 * np.arange(COUNT)
    heat = np.exp(-0.5 * ((rows[None, :] - where[:, None]) / 0.8) ** 2).astype(np.float32)
    without = slide(pictures, NO_RINGS, net_says(np.full(COUNT, 2.0)), CLEAR)
    with_ring = slide(pictures, heat, net_says(np.full(COUNT, 2.0)), CLEAR)
    # The ring moves by half a row of the net's, a whole one of the strip.
    assert abs(np.median(with_ring.step) / ROW - 1.0) < abs(np.median(without.step) / ROW - 1.0)
    assert np.median(with_ring.step) / ROW == pytest.approx(1.0, abs=0.3)


def test_a_still_camera_stands_still():
    draw = np.random.default_rng(4)
    pictures = strips(np.zeros(COUNT), draw)
    slid = slide(pictures, NO_RINGS, net_says(draw.normal(0, 0.3, COUNT)), CLEAR)
    assert not slid.step.any()


def test_dirt_on_the_lens_does_not_hold_the_wall_back():
    draw = np.random.default_rng(5)
    steps = np.full(COUNT, 2.0)
    pictures = strips(np.cumsum(steps), draw, grain=15.0)
    dirt = draw.normal(0, 35, (RINGS, ANGLES))
    dirtied = np.clip(pictures + dirt[None], -127, 127).astype(np.int8)
    slid = slide(dirtied, NO_RINGS, net_says(steps), CLEAR)
    assert np.median(slid.step[1:] / ROW) == pytest.approx(2.0, abs=0.3)


@pytest.mark.parametrize("rim_d", [0.5, 0.8, 1.1])
def test_how_far_ahead_the_rim_looks_comes_from_net_and_wall_together(rim_d):
    draw = np.random.default_rng(6)
    steps = draw.choice([1.0, 2.0, 3.0], COUNT)
    pictures = strips(np.cumsum(steps), draw)
    slid = slide(pictures, NO_RINGS, net_says(steps, rim_d=rim_d), CLEAR)
    assert slid.rim_d == pytest.approx(rim_d, rel=0.1)


def test_one_picture_has_no_step():
    slid = slide(
        np.zeros((1, RINGS, ANGLES), dtype=np.int8),
        NO_RINGS[:1],
        glances(1),
        np.ones(1, dtype=bool),
    )
    assert slid.step.tolist() == [0.0]
    assert slid.rim_d == RIM_D
