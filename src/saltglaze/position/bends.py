"""Bends from findings: where, how sharp, and which way as walked up the stations."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Final, NamedTuple

from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Facts, Feature, Finding, Turn
from saltglaze.position import priors
from saltglaze.position.clock import ROLL_TOO_VAGUE_DEG
from saltglaze.position.keys import Keys

NOMINAL_DEG: Final = {"1/16": 22.5, "1/8": 45.0, "1/6": 60.0, "1/4": 90.0, "sweep": 90.0}
"""Fitting names: the share of a full turn (trade usage)."""
SAME_BEND_M: Final = 0.4
"""Bends nearer than this are hardly two: a fitting with its hubs is about as long (no source)."""


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


class _Seen(NamedTuple):
    """A bend as one finding tells it; ``back`` where the head was on its way back."""

    bend: Bend
    facts: Facts
    back: bool


def bends(
    findings: Iterable[Finding],
    keys: Keys,
    reversed_runs: Mapping[str, bool],
    roll_of: Callable[[Finding], Estimate | None],
    on_the_way_back: Callable[[Finding], bool] = lambda _: False,
) -> tuple[Bend, ...]:
    """List the bends that turn the plan, by station; the same bend seen twice counts once.

    ``roll_of`` gives the picture's roll when a finding was seen, ``None`` where unknown;
    ``on_the_way_back`` whether the head was then moving against its run.
    """
    found: list[_Seen] = []
    for finding in findings:
        facts = finding.facts
        key = keys.index(f"finding:{finding.id}")
        if facts.feature is not Feature.BEND or key is None:
            continue
        hand = in_the_pipe(finding, roll_of(finding))
        if hand.turn in (Turn.UP, Turn.DOWN):
            continue
        angle, sd = _angle(finding)
        backwards = reversed_runs.get(finding.evidence.run_id or "", False)
        chance = _right_chance(hand, backwards)
        bend = Bend(key, finding.id, angle, sd, chance)
        found.append(_Seen(bend, facts, on_the_way_back(finding)))
    found.sort(key=lambda seen: float(keys.mean_m[seen.bend.key]))
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


class Hand(NamedTuple):
    """Which way a bend turns in the pipe, and the chance that this is right."""

    turn: Turn | None
    sure: float


def in_the_pipe(finding: Finding, roll: Estimate | None) -> Hand:
    """Turn a bend's way on the screen into its way in the pipe.

    What the eye drafted is turned by the roll. A person's word is taken as it stands, and
    doubted where the picture stood so far over that he may have meant the screen.
    """
    said = finding.facts.turn
    if said is None:
        return Hand(None, 0.5)
    if finding.edit is not None or finding.evidence.drafted_by is DraftedBy.TYPED:
        return Hand(said, priors.TURN_BY_HAND_RIGHT)
    if roll is None or roll.value is None or roll.spread > ROLL_TOO_VAGUE_DEG:
        return Hand(said, priors.TURN_WORD_RIGHT)
    seen = _turned_by(said, roll.value)
    if seen is said:
        return Hand(said, priors.TURN_ROLL_RIGHT)
    if finding.evidence.drafted_by is DraftedBy.SIGHT:
        return Hand(seen, priors.TURN_WORD_RIGHT)
    return Hand(said, 0.5 if seen in (Turn.LEFT, Turn.RIGHT) else priors.TURN_ROLLED_RIGHT)


_ROUND: Final = (Turn.UP, Turn.RIGHT, Turn.DOWN, Turn.LEFT)


def _turned_by(turn: Turn, roll_deg: float) -> Turn:
    """The nearest way in the pipe for a way on a screen that stands rolled clockwise."""
    quarter = round((90.0 * _ROUND.index(turn) - roll_deg) / 90.0)
    return _ROUND[quarter % 4]


def _right_chance(hand: Hand, backwards: bool) -> float:
    if hand.turn is None:
        return 0.5
    right = (hand.turn is Turn.RIGHT) != backwards
    return hand.sure if right else 1.0 - hand.sure


def _once(found: list[_Seen], keys: Keys) -> list[Bend]:
    kept: list[_Seen] = []
    for seen in found:
        last = kept[-1] if kept else None
        if last is not None and _the_same(last, seen, keys):
            if seen.bend.sd_rad < last.bend.sd_rad or last.bend.right_chance == 0.5:
                kept[-1] = seen
            continue
        kept.append(seen)
    return [seen.bend for seen in kept]


def _the_same(one: _Seen, other: _Seen, keys: Keys) -> bool:
    """Whether two sightings are of one bend.

    Two runs, or two passes of one run, may meet the same bend: their stations then agree
    within their joint doubt. On one pass the head leaves a bend behind it: however loose the
    stations, two bends named one after the other are two, unless they are hardly apart and
    nothing said of them differs.
    """
    first, second = one.bend.key, other.bend.key
    apart = abs(float(keys.mean_m[second] - keys.mean_m[first]))
    if keys.keys[first].run_id == keys.keys[second].run_id and one.back == other.back:
        return apart < SAME_BEND_M and _alike(one.facts, other.facts)
    cov = keys.covariance_m2
    variance = cov[first, first] + cov[second, second] - 2.0 * cov[first, second]
    return apart < max(SAME_BEND_M, 2.0 * math.sqrt(max(variance, 0.0)))


def _alike(one: Facts, other: Facts) -> bool:
    kinds = one.kind is None or other.kind is None or one.kind == other.kind
    turns = one.turn is None or other.turn is None or one.turn == other.turn
    return kinds and turns
