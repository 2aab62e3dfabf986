"""Tape ties: where a point lies whose distances from known marks were taped.

Two ties meet in two points; each is kept, with its covariance, until something rules
one out. Three or more are adjusted by weighted least squares (Gauss-Newton on the
distances). Every distance's variance is the tape's plus the mark's along the tape.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.errors import InputError
from saltglaze.model.ground import Mark, PlanCovariance, PlanPoint, Tie

Array = NDArray[np.float64]

TAPE_END_SD_M: Final = 0.02
"""Hooking on a corner, plumbing down, painting the spot: common practice, no source."""
TAPE_SHARE_SD: Final = 0.002
"""Sag, pull and lie of the tape, 2 mm a metre: common practice, no source."""

POOR_CROSSING_DEG: Final = 20.0
"""Circles that cross flatter than this fix the point badly: common practice, no source
(plane-table and swing-tie rules ask for 30 to 150 degrees)."""

MIRROR_CHI2: Final = 9.0
"""The other solution is ruled out where its chi-square is this much worse (3 sd)."""

MISFIT_RATIO: Final = 3.0
"""Ties that miss each other by more than this many sd are named as contradictory."""


@dataclass(frozen=True)
class TapedDistance:
    """A level distance from a mark, with the sd of tape and mark along it, metres."""

    mark: Mark
    distance_m: float
    sd_m: float


@dataclass(frozen=True)
class TieFix:
    """A point fixed by ties.

    ``mirror`` is the other solution where nothing in the ties rules it out;
    ``misfit_m`` the largest residual and ``misfit_ratio`` the same over its sd;
    ``worst_mark_id`` names whose it is. ``flat`` says that the circles barely cross.
    """

    point: PlanPoint
    covariance: PlanCovariance
    mirror: PlanPoint | None = None
    mirror_covariance: PlanCovariance | None = None
    misfit_m: float = 0.0
    misfit_ratio: float = 0.0
    worst_mark_id: str = ""
    chi2: float = 0.0
    degrees_of_freedom: int = 0
    flat: bool = False

    def without_mirror(self) -> TieFix:
        """Return the fix with its other solution ruled out."""
        return replace(self, mirror=None, mirror_covariance=None)

    def swapped(self) -> TieFix:
        """Return the fix with the two solutions changed over."""
        if self.mirror is None or self.mirror_covariance is None:
            return self
        return replace(
            self,
            point=self.mirror,
            covariance=self.mirror_covariance,
            mirror=self.point,
            mirror_covariance=self.covariance,
        )


def tape_sd_m(distance_m: float) -> float:
    """Return the default sd of a taped distance: 2 cm and 2 mm a metre, root sum of squares.

    Common practice, no source.
    """
    return math.hypot(TAPE_END_SD_M, TAPE_SHARE_SD * distance_m)


def level_distance(tie: Tie, mark: Mark) -> TapedDistance:
    """Return a tie reduced to level (distance times cosine of its slope), with its sd.

    Raises
    ------
    InputError
        If the distance is not above zero or the slope is 60 degrees or more.
    """
    where = f"tie from mark {tie.mark_id} to {tie.point_id}"
    if not tie.distance_m > 0.0:
        raise InputError("distance is not above zero", where=where, expected="metres above 0")
    slope_deg = tie.slope_deg or 0.0
    if abs(slope_deg) >= 60.0:
        raise InputError(
            f"tape slope of {slope_deg:g} degrees", where=where, expected="less than 60 degrees"
        )
    distance_m = tie.distance_m * math.cos(math.radians(slope_deg))
    tape_sd = tie.sd_m if tie.sd_m is not None else tape_sd_m(tie.distance_m)
    return TapedDistance(mark, distance_m, math.hypot(tape_sd, mark.sd_m))


def adjust_ties(taped: Sequence[TapedDistance]) -> TieFix:
    """Return the point that two or more taped distances fix.

    Contradictory ties never raise: circles that do not meet give the point between
    them, with the misfit said.

    Raises
    ------
    InputError
        With fewer than two distances, or where all marks are one point.
    """
    if len(taped) < 2:
        raise InputError(
            "one tie fixes no point", expected="ties from two or more marks", mend="tape another"
        )
    first, second = _widest_pair(taped)
    pair = swing_tie(first, second)
    if len(taped) == 2:
        return pair
    starts = [pair.point] if pair.mirror is None else [pair.point, pair.mirror]
    if pair.flat:
        starts += _nudged(pair.point, first, second)
    fits = sorted((_least_squares(taped, start) for start in starts), key=lambda fit: fit.chi2)
    best, others = fits[0], fits[1:]
    rivals = [fit for fit in others if _apart_m(fit.point, best.point) > 1e-3]
    rivals = [fit for fit in rivals if fit.chi2 - best.chi2 < MIRROR_CHI2]
    return _with_mirror(best, rivals[0] if rivals else None)


def swing_tie(one: TapedDistance, other: TapedDistance) -> TieFix:
    """Return the crossing of two circles: the solution left of one-to-other, and its mirror.

    Along the line of marks the point lies at ``a = (r1^2 - r2^2 + c^2) / 2c``; across it
    at ``+-sqrt(h)`` with ``h = r1^2 - a^2`` (plane geometry). Where the circles barely
    meet, ``h`` is about zero or negative; then the spread of ``y`` is taken from the
    density ``exp(-(y^2 - h)^2 / 2 s^2)``, which a flat prior in plan gives, and the two
    solutions become one if they run into each other.

    Raises
    ------
    InputError
        If the two marks are the same point.
    """
    ax, ay = one.mark.point.east_m, one.mark.point.north_m
    bx, by = other.mark.point.east_m, other.mark.point.north_m
    base_m = math.hypot(bx - ax, by - ay)
    if base_m < 1e-6:
        raise InputError(
            f"marks {one.mark.id} and {other.mark.id} are the same point",
            where="marks",
            mend="tape from two marks that stand apart",
        )
    r1, r2, s1, s2 = one.distance_m, other.distance_m, one.sd_m, other.sd_m
    along = (r1**2 - r2**2 + base_m**2) / (2.0 * base_m)
    square = r1**2 - along**2
    # h = r1^2 - a^2 with a(r1, r2): its variance by propagation.
    dh1 = 2.0 * r1 * (1.0 - along / base_m)
    dh2 = 2.0 * along * r2 / base_m
    square_sd = math.hypot(dh1 * s1, dh2 * s2)
    unit = np.array([[(bx - ax) / base_m, (by - ay) / base_m]])
    basis = np.vstack([unit, [[-unit[0, 1], unit[0, 0]]]])  # rows: along, across
    across, across_var, split = _across(square, square_sd)
    misfit_m, misfit_ratio = _gap(r1, r2, base_m, s1, s2)

    def fix(side: float) -> tuple[PlanPoint, PlanCovariance]:
        local = np.array([along, side * across])
        east, north = np.array([ax, ay]) + basis.T @ local
        cov = _swing_covariance(along, side * across, base_m, (r1, r2), (s1, s2), across_var, split)
        return PlanPoint(east_m=float(east), north_m=float(north)), _plan(basis.T @ cov @ basis)

    point, covariance = fix(1.0)
    mirror, mirror_covariance = fix(-1.0) if split else (None, None)
    return TieFix(
        point=point,
        covariance=covariance,
        mirror=mirror,
        mirror_covariance=mirror_covariance,
        misfit_m=misfit_m,
        misfit_ratio=misfit_ratio,
        worst_mark_id=one.mark.id if misfit_m > 0.0 else "",
        chi2=misfit_ratio**2,
        flat=crossing_deg(one.mark.point, other.mark.point, point) < POOR_CROSSING_DEG,
    )


def _across(square: float, square_sd: float) -> tuple[float, float, bool]:
    """Return (distance off the line of marks, its variance, whether two solutions stand apart)."""
    if square > 0.0 and square_sd < 0.25 * square:
        offset = math.sqrt(square)
        return offset, (square_sd / (2.0 * offset)) ** 2, True
    top = math.sqrt(max(square, 0.0) + 6.0 * square_sd)
    y = np.linspace(0.0, top, 2001)
    weight = np.exp(
        -0.5 * ((y**2 - square) / square_sd) ** 2 + 0.5 * (min(square, 0.0) / square_sd) ** 2
    )
    weight /= weight.sum()
    between = math.exp(-0.5 * (max(square, 0.0) / square_sd) ** 2)
    if between > 0.05:  # the valley between the two is no valley: one solution on the line
        return 0.0, float(weight @ y**2), False
    mean = float(weight @ y)
    return mean, float(weight @ (y - mean) ** 2), True


def _swing_covariance(
    along: float,
    across: float,
    base_m: float,
    radii: tuple[float, float],
    sds: tuple[float, float],
    across_var: float,
    split: bool,
) -> Array:
    """Return the (along, across) covariance of a crossing of two circles."""
    var = np.array(sds) ** 2
    d_along = np.array([radii[0], -radii[1]]) / base_m
    along_var = float(d_along**2 @ var)
    if not split or across == 0.0:
        return np.diag([along_var, across_var])
    d_square = np.array([2.0 * radii[0] * (1.0 - along / base_m), 2.0 * along * radii[1] / base_m])
    d_across = d_square / (2.0 * across)
    covar = float((d_along * d_across) @ var)
    linear_var = float(d_across**2 @ var)
    covar *= math.sqrt(across_var / linear_var)
    return np.array([[along_var, covar], [covar, across_var]])


def _gap(r1: float, r2: float, base_m: float, s1: float, s2: float) -> tuple[float, float]:
    """Return by how much two circles fail to meet, metres, and the same over its sd."""
    gap = max(base_m - r1 - r2, abs(r1 - r2) - base_m, 0.0)
    return gap, gap / math.hypot(s1, s2)


def _least_squares(taped: Sequence[TapedDistance], start: PlanPoint) -> TieFix:
    marks = np.array([[t.mark.point.east_m, t.mark.point.north_m] for t in taped])
    radii = np.array([t.distance_m for t in taped])
    sds = np.array([t.sd_m for t in taped])
    place = np.array([start.east_m, start.north_m])
    cost, damping = math.inf, 1e-9
    for _ in range(60):
        unit, residual = _design(marks, radii, place)
        new_cost = float(((residual / sds) ** 2).sum())
        weighted = unit / sds[:, None]
        normal = weighted.T @ weighted
        step = np.linalg.solve(
            normal + damping * np.trace(normal) * np.eye(2), weighted.T @ (residual / sds)
        )
        trial = place + step
        trial_cost = float(((_design(marks, radii, trial)[1] / sds) ** 2).sum())
        if trial_cost <= new_cost:
            place, damping = trial, max(damping / 10.0, 1e-12)
            if float(np.hypot(*step)) < 1e-7 or cost - trial_cost < 1e-12:
                break
            cost = trial_cost
        else:
            damping = max(damping * 10.0, 1e-6)
    unit, residual = _design(marks, radii, place)
    weighted = unit / sds[:, None]
    covariance = np.linalg.inv(weighted.T @ weighted + 1e-12 * np.eye(2))
    own = sds**2 - np.einsum("ij,jk,ik->i", unit, covariance, unit)
    ratio = np.abs(residual) / np.sqrt(np.maximum(own, 1e-4 * sds**2))
    worst = int(np.argmax(ratio))
    chi2 = float(((residual / sds) ** 2).sum())
    dof = len(taped) - 2
    if ratio[worst] > MISFIT_RATIO:
        covariance *= max(chi2 / dof, 1.0)  # contradictory ties: the margin grows with them
    return TieFix(
        point=PlanPoint(east_m=float(place[0]), north_m=float(place[1])),
        covariance=_plan(covariance),
        misfit_m=float(abs(residual[worst])),
        misfit_ratio=float(ratio[worst]),
        worst_mark_id=taped[worst].mark.id,
        chi2=chi2,
        degrees_of_freedom=dof,
        flat=_flat(unit),
    )


def _design(marks: Array, radii: Array, place: Array) -> tuple[Array, Array]:
    away = place - marks
    reach = np.maximum(np.hypot(away[:, 0], away[:, 1]), 1e-9)
    return away / reach[:, None], radii - reach


def _flat(unit: Array) -> bool:
    """Return whether no two tapes cross at more than the least angle."""
    x, y = unit[:, 0], unit[:, 1]
    sines = np.abs(np.outer(x, y) - np.outer(y, x))
    return bool(sines.max() < math.sin(math.radians(POOR_CROSSING_DEG)))


def crossing_deg(one: PlanPoint, other: PlanPoint, point: PlanPoint) -> float:
    """Return the angle (0 to 90 degrees) at which tapes from two marks cross at a point."""
    a = np.array([point.east_m - one.east_m, point.north_m - one.north_m])
    b = np.array([point.east_m - other.east_m, point.north_m - other.north_m])
    reach = float(np.hypot(*a) * np.hypot(*b))
    if reach < 1e-12:
        return 0.0
    return math.degrees(math.asin(min(abs(float(a[0] * b[1] - a[1] * b[0])) / reach, 1.0)))


def _widest_pair(taped: Sequence[TapedDistance]) -> tuple[TapedDistance, TapedDistance]:
    def sharpness(pair: tuple[TapedDistance, TapedDistance]) -> float:
        one, other = pair
        base = _apart_m(one.mark.point, other.mark.point)
        if base < 1e-6:
            return -1.0
        cosine = (one.distance_m**2 + other.distance_m**2 - base**2) / (
            2.0 * one.distance_m * other.distance_m
        )
        return 1.0 - min(cosine**2, 1.0)

    return max(combinations(taped, 2), key=sharpness)


def _nudged(point: PlanPoint, one: TapedDistance, other: TapedDistance) -> list[PlanPoint]:
    dx = other.mark.point.east_m - one.mark.point.east_m
    dy = other.mark.point.north_m - one.mark.point.north_m
    return [
        PlanPoint(east_m=point.east_m - side * dy, north_m=point.north_m + side * dx)
        for side in (0.1, -0.1)
    ]


def _with_mirror(best: TieFix, rival: TieFix | None) -> TieFix:
    if rival is None:
        return best
    return replace(best, mirror=rival.point, mirror_covariance=rival.covariance)


def _apart_m(one: PlanPoint, other: PlanPoint) -> float:
    return math.hypot(one.east_m - other.east_m, one.north_m - other.north_m)


def _plan(matrix: Array) -> PlanCovariance:
    return PlanCovariance(
        east_east_m2=float(matrix[0, 0]),
        north_north_m2=float(matrix[1, 1]),
        east_north_m2=float(matrix[0, 1]),
    )
