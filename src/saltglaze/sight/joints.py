"""Joint rings: places of the wall where the ring net saw a ring, and when the lens passes them.

Each sample's rings are laid down where they stand along the way gone: a real ring keeps
its place while the camera moves, what the net took for one does not. Where the way gone
is unknown for a while (no wall in sight, the head turned), the film is parted: a ring seen
before such a gap says nothing of when it passes after it.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.signal import find_peaks

from saltglaze.model.track import JointPassage
from saltglaze.sight.rings import ahead_of_rows
from saltglaze.sight.travel import Travel
from saltglaze.sight.view import alike

Array = NDArray[np.float64]

CELL: Final = 0.05
"""Length of a cell of the ring map, in distances of the rim."""

LEAST: Final = 1.0
"""A place is a ring where the net's probability, averaged over the samples that saw it and
summed over three cells, is at least this: set on rendered films (seeds 5000 to 5089 and
some after 8400)."""

LEAST_SEEN: Final = 0.5
"""Less weight of moving samples than this makes no place sure, however clear the ring."""

APART: Final = 0.3
"""Two joints are at least this many distances of the rim apart."""

STEADY: Final = 0.06
"""The lens is past a place when it is this far beyond: a picture that trembles passes nothing."""

FULL_STEP: Final = 0.05
STILL_WEIGHT: Final = 0.08
"""A sample counts in full when the camera has moved this far since the one before; one from a
standstill hardly, since it shows the same again."""

BLIND: Final = 5
"""Samples without a known step that part the film."""

WATCHED: Final = 0.7
"""Share of the samples between the last sight of a ring and its passing whose step is known."""


class Place(NamedTuple):
    """A ring of the wall: where along the way, in distances of the rim, and how sure.

    ``first`` and ``after`` bound the samples whose way gone it belongs to.
    """

    at: float
    strength: float
    first: int
    after: int


def joint_places(heat: NDArray[np.float32], way: Travel) -> tuple[Place, ...]:
    """Return the ring places of a film; ``heat`` is (n, rows) probabilities."""
    return tuple(
        place
        for first, after in _connected(way.known)
        for place in _places(heat, way, first, after)
    )


def _connected(known: NDArray[np.bool_]) -> Iterator[tuple[int, int]]:
    """Yield the stretches of samples whose way hangs together."""
    first = 0
    for start, after in alike(list(known)):
        if not known[start] and after - start >= BLIND:
            if start > first:
                yield first, start
            first = after
    if first < len(known):
        yield first, len(known)


def _places(heat: NDArray[np.float32], way: Travel, first: int, after: int) -> Iterator[Place]:
    use = np.flatnonzero(way.known[first:after]) + first
    if len(use) < 3:
        return
    gone = way.way_rim[use]
    moved = np.abs(np.diff(way.way_rim, prepend=way.way_rim[:1]))[use]
    weight = np.clip(moved / FULL_STEP, STILL_WEIGHT, 1.0)
    start = float(gone.min()) + 0.8
    rings, seen = _laid(heat[use], gone - start, weight)
    near = np.ones(3)
    share = np.convolve(rings, near, "same") / np.maximum(
        np.convolve(seen, near / 3.0, "same"), LEAST_SEEN
    )
    peaks, _ = find_peaks(share, height=LEAST, distance=round(APART / CELL))
    for k in peaks:
        cells = np.arange(len(rings))[max(k - 1, 0) : k + 2]
        middle = float((cells * rings[cells]).sum() / rings[cells].sum())
        yield Place(start + middle * CELL, float(share[k]), first, after)


def _laid(heat: NDArray[np.float32], gone: Array, weight: Array) -> tuple[Array, Array]:
    """Return the summed rings and the summed weight of each cell from ``gone`` = 0 on."""
    ahead = ahead_of_rows()[None, :]
    at = (gone[:, None] + ahead) / CELL
    low = at.astype(int)
    part = at - low
    count = int(low.max()) + 3
    rings, seen = np.zeros(count), np.zeros(count)
    for cell, share in ((low, 1.0 - part), (low + 1, part)):
        # Far off, a ring is small and the way to it long.
        worth = share * weight[:, None] / ahead**2
        rings += np.bincount(cell.ravel(), (worth * heat).ravel(), count)
        seen += np.bincount(cell.ravel(), worth.ravel(), count)
    return rings, seen


def joint_passages(
    places: tuple[Place, ...], times_s: Array, way: Travel
) -> tuple[JointPassage, ...]:
    """Return every time at which the lens passes a joint ring, in time order.

    A passing that happens out of sight, after pictures that show no wall, is not told.
    """
    passages = [passage for place in places for passage in _crossings(place, times_s, way)]
    return tuple(sorted(passages, key=lambda passage: passage.time_s))


def _crossings(place: Place, times_s: Array, way: Travel) -> Iterator[JointPassage]:
    gone = way.way_rim[place.first : place.after] - place.at
    side = np.where(gone > STEADY, 1, np.where(gone < -STEADY, -1, 0))
    surely = np.flatnonzero(side)
    for before, beyond in pairwise(surely):
        if side[before] == side[beyond]:
            continue
        past = gone[before : beyond + 1] >= 0.0
        k = before + int(np.flatnonzero(past[1:] != past[:-1])[0])
        forwards = bool(side[beyond] > 0)
        unseen = _unseen(gone, int(k), forwards)
        if way.known[place.first :][unseen].mean() < WATCHED:
            continue
        share = -gone[k] / (gone[k + 1] - gone[k])
        at = place.first + k
        yield JointPassage(
            time_s=float(times_s[at] + share * (times_s[at + 1] - times_s[at])),
            strength=place.strength,
            forwards=forwards,
        )


def _unseen(gone: Array, k: int, forwards: bool) -> slice:
    """Return the samples between a place's leaving (or entering) the picture and its passing."""
    rim = -float(ahead_of_rows()[0])
    if forwards:
        in_view = np.flatnonzero(gone[: k + 1] <= rim)
        return slice(int(in_view[-1]) if len(in_view) else 0, k + 2)
    in_view = np.flatnonzero(gone[k:] <= rim)
    return slice(k, k + int(in_view[0]) + 2 if len(in_view) else len(gone))
