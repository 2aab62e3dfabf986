"""What bears on the level of the invert: depths at locates and accesses, ground shots, drops."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.errors import InputError
from saltglaze.model.appraisal import LineSegment, Path, SurfacePoint
from saltglaze.model.base import Estimate
from saltglaze.model.ground import GroundLevel, PlanPoint
from saltglaze.model.job import Job
from saltglaze.position.water import bore_at

Array = NDArray[np.float64]

HEAD_LOW_M: Final = 0.015
"""Least height of the transmitter's centre above the invert: a bare head lying on the
pipe. The most is the axis, with the head centred on skids. Anything between is taken as
equally likely (assumption; nobody measures it)."""

HEAD_HEIGHT_BORE_UNKNOWN_M: Final = Estimate.of(0.04, 0.02)

GROUND_SHOT_SD_M: Final = 0.02
"""A level shot with a staff where no sd is stated: common practice, no source."""

OFF_LINE_SD: Final = 0.05
"""Ground wanders from a shot by this times the root of the distance (assumption)."""

OFF_LINE_REACH_M: Final = 10.0


@dataclass(frozen=True)
class DepthReading:
    """Ground to invert at a station, with its sd, already carried from what was read."""

    id: str
    station_m: float
    station_sd_m: float
    depth_m: float
    sd_m: float
    scaled: bool
    """Whether it shares the scale error of the locating receiver."""
    head_sd_m: float = 0.0
    """How unsure the height of the transmitter above the invert is: one doubt for all
    readings of one camera head, and no part of ``sd_m``."""
    expected_m: float | None = None
    """Depth that came out of all readings: errors that grow with depth grow with this."""


@dataclass(frozen=True)
class GroundReading:
    """Level of the ground above the pipe at a station."""

    id: str
    station_m: float
    station_sd_m: float
    level_m: float
    sd_m: float


@dataclass(frozen=True)
class Drop:
    """A step in the invert: ``height_m`` falls in the direction of the flow; or unknown."""

    station_m: float
    height_m: Estimate | None = None


def depth_readings(
    job: Job,
    surface: Sequence[SurfacePoint],
    segments: Sequence[LineSegment],
    stations: Mapping[str, Estimate] | None = None,
) -> tuple[DepthReading, ...]:
    """Return all depths as depths to the invert.

    ``stations`` gives the station of locates that have a depth but no place on the map.
    """
    targets = {locate.id: locate.depth_to for locate in job.locates}
    readings = [
        _reading(p.locate_id, p.station_m, p.depth_m, targets.get(p.locate_id, ""), segments)
        for p in surface
        if p.depth_m is not None and p.depth_m.known and p.station_m.known and p.used
    ]
    placed = {point.locate_id for point in surface}
    for locate in job.locates:
        station = (stations or {}).get(locate.id, locate.station_m)
        depth = locate.depth_m
        if locate.id in placed or station is None or not station.known or depth is None:
            continue
        if depth.value is not None and depth.value > 0.0:
            readings.append(_reading(locate.id, station, depth, locate.depth_to, segments))
    for access in job.line.accesses:
        station, depth = access.station_m, access.invert_depth_m
        if station is not None and station.known and depth is not None and depth.known:
            readings.append(_reading(access.name, station, depth, "invert", segments))
    return tuple(readings)


def _reading(
    name: str, station: Estimate, depth: Estimate, target: str, segments: Sequence[LineSegment]
) -> DepthReading:
    assert station.value is not None and depth.value is not None
    above = height_above_invert(target, bore_at(segments, station.value), name)
    assert above.value is not None
    scaled = target == "transmitter"
    own_sd_m = depth.spread if scaled else math.hypot(depth.spread, above.spread)
    return DepthReading(
        id=name,
        station_m=station.value,
        station_sd_m=station.spread,
        depth_m=depth.value + above.value,
        sd_m=max(own_sd_m, 0.005),
        scaled=scaled,
        head_sd_m=above.spread if scaled else 0.0,
    )


def height_above_invert(target: str, bore_m: float | None, name: str = "") -> Estimate:
    """Return how high above the invert the thing lies whose depth was read.

    Raises
    ------
    InputError
        If ``target`` is none of transmitter, invert, axis, crown.
    """
    if target == "invert":
        return Estimate.of(0.0, 0.0)
    if target not in {"transmitter", "axis", "crown"}:
        raise InputError(
            f"depth to {target!r} is not known",
            where=f"locate {name}, depth_to",
            expected="transmitter, invert, axis or crown",
        )
    if bore_m is None:
        if target == "transmitter":
            return HEAD_HEIGHT_BORE_UNKNOWN_M
        return Estimate.of(0.05 if target == "axis" else 0.1, 0.03)
    if target == "transmitter":
        axis_m = max(bore_m / 2.0, HEAD_LOW_M)
        return Estimate.of(0.5 * (HEAD_LOW_M + axis_m), (axis_m - HEAD_LOW_M) / math.sqrt(12.0))
    return Estimate.of(bore_m / 2.0 if target == "axis" else bore_m, 0.0)


def ground_readings(
    job: Job, surface: Sequence[SurfacePoint], path: Path | None
) -> tuple[GroundReading, ...]:
    """Return ground levels by station: shot at locates, and shots near the path."""
    shot = {locate.id: locate.ground_level_m for locate in job.locates}
    readings = []
    for point in surface:
        level = shot.get(point.locate_id)
        if level is None or level.value is None or point.station_m.value is None:
            continue
        readings.append(
            GroundReading(
                point.locate_id,
                point.station_m.value,
                point.station_m.spread,
                level.value,
                level.spread or GROUND_SHOT_SD_M,
            )
        )
    if path is not None:
        readings += [r for level in job.levels if (r := _beside(level, path)) is not None]
    return tuple(readings)


def _beside(level: GroundLevel, path: Path) -> GroundReading | None:
    """Return a ground shot at the nearest station of the path, if it is near enough."""
    if level.level_m.value is None:
        return None
    nearest = nearest_station(path, level.point)
    if nearest is None or nearest[1] > OFF_LINE_REACH_M:
        return None
    station_m, away_m = nearest
    sd = math.hypot(level.level_m.spread or GROUND_SHOT_SD_M, OFF_LINE_SD * math.sqrt(away_m))
    return GroundReading(level.id, station_m, 0.1, level.level_m.value, sd)


def nearest_station(path: Path, point: PlanPoint) -> tuple[float, float] | None:
    """Return (station, distance) of the place on a path nearest to a point, or ``None``."""
    placed = [(p.station_m, p.point) for p in path.points if p.point is not None]
    if len(placed) < 2:
        return None
    stations = np.array([station for station, _ in placed])
    line = np.array([[p.east_m, p.north_m] for _, p in placed])
    target = np.array([point.east_m, point.north_m])
    step = np.diff(line, axis=0)
    square = np.maximum((step**2).sum(axis=1), 1e-12)
    share = np.clip(((target - line[:-1]) * step).sum(axis=1) / square, 0.0, 1.0)
    away = np.hypot(*(line[:-1] + share[:, None] * step - target).T)
    best = int(np.argmin(away))
    station = stations[best] + share[best] * (stations[best + 1] - stations[best])
    return float(station), float(away[best])
