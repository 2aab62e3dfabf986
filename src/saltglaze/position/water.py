"""Stretches where water stands, as seen and as spoken: where, and how deep along them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

import numpy as np

from saltglaze.model.appraisal import FindingPlace, LineSegment, Stationing
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Feature, Finding
from saltglaze.model.track import SightTrack
from saltglaze.position.waterline import DROWNED, GAP_M, Look, looks_of, standing_groups

BIN_M: Final = 0.25
"""Looks at the water are gathered over this much pipe."""

SHARE_FLOOR_SD: Final = 0.03
"""Least sd of a bin of water shares: neighbouring frames err together (no source)."""

EDGE_SD_M: Final = 0.05
"""How near to its end the eye still sees thin water stand (no source)."""

LEAST_M: Final = 0.5
"""A shorter stretch is a puddle behind a lip, not a sag (no source)."""

STANDING_FEATURES: Final = frozenset(
    {Feature.STANDING_WATER, Feature.SAG, Feature.CAMERA_UNDER_WATER}
)


@dataclass(frozen=True)
class WaterDepth:
    """Depth of water at a station, as a share of the bore."""

    station_m: float
    share: float
    sd: float


@dataclass(frozen=True)
class StandingWater:
    """A stretch of standing water; ``samples`` in station order, possibly none.

    ``deepest`` is the greatest share that was said of it.
    """

    id: str
    start_m: Estimate
    end_m: Estimate
    samples: tuple[WaterDepth, ...] = ()
    deepest: Estimate | None = None
    station_sd_m: float = 0.0
    """What all its stations share."""
    source: str = "seen"
    finding_ids: tuple[str, ...] = ()


def standing_water(
    tracks: Iterable[SightTrack] = (),
    stationings: Iterable[Stationing] = (),
    findings: Iterable[Finding] = (),
    places: Iterable[FindingPlace] = (),
) -> tuple[StandingWater, ...]:
    """Return the stretches of standing water in station order; none overlap.

    Seen stretches are runs of looks judged standing, the lens under water included. What
    was said joins the stretches it overlaps; said alone, it takes the looks within it,
    whatever their state, or else only its spoken share.
    """
    runs = looks_of(tracks, stationings)
    stretches = [
        _seen(group, f"water-{run_id}-{number}")
        for run_id, looks in runs.items()
        for number, group in enumerate(standing_groups(looks), start=1)
        if group[-1].station_m - group[0].station_m >= LEAST_M
    ]
    looks = sorted((look for run in runs.values() for look in run), key=lambda k: k.station_m)
    place_of = {place.finding_id: place for place in places}
    for finding in findings:
        place = place_of.get(finding.id)
        if place is None or not place.station_m.known or not finding.stands:
            continue
        if finding.facts.feature in STANDING_FEATURES:
            stretches.append(_said(finding, place, looks))
    return _merged(stretches)


def bore_at(segments: Sequence[LineSegment], station_m: float) -> float | None:
    """Return the bore at a station, metres, or ``None`` where no segment tells it."""
    for segment in segments:
        start, end = segment.start_m.value, segment.end_m.value
        after_start = start is None or station_m >= start - 1e-9
        if after_start and (end is None or station_m <= end + 1e-9) and segment.diameter_m:
            return segment.diameter_m
    return None


def _seen(group: Sequence[Look], name: str) -> StandingWater:
    first, last = group[0], group[-1]
    return StandingWater(
        id=name,
        start_m=Estimate.of(first.station_m, np.hypot(first.station_sd_m, EDGE_SD_M)),
        end_m=Estimate.of(last.station_m, np.hypot(last.station_sd_m, EDGE_SD_M)),
        samples=_binned(group),
        station_sd_m=group[len(group) // 2].station_sd_m,
    )


def _binned(group: Sequence[Look]) -> tuple[WaterDepth, ...]:
    """Return one depth for each bin of pipe.

    How deep the lens drowned is one doubt for the whole stretch, so its bins share it out.
    """
    bins: dict[int, list[Look]] = {}
    for look in group:
        if look.share is not None:
            bins.setdefault(int(np.floor(look.station_m / BIN_M)), []).append(look)
    read = {place: [k for k in looks if not k.drowned] for place, looks in bins.items()}
    drowned = max(sum(1 for looks in read.values() if not looks), 1)
    return tuple(
        _depth(looks, 1) if looks else _depth(bins[place], drowned)
        for place, looks in sorted(read.items())
    )


def _depth(looks: Sequence[Look], shared_by: int) -> WaterDepth:
    shares = [look.share for look in looks if look.share is not None]
    sd = float(np.median([look.share_sd for look in looks]))
    sd = sd * np.sqrt(shared_by) if looks[0].drowned else sd / np.sqrt(min(len(looks), 4))
    station = float(np.mean([look.station_m for look in looks]))
    return WaterDepth(station, float(np.median(shares)), max(float(sd), SHARE_FLOOR_SD))


def _said(finding: Finding, place: FindingPlace, looks: Sequence[Look]) -> StandingWater:
    start = place.station_m
    end = place.end_station_m if place.end_station_m and place.end_station_m.known else start
    if (end.value or 0.0) < (start.value or 0.0):
        start, end = end, start
    low, high = start.value or 0.0, end.value or 0.0
    within = [look for look in looks if low <= look.station_m <= high and look.share is not None]
    share = finding.facts.water_share
    if share is None and finding.facts.feature is Feature.CAMERA_UNDER_WATER:
        share = DROWNED
    return StandingWater(
        id=f"water-{finding.id}",
        start_m=start,
        end_m=end,
        samples=_binned(within),
        deepest=share if share is not None and share.known else None,
        station_sd_m=start.spread,
        source="seen" if finding.evidence.drafted_by is DraftedBy.SIGHT else "spoken",
        finding_ids=(finding.id,),
    )


def _merged(stretches: Sequence[StandingWater]) -> tuple[StandingWater, ...]:
    """Join stretches that overlap or nearly touch; seen ones lead."""
    merged: list[StandingWater] = []
    for stretch in sorted(stretches, key=lambda s: s.start_m.value or 0.0):
        if merged and (stretch.start_m.value or 0.0) <= (merged[-1].end_m.value or 0.0) + GAP_M:
            merged[-1] = _join(merged[-1], stretch)
        else:
            merged.append(stretch)
    return tuple(merged)


def _join(one: StandingWater, other: StandingWater) -> StandingWater:
    """Return two stretches as one: read depths of both, said shares where none were read."""
    lead = other if other.finding_ids == () and one.finding_ids else one
    further = (other.end_m.value or 0.0) > (one.end_m.value or 0.0)
    said = [s.deepest for s in (one, other) if s.deepest is not None]
    sources = sorted({word for s in (one, other) for word in s.source.split(" and ")})
    return replace(
        lead,
        start_m=one.start_m,
        end_m=other.end_m if further else one.end_m,
        samples=_both(one, other),
        deepest=max(said, key=lambda share: share.value or 0.0) if said else None,
        source=" and ".join(sources),
        finding_ids=(*one.finding_ids, *other.finding_ids),
    )


def _both(one: StandingWater, other: StandingWater) -> tuple[WaterDepth, ...]:
    """Return the samples of both; the same film read twice counts once."""
    by_bin = {int(np.floor(sample.station_m / BIN_M)): sample for sample in other.samples}
    by_bin.update({int(np.floor(sample.station_m / BIN_M)): sample for sample in one.samples})
    return tuple(sorted(by_bin.values(), key=lambda sample: sample.station_m))
