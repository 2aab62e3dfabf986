"""Recurrent events: does trouble come faster, and how often will it come.

Trend: the power-law process, expected count lambda t^beta up to time t, fitted by
maximum likelihood (Crow; MIL-HDBK-189; NIST/SEMATECH e-Handbook 8.2.2.3). beta > 1
means that events come faster as time goes on.

Frequency: hazard lambda beta t^(beta-1) since the last clearing with a stated shape
beta; then lambda has a gamma posterior, shape a + events, rate b + sum of t^beta
over all waits whether or not they ended in a stoppage (gamma-Poisson in t^beta).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from scipy.stats import chi2, gamma


class PowerLaw(NamedTuple):
    """A fitted power-law process: expected events by time t are ``scale * t**shape``."""

    shape: float
    scale: float
    end: float
    events: int
    shape_low95: float
    shape_high95: float

    def intensity(self, time: float) -> float:
        """Return events per unit of time at a time."""
        return float(self.scale * self.shape * time ** (self.shape - 1.0))


def fit_power_law(times: Sequence[float], end: float, *, unbiased: bool = False) -> PowerLaw:
    """Fit event times observed up to ``end``, all times from the same start.

    Stopped at the last event (``end`` equal to the last time) or at a chosen time.
    ``unbiased`` takes the bias-corrected shape: (n-1)/n of the likely one for a chosen
    end, (n-2)/n when stopped at an event. The 95 % interval of the shape is exact,
    from chi-square with 2 n (chosen end) or 2 (n - 1) degrees of freedom.
    """
    events = np.asarray(times, dtype=np.float64)
    n = len(events)
    likely = n / float(np.log(end / events).sum())
    at_event = bool(math.isclose(float(events.max()), end))
    freedom = 2 * (n - 1) if at_event else 2 * n
    low, high = (float(likely * chi2.ppf(q, freedom) / (2 * n)) for q in (0.025, 0.975))
    shape = likely * (n - (2 if at_event else 1)) / n if unbiased else likely
    return PowerLaw(shape, n / end**shape, end, n, low, high)


class Rate(NamedTuple):
    """Gamma belief about lambda, for a hazard lambda * shape * t**(shape - 1)."""

    events: float
    exposure: float
    shape: float

    def after(self, waits: Sequence[float], ended: Sequence[bool]) -> Rate:
        """Return the belief after waits seen; ``ended`` tells which ended in an event."""
        exposure = float(sum(wait**self.shape for wait in waits))
        return Rate(self.events + sum(ended), self.exposure + exposure, self.shape)

    def survival(self, time: float) -> float:
        """Return the chance that nothing happens within a time, lambda not known."""
        return float((self.exposure / (self.exposure + time**self.shape)) ** self.events)

    def time_to_risk(self, risk: float) -> float:
        """Return the time at which the chance of an event reaches ``risk``."""
        ratio = (1.0 - risk) ** (-1.0 / self.events) - 1.0
        return float((self.exposure * ratio) ** (1.0 / self.shape))

    def time_to_risk_interval(self, risk: float) -> tuple[float, float]:
        """Return the 95 % interval of that time, from the belief about lambda."""
        often, seldom = (float(gamma.ppf(q, self.events)) / self.exposure for q in (0.975, 0.025))
        hazard = -math.log(1.0 - risk)
        return (
            float((hazard / often) ** (1.0 / self.shape)),
            float((hazard / seldom) ** (1.0 / self.shape)),
        )
