"""Starts for the plan fit: which way bends turn, which mirror point holds, how it hangs.

For every way the bends may turn the line's nominal shape is known from the stations
alone. It is laid through every pair of anchors, each with every choice of mirror point,
and scored by how well all anchors then agree, with room for the pipe's wander. The best
few distinct answers are handed on to be fitted.
"""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Final

import numpy as np

from saltglaze.position.adjust import Bools, Floats, Ints
from saltglaze.position.course import Course
from saltglaze.position.plan import PlanProblem, Start

_Scored = tuple[float, Start]

MOST_STARTS: Final = 8
WORTH_FITTING: Final = 14.0
"""Starts this far (in log likelihood) below the best are not fitted."""
MOST_TURNS: Final = 64
UNLIKELY_TURNS: Final = 6.5
"""Ways to turn this far (in log chance) below the likeliest are not tried: more than two
words wrong."""
LEAST_ALONG_M: Final = 0.5
LEAST_ACROSS_M: Final = 0.2
"""Anchors nearer than these give no heading."""
FIRM_ENOUGH: Final = 2
ROOM_M: Final = 0.2
ROOM_SHARE: Final = 0.06
"""Room for the pipe's wander, by distance from the anchors it is laid through."""
MOST_STATION_ROOM_M2: Final = 4.0


def starts(problem: PlanProblem) -> tuple[Start, ...]:
    """Return the best distinct starts, best first; none where nothing gives a heading."""
    return tuple(start for _, start in scored_starts(problem))


def scored_starts(problem: PlanProblem) -> tuple[tuple[float, Start], ...]:
    """Return the best distinct starts with their log likelihoods, best first."""
    best: dict[tuple[tuple[float, ...], tuple[int, ...], tuple[bool, ...]], _Scored] = {}
    board = _board(problem)
    for turns, log_prior in _turns(problem):
        for score, start in _laid(problem, board, turns, log_prior):
            name = (tuple(turns), start.choice, start.aside)
            if name not in best or score > best[name][0]:
                best[name] = (score, start)
    ranked = sorted(best.values(), key=lambda one: -one[0])[:MOST_STARTS]
    return tuple(one for one in ranked if one[0] > ranked[0][0] - WORTH_FITTING)


def _turns(problem: PlanProblem) -> list[tuple[Floats, float]]:
    """Ways the bends may turn, likeliest first, with the log of their prior chance."""
    ways = []
    for signs in itertools.product((1.0, -1.0), repeat=len(problem.bends)):
        turns = np.array(signs)
        ways.append((turns, log_chance(problem, turns)))
    ways.sort(key=lambda way: -way[1])
    return [way for way in ways[:MOST_TURNS] if way[1] > ways[0][1] - UNLIKELY_TURNS]


def log_chance(problem: PlanProblem, turns: Floats) -> float:
    """Log of the prior chance that the bends turn so."""
    right = np.array([bend.right_chance for bend in problem.bends])
    chance = np.where(turns > 0.0, right, 1.0 - right)
    return float(np.sum(np.log(np.maximum(chance, 1e-12))))


@dataclass(frozen=True)
class _Board:
    """The anchors as arrays, padded to as many choices as any has."""

    points: Floats
    """(anchors, choices, 2); a choice that does not exist lies infinitely far off."""
    variance: Floats
    """(anchors, choices) per axis."""
    station: Floats
    station_var: Floats
    out_share: Floats
    out_sd_m: Floats
    spots: list[tuple[int, int]]


def _board(problem: PlanProblem) -> _Board:
    most = max(len(anchor.points) for anchor in problem.anchors)
    points = np.full((len(problem.anchors), most, 2), np.inf)
    variance = np.ones((len(problem.anchors), most))
    for number, anchor in enumerate(problem.anchors):
        points[number, : len(anchor.points)] = anchor.points
        size = 0.5 * np.trace(anchor.covariances, axis1=1, axis2=2)
        variance[number, : len(anchor.points)] = size
    keys = [anchor.key for anchor in problem.anchors]
    return _Board(
        points,
        variance,
        problem.keys.mean_m[keys],
        np.diag(problem.keys.covariance_m2)[keys],
        np.array([anchor.out_share for anchor in problem.anchors]),
        np.array([anchor.out_sd_m for anchor in problem.anchors]),
        [(n, c) for n in _hung_by(problem) for c in range(len(problem.anchors[n].points))],
    )


def _hung_by(problem: PlanProblem) -> list[int]:
    """The anchors a shape is laid through: facts of the map only where points are wanting."""
    firm = [n for n, anchor in enumerate(problem.anchors) if not anchor.weak]
    return firm if len(firm) >= FIRM_ENOUGH else list(range(len(problem.anchors)))


