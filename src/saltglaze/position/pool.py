"""Draws of one pool of standing water: its bed from joint margins, its edges between stations.

The section's own stations are a quarter metre apart. Between them each draw follows the
natural cubic spline, which is what the random walk of the slope expects there, so that the
edges, the lip and the lowest point are not tied to the stations.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Z68, Estimate
from saltglaze.model.run import Direction
from saltglaze.position.profile import Profile

Array = NDArray[np.float64]

DRAWS: Final = 600
SEED: Final = 20240607
FINE_M: Final = 0.04
MARGIN_M: Final = 1.2
"""Sags are read this far beyond the ends of the water that was seen."""
LIP_NEAR_M: Final = 0.3
"""The outlet lip may lie this far inside the seen end, and the margin beyond it."""


@dataclass(frozen=True)
class Figures:
    """One value per draw."""

    start_m: Array
    end_m: Array
    lowest_m: Array
    depth_m: Array
    volume_m3: Array

    @classmethod
    def read(cls, stations_m: Array, depth_m: Array, bore_m: float | None) -> Figures:
        """Read the figures off draws of the depth of water, (draws, stations).

        Without a bore the volume comes out as nothing.
        """
        wet = depth_m > 0.0
        area = segment_area(depth_m, bore_m) if bore_m is not None else np.zeros_like(depth_m)
        last = len(stations_m) - 1 - np.argmax(wet[:, ::-1], axis=1)
        return cls(
            start_m=stations_m[np.argmax(wet, axis=1)],
            end_m=stations_m[last],
            lowest_m=stations_m[np.argmax(depth_m, axis=1)],
            depth_m=depth_m.max(axis=1),
            volume_m3=area.sum(axis=1) * float(stations_m[1] - stations_m[0]),
        )


def segment_area(depth_m: Array, bore_m: float) -> Array:
    """Return the wetted area of a round pipe at a depth of water, square metres."""
    h = np.clip(depth_m, 0.0, bore_m)
    chord = np.sqrt(np.maximum(h * bore_m - h**2, 0.0))
    return np.asarray(
        bore_m**2 / 4.0 * np.arccos(1.0 - 2.0 * h / bore_m) - (bore_m / 2.0 - h) * chord
    )


def draws_of(profile: Profile, rows: Array) -> Array:
    """Return draws of combination rows from the adjusted section, (draws, rows)."""
    covariance = profile.solution.covariance(rows)
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    keep = values > max(float(values[-1]), 0.0) * 1e-12
    spread = vectors[:, keep] * np.sqrt(values[keep])
    rng = np.random.default_rng(SEED)
    noise = rng.standard_normal((DRAWS, int(keep.sum())))
    return np.asarray(rows @ profile.solution.unknowns + noise @ spread.T)


def water_draws(profile: Profile, number: int, start_m: float, end_m: float) -> tuple[Array, Array]:
    """Return (stations, draws of the depth of water there) of the pool seen between two ends."""
    grid = profile.stations_m
    step = float(grid[1] - grid[0])
    low, high = max(start_m - MARGIN_M, float(grid[0])), min(end_m + MARGIN_M, float(grid[-1]))
    high = max(high, low + step)
    nodes = grid[(grid > low - 3.0 * step) & (grid < high + 3.0 * step)]
    rows = profile.rows(nodes, invert=-1.0)
    rows[:, profile.water_column(number)] += 1.0
    fine = np.linspace(low, high, int(np.ceil((high - low) / FINE_M)) + 1)
    depth = draws_of(profile, rows) @ spline(nodes, fine).T
    return fine, _one_pool(depth, fine, start_m, end_m, profile.direction)


def spline(nodes: Array, stations: Array) -> Array:
    """Return rows that take values at even nodes to the natural cubic spline at stations.

    With second derivatives ``m``: ``m[k-1] + 4 m[k] + m[k+1] = 6 (y[k-1] - 2 y[k] + y[k+1])
    / h^2``, and ``m = 0`` at both ends (any text on numerical methods).
    """
    count, step = len(nodes), float(nodes[1] - nodes[0])
    inner = np.arange(1, count - 1)
    left, right = np.eye(count), np.zeros((count, count))
    for offset, weight, bend in ((-1, 1.0, 1.0), (0, 4.0, -2.0), (1, 1.0, 1.0)):
        left[inner, inner + offset] = weight
        right[inner, inner + offset] = 6.0 * bend / step**2
    bends = np.linalg.solve(left, right)
    index = np.clip(np.floor((stations - nodes[0]) / step), 0, count - 2).astype(np.int64)
    after = ((stations - nodes[index]) / step)[:, None]
    before = 1.0 - after
    values = np.eye(count)
    curved = (before**3 - before) * bends[index] + (after**3 - after) * bends[index + 1]
    return np.asarray(before * values[index] + after * values[index + 1] + curved * step**2 / 6.0)


def _one_pool(
    depth: Array, stations: Array, start: float, end: float, direction: Direction | None
) -> Array:
    """Return the water of each draw, kept to the one pool that was seen.

    Between the seen ends all wet places count; beyond them only what joins on. At the
    outlet the pool ends at its lip, the highest bed near the seen end: past it the bed
    falls away again and holds nothing.
    """
    wet = depth > 0.0
    inside = (stations >= start) & (stations <= end)
    first, last = int(np.argmax(inside)), len(stations) - 1 - int(np.argmax(inside[::-1]))
    joined = np.ones_like(wet)
    joined[:, last:] = np.logical_and.accumulate(wet[:, last:], axis=1)
    joined[:, first::-1] = np.logical_and.accumulate(wet[:, first::-1], axis=1)
    joined[:, first : last + 1] = wet[:, first : last + 1]
    place = np.arange(len(stations))
    if direction is Direction.WITH_FLOW:
        near = stations >= end - LIP_NEAR_M
        lip = np.argmin(np.where(near, depth, np.inf), axis=1)
        joined &= place <= lip[:, None]
    if direction is Direction.AGAINST_FLOW:
        near = stations <= start + LIP_NEAR_M
        lip = np.argmin(np.where(near, depth, np.inf), axis=1)
        joined &= place >= lip[:, None]
    return np.where(joined, depth, 0.0)


def told(draws: Array) -> Estimate:
    """Return the middle of draws with their 68 and 95 % intervals, as skewed as they are.

    The sd is half the middle 68 %, so that long tails, which the 95 % interval shows, do
    not widen it as well.
    """
    levels = (0.025, 0.16, 0.5, 0.84, 0.975)
    low, low68, middle, high68, high = (float(q) for q in np.quantile(draws, levels))
    return Estimate(
        value=middle,
        sd=0.5 * (high68 - low68) / Z68,
        low95=low,
        high95=high,
        low68=low68,
        high68=high68,
    )
