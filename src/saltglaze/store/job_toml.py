"""job.toml: the facts of a job that are not tables."""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from typing import Annotated, Any, Final

import tomli_w
from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, ValidationError
from pydantic_core import ErrorDetails

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.finding import Feature
from saltglaze.model.ground import Origin, PlanPoint
from saltglaze.model.job import Job, OwnershipRule, Party, Place, PriceList
from saltglaze.model.line import (
    Access,
    FactSource,
    FixtureCount,
    KnownLandmark,
    Line,
    Material,
    Segment,
    Service,
)
from saltglaze.model.run import Direction, LengthUnit, Run
from saltglaze.store import quantity
from saltglaze.store.tables import System

FILE: Final = "job.toml"
STATION_SD_M: Final = 0.15
"""A station taken from a tape or a record without a stated margin: common practice, no source."""


def _text_of(value: object) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} needs quotes and a unit")
    return value


def _length(value: object) -> float:
    return quantity.parse(_text_of(value), "length")


def _length_estimate(value: object) -> Estimate:
    return quantity.parse_estimate(_text_of(value), "length", STATION_SD_M)


def _slope(value: object) -> float:
    return quantity.parse(_text_of(value), "slope")


def _bearing(value: object) -> Estimate:
    return quantity.parse_estimate(_text_of(value), "angle", 5.0)


Length = Annotated[float, BeforeValidator(_length)]
LengthEstimate = Annotated[Estimate, BeforeValidator(_length_estimate)]
Slope = Annotated[float, BeforeValidator(_slope)]
Bearing = Annotated[Estimate, BeforeValidator(_bearing)]


class _Section(BaseModel):
    model_config = ConfigDict(extra="forbid")


class _Segment(_Section):
    start: LengthEstimate
    end: LengthEstimate | None = None
    material: Material | None = None
    diameter: Length | None = Field(None, gt=0.0, lt=5.0)
    section_length: Length | None = Field(None, gt=0.0, lt=50.0)
    source: FactSource = FactSource.RECORD
    note: str = ""


class _Access(_Section):
    name: str
    kind: str
    station: LengthEstimate | None = None
    invert_depth: LengthEstimate | None = None
    note: str = ""


class _Landmark(_Section):
    name: str
    feature: Feature
    station: LengthEstimate
    source: FactSource = FactSource.RECORD


class _Line(_Section):
    id: str
    name: str = ""
    service: Service = Service.SEWER
    dwellings: int | None = Field(None, ge=0)
    slope_required: Slope | None = None
    year_laid: int | None = Field(None, ge=1800, le=2100)
    soil: str | None = None
    length: LengthEstimate | None = None
    segments: list[_Segment] = []
    accesses: list[_Access] = []
    landmarks: list[_Landmark] = []
    fixtures: dict[str, int] = {}


class _Run(_Section):
    id: str = Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9_-]*$", max_length=40)
    date: dt.date | None = None
    video: str | None = None
    narration: str | None = None
    direction: Direction | None = None
    start_access: str | None = None
    counter_unit: LengthUnit | None = None
    start_station: LengthEstimate | None = None
    reversed_stationing: bool = False
    camera: str = ""
    self_levelling: bool | None = None
    transmitter_behind_lens: Length | None = None


class _Start(_Section):
    east: Length
    north: Length
    sd: Length | None = None
    bearing: Bearing | None = None


class _Place(_Section):
    address: str = ""
    town: str = ""
    region: str = ""
    country: str = ""
    code: str = ""
    one_call: str = "811"
    seismic: str = ""
    ownership: OwnershipRule | None = None


class _Origin(_Section):
    lon: float = Field(ge=-180.0, le=180.0)
    lat: float = Field(ge=-90.0, le=90.0)
    level: Length = 0.0
    north_deg: float = 0.0


class _Job(_Section):
    id: str
    title: str = ""
    date: dt.date | None = None
    invented: bool = False
    technician: str = ""
    notes: str = ""
    owner: Party | None = None
    firm: Party | None = None
    place: _Place = _Place()
    origin: _Origin | None = None
    start: _Start | None = None
    line: _Line
    runs: list[_Run] = []
    prices: PriceList | None = None


