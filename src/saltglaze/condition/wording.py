"""Lengths, sizes and pressures in the words of the reader's units.

Plain sentences are written in the middle of the program but read at its edge, so
every function that writes one takes a :class:`UnitWords` and knows no unit itself.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from fractions import Fraction

from saltglaze import units
from saltglaze.model.base import Estimate

_M3_PER_YD3 = (3.0 * units.M_PER_FT) ** 3


@dataclass(frozen=True)
class UnitWords:
    """How to say quantities: ``metric`` false gives feet, inches, psi and gallons."""

    metric: bool = False

    def length(self, length_m: float) -> str:
        """Say a length along the line."""
        if self.metric:
            return f"{length_m:.1f} m"
        return f"{units.ft(length_m):.0f} ft"

    def size(self, length_m: float) -> str:
        """Say a small size: a gap, a step, a bore."""
        if self.metric:
            return f"{length_m * 1000.0:.0f} mm"
        return f"{_trim(units.inches(length_m))} in"

    def depth(self, length_m: float) -> str:
        """Say a depth below ground, one decimal."""
        if self.metric:
            return f"{length_m:.1f} m"
        return f"{units.ft(length_m):.1f} ft"

    def pressure(self, pressure_pa: float) -> str:
        """Say a pressure, rounded to what a gauge shows."""
        if self.metric:
            return f"{pressure_pa / units.PA_PER_BAR:.0f} bar"
        return f"{round(units.psi(pressure_pa), -1):.0f} psi"

    def date(self, day: dt.date) -> str:
        """Say a date."""
        if self.metric:
            return f"{day.day} {day:%B %Y}"
        return f"{day:%B} {day.day}, {day:%Y}"

    def flow(self, flow_m3_s: float) -> str:
        """Say a flow."""
        if self.metric:
            return f"{flow_m3_s * 1000.0:.2f} L/s"
        return f"{units.gpm(flow_m3_s):.0f} gpm"

    def volume_per_length(self, volume_m3_per_m: float) -> str:
        """Say a trench volume along the line."""
        if self.metric:
            return f"{volume_m3_per_m:.1f} m3 per m"
        return f"{volume_m3_per_m * units.M_PER_FT / _M3_PER_YD3:.2f} cubic yards per ft"

    def slope(self, slope: float) -> str:
        """Say a slope, in per cent and, in US words, inches per foot."""
        if self.metric:
            return f"{slope * 100.0:.1f} %"
        return f"{slope * 100.0:.1f} % ({_per_foot(slope)} in per ft)"

    def station(self, station_m: Estimate) -> str:
        """Say where along the line, with its 95 % margin where that matters."""
        if station_m.value is None:
            return "at a place not fixed along the line"
        low, high = station_m.interval95
        margin_m = (high - low) / 2.0
        if margin_m < 0.3:
            return f"{self.length(station_m.value)} from the start"
        return (
            f"{self.length(station_m.value)} (give or take {self.length(margin_m)}) from the start"
        )


def _per_foot(slope: float) -> str:
    """Say inches per foot, as a fraction where the slope is one that a code would name."""
    inches = slope * 12.0
    for named in (Fraction(1, 16), Fraction(1, 8), Fraction(1, 4), Fraction(1, 2)):
        if abs(inches - float(named)) < 0.004:
            return str(named)
    return f"{inches:.2f}"


def _trim(value: float) -> str:
    text = f"{value:.1f}" if value >= 1.0 else f"{value:.2f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


US = UnitWords(metric=False)
METRIC = UnitWords(metric=True)
