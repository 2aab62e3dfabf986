"""The facts about a line that every option is sized by, gathered once."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze import units
from saltglaze.cleaning.advice import stoppage_belief
from saltglaze.cleaning.events import Rate
from saltglaze.condition.stretch import segment_at
from saltglaze.model.appraisal import (
    AppraisedFinding,
    LineSegment,
    Ownership,
    Position,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.ground import ParcelKind
from saltglaze.model.job import Job
from saltglaze.model.line import Material
from saltglaze.owners.rules import public_owner
from saltglaze.remedy.feasibility import NOT_A_FAULT

MUST_FIX_FROM = 4
WORTH_FIXING_FROM = 3

_MEDIUM_FROM_M = 1.5
_DEEP_FROM_M = 2.4


class Site:
    """One line as the options see it. Findings are those that stand."""

    def __init__(
        self,
        job: Job,
        segments: Sequence[LineSegment],
        findings: Sequence[AppraisedFinding],
        position: Position,
        ownership: Ownership | None,
    ) -> None:
        self.job = job
        self.segments = tuple(segments)
        self.position = position
        self.standing = tuple(f for f in findings if f.finding.stands)
        self.public = _on_public_part(job, self.standing, ownership)
        self.faults = tuple(f for f in self.standing if self._is_fault(f))
        self.must = tuple(f for f in self.faults if (f.grade.structure or 0) >= MUST_FIX_FROM)
        self.worth = tuple(f for f in self.faults if (f.grade.worst or 0) >= WORTH_FIXING_FROM)
        self.taps = tuple(f for f in self.standing if f.finding.facts.feature is Feature.TAP)
        self.bends = tuple(f for f in self.standing if f.finding.facts.feature is Feature.BEND)
        self.stoppages: Rate | None = stoppage_belief(job, self.standing)
        self.end_seen = _end_seen(job, self.standing)
        self.start_m, self.end_m = _private_span(job, position, ownership, self.standing)
        self.under_buildings = _under(job, ownership, ParcelKind.BUILDING)
        self.under_street = _under(job, ownership, ParcelKind.RIGHT_OF_WAY)

    def _is_fault(self, found: AppraisedFinding) -> bool:
        ours = found.finding.id not in self.public
        graded = found.grade.worst is not None
        return ours and graded and found.finding.facts.feature not in NOT_A_FAULT

    @property
    def length_m(self) -> Estimate:
        """Length of the part that the owner keeps."""
        if self.end_m.value is None:
            return self.end_m
        return Estimate.of(max(0.0, self.end_m.value - self.start_m), self.end_m.spread)

    @property
    def buildings(self) -> float:
        """Metres of the owner's part under buildings."""
        return sum(end - start for start, end in self.under_buildings)

    @property
    def street(self) -> float:
        """Metres of the owner's part under the street right of way."""
        return sum(end - start for start, end in self.under_street)

    @property
    def open_length_m(self) -> Estimate:
        """Length of the owner's part that can be reached by digging from outside."""
        length = self.length_m
        if length.value is None:
            return length
        return Estimate.of(max(0.0, length.value - self.buildings), length.spread)

    def is_under_building(self, found: AppraisedFinding) -> bool:
        """Tell whether a finding lies under a building, as far as its station tells."""
        at_m = found.place.station_m.value
        return at_m is not None and any(a <= at_m <= b for a, b in self.under_buildings)

    def is_under_street(self, found: AppraisedFinding) -> bool:
        """Tell whether a finding lies under the street, as far as its station tells."""
        at_m = found.place.station_m.value
        return at_m is not None and any(a <= at_m <= b for a, b in self.under_street)

    def depth_at(self, found: AppraisedFinding | None) -> Estimate:
        """Return the depth at a finding, else the mean depth along the line."""
        if found is not None and found.place.depth_m is not None and found.place.depth_m.known:
            return found.place.depth_m
        return self.mean_depth_m

    @property
    def mean_depth_m(self) -> Estimate:
        """Mean depth to the invert along the likeliest path, or from the accesses."""
        points = self.position.paths[0].points if self.position.paths else ()
        depths = [*(p.depth_m for p in points)]
        depths += [access.invert_depth_m for access in self.job.line.accesses]
        values = [(d.value, d.spread) for d in depths if d is not None and d.value is not None]
        if not values:
            return Estimate.unknown("no depth was taken along the line")
        mean = sum(value for value, _ in values) / len(values)
        return Estimate.of(mean, max(spread for _, spread in values))

    def depth_class(self, depth_m: Estimate) -> str:
        """Return shallow, medium or deep; medium where the depth is not known."""
        if depth_m.value is None:
            return "medium"
        if depth_m.value < _MEDIUM_FROM_M:
            return "shallow"
        return "medium" if depth_m.value < _DEEP_FROM_M else "deep"

    def diameter_at(self, station_m: float | None) -> float | None:
        """Return the bore at a station."""
        segment = segment_at(self.segments, station_m)
        return segment.diameter_m if segment else None

    @property
    def diameters_of(self) -> dict[str, float | None]:
        """Bore at each finding, by id."""
        return {f.finding.id: self.diameter_at(f.place.station_m.value) for f in self.standing}

    @property
    def bores_m(self) -> list[float]:
        """Different bores along the line, in inches steps, smallest first."""
        known = {round(units.inches(s.diameter_m) * 2) / 2 for s in self.segments if s.diameter_m}
        return sorted(units.m_from_in(bore) for bore in known)

    @property
    def materials(self) -> set[Material]:
        """Materials along the line."""
        return {segment.material for segment in self.segments if segment.material is not None}


