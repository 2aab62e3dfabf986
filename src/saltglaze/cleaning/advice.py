"""All about cleaning: the passes made, the pressure allowed, when to come back."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence

from saltglaze.cleaning.events import PowerLaw, Rate
from saltglaze.cleaning.limits import JetLimit, jet_limit
from saltglaze.cleaning.passes import review, with_flows
from saltglaze.cleaning.regrowth import RISK, YEAR_DAYS, Waits, belief, trend, waits
from saltglaze.cleaning.rod import rod_checks
from saltglaze.condition.codes import BEND_ANGLE_DEG
from saltglaze.condition.grading import material_group, worst_of
from saltglaze.condition.tables import read_table
from saltglaze.condition.wording import US, UnitWords
from saltglaze.model.appraisal import (
    AppraisedFinding,
    Cleaning,
    LineSegment,
    Reason,
    ReturnAdvice,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.job import Job
from saltglaze.model.line import Material
from saltglaze.model.run import JetPass

_MODERATE = 3


def appraise_cleaning(
    job: Job,
    segments: Sequence[LineSegment],
    findings: Sequence[AppraisedFinding],
    *,
    words: UnitWords = US,
) -> Cleaning:
    """Review the jetting passes and say when to come back.

    The interval is unknown, with the reason, where the line has neither roots nor a
    history of stoppages.
    """
    standing = [found for found in findings if found.finding.stands]
    bends = _bends(standing)
    passes = tuple(
        review(
            jet,
            _pass_limit(jet, job, segments, standing),
            bends,
            plastic=_plastic(jet, segments),
            words=words,
        )
        for jet in with_flows(job.passes)
    )
    line_limit = _strictest(job, segments, standing)
    return Cleaning(
        passes=passes,
        advice=_advice(job, standing, line_limit),
        cautions=_cautions(job, segments, standing, line_limit),
        checks=rod_checks(standing, segments, bends, words),
    )


# ------------------------------------------------------------------ when to come back
def stoppage_belief(job: Job, findings: Sequence[AppraisedFinding]) -> Rate | None:
    """Return the belief about stoppages of this line, or ``None`` without grounds."""
    return belief(waits(job.history.services, job.date), roots=_has_roots(findings))


def _advice(job: Job, findings: Sequence[AppraisedFinding], limit: JetLimit) -> ReturnAdvice:
    history = waits(job.history.services, job.date)
    rate = stoppage_belief(job, findings)
    if rate is None and _has_sag(findings):
        return _sag_advice(job, limit)
    if rate is None:
        because = "no roots were seen and no stoppage is on record, so there is nothing to go by"
        return ReturnAdvice(
            interval_years=Estimate.unknown(because),
            plain=f"No return visit can be set: {because}.",
            jet_pressure_limit_pa=limit.pressure_pa,
            reasons=limit.reasons,
        )
    value = rate.time_to_risk(RISK)
    low, high = rate.time_to_risk_interval(RISK)
    interval = Estimate.within(value, min(low, value), max(high, value))
    due = _due(job, history, value)
    faster = trend(job.history.services, job.date)
    return ReturnAdvice(
        interval_years=interval,
        due=due,
        plain=_plain(interval, due, history, faster),
        jet_pressure_limit_pa=limit.pressure_pa,
        reasons=(*_reasons(history, findings, rate), *_trend_reason(faster), *limit.reasons),
    )


def _sag_advice(job: Job, limit: JetLimit) -> ReturnAdvice:
    """Return the habit for a moderate low spot, which is all there is to go by."""
    interval = Estimate.within(3.0, 2.0, 5.0)
    due = job.date + dt.timedelta(days=round(3.0 * YEAR_DAYS)) if job.date else None
    plain = "Look at the low spot again in 2 to 5 years; no stoppage is on record"
    return ReturnAdvice(
        interval_years=interval,
        due=due,
        plain=f"{plain}, say by {due:%B %Y}." if due else f"{plain}.",
        jet_pressure_limit_pa=limit.pressure_pa,
        reasons=(
            Reason(
                because="water stands to a quarter of the pipe or more, or was not measured",
                rule="moderate sags are looked at every 2 to 5 years",
                source="Seattle Public Utilities, side sewer maintenance page (confirmed)",
            ),
            *limit.reasons,
        ),
    )


def _due(job: Job, history: Waits, years: float) -> dt.date | None:
    """Return the due date: counted from today if it was jetted today, else the last clearing."""
    cleared_today = bool(job.passes) or history.last_clear == job.date
    start = job.date if cleared_today or history.last_clear is None else history.last_clear
    if start is None:
        return None
    due = start + dt.timedelta(days=round(years * YEAR_DAYS))
    return max(due, job.date) if job.date is not None else due


def _plain(interval: Estimate, due: dt.date | None, history: Waits, faster: PowerLaw | None) -> str:
    low, high = interval.interval95
    text = f"Clean it again after about {_years(interval.value or 0.0)}"
    text += f" ({_span(low, high)} is possible)"
    if due is not None:
        text += f", by {due:%B %Y}"
    stops = sum(history.stopped)
    if stops:
        text += f"; {stops} of the {len(history.years)} waits on record ended in a stoppage"
    else:
        text += "; it goes by habit with roots, as no stoppage after a clearing is on record"
    if faster is not None and faster.shape_low95 > 1.0:
        text += ", which come faster and faster"
    return text + "."


def _span(low: float, high: float) -> str:
    """Say a span in one unit."""
    if high < 3.0:
        return f"{max(1, round(low * 12.0))} to {round(high * 12.0)} months"
    return f"{low:.1f} to {high:.1f} years" if high < 4.0 else f"{low:.0f} to {high:.0f} years"


def _years(years: float) -> str:
    if years < 1.75:
        months = max(1, round(years * 12.0))
        return f"{months} month{'s' if months > 1 else ''}"
    return f"{years:.1f} years" if years < 4.0 else f"{years:.0f} years"


def _reasons(
    history: Waits, findings: Sequence[AppraisedFinding], rate: Rate
) -> tuple[Reason, ...]:
    rule = "come back when the chance of a stoppage reaches one in five"
    seen = Reason(
        because=f"{len(history.years)} waits between clearings on record, "
        f"{sum(history.stopped)} ended in a stoppage; the chance of one within a year of clearing "
        f"is about {(1.0 - rate.survival(1.0)) * 100.0:.0f} %",
        rule=rule,
        source="gamma-Poisson with a stated prior; the risk of one in five is our own choice",
    )
    if not _has_roots(findings):
        prior = "no roots seen: a weak prior, half a stoppage in two and a half years"
        return seen, Reason(because=prior, source="our own guess")
    prior = "roots seen: small pipes are usually cleared every year or every other year"
    source = "Randrup et al. 2001, J. Infrastructure Systems 7:26-31 (habit, not optimum)"
    return seen, Reason(because=prior, source=source)


def _trend_reason(faster: PowerLaw | None) -> tuple[Reason, ...]:
    if faster is None:
        return ()
    span = f"{faster.shape:.1f} (95 % {faster.shape_low95:.1f} to {faster.shape_high95:.1f})"
    now = faster.intensity(faster.end)
    because = (
        f"{faster.events} stoppages: growth exponent {span}; over 1 they come faster; "
        f"now about {now:.1f} a year"
    )
    rule = "power-law process, bias-corrected"
    return (Reason(because=because, rule=rule, source="NIST e-Handbook 8.4.5.2 (confirmed)"),)


def _has_roots(findings: Sequence[AppraisedFinding]) -> bool:
    return any(found.finding.facts.feature is Feature.ROOTS for found in findings)


def _has_sag(findings: Sequence[AppraisedFinding]) -> bool:
    return any(
        found.finding.facts.feature in {Feature.SAG, Feature.STANDING_WATER}
        and (found.grade.service or 0) >= _MODERATE
        for found in findings
    )


# ------------------------------------------------------------------ pressure
def _strictest(
    job: Job, segments: Sequence[LineSegment], findings: Sequence[AppraisedFinding]
) -> JetLimit:
    """Return the strictest limit anywhere on the line."""
    if not segments:
        return jet_limit(None, _grade_between(job, findings, None, None))
    return _least(_segment_limit(segment, job, findings) for segment in segments)


def _pass_limit(
    jet: JetPass,
    job: Job,
    segments: Sequence[LineSegment],
    findings: Sequence[AppraisedFinding],
) -> JetLimit:
    covered = [segment for segment in segments if _covers(jet, segment)]
    if not covered:
        return jet_limit(None, _grade_between(job, findings, None, None))
    return _least(_segment_limit(segment, job, findings) for segment in covered)


def _least(limits: Iterable[JetLimit]) -> JetLimit:
    """Return the strictest limit; one without a pressure comes before all others."""
    return min(limits, key=lambda limit: limit.pressure_pa or 0.0)


def _segment_limit(
    segment: LineSegment, job: Job, findings: Sequence[AppraisedFinding]
) -> JetLimit:
    grade = _grade_between(job, findings, segment.start_m.value, segment.end_m.value)
    return jet_limit(segment.material, grade)


def _grade_between(
    job: Job,
    findings: Sequence[AppraisedFinding],
    start_m: float | None,
    end_m: float | None,
) -> int | None:
    """Return the worst structure grade; 1 for a stretch looked at without a fault."""
    if not job.runs and not findings:
        return None
    inside = [found.grade.structure for found in findings if _between(found, start_m, end_m)]
    return worst_of(inside) or 1


def _between(found: AppraisedFinding, start_m: float | None, end_m: float | None) -> bool:
    at_m = found.place.station_m.value
    if at_m is None:
        return True
    return (start_m is None or at_m >= start_m) and (end_m is None or at_m <= end_m)


def _covers(jet: JetPass, segment: LineSegment) -> bool:
    ends = [v for v in (jet.from_station_m, jet.to_station_m) if v is not None]
    if not ends:
        return True
    first, last = (min(ends), max(ends)) if len(ends) == 2 else (0.0, ends[0])
    start = segment.start_m.value if segment.start_m.value is not None else 0.0
    end = segment.end_m.value if segment.end_m.value is not None else float("inf")
    return start < last and end > first


def _plastic(jet: JetPass, segments: Sequence[LineSegment]) -> bool:
    return any(material_group(s.material) == "flexible" for s in segments if _covers(jet, s))


def _bends(findings: Sequence[AppraisedFinding]) -> list[tuple[float, float]]:
    bends = []
    for found in findings:
        facts, at_m = found.finding.facts, found.place.station_m.value
        if facts.feature is not Feature.BEND or at_m is None:
            continue
        said = facts.angle_deg.value if facts.angle_deg is not None else None
        bends.append((at_m, said or BEND_ANGLE_DEG.get(facts.kind or "", 45.0)))
    return bends


# ------------------------------------------------------------------ cautions
def _cautions(
    job: Job,
    segments: Sequence[LineSegment],
    findings: Sequence[AppraisedFinding],
    limit: JetLimit,
) -> tuple[str, ...]:
    holds = {
        "always": True,
        "jetted": bool(job.passes) or _has_roots(findings),
        "fragile": limit.fragile,
        "fibre": any(s.material is Material.BITUMINISED_FIBRE for s in segments),
        "roots": _has_roots(findings),
    }
    rows = read_table("saltglaze.cleaning", "cautions.toml")["caution"]
    return tuple(str(row["text"]) for row in rows if holds[row["when"]])
