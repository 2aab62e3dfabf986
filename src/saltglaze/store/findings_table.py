"""findings.csv: findings typed by hand, and edits to drafted ones.

A row with a name in ``edits`` changes the finding of that id: only the cells that
are filled outrank the draft. A row without is a finding of its own.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Final

from saltglaze.errors import InputError
from saltglaze.model.base import Estimate
from saltglaze.model.finding import (
    KINDS,
    Certainty,
    Clock,
    DraftedBy,
    Edit,
    Evidence,
    Facts,
    Feature,
    Finding,
    Grade,
    ScreenPlace,
    Turn,
)
from saltglaze.model.line import Material
from saltglaze.model.run import Direction
from saltglaze.store.tables import Cell, Row, Table, read_table

STATION_SD_M: Final = 0.15
"""Half a foot on a typed station: common practice, no source."""

FINDINGS = Table(
    "findings.csv",
    {
        "id": "text",
        "edits": "text",
        "run": "text",
        "feature": "text",
        "kind": "text",
        "certainty": "text",
        "film_time": "time",
        "film_end": "time",
        "station": "length",
        "station_sd": "length",
        "end_station": "length",
        "end_station_sd": "length",
        "clock_from": "number",
        "clock_to": "number",
        "view": "text",
        "screen": "text",
        "width": "bore",
        "length": "length",
        "section": "share",
        "round": "share",
        "water": "share",
        "deformation": "share",
        "angle": "angle",
        "turn": "text",
        "at_joint": "yes",
        "joints": "whole",
        "count": "whole",
        "grade_word": "text",
        "diameter": "bore",
        "diameter_after": "bore",
        "material": "text",
        "material_after": "text",
        "active": "yes",
        "capped": "yes",
        "soil_visible": "yes",
        "void_visible": "yes",
        "rejected": "yes",
        "remark": "text",
        "by": "text",
        "because": "text",
    },
)

_SHARES: Final = {
    "section": "section_share",
    "round": "round_share",
    "water": "water_share",
    "deformation": "deformation_share",
}
_FLAGS: Final = ("at_joint", "active", "capped", "soil_visible", "void_visible")
_SAME_NAME: Final = (
    "kind",
    "certainty",
    "joints",
    "count",
    "grade_word",
    "turn",
    "screen",
    "remark",
    "material",
    "material_after",
    *_FLAGS,
)
"""Columns that carry the name of the field they fill."""

Typed = tuple[tuple[Finding, ...], dict[str, Finding]]


def read_findings(folder: Path) -> Typed:
    """Return findings typed by hand, and edits by the id of the finding they change.

    Raises InputError for a feature, kind, clock or share that cannot be, or an id
    that stands twice.
    """
    typed: dict[str, Finding] = {}
    edits: dict[str, Finding] = {}
    for row in read_table(folder, FINDINGS):
        finding = _edit(row) if row.text("edits") else _typed(row)
        into = edits if row.text("edits") else typed
        if finding.id in into:
            raise InputError(f"{finding.id!r} stands twice", where=row.at("id"))
        into[finding.id] = finding
    return tuple(typed.values()), edits


def _typed(row: Row) -> Finding:
    facts = _facts(row)
    if row.number("station") is None and row.number("film_time") is None:
        raise InputError(
            "a typed finding needs a place",
            where=row.at("station_ft"),
            expected="station_ft (or station_m), or film_time_s",
        )
    start, end = row.number("film_time"), row.number("film_end")
    if start is not None and end is not None and end < start:
        raise InputError("the end lies before the start", where=row.at("film_end_s"))
    return Finding(
        id=_id(row),
        draft=facts,
        evidence=Evidence(
            drafted_by=DraftedBy.TYPED,
            run_id=row.text("run") or None,
            typed_in=f"{row.file}, line {row.line}",
        ),
        start_s=start,
        end_s=end,
        station_m=row.estimate("station", STATION_SD_M),
        end_station_m=row.estimate("end_station", STATION_SD_M),
    )


def _id(row: Row) -> str:
    """An id becomes part of file names: letters, digits, dash, dot and underscore only."""
    name = row.text("id") or f"typed-{row.line}"
    if not re.fullmatch(r"[A-Za-z0-9][A-Za-z0-9_.-]{0,59}", name):
        raise InputError(
            f"{name!r} cannot be an id",
            where=row.at("id"),
            expected="up to 60 letters, digits, dashes, dots and underscores",
        )
    return name


def _edit(row: Row) -> Finding:
    facts = _facts(row) if row.text("feature") else None
    if facts is None and _filled(row):
        raise InputError(
            "an edit of what was seen must name the feature too", where=row.at("feature")
        )
    fields = ("feature", *_filled(row)) if facts else ()
    edit = Edit(
        facts=facts,
        fields=fields,
        rejected=bool(row.yes("rejected")),
        station_m=row.estimate("station", STATION_SD_M),
        end_station_m=row.estimate("end_station", STATION_SD_M),
        by=row.text("by"),
        because=row.text("because"),
    )
    return Finding(
        id=row.text("edits"),
        draft=facts or Facts(feature=Feature.START),
        edit=edit,
        evidence=Evidence(drafted_by=DraftedBy.TYPED, typed_in=f"{row.file}, line {row.line}"),
    )


def _filled(row: Row) -> tuple[str, ...]:
    names = [name for name in _SAME_NAME if row.text(name)]
    names += [field for column, field in _SHARES.items() if row.text(column)]
    named = {"width": "width_m", "length": "length_m", "angle": "angle_deg"}
    named |= {"diameter": "diameter_m", "diameter_after": "diameter_after_m"}
    names += [field for column, field in named.items() if row.text(column)]
    return (*names, "clock") if row.text("clock_from") else tuple(names)


def _facts(row: Row) -> Facts:
    feature = row.choice("feature", Feature)
    if feature is None:
        raise InputError("this cell is empty", where=row.at("feature"), expected="a feature")
    return Facts(
        feature=feature,
        kind=_kind(row, feature),
        certainty=row.choice("certainty", Certainty) or Certainty.CERTAIN,
        at_joint=row.yes("at_joint"),
        joints=row.whole("joints"),
        count=row.whole("count"),
        grade_word=row.choice("grade_word", Grade),
        width_m=_sized(row, "width"),
        length_m=_sized(row, "length"),
        section_share=_share(row, "section"),
        round_share=_share(row, "round"),
        water_share=_share(row, "water"),
        deformation_share=_share(row, "deformation"),
        angle_deg=row.estimate("angle", 5.0),
        turn=row.choice("turn", Turn),
        screen=row.choice("screen", ScreenPlace),
        clock=_clock(row),
        diameter_m=_exact(row, "diameter"),
        diameter_after_m=_exact(row, "diameter_after"),
        material=row.choice("material", Material),
        material_after=row.choice("material_after", Material),
        active=row.yes("active"),
        capped=row.yes("capped"),
        soil_visible=row.yes("soil_visible"),
        void_visible=row.yes("void_visible"),
        remark=row.text("remark"),
    )


def _kind(row: Row, feature: Feature) -> str | None:
    kinds = KINDS.get(feature, ())
    if row.text("kind") and not kinds:
        raise InputError(f"{feature.value} has no kinds", where=row.at("kind"))
    return row.choice("kind", kinds)


def _sized(row: Row, column: str) -> Estimate | None:
    # A size judged from the picture: a fifth of itself, common practice, no source.
    return row.estimate(column, 0.2 * abs(row.number(column) or 0.0))


def _exact(row: Row, column: str) -> Estimate | None:
    return row.estimate(column, 0.0)


def _share(row: Row, column: str) -> Estimate | None:
    value = row.number(column)
    if value is not None and not 0.0 <= value <= 1.0:
        raise InputError(
            "the share lies outside the pipe",
            where=row.at(f"{column}_percent"),
            expected="0 to 100 percent",
        )
    return row.estimate(column, 0.05)


def _clock(row: Row) -> Clock | None:
    hours = row.number("clock_from")
    if hours is None:
        return None
    end = row.number("clock_to")
    for column, hour in (("clock_from", hours), ("clock_to", end)):
        if hour is not None and not 0.0 <= hour <= 12.0:
            raise InputError("no clock shows this hour", where=row.at(column), expected="0 to 12")
    whole = end is not None and hours % 12.0 == end % 12.0
    return Clock(
        from_h=hours % 12.0,
        to_h=None if end is None or whole else end % 12.0,
        all_round=whole,
        view=row.choice("view", Direction),
        because="typed",
    )


def finding_rows(typed: Iterable[Finding]) -> list[Mapping[str, Cell]]:
    """Return typed findings as table rows."""
    return [_row(finding) for finding in typed]


def _row(finding: Finding) -> Mapping[str, Cell]:
    facts = finding.draft
    row: dict[str, Cell] = {
        "id": finding.id,
        "run": finding.evidence.run_id,
        "feature": facts.feature.value,
        "kind": facts.kind,
        "certainty": facts.certainty.value,
        "film_time": finding.start_s,
        "film_end": finding.end_s,
        "joints": facts.joints,
        "count": facts.count,
        "grade_word": facts.grade_word and facts.grade_word.value,
        "turn": facts.turn and facts.turn.value,
        "screen": facts.screen and facts.screen.value,
        "material": facts.material and facts.material.value,
        "material_after": facts.material_after and facts.material_after.value,
        "remark": facts.remark or None,
    }
    row |= {flag: getattr(facts, flag) for flag in _FLAGS}
    row |= {column: _value(getattr(facts, field)) for column, field in _SHARES.items()}
    row |= {
        "width": _value(facts.width_m),
        "length": _value(facts.length_m),
        "angle": _value(facts.angle_deg),
        "diameter": _value(facts.diameter_m),
        "diameter_after": _value(facts.diameter_after_m),
        "station": _value(finding.station_m),
        "station_sd": finding.station_m.sd if finding.station_m else None,
        "end_station": _value(finding.end_station_m),
        "end_station_sd": finding.end_station_m.sd if finding.end_station_m else None,
    }
    return row | _clock_cells(facts.clock)


def _clock_cells(clock: Clock | None) -> dict[str, Cell]:
    if clock is None:
        return {}
    end = clock.from_h if clock.all_round else clock.to_h
    return {
        "clock_from": clock.from_h,
        "clock_to": end,
        "view": clock.view and clock.view.value,
    }


def _value(estimate: Estimate | None) -> float | None:
    return None if estimate is None else estimate.value
