"""Settles what the pipe is made of, how wide it is and how long its sections are, by station.

Each source makes claims over a stretch; over each stretch and for each property the
best source wins (:class:`saltglaze.model.line.FactSource`, best first).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from saltglaze.model.appraisal import Heard, LineSegment
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Certainty, DraftedBy, Feature, Finding
from saltglaze.model.job import Job
from saltglaze.model.line import FactSource, Material
from saltglaze.model.talk import LineFact, LineFactKind

RANK = {source: rank for rank, source in enumerate(FactSource)}

StationOf = Callable[[str, float], Estimate]
"""Station of a run's lens at a moment: (run_id, time_s) -> Estimate."""


@dataclass(frozen=True)
class Claim:
    """One property said to hold over a stretch, with its source."""

    name: str
    value: object
    low_m: float
    high_m: float
    source: FactSource
    note: str = ""
    goes_with: Material | None = None
    """The material it was told of; it does not hold where another was found."""


@dataclass(frozen=True)
class Border:
    """A station where the pipe changes."""

    station_m: float
    sd_m: float


@dataclass(frozen=True)
class Change:
    """A change seen or spoken of in the run: its border and what lies on either side."""

    border: Border
    name: str
    before: object | None
    after: object | None
    source: FactSource


def settle(
    job: Job,
    heard: Sequence[Heard],
    findings: Iterable[Finding],
    station_of_finding: Callable[[Finding], Estimate | None],
    station_at: StationOf,
    length_m: Estimate,
) -> tuple[LineSegment, ...]:
    """Settle the line's segments from records, talk and findings.

    Where nothing is known of a stretch it still appears, with ``None`` for the
    properties and ``ASSUMED`` as its source.
    """
    end = length_m.value or 0.0
    changes = [
        change
        for finding in findings
        if (change := _change(finding, station_of_finding(finding))) is not None
    ]
    claims = [*_record_claims(job, end), *_change_claims(changes, end)]
    claims += _spoken_claims(heard, station_at, changes, end)
    borders = _borders(job, changes, end)
    starts = [Border(0.0, 0.0), *borders]
    ends = [*borders, Border(end, length_m.spread if length_m.known else 0.0)]
    pieces = [_piece(start, stop, claims) for start, stop in zip(starts, ends, strict=True)]
    return _merged(pieces)


def _record_claims(job: Job, end: float) -> list[Claim]:
    claims = []
    for one in job.line.segments:
        low = one.start_m.value or 0.0
        high = one.end_m.value if one.end_m is not None and one.end_m.value is not None else end
        for name in ("material", "diameter_m", "section_length_m"):
            value = getattr(one, name)
            if value is not None:
                goes_with = one.material if name == "section_length_m" else None
                claims.append(Claim(name, value, low, high, one.source, one.note, goes_with))
    return claims


def _change(finding: Finding, station: Estimate | None) -> Change | None:
    if station is None or station.value is None:
        return None
    facts = finding.facts
    # A change called out over the picture is seen; one only supposed is talk.
    said = finding.evidence.drafted_by is DraftedBy.NARRATION and finding.edit is None
    guessed = said and facts.certainty is Certainty.SUPPOSED
    source = FactSource.SPOKEN if guessed else FactSource.SEEN
    border = Border(station.value, station.spread)
    if facts.feature is Feature.MATERIAL_CHANGE:
        return Change(border, "material", facts.material, facts.material_after, source)
    if facts.feature is Feature.DIAMETER_CHANGE:
        before = facts.diameter_m.value if facts.diameter_m else None
        after = facts.diameter_after_m.value if facts.diameter_after_m else None
        return Change(border, "diameter_m", before, after, source)
    return None


def _change_claims(changes: Sequence[Change], end: float) -> list[Claim]:
    claims = []
    for name in ("material", "diameter_m"):
        mine = sorted((c for c in changes if c.name == name), key=lambda c: c.border.station_m)
        at = [0.0, *(c.border.station_m for c in mine), max(end, 0.0)]
        for place, change in enumerate(mine):
            before = (change.before, at[place], at[place + 1])
            after = (change.after, at[place + 1], at[place + 2])
            for value, low, high in (before, after):
                if value is not None:
                    claims.append(Claim(name, value, low, high, change.source))
    return claims


