"""Bends from findings: where, how sharp, and which way as walked up the stations."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Final

from saltglaze.model.finding import Feature, Finding, Turn
from saltglaze.position import priors
from saltglaze.position.keys import Keys

NOMINAL_DEG: Final = {"1/16": 22.5, "1/8": 45.0, "1/6": 60.0, "1/4": 90.0, "sweep": 90.0}
"""Fitting names: the share of a full turn (trade usage)."""


@dataclass(frozen=True)
class Bend:
    """A bend of the plan.

    ``right_chance`` is the chance that it turns right (clockwise) as walked up the
    stations; a bend up or down has no angle in plan and is left out.
    """

    key: int
    finding_id: str
    angle_rad: float
    sd_rad: float
    right_chance: float


def bends(
    findings: Iterable[Finding], keys: Keys, reversed_runs: Mapping[str, bool]
) -> tuple[Bend, ...]:
    """List the bends that turn the plan, by station; the same bend seen twice counts once."""
    found = []
    for finding in findings:
        facts = finding.facts
        key = keys.index(f"finding:{finding.id}")
        if facts.feature is not Feature.BEND or key is None:
            continue
        if facts.turn in (Turn.UP, Turn.DOWN):
            continue
        angle, sd = _angle(finding)
        backwards = reversed_runs.get(finding.evidence.run_id or "", False)
        chance = _right_chance(facts.turn, backwards, finding.edit is not None)
        found.append(Bend(key, finding.id, angle, sd, chance))
    found.sort(key=lambda bend: float(keys.mean_m[bend.key]))
    return tuple(_once(found, keys))


def _angle(finding: Finding) -> tuple[float, float]:
    facts = finding.facts
    if facts.angle_deg is not None and facts.angle_deg.value is not None:
        sd = math.radians(facts.angle_deg.spread)
        return abs(math.radians(facts.angle_deg.value)), math.hypot(sd, 0.5 * priors.BEND_SD_RAD)
    nominal = NOMINAL_DEG.get(facts.kind or "")
    if nominal is None:
        return priors.BEND_UNTOLD_RAD
    return math.radians(nominal), priors.BEND_SD_RAD * (2.0 if facts.kind == "sweep" else 1.0)


def _right_chance(turn: Turn | None, backwards: bool, by_hand: bool) -> float:
    if turn is None:
        return 0.5
    sure = 0.999 if by_hand else priors.TURN_WORD_RIGHT
    right = (turn is Turn.RIGHT) != backwards
    return sure if right else 1.0 - sure


def _once(found: list[Bend], keys: Keys) -> list[Bend]:
    kept: list[Bend] = []
    for bend in found:
        last = kept[-1] if kept else None
        if last is not None:
            apart = float(keys.mean_m[bend.key] - keys.mean_m[last.key])
            cov = keys.covariance_m2
            variance = cov[bend.key, bend.key] + cov[last.key, last.key]
            variance -= 2.0 * cov[bend.key, last.key]
            if apart < max(0.4, 2.0 * math.sqrt(max(variance, 0.0))):
                if bend.sd_rad < last.sd_rad or last.right_chance == 0.5:
                    kept[-1] = bend
                continue
        kept.append(bend)
    return kept
