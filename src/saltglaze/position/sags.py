"""Sags: where water stands or must stand, how deep below the outlet lip, how much.

Each figure is read off draws from the joint margins of the long section, so that a depth
that is the greatest of many uncertain depths carries the margin of just that. The wetted
area at depth ``h`` in a bore ``D`` is the circular segment
``D^2/4 acos(1 - 2h/D) - (D/2 - h) sqrt(h D - h^2)`` (plane geometry), and the volume its
integral along the line.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import LineSegment, Sag
from saltglaze.model.base import Z68, Z95, Estimate
from saltglaze.model.run import Direction
from saltglaze.position.profile import Profile
from saltglaze.position.water import StandingWater, bore_at

Array = NDArray[np.float64]

DRAWS: Final = 600
SEED: Final = 20240607
LEAST_DEPTH_M: Final = 0.01
"""Shallower hollows in the computed invert are not called sags."""
SURE: Final = 0.8
"""Share of draws that must hold a hollow before levels alone call it a sag."""
LEAST_DEPTHS: Final = 3
"""Fewer depths than this show no hollow."""
MARGIN_M: Final = 1.2
"""Sags are read this far beyond the ends of the water that was seen."""
LIP_NEAR_M: Final = 0.3
"""The outlet lip may lie this far inside the seen end, and the margin beyond it."""


def sags_of(
    profile: Profile | None,
    water: Sequence[StandingWater] = (),
    segments: Sequence[LineSegment] = (),
    looked: Sequence[tuple[float, float]] = (),
) -> tuple[Sag, ...]:
    """Return the sags in station order.

    Parameters
    ----------
    profile
        The long section, or ``None`` where there is none: then standing water alone
        speaks, with its ends and shares and no shape below it.
    water
        Standing water; the same stretches that ``profile`` was given.
    segments
        Settled bores.
    looked
        Stretches whose water line was read on film. Levels are far less sure than eyes:
        where the film shows no standing water they call no sag.
    """
    if profile is None:
        return tuple(_said_only(stretch, segments) for stretch in water)
    wet = [
        _from_water(profile, number, stretch)
        if profile.water_used[number]
        else _said_only(stretch, profile.segments)
        for number, stretch in enumerate(profile.water)
    ]
    dry = _from_levels(profile, wet, looked)
    return tuple(sorted([*wet, *dry], key=lambda sag: sag.start_m.value or 0.0))


def segment_area(depth_m: Array, bore_m: float) -> Array:
    """Return the wetted area of a round pipe at a depth of water, square metres."""
    h = np.clip(depth_m, 0.0, bore_m)
    chord = np.sqrt(np.maximum(h * bore_m - h**2, 0.0))
    return np.asarray(
        bore_m**2 / 4.0 * np.arccos(1.0 - 2.0 * h / bore_m) - (bore_m / 2.0 - h) * chord
    )


# ---------------------------------------------------------------- from standing water
def _from_water(profile: Profile, number: int, stretch: StandingWater) -> Sag:
    start, end = stretch.start_m.value or 0.0, stretch.end_m.value or 0.0
    window = _window(start, end)
    rows = profile.rows(window, invert=-1.0)
    rows[:, profile.water_column(number)] += 1.0
    depth = _pool(_draws(profile, rows), window, start, end, profile.direction)  # (draws, window)
    bore = bore_at(profile.segments, 0.5 * (start + end))
    assert bore is not None  # the profile used this water
    figures = _Figures.read(window, np.minimum(depth, bore), bore)
    first, last = _edges(window, depth)
    return Sag(
        id=stretch.id,
        start_m=_told(first, more_sd=stretch.start_m.spread),
        end_m=_told(last, more_sd=stretch.end_m.spread),
        lowest_m=_told(figures.lowest_m, more_sd=stretch.station_sd_m),
        depth_m=_told(figures.depth_m),
        volume_m3=_told(figures.volume_m3),
        water_share=_told(figures.depth_m / bore),
        because=f"water stands there ({stretch.source}); its surface is level, so its depth "
        "draws the invert below it",
    )


def _said_only(stretch: StandingWater, segments: Sequence[LineSegment]) -> Sag:
    """Return a sag of which only the ends, and perhaps the deepest share, are known."""
    start, end = stretch.start_m.value or 0.0, stretch.end_m.value or 0.0
    share = stretch.deepest
    if stretch.samples:
        deepest = max(stretch.samples, key=lambda sample: sample.share)
        share = Estimate.of(deepest.share, deepest.sd)
    bore = bore_at(segments, 0.5 * (start + end))
    no_bore, no_share = "the bore is not known", "nobody said how deep the water stands"
    depth = volume = Estimate.unknown(no_share if share is None or not share.known else no_bore)
    if bore is not None and share is not None and share.value is not None:
        depth = Estimate.of(share.value * bore, share.spread * bore)
        volume = _bowl(stretch, share, bore)
    return Sag(
        id=stretch.id,
        start_m=stretch.start_m,
        end_m=stretch.end_m,
        lowest_m=Estimate.of(0.5 * (start + end), max(end - start, 0.5) / np.sqrt(12.0)),
        depth_m=depth,
        volume_m3=volume,
        water_share=share,
        because=f"water stands there ({stretch.source}); no level or depth tells its shape",
    )


def _bowl(stretch: StandingWater, share: Estimate, bore: float) -> Estimate:
    """Return the volume of a smooth bowl between the two ends of the water."""
    rng = np.random.default_rng(SEED)
    length = rng.normal(
        (stretch.end_m.value or 0.0) - (stretch.start_m.value or 0.0),
        np.hypot(stretch.start_m.spread, stretch.end_m.spread),
        DRAWS,
    )
    deepest = np.clip(rng.normal(share.value or 0.0, share.spread, DRAWS), 0.0, 1.0) * bore
    along = np.linspace(-1.0, 1.0, 41)
    full = rng.uniform(1.0, 3.0, DRAWS)  # from a wedge-like hollow to a flat-bottomed one
    shape = 1.0 - np.abs(along)[None, :] ** full[:, None]
    area = segment_area(deepest[:, None] * shape, bore).mean(axis=1)
    return _told(np.maximum(length, 0.0) * area)


# ---------------------------------------------------------------- from levels alone
def _from_levels(
    profile: Profile, known: Sequence[Sag], looked: Sequence[tuple[float, float]]
) -> list[Sag]:
    """Return hollows that the levels show although nobody saw water stand there."""
    if profile.direction is None or profile.depth_count < LEAST_DEPTHS:
        return []
    stations = profile.stations_m
    invert = _draws(profile, profile.rows(stations, invert=1.0))
    depth = _ponded(invert, profile.direction) - invert
    hollow = (depth > LEAST_DEPTH_M).mean(axis=0) >= SURE
    for sag in known:
        low, high = (sag.start_m.value or 0.0) - MARGIN_M, (sag.end_m.value or 0.0) + MARGIN_M
        hollow &= ~((stations >= low) & (stations <= high))
    for low, high in looked:
        hollow &= ~((stations >= low) & (stations <= high))
    return [
        _level_sag(profile, depth, first, last, number)
        for number, (first, last) in enumerate(_runs(hollow), start=1)
    ]


def _ponded(invert: Array, direction: Direction) -> Array:
    """Return the level to which water would fill each draw: the highest invert downstream."""
    if direction is Direction.WITH_FLOW:
        return np.maximum.accumulate(invert[:, ::-1], axis=1)[:, ::-1]
    return np.maximum.accumulate(invert, axis=1)


def _level_sag(profile: Profile, depth: Array, first: int, last: int, number: int) -> Sag:
    stations = profile.stations_m
    step = float(stations[1] - stations[0])
    reach = int(4.0 / step)
    low, high = max(first - reach, 0), min(last + reach + 1, len(stations))
    window, pond = stations[low:high], depth[:, low:high]
    bore = bore_at(profile.segments, 0.5 * (float(stations[first]) + float(stations[last])))
    figures = _Figures.read(window, pond, bore)
    starts, ends = _edges(window, np.where(pond > 1e-4, pond, 0.0))
    volume = (
        _told(figures.volume_m3) if bore is not None else Estimate.unknown("the bore is not known")
    )
    return Sag(
        id=f"hollow-{number}",
        start_m=_told(starts),
        end_m=_told(ends),
        lowest_m=_told(figures.lowest_m),
        depth_m=_told(figures.depth_m),
        volume_m3=volume,
        water_share=_told(np.minimum(figures.depth_m / bore, 1.0)) if bore else None,
        because="depths and levels put the invert below its outlet there",
    )


# ---------------------------------------------------------------- draws
@dataclass(frozen=True)
class _Figures:
    """One value per draw."""

    lowest_m: Array
    depth_m: Array
    volume_m3: Array

    @classmethod
    def read(cls, window: Array, depth: Array, bore: float | None) -> _Figures:
        step = float(window[1] - window[0])
        area = segment_area(depth, bore) if bore is not None else np.zeros_like(depth)
        return cls(
            lowest_m=window[np.argmax(depth, axis=1)],
            depth_m=depth.max(axis=1),
            volume_m3=area.sum(axis=1) * step,
        )


def _window(start: float, end: float) -> Array:
    step = min(max((end - start) / 40.0, 0.05), 0.25)
    count = max(int(np.ceil((end - start) / step)), 4)
    extra = int(np.ceil(MARGIN_M / step))
    return np.asarray(start + (end - start) / count * np.arange(-extra, count + extra + 1.0))


def _pool(
    depth: Array, window: Array, start: float, end: float, direction: Direction | None
) -> Array:
    """Return the water of each draw, kept to the one pool that was seen.

    Between the seen ends all wet places count; beyond them only what joins on. At the
    outlet the pool ends at its lip, the highest bed near the seen end: past it the bed
    falls away again and holds nothing.
    """
    wet = depth > 0.0
    inside = (window >= start) & (window <= end)
    first, last = int(np.argmax(inside)), len(window) - 1 - int(np.argmax(inside[::-1]))
    joined = np.ones_like(wet)
    joined[:, last:] = np.logical_and.accumulate(wet[:, last:], axis=1)
    joined[:, first::-1] = np.logical_and.accumulate(wet[:, first::-1], axis=1)
    joined[:, first : last + 1] = wet[:, first : last + 1]
    place = np.arange(len(window))
    if direction is Direction.WITH_FLOW:
        near = window >= end - LIP_NEAR_M
        lip = np.argmin(np.where(near, depth, np.inf), axis=1)
        joined &= place <= lip[:, None]
    if direction is Direction.AGAINST_FLOW:
        near = window <= start + LIP_NEAR_M
        lip = np.argmin(np.where(near, depth, np.inf), axis=1)
        joined &= place >= lip[:, None]
    return np.where(joined, depth, 0.0)


def _edges(window: Array, depth: Array) -> tuple[Array, Array]:
    """Return the first and last wet station of each draw."""
    wet = depth > 0.0
    first = window[np.argmax(wet, axis=1)]
    last = window[len(window) - 1 - np.argmax(wet[:, ::-1], axis=1)]
    return np.asarray(first), np.asarray(last)


def _draws(profile: Profile, rows: Array) -> Array:
    """Return draws of combination rows from the adjusted section, (DRAWS, rows)."""
    covariance = profile.solution.covariance(rows)
    values, vectors = np.linalg.eigh(0.5 * (covariance + covariance.T))
    keep = values > max(float(values[-1]), 0.0) * 1e-12
    spread = vectors[:, keep] * np.sqrt(values[keep])
    rng = np.random.default_rng(SEED)
    noise = rng.standard_normal((DRAWS, int(keep.sum())))
    return np.asarray(rows @ profile.solution.unknowns + noise @ spread.T)


def _told(draws: Array, more_sd: float = 0.0) -> Estimate:
    """Return the middle of draws with their 68 and 95 % intervals.

    The sd is half the middle 68 %, so that long tails, which the 95 % interval shows, do
    not widen the 68 % one as well.
    """
    levels = (0.025, 0.16, 0.5, 0.84, 0.975)
    low, low68, middle, high68, high = (float(q) for q in np.quantile(draws, levels))
    wider = Z95 * more_sd
    return Estimate(
        value=middle,
        sd=float(np.hypot(0.5 * (high68 - low68) / Z68, more_sd)),
        low95=middle - float(np.hypot(middle - low, wider)),
        high95=middle + float(np.hypot(high - middle, wider)),
    )


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return (first, last) indices of each run of true."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    edges = np.diff(padded)
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [(int(a), int(b) - 1) for a, b in zip(starts, ends, strict=True)]
