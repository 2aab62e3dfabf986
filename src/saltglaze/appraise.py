"""The middle, end to end: from a job and what was seen of its films to the whole answer."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from saltglaze import __version__
from saltglaze.cautions import cautions
from saltglaze.cleaning.advice import appraise_cleaning
from saltglaze.condition.change import compare
from saltglaze.condition.codes import code, companions
from saltglaze.condition.grading import grade_finding, grade_line
from saltglaze.condition.plain import plain_sentence
from saltglaze.condition.wording import US, UnitWords
from saltglaze.flow.drainage import drainage
from saltglaze.gather import gather
from saltglaze.model.appraisal import (
    Appraisal,
    AppraisedFinding,
    Check,
    FindingPlace,
    Heard,
    LineSegment,
    Position,
    RemedyChoice,
    RemedyKind,
    Verdict,
)
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Finding
from saltglaze.model.job import Job
from saltglaze.model.track import SightTrack
from saltglaze.narration.listen import listen
from saltglaze.owners.ownership import ownership
from saltglaze.position.solve import locate
from saltglaze.remedy.choice import choose
from saltglaze.sight.drafting import draft_findings
from saltglaze.stages import stages
from saltglaze.unseen import not_seen, unspoken


def appraise(job: Job, tracks: Sequence[SightTrack] = (), *, words: UnitWords = US) -> Appraisal:
    """Return the whole answer for a job, its sentences in the units of ``words``.

    ``tracks`` is what ``sight.watch`` read from the job's films, one a run; watching
    takes minutes and is kept, all that follows is made anew in about a second. No
    file, clock or network is touched: the same job and tracks give the same answer.
    """
    tracks = tuple(tracks)
    heard = _listen(job)
    findings, edit_checks = gather(
        job.typed,
        (finding for talk in heard for finding in talk.findings),
        (finding for track in tracks for finding in draft_findings(track)),
        job.edits,
    )
    standing = tuple(finding for finding in findings if finding.stands)
    placed = locate(job, tracks, heard, standing)
    position, segments = placed.position, placed.segments
    blind = not_seen(job, tracks, position)
    judged = _judged(findings, placed.places, segments, words)
    owned = ownership(job, position, placed.places, judged, words=words)
    known = tuple(_owned(found, owned.by_finding) for found in judged)
    drains = drainage(job.line, segments, position, known, job.place.code, words=words)
    cleaned = appraise_cleaning(job, segments, known, words=words)
    choice = choose(job, segments, known, position, drains, cleaned, owned, words=words)
    position = _worth_digging(position, choice)
    return Appraisal(
        saltglaze_version=__version__,
        job=job,
        tracks=tracks,
        heard=heard,
        segments=segments,
        direction=placed.direction,
        findings=known,
        unspoken=unspoken(tracks, findings, position, job.runs),
        position=position,
        grade=grade_line(known, blind, words=words),
        changes=compare(known, job.history, position.length_m, blind, words=words),
        drainage=drains,
        cleaning=cleaned,
        remedy=choice,
        ownership=owned,
        not_seen=blind,
        stages=stages(job, tracks, position),
        checks=(*edit_checks, *_transcript_checks(job)),
        cautions=cautions(job, position, cleaned, choice),
    )


def _worth_digging(position: Position, choice: RemedyChoice) -> Position:
    """Keep the digs of findings that some way of digging would mend; all where none would."""
    mended = {
        finding_id
        for option in choice.options
        if option.kind is RemedyKind.SPOT_DIG
        for finding_id in option.fixes
    }
    if not mended:
        return position
    digs = tuple(dig for dig in position.digs if dig.finding_id in mended)
    return position.model_copy(update={"digs": digs})


def _listen(job: Job) -> tuple[Heard, ...]:
    runs = {run.id: run for run in job.runs}
    return tuple(listen(talk.transcript, runs.get(talk.run_id)) for talk in job.talks)


def _judged(
    findings: Sequence[Finding],
    places: Sequence[FindingPlace],
    segments: Sequence[LineSegment],
    words: UnitWords,
) -> tuple[AppraisedFinding, ...]:
    """Code, grade and word each finding, in order along the line; unknown stations last."""
    by_id = {place.finding_id: place for place in places}
    judged = [
        _judge(finding, by_id.get(finding.id) or _unplaced(finding), segments, words)
        for finding in findings
    ]
    return tuple(sorted(judged, key=_along))


def _judge(
    finding: Finding,
    place: FindingPlace,
    segments: Sequence[LineSegment],
    words: UnitWords,
) -> AppraisedFinding:
    facts = finding.facts
    segment = _segment_at(place.station_m, segments)
    return AppraisedFinding(
        finding=finding,
        place=place,
        code=code(facts, place.clock, continuous=place.end_station_m is not None),
        beside=companions(facts, place.clock),
        grade=grade_finding(
            facts,
            segment.diameter_m if segment else None,
            segment.material if segment else None,
        ),
        plain=plain_sentence(finding, place, words),
    )


def _owned(found: AppraisedFinding, owners: Mapping[str, str]) -> AppraisedFinding:
    return found.model_copy(update={"owner": owners.get(found.finding.id)})


def _segment_at(station_m: Estimate, segments: Sequence[LineSegment]) -> LineSegment | None:
    """Return the stretch of pipe at a station; the only one where the station is unknown."""
    if station_m.value is None:
        return segments[0] if len(segments) == 1 else None
    for segment in segments:
        start, end = segment.start_m.value, segment.end_m.value
        if start is not None and end is not None and start <= station_m.value <= end:
            return segment
    return None


def _unplaced(finding: Finding) -> FindingPlace:
    why = "not placed" if finding.stands else "a person says it is not there"
    return FindingPlace(
        finding_id=finding.id,
        station_m=finding.station_m or Estimate.unknown(why),
        point_unknown_because=why,
    )


def _along(found: AppraisedFinding) -> tuple[bool, float, float]:
    station = found.place.station_m.value
    return (station is None, station or 0.0, found.finding.start_s or 0.0)


def _transcript_checks(job: Job) -> tuple[Check, ...]:
    return tuple(
        Check(name="transcript", verdict=Verdict.NOTE, about=talk.run_id, reason=problem)
        for talk in job.talks
        for problem in talk.transcript.problems
    )