def _laid(
    problem: PlanProblem, board: _Board, turns: Floats, log_prior: float
) -> list[tuple[float, Start]]:
    """Lay one nominal shape through the anchors in every way, scored."""
    where = problem.keys.mean_m[[bend.key for bend in problem.bends]]
    angle = np.array([bend.angle_rad for bend in problem.bends]) * turns
    order = np.argsort(where)
    shape = Course(problem.reference_m, np.zeros(2), 0.0, where[order], angle[order])
    local, _ = shape.at(board.station)
    ways = _hangings(problem, board, shape, local)
    if ways.heading.size == 0:
        return []
    sin, cos = np.sin(ways.heading), np.cos(ways.heading)
    arm = local[None, :, :] - ways.held[:, None, :]
    placed = _turned(arm, sin[:, None], cos[:, None]) + ways.ground[:, None, :]
    origin = _turned(-ways.held, sin, cos) + ways.ground
    score, choice, aside = _agreement(board, placed, ways.held_m)
    return [
        (
            float(score[n]) + log_prior,
            Start(
                turns,
                tuple(choice[n].tolist()),
                origin[n],
                float(ways.heading[n]),
                log_prior,
                tuple(aside[n].tolist()),
            ),
        )
        for n in range(score.size)
    ]


@dataclass(frozen=True)
class _Hangings:
    """Ways to hang a shape on the ground: a point of it, its place, and a heading."""

    heading: Floats
    held: Floats
    ground: Floats
    held_m: Floats
    """(ways, 2) stations at which it is held."""


def _hangings(problem: PlanProblem, board: _Board, shape: Course, local: Floats) -> _Hangings:
    """Through every pair of anchors, and through each one on the bearing if that is known."""
    anchor = np.array([n for n, _ in board.spots])
    choice = np.array([c for _, c in board.spots])
    i, j = np.triu_indices(anchor.size, 1)
    along = local[anchor[j]] - local[anchor[i]]
    spot = board.points[anchor, choice]
    across = spot[j] - spot[i]
    wide = (anchor[i] != anchor[j]) & (np.hypot(*along.T) > LEAST_ALONG_M)
    wide &= np.hypot(*across.T) > LEAST_ACROSS_M
    i, j, along, across = i[wide], j[wide], along[wide], across[wide]
    heading = np.arctan2(across[:, 0], across[:, 1]) - np.arctan2(along[:, 0], along[:, 1])
    held = 0.5 * (local[anchor[i]] + local[anchor[j]])
    ground = 0.5 * (spot[i] + spot[j])
    held_m = np.column_stack([board.station[anchor[i]], board.station[anchor[j]]])
    if problem.bearing is not None:
        _, step = shape.at(np.array([problem.bearing.station_m]))
        turn = problem.bearing.heading - math.atan2(step[0, 0], step[0, 1])
        heading = np.concatenate([heading, np.full(anchor.size, turn)])
        held = np.concatenate([held, local[anchor]])
        ground = np.concatenate([ground, spot])
        held_m = np.concatenate([held_m, np.repeat(board.station[anchor][:, None], 2, axis=1)])
    return _Hangings(heading, held, ground, held_m)


def _agreement(board: _Board, placed: Floats, held_m: Floats) -> tuple[Floats, Ints, Bools]:
    """Log likelihood of every way, which mirror point each anchor takes, which miss it."""
    away = np.min(np.abs(held_m[:, :, None] - board.station[None, None, :]), axis=1)
    room = (
        ROOM_M**2 + (ROOM_SHARE * away) ** 2 + np.minimum(board.station_var, MOST_STATION_ROOM_M2)
    )
    variance = board.variance[None, :, :] + room[:, :, None]
    square = np.sum((board.points[None] - placed[:, :, None, :]) ** 2, axis=3)
    share = board.out_share[None, :, None]
    near = np.log1p(-share) - 0.5 * square / variance - np.log(variance)
    gross = board.out_sd_m[None, :, None] ** 2 + 4.0 * variance
    far = np.log(np.maximum(share, 1e-9)) - 0.5 * square / gross - np.log(gross)
    each = np.logaddexp(near, far)
    choice = each.argmax(axis=2).astype(np.int64)
    aside = np.take_along_axis(far > near, choice[:, :, None], axis=2)[:, :, 0]
    return each.max(axis=2).sum(axis=1), choice, aside


def _turned(arm: Floats, sin: Floats, cos: Floats) -> Floats:
    """Vectors (..., 2) turned clockwise."""
    east, north = arm[..., 0], arm[..., 1]
    return np.stack([cos * east + sin * north, cos * north - sin * east], axis=-1)
