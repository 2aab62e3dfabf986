"""Which stages of the main job had evidence to work on, and what the others lack."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from saltglaze.model.appraisal import Position, StageState
from saltglaze.model.job import Job
from saltglaze.model.track import SightTrack


def stages(job: Job, tracks: Sequence[SightTrack], position: Position) -> tuple[StageState, ...]:
    """Return each stage: done, or skipped and why."""
    return tuple(
        StageState(stage=name, done=not why, why=why) for name, why in _lacks(job, tracks, position)
    )


def _lacks(job: Job, tracks: Sequence[SightTrack], position: Position) -> Iterator[tuple[str, str]]:
    """Yield each stage with what it lacks; empty where it lacks nothing."""
    counters = [track.counter for track in tracks]
    unread = next((c.unread_because for c in counters if c.unread_because), None)
    read = any(c.readings for c in counters)
    yield "watching the film", "" if tracks else "the job names no film"
    yield "reading the counter", "" if read else unread or "no film, so no counter"
    talked = any(talk.transcript.cues for talk in job.talks)
    yield "listening to the talk", "" if talked else "the job names no talk, or it is empty"
    placed = any(s.samples for s in position.stationings)
    typed = any(f.station_m and f.station_m.known for f in job.typed)
    nothing = "neither counter nor spoken nor typed distances"
    yield "stations along the pipe", "" if placed or typed else nothing
    yield "plan on the ground", "" if position.paths else "no surface point ties the line down"
    levels = any(
        p.invert_level_m and p.invert_level_m.known
        for path in position.paths[:1]
        for p in path.points
    )
    yield "levels and fall", "" if levels else "no depths or levels"
    yield "change since last time", "" if job.history.visits else "no former record of this line"
    yield "jetting passes", "" if job.passes else "no passes noted"
    yield "whose ground it is", "" if job.parcels else "no parcels given"
