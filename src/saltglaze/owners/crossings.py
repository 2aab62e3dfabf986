"""Where the line crosses from one piece of ground into the next, and how surely.

A boundary crossed at a right angle is as uncertain along the line as the line is
across the boundary; crossed at a slant, more so. With unit direction d of the line,
unit normal n of the boundary, plan covariance C of the line and margin s of the
outline: station sd = sqrt(n' C n + s^2) / |d . n|.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
from shapely.geometry import LineString, Point

from saltglaze.model.appraisal import Path, PathPoint
from saltglaze.model.base import Estimate, Record
from saltglaze.model.ground import Parcel, PlanCovariance, PlanPoint
from saltglaze.owners.ground import Ground, polygon

_STEP_M = 0.1
_MOST_STEPS = 10_000
_SLIVER_M = 0.2
_FLAT = 0.1
"""Least |d . n|: a line that runs along a boundary has no one place where it crosses."""


class Crossing(Record):
    """A change of ground at a station: from one outline (or none) into another."""

    station_m: Estimate
    before: Parcel | None
    after: Parcel | None


class Along(Record):
    """A point of the path with its station, direction and covariance."""

    station_m: float
    point: PlanPoint
    covariance: PlanCovariance | None
    direction: tuple[float, float]


def placed(path: Path) -> list[PathPoint]:
    """Return the points of a path that have a place in plan, by station."""
    return sorted((p for p in path.points if p.point is not None), key=lambda p: p.station_m)


def along(points: Sequence[PathPoint], station_m: float) -> Along | None:
    """Return the path at a station, between its samples; ``None`` beyond its ends."""
    for before, after in itertools.pairwise(points):
        if before.station_m <= station_m <= after.station_m and before.point and after.point:
            return _between(before, after, station_m)
    return None


def crossings(path: Path, ground: Ground) -> list[Crossing]:
    """Return every change of ground along a path, in order of station."""
    points = placed(path)
    if len(points) < 2:
        return []
    start_m, end_m = points[0].station_m, points[-1].station_m
    steps = int(min(_MOST_STEPS, max(1.0, np.ceil((end_m - start_m) / _STEP_M))))
    stations = np.linspace(start_m, end_m, steps + 1)
    found: list[Crossing] = []
    last: tuple[float, Parcel | None] | None = None
    for station in map(float, stations):
        here = along(points, station)
        if here is None:
            continue
        parcel = ground.at(here.point)
        if last is not None and _id(parcel) != _id(last[1]):
            found.append(_crossing(points, ground, last, (station, parcel)))
        last = (station, parcel)
    return _without_slivers(found, start_m, end_m)


def _without_slivers(found: Sequence[Crossing], start_m: float, end_m: float) -> list[Crossing]:
    """Drop stretches too short to mean anything: at the ends, or along a shared edge."""
    kept: list[Crossing] = []
    for each in found:
        at_m = each.station_m.value or 0.0
        if at_m - start_m < _SLIVER_M or end_m - at_m < _SLIVER_M:
            continue
        if kept and at_m - (kept[-1].station_m.value or 0.0) < _SLIVER_M:
            joined = kept.pop().model_copy(update={"after": each.after})
            if _id(joined.before) != _id(joined.after):
                kept.append(joined)
            continue
        kept.append(each)
    return kept


def _crossing(
    points: Sequence[PathPoint],
    ground: Ground,
    before: tuple[float, Parcel | None],
    after: tuple[float, Parcel | None],
) -> Crossing:
    low, high = before[0], after[0]
    for _ in range(20):
        middle = (low + high) / 2.0
        here = along(points, middle)
        if here is not None and _id(ground.at(here.point)) == _id(before[1]):
            low = middle
        else:
            high = middle
    here = along(points, high)
    sd_m = _station_sd(here, before[1], after[1]) if here is not None else _STEP_M
    return Crossing(station_m=Estimate.of(high, sd_m), before=before[1], after=after[1])


def _station_sd(here: Along, before: Parcel | None, after: Parcel | None) -> float:
    """Return the margin along the line, from the edge nearest to the crossing."""
    edges = [(parcel, edge) for parcel in (before, after) if parcel for edge in _edges(parcel)]
    where = Point(here.point.east_m, here.point.north_m)
    parcel, edge = min(edges, key=lambda pair: pair[1].distance(where))
    (x0, y0), (x1, y1) = edge.coords[0], edge.coords[-1]
    length = math.hypot(x1 - x0, y1 - y0) or 1.0
    normal = ((y1 - y0) / length, -(x1 - x0) / length)
    across = abs(here.direction[0] * normal[0] + here.direction[1] * normal[1])
    variance = parcel.sd_m**2 + _variance_along(here.covariance, normal)
    return math.sqrt(variance) / max(across, _FLAT)


def _edges(parcel: Parcel) -> list[LineString]:
    ring = list(polygon(parcel).exterior.coords)
    return [LineString([a, b]) for a, b in itertools.pairwise(ring)]


def _variance_along(covariance: PlanCovariance | None, axis: tuple[float, float]) -> float:
    if covariance is None:
        return 0.0
    east, north = axis
    return (
        covariance.east_east_m2 * east**2
        + covariance.north_north_m2 * north**2
        + 2.0 * covariance.east_north_m2 * east * north
    )


def _between(before: PathPoint, after: PathPoint, station_m: float) -> Along | None:
    if before.point is None or after.point is None:
        return None
    span = after.station_m - before.station_m
    share = (station_m - before.station_m) / span if span > 0.0 else 0.0
    east = after.point.east_m - before.point.east_m
    north = after.point.north_m - before.point.north_m
    length = math.hypot(east, north) or 1.0
    point = PlanPoint(
        east_m=before.point.east_m + share * east, north_m=before.point.north_m + share * north
    )
    nearer = before if share < 0.5 else after
    return Along(
        station_m=station_m,
        point=point,
        covariance=nearer.covariance,
        direction=(east / length, north / length),
    )


def _id(parcel: Parcel | None) -> str | None:
    return parcel.id if parcel is not None else None
