"""The long section of a job in one call: levels on every path, falls, sags, depths of findings."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from saltglaze.model.appraisal import (
    Check,
    Conflict,
    Fall,
    FindingPlace,
    LineSegment,
    Path,
    Sag,
    Stationing,
    SurfacePoint,
    Verdict,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Finding, Turn
from saltglaze.model.job import Job
from saltglaze.model.run import Direction
from saltglaze.model.track import SightTrack
from saltglaze.position.falls import falls_of
from saltglaze.position.levels import Drop
from saltglaze.position.profile import Profile, profile_of
from saltglaze.position.sags import sags_of
from saltglaze.position.water import standing_water
from saltglaze.position.waterline import looked_at

LOOSEST_DEPTH_M: Final = 2.0
"""A depth with a larger sd than this is not known at all."""


@dataclass(frozen=True)
class LongSection:
    """All that the long section tells. ``paths`` are those given, with levels on them."""

    paths: tuple[Path, ...]
    places: tuple[FindingPlace, ...]
    falls: tuple[Fall, ...]
    sags: tuple[Sag, ...]
    conflicts: tuple[Conflict, ...]
    checks: tuple[Check, ...]
    profile: Profile | None


def long_section(
    job: Job,
    length_m: float,
    paths: Sequence[Path] = (),
    surface: Sequence[SurfacePoint] = (),
    tracks: Iterable[SightTrack] = (),
    stationings: Iterable[Stationing] = (),
    findings: Sequence[Finding] = (),
    places: Sequence[FindingPlace] = (),
    segments: Sequence[LineSegment] = (),
    direction: Direction | None = None,
    stations: dict[str, Estimate] | None = None,
) -> LongSection:
    """Return levels, falls, sags and the depth of every finding.

    Parameters
    ----------
    job
        The evidence.
    length_m
        Furthest station.
    paths
        Hypotheses in plan, likeliest first.
    surface
        Surface points with their stations as the plan settled them.
    tracks, stationings
        Water as seen, and station against time.
    findings, places
        Findings and where they are; spoken water and bends up or down are read from them.
    segments
        Settled bores.
    direction
        Direction of *increasing station* against the flow.
    stations
        Stations of locates that have no place on the map.
    """
    tracks, stationings = tuple(tracks), tuple(stationings)
    water = standing_water(tracks, stationings, findings, places)
    profile = profile_of(
        job,
        length_m,
        surface,
        water,
        segments,
        direction,
        path=paths[0] if paths else None,
        drops=_drops(findings, places),
        stations=stations,
    )
    sags = sags_of(profile, water, segments, looked_at(tracks, stationings))
    if profile is None:
        return LongSection(tuple(paths), tuple(places), (), sags, (), (_nothing_said(),), None)
    return LongSection(
        paths=tuple(with_levels(path, profile) for path in paths),
        places=tuple(_with_depth(place, profile) for place in places),
        falls=falls_of(profile, sags),
        sags=sags,
        conflicts=profile.conflicts,
        checks=profile.checks,
        profile=profile,
    )


def _with_depth(place: FindingPlace, profile: Profile) -> FindingPlace:
    depth = profile.depth_at(place.station_m)
    if depth.known and depth.spread > LOOSEST_DEPTH_M:
        depth = Estimate.unknown("no depth was read anywhere near")
    return place.model_copy(update={"depth_m": depth})


def _drops(findings: Sequence[Finding], places: Sequence[FindingPlace]) -> tuple[Drop, ...]:
    """Return bends up or down: the slope may change there as it likes."""
    station = {place.finding_id: place.station_m.value for place in places}
    return tuple(
        Drop(at)
        for finding in findings
        if finding.stands
        and finding.facts.feature is Feature.BEND
        and finding.facts.turn in (Turn.UP, Turn.DOWN)
        and (at := station.get(finding.id)) is not None
    )


def _nothing_said() -> Check:
    return Check(
        name="long section",
        verdict=Verdict.SKIPPED,
        reason="no depth, level or standing water was recorded, so depth and fall are unknown",
        mend="note the depth the receiver shows at each locate, and shoot the ground level there",
    )


def with_levels(path: Path, profile: Profile) -> Path:
    """Return the path with invert, ground, depth and standing water at each of its points."""
    stations = np.array([point.station_m for point in path.points])
    invert, invert_sd = profile.told(profile.rows(stations, invert=1.0))
    ground, ground_sd = profile.told(profile.rows(stations, ground=1.0))
    depth, depth_sd = profile.told(profile.rows(stations, invert=-1.0, ground=1.0))
    has_depth = bool(np.median(depth_sd) < 2.0)
    points = []
    for k, point in enumerate(path.points):
        found: dict[str, object] = {"water_level_m": _water_level(profile, float(stations[k]))}
        if has_depth:
            found["depth_m"] = Estimate.of(float(depth[k]), float(depth_sd[k]))
        if profile.datum_known:
            found["invert_level_m"] = Estimate.of(float(invert[k]), float(invert_sd[k]))
            found["ground_level_m"] = Estimate.of(float(ground[k]), float(ground_sd[k]))
        points.append(point.model_copy(update=found))
    return path.model_copy(update={"points": tuple(points)})


def _water_level(profile: Profile, station_m: float) -> float | None:
    if not profile.datum_known:
        return None
    for number, stretch in enumerate(profile.water):
        inside = (stretch.start_m.value or 0.0) <= station_m <= (stretch.end_m.value or 0.0)
        if inside and profile.water_used[number]:
            return float(profile.solution.unknowns[profile.water_column(number)])
    return None
