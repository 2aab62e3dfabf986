"""Compare what was heard in one narration with its label file.

A drafted finding answers a label when the feature is the same (or one that the
label allows) and their time windows overlap or lie within ``TOLERANCE_S`` of each
other; each answers at most one, by optimal assignment.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from scipy.optimize import linear_sum_assignment

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Clock, Facts, Finding

TOLERANCE_S = 4.0
"""Gap allowed between the windows of a finding and its label. A push camera goes at
most 30 ft/min (city inspection specification, field notes section 5, read), so 4 s
are at most 0.6 m of pipe: inside one laying length. Cues of the talks lie
6-20 s apart, so that the next thing said is not reached."""

END_TOLERANCE_S = 8.0
"""Gap allowed at the end of a stretch: the length of the cue that says it is over."""

HOUR_TOLERANCE = 0.51
SIZE_TOLERANCE = 0.06
"""Relative; covers "about", a rounded inch and the middle of a spoken range."""
SHARE_TOLERANCE = 0.03
STATION_WINDOW_S = (-2.0, 10.0)

Label = dict[str, Any]


# ---------------------------------------------------------------- matching
@dataclass
class Match:
    """One label and the finding drafted for it."""

    label: Label
    finding: Finding
    right: dict[str, bool]
    unstated: tuple[str, ...]
    false_hedge: bool


@dataclass
class Scored:
    """One narration: what was found, missed and made up."""

    name: str
    hours: float
    matches: list[Match] = field(default_factory=list)
    missed: list[Label] = field(default_factory=list)
    spurious: list[Finding] = field(default_factory=list)
    stations: tuple[int, int, int] = (0, 0, 0)
    """Right, labelled, drafted."""
    facts: tuple[int, int, int] = (0, 0, 0)
    missed_said: list[str] = field(default_factory=list)


def gap_s(label: Label, finding: Finding) -> float:
    """Return the seconds between the two windows; 0 where they overlap."""
    start = finding.start_s if finding.start_s is not None else -1e9
    end = finding.end_s if finding.end_s is not None else start
    return max(0.0, float(label["start_s"]) - end, start - float(label["end_s"]))


def worth(label: Label, finding: Finding) -> float:
    """Return how well a finding answers a label; 0 where it does not."""
    feature = finding.draft.feature.value
    if feature != label["feature"] and feature not in label["or"]:
        return 0.0
    gap = gap_s(label, finding)
    if gap > TOLERANCE_S:
        return 0.0
    right = attributes(label, finding)
    agreement = sum(right.values()) / len(right) if right else 1.0
    apart = abs(float(label["start_s"]) - (finding.start_s or 0.0))
    if label["optional"]:
        return 1.0
    return 100.0 + agreement - gap - min(apart, 60.0) / 20.0 + (feature == label["feature"])


def assign(labels: Sequence[Label], findings: Sequence[Finding]) -> list[tuple[int, int]]:
    """Pair labels with findings one to one, so that the total worth is greatest."""
    if not labels or not findings:
        return []
    worths = np.array([[worth(label, finding) for finding in findings] for label in labels])
    rows, columns = linear_sum_assignment(-worths)
    return [(int(r), int(c)) for r, c in zip(rows, columns, strict=True) if worths[r, c] > 0]


# ---------------------------------------------------------------- attributes
def same_hour(said: float, drafted: float) -> bool:
    """Whether two clock hours agree on a dial."""
    apart = abs(said - drafted) % 12.0
    return min(apart, 12.0 - apart) <= HOUR_TOLERANCE


def same_clock(said: dict[str, Any], facts: Facts) -> bool:
    """Whether the drafted clock (or a full circle on the screen) is the one stated."""
    if said.get("all_round"):
        screen = facts.screen is not None and facts.screen.value == "all_round"
        return screen or (facts.clock is not None and facts.clock.all_round)
    clock = facts.clock
    if clock is None or clock.all_round or not same_hour(said["from_h"], clock.from_h):
        return False
    if "to_h" not in said:
        return clock.to_h is None or same_hour(said["from_h"], clock.to_h)
    return clock.to_h is not None and same_hour(said["to_h"], clock.to_h)


def same_screen(said: str, facts: Facts) -> bool:
    """Whether the screen place is the one stated; a full circle may be a clock."""
    if facts.screen is not None and facts.screen.value == said:
        return True
    return said == "all_round" and facts.clock is not None and facts.clock.all_round


def same_place(said: str, facts: Facts) -> bool:
    """Whether crown or invert came through, as a clock position or on the screen."""
    hour, screen = {"crown": (0.0, "top"), "invert": (6.0, "bottom")}[said]
    if facts.screen is not None and facts.screen.value == screen:
        return True
    return facts.clock is not None and same_hour(hour, facts.clock.from_h)


def same_number(name: str, said: float, drafted: object) -> bool:
    """Whether a drafted number is the one stated."""
    value = drafted.value if isinstance(drafted, Estimate) else drafted
    if not isinstance(value, (int, float)):
        return False
    if name.endswith("_share"):
        return abs(value - said) <= SHARE_TOLERANCE
    return abs(value - said) <= SIZE_TOLERANCE * abs(said)


def attributes(label: Label, finding: Finding) -> dict[str, bool]:
    """Return for each stated attribute whether the draft has it right."""
    facts, right = finding.draft, {}
    for name, said in label["stated"].items():
        if name == "kind" and facts.feature.value != label["feature"]:
            continue
        if name == "clock":
            right[name] = same_clock(said, facts)
        elif name == "screen":
            right[name] = same_screen(said, facts)
        elif name == "place":
            right[name] = same_place(said, facts)
        elif isinstance(said, (int, float)) and not isinstance(said, bool):
            right[name] = same_number(name, said, getattr(facts, name))
        else:
            drafted = getattr(facts, name)
            right[name] = drafted == said
    if label["stretch"]:
        end = finding.end_s
        right["extent"] = end is not None and abs(end - label["end_s"]) <= END_TOLERANCE_S
    return right


PLAIN = {"feature", "certainty", "at_joint", "remark"}


def unstated(label: Label, facts: Facts) -> tuple[str, ...]:
    """Name the fields that the draft fills though the label states nothing of the kind.

    A clock set by gravity, and the angle that a bend's name carries, are inferences
    and not counted.
    """
    said = set(label["stated"])
    if said & {"clock", "screen", "place"}:
        said |= {"clock", "screen"}
    if facts.kind is not None:
        said.add("angle_deg")
    filled = []
    for name in Facts.model_fields:
        value = getattr(facts, name)
        if name in PLAIN or name in said or value is None:
            continue
        if isinstance(value, Clock) and "gravity" in value.because:
            continue
        if isinstance(value, Estimate) and not value.known:
            continue
        filled.append(name)
    return tuple(filled)


# ---------------------------------------------------------------- one narration
def score_talk(name: str, labels: dict[str, Any], heard: Heard) -> Scored:
    """Compare what was heard in one narration with its labels."""
    scored = Scored(name, labels["duration_s"] / 3600.0)
    wanted = labels["findings"]
    pairs = assign(wanted, heard.findings)
    for row, column in pairs:
        if wanted[row]["optional"]:
            continue
        label, finding = wanted[row], heard.findings[column]
        hedged = finding.draft.certainty.value == "supposed"
        scored.matches.append(
            Match(
                label,
                finding,
                attributes(label, finding),
                unstated(label, finding.draft),
                hedged and "certainty" not in label["stated"],
            )
        )
    rows, columns = {r for r, _ in pairs}, {c for _, c in pairs}
    scored.missed = [
        label for row, label in enumerate(wanted) if row not in rows and not label["optional"]
    ]
    scored.spurious = [
        finding
        for column, finding in enumerate(heard.findings)
        if column not in columns and not is_free_start(finding)
    ]
    score_stations(labels["stations"], heard, scored)
    score_facts(labels["facts"], heard, scored)
    return scored


def is_free_start(finding: Finding) -> bool:
    """Whether this only says that the run began, which no label asks for or forbids."""
    return finding.draft.feature.value == "start" and (finding.start_s or 0.0) < 30.0


def in_window(label_s: float, drafted_s: float) -> bool:
    """Whether a drafted moment lies in the cue of its label."""
    return STATION_WINDOW_S[0] <= drafted_s - label_s <= STATION_WINDOW_S[1]


def score_stations(labels: list[Label], heard: Heard, scored: Scored) -> None:
    """Count the distances called out that were understood."""
    free = list(heard.stations)
    right = 0
    for label in labels:
        said = label["distance_m"]
        hit = next(
            (
                station
                for station in free
                if in_window(label["time_s"], station.time_s)
                and station.distance_m.value is not None
                and abs(station.distance_m.value - said) <= max(0.03, 0.01 * said)
            ),
            None,
        )
        if hit is None:
            scored.missed_said.append(f"station {said:.2f} m: {label['text']}")
            continue
        free.remove(hit)
        right += 1
    scored.stations = (right, len(labels), len(heard.stations))


def score_facts(labels: list[Label], heard: Heard, scored: Scored) -> None:
    """Count the line facts that were understood."""
    free = list(heard.facts)
    right = 0
    for label in labels:
        hit = next(
            (
                fact
                for fact in free
                if fact.kind.value == label["kind"]
                and in_window(label["time_s"], fact.time_s)
                and (label["value"] is None or fact.value == label["value"])
                and (
                    label["number"] is None
                    or (fact.number is not None and same_number("", label["number"], fact.number))
                )
            ),
            None,
        )
        if hit is None:
            said = label["value"] or label["number"] or ""
            scored.missed_said.append(f"fact {label['kind']} {said}: {label['text']}")
            continue
        free.remove(hit)
        right += 1
    scored.facts = (right, len(labels), len(heard.facts))
