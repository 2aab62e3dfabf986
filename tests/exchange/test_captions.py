"""Chapters and captions, read back by the webvtt-py parser."""

import html

import appraisals as made
import pytest
import webvtt
from exchange_kit import HOSTILE_TEXTS, told
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.exchange.captions import captions_vtt, chapters_vtt
from saltglaze.exchange.plain_text import one_line
from saltglaze.model.talk import Cue

RUN = "run-1"
TIMES = st.floats(0.0, 40_000.0, allow_nan=False)


def seconds(stamp):
    hours, minutes, rest = stamp.split(":")
    return int(hours) * 3600 + int(minutes) * 60 + float(rest)


def on_film(appraisal):
    found = [
        f
        for f in appraisal.findings
        if f.finding.stands and f.finding.evidence.run_id == RUN and f.finding.start_s is not None
    ]
    return sorted(found, key=lambda f: f.finding.start_s)


def test_a_chapter_jumps_to_each_finding():
    rich = made.rich()
    chapters = webvtt.from_string(chapters_vtt(rich, RUN, "Invented data."))
    found = on_film(rich)
    assert len(found) > 3
    for chapter, item in zip(chapters, found, strict=True):
        assert seconds(chapter.start) == pytest.approx(item.finding.start_s, abs=5e-4)
        assert seconds(chapter.end) > seconds(chapter.start)
        assert html.unescape(chapter.text) == one_line(item.plain)


def test_chapters_follow_each_other_without_overlap():
    chapters = webvtt.from_string(chapters_vtt(made.rich(), RUN, ""))
    starts = sorted({seconds(c.start) for c in chapters})
    for chapter in chapters:
        later = [s for s in starts if s > seconds(chapter.start)]
        assert not later or seconds(chapter.end) == later[0]


def test_a_run_with_no_finding_makes_a_file_with_no_chapter():
    assert list(webvtt.from_string(chapters_vtt(made.rich(), "no such run", ""))) == []


@pytest.mark.parametrize("text", HOSTILE_TEXTS, ids=range(len(HOSTILE_TEXTS)))
def test_hostile_talk_is_one_cue_that_says_the_same(text):
    (talk,) = told(made.rich(), text).job.talks
    (cue,) = webvtt.from_string(captions_vtt(talk.transcript.cues, text))
    assert html.unescape(cue.text) == one_line(text)
    assert (seconds(cue.start), seconds(cue.end)) == (1.0, 4.0)


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.builds(Cue, start_s=TIMES, end_s=st.none() | TIMES, text=st.text(max_size=60)),
        max_size=8,
    )
)
def test_captions_of_any_talk_are_read_back(cues):
    spoken = sorted((c for c in cues if one_line(c.text)), key=lambda c: c.start_s)
    read_back = list(webvtt.from_string(captions_vtt(cues, "")))
    assert [html.unescape(c.text) for c in read_back] == [one_line(c.text) for c in spoken]
    assert all(seconds(c.end) > seconds(c.start) for c in read_back)
