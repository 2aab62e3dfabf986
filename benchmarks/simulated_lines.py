"""Makes invented lines whose truth is known, and the evidence a technician would bring back.

No film is made: counter readings, joints, motion, talk and locates are drawn directly as
records, with the errors they have in the field. Everything follows from the seed.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.appraisal import Heard
from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding, Turn
from saltglaze.model.frame import FilmFacts
from saltglaze.model.ground import FixKind, Locate, Mark, MarkedFeature, PlanPoint, Tie
from saltglaze.model.job import Job
from saltglaze.model.line import FactSource, Line, Material, Segment
from saltglaze.model.run import Direction, Run
from saltglaze.model.talk import SpokenStation
from saltglaze.model.track import (
    CounterReading,
    CounterReset,
    CounterTrack,
    JointPassage,
    MotionKind,
    MotionStretch,
    SightTrack,
)
from simulated_depths import TrueSection, with_depths
from simulated_maps import with_map

Floats = NDArray[np.float64]

ANGLES = {"1/16": 22.5, "1/8": 45.0, "1/4": 90.0}
SECTION_M = {Material.CLAY: 0.6096, Material.CAST_IRON: 1.524, Material.PVC: 3.0}
START_M = 0.1
"""The lens against the access when the film begins, per line: the margin that its run states."""
WANDER = {Material.CLAY: 0.014, Material.CAST_IRON: 0.014, Material.PVC: 0.02}


@dataclass(frozen=True)
class Settings:
    """What lines to draw; the defaults are the range the calibration asks for."""

    length_m: tuple[float, float] = (5.0, 120.0)
    bends: tuple[int, int] = (0, 6)
    locates: tuple[int, int] = (2, 15)
    reading_hz: float = 2.0
    outliers: float = 0.05
    misreads: float = 0.02
    unsaid_bends: float = 0.0
    unread: float = 0.0
    """Share of films whose counter cannot be read: only the talk tells distances."""
    maps: float = 0.0
    """Share of lines with a map: the house's outline, the main, and the end seen at it."""
    defects: int = 6
    lead_m: tuple[float, float] = (0.15, 0.1)
    """How far ahead of the lens things are named: mean and sd from run to run."""


@dataclass
class TrueLine:
    """The truth: plan by station, and where everything stands."""

    length_m: float
    material: Material
    fine_m: Floats
    points: Floats
    bend_m: Floats
    bend_kind: list[str]
    bend_right: list[bool]

    def at(self, station_m: float | Floats) -> Floats:
        """Plan position at stations."""
        return np.stack(
            [np.interp(station_m, self.fine_m, self.points[:, axis]) for axis in (0, 1)], axis=-1
        )


@dataclass
class SimulatedLine:
    """A job with its evidence, and the truth of each finding and locate."""

    job: Job
    track: SightTrack
    heard: Heard
    findings: tuple[Finding, ...]
    truth: TrueLine
    section: TrueSection
    finding_m: dict[str, float]
    locate_m: dict[str, float]
    outliers: set[str]
    finding_counter_m: dict[str, float]
    locate_counter_m: dict[str, float]
    path_time_s: Floats
    path_m: Floats
    notes: dict[str, object] = field(default_factory=dict)


def simulate(seed: int, settings: Settings = Settings()) -> SimulatedLine:
    """Draw one line and its evidence."""
    rng = np.random.default_rng([seed, 20250607])
    truth = _line(rng, settings)
    locates = np.sort(
        rng.uniform(0.5, truth.length_m, rng.integers(settings.locates[0], settings.locates[1] + 1))
    )
    time, path, holds = _movement(rng, truth.length_m, locates)
    counter = _Counter(rng, path)
    if settings.unread > 0.0 and rng.random() < settings.unread:
        counter.read, counter.reset, counter.shown = False, None, counter.continued
    lead = np.random.default_rng([seed, 20250613]).normal(*settings.lead_m)
    findings, finding_m, moments = _findings(rng, truth, settings, time, path, float(lead))
    job, locate_m, outliers, locate_time = _job(rng, truth, settings, locates, holds)
    job, section = with_depths(job, locate_m, truth.length_m, seed)
    if settings.maps > 0.0:
        charted = np.random.default_rng([seed, 20250615])
        if charted.random() < settings.maps:
            job, end = with_map(charted, job, truth.points, float(time[-1]))
            findings = (*findings, end)
            finding_m[end.id], moments[end.id] = float(path[-1]), float(time[-1])
    track = _track(rng, settings, truth, time, path, counter, holds)
    heard = _heard(rng, time, counter)
    at = counter.continued
    return SimulatedLine(
        job,
        track,
        heard,
        findings,
        truth,
        section,
        finding_m,
        locate_m,
        outliers,
        {name: float(np.interp(moment, time, at)) for name, moment in moments.items()},
        {name: float(np.interp(moment, time, at)) for name, moment in locate_time.items()},
        time,
        path,
        {"scale": counter.scale, "zero": counter.zero},
    )