def parse_job(text: str) -> Job:
    """Return the job that job.toml tells, without its tables and talks.

    Raises InputError for broken TOML, an unknown field, a missing or impossible
    value; it names the field and the line.
    """
    try:
        raw = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError(f"this is not TOML ({error})", where=FILE) from error
    except RecursionError as error:
        raise InputError("values lie nested too deeply", where=FILE) from error
    try:
        return _job(_Job.model_validate(raw))
    except ValidationError as error:
        raise _fault(error.errors()[0], text) from error


def _fault(fault: ErrorDetails, text: str) -> InputError:
    path = [str(part) for part in fault["loc"]]
    field = ".".join(path)
    line = _line_of(path, text)
    where = f"{FILE}, line {line}, field {field}" if line else f"{FILE}, field {field}"
    if fault["type"] == "extra_forbidden":
        return InputError(
            f"the field {path[-1]!r} is not known", where=where, mend="take it out or mend its name"
        )
    if fault["type"] == "missing":
        return InputError(f"the field {path[-1]!r} is missing", where=where, mend="add it")
    return InputError(fault["msg"].removeprefix("Value error, "), where=where)


def _line_of(path: list[str], text: str) -> int | None:
    names = [part for part in path if not part.isdigit()]
    if not names:
        return None
    pattern = re.compile(rf"^\s*(?:\[+[^\]]*\b)?{re.escape(names[-1])}\b")
    hits = [n for n, line in enumerate(text.splitlines(), 1) if pattern.match(line)]
    return hits[0] if len(hits) == 1 else None


def _job(toml: _Job) -> Job:
    start = toml.start
    return Job(
        id=toml.id,
        title=toml.title,
        date=toml.date,
        invented=toml.invented,
        technician=toml.technician,
        notes=toml.notes,
        owner=toml.owner,
        firm=toml.firm,
        place=Place(**dict(toml.place)),
        origin=_origin(toml.origin),
        line=_line(toml.line),
        runs=tuple(_run(run) for run in toml.runs),
        start_point=PlanPoint(east_m=start.east, north_m=start.north) if start else None,
        start_point_sd_m=start.sd if start else None,
        start_bearing_deg=start.bearing if start else None,
        prices=toml.prices,
    )


def _origin(toml: _Origin | None) -> Origin | None:
    if toml is None:
        return None
    return Origin(lon_deg=toml.lon, lat_deg=toml.lat, level_m=toml.level, north_deg=toml.north_deg)


def _line(toml: _Line) -> Line:
    return Line(
        id=toml.id,
        name=toml.name,
        service=toml.service,
        dwellings=toml.dwellings,
        slope_required=toml.slope_required,
        year_laid=toml.year_laid,
        soil=toml.soil,
        length_m=toml.length,
        segments=tuple(
            Segment(
                start_m=s.start,
                end_m=s.end,
                material=s.material,
                diameter_m=s.diameter,
                section_length_m=s.section_length,
                source=s.source,
                note=s.note,
            )
            for s in toml.segments
        ),
        accesses=tuple(
            Access(
                name=a.name,
                kind=a.kind,
                station_m=a.station,
                invert_depth_m=a.invert_depth,
                note=a.note,
            )
            for a in toml.accesses
        ),
        landmarks=tuple(
            KnownLandmark(
                name=x.name, feature=x.feature.value, station_m=x.station, source=x.source
            )
            for x in toml.landmarks
        ),
        fixtures=tuple(FixtureCount(kind=k, count=n) for k, n in toml.fixtures.items()),
    )


def _run(toml: _Run) -> Run:
    given = dict(toml)
    given["sonde_behind_lens_m"] = given.pop("transmitter_behind_lens")
    station = given.pop("start_station")
    return Run(**given, **({"start_station_m": station} if station else {}))


def job_text(job: Job, system: System) -> str:
    """Return the job.toml text that tells ``job`` without its tables and talks."""
    bare = _bare(_tree(job, _Writer(system)))
    assert isinstance(bare, dict)
    return tomli_w.dumps(bare)


