"""What was not seen, and what was seen but not spoken of."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

import numpy as np

from saltglaze.model.appraisal import NotSeen, Position, Stationing, Unspoken
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, Finding
from saltglaze.model.job import Job
from saltglaze.model.run import Direction, Run
from saltglaze.model.track import Candidate, SightTrack, ViewState

SPOKEN_NEAR_S: Final = 6.0
"""A candidate this close to a finding in the film counts as spoken of."""

LEAST_FAST: Final = 0.05
"""A smaller share of the film gone too fast is not told."""

LEAST_UNSEEN_M: Final = 0.5
"""A shorter stretch before the film begins is not told."""

WORTH_TELLING_S: Final = 1.5
"""Shorter blind moments are not told."""

_PLAIN: Final = {
    ViewState.DARK: "the picture was dark",
    ViewState.FOULED: "the lens was fouled",
    ViewState.FOGGED: "the lens was fogged",
    ViewState.UNDER_WATER: "the lens was under water",
    ViewState.GLARE: "glare hid the wall",
    ViewState.OFF_AXIS: "the camera did not look along the pipe",
}


def station_at(stationing: Stationing | None, time_s: float) -> Estimate:
    """Return the lens's station at a moment of film, interpolated between samples."""
    if stationing is None or not stationing.samples:
        why = stationing.unknown_because if stationing else None
        return Estimate.unknown(why or "no station is known for this film")
    times = [sample.time_s for sample in stationing.samples]
    value = np.interp(time_s, times, [sample.station_m for sample in stationing.samples])
    sd = np.interp(time_s, times, [sample.sd_m for sample in stationing.samples])
    return Estimate.of(float(value), float(sd))


def unspoken(
    tracks: Iterable[SightTrack],
    findings: Iterable[Finding],
    position: Position,
    runs: Sequence[Run],
) -> tuple[Unspoken, ...]:
    """Return candidates of the eye that no finding is near, strongest first."""
    by_run = {stationing.run_id: stationing for stationing in position.stationings}
    views = {run.id: run.direction for run in runs}
    told = [(f.evidence.run_id, f.start_s, f.end_s) for f in findings]
    rows = [
        Unspoken(
            run_id=track.run_id,
            time_s=candidate.time_s,
            station_m=station_at(by_run.get(track.run_id), candidate.time_s),
            clock=_clock(candidate, views.get(track.run_id)),
            look=candidate.look,
            strength=candidate.strength,
        )
        for track in tracks
        for candidate in track.candidates
        if not any(_near(candidate, track.run_id, *place) for place in told)
    ]
    return tuple(sorted(rows, key=lambda row: -row.strength))


def _near(
    candidate: Candidate,
    run_id: str,
    told_run: str | None,
    start_s: float | None,
    end_s: float | None,
) -> bool:
    if told_run != run_id or start_s is None:
        return False
    return start_s - SPOKEN_NEAR_S <= candidate.time_s <= (end_s or start_s) + SPOKEN_NEAR_S


def _clock(candidate: Candidate, view: Direction | None) -> Clock | None:
    if candidate.clock_deg is None:
        return None
    return Clock(from_h=candidate.clock_deg / 30.0 % 12.0, view=view, because="roll")


def not_seen(job: Job, tracks: Sequence[SightTrack], position: Position) -> tuple[NotSeen, ...]:
    """Return the stretches of film and of line that could not be judged, and why."""
    by_run = {stationing.run_id: stationing for stationing in position.stationings}
    rows = [row for track in tracks for row in _blind(track, by_run.get(track.run_id))]
    rows += [_broken_off(track, by_run.get(track.run_id)) for track in tracks if _broke(track)]
    rows += [_hurried(share) for track in tracks if (share := _fast_share(track)) > LEAST_FAST]
    rows += _before(position)
    rows += _beyond(job, position)
    if not tracks:
        rows.append(NotSeen(why="no film was looked at"))
    return tuple(rows)


def _blind(track: SightTrack, stationing: Stationing | None) -> Iterable[NotSeen]:
    for stretch in track.view:
        if stretch.state in _PLAIN and stretch.end_s - stretch.start_s >= WORTH_TELLING_S:
            yield NotSeen(
                from_m=station_at(stationing, stretch.start_s),
                to_m=station_at(stationing, stretch.end_s),
                from_s=stretch.start_s,
                to_s=stretch.end_s,
                why=_PLAIN[stretch.state],
            )


def _fast_share(track: SightTrack) -> float:
    whole = sum(view.end_s - view.start_s for view in track.view)
    fast = (v.end_s - v.start_s for v in track.view if v.state is ViewState.TOO_FAST)
    return sum(fast) / whole if whole else 0.0


def _hurried(share: float) -> NotSeen:
    """One row for all that went by too fast: it was seen, but not closely."""
    return NotSeen(
        why=f"on {round(share * 100)} % of the film the camera moved faster than 30 ft (9.1 m) "
        "a minute: small faults may have gone by there unseen"
    )


def _broke(track: SightTrack) -> bool:
    return track.film.broke_off_at_s is not None


def _broken_off(track: SightTrack, stationing: Stationing | None) -> NotSeen:
    at_s = track.film.broke_off_at_s or 0.0
    return NotSeen(
        from_m=station_at(stationing, at_s),
        from_s=at_s,
        why=f"the film breaks off: {track.film.broke_off_because or 'the file is damaged'}",
    )


def _before(position: Position) -> Iterable[NotSeen]:
    """The part of the line before the first place that any run looked at."""
    seen = [sample for s in position.stationings for sample in s.samples]
    if not seen:
        return
    first = min(seen, key=lambda sample: sample.station_m)
    if first.station_m > LEAST_UNSEEN_M + 2.0 * first.sd_m:
        begins = Estimate.of(first.station_m, first.sd_m)
        yield NotSeen(
            from_m=Estimate.of(0.0, 0.0), to_m=begins, why="the film begins further along the line"
        )


def _beyond(job: Job, position: Position) -> Iterable[NotSeen]:
    """The part of a line of known length that no run reached."""
    length = job.line.length_m
    reached = [s.furthest_m for s in position.stationings if s.furthest_m.known]
    if length is None or length.value is None or not reached:
        return
    furthest = max(reached, key=lambda estimate: estimate.value or 0.0)
    gap = length.value - (furthest.value or 0.0)
    if gap > 2.0 * (length.spread**2 + furthest.spread**2) ** 0.5:
        yield NotSeen(from_m=furthest, to_m=length, why="the camera did not reach it")
