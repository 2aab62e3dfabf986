"""Decide over time what one frame cannot: the likeliest course of the counter.

A hidden-state model whose state is the number shown. A reading speaks for a number by
the odds of its digits; the camera moves in small steps, rests, backs up, and is now and
then zeroed by hand. The best course is Viterbi's, the confidence of each step is its
posterior probability by the forward-backward recursion over the same candidates
(Rabiner 1989, "A tutorial on hidden Markov models", Proc. IEEE 77(2); from memory).
The probabilities below are this project's choices, set on made-up films (see docs).
"""

from __future__ import annotations

import math
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.counter.words import Number

STRAY: Final = math.log(1e-4)
"""A reading that has nothing to do with the number shown."""

LOST_POINT: Final = math.log(0.1)
LOST_FIRST: Final = math.log(0.01)
LOST_LAST: Final = math.log(0.03)
LOST_TAIL: Final = math.log(0.01)
EXTRA_LAST: Final = math.log(0.03)
"""A unit or a smear behind the number taken for one more digit."""

WRONG_SIGN: Final = math.log(0.05)
RESET: Final = math.log(1e-5)
"""Going to zero between two readings."""

JUMP: Final = math.log(1e-9)
"""Going anywhere else at once."""

USUAL_M_S: Final = 0.15
"""Mean size of the speed assumed of a pushed camera: common practice, no source."""

NEIGHBOURS: Final = 5


class Course(NamedTuple):
    """The number shown at each time, in last places, and the probability of each.

    ``score`` is the log probability of the whole course with its readings.
    """

    value: NDArray[np.int64]
    probability: NDArray[np.float64]
    score: float


def settle(
    times_s: NDArray[np.float64], numbers: list[Number | None], decimals: int, place_m: float
) -> Course:
    """Return the likeliest course through the readings.

    ``decimals`` is the number of digits behind the point, ``place_m`` the worth of
    one unit of the last place in metres. At least one number must not be ``None``.
    """
    own = [_own(number, decimals) if number else {} for number in numbers]
    choices = _choices(own)
    heard = [
        np.array([_speaks(number, v, decimals) for v in some]) if number else np.zeros(len(some))
        for number, some in zip(numbers, choices, strict=True)
    ]
    states = [np.array(some, dtype=np.int64) for some in choices]
    moves = [
        _move(states[k], states[k + 1], float(times_s[k + 1] - times_s[k]), place_m)
        for k in range(len(states) - 1)
    ]
    best, score = _viterbi(heard, moves)
    posterior = _posterior(heard, moves)
    return Course(
        np.array([s[b] for s, b in zip(states, best, strict=True)], dtype=np.int64),
        np.array([p[b] for p, b in zip(posterior, best, strict=True)]),
        score,
    )


