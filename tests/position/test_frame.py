from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from saltglaze.errors import InputError
from saltglaze.model.ground import Origin, PlanPoint
from saltglaze.position.frame import LocalFrame

metres = st.floats(-400.0, 400.0)


@settings(deadline=None, max_examples=25)
@given(metres, metres, st.floats(-70.0, 70.0), st.floats(-179.0, 179.0), st.floats(-180.0, 180.0))
def test_there_and_back_again(east, north, lat, lon, turn):
    # PROJ gives points within a tenth of a millimetre of the origin as the origin itself.
    frame = LocalFrame(Origin(lon_deg=lon, lat_deg=lat, north_deg=turn))
    back = frame.from_lonlat(*frame.to_lonlat(PlanPoint(east_m=east, north_m=north)))
    assert (back.east_m, back.north_m) == (
        pytest.approx(east, abs=1e-4),
        pytest.approx(north, abs=1e-4),
    )


@settings(deadline=None, max_examples=25)
@given(metres, metres)
def test_distance_and_bearing_agree_with_the_geodesic(east, north):
    # outside check: Karney's geodesic on WGS 84, as given by pyproj.Geod
    frame = LocalFrame(Origin(lon_deg=-93.0, lat_deg=45.0))
    lon, lat = frame.to_lonlat(PlanPoint(east_m=east, north_m=north))
    azimuth, _, distance = Geod(ellps="WGS84").inv(-93.0, 45.0, lon, lat)
    assert distance == pytest.approx(math.hypot(east, north), abs=1e-4)
    if distance > 1.0:
        bearing = math.degrees(math.atan2(east, north))
        assert (azimuth - bearing + 180.0) % 360.0 - 180.0 == pytest.approx(0.0, abs=1e-3)


def test_distances_between_other_points_hold_too():
    frame = LocalFrame(Origin(lon_deg=10.0, lat_deg=52.0))
    a, b = PlanPoint(east_m=150.0, north_m=-80.0), PlanPoint(east_m=-120.0, north_m=200.0)
    distance = Geod(ellps="WGS84").inv(*frame.to_lonlat(a), *frame.to_lonlat(b))[2]
    assert distance == pytest.approx(math.hypot(270.0, 280.0), abs=1e-3)


def test_tape_lengths_hold_at_altitude():
    # at 1600 m a tape length spans a smaller angle: 1600 / 6 371 000 = 251 parts in a million
    low = LocalFrame(Origin(lon_deg=-105.0, lat_deg=40.0))
    high = LocalFrame(Origin(lon_deg=-105.0, lat_deg=40.0, level_m=1600.0))
    point = PlanPoint(east_m=100.0, north_m=0.0)
    shorter = (high.to_lonlat(point)[0] + 105.0) / (low.to_lonlat(point)[0] + 105.0)
    assert 1.0 - shorter == pytest.approx(251e-6, abs=1e-6)


def test_local_north_is_turned_clockwise():
    frame = LocalFrame(Origin(lon_deg=0.0, lat_deg=50.0, north_deg=90.0))
    lon, lat = frame.to_lonlat(PlanPoint(east_m=0.0, north_m=100.0))
    assert lon > 0.001
    assert lat == pytest.approx(50.0, abs=1e-5)


@pytest.mark.parametrize(("lon", "lat"), [(45.0, -93.0), (-93.0, 145.0), (math.nan, 45.0)])
def test_swapped_or_impossible_coordinates_are_refused(lon, lat):
    with pytest.raises(InputError, match="longitude"):
        LocalFrame(Origin(lon_deg=-93.0, lat_deg=45.0)).from_lonlat(lon, lat)
