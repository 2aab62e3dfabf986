"""Do the margins hold? Stations and ground positions against the truth of simulated lines.

    python benchmarks/position_calibration.py --lines 500

Prints how often the 95 % and 68 % intervals hold the truth: stations of the lens, stations
of findings, ground positions, and what a dig sheet says end to end (ellipses round the spot,
depth, the stretch along the line, the trench); and the ground error beside that of straight
lines by raw counter between the same locates. Where several answers still stand, the ground
interval is all of their ellipses together: those of the spots that the dig sheet shows.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, field

import numpy as np

from saltglaze.model.appraisal import Ellipse, FindingPlace
from saltglaze.model.base import Z68, Z95
from saltglaze.position.dig import LEAST_TRENCH_M
from saltglaze.position.solve import Placement, locate
from simulated_lines import Settings, SimulatedLine, simulate

CHI2_95, CHI2_68 = -2.0 * np.log(0.05), -2.0 * np.log(0.32)
"""Points of chi-square with two degrees of freedom (exact)."""


@dataclass
class Tally:
    """What came of all lines."""

    lens: list[tuple[bool, bool]] = field(default_factory=list)
    station: list[float] = field(default_factory=list)
    ground: list[tuple[bool, bool]] = field(default_factory=list)
    """Whether the 95 % and the 68 % ellipses hold the truth."""
    likeliest: list[float] = field(default_factory=list)
    error: list[float] = field(default_factory=list)
    baseline: list[float] = field(default_factory=list)
    locates: list[int] = field(default_factory=list)
    ambiguous: list[bool] = field(default_factory=list)
    unplaced: int = 0
    outliers: int = 0
    outliers_named: int = 0
    falsely_named: int = 0
    points: int = 0
    seconds: list[float] = field(default_factory=list)
    dig: list[tuple[bool, bool]] = field(default_factory=list)
    """Whether the 95 % and the 68 % ellipse of a dig hold the true spot."""
    depth: list[float] = field(default_factory=list)
    trench: list[bool] = field(default_factory=list)
    floored: list[bool] = field(default_factory=list)
    """Whether the trench is as short as a person can work in."""
    depthless: int = 0


def run(lines: int, first_seed: int, settings: Settings) -> Tally:
    """Simulate, locate and compare."""
    tally = Tally()
    for seed in range(first_seed, first_seed + lines):
        line = simulate(seed, settings)
        begin = time.process_time()
        answer = locate(line.job, (line.track,), (line.heard,), line.findings)
        tally.seconds.append(time.process_time() - begin)
        _lens(tally, line, answer)
        _findings(tally, line, answer)
        _digs(tally, line, answer)
        _outliers(tally, line, answer)
    return tally


def _lens(tally: Tally, line: SimulatedLine, answer: Placement) -> None:
    samples = answer.position.stationings[0].samples
    for sample in samples[5 :: max(1, len(samples) // 20)]:
        truth = float(np.interp(sample.time_s, line.path_time_s, line.path_m))
        off = abs(sample.station_m - truth)
        tally.lens.append((off < Z95 * sample.sd_m, off < sample.half68_m))


def _findings(tally: Tally, line: SimulatedLine, answer: Placement) -> None:
    straight = Baseline(line, answer)
    for place in answer.places:
        truth_m = line.finding_m[place.finding_id]
        tally.station.append((place.station_m.value - truth_m) / place.station_m.spread)
        if place.point is None:
            tally.unplaced += 1
            continue
        truth = line.truth.at(truth_m)
        here = np.array([place.point.east_m, place.point.north_m])
        off = [truth - (one.east_m, one.north_m) for one in (place.point, *place.alternatives)]
        tally.likeliest.append(_square(here - truth, _matrix(place)))
        tally.ground.append(tuple(_holds(one, off) for one in (place.ellipse95, place.ellipse68)))
        tally.error.append(float(np.hypot(*(here - truth))))
        tally.baseline.append(straight.error(place.finding_id, truth))
        tally.locates.append(len(line.job.locates))
        tally.ambiguous.append(bool(place.alternatives))


def _digs(tally: Tally, line: SimulatedLine, answer: Placement) -> None:
    """Whether each dig's ellipses, depth and trench hold the true spot."""
    for dig in answer.position.digs:
        station = line.finding_m[dig.finding_id]
        truth = line.truth.at(station)
        off = [truth - (one.east_m, one.north_m) for one in (dig.point, *dig.alternatives)]
        tally.dig.append(tuple(_holds(one, off) for one in (dig.ellipse95, dig.ellipse68)))
        along = min(abs(float(one @ _unit(dig.trench_bearing_deg))) for one in off)
        tally.trench.append(2.0 * along <= dig.trench_length_m)
        tally.floored.append(dig.trench_length_m <= LEAST_TRENCH_M)
        if dig.depth_m.value is None:
            tally.depthless += 1
        else:
            true = line.section.depth(station)
            tally.depth.append((dig.depth_m.value - true) / dig.depth_m.spread)


def _holds(ellipse: Ellipse, off: list[np.ndarray]) -> bool:
    along = _unit(ellipse.bearing_deg)
    across = np.array([along[1], -along[0]])
    half = ellipse.semi_major_m, ellipse.semi_minor_m
    return any(((one @ along) / half[0]) ** 2 + ((one @ across) / half[1]) ** 2 <= 1 for one in off)


def _unit(bearing_deg: float) -> np.ndarray:
    return np.array([np.sin(np.radians(bearing_deg)), np.cos(np.radians(bearing_deg))])


