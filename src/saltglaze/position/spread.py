"""Where the line may run, drawn: every answer, with the bends and kinks of the course.

The covariance of a fit extrapolates along straight lines about its best answer. Where
stations are loose beside a bend, or where another answer stands, the line may run where no
such ellipse reaches. So the answers are drawn from, each by its share of belief: unknowns
about the best by their covariance, laid out through the course as it is, and weighed by how
the evidence itself likes them against how the covariance did (importance sampling; weights
cut at root ``n`` times their mean after Ionides 2008, "Truncated importance sampling",
J. Comp. Graph. Stat. 17; from memory). Beyond the outermost surface points a bend that
nobody mentioned is thrown in at its usual rate: nothing there would show it. Everything
follows from one seed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from saltglaze.model.appraisal import Ellipse
from saltglaze.model.ground import PlanPoint
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.anchors import record
from saltglaze.position.ellipse import CHI2_68, ellipse_of, scaled
from saltglaze.position.hypotheses import Hypothesis
from saltglaze.position.plan import PlanFit, laid_out

DRAWS: Final = 500
LEAST_DRAWS: Final = 8
SEED: Final = 20250607
LEAST_EFFECTIVE: Final = 0.1
"""Weights are flattened until this share of the draws counts."""
POWERS: Final = (1.0, 0.7, 0.5, 0.35, 0.25, 0.12, 0.0)
RIVAL_WEIGHT: Final = 0.03
"""An answer with less belief is no spot of its own: its draws widen the others' margins."""
APART_M: Final = 0.1
"""Answers nearer than this are one spot."""
CORE: Final = 0.7
"""The shape of an ellipse is that of the inner draws; its size is that of all."""


@dataclass(frozen=True)
class Spot:
    """Where one key lies: the likeliest point, the other answers' points, and the draws."""

    point: Floats
    """(2,) of the likeliest answer."""
    others: Floats
    """(others, 2) where the other answers that still stand put it."""
    off: Floats
    """(draws, 2) from the nearest of these points."""

    @property
    def covariance(self) -> Floats:
        """Covariance of the normal law that the inner draws follow: of their 68 %."""
        shape = _shape(self.off)
        return np.asarray(shape * (self._reach(shape, 0.68) / CHI2_68))

    def ellipse(self, level: float) -> Ellipse:
        """The ellipse that holds the spot with a probability, drawn round any of its points."""
        shape = _shape(self.off)
        return scaled(ellipse_of(record(shape), level), self._reach(shape, level), level)

    def other_points(self) -> tuple[PlanPoint, ...]:
        """The other answers' points as records."""
        return tuple(PlanPoint(east_m=float(e), north_m=float(n)) for e, n in self.others)

    def along(self, bearing_deg: float, level: float) -> float:
        """Half the length along a bearing that holds the spot with a probability."""
        angle = math.radians(bearing_deg)
        reach = np.abs(self.off @ np.array([math.sin(angle), math.cos(angle)]))
        return float(np.quantile(reach, level))

    def _reach(self, shape: Floats, level: float) -> float:
        return float(np.quantile(_squares(self.off, shape), level))


def spots(hypotheses: Sequence[Hypothesis], keys: Sequence[int]) -> dict[int, Spot]:
    """Draw where keys lie, from all answers."""
    if not hypotheses or not keys:
        return {}
    rng = np.random.default_rng(SEED)
    drawn = np.concatenate([_of_one(one, keys, rng) for one in hypotheses])
    stand = [one for n, one in enumerate(hypotheses) if n == 0 or one.weight >= RIVAL_WEIGHT]
    placed = np.array([one.fit.at_keys(list(keys))[0] for one in stand])
    first, spread = hypotheses[0].fit.at_keys(list(keys))
    found = {}
    for number, key in enumerate(keys):
        others = _distinct(placed[:, number])
        off = drawn[:, number, None, :] - np.vstack([first[number], others])
        square = np.einsum("dai,ij,daj->da", off, np.linalg.inv(spread[number]), off)
        nearest = off[np.arange(len(off)), np.argmin(square, axis=1)]
        found[key] = Spot(first[number], others, nearest)
    return found


def _distinct(points: Floats) -> Floats:
    """The points but the first that lie apart from it and from one another."""
    kept = [points[0]]
    for point in points[1:]:
        if min(float(np.hypot(*(point - one))) for one in kept) > APART_M:
            kept.append(point)
    return np.array(kept[1:]).reshape(-1, 2)


