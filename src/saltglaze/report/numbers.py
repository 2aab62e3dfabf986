"""Numbers with the digits their margin allows, and no more.

The margin printed is half the 95 % interval. It keeps one digit, or two where one
digit would understate it by more than a twentieth or overstate it by more than a
quarter; the value is then rounded to the same decimal place. This follows the advice
of the GUM (JCGM 100:2008, 7.2.6: at most two significant digits, results rounded to
be consistent with their uncertainties; section number from memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from saltglaze.model.base import Estimate

_UNDERSTATED = 0.95
_OVERSTATED = 1.25
_LOPSIDED = 1.3
"""A half of an interval this much longer than the other is printed as an interval."""
_WIDE = 0.2
"""A margin beyond this share of the value reads better as "about, from, to"."""


class Digits(NamedTuple):
    """A value and its margin or interval as text, unit left out."""

    value: str
    margin: str | None = None
    low: str | None = None
    high: str | None = None


def grouped(value: float, decimals: int) -> str:
    """Return ``value`` rounded to ``decimals`` (negative: tens, hundreds), with commas."""
    rounded = round(value, decimals) + 0.0
    return f"{rounded:,.{max(decimals, 0)}f}"


def margin_decimals(margin: float) -> int:
    """Return the decimal place (10**-n) a margin is worth printing to."""
    if margin <= 0 or not math.isfinite(margin):
        raise ValueError("a margin must be positive and finite")
    decimals = -math.floor(math.log10(margin))
    kept = _rounded_margin(margin, decimals)
    if _UNDERSTATED <= kept / margin <= _OVERSTATED:
        return decimals if kept < 10 ** (1 - decimals) else decimals - 1
    return decimals + 1


def _rounded_margin(margin: float, decimals: int) -> float:
    """Round to nearest where that hardly understates, else up."""
    near = round(margin, decimals)
    if near >= _UNDERSTATED * margin:
        return near
    step = 10.0**-decimals
    return math.ceil(margin / step - 1e-9) * step


def digits(value: float, low: float, high: float, finest: float = 0.0) -> Digits:
    """Return the digits of a value whose 95 % interval is ``low`` to ``high``.

    ``finest`` is the smallest step worth printing in this unit (0.1 ft): a margin
    below it is printed as that step, so that no reader is told more than a tape shows.
    Symmetric narrow intervals come back with ``margin``; lopsided or wide ones with
    ``low`` and ``high``, rounded outwards.
    """
    below, above = value - low, high - value
    half = max((high - low) / 2.0, finest)
    if half <= 0:
        return Digits(value=grouped(value, _decimals_of_step(finest or 0.01)))
    decimals = margin_decimals(half)
    lopsided = max(below, above) > _LOPSIDED * max(min(below, above), 1e-12)
    wide = half > _WIDE * abs(value)
    if (lopsided or wide) and high - low > 2 * finest:
        return _interval(value, low, high, min(decimals, _interval_decimals(half)))
    return Digits(
        value=grouped(value, decimals), margin=grouped(_rounded_margin(half, decimals), decimals)
    )


def _interval_decimals(half: float) -> int:
    return -math.floor(math.log10(half))


def _interval(value: float, low: float, high: float, decimals: int) -> Digits:
    step = 10.0**-decimals
    if 2.0 * step > high - low:
        step, decimals = step / 10.0, decimals + 1
    down = math.floor(low / step + 0.05) * step
    up = math.ceil(high / step - 0.05) * step
    return Digits(
        value=grouped(value, decimals), low=grouped(down, decimals), high=grouped(up, decimals)
    )


def _decimals_of_step(step: float) -> int:
    return max(0, -math.floor(math.log10(step) + 1e-9))


def scaled(estimate: Estimate, factor: float) -> tuple[float, float, float]:
    """Return value and 95 % bounds of a known estimate in another unit (factor > 0)."""
    if estimate.value is None:
        raise ValueError("an unknown estimate has no digits")
    low, high = estimate.interval95
    return estimate.value * factor, low * factor, high * factor


def significant(value: float, count: int = 2) -> str:
    """Return a bare number to ``count`` significant digits, with commas."""
    if value == 0 or not math.isfinite(value):
        return "0"
    return grouped(value, count - 1 - math.floor(math.log10(abs(value))))
