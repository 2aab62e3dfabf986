"""Feet, inches, psi and gpm at the edge; SI inside.

Exact factors: international foot 0.3048 m and inch 0.0254 m, pound-force
4.4482216152605 N, US gallon 3.785411784 L (NIST Handbook 44, Appendix C; values
from memory, exact by definition).
"""

from __future__ import annotations

from typing import Final

M_PER_FT: Final = 0.3048
M_PER_IN: Final = 0.0254
N_PER_LBF: Final = 4.4482216152605
PA_PER_PSI: Final = N_PER_LBF / M_PER_IN**2
M3_PER_GAL: Final = 3.785411784e-3
M3_S_PER_GPM: Final = M3_PER_GAL / 60.0
PA_PER_BAR: Final = 1.0e5


def ft(length_m: float) -> float:
    """Metres to feet."""
    return length_m / M_PER_FT


def m_from_ft(length_ft: float) -> float:
    """Feet to metres."""
    return length_ft * M_PER_FT


def inches(length_m: float) -> float:
    """Metres to inches."""
    return length_m / M_PER_IN


def m_from_in(length_in: float) -> float:
    """Inches to metres."""
    return length_in * M_PER_IN


def psi(pressure_pa: float) -> float:
    """Pascals to pounds per square inch."""
    return pressure_pa / PA_PER_PSI


def pa_from_psi(pressure_psi: float) -> float:
    """Pounds per square inch to pascals."""
    return pressure_psi * PA_PER_PSI


def gpm(flow_m3_s: float) -> float:
    """Cubic metres a second to US gallons a minute."""
    return flow_m3_s / M3_S_PER_GPM


def m3_s_from_gpm(flow_gpm: float) -> float:
    """US gallons a minute to cubic metres a second."""
    return flow_gpm * M3_S_PER_GPM
