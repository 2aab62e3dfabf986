"""Ties between moments of one run: joints counted, joints and landmarks passed twice.

They are found on a first stationing of the run and used in the second. A joint count is
a tape laid in the pipe: ``n`` sections of one laying length. Where the record gives the
length it checks the counter's scale; where it does not, even spacing still shows slips.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final, NamedTuple

import numpy as np

from saltglaze.model.appraisal import LineSegment
from saltglaze.model.finding import Feature, Finding
from saltglaze.model.line import FactSource, KnownLandmark, Line
from saltglaze.position import priors
from saltglaze.position.adjust import Floats
from saltglaze.position.evidence import KnownStation, RunEvidence, lens_at, moment_s
from saltglaze.position.run_rows import Laying, Link
from saltglaze.position.station import RunStations

LEAST_JOINTS: Final = 4
MOST_SKIPPED: Final = 4
NEAR_WHOLE: Final = 0.3
"""A gap must be a whole number of sections within this share of one."""
MOST_COUNT_LINKS: Final = 30
MOST_TWICE_LINKS: Final = 20
GATE: Final = 4.0
"""Landmarks are taken for one another within this many standard deviations."""
STARTS_WITHIN_M: Final = 0.5
"""An access this near station zero is where the line starts, not a landmark along it."""
SINGULAR: Final = frozenset(
    {
        Feature.TAP,
        Feature.CLEAN_OUT,
        Feature.BEND,
        Feature.DIAMETER_CHANGE,
        Feature.MATERIAL_CHANGE,
        Feature.REPAIR,
        Feature.OFFSET_JOINT,
        Feature.HOLE,
        Feature.BREAK,
    }
)
"""Features that stay where they are and are rarely doubled within a metre."""


class Ties(NamedTuple):
    """What a first stationing lets one recognise in a run."""

    links: tuple[Link, ...]
    layings: tuple[Laying, ...]
    known: tuple[KnownStation, ...]


def recognise(
    first: RunStations,
    findings: Sequence[Finding],
    segments: Sequence[LineSegment],
    on_record: Iterable[KnownLandmark],
) -> Ties:
    """Recognise joints and landmarks on a first stationing of the run."""
    counted, layings = _counted(first, segments)
    twice = _joints_twice(first, layings)
    again = _landmarks_twice(first, findings)
    known = _landmarks_known(first, findings, on_record)
    return Ties((*counted, *twice, *again), layings, known)


def landmarks(line: Line) -> tuple[KnownLandmark, ...]:
    """Landmarks on record, and clean-outs along the line whose station is on record."""
    accesses = (
        KnownLandmark(
            name=access.name,
            feature=Feature.CLEAN_OUT.value,
            station_m=access.station_m,
            source=FactSource.RECORD,
        )
        for access in line.accesses
        if access.kind.replace("-", "").replace(" ", "") == "cleanout"
        and access.station_m is not None
        and access.station_m.value is not None
        and access.station_m.value > STARTS_WITHIN_M
    )
    return (*line.landmarks, *accesses)


def _forward_joints(evidence: RunEvidence) -> Floats:
    return np.array(sorted(time for time, forwards in evidence.joints if forwards))


def _counted(
    first: RunStations, segments: Sequence[LineSegment]
) -> tuple[tuple[Link, ...], tuple[Laying, ...]]:
    """Joint counts, stretch by stretch of one laying length."""
    times = _forward_joints(first.evidence)
    if times.size < LEAST_JOINTS:
        return (), ()
    station = first.at(times)
    links: list[Link] = []
    layings: list[Laying] = []
    for segment in segments:
        low, high = segment.start_m.value or 0.0, segment.end_m.value or np.inf
        inside = (station >= low) & (station <= high)
        laying = _laying(segment, np.abs(np.diff(station[inside])))
        if inside.sum() < LEAST_JOINTS or laying is None:
            continue
        gaps = _whole_gaps(times[inside], station[inside], laying.length_m)
        links += _gathered(gaps, laying, len(layings))
        layings.append(laying)
    return tuple(links), tuple(layings)


def _laying(segment: LineSegment, gaps: Floats) -> Laying | None:
    """Laying length of a segment: as recorded, else the commonest gap between joints."""
    stated = segment.section_length_m
    if stated is not None:
        loose = 3.0 if segment.source in (FactSource.SPOKEN, FactSource.OWNER) else 1.0
        return Laying(stated, loose * priors.LAYING_SHARE * stated, True)
    plain = gaps[(gaps > 0.3) & (gaps < 7.0)]
    if plain.size < LEAST_JOINTS:
        return None
    close = np.abs(np.log(plain[:, None] / plain[None, :])) < 0.1
    commonest = plain[close[int(np.argmax(close.sum(axis=1)))]]
    if commonest.size < 0.4 * plain.size:
        return None
    length = float(np.median(commonest))
    return Laying(length, priors.LAYING_UNKNOWN_SHARE * length, False)


class _Gap(NamedTuple):
    early_s: float
    late_s: float
    sections: int


def _whole_gaps(times: Floats, station: Floats, length: float) -> list[_Gap]:
    """Gaps between joints that are a whole number of sections; 0 breaks the count."""
    gaps = []
    for (early, a), (late, b) in pairwise(zip(times, station, strict=True)):
        count = round(abs(b - a) / length)
        whole = abs(abs(b - a) / length - count) < NEAR_WHOLE
        fine = whole and 1 <= count <= MOST_SKIPPED and b != a
        gaps.append(_Gap(float(early), float(late), count if fine else 0))
    return gaps


def _gathered(gaps: Sequence[_Gap], laying: Laying, stretch: int) -> list[Link]:
    """Join unbroken counts, so that a long line of short sections needs few links."""
    total = sum(gap.sections for gap in gaps)
    most = max(1, -(-total // MOST_COUNT_LINKS))
    links: list[Link] = []
    start, count = None, 0
    for gap in gaps:
        if gap.sections == 0:
            start, count = None, 0
            continue
        start = gap.early_s if start is None else start
        count += gap.sections
        if count >= most:
            links.append(_count_link(start, gap.late_s, count, laying, stretch))
            start, count = None, 0
    return links


def _count_link(early: float, late: float, count: int, laying: Laying, stretch: int) -> Link:
    single = priors.SECTION_SHARE * laying.length_m
    sd = float(np.sqrt(count * single**2 + 2.0 * priors.JOINT_M**2))
    share, spread = priors.JOINT_GROSS
    return Link(early, late, sd, share, spread, count, stretch)


def _joints_twice(first: RunStations, layings: Sequence[Laying]) -> tuple[Link, ...]:
    """Joints met again while backing up (or going on), told by their place."""
    joints = first.evidence.joints
    times = np.array([time for time, _ in joints])
    if times.size < 2:
        return ()
    station = first.at(times)
    spacing = min((laying.length_m for laying in layings), default=1.0)
    share, spread = priors.SAME_PLACE_GROSS
    links = []
    for number, (time, forwards) in enumerate(joints):
        if forwards:
            continue
        earlier = [i for i in range(number) if joints[i][1]]
        if not earlier:
            continue
        near = min(earlier, key=lambda i: abs(station[i] - station[number]))
        if abs(station[near] - station[number]) < NEAR_WHOLE * spacing:
            links.append(Link(joints[near][0], time, priors.SAME_PLACE_M, share, spread))
    return tuple(links[:MOST_TWICE_LINKS])


def _landmarks_twice(first: RunStations, findings: Sequence[Finding]) -> tuple[Link, ...]:
    """The same landmark passed going one way and again going the other."""
    seen = [
        (moment, finding)
        for finding in findings
        if finding.facts.feature in SINGULAR and (moment := moment_s(finding)) is not None
    ]
    seen.sort(key=lambda one: one[0])
    share, spread = priors.SAME_PLACE_GROSS
    links = []
    for number, (late, again) in enumerate(seen):
        for early, once in reversed(seen[:number]):
            alike = once.facts.feature is again.facts.feature
            alike = alike and once.facts.kind == again.facts.kind
            if alike and _other_way(first, early, late) and _close(first, early, late):
                sd = float(np.hypot(priors.MOMENT_M, priors.MOMENT_M))
                links.append(Link(early, late, sd, share, spread))
                break
    return tuple(links)


def _other_way(first: RunStations, early: float, late: float) -> bool:
    """Whether the head moves one way at one moment and the other way at the other."""
    around = first.at(np.array([early - 2.0, early + 2.0, late - 2.0, late + 2.0]))
    return bool((around[1] - around[0]) * (around[3] - around[2]) < -1e-4)


def _close(first: RunStations, early: float, late: float) -> bool:
    mean, covariance = first.joint(np.array([early, late]))
    variance = covariance[0, 0] + covariance[1, 1] - 2.0 * covariance[0, 1]
    loose = float(np.sqrt(max(variance, 0.0) + 2.0 * priors.MOMENT_M**2))
    return bool(abs(mean[1] - mean[0]) < GATE * loose)


def _landmarks_known(
    first: RunStations, findings: Sequence[Finding], on_record: Iterable[KnownLandmark]
) -> tuple[KnownStation, ...]:
    """Stations known from a record, laid on the finding that shows the landmark."""
    known = []
    for landmark in on_record:
        stated = landmark.station_m
        if stated.value is None:
            continue
        told = (stated.value, stated.spread)
        sign, name = first.evidence.sign, f"landmark {landmark.name}"
        shown = [
            lens_at(finding, moment, told, sign, name)
            for finding in findings
            if finding.facts.feature.value == landmark.feature
            and (moment := moment_s(finding)) is not None
        ]
        if not shown:
            continue
        times = np.array([one.time_s for one in shown])
        off = np.abs(first.at(times) - [one.station_m for one in shown])
        near = int(np.argmin(off))
        loose = np.hypot(first.sd(times)[near], shown[near].sd_m)
        if off[near] > GATE * loose and len(shown) > 1:
            continue
        known.append(shown[near])
    return tuple(known)
