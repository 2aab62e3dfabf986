"""A redacted copy holds nothing that tells who, where, or what was said."""

import datetime as dt
import re
from enum import Enum

import appraisals as made
import pytest
from exchange_kit import HOSTILE_TEXTS, told
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.appraise import appraise
from saltglaze.demo.said import sayings, webvtt
from saltglaze.demo.scenario import demo_job
from saltglaze.exchange.known_names import known_names
from saltglaze.exchange.redact import redact
from saltglaze.model.base import Estimate, Record
from saltglaze.model.ground import PlanPoint
from saltglaze.model.job import Job, Party, Talk
from saltglaze.narration.transcripts import read_transcript
from saltglaze.report.papers import write_papers
from saltglaze.store.record import parse_record, record_json

NAMES = st.text("ZQXVJWzqxvjw", min_size=4, max_size=12)
"""Names that no sentence of ours holds by chance."""


@pytest.fixture(scope="module")
def spoken():
    """Return the appraisal of the invented job with its talk."""
    job = demo_job()
    transcript = read_transcript(webvtt(sayings()).encode(), "narration.vtt")
    talk = Talk(run_id=job.runs[0].id, transcript=transcript)
    return appraise(job.model_copy(update={"talks": (talk,)}))


def holds(text, name):
    return re.search(rf"(?<!\w){re.escape(name)}(?!\w)", text, re.IGNORECASE) is not None


def marked(value, count, *, path=""):
    """Return the record with every free text of a person replaced by a word of its own."""
    if isinstance(value, Record) and not isinstance(value, Estimate):
        names = type(value).model_fields
        fields = {n: marked(getattr(value, n), count, path=n) for n in names}
        return type(value).model_construct(**fields)
    if isinstance(value, tuple):
        return tuple(marked(item, count, path=path) for item in value)
    if isinstance(value, str) and not isinstance(value, Enum) and not is_id(path):
        count.append(f"Zq{len(count)}xv")
        return count[-1]
    return value


def is_id(name):
    return name == "id" or name.endswith("_id") or name in ("fields", "from_mark", "to_mark")


@pytest.mark.parametrize("which", ["rich", "spoken"])
def test_every_text_a_person_wrote_is_gone(which, request):
    """Each text of the job becomes a word of its own; none of those words is in the copy."""
    appraisal = request.getfixturevalue("spoken") if which == "spoken" else made.rich()
    words = []
    job = Job.model_validate(marked(appraisal.job, words).model_dump())
    quoting = appraisal.grade.model_copy(update={"plain": "It says: " + ", ".join(words)})
    text = record_json(redact(appraisal.model_copy(update={"job": job})))
    assert len(words) > 40
    assert [word for word in words if word in text] == []
    known = {known.text for known in known_names(appraisal.model_copy(update={"job": job}))}
    quoted = record_json(redact(appraisal.model_copy(update={"job": job, "grade": quoting})))
    assert [word for word in words if word in known and word in quoted] == []


@settings(max_examples=15, deadline=None)
@given(NAMES, NAMES, NAMES, NAMES)
def test_a_name_is_gone_from_every_sentence(owner, street, town, neighbour):
    rich = made.rich()
    told = {"M. Ashgrove": f"{owner} Smith", "12 Alder Row": f"12 {street} Row"}
    told |= {"Lower Fennel": town, "D. Quillfeather": neighbour}
    text = record_json(rich)
    for old, new in told.items():
        text = text.replace(old, new)
    copy = record_json(redact(parse_record(text, where="made up")))
    assert [name for name in (owner, street, town, neighbour) if holds(copy, name)] == []


@pytest.mark.parametrize("name", [made.HEBREW, made.ARABIC, made.CHINESE, made.LONG, "Straße ß"])
def test_names_in_any_writing_are_gone(name):
    assert name not in record_json(redact(made.named(name)))


@pytest.mark.parametrize("text", HOSTILE_TEXTS, ids=range(len(HOSTILE_TEXTS)))
def test_hostile_names_are_gone_too(text):
    copy = redact(told(made.rich(), text))
    assert parse_record(record_json(copy), where="copy") == copy
    sentences = {found.plain for found in copy.findings} | {found.owner for found in copy.findings}
    assert text == "-->" or not any(text in sentence for sentence in sentences)


def test_the_demo_copy_holds_no_name_no_word_and_no_day(spoken):
    text = record_json(redact(spoken))
    for name in ("Thistlewood", "Maren", "Ferrule", "Brindlewick", "Okonta", "Tarn", "555-0142"):
        assert not holds(text, name)
    assert [c.text for t in spoken.job.talks for c in t.transcript.cues if c.text in text] == []
    days = re.findall(r"\d{4}-\d{2}-(\d{2})|[A-Z][a-z]+ (\d{1,2}), \d{4}", text)
    assert {one or other for one, other in days} <= {"01"}


