"""The long section: invert and ground level along the line, by one robust adjustment.

Unknowns at evenly spaced stations: invert ``z`` and ground ``g``; beside them the scale
error that the receiver's depths share, the slope of the ground, the fall of the line, and
the level of each standing water. Rows:

- ``z`` bends little and falls as the line does (:mod:`saltglaze.position.bed`; the
  classic smoothing spline in state-space form, Wahba 1978, from memory);
- ``g`` wanders about a slope (random walk with drift);
- a depth says ``g - z``, a ground shot says ``g``, each with its margin and a share of
  gross errors;
- standing water is level and draws the bed below it (:mod:`saltglaze.position.ponds`).

The adjustment is :func:`saltglaze.position.adjust.adjust`.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
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
from saltglaze.position.bed import Bed
from saltglaze.position.depths import depth_sd_m
from saltglaze.position.levels import (
    DepthReading,
    Drop,
    GroundReading,
    depth_readings,
    ground_readings,
)
from saltglaze.position.naming import metres
from saltglaze.position.ponds import add_water_rows
from saltglaze.position.section_grid import Columns, grid_of, span
from saltglaze.position.water import StandingWater, bore_at

Array = NDArray[np.float64]

GROUND_WALK_M: Final = 0.06
"""Random walk of the ground about its slope, metres per root metre (assumption)."""
GROUND_SLOPE: Final = (0.015, 0.04)
"""Fall of the ground along the flow, and its sd: drains are laid down the hill (assumption)."""
GROUND_GROSS: Final = (0.02, 1.0)
DEPTH_SCALE_SD: Final = 0.02
"""Scale error that all depths of one receiver share (assumption)."""
DEPTH_GROSS: Final = (0.05, 0.8)
"""Share of depths with a gross error, and its sd (assumption)."""
MARGIN_RATIO: Final = (0.5, 3.0)
"""How far the margin of a depth may be moved for having read too deep or too shallow."""
SOMEWHERE_BELOW_M: Final = (1.0, 10.0)
"""Depth where nothing tells it, so loose that it weighs nothing beside any reading."""


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
        index, share = span(self.stations_m, stations_m)
        rows = np.zeros((len(stations_m), len(self.solution.unknowns)))
        line = np.arange(len(stations_m))
        for offset, factor in ((0, invert), (1, ground)):
            np.add.at(rows, (line, 2 * index + offset), factor * (1.0 - share))
            np.add.at(rows, (line, 2 * index + 2 + offset), factor * share)
        return rows

    def water_column(self, number: int) -> int:
        """Return the unknown that holds the level of the ``number``-th standing water."""
        return Columns(len(self.stations_m), len(self.water)).water_level(number)

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
    grid = grid_of(length_m, depths, grounds, water)
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

    def solved(self, trusted: str | None = None) -> Profile:
        """Return the adjustment; ``trusted`` names a depth that must not be doubted.

        The error of a receiver's depth grows with the true depth, not with the one it
        shows: a reading that is too shallow by chance also claims too small a margin. So
        the margins are drawn once as stated and once at the depths that came out.
        """
        first = self._pass(self.depths, trusted)
        if not any(reading.scaled for reading in self.depths):
            return first
        depths = tuple(_at_true_depth(reading, first) for reading in self.depths)
        return self._pass(depths, trusted, first.solution.unknowns)

    def _pass(
        self, depths: Sequence[DepthReading], trusted: str | None, start: Array | None = None
    ) -> Profile:
        columns = Columns(len(self.grid), len(self.water))
        book = EquationBook(columns.count)
        bed = Bed(self.grid, self.water, self.direction, self.drops, self.slope_required)
        bed.add_rows(book, columns)
        self._ground(book, columns, bed.downhill)
        self._depths(book, columns, depths, trusted)
        used = tuple(self._water(book, columns, number) for number in range(len(self.water)))
        solution = adjust(
            book.close(), chain=columns.chain, band=4, start=start, rounds=25, settled=1e-4
        )
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

    def _ground(self, book: EquationBook, columns: Columns, downhill: float) -> None:
        step = float(self.grid[1] - self.grid[0])
        slope = columns.ground_slope
        first = np.arange(len(self.grid) - 1)
        along = np.column_stack([2 * first + 1, 2 * first + 3, np.full(len(first), slope)])
        book.add(along, np.array([-1.0, 1.0, -step]), 0.0, GROUND_WALK_M * math.sqrt(step))
        book.add([[slope]], [[1.0]], downhill * GROUND_SLOPE[0], GROUND_SLOPE[1])
        if not self.grounds:  # no level given: an arbitrary datum
            book.add([[1]], [[1.0]], 0.0, 1e-3)
        for reading in self.grounds:
            index, share = span(self.grid, np.array([reading.station_m]))
            at = int(index[0])
            sd = math.hypot(reading.sd_m, GROUND_WALK_M * math.sqrt(reading.station_sd_m + 1e-9))
            book.add(
                [[2 * at + 1, 2 * at + 3]],
                [[1.0 - share[0], share[0]]],
                reading.level_m,
                sd,
                *GROUND_GROSS,
            )

    def _depths(
        self,
        book: EquationBook,
        columns: Columns,
        depths: Sequence[DepthReading],
        trusted: str | None,
    ) -> None:
        book.add([[columns.scale]], [[1.0]], 0.0, DEPTH_SCALE_SD)
        book.add([[columns.head]], [[1.0]], 0.0, 1.0)
        book.add([[0, 1]], [[-1.0, 1.0]], *SOMEWHERE_BELOW_M)
        for reading in depths:
            index, share = span(self.grid, np.array([reading.station_m]))
            at, part = 2 * int(index[0]), float(share[0])
            expected = reading.depth_m if reading.expected_m is None else reading.expected_m
            shared = [expected if reading.scaled else 0.0, reading.head_sd_m]
            book.add(
                [[at, at + 1, at + 2, at + 3, columns.scale, columns.head]],
                [[part - 1.0, 1.0 - part, -part, part, *shared]],
                reading.depth_m,
                math.hypot(reading.sd_m, 0.02 * reading.station_sd_m),
                0.0 if reading.id == trusted else DEPTH_GROSS[0],
                DEPTH_GROSS[1],
            )

    def _water(self, book: EquationBook, columns: Columns, number: int) -> bool:
        stretch = self.water[number]
        middle = 0.5 * ((stretch.start_m.value or 0.0) + (stretch.end_m.value or 0.0))
        bore = bore_at(self.segments, middle)
        return add_water_rows(book, columns, self.grid, stretch, number, bore, self.direction)


def _at_true_depth(reading: DepthReading, profile: Profile) -> DepthReading:
    """Return a reading with the margin that a depth like the one that came out has."""
    if not reading.scaled:
        return reading
    rows = profile.rows(np.array([reading.station_m]), invert=-1.0, ground=1.0)
    came_out = max(float((rows @ profile.solution.unknowns)[0]), 0.0)
    ratio = depth_sd_m(came_out) / depth_sd_m(max(reading.depth_m, 0.0))
    sd_m = reading.sd_m * float(np.clip(ratio, *MARGIN_RATIO))
    return replace(reading, sd_m=sd_m, expected_m=came_out)


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
                reason=f"the long section comes out above the ground at {metres(at)} along",
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
        misfit=f"{metres(abs(off), 2)} {'deeper' if off > 0 else 'shallower'} than the rest of the "
        f"line says, {ratio:.1f} times the error to expect",
        with_it=_deep(trusting.value, trusting.spread),
        without_it=_deep(without.value, without.spread),
        used=False,
    )


def _deep(value_m: float, sd_m: float) -> str:
    margin = metres(1.96 * sd_m, 2)
    return f"the bottom of the pipe is {metres(value_m, 2)} deep there, give or take {margin}"
