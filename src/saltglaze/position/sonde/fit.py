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
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares
from scipy.stats import chi2 as chi2_law

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.ground import PlanCovariance, PlanPoint, SignalReading
from saltglaze.position.sonde.field import dipole_field

Array = NDArray[np.float64]

COILS: Final = ("along", "across", "vertical", "total")
PITCH_PRIOR_SD_DEG: Final = 6.0
FLOOR_SHARE: Final = 0.003
"""Noise floor as a share of the strongest reading: common practice, no source."""
LEAST_READINGS: Final = 6
DISTURBED_P: Final = 0.01
STARTS: Final = 12
DRAWS: Final = 1500
DRAW_SEED: Final = 20240607
DRAW_FREEDOM: Final = 4.0
DRAW_WIDTH: Final = 1.3
LEAST_EFFECTIVE: Final = 40.0
"""Fewer effective draws than this tell less than the curvature does."""
BATCH: Final = 4
"""So many starts are tried first; the rest only where those end in a poor fit."""
COARSE_TO_FINE: Final = ((0.1, 3), (0.02, 3), (0.0, 3))
"""Share of the strongest reading added to every error while the fit draws in, and how
many ends go on from there."""
UNKNOWN_SCALE: Final = (0.3, 0.3, 0.3, 5.0, 20.0, 0.5)
START_DEPTHS_M: Final = (0.4, 0.7, 1.1, 1.6, 2.3, 3.3)
START_PITCHES_DEG: Final = (-5.0, 0.0, 5.0)


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

    def residual(unknown: Array, sd: Array) -> Array:
        misfit = (_model(unknown, places, coil) - signal) / sd
        return np.concatenate([misfit, _priors(unknown[None], bearing)[0]])

    def costs(unknowns: Array) -> Array:
        shapes = _shapes(unknowns, places, coil) * np.exp(unknowns[:, 5:6])
        misfit = (((shapes - signal) / sd) ** 2).sum(axis=1)
        return np.asarray(misfit + (_priors(unknowns, bearing) ** 2).sum(axis=1))

    def chi2_of(unknown: Array) -> float:
        return float((((_model(unknown, places, coil) - signal) / sd) ** 2).sum())

    starts, dof = _starts(places, coil, signal, sd, bearing), max(len(signal) - 6, 1)
    modes: list[_Mode] = []
    for batch in (starts[:BATCH], starts[BATCH:]):
        modes += _drawn_in(residual, batch, sd, float(signal.max()))
        modes.sort(key=lambda mode: mode.cost)
        if modes and chi2_law.sf(chi2_of(modes[0].unknown), dof) >= DISTURBED_P:
            break
    chi2 = chi2_of(modes[0].unknown)
    return _finished([_weighed(mode, costs) for mode in modes], chi2, dof, bearing)


def _weighed(mode: _Mode, costs: Callable[[Array], Array]) -> _Mode:
    """Return a mode with mean and covariance by importance sampling around it.

    Folded signals bend the misfit, so its curvature at the bottom understates the tails;
    draws from a wide t law, weighed by the true misfit, do not.
    """
    rng = np.random.default_rng(DRAW_SEED)
    values, vectors = np.linalg.eigh(mode.covariance)
    spread = vectors * np.sqrt(np.maximum(values, 0.0)) * DRAW_WIDTH
    normal = rng.standard_normal((DRAWS, 6))
    wide = np.sqrt(DRAW_FREEDOM / rng.chisquare(DRAW_FREEDOM, DRAWS))
    unit = normal * wide[:, None]
    draws = mode.unknown + unit @ spread.T
    density = -0.5 * (DRAW_FREEDOM + 6.0) * np.log1p((unit**2).sum(axis=1) / DRAW_FREEDOM)
    log_weight = -0.5 * (costs(draws) - mode.cost) - density
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    if 1.0 / float((weight**2).sum()) < LEAST_EFFECTIVE:
        return mode
    mean = weight @ draws
    off = draws - mean
    covariance = (weight[:, None] * off).T @ off
    return replace(mode, unknown=mean, covariance=covariance * _tail(off, weight, covariance))


