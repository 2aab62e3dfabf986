"""What each method does about each finding, from a table of rules."""

from __future__ import annotations

from collections.abc import Sequence
from enum import StrEnum
from functools import cache

from saltglaze.condition.grading import measure
from saltglaze.condition.tables import read_table
from saltglaze.model.appraisal import AppraisedFinding, Reason, RemedyKind
from saltglaze.model.base import Record
from saltglaze.model.finding import Facts, Feature


class Effect(StrEnum):
    """What a method does about a finding; see the head of ``feasibility.toml``."""

    FIXES = "fixes"
    HOLDS = "holds"
    LEAVES = "leaves"
    BLOCKS = "blocks"
    UNSURE = "unsure"


class Rule(Record):
    """One row of the table."""

    methods: tuple[RemedyKind, ...]
    features: tuple[str, ...]
    kinds: tuple[str, ...] = ()
    measure: str | None = None
    at_least: float | None = None
    seen: str | None = None
    verdict: Effect
    because: str
    item: str | None = None
    dig_first: bool = False
    source: str
    status: str

    @property
    def reason(self) -> Reason:
        """The rule as a reason to print."""
        return Reason(because=self.because, rule=self.verdict.value, source=self.source)


@cache
def rules() -> tuple[Rule, ...]:
    """Return every rule, in the order in which they are tried."""
    rows = read_table("saltglaze.remedy", "feasibility.toml")["rule"]
    return tuple(Rule(**row) for row in rows)


def effect(kind: RemedyKind, facts: Facts, diameter_m: float | None) -> Rule:
    """Return the first rule that fits a method and a finding."""
    return next(rule for rule in rules() if kind in rule.methods and _fits(rule, facts, diameter_m))


def effects(
    kind: RemedyKind,
    findings: Sequence[AppraisedFinding],
    diameter_of: dict[str, float | None],
) -> dict[str, Rule]:
    """Return the rule for each finding, by its id."""
    return {
        found.finding.id: effect(kind, found.finding.facts, diameter_of.get(found.finding.id))
        for found in findings
    }


def _fits(rule: Rule, facts: Facts, diameter_m: float | None) -> bool:
    if "*" not in rule.features and facts.feature.value not in rule.features:
        return False
    if rule.kinds and facts.kind not in rule.kinds:
        return False
    if rule.seen is not None and not getattr(facts, rule.seen):
        return False
    if rule.measure is None:
        return True
    size = measure(facts, rule.measure, diameter_m)
    return size is not None and size.value is not None and size.value >= (rule.at_least or 0.0)


NOT_A_FAULT = {
    Feature.CLEAN_OUT,
    Feature.BEND,
    Feature.DIAMETER_CHANGE,
    Feature.MATERIAL_CHANGE,
    Feature.REPAIR,
    Feature.LINER,
    Feature.LENS_FOULED,
    Feature.START,
    Feature.END,
}
"""Features that no method is asked to do away with."""
