"""Puts a sheet together: plan, the lines that join it to the section, section, schedule."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from saltglaze.model.appraisal import Appraisal
from saltglaze.report.measures import Measures
from saltglaze.report.numbering import runs_of_numbers
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.callouts import callouts_mm, finding_name
from saltglaze.report.sheet.legend import (
    TITLE_BLOCK_MM,
    draw_legend,
    draw_title_block,
    legend_keys,
    legend_mm,
)
from saltglaze.report.sheet.panel import Axis, Panel, axis, panels
from saltglaze.report.sheet.plan import PLAN_MARGIN_MM, DrawnPlan, draw_plan, sideways_extent_m
from saltglaze.report.sheet.scales import described
from saltglaze.report.sheet.scene import Box, Layer, Pen, Scene, Style, Text, shortened
from saltglaze.report.sheet.schedule import draw_schedule, schedule_mm
from saltglaze.report.sheet.section import DrawnSection, draw_section
from saltglaze.report.sheet.survey import Survey, survey
from saltglaze.report.sheet.unscaled import unscaled

Page = Literal["letter", "a4"]

# Landscape page less 12 mm of margin all round; the page's own margin is the report's.
SHEET_MM: dict[Page, tuple[float, float]] = {"letter": (255.0, 183.0), "a4": (273.0, 177.0)}
HEADING_MM = 27.0
"""Room left of the section for the schedule's headings."""
_GUTTER = 5.5
_AXIS = 5.0
_SECTION_LEAST = 34.0
_SECTION_MOST = 64.0
_PLAN_LEAST = 30.0
_NO_PLAN = 10.0
_NO_PLAN_HEIGHT = 150.0


@dataclass(frozen=True)
class _Rooms:
    """Where each part of a sheet goes, mm."""

    plan: Box
    axis: Box
    band: Box
    section: Box
    schedule: Box
    legend: Box
    block: Box


def sheets(appraisal: Appraisal, measures: Measures, page: Page = "letter") -> tuple[Scene, ...]:
    """Return the plan-and-profile drawing, one scene a panel.

    Stations are aligned: plan and section carry ticks at the same stations, joined by
    station lines, and where the course allows both share one horizontal scale. Every
    finding with a known station stands on plan and section under its number; the rest
    are named in the note line.
    """
    drawn = survey(appraisal)
    width, _ = SHEET_MM[page]
    if not drawn.measured:
        return (unscaled(drawn, measures, width),)
    parts = panels(drawn, width - HEADING_MM - 5.0)
    return tuple(
        _sheet(drawn, part, index, len(parts), measures, page) for index, part in enumerate(parts)
    )


def _sheet(
    drawn: Survey, panel: Panel, index: int, count: int, measures: Measures, page: Page
) -> Scene:
    width, height = SHEET_MM[page]
    height = height if drawn.courses else min(height, _NO_PLAN_HEIGHT)
    pen = Pen()
    room = Box(HEADING_MM, 0.0, width - 5.0, height)
    along = axis(panel, room, measures.system)
    used = _all_used(drawn, panel)
    keys = legend_keys(panel, used)
    rooms = _rooms(drawn, panel, along, width, height, len(keys), measures)
    plan = _plan_or_reason(pen, drawn, panel, along, rooms.plan, measures)
    section = draw_section(pen, drawn, panel, along, rooms.band, rooms.section, measures)
    _axis(pen, along, rooms.axis, measures)
    _station_lines(pen, plan, along, rooms)
    draw_schedule(pen, drawn, panel, along, rooms.schedule, measures)
    seen = (plan.used if plan else frozenset()) | section.used
    draw_legend(pen, legend_keys(panel, seen), rooms.legend, measures)
    title = _block(pen, drawn, along, plan, section, index, count, rooms, measures)
    _notes(pen, drawn, panel, rooms, measures)
    return pen.finished(width, height, title=title, description=_described(drawn, panel, measures))


