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

from saltglaze.sight.strips import ANGLES, closeness

Array = NDArray[np.float64]

BIN_D: Final = 0.04
"""Length of a cell of the map, in diameters."""

AHEAD_D: Final = (0.45, 1.9)
"""Distances ahead, in diameters, whose wall is sharp enough to be laid down."""

LEANS: Final = (0.0, 0.12, 0.24)
"""Candidates for how far the lens lies off the axis, in radii."""

SAMPLES: Final = 700
"""Strips that the candidates are tried on."""


class Mosaic(NamedTuple):
    """The wall along the way.

    ``cells`` is (n, ANGLES), columns by angle in the pipe where the roll is known, else
    by angle on the screen; ``seen`` how many strips each cell rests on; row k lies at
    ``start_d + k * BIN_D`` diameters of way.
    """

    cells: Array
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
    moving = np.flatnonzero(usable & (np.abs(np.gradient(way_d)) > 0.01))
    if len(moving) < 8:
        return None
    some = moving[:: max(len(moving) // SAMPLES, 1)]
    turned = np.round(roll_rad / (2.0 * np.pi) * ANGLES).astype(int)
    lean = max(LEANS, key=lambda lean: _crispness(_laid(strips, way_d, turned, some, rim_d, lean)))
    return _laid(strips, way_d, turned, moving, rim_d, lean)


def _crispness(mosaic: Mosaic) -> float:
    ring = np.where(mosaic.seen > 1, mosaic.cells, 0.0).mean(axis=1)
    return float(np.sum(ring**2))


def _laid(
    strips: NDArray[np.int8],
    way_d: Array,
    turned: NDArray[np.int_],
    which: NDArray[np.int_],
    rim_d: float,
    lean: float,
) -> Mosaic:
    start = float(way_d[which].min()) + AHEAD_D[0]
    count = int((way_d[which].max() - way_d[which].min() + AHEAD_D[1]) / BIN_D) + 2
    angle = np.arange(ANGLES) * (2.0 * np.pi / ANGLES)
    # Angle 0 is the soffit, the far side of a lens that lies on the invert.
    ahead = rim_d * closeness()[:, None] * (1.0 + lean * np.cos(angle))[None, :]
    fits = (ahead >= AHEAD_D[0]) & (ahead <= AHEAD_D[1])
    rows, columns = np.nonzero(fits)
    reach = ahead[rows, columns]
    sums = np.zeros(count * ANGLES)
    seen = np.zeros(count * ANGLES)
    for k in which:
        at = ((way_d[k] + reach - start) / BIN_D).astype(int)
        inside = (at >= 0) & (at < count)
        low, high = int(at[inside].min(initial=count)), int(at[inside].max(initial=-1)) + 1
        if low >= high:
            continue
        # Only the few rows in reach are touched: the cost must not grow with the map.
        near = slice(low * ANGLES, high * ANGLES)
        cell = (at[inside] - low) * ANGLES + columns[inside]
        value = strips[k][rows[inside], (columns[inside] + turned[k]) % ANGLES]
        sums[near] += np.bincount(cell, value, (high - low) * ANGLES)
        seen[near] += np.bincount(cell, minlength=(high - low) * ANGLES)
    cells = sums / np.maximum(seen, 1.0)
    return Mosaic(cells.reshape(count, ANGLES), seen.reshape(count, ANGLES), start)
