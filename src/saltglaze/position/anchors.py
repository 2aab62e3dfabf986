"""What ties the line to the ground: surface points, where it starts, the tap on the main."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace

import numpy as np

from saltglaze.model.appraisal import SurfacePoint
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Finding
from saltglaze.model.ground import PlanCovariance
from saltglaze.model.job import Job
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.keys import Key, Keys
from saltglaze.position.plan import Anchor, Bearing

START = "start"
TAP = "tap"


def end_keys(job: Job, findings: Iterable[Finding]) -> tuple[Key, ...]:
    """Keys for the start access and the tap on the main, where the ground knows them."""
    keys = []
    if job.start_point is not None:
        keys.append(Key(START, None, None, 0.0, priors.START_STATION_M))
    if _tap(job) is not None:
        length = job.line.length_m
        if length is not None and length.value is not None:
            keys.append(Key(TAP, None, None, length.value, max(length.spread, 0.05)))
    return tuple(keys)


def _tap(job: Job) -> tuple[Floats, float] | None:
    for main in job.mains:
        if main.tap is not None:
            point = np.array([main.tap.east_m, main.tap.north_m])
            return point, main.tap_sd_m or main.sd_m
    return None


def marked_keys(keys: Keys, surface: Sequence[SurfacePoint]) -> Keys:
    """Move each locate's key from the transmitter to the feature that was marked.

    The surface points carry the station of their mark; how much that differs from the
    transmitter, in mean and variance, is added to the joint stations.
    """
    mean, covariance = keys.mean_m.copy(), keys.covariance_m2.copy()
    for point in surface:
        key = keys.index(f"locate:{point.locate_id}")
        if key is None or point.station_m.value is None:
            continue
        mean[key] = point.station_m.value
        more = point.station_m.spread**2 - covariance[key, key]
        covariance[key, key] += max(more, 0.0)
    return replace(keys, mean_m=mean, covariance_m2=covariance)


def transmitter_stations(keys: Keys) -> dict[str, Estimate]:
    """Station of the transmitter at each locate that has a key, by locate id."""
    sd = keys.sd_m()
    return {
        key.name.removeprefix("locate:"): Estimate.of(keys.mean_m[place], sd[place])
        for place, key in enumerate(keys.keys)
        if key.name.startswith("locate:")
    }


def anchors(
    job: Job, keys: Keys, surface: Sequence[SurfacePoint], findings: Sequence[Finding]
) -> tuple[Anchor, ...]:
    """List all anchors of the plan."""
    found = []
    for point in surface:
        key = keys.index(f"locate:{point.locate_id}")
        if key is not None:
            found.append(_of_surface(point, key))
    start = keys.index(START)
    if job.start_point is not None and start is not None:
        place = np.array([[job.start_point.east_m, job.start_point.north_m]])
        sd = job.start_point_sd_m or priors.START_POINT_M
        found.append(Anchor(START, start, place, np.eye(2)[None] * sd**2, 0.02))
    tap, at = _tap(job), _tap_key(keys, findings)
    if tap is not None and at is not None:
        found.append(Anchor(TAP, at, tap[0][None], np.eye(2)[None] * tap[1] ** 2, 0.1))
    return tuple(found)


def _tap_key(keys: Keys, findings: Sequence[Finding]) -> int | None:
    stated = keys.index(TAP)
    if stated is not None:
        return stated
    ends = [one for one in findings if one.facts.feature is Feature.END]
    return keys.index(f"finding:{ends[0].id}") if len(ends) == 1 else None


def _of_surface(point: SurfacePoint, key: int) -> Anchor:
    places = [np.array([point.point.east_m, point.point.north_m])]
    covariances = [matrix(point.covariance) + np.eye(2) * priors.SONDE_SPOT_M**2]
    if point.mirror is not None:
        places.append(np.array([point.mirror.east_m, point.mirror.north_m]))
        covariances.append(_mirrored(covariances[0], places[1] - places[0]))
    return Anchor(f"locate {point.locate_id}", key, np.array(places), np.array(covariances))


def _mirrored(covariance: Floats, across: Floats) -> Floats:
    """The covariance as seen in the line between the two marks, which lies square to across."""
    unit = across / max(float(np.hypot(*across)), 1e-9)
    flip = np.eye(2) - 2.0 * np.outer(unit, unit)
    return np.asarray(flip @ covariance @ flip)


def bearing(job: Job) -> Bearing | None:
    """Return the bearing the line starts on, where it is known."""
    stated = job.start_bearing_deg
    if stated is None or stated.value is None:
        return None
    sd = max(math.radians(stated.spread), 0.01)
    return Bearing(0.0, math.radians(stated.value), sd)


def matrix(covariance: PlanCovariance) -> Floats:
    """A plan covariance as a (2, 2) array, east first."""
    return np.array(
        [
            [covariance.east_east_m2, covariance.east_north_m2],
            [covariance.east_north_m2, covariance.north_north_m2],
        ]
    )


def record(covariance: Floats) -> PlanCovariance:
    """A (2, 2) array as a plan covariance."""
    return PlanCovariance(
        east_east_m2=float(covariance[0, 0]),
        north_north_m2=float(covariance[1, 1]),
        east_north_m2=float(0.5 * (covariance[0, 1] + covariance[1, 0])),
    )
