"""How the camera moves: way gone, and stretches of one kind of motion."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Estimate
from saltglaze.model.track import CounterTrack, MotionKind, MotionStretch, ViewState
from saltglaze.sight.glance import Array, Glances
from saltglaze.sight.slide import Slide
from saltglaze.sight.view import alike, averaged, ends_of

HOLDING_D_S: Final = 0.06
"""Slower than this many diameters a second the camera holds: set on rendered films."""

TOO_FAST_M_S: Final = 0.1524
"""A push camera faster than 30 ft a minute is too fast to judge the wall (City of Sunny
Isles Beach, section 02762, confirmed in the field dossier)."""

SPEED_SHARE: Final = 0.1
"""A speed in metres is known to about a tenth of itself: set on rendered films."""

SURELY: Final = 1.645
"""Too fast is told only where the speed is so with 95 % (one-sided normal point)."""

SCALE_SPAN_M: Final = 1.0
"""The counter must move at least this far before it tells how long a diameter is."""


LONGEST_PAIR_S: Final = 0.45
"""Two pictures further apart are no pair: nothing is told of motion between them."""


class Travel(NamedTuple):
    """The way gone at each sample; arrays have n rows.

    ``way_d`` is the sum of the advances in diameters, ``way_rim`` the same in distances of
    the rim; ``known`` whether the step from the sample before was seen on the wall straight
    ahead; ``speed_d_s`` the smoothed rate; ``metres_per_d`` what the counter says a
    diameter of way is, None where it cannot.
    """

    way_d: Array
    way_rim: Array
    known: NDArray[np.bool_]
    speed_d_s: Array
    speed_sd_d_s: float
    metres_per_d: float | None


def travel(
    times_s: Array,
    seen: Glances,
    slid: Slide,
    states: tuple[ViewState, ...],
    counter: CounterTrack,
) -> Travel:
    """Return the way gone.

    A step counts where the picture is clear, or where two pictures are alike enough to
    show the same wall; murk under water looks the same wherever it is. With the head turned
    only the net's word counts: there the wall does not slide evenly.
    """
    gap_s = np.diff(times_s, prepend=times_s[:1] - 10.0)
    turned = np.array([state is ViewState.OFF_AXIS for state in states])
    clear = np.array([state is ViewState.CLEAR for state in states])
    drowned = np.array([state is ViewState.UNDER_WATER for state in states])
    known = (gap_s <= LONGEST_PAIR_S) & (clear | turned | (slid.same_wall & ~drowned))
    step = np.where(known, np.where(turned, seen.advance_d / slid.rim_d, slid.step), 0.0)
    rate = np.divide(step, gap_s, out=np.zeros_like(step), where=gap_s > 0)
    speed = averaged(rate[:, None], 3)[:, 0] * slid.rim_d
    way = np.cumsum(step)
    return Travel(
        way_d=way * slid.rim_d,
        way_rim=way,
        known=known & ~turned,
        speed_d_s=speed,
        speed_sd_d_s=float(np.median(seen.advance_sd_d) / max(float(np.median(gap_s)), 0.05)),
        metres_per_d=_metres_per_d(times_s, way * slid.rim_d, counter),
    )


def _metres_per_d(times_s: Array, way_d: Array, counter: CounterTrack) -> float | None:
    """Return metres of counter for a diameter of way: the median ratio over 4 s windows."""
    read = [(r.time_s, r.distance_m) for r in counter.readings if r.distance_m is not None]
    if len(read) < 10:
        return None
    at, metres = np.array(read, dtype=float).T
    if metres.max() - metres.min() < SCALE_SPAN_M:
        return None
    starts = np.arange(times_s[0], times_s[-1] - 4.0, 2.0)
    gone_m = np.interp(starts + 4.0, at, metres) - np.interp(starts, at, metres)
    gone_d = np.interp(starts + 4.0, times_s, way_d) - np.interp(starts, times_s, way_d)
    moved = (np.abs(gone_d) > 0.5) & (np.abs(gone_m) < 3.0)
    if moved.sum() < 3:
        return None
    ratio = float(np.median(gone_m[moved] / gone_d[moved]))
    return ratio if 0.03 <= ratio <= 2.0 else None


def motion_stretches(
    times_s: Array, way: Travel, states: tuple[ViewState, ...]
) -> tuple[MotionStretch, ...]:
    """Return the motion as stretches of time."""
    kinds = [_kind(float(v), state) for v, state in zip(way.speed_d_s, states, strict=True)]
    ends = ends_of(times_s)
    return tuple(
        _stretch(
            float(times_s[first]),
            float(ends[after - 1]),
            kinds[first],
            float(np.mean(way.speed_d_s[first:after])),
            way,
        )
        for first, after in alike(kinds)
    )


def _kind(speed_d_s: float, state: ViewState) -> MotionKind:
    if state is ViewState.OFF_AXIS:
        return MotionKind.TURNING_HEAD
    if state is not ViewState.CLEAR:
        return MotionKind.UNKNOWN
    if abs(speed_d_s) < HOLDING_D_S:
        return MotionKind.HOLDING
    return MotionKind.ADVANCING if speed_d_s > 0 else MotionKind.BACKING


def _stretch(
    start_s: float, end_s: float, kind: MotionKind, speed_d_s: float, way: Travel
) -> MotionStretch:
    if kind in (MotionKind.UNKNOWN, MotionKind.TURNING_HEAD):
        return MotionStretch(start_s=start_s, end_s=end_s, kind=kind)
    speed_m_s = None
    if way.metres_per_d is not None:
        metres = speed_d_s * way.metres_per_d
        speed_m_s = Estimate.of(metres, max(SPEED_SHARE * abs(metres), 0.005))
    return MotionStretch(
        start_s=start_s,
        end_s=end_s,
        kind=kind,
        speed_diameters_s=Estimate.of(speed_d_s, max(way.speed_sd_d_s, 0.15 * abs(speed_d_s))),
        speed_m_s=speed_m_s,
        too_fast_to_judge=speed_m_s is not None and _surely_fast(abs(speed_m_s.value or 0.0)),
    )


def too_fast(way: Travel) -> NDArray[np.bool_]:
    """Return at each sample whether the camera moves too fast to judge; no where no scale."""
    if way.metres_per_d is None:
        return np.zeros(len(way.speed_d_s), dtype=bool)
    over_2_s = averaged(np.abs(way.speed_d_s)[:, None], 10)[:, 0]
    return np.array([_surely_fast(float(v)) for v in over_2_s * way.metres_per_d])


def _surely_fast(speed_m_s: float) -> bool:
    return speed_m_s * (1.0 - SURELY * SPEED_SHARE) > TOO_FAST_M_S
