"""Water: its depth as a share of the diameter, and whether it flows or stands."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.special import softmax

from saltglaze.model.base import Estimate
from saltglaze.model.track import WaterSample, WaterState
from saltglaze.sight.view import averaged
from saltglaze.sight.waterline import DEPTHS

Array = NDArray[np.float64]

SMOOTH: Final = 11
"""Looks in succession that are weighed together."""

TRUST: Final = 1.5
"""As many of them count as if they erred each on its own: neighbours err alike. Set, as the
next, on rendered films that the figures do not rest on."""

KNOWN_SD: Final = 0.03
"""A depth less sure than this share of the diameter is not called known."""

LEAST_SD: Final = 0.012
WET: Final = 0.03
SURE: Final = 0.75
"""Flow and standing are told apart from this probability on."""

WHY: Final = "the picture does not show where the water's edge lies"


def settle_water(
    times_s: Array, looks: Array, standing: Array, usable: NDArray[np.bool_]
) -> tuple[WaterSample, ...]:
    """Return the depth share and state at each sample.

    ``looks`` is (n, len(DEPTHS)), the logarithm of each depth's chance as one look has it;
    ``standing`` (n,) the chance that the water stands.
    """
    weight = np.where(usable, 1.0, 1e-9)[:, None]
    sums = averaged(np.hstack([looks, standing[:, None], np.ones_like(weight)]) * weight, SMOOTH)
    means = sums[:, :-1] / sums[:, -1:]
    share, sd = _mean_and_sd(TRUST * means[:, :-1])
    samples = []
    for k, time_s in enumerate(times_s):
        known = bool(usable[k]) and sd[k] <= KNOWN_SD
        depth = Estimate.of(float(share[k]), float(sd[k])) if known else Estimate.unknown(WHY)
        state = _state(float(share[k]), float(means[k, -1])) if known else WaterState.UNKNOWN
        samples.append(WaterSample(time_s=float(time_s), depth_share=depth, state=state))
    return tuple(samples)


def _mean_and_sd(log_chance: Array) -> tuple[Array, Array]:
    chance = softmax(log_chance, axis=1)
    mean = chance @ DEPTHS
    variance = chance @ DEPTHS**2 - mean**2
    return mean, np.sqrt(np.maximum(variance, LEAST_SD**2))


def _state(share: float, standing: float) -> WaterState:
    if share < WET:
        return WaterState.UNKNOWN
    if standing > SURE:
        return WaterState.STANDING
    return WaterState.FLOWING if standing < 1.0 - SURE else WaterState.UNKNOWN
