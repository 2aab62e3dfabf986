from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import CubicSpline
from section_kit import bowl, film, readings, segments

from profile_calibration import calibrate
from saltglaze.model.appraisal import Stationing
from saltglaze.model.base import Z68, Estimate
from saltglaze.model.job import Job
from saltglaze.model.line import Line
from saltglaze.model.run import Direction
from saltglaze.position.pool import segment_area, spline
from saltglaze.position.profile import profile_of
from saltglaze.position.sags import sags_of
from saltglaze.position.section import long_section
from saltglaze.position.water import StandingWater, standing_water

WITH = Direction.WITH_FLOW
BARE = Job(id="j", line=Line(id="l"))


def said(share=0.5, start=10.0, end=15.0):
    deepest = None if share is None else Estimate.of(share, 0.08)
    return StandingWater(
        "w", Estimate.of(start, 0.2), Estimate.of(end, 0.2), deepest=deepest, source="spoken"
    )


@pytest.mark.parametrize(("share", "area_share"), [(0.25, 0.1955), (0.5, 0.5), (1.0, 1.0)])
def test_area_of_a_partly_full_pipe(share, area_share):
    # 25 % of the depth is 19.55 % of the area (computed, hydraulics dossier section 5)
    area = segment_area(np.array([share * 0.1]), 0.1)[0]
    assert area / (math.pi * 0.1**2 / 4.0) == pytest.approx(area_share, abs=5e-5)


@settings(deadline=None)
@given(st.floats(0.0, 1.0))
def test_water_below_and_air_above_fill_the_pipe(share):
    both = segment_area(np.array([share, 1.0 - share]), 1.0).sum()
    assert both == pytest.approx(math.pi / 4.0, abs=1e-9)


def test_a_seen_sag_has_its_figures():
    track, stationing = film(bowl(0.5))
    water = standing_water([track], [stationing])
    profile = profile_of(BARE, 40.0, (), water, segments(), WITH)
    (sag,) = sags_of(profile)
    assert sag.depth_m.value == pytest.approx(0.05, abs=0.005)
    assert sag.water_share.value == pytest.approx(0.5, abs=0.05)
    assert sag.lowest_m.value == pytest.approx(12.5, abs=0.4)
    assert sag.start_m.value == pytest.approx(10.0, abs=0.4)
    assert sag.end_m.value == pytest.approx(15.0, abs=0.5)
    along = np.linspace(10.0, 15.0, 2001)
    depth = 0.05 * (1.0 - ((along - 12.5) / 2.5) ** 2)
    volume = float(np.trapezoid(segment_area(depth, 0.1), along))
    low, high = sag.volume_m3.interval95
    assert low < volume < high
    assert sag.volume_m3.value == pytest.approx(volume, rel=0.12)


def test_beyond_the_lip_the_bed_falls_again():
    # seen water thins out at 15 m: a little further lies the lip, and past it no bed
    # stands above the water's level
    track, stationing = film(bowl(0.5))
    profile = profile_of(BARE, 40.0, (), standing_water([track], [stationing]), segments(), WITH)
    rows = profile.rows(np.array([15.5, 16.5, 17.5]), invert=-1.0)
    rows[:, profile.water_column(0)] += 1.0
    below_water, _ = profile.told(rows)
    assert abs(below_water[0]) < 0.01
    assert 0.0 < below_water[1] < below_water[2]


def test_the_intervals_of_a_sag_are_as_skewed_as_its_draws():
    track, stationing = film(bowl(0.5))
    (sag,) = sags_of(
        profile_of(BARE, 40.0, (), standing_water([track], [stationing]), segments(), WITH)
    )
    for figure in (sag.start_m, sag.end_m, sag.depth_m, sag.volume_m3):
        low, high = figure.interval68
        assert figure.interval95[0] < low < figure.value < high < figure.interval95[1]
        assert figure.sd == pytest.approx(0.5 * (high - low) / Z68)


@given(st.lists(st.floats(-1.0, 1.0), min_size=4, max_size=12))
def test_the_spline_goes_through_its_nodes_and_keeps_straight_lines(values):
    nodes = np.arange(len(values)) * 0.25
    assert spline(nodes, nodes) @ np.array(values) == pytest.approx(values, abs=1e-9)
    between = np.linspace(0.0, nodes[-1], 31)
    assert spline(nodes, between) @ (2.0 - 3.0 * nodes) == pytest.approx(2.0 - 3.0 * between)


