"""Water: its depth as a share of the diameter, and whether it flows or stands."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Estimate
from saltglaze.model.track import WaterSample, WaterState
from saltglaze.sight.glance import Array, Glances
from saltglaze.sight.view import averaged

SMOOTH: Final = 11
"""Samples averaged, weighted by their own spread."""

KNOWN_SD: Final = 0.03
"""A depth less sure than this share of the diameter is not called known."""

LEAST_SD: Final = 0.015
ALIKE: Final = 0.6
"""Share of a glance's spread that neighbours do not average away."""

WET: Final = 0.03
SURE: Final = 0.75
"""Flow and standing are told apart from this probability on."""

WHY: Final = "the picture does not show where the water's edge lies"


def settle_water(
    times_s: Array, seen: Glances, usable: NDArray[np.bool_]
) -> tuple[WaterSample, ...]:
    """Return the depth share and state at each sample."""
    weight = np.where(usable, 1.0 / seen.share_sd**2, 1e-9)
    rows = np.stack(
        [seen.share * weight, weight, seen.share_sd * weight, seen.standing * weight], 1
    )
    share_w, weights, sd_w, standing_w = averaged(rows, SMOOTH).T
    share, sd, standing = share_w / weights, sd_w / weights, standing_w / weights
    sd = np.maximum(ALIKE * sd, LEAST_SD)
    samples = []
    for k, time_s in enumerate(times_s):
        known = bool(usable[k]) and sd[k] <= KNOWN_SD
        depth = Estimate.of(float(share[k]), float(sd[k])) if known else Estimate.unknown(WHY)
        state = _state(float(share[k]), float(standing[k])) if known else WaterState.UNKNOWN
        samples.append(WaterSample(time_s=float(time_s), depth_share=depth, state=state))
    return tuple(samples)


def _state(share: float, standing: float) -> WaterState:
    if share < WET:
        return WaterState.UNKNOWN
    if standing > SURE:
        return WaterState.STANDING
    return WaterState.FLOWING if standing < 1.0 - SURE else WaterState.UNKNOWN
