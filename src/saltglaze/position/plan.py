"""The plan of the line: a robust least-squares fit of one course to all that ties it down.

Unknowns: a reference point and heading, small heading jumps on a grid (the pipe's own
wander, by material), the angle of every bend, and the station of every key (each locate,
each finding, known points). Rows: the keys' joint prior from the runs, the jumps' and
bends' priors, and each anchor's plan position. Solved by Gauss-Newton; an anchor may be
a gross error, with the two-part error law of :mod:`saltglaze.position.adjust`. Where the
evidence allows several answers each start is fitted apart and weighed by its evidence
(Laplace's approximation).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.linalg import cho_factor, cho_solve

from saltglaze.position import priors
from saltglaze.position.adjust import Bools, Floats, Ints
from saltglaze.position.bends import Bend
from saltglaze.position.course import Course
from saltglaze.position.keys import Keys

INFLATION: Final = (10.0, 5.0, 2.5, 1.5)
"""Anchors' sd is multiplied by these in the first rounds, then taken as it is."""
STATION_ROOM: Final = (1.0, 0.5, 0.2, 0.05)
"""Share of the variance of their stations that the anchors are given beside, in those rounds:
a point on the right line at the wrong station is no gross error."""
ROUNDS: Final = 30
SETTLED_M: Final = 1e-4
SHARES: Final = (1.0, 0.5, 0.25, 0.1)
UPHILL: Final = 1e-2
"""Of a log likelihood: no hill worth a shorter step."""


@dataclass(frozen=True)
class Anchor:
    """A plan position of the line at a key: one point, or two that mirror each other."""

    name: str
    key: int
    points: Floats
    """(choices, 2) east, north."""
    covariances: Floats
    """(choices, 2, 2)."""
    out_share: float = priors.LOCATE_GROSS[0]
    out_sd_m: float = priors.LOCATE_GROSS[1]
    weak: bool = False
    """A fact of the map: it helps, but no one stood there with a wand."""


@dataclass(frozen=True)
class Bearing:
    """The heading of the line at a station, radians clockwise from north."""

    station_m: float
    heading: float
    sd: float


@dataclass(frozen=True)
class PlanProblem:
    """All that the plan is fitted to."""

    keys: Keys
    anchors: tuple[Anchor, ...]
    bends: tuple[Bend, ...]
    grid_m: Floats
    """Stations of the small heading jumps."""
    grid_sd: Floats
    """Prior sd of each, radians."""
    reference_m: float
    bearing: Bearing | None = None


@dataclass(frozen=True)
class Start:
    """Where a fit starts: which way each bend turns, which mirror point holds, how it hangs."""

    turns: Floats
    """+1 right, -1 left, for each bend."""
    choice: tuple[int, ...]
    """For each anchor."""
    point: Floats
    heading: float
    log_prior: float
    aside: tuple[bool, ...] = ()
    """Anchors left aside until the fit has settled; empty for none."""


@dataclass(frozen=True)
class PlanFit:
    """One hypothesis, fitted."""

    problem: PlanProblem
    start: Start
    unknowns: Floats
    covariance: Floats
    good: Floats
    """Probability that each anchor is not a gross error."""
    log_evidence: float
    strain: float
    """Weighted squares of all priors and all anchors kept; about chi-square where all is well."""

    @property
    def course(self) -> Course:
        """The fitted course."""
        return _course(self.problem, self.unknowns)

    @property
    def keys(self) -> Keys:
        """The keys as the ground has taught them."""
        first = _first_key(self.problem)
        return Keys(
            self.problem.keys.keys,
            self.unknowns[first:],
            self.covariance[first:, first:],
        )

    def at(self, stations: Floats) -> tuple[Floats, Floats]:
        """Plan positions (count, 2) and covariances (count, 2, 2) at exact stations."""
        positions, jacobian, _ = self.rows(stations)
        return positions, _spread(jacobian, self.covariance)

    def at_keys(self, which: list[int]) -> tuple[Floats, Floats]:
        """Plan positions and covariances at keys, their stations' doubt included."""
        positions, jacobian = self.key_rows(which)
        return positions, _spread(jacobian, self.covariance)

    def rows(self, stations: Floats) -> tuple[Floats, Floats, Floats]:
        """Positions at exact stations, derivative to the unknowns, unit directions."""
        return _positions(self.problem, self.unknowns, stations)

    def key_rows(self, which: list[int]) -> tuple[Floats, Floats]:
        """Positions at keys and their derivative to the unknowns, (count, 2, unknowns)."""
        at = _first_key(self.problem) + np.array(which, dtype=int)
        positions, jacobian, step = _positions(self.problem, self.unknowns, self.unknowns[at])
        jacobian[np.arange(at.size), :, at] += step
        return positions, jacobian

    def station_row(self, key: int) -> Floats:
        """The row that picks the station of a key out of the unknowns."""
        row = np.zeros(self.unknowns.size)
        row[_first_key(self.problem) + key] = 1.0
        return row

    def log_posterior(self, unknowns: Floats, at_anchors: Floats) -> Floats:
        """Log posterior, but for a constant, of other unknowns (draws, unknowns).

        ``at_anchors`` is where they lay the anchors, (draws, anchors, 2).
        """
        problem = self.problem
        mean, normal = _prior(problem, self.start)
        target, own = _measured(problem, self.start)
        weigher = _Weigher(problem, own, frozenset())
        away = unknowns - mean
        log = -0.5 * np.einsum("di,ij,dj->d", away, normal, away, optimize=True)
        likely = [weigher.log_likelihood(at - target) for at in at_anchors]
        off = [_off_bearing(problem, one) for one in unknowns]
        return np.asarray(log + np.array(likely) - 0.5 * np.square(off))

    def headings(self, stations: Floats) -> Floats:
        """Bearing of the line at stations, radians."""
        _, step = self.course.at(stations)
        return np.asarray(np.arctan2(step[:, 0], step[:, 1]))


