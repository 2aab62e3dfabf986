"""Talk cut off anywhere, jumbled or stripped of its stops is read without falling over."""

from __future__ import annotations

import random
import re
from pathlib import Path

import pytest

from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration.listen import listen

TALKS = sorted((Path(__file__).parents[2] / "benchmarks" / "narrations" / "seen").glob("*.vtt"))


def spoken() -> list[str]:
    blocks = [block for path in TALKS for block in path.read_text(encoding="utf-8").split("\n\n")]
    return [block.split("\n", 1)[1] for block in blocks if " --> " in block.split("\n")[0]]


CUES = spoken()


def mangled(words: list[str], draw: random.Random) -> str:
    way = draw.choice(["head", "tail", "order", "whole"])
    at = draw.randrange(len(words))
    if way == "head":
        words = words[: at + 1]
    elif way == "tail":
        words = words[at:]
    elif way == "order":
        draw.shuffle(words)
    text = " ".join(words)
    return text if draw.random() < 0.7 else re.sub(r"[.,?!']", "", text).lower()


def a_talk(draw: random.Random) -> Transcript:
    cues, at_s = [], 0.0
    for _ in range(draw.randint(1, 6)):
        text = mangled(draw.choice(CUES).split(), draw)
        cues.append(Cue(start_s=at_s, end_s=at_s + 3.0, text=text))
        at_s += draw.choice([3.0, 5.0, 12.0, 40.0])
    return Transcript(cues=tuple(cues), source="mangled")


@pytest.mark.parametrize("seed", range(10))
def test_mangled_talk_drafts_only_what_its_words_and_times_carry(seed: int) -> None:
    draw = random.Random(seed)
    for _ in range(60):
        talk = a_talk(draw)
        last_s = max(cue.end_s or cue.start_s for cue in talk.cues)
        for finding in listen(talk).findings:
            assert finding.evidence.words
            assert 0.0 <= (finding.start_s or 0.0) <= last_s
            assert (finding.start_s or 0.0) <= (finding.end_s or last_s)


@pytest.mark.parametrize("text", ["Forty one, forty five,", "six, third of a pipe."])
def test_numbers_without_a_thing_draft_nothing(text: str) -> None:
    cues = (Cue(start_s=0.0, end_s=3.0, text=text),)
    assert listen(Transcript(cues=cues, source="t")).findings == ()
