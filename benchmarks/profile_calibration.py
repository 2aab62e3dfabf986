"""How often the stated margins hold the truth: tapes, transmitter, depths, falls and sags.

Invented truth is drawn, evidence with field errors is made from it, and the answer's 68 %
and 95 % intervals are compared with the truth. A calibrated interval holds it 68 and 95
times in 100: more is as wrong as less. Everything follows from the seed.

    python benchmarks/profile_calibration.py [--lines 600] [--seed 1]
"""

from __future__ import annotations

import argparse
import math
import time
from collections import defaultdict
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import lfilter

from saltglaze.model.appraisal import LineSegment, StationAt, Stationing, SurfacePoint
from saltglaze.model.base import Estimate
from saltglaze.model.frame import FilmFacts
from saltglaze.model.ground import (
    FixKind,
    Locate,
    Mark,
    PlanCovariance,
    PlanPoint,
    SignalReading,
)
from saltglaze.model.job import Job
from saltglaze.model.line import FactSource, Line
from saltglaze.model.run import Direction
from saltglaze.model.track import CounterTrack, SightTrack, WaterSample, WaterState
from saltglaze.position import profile as profile_module
from saltglaze.position.adjust import Adjustment, Equations, adjust
from saltglaze.position.ellipse import matrix_of
from saltglaze.position.falls import falls_of
from saltglaze.position.pool import segment_area
from saltglaze.position.profile import profile_of
from saltglaze.position.sags import sags_of
from saltglaze.position.sonde.field import dipole_field, moment_of
from saltglaze.position.sonde.fit import fit_dipole
from saltglaze.position.ties import TapedDistance, adjust_ties, tape_sd_m
from saltglaze.position.water import standing_water
from saltglaze.position.waterline import looked_at

Floats = NDArray[np.float64]


@dataclass
class Score:
    """How often intervals held, by what was asked."""

    held: dict[str, list[tuple[bool, bool]]] = field(default_factory=lambda: defaultdict(list))
    errors: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))

    def add(self, what: str, estimate: Estimate, truth: float) -> None:
        """Count one estimate with its 68 and 95 % intervals."""
        assert estimate.value is not None
        low, high = estimate.interval95
        low68, high68 = estimate.interval68
        self.held[what].append((low68 <= truth <= high68, low <= truth <= high))
        self.errors[what].append(abs(estimate.value - truth))

    def add_plan(self, what: str, point: PlanPoint, cov: PlanCovariance, truth: Floats) -> None:
        """Count one plan point with its 68 and 95 % ellipses."""
        off = np.array([point.east_m, point.north_m]) - truth
        square = float(off @ np.linalg.solve(matrix_of(cov), off))
        self.held[what].append((square <= -2 * math.log(0.32), square <= -2 * math.log(0.05)))
        self.errors[what].append(float(np.hypot(*off)))

    def rate(self, what: str) -> tuple[float, float, int]:
        """Share held at 68 and 95 %, and the count."""
        held = np.array(self.held[what])
        return float(held[:, 0].mean()), float(held[:, 1].mean()), len(held)


# ---------------------------------------------------------------- tapes and transmitter
def ties(score: Score, rng: np.random.Generator) -> None:
    """One point taped from two, three or four marks whose own places are a little off."""
    count = int(rng.integers(2, 5))
    truth = rng.uniform(-6.0, 6.0, 2)
    taped = []
    angles = rng.uniform(0.0, 2 * np.pi) + np.cumsum(rng.uniform(0.5, 1.4, count))
    for number, angle in enumerate(angles):
        distance = rng.uniform(2.0, 20.0)
        at = truth + distance * np.array([np.sin(angle), np.cos(angle)])
        drawn = at + rng.normal(0.0, 0.02, 2)
        sd = tape_sd_m(distance)
        mark = Mark(id=f"M{number}", name="corner", point=_point(drawn), sd_m=0.02)
        taped.append(TapedDistance(mark, distance + rng.normal(0.0, sd), math.hypot(sd, 0.02)))
    fix = adjust_ties(taped)
    point, cov = fix.point, fix.covariance
    if fix.mirror is not None and fix.mirror_covariance is not None:
        nearer = np.hypot(*(_xy(fix.mirror) - truth)) < np.hypot(*(_xy(point) - truth))
        point, cov = (fix.mirror, fix.mirror_covariance) if nearer else (point, cov)
    score.add_plan("two ties" if count == 2 else "three ties or more", point, cov, truth)


