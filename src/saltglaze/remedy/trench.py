"""Trench sizes and the rules of the US safety standard, 29 CFR 1926 subpart P.

Protection is needed from 5 ft (1.524 m) in anything but stable rock, and below that
where a competent person sees a sign of cave-in (1926.652(a)(1), read). Slopes: rock
vertical, A 3/4:1, B 1:1, C 1.5:1; unclassified soil counts as C (1926.652(b)(1), read).
Deeper than 20 ft (6.096 m) an engineer designs it. Local law may ask more.
"""

from __future__ import annotations

from typing import Final

from saltglaze import units
from saltglaze.model.base import Record

PROTECT_FROM_M: Final = 5.0 * units.M_PER_FT
EGRESS_FROM_M: Final = 4.0 * units.M_PER_FT
ENGINEER_FROM_M: Final = 20.0 * units.M_PER_FT
BOTTOM_WIDTH_M: Final = 2.0 * units.M_PER_FT
"""Usual bottom width for a lateral (common practice)."""

SLOPE_BY_SOIL: Final = {"rock": 0.0, "A": 0.75, "B": 1.0, "C": 1.5}
"""Greatest slope of the sides, horizontal over vertical."""


class Trench(Record):
    """A trench per metre of its length, and what must keep it from falling in."""

    depth_m: float
    bottom_width_m: float
    top_width_m: float
    volume_m3_per_m: float
    vertical_m3_per_m: float
    protection: bool
    egress: bool
    engineer: bool


def trench(
    depth_m: float, soil: str | None = None, bottom_width_m: float = BOTTOM_WIDTH_M
) -> Trench:
    """Size a trench whose sides are sloped as the soil class allows.

    ``soil`` is rock, A, B or C; unknown soil counts as C.
    """
    slope = SLOPE_BY_SOIL.get(soil or "C", SLOPE_BY_SOIL["C"])
    top = bottom_width_m + 2.0 * slope * depth_m
    return Trench(
        depth_m=depth_m,
        bottom_width_m=bottom_width_m,
        top_width_m=top,
        volume_m3_per_m=(bottom_width_m + top) / 2.0 * depth_m,
        vertical_m3_per_m=bottom_width_m * depth_m,
        protection=soil != "rock" and depth_m >= PROTECT_FROM_M - 1e-9,
        egress=depth_m >= EGRESS_FROM_M - 1e-9,
        engineer=depth_m > ENGINEER_FROM_M,
    )