def _outliers(tally: Tally, line: SimulatedLine, answer: Placement) -> None:
    for point in answer.position.surface:
        tally.points += 1
        gross = point.locate_id in line.outliers
        tally.outliers += gross
        tally.outliers_named += gross and not point.used
        tally.falsely_named += not gross and not point.used


class Baseline:
    """Straight lines between the same locates by raw counter; mirror ties rightly resolved."""

    def __init__(self, line: SimulatedLine, answer: Placement) -> None:
        self.line = line
        names = sorted(line.locate_counter_m, key=lambda name: line.locate_counter_m[name])
        surface = {point.locate_id: point for point in answer.position.surface}
        self.counter = np.array([line.locate_counter_m[name] for name in names])
        self.points = []
        for name in names:
            point = surface[name]
            choices = [point.point] if point.mirror is None else [point.point, point.mirror]
            truth = line.truth.at(line.locate_m[name])
            spots = [np.array([one.east_m, one.north_m]) for one in choices]
            self.points.append(min(spots, key=lambda at: float(np.hypot(*(at - truth)))))

    def error(self, finding: str, truth: np.ndarray) -> float:
        """Ground error at a finding."""
        said = self.line.finding_counter_m[finding]
        last = len(self.counter) - 2
        at = int(np.clip(np.searchsorted(self.counter, said) - 1, 0, last))
        step = max(float(self.counter[at + 1] - self.counter[at]), 0.1)
        share = (said - self.counter[at]) / step
        spot = self.points[at] + share * (self.points[at + 1] - self.points[at])
        return float(np.hypot(*(spot - truth)))


def _matrix(place: FindingPlace) -> np.ndarray:
    cov = place.covariance
    return np.array(
        [[cov.east_east_m2, cov.east_north_m2], [cov.east_north_m2, cov.north_north_m2]]
    )


def _square(miss: np.ndarray, spread: np.ndarray) -> float:
    return float(miss @ np.linalg.solve(spread, miss))


def shares(tally: Tally) -> dict[str, tuple[float, float, int]]:
    """Share of truths inside the 95 % and 68 % intervals, and the count, by figure."""
    one = {
        "station of findings": tally.station,
        "dig: depth": tally.depth,
    }
    two = {
        "station of the lens": tally.lens,
        "ground position": tally.ground,
        "dig: ellipses": tally.dig,
    }
    table = {}
    for name, z in one.items():
        size = np.abs(np.array(z))
        table[name] = (float(np.mean(size < Z95)), float(np.mean(size < Z68)), size.size)
    for name, held in two.items():
        wide, narrow = np.mean(held, axis=0)
        table[name] = (float(wide), float(narrow), len(held))
    size = np.array(tally.likeliest)
    wide, narrow = float(np.mean(size < CHI2_95)), float(np.mean(size < CHI2_68))
    table["ground, likeliest answer only"] = (wide, narrow, size.size)
    return table


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1000)
    parser.add_argument("--unsaid-bends", type=float, default=0.0)
    parser.add_argument("--unread", type=float, default=0.0)
    parser.add_argument("--outliers", type=float, default=0.05)
    parser.add_argument("--maps", type=float, default=0.0)
    parser.add_argument("--most-locates", type=int, default=15)
    parser.add_argument("--lead", type=float, nargs=2, default=Settings.lead_m)
    asked = parser.parse_args()
    settings = Settings(
        unsaid_bends=asked.unsaid_bends,
        outliers=asked.outliers,
        unread=asked.unread,
        lead_m=tuple(asked.lead),
        maps=asked.maps,
        locates=(2, asked.most_locates),
    )
    tally = run(asked.lines, asked.seed, settings)
    print(f"{asked.lines} lines, seeds from {asked.seed}, {settings}")
    print(f"{'':32}{'95 %':>8}{'68 %':>8}{'count':>8}")
    for name, (wide, narrow, count) in shares(tally).items():
        print(f"{name:32}{100 * wide:8.1f}{100 * narrow:8.1f}{count:8d}")
    few = np.array(tally.locates) < 5
    for name, which in (
        ("ground, 2 to 4 locates", few),
        ("ground, 5 to 15 locates", ~few),
        ("ground, one answer stands", ~np.array(tally.ambiguous)),
    ):
        if not which.any():
            continue
        held = np.array(tally.ground)[which]
        wide, narrow = held.mean(axis=0)
        print(f"{name:32}{100 * wide:8.1f}{100 * narrow:8.1f}{len(held):8d}")
    trench, floored = np.array(tally.trench), np.array(tally.floored)
    print(
        f"{'dig: trench':32}{100 * trench.mean():8.1f}; of those longer than the least "
        f"{100 * trench[~floored].mean():.1f} ({np.sum(~floored)} of {trench.size}); "
        f"digs without a depth {tally.depthless}"
    )
    error, baseline = np.array(tally.error), np.array(tally.baseline)
    print(
        f"median ground error {np.median(error):.3f} m; straight lines by raw counter "
        f"{np.median(baseline):.3f} m; ratio {np.median(error) / np.median(baseline):.2f}"
    )
    print(
        f"nine in ten within {np.quantile(error, 0.9):.2f} m; straight lines "
        f"{np.quantile(baseline, 0.9):.2f} m"
    )
    print(
        f"gross surface points left aside {tally.outliers_named} of {tally.outliers}; "
        f"good ones left aside {tally.falsely_named} of {tally.points - tally.outliers}; "
        f"findings without a place {tally.unplaced}"
    )
    print(
        f"processor seconds a line: median {np.median(tally.seconds):.3f}, "
        f"longest {np.max(tally.seconds):.3f}"
    )


if __name__ == "__main__":
    main()
