"""Which of the two solutions of a pair of ties can be, and which cannot.

The chord between two points of a pipe is never longer than the pipe between them; and
a person who walks with a wand above ground is not inside a wall. Each locate has one or
two candidate points; the cheapest chain through them in station order is found (dynamic
programming), and a candidate is ruled out where the best chain through it is dearer by
:data:`RULED_OUT_CHI2`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import shapely

from saltglaze.model.appraisal import Check, SurfacePoint, Verdict
from saltglaze.model.ground import ParcelKind, PlanPoint
from saltglaze.model.job import Job
from saltglaze.position.ellipse import reflected

RULED_OUT_CHI2: Final = 9.0
"""Three sd: the other solution is taken out of the answer."""

INSIDE_CHI2_MAX: Final = 12.0
"""A cap on what standing inside a building costs: a basement locate is rare, not impossible."""


@dataclass(frozen=True)
class _Stop:
    """One place in station order: its candidates with their own cost, station and variances."""

    index: int | None
    candidates: tuple[PlanPoint, ...]
    own: tuple[float, ...]
    station_m: float
    station_var: float
    plan_var: float


def rule_out_mirrors(
    points: Sequence[SurfacePoint], job: Job
) -> tuple[tuple[SurfacePoint, ...], tuple[Check, ...]]:
    """Return the points with the likelier solution first, and the impossible one dropped.

    Points without a station are judged by buildings alone.
    """
    chain, loose = _stops(points, job)
    costs = {**_through_costs(chain), **{s.index: list(s.own) for s in loose}}
    settled, checks = [], []
    for index, point in enumerate(points):
        if point.mirror is None:
            settled.append(point)
            continue
        kept, check = _judge(point, costs[index])
        settled.append(kept)
        checks.append(check)
    return tuple(settled), tuple(checks)


def _judge(point: SurfacePoint, cost: Sequence[float]) -> tuple[SurfacePoint, Check]:
    assert point.mirror is not None
    first, second = cost
    margin = abs(first - second)
    if first > second:
        covariance = reflected(point.covariance, point.point, point.mirror)
        point = point.model_copy(
            update={"point": point.mirror, "mirror": point.point, "covariance": covariance}
        )
    if margin < RULED_OUT_CHI2:
        return point, Check(
            name="two solutions of the ties",
            verdict=Verdict.DOUBT,
            reason="two tapes meet in two points and nothing yet rules one out",
            about=point.locate_id,
            mend="say on which side of the marks it lies, or tape it from a third mark",
        )
    return point.model_copy(update={"mirror": None}), Check(
        name="mirror solution ruled out",
        verdict=Verdict.GOOD,
        reason="the other crossing of the two tapes would need a pipe shorter than its chord, "
        "or a locate taken inside a building",
        about=point.locate_id,
    )


def _stops(points: Sequence[SurfacePoint], job: Job) -> tuple[list[_Stop], list[_Stop]]:
    buildings = [
        (shapely.Polygon([(p.east_m, p.north_m) for p in parcel.ring]), parcel.sd_m)
        for parcel in job.parcels
        if parcel.kind is ParcelKind.BUILDING and len(parcel.ring) >= 3
    ]
    chain: list[_Stop] = []
    loose: list[_Stop] = []
    if job.start_point is not None:
        start_var = (job.start_point_sd_m or 0.3) ** 2
        chain.append(_Stop(None, (job.start_point,), (0.0,), 0.0, 0.0, start_var))
    for index, point in enumerate(points):
        candidates = (point.point,) if point.mirror is None else (point.point, point.mirror)
        own = [_inside_cost(candidate, buildings) for candidate in candidates]
        plan_var = 0.5 * (point.covariance.east_east_m2 + point.covariance.north_north_m2)
        stop = _Stop(
            index,
            candidates,
            tuple(cost - min(own) for cost in own),
            point.station_m.value or 0.0,
            point.station_m.spread**2,
            plan_var,
        )
        (chain if point.station_m.known else loose).append(stop)
    chain.sort(key=lambda stop: stop.station_m)
    return chain, loose


def _inside_cost(point: PlanPoint, buildings: Sequence[tuple[shapely.Polygon, float]]) -> float:
    spot = shapely.Point(point.east_m, point.north_m)
    cost = 0.0
    for ring, sd_m in buildings:
        if ring.is_valid and ring.contains(spot):
            deep = float(ring.exterior.distance(spot))
            cost = max(cost, (deep / max(sd_m, 0.1)) ** 2)
    return min(cost, INSIDE_CHI2_MAX)


def _link_cost(one: _Stop, a: PlanPoint, other: _Stop, b: PlanPoint) -> float:
    chord = math.hypot(b.east_m - a.east_m, b.north_m - a.north_m)
    excess = chord - abs(other.station_m - one.station_m)
    if excess <= 0.0:
        return 0.0
    variance = one.plan_var + other.plan_var + one.station_var + other.station_var
    return min(excess**2 / variance, 100.0)


def _through_costs(chain: Sequence[_Stop]) -> dict[int | None, list[float]]:
    """Return, for every stop, the cost of the cheapest whole chain through each candidate."""
    if not chain:
        return {}
    ahead = _swept(chain)
    behind = _swept(chain[::-1])[::-1]
    return {
        stop.index: [f + b - own for f, b, own in zip(ahead[k], behind[k], stop.own, strict=True)]
        for k, stop in enumerate(chain)
    }


def _swept(chain: Sequence[_Stop]) -> list[list[float]]:
    best = [list(chain[0].own)]
    for before, stop in pairwise(chain):
        best.append(
            [
                own
                + min(
                    cost + _link_cost(before, from_point, stop, candidate)
                    for cost, from_point in zip(best[-1], before.candidates, strict=True)
                )
                for candidate, own in zip(stop.candidates, stop.own, strict=True)
            ]
        )
    return best
