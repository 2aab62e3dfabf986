"""What an option costs: today, over the years, and a year.

Prices are drawn from their ranges (the same draws for every option, so that options
differ only by what they do), quantities from their margins, waits to the next
clearing from the belief about stoppages. Whole-life cost is the present value over
the horizon of: the work itself and its renewal at the end of its life, the upkeep of
what the work leaves, and the chance that what it leaves fails and is dug up in haste.
"""

from __future__ import annotations

import numpy as np

from saltglaze.cleaning.regrowth import RISK
from saltglaze.condition.grading import worst_of
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding, CostLine, Remedy, RemedyKind
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.remedy.discount import capital_recovery, every, spv, upv, upv_growing
from saltglaze.remedy.draft import Draft
from saltglaze.remedy.options import TITLES
from saltglaze.remedy.prices import DRAWS, Draws, Prices, settings
from saltglaze.remedy.quantities import Quantity
from saltglaze.remedy.site import Site

_SEED = 496
_WATER = {Feature.SAG, Feature.STANDING_WATER, Feature.CAMERA_UNDER_WATER}
_STOPPERS = {
    Feature.ROOTS,
    Feature.ATTACHED_DEPOSITS,
    Feature.SETTLED_DEPOSITS,
    Feature.OBSTRUCTION,
}


class Costed:
    """An option with its cost draws, so that options can be compared draw by draw."""

    def __init__(self, remedy: Remedy, whole_life: Draws | None) -> None:
        self.remedy = remedy
        self.whole_life = whole_life


def cost(draft: Draft, site: Site, prices: Prices, words: UnitWords) -> Costed:
    """Cost one option. An option that cannot be done, or sized, has no cost."""
    remedy = Remedy(
        kind=draft.kind,
        title=TITLES[draft.kind],
        feasible=draft.feasible,
        why=draft.why,
        obstacles=draft.obstacles,
        from_m=draft.from_m,
        to_m=draft.to_m,
        fixes=draft.fixes,
        leaves=(*draft.holds, *draft.leaves),
        size_note=draft.size_note,
        assumptions=draft.assumptions,
        life_years=_life(draft.kind),
    )
    if draft.feasible is False:
        return Costed(remedy, None)
    if draft.unsized_because:
        unknown = Estimate.unknown(draft.unsized_because)
        update = {"first_cost": unknown, "whole_life_cost": unknown, "yearly_cost": unknown}
        return Costed(remedy.model_copy(update=update), None)
    return _costed(draft, remedy, site, prices)


def _costed(draft: Draft, remedy: Remedy, site: Site, prices: Prices) -> Costed:
    draft = draft.model_copy(update={"quantities": (*draft.quantities, *_first_visit(draft, site))})
    first = _work(draft, prices)
    upkeep, said = _upkeep(draft, site, prices)
    risk, grade = _failure(draft, site, prices)
    factor = upv(prices.discount_rate, prices.horizon_years)
    ageing = upv_growing(prices.discount_rate, _growth(), prices.horizon_years)
    whole = first * _renewals(draft.kind, prices) + upkeep * factor + risk * ageing
    yearly = whole * capital_recovery(prices.discount_rate, prices.horizon_years)
    return Costed(
        remedy.model_copy(
            update={
                "first_cost": _money(first),
                "whole_life_cost": _money(whole),
                "yearly_cost": _money(yearly),
                "lines": (
                    *_lines(draft, prices),
                    *_yearly_lines(upkeep, factor, risk, ageing, grade),
                ),
                "assumptions": (*remedy.assumptions, *said, *_terms(prices)),
            }
        ),
        whole,
    )


def _work(draft: Draft, prices: Prices) -> Draws:
    total = np.zeros(DRAWS)
    for each in draft.quantities:
        total += _amount(each) * prices.draws(each.item)
    return total


def _amount(each: Quantity) -> Draws:
    rng = np.random.default_rng([_SEED, *each.item.encode()])
    return np.maximum(rng.normal(each.quantity, each.sd, DRAWS), 0.0)


def _first_visit(draft: Draft, site: Site) -> list[Quantity]:
    """Return what treating roots takes now; the cutting is done where it was jetted today."""
    if draft.kind is not RemedyKind.CLEAN_AND_TREAT_ROOTS:
        return []
    items = ["root_treatment"] if site.job.passes else ["jetting_visit", "root_treatment"]
    return [Quantity(item=item, quantity=1.0) for item in items]


def _renewals(kind: RemedyKind, prices: Prices) -> float:
    """Return today's payment plus renewals, less what is left of the last at the horizon.

    The value left is in proportion to the life left (NIST Handbook 135's residual value).
    """
    life = _life(kind)
    if life is None:
        return 1.0
    rate, horizon = prices.discount_rate, float(prices.horizon_years)
    left = (-horizon % life) / life
    return 1.0 + every(rate, life, horizon - 1e-6) - left * spv(rate, horizon)


def _life(kind: RemedyKind) -> float | None:
    years = settings()["lives"].get(kind.value)
    return float(years) if years is not None else None