def _line(rng: np.random.Generator, settings: Settings) -> TrueLine:
    length = float(np.exp(rng.uniform(*np.log(settings.length_m))))
    material = [Material.CLAY, Material.CAST_IRON, Material.PVC][int(rng.integers(3))]
    most = min(settings.bends[1], int(length // 3))
    count = int(rng.integers(settings.bends[0], most + 1))
    bends = np.sort(rng.uniform(0.8, max(length - 0.5, 1.0), count))
    while count > 1 and np.min(np.diff(bends)) < 0.8:
        bends = np.sort(rng.uniform(0.8, length - 0.5, count))
    kinds = [str(rng.choice(["1/16", "1/8", "1/4"], p=[0.3, 0.45, 0.25])) for _ in bends]
    right = [bool(rng.random() < 0.5) for _ in bends]
    fine = np.linspace(0.0, length, int(length / 0.02) + 2)
    heading = np.full(fine.size, rng.uniform(0.0, 2.0 * np.pi))
    step = SECTION_M[material] if material is not Material.PVC else 0.5
    joints = np.arange(rng.uniform(0.0, step), length, step)
    for joint in joints:
        heading[fine >= joint] += rng.normal(0.0, WANDER[material] * np.sqrt(step))
    for place, kind, way in zip(bends, kinds, right, strict=True):
        angle = np.radians(ANGLES[kind]) + rng.normal(0.0, 0.06)
        heading[fine >= place] += angle if way else -angle
    step_m = np.diff(fine, prepend=0.0)
    points = np.column_stack(
        [np.cumsum(np.sin(heading) * step_m), np.cumsum(np.cos(heading) * step_m)]
    )
    return TrueLine(length, material, fine, points, bends, kinds, right)


def _movement(
    rng: np.random.Generator, length: float, stops: Floats
) -> tuple[Floats, Floats, list[tuple[float, float, float]]]:
    """Lens station against time at 4 Hz, and the holds (start, end, station)."""
    times, path, holds = [0.0], [float(rng.normal(0.0, START_M))], []
    now, at, dt = 0.0, path[0], 0.25

    def go(target: float) -> None:
        nonlocal now, at
        speed = rng.uniform(0.06, 0.16)
        while abs(target - at) > 1e-9:
            if rng.random() < 0.05:
                speed = rng.uniform(0.04, 0.18)
            now += dt
            at += float(np.clip(target - at, -speed * dt, speed * dt))
            times.append(now)
            path.append(at)

    def hold(seconds: float) -> None:
        nonlocal now
        begin = now
        while now - begin < seconds:
            now += dt
            times.append(now)
            path.append(at)
        holds.append((begin, now, at))

    hold(rng.uniform(2.0, 5.0))
    for stop in stops:
        if rng.random() < 0.15 and at > 3.0:
            go(at - rng.uniform(0.5, 2.5))
        go(float(stop))
        hold(rng.uniform(8.0, 20.0))
    go(length)
    hold(3.0)
    return np.array(times), np.array(path), holds


class _Counter:
    """The cable counter: scale, zero, slips, bunching, a reset."""

    def __init__(self, rng: np.random.Generator, path: Floats) -> None:
        self.scale = float(rng.normal(1.0, 0.018))
        self.zero = float(rng.normal(0.0, 0.28))
        moved = np.diff(path, prepend=path[0])
        slip = np.zeros(path.size)
        struck = rng.random(path.size) < np.abs(moved) / 25.0
        slip[struck] = rng.exponential(0.15, struck.sum()) * rng.choice([1, 1, -1], struck.sum())
        way = np.sign(moved)
        turned, last = np.zeros(path.size), 1.0
        for index, sign in enumerate(way):
            if sign not in (0.0, last):
                turned[index], last = sign * rng.uniform(0.0, 0.25), sign
        wander = rng.normal(0.0, 0.01, path.size) * np.sqrt(np.abs(moved))
        self.slip = self.zero + np.cumsum(slip + turned + wander)
        self.continued: Floats = (path - self.slip) / self.scale
        self.shown: Floats = self.continued.copy()
        self.read = True
        self.reset: tuple[int, float, float] | None = None
        if rng.random() < 0.1:
            index = int(rng.integers(path.size // 4, 3 * path.size // 4))
            self.reset = (index, float(self.shown[index]), 0.0)
            self.shown[index:] -= self.shown[index]


def _findings(
    rng: np.random.Generator,
    truth: TrueLine,
    settings: Settings,
    time: Floats,
    path: Floats,
    lead_m: float,
) -> tuple[tuple[Finding, ...], dict[str, float], dict[str, float]]:
    found, where, moments = [], {}, {}
    reached = np.maximum.accumulate(path)

    def say(name: str, station: float, facts: Facts) -> None:
        lens = float(
            np.clip(station - lead_m + rng.normal(0.0, 0.15), reached[0] + 0.01, reached[-1] - 0.01)
        )
        first = int(np.searchsorted(reached, lens))
        moment = float(time[min(first, time.size - 1)] + rng.normal(0.0, 1.0))
        moment = float(np.clip(moment, 0.0, time[-1]))
        evidence = Evidence(drafted_by=DraftedBy.NARRATION, run_id="r1")
        found.append(Finding(id=name, draft=facts, evidence=evidence, start_s=moment))
        where[name], moments[name] = station, moment

    for number, station in enumerate(np.sort(rng.uniform(0.5, truth.length_m, settings.defects))):
        say(f"d{number}", float(station), Facts(feature=Feature.HOLE))
    for number, (place, kind, right) in enumerate(
        zip(truth.bend_m, truth.bend_kind, truth.bend_right, strict=True)
    ):
        if rng.random() < settings.unsaid_bends:
            continue
        turn: Turn | None = Turn.RIGHT if right != (rng.random() < 0.03) else Turn.LEFT
        if rng.random() < 0.2:
            turn = None
        facts = Facts(feature=Feature.BEND, kind=kind, turn=turn)
        say(f"b{number}", float(place), facts)
    return tuple(found), where, moments


def _job(
    rng: np.random.Generator,
    truth: TrueLine,
    settings: Settings,
    stations: Floats,
    holds: list[tuple[float, float, float]],
) -> tuple[Job, dict[str, float], set[str], dict[str, float]]:
    marks = _marks(rng, truth)
    locates, ties, where, gross, moments = [], [], {}, set(), {}
    behind = float(rng.uniform(0.05, 0.3))
    told_behind = rng.random() < 0.5
    for number, (station, hold) in enumerate(zip(stations, holds[1:], strict=False)):
        name = f"L{number}"
        sonde = max(float(station) - behind, 0.0)
        spot = truth.at(sonde) + rng.normal(0.0, 0.1, 2)
        if rng.random() < settings.outliers:
            gross.add(name)
            spot = spot + rng.normal(0.0, 5.0, 2)
        moment = float(rng.uniform(hold[0] + 1.0, hold[1] - 1.0))
        locate, taped = _locate(rng, name, spot, marks, moment)
        locates.append(locate)
        ties += taped
        where[name], moments[name] = sonde, moment
    start = truth.at(0.0) + rng.normal(0.0, 0.3, 2)
    run = Run(
        id="r1",
        direction=Direction.WITH_FLOW,
        sonde_behind_lens_m=behind if told_behind else None,
        start_station_m=Estimate.of(0.0, START_M),
    )
    section = SECTION_M[truth.material] if rng.random() < 0.4 else None
    segment = Segment(
        start_m=Estimate.of(0.0, 0.0),
        material=truth.material,
        diameter_m=0.1,
        section_length_m=section,
        source=FactSource.RECORD,
    )
    job = Job(
        id="simulated",
        invented=True,
        line=Line(id="line", segments=(segment,)),
        runs=(run,),
        locates=tuple(locates),
        ties=tuple(ties),
        marks=tuple(marks),
        start_point=_point(start) if rng.random() < 0.5 else None,
        start_point_sd_m=0.3,
    )
    return job, where, gross, moments


def _marks(rng: np.random.Generator, truth: TrueLine) -> list[Mark]:
    """House corners and posts on both sides of the line, some metres off."""
    marks = []
    for number, station in enumerate(np.arange(0.0, truth.length_m + 8.0, 8.0)):
        here = truth.at(min(float(station), truth.length_m)) + rng.normal(0.0, 5.0, 2)
        marks.append(Mark(id=f"M{number}", name=f"mark {number}", point=_point(here)))
    return marks


def _locate(
    rng: np.random.Generator, name: str, spot: Floats, marks: list[Mark], moment: float
) -> tuple[Locate, list[Tie]]:
    base = {
        "id": name,
        "run_id": "r1",
        "time_s": moment,
        "marked": MarkedFeature.BETWEEN_NULLS,
        "pitch_deg": 0.0,
    }
    kind = rng.random()
    near = sorted(marks, key=lambda m: float(np.hypot(*(_xy(m) - spot))))
    tapes = 2 if kind < 0.35 else 3
    if kind < 0.5 and len(near) >= tapes and _crossing(spot, near[0], near[1]) > 25.0:
        ties = []
        for mark in near[:tapes]:
            true_mark = _xy(mark) + rng.normal(0.0, mark.sd_m, 2)
            distance = float(np.hypot(*(true_mark - spot)))
            sd = float(np.hypot(0.02, 0.002 * distance))
            ties.append(
                Tie(
                    mark_id=mark.id,
                    point_id=name,
                    distance_m=max(distance + rng.normal(0.0, sd), 0.05),
                )
            )
        return Locate(fix=FixKind.TIES, **base), ties
    at = spot + rng.normal(0.0, 0.06, 2)
    return Locate(fix=FixKind.GNSS_RTK, point=_point(at), point_sd_m=0.02, **base), []


def _crossing(spot: Floats, one: Mark, other: Mark) -> float:
    a, b = _xy(one) - spot, _xy(other) - spot
    cos = abs(float(a @ b)) / max(float(np.hypot(*a) * np.hypot(*b)), 1e-9)
    return float(np.degrees(np.arccos(min(cos, 1.0))))


def _track(
    rng: np.random.Generator,
    settings: Settings,
    truth: TrueLine,
    time: Floats,
    path: Floats,
    counter: _Counter,
    holds: list[tuple[float, float, float]],
) -> SightTrack:
    readings = []
    moments = np.arange(0.0, time[-1] if counter.read else 0.0, 1.0 / settings.reading_hz)
    for moment in moments:
        index = min(int(np.searchsorted(time, moment)), time.size - 1)
        value = round(float(counter.shown[index]) / 0.03048) * 0.03048
        confidence = float(rng.uniform(0.93, 0.999))
        if rng.random() < settings.misreads:
            value += float(rng.choice([-1, 1])) * float(rng.choice([0.3048, 1.524, 3.048, 15.24]))
            confidence = float(rng.uniform(0.5, 0.97))
        readings.append(
            CounterReading(time_s=float(moment), distance_m=value, confidence=confidence)
        )
    resets: tuple[CounterReset, ...] = ()
    if counter.reset is not None:
        index, before, after = counter.reset
        resets = (CounterReset(time_s=float(time[index]), before_m=before, after_m=after),)
    motion = tuple(
        MotionStretch(start_s=begin, end_s=end, kind=MotionKind.HOLDING)
        for begin, end, _ in holds
        if rng.random() < 0.7
    )
    return SightTrack(
        run_id="r1",
        film=FilmFacts(width_px=640, height_px=480, duration_s=float(time[-1])),
        counter=CounterTrack(readings=tuple(readings), resets=resets, resolution_m=0.03048),
        motion=motion,
        joints=_joints(rng, truth, time, path),
    )


def _joints(
    rng: np.random.Generator, truth: TrueLine, time: Floats, path: Floats
) -> tuple[JointPassage, ...]:
    step = SECTION_M[truth.material]
    if truth.material is Material.PVC or rng.random() < 0.4:
        return ()
    sections = step * (1.0 + rng.normal(0.0, 0.004, int(truth.length_m / step) + 2))
    places = np.cumsum(sections) - rng.uniform(0.0, step)
    passages = []
    for place in places[(places > path[0]) & (places < truth.length_m)]:
        crossing = np.flatnonzero((path[:-1] - place) * (path[1:] - place) < 0.0)
        for index in crossing:
            if rng.random() < 0.1:
                continue
            share = (place - path[index]) / (path[index + 1] - path[index])
            moment = time[index] + share * (time[index + 1] - time[index]) + rng.normal(0.0, 0.15)
            passages.append(
                JointPassage(
                    time_s=float(moment), strength=1.0, forwards=bool(path[index + 1] > path[index])
                )
            )
    passages.sort(key=lambda one: one.time_s)
    return tuple(passages)


def _heard(rng: np.random.Generator, time: Floats, counter: _Counter) -> Heard:
    said = []
    for moment in np.arange(rng.uniform(20.0, 60.0), time[-1], 75.0):
        shown = float(np.interp(moment, time, counter.shown))
        feet = round(shown / 0.3048)
        if rng.random() < 0.05:
            feet += int(rng.choice([-30, -10, 10, 50]))
        said.append(
            SpokenStation(
                time_s=float(moment + rng.normal(0.0, 1.0)),
                distance_m=Estimate.of(feet * 0.3048, 0.2),
                text=f"we're at {feet} feet",
            )
        )
    return Heard(run_id="r1", stations=tuple(said))


def _point(at: Floats) -> PlanPoint:
    return PlanPoint(east_m=float(at[0]), north_m=float(at[1]))


def _xy(mark: Mark) -> Floats:
    return np.array([mark.point.east_m, mark.point.north_m])
