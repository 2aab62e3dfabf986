"""Thickness of a cured-in-place liner by ASTM F1216, appendix X1. SI units.

Read in M. Najafi, Trenchless Technology Piping (McGraw-Hill), sec. 2.7, and
recomputed against its printed examples (tests/references). C stands inside the root
of X1.3, as in F1216-07b and later. X1.2 is the standard's squared form, from memory.
"""

from __future__ import annotations

import math
from typing import Final

from saltglaze import units
from saltglaze.model.base import Record

WATER_N_M3: Final = 62.4 * units.N_PER_LBF / units.M_PER_FT**3
SOIL_N_M3: Final = 120.0 * units.N_PER_LBF / units.M_PER_FT**3
SHORT_MODULUS_PA: Final = units.pa_from_psi(250_000.0)
FLEXURAL_STRENGTH_PA: Final = units.pa_from_psi(4_500.0)
LONG_SHARE: Final = 0.5
"""Long-term over short-term modulus."""
SOIL_MODULUS_PA: Final = units.pa_from_psi(700.0)
ENHANCEMENT: Final = 7.0
SAFETY: Final = 2.0
POISSON: Final = 0.3
LEAST_STIFFNESS_PA: Final = units.pa_from_psi(0.093)
ACCEPTED_DEFLECTION: Final = 0.05
"""Deflection accepted in Najafi's example (read)."""
USUAL_SUPPLY_M: Final = 0.003
"""Least thickness commonly supplied for 4 to 6 in (from memory)."""

_LIVE_COVER_FT: Final = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0)
_LIVE_PSF: Final = (1800.0, 800.0, 600.0, 400.0, 250.0, 200.0, 176.0, 100.0)


class LinerDesign(Record):
    """A liner's design thickness and the equation that governs it. ``None``: not asked."""

    thickness_m: float
    governs: str
    deteriorated: bool
    buckling_m: float | None = None
    bending_m: float | None = None
    earth_m: float | None = None
    stiffness_m: float | None = None
    deflection: float | None = None
    """Share of the diameter by which it gives under the ground; 5 % is accepted (read)."""


def ovality_factor(ovality: float) -> float:
    """Return C for an ovality (0.02 for 2 %): ((1-q)/(1+q)^2)^3."""
    return ((1.0 - ovality) / (1.0 + ovality) ** 2) ** 3


def buckling_thickness(
    diameter_m: float,
    water_pressure_pa: float,
    ovality: float,
    long_modulus_pa: float = LONG_SHARE * SHORT_MODULUS_PA,
    safety: float = SAFETY,
) -> float:
    """X1.1, partially deteriorated pipe: ground water outside the liner."""
    held = 2.0 * ENHANCEMENT * long_modulus_pa * ovality_factor(ovality)
    ratio = held / (water_pressure_pa * safety * (1.0 - POISSON**2))
    return float(diameter_m / (ratio ** (1.0 / 3.0) + 1.0))


def bending_thickness(
    diameter_m: float,
    water_pressure_pa: float,
    ovality: float,
    long_strength_pa: float = FLEXURAL_STRENGTH_PA,
    safety: float = SAFETY,
) -> float:
    """X1.2, bending of the liner in an oval pipe; 0 in a round one.

    1.5 q (1+q)^2 DR^2 - 0.5 (1+q) DR = S / (P N).
    """
    if ovality <= 0.0:
        return 0.0
    a, b = 1.5 * ovality * (1.0 + ovality) ** 2, 0.5 * (1.0 + ovality)
    c = long_strength_pa / (water_pressure_pa * safety)
    return diameter_m / ((b + math.sqrt(b**2 + 4.0 * a * c)) / (2.0 * a))


def buoyancy_factor(water_over_top_m: float, cover_m: float) -> float:
    """Return Rw = 1 - 0.33 Hw/H, not below 0.67."""
    return max(0.67, 1.0 - 0.33 * water_over_top_m / cover_m)


def elastic_support(cover_m: float) -> float:
    """Return B' = 1 / (1 + 4 e^(-0.065 H)), H in feet."""
    return 1.0 / (1.0 + 4.0 * math.exp(-0.065 * units.ft(cover_m)))


def external_pressure(
    cover_m: float, water_over_top_m: float, live_pa: float = 0.0, soil_n_m3: float = SOIL_N_M3
) -> float:
    """Return qt = water + buoyant soil + live load on the crown, in pascals."""
    soil = soil_n_m3 * cover_m * buoyancy_factor(water_over_top_m, cover_m)
    return WATER_N_M3 * water_over_top_m + soil + live_pa