def fit(problem: PlanProblem, start: Start, trust: frozenset[str] = frozenset()) -> PlanFit:
    """Fit one hypothesis from one start.

    Anchors named in ``trust`` are held to be no gross errors; used to show what the
    answer would be with a doubtful item taken at its word.
    """
    unknowns = _first_unknowns(problem, start)
    prior_mean, prior_normal = _prior(problem, start)
    target, own = _measured(problem, start)
    weigher = _Weigher(problem, own, trust)
    roomy = _with_room(problem, own)
    aside = np.array(start.aside or [False] * len(problem.anchors), dtype=bool)
    for count in range(ROUNDS):
        first = count < len(INFLATION)
        inflation = INFLATION[count] if first else 1.0
        judge = _Weigher(problem, roomy[count], trust) if first else weigher
        residual, jacobian = _anchor_rows(problem, unknowns, target)
        weight = judge.weights(residual, inflation, aside if first else None)
        normal, gradient = _normal(
            problem, unknowns, prior_mean, prior_normal, residual, jacobian, weight
        )
        factor = cho_factor(normal, lower=True, check_finite=False)
        step = -cho_solve(factor, gradient, check_finite=False)
        step *= min(1.0, _longest_step(step))

        def dearness(tried: Floats, weight: Floats = weight) -> float:
            return _cost(problem, tried, prior_mean, prior_normal, target, weight)

        step *= _downhill(dearness, unknowns, step)
        unknowns = unknowns + step
        if not first and np.max(np.abs(step)) < SETTLED_M:
            break
    residual, jacobian = _anchor_rows(problem, unknowns, target)
    weight = weigher.weights(residual)
    normal, _ = _normal(problem, unknowns, prior_mean, prior_normal, residual, jacobian, weight)
    factor = cho_factor(normal, lower=True, check_finite=False)
    covariance = cho_solve(factor, np.eye(normal.shape[0]), check_finite=False)
    away = unknowns - prior_mean
    evidence = weigher.log_likelihood(residual) - 0.5 * float(away @ prior_normal @ away)
    evidence += start.log_prior - float(np.sum(np.log(np.diag(factor[0]))))
    good = weigher.good(residual, 1.0)
    strain = float(away @ prior_normal @ away)
    strain += float(np.sum(good * np.einsum("ai,aij,aj->a", residual, weigher.inner(), residual)))
    return PlanFit(problem, start, unknowns, covariance, good, float(evidence), strain)


def laid_out(problem: PlanProblem, unknowns: Floats, stations: Floats) -> Floats:
    """Where unknowns lay stations on the ground, (count, 2)."""
    return _course(problem, unknowns).at(stations)[0]


def _measured(problem: PlanProblem, start: Start) -> tuple[Floats, Floats]:
    """Points of the anchors, (anchors, 2), and their covariances, as the start chooses."""
    chosen = list(zip(problem.anchors, start.choice, strict=True))
    points = np.array([anchor.points[choice] for anchor, choice in chosen]).reshape(-1, 2)
    own = np.array([anchor.covariances[choice] for anchor, choice in chosen])
    return points, own.reshape(-1, 2, 2)


def _with_room(problem: PlanProblem, own: Floats) -> list[Floats]:
    """Covariances of the anchors for each of the first rounds, before they are inflated."""
    keys = [anchor.key for anchor in problem.anchors]
    station = np.diag(problem.keys.covariance_m2)[keys][:, None, None] * np.eye(2)
    rooms = zip(STATION_ROOM, INFLATION, strict=True)
    return [own + station * (share / inflation**2) for share, inflation in rooms]


