"""JSON as speech recognisers write it: segments with start, end, text, maybe words."""

from __future__ import annotations

import json
import math
from typing import Any

from saltglaze.errors import InputError
from saltglaze.model.talk import Cue
from saltglaze.narration.transcripts.captions import plain_words
from saltglaze.narration.transcripts.stamps import LONGEST_S, seconds

_LISTS = ("segments", "chunks", "cues", "transcription", "results")
_PAUSE_S = 0.8
"""A silence this long between two words starts a new cue."""


def looks_like_json(text: str) -> bool:
    """Whether the text starts as a JSON object or list of objects."""
    head = text.lstrip("\ufeff \n\t")[:200]
    return head.startswith("{") or (head.startswith("[") and head[1:].lstrip()[:1] in "{]")


def read_recogniser(text: str, name: str) -> tuple[list[Cue], list[str]]:
    """Return the cues of a recogniser's JSON.

    Taken: an object with a list of segments, or the bare list; each segment with
    ``start``/``end`` in seconds (or a ``timestamp`` pair) and ``text`` or ``words``.

    Raises
    ------
    InputError
        The JSON is broken or holds no list of segments.
    """
    try:
        content = json.loads(text.lstrip("\ufeff"))
    except (ValueError, RecursionError) as error:
        where = f"{name}, line {error.lineno}" if isinstance(error, json.JSONDecodeError) else name
        raise InputError("the JSON is broken", where=where, mend="export the talk again") from error
    segments = _segments(content)
    if segments is None:
        raise InputError(
            "the JSON holds no list of segments",
            where=name,
            expected="segments with start, end and text",
        )
    cues: list[Cue] = []
    problems: list[str] = []
    for number, segment in enumerate(segments, start=1):
        found = _cues(segment)
        if found is None:
            problems.append(f"segment {number}: no start time or no text, left out")
        else:
            cues.extend(found)
    return cues, problems


def _segments(content: Any) -> list[Any] | None:  # noqa: ANN401 - whatever the file holds
    if isinstance(content, list):
        return content
    if isinstance(content, dict):
        for key in _LISTS:
            if isinstance(content.get(key), list):
                return list(content[key])
        if isinstance(content.get("words"), list):
            return [content]
    return None


def _cues(segment: Any) -> list[Cue] | None:  # noqa: ANN401
    if not isinstance(segment, dict):
        return None
    words = segment.get("words")
    if isinstance(words, list) and words:
        timed = _from_words(words)
        if timed:
            return timed
    span = segment.get("timestamp")
    pair = span if isinstance(span, list) and len(span) == 2 else (None, None)
    start = _number(segment.get("start", pair[0]))
    end = _number(segment.get("end", pair[1]))
    text = segment.get("text")
    if start is None or not isinstance(text, str):
        return None
    spoken = plain_words(text)
    ends = end if end is not None and end >= start else None
    return [Cue(start_s=start, end_s=ends, text=spoken)] if spoken else []


def _from_words(words: list[Any]) -> list[Cue]:
    """Group timed words into cues at pauses and sentence ends, so times stay sharp."""
    cues: list[Cue] = []
    group: list[tuple[float, float, str]] = []
    for word in words:
        timed = _timed_word(word)
        if timed is None:
            return []
        if group and (timed[0] - group[-1][1] > _PAUSE_S or group[-1][2].endswith((".", "?", "!"))):
            cues.append(_grouped(group))
            group = []
        group.append(timed)
    if group:
        cues.append(_grouped(group))
    return [cue for cue in cues if cue.text]


def _timed_word(word: Any) -> tuple[float, float, str] | None:  # noqa: ANN401
    if not isinstance(word, dict):
        return None
    text = word.get("word", word.get("text"))
    start, end = _number(word.get("start")), _number(word.get("end"))
    if start is None or not isinstance(text, str):
        return None
    return start, max(start, end if end is not None else start), text.strip()


def _grouped(group: list[tuple[float, float, str]]) -> Cue:
    text = plain_words(" ".join(word for _, _, word in group))
    return Cue(start_s=group[0][0], end_s=max(end for _, end, _ in group), text=text)


def _number(value: Any) -> float | None:  # noqa: ANN401
    if isinstance(value, str):
        value = seconds(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    number = float(value)
    return number if math.isfinite(number) and 0.0 <= number <= LONGEST_S else None
