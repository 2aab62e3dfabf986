"""What the sheet draws of an appraisal, as arrays along the stations."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import Appraisal, Path, PathPoint, Stretch
from saltglaze.model.base import Estimate
from saltglaze.model.ground import PlanCovariance, PlanPoint
from saltglaze.report.numbering import Numbered, numbered
from saltglaze.report.wording import Words

Array = NDArray[np.float64]
_SHORTEST_M = 3.0


@dataclass(frozen=True)
class Course:
    """A centreline in plan: stations, points (n, 2) and covariances (n, 2, 2), metres."""

    name: str
    weight: float
    stations_m: Array
    points_m: Array
    covariance_m2: Array

    def at(self, station_m: float) -> tuple[float, float]:
        """Return the plan point at a station; beyond the ends, the end."""
        return (
            float(np.interp(station_m, self.stations_m, self.points_m[:, 0])),
            float(np.interp(station_m, self.stations_m, self.points_m[:, 1])),
        )

    def within(self, from_m: float, to_m: float) -> Course:
        """Return the part between two stations, with its ends interpolated."""
        inner = (self.stations_m > from_m) & (self.stations_m < to_m)
        low = max(from_m, float(self.stations_m[0]))
        high = min(to_m, float(self.stations_m[-1]))
        stations = np.concatenate(([low], self.stations_m[inner], [max(high, low)]))
        points = np.array([self.at(s) for s in stations])
        flat = self.covariance_m2.reshape(len(self.stations_m), 4)
        covariance = np.column_stack(
            [np.interp(stations, self.stations_m, flat[:, k]) for k in range(4)]
        ).reshape(-1, 2, 2)
        return Course(self.name, self.weight, stations, points, covariance)

    def sideways_sd_m(self) -> Array:
        """Return the standard deviation square to the course at each point, metres."""
        along = np.gradient(self.points_m, axis=0)
        length = np.maximum(np.hypot(along[:, 0], along[:, 1]), 1e-9)
        normal = np.column_stack([-along[:, 1], along[:, 0]]) / length[:, None]
        variance = np.einsum("ni,nij,nj->n", normal, self.covariance_m2, normal)
        sd: Array = np.sqrt(np.maximum(variance, 0.0))
        return sd


@dataclass(frozen=True)
class Levels:
    """The long section's heights at stations, metres; NaN where not known.

    ``basis`` tells what they rest on: "levels" (a datum), "depths" (ground drawn
    level) or "none" (drawn level because nothing is known).
    """

    stations_m: Array
    ground_m: Array
    invert_m: Array
    invert_sd_m: Array
    depth_m: Array
    depth_sd_m: Array
    water_m: Array
    basis: str

    def invert_at(self, station_m: float) -> float:
        """Return the invert's height at a station by interpolation over known points."""
        known = np.isfinite(self.invert_m)
        if not known.any():
            return 0.0
        return float(np.interp(station_m, self.stations_m[known], self.invert_m[known]))


@dataclass(frozen=True)
class Survey:
    """Everything the sheet needs: extent, courses, levels, numbered findings."""

    appraisal: Appraisal
    from_m: float
    to_m: float
    courses: tuple[Course, ...]
    levels: Levels
    findings: tuple[Numbered, ...]
    no_plan_because: str
    measured: bool
    """Whether anything at all has a station; if not, ``from_m`` and ``to_m`` mean nothing."""

    @property
    def placed(self) -> tuple[Numbered, ...]:
        """Findings with a known station."""
        return tuple(f for f in self.findings if f.station_m is not None)

    @property
    def unplaced(self) -> tuple[Numbered, ...]:
        """Findings without one."""
        return tuple(f for f in self.findings if f.station_m is None)

    def diameter_at(self, station_m: float) -> float | None:
        """Return the bore at a station, ``None`` where not known."""
        for segment in self.appraisal.segments:
            start, end = segment.start_m.value, segment.end_m.value
            if (start if start is not None else 0.0) - 1e-9 <= station_m and (
                end is None or station_m <= end + 1e-9
            ):
                return segment.diameter_m
        return None


def ground_names(survey: Survey, stretch: Stretch, words: Words) -> tuple[str, ...]:
    """Return what a stretch lies under, longest wording first."""
    parcel = next((p for p in survey.appraisal.job.parcels if p.id == stretch.ground_id), None)
    short = words(f"outline.{parcel.kind}") if parcel is not None else words("outline.unmapped")
    return (stretch.ground, short)


