"""A plain drain whose long section is known, and readings of it."""

from __future__ import annotations

import numpy as np

from saltglaze.model.appraisal import LineSegment, StationAt, Stationing, SurfacePoint
from saltglaze.model.base import Estimate
from saltglaze.model.frame import FilmFacts
from saltglaze.model.ground import FixKind, Locate, PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.model.line import FactSource, Line
from saltglaze.model.track import CounterTrack, SightTrack, WaterSample, WaterState

SLOPE, BORE_M, COVER_M = 0.02, 0.1, 1.0
FLAT = PlanCovariance(east_east_m2=0.01, north_north_m2=0.01)


def invert(station):
    """A drain that falls 1 in 50 from 99.0 m."""
    return 99.0 - SLOPE * station


def ground(station):
    """Level ground at 100 m."""
    return 100.0 + 0.0 * station


def readings(stations, *, levels=True, off=None, sd=0.05, to="invert"):
    """A job and surface points with exact depths but for ``off`` (index: metres too deep)."""
    locates, points = [], []
    for number, station in enumerate(stations):
        wrong = (off or {}).get(number, 0.0)
        level = Estimate.of(ground(station), 0.01) if levels else None
        locates.append(
            Locate(id=f"L{number}", fix=FixKind.KNOWN, depth_to=to, ground_level_m=level)
        )
        points.append(
            SurfacePoint(
                locate_id=f"L{number}",
                point=PlanPoint(east_m=station, north_m=0.0),
                covariance=FLAT,
                station_m=Estimate.of(station, 0.1),
                depth_m=Estimate.of(ground(station) - invert(station) + wrong, sd),
            )
        )
    return Job(id="j", line=Line(id="l"), locates=tuple(locates)), tuple(points)


def segments(length=40.0, bore=BORE_M):
    """One bore from end to end."""
    return (
        LineSegment(
            start_m=Estimate.of(0.0, 0.0),
            end_m=Estimate.of(length, 0.1),
            diameter_m=bore,
            source=FactSource.MEASURED,
        ),
    )


def film(shares, *, state=WaterState.STANDING, from_m=10.0, step_m=0.25, run_id="r"):
    """A film at 0.1 m/s of water with these shares, and its stationing from 0 to 40 m."""
    samples = tuple(
        WaterSample(
            time_s=10.0 * (from_m + number * step_m),
            depth_share=Estimate.of(float(share), 0.03),
            state=state,
        )
        for number, share in enumerate(shares)
    )
    track = SightTrack(
        run_id=run_id,
        film=FilmFacts(width_px=640, height_px=480),
        counter=CounterTrack(),
        water=samples,
    )
    stationing = Stationing(
        run_id=run_id,
        samples=tuple(
            StationAt(time_s=float(t), station_m=0.1 * t, sd_m=0.1) for t in np.arange(0, 401, 10)
        ),
        counter_scale=Estimate.of(1.0, 0.01),
        counter_zero_m=Estimate.of(0.0, 0.1),
        furthest_m=Estimate.of(40.0, 0.1),
    )
    return track, stationing


def bowl(deepest=0.5, count=21):
    """Shares of water over a smooth hollow."""
    return deepest * (1.0 - np.linspace(-1.0, 1.0, count) ** 2)
