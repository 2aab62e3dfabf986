"""Laws of motion for an invented run: station, roll, head, water, counter against time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import PchipInterpolator

Times = NDArray[np.floating] | Sequence[float] | float
Array = NDArray[np.float64]


@dataclass(frozen=True)
class KnotLaw:
    """A quantity against time through knots ``(time_s, value)``, smooth between them.

    Monotone cubic interpolation (Fritsch and Carlson 1980, as in scipy's
    ``PchipInterpolator``): equal neighbouring values are a true standstill, a turning
    point has no overshoot. Outside the knots the end values hold.
    """

    knots: tuple[tuple[float, float], ...]

    @classmethod
    def constant(cls, value: float) -> KnotLaw:
        """A quantity that does not change."""
        return cls(((0.0, value),))

    @cached_property
    def _curve(self) -> PchipInterpolator | None:
        if len(self.knots) < 2:
            return None
        times, values = zip(*self.knots, strict=True)
        return PchipInterpolator(times, values)

    def _clipped(self, times_s: Times) -> Array:
        asked = np.asarray(times_s, dtype=float)
        return np.asarray(np.clip(asked, self.knots[0][0], self.knots[-1][0]))

    def at(self, times_s: Times) -> Array:
        """Return the value at each time."""
        if self._curve is None:
            return np.full(np.shape(times_s), self.knots[0][1], dtype=float)
        return np.asarray(self._curve(self._clipped(times_s)), dtype=float)

    def rate_at(self, times_s: Times) -> Array:
        """Return the change per second at each time (0 outside the knots)."""
        asked = np.asarray(times_s, dtype=float)
        if self._curve is None:
            return np.zeros(asked.shape)
        inside = (asked >= self.knots[0][0]) & (asked <= self.knots[-1][0])
        slope = np.asarray(self._curve(self._clipped(asked), 1), dtype=float)
        return np.where(inside, slope, 0.0)


def _straight_between(knots: tuple[tuple[float, float], ...], stations_m: Times) -> Array:
    stations, shares = zip(*knots, strict=True)
    return np.asarray(np.interp(np.asarray(stations_m, dtype=float), stations, shares))


@dataclass(frozen=True)
class WaterLaw:
    """Depth of water over the diameter against station, straight between knots.

    ``standing`` lists the stretches ``(from_m, to_m)`` where the water does not run.
    """

    knots: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    standing: tuple[tuple[float, float], ...] = ()

    def share_at(self, stations_m: Times) -> Array:
        """Return the share of the diameter that is under water at each station."""
        return _straight_between(self.knots, stations_m)

    def stands_at(self, stations_m: Times) -> NDArray[np.bool_]:
        """Return whether the water stands still at each station."""
        asked = np.asarray(stations_m, dtype=float)
        still = np.zeros(asked.shape, dtype=bool)
        for start, end in self.standing:
            still |= (asked >= start) & (asked <= end)
        return still


@dataclass(frozen=True)
class BedLaw:
    """What lies or has dried along the invert: a settled bed and a tide mark on the wall.

    ``knots`` are ``(station_m, share)`` of the bed's top over the diameter, straight between
    them; its top leans by ``lean_deg`` (positive: higher on the right, seen ahead) and is
    ``rough`` times a hundredth of the diameter uneven. The wall is stained up to ``tide_share``
    of the diameter, darker by ``tide`` (0..1), where water has stood or run.
    """

    knots: tuple[tuple[float, float], ...] = ((0.0, 0.0),)
    lean_deg: float = 0.0
    rough: float = 1.0
    rgb: tuple[float, float, float] = (96.0, 80.0, 58.0)
    tide_share: float = 0.0
    tide: float = 0.0

    def share_at(self, stations_m: Times) -> Array:
        """Return the share of the diameter that the bed fills at each station."""
        return _straight_between(self.knots, stations_m)


@dataclass(frozen=True)
class CounterLaw:
    """How a cable counter errs against the lens, all in metres.

    ``scale`` is counted length per true length (0.985: it reads 1.5 % short). ``play_m``
    is slack rod that passes the counter before the lens follows on a reversal, half of
    it each way. ``slip_m`` is the size of a slow wander along the line. At each reset
    ``(time_s, value_m)`` the counter jumps to the value and counts on from there.
    """

    scale: float = 1.0
    zero_m: float = 0.0
    slip_m: float = 0.0
    slip_seed: int = 0
    play_m: float = 0.0
    resets: tuple[tuple[float, float], ...] = ()

    def at(self, times_s: Times, station: KnotLaw) -> Array:
        """Return what the counter says at each time, metres, before display rounding."""
        asked = np.asarray(times_s, dtype=float)
        counted = self._counted(asked, station)
        begin = float(self._counted(np.array([0.0]), station)[0])
        value = counted - begin + self.zero_m
        for reset_s, reset_to in self.resets:
            passed = float(self._counted(np.array([reset_s]), station)[0])
            value = np.where(asked >= reset_s, counted - passed + reset_to, value)
        return value

    def _counted(self, times_s: Array, station: KnotLaw) -> Array:
        rod = station.at(times_s) + 0.5 * self.play_m * self._pushing(times_s, station)
        return self.scale * rod + self._wander(rod)

    def _wander(self, rod_m: Array) -> Array:
        """Return a smooth wander along the rod, within about ``slip_m``."""
        if self.slip_m == 0.0:
            return np.zeros_like(rod_m)
        draw = np.random.default_rng(self.slip_seed)
        waves = draw.uniform(4.0, 25.0, 4)
        phases = draw.uniform(0.0, 2 * np.pi, 4)
        terms = [np.sin(2 * np.pi * rod_m / w + p) for w, p in zip(waves, phases, strict=True)]
        return np.asarray(self.slip_m * 0.5 * np.sum(terms, axis=0))

    def _pushing(self, times_s: Array, station: KnotLaw) -> Array:
        """Return +1 while pushing, -1 while pulling, turning over before the lens moves."""
        if self.play_m == 0.0:
            return np.zeros_like(times_s)
        grid, lean = _lean(station)
        return np.asarray(np.interp(times_s, grid, lean))


LEAD_S = 0.8
"""How long before the lens moves the rod's slack is taken up."""


@lru_cache(maxsize=8)
def _lean(station: KnotLaw) -> tuple[Array, Array]:
    """Return times and which way the rod leans then: +1 pushed, -1 pulled, between in turning."""
    step = 0.02
    grid = np.arange(0.0, station.knots[-1][0] + 2 * LEAD_S, step)
    way = np.sign(np.round(station.rate_at(grid), 6))
    moving = np.flatnonzero(way)
    if moving.size == 0:
        return grid, np.zeros_like(grid)
    # Standing still, the rod already leans the way the lens will go next.
    here = np.arange(grid.size)
    upcoming = moving[np.minimum(np.searchsorted(moving, here), moving.size - 1)]
    previous = moving[np.maximum(np.searchsorted(moving, here, "right") - 1, 0)]
    soon = (upcoming - here) * step < LEAD_S
    lean = np.where(soon, way[upcoming], way[previous])
    width = round(LEAD_S / step)
    total = np.concatenate([[0.0], np.cumsum(np.pad(lean, (0, width), mode="edge"))])
    return grid, (total[width : width + grid.size] - total[: grid.size]) / width
