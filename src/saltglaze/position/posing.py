"""The plan problem as posed: a grid of small heading jumps, and where the line hangs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np

from saltglaze.model.appraisal import LineSegment
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.bends import Bend
from saltglaze.position.keys import Keys
from saltglaze.position.plan import Anchor, Bearing, PlanProblem

GRID_M: Final = 1.0
MOST_GRID: Final = 160
CLEAR_OF_BEND_M: Final = 0.6
CLEAR_OF_BEND_SD: Final = 4.0
"""A reference this far from a bend, in sd of the bend's station, will not be crossed by it."""
REFERENCE_OFF_M: Final = 12.0
REFERENCE_STEP_M: Final = 0.25
MOST_TRIED_AT: Final = 2000


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
    reference = hung_at(keys, anchors, bends)
    return PlanProblem(keys, anchors, bends, grid, sd, reference, bearing)


def _wander(segments: Sequence[LineSegment], station_m: float) -> float:
    for one in segments:
        start, end = one.start_m.value or 0.0, one.end_m.value
        if start <= station_m and (end is None or station_m <= end) and one.material is not None:
            return priors.HEADING_RAD_PER_SQRT_M.get(one.material.value, priors.HEADING_OTHER)
    return priors.HEADING_OTHER


def hung_at(keys: Keys, anchors: tuple[Anchor, ...], bends: tuple[Bend, ...]) -> float:
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
