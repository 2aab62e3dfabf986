"""A nozzle and its hose: flow, pressure, thrust, loss. SI units throughout.

Flow through a nozzle Q = K sqrt(P) (fire-flow calculation pages and tip-size tables,
confirmed). Reaction F = rho Q v = Q sqrt(2 rho P); US form 0.0526 Q sqrt(P) (derived).
Hose loss is Darcy-Weisbach for a smooth
bore (Prandtl-Karman) times a factor fitted to one published chart.
"""

from __future__ import annotations

import math
from typing import Final

from saltglaze import units

WATER_KG_M3: Final = 998.2
"""Density of water at 20 degrees C."""

VISCOSITY_M2_S: Final = 1.0e-6
"""Kinematic viscosity of water at 20 degrees C."""

SMALL_HOSE_FACTOR: Final = 1.35
LARGE_HOSE_FACTOR: Final = 1.20
_LARGE_FROM_M: Final = 0.6 * units.M_PER_IN
HOSE_FACTOR_RANGE: Final = (1.10, 1.45)
"""Measured over smooth loss in the published chart (plunger-pump manual, confirmed)."""


def nozzle_constant(flow_m3_s: float, pressure_pa: float) -> float:
    """Return K of a nozzle, for Q = K sqrt(P), from a flow and the pressure behind it."""
    return flow_m3_s / math.sqrt(pressure_pa)


def nozzle_flow(constant: float, pressure_pa: float) -> float:
    """Return the flow in m3/s that a nozzle passes at a pressure behind it."""
    return constant * math.sqrt(pressure_pa)


def flow_from_pump(constant: float, pump_pa: float, bore_m: float, length_m: float) -> float:
    """Return the flow in m3/s that pump, hose and nozzle settle at.

    The pump's pressure is shared out: what the hose does not lose, the nozzle has.
    """
    low, high = 0.0, nozzle_flow(constant, pump_pa)
    for _ in range(60):
        middle = (low + high) / 2.0
        left = pump_pa - hose_loss(middle, bore_m, length_m)
        if left > 0.0 and nozzle_flow(constant, left) > middle:
            low = middle
        else:
            high = middle
    return low


def jet_velocity(pressure_pa: float) -> float:
    """Return the ideal jet velocity sqrt(2 P / rho), m/s."""
    return math.sqrt(2.0 * pressure_pa / WATER_KG_M3)


def reaction(flow_m3_s: float, pressure_pa: float) -> float:
    """Return the reaction of a jet in newtons, all its momentum in one direction."""
    return WATER_KG_M3 * flow_m3_s * jet_velocity(pressure_pa)


def rear_pull(
    flow_m3_s: float, pressure_pa: float, angle_deg: float, forward_share: float
) -> float:
    """Return the pull on the hose in newtons.

    Rear jets leave at ``angle_deg`` from the hose's axis; ``forward_share`` of the flow
    goes ahead and pushes back in full.
    """
    whole = reaction(flow_m3_s, pressure_pa)
    return whole * ((1.0 - forward_share) * math.cos(math.radians(angle_deg)) - forward_share)


def smooth_loss(flow_m3_s: float, bore_m: float, length_m: float) -> float:
    """Return the Darcy-Weisbach loss in pascals of a smooth straight hose."""
    if flow_m3_s <= 0.0:
        return 0.0
    velocity = flow_m3_s / (math.pi * bore_m**2 / 4.0)
    friction = smooth_friction(velocity * bore_m / VISCOSITY_M2_S)
    return friction * length_m / bore_m * WATER_KG_M3 * velocity**2 / 2.0


def smooth_friction(reynolds: float) -> float:
    """Return the Darcy friction factor of a smooth pipe (64/Re below 2300)."""
    if reynolds < 2300.0:
        return 64.0 / reynolds
    root = 0.15
    for _ in range(50):
        root = 1.0 / (2.0 * math.log10(reynolds * root) - 0.8)
    return root**2


def hose_factor(bore_m: float) -> float:
    """Return the factor from smooth to charted loss for a hose of this bore."""
    return SMALL_HOSE_FACTOR if bore_m < _LARGE_FROM_M else LARGE_HOSE_FACTOR


def hose_loss(flow_m3_s: float, bore_m: float, length_m: float) -> float:
    """Return the loss in pascals to expect in a jetting hose laid straight."""
    return hose_factor(bore_m) * smooth_loss(flow_m3_s, bore_m, length_m)
