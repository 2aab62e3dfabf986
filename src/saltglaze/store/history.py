"""Former records of a line: history/*.json, a visit or a whole record.json."""

from __future__ import annotations

import json
from pathlib import Path

from pydantic import ValidationError

from saltglaze.errors import InputError, RecordError
from saltglaze.model.appraisal import Appraisal
from saltglaze.model.job import PriorVisit
from saltglaze.store.folder import decode, read_bytes
from saltglaze.store.record import parse_record

MAX_RECORD_BYTES = 200_000_000


def read_history(folder: Path) -> tuple[PriorVisit, ...]:
    """Return the former visits, oldest first.

    A file may hold a PriorVisit or a whole record of saltglaze. Raises RecordError.
    """
    paths = sorted((folder / "history").glob("*.json"))
    return tuple(sorted((_visit(path) for path in paths), key=lambda visit: visit.date))


def _visit(path: Path) -> PriorVisit:
    where = f"history/{path.name}"
    text = decode(read_bytes(path, limit=MAX_RECORD_BYTES), where=where)
    try:
        raw = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as error:
        raise RecordError(f"this is not JSON ({error})", where=where) from error
    if isinstance(raw, dict) and "schema_version" in raw:
        return _visit_of(parse_record(text, where=where), where)
    try:
        return PriorVisit.model_validate_json(text)
    except ValidationError as error:
        fault = error.errors()[0]
        field = ".".join(str(part) for part in fault["loc"])
        raise RecordError(fault["msg"], where=f"{where}, field {field}") from error


def _visit_of(appraisal: Appraisal, where: str) -> PriorVisit:
    job = appraisal.job
    date = job.date or next((run.date for run in job.runs if run.date), None)
    if date is None:
        raise InputError("the former record has no date", where=f"{where}, field job.date")
    path = appraisal.position.paths[0].points if appraisal.position.paths else ()
    return PriorVisit(
        date=date,
        findings=tuple(
            found.finding.model_copy(
                update={
                    "station_m": found.place.station_m,
                    "end_station_m": found.place.end_station_m,
                }
            )
            for found in appraisal.findings
        ),
        path=tuple((p.station_m, p.point) for p in path if p.point is not None),
        line_length_m=appraisal.position.length_m,
        source=where,
    )


def visit_json(visit: PriorVisit) -> str:
    """Return a visit as JSON text."""
    return visit.model_dump_json(indent=1, exclude_none=True) + "\n"
