"""Present values: factors of NIST Handbook 135 (names from ASTM E917's adjunct).

SPV = (1+d)^-n; UPV = (1 - (1+d)^-n) / d; UPV* = sum of ((1+e)/(1+d))^t, t = 1..n;
capital recovery = 1 / UPV. Rates and periods are per year unless the caller says else.
"""

from __future__ import annotations


def spv(rate: float, years: float) -> float:
    """Return the present value of one unit paid after ``years``."""
    return float((1.0 + rate) ** -years)


def upv(rate: float, years: int) -> float:
    """Return the present value of one unit paid at the end of each year."""
    if rate == 0.0:
        return float(years)
    return (1.0 - spv(rate, years)) / rate


def upv_growing(rate: float, growth: float, years: int) -> float:
    """Return UPV*: one unit a year that grows by ``growth``, first paid after a year."""
    if rate == growth:
        return float(years)
    ratio = (1.0 + growth) / (1.0 + rate)
    return float((1.0 + growth) / (rate - growth) * (1.0 - ratio**years))


def capital_recovery(rate: float, years: int) -> float:
    """Return the even yearly payment that is worth one unit today."""
    return 1.0 / upv(rate, years)


def every(rate: float, interval_years: float, horizon_years: float) -> float:
    """Return the present value of one unit paid each ``interval_years``.

    Paid first after one interval and last before the horizon, none today.
    """
    if interval_years <= 0.0:
        raise ValueError("interval_years must be positive")
    total, at = 0.0, interval_years
    while at <= horizon_years + 1e-9:
        total += spv(rate, at)
        at += interval_years
    return total
