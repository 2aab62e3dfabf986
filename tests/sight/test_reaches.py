"""The picture's reaches on forty varied films, as real files, against the renderer's truth.

The films (seeds 8800 to 8839) were neither trained nor tuned on; benchmarks/reading_the_pipe.py
prints them one by one.
"""

import sys
from pathlib import Path

import numpy as np
import pytest

from saltglaze.demo.varied import varied_script

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

from reading_the_pipe import Score, filmed, score


@pytest.fixture(scope="module")
def total():
    together = Score()
    for seed in range(8800, 8840):
        script = varied_script(seed, 24.0)
        together.add(score(script, filmed(script)))
    return together


@pytest.mark.slow
def test_roll_is_within_six_degrees_where_it_is_called_known(total):
    assert np.quantile(total.roll_off_deg, 0.95) < 6.0
    assert len(total.roll_off_deg) > 0.4 * total.samples
    assert np.mean(total.roll_in95) > 0.93


@pytest.mark.slow
def test_water_is_within_five_per_cent_of_the_diameter(total):
    assert np.quantile(total.water_off, 0.95) < 0.05
    assert len(total.water_off) > 0.6 * total.samples
    assert np.mean(total.standing) > 0.95


@pytest.mark.slow
def test_nine_joints_of_ten_are_found_and_one_in_twenty_told_is_none(total):
    # 56 of 60 and 2 of 58 when written; from run to run the encoder moves three joints.
    assert total.found >= 0.86 * total.joints
    assert total.false <= 0.08 * (total.found + total.false)


@pytest.mark.slow
def test_most_defects_in_view_are_among_the_places_offered(total):
    assert total.defects_found >= 0.7 * total.defects
    assert total.offered_right >= 0.4 * total.offered