def _all_used(drawn: Survey, panel: Panel) -> frozenset[str]:
    """Guess the legend's keys before drawing, so that room is kept for them."""
    job = drawn.appraisal.job
    guess = {"ground", "invert_margin", "not_seen", "joint"}
    if drawn.courses:
        guess |= {"band", *(f"outline.{p.kind}" for p in job.parcels)}
        guess |= {"mark"} if job.marks else set()
        guess |= {"main"} if job.mains else set()
        guess |= {"utility"} if job.utilities else set()
        guess |= {"locate" if p.used else "locate_unused" for p in drawn.appraisal.position.surface}
        guess |= {"dig"} if drawn.appraisal.position.digs else set()
        guess |= {"other_course"} if len(drawn.courses) > 1 else set()
    if drawn.appraisal.position.sags:
        guess |= {"sag", "water"}
    return frozenset(guess)


def _rooms(
    drawn: Survey,
    panel: Panel,
    along: Axis,
    width: float,
    height: float,
    entries: int,
    measures: Measures,
) -> _Rooms:
    wanted = [along.x(f.station_m or 0.0) for f in panel.findings]
    strip = Box(HEADING_MM, 0.0, width - 1.0, 0.0)
    band = callouts_mm(panel.findings, wanted, strip, measures)
    rows = schedule_mm(drawn)
    foot = max(25.0, legend_mm(entries, width - TITLE_BLOCK_MM - 4.5))
    notes = 4.0 if drawn.unplaced else 1.5
    fixed = _GUTTER + _AXIS + band + rows + foot + notes + 3.0
    left = height - fixed
    plan = _plan_mm(drawn, panel, along, left)
    section = min(left - plan, _SECTION_MOST)
    if drawn.courses:
        plan = left - section
    y = 0.5
    plan_box = Box(0.5, y, width - 0.5, y + plan)
    y += plan + _GUTTER
    axis_box = Box(HEADING_MM, y, width - 1.0, y + _AXIS)
    y += _AXIS
    band_box = Box(HEADING_MM, y, width - 1.0, y + band)
    y += band
    section_box = Box(HEADING_MM, y, width - 1.0, y + section)
    y += section + 1.5
    schedule_box = Box(0.5, y, width - 1.0, y + rows)
    foot_top = height - foot
    return _Rooms(
        plan_box,
        axis_box,
        band_box,
        section_box,
        schedule_box,
        Box(0.5, foot_top, width - TITLE_BLOCK_MM - 4.0, height),
        Box(width - TITLE_BLOCK_MM, foot_top, width - 0.5, height - 0.3),
    )


def _plan_mm(drawn: Survey, panel: Panel, along: Axis, left: float) -> float:
    """Return the plan's height: enough for the course at the section's scale, if it can be."""
    if not drawn.courses:
        return _NO_PLAN
    course = drawn.courses[0].within(panel.from_m, panel.to_m)
    needed = sideways_extent_m(course) * 1000.0 / along.ratio + 2 * PLAN_MARGIN_MM
    return max(min(max(needed, 0.5 * left), left - _SECTION_LEAST), _PLAN_LEAST)


def _plan_or_reason(
    pen: Pen, drawn: Survey, panel: Panel, along: Axis, room: Box, measures: Measures
) -> DrawnPlan | None:
    if drawn.courses and _covers(drawn, panel):
        return draw_plan(pen, drawn, panel, along, room, measures)
    because = drawn.no_plan_because or measures.words("sheet.no_plan_reason")
    words = measures.words("sheet.no_plan", because=because.rstrip(". "))
    pen.box(room, Layer.FRAME, Style("#b9c3ca", 0.2, dash=(1.5, 1.0)))
    text = shortened(words, 2.6, room.width - 8.0)
    pen.text(
        Text(
            (room.left + 4.0, room.middle[1] + 0.9),
            text,
            Layer.LABELS,
            2.6,
            italic=True,
            colour=palette.SOFT,
        )
    )
    return None


def _covers(drawn: Survey, panel: Panel) -> bool:
    course = drawn.courses[0]
    low, high = float(course.stations_m[0]), float(course.stations_m[-1])
    return panel.from_m < high and panel.to_m > low


def _axis(pen: Pen, along: Axis, room: Box, measures: Measures) -> None:
    y = room.bottom
    pen.line(((along.left_mm, y), (along.right_mm, y)), Layer.STATIONS, Style(palette.INK, 0.25))
    for station in along.ticks:
        x = along.x(station)
        pen.line(
            ((x, y - 1.2), (x, y + 0.6)),
            Layer.STATIONS,
            Style(palette.INK, 0.25),
            means=f"section_tick:{station:.4f}",
        )
        words = f"{station * measures.per_long:.4g}"
        pen.text(
            Text(
                (x, y - 1.7),
                words,
                Layer.STATIONS,
                2.2,
                "middle",
                colour=palette.SOFT,
                means="label:axis",
            )
        )
    heading = measures.words("sheet.station_axis", unit=measures.long_unit)
    pen.text(Text((0.5, y - 0.3), heading, Layer.STATIONS, 2.2, colour=palette.SOFT))


