"""When to come back: from the line's own history, leaning on a stated prior.

A wait runs from one clearing (stoppage cleared, cleaning, root treatment) to the
next; it either ended in a stoppage or was cut short. The advice is the time at which
the chance of a stoppage reaches one in five.

The prior for a line with roots rests on the one figure found: small pipes are
usually cleared of roots every year or every other year (Randrup et al. 2001, J.
Infrastructure Systems 7:26-31, confirmed as habit, not as optimum). Its weight is
one stoppage. Without roots the prior is one half of a stoppage in two and
a half years, our own guess, used only where there is some history. Shape 2 for roots
(they grow back, so the risk rises with time), 1 otherwise: our own choice.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Sequence

from saltglaze.cleaning.events import PowerLaw, Rate, fit_power_law
from saltglaze.model.base import Record
from saltglaze.model.job import Service

RISK = 0.20
YEAR_DAYS = 365.25
_CLEARS = {"stoppage", "cleaning", "root_treatment"}
_ROOT_HABIT_YEARS = 1.5
_ROOT_PRIOR_EVENTS = 1.0
_ROOT_SHAPE = 2.0
_OTHER_PRIOR = Rate(events=0.5, exposure=2.5, shape=1.0)
_TREND_FROM = 4


class Waits(Record):
    """Waits in years between clearings, and which ended in a stoppage."""

    years: tuple[float, ...] = ()
    stopped: tuple[bool, ...] = ()
    last_clear: dt.date | None = None


def waits(services: Sequence[Service], today: dt.date | None) -> Waits:
    """Return the waits told by the history, the last one running until ``today``."""
    clears = sorted((s for s in services if s.kind in _CLEARS), key=lambda s: s.date)
    if today is not None:
        clears = [service for service in clears if service.date <= today]
    years, stopped = [], []
    for before, after in itertools.pairwise(clears):
        years.append(_years(before.date, after.date))
        stopped.append(after.kind == "stoppage")
    if clears and today is not None and today > clears[-1].date:
        years.append(_years(clears[-1].date, today))
        stopped.append(False)
    kept = [(y, s) for y, s in zip(years, stopped, strict=True) if y > 0.0]
    return Waits(
        years=tuple(y for y, _ in kept),
        stopped=tuple(s for _, s in kept),
        last_clear=clears[-1].date if clears else None,
    )


def root_prior() -> Rate:
    """Return the prior belief for a line with roots: risk one in five at the habit."""
    ratio = (1.0 - RISK) ** (-1.0 / _ROOT_PRIOR_EVENTS) - 1.0
    return Rate(_ROOT_PRIOR_EVENTS, _ROOT_HABIT_YEARS**_ROOT_SHAPE / ratio, _ROOT_SHAPE)


def belief(history: Waits, *, roots: bool) -> Rate | None:
    """Return the belief about stoppages, or ``None`` with neither roots nor history."""
    if not roots and not any(history.stopped):
        return None
    prior = root_prior() if roots else _OTHER_PRIOR
    return prior.after(history.years, history.stopped)


def trend(services: Sequence[Service], today: dt.date | None) -> PowerLaw | None:
    """Return how stoppages change over the years, with four or more of them.

    Time starts at the earliest service known, which does not count as an event.
    """
    if today is None or not services:
        return None
    start = min(service.date for service in services)
    times = [_years(start, s.date) for s in services if s.kind == "stoppage" and s.date > start]
    inside = [time for time in times if time <= _years(start, today)]
    if len(inside) < _TREND_FROM:
        return None
    return fit_power_law(inside, _years(start, today), unbiased=True)


def _years(start: dt.date, end: dt.date) -> float:
    return (end - start).days / YEAR_DAYS
