"""Gathers what is known about the station of the lens in one run, as plain arrays."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from saltglaze.model.appraisal import Heard
from saltglaze.model.finding import Feature, Finding
from saltglaze.model.ground import Locate
from saltglaze.model.job import Job
from saltglaze.model.run import Run
from saltglaze.model.track import MotionKind, MotionStretch, SightTrack
from saltglaze.position import priors
from saltglaze.position.adjust import Floats

LEAST_READINGS: Final = 6
AT_THE_LENS: Final = frozenset(
    {Feature.START, Feature.END, Feature.CAMERA_UNDER_WATER, Feature.LENS_FOULED}
)
"""What is told of the lens itself, not of something ahead of it."""
WRONG_WAY_M: Final = 1.0
WRONG_WAY_RATIO: Final = 3.0
"""A counter runs the wrong way when it loses this much, and this much more than it gains,
while the head advances."""


@dataclass(frozen=True)
class CounterSays:
    """Counter values at moments, metres of counter; ``gross`` is the chance of a misread."""

    time_s: Floats
    value_m: Floats
    sd_m: Floats
    gross: Floats
    gross_sd_m: float


@dataclass(frozen=True)
class KnownStation:
    """The station of the lens at a moment, known from a person, a tape or a record."""

    time_s: float
    station_m: float
    sd_m: float
    name: str
    ahead_m: float = 0.0
    """How far up the stations from the lens the thing lies whose station was stated."""


@dataclass(frozen=True)
class RunEvidence:
    """All that bears on station against time in one run.

    ``sign`` is -1 for a run whose distances count down the line. ``timed`` is false
    where there is no film time; the counter value itself then serves as the clock.
    """

    run_id: str
    sign: float
    start_m: float
    start_sd_m: float
    counter: CounterSays
    spoken: CounterSays
    resets: tuple[tuple[float, float], ...]
    """(time, counter before less counter after)."""
    known: tuple[KnownStation, ...]
    motion: tuple[MotionStretch, ...]
    joints: tuple[tuple[float, bool], ...]
    """(time, passed forwards)."""
    begin_s: float
    end_s: float
    timed: bool = True
    wrong_way_m: float | None = None
    """How far the counter ran backwards while the head went on; it was then turned round."""

    @property
    def silent(self) -> bool:
        """Whether nothing at all tells a distance."""
        return not (self.counter.time_s.size or self.spoken.time_s.size or self.known)


def moment_s(finding: Finding) -> float | None:
    """Return the moment of film that shows a finding: the middle of the talk about it.

    The end of the run is where the talk about it ends, its start where that begins.
    """
    if finding.facts.feature is Feature.END and finding.end_s is not None:
        return finding.end_s
    if finding.facts.feature is Feature.START and finding.start_s is not None:
        return finding.start_s
    if finding.start_s is not None and finding.end_s is not None:
        return 0.5 * (finding.start_s + finding.end_s)
    if finding.start_s is not None:
        return finding.start_s
    frames = finding.evidence.frames_s
    return float(np.mean(frames)) if frames else None


def given_station(finding: Finding) -> tuple[float, float] | None:
    """Return the station a person gave for a finding (value, sd); the edit outranks."""
    edited = finding.edit.station_m if finding.edit else None
    for stated in (edited, finding.station_m):
        if stated is not None and stated.value is not None:
            return stated.value, max(stated.spread, 1e-3)
    return None


def lead_m(finding: Finding) -> tuple[float, float]:
    """Return how far ahead of the lens a finding lies at its moment: mean and sd.

    Where a run begins and ends, and what befalls the lens itself, is at the lens.
    """
    return (0.0, 0.0) if finding.facts.feature in AT_THE_LENS else priors.LEAD_M


def run_of(finding: Finding, job: Job) -> str | None:
    """Return the run a finding was seen in; with a single run it can only be that one."""
    if finding.evidence.run_id is not None:
        return finding.evidence.run_id
    if len(job.runs) == 1 and moment_s(finding) is not None:
        return job.runs[0].id
    return None


def gather(
    job: Job,
    run: Run,
    track: SightTrack | None,
    heard: Heard | None,
    findings: Iterable[Finding],
) -> RunEvidence:
    """Gather the evidence of one run."""
    locates = [one for one in job.locates if _belongs(one, run, job)]
    mine = [one for one in findings if run_of(one, job) == run.id]
    counter = _film_counter(track)
    spoken = _spoken(heard)
    sign = -1.0 if run.reversed_stationing else 1.0
    known = tuple(_known(mine, locates, sign))
    times = [counter.time_s, spoken.time_s, np.array([one.time_s for one in known])]
    times.append(np.array([t for one in mine if (t := moment_s(one)) is not None]))
    times.append(np.array([one.time_s for one in locates if one.time_s is not None]))
    if track is not None and track.film.duration_s:
        times.append(np.array([0.0, track.film.duration_s]))
    every = np.concatenate(times)
    evidence = RunEvidence(
        run_id=run.id,
        sign=sign,
        start_m=run.start_station_m.value or 0.0,
        start_sd_m=min(max(run.start_station_m.spread, 1e-3), 500.0),
        counter=counter,
        spoken=spoken,
        resets=_resets(track),
        known=known,
        motion=track.motion if track else (),
        joints=tuple((one.time_s, one.forwards) for one in track.joints) if track else (),
        begin_s=float(every.min(initial=0.0)) if every.size else 0.0,
        end_s=float(every.max()) if every.size else 0.0,
    )
    if evidence.silent:
        return _counter_as_clock(evidence, locates)
    return _right_way(_with_noted_counters(evidence, locates))


def _right_way(evidence: RunEvidence) -> RunEvidence:
    """Turn round a counter that runs backwards while the picture goes forwards."""
    counter = evidence.counter
    lost = gained = 0.0
    for stretch in evidence.motion:
        inside = (counter.time_s >= stretch.start_s) & (counter.time_s <= stretch.end_s)
        if stretch.kind is not MotionKind.ADVANCING or inside.sum() < LEAST_READINGS:
            continue
        value = counter.value_m[inside]
        third = max(1, value.size // 3)
        change = float(np.median(value[-third:]) - np.median(value[:third]))
        lost, gained = lost - min(change, 0.0), gained + max(change, 0.0)
    if lost < WRONG_WAY_M or lost < WRONG_WAY_RATIO * gained:
        return evidence
    turned = replace(counter, value_m=-counter.value_m)
    resets = tuple((moment, -jump) for moment, jump in evidence.resets)
    return replace(evidence, counter=turned, resets=resets, wrong_way_m=lost)


def _belongs(locate: Locate, run: Run, job: Job) -> bool:
    return locate.run_id == run.id or (locate.run_id is None and len(job.runs) == 1)


def _film_counter(track: SightTrack | None) -> CounterSays:
    readings = [
        (one.time_s, one.distance_m, one.confidence)
        for one in (track.counter.readings if track else ())
        if one.distance_m is not None
    ]
    table = np.array(readings, dtype=float).reshape(-1, 3)
    resolution = (track.counter.resolution_m if track else None) or 0.03
    sd = float(np.hypot(resolution / np.sqrt(12.0), priors.COUNTER_READING_M))
    gross = np.clip(1.0 - table[:, 2], 0.002, 0.9)
    return CounterSays(
        table[:, 0], table[:, 1], np.full(len(table), sd), gross, priors.COUNTER_MISREAD_M
    )


def _spoken(heard: Heard | None) -> CounterSays:
    said = [
        (one.time_s, one.distance_m.value, max(one.distance_m.spread, priors.SPOKEN_M))
        for one in (heard.stations if heard else ())
        if one.distance_m.value is not None
    ]
    table = np.array(said, dtype=float).reshape(-1, 3)
    share, spread = priors.SPOKEN_GROSS
    return CounterSays(table[:, 0], table[:, 1], table[:, 2], np.full(len(table), share), spread)


def _resets(track: SightTrack | None) -> tuple[tuple[float, float], ...]:
    if track is None:
        return ()
    return tuple((one.time_s, one.before_m - one.after_m) for one in track.counter.resets)


def _known(
    findings: Iterable[Finding], locates: Iterable[Locate], sign: float
) -> Iterable[KnownStation]:
    for finding in findings:
        time, station = moment_s(finding), given_station(finding)
        if time is not None and station is not None:
            yield lens_at(finding, time, station, sign, f"finding {finding.id}")
    for locate in locates:
        stated = locate.station_m
        if locate.time_s is not None and stated is not None and stated.value is not None:
            sd = max(stated.spread, 0.02)
            yield KnownStation(locate.time_s, stated.value, sd, f"locate {locate.id}")


def lens_at(
    finding: Finding, time_s: float, station: tuple[float, float], sign: float, name: str
) -> KnownStation:
    """Return where the lens is at the moment of a finding whose station is known (value, sd)."""
    lead, lead_sd = lead_m(finding)
    sd = math.hypot(station[1], priors.MOMENT_M, lead_sd)
    return KnownStation(time_s, station[0] - sign * lead, sd, name, sign * lead)


def _noted(locates: Iterable[Locate]) -> list[Locate]:
    return [one for one in locates if one.counter_m is not None and one.station_m is None]


def _with_noted_counters(evidence: RunEvidence, locates: list[Locate]) -> RunEvidence:
    """Let a counter value noted beside a timed locate count as one more reading."""
    noted = [(one.time_s, one.counter_m) for one in _noted(locates) if one.time_s is not None]
    if not noted:
        return evidence
    return replace(evidence, counter=_appended(evidence.counter, noted))


def _counter_as_clock(evidence: RunEvidence, locates: list[Locate]) -> RunEvidence:
    """Without film, talk or typed stations the counter noted beside locates is the clock."""
    noted = sorted((one.counter_m, one.counter_m) for one in _noted(locates))
    if not noted:
        return evidence
    last = max(value for value, _ in noted if value is not None)
    return replace(
        evidence,
        counter=_appended(evidence.counter, [(0.0, 0.0), *noted]),
        begin_s=0.0,
        end_s=float(last),
        timed=False,
    )


def _appended(
    counter: CounterSays, noted: Sequence[tuple[float | None, float | None]]
) -> CounterSays:
    table = np.array(noted, dtype=float).reshape(-1, 2)
    return CounterSays(
        np.concatenate([counter.time_s, table[:, 0]]),
        np.concatenate([counter.value_m, table[:, 1]]),
        np.concatenate([counter.sd_m, np.full(len(table), priors.STATED_COUNTER_M)]),
        np.concatenate([counter.gross, np.full(len(table), 0.02)]),
        counter.gross_sd_m,
    )
