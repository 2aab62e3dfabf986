"""Faults that lie close enough together to share one pit or one short liner."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.model.appraisal import AppraisedFinding

SPOT_REACH_M = 0.75
"""Faults within this of each other share a pit or a short liner (common practice)."""


def clusters(findings: Sequence[AppraisedFinding]) -> list[list[AppraisedFinding]]:
    """Group faults that lie close enough together for one pit or one short liner.

    A fault with no station is a spot of its own.
    """
    placed = sorted(
        (f for f in findings if f.place.station_m.known),
        key=lambda f: f.place.station_m.value or 0.0,
    )
    groups: list[list[AppraisedFinding]] = []
    for found in placed:
        at_m = found.place.station_m.value or 0.0
        if groups and at_m - (groups[-1][0].place.station_m.value or 0.0) <= 2.0 * SPOT_REACH_M:
            groups[-1].append(found)
        else:
            groups.append([found])
    return groups + [[found] for found in findings if not found.place.station_m.known]


def in_spots(found: AppraisedFinding, spots: Sequence[Sequence[AppraisedFinding]]) -> bool:
    """Tell whether a fault is one of, or lies between, those of a spot."""
    if any(found is target for spot in spots for target in spot):
        return True
    at_m = found.place.station_m.value
    ends = [(spot[0].place.station_m.value, spot[-1].place.station_m.value) for spot in spots]
    return at_m is not None and any(
        first is not None
        and last is not None
        and first - SPOT_REACH_M / 2.0 <= at_m <= last + SPOT_REACH_M / 2.0
        for first, last in ends
    )


def lost(findings: Sequence[AppraisedFinding]) -> list[str]:
    """Name the faults that cannot be gone to, since their place is not known."""
    nowhere = [found for found in findings if not found.place.station_m.known]
    names = dict.fromkeys(plain_name(found.finding.facts) for found in nowhere)
    return [f"where along the line {name} lies must be found first" for name in names]
