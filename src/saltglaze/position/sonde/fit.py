"""Least-squares fit of a magnetic dipole to signal readings on the ground.

Six unknowns: east, north, depth, pitch, bearing and strength. Strength enters linearly
and is carried as a logarithm. A drain is rarely steeper than 1 in 5, so pitch has a
weak prior (sd 6 degrees: common practice, no source), which keeps a sparse set of
readings from tipping the coil on end. A misfit beyond chance is interference: another
conductor, a wall with iron in it, a rebar mat; then the margins grow with it and the
fit says so.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import chi2 as chi2_law

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.ground import PlanCovariance, PlanPoint, SignalReading
from saltglaze.position.sonde.field import dipole_field, moment_of

Array = NDArray[np.float64]

COILS: Final = ("along", "across", "vertical", "total")
PITCH_PRIOR_SD_DEG: Final = 6.0
FLOOR_SHARE: Final = 0.003
"""Noise floor as a share of the strongest reading: common practice, no source."""
LEAST_READINGS: Final = 6
DISTURBED_P: Final = 0.01


@dataclass(frozen=True)
class DipoleFit:
    """A transmitter found by fitting.

    Rows of ``full_covariance``: east, north, depth, pitch, bearing, log moment.
    """

    point: PlanPoint
    covariance: PlanCovariance
    depth_m: Estimate
    pitch_deg: Estimate
    azimuth_deg: Estimate
    full_covariance: Array
    misfit_ratio: float
    """Root of chi-square over degrees of freedom: about 1 in a clean field."""
    p_value: float
    disturbed: bool
    degrees_of_freedom: int


def fit_dipole(readings: Sequence[SignalReading], bearing: Estimate | None = None) -> DipoleFit:
    """Return the transmitter that best explains the readings.

    Parameters
    ----------
    readings
        At least six readings; one gain for all. Coils: along (held along the pipe),
        across, vertical, total.
    bearing
        Bearing of the pipe, degrees, where known: needed when only the total is read.

    Raises
    ------
    InputError
        With fewer than six readings, an unknown coil or a signal that is not above zero.
    """
    places, coil, signal, sd = _arrays(readings)

    def residual(unknown: Array) -> Array:
        misfit = (_model(unknown, places, coil) - signal) / sd
        prior = [unknown[3] / PITCH_PRIOR_SD_DEG]
        if bearing is not None and bearing.value is not None:
            turned = (unknown[4] - bearing.value + 90.0) % 180.0 - 90.0
            prior.append(turned / max(bearing.spread, 1.0))
        return np.concatenate([misfit, prior])

    fits = [
        least_squares(residual, start, x_scale=[0.3, 0.3, 0.3, 5.0, 20.0, 0.5], max_nfev=80)
        for start in _starts(places, coil, signal, sd, bearing)
    ]
    best = min(fits, key=lambda fit: float(fit.cost))
    misfit = (_model(best.x, places, coil) - signal) / sd
    return _finished(best.x, np.asarray(best.jac), float(misfit @ misfit), len(signal))


def _finished(unknown: Array, jacobian: Array, chi2: float, count: int) -> DipoleFit:
    # the pitch prior fixes nearly one unknown where readings are few
    dof = max(count - 6, 1)
    p_value = float(chi2_law.sf(chi2, dof))
    disturbed = p_value < DISTURBED_P
    normal = jacobian.T @ jacobian
    covariance: Array = np.linalg.pinv(normal, rcond=1e-12, hermitian=True).astype(np.float64)
    if disturbed:
        covariance = covariance * (chi2 / dof)
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return DipoleFit(
        point=PlanPoint(east_m=float(unknown[0]), north_m=float(unknown[1])),
        covariance=PlanCovariance(
            east_east_m2=float(covariance[0, 0]),
            north_north_m2=float(covariance[1, 1]),
            east_north_m2=float(covariance[0, 1]),
        ),
        depth_m=Estimate.of(abs(unknown[2]), sd[2]),
        pitch_deg=Estimate.of(unknown[3], sd[3]),
        azimuth_deg=Estimate.of(unknown[4] % 360.0, sd[4]),
        full_covariance=covariance,
        misfit_ratio=math.sqrt(chi2 / dof),
        p_value=p_value,
        disturbed=disturbed,
        degrees_of_freedom=dof,
    )


def _arrays(readings: Sequence[SignalReading]) -> tuple[Array, NDArray[np.int_], Array, Array]:
    if len(readings) < LEAST_READINGS:
        raise InputError(
            f"{len(readings)} signal readings do not fix a transmitter",
            where="readings",
            expected=f"at least {LEAST_READINGS}, along and across the line",
        )
    for number, reading in enumerate(readings, start=1):
        if reading.coil not in COILS:
            raise InputError(
                f"coil {reading.coil!r} is not known",
                where=f"reading {number}",
                expected=", ".join(COILS),
            )
        if not reading.signal >= 0.0 or not reading.sd_share > 0.0:
            raise InputError(
                "signal or its relative error is not above zero", where=f"reading {number}"
            )
    places = np.array([[r.point.east_m, r.point.north_m, r.height_m] for r in readings])
    signal = np.array([r.signal for r in readings])
    if not signal.max() > 0.0:
        raise InputError("all signals are zero", where="readings")
    share = np.array([r.sd_share for r in readings])
    sd = np.hypot(share * signal, FLOOR_SHARE * signal.max())
    return places, np.array([COILS.index(r.coil) for r in readings]), signal, sd


def _model(unknown: Array, places: Array, coil: NDArray[np.int_]) -> Array:
    east, north, depth, pitch, azimuth, log_moment = unknown
    field = dipole_field(places - [east, north, -abs(depth)], moment_of(pitch, azimuth))
    bearing = math.radians(azimuth)
    along = field[:, 0] * math.sin(bearing) + field[:, 1] * math.cos(bearing)
    across = field[:, 0] * math.cos(bearing) - field[:, 1] * math.sin(bearing)
    each = np.column_stack([along, across, field[:, 2], np.linalg.norm(field, axis=1)])
    return np.asarray(np.abs(each[np.arange(len(coil)), coil]) * math.exp(log_moment))


def _starts(
    places: Array, coil: NDArray[np.int_], signal: Array, sd: Array, bearing: Estimate | None
) -> list[Array]:
    """Return the four most hopeful starts of a coarse grid over place, depth and bearing."""
    peak = places[np.argmax(np.where(coil == 2, 0.0, signal)), :2]
    given = bearing is not None and bearing.value is not None
    bearings = [bearing.value] if given and bearing else list(np.arange(0.0, 180.0, 22.5))
    tries = []
    for depth in (0.5, 0.9, 1.5, 2.4, 3.8):
        for azimuth in bearings:
            unknown = np.array([peak[0], peak[1], depth, 0.0, float(azimuth or 0.0), 0.0])
            shape = _model(unknown, places, coil) / sd
            gain = float(shape @ (signal / sd)) / float(shape @ shape)
            cost = float(((gain * shape - signal / sd) ** 2).sum())
            unknown[5] = math.log(max(gain, 1e-300))
            tries.append((cost, unknown))
    tries.sort(key=lambda pair: pair[0])
    return [unknown for _, unknown in tries[:4]]
