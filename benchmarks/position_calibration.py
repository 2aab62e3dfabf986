"""Do the margins hold? Stations and ground positions against the truth of simulated lines.

    python benchmarks/position_calibration.py --lines 500

Prints how often the 95 % and 68 % intervals hold the truth, for stations of the lens,
stations of findings and ground positions, and the ground error beside that of straight
lines by raw counter between the same locates. Where several answers stand with five per
cent of belief or more, the ground interval is all of their ellipses together.
"""

from __future__ import annotations

import argparse
import time
from dataclasses import dataclass, field

import numpy as np

from saltglaze.model.appraisal import FindingPlace, Path
from saltglaze.model.base import Z68, Z95
from saltglaze.position.solve import Placement, locate
from simulated_lines import Settings, SimulatedLine, simulate

CHI2_95, CHI2_68 = -2.0 * np.log(0.05), -2.0 * np.log(0.32)
"""Points of chi-square with two degrees of freedom (exact)."""
STANDS = 0.05


@dataclass
class Tally:
    """What came of all lines."""

    lens: list[float] = field(default_factory=list)
    station: list[float] = field(default_factory=list)
    ground: list[float] = field(default_factory=list)
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
        _outliers(tally, line, answer)
    return tally


def _lens(tally: Tally, line: SimulatedLine, answer: Placement) -> None:
    samples = answer.position.stationings[0].samples
    for sample in samples[5 :: max(1, len(samples) // 20)]:
        truth = float(np.interp(sample.time_s, line.path_time_s, line.path_m))
        tally.lens.append((sample.station_m - truth) / sample.sd_m)


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
        spread = _matrix(place)
        square = _square(here - truth, spread)
        rivals = [path for path in answer.position.paths[1:] if path.weight >= STANDS]
        squares = [_square(_at(path, place.station_m.value) - truth, spread) for path in rivals]
        tally.likeliest.append(square)
        tally.ground.append(min([square, *squares]))
        tally.error.append(float(np.hypot(*(here - truth))))
        tally.baseline.append(straight.error(place.finding_id, truth))
        tally.locates.append(len(line.job.locates))
        tally.ambiguous.append(bool(rivals))


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


def _at(path: Path, station_m: float) -> np.ndarray:
    stations = [one.station_m for one in path.points]
    return np.array(
        [
            np.interp(station_m, stations, [one.point.east_m for one in path.points]),
            np.interp(station_m, stations, [one.point.north_m for one in path.points]),
        ]
    )


def shares(tally: Tally) -> dict[str, tuple[float, float, int]]:
    """Share of truths inside the 95 % and 68 % intervals, and the count, by figure."""
    one = {"station of the lens": tally.lens, "station of findings": tally.station}
    two = {"ground position": tally.ground, "ground, likeliest answer only": tally.likeliest}
    table = {}
    for name, z in one.items():
        size = np.abs(np.array(z))
        table[name] = (float(np.mean(size < Z95)), float(np.mean(size < Z68)), size.size)
    for name, square in two.items():
        size = np.array(square)
        table[name] = (float(np.mean(size < CHI2_95)), float(np.mean(size < CHI2_68)), size.size)
    return table


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1000)
    parser.add_argument("--unsaid-bends", type=float, default=0.0)
    parser.add_argument("--unread", type=float, default=0.0)
    parser.add_argument("--outliers", type=float, default=0.05)
    asked = parser.parse_args()
    settings = Settings(
        unsaid_bends=asked.unsaid_bends, outliers=asked.outliers, unread=asked.unread
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
        square = np.array(tally.ground)[which]
        wide, narrow = np.mean(square < CHI2_95), np.mean(square < CHI2_68)
        print(f"{name:32}{100 * wide:8.1f}{100 * narrow:8.1f}{square.size:8d}")
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