def flat_ties(score: Score, rng: np.random.Generator) -> None:
    """Two tapes that cross flat or hardly meet: the point lies near the line of the marks."""
    base = rng.uniform(5.0, 15.0)
    truth = np.array([rng.uniform(0.2, 0.8) * base, rng.uniform(-1.0, 1.0)])
    taped = []
    for number, at in enumerate((np.zeros(2), np.array([base, 0.0]))):
        distance = float(np.hypot(*(truth - at)))
        sd = tape_sd_m(distance)
        mark = Mark(id=f"M{number}", name="corner", point=_point(at), sd_m=0.0)
        taped.append(TapedDistance(mark, distance + rng.normal(0.0, sd), sd))
    fix = adjust_ties(taped)
    point, cov = fix.point, fix.covariance
    if fix.mirror is not None and fix.mirror_covariance is not None and truth[1] < 0.0:
        point, cov = fix.mirror, fix.mirror_covariance
    score.add_plan("two flat ties", point, cov, truth)


def transmitter(score: Score, rng: np.random.Generator) -> None:
    """Readings along and across the line, fitted by a dipole."""
    depth, pitch, azimuth = rng.uniform(0.5, 3.0), rng.normal(0.0, 3.0), rng.uniform(0.0, 180.0)
    truth = rng.normal(0.0, 0.2, 2)
    moment = moment_of(pitch, azimuth) * math.exp(rng.normal(0.0, 1.0))
    nose = np.array([math.sin(math.radians(azimuth)), math.cos(math.radians(azimuth))])
    side = np.array([nose[1], -nose[0]])
    readings = []
    steps = np.linspace(-1.6, 1.6, int(rng.integers(7, 14))) * depth
    for step in steps:
        for way, coil in ((nose, "along"), (nose, "total"), (side, "along")):
            at = step * way
            away = np.array([[at[0] - truth[0], at[1] - truth[1], depth]])
            field = dipole_field(away, moment)[0]
            clean = abs(float(field[:2] @ nose)) if coil == "along" else float(np.hypot(*field[:2]))
            clean = float(np.linalg.norm(field)) if coil == "total" else clean
            readings.append((at, coil, clean))
    top = max(clean for _, _, clean in readings)
    fit = fit_dipole(
        [
            SignalReading(
                point=_point(at),
                coil=coil,
                signal=abs(clean * (1.0 + rng.normal(0.0, 0.03)) + rng.normal(0.0, 0.003 * top)),
            )
            for at, coil, clean in readings
        ]
    )
    score.add("transmitter depth", fit.depth_m, depth)
    assert fit.azimuth_deg.value is not None
    apart = abs((fit.azimuth_deg.value - azimuth + 180.0) % 360.0 - 180.0)
    score.add("transmitter pitch", fit.pitch_deg, pitch if apart < 90.0 else -pitch)
    score.add_plan("transmitter place", fit.point, fit.covariance, truth)


# ---------------------------------------------------------------- long sections
LOST_SHARE = (0.02, 0.08)
"""The eye loses standing water that it reads thinner than a share of the bore between these."""


@dataclass(frozen=True)
class TrueSection:
    """The truth of one long section, finely sampled; flow runs with the stations."""

    fine_m: Floats
    invert_m: Floats
    ground_m: Floats
    bore_m: float

    @property
    def pond_m(self) -> Floats:
        """Depth of the water that stands when nothing flows."""
        return np.maximum.accumulate(self.invert_m[::-1])[::-1] - self.invert_m

    def at(self, what: Floats, station_m: float) -> float:
        """Interpolate one of the curves."""
        return float(np.interp(station_m, self.fine_m, what))


SECTIONS_M = (0.6, 0.9, 1.5)
"""Lengths of rigid pipe sections (common practice, no source)."""
JOINT_TURN = 0.06
"""A joint of rigid pipe turns by no more than this before it opens (from memory)."""


