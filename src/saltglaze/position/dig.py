"""Where to dig for a finding: the spot, how sure, how long a trench, how to find it by tape.

The trench must hold the spot with 95 %: its length is the stretch to be bared and 1.96 sd
of its place along the line on either side. Cautions follow where another service may lie
within the tolerance zone and where the trench is deep; they defer to local codes, the
one-call service and licensed practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Final

import numpy as np
import shapely

from saltglaze.model.appraisal import Dig, FindingPlace, Path
from saltglaze.model.base import Z95, Estimate
from saltglaze.model.finding import Feature, Finding
from saltglaze.model.ground import ParcelKind, PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.position.digsafe import cautions_for
from saltglaze.position.ellipse import ellipse_of, sd_along
from saltglaze.position.spread import RIVAL_WEIGHT, Spot
from saltglaze.position.taping import tape_ties

WORTH_DIGGING: Final = frozenset(
    {
        Feature.CRACK,
        Feature.FRACTURE,
        Feature.BREAK,
        Feature.HOLE,
        Feature.COLLAPSE,
        Feature.DEFORMATION,
        Feature.OFFSET_JOINT,
        Feature.OPEN_JOINT,
        Feature.ANGLED_JOINT,
        Feature.ROOTS,
        Feature.OBSTRUCTION,
        Feature.INFILTRATION,
        Feature.INTRUDING_TAP,
        Feature.INTRUDING_SEAL,
        Feature.TAP,
        Feature.CLEAN_OUT,
        Feature.REPAIR,
        Feature.SAG,
        Feature.STANDING_WATER,
        Feature.COULD_NOT_PASS,
    }
)
"""What may have to be reached from above; the choice among them is made later, by grade."""

LEAST_TRENCH_M: Final = 1.0
"""Room for a person to work on a pipe: common practice, no source."""


def digs(
    job: Job,
    paths: Sequence[Path],
    findings: Iterable[Finding],
    places: Iterable[FindingPlace],
    spots: Mapping[str, Spot] | None = None,
) -> tuple[Dig, ...]:
    """Return one dig for each standing finding worth digging that has a place on the ground.

    Parameters
    ----------
    job
        Marks, outlines, services and the place's one-call number.
    paths
        Hypotheses of the line, likeliest first; the first one gives the bearing.
    findings, places
        Findings and where they are. The covariance of a place holds all that is unsure
        about it, its station included.
    spots
        Where draws from all answers put the findings, by id: ellipses and trenches are sized
        by them. Without draws they follow from the covariance.
    """
    if not paths:
        return ()
    spots = spots or {}
    by_id: Mapping[str, FindingPlace] = {place.finding_id: place for place in places}
    return tuple(
        _dig(job, paths, place, place.point, place.covariance, spots.get(finding.id))
        for finding in findings
        if finding.stands
        and finding.facts.feature in WORTH_DIGGING
        and (place := by_id.get(finding.id)) is not None
        and place.point is not None
        and place.covariance is not None
        and place.station_m.known
    )


def _dig(
    job: Job,
    paths: Sequence[Path],
    place: FindingPlace,
    point: PlanPoint,
    covariance: PlanCovariance,
    spot: Spot | None,
) -> Dig:
    station = place.station_m.value or 0.0
    bearing = bearing_at(paths[0], station)
    bared_m = _bared_length(place)
    along = sd_along(covariance, bearing) if spot is None else spot.along(bearing, 0.95) / Z95
    length = trench_length(bared_m, along)
    depth = place.depth_m if place.depth_m is not None else Estimate.unknown("no depth was read")
    middle = point_at(paths[0], station + 0.5 * bared_m) if bared_m > 0.0 else None
    return Dig(
        finding_id=place.finding_id,
        point=point,
        ellipse68=ellipse_of(covariance, 0.68) if spot is None else spot.ellipse(0.68),
        ellipse95=ellipse_of(covariance, 0.95) if spot is None else spot.ellipse(0.95),
        depth_m=depth,
        trench_length_m=length,
        trench_bearing_deg=bearing,
        ties=tape_ties(job.marks, point),
        ground=ground_under(job, point),
        cautions=cautions_for(job, middle or point, bearing, length, depth, covariance),
        alternatives=(
            _alternatives(paths, station, point) if spot is None else spot.other_points()
        ),
    )


def trench_length(bared_m: float, sd_along_m: float) -> float:
    """Return the length of trench that holds a stretch with 95 %, rounded up to 0.1 m.

    The stretch, 1.96 sd on either side, and never less than a person needs to work in.
    """
    needed = bared_m + 2.0 * Z95 * sd_along_m
    return math.ceil(max(needed, LEAST_TRENCH_M) * 10.0 - 1e-9) / 10.0


def _bared_length(place: FindingPlace) -> float:
    end = place.end_station_m
    if end is None or end.value is None or place.station_m.value is None:
        return 0.0
    return abs(end.value - place.station_m.value)


def bearing_at(path: Path, station_m: float) -> float:
    """Return the bearing of a path at a station, degrees in [0, 360); 0 where it has no plan."""
    before, after = point_at(path, station_m - 0.25), point_at(path, station_m + 0.25)
    if before is None or after is None:
        return 0.0
    east, north = after.east_m - before.east_m, after.north_m - before.north_m
    return math.degrees(math.atan2(east, north)) % 360.0


def point_at(path: Path, station_m: float) -> PlanPoint | None:
    """Return the plan point of a path at a station, interpolated; its ends run on straight."""
    placed = [(p.station_m, p.point) for p in path.points if p.point is not None]
    if len(placed) < 2:
        return None
    stations = np.array([station for station, _ in placed])
    line = np.array([[p.east_m, p.north_m] for _, p in placed])
    at = int(np.clip(np.searchsorted(stations, station_m) - 1, 0, len(placed) - 2))
    span = max(float(stations[at + 1] - stations[at]), 1e-9)
    east, north = line[at] + (station_m - stations[at]) / span * (line[at + 1] - line[at])
    return PlanPoint(east_m=float(east), north_m=float(north))


def _alternatives(
    paths: Sequence[Path], station_m: float, point: PlanPoint
) -> tuple[PlanPoint, ...]:
    others = []
    for path in paths[1:]:
        other = point_at(path, station_m) if path.weight >= RIVAL_WEIGHT else None
        if other is not None and _apart_m(other, point) > 0.1:
            others.append(other)
    return tuple(others)


def ground_under(job: Job, point: PlanPoint) -> str:
    """Return in words what outlines a point lies in, and where an edge is too near to say."""
    spot = shapely.Point(point.east_m, point.north_m)
    held, near = [], []
    for parcel in job.parcels:
        if len(parcel.ring) < 3:
            continue
        ring = shapely.Polygon([(p.east_m, p.north_m) for p in parcel.ring])
        if not ring.is_valid:
            continue
        name = _outline_name(parcel.kind, parcel.id, parcel.owner)
        inside = ring.contains(spot)
        if float(ring.exterior.distance(spot)) < Z95 * parcel.sd_m:
            near.append(f"{name} ({'just inside' if inside else 'just outside'} its drawn edge)")
        elif inside:
            held.append(name)
    return "; ".join([*held, *near]) or "outside every outline given"


def _outline_name(kind: ParcelKind, name: str, owner: str) -> str:
    word = {ParcelKind.RIGHT_OF_WAY: "right of way"}.get(kind, kind.value)
    return f"{word} of {owner}" if owner else f"{word} {name}"


def _apart_m(one: PlanPoint, other: PlanPoint) -> float:
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)