def _on_public_part(
    job: Job, findings: Sequence[AppraisedFinding], ownership: Ownership | None
) -> frozenset[str]:
    rule = job.place.ownership
    if rule is None or ownership is None:
        return frozenset()
    public = public_owner(rule)
    return frozenset(
        found.finding.id
        for found in findings
        if ownership.by_finding.get(found.finding.id, "") == public
    )


def _private_span(
    job: Job,
    position: Position,
    ownership: Ownership | None,
    findings: Sequence[AppraisedFinding],
) -> tuple[float, Estimate]:
    """Return the stations between which the owner keeps the pipe."""
    end_m = _end_of_line(job, position, findings)
    rule = job.place.ownership
    if rule is None or ownership is None:
        return 0.0, end_m
    public = public_owner(rule)
    kept = [s for s in ownership.stretches if s.pipe_owner != public]
    if len(kept) == len(ownership.stretches) or not kept:
        return 0.0, end_m
    start = kept[0].from_m.value or 0.0
    return start, kept[-1].to_m if kept[-1].to_m.known else end_m


def _end_of_line(job: Job, position: Position, findings: Sequence[AppraisedFinding]) -> Estimate:
    candidates = [position.length_m, job.line.length_m]
    for candidate in candidates:
        if candidate is not None and candidate.value is not None:
            return candidate
    seen = [f.place.station_m for f in findings if f.place.station_m.known]
    if not seen:
        return Estimate.unknown("the length of the line is not known")
    return max(seen, key=lambda station: station.value or 0.0)


def _end_seen(job: Job, findings: Sequence[AppraisedFinding]) -> bool:
    """Tell whether the far end is known: by a record of the length, or because it was seen."""
    recorded = job.line.length_m is not None and job.line.length_m.known
    return recorded or any(f.finding.facts.feature is Feature.END for f in findings)


def _under(
    job: Job, ownership: Ownership | None, kind: ParcelKind
) -> tuple[tuple[float, float], ...]:
    """Return the stretches of the owner's part that lie under one kind of ground."""
    public = public_owner(job.place.ownership) if job.place.ownership else None
    ids = {parcel.id for parcel in job.parcels if parcel.kind is kind}
    return tuple(
        (stretch.from_m.value, stretch.to_m.value)
        for stretch in (ownership.stretches if ownership else ())
        if stretch.ground_id in ids
        and (stretch.pipe_owner is None or stretch.pipe_owner != public)
        and stretch.from_m.value is not None
        and stretch.to_m.value is not None
    )
