"""What a bed of deposits, roots or an object leaves of a pipe's capacity.

A settled bed is the filled-bottom circular section of the EPA SWMM solver
(confirmed): A = A_full - A_bed; P = pi D - arc covered by the bed + bed chord.
The roughness of wall and bed together is the equal-velocity composite
n = [sum(P_i n_i^1.5) / sum(P_i)]^(2/3) (USACE SAM manual eq. 2-26, confirmed).

No published formula was found for roots: their share of the section is treated as
a bed of the same area, which is an assumption and is named as one.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from saltglaze.flow.circular import depth_share_of_area, full_area_m2, section


class LeftOver(NamedTuple):
    """What a bed leaves, as shares of the clean full pipe."""

    area_share: float
    radius_share: float
    n: float
    flow_share: float


def filled_bottom(bed_share: float, wall_n: float, bed_n: float | None = None) -> LeftOver:
    """Return what a flat bed leaves; ``bed_share`` is bed depth over diameter.

    ``bed_n`` is the bed's roughness; the wall's own where it is not given.
    """
    bed = section(bed_share, 1.0)
    area = full_area_m2(1.0) - bed.area_m2
    wall_m, chord_m = math.pi - bed.perimeter_m, bed.top_width_m
    perimeter = wall_m + chord_m
    if area <= 0.0 or perimeter <= 0.0:
        return LeftOver(0.0, 0.0, wall_n, 0.0)
    n = composite_n(((wall_m, wall_n), (chord_m, bed_n if bed_n is not None else wall_n)))
    area_share = area / full_area_m2(1.0)
    radius_share = (area / perimeter) / 0.25
    flow_share = area_share * radius_share ** (2.0 / 3.0) * wall_n / n
    return LeftOver(area_share, radius_share, n, flow_share)


def composite_n(parts: tuple[tuple[float, float], ...]) -> float:
    """Return the composite roughness of (wetted length, n) parts."""
    length = sum(part for part, _ in parts)
    weighted = sum(part * n**1.5 for part, n in parts)
    return float((weighted / length) ** (2.0 / 3.0))


def capacity_left(blocked_share: float, wall_n: float, bed_n: float | None = None) -> float:
    """Return Q / Q_clean where a share of the cross-section is taken up."""
    return filled_bottom(depth_share_of_area(blocked_share), wall_n, bed_n).flow_share
