"""Lay the stations of two visits over each other.

Counters slip and are zeroed by hand, so the same fault shows up at another station
a year later. A common shift and scale between two visits,
``now = shift + scale * prior``, is found by trying every pair of like features and
keeping the one that explains most of them, then refined by least squares with a
weak prior (shift 0 +- 1 m, scale 1 +- 0.03).
"""

from __future__ import annotations

import itertools
import math
from collections import Counter
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

SHIFT_SD_M = 1.0
SCALE_SD = 0.03
OWN_SD_M = 0.15
"""Two visits seldom call one fault at quite the same spot, even with a true counter."""

_FAR_CHI2 = 9.0
_MOST_PAIRS_TRIED = 40
_MOST_SINGLES_TRIED = 400


@dataclass(frozen=True)
class Anchor:
    """A feature with a station: its family, where, how sure."""

    family: str
    station_m: float
    sd_m: float


@dataclass(frozen=True)
class Alignment:
    """``now = shift + scale * prior``, with the covariance of (shift, scale)."""

    shift_m: float
    scale: float
    covariance: NDArray[np.float64]
    agreeing: int

    def now(self, prior_m: float) -> float:
        """Return the station today of a station of the former visit."""
        return self.shift_m + self.scale * prior_m

    def sd(self, prior_m: float) -> float:
        """Return one standard deviation of :meth:`now`, from the alignment alone."""
        design = np.array([1.0, prior_m])
        return float(np.sqrt(design @ self.covariance @ design))


def align(prior: list[Anchor], now: list[Anchor]) -> Alignment:
    """Return the alignment that most like features agree on.

    Without a feature in common this is the weak prior itself. Work is bounded: only
    pairs that the prior allows are tried, the rarest kinds first.
    """
    pairs = _rarest_first([(a, b) for a in prior for b in now if _plausible(a, b)])
    singles = [(pair,) for pair in pairs[:_MOST_SINGLES_TRIED]]
    twos = itertools.combinations(pairs[:_MOST_PAIRS_TRIED], 2)
    field = _Field(prior, now)
    best = _fit([])
    best_cost = field.cost(best)
    for start in itertools.chain(singles, twos):
        fitted = _fit(list(start))
        cost = field.cost(fitted)
        if cost < best_cost:
            refined = _fit(field.inliers(fitted))
            refined_cost = field.cost(refined)
            best, best_cost = (refined, refined_cost) if refined_cost <= cost else (fitted, cost)
    return best


def _plausible(was: Anchor, is_now: Anchor) -> bool:
    """Tell whether two like features may be one under the weak prior (three margins)."""
    if was.family != is_now.family:
        return False
    spread = math.hypot(SHIFT_SD_M, SCALE_SD * was.station_m, math.sqrt(_variance(was, is_now)))
    return abs(is_now.station_m - was.station_m) <= 3.0 * spread


def _rarest_first(pairs: list[tuple[Anchor, Anchor]]) -> list[tuple[Anchor, Anchor]]:
    """Order pairs so that features met once (a tap, a bend) lead, and joints trail."""
    count = Counter(was.family for was, _ in pairs)
    return sorted(pairs, key=lambda pair: count[pair[0].family])


def _fit(pairs: list[tuple[Anchor, Anchor]]) -> Alignment:
    """Least squares of shift and scale over the pairs, with the weak prior."""
    information = np.diag([1.0 / SHIFT_SD_M**2, 1.0 / SCALE_SD**2])
    target = np.array([0.0, 1.0 / SCALE_SD**2])
    for was, is_now in pairs:
        design = np.array([1.0, was.station_m])
        weight = 1.0 / _variance(was, is_now)
        information = information + weight * np.outer(design, design)
        target = target + weight * design * is_now.station_m
    covariance = np.linalg.inv(information)
    shift, scale = covariance @ target
    return Alignment(float(shift), float(scale), covariance, len(pairs))


class _Field:
    """All anchors of two visits as arrays, to score an alignment fast."""

    def __init__(self, prior: list[Anchor], now: list[Anchor]) -> None:
        self.prior, self.now = prior, now
        self.was_m = np.array([a.station_m for a in prior])
        self.now_m = np.array([a.station_m for a in now])
        like = np.array([[a.family == b.family for b in now] for a in prior], dtype=bool)
        self.like = like.reshape(len(prior), len(now))
        variance = np.array([[_variance(a, b) for b in now] for a in prior])
        self.variance = variance.reshape(len(prior), len(now))

    def cost(self, fitted: Alignment) -> float:
        """Truncated chi-square of each prior feature to its nearest like, plus the prior's."""
        own = (fitted.shift_m / SHIFT_SD_M) ** 2 + ((fitted.scale - 1.0) / SCALE_SD) ** 2
        chi2 = self._chi2(fitted)
        if not chi2.size:
            return float(own)
        return float(own + np.minimum(chi2.min(axis=1), _FAR_CHI2).sum())

    def inliers(self, fitted: Alignment) -> list[tuple[Anchor, Anchor]]:
        """Pair each prior feature with its nearest like, each of today's once, nearest first."""
        chi2 = self._chi2(fitted)
        taken: set[int] = set()
        pairs = []
        for row in np.argsort(chi2.min(axis=1)):
            column = int(chi2[row].argmin())
            if chi2[row, column] < _FAR_CHI2 and column not in taken:
                taken.add(column)
                pairs.append((self.prior[int(row)], self.now[column]))
        return pairs

    def _chi2(self, fitted: Alignment) -> NDArray[np.float64]:
        gap = self.now_m[None, :] - (fitted.shift_m + fitted.scale * self.was_m)[:, None]
        return np.where(self.like, gap**2 / self.variance, np.inf)


def _variance(was: Anchor, is_now: Anchor) -> float:
    return was.sd_m**2 + is_now.sd_m**2 + OWN_SD_M**2
