"""Every locate as a point on the ground with its covariance, and its station on the line.

A mark on the ground is a feature of the transmitter's field, not the transmitter: the
shift along the pipe is carried into the *station* of the mark (transmitter, plus how far
the marked feature lies ahead of it), so that no bearing of the pipe needs to be known
here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

from saltglaze.errors import InputError
from saltglaze.model.appraisal import Check, SurfacePoint, Verdict
from saltglaze.model.base import Estimate
from saltglaze.model.ground import Locate, Mark, MarkedFeature
from saltglaze.model.job import Job
from saltglaze.model.run import Run
from saltglaze.position.depths import depth_of, fitted
from saltglaze.position.fixes import ground_point
from saltglaze.position.mirrors import rule_out_mirrors
from saltglaze.position.transmitter import mark_station


def adjust_surface_points(
    job: Job, stations: Mapping[str, Estimate] | None = None
) -> tuple[tuple[SurfacePoint, ...], tuple[Check, ...]]:
    """Return every locate as a plan point with covariance, and what was noticed.

    Parameters
    ----------
    job
        The evidence; locates, ties, marks, runs and outlines are read.
    stations
        Station of the transmitter by locate id, where time or counter told it (the lens
        less how far the transmitter trails it). A locate not named here and without
        ``station_m`` keeps an unknown station.

    Raises
    ------
    InputError
        For ids used twice, ties or offsets that name an unknown mark or point, and
        distances that cannot be.
    """
    marks = _by_id(job)
    runs = {run.id: run for run in job.runs}
    points: list[SurfacePoint] = []
    checks: list[Check] = []
    for locate in job.locates:
        run = runs.get(locate.run_id or "")
        point, said = _surface_point(job, locate, marks, run, stations or {})
        checks += said
        if point is not None:
            points.append(point)
    settled, mirror_checks = rule_out_mirrors(points, job)
    return settled, (*checks, *mirror_checks)


def _surface_point(
    job: Job,
    locate: Locate,
    marks: Mapping[str, Mark],
    run: Run | None,
    stations: Mapping[str, Estimate],
) -> tuple[SurfacePoint | None, list[Check]]:
    fit, checks = fitted(locate)
    fixed, mirror, said = ground_point(job, locate, marks, fit)
    checks += said
    if fixed is None:
        return None, checks
    point, covariance = fixed
    depth, said = depth_of(locate, run, fit)
    checks += said
    if locate.marked is MarkedFeature.NOT_STATED:
        checks.append(_not_stated(locate))
    known = locate.station_m is not None and locate.station_m.known
    transmitter = locate.station_m if known else stations.get(locate.id)
    return (
        SurfacePoint(
            locate_id=locate.id,
            point=point,
            covariance=covariance,
            station_m=mark_station(locate, run, transmitter, depth),
            depth_m=depth,
            mirror=mirror,
            note=locate.note,
        ),
        checks,
    )


def _by_id(job: Job) -> dict[str, Mark]:
    _unique("marks", (mark.id for mark in job.marks))
    _unique("locates", (locate.id for locate in job.locates))
    marks = {mark.id: mark for mark in job.marks}
    tied = {locate.id for locate in job.locates} | {level.id for level in job.levels} | {"start"}
    for number, tie in enumerate(job.ties, start=1):
        if tie.mark_id not in marks:
            raise InputError(
                f"mark {tie.mark_id!r} is not among the marks",
                where=f"ties, entry {number}, mark_id",
                expected=", ".join(sorted(marks)) or "at least one mark",
            )
        if tie.point_id not in tied:
            raise InputError(
                f"point {tie.point_id!r} is no locate",
                where=f"ties, entry {number}, point_id",
                expected=", ".join(sorted(tied)),
            )
    return marks


def _unique(field: str, ids: Iterable[str]) -> None:
    twice = sorted(name for name, count in Counter(ids).items() if count > 1)
    if twice:
        raise InputError(f"id {twice[0]!r} is used more than once", where=field, mend="rename one")


def _not_stated(locate: Locate) -> Check:
    return Check(
        name="marked feature not stated",
        verdict=Verdict.NOTE,
        reason="nobody said which feature of the signal was marked, "
        "so the mark is loose along the line",
        about=locate.id,
        mend="mark midway between the two nulls, and say so",
    )
