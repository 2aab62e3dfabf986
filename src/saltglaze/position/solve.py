"""From evidence to place: the one entry point of this package.

In order: station against time for each run; the stations that matter, jointly; what the
pipe is made of; surface points; the plan; then everything that is read off the plan.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from string import ascii_uppercase
from typing import NamedTuple

import numpy as np

from saltglaze.model.appraisal import (
    Check,
    Conflict,
    FindingPlace,
    Heard,
    LineSegment,
    Path,
    Position,
    Stationing,
    SurfacePoint,
    Verdict,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Finding
from saltglaze.model.job import Job
from saltglaze.model.run import Direction
from saltglaze.model.talk import LineFactKind
from saltglaze.model.track import SightTrack
from saltglaze.position.anchors import (
    anchors,
    bearing,
    end_keys,
    marked_keys,
    transmitter_stations,
)
from saltglaze.position.bends import bends
from saltglaze.position.conflicts import (
    depth_conflicts,
    plan_conflicts,
    run_checks,
    run_conflicts,
)
from saltglaze.position.dig import digs
from saltglaze.position.doubts import UNSAID
from saltglaze.position.evidence import RunEvidence, gather, moment_s, run_of
from saltglaze.position.hypotheses import Hypothesis, weigh
from saltglaze.position.keys import Keys, collect, joint, taught
from saltglaze.position.links import landmarks, recognise
from saltglaze.position.mapped import FORMER, map_anchors, map_keys
from saltglaze.position.naming import metres, spoken_names
from saltglaze.position.next_measurement import next_measurements
from saltglaze.position.paths import because, path, with_misfits
from saltglaze.position.places import NO_PLAN, places, station
from saltglaze.position.plan import PlanFit
from saltglaze.position.posing import pose
from saltglaze.position.roll import roll_at
from saltglaze.position.section import LongSection, long_section
from saltglaze.position.segments import settle
from saltglaze.position.shared import with_shared
from saltglaze.position.spread import RIVAL_WEIGHT, Spot, spots
from saltglaze.position.station import RunStations, solve_run
from saltglaze.position.stationing import line_length, silent, stationing
from saltglaze.position.surface import adjust_surface_points


class Placement(NamedTuple):
    """What this package hands on."""

    position: Position
    places: tuple[FindingPlace, ...]
    segments: tuple[LineSegment, ...]
    direction: Direction | None


def locate(
    job: Job,
    tracks: tuple[SightTrack, ...],
    heard: tuple[Heard, ...],
    findings: tuple[Finding, ...],
) -> Placement:
    """Find where everything is.

    Parameters
    ----------
    job
        The evidence of the visit.
    tracks, heard
        What was seen and heard, one for each run that has any.
    findings
        All findings that stand, edits laid over.

    Raises
    ------
    InputError
        For surface evidence that names unknown marks or cannot be.
    """
    told = _stations(job, tracks, heard, findings)
    rough = told.stationings(told.joined)
    length = line_length(job, told.solved, told.joined, rough)
    segments = _segments(job, heard, findings, told.joined, told.solved, length)
    hypotheses = _plan(job, tracks, findings, told, segments, length)
    best = hypotheses[0].fit if hypotheses else None
    after = best.keys.first(len(told.joined.keys)) if best is not None else told.joined
    stationings = told.stationings(after)
    length = line_length(job, told.solved, after, stationings)
    way = direction(job, heard)
    spread = _spots(hypotheses, findings)
    names = spoken_names(findings, after)
    surface = with_misfits(told.surface, best, after)
    why_no_plan = _no_plan_because(surface)
    by_run = {track.run_id: track for track in tracks}
    section = long_section(
        job,
        length.value or 0.0,
        _paths(hypotheses, length, names),
        surface,
        tracks,
        stationings,
        findings,
        places(job, findings, after, best, by_run, _lone(surface), why_no_plan, spread),
        segments,
        way,
        transmitter_stations(after),
    )
    position = Position(
        stationings=stationings,
        paths=section.paths,
        surface=surface,
        falls=section.falls,
        sags=section.sags,
        digs=digs(job, section.paths, findings, section.places, spread),
        next_measurements=next_measurements(
            findings, section.places, hypotheses, segments, length, section.profile, spread
        ),
        conflicts=_conflicts(job, told, best, section, names),
        length_m=length,
        checks=(
            *run_checks(told.solved),
            *told.checks,
            *_plan_checks(hypotheses, surface),
            *section.checks,
        ),
    )
    return Placement(position, section.places, segments, way)


class _Stations(NamedTuple):
    """All stations before the ground has taught them anything."""

    evidence: dict[str, RunEvidence]
    solved: dict[str, RunStations]
    before: Keys
    """From each run alone, locates at the feature marked."""
    joined: Keys
    """With the landmarks that runs share brought together."""
    surface: tuple[SurfacePoint, ...]
    checks: tuple[Check, ...]

    def stationings(self, after: Keys) -> tuple[Stationing, ...]:
        """Station against time of every run, once the keys are as ``after``."""
        return _stationings(self.evidence, self.solved, self.before, after)


def _stations(
    job: Job,
    tracks: tuple[SightTrack, ...],
    heard: tuple[Heard, ...],
    findings: tuple[Finding, ...],
) -> _Stations:
    evidence = _evidence(job, {track.run_id: track for track in tracks}, heard, findings)
    solved = _solve_runs(job, heard, findings, evidence)
    listed = (*collect(job, solved, findings), *end_keys(job, findings), *map_keys(job))
    alone = joint(listed, job, solved)
    surface, checks = adjust_surface_points(job, transmitter_stations(alone))
    before = marked_keys(alone, surface)
    return _Stations(evidence, solved, before, with_shared(before, findings), surface, checks)


def _conflicts(
    job: Job,
    told: _Stations,
    best: PlanFit | None,
    section: LongSection,
    names: Mapping[str, str],
) -> tuple[Conflict, ...]:
    return (
        *run_conflicts(told.solved, names),
        *(plan_conflicts(best, names) if best is not None else ()),
        *depth_conflicts(job),
        *section.conflicts,
    )


def direction(job: Job, heard: tuple[Heard, ...]) -> Direction | None:
    """Direction of increasing station against the flow; ``None`` where nothing says it.

    A run that counts down the line goes the other way.
    """
    backwards = {run.id: run.reversed_stationing for run in job.runs}
    for run in job.runs:
        if run.direction is not None:
            return _turned(run.direction, run.reversed_stationing)
    for talk in heard:
        for fact in talk.facts:
            if fact.kind is LineFactKind.DIRECTION and fact.value in set(Direction):
                return _turned(Direction(fact.value), backwards.get(talk.run_id, False))
    return None


def _turned(way: Direction, backwards: bool) -> Direction:
    if not backwards:
        return way
    return Direction.AGAINST_FLOW if way is Direction.WITH_FLOW else Direction.WITH_FLOW


def _solve_runs(
    job: Job,
    heard: tuple[Heard, ...],
    findings: tuple[Finding, ...],
    evidence: Mapping[str, RunEvidence],
) -> dict[str, RunStations]:
    """Solve every run twice: alone, then with the joints and landmarks so recognised."""
    first = {name: solve_run(one) for name, one in evidence.items() if not one.silent}
    rough = joint(collect(job, first, findings), job, first)
    length = line_length(job, first, rough, _stationings(evidence, first, rough, rough))
    segments = _segments(job, heard, findings, rough, first, length)
    solved = {}
    for name, stations in first.items():
        mine = [one for one in findings if run_of(one, job) == name]
        ties = recognise(stations, mine, segments, landmarks(job.line))
        taught_more = bool(ties.links or ties.known)
        solved[name] = solve_run(evidence[name], *ties) if taught_more else stations
    return solved


def _evidence(
    job: Job,
    by_run: Mapping[str, SightTrack],
    heard: tuple[Heard, ...],
    findings: tuple[Finding, ...],
) -> dict[str, RunEvidence]:
    talks = {talk.run_id: talk for talk in heard}
    return {
        run.id: gather(job, run, by_run.get(run.id), talks.get(run.id), findings)
        for run in job.runs
    }


def _stationings(
    evidence: Mapping[str, RunEvidence],
    solved: Mapping[str, RunStations],
    before: Keys,
    after: Keys,
) -> tuple[Stationing, ...]:
    return tuple(
        stationing(solved[name], before, after) if name in solved else silent(one)
        for name, one in evidence.items()
    )


def _segments(
    job: Job,
    heard: tuple[Heard, ...],
    findings: tuple[Finding, ...],
    keys: Keys,
    solved: Mapping[str, RunStations],
    length: Estimate,
) -> tuple[LineSegment, ...]:
    def station_at(run_id: str, time_s: float) -> Estimate:
        if run_id not in solved:
            return Estimate.unknown("nothing in the run tells a distance")
        mean, sd = taught(solved[run_id], np.array([time_s]), keys, keys)
        return Estimate.of(mean[0], sd[0])

    def of_finding(finding: Finding) -> Estimate | None:
        return station(finding, keys)

    return settle(job, heard, findings, of_finding, station_at, length)


def _plan(
    job: Job,
    tracks: tuple[SightTrack, ...],
    findings: tuple[Finding, ...],
    told: _Stations,
    segments: tuple[LineSegment, ...],
    length: Estimate,
) -> tuple[Hypothesis, ...]:
    firm = anchors(job, told.joined, told.surface, findings)
    mapped = map_anchors(job, told.joined, findings)
    tied = (*firm, *mapped)
    if not firm and not any(one.name.startswith(FORMER) for one in mapped):
        return ()
    backwards = {run.id: run.reversed_stationing for run in job.runs}
    by_run = {track.run_id: track for track in tracks}

    def back(finding: Finding) -> bool:
        run_id, moment = run_of(finding, job), moment_s(finding)
        if run_id not in told.solved or moment is None:
            return False
        return told.solved[run_id].going_back(moment)

    bent = bends(findings, told.joined, backwards, lambda one: roll_at(job, one, by_run), back)
    return weigh(pose(told.joined, tied, bent, bearing(job), segments, length.value or 0.0))


def _paths(
    hypotheses: tuple[Hypothesis, ...], length: Estimate, names: Mapping[str, str]
) -> tuple[Path, ...]:
    """The answers that stand; those hardly believed only widen the margins."""
    stand = [one for n, one in enumerate(hypotheses) if n == 0 or one.weight >= RIVAL_WEIGHT]
    total = sum(one.weight for one in stand)
    return tuple(
        path(
            one._replace(weight=one.weight / total),
            name,
            length.value or 0.0,
            because(one.fit, hypotheses[0].fit, names),
        )
        for one, name in zip(stand, ascii_uppercase, strict=False)
    )


def _spots(hypotheses: tuple[Hypothesis, ...], findings: Iterable[Finding]) -> dict[str, Spot]:
    """Where draws from all answers put the findings, by id."""
    if not hypotheses:
        return {}
    keys = hypotheses[0].fit.keys
    at = {one.id: keys.index(f"finding:{one.id}") for one in findings}
    found = spots(hypotheses, [key for key in at.values() if key is not None])
    return {name: found[key] for name, key in at.items() if key is not None}


def _lone(surface: tuple[SurfacePoint, ...]) -> SurfacePoint | None:
    return surface[0] if len(surface) == 1 else None


def _no_plan_because(surface: tuple[SurfacePoint, ...]) -> str:
    if not surface:
        return NO_PLAN
    return "the surface points do not fix the direction of the line: two are needed, or a bearing"


def _unsaid_checks(best: PlanFit) -> Iterable[Check]:
    """Name the bends that nobody mentioned but the surface points ask for."""
    first = 3 + best.problem.grid_m.size
    for number, bend in enumerate(best.problem.bends):
        if not bend.finding_id.startswith(UNSAID):
            continue
        angle = float(best.unknowns[first + number])
        station = float(best.keys.mean_m[bend.key])
        yield Check(
            name="unmentioned bend",
            verdict=Verdict.DOUBT,
            reason=f"the surface points ask for a bend of about {abs(np.degrees(angle)):.0f} "
            f"degrees to the {'right' if angle > 0.0 else 'left'} near {metres(station)}, "
            "give or take "
            f"{metres(2.0 * float(best.keys.sd_m()[bend.key]))}; nobody mentioned one",
            mend="look at the film there, and say whether there is a bend",
        )


def _plan_checks(
    hypotheses: tuple[Hypothesis, ...], surface: tuple[SurfacePoint, ...]
) -> tuple[Check, ...]:
    if hypotheses:
        return tuple(_unsaid_checks(hypotheses[0].fit))
    return (
        Check(
            name="no plan",
            verdict=Verdict.SKIPPED,
            reason=_no_plan_because(surface),
            mend="locate the camera head at two stations at least",
        ),
    )
