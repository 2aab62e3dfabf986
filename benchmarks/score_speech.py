"""Speak narrations aloud with a machine voice, hear them again, and score the result.

::

    python benchmarks/score_speech.py                       # every seen talk, one voice each
    python benchmarks/score_speech.py --split unseen
    python benchmarks/score_speech.py --talks 4 --model DIR --noise 10 --confusions

Needs ``espeak-ng`` (system package) and a speech model. Each cue is spoken where
its time says, so that the labels' windows hold; where speech outlasts its slot the
next cue waits and the labels move with it. Prints the word error rate (edits over
words spoken), precision, recall and F1 of the findings from the heard text beside
those from the written text, and the processor time per time of audio (with one
thread, the real-time factor of an idle core).

Machine voices are harder to hear than people are: these figures rank choices, they
do not forecast the field.
"""

from __future__ import annotations

import argparse
import io
import json
import re
import subprocess
import time
import wave
from bisect import bisect_right
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.signal import resample_poly

from answer_key import score_talk
from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration.models import SpeechModel, find_model
from saltglaze.narration.speech import RATE_HZ, transcribe
from score_listening import NARRATIONS, SPLITS, Score, read_vtt

VOICES = (
    ("en-us", 150, 50),
    ("en-gb", 160, 45),
    ("en-us", 175, 35),
    ("en-gb-scotland", 150, 55),
    ("en-us", 140, 60),
    ("en-gb-x-rp", 165, 40),
)
"""espeak-ng voice, words a minute, pitch; taken in turn."""

NUMBERS = re.compile(r"\d+(?:\.\d+)?")


# ---------------------------------------------------------------- words
def plain_words(text: str) -> list[str]:
    """Return lower-case words without punctuation; figures spelt out, so that "42" is right."""
    text = NUMBERS.sub(lambda match: " " + spelt(match[0]) + " ", text.lower())
    text = text.replace("%", " percent ").replace("°", " degrees ")
    words = re.findall(r"[a-z]+", text.replace("'", "").replace("’", ""))
    return [{"percent": "percent", "metre": "meter", "metres": "meters"}.get(w, w) for w in words]


