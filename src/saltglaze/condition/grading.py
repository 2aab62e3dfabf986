"""Grades 1 (slight) to 5 (act now) for structure, service and tightness.

The rules are data, ``grades.toml``, each with its reason, its source and how sure
the source is. The scheme is our own and is named in every line grade.

A size decides where one is known; its 95 % interval may reach into other grades,
which ``FindingGrade.could_be`` then tells. Where no size is known the talk's grade
word, then the kind, then a cautious grade stands in, and the reason says which.
"""

from __future__ import annotations

import bisect
from collections.abc import Sequence
from functools import cache
from typing import Literal

from saltglaze.condition.plain import plain_name
from saltglaze.condition.tables import read_table
from saltglaze.condition.wording import US, UnitWords
from saltglaze.model.appraisal import (
    AppraisedFinding,
    FindingGrade,
    LineGrade,
    NotSeen,
    Reason,
)
from saltglaze.model.base import Estimate, Record
from saltglaze.model.finding import Certainty, Facts, Feature
from saltglaze.model.line import Material

Aspect = Literal["structure", "service", "tightness"]
ASPECTS: tuple[Aspect, ...] = ("structure", "service", "tightness")


class GradeRule(Record):
    """How one aspect of one feature is graded; see the head of ``grades.toml``."""

    feature: Feature
    aspect: Aspect
    materials: str | None = None
    measure: str | None = None
    limits: tuple[float, ...] = ()
    grades: tuple[int, ...] = ()
    words: dict[str, int] = {}
    kinds: dict[str, int] = {}
    cautious: int | None = None
    because: str
    source: str
    status: str


class SeenRule(Record):
    """A grade that follows from soil or a void seen behind the wall."""

    field: str
    aspect: Aspect
    grade: int
    features: tuple[Feature, ...] = ()
    because: str
    source: str
    status: str


class _Verdict(Record):
    """One aspect of one finding, graded."""

    grade: int
    low: int
    high: int
    reason: Reason


@cache
def grade_rules() -> tuple[GradeRule, ...]:
    """Return every grading rule of the table."""
    table = read_table("saltglaze.condition", "grades.toml")
    return tuple(GradeRule(**row) for row in table["rule"])


@cache
def seen_rules() -> tuple[SeenRule, ...]:
    """Return the rules for soil or a void seen."""
    table = read_table("saltglaze.condition", "grades.toml")
    return tuple(SeenRule(**row) for row in table["seen"])


def scheme() -> str:
    """Return the name of the scheme."""
    return str(read_table("saltglaze.condition", "grades.toml")["scheme"])


def grade_finding(
    facts: Facts, diameter_m: float | None = None, material: Material | None = None
) -> FindingGrade:
    """Grade one finding; ``diameter_m`` and ``material`` are of the pipe where it lies."""
    verdicts = {aspect: _aspect(facts, aspect, diameter_m, material) for aspect in ASPECTS}
    known = {aspect: verdict for aspect, verdict in verdicts.items() if verdict is not None}
    if not known:
        return FindingGrade(ungraded_because=_why_ungraded(facts))
    grades: dict[str, int] = {aspect: verdict.grade for aspect, verdict in known.items()}
    return FindingGrade(
        structure=grades.get("structure"),
        service=grades.get("service"),
        tightness=grades.get("tightness"),
        worst=max(grades.values()),
        could_be={a: (v.low, v.high) for a, v in known.items() if v.low != v.high},
        reasons=(*(v.reason for v in known.values()), *_doubt(facts)),
    )


def material_group(material: Material | None) -> str:
    """Return flexible, fibre or rigid; an unknown material counts as rigid."""
    table = read_table("saltglaze.condition", "grades.toml")
    for group in ("flexible", "fibre"):
        if material is not None and material.value in table[group]:
            return group
    return "rigid"


