"""Tables of work done: jetting passes and earlier visits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path

from saltglaze.errors import InputError
from saltglaze.model.job import Service
from saltglaze.model.run import Direction, JetPass
from saltglaze.store.tables import Cell, Row, Table, read_table

PASSES = Table(
    "passes.csv",
    {
        "id": "text",
        "date": "text",
        "nozzle": "text",
        "nozzle_kind": "text",
        "pressure": "pressure",
        "flow": "flow",
        "hose_bore": "bore",
        "hose_length": "length",
        "from_station": "length",
        "to_station": "length",
        "direction": "text",
        "dwell": "time",
        "note": "text",
    },
    required=("id",),
)
SERVICES = Table(
    "services.csv",
    {"date": "text", "kind": "text", "cost": "number", "note": "text"},
    required=("date", "kind"),
)
NOZZLES = ("flushing", "penetrating", "rotating", "descaling", "root_cutter")
SERVICE_KINDS = ("stoppage", "cleaning", "root_treatment", "camera", "repair")


def read_passes(folder: Path) -> tuple[JetPass, ...]:
    """Return the jetting passes; InputError for pressures and flows below zero."""
    return tuple(_pass(row) for row in read_table(folder, PASSES))


def _pass(row: Row) -> JetPass:
    for column in ("pressure", "flow", "hose_bore", "hose_length", "dwell"):
        if (row.number(column) or 0.0) < 0:
            raise InputError("this cannot lie below zero", where=row.at(column))
    return JetPass(
        id=row.need("id"),
        date=_date(row, "date"),
        nozzle=row.text("nozzle"),
        nozzle_kind=row.choice("nozzle_kind", NOZZLES),
        pump_pressure_pa=row.number("pressure"),
        flow_m3_s=row.number("flow"),
        hose_bore_m=row.number("hose_bore"),
        hose_length_m=row.number("hose_length"),
        from_station_m=row.number("from_station"),
        to_station_m=row.number("to_station"),
        direction=row.choice("direction", Direction),
        dwell_s=row.number("dwell"),
        note=row.text("note"),
    )


def pass_rows(passes: Iterable[JetPass]) -> list[Mapping[str, Cell]]:
    """Return jetting passes as table rows."""
    return [
        {
            "id": p.id,
            "date": p.date.isoformat() if p.date else None,
            "nozzle": p.nozzle or None,
            "nozzle_kind": p.nozzle_kind,
            "pressure": p.pump_pressure_pa,
            "flow": p.flow_m3_s,
            "hose_bore": p.hose_bore_m,
            "hose_length": p.hose_length_m,
            "from_station": p.from_station_m,
            "to_station": p.to_station_m,
            "direction": p.direction and p.direction.value,
            "dwell": p.dwell_s,
            "note": p.note or None,
        }
        for p in passes
    ]


def read_services(folder: Path) -> tuple[Service, ...]:
    """Return earlier visits, oldest first."""
    rows = read_table(folder, SERVICES)
    services = [
        Service(
            date=_date(row, "date") or dt.date.min,
            kind=row.choice("kind", SERVICE_KINDS) or "",
            cost=row.number("cost"),
            note=row.text("note"),
        )
        for row in rows
        if row.need("date") and row.need("kind")
    ]
    return tuple(sorted(services, key=lambda service: service.date))


def service_rows(services: Iterable[Service]) -> list[Mapping[str, Cell]]:
    """Return earlier visits as table rows."""
    return [
        {"date": s.date.isoformat(), "kind": s.kind, "cost": s.cost, "note": s.note or None}
        for s in services
    ]


def _date(row: Row, column: str) -> dt.date | None:
    text = row.text(column)
    if not text:
        return None
    try:
        return dt.date.fromisoformat(text)
    except ValueError:
        raise InputError(
            f"{text!r} is not a date", where=row.at(column), expected="year-month-day"
        ) from None
