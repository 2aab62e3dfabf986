"""The long section: invert and ground level along the line, by one robust adjustment.

Unknowns at evenly spaced stations: invert ``z`` and ground ``g``; beside them the scale
error that the receiver's depths share, the slope of the ground, and the level of each
standing water. Rows:

- ``z`` bends little: its slope is a random walk (second differences; the classic
  smoothing spline in state-space form, Wahba 1978, from memory), looser where water
  stands and at drops;
- ``g`` wanders about a slope (random walk with drift);
- a depth says ``g - z``, a ground shot says ``g``, each with its margin and a share of
  gross errors;
- standing water is level: its depth at a station says ``w - z``, so the depths along a
  stretch draw the shape of the invert below it even where no level is known.

The adjustment is :func:`saltglaze.position.adjust.adjust`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import (
    Check,
    Conflict,
    LineSegment,
    Path,
    SurfacePoint,
    Verdict,
)
from saltglaze.model.base import Estimate
from saltglaze.model.job import Job
from saltglaze.model.run import Direction
from saltglaze.position.adjust import Adjustment, EquationBook, adjust
from saltglaze.position.levels import (
    DepthReading,
    Drop,
    GroundReading,
    depth_readings,
    ground_readings,
)
from saltglaze.position.water import StandingWater, bore_at

Array = NDArray[np.float64]

STEP_M: Final = 0.25
MOST_NODES: Final = 400

SLOPE_WALK: Final = 0.005
"""Random walk of the slope of a laid pipe, per root metre (assumption)."""
SAG_SLOPE_WALK: Final = 0.03
"""The same where water stands: a pipe that has settled (assumption)."""
SETTLED_BEYOND_M: Final = 3.0
"""A pipe has settled this much further than water stands in it (assumption)."""
BREAK_SHARE: Final = 0.03
BREAK_SLOPE: Final = 0.02
"""Share of steps with a break in slope, and its size (assumption)."""
GROUND_WALK_M: Final = 0.06
"""Random walk of the ground about its slope, metres per root metre (assumption)."""
GROUND_SLOPE_SD: Final = 0.06
DEPTH_SCALE_SD: Final = 0.02
"""Scale error that all depths of one receiver share (assumption)."""
DEPTH_GROSS: Final = (0.05, 0.8)
"""Share of depths with a gross error, and its sd (assumption)."""
GROUND_GROSS: Final = (0.02, 1.0)
WATER_BIAS_SHARE: Final = 0.02
"""Error of the water line that a whole stretch shares, share of the bore (assumption)."""
FALL: Final = (0.02, 0.025)
"""Mean fall of a drain and its sd, where no code says otherwise (assumption)."""
CODE_SLOPE_SD: Final = 0.015
"""How near lines are to the slope the code asks for (assumption)."""
STEP_SD_M: Final = 0.5
"""Height of a step in the invert that nobody measured (assumption)."""
FALL_REACH_M: Final = 10.0
"""Length of pipe over which the fall counts as one thing (assumption)."""
SOMEWHERE_BELOW_M: Final = (1.0, 10.0)
"""Depth where nothing tells it, so loose that it weighs nothing beside any reading."""
EDGE_DRY_SHARE: Final = 0.15
"""Water thinner than this at the last sample: the stretch ends there, and was not cut off."""
EDGE_SHARE: Final = (0.03, 0.03)
"""Depth of water at the end that the eye gives a stretch, share of the bore: thinner
water is not told from a wet invert (assumption)."""
UNREAD_M: Final = 1.0
"""A part of a stretch this long without a reading takes the deepest share that was said."""
EDGE_SLOPE: Final = 0.03
"""Bed slope at the edge of a sag, to turn its station error into depth (assumption)."""


@dataclass(frozen=True)
class Profile:
    """The adjusted long section on its own grid of stations.

    ``datum_known`` is false where no ground level was given: then ``invert`` levels stand
    on an arbitrary datum and only depths, slopes and shapes mean something.
    """

    stations_m: Array
    solution: Adjustment
    datum_known: bool
    direction: Direction | None
    water: tuple[StandingWater, ...]
    water_used: tuple[bool, ...]
    segments: tuple[LineSegment, ...]
    depth_count: int = 0
    station_sd_m: float = 0.0
    """Typical error of a station of the evidence."""
    checks: tuple[Check, ...] = ()
    conflicts: tuple[Conflict, ...] = ()

    @property
    def invert_m(self) -> Array:
        """Invert level at each grid station."""
        return self.solution.unknowns[: 2 * len(self.stations_m) : 2]

    def rows(self, stations_m: Array, *, invert: float = 0.0, ground: float = 0.0) -> Array:
        """Return combination rows ``invert * z + ground * g`` at stations, interpolated."""
        index, share = _span(self.stations_m, stations_m)
        rows = np.zeros((len(stations_m), len(self.solution.unknowns)))
        line = np.arange(len(stations_m))
        for offset, factor in ((0, invert), (1, ground)):
            np.add.at(rows, (line, 2 * index + offset), factor * (1.0 - share))
            np.add.at(rows, (line, 2 * index + 2 + offset), factor * share)
        return rows

    def water_column(self, number: int) -> int:
        """Return the unknown that holds the level of the ``number``-th standing water."""
        return 2 * len(self.stations_m) + 2 + 2 * number

    def told(self, rows: Array) -> tuple[Array, Array]:
        """Return means and sds of combination rows."""
        mean = rows @ self.solution.unknowns
        variance = np.einsum(
            "ij,ji->i", rows, self.solution.factor.solve(np.ascontiguousarray(rows.T))
        )
        return mean, np.sqrt(np.maximum(variance, 0.0))

    def depth_at(self, station: Estimate) -> Estimate:
        """Return depth from ground to invert at a station known with its own sd."""
        if station.value is None:
            return Estimate.unknown("its station is not known")
        near = station.value + np.array([0.0, -0.5, 0.5])
        mean, sd = self.told(self.rows(near, invert=-1.0, ground=1.0))
        lean = float(mean[2] - mean[1])
        return Estimate.of(float(mean[0]), math.hypot(float(sd[0]), lean * station.spread))

    def slope_between(self, from_m: float, to_m: float) -> Estimate:
        """Return the fall per length between two stations, positive downstream.

        A shift of the stations along a bed that is steeper at one end than at the other
        changes the fall as well; its margin is joined in.
        """
        if self.direction is None:
            return Estimate.unknown("the direction of the flow is not known")
        sign = 1.0 if self.direction is Direction.WITH_FLOW else -1.0
        length = to_m - from_m
        rows = self.rows(np.array([from_m, to_m]), invert=1.0)
        mean, sd = self.told(sign * (rows[:1] - rows[1:]) / length)
        ends = np.array([from_m - 0.25, from_m + 0.25, to_m - 0.25, to_m + 0.25])
        level = self.rows(ends, invert=1.0) @ self.solution.unknowns
        bends = math.hypot(*((level[1::2] - level[::2]) / 0.5 - (level[-1] - level[0]) / length))
        return Estimate.of(
            float(mean[0]), math.hypot(float(sd[0]), bends * self.station_sd_m / length)
        )


def profile_of(
    job: Job,
    length_m: float,
    surface: Sequence[SurfacePoint] = (),
    water: Sequence[StandingWater] = (),
    segments: Sequence[LineSegment] = (),
    direction: Direction | None = None,
    path: Path | None = None,
    drops: Sequence[Drop] = (),
    stations: Mapping[str, Estimate] | None = None,
) -> Profile | None:
    """Return the long section, or ``None`` where nothing tells depth, level or water.

    Parameters
    ----------
    job
        Evidence: locates, levels, accesses, the slope the code asks for.
    length_m
        Furthest station, metres.
    surface
        Surface points with stations and depths.
    water
        Standing water, from :func:`saltglaze.position.water.standing_water`.
    segments
        Settled materials and bores.
    direction
        Direction of increasing station against the flow.
    path
        The centreline in plan, to bring ground shots beside it to a station.
    drops
        Steps in the invert.
    stations
        Stations of locates that have no place on the map.
    """
    depths = depth_readings(job, surface, segments, stations)
    grounds = ground_readings(job, surface, path)
    wet = [stretch for stretch in water if stretch.samples or stretch.deepest]
    if not depths and not wet:
        return None
    grid = _grid(length_m, depths, grounds, water)
    evidence = _Evidence(
        grid,
        depths,
        grounds,
        tuple(water),
        tuple(segments),
        direction,
        tuple(drops),
        job.line.slope_required,
    )
    profile = evidence.solved()
    checks, conflicts = _doubts(evidence, profile)
    return replace(profile, checks=checks, conflicts=conflicts)


@dataclass(frozen=True)
class _Evidence:
    grid: Array
    depths: tuple[DepthReading, ...]
    grounds: tuple[GroundReading, ...]
    water: tuple[StandingWater, ...]
    segments: tuple[LineSegment, ...]
    direction: Direction | None
    drops: tuple[Drop, ...]
    slope_required: float | None

    @property
    def nodes(self) -> int:
        return len(self.grid)

    def solved(self, trusted: str | None = None) -> Profile:
        """Return the adjustment; ``trusted`` names a depth that must not be doubted."""
        book = EquationBook(2 * self.nodes + 2 + 2 * len(self.water))
        self._smoothness(book)
        self._ground(book)
        self._depths(book, trusted)
        used = tuple(self._water(book, number) for number in range(len(self.water)))
        solution = adjust(book.close(), chain=2 * self.nodes, band=4, rounds=25, settled=1e-4)
        return Profile(
            stations_m=self.grid,
            solution=solution,
            datum_known=bool(self.grounds),
            direction=self.direction,
            water=self.water,
            water_used=used,
            segments=self.segments,
            depth_count=len(self.depths),
            station_sd_m=self._station_sd(),
        )

    def _station_sd(self) -> float:
        sds = [reading.station_sd_m for reading in self.depths]
        sds += [stretch.station_sd_m for stretch in self.water]
        return float(np.median(sds)) if sds else 0.0

    # ------------------------------------------------------------ rows
    def _smoothness(self, book: EquationBook) -> None:
        step = float(self.grid[1] - self.grid[0])
        middle = np.arange(1, self.nodes - 1)
        columns = np.column_stack([2 * middle - 2, 2 * middle, 2 * middle + 2])
        walk = np.full(len(middle), SLOPE_WALK)
        for stretch in self.water:
            low = (stretch.start_m.value or 0.0) - SETTLED_BEYOND_M
            high = (stretch.end_m.value or 0.0) + SETTLED_BEYOND_M
            walk[(self.grid[middle] > low) & (self.grid[middle] < high)] = SAG_SLOPE_WALK
        sd = walk * step**1.5
        value = np.zeros(len(middle))
        self._drops(value, sd)
        book.add(columns, np.array([1.0, -2.0, 1.0]), value, sd, BREAK_SHARE, BREAK_SLOPE * step)
        self._fall(book, step)

    def _fall(self, book: EquationBook, step: float) -> None:
        """Add that a drain falls: weak rows on every step, which over 10 m weigh one sd."""
        sign = {Direction.WITH_FLOW: -1.0, Direction.AGAINST_FLOW: 1.0, None: 0.0}[self.direction]
        mean, sd = FALL
        if self.slope_required is not None:
            mean, sd = self.slope_required, CODE_SLOPE_SD
        if self.direction is None:
            mean, sd = 0.0, math.hypot(mean, sd)
        first = 2 * np.arange(self.nodes - 1)
        loose = np.full(len(first), sd * math.sqrt(FALL_REACH_M / step))
        for drop in self.drops:
            loose[self._cell(drop)] = STEP_SD_M / step
        book.add(
            np.column_stack([first, first + 2]),
            np.array([-1.0 / step, 1.0 / step]),
            sign * mean,
            loose,
        )

    def _cell(self, drop: Drop) -> int:
        """Return the cell of the grid in which a drop lies."""
        return int(np.clip(np.searchsorted(self.grid, drop.station_m), 1, self.nodes - 1)) - 1

    def _drops(self, value: Array, sd: Array) -> None:
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

    def _ground(self, book: EquationBook) -> None:
        step = float(self.grid[1] - self.grid[0])
        slope = 2 * self.nodes
        first = np.arange(self.nodes - 1)
        columns = np.column_stack([2 * first + 1, 2 * first + 3, np.full(len(first), slope)])
        book.add(columns, np.array([-1.0, 1.0, -step]), 0.0, GROUND_WALK_M * math.sqrt(step))
        book.add([[slope]], [[1.0]], 0.0, GROUND_SLOPE_SD)
        if not self.grounds:  # no level given: an arbitrary datum
            book.add([[1]], [[1.0]], 0.0, 1e-3)
        for reading in self.grounds:
            index, share = _span(self.grid, np.array([reading.station_m]))
            at = int(index[0])
            sd = math.hypot(reading.sd_m, GROUND_WALK_M * math.sqrt(reading.station_sd_m + 1e-9))
            book.add(
                [[2 * at + 1, 2 * at + 3]],
                [[1.0 - share[0], share[0]]],
                reading.level_m,
                sd,
                *GROUND_GROSS,
            )

    def _depths(self, book: EquationBook, trusted: str | None) -> None:
        scale = 2 * self.nodes + 1
        book.add([[scale]], [[1.0]], 0.0, DEPTH_SCALE_SD)
        book.add([[0, 1]], [[-1.0, 1.0]], *SOMEWHERE_BELOW_M)
        usual = float(np.median([r.depth_m for r in self.depths])) if self.depths else 0.0
        for reading in self.depths:
            index, share = _span(self.grid, np.array([reading.station_m]))
            at, part = int(index[0]), float(share[0])
            book.add(
                [[2 * at, 2 * at + 1, 2 * at + 2, 2 * at + 3, scale]],
                [[part - 1.0, 1.0 - part, -part, part, reading.depth_m if reading.scaled else 0.0]],
                reading.depth_m,
                math.hypot(_fair_sd(reading, usual), 0.02 * reading.station_sd_m),
                0.0 if reading.id == trusted else DEPTH_GROSS[0],
                DEPTH_GROSS[1],
            )

    def _water(self, book: EquationBook, number: int) -> bool:
        """Add the rows of one standing water; return whether its depths could be used."""
        stretch = self.water[number]
        level = 2 * self.nodes + 2 + 2 * number
        bias = level + 1
        start, end = stretch.start_m.value or 0.0, stretch.end_m.value or 0.0
        bore = bore_at(self.segments, 0.5 * (start + end))
        book.add([[bias]], [[1.0]], 0.0, WATER_BIAS_SHARE * (bore or 0.1))
        if bore is None or not (stretch.samples or stretch.deepest):
            book.add([[level]], [[1.0]], 0.0, 1e3)
            return False
        stations, depth, sd = _water_depths(stretch, bore)
        index, share = _span(self.grid, stations)
        count = len(stations)
        book.add(
            np.column_stack(
                [2 * index, 2 * index + 2, np.full(count, level), np.full(count, bias)]
            ),
            np.column_stack([share - 1.0, -share, np.ones(count), np.ones(count)]),
            depth,
            sd,
            0.03,
            0.3 * bore,
        )
        return True


def _fair_sd(reading: DepthReading, usual_m: float) -> float:
    """Return the sd of a depth; a wrongly shallow one must not be trusted more for it."""
    if not reading.scaled:
        return reading.sd_m
    return max(reading.sd_m, 0.05 * usual_m + 0.03)


def _water_depths(stretch: StandingWater, bore: float) -> tuple[Array, Array, Array]:
    """Return (stations, depths, sds) of the water of one stretch.

    Where the water thins out at an end, that end is nearly dry. The deepest share
    that was said is put in the middle of the longest part without a reading: with nothing
    else between two dry ends, the settled shape is then the smoothest that fits.
    """
    found = [(s.station_m, s.share * bore, s.sd * bore) for s in stretch.samples]
    ends = (stretch.start_m, stretch.end_m)
    thin = [True, True]
    if found:
        thin = [stretch.samples[k].share < EDGE_DRY_SHARE for k in (0, -1)]
    deepest = stretch.deepest
    if deepest is not None and deepest.value is not None:
        unread = _widest_gap([end.value or 0.0 for end in ends], [row[0] for row in found])
        if unread is not None:
            found.append((unread, deepest.value * bore, max(deepest.spread * bore, 0.005)))
    for end, dry in zip(ends, thin, strict=True):
        if dry and end.value is not None:
            sd = math.hypot(EDGE_SHARE[1] * bore, EDGE_SLOPE * end.spread)
            found.append((end.value, EDGE_SHARE[0] * bore, sd))
    table = np.array(found)
    return table[:, 0], table[:, 1], table[:, 2]


def _widest_gap(ends: Sequence[float], stations: Sequence[float]) -> float | None:
    """Return the middle of the longest part of a stretch without a reading, if it is long."""
    places = sorted([*ends, *stations])
    gap, middle = max((b - a, 0.5 * (a + b)) for a, b in pairwise(places))
    return middle if gap > UNREAD_M or not stations else None


def _span(grid: Array, stations: Array) -> tuple[NDArray[np.int64], Array]:
    """Return the cell of each station and its share of the way through it; ends extend."""
    step = float(grid[1] - grid[0])
    index = np.clip(np.floor((stations - grid[0]) / step), 0, len(grid) - 2).astype(np.int64)
    return index, (stations - grid[index]) / step


def _grid(
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


# ---------------------------------------------------------------- doubts
def _doubts(
    evidence: _Evidence, profile: Profile
) -> tuple[tuple[Check, ...], tuple[Conflict, ...]]:
    checks, conflicts = [], []
    for reading in evidence.depths:
        others = replace(evidence, depths=tuple(r for r in evidence.depths if r is not reading))
        station = Estimate.of(reading.station_m, 0.0)
        here = profile.depth_at(station)
        assert here.value is not None
        if abs(here.value - reading.depth_m) < 2.5 * reading.sd_m:
            continue
        without, trusting = others.solved().depth_at(station), evidence.solved(reading.id)
        conflicts.append(_conflict(reading, without, trusting.depth_at(station)))
    mean, _ = profile.told(profile.rows(profile.stations_m, invert=-1.0, ground=1.0))
    if float(mean.min()) < 0.0 and evidence.depths:
        at = float(profile.stations_m[int(np.argmin(mean))])
        checks.append(
            Check(
                name="invert above ground",
                verdict=Verdict.DOUBT,
                reason=f"the long section comes out above the ground at station {at:.1f} m",
                about=f"{at:.1f} m",
                mend="check the depths and ground levels on either side",
            )
        )
    return tuple(checks), tuple(conflicts)


def _conflict(reading: DepthReading, without: Estimate, trusting: Estimate) -> Conflict:
    assert without.value is not None and trusting.value is not None
    off = reading.depth_m - without.value
    ratio = abs(off) / math.hypot(reading.sd_m, without.spread)
    return Conflict(
        item=f"depth at {reading.id}",
        misfit=f"{abs(off):.2f} m {'deeper' if off > 0 else 'shallower'} than the rest of the "
        f"line says ({ratio:.1f} sd)",
        with_it=f"invert {trusting.value:.2f} m deep there, give or take "
        f"{1.96 * trusting.spread:.2f} m",
        without_it=f"invert {without.value:.2f} m deep there, give or take "
        f"{1.96 * without.spread:.2f} m",
        used=False,
    )
