"""Peaks and nulls of a level or pitched transmitter, and what depth they tell.

All offsets are along the pipe, ahead (nose side) of the point above the transmitter's
centre, for depth ``d``, pitch nose down ``phi`` and ``t = tan phi``. The laws are worked
out from the dipole field (computed; the third-of-tilt law for the tilted beacon agrees
with published cave radiolocation practice):

- nulls of the coil along the pipe at ``d (3 t +- sqrt(9 t^2 + 8)) / 4``;
- depth from their separation ``2 sep / sqrt(9 t^2 + 8)``, 0.70711 sep when level;
- product of the arms from overhead ``d^2 / 2`` at any pitch;
- the total field peaks *behind* a transmitter with its nose down, by about
  ``(phi / 4)^(1/3) d``: 0.16 d at 2 % fall;
- two heights a spacing ``s`` apart: ``d = s / (R^(1/3) - 1)``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.ground import MarkedFeature
from saltglaze.position.sonde.field import along_line

SEEN_SHARE: Final = 0.02
"""Change of signal, as a share of the peak, that the person with the wand can tell:
common practice, no source. Along-pipe margins of all features follow from it."""

POINTING_SD_M: Final = 0.03
"""Setting the wand's point on the ground: common practice, no source."""

PITCH_READING_SD_DEG: Final = 1.0
"""Of a pitch shown by the receiver: common practice, no source."""

_LEVEL: Final = Estimate.of(0.0, 3.0)
"""A pitch that nobody read: level, with 3 degrees of doubt."""

STEEPEST_DEG: Final = 60.0

Array = NDArray[np.float64]

NULL_STEEPNESS: Final = 1.026
"""Change of the coil signal per depth of travel at a null, shares of the peak (computed)."""

_LIKELY_MARKED: Final = (
    MarkedFeature.PEAK_TOTAL,
    MarkedFeature.PEAK_HORIZONTAL,
    MarkedFeature.BETWEEN_NULLS,
)


@dataclass(frozen=True)
class NullReading:
    """What two nulls tell: depth, pitch, and how far the mark lies ahead of overhead."""

    depth_m: Estimate
    pitch_deg: Estimate
    offset_m: float


def null_offsets(depth_m: float, pitch_deg: float) -> tuple[float, float]:
    """Return the (rear, front) nulls of the coil held along the pipe, metres ahead."""
    t = math.tan(math.radians(pitch_deg))
    root = math.sqrt(9.0 * t * t + 8.0)
    return depth_m * (3.0 * t - root) / 4.0, depth_m * (3.0 * t + root) / 4.0


def vertical_null_offset(depth_m: float, pitch_deg: float) -> float:
    """Return where the upright coil falls silent, metres ahead: exact, about 2/3 d t."""
    t = math.tan(math.radians(pitch_deg))
    return depth_m * 4.0 * t / (3.0 + math.sqrt(9.0 + 8.0 * t * t))


def ghost_peak_offsets(depth_m: float, pitch_deg: float = 0.0) -> tuple[float, float]:
    """Return the (rear, front) lesser peaks beyond the nulls of the coil along the pipe."""
    rear, front = null_offsets(1.0, pitch_deg)
    return (
        depth_m * _peak(rear - 4.0, rear, pitch_deg, total=False),
        depth_m * _peak(front, front + 4.0, pitch_deg, total=False),
    )


def peak_offset(depth_m: float, pitch_deg: float, *, total: bool) -> float:
    """Return the main peak of the total field, or of the coil along the pipe, metres ahead."""
    rear, front = null_offsets(1.0, pitch_deg)
    return depth_m * _peak(0.95 * rear, 0.95 * front, pitch_deg, total=total)


def _signal(x: Array, pitch_deg: float, *, total: bool) -> Array:
    field = along_line(x, 1.0, pitch_deg)
    return np.asarray(np.linalg.norm(field, axis=1) if total else np.abs(field[:, 0]))


def _peak(low: float, high: float, pitch_deg: float, *, total: bool) -> float:
    """Return the place of the greatest signal in (low, high) at unit depth."""
    for _ in range(4):
        x = np.linspace(low, high, 201)
        best = int(np.argmax(_signal(x, pitch_deg, total=total)))
        low, high = x[max(best - 1, 0)], x[min(best + 1, 200)]
    return float(0.5 * (low + high))


def feature_offset(marked: MarkedFeature, depth_m: float, pitch_deg: float) -> float:
    """Return how far ahead of the transmitter a marked feature lies, metres.

    A fitted point is the transmitter itself; a feature not stated counts as the middle
    of those that people mark.
    """
    rear, front = null_offsets(depth_m, pitch_deg)
    match marked:
        case MarkedFeature.PEAK_TOTAL | MarkedFeature.PEAK_HORIZONTAL:
            offset = peak_offset(depth_m, pitch_deg, total=marked is MarkedFeature.PEAK_TOTAL)
        case MarkedFeature.BETWEEN_NULLS:
            offset = 0.5 * (rear + front)
        case MarkedFeature.FRONT_NULL:
            offset = front
        case MarkedFeature.REAR_NULL:
            offset = rear
        case MarkedFeature.FIT:
            offset = 0.0
        case MarkedFeature.NOT_STATED:
            each = [feature_offset(feature, depth_m, pitch_deg) for feature in _LIKELY_MARKED]
            offset = sum(each) / len(each)
    return offset


