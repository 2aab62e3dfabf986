"""Geometry of a partly full circular pipe.

With the depth share y/D and theta = 2 acos(1 - 2 y/D):
area A = D^2 (theta - sin theta) / 8, wetted perimeter P = D theta / 2,
hydraulic radius R = A / P (Chow, Open-Channel Hydraulics, 1959, from memory;
checked against the EPA SWMM 5.2 geometry tables in tests/references).
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray


class Section(NamedTuple):
    """A wetted section, metres and square metres."""

    area_m2: float
    perimeter_m: float
    radius_m: float
    top_width_m: float


def section(depth_share: float, diameter_m: float) -> Section:
    """Return the wetted section at a depth share y/D in [0, 1]."""
    share = min(1.0, max(0.0, depth_share))
    theta = 2.0 * math.acos(1.0 - 2.0 * share)
    area = diameter_m**2 * (theta - math.sin(theta)) / 8.0
    perimeter = diameter_m * theta / 2.0
    radius = area / perimeter if perimeter > 0.0 else 0.0
    return Section(area, perimeter, radius, diameter_m * math.sin(theta / 2.0))


def full_area_m2(diameter_m: float) -> float:
    """Return the area of the full bore."""
    return math.pi * diameter_m**2 / 4.0


def area_share(depth_share: float) -> float:
    """Return A / A_full at a depth share."""
    return section(depth_share, 1.0).area_m2 / full_area_m2(1.0)


def depth_share_of_area(share_of_area: float) -> float:
    """Return y/D that holds a share of the full area (inverse of :func:`area_share`)."""
    if share_of_area <= 0.0:
        return 0.0
    if share_of_area >= 1.0:
        return 1.0
    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2.0
        low, high = (middle, high) if area_share(middle) < share_of_area else (low, middle)
    return (low + high) / 2.0


def flow_shares(depth_shares: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return Q / Q_full for an array of depth shares, n constant."""
    theta = 2.0 * np.arccos(1.0 - 2.0 * np.clip(depth_shares, 0.0, 1.0))
    area = (theta - np.sin(theta)) / (2.0 * np.pi)
    with np.errstate(invalid="ignore", divide="ignore"):
        radius = np.where(theta > 0.0, (theta - np.sin(theta)) / theta, 0.0)
    return np.asarray(area * radius ** (2.0 / 3.0), dtype=np.float64)
