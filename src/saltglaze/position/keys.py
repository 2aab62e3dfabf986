"""The stations that matter, held jointly: every locate, every finding, every known point.

Stations in one run share the counter's scale and zero, so their errors move together.
Everything downstream (plan, profile, places) therefore works on the joint mean and
covariance of these *keys*, and what the ground then teaches about them flows back into
the whole run by Gaussian conditioning.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from saltglaze.model.finding import Feature, Finding
from saltglaze.model.ground import Locate
from saltglaze.model.job import Job
from saltglaze.model.run import Run
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.evidence import given_station, lead_m, moment_s, run_of
from saltglaze.position.station import RunStations

STRETCHES = frozenset(
    {
        Feature.ROOTS,
        Feature.CRACK,
        Feature.FRACTURE,
        Feature.DEFORMATION,
        Feature.SURFACE_DAMAGE,
        Feature.ATTACHED_DEPOSITS,
        Feature.SETTLED_DEPOSITS,
        Feature.INFILTRATION,
        Feature.STANDING_WATER,
        Feature.SAG,
        Feature.REPAIR,
        Feature.LINER,
        Feature.CAMERA_UNDER_WATER,
        Feature.LENS_FOULED,
    }
)
"""Features that may run along the pipe; the others sit at one station."""


@dataclass(frozen=True)
class Key:
    """One station that matters, and where it comes from.

    A key with a run and a moment follows the run's stationing; one without stands on
    the station a person or record gave.
    """

    name: str
    run_id: str | None
    moment_s: float | None
    given_m: float | None = None
    own_sd_m: float = 0.0
    transmitter: bool = False
    lead: tuple[float, float] = (0.0, 0.0)
    """How far ahead of the lens it lies at its moment: mean, and sd shared by the run."""


@dataclass(frozen=True)
class Keys:
    """Keys with the joint mean and covariance of their stations."""

    keys: tuple[Key, ...]
    mean_m: Floats
    covariance_m2: Floats

    def index(self, name: str) -> int | None:
        """Where a key stands, or ``None``."""
        for place, key in enumerate(self.keys):
            if key.name == name:
                return place
        return None

    def first(self, count: int) -> Keys:
        """The first keys only."""
        return Keys(self.keys[:count], self.mean_m[:count], self.covariance_m2[:count, :count])

    def with_given(self, name: str, station_m: float, sd_m: float) -> Keys:
        """One more key, independent of the others, at the end."""
        size = len(self.keys)
        covariance = np.zeros((size + 1, size + 1))
        covariance[:size, :size] = self.covariance_m2
        covariance[size, size] = sd_m**2
        key = Key(name, None, None, station_m, sd_m)
        return Keys((*self.keys, key), np.append(self.mean_m, station_m), covariance)

    def sd_m(self) -> Floats:
        """Standard deviation of each key's station."""
        return np.asarray(np.sqrt(np.maximum(np.diag(self.covariance_m2), 0.0)))


def collect(
    job: Job, solved: Mapping[str, RunStations], findings: Iterable[Finding]
) -> tuple[Key, ...]:
    """List the keys of a job: one for each locate and finding that can have a station."""
    keys: list[Key] = []
    for locate in job.locates:
        key = _locate_key(locate, job, solved)
        if key is not None:
            keys.append(key)
    for finding in findings:
        keys.extend(_finding_keys(finding, job, solved))
    return tuple(keys)


def _locate_key(locate: Locate, job: Job, solved: Mapping[str, RunStations]) -> Key | None:
    name = f"locate:{locate.id}"
    run_id = locate.run_id or (job.runs[0].id if len(job.runs) == 1 else None)
    stations = solved.get(run_id) if run_id else None
    if locate.station_m is not None and locate.station_m.value is not None:
        sd = max(locate.station_m.spread, 0.01)
        return Key(name, None, None, locate.station_m.value, sd)
    if stations is None:
        return None
    if locate.time_s is not None and stations.evidence.timed:
        return Key(name, run_id, locate.time_s, None, 0.02, True)
    if locate.counter_m is not None:
        moment = stations.moment_of_counter(locate.counter_m)
        return Key(name, run_id, moment, None, priors.STATED_COUNTER_M, True)
    return None


def _finding_keys(finding: Finding, job: Job, solved: Mapping[str, RunStations]) -> Iterable[Key]:
    name = f"finding:{finding.id}"
    run_id = run_of(finding, job)
    stations = solved.get(run_id) if run_id else None
    moment, given = moment_s(finding), given_station(finding)
    if given is not None:
        yield Key(name, None, None, given[0], given[1])
    elif stations is not None and moment is not None and stations.evidence.timed:
        yield from _film_keys(finding, name, stations, moment)
    end = finding.end_station_m
    if finding.edit is not None and finding.edit.end_station_m is not None:
        end = finding.edit.end_station_m
    if end is not None and end.value is not None:
        yield Key(f"{name}:end", None, None, end.value, max(end.spread, 1e-3))


