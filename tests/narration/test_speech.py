"""Speech to text: the cutting of cues, the care with audio, and one clip for real."""

from __future__ import annotations

import io
import shutil
import socket
import subprocess
import sys
import wave
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy.signal import resample_poly

from saltglaze.errors import InputError, MissingPartError
from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration import speech
from saltglaze.narration.models import SpeechModel, find_model
from saltglaze.narration.speech import RATE_HZ, Word, cues_of, trade_words, transcribe

NAMED = SpeechModel(path="invented", name="invented", found="named")


@dataclass
class FakeWord:
    start: float
    end: float
    word: str


@dataclass
class FakeSegment:
    start: float
    end: float
    text: str
    avg_logprob: float = -0.3
    compression_ratio: float = 1.2
    words: list[FakeWord] = field(default_factory=list)


@dataclass
class FakeRecogniser:
    """Says one word a second into each piece it is given, and keeps what it was given."""

    logprob: float = -0.3
    packing: float = 1.2
    given: list[int] = field(default_factory=list)
    options: dict[str, object] = field(default_factory=dict)

    def transcribe(
        self, audio: NDArray[np.float32], **options: object
    ) -> tuple[Iterator[FakeSegment], None]:
        self.given.append(len(audio))
        self.options = options
        words = [FakeWord(1.0, 1.4, " roots")]
        return iter([FakeSegment(1.0, 1.4, " roots", self.logprob, self.packing, words)]), None


@pytest.fixture
def fake(monkeypatch: pytest.MonkeyPatch) -> FakeRecogniser:
    recogniser = FakeRecogniser()
    monkeypatch.setattr(speech, "_recogniser", lambda path, threads: recogniser)
    return recogniser


def silence(length_s: float) -> NDArray[np.float32]:
    return np.zeros(int(length_s * RATE_HZ), np.float32)


def test_a_pause_ends_a_cue() -> None:
    words = [Word(0.0, 0.3, " roots"), Word(0.4, 0.6, " here"), Word(2.0, 2.5, " clear")]
    assert [(cue.start_s, cue.end_s, cue.text) for cue in cues_of(words)] == [
        (0.0, 0.6, "roots here"),
        (2.0, 2.5, "clear"),
    ]


def test_the_end_of_a_sentence_ends_a_cue() -> None:
    words = [Word(0.0, 0.3, " Roots."), Word(0.4, 0.6, " Clear")]
    assert [cue.text for cue in cues_of(words)] == ["Roots.", "Clear"]


def test_a_word_in_two_parts_is_never_cut() -> None:
    words = [Word(0, 0.5, " twelve"), Word(0.5, 0.7, " o"), Word(9.0, 9.2, "'clock,")]
    cues = list(cues_of([*words, Word(9.3, 9.6, " offset")]))
    assert [(cue.end_s, cue.text) for cue in cues] == [(0.7, "twelve o'clock,"), (9.6, "offset")]


@given(
    st.lists(
        st.tuples(st.floats(0, 3), st.floats(0.01, 1), st.sampled_from([" a", " b.", " c?"])),
        max_size=60,
    )
)
def test_cutting_loses_no_word_and_keeps_time_order(gaps: list[tuple[float, float, str]]) -> None:
    words, now = [], 0.0
    for gap, length, text in gaps:
        words.append(Word(now + gap, now + gap + length, text))
        now = words[-1].end_s
    cues = list(cues_of(words))
    assert " ".join(cue.text for cue in cues).split() == [word.text.strip() for word in words]
    assert all(cue.end_s - cue.start_s <= speech.CUE_LIMIT_S + 0.02 for cue in cues)
    assert all(a.end_s <= b.start_s + 0.02 for a, b in pairwise(cues))


def test_long_audio_goes_in_pieces_and_times_stay_on_its_clock(fake: FakeRecogniser) -> None:
    length_s = 2.5 * speech.PIECE_S
    done: list[tuple[float, float]] = []
    told = transcribe(silence(length_s), NAMED, on_progress=lambda at, of: done.append((at, of)))
    assert sum(fake.given) == int(length_s * RATE_HZ)
    assert max(fake.given) <= speech.PIECE_S * RATE_HZ
    assert len(told.cues) == len(fake.given) == 3
    starts = np.cumsum([0, *fake.given[:-1]]) / RATE_HZ
    assert [cue.start_s for cue in told.cues] == pytest.approx(starts + 1.0, abs=0.01)
    assert [at for at, _ in done] == sorted(at for at, _ in done)
    assert done[-1] == (length_s, length_s)


