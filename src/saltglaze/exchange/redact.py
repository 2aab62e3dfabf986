"""A copy of an appraisal for sharing: no names, no exact place, no words, no pictures.

Every record is rebuilt field by field. A text that a person wrote is taken out; a
sentence that the program made is scrubbed of every name, address, label and saying
that the record knows; ids are numbered anew; points are moved so that the line begins
at zero; of dates the month stays. A name that stands only in a sentence, and nowhere
in the record as a name, cannot be known: a person must read the copy.
"""

from __future__ import annotations

import datetime as dt
import itertools
from collections.abc import Iterator, Mapping
from enum import Enum
from typing import Any, Final, NamedTuple, TypeVar

from saltglaze.exchange.known_names import is_ordinary, known_names
from saltglaze.exchange.scrub import Scrub, scrubber
from saltglaze.model.appraisal import Appraisal
from saltglaze.model.base import Estimate, Record
from saltglaze.model.ground import PlanPoint
from saltglaze.model.job import Job, OwnershipRule, Party, Place

R = TypeVar("R", bound=Record)

TITLE: Final = "Redacted record"
CAUTION: Final = (
    "This is a redacted copy: names, the exact place, outlines, other utilities, words and "
    "pictures were taken out, ids and points changed, and every day is given as the first of its "
    "month. Nobody should dig, clean or price work by it."
)
COUNTRY_CODE: Final = 3
"""A country longer than an ISO 3166 code may be more than a country."""

WITHHELD: Final = "withheld"

NUMBERED: Final = {
    **dict.fromkeys(("Run.id", "*.run_id"), "run"),
    **dict.fromkeys(
        ("Finding.id", "*.finding_id", "*.prior_id", "Remedy.fixes", "Remedy.leaves"), "finding"
    ),
    "Ownership.by_finding": "finding",
    **dict.fromkeys(("Locate.id", "*.locate_id"), "P"),
    **dict.fromkeys(("JetPass.id", "*.pass_id"), "pass"),
    "GroundLevel.id": "level",
    "Sag.id": "sag",
}
"""Fields that hold ids (or, in a mapping, keys), and the kind of thing that they name."""

TAKEN_OUT: Final = frozenset(
    (
        *("Access.name", "Access.note", "KnownLandmark.name", "Segment.note", "Line.name"),
        *("Run.video", "Run.narration", "Run.start_access", "Run.camera"),
        *("Facts.remark", "Edit.by", "Edit.on", "Edit.because"),
        *("Evidence.words", "Evidence.mention_ids", "Evidence.typed_in"),
        *(
            "Locate.note",
            "Locate.offset",
            "SurfacePoint.note",
            "Stretch.ground_id",
            "JetPass.note",
            "JetPass.nozzle",
        ),
        *("PriorVisit.source", "Service.note", "Price.source", "PriceList.name", "Dig.ties"),
        *("LineSegment.note", "FilmFacts.broke_off_because", "CounterReading.raw"),
    )
)
"""Fields that a person wrote, or that quote one; blank in the copy."""

KEPT: Final = frozenset(
    (
        *("Edit.fields", "Code.main", "Code.ch1", "Code.ch2", "Code.q1_unit", "Code.status"),
        *("FindingGrade.could_be"),
        *("Appraisal.saltglaze_version", "LineGrade.scheme", "Job.id", "Job.title", "Line.id"),
        *("Party.name", "Place.country", "Place.one_call"),
        *("OwnershipRule.citation", "OwnershipRule.authority"),
    )
)
"""Fields whose words the program chose: from a list of its own, or for this copy."""

LEVELS: Final = frozenset(("invert_level_m", "ground_level_m", "water_level_m", "level_m"))


def redact(appraisal: Appraisal) -> Appraisal:
    """Return a copy without names, exact place, words, pictures or days."""
    renamed = dict(_numbers(appraisal))
    flat = {old: new for (_, old), new in renamed.items()}
    scrub = scrubber(known_names(appraisal), flat)
    bare = appraisal.model_copy(update={"job": _bare_job(appraisal.job), "heard": (), "stills": ()})
    rebuilt = _Rebuilder(scrub, renamed, _anchor(appraisal), _datum(appraisal)).record(bare)
    return rebuilt.model_copy(update={"cautions": (CAUTION, *rebuilt.cautions)})


def _bare_job(job: Job) -> Job:
    """Return the job without what tells who, where, or what was said."""
    return job.model_copy(
        update={
            "id": "redacted",
            "title": TITLE,
            "owner": Party(name="The owner") if job.owner else None,
            "firm": Party(name="The firm") if job.firm else None,
            "technician": "",
            "place": _bare_place(job.place),
            "origin": None,
            "line": job.line.model_copy(update={"id": "line"}),
            "notes": "",
            "edits": {},
            **dict.fromkeys(("talks", "typed", "marks", "ties"), ()),
            **dict.fromkeys(("parcels", "mains", "utilities"), ()),
        }
    )


def _bare_place(place: Place) -> Place:
    rule = place.ownership
    cited = rule and OwnershipRule(
        split=rule.split,
        citation="the local rule",
        authority="the sewer authority",
        connection_private=rule.connection_private,
    )
    one_call = "811" if place.one_call == "811" else "the local one-call service"
    country = place.country if len(place.country) <= COUNTRY_CODE else ""
    return Place(country=country, one_call=one_call, ownership=cited)