def _film_keys(finding: Finding, name: str, stations: RunStations, moment: float) -> Iterable[Key]:
    run_id, lead = stations.evidence.run_id, lead_m(finding)
    start, end = finding.start_s, finding.end_s
    if start is not None and end is not None and finding.facts.feature in STRETCHES:
        first, last = stations.at(np.array([start, end]))
        if abs(last - first) > 3.0 * priors.MOMENT_M:
            low, high = (start, end) if last > first else (end, start)
            yield Key(name, run_id, low, None, _moment_sd(stations, low), lead=lead)
            if finding.end_station_m is None:
                sd = _moment_sd(stations, high)
                yield Key(f"{name}:end", run_id, high, None, sd, lead=lead)
            return
    yield Key(name, run_id, moment, None, _moment_sd(stations, moment), lead=lead)


def _moment_sd(stations: RunStations, moment: float) -> float:
    """How far a finding may lie from its run's usual lead when it is spoken of or seen."""
    around = stations.at(np.array([moment - 1.0, moment + 1.0]))
    speed = abs(float(around[1] - around[0])) / 2.0
    return float(np.hypot(priors.MOMENT_M, speed * priors.MOMENT_S))


def joint(keys: tuple[Key, ...], job: Job, solved: Mapping[str, RunStations]) -> Keys:
    """Joint mean and covariance of the keys' stations, from the runs alone."""
    mean = np.zeros(len(keys))
    covariance = np.diag(np.array([key.own_sd_m**2 for key in keys]))
    for place, key in enumerate(keys):
        if key.given_m is not None:
            mean[place] = key.given_m
    for run in job.runs:
        mine = [place for place, key in enumerate(keys) if key.run_id == run.id]
        if not mine or run.id not in solved:
            continue
        moments = np.array([keys[place].moment_s for place in mine], dtype=float)
        station, spread = solved[run.id].joint(moments)
        behind, behind_sd = sonde_behind(run)
        carried = np.array([keys[place].transmitter for place in mine], dtype=float)
        sign = solved[run.id].evidence.sign
        lead, lead_sd = np.array([keys[place].lead for place in mine]).T
        mean[mine] = station + sign * (lead - behind * carried)
        covariance[np.ix_(mine, mine)] += spread + behind_sd**2 * np.outer(carried, carried)
        covariance[np.ix_(mine, mine)] += np.outer(lead_sd, lead_sd)
    return Keys(keys, mean, covariance)


def sonde_behind(run: Run) -> tuple[float, float]:
    """How far the transmitter trails the lens in a run: mean and standard deviation."""
    if run.sonde_behind_lens_m is not None:
        return run.sonde_behind_lens_m, 0.01
    return priors.SONDE_BEHIND_M


def taught(
    stations: RunStations, times: Floats, before: Keys, after: Keys
) -> tuple[Floats, Floats]:
    """Stations and standard deviations at moments, after the ground has taught the keys.

    Gaussian conditioning: ``s' = s + G (m' - m)``, ``P' = P - G (C - C') G'`` with
    ``G = cov(s, keys) C^-1``.
    """
    mean, sd = stations.at(times), stations.sd(times)
    index, share = stations.knots.span(times)

    def picked(solved: Floats) -> Floats:
        near = solved[2 * index] * (1.0 - share)[:, None]
        return near + solved[2 * index + 2] * share[:, None]

    shift, less = _lesson(stations, picked, before, after)
    return mean + shift, np.asarray(np.sqrt(np.maximum(sd**2 - less, 1e-8)))


def taught_counter(stations: RunStations, before: Keys, after: Keys) -> tuple[Floats, Floats]:
    """Scale of the counter and station at its zero, and their sds, once taught."""
    rows = np.zeros((2, stations.solved.unknowns.size))
    rows[0, stations.knots.scale_at] = rows[1, stations.knots.origin_at] = 1.0
    rows[1, 1] = stations.evidence.sign
    variance = np.diag(stations.solved.covariance(rows))
    shift, less = _lesson(stations, lambda solved: rows @ solved, before, after)
    mean = rows @ stations.solved.unknowns + shift
    return mean, np.asarray(np.sqrt(np.maximum(variance - less, 1e-12)))


def _lesson(
    stations: RunStations, picked: Callable[[Floats], Floats], before: Keys, after: Keys
) -> tuple[Floats, Floats]:
    """Shift and loss of variance of what ``picked`` takes from the run's unknowns."""
    run_id = stations.evidence.run_id
    mine = [place for place, key in enumerate(before.keys) if key.run_id == run_id]
    moments = np.array([before.keys[place].moment_s for place in mine], dtype=float)
    solved = stations.solved.factor.solve(np.ascontiguousarray(stations.rows(moments).T))
    part = picked(solved)
    cross = np.zeros((part.shape[0], len(before.keys)))
    cross[:, mine] = part
    ridge = 1e-10 * np.eye(len(before.keys))
    gain = np.linalg.solve(before.covariance_m2 + ridge, cross.T).T
    change = before.covariance_m2 - after.covariance_m2
    shift = gain @ (after.mean_m - before.mean_m)
    return shift, np.asarray(np.einsum("ij,jk,ik->i", gain, change, gain))
