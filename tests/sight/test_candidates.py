"""What of the map of the wall is offered as a place to look at."""

import numpy as np
import pytest

from saltglaze.model.base import Estimate
from saltglaze.model.track import RollSample, WaterSample
from saltglaze.sight.candidates import LEAST_SEEN, MOST, SEEN_AHEAD_D, candidates
from saltglaze.sight.mosaic import BIN_D, Mosaic
from saltglaze.sight.strips import ANGLES

ROWS = 400
COUNT = 200
TIMES = np.arange(COUNT) * 0.2
WAY = np.linspace(0.0, 14.0, COUNT)
LEVEL = np.zeros(COUNT)
KNOWN = Estimate.of(0.0, 2.0)
DRY = Estimate.of(0.0, 0.012)


def wall(*patches, seen=10, cells=0.0):
    """A map in which the patches (first row, rows, first column, columns, per cent) are odd."""
    odd = np.zeros((ROWS, ANGLES))
    for row, long, column, wide, per_cent in patches:
        odd[row : row + long, np.arange(column, column + wide) % ANGLES] = per_cent
    return Mosaic(np.full((ROWS, ANGLES), cells), odd, np.full((ROWS, ANGLES), float(seen)), 0.5)


def offered(mosaic, roll_deg=KNOWN, depth_share=DRY):
    roll = tuple(RollSample(time_s=float(t), roll_deg=roll_deg) for t in TIMES)
    water = tuple(WaterSample(time_s=float(t), depth_share=depth_share) for t in TIMES)
    return candidates(mosaic, TIMES, WAY, LEVEL, roll, water)


def test_a_patch_is_told_when_it_is_seen_best_and_where_it_lies():
    (place,) = offered(wall((100, 6, 17, 3, 80)))
    way_d = np.interp(place.time_s, TIMES, WAY)
    assert way_d + SEEN_AHEAD_D == pytest.approx(0.5 + 102.5 * BIN_D, abs=0.1)
    assert place.clock_deg == pytest.approx(18 * 360 / ANGLES)
    assert place.screen_clock_deg == pytest.approx(place.clock_deg)


def test_a_patch_across_the_seam_is_one_place_and_no_ring():
    (place,) = offered(wall((100, 6, ANGLES - 2, 4, 80), seen=10, cells=-9.0))
    assert min(place.clock_deg, 360 - place.clock_deg) < 4
    assert place.look == "dark_hole"


def test_the_look_says_what_the_wall_shows():
    assert offered(wall((100, 6, 20, 4, 80), cells=9.0))[0].look == "bright_patch"
    assert offered(wall((100, 4, 20, 40, 80)))[0].look == "ring_step"
    slant = wall(*((100 + k, 2, 20 + k, 2, 80) for k in range(12)))
    assert offered(slant)[0].look == "fine_texture"


def test_the_more_and_the_surer_the_stronger():
    weak, strong = (offered(wall((100, 6, 20, 4, p)))[0].strength for p in (45, 90))
    large = offered(wall((100, 12, 20, 8, 90)))[0].strength
    assert weak < strong < large


def test_faint_small_or_hardly_seen_patches_are_not_offered():
    assert not offered(wall((100, 6, 20, 4, 30)))
    assert not offered(wall((100, 2, 20, 2, 90)))
    assert not offered(wall((100, 6, 20, 4, 90), seen=LEAST_SEEN - 1))


def test_what_lies_on_the_water_is_no_wall():
    at_six, at_nine = wall((100, 6, 34, 4, 80)), wall((100, 6, 52, 4, 80))
    quarter = Estimate.of(0.25, 0.012)  # wets 60 degrees either side of the invert
    assert not offered(at_six, depth_share=quarter)
    assert offered(at_nine, depth_share=quarter)
    assert offered(at_six)
    assert offered(at_six, depth_share=Estimate.unknown("nothing tells"))


def test_without_a_known_roll_there_is_no_clock_position():
    (place,) = offered(wall((100, 6, 20, 4, 80)), Estimate.unknown("nothing tells"))
    assert place.clock_deg is None
    assert place.screen_clock_deg is not None


def test_the_strongest_are_offered_where_there_are_too_many_in_time_order():
    many = wall(*((6 * k, 4, 20, 4, 50 + k / 2) for k in range(60)))
    places = offered(many)
    assert len(places) == MOST
    assert [p.time_s for p in places] == sorted(p.time_s for p in places)
    assert min(p.time_s for p in places) > 1.0  # the weakest lie first along the way
