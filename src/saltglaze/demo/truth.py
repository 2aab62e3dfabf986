"""What a script's film really shows, moment by moment: the measure for every estimator."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.recorder import DROPOUT_S, dropout_times
from saltglaze.demo.script import FilmScript, WallDefect, joint_stations
from saltglaze.model.track import MotionKind, ViewState, WaterState

HOLDING_M_S = 0.003
"""Below this speed the lens holds (invented limit of the truth, not of an estimator)."""
TURNING_DEG_S = 2.0
OFF_AXIS_DEG = 12.0
WATER_AHEAD_DIAMETERS = 1.0
"""Water is told for the section one diameter ahead of the lens, where it is well in view."""
READABLE_PX = 9
SPOILT = 0.35
"""Strength from which a fog, smear, glare or darkness counts as spoiling the view."""


@dataclass(frozen=True)
class Passage:
    """The lens passes something fixed on the wall."""

    time_s: float
    station_m: float
    forwards: bool


@dataclass(frozen=True)
class DefectPassage:
    """The lens passes a defect: when it reaches it, and the screen angle it shows at."""

    defect: WallDefect
    time_s: float
    clock_deg: float
    screen_clock_deg: float
    forwards: bool


@dataclass(frozen=True)
class FilmTruth:
    """The truth at sampled times; all arrays have one entry for each time.

    ``counter_m`` is the counter as shown (after display rounding), metres of counter;
    ``counter_text`` the very letters. ``water_share`` is told for the section one
    diameter ahead of the lens (0 where the bed hides it), ``bed_share`` alike for what has
    settled. ``roll_deg`` follows ``RollSample``: clockwise on the screen, +90 puts the soffit
    at the right; it is not wrapped.
    """

    time_s: NDArray[np.float64]
    station_m: NDArray[np.float64]
    speed_m_s: NDArray[np.float64]
    counter_m: NDArray[np.float64]
    counter_text: tuple[str, ...]
    counter_readable: NDArray[np.bool_]
    roll_deg: NDArray[np.float64]
    water_share: NDArray[np.float64]
    bed_share: NDArray[np.float64]
    water_state: tuple[WaterState, ...]
    under_water: NDArray[np.bool_]
    motion: tuple[MotionKind, ...]
    view: tuple[ViewState, ...]
    diameter_m: NDArray[np.float64]
    joints: tuple[Passage, ...]
    defects: tuple[DefectPassage, ...]


def truth(script: FilmScript, times_s: NDArray[np.float64] | None = None) -> FilmTruth:
    """Return the truth at each time (default: at each frame)."""
    times = script.frame_times_s if times_s is None else np.asarray(times_s, dtype=float)
    station = script.station.at(times)
    diameter = np.array([script.segment_at(float(s)).diameter_m for s in station])
    counter = script.counter.at(times, script.station)
    seen_m = station + WATER_AHEAD_DIAMETERS * diameter
    share = script.water_share_at(seen_m)
    stands = script.water.stands_at(seen_m) & (share > 0.0)
    under = under_water(script, times)
    view = tuple(_view(script, float(t), bool(u)) for t, u in zip(times, under, strict=True))
    return FilmTruth(
        time_s=times,
        station_m=station,
        speed_m_s=script.station.rate_at(times),
        counter_m=np.array([script.overlay.shown_m(float(c)) for c in counter]),
        counter_text=tuple(
            script.overlay.text(float(c)) if script.overlay.shown else "" for c in counter
        ),
        counter_readable=_readable(script, times),
        roll_deg=script.roll_deg.at(times),
        water_share=share,
        bed_share=script.bed.share_at(seen_m),
        water_state=tuple(
            WaterState.STANDING if s else WaterState.FLOWING if w > 0.005 else WaterState.UNKNOWN
            for s, w in zip(stands, share, strict=True)
        ),
        under_water=under,
        motion=_motion(script, times),
        view=view,
        diameter_m=diameter,
        joints=joint_passages(script),
        defects=defect_passages(script),
    )


def under_water(script: FilmScript, times_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return whether the lens is below the water's surface at each time."""
    stations = script.station.at(times_s)
    depths = script.water.share_at(stations)
    flags = []
    for station, share in zip(stations, depths, strict=True):
        diameter = script.segment_at(float(station)).diameter_m
        lens_m = script.lens_offset_m(float(station))[1] + diameter / 2
        flags.append(bool(share * diameter > lens_m))
    return np.array(flags, dtype=bool)


def crossings(script: FilmScript, station_m: float) -> tuple[Passage, ...]:
    """Return every time at which the lens passes a station, to about a millisecond."""
    grid = np.arange(0.0, script.duration_s + 1e-9, 1.0 / 50.0)
    beyond = script.station.at(grid) >= station_m
    found = []
    for at in np.flatnonzero(beyond[1:] != beyond[:-1]):
        low, high = float(grid[at]), float(grid[at + 1])
        while high - low > 1e-4:
            middle = 0.5 * (low + high)
            if bool(script.station.at(middle) >= station_m) == bool(beyond[at]):
                low = middle
            else:
                high = middle
        found.append(Passage(0.5 * (low + high), station_m, bool(beyond[at + 1])))
    return tuple(found)


def joint_passages(script: FilmScript) -> tuple[Passage, ...]:
    """Return all joint passages in time order."""
    every = [p for station in joint_stations(script) for p in crossings(script, station)]
    return tuple(sorted(every, key=lambda p: p.time_s))


def defect_passages(script: FilmScript) -> tuple[DefectPassage, ...]:
    """Return all passages of the start of each defect in time order."""
    found = []
    for defect in script.defects:
        for passage in crossings(script, defect.station_m):
            roll = float(script.roll_deg.at(passage.time_s))
            screen = (defect.clock_deg + roll) % 360.0
            found.append(
                DefectPassage(
                    defect, passage.time_s, defect.clock_deg % 360.0, screen, passage.forwards
                )
            )
    return tuple(sorted(found, key=lambda p: p.time_s))


def _motion(script: FilmScript, times: NDArray[np.float64]) -> tuple[MotionKind, ...]:
    speed = script.station.rate_at(times)
    turning = np.hypot(script.yaw_deg.rate_at(times), script.pitch_deg.rate_at(times))
    kinds = []
    for v, turn in zip(speed, turning, strict=True):
        if abs(v) > HOLDING_M_S:
            kinds.append(MotionKind.ADVANCING if v > 0 else MotionKind.BACKING)
        else:
            kinds.append(MotionKind.TURNING_HEAD if turn > TURNING_DEG_S else MotionKind.HOLDING)
    return tuple(kinds)


def _view(script: FilmScript, time_s: float, under: bool) -> ViewState:
    if under:
        return ViewState.UNDER_WATER
    for event in script.events:
        if event.start_s <= time_s < event.end_s and event.strength >= SPOILT:
            return event.state
    turned = np.hypot(float(script.yaw_deg.at(time_s)), float(script.pitch_deg.at(time_s)))
    return ViewState.OFF_AXIS if turned > OFF_AXIS_DEG else ViewState.CLEAR


def _readable(script: FilmScript, times: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Return whether a person could read the counter: shown, large enough, not torn."""
    big_enough = script.overlay.size_px >= READABLE_PX
    torn = np.zeros(times.shape, dtype=bool)
    for begin in dropout_times(script.recorder, script.duration_s, script.seed):
        torn |= (times >= begin) & (times < begin + DROPOUT_S)
    return ~torn & (script.overlay.shown and big_enough)
