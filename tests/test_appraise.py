"""The middle, end to end, on whatever evidence there is; nothing is invented for want of it."""

import datetime as dt

import pytest

from saltglaze.appraise import appraise
from saltglaze.condition.wording import METRIC
from saltglaze.demo.said import sayings, webvtt
from saltglaze.demo.scenario import demo_job
from saltglaze.gather import gather
from saltglaze.model.appraisal import ChangeKind, Verdict
from saltglaze.model.base import Estimate
from saltglaze.model.finding import (
    Certainty,
    DraftedBy,
    Edit,
    Evidence,
    Facts,
    Feature,
    Finding,
)
from saltglaze.model.frame import FilmFacts
from saltglaze.model.job import History, Job, Talk
from saltglaze.model.line import FactSource, Line, Material, Segment
from saltglaze.model.run import Run
from saltglaze.model.track import (
    Candidate,
    CounterReading,
    CounterTrack,
    SightTrack,
    ViewState,
    ViewStretch,
)
from saltglaze.narration.transcripts import read_transcript

LINE = Line(id="L")
CLAY = Line(
    id="L",
    segments=(
        Segment(
            start_m=Estimate.of(0.0, 0.0),
            material=Material.CLAY,
            diameter_m=0.1524,
            source=FactSource.RECORD,
        ),
    ),
)
TALK = b"""WEBVTT

00:00:02.000 --> 00:00:05.000
Okay, zeroed at the clean-out, four inch clay.

00:00:20.000 --> 00:00:24.000
Root mass at this joint, taking up forty percent of the pipe, at the ten o'clock.

00:00:40.000 --> 00:00:43.000
We're at thirty feet. Offset joint here, about half an inch.
"""


def job_of(**given):
    return Job(**{"id": "J", "line": LINE, "date": dt.date(2026, 5, 14), **given})


def typed(name, feature, station_m, **facts):
    return Finding(
        id=name,
        draft=Facts(feature=feature, **facts),
        evidence=Evidence(drafted_by=DraftedBy.TYPED, typed_in="findings.csv, line 2"),
        station_m=Estimate.of(station_m, 0.15),
    )


def skipped(appraisal):
    return {stage.stage for stage in appraisal.stages if not stage.done}


def track_of(**given):
    facts = FilmFacts(width_px=640, height_px=360, duration_s=60.0)
    readings = tuple(
        CounterReading(time_s=k * 0.5, distance_m=k * 0.05, confidence=0.98) for k in range(120)
    )
    counter = CounterTrack(readings=readings, resolution_m=0.03)
    return SightTrack(**{"run_id": "r", "film": facts, "counter": counter, **given})


def test_an_empty_job_still_gets_an_answer_that_claims_nothing():
    appraisal = appraise(job_of())
    assert appraisal.findings == ()
    assert appraisal.grade.worst is None
    assert appraisal.drainage.drains is None
    assert not appraisal.cleaning.advice.interval_years.known
    assert appraisal.position.paths == ()
    assert "watching the film" in skipped(appraisal)


def test_a_typed_list_alone_is_coded_graded_and_remedied():
    job = job_of(
        line=CLAY,
        typed=(
            typed("a", Feature.ROOTS, 6.0, kind="mass", section_share=Estimate.of(0.6, 0.05)),
            typed("b", Feature.HOLE, 12.0),
        ),
    )
    appraisal = appraise(job)
    assert [f.finding.id for f in appraisal.findings] == ["a", "b"]
    assert [f.code.main for f in appraisal.findings] == ["BBA", "BAC"]
    assert appraisal.grade.worst >= 4
    assert appraisal.remedy.chosen is not None
    assert {"watching the film", "plan on the ground"} <= skipped(appraisal)


def test_a_talk_alone_gives_findings_and_stations():
    run = Run(id="r")
    transcript = read_transcript(TALK, "talk.vtt")
    appraisal = appraise(job_of(runs=(run,), talks=(Talk(run_id="r", transcript=transcript),)))
    features = {f.finding.facts.feature for f in appraisal.findings}
    assert {Feature.ROOTS, Feature.OFFSET_JOINT} <= features
    offset = next(f for f in appraisal.findings if f.finding.facts.feature is Feature.OFFSET_JOINT)
    low, high = offset.place.station_m.interval95
    assert low < 30 * 0.3048 < high


def test_a_film_alone_gives_stations_blind_stretches_and_unspoken_places():
    view = (
        ViewStretch(start_s=0.0, end_s=30.0, state=ViewState.CLEAR),
        ViewStretch(start_s=30.0, end_s=40.0, state=ViewState.UNDER_WATER),
        ViewStretch(start_s=40.0, end_s=60.0, state=ViewState.CLEAR),
    )
    seen = Candidate(time_s=10.0, end_s=10.0, look="dark_hole", strength=3.0)
    appraisal = appraise(job_of(runs=(Run(id="r"),)), (track_of(view=view, candidates=(seen,)),))
    assert [f.finding.facts.feature for f in appraisal.findings] == [Feature.CAMERA_UNDER_WATER]
    assert [u.look for u in appraisal.unspoken] == ["dark_hole"]
    low, high = appraisal.unspoken[0].station_m.interval95
    assert low < 1.0 < high
    blind = [n for n in appraisal.not_seen if "under water" in n.why]
    assert blind[0].from_s == 30.0


