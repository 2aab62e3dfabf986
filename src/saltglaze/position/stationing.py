"""Stations against time as records, and the length of the line they give."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from saltglaze.model.appraisal import Reason, StationAt, Stationing
from saltglaze.model.base import Estimate
from saltglaze.model.job import Job
from saltglaze.position.evidence import RunEvidence
from saltglaze.position.keys import Keys, taught, taught_counter
from saltglaze.position.mapped import FORMER
from saltglaze.position.slips import half68
from saltglaze.position.station import RunStations

MOST_SAMPLES: Final = 1500
SILENT: Final = "no counter was read, no distance was spoken and no station was typed for this run"


def stationing(stations: RunStations, before: Keys, after: Keys) -> Stationing:
    """Return one run's stationing, with what the ground taught it laid over."""
    step = max(1, -(-stations.knots.count // MOST_SAMPLES))
    times = stations.knots.time_s[::step]
    mean, sd = taught(stations, times, before, after)
    furthest = int(np.argmax(mean * stations.evidence.sign))
    timed = stations.evidence.timed
    scale, zero = counter_error(stations, before, after)
    return Stationing(
        run_id=stations.evidence.run_id,
        samples=tuple(
            StationAt(time_s=float(t), station_m=float(m), sd_m=float(s), half68_m=float(h))
            for t, m, s, h in zip(times, mean, sd, half68(stations, times, sd), strict=True)
        )
        if timed
        else (),
        counter_scale=scale,
        counter_zero_m=zero,
        furthest_m=Estimate.of(mean[furthest], sd[furthest]),
        reasons=_reasons(stations.evidence),
        unknown_because=None if timed else "the run has no film time: stations at locates only",
    )


def silent(evidence: RunEvidence) -> Stationing:
    """Return the stationing of a run that tells no distance at all."""
    return Stationing(
        run_id=evidence.run_id,
        counter_scale=Estimate.unknown(SILENT),
        counter_zero_m=Estimate.unknown(SILENT),
        furthest_m=Estimate.unknown(SILENT),
        unknown_because=SILENT,
    )


def counter_error(stations: RunStations, before: Keys, after: Keys) -> tuple[Estimate, Estimate]:
    """Scale of the counter and the station at which it reads zero."""
    evidence = stations.evidence
    if not (evidence.counter.time_s.size or evidence.spoken.time_s.size):
        because = "no counter was read"
        return Estimate.unknown(because), Estimate.unknown(because)
    value, sd = taught_counter(stations, before, after)
    return Estimate.of(value[0], sd[0]), Estimate.of(value[1], sd[1])


def _reasons(evidence: RunEvidence) -> tuple[Reason, ...]:
    told = []
    if evidence.counter.time_s.size:
        told.append(f"{evidence.counter.time_s.size} counter readings")
    if evidence.spoken.time_s.size:
        told.append(f"{evidence.spoken.time_s.size} distances called out")
    if evidence.known:
        told.append(f"{len(evidence.known)} stations given by hand")
    if evidence.resets:
        told.append(f"{len(evidence.resets)} counter resets bridged")
    return (
        Reason(
            because=", ".join(told),
            rule="robust least squares over the whole run; scale and zero of the counter estimated",
        ),
    )


def line_length(
    job: Job, solved: Mapping[str, RunStations], keys: Keys, stationings: Sequence[Stationing]
) -> Estimate:
    """Length of the line: as recorded, else as far as anything was seen."""
    stated = job.line.length_m
    if stated is not None and stated.known:
        return stated
    seen = [
        one.furthest_m
        for one in stationings
        if one.furthest_m.known and solved[one.run_id].evidence.sign > 0.0
    ]
    seen += [run.start_station_m for run in job.runs if run.reversed_stationing]
    sd = keys.sd_m()
    seen += [
        Estimate.of(m, s)
        for key, m, s in zip(keys.keys, keys.mean_m, sd, strict=True)
        if not key.name.startswith(FORMER)
    ]
    known = [one for one in seen if one.value is not None and one.value > 0.0]
    if not known:
        return Estimate.unknown("nothing tells how far the camera went")
    return max(known, key=lambda one: one.value or 0.0)
