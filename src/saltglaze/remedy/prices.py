"""Prices: the job's own list where it has an item, the default list for the rest."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from saltglaze import units
from saltglaze.condition.tables import read_table
from saltglaze.errors import InputError
from saltglaze.model.base import Record
from saltglaze.model.job import Price, PriceList, Service

DRAWS = 2000
_SEED = 8128
_SEEN_ITEMS = {"stoppage": "stoppage_call", "cleaning": "jetting_visit"}
_MOST_RATE = 0.5
_MOST_YEARS = 200
_PER_FOOT = {("ft", "m"): 1.0 / units.M_PER_FT, ("ft2", "m2"): 1.0 / units.M_PER_FT**2}

Draws = NDArray[np.float64]


class Prices(Record):
    """A full set of prices by item, and where they come from."""

    name: str
    currency: str
    discount_rate: float
    horizon_years: int
    by_item: dict[str, Price]
    from_default: tuple[str, ...] = ()
    mixed_currency: bool = False

    def draws(self, item: str) -> Draws:
        """Draw a price from a triangle low, typical, high; the same draws each time."""
        price = self.by_item[item]
        if price.high <= price.low:
            return np.full(DRAWS, price.typical)
        seed = [_SEED, *item.encode()]
        return np.random.default_rng(seed).triangular(price.low, price.typical, price.high, DRAWS)


def settings() -> dict[str, Any]:
    """Return lives, failure chances and upkeep of the default price file."""
    return read_table("saltglaze.remedy", "prices.toml")


def default_prices() -> PriceList:
    """Return the shipped planning prices."""
    table = settings()
    return PriceList(
        name=table["name"],
        currency=table["currency"],
        prices=tuple(Price(**row) for row in table["price"]),
        discount_rate=table["discount_rate"],
        horizon_years=table["horizon_years"],
    )


def prices_for(own: PriceList | None, services: Sequence[Service] = ()) -> Prices:
    """Lay what earlier visits cost, then a job's own prices, over the defaults.

    A price per ft or ft2 is taken over per m or m2.

    Raises
    ------
    InputError
        where an item or its unit is not one that is used, a price is negative or its
        range out of order, or the discount rate or the horizon makes no sense.
    """
    default = default_prices()
    chosen = own or default
    by_item = {price.item: price for price in default.prices}
    seen = {
        item: price
        for kind, item in _SEEN_ITEMS.items()
        if (price := _seen_price(kind, by_item[item], services)) is not None
    }
    _check_terms(chosen)
    listed = own.prices if own is not None else ()
    mine = {p.item: _in_unit(p, by_item.get(p.item), chosen.name) for p in listed}
    missing = tuple(sorted(set(by_item) - set(mine) - set(seen)))
    by_item.update(seen)
    by_item.update(mine)
    return Prices(
        name=chosen.name,
        currency=chosen.currency,
        discount_rate=chosen.discount_rate,
        horizon_years=chosen.horizon_years,
        by_item=by_item,
        from_default=missing,
        mixed_currency=own is not None and bool(missing) and own.currency != default.currency,
    )


def _seen_price(kind: str, default: Price, services: Sequence[Service]) -> Price | None:
    """Return a price from what visits of one kind to this line cost, or ``None``.

    Its range reaches from four fifths of the least to the default's high end, since few
    visits do not show how dear a bad one can be.
    """
    costs = [s.cost for s in services if s.kind == kind and s.cost is not None and s.cost > 0.0]
    if not costs:
        return None
    typical = float(np.median(costs))
    return default.model_copy(
        update={
            "low": 0.8 * min(costs),
            "typical": typical,
            "high": max(1.2 * max(costs), default.high),
            "year": None,
            "source": f"{len(costs)} earlier visits to this line cost {min(costs):g} to "
            f"{max(costs):g}; the high end is the default's",
        }
    )


def _check_terms(prices: PriceList) -> None:
    where = f"price list {prices.name}"
    if not 0.0 <= prices.discount_rate <= _MOST_RATE:
        raise InputError(
            f"the discount rate is {prices.discount_rate:g}",
            where=where,
            expected=f"a share a year from 0 to {_MOST_RATE:g}",
            mend="write 0.03 for 3 %",
        )
    if not 1 <= prices.horizon_years <= _MOST_YEARS:
        raise InputError(
            f"the horizon is {prices.horizon_years} years",
            where=where,
            expected=f"1 to {_MOST_YEARS}",
        )


def _in_unit(price: Price, default: Price | None, name: str) -> Price:
    """Return a price in the unit it is used in, checked."""
    where = f"price list {name}, {price.item}"
    if default is None:
        items = ", ".join(sorted(p.item for p in default_prices().prices))
        raise InputError("no price of this name is used", where=where, expected=f"one of {items}")
    if not 0.0 <= price.low <= price.typical <= price.high:
        raise InputError(
            f"low, typical and high are {price.low:g}, {price.typical:g}, {price.high:g}",
            where=where,
            expected="three prices from low to high, none negative",
        )
    if price.unit == default.unit:
        return price
    per = _PER_FOOT.get((price.unit, default.unit))
    if per is None:
        raise InputError(f'the unit is "{price.unit}"', where=where, expected=f'"{default.unit}"')
    return price.model_copy(
        update={
            "unit": default.unit,
            "low": price.low * per,
            "typical": price.typical * per,
            "high": price.high * per,
        }
    )
