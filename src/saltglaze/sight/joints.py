"""Joint rings: dark (or bright) all the way round in the map of the wall, and when they pass."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.ndimage import median_filter
from scipy.signal import find_peaks

from saltglaze.model.track import JointPassage
from saltglaze.sight.mosaic import BIN_D, Mosaic

Array = NDArray[np.float64]

LEAST: Final = 5.5
"""A ring stands out by this many robust spreads of the map's rows: set on rendered films."""

ROUND: Final = 0.62
"""Share of the circumference that must agree."""

APART_D: Final = 0.5
"""Two joints are at least this many diameters apart."""


def ring_strength(mosaic: Mosaic) -> Array:
    """Return for each row of the map how much a ring it is, in robust spreads."""
    known = mosaic.seen > 0
    enough = known.mean(axis=1) > 0.5
    values = np.where(known, mosaic.cells, np.nan)
    with np.errstate(all="ignore"):
        middle = np.where(enough, _row_median(values), 0.0)
        agree = np.where(enough, _agreement(values, middle), 0.0)
    plain = middle - median_filter(middle, size=max(int(1.6 / BIN_D), 3))
    spread = 1.4826 * float(np.median(np.abs(plain[enough]))) if enough.any() else 0.0
    strength = np.abs(plain) / max(spread, 0.6)
    return np.where(agree >= ROUND, strength, 0.0)


def _row_median(values: Array) -> Array:
    filled = np.where(np.isnan(values).all(axis=1, keepdims=True), 0.0, values)
    return np.asarray(np.nanmedian(filled, axis=1))


def _agreement(values: Array, middle: Array) -> Array:
    """Share of each row's known cells whose sign is that of the row's median."""
    same = np.sign(values) == np.sign(middle)[:, None]
    count = np.maximum((~np.isnan(values)).sum(axis=1), 1)
    return np.asarray((same & ~np.isnan(values)).sum(axis=1) / count)


def joint_places(mosaic: Mosaic) -> tuple[tuple[float, float], ...]:
    """Return (way in diameters, strength) of each joint ring of the map."""
    strength = ring_strength(mosaic)
    peaks, _ = find_peaks(strength, height=LEAST, distance=max(int(APART_D / BIN_D), 1))
    return tuple((mosaic.start_d + (k + 0.5) * BIN_D, float(strength[k])) for k in peaks)


def joint_passages(mosaic: Mosaic, times_s: Array, way_d: Array) -> tuple[JointPassage, ...]:
    """Return every time at which the lens passes a joint ring, in time order."""
    passages = [
        passage
        for place_d, strength in joint_places(mosaic)
        for passage in _crossings(place_d, strength, times_s, way_d)
    ]
    return tuple(sorted(passages, key=lambda passage: passage.time_s))


def _crossings(
    place_d: float, strength: float, times_s: Array, way_d: Array
) -> Iterator[JointPassage]:
    past = way_d >= place_d
    for k in np.flatnonzero(past[1:] != past[:-1]):
        share = (place_d - way_d[k]) / (way_d[k + 1] - way_d[k])
        yield JointPassage(
            time_s=float(times_s[k] + share * (times_s[k + 1] - times_s[k])),
            strength=strength,
            forwards=bool(past[k + 1]),
        )
