"""Narration files of every form, good and hostile, to cues in time order."""

from __future__ import annotations

import json

import pytest
import webvtt
from hypothesis import given, settings
from hypothesis import strategies as st

from saltglaze.errors import InputError
from saltglaze.narration import read_transcript
from saltglaze.narration.transcripts.decode import LIMIT_BYTES

VTT = """WEBVTT - invented

NOTE nothing here is real

1
00:00:01.000 --> 00:00:03.500 line:0
<v Dana>Roots &amp; <b>grease</b> here

00:00:05.000 --> 00:00:07.000
crack at three o'clock
second line

01:02:03.250 --> 01:02:04.000
the main
"""


def test_webvtt_cues_are_those_of_a_general_caption_reader(tmp_path):
    # peer: webvtt-py, a general-purpose caption library
    path = tmp_path / "talk.vtt"
    path.write_text(VTT, encoding="utf-8")
    peer = [
        (c.start_in_seconds, c.end_in_seconds, " ".join(c.text.split())) for c in webvtt.read(path)
    ]
    ours = read_transcript(path.read_bytes(), "talk.vtt").cues
    assert [int(c.start_s) for c in ours] == [start for start, _, _ in peer]
    assert [int(c.end_s or 0) for c in ours] == [end for _, end, _ in peer]
    assert ours[1].text == peer[1][2] == "crack at three o'clock second line"


def test_tags_voices_and_entities_leave_plain_words():
    first = read_transcript(VTT.encode(), "t.vtt").cues[0]
    assert first.text == "Roots & grease here"
    assert first.speaker == "Dana"
    assert first.source_line == 6


def test_srt_with_commas_and_no_blank_lines():
    srt = "1\n00:00:01,500 --> 00:00:02,000\nfirst\n2\n00:00:03,000 --> 00:00:04,000\nsecond\n"
    cues = read_transcript(srt.encode(), "t.srt").cues
    assert [(c.start_s, c.end_s, c.text) for c in cues] == [
        (1.5, 2.0, "first"),
        (3.0, 4.0, "second"),
    ]


@pytest.mark.parametrize(
    ("line", "start_s"),
    [
        ("[1:05] roots", 65.0),
        ("[1:02:03] roots", 3723.0),
        ("(0:07) roots", 7.0),
        ("12:30 - roots", 750.0),
        ("[00:00:09.5] roots", 9.5),
    ],
)
def test_stamped_text_in_its_usual_forms(line, start_s):
    (cue,) = read_transcript(line.encode(), "t.txt").cues
    assert (cue.start_s, cue.text, cue.end_s) == (start_s, "roots", None)


def test_a_remark_may_run_over_lines_and_a_line_hold_two_stamps():
    cues = read_transcript(b"[0:01] one\nmore of it [0:05] two", "t.txt").cues
    assert [(c.start_s, c.text) for c in cues] == [(1.0, "one more of it"), (5.0, "two")]


def test_recogniser_json_by_segments_and_by_words():
    segments = [
        {"start": 1.0, "end": 2.0, "text": " roots here"},
        {"words": [{"word": " a", "start": 3.0, "end": 3.2}, {"word": " crack", "start": 3.3}]},
        {"timestamp": [5.0, 6.0], "text": "a tap"},
    ]
    cues = read_transcript(json.dumps({"segments": segments}).encode(), "t.json").cues
    assert [(c.start_s, c.text) for c in cues] == [
        (1.0, "roots here"),
        (3.0, "a crack"),
        (5.0, "a tap"),
    ]


def test_a_long_pause_between_words_starts_a_new_cue():
    words = [{"word": "roots", "start": 1, "end": 2}, {"word": "tap", "start": 9, "end": 10}]
    cues = read_transcript(json.dumps({"words": words}).encode(), "t.json").cues
    assert [c.start_s for c in cues] == [1.0, 9.0]


def test_stamps_out_of_order_are_sorted_and_said():
    talk = read_transcript(b"[0:30] late\n[0:10] early\n", "t.txt")
    assert [c.text for c in talk.cues] == ["early", "late"]
    assert any("go back in time" in problem for problem in talk.problems)


def test_overlapping_cues_are_kept_and_said():
    vtt = "WEBVTT\n\n00:01.000 --> 00:09.000\na\n\n00:02.000 --> 00:03.000\nb\n"
    talk = read_transcript(vtt.encode(), "t.vtt")
    assert len(talk.cues) == 2
    assert any("overlap" in problem for problem in talk.problems)


def test_a_broken_arrow_line_costs_one_cue_and_is_named():
    vtt = "WEBVTT\n\nxx --> yy\nlost\n\n00:02.000 --> 00:03.000\nkept\n"
    talk = read_transcript(vtt.encode(), "t.vtt")
    assert [c.text for c in talk.cues] == ["kept"]
    assert any(problem.startswith("line 3") for problem in talk.problems)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be"])
def test_every_unicode_coding_reads_the_same(encoding):
    data = "[0:05] roots at the joint\n[0:09] crack\n".encode(encoding)
    assert [c.text for c in read_transcript(data, "t").cues] == ["roots at the joint", "crack"]


def test_latin_1_is_read_and_said():
    talk = read_transcript("[0:05] près de la crack".encode("latin-1"), "t.txt")
    assert "près" in talk.cues[0].text
    assert any("Latin-1" in problem for problem in talk.problems)


@pytest.mark.parametrize(
    ("data", "word"),
    [
        (b"", "empty"),
        (b"  \n\t ", "empty"),
        (bytes(range(256)) * 20, "not text"),
        (b"just words and no stamps at all", "stamps"),
        (b'{"segments": 4}', "segments"),
        (b'{"segments": [', "broken"),
        (b"WEBVTT\n\nNOTE nothing\n", "no words"),
        (b"[" * 60_000, "stamps"),
        (b'[{"a":' * 30_000, "broken"),
    ],
)
def test_what_cannot_be_read_is_refused_in_one_sentence(data, word):
    with pytest.raises(InputError) as refused:
        read_transcript(data, "talk.x")
    sentence = str(refused.value)
    assert sentence.startswith("talk.x")
    assert word in sentence
    assert "\n" not in sentence


def test_a_file_beyond_any_talk_is_refused_before_it_is_read():
    with pytest.raises(InputError, match="MB"):
        read_transcript(b"a" * (LIMIT_BYTES + 1), "huge.txt")


def test_fifty_megabytes_of_talk_are_read():
    line = b"[0:05] roots at this joint and the next one and the one after that as well\n"
    data = line * (50_000_000 // len(line) // 25)
    padded = data + b"x" * (50_000_000 - len(data))
    talk = read_transcript(padded, "long.txt")
    assert len(talk.cues) == data.count(b"\n")


@settings(max_examples=150, deadline=None)
@given(st.binary(max_size=400))
def test_any_bytes_give_a_transcript_or_one_sentence(data):
    try:
        talk = read_transcript(data, "x")
    except InputError as refused:
        assert "\n" not in str(refused)
    else:
        starts = [cue.start_s for cue in talk.cues]
        assert starts == sorted(starts)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200), st.sampled_from(["WEBVTT\n\n", "[0:01] ", '{"segments":[', "1\n00:"]))
def test_any_text_behind_a_known_beginning_is_survived(text, beginning):
    try:
        read_transcript((beginning + text).encode("utf-8", "surrogatepass"), "x")
    except InputError as refused:
        assert str(refused)
