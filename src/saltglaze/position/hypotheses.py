"""All the answers the evidence allows for the plan, fitted and weighed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final, NamedTuple

import numpy as np

from saltglaze.position.doubts import few, strained, with_unsaid_bend, without_a_point
from saltglaze.position.plan import PlanFit, PlanProblem, fit
from saltglaze.position.starts import starts

LEAST_WEIGHT: Final = 0.01
SAME_M: Final = 0.05
MOST_UNSAID: Final = 2


class Hypothesis(NamedTuple):
    """One answer and its share of belief."""

    fit: PlanFit
    weight: float


_Scored = tuple[float, PlanFit]
"""Log evidence on one scale for all, and the fit."""


def weigh(problem: PlanProblem) -> tuple[Hypothesis, ...]:
    """Fit every start; return the distinct answers, likeliest first, weights adding to 1.

    Where the best answer is strained (surface points left aside, or squares that chance
    does not explain), or too few points would show it, a bend that nobody mentioned is
    tried between the anchors. Beside the best answer stand those with one of its points
    left aside.
    """
    scored = [(one.log_evidence, one) for one in (fit(problem, start) for start in starts(problem))]
    for count in range(MOST_UNSAID):
        if not scored:
            return ()
        best = _best(scored)
        if not (strained(best[1]) or (count == 0 and few(best[1]))):
            break
        scored += [(_level(best) + more, one) for more, one in with_unsaid_bend(best[1])]
    best = _best(scored)
    scored += [(_level(best) + one.log_evidence, one) for one in without_a_point(best[1])]
    return _shared_out(_held(scored))


def _best(scored: Sequence[_Scored]) -> _Scored:
    return max(scored, key=lambda one: one[0])


def _level(scored: _Scored) -> float:
    """What brings the evidence of fits with other unknowns to the common scale."""
    return scored[0] - scored[1].log_evidence


def _held(scored: Sequence[_Scored]) -> Sequence[_Scored]:
    """The fits that keep two points or a point and a bearing, where there are such.

    One of two points that do not agree may well be wrong, but which one nothing tells,
    and with one left aside nothing gives a heading.
    """

    def holds(one: PlanFit) -> bool:
        return int(np.sum(one.good >= 0.5)) + (one.problem.bearing is not None) >= 2

    return [one for one in scored if holds(one[1])] or scored


def _shared_out(scored: Sequence[_Scored]) -> tuple[Hypothesis, ...]:
    kept: list[_Scored] = []
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


def _same(one: PlanFit, other: PlanFit) -> bool:
    gap = one.course.at(one.problem.grid_m)[0] - other.course.at(one.problem.grid_m)[0]
    return bool(np.max(np.hypot(gap[:, 0], gap[:, 1]), initial=0.0) < SAME_M)