def _tail(off: Array, weight: Array, covariance: Array) -> float:
    """Return how much wider a normal plan ellipse must be to hold 95 % of weighed draws."""
    plan = off[:, :2]
    square = np.einsum("ij,ij->i", plan @ np.linalg.pinv(covariance[:2, :2]), plan)
    order = np.argsort(square)
    held = np.cumsum(weight[order])
    radius = float(square[order][min(int(np.searchsorted(held, 0.95)), len(order) - 1)])
    return max(radius / float(chi2_law.ppf(0.95, 2)), 1.0)


def _priors(unknowns: Array, bearing: Estimate | None) -> Array:
    """Return the pitch, and the bearing where it is known, over their prior sds."""
    prior = [unknowns[:, 3] / PITCH_PRIOR_SD_DEG]
    if bearing is not None and bearing.value is not None:
        turned = (unknowns[:, 4] - bearing.value + 90.0) % 180.0 - 90.0
        prior.append(turned / max(bearing.spread, 1.0))
    return np.stack(prior, axis=1)


@dataclass(frozen=True)
class _Mode:
    """One place where the misfit is least nearby; ``cost`` is its chi-square with priors."""

    unknown: Array
    covariance: Array
    cost: float


def _drawn_in(
    residual: Callable[[Array, Array], Array], starts: Sequence[Array], sd: Array, top: float
) -> list[_Mode]:
    """Return what the starts lead to.

    Signals fold at the nulls, which traps a fit that trusts weak readings too early: first
    the strong ones draw it in, then all are weighed as they deserve.
    """
    ends = list(starts)
    for share, kept in COARSE_TO_FINE:
        fits = [
            least_squares(
                residual,
                end,
                x_scale=UNKNOWN_SCALE,
                max_nfev=60,
                args=(np.hypot(sd, share * top),),
                xtol=1e-6,
            )
            for end in ends
        ]
        fits.sort(key=lambda fit: float(fit.cost))
        ends = [fit.x for fit in fits[:kept]]
    return [_Mode(fit.x, _inverse(np.asarray(fit.jac)), 2.0 * float(fit.cost)) for fit in fits]


def _inverse(jacobian: Array) -> Array:
    normal = jacobian.T @ jacobian
    return np.asarray(np.linalg.pinv(normal, rcond=1e-12, hermitian=True), dtype=np.float64)


def _finished(modes: Sequence[_Mode], chi2: float, dof: int, bearing: Estimate | None) -> DipoleFit:
    """Return the best mode, its margins opened to hold the others as far as they are likely."""
    p_value = float(chi2_law.sf(chi2, dof))
    disturbed = p_value < DISTURBED_P
    worse = max(chi2 / dof, 1.0) if disturbed else 1.0
    best = _nose_ahead(modes[0].unknown, bearing)
    weights = [math.exp(-0.5 * (mode.cost - modes[0].cost) / worse) for mode in modes]
    covariance = np.zeros((6, 6))
    for mode, weight in zip(modes, weights, strict=True):
        off = _nose_ahead(mode.unknown, bearing) - best
        off[4] = (off[4] + 180.0) % 360.0 - 180.0
        covariance += weight / sum(weights) * (worse * mode.covariance + np.outer(off, off))
    sd = np.sqrt(np.maximum(np.diag(covariance), 0.0))
    return DipoleFit(
        point=PlanPoint(east_m=float(best[0]), north_m=float(best[1])),
        covariance=PlanCovariance(
            east_east_m2=float(covariance[0, 0]),
            north_north_m2=float(covariance[1, 1]),
            east_north_m2=float(covariance[0, 1]),
        ),
        depth_m=Estimate.of(best[2], sd[2]),
        pitch_deg=Estimate.of(best[3], sd[3]),
        azimuth_deg=Estimate.of(best[4] % 360.0, sd[4]),
        full_covariance=covariance,
        misfit_ratio=math.sqrt(chi2 / dof),
        p_value=p_value,
        disturbed=disturbed,
        degrees_of_freedom=dof,
    )