def _aspect(
    facts: Facts, aspect: Aspect, diameter_m: float | None, material: Material | None
) -> _Verdict | None:
    candidates = [_by_seen(facts, aspect), _by_rule(facts, aspect, diameter_m, material)]
    known = [verdict for verdict in candidates if verdict is not None]
    return max(known, key=lambda verdict: verdict.grade) if known else None


def _by_seen(facts: Facts, aspect: Aspect) -> _Verdict | None:
    for rule in seen_rules():
        fits = not rule.features or facts.feature in rule.features
        if rule.aspect == aspect and fits and getattr(facts, rule.field):
            what = "void seen" if rule.field == "void_visible" else "soil seen"
            reason = _reason(rule, f"{aspect} {rule.grade}: {what}; {rule.because}")
            return _Verdict(grade=rule.grade, low=rule.grade, high=rule.grade, reason=reason)
    return None


def _by_rule(
    facts: Facts, aspect: Aspect, diameter_m: float | None, material: Material | None
) -> _Verdict | None:
    group = material_group(material)
    for rule in grade_rules():
        fits = rule.materials is None or rule.materials == group
        if rule.feature is facts.feature and rule.aspect == aspect and fits:
            return _apply(rule, facts, diameter_m)
    return None


def _apply(rule: GradeRule, facts: Facts, diameter_m: float | None) -> _Verdict | None:
    size = measure(facts, rule.measure, diameter_m) if rule.measure else None
    if size is not None and size.value is not None:
        grade, low, high = (_banded(rule, at) for at in (size.value, *size.interval95))
        return _verdict(rule, grade, low, high, "by its size")
    said = facts.grade_word.value if facts.grade_word else None
    if said in rule.words:
        grade = rule.words[said]
        low, high = max(1, grade - 1), min(5, grade + 1)
        return _verdict(rule, grade, low, high, f'by the word "{said}", no size given')
    if facts.kind in rule.kinds:
        grade = rule.kinds[facts.kind]
        if rule.measure is None:
            return _verdict(rule, grade, grade, grade, f"by its kind, {facts.kind}")
        return _verdict(rule, grade, *_span(rule), f"by its kind, {facts.kind}, no size given")
    return _stand_in(rule, facts)


def _stand_in(rule: GradeRule, facts: Facts) -> _Verdict | None:
    """Grade a finding of which only the feature is known."""
    if rule.cautious is None:
        return None
    if rule.measure is None and not rule.kinds:
        return _verdict(rule, rule.cautious, rule.cautious, rule.cautious, "by what it is")
    unknown = "size not known"
    if rule.measure == "width_over_bore" and facts.width_m is not None and facts.width_m.known:
        unknown = "the bore it is measured against is not known"
    return _verdict(rule, rule.cautious, *_span(rule), f"on the cautious side, {unknown}")


def measure(facts: Facts, name: str, diameter_m: float | None) -> Estimate | None:
    """Return the named size of a finding, or ``None`` where it was not stated.

    ``width_over_bore`` needs the bore: the finding's own, else the pipe's.
    """
    if name != "width_over_bore":
        size = getattr(facts, name)
        return size if isinstance(size, Estimate) and size.known else None
    bore_m = facts.diameter_m.value if facts.diameter_m and facts.diameter_m.value else diameter_m
    if facts.width_m is None or facts.width_m.value is None or not bore_m:
        return None
    low, high = facts.width_m.interval95
    return Estimate.within(facts.width_m.value / bore_m, low / bore_m, high / bore_m)


def _banded(rule: GradeRule, size: float) -> int:
    return rule.grades[bisect.bisect_right(rule.limits, size)]


def _span(rule: GradeRule) -> tuple[int, int]:
    possible = [*rule.grades, *rule.words.values(), *rule.kinds.values()]
    return (min(possible), max(possible)) if possible else (1, 5)


def _verdict(rule: GradeRule, grade: int, low: int, high: int, how: str) -> _Verdict:
    span = "" if low == high else f" (could be {low} to {high})"
    reason = _reason(rule, f"{rule.aspect} {grade}{span}, {how}; {rule.because}")
    return _Verdict(grade=grade, low=low, high=high, reason=reason)