def test_the_spline_is_the_natural_one():
    # against scipy.interpolate.CubicSpline, bc_type "natural"
    nodes, between = np.arange(9) * 0.25, np.linspace(0.0, 2.0, 41)
    values = np.sin(3.0 * nodes)
    peer = CubicSpline(nodes, values, bc_type="natural")(between)
    assert spline(nodes, between) @ values == pytest.approx(peer, abs=1e-12)


def test_only_the_deepest_share_was_said():
    profile = profile_of(BARE, 40.0, (), (said(),), segments(), WITH)
    (sag,) = sags_of(profile)
    assert sag.depth_m.value == pytest.approx(0.05, abs=0.01)
    assert sag.depth_m.spread > 0.006
    assert 10.0 < sag.lowest_m.value < 15.0


def test_without_bore_or_share_the_figures_are_unknown_with_the_reason():
    (no_bore,) = sags_of(None, (said(),))
    assert no_bore.depth_m.unknown_because == "the bore is not known"
    assert no_bore.water_share.value == 0.5
    (no_share,) = sags_of(None, (said(None),), segments())
    assert "how deep" in (no_share.volume_m3.unknown_because or "")
    assert no_share.start_m.value == 10.0


def test_a_said_sag_without_profile_still_has_a_volume_between_wedge_and_trough():
    (sag,) = sags_of(None, (said(),), segments())
    full = 5.0 * math.pi * 0.1**2 / 8.0
    low, high = sag.volume_m3.interval95
    assert 0.15 * full < low < sag.volume_m3.value < high < 1.1 * full


def hollow():
    """Exact depths to the invert of a drain with a wide hollow at 20 m."""
    job, surface = readings(tuple(float(s) for s in range(0, 41, 2)), sd=0.01)
    bent = tuple(
        p.model_copy(
            update={
                "depth_m": Estimate.of(
                    p.depth_m.value + 0.42 * math.exp(-(((p.station_m.value - 20.0) / 10.0) ** 2)),
                    0.01,
                )
            }
        )
        for p in surface
    )
    return job, bent


def test_levels_alone_show_a_hollow():
    job, surface = hollow()
    (sag,) = sags_of(profile_of(job, 40.0, surface, (), segments(), WITH))
    assert sag.id.startswith("hollow")
    # ponded depth below the outlet lip, from the true curve
    along = np.linspace(0.0, 40.0, 4001)
    bed = -0.02 * along - 0.42 * np.exp(-(((along - 20.0) / 10.0) ** 2))
    water = np.maximum.accumulate(bed[::-1])[::-1] - bed
    assert sag.lowest_m.value == pytest.approx(float(along[np.argmax(water)]), abs=1.5)
    low, high = sag.depth_m.interval95
    assert low < float(water.max()) < high


def test_the_film_outranks_the_levels_where_it_looked():
    job, surface = hollow()
    profile = profile_of(job, 40.0, surface, (), segments(), WITH)
    assert sags_of(profile, looked=((0.0, 40.0),)) == ()


def test_a_straight_drain_has_no_sag():
    job, surface = readings((0.0, 10.0, 20.0, 30.0, 40.0))
    assert sags_of(profile_of(job, 40.0, surface, (), segments(), WITH)) == ()


def test_the_long_section_in_one_call():
    job, surface = readings((0.0, 10.0, 20.0, 30.0, 40.0))
    track, stationing = film(bowl(0.5))
    section = long_section(
        job, 40.0, (), surface, [track], [stationing], segments=segments(), direction=WITH
    )
    assert len(section.sags) == 1
    assert section.falls and section.profile is not None
    # nothing stands inside a stretch whose fall is given
    sag = section.sags[0]
    assert any(f.from_m <= sag.start_m.value and sag.end_m.value <= f.to_m for f in section.falls)


def test_a_job_without_depth_says_what_to_note_next_time():
    section = long_section(BARE, 20.0)
    assert section.profile is None and section.sags == () and section.falls == ()
    assert section.checks[0].name == "long section" and section.checks[0].mend


def test_a_silent_stationing_is_no_trouble():
    track, _ = film(bowl())
    silent = Stationing(
        run_id="r",
        counter_scale=Estimate.unknown("no counter"),
        counter_zero_m=Estimate.unknown("no counter"),
        furthest_m=Estimate.unknown("no counter"),
    )
    assert standing_water([track], [silent]) == ()


def test_margins_of_ties_hold():
    # 300 seeded points: chance leaves each share within 4 binomial sds
    score = calibrate(150, 7, ("ties", "flat ties"))
    for what in score.held:
        in68, in95, count = score.rate(what)
        assert abs(in68 - 0.68) < 4.0 * math.sqrt(0.68 * 0.32 / count), what
        assert abs(in95 - 0.95) < 4.0 * math.sqrt(0.95 * 0.05 / count), what
