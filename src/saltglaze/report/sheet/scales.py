"""Drawing scales a rule on the desk can measure, and round steps for axes."""

from __future__ import annotations

import math

from saltglaze.report.measures import UnitSystem
from saltglaze.units import M_PER_FT

# Engineers' scales (1 in = n ft) and the metric series: common practice, no source.
_US_FT_PER_IN = (1, 2, 3, 4, 5, 10, 15, 20, 25, 30, 40, 50, 60, 80, 100, 200, 300, 400, 500, 1000)
_METRIC = (5, 10, 20, 25, 50, 100, 125, 150, 200, 250, 300, 400, 500, 750, 1000, 2500, 5000)
_BETWEEN: dict[UnitSystem, tuple[int, ...]] = {"us": (18, 30, 72, 96), "metric": (15, 30, 40, 75)}
COARSEST_H = 600
"""Beyond this ratio along the line, the sheet is split in panels."""


def ratios(system: UnitSystem) -> tuple[int, ...]:
    """Return the scale ratios in use (120 means 1:120), ascending."""
    return tuple(n * 12 for n in _US_FT_PER_IN) if system == "us" else _METRIC


def fitting(length_m: float, room_mm: float, system: UnitSystem, *, upright: bool = False) -> int:
    """Return the largest standard scale (smallest ratio) at which a length fits in a room.

    ``upright`` also allows the steps between that long sections use for heights.
    """
    for ratio in sorted((*ratios(system), *(_BETWEEN[system] if upright else ()))):
        if length_m * 1000.0 / ratio <= room_mm:
            return ratio
    return ratios(system)[-1]


def described(ratio: int, system: UnitSystem) -> str:
    """Return a scale as it is written on drawings: "1 in = 10 ft" or "1:100"."""
    return f"1 in = {ratio / 12:g} ft" if system == "us" else f"1:{ratio}"


def tick_step_m(length_m: float, most: int, system: UnitSystem) -> float:
    """Return a round step (1, 2 or 5 times a power of ten, ft or m) for at most ``most`` ticks."""
    unit = M_PER_FT if system == "us" else 1.0
    least = max(length_m / unit / max(most, 1), 1e-6)
    power = 10.0 ** math.floor(math.log10(least))
    for factor in (1.0, 2.0, 5.0, 10.0):
        if factor * power >= least * (1 - 1e-9):
            return factor * power * unit
    return 10.0 * power * unit


def ticks_m(from_m: float, to_m: float, step_m: float) -> tuple[float, ...]:
    """Return the multiples of a step within a stretch."""
    first = math.ceil(from_m / step_m - 1e-9)
    last = math.floor(to_m / step_m + 1e-9)
    return tuple(n * step_m for n in range(first, last + 1))
