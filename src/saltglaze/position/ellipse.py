"""Error ellipses of a plan point, and the sd along and across a bearing."""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import Ellipse
from saltglaze.model.ground import PlanCovariance, PlanPoint

Array = NDArray[np.float64]

CHI2_68: Final = -2.0 * math.log(0.32)
"""68 % point of chi-square with two degrees of freedom (exact)."""


def ellipse_of(covariance: PlanCovariance, level: float) -> Ellipse:
    """Return the ellipse that holds a plan point with probability ``level``.

    Half axes are ``sqrt(lambda * q)``, ``lambda`` the eigenvalues of the covariance and
    ``q = -2 ln(1 - level)`` the chi-square point with two degrees of freedom (exact:
    2.279 at 68 %, 5.991 at 95 %).
    """
    quantile = -2.0 * math.log1p(-level)
    values, vectors = np.linalg.eigh(matrix_of(covariance))
    minor, major = np.sqrt(np.maximum(values, 0.0) * quantile)
    east, north = vectors[:, 1]
    return Ellipse(
        semi_major_m=float(major),
        semi_minor_m=float(minor),
        bearing_deg=math.degrees(math.atan2(east, north)) % 180.0,
        level=level,
    )


def scaled(ellipse: Ellipse, square: float, level: float) -> Ellipse:
    """Return an ellipse of the same shape that reaches to a Mahalanobis distance squared."""
    grown = math.sqrt(square / (-2.0 * math.log1p(-ellipse.level)))
    return ellipse.model_copy(
        update={
            "semi_major_m": ellipse.semi_major_m * grown,
            "semi_minor_m": ellipse.semi_minor_m * grown,
            "level": level,
        }
    )


def sd_along(covariance: PlanCovariance, bearing_deg: float) -> float:
    """Return the sd of a plan point along a bearing, metres."""
    angle = math.radians(bearing_deg)
    unit = np.array([math.sin(angle), math.cos(angle)])
    return math.sqrt(max(float(unit @ matrix_of(covariance) @ unit), 0.0))


def matrix_of(covariance: PlanCovariance) -> Array:
    """Return a plan covariance as a (2, 2) array, east first, square metres."""
    return np.array(
        [
            [covariance.east_east_m2, covariance.east_north_m2],
            [covariance.east_north_m2, covariance.north_north_m2],
        ]
    )


def reflected(covariance: PlanCovariance, one: PlanPoint, other: PlanPoint) -> PlanCovariance:
    """Return a covariance as its mirror image across the line midway between two points."""
    normal = np.array([other.east_m - one.east_m, other.north_m - one.north_m])
    length = float(np.hypot(*normal))
    if length == 0.0:
        return covariance
    flip = np.eye(2) - 2.0 * np.outer(normal, normal) / length**2
    turned = flip @ matrix_of(covariance) @ flip
    return PlanCovariance(
        east_east_m2=float(turned[0, 0]),
        north_north_m2=float(turned[1, 1]),
        east_north_m2=float(turned[0, 1]),
    )
