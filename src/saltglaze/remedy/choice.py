"""Which way to take, by when, and what would change the advice."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np

from saltglaze.condition.grading import worst_of
from saltglaze.condition.plain import plain_name
from saltglaze.condition.wording import US, UnitWords
from saltglaze.model.appraisal import (
    AppraisedFinding,
    Cleaning,
    Drainage,
    LineSegment,
    Ownership,
    Position,
    Reason,
    Remedy,
    RemedyChoice,
    RemedyKind,
)
from saltglaze.model.finding import Certainty
from saltglaze.model.job import Job
from saltglaze.remedy.costing import Costed, cost
from saltglaze.remedy.options import drafts
from saltglaze.remedy.prices import Prices, prices_for
from saltglaze.remedy.site import Site
from saltglaze.remedy.why_broken import why_broken

_URGENCY: dict[int, tuple[str, int]] = {
    5: ("at once", 14),
    4: ("within weeks", 90),
    3: ("within a year", 365),
    2: ("within years", 5 * 365),
    1: ("when convenient", 10 * 365),
}
"""Words and days by the worst grade: our own rule."""

_NEARLY_EVEN = 0.35


def choose(
    job: Job,
    segments: Sequence[LineSegment],
    findings: Sequence[AppraisedFinding],
    position: Position,
    drainage: Drainage | None = None,
    cleaning: Cleaning | None = None,
    ownership: Ownership | None = None,
    *,
    words: UnitWords = US,
) -> RemedyChoice:
    """Judge, size, cost and rank the seven ways; choose one, or say why none.

    Findings on the authority's part, where a cited rule says so, are left out of the
    owner's options and named. Unknown length leaves runs without a cost.
    """
    site = Site(job, segments, findings, position, ownership)
    prices = prices_for(job.prices, job.history.services)
    costed = [cost(draft, site, prices, words) for draft in drafts(site, words)]
    ranked = _ranked(costed, site)
    chosen = _chosen(ranked) if site.standing else None
    urgency, by = _urgency(job, site, chosen, cleaning)
    return RemedyChoice(
        currency=prices.currency,
        price_list=prices.name,
        horizon_years=prices.horizon_years,
        options=tuple(option.remedy for option in ranked),
        chosen=chosen.remedy.kind if chosen else None,
        plain=_plain(chosen, urgency, by, site, prices, words) + _even(ranked, chosen, site),
        by=by,
        urgency=urgency,
        would_change_it=_would_change(ranked, chosen, site, drainage, prices, words),
        reasons=_reasons(ranked, chosen, site, prices, words),
    )


# ------------------------------------------------------------------ the order
def _ranked(costed: Sequence[Costed], site: Site) -> list[Costed]:
    """Order by tier, then by median whole-life cost; number them."""
    order = sorted(costed, key=lambda option: (_tier(option.remedy, site), _price(option)))
    ranks = iter(range(1, len(order) + 1))
    return [_numbered(option, next(ranks)) for option in order]


def _numbered(option: Costed, rank: int) -> Costed:
    number = rank if option.remedy.feasible is not False else None
    return Costed(option.remedy.model_copy(update={"rank": number}), option.whole_life)


def _tier(remedy: Remedy, site: Site) -> int:
    """Return 0 for ways that deal with all that must be fixed, up to 3 for none at all."""
    if remedy.feasible is False:
        return 3
    must = {found.finding.id for found in site.must}
    if must - set(remedy.fixes):
        return 2
    return 0 if remedy.feasible else 1


def _price(option: Costed) -> float:
    whole = option.remedy.whole_life_cost
    return whole.value if whole is not None and whole.value is not None else float("inf")


def _chosen(ranked: Sequence[Costed]) -> Costed | None:
    first = ranked[0] if ranked else None
    return first if first is not None and first.remedy.feasible is not False else None


# ------------------------------------------------------------------ by when
def _urgency(
    job: Job, site: Site, chosen: Costed | None, cleaning: Cleaning | None
) -> tuple[str, dt.date | None]:
    worst = worst_of([found.grade.worst for found in site.faults])
    if worst is None:
        return "when convenient", None
    word, days = _URGENCY[worst]
    by = job.date + dt.timedelta(days=days) if job.date is not None else None
    upkeep = {RemedyKind.KEEP_MAINTAINING, RemedyKind.CLEAN_AND_TREAT_ROOTS}
    due = cleaning.advice.due if cleaning is not None else None
    if chosen is not None and chosen.remedy.kind in upkeep and due is not None:
        by = min(by, due) if by is not None else due
    return word, by


# ------------------------------------------------------------------ in words
def _plain(
    chosen: Costed | None,
    urgency: str,
    by: dt.date | None,
    site: Site,
    prices: Prices,
    words: UnitWords,
) -> str:
    if not site.standing:
        return "Nothing was recorded of this line, so nothing can be advised."
    if chosen is None:
        return "None of the usual ways fits this line as it was found; see the obstacles of each."
    remedy = chosen.remedy
    when = f", {urgency}" + (f" (by {words.date(by)})" if by is not None else "")
    if not site.faults:
        return f"No repair is called for. {_cost_words(remedy, prices)}".strip()
    sure = "" if remedy.feasible else " It must first be made sure that it can be done."
    left = _left_words(remedy, site)
    return f"{remedy.title}{when}. {_cost_words(remedy, prices)}{sure}{left}".strip()


def _cost_words(remedy: Remedy, prices: Prices) -> str:
    first, whole = remedy.first_cost, remedy.whole_life_cost
    if first is None or whole is None or first.value is None or whole.value is None:
        because = first.unknown_because if first is not None else "it was not sized"
        return f"The cost is not known: {because}."
    now = f"About {_amount(first.value)} {prices.currency} now"
    if first.value < 1.0:
        now = "Nothing to pay now"
    low, high = whole.interval95
    return (
        f"{now}; over {prices.horizon_years} years about {_amount(whole.value)} "
        f"({_amount(low)} to {_amount(high)}) {prices.currency} in today's money."
    )


def _amount(money: float) -> str:
    if money < 100.0:
        return f"{money:,.0f}"
    digits = len(f"{money:.0f}") - 2
    return f"{round(money / 10**digits) * 10**digits:,.0f}"


def _even(ranked: Sequence[Costed], chosen: Costed | None, site: Site) -> str:
    """Say so where the next best may well be cheaper."""
    rival = _rival(ranked, chosen, site)
    if chosen is None or rival is None or not site.faults:
        return ""
    if _share_cheaper(rival, chosen) < _NEARLY_EVEN:
        return ""
    return f" Over the years it is about even with this: {rival.remedy.title.lower()}."


def _share_cheaper(rival: Costed, chosen: Costed) -> float:
    """Return in what share of the draws a rival costs less."""
    if rival.whole_life is None or chosen.whole_life is None:
        return 0.0
    return float(np.mean(rival.whole_life < chosen.whole_life))


def _left_words(remedy: Remedy, site: Site) -> str:
    left = [f for f in site.worth if f.finding.id in remedy.leaves]
    names = list(dict.fromkeys(plain_name(f.finding.facts) for f in left))
    if not names:
        return ""
    more = f", and {len(names) - 3} more" if len(names) > 3 else ""
    return f" It does not mend for good: {', '.join(names[:3])}{more}."


def _would_change(
    ranked: Sequence[Costed],
    chosen: Costed | None,
    site: Site,
    drainage: Drainage | None,
    prices: Prices,
    words: UnitWords,
) -> tuple[str, ...]:
    changes = []
    rival = _rival(ranked, chosen, site)
    if chosen is not None and rival is not None:
        changes.append(_closeness(chosen, rival))
    if prices.from_default:
        count = len(prices.from_default)
        changes.append(f"your own prices: {count} items are default planning values")
    if not site.mean_depth_m.known:
        changes.append("the depth: it was not taken, and digging costs go with it")
    if not site.length_m.known:
        changes.append("the length of the line: without it whole runs cannot be priced")
    elif not site.end_seen:
        changes.append("the far end of the line: it was not seen, so a whole run may cost more")
    changes += [_doubt(f, words) for f in site.worth if _doubtful(f)][:3]
    if drainage is not None and drainage.drains is None:
        changes.append("the fall of the line: a stretch that falls the wrong way must be dug")
    if prices.mixed_currency:
        changes.append("your price list is in another currency than the defaults that fill it up")
    return tuple(changes)


def _rival(ranked: Sequence[Costed], chosen: Costed | None, site: Site) -> Costed | None:
    if chosen is None:
        return None
    tier = _tier(chosen.remedy, site)
    others = [o for o in ranked if o is not chosen and o.whole_life is not None]
    return next((o for o in others if _tier(o.remedy, site) == tier), None)


def _closeness(chosen: Costed, rival: Costed) -> str:
    if chosen.whole_life is None or rival.whole_life is None:
        return f"the cost of the next best: {rival.remedy.title.lower()}"
    cheaper = _share_cheaper(rival, chosen)
    gap = float(np.median(rival.whole_life - chosen.whole_life))
    return (
        f'prices: "{rival.remedy.title.lower()}" comes out cheaper in {cheaper * 100.0:.0f} % of '
        f"the price range; it would lead if it cost {_amount(abs(gap))} less over the years"
    )


def _doubtful(found: AppraisedFinding) -> bool:
    supposed = found.finding.facts.certainty is Certainty.SUPPOSED
    return supposed or "structure" in found.grade.could_be


def _doubt(found: AppraisedFinding, words: UnitWords) -> str:
    name, where = plain_name(found.finding.facts), words.station(found.place.station_m)
    if found.finding.facts.certainty is Certainty.SUPPOSED:
        return f"a second look at {name}, {where}: it is only supposed"
    low, high = found.grade.could_be["structure"]
    return f"measuring {name}, {where}: its structure grade could be {low} to {high}"


def _reasons(
    ranked: Sequence[Costed],
    chosen: Costed | None,
    site: Site,
    prices: Prices,
    words: UnitWords,
) -> tuple[Reason, ...]:
    reasons = [
        Reason(
            because=f"{len(site.must)} finding{'s' if len(site.must) != 1 else ''} that must be "
            f"fixed, {len(site.worth)} of grade 3 or worse in all",
            rule="structure grade 4 or 5 must be fixed; ways that leave such a finding come last",
            source="our own rule",
        ),
        Reason(
            because="of the ways that deal with what must be fixed, the one that costs least "
            "over the years comes first",
            rule="present value over the horizon, median of 2,000 draws of prices and waits",
            source="factors of NIST Handbook 135",
        ),
    ]
    if chosen is not None and chosen.whole_life is not None:
        reasons.append(_ranking_reason(ranked, chosen, site))
    if site.public:
        names = ", ".join(
            f"{plain_name(f.finding.facts)} {words.station(f.place.station_m)}"
            for f in site.standing
            if f.finding.id in site.public
        )
        because = f"on the authority's part, to be reported to it: {names}"
        reasons.append(Reason(because=because, rule="local ownership rule as cited"))
    return (*reasons, *why_broken(site, words))


def _ranking_reason(ranked: Sequence[Costed], chosen: Costed, site: Site) -> Reason:
    tier = _tier(chosen.remedy, site)
    peers = [
        o.whole_life
        for o in ranked
        if o is not chosen and o.whole_life is not None and _tier(o.remedy, site) == tier
    ]
    if not peers or chosen.whole_life is None:
        return Reason(because="no other way that deals with it could be costed")
    least = np.min(np.array(peers), axis=0)
    share = float(np.mean(chosen.whole_life <= least))
    return Reason(because=f"it is the cheapest in {share * 100.0:.0f} % of the draws")
