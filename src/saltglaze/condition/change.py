"""What has changed since the last visit, finding by finding.

Former findings are laid over today's (see :mod:`saltglaze.condition.alignment`),
then paired one to one so that the sum of squared misfits in station and clock is
least, where leaving two unpaired costs more than a 99 % misfit. The clock is turned
over left to right where the two visits looked in opposite directions.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from scipy.optimize import linear_sum_assignment

from saltglaze.condition.alignment import OWN_SD_M, Alignment, Anchor, align
from saltglaze.condition.plain import plain_name
from saltglaze.condition.severity import compare_facts, family
from saltglaze.condition.wording import US, UnitWords
from saltglaze.model.appraisal import AppraisedFinding, Change, ChangeKind, NotSeen, Reason
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, Feature, Finding
from saltglaze.model.job import History, PriorVisit

_NOT_COMPARED = {Feature.START, Feature.END, Feature.LENS_FOULED}
_AS_BUILT = {
    Feature.BEND,
    Feature.CLEAN_OUT,
    Feature.DIAMETER_CHANGE,
    Feature.MATERIAL_CHANGE,
}
"""Marks that help to lay two visits over each other, but are no news themselves."""
_COMES_AND_GOES = {
    Feature.ROOTS,
    Feature.ATTACHED_DEPOSITS,
    Feature.SETTLED_DEPOSITS,
    Feature.OBSTRUCTION,
    Feature.STANDING_WATER,
    Feature.CAMERA_UNDER_WATER,
    Feature.VERMIN,
    Feature.INFILTRATION,
    Feature.COULD_NOT_PASS,
}
_UNPAIRED_COST = 9.21
"""99 % point of chi-square with two degrees of freedom: station and clock."""
_MISSED_BY_PEOPLE = (
    "people miss a quarter to a third of faults in film (Water e-Journal 5(3) 2020, "
    "authors with an interest; Dirksen et al. 2013, from memory)"
)


def compare(
    findings: Sequence[AppraisedFinding],
    history: History,
    length_m: Estimate | None = None,
    not_seen: Sequence[NotSeen] = (),
    *,
    words: UnitWords = US,
) -> tuple[Change, ...]:
    """Compare today's findings with the last visit that recorded any.

    ``length_m`` is how far the line was seen today; a former finding beyond it, or
    inside a stretch that could not be judged, is ``not_seen`` and not ``gone``.
    Empty where no former visit recorded findings.
    """
    visit = last_visit(history)
    if visit is None:
        return ()
    today = [f for f in findings if f.finding.stands and _compared(f.finding)]
    before = [f for f in visit.findings if f.stands and _compared(f)]
    laid = align(
        [a for f in before if (a := _prior_anchor(f))], [a for f in today if (a := _anchor(f))]
    )
    pairs = _pair(before, today, laid)
    told = [(i, j) for i, j in pairs if _is_news(today[j].finding)]
    matched = [_matched(before[i], today[j], laid, visit, words) for i, j in told]
    lost = [f for i, f in enumerate(before) if i not in {p[0] for p in pairs} and _is_news(f)]
    fresh = [
        f for j, f in enumerate(today) if j not in {p[1] for p in pairs} and _is_news(f.finding)
    ]
    missing = [_missing(f, laid, visit, length_m, not_seen, words) for f in lost]
    return (*matched, *(_new(f, visit, words) for f in fresh), *missing)


def last_visit(history: History) -> PriorVisit | None:
    """Return the latest former visit that recorded findings."""
    visits = [visit for visit in history.visits if visit.findings]
    return max(visits, key=lambda visit: visit.date) if visits else None


def _is_news(finding: Finding) -> bool:
    return finding.facts.feature not in _AS_BUILT


def _compared(finding: Finding) -> bool:
    return finding.facts.feature not in _NOT_COMPARED


def _anchor(found: AppraisedFinding) -> Anchor | None:
    return _as_anchor(found.finding, found.place.station_m)


def _prior_anchor(finding: Finding) -> Anchor | None:
    return _as_anchor(finding, finding.station_m)


def _as_anchor(finding: Finding, station_m: Estimate | None) -> Anchor | None:
    if station_m is None or station_m.value is None:
        return None
    return Anchor(family(finding.facts.feature), station_m.value, station_m.spread)


def _pair(
    before: list[Finding], today: list[AppraisedFinding], laid: Alignment
) -> list[tuple[int, int]]:
    if not before or not today:
        return []
    cost = np.array([[_misfit(f, g, laid) for g in today] for f in before])
    rows, columns = linear_sum_assignment(np.minimum(cost, _UNPAIRED_COST))
    return [
        (int(i), int(j)) for i, j in zip(rows, columns, strict=True) if cost[i, j] < _UNPAIRED_COST
    ]


def _misfit(before: Finding, today: AppraisedFinding, laid: Alignment) -> float:
    """Chi-square of a pair in station and clock, a little more for a changed name."""
    if family(before.facts.feature) != family(today.finding.facts.feature):
        return _UNPAIRED_COST * 10.0
    renamed = 0.0 if before.facts.feature is today.finding.facts.feature else 1.0
    was, is_now = before.station_m, today.place.station_m
    if was is None or was.value is None or is_now.value is None:
        return _UNPAIRED_COST * 0.9 + renamed
    variance = (was.spread * laid.scale) ** 2 + is_now.spread**2
    variance += laid.sd(was.value) ** 2 + OWN_SD_M**2
    return (
        (is_now.value - laid.now(was.value)) ** 2 / variance
        + _clock_misfit(before.facts.clock, today.place.clock)
        + renamed
    )


def _clock_misfit(was: Clock | None, is_now: Clock | None) -> float:
    if was is None or is_now is None or was.all_round or is_now.all_round:
        return 0.0
    turned = was.view is not None and is_now.view is not None and was.view != is_now.view
    middle_was = -_middle_h(was) if turned else _middle_h(was)
    gap = (_middle_h(is_now) - middle_was + 6.0) % 12.0 - 6.0
    return gap**2 / (was.sd_h**2 + is_now.sd_h**2 + 0.5**2)


def _middle_h(clock: Clock) -> float:
    span = 0.0 if clock.to_h is None else (clock.to_h - clock.from_h) % 12.0
    return clock.from_h + span / 2.0


def _matched(
    was: Finding, found: AppraisedFinding, laid: Alignment, visit: PriorVisit, words: UnitWords
) -> Change:
    outcome = compare_facts(was.facts, found.finding.facts)
    kind = {1: ChangeKind.WORSE, -1: ChangeKind.BETTER}.get(outcome.sign or 0, ChangeKind.SAME)
    how = {ChangeKind.WORSE: "worse", ChangeKind.BETTER: "better"}.get(kind, "still there")
    grows = outcome.sign is None and found.grade.worst is not None
    unsaid = "; whether it has grown cannot be told" if grows else ""
    name, where = plain_name(found.finding.facts), words.station(found.place.station_m)
    return Change(
        kind=kind,
        finding_id=found.finding.id,
        prior_id=was.id,
        prior_station_m=was.station_m,
        station_shift_m=_shift(was, found),
        plain=f"{_capital(name)}, {where}: {how} since {visit.date:%B %Y}{unsaid}.",
        reasons=(
            Reason(because=outcome.because, source=visit.source or "the last record"),
            _laid_reason(laid, words),
        ),
    )


def _shift(was: Finding, found: AppraisedFinding) -> float | None:
    if was.station_m is None or was.station_m.value is None or found.place.station_m.value is None:
        return None
    return round(found.place.station_m.value - was.station_m.value, 3)


def _laid_reason(laid: Alignment, words: UnitWords) -> Reason:
    return Reason(
        because=f"the two visits were laid over each other by {laid.agreeing} like places: "
        f"shift {words.depth(laid.shift_m)}, scale {laid.scale:.3f}",
        rule="same kind of fault, station and clock within their margins",
    )


def _new(found: AppraisedFinding, visit: PriorVisit, words: UnitWords) -> Change:
    name, where = plain_name(found.finding.facts), words.station(found.place.station_m)
    return Change(
        kind=ChangeKind.NEW,
        finding_id=found.finding.id,
        plain=f"{_capital(name)}, {where}: not in the record of {visit.date:%B %Y}"
        f"{_how_far(found, visit, words)}.",
        reasons=(
            Reason(
                because="nothing like it was recorded near there",
                rule="a fault missing from an old record may have been missed then, not absent",
                source=_MISSED_BY_PEOPLE,
            ),
        ),
    )


def _how_far(found: AppraisedFinding, visit: PriorVisit, words: UnitWords) -> str:
    """Say so where the former visit did not come as far as a finding."""
    went_m, at_m = visit.line_length_m, found.place.station_m
    if went_m is None or went_m.value is None or at_m.value is None:
        return ""
    if at_m.value - went_m.value <= 2.0 * math.hypot(went_m.spread, at_m.spread):
        return ""
    return f", which went only {words.length(went_m.value)}"


def _missing(
    was: Finding,
    laid: Alignment,
    visit: PriorVisit,
    length_m: Estimate | None,
    not_seen: Sequence[NotSeen],
    words: UnitWords,
) -> Change:
    now_m = _expected_m(was, laid)
    unseen = _why_unseen(now_m, length_m, not_seen, words)
    name = _capital(plain_name(was.facts))
    where = words.station(now_m)
    if unseen:
        plain = f"{name}, seen in {visit.date:%B %Y} {where}: not seen this time, because {unseen}."
        kind = ChangeKind.NOT_SEEN
    else:
        plain = f"{name}, seen in {visit.date:%B %Y} {where}: not found this time; {_gone(was)}."
        kind = ChangeKind.GONE
    return Change(
        kind=kind,
        prior_id=was.id,
        prior_station_m=was.station_m,
        plain=plain,
        reasons=(_laid_reason(laid, words),),
    )


def _expected_m(was: Finding, laid: Alignment) -> Estimate:
    if was.station_m is None or was.station_m.value is None:
        return Estimate.unknown("the last record gives no station")
    sd_m = float(np.hypot(was.station_m.spread, laid.sd(was.station_m.value)))
    return Estimate.of(laid.now(was.station_m.value), sd_m)


def _why_unseen(
    now_m: Estimate,
    length_m: Estimate | None,
    not_seen: Sequence[NotSeen],
    words: UnitWords,
) -> str:
    if now_m.value is None:
        return "the last record does not say where it was"
    if length_m is not None and length_m.value is not None and now_m.value > length_m.interval95[1]:
        return f"the camera went only {words.length(length_m.value)}"
    for stretch in not_seen:
        if _inside(now_m.value, stretch):
            return stretch.why
    return ""


def _inside(station_m: float, stretch: NotSeen) -> bool:
    if stretch.from_m is None or stretch.from_m.value is None:
        return False
    end_m = stretch.to_m.value if stretch.to_m is not None else None
    return stretch.from_m.value <= station_m and (end_m is None or station_m <= end_m)


def _gone(was: Finding) -> str:
    if was.facts.feature in _COMES_AND_GOES:
        return "cleared away, or missed"
    return "such a thing does not heal: repaired, hidden, or missed"


def _capital(text: str) -> str:
    return text[0].upper() + text[1:]