def draw_section(rng: np.random.Generator) -> TrueSection:
    """Draw a laid, somewhat settled drain of 5 to 120 m with up to three breaks and two sags.

    Half the drains sag as a smooth bowl, half as rigid sections that turn at their joints.
    """
    length = math.exp(rng.uniform(math.log(5.0), math.log(120.0)))
    fine = np.linspace(0.0, length, int(length / 0.02) + 2)
    step = fine[1] - fine[0]
    slope = np.full(len(fine), 0.018 * math.exp(rng.normal(0.0, 0.5)))
    for at in rng.uniform(0.0, length, int(rng.integers(0, 4))):
        slope[fine > at] += rng.normal(0.0, 0.008)
    slope += _wander(rng, fine)
    invert = -np.cumsum(np.maximum(slope, 0.002)) * step
    section_m = float(rng.choice(SECTIONS_M)) if rng.random() < 0.5 else None
    for _ in range(int(rng.integers(0, 3)) if length > 10.0 else 0):
        middle, half = rng.uniform(4.0, length - 4.0), rng.uniform(1.5, 4.0)
        bowl = np.clip(1.0 - ((fine - middle) / half) ** 2, 0.0, None) ** 1.5
        deep = rng.uniform(0.03, 0.12)
        if section_m is not None:  # rigid sections: straight from joint to joint
            joints = np.arange(rng.uniform(-section_m, 0.0), length + section_m, section_m)
            at_joints = np.interp(joints, fine, bowl, left=0.0, right=0.0)
            bowl = np.interp(fine, joints, at_joints)
            turn = float(np.abs(np.diff(at_joints, 2)).max() / section_m)
            deep = min(deep, JOINT_TURN / max(turn, 1e-9))
        invert = invert - deep * bowl
    ground = np.cumsum(rng.normal(0.0, 0.05 * math.sqrt(step), len(fine)))
    ground = ground - rng.normal(0.015, 0.03) * fine
    cover = np.min(ground - invert)
    ground = ground + max(rng.uniform(0.6, 1.6) - cover, 0.0)
    return TrueSection(fine, invert, ground, float(rng.choice([0.1, 0.15])))


def _wander(rng: np.random.Generator, fine: Floats) -> Floats:
    """Draw how the slope strays from the laid one: 0.0025 a root metre, forgotten in 20 m."""
    step = float(fine[1] - fine[0])
    kicks = rng.normal(0.0, 0.0025 * math.sqrt(step), len(fine))
    kept = math.exp(-step / 20.0)
    return np.asarray(lfilter([1.0], [1.0, -kept], kicks))


@dataclass(frozen=True)
class SectionEvidence:
    """What a technician brings back about one section."""

    job: Job
    surface: tuple[SurfacePoint, ...]
    track: SightTrack
    stationing: Stationing
    segments: tuple[LineSegment, ...]
    length_m: float


def observe(
    truth: TrueSection,
    rng: np.random.Generator,
    outliers: float = 0.05,
    count: int | None = None,
) -> SectionEvidence:
    """Draw locates with depths and ground shots, and the water as seen."""
    length = float(truth.fine_m[-1])
    scale, shots = rng.normal(0.0, 0.02), rng.random() < 0.8
    high = rng.uniform(0.015, truth.bore_m / 2.0)
    locates, surface = [], []
    count = int(rng.integers(2, 16)) if count is None else count
    for number, station in enumerate(np.sort(rng.uniform(0.0, length, count))):
        true = truth.at(truth.ground_m - truth.invert_m, station) - high
        sd = 0.05 * true + 0.05
        shown = true * (1.0 + scale) + rng.normal(0.0, sd)
        if rng.random() < outliers:
            shown += rng.normal(0.0, 0.8)
        shown = max(shown, 0.05)
        level = None
        if shots:
            level = Estimate.of(
                truth.at(truth.ground_m, station) + 100.0 + rng.normal(0.0, 0.02), 0.02
            )
        locates.append(Locate(id=f"L{number}", fix=FixKind.GNSS_RTK, ground_level_m=level))
        surface.append(
            SurfacePoint(
                locate_id=f"L{number}",
                point=PlanPoint(east_m=station, north_m=0.0),
                covariance=PlanCovariance(east_east_m2=0.01, north_north_m2=0.01),
                station_m=Estimate.of(station + rng.normal(0.0, 0.25), 0.25),
                depth_m=Estimate.of(shown, 0.05 * shown + 0.05),
            )
        )
    track, stationing = _film(truth, rng)
    job = Job(id="section", invented=True, line=Line(id="line"), locates=tuple(locates))
    segment = LineSegment(
        start_m=Estimate.of(0.0, 0.0),
        end_m=Estimate.of(length, 0.3),
        diameter_m=truth.bore_m,
        source=FactSource.MEASURED,
    )
    return SectionEvidence(job, tuple(surface), track, stationing, (segment,), length)


