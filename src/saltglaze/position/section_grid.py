"""The even stations that a long section is adjusted on, and which unknown stands where."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.position.levels import DepthReading, GroundReading
from saltglaze.position.water import StandingWater

Array = NDArray[np.float64]

STEP_M: Final = 0.25
MOST_NODES: Final = 400


@dataclass(frozen=True)
class Columns:
    """Where each unknown of a long section stands.

    Invert and ground take turns along the chain; the border holds the slope of the
    ground, the receiver's scale, the height of its transmitter, level and bias of each
    standing water, and the fall of the line.
    """

    nodes: int
    waters: int

    @property
    def chain(self) -> int:
        """Length of the chain."""
        return 2 * self.nodes

    @property
    def ground_slope(self) -> int:
        """Slope of the ground along the stations."""
        return self.chain

    @property
    def scale(self) -> int:
        """Scale error that the depths of one receiver share."""
        return self.chain + 1

    @property
    def head(self) -> int:
        """Height of the transmitter above where it was taken to be, in its sds."""
        return self.chain + 2

    def water_level(self, number: int) -> int:
        """Level of the ``number``-th standing water; the bias of its depths follows it."""
        return self.chain + 3 + 2 * number

    @property
    def fall(self) -> int:
        """Fall of the whole line along the flow."""
        return self.chain + 3 + 2 * self.waters

    @property
    def count(self) -> int:
        """Number of unknowns."""
        return self.fall + 1


def span(grid: Array, stations: Array) -> tuple[NDArray[np.int64], Array]:
    """Return the cell of each station and its share of the way through it; ends extend."""
    step = float(grid[1] - grid[0])
    index = np.clip(np.floor((stations - grid[0]) / step), 0, len(grid) - 2).astype(np.int64)
    return index, (stations - grid[index]) / step


def grid_of(
    length_m: float,
    depths: Sequence[DepthReading],
    grounds: Sequence[GroundReading],
    water: Sequence[StandingWater],
) -> Array:
    """Return even stations over the line and whatever evidence lies beyond its ends."""
    ends = [0.0, length_m, *(r.station_m for r in depths), *(r.station_m for r in grounds)]
    ends += [stretch.end_m.value or 0.0 for stretch in water]
    low, high = max(min(ends), -20.0), min(max(ends), length_m + 20.0)
    high = max(high, low + 4.0 * STEP_M)
    nodes = min(max(math.ceil((high - low) / STEP_M) + 1, 8), MOST_NODES)
    return np.linspace(low, high, nodes)
