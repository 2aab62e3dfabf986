"""What a plumbing code asks for: least slope, fixture units, most units per bore.

Tables with their sources lie in ``tables.toml``; editions and local amendments
differ, so the local code decides.
"""

from __future__ import annotations

import bisect
from typing import Any

from saltglaze import units
from saltglaze.condition.tables import read_table
from saltglaze.model.line import Material

_SLOPE_TOLERANCE = 0.05
"""A 2.00 % reading passes for 1/4 in per ft (2.083 %): code prose rounds it so."""


def tables() -> dict[str, Any]:
    """Return the drainage tables."""
    return read_table("saltglaze.flow", "tables.toml")


def code_family(place_code: str) -> str | None:
    """Return ipc, upc or en for the code in force as the job names it, else ``None``."""
    text = place_code.casefold()
    if any(word in text for word in ("upc", "uniform plumbing", "california plumbing", "cpc")):
        return "upc"
    if any(word in text for word in ("ipc", "irc", "international plumbing", "international res")):
        return "ipc"
    if "12056" in text:
        return "en"
    return None


def roughness(material: Material | None) -> tuple[float, str]:
    """Return Manning's n and what it rests on."""
    table = tables()["roughness"]
    if material is None or material.value not in table["n"]:
        return float(table["assumed"]), "material not known, n 0.013 assumed"
    return float(table["n"][material.value]), f"n for {material.value.replace('_', ' ')}"


def least_slope(family: str, diameter_m: float) -> tuple[float, str] | None:
    """Return the least slope a code asks for at a bore, and the table it comes from."""
    table = tables()["slope"].get(family)
    if table is None:
        return None
    row = bisect.bisect_left(table["bore_in"], round(units.inches(diameter_m), 2) - 0.3)
    return float(table["slope_in_per_ft"][row]) / 12.0, str(table["source"])


def meets_slope(slope: float, required: float) -> bool:
    """Tell whether a slope passes, with the tolerance of rounded code prose."""
    return slope >= required * (1.0 - _SLOPE_TOLERANCE)


def most_units(family: str, diameter_m: float, slope: float) -> tuple[int, str] | None:
    """Return how many fixture units a code lets onto a drain, and the table.

    ``None`` where the code's table is not known to us, or the bore or slope lies
    outside it.
    """
    table = tables()["capacity"].get(family)
    if table is None:
        return None
    row = _nominal(table["units"], units.inches(diameter_m))
    slopes = [value / 12.0 for value in table["slope_in_per_ft"]]
    steepest = [i for i, least in enumerate(slopes) if meets_slope(slope, least)]
    if row is None or not steepest:
        return None
    allowed = int(table["units"][row][steepest[-1]])
    return (allowed, str(table["source"])) if allowed else None


def _nominal(rows: dict[str, Any], bore_in: float) -> str | None:
    """Return the row whose nominal bore is nearest, within an eighth of it."""
    best = min(rows, key=lambda name: abs(float(name) - bore_in))
    return best if abs(float(best) - bore_in) <= float(best) / 8.0 else None
