"""Which two marks a crew with two tapes should use to find a spot again."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import Final

import numpy as np

from saltglaze.model.appraisal import TapeTie
from saltglaze.model.ground import Mark, PlanPoint
from saltglaze.position.ties import tape_sd_m

TAPE_REACH_M: Final = 30.0
"""Length of a common tape (100 ft): common practice, no source."""


def tape_ties(marks: Sequence[Mark], point: PlanPoint) -> tuple[TapeTie, ...]:
    """Return ties from the two marks that fix a point best; one or none where marks lack.

    Best is the pair whose crossing has the smallest worst axis, tape and mark errors
    counted; marks within reach of a common tape go before others.
    """
    if len(marks) < 2:
        return tuple(_tie(mark, point) for mark in marks)
    within = [mark for mark in marks if _distance(mark, point) <= TAPE_REACH_M]
    pool = within if len(within) >= 2 else marks
    one, other = min(combinations(pool, 2), key=lambda pair: _worst_axis(pair, point))
    return tuple(_tie(mark, point) for mark in (one, other))


def _worst_axis(pair: tuple[Mark, Mark], point: PlanPoint) -> float:
    """Return the sd along the worse axis of a point set out from two marks, metres."""
    normal = np.zeros((2, 2))
    for mark in pair:
        distance = _distance(mark, point)
        if distance < 1e-6:
            continue
        unit = np.array([point.east_m - mark.point.east_m, point.north_m - mark.point.north_m])
        unit /= distance
        sd = math.hypot(tape_sd_m(distance), mark.sd_m)
        normal += np.outer(unit, unit) / sd**2
    weakest = float(np.linalg.eigvalsh(normal)[0])
    return 1.0 / math.sqrt(weakest) if weakest > 1e-9 else math.inf


def _tie(mark: Mark, point: PlanPoint) -> TapeTie:
    return TapeTie(mark_id=mark.id, mark_name=mark.name, distance_m=_distance(mark, point))


def _distance(mark: Mark, point: PlanPoint) -> float:
    return math.hypot(point.east_m - mark.point.east_m, point.north_m - mark.point.north_m)