def _reason(rule: GradeRule | SeenRule, because: str) -> Reason:
    return Reason(because=because, rule=f"{scheme()}: {rule.aspect}", source=rule.source)


def _doubt(facts: Facts) -> tuple[Reason, ...]:
    if facts.certainty is not Certainty.SUPPOSED:
        return ()
    return (Reason(because="supposed, not certain: look again before money is spent on it"),)


_ABOUT_THE_VIEW = {Feature.LENS_FOULED}
_ENDS = {Feature.START, Feature.END}


def _why_ungraded(facts: Facts) -> str:
    if facts.feature in _ABOUT_THE_VIEW:
        return "it says something about the view, not about the pipe"
    if facts.feature in _ENDS:
        return "it marks an end of the run"
    return "part of the line as it was built; no fault was stated"


def worst_of(grades: Sequence[int | None]) -> int | None:
    """Return the highest grade given, ``None`` where none was."""
    return max((grade for grade in grades if grade is not None), default=None)


_LINE_WORDS = {
    1: "The line is in good order: only slight faults were found.",
    2: "The line works; a few small faults are worth keeping an eye on.",
    3: "The line needs work planned: it will get worse if nothing is done.",
    4: "The line needs work soon.",
    5: "The line needs work now.",
}


def grade_line(
    findings: Sequence[AppraisedFinding],
    not_seen: Sequence[NotSeen] = (),
    *,
    words: UnitWords = US,
) -> LineGrade:
    """Grade the whole line by its worst findings, aspect by aspect.

    Rejected findings do not count. With nothing gradable the line has no grade:
    that no fault was recorded does not prove that there is none.
    """
    standing = [found for found in findings if found.finding.stands]
    worst = {aspect: worst_of([getattr(f.grade, aspect) for f in standing]) for aspect in ASPECTS}
    overall = worst_of(list(worst.values()))
    return LineGrade(
        structure=worst["structure"],
        service=worst["service"],
        tightness=worst["tightness"],
        worst=overall,
        scheme=scheme(),
        plain=_line_sentence(standing, overall, not_seen, words),
        reasons=tuple(_worst_reason(standing, aspect, worst[aspect], words) for aspect in ASPECTS),
    )


def _line_sentence(
    findings: Sequence[AppraisedFinding],
    overall: int | None,
    not_seen: Sequence[NotSeen],
    words: UnitWords,
) -> str:
    unseen = " Part of it could not be judged, so there may be more." if not_seen else ""
    if overall is None:
        if not findings:
            return f"No findings were recorded, so the line has no grade.{unseen}"
        return f"No fault was recorded in what was seen of the line.{unseen}"
    culprits = [found for found in findings if found.grade.worst == overall]
    if overall <= 2:
        return f"{_LINE_WORDS[overall]}{unseen}"
    named = "; ".join(_named(found, words) for found in culprits[:3])
    more = f", and {len(culprits) - 3} more like it" if len(culprits) > 3 else ""
    return f"{_LINE_WORDS[overall]} The reason: {named}{more}.{unseen}"


def _named(found: AppraisedFinding, words: UnitWords) -> str:
    sure = "perhaps " if found.finding.facts.certainty is Certainty.SUPPOSED else ""
    return f"{sure}{plain_name(found.finding.facts)}, {words.station(found.place.station_m)}"


def _worst_reason(
    findings: Sequence[AppraisedFinding], aspect: Aspect, grade: int | None, words: UnitWords
) -> Reason:
    if grade is None:
        return Reason(because=f"{aspect}: nothing found that bears on it", rule=scheme())
    at_worst = [found for found in findings if getattr(found.grade, aspect) == grade]
    first = _named(at_worst[0], words)
    others = f" and {len(at_worst) - 1} more" if len(at_worst) > 1 else ""
    return Reason(
        because=f"{aspect} {grade}: worst of its findings, {first}{others}",
        rule=f"{scheme()}: a line is as good as its worst finding",
        source="our own rule",
    )
