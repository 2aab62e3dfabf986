"""Roll of the picture around the moment of a finding."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np

from saltglaze.model.base import Estimate
from saltglaze.model.finding import Finding
from saltglaze.model.job import Job
from saltglaze.model.track import SightTrack
from saltglaze.position.evidence import moment_s, run_of

ROLL_WINDOW_S: Final = 2.0


def roll_at(job: Job, finding: Finding, tracks: Mapping[str, SightTrack]) -> Estimate | None:
    """Roll around the moment of a finding: weighted circular mean of the samples near it."""
    run_id, moment = run_of(finding, job), moment_s(finding)
    if run_id is None or moment is None or run_id not in tracks:
        return None
    track = tracks[run_id]
    low = min(finding.start_s or moment, moment) - ROLL_WINDOW_S
    high = max(finding.end_s or moment, moment) + ROLL_WINDOW_S
    near = [one.roll_deg for one in track.roll if low <= one.time_s <= high]
    told = [(one.value, max(one.spread, 1.0)) for one in near if one.value is not None]
    if not told:
        return Estimate.of(0.0, 5.0) if track.self_levelling else None
    angle = np.radians([value for value, _ in told])
    weight = np.array([spread**-2 for _, spread in told])
    east = float(np.sum(weight * np.sin(angle)) / weight.sum())
    north = float(np.sum(weight * np.cos(angle)) / weight.sum())
    scatter = math.sqrt(max(-2.0 * math.log(max(math.hypot(east, north), 1e-9)), 0.0))
    typical = math.sqrt(len(told) / float(weight.sum()))
    return Estimate.of(
        math.degrees(math.atan2(east, north)), math.hypot(typical, math.degrees(scatter))
    )
