"""Tables of places on the ground: marks, ties, locates, signal readings, levels, outlines."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.ground import (
    FixKind,
    GroundLevel,
    KnownMain,
    Locate,
    Mark,
    MarkedFeature,
    Offset,
    OtherUtility,
    Parcel,
    ParcelKind,
    PlanPoint,
    SignalReading,
    Tie,
)
from saltglaze.store.tables import Cell, Row, Table, read_table

LEVEL_SD_M: Final = 0.02
"""Ground level shot with a level: common practice, no source."""

MARKS = Table(
    "marks.csv",
    {
        "id": "text",
        "name": "text",
        "east": "length",
        "north": "length",
        "sd": "length",
        "level": "length",
        "level_sd": "length",
    },
    required=("id", "east", "north"),
)
TIES = Table(
    "ties.csv",
    {
        "mark": "text",
        "point": "text",
        "distance": "length",
        "sd": "length",
        "slope": "angle",
    },
    required=("mark", "point", "distance"),
)
LOCATES = Table(
    "locates.csv",
    {
        "id": "text",
        "run": "text",
        "film_time": "time",
        "counter": "length",
        "station": "length",
        "station_sd": "length",
        "fix": "text",
        "east": "length",
        "north": "length",
        "point_sd": "length",
        "wall_from": "text",
        "wall_to": "text",
        "wall_along": "length",
        "wall_right": "length",
        "depth": "length",
        "depth_sd": "length",
        "depth_to": "text",
        "marked": "text",
        "pitch": "angle",
        "null_front": "length",
        "null_rear": "length",
        "ghost_front": "length",
        "ghost_rear": "length",
        "ground_level": "length",
        "ground_level_sd": "length",
        "note": "text",
    },
    required=("id", "fix"),
)
SIGNALS = Table(
    "signals.csv",
    {
        "locate": "text",
        "east": "length",
        "north": "length",
        "height": "length",
        "coil": "text",
        "signal": "number",
        "sd_share": "share",
    },
    required=("locate", "east", "north", "signal"),
)
LEVELS = Table(
    "levels.csv",
    {"id": "text", "east": "length", "north": "length", "level": "length", "level_sd": "length"},
    required=("id", "east", "north", "level"),
)
OUTLINES = Table(
    "outlines.csv",
    {
        "id": "text",
        "kind": "text",
        "owner": "text",
        "east": "length",
        "north": "length",
        "sd": "length",
        "depth": "length",
        "depth_sd": "length",
        "tap": "yes",
        "source": "text",
    },
    required=("id", "kind", "east", "north"),
)
"""One vertex a row. Kinds: those of ParcelKind, ``main``, and any service name
(gas, power, communications ...) for another buried utility."""

_COILS: Final = ("along", "across", "vertical", "total")


def read_marks(folder: Path) -> tuple[Mark, ...]:
    """Return the marks; InputError for a repeated id."""
    rows = read_table(folder, MARKS)
    _unique(rows, "id")
    return tuple(
        Mark(
            id=row.need("id"),
            name=row.text("name") or row.need("id"),
            point=_point(row),
            sd_m=_or(row.number("sd"), 0.02),
            ground_level_m=row.estimate("level", LEVEL_SD_M),
        )
        for row in rows
    )


def mark_rows(marks: Iterable[Mark]) -> list[Mapping[str, Cell]]:
    """Return marks as table rows."""
    return [
        {
            "id": m.id,
            "name": m.name,
            **_xy(m.point),
            "sd": m.sd_m,
            **_margin("level", m.ground_level_m),
        }
        for m in marks
    ]


def read_ties(folder: Path, marks: Iterable[Mark]) -> tuple[Tie, ...]:
    """Return the taped distances; InputError for an unknown mark or a distance below zero."""
    known = {mark.id for mark in marks}
    ties = []
    for row in read_table(folder, TIES):
        if row.need("mark") not in known:
            raise InputError(
                f"the mark {row.text('mark')!r} is not in marks.csv",
                where=row.at("mark"),
                expected=f"one of {', '.join(sorted(known)) or 'the marks listed there'}",
            )
        distance = row.need_number("distance")
        if distance < 0:
            raise InputError("a tape cannot read below zero", where=row.at("distance"))
        ties.append(
            Tie(
                mark_id=row.text("mark"),
                point_id=row.need("point"),
                distance_m=distance,
                sd_m=row.number("sd"),
                slope_deg=row.number("slope"),
            )
        )
    return tuple(ties)


def tie_rows(ties: Iterable[Tie]) -> list[Mapping[str, Cell]]:
    """Return ties as table rows."""
    return [
        {
            "mark": t.mark_id,
            "point": t.point_id,
            "distance": t.distance_m,
            "sd": t.sd_m,
            "slope": t.slope_deg,
        }
        for t in ties
    ]


def read_locates(folder: Path) -> tuple[Locate, ...]:
    """Return the surface locates with their signal readings; InputError for a repeated id."""
    rows = read_table(folder, LOCATES)
    _unique(rows, "id")
    signals = _read_signals(folder, {row.need("id") for row in rows})
    return tuple(_locate(row, signals.get(row.need("id"), [])) for row in rows)


def _locate(row: Row, readings: list[SignalReading]) -> Locate:
    fix = row.choice("fix", FixKind)
    if fix is None:
        raise InputError("this cell is empty", where=row.at("fix"), expected="how it was fixed")
    has_point = row.number("east") is not None and row.number("north") is not None
    depth_to = row.text("depth_to") or "transmitter"
    if depth_to not in ("transmitter", "crown", "invert"):
        raise InputError(
            f"{depth_to!r} is not known here",
            where=row.at("depth_to"),
            expected="transmitter, crown or invert",
        )
    return Locate(
        id=row.need("id"),
        run_id=row.text("run") or None,
        time_s=row.number("film_time"),
        counter_m=row.number("counter"),
        station_m=row.estimate("station", 0.15),
        fix=fix,
        point=_point(row) if has_point else None,
        point_sd_m=None if row.text("wall_from") else row.number("point_sd"),
        offset=_offset(row),
        depth_m=_depth(row),
        depth_to=depth_to,
        marked=row.choice("marked", MarkedFeature) or MarkedFeature.NOT_STATED,
        pitch_deg=row.number("pitch"),
        null_front_m=row.distance("null_front"),
        null_rear_m=row.distance("null_rear"),
        ghost_front_m=row.distance("ghost_front"),
        ghost_rear_m=row.distance("ghost_rear"),
        readings=tuple(readings),
        ground_level_m=row.estimate("ground_level", LEVEL_SD_M),
        note=row.text("note"),
    )


def _depth(row: Row) -> Estimate | None:
    value = row.number("depth")
    # A tenth of the depth, at least 3 cm: common practice, no source.
    return row.estimate("depth", max(0.03, 0.1 * abs(value or 0.0)))


def _offset(row: Row) -> Offset | None:
    if not row.text("wall_from"):
        return None
    return Offset(
        from_mark=row.text("wall_from"),
        to_mark=row.need("wall_to"),
        along_m=row.need_number("wall_along"),
        right_m=row.need_number("wall_right"),
        sd_m=_or(row.number("point_sd"), 0.05),
    )


def locate_rows(locates: Iterable[Locate]) -> list[Mapping[str, Cell]]:
    """Return locates as table rows."""
    return [
        {
            "id": x.id,
            "run": x.run_id,
            "film_time": x.time_s,
            "counter": x.counter_m,
            **_margin("station", x.station_m),
            "fix": x.fix.value,
            **(_xy(x.point) if x.point else {}),
            "point_sd": x.offset.sd_m if x.offset else x.point_sd_m,
            **_offset_cells(x.offset),
            **_margin("depth", x.depth_m),
            "depth_to": x.depth_to,
            "marked": x.marked.value,
            "pitch": x.pitch_deg,
            "null_front": x.null_front_m,
            "null_rear": x.null_rear_m,
            "ghost_front": x.ghost_front_m,
            "ghost_rear": x.ghost_rear_m,
            **_margin("ground_level", x.ground_level_m),
            "note": x.note or None,
        }
        for x in locates
    ]


def _offset_cells(offset: Offset | None) -> dict[str, Cell]:
    if offset is None:
        return {}
    return {
        "wall_from": offset.from_mark,
        "wall_to": offset.to_mark,
        "wall_along": offset.along_m,
        "wall_right": offset.right_m,
    }


def _read_signals(folder: Path, locates: set[str]) -> dict[str, list[SignalReading]]:
    readings: dict[str, list[SignalReading]] = defaultdict(list)
    for row in read_table(folder, SIGNALS):
        if row.need("locate") not in locates:
            raise InputError(
                f"the locate {row.text('locate')!r} is not in locates.csv", where=row.at("locate")
            )
        readings[row.text("locate")].append(
            SignalReading(
                point=_point(row),
                height_m=_or(row.number("height"), 0.0),
                coil=row.choice("coil", _COILS) or "total",
                signal=row.need_number("signal"),
                sd_share=_or(row.number("sd_share"), 0.03),
            )
        )
    return readings


def signal_rows(locates: Iterable[Locate]) -> list[Mapping[str, Cell]]:
    """Return all signal readings as table rows."""
    return [
        {
            "locate": x.id,
            **_xy(r.point),
            "height": r.height_m,
            "coil": r.coil,
            "signal": r.signal,
            "sd_share": r.sd_share,
        }
        for x in locates
        for r in x.readings
    ]


def read_levels(folder: Path) -> tuple[GroundLevel, ...]:
    """Return the shot ground levels."""
    return tuple(
        GroundLevel(
            id=row.need("id"),
            point=_point(row),
            level_m=row.estimate("level", LEVEL_SD_M) or Estimate.unknown("not given"),
        )
        for row in read_table(folder, LEVELS)
    )


def level_rows(levels: Iterable[GroundLevel]) -> list[Mapping[str, Cell]]:
    """Return ground levels as table rows."""
    return [{"id": x.id, **_xy(x.point), **_margin("level", x.level_m)} for x in levels]


Outlines = tuple[tuple[Parcel, ...], tuple[KnownMain, ...], tuple[OtherUtility, ...]]


def read_outlines(folder: Path) -> Outlines:
    """Return parcels, mains and other utilities from their vertices, in file order."""
    shapes: dict[str, list[Row]] = defaultdict(list)
    for row in read_table(folder, OUTLINES):
        shapes[row.need("id")].append(row)
    parcels, mains, utilities = [], [], []
    for rows in shapes.values():
        kind = rows[0].need("kind")
        if kind in set(ParcelKind):
            parcels.append(_parcel(rows))
        elif kind == "main":
            mains.append(_main(rows))
        else:
            utilities.append(_utility(rows))
    return tuple(parcels), tuple(mains), tuple(utilities)


def _parcel(rows: list[Row]) -> Parcel:
    first = rows[0]
    if len(rows) < 3:
        raise InputError("an outline needs three corners", where=first.at("id"))
    return Parcel(
        id=first.need("id"),
        kind=ParcelKind(first.need("kind")),
        owner=first.text("owner"),
        ring=tuple(_point(row) for row in rows),
        sd_m=_or(first.number("sd"), 0.5),
        source=first.text("source"),
    )


def _main(rows: list[Row]) -> KnownMain:
    first = rows[0]
    taps = [row for row in rows if row.yes("tap")]
    return KnownMain(
        id=first.need("id"),
        points=tuple(_point(row) for row in rows if not row.yes("tap")),
        sd_m=_or(first.number("sd"), 1.0),
        depth_m=first.estimate("depth", 0.3),
        tap=_point(taps[0]) if taps else None,
        tap_sd_m=taps[0].number("sd") if taps else None,
        source=first.text("source"),
    )


def _utility(rows: list[Row]) -> OtherUtility:
    first = rows[0]
    return OtherUtility(
        id=first.need("id"),
        kind=first.need("kind"),
        points=tuple(_point(row) for row in rows),
        sd_m=_or(first.number("sd"), 0.5),
        depth_m=first.estimate("depth", 0.3),
        source=first.text("source"),
    )


def outline_rows(
    parcels: Iterable[Parcel], mains: Iterable[KnownMain], utilities: Iterable[OtherUtility]
) -> list[Mapping[str, Cell]]:
    """Return outlines as table rows, one vertex each."""
    rows: list[Mapping[str, Cell]] = []
    for p in parcels:
        head = {"id": p.id, "kind": p.kind.value, "owner": p.owner or None, "sd": p.sd_m}
        rows += [{**head, **_xy(v), "source": p.source or None} for v in p.ring]
    for m in mains:
        head = {"id": m.id, "kind": "main", "source": m.source or None}
        depth = _margin("depth", m.depth_m)
        rows += [{**head, **_xy(v), "sd": m.sd_m, **depth} for v in m.points]
        if m.tap:
            rows.append({**head, **_xy(m.tap), "sd": m.tap_sd_m, "tap": True})
    for u in utilities:
        head = {"id": u.id, "kind": u.kind, "sd": u.sd_m, "source": u.source or None}
        rows += [{**head, **_xy(v), **_margin("depth", u.depth_m)} for v in u.points]
    return rows


def _point(row: Row) -> PlanPoint:
    return PlanPoint(east_m=row.need_number("east"), north_m=row.need_number("north"))


def _xy(point: PlanPoint) -> dict[str, Cell]:
    return {"east": point.east_m, "north": point.north_m}


def _margin(name: str, estimate: Estimate | None) -> dict[str, Cell]:
    if estimate is None or estimate.value is None:
        return {}
    return {name: estimate.value, f"{name}_sd": estimate.sd}


def _or(value: float | None, default: float) -> float:
    return default if value is None else value


def _unique(rows: Iterable[Row], column: str) -> None:
    seen: dict[str, int] = {}
    for row in rows:
        name = row.need(column)
        if name in seen:
            raise InputError(
                f"{name!r} stands here and on line {seen[name]}",
                where=row.at(column),
                expected="each once",
            )
        seen[name] = row.line
