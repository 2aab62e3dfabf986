"""The invented job against its own truth: one line, told the same way everywhere."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
import shapely

from saltglaze.demo import site
from saltglaze.demo.locating import ACROSS_SD_M, SONDE_BEHIND_LENS_M
from saltglaze.demo.said import sayings, webvtt
from saltglaze.demo.scenario import demo_job
from saltglaze.demo.takes import DEFECTS, SEGMENTS, long_take, short_take
from saltglaze.demo.truth import truth
from saltglaze.model.finding import Feature, ScreenPlace
from saltglaze.model.ground import FixKind, ParcelKind
from saltglaze.model.track import ViewState

PLACES_DEG = {
    ScreenPlace.TOP: 0.0,
    ScreenPlace.TOP_RIGHT: 45.0,
    ScreenPlace.RIGHT: 90.0,
    ScreenPlace.BOTTOM_RIGHT: 135.0,
    ScreenPlace.BOTTOM: 180.0,
    ScreenPlace.BOTTOM_LEFT: 225.0,
    ScreenPlace.LEFT: 270.0,
    ScreenPlace.TOP_LEFT: 315.0,
}

STATIONS = {d.id: d.station_m for d in DEFECTS} | {
    "iron_to_clay": site.IRON_END_M,
    "bend_left": site.bends_m()[0],
    "bend_right": site.bends_m()[1],
    "repair": site.REPAIR[0],
    "repair_end": site.REPAIR[1],
    "sag": site.SAG[0],
    "sag_end": site.SAG[1],
    "main": site.line_length_m(),
}


def _outline(parcel) -> shapely.Polygon:
    return shapely.Polygon([(p.east_m, p.north_m) for p in parcel.ring])


@pytest.mark.parametrize("short", [False, True])
def test_every_id_that_is_named_exists_and_is_unique(short):
    job = demo_job(short=short)
    runs = {r.id for r in job.runs}
    marks = [m.id for m in job.marks]
    locates = [x.id for x in job.locates]
    assert {x.run_id for x in job.locates} <= runs
    assert {t.mark_id for t in job.ties} <= set(marks)
    assert {t.point_id for t in job.ties} <= set(locates)
    for ids in (marks, locates, [p.id for p in job.parcels], [p.id for p in job.passes]):
        assert len(ids) == len(set(ids))
    tied = {t.point_id for t in job.ties}
    for locate in job.locates:
        assert (locate.fix is FixKind.TIES) == (locate.id in tied) == (locate.point is None)


def test_everything_says_that_it_is_invented():
    job = demo_job()
    assert job.invented
    assert "invented" in job.place.town
    assert "invented" in job.notes.lower()
    assert job.place.ownership is not None
    assert "invented" in job.place.ownership.citation
    assert job.prices is None
    assert not job.talks
    assert not job.edits


def test_stations_are_arc_length_along_the_centreline():
    line = shapely.LineString(site.CENTRELINE)
    assert site.line_length_m() == pytest.approx(line.length)
    for station in np.linspace(0.0, line.length, 37):
        ours, theirs = site.point_at(float(station)), line.interpolate(float(station))
        assert (ours.east_m, ours.north_m) == pytest.approx((theirs.x, theirs.y))
    assert list(site.bends_m()) == pytest.approx(
        [line.project(shapely.Point(c)) for c in site.CENTRELINE[1:-1]]
    )


def test_depth_is_ground_less_invert_and_the_line_is_well_buried():
    for station in np.linspace(0.0, site.line_length_m(), 50):
        depth = site.depth_at(float(station))
        ground = site.ground_at(site.point_at(float(station)))
        assert depth == pytest.approx(ground - site.invert_at(float(station)))
        assert 1.2 < depth < 2.2


def test_the_sag_holds_level_water_behind_its_lip():
    stations = np.arange(site.SAG[0] + 0.05, site.SAG[1], 0.05)
    share = site.water_share_at(stations)
    level = [
        site.invert_at(float(s)) + w * site.CLAY_BORE_M
        for s, w in zip(stations, share, strict=True)
    ]
    deep = share > site.TRICKLE_SHARE + 1e-9
    assert np.allclose(np.array(level)[deep], site.SAG_LIP_M, atol=1e-6)
    lowest = min(site.INVERTS, key=lambda knot: knot[1] if 19 < knot[0] < 26 else 999)
    assert site.SAG[0] < lowest[0] < site.SAG[1]
    assert share.max() == pytest.approx((site.SAG_LIP_M - lowest[1]) / site.CLAY_BORE_M, abs=0.01)


def test_the_segments_follow_each_other_over_the_whole_line():
    assert SEGMENTS[0].start_m == 0.0
    assert SEGMENTS[-1].end_m == pytest.approx(site.line_length_m())
    for near, far in itertools.pairwise(SEGMENTS):
        assert near.end_m == far.start_m


def test_house_parcels_street_main_and_gas_lie_as_told():
    job = demo_job()
    outlines = {p.id: _outline(p) for p in job.parcels}
    line = shapely.LineString(site.CENTRELINE)
    assert all(o.is_valid for o in outlines.values())
    assert outlines["own"].contains(outlines["house"])
    assert outlines["next_door"].contains(outlines["house_next_door"])
    assert outlines["house"].contains(shapely.Point(site.CENTRELINE[0]))
    assert outlines["lane"].contains(shapely.Point(site.CENTRELINE[-1]))
    assert not line.intersects(outlines["next_door"])
    main = shapely.LineString([(p.east_m, p.north_m) for p in job.mains[0].points])
    assert main.distance(shapely.Point(site.CENTRELINE[-1])) < 0.2
    gas = shapely.LineString([(p.east_m, p.north_m) for p in job.utilities[0].points])
    assert gas.crosses(line)
    assert {p.kind for p in job.parcels} >= {
        ParcelKind.PARCEL,
        ParcelKind.RIGHT_OF_WAY,
        ParcelKind.BUILDING,
    }


@pytest.mark.parametrize("short", [False, True])
def test_locates_lie_by_the_transmitter_but_for_the_one_beside_the_gas_pipe(short):
    take = short_take() if short else long_take()
    job = demo_job(short=short)
    marks = {m.id: m.point for m in job.marks}
    off = {}
    for locate in job.locates:
        station = float(take.script.station.at(locate.time_s)) - SONDE_BEHIND_LENS_M
        true = site.point_at(station)
        if locate.point is not None:
            off[locate.id] = math.hypot(
                locate.point.east_m - true.east_m, locate.point.north_m - true.north_m
            )
        else:
            for tie in job.ties:
                if tie.point_id == locate.id:
                    mark = marks[tie.mark_id]
                    taped = math.hypot(true.east_m - mark.east_m, true.north_m - mark.north_m)
                    assert tie.distance_m == pytest.approx(taped, abs=5 * ACROSS_SD_M)
        assert locate.depth_m is not None
        depth = site.depth_at(station) - site.SONDE_ABOVE_INVERT_M
        if not locate.note:
            assert locate.depth_m.value == pytest.approx(depth, rel=0.2)
    bad = {x.id for x in job.locates if x.note}
    assert len(bad) == (0 if short else 1)
    assert all((off[k] > 1.0) == (k in bad) for k in off)


@pytest.mark.parametrize("short", [False, True])
def test_locates_are_taken_while_the_camera_rests(short):
    take = short_take() if short else long_take()
    speed = take.script.station.rate_at(np.array(take.located_s))
    assert np.abs(speed).max() < 1e-6


@pytest.mark.parametrize("short", [False, True])
def test_what_is_said_is_in_the_picture_when_it_is_said(short):
    take = short_take() if short else long_take()
    script = take.script
    for said in sayings(short=short):
        assert 0.0 <= said.start_s < said.end_s <= script.duration_s
        if said.about in ("", "under_water", "under_water_end"):
            continue
        # The camera looks ahead: a thing is spoken of from a good metre before the lens reaches it.
        ahead = STATIONS[said.about] - float(script.station.at(said.start_s))
        assert -0.45 < ahead < 1.3, said
        if said.screen is not None:
            (defect,) = [d for d in DEFECTS if d.id == said.about]
            shows = defect.clock_deg + float(script.roll_deg.at(said.start_s))
            away = (shows - PLACES_DEG[said.screen] + 180) % 360 - 180
            assert abs(away) < 45.0, said


def test_under_water_is_said_while_the_lens_is_under_water():
    script = long_take().script
    told = {s.about: s for s in sayings()}
    begin, end = told["under_water"], told["under_water_end"]
    assert truth(script, np.array([begin.start_s])).view == (ViewState.UNDER_WATER,)
    assert truth(script, np.array([end.end_s])).view[0] is not ViewState.UNDER_WATER
    assert truth(script, np.array([end.start_s - 4.0])).view == (ViewState.UNDER_WATER,)


def test_distances_called_out_are_the_counters_not_the_stations():
    script = long_take().script
    feet = {"iron_to_clay": 11.5, "roots_fine": 19.0, "sag": 64.5, "sag_end": 79.0, "main": 87.5}
    for said in sayings():
        if said.about in feet:
            moments = np.linspace(said.start_s, said.end_s, 9)
            shown = script.counter.at(moments, script.station) / 0.3048
            assert np.abs(shown - feet[said.about]).min() < 0.6, said


def test_the_long_take_is_a_film_of_at_least_three_minutes():
    script = long_take().script
    assert script.duration_s >= 180
    assert (script.width_px, script.height_px) == (1280, 720)
    assert float(script.station.at(script.duration_s)) < site.line_length_m()


def test_the_counter_slips_and_is_zeroed_late():
    script = long_take().script
    told = truth(script, np.array([8.0, 9.5, 286.0]))
    assert told.counter_m[0] == pytest.approx(0.45, abs=0.05)
    assert told.counter_m[1] == pytest.approx(0.0, abs=0.04)
    short_by = 1 - (told.counter_m[2] - told.counter_m[1]) / (told.station_m[2] - told.station_m[1])
    assert short_by == pytest.approx(0.015, abs=0.003)


def test_silences_and_mishearings_are_in_the_talk():
    said = sayings()
    gaps = [b.start_s - a.end_s for a, b in itertools.pairwise(said)]
    assert max(gaps) > 10
    assert min(gaps) > 0
    words = " ".join(s.words for s in said)
    for heard in ("route mass", "Off set", "fraction", "for the three feet"):
        assert heard in words
    for hedge in ("I reckon", "May be an old inspection opening", "no, call it"):
        assert hedge in words


def test_the_talk_reads_back_as_webvtt(tmp_path):
    """With webvtt-py, a reader that is not ours."""
    import webvtt as reader

    path = tmp_path / "talk.vtt"
    path.write_text(webvtt(sayings()), encoding="utf-8")
    captions = reader.read(str(path)).captions
    assert [c.text for c in captions] == [s.words for s in sayings()]
    assert [c.start_in_seconds for c in captions] == [int(s.start_s) for s in sayings()]


def test_last_years_record_tells_of_the_same_pipe():
    (visit,) = demo_job().history.visits
    stations = {f.facts.feature: f.station_m.value for f in visit.findings if f.station_m}
    assert stations[Feature.OFFSET_JOINT] == pytest.approx(STATIONS["offset"], abs=0.4)
    assert stations[Feature.TAP] == pytest.approx(STATIONS["tap"], abs=0.4)
    assert stations[Feature.ROOTS] == pytest.approx(STATIONS["roots_mass"], abs=0.4)