def test_the_same_evidence_gives_the_same_answer():
    job = demo_job(short=True)
    assert appraise(job) == appraise(job)


def test_metric_readers_are_told_metres():
    job = job_of(line=CLAY, typed=(typed("a", Feature.HOLE, 12.0),))
    assert "12.0 m" in appraise(job, words=METRIC).findings[0].plain
    assert " ft" in appraise(job).findings[0].plain


def test_a_persons_edit_outranks_the_draft_and_both_are_kept():
    draft = typed("a", Feature.CRACK, 3.0, certainty=Certainty.SUPPOSED)
    facts = Facts(feature=Feature.FRACTURE, certainty=Certainty.CERTAIN)
    edit = draft.model_copy(
        update={"edit": Edit(facts=facts, fields=("feature", "certainty"), by="T. Vane")}
    )
    appraisal = appraise(job_of(typed=(draft,), edits={"a": edit}))
    (found,) = appraisal.findings
    assert found.finding.facts.feature is Feature.FRACTURE
    assert found.finding.draft.feature is Feature.CRACK
    assert found.code.main == "BAB"


def test_a_rejected_finding_is_kept_but_weighs_nothing():
    hole = typed("a", Feature.COLLAPSE, 3.0)
    edit = hole.model_copy(update={"edit": Edit(rejected=True)})
    appraisal = appraise(job_of(typed=(hole,), edits={"a": edit}))
    assert len(appraisal.findings) == 1
    assert not appraisal.findings[0].finding.stands
    assert appraisal.grade.worst is None


def test_an_edit_whose_finding_is_gone_is_told():
    stray = typed("gone", Feature.CRACK, 3.0)
    appraisal = appraise(job_of(edits={"gone": stray}))
    assert any(c.verdict is Verdict.DOUBT and c.about == "gone" for c in appraisal.checks)


def moment(name, feature, start_s, drafted_by, **facts):
    return Finding(
        id=name,
        draft=Facts(feature=feature, **facts),
        evidence=Evidence(drafted_by=drafted_by, run_id="r", frames_s=(start_s,)),
        start_s=start_s,
        end_s=start_s + 4.0,
    )


def test_what_was_seen_fills_what_was_said_and_is_not_told_twice():
    said = moment("s", Feature.SAG, 10.0, DraftedBy.NARRATION)
    share = Estimate.of(0.4, 0.03)
    seen = moment("e", Feature.STANDING_WATER, 12.0, DraftedBy.SIGHT, water_share=share)
    far = moment("f", Feature.STANDING_WATER, 50.0, DraftedBy.SIGHT, water_share=share)
    findings, checks = gather((), (said,), (seen, far), {})
    assert [f.id for f in findings] == ["s", "f"]
    assert findings[0].draft.feature is Feature.SAG
    assert findings[0].draft.water_share == share
    assert checks == ()


@pytest.fixture(scope="module")
def demo():
    job = demo_job(short=True)
    talk = read_transcript(webvtt(sayings(short=True)).encode(), "narration.vtt")
    return appraise(job.model_copy(update={"talks": (Talk(run_id="run1", transcript=talk),)}))


def test_the_demo_job_is_placed_owned_compared_and_priced(demo):
    assert demo.position.paths
    assert demo.ownership.stretches
    assert demo.remedy.chosen is not None
    assert demo.remedy.options[0].first_cost.known
    assert demo.job.invented


def test_what_last_year_saw_outside_this_film_is_not_called_gone(demo):
    gone = [change for change in demo.changes if change.kind is ChangeKind.GONE]
    placed = [f.place.station_m.value for f in demo.findings if f.place.station_m.known]
    for change in gone:
        assert change.prior_station_m.value > min(placed) - 2.0


def test_without_history_nothing_is_compared():
    job = demo_job(short=True).model_copy(update={"history": History()})
    assert appraise(job).changes == ()


def test_what_went_by_too_fast_is_told_once_and_hides_no_stretch():
    view = (
        ViewStretch(start_s=0.0, end_s=30.0, state=ViewState.CLEAR),
        ViewStretch(start_s=30.0, end_s=60.0, state=ViewState.TOO_FAST),
    )
    appraisal = appraise(job_of(runs=(Run(id="r"),)), (track_of(view=view),))
    (told,) = [n for n in appraisal.not_seen if "faster than" in n.why]
    assert "50 %" in told.why
    assert told.from_m is None
