"""Speed of station, plan and profile, beside a dense SciPy least_squares of the same rows.

    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 python benchmarks/position_speed.py

Processor seconds of one core. The peer is scipy.optimize.least_squares on dense arrays,
minimising the very same costs from the same start; its station problem is a tenth of the
full one, since its cost grows with the cube of the knots. GTSAM, a factor-graph library,
is no peer here: the chain has no loops for it to be good at (0.04 s for 2,000 poses in
the toolchain dossier).
"""

from __future__ import annotations

import time

import numpy as np
from scipy.optimize import least_squares

from saltglaze.position.adjust import Equations, adjust
from saltglaze.position.evidence import gather
from saltglaze.position.plan import PlanProblem, Start, fit
from saltglaze.position.run_rows import pose_run
from saltglaze.position.solve import _solve_runs, locate
from simulated_lines import Settings, simulate

SEED = 3


def settings(length_m: float, frames: int) -> Settings:
    """A run of one length with 12 surface points, three bends and about so many frames."""
    rough = Settings(length_m=(length_m, length_m), bends=(3, 3), locates=(12, 12), outliers=0.0)
    seconds = simulate(SEED, rough).path_time_s[-1]
    return Settings(
        length_m=(length_m, length_m),
        bends=(3, 3),
        locates=(12, 12),
        outliers=0.0,
        reading_hz=frames / float(seconds),
    )


def spent(work, least: float = 0.5) -> float:
    """Processor seconds of one call: the least of repeats over half a second or three calls."""
    times: list[float] = []
    while sum(times) < least or len(times) < 3:
        begin = time.process_time()
        work()
        times.append(time.process_time() - begin)
    return min(times)


def root_costs(equations: Equations):
    """Residuals whose squares add up to twice the cost of the two-part error law."""
    dense = equations.matrix.toarray()

    def cost(residual):
        near = np.log1p(-equations.out_share) - np.log(equations.sd)
        far = np.log(np.maximum(equations.out_share, 1e-300)) - np.log(equations.out_sd)
        near = near - 0.5 * (residual / equations.sd) ** 2
        return -np.logaddexp(near, far - 0.5 * (residual / equations.out_sd) ** 2)

    floor = cost(np.zeros(equations.values.size))

    def residuals(unknowns):
        residual = dense @ unknowns - equations.values
        return np.sign(residual) * np.sqrt(np.maximum(2.0 * (cost(residual) - floor), 0.0))

    def jacobian(unknowns):
        residual = dense @ unknowns - equations.values
        value = residuals(unknowns)
        small = np.abs(value) < 1e-9
        near = np.exp(-cost(residual))
        inner = (1.0 - equations.out_share) / equations.sd
        inner = inner * np.exp(-0.5 * (residual / equations.sd) ** 2)
        good = np.clip(inner / np.maximum(near, 1e-300), 0.0, 1.0)
        weight = good / equations.sd**2 + (1.0 - good) / equations.out_sd**2
        slope = np.where(small, np.sqrt(weight), weight * residual / np.where(small, 1.0, value))
        return slope[:, None] * dense

    return residuals, jacobian


def station_against_dense() -> None:
    """The station problem of a short run, both ways."""
    line = simulate(SEED, settings(10.0, 600))
    job, run = line.job, line.job.runs[0]
    problem = pose_run(gather(job, run, line.track, line.heard, line.findings))
    chain = 2 * problem.knots.count
    own = spent(lambda: adjust(problem.equations, chain=chain, band=3, start=problem.start))
    ours = adjust(problem.equations, chain=chain, band=3, start=problem.start)
    residuals, jacobian = root_costs(problem.equations)
    begin = time.process_time()
    peer = least_squares(residuals, problem.start, jac=jacobian, xtol=1e-10, ftol=1e-12)
    dense = time.process_time() - begin
    gap = np.max(np.abs((peer.x - ours.unknowns)[0:chain:2]))
    print(
        f"station, {problem.equations.values.size} rows x {problem.start.size} unknowns: "
        f"{own:.4f} s; dense least_squares {dense:.2f} s, ratio {dense / own:.0f}; "
        f"largest difference of station {1000 * gap:.2f} mm"
    )