def feature_sd_m(marked: MarkedFeature, depth_m: float, pitch_deg: float) -> float:
    """Return the sd along the pipe with which a feature can be marked, metres.

    Half the stretch over which the signal stays within what a person can tell
    (:data:`SEEN_SHARE` of the peak), taken as uniform, joined with the pointing. The
    total field is so flat that its sd is about 0.17 of the depth.
    """
    if marked is MarkedFeature.FIT:
        return 0.0
    return math.hypot(depth_m * _shape(marked, round(pitch_deg, 3))[1], POINTING_SD_M)


@lru_cache(maxsize=4096)
def _shape(marked: MarkedFeature, pitch_deg: float) -> tuple[float, float]:
    """Return (offset ahead, sd of marking it without the pointing) at unit depth."""
    offset = feature_offset(marked, 1.0, pitch_deg)
    match marked:
        case MarkedFeature.FIT:
            return offset, 0.0
        case MarkedFeature.NOT_STATED:
            shapes = np.array([_shape(feature, pitch_deg) for feature in _LIKELY_MARKED])
            return offset, math.sqrt(float(np.var(shapes[:, 0]) + np.mean(shapes[:, 1] ** 2)))
        case MarkedFeature.PEAK_TOTAL | MarkedFeature.PEAK_HORIZONTAL:
            half = _flat_half_width(pitch_deg, total=marked is MarkedFeature.PEAK_TOTAL)
        case MarkedFeature.FRONT_NULL | MarkedFeature.REAR_NULL:
            half = SEEN_SHARE / NULL_STEEPNESS
        case MarkedFeature.BETWEEN_NULLS:
            half = SEEN_SHARE / NULL_STEEPNESS / math.sqrt(2.0)
    return offset, half / math.sqrt(3.0)


def _flat_half_width(pitch_deg: float, *, total: bool) -> float:
    rear, front = null_offsets(1.0, pitch_deg)
    x = np.linspace(rear, front, 1001)
    signal = _signal(x, pitch_deg, total=total)
    flat = x[signal >= (1.0 - SEEN_SHARE) * signal.max()]
    return float(0.5 * (flat[-1] - flat[0]))


def marked_ahead(marked: MarkedFeature, depth: Estimate, pitch: Estimate) -> Estimate:
    """Return how far the marked point lies ahead of the transmitter, with its sd, metres.

    Every offset is a shape times the depth, so the margins of depth enter by their
    moments and those of pitch by Gauss-Hermite points.

    Raises
    ------
    ValueError
        If depth or pitch is unknown; use a wide estimate instead.
    """
    if depth.value is None or pitch.value is None:
        raise ValueError("marked_ahead needs a depth and a pitch, however wide")
    if marked is MarkedFeature.FIT:
        return Estimate.of(0.0, 0.0)
    pitches = np.clip(pitch.value + pitch.spread * _NODES, -STEEPEST_DEG, STEEPEST_DEG)
    shapes = np.array([_shape(marked, round(float(p), 3)) for p in pitches])
    share = _WEIGHTS / _WEIGHTS.sum()
    mean_shape = float(share @ shapes[:, 0])
    square = depth.value**2 + depth.spread**2
    offset = depth.value * mean_shape
    variance = square * float(share @ (shapes**2).sum(axis=1)) - offset**2
    return Estimate.of(offset, math.sqrt(max(variance, 0.0) + POINTING_SD_M**2))


_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(7)


def depth_from_separation(separation_m: float, pitch_deg: float = 0.0) -> float:
    """Return the depth from the distance between front and rear null, metres."""
    t = math.tan(math.radians(pitch_deg))
    return 2.0 * separation_m / math.sqrt(9.0 * t * t + 8.0)


def depth_from_two_heights(ratio: float, spacing_m: float) -> float:
    """Return the depth below the lower reading from signals at two heights, metres.

    ``ratio`` is the lower reading's signal over the upper's.

    Raises
    ------
    InputError
        If the signal does not fall with height.
    """
    if not math.inf > ratio > 1.0 or not spacing_m > 0.0:
        raise InputError(
            f"signal ratio {ratio:g} over {spacing_m:g} m of height tells no depth",
            where="two-height reading",
            expected="a signal that falls as the receiver is raised",
        )
    return float(spacing_m / (ratio ** (1.0 / 3.0) - 1.0))


