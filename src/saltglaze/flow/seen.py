"""What stands or lies in the line, as far as drainage is concerned."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.condition.plain import plain_name
from saltglaze.condition.stretch import segment_at
from saltglaze.flow.codebook import roughness, tables
from saltglaze.flow.deposits import capacity_left
from saltglaze.flow.stretches import Reach
from saltglaze.model.appraisal import AppraisedFinding, LineSegment, Reason, Sag
from saltglaze.model.finding import Feature

WATER = {Feature.SAG, Feature.STANDING_WATER, Feature.CAMERA_UNDER_WATER}
STOPS = {Feature.COLLAPSE}
IN_THE_WAY = {
    Feature.ROOTS,
    Feature.ATTACHED_DEPOSITS,
    Feature.SETTLED_DEPOSITS,
    Feature.OBSTRUCTION,
    Feature.INTRUDING_TAP,
    Feature.INTRUDING_SEAL,
    Feature.COULD_NOT_PASS,
}
_BAD_SERVICE = 4
_DEEP_SHARE = 0.5
"""Severe from half of the diameter: Seattle Public Utilities (confirmed)."""


def left_over(part: Reach, findings: Sequence[AppraisedFinding]) -> float:
    """Return the share of capacity that the worst blockage in a reach leaves."""
    n, _ = roughness(part.segment.material if part.segment else None)
    blocked = [
        share for found in findings if (share := blocked_share(found)) and _inside(found, part)
    ]
    return capacity_left(max(blocked), n, tables()["bed"]["n"]) if blocked else 1.0


def blocked_share(found: AppraisedFinding) -> float | None:
    """Return the share of the section that a finding takes up, where it was stated."""
    facts = found.finding.facts
    if facts.feature not in IN_THE_WAY or facts.section_share is None:
        return None
    return facts.section_share.value


def _inside(found: AppraisedFinding, part: Reach) -> bool:
    at_m = found.place.station_m.value
    return at_m is not None and part.from_m <= at_m <= part.to_m


def blocked_reasons(
    parts: Sequence[Reach], findings: Sequence[AppraisedFinding]
) -> tuple[Reason, ...]:
    """Say what each blockage leaves of the capacity, and on what assumption."""
    reasons = []
    for part in parts:
        for found in findings:
            share = blocked_share(found)
            if share is None or not _inside(found, part):
                continue
            left = left_over(part, [found])
            reasons.append(
                Reason(
                    because=f"{share * 100.0:.0f} % of the section is taken up by "
                    f"{plain_name(found.finding.facts)}, which leaves about "
                    f"{left * 100.0:.0f} % of the capacity there",
                    rule="filled-bottom section; for roots and objects an assumption",
                    source="EPA SWMM and USACE SAM eq. 2-26 (confirmed); "
                    f"{tables()['bed']['source']}",
                )
            )
    return tuple(reasons)


def is_seen(sag: Sag, found: AppraisedFinding) -> bool:
    """Tell whether a low spot is one that a finding of water already tells of."""
    at_m = found.place.station_m
    if found.finding.facts.feature not in WATER or at_m.value is None:
        return False
    start, end = sag.start_m.interval95[0], sag.end_m.interval95[1]
    low, high = at_m.interval95
    return start <= high and low <= end


def is_deep(sag: Sag, segments: Sequence[LineSegment]) -> bool:
    """Tell whether water surely stands to half of the bore or more by the levels."""
    if sag.water_share is not None and sag.water_share.value is not None:
        return sag.water_share.interval95[0] >= _DEEP_SHARE
    segment = segment_at(segments, sag.lowest_m.value)
    if segment is None or not segment.diameter_m or sag.depth_m.value is None:
        return False
    return sag.depth_m.interval95[0] / segment.diameter_m >= _DEEP_SHARE


def is_bad(found: AppraisedFinding) -> bool:
    """Tell whether a finding alone keeps the line from draining."""
    return (found.grade.service or 0) >= _BAD_SERVICE
