"""The map of the wall: patches drawn by the pinhole's own geometry are found, rings left out."""

import numpy as np
import pytest

from saltglaze.model.base import Estimate
from saltglaze.model.track import RollSample, WaterSample
from saltglaze.sight.candidates import candidates
from saltglaze.sight.mosaic import BIN_D, lay
from saltglaze.sight.strips import ANGLES, closeness

RIM_D = 0.48
COUNT = 150
TIMES = np.arange(COUNT) * 0.2
WAY = np.concatenate([np.linspace(0, 8, 100), np.linspace(8, 6, 50)])
ROLL = np.linspace(0.0, 2.0, COUNT)
JOINTS = (2.0, 4.5, 7.0)
PATCH = (3.4, 40)


def strips(draw):
    """Noise, three dark rings, and one dark patch, as strips of a turning camera."""
    pictures = draw.normal(0, 9, (COUNT, len(closeness()), ANGLES))
    ahead = RIM_D * closeness()
    for k in range(COUNT):
        turned = round(ROLL[k] / (2 * np.pi) * ANGLES)
        for joint in JOINTS:
            pictures[k, np.abs(WAY[k] + ahead - joint) < 0.05] -= 35
        near = np.abs(WAY[k] + ahead - PATCH[0]) < 0.16
        columns = (np.arange(PATCH[1], PATCH[1] + 6) + turned) % ANGLES
        pictures[k][np.ix_(near, columns)] -= 60
    return np.clip(pictures, -127, 127).astype(np.int8)


@pytest.fixture(scope="module")
def mosaic():
    pictures = strips(np.random.default_rng(3))
    return lay(pictures, WAY, ROLL, np.ones(COUNT, dtype=bool), RIM_D)


def test_rings_lie_in_the_map_where_they_lie_in_the_pipe(mosaic):
    ring = np.median(mosaic.cells, axis=1)
    for joint in JOINTS:
        row = round((joint - mosaic.start_d) / BIN_D)
        assert ring[row - 1 : row + 2].min() < -15
    assert (ring < -15).mean() < 0.1


def test_the_patch_is_offered_with_its_clock_and_no_class(mosaic):
    roll = tuple(
        RollSample(time_s=float(t), roll_deg=Estimate.of(float(np.rad2deg(r)), 2.0))
        for t, r in zip(TIMES, ROLL, strict=True)
    )
    unseen = Estimate.unknown("no water drawn")
    water = tuple(WaterSample(time_s=float(t), depth_share=unseen) for t in TIMES)
    found = candidates(mosaic, TIMES, WAY, ROLL, roll, water)
    assert len(found) == 1
    assert found[0].clock_deg == pytest.approx((PATCH[1] + 2.5) * 360 / ANGLES, abs=8)
    assert found[0].look == "dark_hole"


def test_a_camera_that_never_moves_makes_no_map():
    still = np.zeros((20, len(closeness()), ANGLES), dtype=np.int8)
    assert lay(still, np.zeros(20), np.zeros(20), np.ones(20, dtype=bool), RIM_D) is None
