"""Which way is up: single glances and the turning between them, settled over time.

A hidden Markov model on the circle: states are 2 degree bins, the picture's rotation
between samples moves the belief along (with its spread), each glance's von Mises
direction weighs it, and forward and backward passes meet (Rabiner 1989, from memory).
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Estimate
from saltglaze.model.track import RollSample
from saltglaze.sight.glance import Array, Glances

BINS: Final = 180
TRUST: Final = 0.5
"""Share of a glance's concentration that counts: errors of neighbouring glances are alike.
Set on rendered films that the figures do not rest on, as the next five are."""

SURE: Final = 150.0
"""A glance less concentrated than this counts less, by the cube of what it lacks: on dark,
rough walls the net is wrong more often than its concentration says."""

TURN_GAIN: Final = 1.25
TURN_SHARE: Final = 0.4
"""The net tells turns short, the more so the quicker they are: they are made longer by this,
and are good to this share of themselves besides the net's own spread."""

BIAS_SD_DEG: Final = 1.3
"""What glances of one film get wrong alike, however many there are."""

EDGE: Final = 0.5
"""Only a glance that sees a level edge with this probability (water's, a settled bed's, a tide
mark's) tells up: without one the net leans on where the camera lies, and cameras lie askew."""

DOUBT: Final = 0.02
"""Chance that a glance says nothing about up."""

DRIFT_DEG_S: Final = 1.0
"""How far the roll may creep unseen in a second, one standard deviation."""

KNOWN_SD_DEG: Final = 4.0
"""A roll less sure than this is not called known."""

LEVEL_SD_DEG: Final = 4.0
TURNED_SD_DEG: Final = 15.0
LEVEL_SHARE: Final = 0.5
"""A levelling camera is told only where at least this share of the film has a known roll."""


def settle_roll(times_s: Array, seen: Glances, usable: NDArray[np.bool_]) -> tuple[RollSample, ...]:
    """Return the roll at each sample, unknown where the belief stays wide.

    A glance that is not ``usable`` gives no direction, and the picture may have turned
    freely since the one before.
    """
    mean = _mean(times_s, seen, usable, usable & (seen.edge > EDGE))
    spread = np.sqrt(-2.0 * np.log(np.clip(np.abs(mean), 1e-9, 1.0 - 1e-9)))
    samples = []
    for time_s, direction, sd in zip(times_s, np.angle(mean), spread, strict=True):
        samples.append(RollSample(time_s=float(time_s), roll_deg=_estimate(direction, sd)))
    return tuple(samples)


def likely_roll(times_s: Array, seen: Glances, usable: NDArray[np.bool_]) -> Array:
    """Return the likeliest roll at each sample, radians, known or not.

    Every glance counts here, dry ones too: good enough to lay the wall down by, not to
    be told.
    """
    return np.asarray(np.angle(_mean(times_s, seen, usable, usable)), dtype=np.float64)


def _mean(
    times_s: Array, seen: Glances, usable: NDArray[np.bool_], tells: NDArray[np.bool_]
) -> NDArray[np.complex128]:
    """Return the belief's mean direction at each sample; its length falls with its spread."""
    belief = _belief(_says(seen, tells), _moves(times_s, seen, usable))
    return np.asarray(belief @ np.exp(1j * _angles()), dtype=np.complex128)


def _estimate(direction_rad: float, sd_rad: float) -> Estimate:
    sd_deg = math.hypot(math.degrees(sd_rad), BIAS_SD_DEG)
    if sd_deg > KNOWN_SD_DEG:
        return Estimate.unknown(
            "no edge of water or of what has settled, and no known turn since one, "
            "tells which way is up"
        )
    return Estimate.of(math.degrees(direction_rad), sd_deg)


def _belief(says: Array, moves: NDArray[np.complex128]) -> Array:
    """Return the belief over bins at each sample, (n, BINS), forward times backward."""
    forward = np.empty_like(says)
    belief = np.full(BINS, 1.0 / BINS)
    for k in range(len(says)):
        if k:
            belief = _shifted(belief, moves[k])
        belief = _normal(belief * says[k])
        forward[k] = belief
    back = np.full(BINS, 1.0 / BINS)
    for k in range(len(says) - 1, -1, -1):
        forward[k] = _normal(forward[k] * back)
        back = _normal(_shifted(back * says[k], np.conj(moves[k])))
    return forward


def _says(seen: Glances, tells: NDArray[np.bool_]) -> Array:
    sure = np.minimum(seen.concentration / SURE, 1.0) ** 3
    kappa = np.where(tells, TRUST * sure * seen.concentration, 0.0)[:, None]
    off = _angles()[None, :] - seen.roll_rad[:, None]
    points = np.exp(kappa * (np.cos(off) - 1.0))
    points /= points.sum(axis=1, keepdims=True)
    return np.asarray((1.0 - DOUBT) * points + DOUBT / BINS, dtype=np.float64)


def _moves(times_s: Array, seen: Glances, usable: NDArray[np.bool_]) -> NDArray[np.complex128]:
    """Return each move as the Fourier transform of a wrapped normal, (n, BINS // 2 + 1)."""
    gap_s = np.diff(times_s, prepend=times_s[:1])
    creep = np.deg2rad(DRIFT_DEG_S) * np.sqrt(np.maximum(gap_s, 0.0))
    free = np.deg2rad(60.0)
    shift = np.where(usable, TURN_GAIN * seen.turn_rad, 0.0)
    unsure = np.hypot(np.hypot(seen.turn_sd_rad, creep), TURN_SHARE * shift)
    sd = np.where(usable, unsure, free)
    orders = np.arange(BINS // 2 + 1)[None, :]
    return np.asarray(
        np.exp(-1j * orders * shift[:, None] - 0.5 * (orders * sd[:, None]) ** 2),
        dtype=np.complex128,
    )


def _shifted(belief: Array, move: NDArray[np.complex128]) -> Array:
    moved = np.fft.irfft(np.fft.rfft(belief) * move, BINS)
    return np.asarray(np.maximum(moved, 1e-12), dtype=np.float64)


def _normal(belief: Array) -> Array:
    return np.asarray(belief / belief.sum())


def _angles() -> Array:
    return np.asarray(np.arange(BINS) * (2.0 * np.pi / BINS), dtype=np.float64)


def levels_itself(roll: tuple[RollSample, ...]) -> bool | None:
    """Return whether the camera keeps itself upright; None where too little is known."""
    known = np.array([r.roll_deg.value for r in roll if r.roll_deg.value is not None])
    if len(known) < 10 or len(known) < LEVEL_SHARE * len(roll):
        return None
    mean = np.exp(1j * np.deg2rad(known)).mean()
    spread_deg = math.degrees(math.sqrt(-2.0 * math.log(min(abs(mean), 1.0 - 1e-12))))
    if spread_deg < LEVEL_SD_DEG and abs(math.degrees(np.angle(mean))) < 2.0 * LEVEL_SD_DEG:
        return True
    return False if spread_deg > TURNED_SD_DEG else None
