"""What standing water says about the bed below it: its surface is level.

The depth of water read at a station says ``w - z``, with an error of the water line that
the whole stretch shares. The eye loses water that grows too thin, a little before the bed
comes out of it; a little beyond the outlet end lies the lip, whose level the water has.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.run import Direction
from saltglaze.position.adjust import EquationBook
from saltglaze.position.section_grid import Columns, span
from saltglaze.position.water import StandingWater

Array = NDArray[np.float64]

BIAS_SHARE: Final = 0.02
"""Error of the water line that a whole stretch shares, share of the bore (assumption)."""
GROSS: Final = (0.03, 0.3)
"""Share of wrong depths of water, and their sd as a share of the bore (assumption)."""
EDGE_DRY_SHARE: Final = 0.15
"""Water thinner than this at the last sample: the stretch ends there, and was not cut off."""
EDGE_SHARE: Final = (0.045, 0.02)
"""Depth at which the eye loses thinning water, share of the bore (assumption)."""
EDGE_SLOPE: Final = 0.03
"""Bed slope at the edge of a sag, to turn its station error into depth (assumption)."""
LIP_BEYOND_M: Final = 0.5
LIP_SHARE: Final = (0.02, 0.05)
"""About so far beyond the seen outlet end lies the lip: depth there, share of the bore
(assumption)."""
UNREAD_M: Final = 1.0
"""A part of a stretch this long without a reading takes the deepest share that was said."""


def add_water_rows(
    book: EquationBook,
    columns: Columns,
    grid: Array,
    stretch: StandingWater,
    number: int,
    bore_m: float | None,
    direction: Direction | None,
) -> bool:
    """Add the rows of one standing water; return whether its depths could be used."""
    level = columns.water_level(number)
    book.add([[level + 1]], [[1.0]], 0.0, BIAS_SHARE * (bore_m or 0.1))
    if bore_m is None or not (stretch.samples or stretch.deepest):
        book.add([[level]], [[1.0]], 0.0, 1e3)
        return False
    stations, depth, sd = _depths(stretch, bore_m)
    index, share = span(grid, stations)
    one = np.ones(len(stations))
    book.add(
        np.column_stack([2 * index, 2 * index + 2, level * one, (level + 1) * one]),
        np.column_stack([share - 1.0, -share, one, one]),
        depth,
        sd,
        GROSS[0],
        GROSS[1] * bore_m,
    )
    lip = _lip(stretch, direction)
    if lip is not None and grid[0] <= lip <= grid[-1]:
        at, part = (float(x[0]) for x in span(grid, np.array([lip])))
        book.add(
            [[2 * int(at), 2 * int(at) + 2, level]],
            [[part - 1.0, -part, 1.0]],
            LIP_SHARE[0] * bore_m,
            LIP_SHARE[1] * bore_m,
        )
    return True


def _lip(stretch: StandingWater, direction: Direction | None) -> float | None:
    """Return about where the outlet lip lies, if the water was seen to thin out before it."""
    if direction is None:
        return None
    last, end, way = (-1, stretch.end_m, 1.0)
    if direction is Direction.AGAINST_FLOW:
        last, end, way = (0, stretch.start_m, -1.0)
    if end.value is None or (stretch.samples and stretch.samples[last].share >= EDGE_DRY_SHARE):
        return None
    return end.value + way * LIP_BEYOND_M


def _depths(stretch: StandingWater, bore_m: float) -> tuple[Array, Array, Array]:
    """Return (stations, depths, sds) of the water of one stretch.

    Where the water thins out at an end, that end is nearly dry. The deepest share
    that was said is put in the middle of the longest part without a reading: with nothing
    else between two dry ends, the settled shape is then the smoothest that fits.
    """
    found = [(s.station_m, s.share * bore_m, s.sd * bore_m) for s in stretch.samples]
    ends = (stretch.start_m, stretch.end_m)
    thin = [True, True]
    if found:
        thin = [stretch.samples[k].share < EDGE_DRY_SHARE for k in (0, -1)]
    deepest = stretch.deepest
    if deepest is not None and deepest.value is not None:
        unread = _widest_gap([end.value or 0.0 for end in ends], [row[0] for row in found])
        if unread is not None:
            found.append((unread, deepest.value * bore_m, max(deepest.spread * bore_m, 0.005)))
    for end, dry in zip(ends, thin, strict=True):
        if dry and end.value is not None:
            own_sd = math.sqrt(max(end.spread**2 - stretch.station_sd_m**2, 0.0))
            sd = math.hypot(EDGE_SHARE[1] * bore_m, EDGE_SLOPE * own_sd)
            found.append((end.value, EDGE_SHARE[0] * bore_m, sd))
    table = np.array(found)
    return table[:, 0], table[:, 1], table[:, 2]


def _widest_gap(ends: Sequence[float], stations: Sequence[float]) -> float | None:
    """Return the middle of the longest part of a stretch without a reading, if it is long."""
    places = sorted([*ends, *stations])
    gap, middle = max((b - a, 0.5 * (a + b)) for a, b in pairwise(places))
    return middle if gap > UNREAD_M or not stations else None