# ------------------------------------------------------------------ years to come
def _upkeep(draft: Draft, site: Site, prices: Prices) -> tuple[Draws, tuple[str, ...]]:
    """Return the yearly cost of what the option leaves, and the assumptions behind it."""
    table = settings()["upkeep"]
    left = [f for f in site.faults if f.finding.id not in draft.fixes]
    total: Draws = np.zeros(DRAWS)
    visits: Draws = np.zeros(DRAWS)
    said: list[str] = []
    visit, call = prices.draws("jetting_visit"), prices.draws("stoppage_call")
    clogs = [f for f in left if f.finding.facts.feature in _STOPPERS]
    part = _left_share(draft, len(clogs), site)
    if site.stoppages is not None and part > 0.0:
        waits = _waits(site)
        if draft.kind is RemedyKind.CLEAN_AND_TREAT_ROOTS:
            every, share = _treatment()
            visits = np.asarray(1.0 / every, dtype=np.float64)
            total += prices.draws("root_treatment") / every + share * RISK * call / waits
            said.append(f"treated every 1 to 4 years ({table['root_treatment_source']})")
            said.append(f"0.4 to 1 of the stoppages ({table['stoppage_share_source']})")
        else:
            visits = np.asarray(part / waits, dtype=np.float64)
            total += visits * RISK * call
            said.append(
                "cleaned when the chance of a stoppage reaches one in five, "
                f"{part * 100.0:.0f} % as often as today"
            )
    if any(f.finding.facts.feature in _WATER and (f.grade.service or 0) >= 3 for f in left):
        visits = np.maximum(visits, 1.0 / float(table["sag_visit_years"]))
        said.append(f"low spot flushed every 2 years ({table['sag_visit_source']})")
    if draft.kind is RemedyKind.KEEP_MAINTAINING and site.stoppages is None:
        total += prices.draws("camera_visit") / float(table["look_again_years"])
        said.append(f"looked at again every 5 years ({table['look_again_source']})")
    return total + visits * visit, tuple(said)


def _left_share(draft: Draft, clogs: int, site: Site) -> float:
    """Return how much of today's clogging an option leaves, 0 to 1."""
    if not draft.fixes:
        return 1.0
    left = clogs / max(1, _clog_count(site))
    if draft.kind in {RemedyKind.SPOT_DIG, RemedyKind.SECTIONAL_LINER}:
        return max(left, float(settings()["upkeep"]["left_by_spot_repair"]))
    return left


def _treatment() -> tuple[Draws, Draws]:
    """Draw the years between root treatments and the share of stoppages they leave."""
    rng = np.random.default_rng([_SEED, 1])
    low, typical, high = settings()["upkeep"]["root_treatment_years"]
    least, most = settings()["upkeep"]["stoppage_share_if_treated"]
    return rng.triangular(low, typical, high, DRAWS), rng.uniform(least, most, DRAWS)


def _waits(site: Site) -> Draws:
    """Draw the time to the next clearing, in years, from the belief about stoppages."""
    rate = site.stoppages
    if rate is None:
        return np.full(DRAWS, np.inf)
    rng = np.random.default_rng(_SEED)
    rates = rng.gamma(rate.events, 1.0 / rate.exposure, DRAWS)
    waits = (-np.log(1.0 - RISK) / np.maximum(rates, 1e-9)) ** (1.0 / rate.shape)
    return np.asarray(np.clip(waits, 0.1, 25.0), dtype=np.float64)


def _clog_count(site: Site) -> int:
    return sum(f.finding.facts.feature in _STOPPERS for f in site.faults)


def _failure(draft: Draft, site: Site, prices: Prices) -> tuple[Draws, int | None]:
    """Return the yearly cost of a failure of what is left, and the grade it goes by."""
    left: list[AppraisedFinding] = [f for f in site.faults if f.finding.id not in draft.fixes]
    grade = worst_of([f.grade.structure for f in left])
    if grade is None:
        return np.zeros(DRAWS), None
    chance = float(settings()["failure"][str(grade)])
    return chance * prices.draws("emergency_repair"), grade


# ------------------------------------------------------------------ in words
def _money(draws: Draws) -> Estimate:
    low, value, high = (float(v) for v in np.percentile(draws, [2.5, 50.0, 97.5]))
    return Estimate.within(round(value, 2), round(low, 2), round(high, 2))


def _lines(draft: Draft, prices: Prices) -> tuple[CostLine, ...]:
    return tuple(_line(each, prices) for each in draft.quantities)


def _line(each: Quantity, prices: Prices) -> CostLine:
    price = prices.by_item[each.item]
    low, value, high = np.percentile(_amount(each) * prices.draws(each.item), [2.5, 50.0, 97.5])
    return CostLine(
        item=each.item.replace("_", " ") + (f" ({each.because})" if each.because else ""),
        quantity=round(each.quantity, 2),
        unit=price.unit,
        price=price.typical,
        cost_low=round(float(low), 2),
        cost=round(float(value), 2),
        cost_high=round(float(high), 2),
        source=price.source,
    )


def _growth() -> float:
    return float(settings()["failure"]["growth"])


def _yearly_lines(
    upkeep: Draws, factor: float, risk: Draws, ageing: float, grade: int | None
) -> tuple[CostLine, ...]:
    source = str(settings()["failure"]["source"])
    chance = f"chance of failure at structure grade {grade}, a year, growing as it ages"
    rows = [
        ("upkeep of what is left, a year", upkeep, factor, "see the assumptions"),
        (chance, risk, ageing, source),
    ]
    return tuple(
        CostLine(
            item=item,
            quantity=round(factor, 2),
            unit="years, present value",
            price=round(float(np.median(draws)), 2),
            cost_low=round(float(np.percentile(draws, 2.5)) * factor, 2),
            cost=round(float(np.median(draws)) * factor, 2),
            cost_high=round(float(np.percentile(draws, 97.5)) * factor, 2),
            source=source,
            year_of_cost=1.0,
        )
        for item, draws, factor, source in rows
        if float(np.max(draws)) > 0.0
    )


def _terms(prices: Prices) -> tuple[str, ...]:
    return (
        f"{prices.horizon_years} years at {prices.discount_rate * 100.0:g} % a year, "
        "prices of today, no inflation",
    )
