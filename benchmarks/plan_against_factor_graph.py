"""Stations and plan beside GTSAM, a general factor-graph library, on the same problems.

    pip install gtsam
    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/plan_against_factor_graph.py

GTSAM is no dependency of saltglaze: without it this script says so and stops. Stations: the
rows of one run with their final weights, as linear factors over knots of station and slip
and the counter's scale and start, solved once by both. Plan: one pose at every place where
the heading may jump and at every surface point, tied by lengths held at their answer, turned
as the priors allow, pulled by the surface points; solved by both from the same start. The
time to build GTSAM's graph is not counted; ours includes all covariances, GTSAM's none.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace
from types import ModuleType

import numpy as np

from position_speed import SEED, settings, spent
from saltglaze.position import solve
from saltglaze.position.adjust import Equations, adjust
from saltglaze.position.evidence import gather
from saltglaze.position.plan import PlanFit, PlanProblem, Start, fit
from saltglaze.position.run_rows import pose_run
from simulated_lines import SimulatedLine, simulate

STIFF = 1e-3
"""Metres and radians that GTSAM's ties between poses may give where ours give nothing;
stiffer ties stall its steps."""
HELD_M = 1e-4
"""Sd of the stations in the plan problem, which GTSAM holds fast."""


def stations(gtsam: ModuleType, line: SimulatedLine) -> None:
    """The rows of one run as they are finally weighed, solved once."""
    run = line.job.runs[0]
    problem = pose_run(gather(line.job, run, line.track, line.heard, line.findings))
    knots, chain = problem.knots.count, 2 * problem.knots.count
    robust = adjust(problem.equations, chain=chain, band=3, start=problem.start)
    rows = _held(problem.equations, robust.good)
    graph = _linear_graph(gtsam, rows)
    ours, theirs = adjust(rows, chain=chain, band=3), graph.optimize()
    gap = max(abs(float(theirs.at(n)[0]) - float(ours.unknowns[2 * n])) for n in range(knots))
    own, peer = spent(lambda: adjust(rows, chain=chain, band=3)), spent(graph.optimize)
    print(
        f"stations, {rows.values.size} rows x {rows.matrix.shape[1]} unknowns: {own:.4f} s; "
        f"GTSAM {peer:.4f} s, ratio {peer / own:.1f}; largest difference {1000 * gap:.4f} mm"
    )


def _held(rows: Equations, good: np.ndarray) -> Equations:
    """The rows with the weights they were finally given, and no more doubt about any."""
    weight = good / rows.sd**2 + (1.0 - good) / rows.out_sd**2
    return replace(rows, sd=1.0 / np.sqrt(weight), out_share=np.zeros(good.size))


def _linear_graph(gtsam: ModuleType, rows: Equations):
    """One factor a row, over variables of two numbers each: no row touches more than three."""
    graph, matrix = gtsam.GaussianFactorGraph(), rows.matrix
    unit = gtsam.noiseModel.Unit.Create(1)
    for row in range(rows.values.size):
        part = slice(matrix.indptr[row], matrix.indptr[row + 1])
        blocks: dict[int, np.ndarray] = {}
        for column, factor in zip(matrix.indices[part], matrix.data[part], strict=True):
            block = blocks.setdefault(int(column) // 2, np.zeros((1, 2)))
            block[0, int(column) % 2] += factor / rows.sd[row]
        pieces = [piece for pair in blocks.items() for piece in pair]
        graph.add(*pieces, np.array([rows.values[row] / rows.sd[row]]), unit)
    return graph


def plan(gtsam: ModuleType, line: SimulatedLine) -> None:
    """The plan of the same line, stations held, every surface point taken as good."""
    kept: list[PlanFit] = []
    weigh = solve.weigh

    def listening(problem: PlanProblem):
        found = weigh(problem)
        kept.append(found[0].fit)
        return found

    solve.weigh = listening
    solve.locate(line.job, (line.track,), (line.heard,), line.findings)
    solve.weigh = weigh
    problem, start = _fast(kept[0]), kept[0].start
    ours = fit(problem, start)
    graph, values, at = _pose_graph(gtsam, ours)
    tight = gtsam.LevenbergMarquardtParams()
    tight.setRelativeErrorTol(1e-12)
    tight.setAbsoluteErrorTol(1e-12)

    def solved():
        return gtsam.LevenbergMarquardtOptimizer(graph, values, tight).optimize()

    theirs = solved()
    placed = ours.at(problem.keys.mean_m[[one.key for one in problem.anchors]])[0]
    gap = max(
        float(np.hypot(*(np.array(theirs.atPose2(n).translation()) - spot)))
        for n, spot in zip(at, placed, strict=True)
    )
    own, peer = spent(lambda: fit(problem, start)), spent(solved)
    print(
        f"plan, {problem.grid_m.size} jumps, {len(problem.bends)} bends, "
        f"{len(problem.anchors)} surface points: {own:.4f} s; GTSAM {peer:.4f} s, ratio "
        f"{peer / own:.2f}; largest difference at the points {1000 * gap:.2f} mm"
    )


def _fast(best: PlanFit) -> PlanProblem:
    """The problem with its stations held where they were found, and no point in doubt."""
    problem = best.problem
    held = np.eye(len(problem.keys.keys)) * HELD_M**2
    keys = replace(problem.keys, mean_m=best.keys.mean_m, covariance_m2=held)
    anchors = tuple(replace(one, out_share=0.0) for one in problem.anchors)
    return replace(problem, keys=keys, anchors=anchors)


@dataclass(frozen=True)
class _Stop:
    """A station with a pose: how the heading turns there (clockwise), and what is known of it."""

    station_m: float
    turn: float = 0.0
    sd: float = STIFF
    anchor: int | None = None


def _stops(problem: PlanProblem, start: Start) -> list[_Stop]:
    mean = problem.keys.mean_m
    jumps = zip(problem.grid_m.tolist(), problem.grid_sd.tolist(), strict=True)
    stops = [_Stop(station, sd=sd) for station, sd in jumps]
    stops += [
        _Stop(float(mean[bend.key]), bend.angle_rad * float(way), bend.sd_rad)
        for bend, way in zip(problem.bends, start.turns, strict=True)
    ]
    stops += [_Stop(float(mean[one.key]), anchor=n) for n, one in enumerate(problem.anchors)]
    return sorted(stops, key=lambda one: one.station_m)


def _pose_graph(gtsam: ModuleType, ours: PlanFit):
    """Poses along the stations: GTSAM's x is ahead along the pipe, its angle anticlockwise."""
    problem, start = ours.problem, ours.start
    bare = replace(problem, anchors=())
    nominal = fit(bare, replace(start, choice=(), aside=())).course
    graph, values = gtsam.NonlinearFactorGraph(), gtsam.Values()
    at, before = [0] * len(problem.anchors), 0.0
    for number, stop in enumerate(_stops(problem, start)):
        spot, step = nominal.at(np.array([stop.station_m + 1e-9]))
        heading = float(np.arctan2(step[0, 1], step[0, 0]))
        values.insert(number, gtsam.Pose2(float(spot[0, 0]), float(spot[0, 1]), heading))
        if number:
            ahead = gtsam.Pose2(stop.station_m - before, 0.0, -stop.turn)
            noise = gtsam.noiseModel.Diagonal.Sigmas(np.array([STIFF, STIFF, stop.sd]))
            graph.add(gtsam.BetweenFactorPose2(number - 1, number, ahead, noise))
        before = stop.station_m
        if stop.anchor is not None:
            at[stop.anchor] = number
            anchor, choice = problem.anchors[stop.anchor], start.choice[stop.anchor]
            noise = gtsam.noiseModel.Gaussian.Covariance(anchor.covariances[choice])
            point = gtsam.Point2(*anchor.points[choice])
            graph.add(gtsam.PoseTranslationPrior2D(number, point, noise))
    return graph, values, at


def main() -> None:
    """Print the figures."""
    try:
        import gtsam
    except ImportError:
        sys.exit("GTSAM is not installed (pip install gtsam): nothing to compare with")
    line = simulate(SEED, settings(100.0, 6000))
    stations(gtsam, line)
    plan(gtsam, line)


if __name__ == "__main__":
    main()