@dataclass(frozen=True)
class _Weigher:
    """Weights of the anchors by their two-part error law."""

    problem: PlanProblem
    own: Floats
    trust: frozenset[str]

    def _terms(self, residual: Floats, inflation: float) -> tuple[Floats, Floats]:
        share = np.array([a.out_share for a in self.problem.anchors])
        share = np.where([a.name in self.trust for a in self.problem.anchors], 0.0, share)
        spread = self._gross_sd(inflation)
        whitened = np.linalg.solve(self.own * inflation**2, residual[:, :, None])[:, :, 0]
        inner = np.log1p(-share) - 0.5 * np.sum(residual * whitened, axis=1)
        inner -= 0.5 * np.log(np.linalg.det(self.own * inflation**2))
        outer = -2.0 * np.log(spread) - 0.5 * np.sum(residual**2, axis=1) / spread**2
        # An anchor that is trusted is no gross error, however far off it lies.
        outer += np.log(share, out=np.full(share.shape, -np.inf), where=share > 0.0)
        return inner, outer

    def _gross_sd(self, inflation: float) -> Floats:
        plain = np.array([a.out_sd_m for a in self.problem.anchors])
        own = np.sqrt(np.trace(self.own, axis1=1, axis2=2))
        return np.asarray(np.hypot(plain, 2.0 * own) * max(1.0, inflation / 2.5))

    def good(self, residual: Floats, inflation: float) -> Floats:
        inner, outer = self._terms(residual, inflation)
        return np.asarray(1.0 / (1.0 + np.exp(np.clip(outer - inner, -700.0, 700.0))))

    def weights(
        self, residual: Floats, inflation: float = 1.0, aside: Bools | None = None
    ) -> Floats:
        """Weight matrices, (anchors, 2, 2)."""
        good = self.good(residual, inflation)[:, None, None]
        if aside is not None:
            good = np.where(aside[:, None, None], 0.0, good)
        gross = self._gross_sd(inflation)[:, None, None]
        inner = self.inner() / inflation**2
        return np.asarray(good * inner + (1.0 - good) * np.eye(2) / gross**2)

    def inner(self) -> Floats:
        """Weight matrices of anchors taken as good."""
        return np.asarray(np.linalg.inv(self.own)) if len(self.own) else self.own

    def log_likelihood(self, residual: Floats) -> float:
        inner, outer = self._terms(residual, 1.0)
        return float(np.sum(np.logaddexp(inner, outer)))


def _downhill(dearness: Callable[[Floats], float], unknowns: Floats, step: Floats) -> float:
    """Share of a step that does not lead uphill.

    Where a bend passes a surface point the course has a kink, and a full step may throw
    the line off.
    """
    now = dearness(unknowns)
    for share in SHARES:
        if dearness(unknowns + share * step) <= now + UPHILL:
            return share
    return SHARES[-1]


def _cost(
    problem: PlanProblem,
    unknowns: Floats,
    prior_mean: Floats,
    prior_normal: Floats,
    target: Floats,
    weight: Floats,
) -> float:
    """Half the weighted squares of all rows, weights held."""
    first = _first_key(problem)
    at = unknowns[[first + anchor.key for anchor in problem.anchors]]
    residual = _course(problem, unknowns).at(at)[0] - target
    away = unknowns - prior_mean
    cost = 0.5 * float(away @ prior_normal @ away)
    cost += 0.5 * float(np.einsum("ai,aij,aj->", residual, weight, residual))
    return cost + 0.5 * _off_bearing(problem, unknowns) ** 2


def _off_bearing(problem: PlanProblem, unknowns: Floats) -> float:
    """How far the heading is off the bearing, in its sd; 0 where no bearing is known."""
    if problem.bearing is None:
        return 0.0
    off = _heading_at(problem, unknowns, problem.bearing.station_m) - problem.bearing.heading
    return math.remainder(off, 2.0 * math.pi) / problem.bearing.sd


def _longest_step(step: Floats) -> float:
    """Share of a step that turns nothing by more than about a radian."""
    largest = float(np.max(np.abs(step[2:3]), initial=1e-12))
    return 1.0 / largest if largest > 1.0 else 1.0


def _first_key(problem: PlanProblem) -> int:
    return 3 + problem.grid_m.size + len(problem.bends)


def _first_unknowns(problem: PlanProblem, start: Start) -> Floats:
    angles = np.array([bend.angle_rad for bend in problem.bends]) * start.turns
    return np.concatenate(
        [
            start.point,
            [start.heading],
            np.zeros(problem.grid_m.size),
            angles,
            problem.keys.mean_m,
        ]
    )