def two_height_depth(low: float, high: float, spacing_m: float, sd_share: float) -> Estimate:
    """Return depth with sd from two signals, each with relative error ``sd_share``.

    Sensitivity ``dd/d = -(d + s) / 3s * dR/R`` (computed): 1 % in the ratio is 1.6 % of
    depth at 1.5 m with 0.4 m of spacing.
    """
    depth = depth_from_two_heights(low / high if high > 0.0 else math.inf, spacing_m)
    ratio_share = sd_share * math.sqrt(2.0)
    return Estimate.of(depth, depth * (depth + spacing_m) / (3.0 * spacing_m) * ratio_share)


def ghost_depth(front_m: float, rear_m: float, pitch: Estimate | None = None) -> Estimate:
    """Return the depth from the distances of a marked point to the lesser peaks, metres.

    The lesser peaks lie 2.449 depths apart when level, more when pitched; they are flat, so
    that the nulls tell more where both were found. Without a pitch the transmitter is taken
    as level with 3 degrees of doubt.

    Raises
    ------
    InputError
        If a distance is not above zero.
    """
    separation = _separation(front_m, rear_m, "a lesser peak", "ghost_front_m, ghost_rear_m")
    settled = _LEVEL if pitch is None or pitch.value is None else pitch
    assert settled.value is not None
    depth = _depth_from_ghosts(separation, settled.value)
    steeper = _depth_from_ghosts(separation, abs(settled.value) + settled.spread)
    flat = depth * _ghost_half_width(settled.value) / math.sqrt(3.0)
    marking = math.sqrt(2.0) * math.hypot(flat, POINTING_SD_M)
    return Estimate.of(depth, math.hypot(marking * depth / separation, steeper - depth))


def _separation(front_m: float, rear_m: float, what: str, where: str) -> float:
    """Return how far apart two features lie, from the marked point's distances to them."""
    if not (front_m > 0.0 and rear_m > 0.0):
        raise InputError(
            f"distance to {what} is not above zero",
            where=where,
            expected="metres from the marked point, both above 0",
        )
    return front_m + rear_m


def _depth_from_ghosts(separation_m: float, pitch_deg: float) -> float:
    rear, front = ghost_peak_offsets(1.0, pitch_deg)
    return separation_m / (front - rear)


def _ghost_half_width(pitch_deg: float) -> float:
    """Return half the stretch over which the lesser peak looks flat, in depths."""
    _, front = ghost_peak_offsets(1.0, pitch_deg)
    x = np.linspace(front - 1.0, front + 2.0, 1501)
    signal = _signal(x, pitch_deg, total=False)
    top = float(_signal(np.array([front]), pitch_deg, total=False)[0])
    flat = x[(signal >= (1.0 - SEEN_SHARE) * top) & (x > null_offsets(1.0, pitch_deg)[1])]
    return float(0.5 * (flat[-1] - flat[0]))


def read_nulls(
    front_m: float, rear_m: float, marked: MarkedFeature, pitch: Estimate | None = None
) -> NullReading:
    """Return depth and pitch from the distances of a marked point to the two nulls.

    The place of the marked feature between the nulls tells the pitch, save for the
    midpoint of the nulls, which lies in the middle at any pitch: there the pitch shown
    by the receiver is used, or level with 3 degrees of doubt.

    Raises
    ------
    InputError
        If a distance is not above zero.
    """
    separation = _separation(front_m, rear_m, "a null", "null_front_m, null_rear_m")
    settled = pitch if pitch is not None and pitch.value is not None else None
    if settled is None and marked is MarkedFeature.PEAK_HORIZONTAL:
        settled = _pitch_from_share(front_m, rear_m)
    if settled is None:
        settled = _LEVEL
    assert settled.value is not None
    depth = depth_from_separation(separation, settled.value)
    null_sd = math.sqrt(2.0) * feature_sd_m(MarkedFeature.FRONT_NULL, depth, settled.value)
    steeper = depth_from_separation(separation, abs(settled.value) + settled.spread)
    depth_sd = math.hypot(null_sd / math.sqrt(2.0), steeper - depth)
    return NullReading(
        depth_m=Estimate.of(depth, depth_sd),
        pitch_deg=settled,
        offset_m=null_offsets(depth, settled.value)[1] - front_m,
    )


def _pitch_from_share(front_m: float, rear_m: float) -> Estimate:
    """Return the pitch at which the peak splits the null separation as measured."""
    share = front_m / (front_m + rear_m)

    def excess(pitch_deg: float) -> float:
        rear, front = null_offsets(1.0, pitch_deg)
        peak = peak_offset(1.0, pitch_deg, total=False)
        return (front - peak) / (front - rear) - share

    steep = 45.0
    if excess(-steep) * excess(steep) > 0.0:
        return Estimate.of(0.0, 10.0)
    pitch_deg = float(brentq(excess, -steep, steep, xtol=1e-3))
    slope = (excess(pitch_deg + 1.0) - excess(pitch_deg - 1.0)) / 2.0
    depth_m = depth_from_separation(front_m + rear_m, pitch_deg)
    peak_sd = feature_sd_m(MarkedFeature.PEAK_HORIZONTAL, depth_m, pitch_deg)
    return Estimate.of(pitch_deg, peak_sd / (front_m + rear_m) / abs(slope))
