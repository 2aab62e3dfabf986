"""Where each finding is: station, clock position, point on the ground, with margins."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, Final

import numpy as np

from saltglaze.model.appraisal import FindingPlace, SurfacePoint
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Finding
from saltglaze.model.ground import PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.model.run import Direction
from saltglaze.model.track import SightTrack
from saltglaze.position.anchors import matrix, record
from saltglaze.position.clock import from_behind, settled_clock
from saltglaze.position.evidence import given_station, moment_s, run_of
from saltglaze.position.keys import Keys
from saltglaze.position.plan import PlanFit
from saltglaze.position.roll import roll_at
from saltglaze.position.spread import Spot

NEAR_LONE_M: Final = 3.0
"""How far along the pipe a single surface point still places a finding."""
NO_PLAN: Final = "nothing ties the line to the ground"


def places(
    job: Job,
    findings: Iterable[Finding],
    keys: Keys,
    best: PlanFit | None,
    tracks: Mapping[str, SightTrack],
    lone: SurfacePoint | None,
    no_plan_because: str,
    spots: Mapping[str, Spot] | None = None,
) -> tuple[FindingPlace, ...]:
    """Place every finding; what cannot be placed says why.

    ``spots`` are where draws from all answers put the findings, by id; without them the
    margins are those of the best answer's covariance.

    ``lone`` is the only surface point of a line that has no plan: what was seen close to
    it is still placed, in any direction from it.
    """
    return tuple(
        _place(
            job, finding, keys, best, tracks, lone, no_plan_because, (spots or {}).get(finding.id)
        )
        for finding in findings
    )


def _place(
    job: Job,
    finding: Finding,
    keys: Keys,
    best: PlanFit | None,
    tracks: Mapping[str, SightTrack],
    lone: SurfacePoint | None,
    no_plan_because: str,
    spot: Spot | None,
) -> FindingPlace:
    key = keys.index(f"finding:{finding.id}")
    clock, clock_because = settled_clock(
        finding.facts, roll_at(job, finding, tracks), _view(job, finding)
    )
    point, covariance = None, None
    because: str | None = no_plan_because
    if key is not None and best is None and lone is not None:
        near = _near_lone(key, lone, keys)
        if near is not None:
            (point, covariance), because = near, None
    if key is not None and best is not None:
        position, spread = best.at_keys([key])
        point = PlanPoint(east_m=float(position[0, 0]), north_m=float(position[0, 1]))
        covariance = record(spread[0] if spot is None else spot.covariance)
        because = None
    if key is None:
        because = "its station is not known"
    return FindingPlace(
        finding_id=finding.id,
        station_m=station(finding, keys),
        end_station_m=_end(finding, keys),
        clock=clock,
        clock_other_view=from_behind(clock),
        clock_unknown_because=clock_because,
        point=point,
        covariance=covariance,
        point_unknown_because=because,
        **({} if spot is None or point is None else _margins(spot)),
    )


def _margins(spot: Spot) -> dict[str, Any]:
    return {
        "ellipse68": spot.ellipse(0.68),
        "ellipse95": spot.ellipse(0.95),
        "alternatives": spot.other_points(),
    }


def _near_lone(key: int, lone: SurfacePoint, keys: Keys) -> tuple[PlanPoint, PlanCovariance] | None:
    """A finding so near a single surface point that its direction hardly matters."""
    other = keys.index(f"locate:{lone.locate_id}")
    if other is None or lone.mirror is not None:
        return None
    cov = keys.covariance_m2
    variance = cov[key, key] + cov[other, other] - 2.0 * cov[key, other]
    away = float(keys.mean_m[key] - keys.mean_m[other]) ** 2 + max(variance, 0.0)
    if away > NEAR_LONE_M**2:
        return None
    return lone.point, record(matrix(lone.covariance) + np.eye(2) * 0.5 * away)


def station(finding: Finding, keys: Keys) -> Estimate:
    """Station of a finding, or why it has none. A person's own figure stands as given."""
    given = given_station(finding)
    if given is not None:
        return Estimate.of(*given)
    key = keys.index(f"finding:{finding.id}")
    if key is not None:
        return Estimate.of(keys.mean_m[key], keys.sd_m()[key])
    if moment_s(finding) is None:
        return Estimate.unknown("neither a moment of film nor a station was given for it")
    return Estimate.unknown("nothing in the run tells a distance")


def _end(finding: Finding, keys: Keys) -> Estimate | None:
    key = keys.index(f"finding:{finding.id}:end")
    return None if key is None else Estimate.of(keys.mean_m[key], keys.sd_m()[key])


def _view(job: Job, finding: Finding) -> Direction | None:
    run_id = run_of(finding, job)
    return next((run.direction for run in job.runs if run.id == run_id), None)