def _prior(problem: PlanProblem, start: Start) -> tuple[Floats, Floats]:
    """Mean and information of everything but the anchors."""
    mean = _first_unknowns(problem, start)
    mean[0:2], mean[2] = start.point, start.heading
    first, grid = _first_key(problem), problem.grid_m.size
    information = np.zeros((mean.size, mean.size))
    loose = np.array([1e-10, 1e-10, 1e-6])
    bend = np.array([bend.sd_rad**-2 for bend in problem.bends])
    plain = np.concatenate([loose, problem.grid_sd**-2, bend])
    information[np.arange(first), np.arange(first)] = plain
    ridge = 1e-8 * np.eye(mean.size - first)
    information[first:, first:] = np.linalg.inv(problem.keys.covariance_m2 + ridge)
    assert plain.size == 3 + grid + len(problem.bends)
    return mean, information


def _course(problem: PlanProblem, unknowns: Floats) -> Course:
    jump_m, jump, order = _jumps(problem, unknowns)
    return Course(
        problem.reference_m, unknowns[0:2], float(unknowns[2]), jump_m[order], jump[order]
    )


def _jumps(problem: PlanProblem, unknowns: Floats) -> tuple[Floats, Floats, Ints]:
    first = _first_key(problem)
    at = unknowns[[first + bend.key for bend in problem.bends]]
    jump_m = np.concatenate([problem.grid_m, at])
    order = np.argsort(jump_m, kind="stable").astype(np.int64)
    return jump_m, unknowns[3:first], order


def _positions(
    problem: PlanProblem, unknowns: Floats, stations: Floats
) -> tuple[Floats, Floats, Floats]:
    """Positions at stations, their derivative to the unknowns, and unit directions."""
    course = _course(problem, unknowns)
    positions, step = course.at(stations)
    _, _, order = _jumps(problem, unknowns)
    first, grid = _first_key(problem), problem.grid_m.size
    jacobian = np.zeros((stations.size, 2, unknowns.size))
    jacobian[:, 0, 0] = jacobian[:, 1, 1] = 1.0
    jacobian[:, :, 2] = course.by_heading(positions)
    jacobian[:, :, 3 + order] = course.by_jump(stations, positions)
    if problem.bends:
        place = np.argsort(order)[grid:]
        moved = course.by_jump_station(stations, place)
        for index, bend in enumerate(problem.bends):
            jacobian[:, :, first + bend.key] += moved[:, :, index]
    return positions, jacobian, step


def _anchor_rows(problem: PlanProblem, unknowns: Floats, target: Floats) -> tuple[Floats, Floats]:
    first = _first_key(problem)
    at = np.array([first + anchor.key for anchor in problem.anchors], dtype=int)
    positions, jacobian, step = _positions(problem, unknowns, unknowns[at])
    jacobian[np.arange(at.size), :, at] += step
    return positions - target, jacobian


def _normal(
    problem: PlanProblem,
    unknowns: Floats,
    prior_mean: Floats,
    prior_normal: Floats,
    residual: Floats,
    jacobian: Floats,
    weight: Floats,
) -> tuple[Floats, Floats]:
    flat = jacobian.reshape(-1, unknowns.size)
    weighted = np.einsum("aij,ajp->aip", weight, jacobian).reshape(-1, unknowns.size)
    normal = prior_normal + flat.T @ weighted
    gradient = prior_normal @ (unknowns - prior_mean) + weighted.T @ residual.ravel()
    if problem.bearing is not None:
        row = _bearing_row(problem, unknowns, problem.bearing)
        normal += np.outer(row, row) / problem.bearing.sd**2
        gradient = gradient + row * (_off_bearing(problem, unknowns) / problem.bearing.sd)
    return normal, gradient


def _heading_at(problem: PlanProblem, unknowns: Floats, station_m: float) -> float:
    _, step = _course(problem, unknowns).at(np.array([station_m]))
    return math.atan2(step[0, 0], step[0, 1])


def _bearing_row(problem: PlanProblem, unknowns: Floats, bearing: Bearing) -> Floats:
    course = _course(problem, unknowns)
    _, _, order = _jumps(problem, unknowns)
    row = np.zeros(unknowns.size)
    row[2] = 1.0
    row[3 + order] = course.beyond(np.array([bearing.station_m]), course.jump_m)[0]
    return row


def _spread(jacobian: Floats, covariance: Floats) -> Floats:
    half = jacobian @ covariance
    return np.asarray(half @ jacobian.transpose(0, 2, 1))
