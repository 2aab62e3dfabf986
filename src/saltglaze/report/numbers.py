"""Numbers with the digits their margin allows, and no more.

The margin printed is half the 95 % interval. It keeps one digit, or two where one
digit would understate it by more than a tenth or overstate it by more than a
quarter; the value is then rounded to the same decimal place. This follows the advice
of the GUM (JCGM 100:2008, 7.2.6: at most two significant digits, results rounded to
be consistent with their uncertainties; section number from memory).
"""

from __future__ import annotations

import math
from typing import NamedTuple

from saltglaze.model.base import Estimate

_UNDERSTATED = 0.9
_OVERSTATED = 1.25
_LOPSIDED = 1.3
"""A half of an interval this much longer than the other is printed as an interval."""
_SHAVED = 0.15
WIDE = 0.2
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


def digits(
    value: float, low: float, high: float, finest: float = 0.0, wide: float = math.inf
) -> Digits:
    """Return the digits of a value whose 95 % interval is ``low`` to ``high``.

    ``finest`` is the smallest step worth printing in this unit (0.1 ft): a margin
    below it is printed as that step, so that no reader is told more than a tape shows.
    Symmetric intervals come back with ``margin``; lopsided ones, and those whose half
    is more than ``wide`` times the value, with ``low`` and ``high``, rounded outwards.
    """
    below, above = value - low, high - value
    half = max((high - low) / 2.0, finest)
    if half <= 0:
        return Digits(value=grouped(value, _decimals_of_step(finest or 0.01)))
    decimals = margin_decimals(half)
    if abs(round(value, decimals) - value) > 0.5 * half:
        # A margin that rounds up to the next power of ten has a place too coarse for the value.
        decimals += 1
    lopsided = max(below, above) > _LOPSIDED * max(min(below, above), 1e-12)
    if (lopsided or half > wide * abs(value)) and high - low > 2 * finest:
        return _interval(value, low, high, finest=finest)
    return Digits(
        value=grouped(value, decimals), margin=grouped(_rounded_margin(half, decimals), decimals)
    )


def money_digits(value: float, low: float, high: float) -> Digits:
    """Return a cost with its 95 % interval in round sums, finer than other intervals.

    A reader must be able to tell offers apart without being told cents nobody knows.
    """
    return _interval(value, low, high, share=0.25, finest=10.0, steps=(5.0, 1.0))


def _interval(
    value: float,
    low: float,
    high: float,
    *,
    share: float = 0.6,
    finest: float = 0.0,
    steps: tuple[float, ...] = (5.0, 2.0, 1.0),
) -> Digits:
    """Round value and bounds to the round step next below ``share`` of the half interval.

    A bound is rounded to the nearest step where that takes off less than 15 % of the
    half interval, else outwards.
    """
    half = (high - low) / 2.0
    step = max(_round_step(share * half, steps), finest)
    down, up = round(low / step) * step, round(high / step) * step
    if down - low > _SHAVED * half:
        down = math.floor(low / step) * step
    if high - up > _SHAVED * half:
        up = math.ceil(high / step) * step
    shown = [round(value / step) * step, down, up]
    decimals = _decimals_of_step(step)
    if all(abs(v - round(v)) < 1e-9 for v in shown):
        decimals = 0
    texts = [grouped(v, decimals) for v in shown]
    return Digits(value=texts[0], low=texts[1], high=texts[2])


def _round_step(size: float, steps: tuple[float, ...]) -> float:
    """Return the largest of ``steps`` times a power of ten that is not above ``size``."""
    power = 10.0 ** math.floor(math.log10(size) + 1e-9)
    return float(next(f for f in steps if f * power <= size * (1 + 1e-9)) * power)


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
