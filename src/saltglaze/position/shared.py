"""Landmarks that two runs share: the same tap, bend or change met from either end.

What two runs both saw stands at one station. Pairs of like findings are taken as one
landmark where their stations agree within their joint doubt; where one run hardly knows
where it began, the shift that brings most pairs together is taken.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import Final, NamedTuple

import numpy as np

from saltglaze.model.finding import Finding
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.keys import Keys
from saltglaze.position.links import GATE, SINGULAR

LOST_M: Final = 3.0
"""A run whose start is known no better than this is placed by the shift most pairs share."""
SHIFT_M: Final = 1.0


class Pair(NamedTuple):
    """Two keys, of different runs, that may be one landmark."""

    one: int
    other: int
    gap_m: float
    sd_m: float


def with_shared(keys: Keys, findings: Sequence[Finding]) -> Keys:
    """Return the keys with the landmarks that runs share brought together."""
    runs = sorted({key.run_id for key in keys.keys if key.run_id is not None})
    for first, second in combinations(runs, 2):
        for pair in _once_each(_pairs(keys, findings, first, second)):
            keys = _brought_together(keys, pair)
    return keys


def _pairs(keys: Keys, findings: Sequence[Finding], first: str, second: str) -> list[Pair]:
    spots = []
    for finding in findings:
        place = keys.index(f"finding:{finding.id}")
        if finding.facts.feature in SINGULAR and place is not None:
            spots.append((place, keys.keys[place].run_id, finding.facts))
    pairs = [
        _pair(keys, one, other)
        for one, run, facts in spots
        for other, other_run, other_facts in spots
        if run == first
        and other_run == second
        and facts.feature is other_facts.feature
        and facts.kind == other_facts.kind
    ]
    lost = [pair for pair in pairs if pair.sd_m > LOST_M]
    if not lost:
        return [pair for pair in pairs if abs(pair.gap_m) < GATE * pair.sd_m]
    return _sharing_a_shift(pairs)


def _pair(keys: Keys, one: int, other: int) -> Pair:
    cov = keys.covariance_m2
    variance = cov[one, one] + cov[other, other] - 2.0 * cov[one, other]
    gap = float(keys.mean_m[other] - keys.mean_m[one])
    return Pair(one, other, gap, float(np.sqrt(max(variance, 0.0))))


def _sharing_a_shift(pairs: Sequence[Pair]) -> list[Pair]:
    """The pairs that agree on one shift; none where the choice is open."""
    near = [[p for p in pairs if abs(p.gap_m - q.gap_m) < SHIFT_M] for q in pairs]
    best = max(near, key=len)
    if len(pairs) == 1 or len(best) > 1:
        return best
    return []


def _once_each(pairs: Sequence[Pair]) -> list[Pair]:
    """Each landmark in at most one pair, nearest first."""
    used: set[int] = set()
    kept = []
    for pair in sorted(pairs, key=lambda one: abs(one.gap_m)):
        if pair.one not in used and pair.other not in used:
            used |= {pair.one, pair.other}
            kept.append(pair)
    return kept


def _brought_together(keys: Keys, pair: Pair) -> Keys:
    """Condition the joint stations on the two keys being one place."""
    row: Floats = np.zeros(len(keys.keys))
    row[pair.one], row[pair.other] = -1.0, 1.0
    shared = keys.covariance_m2 @ row
    gain = shared / (float(row @ shared) + priors.SAME_PLACE_M**2)
    return replace(
        keys,
        mean_m=keys.mean_m - gain * float(row @ keys.mean_m),
        covariance_m2=keys.covariance_m2 - np.outer(gain, shared),
    )
