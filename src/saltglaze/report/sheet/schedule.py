"""The rows under the long section: stations, depth, fall, pipe, ground, grade, not seen."""

from __future__ import annotations

import math
from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from saltglaze.model.base import Estimate
from saltglaze.report.measures import Measures
from saltglaze.report.numbers import digits, scaled
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.panel import Axis, Panel
from saltglaze.report.sheet.scene import Box, Layer, Pen, Style, Text, shortened, text_width
from saltglaze.report.sheet.survey import Survey, ground_names

ROW = 4.6
HEADING = 2.2
VALUE = 2.1
_GRADE_FILL = {
    1: palette.PAPER,
    2: "hatch:dots",
    3: "hatch:diagonal",
    4: "hatch:cross",
    5: palette.ALARM,
}


class Stretch(NamedTuple):
    """A piece of a row: from, to (metres), and what to letter."""

    from_m: float
    to_m: float
    words: tuple[str, ...]
    """Longest wording first; the first that fits is lettered."""


def row_keys(survey: Survey) -> tuple[str, ...]:
    """Return the rows that have something to say, top to bottom."""
    appraisal = survey.appraisal
    rows = []
    if np.isfinite(survey.levels.depth_m).any():
        rows.append("depth")
    if any(f.slope.known for f in appraisal.position.falls):
        rows.append("fall")
    if appraisal.segments:
        rows.append("pipe")
    if appraisal.ownership.stretches:
        rows.append("ground")
    return (*rows, "grade")


def schedule_mm(survey: Survey) -> float:
    """Return the height of all rows."""
    return ROW * len(row_keys(survey)) + 1.5


def draw_schedule(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, room: Box, measures: Measures
) -> None:
    """Draw the rows within ``room``; headings stand left of the axis's room."""
    top = room.top
    for key in row_keys(survey):
        height = ROW + (1.5 if key == "grade" else 0.0)
        row = Box(room.left, top, room.right, top + height)
        unit = measures.slope_unit if key == "fall" else measures.long_unit
        heading = measures.words(f"sheet.row.{key}", unit=unit)
        pen.text(
            Text(
                (room.left, top + height - 1.5),
                heading,
                Layer.SCHEDULE,
                HEADING,
                colour=palette.SOFT,
            )
        )
        pen.line(((room.left, top), (room.right, top)), Layer.SCHEDULE, Style(palette.FAINT, 0.15))
        _DRAW[key](pen, survey, panel, axis, row, measures)
        top += height
    pen.line(((room.left, top), (room.right, top)), Layer.SCHEDULE, Style(palette.FAINT, 0.15))


def _depths(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, row: Box, measures: Measures
) -> None:
    levels = survey.levels
    known = np.isfinite(levels.depth_m)
    at, depth = levels.stations_m[known], levels.depth_m[known]
    sd = np.nan_to_num(levels.depth_sd_m[known])
    right = -math.inf
    for station in axis.ticks:
        if not at[0] - 1e-6 <= station <= at[-1] + 1e-6:
            continue
        estimate = Estimate.of(
            float(np.interp(station, at, depth)), float(np.interp(station, at, sd))
        )
        words = _short(estimate, measures)
        half = text_width(words, VALUE) / 2
        x = axis.x(station)
        if x - half < right + 1.0 or x + half > row.right:
            continue
        pen.text(
            Text((x, row.bottom - 1.4), words, Layer.SCHEDULE, VALUE, "middle", means="label:depth")
        )
        right = x + half


def _short(estimate: Estimate, measures: Measures) -> str:
    found = digits(*scaled(estimate, measures.per_long), finest=0.1)
    if found.low is not None:
        return f"{found.low} – {found.high}"
    return f"{found.value} ± {found.margin}" if found.margin else found.value


def _falls(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, row: Box, measures: Measures
) -> None:
    pieces = []
    for fall in survey.appraisal.position.falls:
        words = measures.slope(fall.slope) if fall.slope.known else measures.words("sheet.unknown")
        words = words.replace(f" {measures.slope_unit}", "")
        shorter = words.partition(" ±")[0]
        if fall.slope.value is not None and fall.slope.value < 0:
            words = measures.words("sheet.backfall", slope=words)
            shorter = measures.words("sheet.backfall_short")
        pieces.append(Stretch(fall.from_m, fall.to_m, (words, shorter)))
    _stretches(pen, pieces, panel, axis, row)


