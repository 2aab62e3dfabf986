"""What a reviewer should know about a talk before trusting what was heard in it."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.model.appraisal import Check, Verdict
from saltglaze.model.talk import Cue, Mention, Transcript
from saltglaze.narration.tables import word_set
from saltglaze.narration.words import Sentence

LONGEST_CHARS = 3_000_000
"""More than a day of talk; what lies beyond is not interpreted."""

_FEWEST_WORDS = 25
_LEAST_ENGLISH = 0.15
"""Plain English has about a third of these words; our own talks at least a fifth."""

_ENGLISH = word_set("checks", "english")


def within_reach(cues: Sequence[Cue]) -> tuple[list[Cue], Check | None]:
    """Return the cues that will be interpreted, and a check where some are left out."""
    if sum(len(cue.text) for cue in cues) <= LONGEST_CHARS:
        return list(cues), None
    left = LONGEST_CHARS
    kept: list[Cue] = []
    for cue in cues:
        if left <= 0:
            break
        kept.append(cue.model_copy(update={"text": cue.text[:left]}))
        left -= len(cue.text)
    return kept, Check(
        name="length of talk",
        verdict=Verdict.DOUBT,
        reason=f"more than {LONGEST_CHARS:,} letters of talk; the rest was not interpreted",
        mend="cut the transcript to the talk of one run",
    )


def talk_checks(
    transcript: Transcript, sentences: Sequence[Sentence], mentions: Sequence[Mention]
) -> list[Check]:
    """Return checks on the file, the language and the words that were put right."""
    checks = [
        Check(name="transcript", verdict=Verdict.NOTE, reason=problem)
        for problem in transcript.problems
    ]
    language = _language(sentences)
    if language is not None:
        checks.append(language)
    corrected = _corrections(mentions)
    if corrected is not None:
        checks.append(corrected)
    return checks


def _language(sentences: Sequence[Sentence]) -> Check | None:
    words = [w.text for s in sentences for w in s.words if w.text[0].isalpha()]
    if not words:
        return Check(
            name="language",
            verdict=Verdict.DOUBT,
            reason="the talk holds no words",
            mend="give the transcript of the run, or its film with sound",
        )
    english = sum(word in _ENGLISH for word in words) / len(words)
    if len(words) < _FEWEST_WORDS or english >= _LEAST_ENGLISH:
        return None
    return Check(
        name="language",
        verdict=Verdict.DOUBT,
        reason=(
            f"the talk does not read like English ({english:.0%} of its words are common "
            "English words): what was heard in it cannot be relied on"
        ),
        mend="give an English transcript, or type the findings",
    )


def _corrections(mentions: Sequence[Mention]) -> Check | None:
    made = [correction for mention in mentions for correction in mention.corrections]
    if not made:
        return None
    pairs = dict.fromkeys(f"“{c.heard}” as “{c.understood}”" for c in made)
    shown = ", ".join(list(pairs)[:12])
    more = f" and {len(pairs) - 12} more" if len(pairs) > 12 else ""
    return Check(
        name="mis-heard words",
        verdict=Verdict.NOTE,
        reason=f"{len(made)} words were taken for trade words they sound like: {shown}{more}",
        mend="look at the mentions marked as corrected",
    )
