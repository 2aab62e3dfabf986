"""How each kind of fix gives a ground point: coordinates, tapes, an offset from a wall."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Final

import numpy as np

from saltglaze.errors import InputError
from saltglaze.model.appraisal import Check, Verdict
from saltglaze.model.ground import FixKind, Locate, Mark, MarkedFeature, PlanCovariance, PlanPoint
from saltglaze.model.job import Job
from saltglaze.position.sonde.fit import DipoleFit
from saltglaze.position.ties import (
    MISFIT_RATIO,
    TapedDistance,
    TieFix,
    adjust_ties,
    level_distance,
)

GNSS_STATED_FACTOR: Final = 3.0
"""Receiver-stated accuracy is often a 50 or 68 % figure without multipath; field users
triple it (confirmed: receiver users' forum, in the field methods dossier)."""

DEFAULT_SD_M: Final[dict[FixKind, float]] = {
    FixKind.GNSS_RTK: 0.06,  # 1-2 cm as sold (confirmed), tripled near walls
    FixKind.GNSS_SBAS: 0.8,  # 1-2 m (confirmed) read as a 95 % radius: 2 m / 2.45
    FixKind.GNSS_PHONE: 2.0,  # 4.9 m under open sky (confirmed) as a 95 % radius / 2.45
    FixKind.PICKED: 0.8,  # outline and picking on a map: common practice, no source
    FixKind.KNOWN: 0.05,  # common practice, no source
}
"""One sd per axis where none is stated, metres."""

_GNSS: Final = frozenset({FixKind.GNSS_RTK, FixKind.GNSS_SBAS, FixKind.GNSS_PHONE})


def point_sd_m(fix: FixKind, stated_m: float | None) -> float:
    """Return the sd per axis used for a point: stated GNSS accuracy is tripled, else defaults."""
    if stated_m is None:
        return DEFAULT_SD_M[fix]
    return stated_m * (GNSS_STATED_FACTOR if fix in _GNSS else 1.0)


def ground_point(
    job: Job, locate: Locate, marks: Mapping[str, Mark], fit: DipoleFit | None
) -> tuple[tuple[PlanPoint, PlanCovariance] | None, PlanPoint | None, list[Check]]:
    """Return (point and covariance, mirror solution, checks)."""
    if locate.marked is MarkedFeature.FIT and fit is not None:
        sd = 0.0 if locate.point_sd_m is None else point_sd_m(locate.fix, locate.point_sd_m)
        return (fit.point, widened(fit.covariance, sd)), None, []
    match locate.fix:
        case FixKind.TIES:
            return _by_ties(job, locate, marks)
        case FixKind.OFFSET:
            return _by_offset(locate, marks)
        case _:
            return _as_given(locate)


def _as_given(
    locate: Locate,
) -> tuple[tuple[PlanPoint, PlanCovariance] | None, PlanPoint | None, list[Check]]:
    if locate.point is None:
        return None, None, [_no_point(locate, "no coordinates are given")]
    sd = point_sd_m(locate.fix, locate.point_sd_m)
    checks = []
    if sd > 1.0:
        checks.append(
            Check(
                name="fix too coarse",
                verdict=Verdict.NOTE,
                reason=f"a fix good to {sd:.1f} m an axis hardly places a drain",
                about=locate.id,
                mend="tape it from two fixed corners",
            )
        )
    return (locate.point, round_covariance(sd)), None, checks


def _by_ties(
    job: Job, locate: Locate, marks: Mapping[str, Mark]
) -> tuple[tuple[PlanPoint, PlanCovariance] | None, PlanPoint | None, list[Check]]:
    taped = [level_distance(t, marks[t.mark_id]) for t in job.ties if t.point_id == locate.id]
    if len({t.mark.id for t in taped}) < 2:
        return None, None, [_no_point(locate, "fewer than two marks are taped to it")]
    fix = adjust_ties(taped)
    fix = _nearer_the_hint(fix, locate.point)
    return (fix.point, fix.covariance), fix.mirror, _tie_checks(locate, fix, taped)


def _nearer_the_hint(fix: TieFix, hint: PlanPoint | None) -> TieFix:
    """Return the fix with the solution first that lies nearer to a point picked roughly."""
    if hint is None or fix.mirror is None or fix.mirror_covariance is None:
        return fix
    if _apart_m(fix.mirror, hint) >= _apart_m(fix.point, hint):
        return fix.without_mirror()
    return fix.swapped().without_mirror()


def _tie_checks(locate: Locate, fix: TieFix, taped: Sequence[TapedDistance]) -> list[Check]:
    checks = []
    if fix.misfit_ratio > MISFIT_RATIO:
        checks.append(
            Check(
                name="ties disagree",
                verdict=Verdict.DOUBT,
                reason=f"{len(taped)} ties miss each other by {fix.misfit_m:.2f} m "
                f"({fix.misfit_ratio:.1f} sd), most at mark {fix.worst_mark_id}",
                about=locate.id,
                mend="tape them again, or check which corner was used",
            )
        )
    if fix.flat:
        checks.append(
            Check(
                name="ties cross flat",
                verdict=Verdict.DOUBT,
                reason="the tapes cross at a flat angle, so the point is loose across them",
                about=locate.id,
                mend="tape from a mark off to the side",
            )
        )
    return checks


def _by_offset(
    locate: Locate, marks: Mapping[str, Mark]
) -> tuple[tuple[PlanPoint, PlanCovariance] | None, PlanPoint | None, list[Check]]:
    offset = locate.offset
    if offset is None:
        return None, None, [_no_point(locate, "no offset from a wall line is given")]
    for field, mark_id in (("from_mark", offset.from_mark), ("to_mark", offset.to_mark)):
        if mark_id not in marks:
            raise InputError(
                f"mark {mark_id!r} is not among the marks", where=f"locate {locate.id}, {field}"
            )
    start, end = marks[offset.from_mark], marks[offset.to_mark]
    wall = np.array(
        [end.point.east_m - start.point.east_m, end.point.north_m - start.point.north_m]
    )
    base = float(np.hypot(*wall))
    if base < 1e-6:
        raise InputError("the wall line has no length", where=f"locate {locate.id}, offset")
    along, right = wall / base, np.array([wall[1], -wall[0]]) / base
    place = offset.along_m * along + offset.right_m * right
    # Errors of the two marks: shifted along the wall, and turned with it.
    share = offset.along_m / base
    slide = start.sd_m**2 + (offset.right_m / base) ** 2 * (start.sd_m**2 + end.sd_m**2)
    turn = (1.0 - share) ** 2 * start.sd_m**2 + share**2 * end.sd_m**2
    basis = np.vstack([along, right])
    cov = basis.T @ np.diag([offset.sd_m**2 + slide, offset.sd_m**2 + turn]) @ basis
    point = PlanPoint(
        east_m=start.point.east_m + float(place[0]), north_m=start.point.north_m + float(place[1])
    )
    covariance = PlanCovariance(
        east_east_m2=float(cov[0, 0]),
        north_north_m2=float(cov[1, 1]),
        east_north_m2=float(cov[0, 1]),
    )
    return (point, covariance), None, []


def _no_point(locate: Locate, why: str) -> Check:
    return Check(
        name="locate without a place",
        verdict=Verdict.DOUBT,
        reason=f"{why}; it cannot help to place the line",
        about=locate.id,
        mend="tape it from two marks, or pick it on the drawing",
    )


def round_covariance(sd_m: float) -> PlanCovariance:
    """Return the covariance of a point with the same sd on both axes."""
    return PlanCovariance(east_east_m2=sd_m**2, north_north_m2=sd_m**2)


def widened(covariance: PlanCovariance, sd_m: float) -> PlanCovariance:
    """Return a covariance with an independent round error added."""
    return PlanCovariance(
        east_east_m2=covariance.east_east_m2 + sd_m**2,
        north_north_m2=covariance.north_north_m2 + sd_m**2,
        east_north_m2=covariance.east_north_m2,
    )


def _apart_m(one: PlanPoint, other: PlanPoint) -> float:
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)