_SPOKEN = {
    LineFactKind.MATERIAL: "material",
    LineFactKind.DIAMETER: "diameter_m",
    LineFactKind.SECTION_LENGTH: "section_length_m",
}


def _spoken_claims(
    heard: Sequence[Heard], station_at: StationOf, changes: Sequence[Change], end: float
) -> list[Claim]:
    """What the talk says of the pipe holds from the change before it to the change after."""
    claims = []
    for talk in heard:
        for fact in talk.facts:
            name, value = _SPOKEN.get(fact.kind), _fact_value(fact)
            if name is None or value is None:
                continue
            station = station_at(talk.run_id, fact.time_s)
            low, high = _between_changes(name, station, changes, end)
            source = FactSource.ASSUMED if fact.supposed else FactSource.SPOKEN
            claims.append(Claim(name, value, low, high, source, fact.text))
    return claims


def _fact_value(fact: LineFact) -> object | None:
    if fact.kind is LineFactKind.MATERIAL:
        known = {material.value for material in Material}
        return Material(fact.value) if fact.value in known else None
    if fact.number is not None and fact.number.value is not None and fact.number.value > 0.0:
        return fact.number.value
    return None


def _between_changes(
    name: str, station: Estimate, changes: Sequence[Change], end: float
) -> tuple[float, float]:
    if station.value is None:
        return 0.0, end
    at = sorted(c.border.station_m for c in changes if c.name in (name, "material"))
    low = max((one for one in at if one <= station.value), default=0.0)
    high = min((one for one in at if one > station.value), default=max(end, station.value))
    return low, high


def _borders(job: Job, changes: Sequence[Change], end: float) -> list[Border]:
    """All stations of change inside the line; near ones are one change, best known wins."""
    found = [change.border for change in changes]
    for one in job.line.segments:
        found.extend(
            Border(edge.value, edge.spread)
            for edge in (one.start_m, one.end_m)
            if edge is not None and edge.value is not None
        )
    kept: list[Border] = []
    for border in sorted(found, key=lambda one: one.sd_m):
        if not 0.05 < border.station_m < end - 0.05:
            continue
        reach = [0.3 + 2.0 * (border.sd_m**2 + one.sd_m**2) ** 0.5 for one in kept]
        if all(
            abs(border.station_m - one.station_m) > gap
            for one, gap in zip(kept, reach, strict=True)
        ):
            kept.append(border)
    return sorted(kept, key=lambda one: one.station_m)


def _piece(start: Border, stop: Border, claims: Sequence[Claim]) -> LineSegment:
    won: dict[str, Claim] = {}
    for claim in claims:
        shared = min(claim.high_m, stop.station_m) - max(claim.low_m, start.station_m)
        if shared < 0.5 * (stop.station_m - start.station_m):
            continue
        rival = won.get(claim.name)
        if rival is None or RANK[claim.source] < RANK[rival.source]:
            won[claim.name] = claim
    material, diameter, section = (
        won.get(name) for name in ("material", "diameter_m", "section_length_m")
    )
    if section and material and section.goes_with not in (None, material.value):
        section = None
    best = min(won.values(), key=lambda one: RANK[one.source], default=None)
    lead = material or best
    return LineSegment(
        start_m=Estimate.of(start.station_m, start.sd_m),
        end_m=Estimate.of(stop.station_m, stop.sd_m),
        material=Material(str(material.value)) if material else None,
        diameter_m=float(str(diameter.value)) if diameter else None,
        section_length_m=float(str(section.value)) if section else None,
        source=lead.source if lead else FactSource.ASSUMED,
        note=lead.note if lead else "nothing told what the pipe is here",
    )


def _merged(pieces: Sequence[LineSegment]) -> tuple[LineSegment, ...]:
    """Join neighbours that say the same."""
    kept: list[LineSegment] = []
    for piece in pieces:
        last = kept[-1] if kept else None
        same = last is not None and all(
            getattr(last, name) == getattr(piece, name)
            for name in ("material", "diameter_m", "section_length_m", "source")
        )
        if last is not None and same:
            kept[-1] = last.model_copy(update={"end_m": piece.end_m})
        else:
            kept.append(piece)
    return tuple(kept)
