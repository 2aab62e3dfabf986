"""Which way is up, settled over time: wraps, turns, outliers, and when nothing is known."""

import numpy as np
import pytest
from sight_kit import glances

from saltglaze.sight.roll import TURN_GAIN, levels_itself, settle_roll

COUNT = 100
TIMES = np.arange(COUNT) * 0.2
ALL = np.ones(COUNT, dtype=bool)


def wet(count, **given):
    """Glances that see a water's edge."""
    return glances(count, **({"edge": 1.0} | given))


def off_deg(samples, truth_deg):
    told = np.array([s.roll_deg.value for s in samples])
    return (told - truth_deg + 180.0) % 360.0 - 180.0


@pytest.mark.parametrize("truth_deg", [0.0, 90.0, 179.0, -179.0, -60.0])
def test_a_steady_roll_is_found_wherever_it_lies(truth_deg):
    draw = np.random.default_rng(1)
    noisy = np.deg2rad(truth_deg + draw.normal(0.0, 5.0, COUNT))
    samples = settle_roll(TIMES, wet(COUNT, roll_rad=noisy, concentration=200.0), ALL)
    assert np.abs(off_deg(samples, truth_deg)).max() < 5.0


def test_turning_is_followed_through_a_stretch_without_direction():
    truth = np.cumsum(np.full(COUNT, 2.0))
    sure = np.where((np.arange(COUNT) > 40) & (np.arange(COUNT) < 52), 0.0, 200.0)
    told = np.deg2rad(2.0) / TURN_GAIN
    seen = wet(COUNT, roll_rad=np.deg2rad(truth), concentration=sure, turn_rad=told)
    samples = settle_roll(TIMES, seen, ALL)
    assert all(s.roll_deg.known for s in samples)
    assert np.abs(off_deg(samples, truth)).max() < 4.0


def test_quick_turning_without_direction_is_soon_unknown():
    sure = np.where(np.arange(COUNT) < 20, 200.0, 0.0)
    truth = np.deg2rad(4.0) * np.arange(COUNT)
    seen = wet(COUNT, roll_rad=truth, concentration=sure, turn_rad=np.deg2rad(4.0) / TURN_GAIN)
    samples = settle_roll(TIMES, seen, ALL)
    assert samples[10].roll_deg.known
    assert not samples[60].roll_deg.known


def test_nothing_to_go_by_is_unknown_with_a_reason():
    samples = settle_roll(TIMES, glances(COUNT, concentration=0.0), ALL)
    assert not any(s.roll_deg.known for s in samples)
    assert "which way is up" in samples[0].roll_deg.unknown_because


def test_a_blind_stretch_loses_the_roll_and_finds_it_again():
    usable = ALL.copy()
    usable[40:70] = False
    samples = settle_roll(TIMES, wet(COUNT, roll_rad=0.5, concentration=200.0), usable)
    assert not samples[55].roll_deg.known
    assert samples[90].roll_deg.value == pytest.approx(np.rad2deg(0.5), abs=3.0)


def test_a_few_wild_glances_do_not_turn_the_pipe():
    roll = np.zeros(COUNT)
    roll[7::40] = np.pi
    samples = settle_roll(TIMES, wet(COUNT, roll_rad=roll, concentration=200.0), ALL)
    assert np.abs(off_deg(samples, 0.0)).max() < 5.0


def test_a_camera_that_stays_upright_levels_itself():
    level = settle_roll(TIMES, wet(COUNT, roll_rad=0.02, concentration=200.0), ALL)
    askew = settle_roll(TIMES, wet(COUNT, roll_rad=0.9, concentration=200.0), ALL)
    dark = settle_roll(TIMES, glances(COUNT, concentration=0.0), ALL)
    assert levels_itself(level) is True
    assert levels_itself(askew) is None
    assert levels_itself(dark) is None


def test_a_dry_pipe_does_not_tell_which_way_is_up():
    samples = settle_roll(TIMES, glances(COUNT, roll_rad=0.3, concentration=200.0), ALL)
    assert not any(s.roll_deg.known for s in samples)
