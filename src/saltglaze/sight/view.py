"""Which stretches of film can be judged, and why the others cannot."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.track import ViewState, ViewStretch
from saltglaze.sight.glance import VIEWS, Array

SMOOTH: Final = 5
"""Samples (one second) over which the view's probabilities are averaged."""

BLACK: Final = 12.0
"""A picture of a lower mean grey (0..255) is dark, whatever else is thought of it."""

WHITE: Final = 225.0
"""A picture of a higher mean grey is glare."""

SURELY: Final = 0.8
"""A view is called dark, fouled, fogged, glaring or under water only with this probability:
what the net was not trained on, a bend into a darker pipe say, looks a little like all of
them (rendered films, seeds 5000 to 5089 and some after 8400)."""

SPOILT: Final = (
    ViewState.DARK,
    ViewState.FOULED,
    ViewState.FOGGED,
    ViewState.UNDER_WATER,
    ViewState.GLARE,
)

FLAT: Final = 0.35
"""Murk scatters the light: a disc whose grey varies by more than this share of its mean was
not taken under water (0.2 on rendered films under water, 0.5 on real clean pipe)."""


def judge_view(views: Array, grey: Array, contrast: Array) -> tuple[ViewState, ...]:
    """Return the view's state at each sample.

    ``views`` is (n, 7) probabilities; ``grey`` and ``contrast`` (n,) are the disc's mean
    grey level and its standard deviation over that mean.
    """
    smooth = averaged(views, SMOOTH)
    smooth[contrast > FLAT, VIEWS.index(ViewState.UNDER_WATER)] = 0.0
    likeliest = [VIEWS[int(k)] for k in smooth.argmax(axis=1)]
    states = [
        ViewState.CLEAR if state in SPOILT and sure < SURELY else state
        for state, sure in zip(likeliest, smooth.max(axis=1), strict=True)
    ]
    for at, level in enumerate(grey):
        if level < BLACK:
            states[at] = ViewState.DARK
        elif level > WHITE:
            states[at] = ViewState.GLARE
    return tuple(states)


def averaged(rows: Array, width: int) -> Array:
    """Return rows (n, k) averaged over ``width`` neighbours, shorter at the ends."""
    kernel = np.ones(width)
    count = np.convolve(np.ones(len(rows)), kernel, "same")[:, None]
    sums = np.stack([np.convolve(column, kernel, "same") for column in rows.T], axis=1)
    return np.asarray(sums[: len(rows)] / count[: len(rows)])


def alike(labels: Sequence[object]) -> Iterator[tuple[int, int]]:
    """Yield (first, after) of each stretch of equal labels: its samples as a slice."""
    first = 0
    for _, group in groupby(labels):
        after = first + sum(1 for _ in group)
        yield first, after
        first = after


def ends_of(times_s: Array) -> Array:
    """Return when each sample's moment ends: where the next begins, so that no gap is left."""
    return np.append(times_s[1:], times_s[-1:])


def stretches(
    times_s: Array, states: tuple[ViewState, ...], fast: NDArray[np.bool_]
) -> tuple[ViewStretch, ...]:
    """Return the states as stretches of time; a clear stretch gone too fast says so."""
    told = [
        ViewState.TOO_FAST if quick and state is ViewState.CLEAR else state
        for state, quick in zip(states, fast, strict=True)
    ]
    ends = ends_of(times_s)
    return tuple(
        ViewStretch(start_s=float(times_s[first]), end_s=float(ends[after - 1]), state=told[first])
        for first, after in alike(told)
    )