def plan_against_dense(problem: PlanProblem, start: Start) -> None:
    """The plan problem, both ways: same unknowns, same priors, same anchors."""
    own = spent(lambda: fit(problem, start))
    ours = fit(problem, start)
    mean = np.concatenate(
        [
            start.point,
            [start.heading],
            np.zeros(problem.grid_m.size),
            np.array([bend.angle_rad for bend in problem.bends]) * start.turns,
            problem.keys.mean_m,
        ]
    )
    size = mean.size - problem.keys.mean_m.size
    root = np.diag(
        np.concatenate(
            [
                [1e-5, 1e-5, 1e-3],
                1.0 / problem.grid_sd,
                [1.0 / bend.sd_rad for bend in problem.bends],
            ]
        )
    )
    ridge = 1e-8 * np.eye(problem.keys.mean_m.size)
    key_root = np.linalg.cholesky(np.linalg.inv(problem.keys.covariance_m2 + ridge)).T
    target = np.array([a.points[c] for a, c in zip(problem.anchors, start.choice, strict=True)])
    own_cov = np.array(
        [a.covariances[c] for a, c in zip(problem.anchors, start.choice, strict=True)]
    )
    at = [size + a.key for a in problem.anchors]
    whiten = np.array([np.linalg.inv(np.linalg.cholesky(cov)) for cov in own_cov])

    def residuals(unknowns):
        shaped = type(ours)(problem, start, unknowns, ours.covariance, ours.good, 0.0, 0.0)
        miss = shaped.course.at(unknowns[at])[0] - target
        seen = np.einsum("aij,aj->ai", whiten, miss).ravel()
        away = unknowns - mean
        return np.concatenate([root @ away[:size], key_root @ away[size:], seen])

    begin = time.process_time()
    peer = least_squares(residuals, mean, xtol=1e-10, ftol=1e-12)
    dense = time.process_time() - begin
    theirs = type(ours)(problem, start, peer.x, ours.covariance, ours.good, 0.0, 0.0)
    every = list(range(len(problem.keys.keys)))
    gap = np.max(np.hypot(*(theirs.at_keys(every)[0] - ours.at_keys(every)[0]).T))
    print(
        f"plan, {mean.size} unknowns, {len(problem.anchors)} surface points: {own:.4f} s; dense "
        f"least_squares {dense:.2f} s, ratio {dense / own:.0f}; largest difference on the "
        f"ground {1000 * gap:.2f} mm (every point held good by the peer)"
    )


def main() -> None:
    """Print the figures."""
    full = simulate(SEED, settings(100.0, 6000))
    arguments = (full.job, (full.track,), (full.heard,), full.findings)
    frames = len(full.track.counter.readings)
    print(
        f"100 m run, {frames} frames, {len(full.job.locates)} surface points: station, plan, "
        f"profile, places, digs, next measurements {spent(lambda: locate(*arguments)):.3f} s"
    )
    for count in (1500, 3000, 6000, 12000):
        line = simulate(SEED, settings(100.0, count))
        evidence = {"r1": gather(line.job, line.job.runs[0], line.track, line.heard, line.findings)}
        work = spent(lambda: _solve_runs(line.job, (line.heard,), line.findings, evidence))  # noqa: B023
        read = len(line.track.counter.readings)
        print(
            f"  stations alone, {read:6d} frames: {work:.3f} s, {1e6 * work / read:.1f} us a frame"
        )
    station_against_dense()
    from saltglaze.position import solve

    kept: list[PlanProblem] = []
    weigh = solve.weigh
    solve.weigh = lambda problem: (kept.append(problem), weigh(problem))[1]  # type: ignore[func-returns-value]
    locate(*arguments)
    solve.weigh = weigh
    plan_against_dense(kept[0], weigh(kept[0])[0].fit.start)


if __name__ == "__main__":
    main()
