"""Speech to text on this machine: samples in, transcript out. Needs ``saltglaze[speech]``.

The recogniser is faster-whisper in 8-bit integers on the processor, steered by the
trade's words. Its voice-activity filter skips the humming and rattling between
remarks; its word times cut the text into cues wherever the speaker paused.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache, lru_cache
from importlib import resources
from typing import NamedTuple, Protocol, cast

import numpy as np
from numpy.typing import NDArray

from saltglaze.errors import InputError, MissingPartError
from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration.models import SpeechModel

RATE_HZ = 16_000
"""Sampling rate the recogniser works at."""

PIECE_S = 600.0
"""Length of audio handed over at once, so that memory stays bounded and a broken-off
run loses minutes, not hours."""

PAUSE_S = 0.7
"""A silence this long between words ends a cue (common practice, no source)."""

CUE_LIMIT_S = 12.0
"""No cue runs longer: a time span of a cue is the time margin of what it says."""

BEAM = 5
"""Beam width; 5 halved the word errors of 1 on short synthetic clips (measured here)."""

DOUBTFUL_LOGPROB = -1.3
"""Mean log probability under which a segment is dropped as noise, and said so."""

LOOP_RATIO = 2.4
"""Text that packs better than this repeats itself: the recogniser got stuck (the
recogniser's own default)."""

TEMPERATURES = (0.0, 0.2, 0.4)
"""Tried in turn where the answer is unlikely or repeats itself."""

OnProgress = Callable[[float, float], None]
"""Called with seconds done and seconds in all."""


class Word(NamedTuple):
    """A recognised word and when it was said."""

    start_s: float
    end_s: float
    text: str


class SpokenWord(Protocol):
    """A word as the recogniser gives it; times within its piece of audio."""

    start: float
    end: float
    word: str


class Segment(Protocol):
    """A stretch of recognised speech as the recogniser gives it."""

    start: float
    end: float
    text: str
    avg_logprob: float
    compression_ratio: float
    words: list[SpokenWord] | None


class Recogniser(Protocol):
    """What is used of the recogniser."""

    def transcribe(
        self, audio: NDArray[np.float32], **options: object
    ) -> tuple[Iterable[Segment], object]:
        """Return segments, made as they are asked for, and facts about the audio."""


@cache
def trade_words() -> tuple[str, ...]:
    """Return the words that steer the recogniser, most useful first."""
    file = resources.files("saltglaze.narration") / "data" / "speech_words.txt"
    lines = (line.strip() for line in file.read_text(encoding="utf-8").splitlines())
    return tuple(line for line in lines if line and not line.startswith("#"))


def transcribe(
    samples: NDArray[np.float32],
    model: SpeechModel,
    *,
    on_progress: OnProgress | None = None,
    after: Transcript | None = None,
    threads: int = 0,
) -> Transcript:
    """Turn speech into a transcript, never touching the network.

    Parameters
    ----------
    samples
        One channel at 16 kHz, about -1 to 1.
    model
        From :func:`saltglaze.narration.models.find_model`.
    on_progress
        Told how many seconds are done, after each stretch of speech.
    after
        A transcript of the same audio that was broken off: its cues are kept and
        listening goes on from the end of its last cue.
    threads
        Processor threads; 0 lets the recogniser choose.

    Returns
    -------
    Transcript
        Cues split at pauses, with times on the audio's clock. Stretches that
        sounded too little like speech are left out and named in ``problems``.

    Raises
    ------
    InputError
        The samples are not one channel of finite numbers.
    MissingPartError
        The speech extra is not installed.
    """
    audio = _checked(samples)
    recogniser = _recogniser(str(model.path), threads)
    kept = after.cues if after is not None else ()
    begin_s = _end_of(kept)
    total_s = len(audio) / RATE_HZ
    cues, problems = list(kept), list(after.problems if after is not None else ())
    for offset_s, piece in _pieces(audio, begin_s):
        for segment in _segments(recogniser, piece):
            if is_noise(segment):
                problems.append(_left_out(segment, offset_s))
            else:
                cues.extend(cues_of(_words(segment, offset_s)))
            if on_progress is not None:
                on_progress(min(offset_s + segment.end, total_s), total_s)
    if on_progress is not None:
        on_progress(total_s, total_s)
    return Transcript(
        cues=tuple(cues), source=f"speech to text ({model.name})", problems=tuple(problems)
    )


def is_noise(segment: Segment) -> bool:
    """Whether a stretch hardly sounded like speech, or is one word over and over."""
    return segment.avg_logprob < DOUBTFUL_LOGPROB or segment.compression_ratio > LOOP_RATIO


def cues_of(words: Iterable[Word]) -> Iterator[Cue]:
    """Cut words into cues at pauses, at ends of sentences, and at ``CUE_LIMIT_S``."""
    held: list[Word] = []
    for word in words:
        if held and not word.text.startswith(" "):
            held[-1] = _joined(held[-1], word)
            continue
        if held and _cut_before(word, held):
            yield _cue(held)
            held = []
        held.append(word)
    if held:
        yield _cue(held)


def _joined(first: Word, rest: Word) -> Word:
    """Return one word of two parts ("o", "'clock"); a pause inside a word is a mistake."""
    end_s = rest.end_s if rest.start_s - first.end_s < PAUSE_S else first.end_s
    return Word(first.start_s, end_s, first.text + rest.text)


def _cut_before(word: Word, held: list[Word]) -> bool:
    last = held[-1]
    return (
        word.start_s - last.end_s >= PAUSE_S
        or last.text.rstrip().endswith(("?", "!", "."))
        or word.end_s - held[0].start_s > CUE_LIMIT_S
    )


def _cue(words: list[Word]) -> Cue:
    text = "".join(word.text for word in words).strip()
    return Cue(start_s=round(words[0].start_s, 2), end_s=round(words[-1].end_s, 2), text=text)


def _end_of(cues: tuple[Cue, ...]) -> float:
    if not cues:
        return 0.0
    last = cues[-1]
    return last.start_s if last.end_s is None else last.end_s


def _checked(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    audio = np.asarray(samples, dtype=np.float32)
    if audio.ndim != 1:
        raise InputError("audio has several channels", expected="one channel at 16 kHz")
    if not np.isfinite(audio).all():
        raise InputError("audio holds values that are not numbers", expected="samples of -1 to 1")
    return audio


def _pieces(
    audio: NDArray[np.float32], begin_s: float
) -> Iterator[tuple[float, NDArray[np.float32]]]:
    """Yield pieces of about ``PIECE_S``, cut where the sound is quietest near the end."""
    start = int(begin_s * RATE_HZ)
    while start < len(audio):
        end = start + int(PIECE_S * RATE_HZ)
        end = len(audio) if end >= len(audio) else _quietest(audio, end)
        yield start / RATE_HZ, audio[start:end]
        start = end


def _quietest(audio: NDArray[np.float32], near: int, span_s: float = 15.0) -> int:
    """Return the middle of the quietest half second in the ``span_s`` before ``near``."""
    window = RATE_HZ // 2
    first = near - int(span_s * RATE_HZ)
    blocks = audio[first:near][: (near - first) // window * window].reshape(-1, window)
    quiet = int(np.argmin(np.square(blocks, dtype=np.float64).mean(axis=1)))
    return first + quiet * window + window // 2


def _recogniser(path: str, threads: int) -> Recogniser:
    """Return the recogniser, its dice set so that the same audio gives the same words."""
    try:
        import ctranslate2  # type: ignore[import-untyped]
    except ImportError as error:
        raise _not_installed() from error
    ctranslate2.set_random_seed(1)
    return _loaded(path, threads)


@lru_cache(maxsize=1)
def _loaded(path: str, threads: int) -> Recogniser:
    try:
        from faster_whisper import WhisperModel
    except ImportError as error:
        raise _not_installed() from error
    model = WhisperModel(
        path, device="cpu", compute_type="int8", cpu_threads=threads, local_files_only=True
    )
    return cast(Recogniser, model)


def _not_installed() -> MissingPartError:
    return MissingPartError(
        "speech to text is not installed", mend="run `pip install saltglaze[speech]`"
    )


def _segments(recogniser: Recogniser, audio: NDArray[np.float32]) -> Iterable[Segment]:
    segments, _ = recogniser.transcribe(
        audio,
        language="en",
        beam_size=BEAM,
        temperature=list(TEMPERATURES),
        condition_on_previous_text=False,
        hotwords=", ".join(trade_words()),
        vad_filter=True,
        word_timestamps=True,
    )
    return segments


def _words(segment: Segment, offset_s: float) -> Iterator[Word]:
    for word in segment.words or ():
        yield Word(word.start + offset_s, word.end + offset_s, word.word)


def _left_out(segment: Segment, offset_s: float) -> str:
    start, end = segment.start + offset_s, segment.end + offset_s
    said = segment.text.strip()[:80]
    return f"{start:.0f} s to {end:.0f} s: too unlike speech to be sure of ({said})"
