"""Stretches where water stands, as seen and as spoken: where, and how deep along them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import FindingPlace, LineSegment, Stationing
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature, Finding
from saltglaze.model.track import SightTrack, WaterSample, WaterState

Array = NDArray[np.float64]

BIN_M: Final = 0.25
"""Samples of water are gathered over this much pipe."""

SHARE_FLOOR_SD: Final = 0.03
"""Least sd of a bin of water shares: neighbouring frames err together (no source)."""

SPOKEN_SHARE_SD: Final = 0.08
"""Of "half full" called out: a person's eye, to the nearest eighth (no source)."""

EDGE_SD_M: Final = 0.05
"""How near to its end the eye still sees thin water stand (no source)."""

GAP_M: Final = 0.5
"""Standing water seen on either side of a shorter gap is one stretch (no source)."""

LEAST_M: Final = 0.5
"""A shorter stretch is a puddle behind a lip, not a sag (no source)."""

STANDING_FEATURES: Final = frozenset({Feature.STANDING_WATER, Feature.SAG})


@dataclass(frozen=True)
class WaterDepth:
    """Depth of water at a station, as a share of the bore."""

    station_m: float
    share: float
    sd: float


@dataclass(frozen=True)
class StandingWater:
    """A stretch of standing water; ``samples`` in station order, possibly none.

    ``deepest`` is the greatest share where only that was said.
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
    """Return the stretches of standing water in station order.

    Seen stretches are runs of samples judged standing. A spoken stretch that overlaps a
    seen one joins it; one that stands alone takes the water samples within it, whatever
    their state, or else only its spoken share.
    """
    by_run = {stationing.run_id: stationing for stationing in stationings}
    seen: list[StandingWater] = []
    film: list[tuple[float, float, WaterSample]] = []
    for track in tracks:
        stationing = by_run.get(track.run_id)
        if stationing is not None and stationing.samples and track.water:
            placed = _placed(track.water, stationing)
            film += placed
            seen += _seen(placed, track.run_id)
    place_of = {place.finding_id: place for place in places}
    stretches = list(seen)
    for finding in findings:
        if finding.stands and finding.facts.feature in STANDING_FEATURES:
            place = place_of.get(finding.id)
            if place is not None and place.station_m.known:
                stretches = _joined(stretches, finding, place, film)
    return tuple(sorted(stretches, key=lambda s: s.start_m.value or 0.0))


def looked_at(
    tracks: Iterable[SightTrack], stationings: Iterable[Stationing]
) -> tuple[tuple[float, float], ...]:
    """Return the stretches of line (from, to) over which the water line was read on film."""
    by_run = {stationing.run_id: stationing for stationing in stationings}
    stretches: list[tuple[float, float]] = []
    for track in tracks:
        stationing = by_run.get(track.run_id)
        if stationing is None or not stationing.samples:
            continue
        stations = sorted(placed[0] for placed in _placed(track.water, stationing))
        for station in stations:
            if stretches and 0.0 <= station - stretches[-1][1] <= GAP_M:
                stretches[-1] = (stretches[-1][0], station)
            else:
                stretches.append((station, station))
    return tuple(stretches)


def bore_at(segments: Sequence[LineSegment], station_m: float) -> float | None:
    """Return the bore at a station, metres, or ``None`` where no segment tells it."""
    for segment in segments:
        start, end = segment.start_m.value, segment.end_m.value
        after_start = start is None or station_m >= start - 1e-9
        if after_start and (end is None or station_m <= end + 1e-9) and segment.diameter_m:
            return segment.diameter_m
    return None


def _placed(
    water: Sequence[WaterSample], stationing: Stationing
) -> list[tuple[float, float, WaterSample]]:
    """Return (station, its sd, sample) of each sample with a known share."""
    times = np.array([s.time_s for s in stationing.samples])
    stations = np.array([s.station_m for s in stationing.samples])
    sds = np.array([s.sd_m for s in stationing.samples])
    return [
        (
            float(np.interp(sample.time_s, times, stations)),
            float(np.interp(sample.time_s, times, sds)),
            sample,
        )
        for sample in water
        if sample.depth_share.known and times[0] - 1.0 <= sample.time_s <= times[-1] + 1.0
    ]


def _seen(placed: Sequence[tuple[float, float, WaterSample]], run_id: str) -> list[StandingWater]:
    standing = sorted(
        (p for p in placed if p[2].state is WaterState.STANDING), key=lambda item: item[0]
    )
    groups: list[list[tuple[float, float, WaterSample]]] = []
    for item in standing:
        if groups and item[0] - groups[-1][-1][0] <= GAP_M:
            groups[-1].append(item)
        else:
            groups.append([item])
    return [
        StandingWater(
            id=f"water-{run_id}-{number}",
            start_m=Estimate.of(group[0][0], np.hypot(group[0][1], EDGE_SD_M)),
            end_m=Estimate.of(group[-1][0], np.hypot(group[-1][1], EDGE_SD_M)),
            samples=_binned(group),
            station_sd_m=group[len(group) // 2][1],
        )
        for number, group in enumerate(groups, start=1)
        if group[-1][0] - group[0][0] >= LEAST_M
    ]


def _binned(group: Sequence[tuple[float, float, WaterSample]]) -> tuple[WaterDepth, ...]:
    stations = np.array([item[0] for item in group])
    shares = np.array([item[2].depth_share.value for item in group], dtype=np.float64)
    sds = np.array([item[2].depth_share.spread for item in group])
    places = np.floor(stations / BIN_M).astype(int)
    bins = []
    for place in np.unique(places):
        mine = places == place
        middle = float(np.median(shares[mine]))
        sd = max(float(np.median(sds[mine])) / np.sqrt(min(int(mine.sum()), 4)), SHARE_FLOOR_SD)
        bins.append(WaterDepth(float(stations[mine].mean()), middle, sd))
    return tuple(bins)


def _joined(
    stretches: list[StandingWater],
    finding: Finding,
    place: FindingPlace,
    film: Sequence[tuple[float, float, WaterSample]],
) -> list[StandingWater]:
    assert place.station_m.value is not None
    start = place.station_m
    end = place.end_station_m if place.end_station_m and place.end_station_m.known else start
    assert end.value is not None
    if end.value < place.station_m.value:
        start, end = end, start
    low, high = start.value or 0.0, end.value or 0.0
    share = finding.facts.water_share
    for index, stretch in enumerate(stretches):
        first, last = stretch.start_m.value or 0.0, stretch.end_m.value or 0.0
        if first <= high + GAP_M and low <= last + GAP_M:
            wider = StandingWater(
                id=stretch.id,
                start_m=stretch.start_m if first <= low else start,
                end_m=stretch.end_m if last >= high else end,
                samples=stretch.samples,
                deepest=stretch.deepest or share,
                station_sd_m=stretch.station_sd_m,
                source="seen and spoken" if stretch.source.startswith("seen") else "spoken",
                finding_ids=(*stretch.finding_ids, finding.id),
            )
            return [*stretches[:index], wider, *stretches[index + 1 :]]
    within = [item for item in film if low <= item[0] <= high]
    alone = StandingWater(
        id=f"water-{finding.id}",
        start_m=start,
        end_m=end,
        samples=_binned(within) if within else (),
        deepest=share,
        station_sd_m=start.spread,
        source="spoken",
        finding_ids=(finding.id,),
    )
    return [*stretches, alone]
