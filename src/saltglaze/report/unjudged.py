"""What could not be judged, gathered: stretches joined by reason, and their share of the film."""

from __future__ import annotations

from typing import NamedTuple

from saltglaze.model.appraisal import Appraisal, NotSeen
from saltglaze.model.base import Estimate
from saltglaze.report.cards import film_time
from saltglaze.report.frame import Frame


class Span(NamedTuple):
    """A stretch of stations, metres, with the larger of its ends' standard deviations."""

    from_m: float
    to_m: float
    sd_m: float


def joined(parts: list[Span]) -> list[Span]:
    """Return spans in order, those that overlap or meet within their margin made one."""
    found: list[Span] = []
    for part in sorted(parts):
        if found and part.from_m <= found[-1].to_m + max(part.sd_m, found[-1].sd_m):
            last = found[-1]
            found[-1] = Span(last.from_m, max(last.to_m, part.to_m), max(last.sd_m, part.sd_m))
        else:
            found.append(part)
    return found


def _span(part: NotSeen) -> Span | None:
    ends = [e for e in (part.from_m, part.to_m) if e is not None and e.value is not None]
    if not ends:
        return None
    values = [e.value for e in ends if e.value is not None]
    return Span(min(values), max(values), max(e.spread for e in ends))


def unjudged_spans(appraisal: Appraisal) -> list[Span]:
    """Return all stretches that could not be judged, whatever the reason, joined."""
    return joined([s for part in appraisal.not_seen if (s := _span(part)) is not None])


def unjudged_share(appraisal: Appraisal) -> float | None:
    """Return which share of the filmed length could not be judged; ``None`` if not known."""
    runs = [s.samples for s in appraisal.position.stationings if s.samples]
    if not runs:
        return None
    filmed = joined(
        [
            Span(min(s.station_m for s in samples), max(s.station_m for s in samples), 0.0)
            for samples in runs
        ]
    )
    length = sum(s.to_m - s.from_m for s in filmed)
    if length <= 0:
        return None
    lost = sum(
        max(0.0, min(a.to_m, b.to_m) - max(a.from_m, b.from_m))
        for a in unjudged_spans(appraisal)
        for b in filmed
    )
    return min(lost / length, 1.0)


def told_by_reason(frame: Frame) -> list[str]:
    """Return one line a reason: where on the line, then where only the film's time is known."""
    words = frame.words
    lines = []
    for why in dict.fromkeys(part.why.rstrip(". ") for part in frame.appraisal.not_seen):
        same = [p for p in frame.appraisal.not_seen if p.why.rstrip(". ") == why]
        places = _places(frame, [s for p in same if (s := _span(p)) is not None])
        places += [_film(frame, p) for p in same if _span(p) is None and p.from_s is not None]
        told = words.sentence(why)
        if places:
            told = words("not_seen.group", why=told.rstrip("."), places="; ".join(places))
        lines.append(told)
    return lines


def _places(frame: Frame, spans: list[Span]) -> list[str]:
    measures = frame.measures
    return [
        measures.stretch(Estimate.of(s.from_m, s.sd_m), Estimate.of(s.to_m, s.sd_m), short=True)
        for s in joined(spans)
    ]


def _film(frame: Frame, part: NotSeen) -> str:
    words = frame.words
    end = film_time(part.to_s) if part.to_s is not None else words("not_seen.film_end")
    return words("not_seen.film", start=film_time(part.from_s or 0.0), end=end)
