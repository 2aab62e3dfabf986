"""WebVTT (W3C): chapters that jump to each finding, and the talk as captions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from saltglaze.exchange.plain_text import one_line
from saltglaze.model.appraisal import Appraisal, AppraisedFinding
from saltglaze.model.talk import Cue

LAST_S = 5.0
"""A cue whose end is not known lasts this long."""

SHORTEST_S = 0.1
"""No cue ends before it began; one that would lasts this long."""


def chapters_vtt(appraisal: Appraisal, run_id: str, note: str) -> str:
    """Return one chapter a finding of a run, each until the next begins."""
    found = sorted(
        (f for f in appraisal.findings if f.finding.stands and _of(f, run_id)),
        key=lambda f: f.finding.start_s or 0.0,
    )
    return _vtt(_chapters(found), note)


def _of(found: AppraisedFinding, run_id: str) -> bool:
    return found.finding.evidence.run_id == run_id and found.finding.start_s is not None


def _chapters(found: Sequence[AppraisedFinding]) -> Iterator[tuple[float, float, str]]:
    starts = [f.finding.start_s or 0.0 for f in found]
    for place, item in enumerate(found):
        start = starts[place]
        later = [s for s in starts[place + 1 :] if s > start]
        end = later[0] if later else max(item.finding.end_s or 0.0, start + LAST_S)
        yield start, end, item.plain or item.finding.facts.feature.value.replace("_", " ")


def captions_vtt(cues: Sequence[Cue], note: str) -> str:
    """Return a transcript as captions, in time order."""
    return _vtt(_captions(cues), note)


def _captions(cues: Sequence[Cue]) -> Iterator[tuple[float, float, str]]:
    ordered = sorted(cues, key=lambda cue: cue.start_s)
    for place, cue in enumerate(ordered):
        following = ordered[place + 1].start_s if place + 1 < len(ordered) else None
        start = max(cue.start_s, 0.0)
        end = cue.end_s or following or start + LAST_S
        if one_line(cue.text):
            yield start, max(end, start + SHORTEST_S), cue.text


def _vtt(cues: Iterator[tuple[float, float, str]], note: str) -> str:
    parts = ["WEBVTT"]
    if note:
        parts.append(f"NOTE {_escaped(note)}")
    parts += [f"{_stamp(start)} --> {_stamp(end)}\n{_escaped(text)}" for start, end, text in cues]
    return "\n\n".join(parts) + "\n"


def _escaped(text: str) -> str:
    """Escape what WebVTT reads as markup; an arrow cannot stand in a cue."""
    return one_line(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _stamp(time_s: float) -> str:
    total_ms = round(max(time_s, 0.0) * 1000.0)
    seconds, ms = divmod(total_ms, 1000)
    minutes, seconds = divmod(seconds, 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}:{seconds:02d}.{ms:03d}"