def _pipes(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, row: Box, measures: Measures
) -> None:
    pieces = []
    for segment in survey.appraisal.segments:
        name = (
            measures.words(f"material.{segment.material}")
            if segment.material
            else measures.words("sheet.material_unknown")
        )
        size = measures.bore(segment.diameter_m)
        start = segment.start_m.value if segment.start_m.value is not None else survey.from_m
        end = segment.end_m.value if segment.end_m.value is not None else survey.to_m
        pieces.append(Stretch(start, end, (f"{name}, {size}", size)))
    _stretches(pen, pieces, panel, axis, row)


def _grounds(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, row: Box, measures: Measures
) -> None:
    pieces = []
    for stretch in survey.appraisal.ownership.stretches:
        start = stretch.from_m.value if stretch.from_m.value is not None else survey.from_m
        end = stretch.to_m.value if stretch.to_m.value is not None else survey.to_m
        words = ground_names(survey, stretch, measures.words)
        if owner := stretch.pipe_owner:
            words = (measures.words("sheet.ground_pipe", ground=words[0], owner=owner), *words)
        pieces.append(Stretch(start, end, words))
    _stretches(pen, pieces, panel, axis, row)


def _stretches(pen: Pen, pieces: Iterable[Stretch], panel: Panel, axis: Axis, row: Box) -> None:
    """Letter pieces side by side, a bar at each border, words cut to the room there is."""
    free_from = -math.inf
    for piece in sorted(pieces):
        low, high = max(piece.from_m, panel.from_m), min(piece.to_m, panel.to_m)
        if high <= low:
            continue
        a, b = max(axis.x(low), free_from), axis.x(high)
        if b <= a:
            continue
        for x in (a, b):
            pen.line(((x, row.top), (x, row.bottom)), Layer.SCHEDULE, Style(palette.SOFT, 0.18))
        fits = [w for w in piece.words if text_width(w, VALUE) <= b - a - 1.0]
        words = fits[0] if fits else _cut(piece.words[-1], b - a - 1.0)
        if words:
            pen.text(
                Text(
                    ((a + b) / 2, row.bottom - 1.4),
                    words,
                    Layer.SCHEDULE,
                    VALUE,
                    "middle",
                    means="label:row",
                )
            )
        free_from = b


def _cut(words: str, room: float) -> str:
    """Return words cut to a room, or none where less than half of them would be left."""
    cut = shortened(words, VALUE, room)
    return cut if len(cut) * 2 > len(words) else ""


def _grades(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, row: Box, measures: Measures
) -> None:
    """Draw a bar for each graded finding: higher and denser is worse."""
    floor = row.bottom - 0.5
    unit = (row.height - 1.0) / 5.0
    pen.line(
        ((axis.left_mm, floor), (axis.right_mm, floor)), Layer.SCHEDULE, Style(palette.SOFT, 0.2)
    )
    for finding in sorted(panel.findings, key=lambda f: -(f.grade or 0)):
        station, grade = finding.station_m, finding.grade
        if station is None or grade is None:
            continue
        end = max(finding.end_m or station, station)
        a, b = axis.x(station), axis.x(min(end, panel.to_m))
        if b - a < 1.6:
            a, b = (a + b) / 2 - 0.8, (a + b) / 2 + 0.8
        bar = Box(a, floor - unit * grade, b, floor)
        pen.box(bar, Layer.SCHEDULE, Style(fill=palette.PAPER))
        pen.box(
            bar,
            Layer.SCHEDULE,
            Style(palette.INK, 0.18, grade_fill(grade)),
            means=f"grade:{finding.item.finding.id}",
        )


def grade_fill(grade: int) -> str:
    """Return how a grade is filled: paper, dots, one hatch, two hatches, solid."""
    return _GRADE_FILL[min(max(grade, 1), 5)]


_DRAW = {"depth": _depths, "fall": _falls, "pipe": _pipes, "ground": _grounds, "grade": _grades}