def _nose_ahead(unknown: Array, bearing: Estimate | None) -> Array:
    """Return the unknowns with depth positive and the nose within 90 degrees of the bearing.

    A coil turned end for end, its pitch reversed, gives the same signals.
    """
    ahead = bearing.value if bearing is not None and bearing.value is not None else 90.0
    turned = round((ahead - float(unknown[4])) / 180.0)
    found = unknown.copy()
    found[2] = abs(found[2])
    found[3] = unknown[3] if turned % 2 == 0 else -unknown[3]
    found[4] = unknown[4] + 180.0 * turned
    return found


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
    """Return the signals that a transmitter would give, (readings,)."""
    return np.asarray(_shapes(unknown[None], places, coil)[0] * math.exp(unknown[5]))


def _shapes(unknowns: Array, places: Array, coil: NDArray[np.int_]) -> Array:
    """Return the signals of many transmitters of unit strength, (transmitters, readings)."""
    pitch, bearing = np.radians(unknowns[:, 3]), np.radians(unknowns[:, 4])
    sine, cosine, level = np.sin(bearing), np.cos(bearing), np.cos(pitch)
    moment = np.stack([level * sine, level * cosine, -np.sin(pitch)], axis=1)[:, None, :]
    where = np.stack([unknowns[:, 0], unknowns[:, 1], -np.abs(unknowns[:, 2])], axis=1)
    field = dipole_field(places[None] - where[:, None, :], moment)
    along = field[..., 0] * sine[:, None] + field[..., 1] * cosine[:, None]
    across = field[..., 0] * cosine[:, None] - field[..., 1] * sine[:, None]
    each = np.stack([along, across, field[..., 2], np.linalg.norm(field, axis=-1)], axis=-1)
    return np.asarray(np.abs(each[:, np.arange(len(coil)), coil]))


def _starts(
    places: Array, coil: NDArray[np.int_], signal: Array, sd: Array, bearing: Estimate | None
) -> list[Array]:
    """Return the most hopeful starts of a coarse grid over place, depth and bearing."""
    strong = np.argsort(np.where(coil == COILS.index("vertical"), 0.0, signal))[-3:]
    middle = places[strong, :2].mean(axis=0)
    reach = float(np.hypot(*np.ptp(places[:, :2], axis=0)))
    offsets = np.array([-0.25, -0.12, 0.0, 0.12, 0.25]) * reach
    given = bearing is not None and bearing.value is not None
    bearings = np.array([bearing.value]) if given and bearing else np.arange(0.0, 180.0, 20.0)
    grid = np.meshgrid(
        middle[0] + offsets, middle[1] + offsets, START_DEPTHS_M, START_PITCHES_DEG, bearings, [0.0]
    )
    unknowns = np.column_stack([axis.ravel() for axis in grid])
    shape = _shapes(unknowns, places, coil) / sd
    gain = (shape @ (signal / sd)) / (shape**2).sum(axis=1)
    unknowns[:, 5] = np.log(np.maximum(gain, 1e-300))
    cost = ((gain[:, None] * shape - signal / sd) ** 2).sum(axis=1)
    return _well_apart(unknowns[np.argsort(cost)[:200]])


def _well_apart(unknowns: Array) -> list[Array]:
    """Return the first few starts, no two alike in place, bearing and depth."""
    kept: list[Array] = []
    for unknown in unknowns:
        alike = any(
            abs((unknown[4] - other[4] + 90.0) % 180.0 - 90.0) < 35.0
            and unknown[3] == other[3]
            and abs(math.log(unknown[2] / other[2])) < 0.6
            and math.hypot(*(unknown[:2] - other[:2])) < 0.5 * other[2]
            for other in kept
        )
        if not alike:
            kept.append(unknown)
        if len(kept) == STARTS:
            break
    return kept