def test_pieces_are_cut_in_the_quiet(fake: FakeRecogniser) -> None:
    rng = np.random.default_rng(4)
    audio = rng.normal(0, 0.1, int((speech.PIECE_S + 60) * RATE_HZ)).astype(np.float32)
    quiet_s = speech.PIECE_S - 6.0
    audio[int((quiet_s - 1) * RATE_HZ) : int((quiet_s + 1) * RATE_HZ)] = 0.0
    transcribe(audio, NAMED)
    assert abs(fake.given[0] / RATE_HZ - quiet_s) < 1.0


def test_a_broken_off_transcript_is_continued(fake: FakeRecogniser) -> None:
    before = Transcript(cues=(Cue(start_s=50.0, end_s=60.0, text="heard before"),))
    told = transcribe(silence(90.0), NAMED, after=before)
    assert fake.given == [30 * RATE_HZ]
    assert [cue.start_s for cue in told.cues] == [50.0, 61.0]


@pytest.mark.parametrize("doubt", [(-2.0, 1.2), (-0.3, 9.0)], ids=["unlikely", "stuck"])
def test_what_hardly_sounds_like_speech_is_left_out_and_said_so(
    fake: FakeRecogniser, doubt: tuple[float, float]
) -> None:
    fake.logprob, fake.packing = doubt
    told = transcribe(silence(5.0), NAMED)
    assert told.cues == ()
    assert "roots" in told.problems[0]


def test_the_trade_words_steer_it(fake: FakeRecogniser) -> None:
    transcribe(silence(1.0), NAMED)
    assert "wye" in str(fake.options["hotwords"])
    assert "clean-out" in trade_words()
    assert len(set(trade_words())) == len(trade_words())


def test_nothing_to_hear_is_an_empty_transcript(fake: FakeRecogniser) -> None:
    assert transcribe(silence(0.0), NAMED).cues == ()


@pytest.mark.parametrize(
    ("audio", "why"),
    [
        (np.zeros((100, 2), np.float32), "channels"),
        (np.array([0.0, np.nan], np.float32), "not numbers"),
    ],
)
def test_audio_that_is_no_audio_is_refused(audio: NDArray[np.float32], why: str) -> None:
    with pytest.raises(InputError, match=why):
        transcribe(audio, NAMED)


def test_without_the_extra_one_sentence_says_what_to_install(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setitem(sys.modules, "faster_whisper", None)
    speech._loaded.cache_clear()
    with pytest.raises(MissingPartError, match="speech"):
        transcribe(silence(1.0), NAMED)


# ---------------------------------------------------------------- for real
def spoken(text: str) -> NDArray[np.float32]:
    """Speak with espeak-ng, at the recogniser's rate."""
    said = subprocess.run(
        ["espeak-ng", "-v", "en-us", "-s", "150", "--stdout", text], capture_output=True, check=True
    ).stdout
    with wave.open(io.BytesIO(said)) as sound:
        raw = np.frombuffer(sound.readframes(sound.getnframes()), np.int16)
        rate_hz = sound.getframerate()
    return resample_poly(raw.astype(np.float32) / 32768.0, RATE_HZ, rate_hz).astype(np.float32)


@pytest.mark.speech
@pytest.mark.filterwarnings("ignore")
def test_a_short_clip_is_heard_end_to_end_without_the_network(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    if shutil.which("espeak-ng") is None:
        pytest.skip("espeak-ng, which speaks the clip, is not installed")
    try:
        model = find_model()
    except MissingPartError as error:
        pytest.skip(str(error))

    def refuse(*args: object, **options: object) -> None:
        raise AssertionError("reached for the network")

    monkeypatch.setattr(socket.socket, "connect", refuse)
    monkeypatch.setattr(socket, "getaddrinfo", refuse)
    first = spoken("Fine roots at the joint.")
    audio = np.concatenate([silence(0.5), first, silence(2.0), spoken("Crack on the left side.")])
    told = transcribe(np.concatenate([audio, silence(0.5)]), model, threads=1)
    words = " ".join(cue.text.lower() for cue in told.cues)
    assert "roots" in words
    assert "crack" in words
    second_s = (len(audio) - len(spoken("Crack on the left side."))) / RATE_HZ
    crack = next(cue for cue in told.cues if "crack" in cue.text.lower())
    assert crack.start_s == pytest.approx(second_s, abs=0.5)
