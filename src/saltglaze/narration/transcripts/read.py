"""A narration file, whatever its form, to a transcript in time order."""

from __future__ import annotations

from itertools import pairwise

from saltglaze.errors import InputError
from saltglaze.model.talk import Cue, Transcript
from saltglaze.narration.transcripts.captions import looks_like_captions, read_captions
from saltglaze.narration.transcripts.decode import decode_text
from saltglaze.narration.transcripts.recogniser import looks_like_json, read_recogniser
from saltglaze.narration.transcripts.stamped import read_stamped

_SHOWN = 20
"""So many problems are told one by one; the rest are counted."""


def read_transcript(data: bytes, name: str) -> Transcript:
    """Return the talk in ``data``; the form is told by its content, not its name.

    Cues come back in time order. What was wrong but could be read past stands in
    ``problems``: lines left out, stamps out of order, cues that overlap, odd encoding.

    Raises
    ------
    InputError
        Nothing in the file can be used: empty, not text, no stamps at all.
    """
    text, problems = decode_text(data, name)
    if looks_like_json(text):
        cues, more = read_recogniser(text, name)
    elif looks_like_captions(text):
        cues, more = read_captions(text)
    else:
        cues, more = read_stamped(text)
    if not cues:
        raise InputError(
            more[0] if more else "no words with a time were found",
            where=name,
            expected="WebVTT, SRT, JSON or text with [m:ss] stamps",
        )
    ordered = sorted(cues, key=lambda cue: (cue.start_s, cue.source_line or 0))
    found = [*problems, *_shortened(more), *_order(cues), *_overlap(ordered)]
    return Transcript(cues=tuple(ordered), source=name, problems=tuple(found))


def _shortened(problems: list[str]) -> list[str]:
    if len(problems) <= _SHOWN:
        return problems
    return [*problems[:_SHOWN], f"and {len(problems) - _SHOWN} more like these"]


def _order(cues: list[Cue]) -> list[str]:
    late = [cue for before, cue in pairwise(cues) if cue.start_s < before.start_s - 1e-9]
    if not late:
        return []
    first = late[0]
    where = f" (first at line {first.source_line})" if first.source_line else ""
    return [f"{len(late)} stamps go back in time{where}: cues were sorted"]


def _overlap(ordered: list[Cue]) -> list[str]:
    count = 0
    latest = -1.0
    for cue in ordered:
        count += cue.start_s < latest - 0.05
        latest = max(latest, cue.end_s if cue.end_s is not None else cue.start_s)
    return [f"{count} cues overlap the one before"] if count else []
