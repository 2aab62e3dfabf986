"""Every strip of a film laid down where it belongs: a map of the wall along the way gone.

A wall point ``z`` ahead of the lens shows at a radius ``f rho / z`` from the centre,
``rho`` being the distance from the lens to the wall in its direction; for a lens that
lies ``lean`` radii off the axis ``rho = R (1 + lean cos(angle from far side))`` to first
order (elementary geometry). How far ahead the rim of the picture looks comes from the
motion (``slide``); the lean is not known beforehand: the one that makes the map crispest
is taken.
"""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.sight.oddities import odd_heat
from saltglaze.sight.strips import ANGLES, closeness

Array = NDArray[np.float64]

BIN_D: Final = 0.04
"""Length of a cell of the map, in diameters."""

AHEAD_D: Final = (0.45, 1.9)
"""Distances ahead, in diameters, whose wall is sharp enough to be laid down."""

LEANS: Final = (0.0, 0.12, 0.24)
"""Candidates for how far the lens lies off the axis, in radii."""

FEWEST: Final = 8
"""Fewer strips of a moving camera make no map."""

SAMPLES: Final = 700
"""Strips that the candidates are tried on."""


class Mosaic(NamedTuple):
    """The wall along the way.

    ``cells`` is (n, ANGLES), columns by angle in the pipe where the roll is known, else
    by angle on the screen; ``odd`` how probably each is odd, in per cent; ``seen`` how many
    strips each rests on; row k lies at ``start_d + k * BIN_D`` diameters of way.
    """

    cells: Array
    odd: Array
    seen: Array
    start_d: float


def lay(
    strips: NDArray[np.int8],
    way_d: Array,
    roll_rad: Array,
    usable: NDArray[np.bool_],
    rim_d: float,
) -> Mosaic | None:
    """Return the map of the wall from (n, RINGS, ANGLES) strips; None where none is usable.

    ``rim_d`` is how far ahead, in diameters, the wall shows at the picture's edge.
    """
    if len(strips) < FEWEST:
        return None
    moving = np.flatnonzero(usable & (np.abs(np.gradient(way_d)) > 0.01))
    if len(moving) < FEWEST:
        return None
    some = moving[:: max(len(moving) // SAMPLES, 1)]
    turned = np.round(roll_rad / (2.0 * np.pi) * ANGLES).astype(int)
    lean = max(
        LEANS,
        key=lambda lean: _crispness(
            *_laid((strips[some],), way_d[some], turned[some], rim_d, lean)
        ),
    )
    gone, turn = way_d[moving], turned[moving]
    shown = strips[moving]
    (cells, odd), seen = _laid((shown, odd_heat(shown)), gone, turn, rim_d, lean)
    return Mosaic(cells, odd, seen, _start_d(gone))


def _crispness(means: Array, seen: Array) -> float:
    ring = np.where(seen > 1, means[0], 0.0).mean(axis=1)
    return float(np.sum(ring**2))


def _start_d(way_d: Array) -> float:
    return float(way_d.min()) + AHEAD_D[0]


def _laid(
    layers: tuple[NDArray[np.int8], ...],
    way_d: Array,
    turned: NDArray[np.int_],
    rim_d: float,
    lean: float,
) -> tuple[Array, Array]:
    """Return each layer's mean over what it shows of each cell of the wall, and of how many.

    Layers are alike in shape, (n, RINGS, ANGLES); means are (layers, cells along, ANGLES).
    """
    start = _start_d(way_d)
    count = int((way_d.max() - way_d.min() + AHEAD_D[1]) / BIN_D) + 2
    angle = np.arange(ANGLES) * (2.0 * np.pi / ANGLES)
    # Angle 0 is the soffit, the far side of a lens that lies on the invert.
    ahead = rim_d * closeness()[:, None] * (1.0 + lean * np.cos(angle))[None, :]
    fits = (ahead >= AHEAD_D[0]) & (ahead <= AHEAD_D[1])
    rows, columns = np.nonzero(fits)
    reach = ahead[rows, columns]
    sums = np.zeros((len(layers), count * ANGLES))
    seen = np.zeros(count * ANGLES)
    for k in range(len(way_d)):
        at = ((way_d[k] + reach - start) / BIN_D).astype(int)
        inside = (at >= 0) & (at < count)
        low, high = int(at[inside].min(initial=count)), int(at[inside].max(initial=-1)) + 1
        if low >= high:
            continue
        # Only the few rows in reach are touched: the cost must not grow with the map.
        near = slice(low * ANGLES, high * ANGLES)
        cell = (at[inside] - low) * ANGLES + columns[inside]
        where = rows[inside], (columns[inside] + turned[k]) % ANGLES
        for total, layer in zip(sums, layers, strict=True):
            total[near] += np.bincount(cell, layer[k][where], (high - low) * ANGLES)
        seen[near] += np.bincount(cell, minlength=(high - low) * ANGLES)
    means = sums / np.maximum(seen, 1.0)
    return means.reshape(-1, count, ANGLES), seen.reshape(count, ANGLES)
