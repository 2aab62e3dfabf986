"""Learn how this film writes its digits, and read them again with that.

One film has one font and one recorder: the same digit looks the same all through. Digits
that time has settled are examples of their class; a digit's look is the reader's feature
vector. With them a Gaussian classifier of one shared spread (linear discriminant analysis,
Fisher 1936; from memory) is fitted, and its odds are mixed with the reader's.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.counter.settle import Course
from saltglaze.sight.counter.words import Number

LEAST_EXAMPLES: Final = 4
"""Examples of a digit before its look counts as learned."""

SETTLED: Final = 0.9
"""Probability from which a settled number lends its digits as examples."""

SHRINK: Final = 0.5
"""Share of the spread taken as equal in all directions, against few examples."""

WEIGHT: Final = 0.5
"""Weight of what was learned against the reader's own odds."""


def relearned(
    numbers: Sequence[Number | None], course: Course, decimals: int
) -> list[Number | None] | None:
    """Return the readings with digit odds mended by what the film taught; ``None``: nothing."""
    looks, digits = _examples(numbers, course, decimals)
    known = [d for d in range(10) if np.sum(digits == d) >= LEAST_EXAMPLES]
    if len(known) < 3:
        return None
    means = np.stack([looks[digits == d].mean(axis=0) for d in known])
    rest = (
        looks[np.isin(digits, known)]
        - means[np.searchsorted(known, digits[np.isin(digits, known)])]
    )
    spread = np.cov(rest, rowvar=False)
    level = float(np.trace(spread)) / len(spread)
    blend = (1 - SHRINK) * spread + (SHRINK * level + 1e-6) * np.eye(len(spread))
    precision = np.asarray(np.linalg.inv(blend), dtype=np.float64)
    return [
        number
        if number is None or number.looks is None
        else _mended(number, known, means, precision)
        for number in numbers
    ]


def _examples(
    numbers: Sequence[Number | None], course: Course, decimals: int
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    looks, digits = [], []
    for number, value, sure in zip(numbers, course.value, course.probability, strict=True):
        if number is None or number.looks is None or sure < SETTLED:
            continue
        text = str(abs(int(value))).zfill(decimals + 1).zfill(len(number.digits))
        if (number.decimals or 0) != decimals or len(text) != len(number.digits):
            continue
        looks.append(np.asarray(number.looks, dtype=np.float64))
        digits += [int(c) for c in text]
    if not looks:
        return np.zeros((0, 1)), np.zeros(0, dtype=np.int64)
    return np.concatenate(looks), np.array(digits, dtype=np.int64)


def _mended(
    number: Number,
    known: list[int],
    means: NDArray[np.float64],
    precision: NDArray[np.float64],
) -> Number:
    """Mix the reader's odds with the learned ones; digits never seen keep the reader's share."""
    apart = np.asarray(number.looks, dtype=np.float64)[:, None, :] - means[None, :, :]
    far = np.einsum("nkd,de,nke->nk", apart, precision, apart)
    odds = np.asarray(number.digits, dtype=np.float64)
    share = odds[:, known].sum(axis=1, keepdims=True)
    log_odds = (1 - WEIGHT) * np.log(odds[:, known] + 1e-6) - WEIGHT * 0.5 * (
        far - far.min(axis=1, keepdims=True)
    )
    learned = np.exp(log_odds - log_odds.max(axis=1, keepdims=True))
    mended = odds.copy()
    mended[:, known] = share * learned / learned.sum(axis=1, keepdims=True)
    return number._replace(digits=mended.astype(np.float32))
