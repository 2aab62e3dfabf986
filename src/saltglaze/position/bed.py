"""What the bed of a drain is like before anything was measured: smooth, and falling.

Three kinds of row on the invert ``z`` of a long section:

- its slope is a random walk (second differences), calm in a laid pipe, restless where a
  pipe has settled, and free, or set, at drops;
- the line falls: its own fall is one unknown, and the slope strays from it a little;
- where water stands the bed does not fall at all, upstream of it the settled pipe falls
  more than the rest, and beyond the outlet lip the pipe soon falls as it was laid.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.run import Direction
from saltglaze.position.adjust import EquationBook
from saltglaze.position.levels import Drop
from saltglaze.position.section_grid import Columns
from saltglaze.position.water import StandingWater

Array = NDArray[np.float64]

SLOPE_WALK: Final = 0.0042
"""Random walk of the slope of a laid pipe, per root metre (assumption)."""
SAG_SLOPE_WALK: Final = 0.028
"""The same where water stands: a pipe that has settled (assumption)."""
SETTLED_BEYOND_M: Final = 3.0
"""A pipe has settled this much further than water stands in it (assumption)."""
BREAK_SHARE: Final = 0.03
BREAK_SLOPE: Final = 0.02
"""Share of steps with a break in slope, and its size (assumption)."""
FALL: Final = (0.022, 0.013)
"""Fall of a drain and its sd from drain to drain, where no code says otherwise: most codes
ask for 1 or 2 %, and few drains are laid flatter than asked (assumption)."""
CODE_SLOPE_SD: Final = 0.015
"""How near lines are to the slope the code asks for (assumption)."""
FALL_STRAY: Final = 0.01
FALL_REACH_M: Final = 10.0
"""How far the mean slope over so much pipe strays from that of the line (assumption)."""
STEP_SD_M: Final = 0.5
"""Height of a step in the invert that nobody measured (assumption)."""
STEEP_ABOVE_M: Final = 1.5
STEEPER: Final = (0.03, 0.02)
"""So far upstream of standing water the settled pipe is still steeper than laid, by so
much over the first metre (assumption)."""
CREST_M: Final = 0.5
"""Within this of the outlet end of standing water the bed turns over its lip (assumption)."""
LAID_STRAY: Final = 0.02
"""How far the mean slope over the first metre beyond the lip strays from that of the line
(assumption)."""
NOTHING_SAID: Final = 20.0
"""A fall this much looser than usual says nothing."""


@dataclass(frozen=True)
class Bed:
    """What shapes the bed of one line."""

    grid: Array
    water: Sequence[StandingWater]
    direction: Direction | None
    drops: Sequence[Drop]
    slope_required: float | None

    @property
    def step_m(self) -> float:
        """Distance between two stations of the grid."""
        return float(self.grid[1] - self.grid[0])

    @property
    def downhill(self) -> float:
        """Sign of the invert's change along the stations; zero where nobody knows."""
        return {Direction.WITH_FLOW: -1.0, Direction.AGAINST_FLOW: 1.0, None: 0.0}[self.direction]

    def add_rows(self, book: EquationBook, columns: Columns) -> None:
        """Add all rows on the invert that no measurement gave."""
        middle = np.arange(1, len(self.grid) - 1)
        sd = self._walk()[middle] * self.step_m**1.5
        value = np.zeros(len(middle))
        self._break_at_drops(value, sd)
        book.add(
            np.column_stack([2 * middle - 2, 2 * middle, 2 * middle + 2]),
            np.array([1.0, -2.0, 1.0]),
            value,
            sd,
            BREAK_SHARE,
            BREAK_SLOPE * self.step_m,
        )
        self._fall(book, columns)

    def _walk(self) -> Array:
        walk = np.full(len(self.grid), SLOPE_WALK)
        for stretch in self.water:
            low = (stretch.start_m.value or 0.0) - SETTLED_BEYOND_M
            high = (stretch.end_m.value or 0.0) + SETTLED_BEYOND_M
            walk[(self.grid > low) & (self.grid < high)] = SAG_SLOPE_WALK
        return walk

    def _break_at_drops(self, value: Array, sd: Array) -> None:
        """Loosen, or set, the second differences on either side of a step in the invert."""
        down = -1.0 if self.direction is Direction.WITH_FLOW else 1.0
        for drop in self.drops:
            before = self._cell(drop)
            for place, side in ((before - 1, 1.0), (before, -1.0)):
                if not 0 <= place < len(value):
                    continue
                if drop.height_m is None or drop.height_m.value is None or self.direction is None:
                    sd[place] = max(sd[place], STEP_SD_M)
                else:
                    value[place] += side * down * drop.height_m.value
                    sd[place] = math.hypot(sd[place], drop.height_m.spread)

    def _fall(self, book: EquationBook, columns: Columns) -> None:
        """Add that each step falls as the line does, and what is known of the line's fall."""
        mean, sd = FALL
        if self.slope_required is not None:
            mean, sd = self.slope_required, CODE_SLOPE_SD
        if self.direction is None:
            mean, sd = 0.0, math.hypot(mean, sd)
        book.add([[columns.fall]], [[1.0]], mean, sd)
        first = 2 * np.arange(len(self.grid) - 1)
        book.add(
            np.column_stack([first, first + 2, np.full(len(first), columns.fall)]),
            np.array([-1.0 / self.step_m, 1.0 / self.step_m, -(self.downhill or 1.0)]),
            *self._stray(),
        )

    def _stray(self) -> tuple[Array, Array]:
        """Return by how much the slope of each step departs from the line's, and its sd."""
        middle = 0.5 * (self.grid[1:] + self.grid[:-1])
        more = np.zeros(len(middle))
        stray = np.full(len(middle), FALL_STRAY * math.sqrt(FALL_REACH_M / self.step_m))
        for stretch in self.water if self.direction is not None else ():
            ends = (stretch.start_m.value or 0.0, stretch.end_m.value or 0.0)
            inlet, outlet = ends if self.direction is Direction.WITH_FLOW else ends[::-1]
            down = -self.downhill  # sign of downstream along the stations
            above, beyond = down * (inlet - middle), down * (middle - outlet)
            stray[(above <= 0.0) & (beyond <= CREST_M)] *= NOTHING_SAID
            steep = (above > 0.0) & (above < STEEP_ABOVE_M)
            more[steep] = self.downhill * STEEPER[0]
            stray[steep] = STEEPER[1] * math.sqrt(1.0 / self.step_m)
            laid = (beyond > CREST_M) & (beyond < SETTLED_BEYOND_M)
            stray[laid] = LAID_STRAY * math.sqrt(1.0 / self.step_m)
        for drop in self.drops:
            stray[self._cell(drop)] = STEP_SD_M / self.step_m
        return more, stray

    def _cell(self, drop: Drop) -> int:
        """Return the cell of the grid in which a drop lies."""
        return int(np.clip(np.searchsorted(self.grid, drop.station_m), 1, len(self.grid) - 1)) - 1
