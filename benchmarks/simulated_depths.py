"""Gives a simulated line its long section: true invert and ground, depths and levels read.

Drawn apart from the plan, from the same seed, so that lines with and without depths are the
same lines. A laid drain of 0.8 to 3 % with a few breaks of slope and a slow walk of it; a
ground that rolls; depths read with 5 % and 5 cm, 2 % of scale shared by the receiver, one in
twenty grossly wrong; ground shot at the locates of four lines in five.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saltglaze.model.base import Estimate
from saltglaze.model.job import Job

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class TrueSection:
    """Invert and ground level by station."""

    fine_m: Floats
    invert_m: Floats
    ground_m: Floats

    def depth(self, station_m: float) -> float:
        """Ground to invert at a station."""
        return float(np.interp(station_m, self.fine_m, self.ground_m - self.invert_m))


def draw_section(rng: np.random.Generator, length_m: float) -> TrueSection:
    """Draw invert and ground of one line; the flow runs with the stations."""
    fine = np.linspace(0.0, length_m, int(length_m / 0.05) + 2)
    step = float(fine[1])
    slope = np.full(fine.size, rng.uniform(0.008, 0.03))
    for at in rng.uniform(0.0, length_m, int(rng.integers(0, 4))):
        slope[fine > at] += rng.normal(0.0, 0.008)
    slope += np.cumsum(rng.normal(0.0, 0.0025 * np.sqrt(step), fine.size))
    invert = -np.cumsum(np.maximum(slope, 0.002)) * step
    ground = np.cumsum(rng.normal(0.0, 0.05 * np.sqrt(step), fine.size))
    ground = ground - rng.normal(0.015, 0.03) * fine
    ground += max(rng.uniform(0.6, 1.6) - float(np.min(ground - invert)), 0.0)
    return TrueSection(fine, invert, ground)


def with_depths(
    job: Job, locate_m: dict[str, float], length_m: float, seed: int
) -> tuple[Job, TrueSection]:
    """Return the job with depths and levels at its locates, and the truth."""
    rng = np.random.default_rng([seed, 20250611])
    truth = draw_section(rng, length_m)
    scale, shot = rng.normal(0.0, 0.02), rng.random() < 0.8
    high = rng.uniform(0.015, 0.05)
    """The coil's centre above the invert of a 100 mm bore."""
    locates = []
    for locate in job.locates:
        true = truth.depth(locate_m[locate.id]) - high
        shown = true * (1.0 + scale) + rng.normal(0.0, 0.05 * true + 0.05)
        if rng.random() < 0.05:
            shown += rng.normal(0.0, 0.8)
        ground = float(np.interp(locate_m[locate.id], truth.fine_m, truth.ground_m))
        level = Estimate.of(100.0 + ground + rng.normal(0.0, 0.02), 0.02) if shot else None
        shown = max(float(shown), 0.05)
        depth = Estimate.of(shown, 0.05 * shown + 0.05)
        told = {"depth_m": depth, "ground_level_m": level}
        locates.append(locate.model_copy(update=told))
    return job.model_copy(update={"locates": tuple(locates)}), truth
