"""Small hand-made evidence: films, findings, locates whose truth is plain."""

from __future__ import annotations

from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.frame import FilmFacts
from saltglaze.model.ground import FixKind, Locate, MarkedFeature, PlanPoint
from saltglaze.model.job import Job
from saltglaze.model.line import Line
from saltglaze.model.run import Run
from saltglaze.model.track import CounterReading, CounterTrack, SightTrack
from saltglaze.position.priors import LEAD_M

SPEED = 0.1
LEAD = LEAD_M[0]
"""What is named lies this far ahead of the lens (a declared prior, no source)."""


def counter(times, values, confidence=0.99, resets=()):
    """A counter track with one reading a moment."""
    readings = tuple(
        CounterReading(time_s=float(t), distance_m=float(v), confidence=confidence)
        for t, v in zip(times, values, strict=True)
    )
    return CounterTrack(readings=readings, resets=tuple(resets), resolution_m=0.03)


UNREAD = CounterTrack()


def film(track=UNREAD, seconds=300.0, run_id="r1", **more):
    """A film with what was read of it."""
    facts = FilmFacts(width_px=640, height_px=480, duration_s=seconds)
    return SightTrack(run_id=run_id, film=facts, counter=track, **more)


def steady(seconds=300, scale=1.0, **more):
    """A film of a head that goes 0.1 m/s for ever; the counter reads ``1/scale`` of it."""
    times = [0.5 * n for n in range(2 * seconds)]
    return film(counter(times, [SPEED * t / scale for t in times]), float(seconds), **more)


def seen(name, time_s=None, station=None, feature=Feature.HOLE, run_id="r1", **facts):
    """A finding at a moment of film, or at a typed station."""
    evidence = Evidence(
        drafted_by=DraftedBy.NARRATION if station is None else DraftedBy.TYPED, run_id=run_id
    )
    return Finding(
        id=name,
        draft=Facts(feature=feature, **facts),
        evidence=evidence,
        start_s=time_s,
        station_m=None if station is None else Estimate.of(station, 0.1),
    )


def spot(name, east, north, time_s=None, **more):
    """A locate at a plan point known to 5 cm, marked midway between the nulls."""
    told = {"run_id": "r1", "fix": FixKind.KNOWN, "marked": MarkedFeature.BETWEEN_NULLS} | more
    return Locate(id=name, point=PlanPoint(east_m=east, north_m=north), time_s=time_s, **told)


def job(locates=(), runs=None, line=None, **more):
    """A job with one run, the transmitter at the lens."""
    runs = (Run(id="r1", sonde_behind_lens_m=0.0),) if runs is None else runs
    return Job(
        id="job", invented=True, line=line or Line(id="line"), runs=runs, locates=locates, **more
    )
