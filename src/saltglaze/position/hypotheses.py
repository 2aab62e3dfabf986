"""All the answers the evidence allows for the plan, fitted and weighed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from saltglaze.model.appraisal import LineSegment
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.bends import Bend
from saltglaze.position.keys import Keys
from saltglaze.position.plan import Anchor, Bearing, PlanFit, PlanProblem, fit
from saltglaze.position.starts import starts

GRID_M: Final = 1.0
MOST_GRID: Final = 160
LEAST_WEIGHT: Final = 0.01
SAME_M: Final = 0.05
CLEAR_OF_BEND_M: Final = 0.6


class Hypothesis(NamedTuple):
    """One answer and its share of belief."""

    fit: PlanFit
    weight: float


def weigh(problem: PlanProblem) -> tuple[Hypothesis, ...]:
    """Fit every start; return the distinct answers, likeliest first, weights adding to 1."""
    fits = sorted((fit(problem, one) for one in starts(problem)), key=lambda one: -one.log_evidence)
    kept: list[PlanFit] = []
    for one in fits:
        if not any(_same(one, other) for other in kept):
            kept.append(one)
    if not kept:
        return ()
    best = kept[0].log_evidence
    share = np.array([math.exp(max(one.log_evidence - best, -700.0)) for one in kept])
    share /= share.sum()
    heavy = [(one, float(s)) for one, s in zip(kept, share, strict=True) if s >= LEAST_WEIGHT]
    total = sum(s for _, s in heavy)
    return tuple(Hypothesis(one, s / total) for one, s in heavy)


def _same(one: PlanFit, other: PlanFit) -> bool:
    gap = one.course.at(one.problem.grid_m)[0] - other.course.at(one.problem.grid_m)[0]
    return bool(np.max(np.hypot(gap[:, 0], gap[:, 1]), initial=0.0) < SAME_M)


def pose(
    keys: Keys,
    anchors: tuple[Anchor, ...],
    bends: tuple[Bend, ...],
    bearing: Bearing | None,
    segments: Sequence[LineSegment],
    length_m: float,
) -> PlanProblem:
    """Pose the plan problem: grid of small jumps by material, and the reference station."""
    stations = np.concatenate([keys.mean_m, [0.0, length_m]])
    low, high = float(stations.min()), float(stations.max())
    count = int(np.clip(math.ceil((high - low) / GRID_M), 4, MOST_GRID))
    edges = np.linspace(low, high, count + 1)
    grid = 0.5 * (edges[1:] + edges[:-1])
    step = float(edges[1] - edges[0])
    rate = np.array([_wander(segments, station) for station in grid])
    sd = rate * math.sqrt(step)
    reference = _reference(keys, anchors, bends)
    return PlanProblem(keys, anchors, bends, grid, sd, reference, bearing)


def _wander(segments: Sequence[LineSegment], station_m: float) -> float:
    for one in segments:
        start, end = one.start_m.value or 0.0, one.end_m.value
        if start <= station_m and (end is None or station_m <= end) and one.material is not None:
            return priors.HEADING_RAD_PER_SQRT_M.get(one.material.value, priors.HEADING_OTHER)
    return priors.HEADING_OTHER


def _reference(keys: Keys, anchors: tuple[Anchor, ...], bends: tuple[Bend, ...]) -> float:
    """A station amid the anchors and clear of every bend."""
    at: Floats = np.sort(keys.mean_m[[anchor.key for anchor in anchors]])
    if at.size == 0:
        return 0.0
    middle = float(np.median(at))
    turn = keys.mean_m[[bend.key for bend in bends]]
    tried = (
        middle
        + np.concatenate([[0.0], np.repeat(np.arange(0.25, 15.0, 0.25), 2)])
        * np.tile([1.0, -1.0], 60)[: 1 + 2 * 59]
    )
    clear = np.min(np.abs(tried[:, None] - turn[None, :]), axis=1, initial=math.inf)
    good = np.flatnonzero(clear > CLEAR_OF_BEND_M)
    return float(tried[good[0]] if good.size else tried[int(np.argmax(clear))])
