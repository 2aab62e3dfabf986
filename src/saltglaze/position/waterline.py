"""What the film says about water, brought to stations: depths read, drowned lens, blind spots."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from saltglaze.model.appraisal import Stationing
from saltglaze.model.base import Estimate
from saltglaze.model.track import SightTrack, ViewState, WaterState

DROWNED: Final = Estimate.of(0.7, 0.17)
"""Share of the bore that water fills where the lens is under it: from about the axis to
the soffit, uniform (assumption)."""

DROWNED_STEP_S: Final = 0.5

GAP_M: Final = 0.5
"""Standing water on either side of a shorter gap is one stretch (no source)."""

BLIND_M: Final = 6.0
"""So much pipe in which no water line could be read may lie within one stretch (no source)."""


@dataclass(frozen=True)
class Look:
    """One look at the water line; ``share`` is ``None`` where it could not be read."""

    station_m: float
    station_sd_m: float
    share: float | None
    share_sd: float
    standing: bool
    flowing: bool
    drowned: bool = False


def looks_of(
    tracks: Iterable[SightTrack], stationings: Iterable[Stationing]
) -> dict[str, list[Look]]:
    """Return the looks of each run in station order; runs without stations are left out."""
    by_run = {stationing.run_id: stationing for stationing in stationings}
    found = {}
    for track in tracks:
        stationing = by_run.get(track.run_id)
        if stationing is not None and stationing.samples:
            looks = [*_read(track, stationing), *_drowned(track, stationing)]
            found[track.run_id] = sorted(looks, key=lambda look: look.station_m)
    return found


def standing_groups(looks: Sequence[Look]) -> list[list[Look]]:
    """Return the runs of standing looks that belong together.

    Flicker and film in which no water line can be read do not part a stretch; flowing
    water over more than :data:`GAP_M`, or pipe nobody looked at, does.
    """
    groups: list[list[Look]] = []
    before = -np.inf
    parted = True
    for look in looks:
        away = look.station_m - groups[-1][-1].station_m if groups else np.inf
        parted = parted or look.station_m - before > GAP_M or (look.flowing and away > GAP_M)
        before = look.station_m
        if not look.standing:
            continue
        if parted or away > BLIND_M:
            groups.append([])
        groups[-1].append(look)
        parted = False
    return groups


def looked_at(
    tracks: Iterable[SightTrack], stationings: Iterable[Stationing]
) -> tuple[tuple[float, float], ...]:
    """Return the stretches of line (from, to) over which the water line was read on film."""
    stretches: list[tuple[float, float]] = []
    for looks in looks_of(tracks, stationings).values():
        for look in (look for look in looks if look.flowing or look.standing):
            if stretches and 0.0 <= look.station_m - stretches[-1][1] <= GAP_M:
                stretches[-1] = (stretches[-1][0], look.station_m)
            else:
                stretches.append((look.station_m, look.station_m))
    return tuple(stretches)


def _read(track: SightTrack, stationing: Stationing) -> list[Look]:
    samples = [s for s in track.water if _within(s.time_s, stationing)]
    stations, sds = _stations([s.time_s for s in samples], stationing)
    return [
        Look(
            station_m=station,
            station_sd_m=sd,
            share=sample.depth_share.value,
            share_sd=sample.depth_share.spread if sample.depth_share.known else 0.0,
            standing=sample.state is WaterState.STANDING and sample.depth_share.known,
            flowing=sample.state is WaterState.FLOWING,
        )
        for sample, station, sd in zip(samples, stations, sds, strict=True)
    ]


def _drowned(track: SightTrack, stationing: Stationing) -> list[Look]:
    times = [
        float(time)
        for stretch in track.view
        if stretch.state is ViewState.UNDER_WATER
        for time in np.arange(stretch.start_s, stretch.end_s, DROWNED_STEP_S)
        if _within(float(time), stationing)
    ]
    stations, sds = _stations(times, stationing)
    return [
        Look(station, sd, DROWNED.value, DROWNED.spread, True, False, drowned=True)
        for station, sd in zip(stations, sds, strict=True)
    ]


def _within(time_s: float, stationing: Stationing) -> bool:
    return stationing.samples[0].time_s - 1.0 <= time_s <= stationing.samples[-1].time_s + 1.0


def _stations(times: Sequence[float], stationing: Stationing) -> tuple[list[float], list[float]]:
    known = [sample.time_s for sample in stationing.samples]
    return (
        np.interp(times, known, [s.station_m for s in stationing.samples]).tolist(),
        np.interp(times, known, [s.sd_m for s in stationing.samples]).tolist(),
    )