def survey(appraisal: Appraisal) -> Survey:
    """Gather what the sheet draws."""
    courses = tuple(
        course for path in appraisal.position.paths if (course := _course(path)) is not None
    )
    findings = numbered(appraisal)
    stations = _stations(appraisal, courses, findings)
    from_m, to_m = min((0.0, *stations)), max((0.0, *stations))
    to_m = max(to_m, from_m + _SHORTEST_M)
    best = appraisal.position.paths[0].points if appraisal.position.paths else ()
    return Survey(
        appraisal,
        from_m,
        to_m,
        courses,
        _levels(best, from_m, to_m),
        findings,
        "" if courses else _why_no_plan(appraisal),
        bool(stations),
    )


def _why_no_plan(appraisal: Appraisal) -> str:
    """Return the reason given by the findings or the stage that places them."""
    reasons = [f.place.point_unknown_because for f in appraisal.findings]
    stage = [s.why for s in appraisal.stages if not s.done and s.stage == "position"]
    return next((reason for reason in (*reasons, *stage) if reason), "")


def _course(path: Path) -> Course | None:
    known = [(p.station_m, p.point, p.covariance) for p in path.points if p.point is not None]
    if len(known) < 2:
        return None
    known.sort(key=lambda row: row[0])
    return Course(
        path.name,
        path.weight,
        np.array([row[0] for row in known]),
        np.array([_pair(row[1]) for row in known]),
        np.array([_matrix(row[2]) for row in known]),
    )


def _pair(point: PlanPoint | None) -> tuple[float, float]:
    return (0.0, 0.0) if point is None else (point.east_m, point.north_m)


def _matrix(c: PlanCovariance | None) -> list[list[float]]:
    if c is None:
        return [[0.0, 0.0], [0.0, 0.0]]
    return [[c.east_east_m2, c.east_north_m2], [c.east_north_m2, c.north_north_m2]]


def _stations(
    appraisal: Appraisal, courses: tuple[Course, ...], findings: tuple[Numbered, ...]
) -> tuple[float, ...]:
    """Return every station that is known, so that the drawing holds them all."""
    stations: list[float] = []
    if courses:
        stations += [float(courses[0].stations_m[0]), float(courses[0].stations_m[-1])]
    for finding in findings:
        stations += [s for s in (finding.station_m, finding.end_m) if s is not None]
    stations += [e.value for e in _ends(appraisal) if e is not None and e.value is not None]
    return tuple(stations)


def _ends(appraisal: Appraisal) -> tuple[Estimate | None, ...]:
    return (
        appraisal.position.length_m,
        *(s.furthest_m for s in appraisal.position.stationings),
        *(s.end_m for s in appraisal.segments),
        *(e for n in appraisal.not_seen for e in (n.from_m, n.to_m)),
    )


def _number(estimate: Estimate | None) -> float:
    return math.nan if estimate is None or estimate.value is None else estimate.value


def _sd(estimate: Estimate | None) -> float:
    return math.nan if estimate is None or estimate.value is None else estimate.spread


def _levels(points: tuple[PathPoint, ...], from_m: float, to_m: float) -> Levels:
    rows = sorted(points, key=lambda p: p.station_m)
    stations = np.array([p.station_m for p in rows])
    ground = np.array([_number(p.ground_level_m) for p in rows])
    invert = np.array([_number(p.invert_level_m) for p in rows])
    invert_sd = np.array([_sd(p.invert_level_m) for p in rows])
    depth = np.array([_number(p.depth_m) for p in rows])
    depth_sd = np.array([_sd(p.depth_m) for p in rows])
    water = np.array([math.nan if p.water_level_m is None else p.water_level_m for p in rows])
    invert_sd = np.where(np.isfinite(invert), invert_sd, depth_sd)
    invert = np.where(np.isfinite(invert), invert, ground - depth)
    if np.isfinite(invert).sum() >= 2:
        return Levels(stations, ground, invert, invert_sd, depth, depth_sd, water, "levels")
    if np.isfinite(depth).sum() >= 2:
        level = np.zeros_like(depth)
        return Levels(stations, level, -depth, depth_sd, depth, depth_sd, level * np.nan, "depths")
    ends = np.array([from_m, to_m])
    blank = np.full(2, math.nan)
    return Levels(ends, blank, np.zeros(2), blank, blank, blank, blank, "none")
