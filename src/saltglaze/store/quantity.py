"""Quantities as people write them: ``4 in``, ``12.5 ft ± 0.5 ft``, ``1/4 in/ft``, ``2 %``.

Every quantity in a job folder carries its unit, in the text (TOML) or in the column
name (CSV), so that no setting elsewhere can change what a number means.
"""

from __future__ import annotations

import math
import re
from typing import Final

from saltglaze.model.base import Estimate
from saltglaze.units import (
    M3_S_PER_GPM,
    M_PER_FT,
    M_PER_IN,
    PA_PER_BAR,
    PA_PER_PSI,
)

UNITS: Final[dict[str, dict[str, float]]] = {
    "length": {
        "ft": M_PER_FT,
        "in": M_PER_IN,
        "m": 1.0,
        "cm": 0.01,
        "mm": 0.001,
    },
    "pressure": {"psi": PA_PER_PSI, "bar": PA_PER_BAR, "pa": 1.0, "kpa": 1e3, "mpa": 1e6},
    "flow": {"gpm": M3_S_PER_GPM, "l/min": 1e-3 / 60.0, "l/s": 1e-3, "m3/s": 1.0},
    "angle": {"deg": 1.0},
    "time": {"s": 1.0, "min": 60.0},
    "slope": {"in/ft": 1.0 / 12.0, "%": 0.01, "mm/m": 0.001, "m/m": 1.0, "ft/ft": 1.0},
    "share": {"%": 0.01},
}
"""SI value of one of each unit, by dimension. Shares are fractions, angles degrees."""

_WORDS: Final = {
    "feet": "ft",
    "foot": "ft",
    "'": "ft",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "degrees": "deg",
    "°": "deg",
    "percent": "%",
}
_SPELLED: Final = {"%": "percent", "in/ft": "in_ft", "l/min": "l_min", "l/s": "l_s", "m3/s": "m3_s"}
_COLUMN_UNITS: Final = sorted(
    ((_SPELLED.get(unit, unit), unit) for units in UNITS.values() for unit in units),
    key=lambda pair: -len(pair[0]),
)
"""How units end a column's name, longest first."""

_NUMBER = r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d+)?(?:/\d+(?:\.\d+)?)?"
_ONE = re.compile(rf"^\s*({_NUMBER})\s*([^\d\s±+]\S*)?\s*$")
_SPREAD = re.compile(r"\s*(?:±|\+/-|\+-)\s*")


class QuantityError(ValueError):
    """A quantity that cannot be read; the text says what was expected."""


def parse(text: str, dimension: str) -> float:
    """Return ``text`` in the SI unit of ``dimension``.

    Raises QuantityError where the number or the unit cannot be read.
    """
    known = UNITS[dimension]
    match = _ONE.match(text)
    if not match:
        raise QuantityError(f"{text!r} is not a number with a unit such as {_example(dimension)}")
    number, unit = match.groups()
    if unit is None:
        raise QuantityError(f"{text!r} has no unit; write it as {_example(dimension)}")
    unit = _WORDS.get(unit.lower(), unit.lower())
    if unit not in known:
        raise QuantityError(
            f"{text!r} has the unit {unit!r}, which is no {dimension}; "
            f"use one of {', '.join(known)}"
        )
    value = _number(number) * known[unit]
    if not math.isfinite(value):
        raise QuantityError(f"{text!r} is not a finite number")
    return value


def parse_estimate(text: str, dimension: str, default_sd: float) -> Estimate:
    """Return ``text`` with the margin written after ``±``, or ``default_sd`` (SI).

    A margin without a unit takes the value's.
    """
    parts = _SPREAD.split(text, maxsplit=1)
    value = parse(parts[0], dimension)
    if len(parts) == 1:
        return Estimate.of(value, default_sd)
    margin = parts[1] if _has_unit(parts[1]) else f"{parts[1]} {_unit_of(parts[0])}"
    return Estimate.of(value, abs(parse(margin, dimension)))


def split_column(header: str, dimension: str) -> tuple[str, float] | None:
    """Split ``depth_ft`` into its name and the SI value of its unit; None if it has none."""
    for suffix, unit in _COLUMN_UNITS:
        name = header.removesuffix(f"_{suffix}")
        if name and name != header and unit in UNITS[dimension]:
            return name, UNITS[dimension][unit]
    return None


def write(value: float, dimension: str, unit: str) -> str:
    """Return ``value`` (SI) as text with ``unit``."""
    return f"{value / UNITS[dimension][unit]:.6g} {unit}"


def _number(text: str) -> float:
    top, _, bottom = text.partition("/")
    if bottom and float(bottom) == 0.0:
        raise QuantityError(f"{text!r} divides by zero")
    return float(top) / float(bottom) if bottom else float(top)


def _has_unit(text: str) -> bool:
    match = _ONE.match(text)
    return bool(match and match.group(2))


def _unit_of(text: str) -> str:
    match = _ONE.match(text)
    return (match.group(2) or "") if match else ""


def _example(dimension: str) -> str:
    return {
        "length": "'4 in', '12.5 ft' or '0.1 m'",
        "pressure": "'2000 psi' or '140 bar'",
        "flow": "'12 gpm' or '45 l/min'",
        "angle": "'30 deg'",
        "time": "'90 s'",
        "slope": "'1/4 in/ft' or '2 %'",
        "share": "'20 %'",
    }[dimension]