class _Writer:
    """Writes lengths in the system's unit."""

    def __init__(self, system: System) -> None:
        self.long, self.small = ("ft", "in") if system == "us" else ("m", "mm")

    def length(self, value_m: float | None) -> str | None:
        return None if value_m is None else quantity.write(value_m, "length", self.long)

    def bore(self, value_m: float | None) -> str | None:
        return None if value_m is None else quantity.write(value_m, "length", self.small)

    def estimate(self, estimate: Estimate | None) -> str | None:
        if estimate is None or estimate.value is None:
            return None
        return f"{self.length(estimate.value)} ± {self.length(estimate.spread)}"


def _tree(job: Job, w: _Writer) -> dict[str, Any]:
    plain = {"seismic", "ownership"}
    return {
        "id": job.id,
        "title": job.title,
        "date": job.date,
        "invented": job.invented,
        "technician": job.technician,
        "notes": job.notes,
        "owner": job.owner and job.owner.model_dump(),
        "firm": job.firm and job.firm.model_dump(),
        "place": job.place.model_dump(exclude=plain)
        | {"ownership": job.place.ownership and job.place.ownership.model_dump()},
        "origin": job.origin
        and {
            "lon": job.origin.lon_deg,
            "lat": job.origin.lat_deg,
            "level": w.length(job.origin.level_m),
            "north_deg": job.origin.north_deg,
        },
        "start": _start_tree(job, w),
        "line": _line_tree(job.line, w),
        "runs": [_run_tree(run, w) for run in job.runs],
        "prices": job.prices and job.prices.model_dump(),
    }


def _start_tree(job: Job, w: _Writer) -> dict[str, Any] | None:
    if job.start_point is None:
        return None
    bearing = job.start_bearing_deg
    return {
        "east": w.length(job.start_point.east_m),
        "north": w.length(job.start_point.north_m),
        "sd": w.length(job.start_point_sd_m),
        "bearing": bearing and f"{bearing.value:.6g} deg ± {bearing.spread:.6g} deg",
    }


def _line_tree(line: Line, w: _Writer) -> dict[str, Any]:
    return {
        "id": line.id,
        "name": line.name,
        "service": line.service.value,
        "dwellings": line.dwellings,
        "slope_required": line.slope_required and f"{line.slope_required * 100:.6g} %",
        "year_laid": line.year_laid,
        "soil": line.soil,
        "length": w.estimate(line.length_m),
        "fixtures": {f.kind: f.count for f in line.fixtures},
        "segments": [
            {
                "start": w.estimate(s.start_m),
                "end": w.estimate(s.end_m),
                "material": s.material and s.material.value,
                "diameter": w.bore(s.diameter_m),
                "section_length": w.length(s.section_length_m),
                "source": s.source.value,
                "note": s.note,
            }
            for s in line.segments
        ],
        "accesses": [
            {
                "name": a.name,
                "kind": a.kind,
                "station": w.estimate(a.station_m),
                "invert_depth": w.estimate(a.invert_depth_m),
                "note": a.note,
            }
            for a in line.accesses
        ],
        "landmarks": [
            {
                "name": x.name,
                "feature": x.feature,
                "station": w.estimate(x.station_m),
                "source": x.source.value,
            }
            for x in line.landmarks
        ],
    }


def _run_tree(run: Run, w: _Writer) -> dict[str, Any]:
    return {
        "id": run.id,
        "date": run.date,
        "video": run.video,
        "narration": run.narration,
        "direction": run.direction and run.direction.value,
        "start_access": run.start_access,
        "counter_unit": run.counter_unit and run.counter_unit.value,
        "start_station": w.estimate(run.start_station_m),
        "reversed_stationing": run.reversed_stationing,
        "camera": run.camera,
        "self_levelling": run.self_levelling,
        "transmitter_behind_lens": w.length(run.sonde_behind_lens_m),
    }


def _bare(value: object) -> object:
    """Leave out what says nothing: None, empty text, empty tables."""
    if isinstance(value, dict):
        bare = {key: _bare(inner) for key, inner in value.items()}
        return {k: v for k, v in bare.items() if v not in (None, "", [], {})}
    if isinstance(value, (list, tuple)):
        return [_bare(inner) for inner in value]
    return value
