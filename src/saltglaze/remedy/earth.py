"""Whether the weight of the ground explains a broken clay pipe.

Marston's trench load W = Cd w Bd^2, Cd = (1 - e^(-2 K H/Bd)) / (2 K) with
K = K mu' (A. P. Moser, Buried Pipe Design: form read; closed form from memory, it
matches his chart). Bedded strength = three-edge strength x load factor; class D
bedding (pipe laid on the bare trench bottom) 1.1, C 1.5, B 1.9 (read in Moser).
"""

from __future__ import annotations

import bisect
import math
from typing import Final

from saltglaze import units

FRICTION: Final = {"granular": 0.192, "sand": 0.165, "topsoil": 0.150, "clay": 0.130}
"""K mu' by soil: granular and sand read in Moser, the others from memory."""

LOAD_FACTOR: Final = {"D": 1.1, "C": 1.5, "B": 1.9}

_BORE_IN: Final = (3.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 18.0)
_STRENGTH_LB_FT: Final = (2000.0, 2000.0, 2000.0, 2200.0, 2400.0, 2600.0, 2900.0, 3300.0)
_N_M_PER_LB_FT: Final = units.N_PER_LBF / units.M_PER_FT


def load_coefficient(cover_over_width: float, friction: float) -> float:
    """Return Marston's Cd."""
    return (1.0 - math.exp(-2.0 * friction * cover_over_width)) / (2.0 * friction)


def trench_load(cover_m: float, width_m: float, friction: float, soil_n_m3: float) -> float:
    """Return the load on a rigid pipe in a trench, newtons per metre."""
    return load_coefficient(cover_m / width_m, friction) * soil_n_m3 * width_m**2


def clay_strength(diameter_m: float) -> float | None:
    """Return the three-edge strength of extra strength clay pipe, newtons per metre.

    ASTM C700 as quoted by Moser (read); ``None`` above 18 in.
    """
    row = bisect.bisect_left(_BORE_IN, round(units.inches(diameter_m), 2) - 0.3)
    return _STRENGTH_LB_FT[row] * _N_M_PER_LB_FT if row < len(_BORE_IN) else None


def required_strength(load_n_m: float, bedding: str, safety: float) -> float:
    """Return the three-edge strength needed under a load, newtons per metre."""
    return load_n_m * safety / LOAD_FACTOR[bedding]


def clay_safety(
    diameter_m: float, cover_m: float, width_m: float, friction: float, soil_n_m3: float
) -> float | None:
    """Return the safety of sound clay pipe on poor bedding under the ground's weight."""
    strength = clay_strength(diameter_m)
    if strength is None:
        return None
    load = trench_load(cover_m, width_m, friction, soil_n_m3)
    return strength / required_strength(load, bedding="D", safety=1.0)
