"""Answers that a first fit does not show: a bend nobody mentioned, a good point that is not.

Both are fits beside the best one, weighed by their evidence against it. They cost little
where surface points abound, since they then have no belief; where points are few they are
what the margin is made of.
"""

from __future__ import annotations

import math
from dataclasses import replace
from itertools import pairwise
from typing import Final

import numpy as np

from saltglaze.position import priors
from saltglaze.position.bends import Bend
from saltglaze.position.plan import PlanFit, PlanProblem, fit
from saltglaze.position.posing import hung_at
from saltglaze.position.starts import log_chance, scored_starts, starts

UNSAID: Final = "unsaid bend "
MOST_TRIED: Final = 3
LEAST_ANCHORS: Final = 3
FEW_ANCHORS: Final = 4
"""With no more than these a bend nobody mentioned leaves no strain behind it."""
LONGEST_GAP_M: Final = 12.0
LEAST_GAP_M: Final = 0.5
SPREAD_OVER_GAP: Final = 0.29
"""A bend anywhere in a gap: uniform, so its sd is the gap over the root of 12."""
STRAINED: Final = 2.33
"""One fit in a hundred is strained more than this by chance (normal tail)."""
MOST_DOUBTED: Final = 6
"""With more points only the first and the last are doubted: the others hold one another."""
WAYS_WITHOUT: Final = 2
NEVER_GOOD: Final = 1.0 - 1e-9


def strained(found: PlanFit) -> bool:
    """Whether chance and single gross errors would hardly leave a fit like this.

    One surface point left aside amid others is most likely just wrong; two of them, or
    the first or last of the line, may lie round a corner.
    """
    firm = np.array([not anchor.weak for anchor in found.problem.anchors])
    good = found.good[firm]
    if good.size < LEAST_ANCHORS:
        return False
    aside = np.flatnonzero(good < 0.5)
    at = found.problem.keys.mean_m[[anchor.key for anchor in found.problem.anchors]][firm]
    at_an_end = bool(np.isin(aside, [np.argmin(at), np.argmax(at)]).any())
    free = 2.0 * found.good.size - 3.0
    tense = found.strain > free + STRAINED * math.sqrt(2.0 * free)
    return bool(aside.size > 1 or at_an_end or tense)


def few(found: PlanFit) -> bool:
    """Whether so few points tie the line down that a bend nobody mentioned would not show."""
    return 1 < sum(not anchor.weak for anchor in found.problem.anchors) <= FEW_ANCHORS


def with_unsaid_bend(found: PlanFit) -> list[tuple[float, PlanFit]]:
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
        fitted += [
            (one.log_evidence + chance, one) for one in (fit(more, start) for start in starts(more))
        ]
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
    reference = hung_at(keys, problem.anchors, bends)
    return replace(problem, keys=keys, bends=bends, reference_m=reference)


def without_a_point(found: PlanFit) -> list[PlanFit]:
    """Fits with one surface point left aside that the best answer keeps."""
    problem = found.problem
    kept = [int(n) for n in np.flatnonzero(found.good >= 0.5) if not problem.anchors[n].weak]
    if len(kept) < LEAST_ANCHORS:
        return []
    kept.sort(key=lambda n: float(problem.keys.mean_m[problem.anchors[n].key]))
    held = problem
    if len(kept) > MOST_DOUBTED:
        kept, held = [kept[0], kept[-1]], _with_settled_turns(found)
    fits = []
    for number in kept:
        anchors = tuple(
            replace(one, out_share=NEVER_GOOD) if n == number else one
            for n, one in enumerate(problem.anchors)
        )
        for _, start in scored_starts(replace(held, anchors=anchors))[:WAYS_WITHOUT]:
            aside = tuple(a or n == number for n, a in enumerate(start.aside))
            prior = log_chance(problem, start.turns)
            fits.append(fit(problem, replace(start, aside=aside, log_prior=prior)))
    return fits