ONES = (
    *("zero", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
    *("eleven", "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen"),
    *("eighteen", "nineteen"),
)
TENS = (
    *("zero", "ten", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty"),
    "ninety",
)


def spelt(figure: str) -> str:
    """Spell a number as it is read aloud."""
    whole, _, part = figure.partition(".")
    if part:
        return f"{spelt(whole)} point {' '.join(ONES[int(digit)] for digit in part)}"
    value = int(whole)
    if value < 20:
        return ONES[value]
    if value < 100:
        return TENS[value // 10] + (f" {ONES[value % 10]}" if value % 10 else "")
    if value < 1000:
        rest = f" {spelt(str(value % 100))}" if value % 100 else ""
        return f"{ONES[value // 100]} hundred{rest}"
    if value < 1_000_000:
        rest = f" {spelt(str(value % 1000))}" if value % 1000 else ""
        return f"{spelt(str(value // 1000))} thousand{rest}"
    return " ".join(ONES[int(digit)] for digit in whole)


def alignment(said: Sequence[str], heard: Sequence[str]) -> list[tuple[str, str]]:
    """Return the least-edit alignment as (said, heard) pairs; "" for a gap."""
    cost = np.zeros((len(said) + 1, len(heard) + 1), dtype=np.int32)
    cost[:, 0] = np.arange(len(said) + 1)
    cost[0, :] = np.arange(len(heard) + 1)
    for i, word in enumerate(said, 1):
        for j, other in enumerate(heard, 1):
            swap = cost[i - 1, j - 1] + (word != other)
            cost[i, j] = min(swap, cost[i - 1, j] + 1, cost[i, j - 1] + 1)
    pairs, i, j = [], len(said), len(heard)
    while i or j:
        here = cost[i, j]
        if i and j and here == cost[i - 1, j - 1] + (said[i - 1] != heard[j - 1]):
            i, j = i - 1, j - 1
            pairs.append((said[i], heard[j]))
        elif i and here == cost[i - 1, j] + 1:
            i -= 1
            pairs.append((said[i], ""))
        else:
            j -= 1
            pairs.append(("", heard[j]))
    return pairs[::-1]


def confusions(pairs: Sequence[tuple[str, str]]) -> Counter[tuple[str, str]]:
    """Count runs of differing words, with the words of both sides."""
    counts: Counter[tuple[str, str]] = Counter()
    said: list[str] = []
    heard: list[str] = []
    for left, right in [*pairs, ("", "")]:
        if left == right:
            if said or heard:
                counts[" ".join(said), " ".join(heard)] += 1
            said, heard = [], []
            continue
        said += [left] if left else []
        heard += [right] if right else []
    return counts


# ---------------------------------------------------------------- sound
def speak(text: str, voice: str, speed: int, pitch: int) -> NDArray[np.float32]:
    """Speak a text with espeak-ng, at the recogniser's rate."""
    command = ["espeak-ng", "-v", voice, "-s", str(speed), "-p", str(pitch), "--stdout", text]
    said = subprocess.run(command, capture_output=True, check=True).stdout
    with wave.open(io.BytesIO(said)) as sound:
        raw = np.frombuffer(sound.readframes(sound.getnframes()), np.int16)
        rate_hz = sound.getframerate()
    return resample_poly(raw.astype(np.float32) / 32768.0, RATE_HZ, rate_hz).astype(np.float32)


@dataclass
class Spoken:
    """A narration as sound, and where each cue came to lie."""

    audio: NDArray[np.float32]
    was_s: list[float]
    is_s: list[float]
    ends_s: list[float]

    def moved(self, time_s: float) -> float:
        """Return when a moment of the written talk is spoken."""
        row = max(bisect_right(self.was_s, time_s + 1e-6) - 1, 0)
        return min(self.is_s[row] + time_s - self.was_s[row], max(self.ends_s[row], self.is_s[row]))


def speak_talk(cues: Sequence[Cue], voice: tuple[str, int, int], noise_db: float | None) -> Spoken:
    """Speak every cue at its time, at the latest right after the one before."""
    parts: list[tuple[float, NDArray[np.float32]]] = []
    free_s = 0.0
    for cue in cues:
        sound = speak(cue.text, *voice)
        start_s = max(cue.start_s, free_s)
        parts.append((start_s, sound))
        free_s = start_s + len(sound) / RATE_HZ + 0.9
    audio = np.zeros(int((free_s + 0.5) * RATE_HZ), np.float32)
    ends = []
    for start_s, sound in parts:
        first = int(start_s * RATE_HZ)
        audio[first : first + len(sound)] += sound
        ends.append(start_s + len(sound) / RATE_HZ)
    if noise_db is not None:
        loud = np.concatenate([sound for _, sound in parts])
        power = float(np.mean(np.square(loud))) / 10.0 ** (noise_db / 10.0)
        rng = np.random.default_rng(8)
        audio += rng.normal(0.0, power**0.5, len(audio)).astype(np.float32)
    return Spoken(audio, [cue.start_s for cue in cues], [start for start, _ in parts], ends)


def moved_labels(labels: dict[str, Any], spoken: Spoken) -> dict[str, Any]:
    """Return the labels on the clock of the sound."""
    moved = dict(labels)
    moved["findings"] = [
        {**label, "start_s": spoken.moved(label["start_s"]), "end_s": spoken.moved(label["end_s"])}
        for label in labels["findings"]
    ]
    for what in ("stations", "facts"):
        moved[what] = [{**label, "time_s": spoken.moved(label["time_s"])} for label in labels[what]]
    return moved


# ---------------------------------------------------------------- scoring
@dataclass
class Hearing:
    """Sums over the talks heard."""

    words: int = 0
    edits: int = 0
    number_words: int = 0
    number_edits: int = 0
    audio_s: float = 0.0
    work_s: float = 0.0
    mixed_up: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, pairs: Sequence[tuple[str, str]]) -> float:
        """Count one talk's alignment; return its word error rate."""
        spoken = sum(bool(said) for said, _ in pairs)
        wrong = sum(said != heard for said, heard in pairs)
        numbers = {*ONES, *TENS, "hundred", "half", "quarter", "oclock", "point"}
        self.words += spoken
        self.edits += wrong
        self.number_words += sum(said in numbers for said, _ in pairs)
        self.number_edits += sum(said in numbers and said != heard for said, heard in pairs)
        self.mixed_up += confusions(pairs)
        return wrong / max(spoken, 1)


def heard_findings(transcript: Transcript, name: str, labels: dict[str, Any]) -> Score:
    """Draft findings from a transcript and score them."""
    from saltglaze.narration.listen import listen

    return Score([score_talk(name, labels, listen(transcript))])


def heard_again(
    spoken: Spoken, model: SpeechModel, name: str, options: argparse.Namespace, hearing: Hearing
) -> Transcript:
    """Hear a talk, or take what was heard and kept before."""
    kept = options.keep / f"{name}.json" if options.keep is not None else None
    if kept is not None and kept.is_file():
        return Transcript.model_validate_json(kept.read_text(encoding="utf-8"))
    began = time.process_time()
    told = transcribe(spoken.audio, model, threads=options.threads)
    hearing.work_s += time.process_time() - began
    hearing.audio_s += len(spoken.audio) / RATE_HZ
    if kept is not None:
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(told.model_dump_json(indent=1), encoding="utf-8")
    return told


def main() -> None:
    """Speak, hear, score, print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--split", choices=SPLITS, default="seen")
    parser.add_argument("--talks", type=int, help="only the first so many")
    parser.add_argument("--model", type=Path, help="model folder")
    parser.add_argument("--threads", type=int, default=1)
    parser.add_argument("--noise", type=float, help="add noise at this signal-to-noise, dB")
    parser.add_argument("--keep", type=Path, help="keep what was heard here, and take it from here")
    parser.add_argument("--confusions", action="store_true", help="list what was mixed up (seen)")
    options = parser.parse_args()
    model: SpeechModel = find_model(options.model)
    hearing, from_text, from_sound = Hearing(), Score([]), Score([])
    paths = sorted((NARRATIONS / options.split).glob("*.vtt"))[: options.talks]
    for number, path in enumerate(paths):
        labels = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
        written = read_vtt(path)
        spoken = speak_talk(written.cues, VOICES[number % len(VOICES)], options.noise)
        told = heard_again(spoken, model, path.stem, options, hearing)
        said = plain_words(" ".join(cue.text for cue in written.cues))
        error = hearing.add(alignment(said, plain_words(" ".join(cue.text for cue in told.cues))))
        from_text.talks += heard_findings(written, path.stem, labels).talks
        one = heard_findings(told, path.stem, moved_labels(labels, spoken))
        from_sound.talks += one.talks
        voice = VOICES[number % len(VOICES)][0]
        print(f"  {path.stem:<28} {voice:<15} WER {error:.2f} F1 {one.f1:.2f}", flush=True)
    print(f"{model.name}, {len(paths)} talks of {options.split}, {hearing.audio_s / 60:.0f} min")
    print(f"word error rate     {hearing.edits / hearing.words:.3f}")
    print(f"  of number words   {hearing.number_edits / max(hearing.number_words, 1):.3f}")
    print(f"processor time per time of audio {hearing.work_s / (hearing.audio_s or 1.0):.3f}")
    for name, result in (("as written", from_text), ("as heard", from_sound)):
        print(
            f"{name:<12} precision {result.precision:.3f} recall {result.recall:.3f}"
            f" F1 {result.f1:.3f} attributes {result.attributes:.3f}"
        )
    if options.confusions and options.split == "seen":
        for (said_words, heard_words), count in hearing.mixed_up.most_common(120):
            print(f"{count:3d}  {said_words or '-'}  ->  {heard_words or '-'}")


if __name__ == "__main__":
    main()
