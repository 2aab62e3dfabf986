"""All the answers the evidence allows for the plan, fitted and weighed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from saltglaze.model.appraisal import LineSegment
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.bends import Bend
from saltglaze.position.keys import Keys
from saltglaze.position.plan import Anchor, Bearing, PlanFit, PlanProblem, fit
from saltglaze.position.starts import scored_starts, starts

GRID_M: Final = 1.0
MOST_GRID: Final = 160
LEAST_WEIGHT: Final = 0.01
SAME_M: Final = 0.05
CLEAR_OF_BEND_M: Final = 0.6
CLEAR_OF_BEND_SD: Final = 4.0
"""A reference this far from a bend, in sd of the bend's station, will not be crossed by it."""
REFERENCE_OFF_M: Final = 12.0
REFERENCE_STEP_M: Final = 0.25
MOST_TRIED_AT: Final = 2000
UNSAID: Final = "unsaid bend "
MOST_UNSAID: Final = 2
MOST_TRIED: Final = 3
LEAST_ANCHORS: Final = 3
LONGEST_GAP_M: Final = 12.0
LEAST_GAP_M: Final = 0.5
SPREAD_OVER_GAP: Final = 0.29
"""A bend anywhere in a gap: uniform, so its sd is the gap over the root of 12."""
STRAINED: Final = 2.33
"""One fit in a hundred is strained more than this by chance (normal tail)."""


class Hypothesis(NamedTuple):
    """One answer and its share of belief."""

    fit: PlanFit
    weight: float


def weigh(problem: PlanProblem) -> tuple[Hypothesis, ...]:
    """Fit every start; return the distinct answers, likeliest first, weights adding to 1.

    Where the best answer is strained (surface points left aside, or squares that chance
    does not explain) a bend that nobody mentioned is tried between the anchors.
    """
    scored = [(one.log_evidence, one) for one in _fits(problem)]
    for _ in range(MOST_UNSAID):
        best = max(scored, key=lambda one: one[0], default=None)
        if best is None or not strained(best[1]):
            break
        scored += [(best[0] - best[1].log_evidence + more, one) for more, one in _unsaid(best[1])]
    return _shared_out(scored)


def _fits(problem: PlanProblem) -> list[PlanFit]:
    return [fit(problem, one) for one in starts(problem)]


def _shared_out(scored: Sequence[tuple[float, PlanFit]]) -> tuple[Hypothesis, ...]:
    kept: list[tuple[float, PlanFit]] = []
    for evidence, one in sorted(scored, key=lambda pair: -pair[0]):
        if not any(_same(one, other) for _, other in kept):
            kept.append((evidence, one))
    if not kept:
        return ()
    share = np.exp(np.maximum([evidence - kept[0][0] for evidence, _ in kept], -700.0))
    share /= share.sum()
    heavy = [(one, float(s)) for (_, one), s in zip(kept, share, strict=True) if s >= LEAST_WEIGHT]
    total = sum(s for _, s in heavy)
    return tuple(Hypothesis(one, s / total) for one, s in heavy)


def strained(found: PlanFit) -> bool:
    """Whether chance and single gross errors would hardly leave a fit like this.

    One surface point left aside amid others is most likely just wrong; two of them, or
    the first or last of the line, may lie round a corner.
    """
    if found.good.size < LEAST_ANCHORS:
        return False
    aside = np.flatnonzero(found.good < 0.5)
    at = found.problem.keys.mean_m[[anchor.key for anchor in found.problem.anchors]]
    at_an_end = bool(np.isin(aside, [np.argmin(at), np.argmax(at)]).any())
    free = 2.0 * found.good.size - 3.0
    tense = found.strain > free + STRAINED * math.sqrt(2.0 * free)
    return bool(aside.size > 1 or at_an_end or tense)


def _unsaid(found: PlanFit) -> list[tuple[float, PlanFit]]:
    """Fits with one more bend, and their evidence on the scale of ``found``.

    The evidence of a fit with more unknowns counts the priors of those unknowns and the
    chance of an unsaid bend on that stretch. The other bends turn as they do in ``found``.
    """
    settled = _with_settled_turns(found)
    tried = []
    for low, high in _gaps(found):
        more = _with_bend(settled, low, high)
        tried += [(score, more, high - low) for score, _ in scored_starts(more)[:1]]
    tried.sort(key=lambda one: -one[0])
    fitted = []
    for _, more, gap in tried[:MOST_TRIED]:
        sd_m, sd = gap * SPREAD_OVER_GAP, priors.BEND_UNTOLD_RAD[1]
        chance = math.log(priors.UNSAID_BENDS_PER_M * gap) - math.log(sd_m * sd)
        chance += found.start.log_prior
        fitted += [(one.log_evidence + chance, one) for one in _fits(more)]
    return fitted


def _with_settled_turns(found: PlanFit) -> PlanProblem:
    bends = tuple(
        replace(bend, right_chance=1.0 if way > 0.0 else 0.0)
        for bend, way in zip(found.problem.bends, found.start.turns, strict=True)
    )
    return replace(found.problem, bends=bends)


def _gaps(found: PlanFit) -> list[tuple[float, float]]:
    """Stretches between neighbouring anchors, long ones parted."""
    at = np.unique(found.problem.keys.mean_m[[a.key for a in found.problem.anchors]])
    gaps = []
    for low, high in pairwise(at.tolist()):
        parts = max(1, math.ceil((high - low) / LONGEST_GAP_M))
        edges = np.linspace(low, high, parts + 1).tolist()
        gaps += [(a, b) for a, b in pairwise(edges) if b - a > LEAST_GAP_M]
    return gaps


def _with_bend(problem: PlanProblem, low: float, high: float) -> PlanProblem:
    name = f"{UNSAID}{sum(bend.finding_id.startswith(UNSAID) for bend in problem.bends) + 1}"
    keys = problem.keys.with_given(name, 0.5 * (low + high), (high - low) * SPREAD_OVER_GAP)
    bend = Bend(len(problem.keys.keys), name, *priors.BEND_UNTOLD_RAD, 0.5)
    bends = (*problem.bends, bend)
    reference = _reference(keys, problem.anchors, bends)
    return replace(problem, keys=keys, bends=bends, reference_m=reference)


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
    """A station amid the anchors that no bend is likely to lie on or to cross.

    A bend that crosses the reference turns the whole line about it, so where stations are
    loose the reference lies further off, if need be beyond the ends.
    """
    if not anchors:
        return 0.0
    at: Floats = keys.mean_m[[anchor.key for anchor in anchors]]
    middle = float(np.median(at))
    turns = [bend.key for bend in bends]
    low = float(keys.mean_m.min()) - REFERENCE_OFF_M
    high = float(keys.mean_m.max()) + REFERENCE_OFF_M
    tried = np.linspace(low, high, min(int((high - low) / REFERENCE_STEP_M), MOST_TRIED_AT))
    tried = tried[np.argsort(np.abs(tried - middle), kind="stable")]
    needed = np.maximum(CLEAR_OF_BEND_M, CLEAR_OF_BEND_SD * keys.sd_m()[turns])
    away = np.abs(tried[:, None] - keys.mean_m[turns][None, :])
    clear = np.min(away / needed[None, :], axis=1, initial=1.0)
    return float(tried[int(np.argmax(clear))])