def _squares(off: Floats, shape: Floats) -> Floats:
    return np.asarray(np.einsum("di,ij,dj->d", off, np.linalg.inv(shape), off))


def _shape(off: Floats) -> Floats:
    """Second moment of the inner draws: those within the ellipse of all that holds most."""
    floor = np.eye(2) * 1e-8
    middle = np.median(np.abs(off), axis=0) ** 2
    shape = np.diag(np.maximum(middle, 1e-8))
    for _ in range(2):
        square = _squares(off, shape)
        inner = off[square <= np.quantile(square, CORE)]
        shape = inner.T @ inner / len(inner) + floor
    return np.asarray(shape)


def _of_one(one: Hypothesis, keys: Sequence[int], rng: np.random.Generator) -> Floats:
    """Draws of the keys' points by one answer, (its share of the draws, keys, 2)."""
    share = round(one.weight * DRAWS)
    count = max(LEAST_DRAWS, share)
    fit = one.fit
    normal = _antithetic(count, fit.unknowns.size, rng)
    values, vectors = np.linalg.eigh(fit.covariance)
    unknowns = fit.unknowns + (normal * np.sqrt(np.maximum(values, 0.0))) @ vectors.T
    held = [anchor.key for anchor in fit.problem.anchors]
    first = fit.unknowns.size - len(fit.problem.keys.keys)
    stations = unknowns[:, first + np.array([*held, *keys], dtype=int)]
    firm = [n for n, anchor in enumerate(fit.problem.anchors) if not anchor.weak]
    unseen = _unseen_bends(stations[:, firm or range(len(held))], rng)
    laid = np.array(
        [
            laid_out(fit.problem, draw, np.concatenate([at, more]))
            for draw, at, more in zip(unknowns, stations, unseen, strict=True)
        ]
    )
    weight = _weights(fit, unknowns, laid[:, : len(held)], normal)
    bent = _bent(laid, stations, unseen, len(held), rng)
    return bent[rng.choice(count, share, p=weight)]


def _antithetic(count: int, size: int, rng: np.random.Generator) -> Floats:
    half = rng.normal(size=(count - count // 2, size))
    return np.concatenate([half, -half])[:count]


def _unseen_bends(held: Floats, rng: np.random.Generator) -> Floats:
    """Where the first unmentioned bend before and beyond the surface points would lie."""
    away = rng.exponential(1.0 / priors.UNSAID_BENDS_PER_M, (len(held), 2))
    return np.column_stack([held.min(axis=1) - away[:, 0], held.max(axis=1) + away[:, 1]])


def _bent(
    laid: Floats, stations: Floats, unseen: Floats, held: int, rng: np.random.Generator
) -> Floats:
    """The keys' points with what lies beyond an unseen bend turned about it."""
    mean, sd = priors.BEND_UNTOLD_RAD
    angle = rng.normal(mean, sd, unseen.shape) * rng.choice([-1.0, 1.0], unseen.shape)
    spot, at = laid[:, held:-2], stations[:, held:]
    for side, beyond in enumerate((at < unseen[:, :1], at > unseen[:, 1:])):
        about = laid[:, -2 + side, None, :]
        turned = about + _turned(spot - about, angle[:, side, None])
        spot = np.where(beyond[:, :, None], turned, spot)
    return spot


def _turned(arm: Floats, angle: Floats) -> Floats:
    sin, cos = np.sin(angle), np.cos(angle)
    east, north = arm[..., 0], arm[..., 1]
    return np.stack([cos * east + sin * north, cos * north - sin * east], axis=-1)


def _weights(fit: PlanFit, unknowns: Floats, at_anchors: Floats, normal: Floats) -> Floats:
    """Weights that add to 1, cut, and flattened where too few draws would count."""
    log = fit.log_posterior(unknowns, at_anchors) + 0.5 * np.sum(normal**2, axis=1)
    weight = np.full(log.size, 1.0 / log.size)
    for power in POWERS:
        weight = np.exp(power * (log - log.max()))
        weight = np.minimum(weight, weight.mean() * math.sqrt(weight.size))
        weight /= weight.sum()
        if 1.0 / np.sum(weight**2) >= LEAST_EFFECTIVE * weight.size:
            break
    return np.asarray(weight)