Renamed = Mapping[tuple[str, str], str]


def _numbers(appraisal: Appraisal) -> Iterator[tuple[tuple[str, str], str]]:
    """Number every id anew, by kind, in the order in which the record names them."""
    counts: dict[str, Iterator[int]] = {}
    seen: set[tuple[str, str]] = set()
    for kind, old in _ids(appraisal):
        if (kind, old) not in seen:
            seen.add((kind, old))
            number = next(counts.setdefault(kind, itertools.count(1)))
            yield (kind, old), f"{kind}-{number}"


def _ids(record: Record) -> Iterator[tuple[str, str]]:
    for name in type(record).model_fields:
        value = getattr(record, name)
        kind = _looked_up(NUMBERED, record, name)
        if kind is not None:
            yield from ((kind, old) for old in _texts(value))
        if not isinstance(value, Estimate):
            for inner in _records(value):
                yield from _ids(inner)


def _texts(value: object) -> Iterator[str]:
    """Return the ids in a field: itself, its items or its keys."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, tuple | dict):
        yield from value


def _records(value: object) -> Iterator[Record]:
    if isinstance(value, Record):
        yield value
    elif isinstance(value, tuple):
        for item in value:
            yield from _records(item)
    elif isinstance(value, dict):
        for item in value.values():
            yield from _records(item)


def _looked_up(table: Mapping[str, str], record: Record, name: str) -> str | None:
    return table.get(f"{type(record).__name__}.{name}") or table.get(f"*.{name}")


def _anchor(appraisal: Appraisal) -> PlanPoint:
    """Return the point that becomes zero: the beginning of the line, or what is nearest it."""
    path = (p.point for paths in appraisal.position.paths for p in paths.points)
    locates = (locate.point for locate in appraisal.job.locates)
    others = (appraisal.job.start_point, *(s.point for s in appraisal.position.surface))
    known = (point for point in (*path, *others, *locates) if point is not None)
    return next(known, PlanPoint(east_m=0.0, north_m=0.0))


def _datum(appraisal: Appraisal) -> float:
    """Return the level that becomes zero: the first invert known, or ground."""
    points = [p for path in appraisal.position.paths for p in path.points]
    estimates = (*(p.invert_level_m for p in points), *(p.ground_level_m for p in points))
    shots = (shot.level_m for shot in appraisal.job.levels)
    known = (e.value for e in (*estimates, *shots) if e is not None and e.value is not None)
    return next(known, 0.0)


class _Rebuilder(NamedTuple):
    """Rebuilds records field by field; ``typed`` says that a person wrote their texts."""

    scrub: Scrub
    renamed: Renamed
    anchor: PlanPoint
    datum_m: float

    def record(self, record: R, *, typed: bool = False) -> R:
        if isinstance(record, PlanPoint):
            east_m = record.east_m - self.anchor.east_m
            north_m = record.north_m - self.anchor.north_m
            return record.model_copy(update={"east_m": east_m, "north_m": north_m})
        typed = typed or isinstance(record, Job)
        names = type(record).model_fields
        return type(record)(**{name: self.field(record, name, typed) for name in names})

    def field(self, record: Record, name: str, typed: bool) -> Any:  # noqa: ANN401
        value = getattr(record, name)
        key = f"{type(record).__name__}.{name}"
        if key in TAKEN_OUT:
            field = type(record).model_fields[name]
            return WITHHELD if field.is_required() else field.get_default(call_default_factory=True)
        if key in KEPT:
            return value
        if name in LEVELS:
            return self.level(value)
        kind = _looked_up(NUMBERED, record, name)
        return self.numbered(kind, value) if kind else self.value(value, typed)

    def numbered(self, kind: str, value: Any) -> Any:  # noqa: ANN401
        if isinstance(value, str):
            return self.renamed[kind, value]
        if isinstance(value, dict):
            return {self.renamed[kind, old]: self.value(x, False) for old, x in value.items()}
        return value and tuple(self.renamed[kind, old] for old in value)

    def level(self, value: Estimate | float | None) -> Estimate | float | None:
        if value is None or isinstance(value, float):
            return value and value - self.datum_m
        ends = ("value", "low95", "high95", "low68", "high68")
        parts = {part: getattr(value, part) for part in ends}
        moved = {part: x - self.datum_m for part, x in parts.items() if x is not None}
        return self.value(value.model_copy(update=moved), False)  # type: ignore[no-any-return]

    def value(self, value: Any, typed: bool) -> Any:  # noqa: ANN401, PLR0911
        if isinstance(value, Enum):
            return value
        if isinstance(value, str):
            return self.scrub(value) if not typed or is_ordinary(value) else WITHHELD
        if isinstance(value, Record):
            return self.record(value, typed=typed)
        if isinstance(value, tuple):
            return tuple(self.value(item, typed) for item in value)
        if isinstance(value, dict):
            return {self.scrub(key): self.value(item, typed) for key, item in value.items()}
        if isinstance(value, dt.datetime):
            return value.replace(day=1, hour=0, minute=0, second=0, microsecond=0)
        return value.replace(day=1) if isinstance(value, dt.date) else value