def _film(truth: TrueSection, rng: np.random.Generator) -> tuple[SightTrack, Stationing]:
    """Water samples every half second at 0.1 m/s, and a stationing that is off by a little."""
    length = float(truth.fine_m[-1])
    times = np.arange(0.0, length / 0.1, 0.5)
    stations = 0.1 * times
    pond = np.interp(stations, truth.fine_m, truth.pond_m) / truth.bore_m
    patch = np.repeat(rng.normal(0.0, 0.03, len(times) // 5 + 1), 5)[: len(times)]
    bias, lost = rng.normal(0.0, 0.02), rng.uniform(*LOST_SHARE)
    samples = tuple(
        WaterSample(
            time_s=float(t),
            depth_share=Estimate.of(float(np.clip(share + bias + off, 0.0, 1.0)), 0.04),
            state=WaterState.STANDING if share > max(lost - bias, 0.01) else WaterState.FLOWING,
        )
        for t, share, off in zip(times, pond, patch, strict=True)
    )
    shift, stretch = rng.normal(0.0, 0.15), rng.normal(0.0, 0.003)
    stationing = Stationing(
        run_id="r1",
        samples=tuple(
            StationAt(
                time_s=float(t),
                station_m=float(s * (1.0 + stretch) + shift),
                sd_m=math.hypot(0.15, 0.003 * float(s)),
            )
            for t, s in zip(times, stations, strict=True)
        ),
        counter_scale=Estimate.of(1.0, 0.003),
        counter_zero_m=Estimate.of(0.0, 0.15),
        furthest_m=Estimate.of(length, 0.2),
    )
    track = SightTrack(
        run_id="r1",
        film=FilmFacts(width_px=640, height_px=480),
        counter=CounterTrack(),
        water=samples,
    )
    return track, stationing


def section(score: Score, rng: np.random.Generator) -> None:
    """One long section: depths, falls and sag figures against the truth."""
    truth = draw_section(rng)
    seen = observe(truth, rng)
    water = standing_water([seen.track], [seen.stationing])
    profile = profile_of(
        seen.job, seen.length_m, seen.surface, water, seen.segments, Direction.WITH_FLOW
    )
    assert profile is not None
    depth = truth.ground_m - truth.invert_m
    for station in rng.uniform(0.0, seen.length_m, 4):
        told = profile.depth_at(Estimate.of(station + rng.normal(0.0, 0.2), 0.2))
        score.add("depth", told, truth.at(depth, station))
    sags = sags_of(profile, water, (), looked_at([seen.track], [seen.stationing]))
    for fall in falls_of(profile, sags):
        drop = truth.at(truth.invert_m, fall.from_m) - truth.at(truth.invert_m, fall.to_m)
        score.add("fall", fall.slope, drop / (fall.to_m - fall.from_m))
    for low, high in true_sags(truth):
        mine = [
            sag
            for sag in sags
            if sag.id.startswith("water")
            and (sag.start_m.value or 0.0) < high
            and (sag.end_m.value or 0.0) > low
        ]
        if len(mine) != 1:
            score.held["sag found once"].append((False, False))
            continue
        score.held["sag found once"].append((True, True))
        inside = (truth.fine_m >= low) & (truth.fine_m <= high)
        pond = np.where(inside, truth.pond_m, 0.0)
        step = truth.fine_m[1] - truth.fine_m[0]
        score.add("sag depth", mine[0].depth_m, float(min(pond.max(), truth.bore_m)))
        score.add("sag lowest", mine[0].lowest_m, float(truth.fine_m[np.argmax(pond)]))
        score.add("sag start", mine[0].start_m, low)
        score.add("sag end", mine[0].end_m, high)
        volume = float(segment_area(pond, truth.bore_m).sum() * step)
        score.add("sag volume", mine[0].volume_m3, volume)


def true_sags(truth: TrueSection) -> list[tuple[float, float]]:
    """Stretches where water stands at all and is at least an eighth of the bore deep somewhere."""
    wet = np.concatenate([[False], truth.pond_m > 1e-6, [False]]).astype(int)
    edges = np.diff(wet)
    stretches = zip(np.flatnonzero(edges == 1), np.flatnonzero(edges == -1), strict=True)
    return [
        (float(truth.fine_m[a]), float(truth.fine_m[b - 1]))
        for a, b in stretches
        if truth.pond_m[a:b].max() > truth.bore_m / 8.0
    ]


def _point(at: Floats) -> PlanPoint:
    return PlanPoint(east_m=float(at[0]), north_m=float(at[1]))


def _xy(point: PlanPoint) -> Floats:
    return np.array([point.east_m, point.north_m])


CASES = {"ties": ties, "flat ties": flat_ties, "transmitter": transmitter, "section": section}


def calibrate(lines: int, seed: int, cases: tuple[str, ...] = tuple(CASES)) -> Score:
    """Run each case ``lines`` times."""
    score = Score()
    for place, (name, case) in enumerate(CASES.items()):
        if name in cases:
            for number in range(lines):
                case(score, np.random.default_rng([seed, place, number]))
    return score


def speed(rounds: int = 5) -> tuple[float, float, float]:
    """Return (seconds of a robust section, seconds of its dense peer, difference in metres).

    A 100 m drain with 12 depths. The peer is numpy.linalg.lstsq on the same rows with the
    weights the robust adjustment settled on: one dense solve, without margins.
    """
    fine = np.linspace(0.0, 100.0, 5001)
    truth = TrueSection(fine, -0.02 * fine, 1.0 + 0.0 * fine, 0.1)
    rng = np.random.default_rng(4)
    seen = observe(truth, rng, outliers=0.0, count=12)
    caught: list[Equations] = []

    def catching(equations: Equations, **more: Any) -> Adjustment:
        caught.append(equations)
        return adjust(equations, **more)

    profile_module.adjust = catching  # type: ignore[attr-defined]
    ours, peers = [], []
    for _ in range(rounds):
        begun = time.process_time()
        profile = profile_of(
            seen.job, seen.length_m, seen.surface, (), seen.segments, Direction.WITH_FLOW
        )
        ours.append(time.process_time() - begun)
        assert profile is not None
        rows, good = caught[1], profile.solution.good  # the second pass, which is told
        weight = np.sqrt(good / rows.sd**2 + (1.0 - good) / rows.out_sd**2)
        dense = rows.matrix.toarray() * weight[:, None]
        begun = time.process_time()
        answer = np.linalg.lstsq(dense, rows.values * weight, rcond=None)[0]
        peers.append(time.process_time() - begun)
    profile_module.adjust = adjust  # type: ignore[attr-defined]
    apart = float(np.abs(answer - profile.solution.unknowns).max())
    return min(ours), min(peers), apart


def main() -> None:
    """Print the table."""
    ask = argparse.ArgumentParser()
    ask.add_argument("--lines", type=int, default=600)
    ask.add_argument("--seed", type=int, default=1)
    ask.add_argument("--cases", nargs="*", default=list(CASES))
    asked = ask.parse_args()
    begun = time.perf_counter()
    score = calibrate(asked.lines, asked.seed, tuple(asked.cases))
    print(f"{'what':22} {'count':>6} {'68 %':>7} {'95 %':>7} {'median error':>13}")
    for what in score.held:
        in68, in95, count = score.rate(what)
        error = float(np.median(score.errors[what])) if score.errors[what] else float("nan")
        print(f"{what:22} {count:6d} {100 * in68:6.1f}% {100 * in95:6.1f}% {error:13.4f}")
    ours, peer, apart = speed()
    print(
        f"long section of 100 m, 12 depths: {peer / ours:.1f} times as fast as one dense "
        f"numpy.linalg.lstsq of its rows ({ours * 1000:.0f} ms); answers {apart:.1e} m apart"
    )
    print(f"{time.perf_counter() - begun:.0f} s")


if __name__ == "__main__":
    main()
