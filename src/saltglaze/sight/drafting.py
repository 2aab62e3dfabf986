"""Draft findings from what the eye saw for certain: water, a drowned lens.

A fouled lens is no finding: a short look tells it too seldom from a change of wall. It
stands among the stretches that could not be judged.
"""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Final

from saltglaze.model.base import Estimate
from saltglaze.model.finding import DraftedBy, Evidence, Facts, Feature, Finding
from saltglaze.model.track import SightTrack, ViewState, WaterSample, WaterState

LEAST_S: Final = 2.0
"""Shorter stretches are not drafted."""

LEAST_STANDING: Final = 0.08
"""Standing water shallower than this share of the bore is not drafted."""


def draft_findings(track: SightTrack) -> tuple[Finding, ...]:
    """Return what the film shows without anybody's words, in time order."""
    findings = [*_drowned(track), *_standing(track)]
    return tuple(sorted(findings, key=lambda finding: finding.start_s or 0.0))


def _drowned(track: SightTrack) -> Iterable[Finding]:
    for stretch in track.view:
        if stretch.state is ViewState.UNDER_WATER and stretch.end_s - stretch.start_s >= LEAST_S:
            facts = Facts(feature=Feature.CAMERA_UNDER_WATER)
            yield _finding(track.run_id, facts, stretch.start_s, stretch.end_s)


def _standing(track: SightTrack) -> Iterable[Finding]:
    for standing, group in groupby(track.water, key=_stands):
        samples = list(group)
        if standing and samples[-1].time_s - samples[0].time_s >= LEAST_S:
            deepest = max(samples, key=lambda sample: sample.depth_share.value or 0.0)
            facts = Facts(feature=Feature.STANDING_WATER, water_share=deepest.depth_share)
            yield _finding(track.run_id, facts, samples[0].time_s, samples[-1].time_s)


def _stands(sample: WaterSample) -> bool:
    depth: Estimate = sample.depth_share
    return (
        sample.state is WaterState.STANDING
        and depth.value is not None
        and depth.value >= LEAST_STANDING
    )


def _finding(run_id: str, facts: Facts, start_s: float, end_s: float) -> Finding:
    minutes, seconds = divmod(int(start_s), 60)
    return Finding(
        id=f"{run_id}-{minutes:02d}{seconds:02d}-{facts.feature.value}-seen",
        draft=facts,
        evidence=Evidence(
            drafted_by=DraftedBy.SIGHT, run_id=run_id, frames_s=((start_s + end_s) / 2.0,)
        ),
        start_s=start_s,
        end_s=end_s,
    )