def _station_lines(pen: Pen, plan: DrawnPlan | None, along: Axis, rooms: _Rooms) -> None:
    """Join each plan tick with its section tick, where the course never turns back."""
    if plan is None or not plan.ticks:
        return
    across = [x for _, (x, _) in plan.ticks]
    if any(b - a < 0.5 for a, b in pairwise(across)):
        return
    style = Style(palette.FAINT, 0.16, dash=(0.5, 0.9))
    for station, (x, y) in plan.ticks:
        foot = rooms.plan.bottom
        if not rooms.plan.holds((x, y)):
            continue
        pen.line(
            ((x, y), (x, foot), (along.x(station), rooms.axis.bottom - 4.6)),
            Layer.PARCELS,
            style,
            means=f"station_line:{station:.4f}",
        )


def _block(
    pen: Pen,
    drawn: Survey,
    along: Axis,
    plan: DrawnPlan | None,
    section: DrawnSection,
    index: int,
    count: int,
    rooms: _Rooms,
    measures: Measures,
) -> str:
    """Draw the title block and return the drawing's title."""
    words, job = measures.words, drawn.appraisal.job
    title = words("sheet.title", where=job.place.address or job.title or job.id)
    lines = [(title, True)]
    lines.append((words("sheet.line_name", line=job.line.name or job.line.id), False))
    lines.append((words("sheet.inspected", date=measures.date(job.date)), False))
    if job.firm is not None:
        lines.append((job.firm.name, False))
    along_words = described(along.ratio, measures.system)
    if section.ratio:
        factor = along.ratio / section.ratio
        times = f"{factor:.1f}".removesuffix(".0")
        up = described(section.ratio, measures.system)
        lines.append((words("sheet.scales", along=along_words, up=up), False))
        lines.append((words("sheet.exaggerated", factor=times), False))
    else:
        lines.append((words("sheet.scale_along", along=along_words), False))
    if plan is not None and plan.ratio != along.ratio:
        lines.append(
            (words("sheet.plan_scale", scale=described(plan.ratio, measures.system)), False)
        )
    lines.append((words("sheet.number", number=index + 1, count=count), False))
    if job.invented:
        lines.append((words("invented.short"), True))
    draw_title_block(pen, lines, rooms.block)
    return title


def _notes(pen: Pen, drawn: Survey, panel: Panel, rooms: _Rooms, measures: Measures) -> None:
    """Name the findings that have no station, so that every number is on the drawing."""
    if not drawn.unplaced:
        return
    numbers = runs_of_numbers([f.number for f in drawn.unplaced])
    text = measures.words("sheet.unplaced", numbers=numbers)
    y = rooms.schedule.bottom + 3.0
    for finding in drawn.unplaced:
        pen.text(
            Text(
                (rooms.schedule.left, y),
                "",
                Layer.LABELS,
                2.3,
                means=f"unplaced_finding:{finding.item.finding.id}",
            )
        )
    pen.text(
        Text(
            (rooms.schedule.left, y),
            shortened(text, 2.3, rooms.schedule.width),
            Layer.LABELS,
            2.3,
            means="label:unplaced",
        )
    )


def _described(drawn: Survey, panel: Panel, measures: Measures) -> str:
    """Return the drawing in words, for those who do not see it."""
    names = [
        measures.words(
            "sheet.described_finding",
            number=f.number,
            name=finding_name(f, measures),
            where=measures.stretch(f.item.place.station_m, f.item.place.end_station_m),
        )
        for f in panel.findings[:12]
    ]
    more = len(panel.findings) - len(names)
    if more > 0:
        names.append(measures.words("sheet.described_more", count=more))
    body = "; ".join(names) or measures.words("sheet.described_nothing")
    return measures.words(
        "sheet.described",
        start=measures.bare_length(panel.from_m, 0),
        end=measures.bare_length(panel.to_m, 0),
        findings=body,
    )
