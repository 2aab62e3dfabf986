"""Quantities in words, in both unit systems; unknowns say why."""

import datetime as dt
import math

import pyproj
import pytest

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock
from saltglaze.model.ground import Origin, PlanPoint
from saltglaze.report.measures import Measures
from saltglaze.report.wording import Words

US = Measures("us", Words())
METRIC = Measures("metric", Words())
FT = 0.3048


def test_a_station_carries_its_margin():
    station = Estimate.of(63.274 * FT, 1.02 * FT)
    assert US.length(station) == "63 ± 2 ft"
    assert METRIC.length(station) == "19.3 ± 0.6 m"


def test_a_depth_of_wide_margin_is_told_as_about():
    assert US.depth(Estimate.of(4.1 * FT, 0.51 * FT)) == "about 4 ft deep (3 to 5)"


def test_an_unknown_says_why_and_never_none():
    unknown = Estimate.unknown("the counter was hidden.")
    for words in (US.length(unknown), US.depth(unknown), US.money(unknown, "USD")):
        assert "the counter was hidden" in words
        assert "None" not in words
    assert US.length(None) == "not known"


def test_lopsided_costs_are_told_as_ranges():
    cost = Estimate.within(7533, 5880, 10700)
    assert US.money(cost, "USD") == "about $7,500 ($6,000 to $10,500)"
    assert METRIC.money(Estimate.of(400, 0), "CHF") == "CHF 400"


@pytest.mark.parametrize(
    ("diameter_m", "us", "metric"), [(0.1016, "4 in", "102 mm"), (0.1524, "6 in", "152 mm")]
)
def test_bores_are_told_as_they_are_bought(diameter_m, us, metric):
    assert US.bore(diameter_m) == us
    assert METRIC.bore(diameter_m) == metric


def test_dates_follow_the_readers_habit():
    day = dt.date(2026, 12, 3)
    assert US.date(day) == "December 3, 2026"
    assert METRIC.date(day) == "3 December 2026"
    assert US.date(None) == "date not recorded"


@pytest.mark.parametrize("length_m", [1.0, 1.04, 1.2, 1.4, 2.9, 7.77])
def test_a_trench_is_never_told_shorter_than_it_must_be(length_m):
    feet, metres = (float(m.at_least(length_m).split()[0]) for m in (US, METRIC))
    assert length_m <= feet * FT + 1e-6 <= length_m + 0.5 * FT
    assert length_m <= metres + 1e-6 <= length_m + 0.1


def test_tapes_read_in_feet_and_inches():
    assert US.tape(14 * FT + 1.999 * 0.0254) == "14 ft 2 in"
    assert US.tape(13 * FT + 11.7 * 0.0254) == "14 ft 0 in"
    assert METRIC.tape(4.314) == "4.31 m"


@pytest.mark.parametrize(
    ("clock", "words"),
    [
        (Clock(from_h=0.0), "at 12 o'clock"),
        (Clock(from_h=10, to_h=2), "from 10 to 2 o'clock"),
        (Clock(from_h=2.5), "at 2½ o'clock"),
        (Clock(from_h=11.9), "at 12 o'clock"),
        (Clock(from_h=0, all_round=True), "all the way round"),
        (None, "place on the pipe wall not known"),
    ],
)
def test_clock_positions(clock, words):
    assert US.clock(clock) == words


def test_coordinates_agree_with_proj():
    """PROJ's azimuthal equidistant projection on the same ellipsoid is the outside check."""
    origin = Origin(lon_deg=-122.6, lat_deg=45.5, north_deg=20.0)
    east, north = 120.0, -260.0
    turn = math.radians(20.0)
    true_east = east * math.cos(turn) + north * math.sin(turn)
    true_north = -east * math.sin(turn) + north * math.cos(turn)
    local = pyproj.Proj(proj="aeqd", lat_0=45.5, lon_0=-122.6, ellps="WGS84")
    lon, lat = local(true_east, true_north, inverse=True)
    words = US.lonlat(PlanPoint(east_m=east, north_m=north), origin)
    lat_words, lon_words = words.split(", ")
    found = (-float(lon_words.split("°")[0]), float(lat_words.split("°")[0]))
    _, _, distance = pyproj.Geod(ellps="WGS84").inv(lon, lat, *found)
    assert distance < 0.15  # the sixth decimal of a degree is 0.11 m
