"""What every record shares: frozen, closed to unknown fields, and honest numbers."""

from __future__ import annotations

import math
from typing import Self

from pydantic import BaseModel, ConfigDict, model_validator

Z95 = 1.959963984540054
"""Two-sided 95 % point of the standard normal distribution."""

Z68 = 0.9944578832097535
"""Two-sided 68 % point of the standard normal distribution."""


class Record(BaseModel):
    """A frozen record; an unknown field is an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class Estimate(Record):
    """One number from evidence, or the reason it is not known.

    The unit stands in the name of the field that holds the estimate
    (``station_m``, ``depth_m``). ``sd`` is one standard deviation in that unit;
    zero says "exact by definition". ``low95`` and ``high95`` are given only where
    the 95 % interval is not symmetric, ``low68`` and ``high68`` where the middle 68 % is not.
    """

    value: float | None = None
    sd: float | None = None
    low95: float | None = None
    high95: float | None = None
    low68: float | None = None
    high68: float | None = None
    unknown_because: str | None = None

    @model_validator(mode="after")
    def _value_with_margin_or_reason(self) -> Self:
        if self.value is None:
            if not self.unknown_because:
                raise ValueError("an unknown value needs unknown_because")
            return self
        if self.sd is None and (self.low95 is None or self.high95 is None):
            raise ValueError("a known value needs sd, or low95 and high95")
        if self.sd is not None and self.sd < 0:
            raise ValueError("sd must not be negative")
        return self

    @classmethod
    def of(cls, value: float, sd: float) -> Self:
        """Return a known value with one standard deviation."""
        return cls(value=float(value), sd=float(sd))

    @classmethod
    def within(cls, value: float, low95: float, high95: float) -> Self:
        """Return a known value with an asymmetric 95 % interval."""
        return cls(value=float(value), low95=float(low95), high95=float(high95))

    @classmethod
    def unknown(cls, because: str) -> Self:
        """Return an unknown value and why it is unknown."""
        return cls(unknown_because=because)

    @property
    def known(self) -> bool:
        """Whether there is a value."""
        return self.value is not None

    @property
    def interval95(self) -> tuple[float, float]:
        """The 95 % interval; (-inf, inf) where the value is unknown."""
        if self.value is None:
            return (-math.inf, math.inf)
        sd = self.sd or 0.0
        low = self.low95 if self.low95 is not None else self.value - Z95 * sd
        high = self.high95 if self.high95 is not None else self.value + Z95 * sd
        return (low, high)

    @property
    def interval68(self) -> tuple[float, float]:
        """The middle 68 %; (-inf, inf) where the value is unknown."""
        if self.value is None:
            return (-math.inf, math.inf)
        low = self.low68 if self.low68 is not None else self.value - Z68 * self.spread
        high = self.high68 if self.high68 is not None else self.value + Z68 * self.spread
        return (low, high)

    @property
    def spread(self) -> float:
        """One standard deviation, taken from the 95 % interval where only that is given."""
        if self.value is None:
            return math.inf
        if self.sd is not None:
            return self.sd
        low, high = self.interval95
        return (high - low) / (2.0 * Z95)
