"""Where the camera could not pass: an obstacle, or the end of the rod's push.

A rod can be pushed until it coils up in the pipe (helical buckling) and its coils
lock against the wall; each bend on the way multiplies the push that is needed. The
rod is a typical one unless we know better, so the answer is a hint, not a verdict.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from saltglaze.cleaning.reach import helical_force, lock_up_m, push_reach
from saltglaze.condition.stretch import segment_at
from saltglaze.condition.tables import read_table
from saltglaze.condition.wording import UnitWords
from saltglaze.model.appraisal import AppraisedFinding, Check, LineSegment, Verdict
from saltglaze.model.finding import Feature

_NEAR = 0.7
"""Share of the reach from which the rod itself may be what stopped."""

_GRAVITY_M_S2 = 9.80665


def rod_checks(
    findings: Sequence[AppraisedFinding],
    segments: Sequence[LineSegment],
    bends: Sequence[tuple[float, float]],
    words: UnitWords,
) -> tuple[Check, ...]:
    """Return a check for each place that the camera could not pass."""
    stops = [f for f in findings if f.finding.facts.feature is Feature.COULD_NOT_PASS]
    checks = [_check(stop, segments, bends, words) for stop in stops]
    return tuple(check for check in checks if check is not None)


def rod_reach_m(bore_m: float, bends: Sequence[tuple[float, float]]) -> float:
    """Return how far a typical rod can be pushed in a bore with these bends, metres."""
    rod = read_table("saltglaze.cleaning", "tables.toml")["rod"]
    diameter_m, friction = float(rod["diameter_m"]), float(rod["friction"])
    area = math.pi * diameter_m**2 / 4.0
    weight = area * float(rod["density_kg_m3"]) * _GRAVITY_M_S2
    stiffness = float(rod["modulus_pa"]) * math.pi * diameter_m**4 / 64.0
    clearance = (bore_m - diameter_m) / 2.0
    straight = push_reach(helical_force(stiffness, weight, clearance), weight, friction, bends)
    free = push_reach(helical_force(stiffness, weight, clearance), weight, friction)
    coiled = lock_up_m(stiffness, weight, clearance, friction) - free
    return straight + coiled * straight / free


def _check(
    stop: AppraisedFinding,
    segments: Sequence[LineSegment],
    bends: Sequence[tuple[float, float]],
    words: UnitWords,
) -> Check | None:
    at_m = stop.place.station_m.value
    segment = segment_at(segments, at_m)
    if at_m is None or segment is None or not segment.diameter_m:
        return None
    passed = [(station, angle) for station, angle in bends if station < at_m]
    reach = rod_reach_m(segment.diameter_m, passed)
    turns = sum(angle for _, angle in passed)
    may_be_rod = at_m >= _NEAR * reach
    meaning = (
        "so the rod itself may have come to its end there"
        if may_be_rod
        else "so something in the pipe stopped it"
    )
    source = read_table("saltglaze.cleaning", "tables.toml")["rod"]["source"]
    return Check(
        name="camera reach",
        verdict=Verdict.DOUBT if may_be_rod else Verdict.NOTE,
        reason=f"the camera stopped at {words.length(at_m)}; through {turns:.0f} degrees of bends "
        f"a rod reaches about {words.length(reach)}, {meaning} ({source})",
        about=stop.finding.id,
        mend="try from the other end, or with a stiffer rod" if may_be_rod else "",
    )
