"""Station of the lens against time: one robust estimate over a whole run.

All rows of :mod:`saltglaze.position.run_rows` are solved at once by
:func:`saltglaze.position.adjust.adjust`; cost is linear in frames.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from saltglaze.position.adjust import Adjustment, Floats, adjust
from saltglaze.position.evidence import KnownStation, RunEvidence
from saltglaze.position.run_rows import Knots, Laying, Link, RunProblem, pose_run


@dataclass(frozen=True)
class RunStations:
    """The solved stationing of one run: stations at any moments, jointly."""

    problem: RunProblem
    solved: Adjustment

    @property
    def evidence(self) -> RunEvidence:
        """What the run was solved from."""
        return self.problem.evidence

    @property
    def knots(self) -> Knots:
        """Moments at which the station is estimated."""
        return self.problem.knots

    @property
    def known(self) -> tuple[KnownStation, ...]:
        """Known stations that bear on the run."""
        return self.problem.known

    @property
    def known_good(self) -> Floats:
        """Probability that each known station is not a gross error."""
        return self.solved.good[self.problem.given]

    @property
    def misspoken(self) -> int:
        """How many distances called out were left aside."""
        return int(np.sum(self.solved.good[self.problem.said] < 0.5))

    def rows(self, times: Floats) -> Floats:
        """Linear combinations of the unknowns that give the station at moments."""
        index, share = self.knots.span(np.asarray(times, dtype=float))
        matrix = np.zeros((index.size, self.solved.unknowns.size))
        each = np.arange(index.size)
        matrix[each, 2 * index] = 1.0 - share
        matrix[each, 2 * index + 2] = share
        return matrix

    def at(self, times: Floats) -> Floats:
        """Stations at moments, metres."""
        index, share = self.knots.span(np.asarray(times, dtype=float))
        station = self.solved.unknowns[0 : 2 * self.knots.count : 2]
        return np.asarray(station[index] * (1.0 - share) + station[index + 1] * share)

    def sd(self, times: Floats) -> Floats:
        """Standard deviation of the station at moments."""
        index, share = self.knots.span(np.asarray(times, dtype=float))
        near = self.solved.chain_covariance
        variance = (
            (1.0 - share) ** 2 * near[0, 2 * index]
            + share**2 * near[0, 2 * index + 2]
            + 2.0 * share * (1.0 - share) * near[2, 2 * index]
        )
        return np.asarray(np.sqrt(np.maximum(variance, 0.0)))

    def going_back(self, moment: float) -> bool:
        """Whether the head moves against its run at a moment."""
        before, after = self.at(np.array([moment - 2.0, moment + 2.0]))
        return bool((after - before) * self.evidence.sign < -1e-2)

    def joint(self, times: Floats) -> tuple[Floats, Floats]:
        """Stations at moments and their full covariance."""
        rows = self.rows(times)
        return self.at(times), self.solved.covariance(rows)

    def counted(self) -> tuple[int, float, float]:
        """Sections counted whose length is told, their length, and the counter's for it."""
        sections, length, counter = 0, 0.0, 0.0
        for link in self.problem.links:
            if link.sections and self.problem.layings[link.stretch].told:
                ends = np.interp([link.early_s, link.late_s], self.knots.time_s, self.problem.path)
                sections += link.sections
                length += link.sections * self.problem.layings[link.stretch].length_m
                counter += abs(float(ends[1] - ends[0]))
        return sections, length, counter

    def moment_of_counter(self, counter_m: float) -> float:
        """First moment at which the counter stood at a value (nearest where it never did)."""
        path = self.problem.path
        reached = np.flatnonzero(path >= counter_m - 0.02)
        if reached.size == 0:
            return float(self.knots.time_s[int(np.argmax(path))])
        first = int(reached[0])
        if first == 0 or path[first] <= path[first - 1]:
            return float(self.knots.time_s[first])
        share = (counter_m - path[first - 1]) / (path[first] - path[first - 1])
        step = self.knots.time_s[first] - self.knots.time_s[first - 1]
        return float(self.knots.time_s[first - 1] + np.clip(share, 0.0, 1.0) * step)


def solve_run(
    evidence: RunEvidence,
    links: tuple[Link, ...] = (),
    layings: tuple[Laying, ...] = (),
    known: tuple[KnownStation, ...] = (),
) -> RunStations:
    """Solve station against time for one run; see :func:`pose_run` for the arguments."""
    problem = pose_run(evidence, links, layings, known)
    chain = 2 * problem.knots.count
    solved = adjust(problem.equations, chain=chain, band=3, start=problem.start)
    return RunStations(problem, solved)
