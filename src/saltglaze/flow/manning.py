"""Manning's equation in a circular pipe: Q = (1/n) A R^(2/3) S^(1/2), SI units.

In US units the same with k = 3.28084^(1/3) = 1.48592 (documentation of the CRAN
package iemisc, confirmed). Up to 1.0757 Q_full two depths carry one flow near the
crown; the lower is reported, since the upper is not stable. Above that the pipe
runs under pressure and there is no free surface to solve for.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from saltglaze.errors import InputError
from saltglaze.flow.circular import flow_shares, section

DEPTH_SHARE_AT_MOST_FLOW: Final = 0.9381812
"""y/D of the largest free-surface flow (computed; textbooks give 0.938)."""

MOST_FLOW_SHARE: Final = 1.0757085
"""That flow over Q_full (computed; textbooks give 1.076)."""

WATER_N_M3: Final = 9806.65
"""Weight of water, newtons per cubic metre."""


def flow_at_depth(depth_share: float, diameter_m: float, slope: float, n: float) -> float:
    """Return the normal flow in m3/s at a depth share y/D."""
    wet = section(depth_share, diameter_m)
    return float(wet.area_m2 * wet.radius_m ** (2.0 / 3.0) * slope**0.5 / n)


def velocity_at_depth(depth_share: float, diameter_m: float, slope: float, n: float) -> float:
    """Return the mean velocity in m/s at a depth share y/D."""
    wet = section(depth_share, diameter_m)
    return float(wet.radius_m ** (2.0 / 3.0) * slope**0.5 / n)


def full_flow(diameter_m: float, slope: float, n: float) -> float:
    """Return the flow in m3/s of the just full pipe."""
    return flow_at_depth(1.0, diameter_m, slope, n)


def full_velocity(diameter_m: float, slope: float, n: float) -> float:
    """Return the velocity in m/s of the just full pipe."""
    return velocity_at_depth(1.0, diameter_m, slope, n)


def normal_depth_share(flow_m3_s: float, diameter_m: float, slope: float, n: float) -> float:
    """Return the lower y/D at which the pipe carries a flow at normal depth.

    Raises
    ------
    InputError
        where the pipe cannot carry the flow with a free surface.
    """
    if flow_m3_s <= 0.0:
        return 0.0
    capacity = full_flow(diameter_m, slope, n) if slope > 0.0 else 0.0
    if flow_m3_s > MOST_FLOW_SHARE * capacity:
        raise InputError(
            "the pipe cannot carry this flow with a free surface",
            expected=f"at most {MOST_FLOW_SHARE * capacity:.6g} m3/s",
            mend="check the flow, the diameter and the slope",
        )
    return _root(
        lambda y: flow_at_depth(y, diameter_m, slope, n) - flow_m3_s, 0.0, DEPTH_SHARE_AT_MOST_FLOW
    )


def depth_shares_of_flow_shares(shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the lower y/D for many Q / Q_full at once; 1 where the pipe is surcharged."""
    depths = np.linspace(0.0, DEPTH_SHARE_AT_MOST_FLOW, 2001)
    carried = flow_shares(depths)
    return np.where(shares > MOST_FLOW_SHARE, 1.0, np.interp(shares, carried, depths))


def slope_for(flow_m3_s: float, depth_share: float, diameter_m: float, n: float) -> float:
    """Return the slope that carries a flow at a given depth share."""
    return (flow_m3_s / flow_at_depth(depth_share, diameter_m, 1.0, n)) ** 2


def diameter_for(flow_m3_s: float, depth_share: float, slope: float, n: float) -> float:
    """Return the diameter in metres that carries a flow at a given depth share."""
    return float((flow_m3_s / flow_at_depth(depth_share, 1.0, slope, n)) ** 0.375)


def shear_pa(depth_share: float, diameter_m: float, slope: float) -> float:
    """Return the mean boundary shear, weight of water times R times S, in pascals."""
    return WATER_N_M3 * section(depth_share, diameter_m).radius_m * slope


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return the root of a rising function that is bracketed by ``low`` and ``high``."""
    if function(high) <= 0.0:
        return high
    return float(brentq(function, low, high, xtol=1e-12))
