"""Estimates as a reader meets them: digits, unit, margin; or why they are not known."""

from __future__ import annotations

import datetime as dt
import math
from typing import Literal

from saltglaze import units
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock
from saltglaze.model.ground import Origin, PlanPoint
from saltglaze.report.numbers import (
    WIDE,
    Digits,
    digits,
    grouped,
    money_digits,
    scaled,
    significant,
)
from saltglaze.report.wording import Words

UnitSystem = Literal["us", "metric"]

_SIGN = {"USD": "$", "CAD": "CA$", "AUD": "A$", "NZD": "NZ$", "GBP": "£", "EUR": "€"}
_US_PRICED = {
    "m": (1 / units.M_PER_FT, "ft"),
    "m2": (1 / units.M_PER_FT**2, "sq ft"),
    "m3": (1 / (3 * units.M_PER_FT) ** 3, "cu yd"),
}
_EXACT = 1e-12
_SLOPE_PER_FT = 12.0


class Measures:
    """Formats every kind of quantity in one unit system and one language.

    Every method takes SI (metres, pascals, fractions) and returns words; an unknown
    estimate comes back as "not known: reason" and never as a blank.
    """

    def __init__(self, system: UnitSystem, words: Words) -> None:
        self.system = system
        self.us = system == "us"
        self.words = words
        self.long_unit = "ft" if self.us else "m"
        self.small_unit = "in" if self.us else "mm"
        self.per_long = 1.0 / units.M_PER_FT if self.us else 1.0
        self.per_small = 1.0 / units.M_PER_IN if self.us else 1000.0

    # ------------------------------------------------------------ shapes of a number
    def _plain(self, found: Digits, unit: str, *, prefix: str = "") -> str:
        space = " " if unit else ""
        if found.low is not None and found.high is not None:
            low_high = self.words(
                "number.range", low=f"{prefix}{found.low}", high=f"{prefix}{found.high}"
            )
            return self.words(
                "number.about", value=f"{prefix}{found.value}{space}{unit}", range=low_high
            )
        if found.margin is None:
            return f"{prefix}{found.value}{space}{unit}"
        return f"{prefix}{found.value} ± {prefix}{found.margin}{space}{unit}"

    def quantity(
        self,
        estimate: Estimate,
        factor: float,
        unit: str,
        finest: float,
        wide: float = math.inf,
        *,
        positive: bool = False,
    ) -> str:
        """Return any estimate times ``factor`` in ``unit``; ``positive`` cannot be below nought."""
        if estimate.value is None:
            return self.unknown(estimate)
        value, low, high = scaled(estimate, factor)
        if positive and low < 0.0 <= value:
            low, wide = 0.0, 0.0
        if high - low < _EXACT:
            return f"{_trimmed(round(value, 1) if abs(value) >= 1 else value)} {unit}".strip()
        return self._plain(digits(value, low, high, finest, wide), unit)

    def unknown(self, estimate: Estimate | None) -> str:
        """Return why a value is not known."""
        because = estimate.unknown_because if estimate is not None else None
        if not because:
            return self.words("number.unknown")
        return self.words("number.unknown_because", because=because.rstrip(". "))

    # ------------------------------------------------------------ lengths
    def length(self, estimate: Estimate | None) -> str:
        """Return a station or length: "63 ± 2 ft"."""
        if estimate is None:
            return self.unknown(None)
        return self.quantity(estimate, self.per_long, self.long_unit, 0.1)

    def stretch(self, start: Estimate, end: Estimate | None, *, short: bool = False) -> str:
        """Return a stretch of stations: "from 63 ± 2 to 71 ± 2 ft"; ``short`` drops "from"."""
        if end is None or end.value is None or start.value is None:
            return self.length(start)
        if abs(end.value - start.value) < 0.05:
            return self.length(start)
        first = self.length(start).removesuffix(f" {self.long_unit}")
        key = "number.range" if short else "number.stretch"
        if short:
            return self.words(key, low=first, high=self.length(end))
        return self.words(key, start=first, end=self.length(end))

    def bare_length(self, length_m: float, decimals: int | None = None) -> str:
        """Return a length that carries no margin of its own (a scale, a trench length)."""
        value = length_m * self.per_long
        places = (1 if abs(value) < 10 else 0) if decimals is None else decimals
        return f"{grouped(value, places)} {self.long_unit}"

    def at_least(self, length_m: float) -> str:
        """Return a length that must not be cut short: up to the next half foot or decimetre."""
        step = 0.5 if self.us else 0.1
        # A hair is taken off, so that 1.2 m is not called 1.3 for the sake of a last bit.
        value = math.ceil(length_m * self.per_long / step - 1e-6) * step
        return f"{value:.1f} {self.long_unit}"

    def tape(self, length_m: float) -> str:
        """Return a distance for a tape: feet and inches, or metres to the centimetre."""
        if not self.us:
            return f"{length_m:.2f} m"
        whole, inch = divmod(round(units.inches(length_m)), 12)
        return f"{whole} ft {inch} in"

    def depth(self, estimate: Estimate | None) -> str:
        """Return a depth below ground: "about 4 ft deep (3 to 5)"."""
        if estimate is None or estimate.value is None:
            return self.words("number.depth_unknown", because=self.unknown(estimate))
        value, low, high = scaled(estimate, self.per_long)
        found = digits(value, max(low, 0.0), high, 0.1, WIDE)
        if found.low is not None and found.high is not None:
            low_high = self.words("number.range", low=found.low, high=found.high)
            return self.words(
                "number.depth_about", value=f"{found.value} {self.long_unit}", range=low_high
            )
        return self.words("number.depth", value=self._plain(found, self.long_unit))

    def small(self, estimate: Estimate | None) -> str:
        """Return a width, step or water depth in inches or millimetres."""
        if estimate is None:
            return self.unknown(None)
        return self.quantity(
            estimate, self.per_small, self.small_unit, 0.05 if self.us else 1.0, positive=True
        )

    def bore(self, diameter_m: float | None) -> str:
        """Return a pipe size as it is bought: "6 in", "150 mm"."""
        if diameter_m is None:
            return self.words("number.size_unknown")
        if not self.us:
            return f"{diameter_m * 1000:.0f} mm"
        inch = units.inches(diameter_m)
        nearest = round(inch * 2) / 2
        return f"{_trimmed(nearest if abs(inch - nearest) < 0.13 else round(inch, 1))} in"

    # ------------------------------------------------------------ ratios
    def share(self, estimate: Estimate | None) -> str:
        """Return a fraction as per cent."""
        if estimate is None or estimate.value is None:
            return self.unknown(estimate)
        value, low, high = scaled(estimate, 100.0)
        if high - low < _EXACT:
            return f"{value:.0f} %"
        return self._plain(digits(value, max(low, 0.0), min(high, 100.0), 1.0, WIDE), "%")

    def probability(self, share: float) -> str:
        """Return a share of belief to the nearest five per cent, never 0 or 100."""
        nearest = min(max(round(share * 20) * 5, 1), 99)
        return f"{nearest} %"

    def slope(self, estimate: Estimate | None) -> str:
        """Return a fall: "about 0.25 in per ft (0.2 to 0.3)" or "2.1 ± 0.3 %"."""
        if estimate is None:
            return self.unknown(None)
        if self.us:
            return self.quantity(estimate, _SLOPE_PER_FT, self.slope_unit, 0.01)
        return self.quantity(estimate, 100.0, self.slope_unit, 0.1)

    @property
    def slope_unit(self) -> str:
        """Unit of a fall: inches per foot or per cent."""
        return "in per ft" if self.us else "%"

    # ------------------------------------------------------------ flow, force, money, time
    def pressure(self, pressure_pa: float | Estimate | None) -> str:
        """Return a pressure in psi or bar."""
        if pressure_pa is None:
            return self.unknown(None)
        unit, factor = ("psi", 1 / units.PA_PER_PSI) if self.us else ("bar", 1 / units.PA_PER_BAR)
        if isinstance(pressure_pa, Estimate):
            return self.quantity(pressure_pa, factor, unit, 10.0 if self.us else 1.0)
        return f"{significant(pressure_pa * factor)} {unit}"

    def flow(self, estimate: Estimate | None) -> str:
        """Return a discharge in gallons a minute or litres a second."""
        if estimate is None:
            return self.unknown(None)
        if self.us:
            return self.quantity(estimate, 1 / units.M3_S_PER_GPM, "gpm", 0.1, positive=True)
        return self.quantity(estimate, 1000.0, "L/s", 0.01, positive=True)

    def velocity(self, estimate: Estimate | None) -> str:
        """Return a speed in ft/s or m/s."""
        if estimate is None:
            return self.unknown(None)
        return self.quantity(estimate, self.per_long, f"{self.long_unit}/s", 0.01, positive=True)

    def volume(self, estimate: Estimate | None) -> str:
        """Return a volume of water in gallons or litres."""
        if estimate is None:
            return self.unknown(None)
        if self.us:
            return self.quantity(estimate, 1 / units.M3_PER_GAL, "gal", 0.1, positive=True)
        return self.quantity(estimate, 1000.0, "L", 0.1, positive=True)

    def money(self, estimate: Estimate | None, currency: str) -> str:
        """Return a cost: "about $4,200 ($3,500 to $5,200)"."""
        if estimate is None or estimate.value is None:
            return self.unknown(estimate)
        prefix = money_prefix(currency)
        low, high = estimate.interval95
        if high - low < _EXACT:
            return self.amount(estimate.value, currency)
        found = money_digits(estimate.value, max(low, 0.0), high)
        return self._plain(found, "", prefix=prefix)

    def amount(self, value: float, currency: str) -> str:
        """Return a sum of money to the whole unit."""
        return f"{money_prefix(currency)}{grouped(value, 0)}"

    def priced_quantity(self, quantity: float, unit: str) -> str:
        """Return a quantity of a price line in the reader's units: "7.9 ft", "1 each"."""
        factor, name = self._priced_unit(unit)
        return f"{_trimmed(round(quantity * factor, 1))} {name}"

    def unit_price(self, price: float, unit: str, currency: str) -> str:
        """Return the price of one unit of a price line in the reader's units."""
        return self.amount(price / self._priced_unit(unit)[0], currency)

    def _priced_unit(self, unit: str) -> tuple[float, str]:
        """Return how many of the reader's units are in one of the price file's, and its name."""
        if self.us and unit in _US_PRICED:
            return _US_PRICED[unit]
        return 1.0, self.words.get(f"priced.{unit}") or unit

    def years(self, estimate: Estimate | None) -> str:
        """Return a span of years, in months where short."""
        if estimate is None or estimate.value is None:
            return self.unknown(estimate)
        if estimate.value < 2.0:
            return self.quantity(estimate, 12.0, self.words("unit.months"), 1.0, WIDE)
        return self.quantity(estimate, 1.0, self.words("unit.years"), 0.5, WIDE)

    def date(self, day: dt.date | None) -> str:
        """Return a date in words, day or month first as the unit system's readers do."""
        if day is None:
            return self.words("number.date_unknown")
        month = self.words(f"month.{day.month}")
        form = "date.us" if self.us else "date.metric"
        return self.words(form, day=day.day, month=month, year=day.year)

    # ------------------------------------------------------------ places
    def clock(self, clock: Clock | None) -> str:
        """Return a clock position in the pipe: "from 10 to 2 o'clock"."""
        if clock is None:
            return self.words("clock.unknown")
        if clock.all_round:
            return self.words("clock.all_round")
        first = clock_hour(clock.from_h)
        if clock.to_h is None or clock_hour(clock.to_h) == first:
            return self.words("clock.point", hour=first)
        return self.words("clock.range", start=first, end=clock_hour(clock.to_h))

    def lonlat(self, point: PlanPoint, origin: Origin | None) -> str:
        """Return longitude and latitude of a local point, or why there is none.

        Local tangent plane on the WGS 84 ellipsoid's mean radii: below 1 cm of error
        within 500 m of the origin, far under any locate's margin.
        """
        if origin is None:
            return self.words("place.no_origin")
        turn = math.radians(origin.north_deg)
        east = point.east_m * math.cos(turn) + point.north_m * math.sin(turn)
        north = -point.east_m * math.sin(turn) + point.north_m * math.cos(turn)
        lat0 = math.radians(origin.lat_deg)
        a, e2 = 6378137.0, 6.69437999014e-3
        w = math.sqrt(1 - e2 * math.sin(lat0) ** 2)
        lat = origin.lat_deg + math.degrees(north / (a * (1 - e2) / w**3))
        lon = origin.lon_deg + math.degrees(east / (a / w * math.cos(lat0)))
        ns, ew = ("N" if lat >= 0 else "S"), ("E" if lon >= 0 else "W")
        return f"{abs(lat):.6f}° {ns}, {abs(lon):.6f}° {ew}"


def money_prefix(currency: str) -> str:
    """Return the sign of an ISO 4217 currency, or its code and a space."""
    return _SIGN.get(currency, f"{currency} ")


def clock_hour(hour: float) -> str:
    """Return an hour of the pipe's clock, 12 for the soffit, halves kept."""
    halves = round(hour * 2) % 24
    whole = halves // 2 or 12
    return f"{whole}{'½' if halves % 2 else ''}"


def _trimmed(value: float) -> str:
    text = f"{value:,.2f}".rstrip("0").rstrip(".")
    return text or "0"
