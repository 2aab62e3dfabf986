"""Lay the stations of two visits over each other.

Counters slip and are zeroed by hand, so the same fault shows up at another station
a year later. A common shift and scale between two visits,
``now = shift + scale * prior``, is found by trying every pair of like features and
keeping the one that explains most of them, then refined by least squares with a
weak prior (shift 0 +- 1 m, scale 1 +- 0.03).
"""

from __future__ import annotations

import itertools
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

    Without a feature in common this is the weak prior itself.
    """
    pairs = _rarest_first([(a, b) for a in prior for b in now if a.family == b.family])
    twos = itertools.combinations(pairs[:_MOST_PAIRS_TRIED], 2)
    best, best_cost = _fit([]), np.inf
    for start in itertools.chain(((),), ((pair,) for pair in pairs), twos):
        fitted = _fit(list(start))
        cost, inliers = _cost(fitted, prior, now)
        if cost < best_cost:
            refined = _fit(inliers)
            refined_cost, _ = _cost(refined, prior, now)
            best, best_cost = (refined, refined_cost) if refined_cost <= cost else (fitted, cost)
    return best


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
        weight = 1.0 / _pair_variance(was, is_now)
        information = information + weight * np.outer(design, design)
        target = target + weight * design * is_now.station_m
    covariance = np.linalg.inv(information)
    shift, scale = covariance @ target
    return Alignment(float(shift), float(scale), covariance, len(pairs))


def _cost(
    fitted: Alignment, prior: list[Anchor], now: list[Anchor]
) -> tuple[float, list[tuple[Anchor, Anchor]]]:
    """Truncated chi-square of each prior feature to its nearest like, plus the prior's."""
    cost = (fitted.shift_m / SHIFT_SD_M) ** 2 + ((fitted.scale - 1.0) / SCALE_SD) ** 2
    inliers = []
    taken: set[int] = set()
    for was in prior:
        chi2, place = _nearest(fitted, was, now, taken)
        cost += min(chi2, _FAR_CHI2)
        if place is not None and chi2 < _FAR_CHI2:
            taken.add(place)
            inliers.append((was, now[place]))
    return cost, inliers


def _nearest(
    fitted: Alignment, was: Anchor, now: list[Anchor], taken: set[int]
) -> tuple[float, int | None]:
    best, place = np.inf, None
    for index, is_now in enumerate(now):
        if is_now.family != was.family or index in taken:
            continue
        gap = is_now.station_m - fitted.now(was.station_m)
        chi2 = gap**2 / _pair_variance(was, is_now)
        if chi2 < best:
            best, place = chi2, index
    return float(best), place


def _pair_variance(was: Anchor, is_now: Anchor) -> float:
    return was.sd_m**2 + is_now.sd_m**2 + OWN_SD_M**2