def live_load_pa(cover_m: float) -> float:
    """Return the H-20 wheel load on a pipe, pascals (AASHTO/AWWA table, from memory)."""
    cover_ft = units.ft(cover_m)
    if cover_ft >= _LIVE_COVER_FT[-1]:
        return _LIVE_PSF[-1] / 144.0 * units.PA_PER_PSI if cover_ft == _LIVE_COVER_FT[-1] else 0.0
    for (near, heavy), (far, light) in zip(
        zip(_LIVE_COVER_FT, _LIVE_PSF, strict=True),
        zip(_LIVE_COVER_FT[1:], _LIVE_PSF[1:], strict=True),
        strict=False,
    ):
        if cover_ft <= far:
            share = max(0.0, (cover_ft - near) / (far - near))
            return (heavy + share * (light - heavy)) / 144.0 * units.PA_PER_PSI
    return 0.0


def earth_thickness(
    diameter_m: float,
    pressure_pa: float,
    ovality: float,
    buoyancy: float,
    support: float,
    soil_modulus_pa: float = SOIL_MODULUS_PA,
    long_modulus_pa: float = LONG_SHARE * SHORT_MODULUS_PA,
    safety: float = SAFETY,
) -> float:
    """X1.3, fully deteriorated pipe: t = D (12/32)^(1/3) [(N qt)^2 / (EL Rw B' C E's)]^(1/3)."""
    held = long_modulus_pa * buoyancy * support * ovality_factor(ovality) * soil_modulus_pa
    ratio = (12.0 / 32.0) * (safety * pressure_pa) ** 2 / held
    return float(diameter_m * ratio ** (1.0 / 3.0))


def stiffness_thickness(diameter_m: float, short_modulus_pa: float = SHORT_MODULUS_PA) -> float:
    """X1.4, least stiffness: E / (12 DR^3) >= 0.093 psi with the short-term modulus."""
    return float(diameter_m / (short_modulus_pa / (12.0 * LEAST_STIFFNESS_PA)) ** (1.0 / 3.0))


def deflection_share(
    dimension_ratio: float,
    load_pa: float,
    live_pa: float,
    lag: float = 1.25,
    soil_modulus_pa: float = SOIL_MODULUS_PA,
    short_modulus_pa: float = SHORT_MODULUS_PA,
) -> float:
    """Return the liner's deflection as a share of its diameter (Spangler's form)."""
    stiffness = short_modulus_pa / (1.5 * (dimension_ratio - 1.0) ** 3) + 0.061 * soil_modulus_pa
    return 0.083 * (lag * load_pa + live_pa) / stiffness


def design(
    diameter_m: float,
    cover_m: float,
    *,
    deteriorated: bool,
    water_over_top_m: float,
    ovality: float = 0.02,
    under_traffic: bool = False,
) -> LinerDesign:
    """Return the design thickness; ``deteriorated`` pipe no longer carries the ground.

    Without ground water X1.1 and X1.2 do not apply and a dimension ratio of 100 is the
    limit (from memory).
    """
    if deteriorated:
        live = live_load_pa(cover_m) if under_traffic else 0.0
        pressure = external_pressure(cover_m, water_over_top_m, live)
        earth = earth_thickness(
            diameter_m,
            pressure,
            ovality,
            buoyancy_factor(water_over_top_m, cover_m),
            elastic_support(cover_m),
        )
        stiff = stiffness_thickness(diameter_m)
        governs = "X1.3 earth and water" if earth >= stiff else "X1.4 least stiffness"
        thickness = max(earth, stiff)
        return LinerDesign(
            thickness_m=thickness,
            governs=governs,
            deteriorated=True,
            earth_m=earth,
            stiffness_m=stiff,
            deflection=deflection_share(diameter_m / thickness, pressure - live, live),
        )
    if water_over_top_m <= 0.0:
        limit = diameter_m / 100.0
        governs = "dimension ratio 100, no ground water"
        return LinerDesign(thickness_m=limit, governs=governs, deteriorated=False)
    head_pa = WATER_N_M3 * (water_over_top_m + diameter_m)
    buckling = buckling_thickness(diameter_m, head_pa, ovality)
    bending = bending_thickness(diameter_m, head_pa, ovality)
    governs = "X1.1 buckling" if buckling >= bending else "X1.2 bending"
    return LinerDesign(
        thickness_m=max(buckling, bending),
        governs=governs,
        deteriorated=False,
        buckling_m=buckling,
        bending_m=bending,
    )