def _own(number: Number, decimals: int) -> dict[int, float]:
    """Return the numbers a reading speaks for: as read, and with one digit exchanged."""
    odds = np.asarray(number.digits, dtype=float)
    figures = odds.argmax(axis=1)
    sign = -1 if number.negative else 1
    found = {sign * _joined(figures): 0.0}
    for at, row in enumerate(odds):
        for digit in np.argsort(row)[-3:-1]:
            if row[digit] > 0.01:
                other = figures.copy()
                other[at] = digit
                found[sign * _joined(other)] = 0.0
    if number.decimals is None and decimals:
        found[sign * _joined(figures) * 10**decimals] = 0.0
    if number.decimals == decimals + 1 and decimals:
        return {sign * (abs(value) // 10): 0.0 for value in found}
    return found


def _joined(figures: NDArray[np.int64]) -> int:
    return int("".join(str(int(f)) for f in figures))


def _choices(own: list[dict[int, float]]) -> list[list[int]]:
    """Return the candidates at each time: its own and those read just before and after."""
    read = [k for k, some in enumerate(own) if some]
    firsts = {k: next(iter(own[k])) for k in read}
    choices = []
    place = np.searchsorted(read, np.arange(len(own)))
    for k, some in enumerate(own):
        low, high = max(0, place[k] - NEIGHBOURS), min(len(read), place[k] + NEIGHBOURS + 1)
        around = {firsts[j] for j in read[low:high]}
        if some:
            near = [firsts[j] for j in read[max(low, place[k] - 1) : place[k] + 2] if j != k]
            around.update(v for other in near for v in _blends(firsts[k], other))
        if not some:
            before, after = read[max(0, place[k] - 1)], read[min(len(read) - 1, place[k])]
            a, b = firsts[before], firsts[after]
            if after > before and abs(a - b) < 200:
                around.add(round(a + (b - a) * (k - before) / (after - before)))
        choices.append(sorted(around | set(some)))
    return choices


def _blends(read: int, near: int) -> set[int]:
    """Return ``read`` with one digit, or the digits it lacks in front, taken from ``near``."""
    if (read < 0) != (near < 0):
        return set()
    sign = -1 if near < 0 else 1
    mine, other = str(abs(read)), str(abs(near))
    if len(other) > len(mine):
        return {sign * int(other[: len(other) - len(mine)] + mine)}
    other = other.zfill(len(mine))
    return {
        sign * int(mine[:at] + other[at] + mine[at + 1 :])
        for at in range(len(mine))
        if mine[at] != other[at]
    }


def _speaks(number: Number, value: int, decimals: int) -> float:
    """Return the log likelihood of a reading if ``value`` was shown."""
    odds = np.asarray(number.digits, dtype=float)
    count = len(odds)
    text = str(abs(value)).zfill(decimals + 1)
    said = STRAY
    exact = (number.decimals or 0) == decimals
    if exact or number.decimals is None:
        cost = 0.0 if exact else LOST_POINT
        if len(text) <= count:
            said = max(said, cost + _match(odds, text.zfill(count)))
        elif len(text) == count + 1:
            said = max(said, cost + LOST_FIRST + _match(odds, text[1:]))
        if len(text) + 1 == count:
            said = max(said, cost + LOST_FIRST + _match(odds[1:], text))
    if number.decimals == decimals + 1 and decimals > 0 and len(text) < count:
        said = max(said, EXTRA_LAST + _match(odds[:-1], text.zfill(count - 1)))
    if number.decimals is None and decimals > 0 and len(text) - decimals <= count:
        said = max(said, LOST_LAST + _match(odds, text[: len(text) - decimals].zfill(count)))
    if number.decimals is None and 2 <= count < len(text):
        said = max(said, LOST_TAIL + _match(odds, text[:count]))
    if (value < 0) != number.negative and value != 0:
        said += WRONG_SIGN
    return max(said, STRAY)


def _match(odds: NDArray[np.float64], text: str) -> float:
    at = np.array([int(c) for c in text])
    return float(np.log(odds[np.arange(len(at)), at] + 1e-5).sum())


def _move(
    before: NDArray[np.int64], after: NDArray[np.int64], gap_s: float, place_m: float
) -> NDArray[np.float64]:
    """Return log probabilities (before, after) of going on to each number."""
    reach = 0.5 + USUAL_M_S * max(gap_s, 0.0) / place_m
    steps = np.abs(after[None, :] - before[:, None])
    small = -steps / reach - np.log(2 * reach)
    leap = np.where(np.abs(after)[None, :] <= 3, RESET, JUMP)
    return np.asarray(np.maximum(small, leap), dtype=np.float64)


def _viterbi(
    heard: list[NDArray[np.float64]], moves: list[NDArray[np.float64]]
) -> tuple[list[int], float]:
    score = heard[0]
    back: list[NDArray[np.int64]] = []
    for spoken, move in zip(heard[1:], moves, strict=True):
        reached = score[:, None] + move
        back.append(reached.argmax(axis=0))
        score = reached.max(axis=0) + spoken
    path = [int(score.argmax())]
    for pointer in reversed(back):
        path.append(int(pointer[path[-1]]))
    return path[::-1], float(score.max())


def _posterior(
    heard: list[NDArray[np.float64]], moves: list[NDArray[np.float64]]
) -> list[NDArray[np.float64]]:
    ahead = [heard[0]]
    for spoken, move in zip(heard[1:], moves, strict=True):
        ahead.append(np.logaddexp.reduce(ahead[-1][:, None] + move, axis=0) + spoken)
    behind = [np.zeros(len(heard[-1]))]
    for spoken, move in zip(reversed(heard[1:]), reversed(moves), strict=True):
        behind.append(np.logaddexp.reduce(move + (spoken + behind[-1])[None, :], axis=1))
    found = []
    for a, b in zip(ahead, reversed(behind), strict=True):
        total = a + b
        raised = np.exp(total - total.max())
        found.append(raised / raised.sum())
    return found
