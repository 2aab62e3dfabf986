"""Sags: where water stands or must stand, how deep below the outlet lip, how much.

Each figure is read off draws from the joint margins of the long section, so that a depth
that is the greatest of many uncertain depths carries the margin of just that. The wetted
area at depth ``h`` in a bore ``D`` is the circular segment
``D^2/4 acos(1 - 2h/D) - (D/2 - h) sqrt(h D - h^2)`` (plane geometry), and the volume its
integral along the line.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import LineSegment, Sag
from saltglaze.model.base import Estimate
from saltglaze.model.run import Direction
from saltglaze.position.pool import (
    DRAWS,
    MARGIN_M,
    SEED,
    Figures,
    draws_of,
    segment_area,
    told,
    water_draws,
)
from saltglaze.position.profile import Profile
from saltglaze.position.water import StandingWater, bore_at

Array = NDArray[np.float64]

LEAST_DEPTH_M: Final = 0.01
"""Shallower hollows in the computed invert are not called sags."""
SURE: Final = 0.8
"""Share of draws that must hold a hollow before levels alone call it a sag."""
LEAST_DEPTHS: Final = 3
"""Fewer depths than this show no hollow."""
JOINT_SD_M: Final = 0.0015
"""How far the deepest joint of rigid sections lies from the smooth bed drawn through it
(assumption)."""


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


# ---------------------------------------------------------------- from standing water
def _from_water(profile: Profile, number: int, stretch: StandingWater) -> Sag:
    start, end = stretch.start_m.value or 0.0, stretch.end_m.value or 0.0
    bore = bore_at(profile.segments, 0.5 * (start + end))
    assert bore is not None  # the profile used this water
    figures = Figures.read(*water_draws(profile, number, start, end), bore)
    rng = np.random.default_rng(SEED + 1)
    shift = rng.normal(0.0, stretch.station_sd_m, DRAWS)  # one doubt for the whole stretch
    smooth = np.clip(figures.depth_m, JOINT_SD_M, bore)
    deepest = np.clip(smooth + rng.normal(0.0, JOINT_SD_M, DRAWS), 0.0, bore)
    return Sag(
        id=stretch.id,
        start_m=told(figures.start_m + shift),
        end_m=told(figures.end_m + shift),
        lowest_m=told(figures.lowest_m + shift),
        depth_m=told(deepest),
        volume_m3=told(figures.volume_m3 * deepest / smooth),
        water_share=told(deepest / bore),
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
    return told(np.maximum(length, 0.0) * area)


# ---------------------------------------------------------------- from levels alone
def _from_levels(
    profile: Profile, known: Sequence[Sag], looked: Sequence[tuple[float, float]]
) -> list[Sag]:
    """Return hollows that the levels show although nobody saw water stand there."""
    if profile.direction is None or profile.depth_count < LEAST_DEPTHS:
        return []
    stations = profile.stations_m
    unseen = np.ones(len(stations), dtype=bool)
    shores = [
        ((s.start_m.value or 0.0) - MARGIN_M, (s.end_m.value or 0.0) + MARGIN_M) for s in known
    ]
    for low, high in (*shores, *looked):
        unseen &= ~((stations >= low) & (stations <= high))
    if not unseen.any():
        return []
    invert = draws_of(profile, profile.rows(stations, invert=1.0))
    depth = _ponded(invert, profile.direction) - invert
    hollow = unseen & ((depth > LEAST_DEPTH_M).mean(axis=0) >= SURE)
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
    figures = Figures.read(window, np.where(pond > 1e-4, pond, 0.0), bore)
    volume = (
        told(figures.volume_m3) if bore is not None else Estimate.unknown("the bore is not known")
    )
    return Sag(
        id=f"hollow-{number}",
        start_m=told(figures.start_m),
        end_m=told(figures.end_m),
        lowest_m=told(figures.lowest_m),
        depth_m=told(figures.depth_m),
        volume_m3=volume,
        water_share=told(np.minimum(figures.depth_m / bore, 1.0)) if bore else None,
        because="depths and levels put the invert below its outlet there",
    )


def _runs(flags: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Return (first, last) indices of each run of true."""
    padded = np.concatenate([[False], flags, [False]]).astype(np.int8)
    edges = np.diff(padded)
    starts, ends = np.flatnonzero(edges == 1), np.flatnonzero(edges == -1)
    return [(int(a), int(b) - 1) for a, b in zip(starts, ends, strict=True)]