def test_pictures_film_place_and_outlines_are_gone():
    copy = redact(made.rich())
    job = copy.job
    assert (copy.stills, copy.heard, job.talks, job.parcels, job.mains) == ((),) * 5
    assert (job.marks, job.ties, job.utilities, job.typed, job.edits) == ((), (), (), (), {})
    assert (job.origin, job.place.address, job.place.region) == (None, "", "")
    assert {run.video for run in job.runs} == {None}
    assert not any(dig.ties for dig in copy.position.digs)
    assert "redacted" in copy.cautions[0]


def test_the_findings_say_the_same(spoken):
    copy = redact(spoken)
    assert len(copy.findings) == len(spoken.findings)
    for new, old in zip(copy.findings, spoken.findings, strict=True):
        bare = {"remark": ""}
        assert new.finding.facts.model_copy(update=bare) == old.finding.facts.model_copy(
            update=bare
        )
        assert new.place.station_m == old.place.station_m
        assert (new.grade.worst, new.code.main, new.plain) == (
            old.grade.worst,
            old.code.main,
            old.plain,
        )
    assert [option.kind for option in copy.remedy.options] == [
        option.kind for option in spoken.remedy.options
    ]


def test_ids_are_new_and_still_point_at_each_other(spoken):
    copy = redact(spoken)
    ids = [found.finding.id for found in copy.findings]
    assert len(set(ids)) == len(ids)
    assert not set(ids) & {found.finding.id for found in spoken.findings}
    assert [found.place.finding_id for found in copy.findings] == ids
    assert {i for option in copy.remedy.options for i in option.fixes} <= set(ids)
    assert {dig.finding_id for dig in copy.position.digs} <= set(ids)
    assert {i for change in copy.changes if (i := change.finding_id)} <= set(ids)
    assert set(copy.ownership.by_finding) <= set(ids)


def test_the_line_keeps_its_shape_and_begins_at_zero():
    rich, copy = made.rich(), redact(made.rich())
    old, new = rich.position.paths[0].points, copy.position.paths[0].points
    assert new[0].point == PlanPoint(east_m=0.0, north_m=0.0)
    assert new[0].invert_level_m.value == 0.0
    for before, after in zip(old, new, strict=True):
        assert after.point.east_m == pytest.approx(before.point.east_m - old[0].point.east_m)
        assert after.point.north_m == pytest.approx(before.point.north_m - old[0].point.north_m)
        fall = before.invert_level_m.value - old[0].invert_level_m.value
        assert after.invert_level_m.value == pytest.approx(fall)
        assert after.depth_m == before.depth_m


def test_dates_are_kept_to_the_month():
    copy = redact(made.rich())
    assert copy.job.date == dt.date(2026, 10, 1)
    assert {service.date.day for service in copy.job.history.services} == {1}


def test_a_name_that_is_a_trade_word_does_not_break_the_record():
    rich = made.rich()
    job = rich.job.model_copy(update={"owner": Party(name="Clay")})
    copy = redact(rich.model_copy(update={"job": job}))
    assert [s.material for s in copy.segments] == [s.material for s in rich.segments]
    assert not re.search(r"\bClay\b", record_json(copy))


def test_an_unknown_whose_reason_names_someone_stays_unknown():
    rich = made.rich()
    line = rich.job.line.model_copy(update={"length_m": Estimate.unknown("ask Zqvex")})
    job = rich.job.model_copy(update={"line": line})
    copy = redact(rich.model_copy(update={"job": job}))
    assert not copy.job.line.length_m.known
    assert "Zqvex" not in record_json(copy)


def test_a_house_number_is_no_reason_to_lose_the_numbers():
    rich = made.rich()
    place = rich.job.place.model_copy(update={"address": "14"})
    job = rich.job.model_copy(update={"place": place})
    grade = rich.grade.model_copy(update={"plain": "A break 14 ft from the start."})
    copy = redact(rich.model_copy(update={"job": job, "grade": grade}))
    assert copy.grade.plain == "A break 14 ft from the start."


@pytest.mark.parametrize(
    "appraisal", [made.bare(), made.unplaced(3), made.many(300), made.edited(made.rich())]
)
def test_odd_records_are_redacted_and_read_back(appraisal):
    copy = redact(appraisal)
    assert parse_record(record_json(copy), where="copy") == copy
    assert len(copy.findings) == len(appraisal.findings)


def test_redacting_twice_takes_nothing_more():
    once = redact(made.rich())
    assert redact(once).model_copy(update={"cautions": once.cautions}) == once


def test_papers_can_be_written_from_the_copy(tmp_path):
    names = {path.name for path in write_papers(redact(made.rich()), tmp_path)}
    assert {"report.pdf", "sheet.svg"} <= names
    sheet = (tmp_path / "sheet.svg").read_text(encoding="utf-8")
    assert not holds(sheet, "Ashgrove")
