"""Starts for the plan fit: which way bends turn, which mirror point holds, how it hangs.

For every way the bends may turn the line's nominal shape is known from the stations
alone. It is laid through every pair of anchors, each with every choice of mirror point,
and scored by how well all anchors then agree, with room for the pipe's wander. The best
few distinct answers are handed on to be fitted.
"""

from __future__ import annotations

import itertools
import math
from typing import Final

import numpy as np

from saltglaze.position.adjust import Floats
from saltglaze.position.course import Course
from saltglaze.position.plan import PlanProblem, Start

MOST_STARTS: Final = 6
WORTH_FITTING: Final = 14.0
"""Starts this far (in log likelihood) below the best are not fitted."""
MOST_TURNS: Final = 128
ROOM_M: Final = 0.2
ROOM_SHARE: Final = 0.06
"""Room for the pipe's wander, by distance from the anchors it is laid through."""


def starts(problem: PlanProblem) -> tuple[Start, ...]:
    """Return the best distinct starts, best first; none where nothing gives a heading."""
    best: dict[tuple[tuple[float, ...], tuple[int, ...]], tuple[float, Start]] = {}
    for turns, log_prior in _turns(problem):
        for score, start in _laid(problem, turns, log_prior):
            name = (tuple(turns), start.choice)
            if name not in best or score > best[name][0]:
                best[name] = (score, start)
    ranked = sorted(best.values(), key=lambda one: -one[0])
    return tuple(s for score, s in ranked[:MOST_STARTS] if score > ranked[0][0] - WORTH_FITTING)


def _turns(problem: PlanProblem) -> list[tuple[Floats, float]]:
    """Ways the bends may turn, likeliest first, with the log of their prior chance."""
    ways = []
    for signs in itertools.product((1.0, -1.0), repeat=len(problem.bends)):
        chance = [
            bend.right_chance if sign > 0.0 else 1.0 - bend.right_chance
            for bend, sign in zip(problem.bends, signs, strict=True)
        ]
        ways.append((np.array(signs), float(np.sum(np.log(np.maximum(chance, 1e-12))))))
    ways.sort(key=lambda way: -way[1])
    return [way for way in ways[:MOST_TURNS] if way[1] > ways[0][1] - WORTH_FITTING]


def _laid(problem: PlanProblem, turns: Floats, log_prior: float) -> list[tuple[float, Start]]:
    """Lay one nominal shape through the anchors in every way, scored."""
    where = problem.keys.mean_m[[bend.key for bend in problem.bends]]
    angle = np.array([bend.angle_rad for bend in problem.bends]) * turns
    order = np.argsort(where)
    shape = Course(problem.reference_m, np.zeros(2), 0.0, where[order], angle[order])
    station = problem.keys.mean_m[[anchor.key for anchor in problem.anchors]]
    local, _ = shape.at(station)
    found = []
    for which, heading, held, point in _hangings(problem, shape, local):
        placed = point + (local - held) @ _turned(heading)
        score, choice = _agreement(problem, placed, station, station[list(which)])
        at = point + (np.zeros(2) - held) @ _turned(heading)
        found.append((score + log_prior, Start(turns, choice, at, heading, log_prior)))
    return found


def _hangings(
    problem: PlanProblem, shape: Course, local: Floats
) -> list[tuple[tuple[int, ...], float, Floats, Floats]]:
    """(anchors laid through, heading, point of the shape, its place on the ground)."""
    ways: list[tuple[tuple[int, ...], float, Floats, Floats]] = []
    spots = [
        (number, choice)
        for number, a in enumerate(problem.anchors)
        for choice in range(len(a.points))
    ]
    for (i, a), (j, b) in itertools.combinations(spots, 2):
        along = local[j] - local[i]
        across = problem.anchors[j].points[b] - problem.anchors[i].points[a]
        if i == j or np.hypot(*along) < 0.5 or np.hypot(*across) < 0.2:
            continue
        heading = math.atan2(across[0], across[1]) - math.atan2(along[0], along[1])
        middle = 0.5 * (problem.anchors[i].points[a] + problem.anchors[j].points[b])
        ways.append(((i, j), heading, 0.5 * (local[i] + local[j]), middle))
    if problem.bearing is not None:
        _, step = shape.at(np.array([problem.bearing.station_m]))
        heading = problem.bearing.heading - math.atan2(step[0, 0], step[0, 1])
        for i, a in spots:
            ways.append(((i,), heading, local[i], problem.anchors[i].points[a]))
    return ways


def _agreement(
    problem: PlanProblem, placed: Floats, station: Floats, held: Floats
) -> tuple[float, tuple[int, ...]]:
    total, choice = 0.0, []
    for number, anchor in enumerate(problem.anchors):
        away = float(np.min(np.abs(held - station[number])))
        key = problem.keys.covariance_m2[anchor.key, anchor.key]
        room = ROOM_M**2 + (ROOM_SHARE * away) ** 2 + min(key, 1.0)
        miss = anchor.points - placed[number]
        variance = 0.5 * np.trace(anchor.covariances, axis1=1, axis2=2) + room
        square = np.sum(miss**2, axis=1)
        near = math.log1p(-anchor.out_share) - 0.5 * square / variance - np.log(variance)
        gross = anchor.out_sd_m**2 + 4.0 * variance
        far = math.log(max(anchor.out_share, 1e-9)) - 0.5 * square / gross - np.log(gross)
        each = np.logaddexp(near, far)
        picked = int(np.argmax(each))
        choice.append(picked)
        total += float(each[picked])
    return total, tuple(choice)


def _turned(heading: float) -> Floats:
    """Matrix that turns row vectors (east, north) clockwise by a heading."""
    cos, sin = math.cos(heading), math.sin(heading)
    return np.array([[cos, -sin], [sin, cos]])
