"""The plan: the line as seen from above, turned so that it runs across the paper."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from saltglaze.model.appraisal import Dig
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.labels import Frame, nearest_edge
from saltglaze.report.sheet.panel import Axis, Panel
from saltglaze.report.sheet.scales import fitting
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text, shortened, text_width
from saltglaze.report.sheet.surroundings import (
    draw_band,
    draw_outlines,
    draw_services,
    keep_clear_of_course,
    letter_names,
    letter_point,
)
from saltglaze.report.sheet.survey import Array, Course, Survey
from saltglaze.report.sheet.symbols import tag
from saltglaze.report.sheet.view import View, draw_north_and_bar, ellipse_ring

TAG_RADIUS = 1.9
PLAN_MARGIN_MM = 8.0
"""Room above and below the course for tags."""


@dataclass(frozen=True)
class DrawnPlan:
    """What the rest of the sheet needs to know of the plan."""

    ratio: int
    ticks: tuple[tuple[float, Point], ...]
    """(station_m, place on paper) of each tick on the course."""
    used: frozenset[str]


def draw_plan(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, room: Box, measures: Measures
) -> DrawnPlan:
    """Draw one panel's plan within ``room`` and return its scale and ticks."""
    best = survey.courses[0].within(panel.from_m, panel.to_m)
    view = _view(best, axis, room, measures)
    used: set[str] = set()
    pen.clip = room
    frame = Frame(room.shrunk(0.6))
    keep_clear_of_course(frame, view, best)
    draw_outlines(pen, survey, view, used)
    draw_services(pen, survey, view, used)
    draw_band(pen, view, best, used)
    _other_courses(pen, survey, panel, view, used)
    pen.line(view.all(best.points_m), Layer.PIPE, Style(palette.INK, 0.6), means="course")
    ticks = _ticks(pen, best, axis, view)
    draw_north_and_bar(pen, view, room, frame, measures)
    _locates(pen, survey, view, frame, used)
    _digs(pen, survey, view, frame, room, measures, used)
    _findings(pen, survey, panel, view, frame)
    _marks(pen, survey, view, frame, room, used)
    _tick_labels(pen, ticks, frame, measures)
    letter_names(pen, survey, view, frame, room, measures)
    pen.clip = None
    pen.box(room, Layer.FRAME, Style(palette.INK, 0.3))
    return DrawnPlan(view.ratio, ticks, frozenset(used))


# ------------------------------------------------------------------ the view
def _view(course: Course, axis: Axis, room: Box, measures: Measures) -> View:
    """Turn the chord level, keep the section's scale where the course then fits."""
    turn = _level_turn(course)
    flat = _turned(course.points_m, turn)
    low, high = flat.min(axis=0), flat.max(axis=0)
    height = float(high[1] - low[1])
    width = float(high[0] - low[0])
    ratio = max(
        axis.ratio,
        fitting(max(height, 0.01), room.height - 2 * PLAN_MARGIN_MM, measures.system),
        fitting(max(width, 0.01), room.width - 2, measures.system),
    )
    k = 1000.0 / ratio
    middle = (low + high) / 2
    if ratio == axis.ratio:
        wanted = np.array([axis.x(s) for s in course.stations_m])
        x0 = float(np.mean(wanted - k * (flat[:, 0] - middle[0])))
    else:
        x0 = room.middle[0]
    x0 = min(max(x0, room.left + k * width / 2 + 1), room.right - k * width / 2 - 1)
    back = _turned(middle[None, :], -turn)[0]
    return View(turn, ratio, (float(back[0]), float(back[1])), (x0, room.middle[1]))


def _level_turn(course: Course) -> float:
    """Return the angle of the chord from start to end; nought for a loop."""
    chord = course.points_m[-1] - course.points_m[0]
    return math.atan2(chord[1], chord[0]) if np.hypot(*chord) > 0.05 else 0.0


def sideways_extent_m(course: Course) -> float:
    """Return how far a course reaches square to its chord, metres."""
    across = _turned(course.points_m, _level_turn(course))[:, 1]
    return float(across.max() - across.min())


def _turned(points: Array, turn: float) -> Array:
    cos, sin = math.cos(turn), math.sin(turn)
    turned: Array = points @ np.array([[cos, -sin], [sin, cos]])
    return turned


def _other_courses(pen: Pen, survey: Survey, panel: Panel, view: View, used: set[str]) -> None:
    for course in survey.courses[1:]:
        part = course.within(panel.from_m, panel.to_m)
        pen.line(
            view.all(part.points_m),
            Layer.PIPE,
            Style(palette.SOFT, 0.35, dash=(1.6, 1.2)),
            means="other_course",
        )
        used.add("other_course")


# ------------------------------------------------------------------ stations
def _ticks(pen: Pen, course: Course, axis: Axis, view: View) -> tuple[tuple[float, Point], ...]:
    """Draw a short bar across the course at every station the section also marks."""
    ticks: list[tuple[float, Point]] = []
    low, high = float(course.stations_m[0]), float(course.stations_m[-1])
    for station in axis.ticks:
        if not low - 1e-6 <= station <= high + 1e-6:
            continue
        here = view.paper(*course.at(station))
        before, after = (view.paper(*course.at(station + d)) for d in (-0.1, 0.1))
        dx, dy = after[0] - before[0], after[1] - before[1]
        length = math.hypot(dx, dy) or 1.0
        nx, ny = -dy / length * 1.1, dx / length * 1.1
        pen.line(
            ((here[0] - nx, here[1] - ny), (here[0] + nx, here[1] + ny)),
            Layer.STATIONS,
            Style(palette.INK, 0.25),
            means=f"plan_tick:{station:.4f}",
        )
        ticks.append((station, here))
    return tuple(ticks)


def _tick_labels(
    pen: Pen, ticks: tuple[tuple[float, Point], ...], frame: Frame, measures: Measures
) -> None:
    for station, here in ticks:
        words = f"{station * measures.per_long:.4g}"
        box_ = frame.place(here, text_width(words, 2.1), 2.1, reach=3.5)
        if box_ is not None:
            pen.text(
                Text(
                    (box_.left, box_.bottom - 0.4),
                    words,
                    Layer.LABELS,
                    2.1,
                    halo=True,
                    colour=palette.SOFT,
                    means="label:station",
                )
            )


# ------------------------------------------------------------------ things on the ground
def _digs(
    pen: Pen,
    survey: Survey,
    view: View,
    frame: Frame,
    room: Box,
    measures: Measures,
    used: set[str],
) -> None:
    for index, dig in enumerate(survey.appraisal.position.digs):
        centre = view.point(dig.point)
        if not room.holds(centre):
            continue
        _dig(pen, view, dig, centre)
        frame.take(Box(centre[0] - 1.3, centre[1] - 1.3, centre[0] + 1.3, centre[1] + 1.3))
        words = measures.words("sheet.dig", letter=dig_letter(index))
        letter_point(pen, frame, centre, words, 2.4, palette.ALARM, bold=True, means="label:dig")
        used.add("dig")


def _dig(pen: Pen, view: View, dig: Dig, centre: Point) -> None:
    ring = ellipse_ring(view, dig.point, dig.ellipse95)
    pen.line(
        ring,
        Layer.DIGS,
        Style(palette.ALARM, 0.25, dash=(0.9, 0.6)),
        closed=True,
        means=f"dig:{dig.finding_id}",
    )
    r = 1.5
    style = Style(palette.ALARM, 0.4)
    x, y = centre
    pen.line(((x - r, y), (x + r, y)), Layer.DIGS, style)
    pen.line(((x, y - r), (x, y + r)), Layer.DIGS, style)
    pen.box(Box(x - r, y - r, x + r, y + r), Layer.DIGS, Style(palette.ALARM, 0.3))


def _locates(pen: Pen, survey: Survey, view: View, frame: Frame, used: set[str]) -> None:
    for found in survey.appraisal.position.surface:
        x, y = view.point(found.point)
        ink = palette.INK if found.used else palette.SOFT
        corners = ((x, y - 1.3), (x + 1.15, y + 0.75), (x - 1.15, y + 0.75))
        fill = palette.PAPER
        pen.line(
            corners,
            Layer.LOCATES,
            Style(ink, 0.28, fill),
            closed=True,
            means=f"locate:{found.locate_id}",
        )
        if found.used:
            pen.disc((x, y), 0.25, Layer.LOCATES, Style(fill=ink))
        used.add("locate" if found.used else "locate_unused")
        frame.take(Box(x - 1.2, y - 1.4, x + 1.2, y + 0.8))


def _findings(pen: Pen, survey: Survey, panel: Panel, view: View, frame: Frame) -> None:
    course = survey.courses[0]
    size = 2 * TAG_RADIUS
    for finding in panel.findings:
        point = finding.item.place.point
        station = finding.station_m if finding.station_m is not None else panel.from_m
        anchor = view.point(point) if point is not None else view.paper(*course.at(station))
        anchor = (
            min(max(anchor[0], frame.box.left), frame.box.right),
            min(max(anchor[1], frame.box.top), frame.box.bottom),
        )
        means = f"finding:{finding.item.finding.id}"
        if finding.end_m is not None and finding.end_m - station > 0.1:
            part = course.within(station, finding.end_m)
            pen.line(
                view.all(part.points_m),
                Layer.FINDINGS,
                Style(palette.INK, 1.3),
                means=f"extent:{finding.item.finding.id}",
            )
        pen.disc(anchor, 0.55, Layer.FINDINGS, Style(palette.PAPER, 0.15, palette.INK))
        spot = frame.place_anywhere(anchor, size, size)
        if spot is None:
            spot = Box(anchor[0], anchor[1], anchor[0] + size, anchor[1] + size)
        edge = nearest_edge(spot, anchor)
        pen.line((anchor, edge), Layer.FINDINGS, Style(palette.INK, 0.18))
        pen.add(tag(finding.number, finding.grade, spot.middle, TAG_RADIUS, means=f"plan_{means}"))


def _marks(pen: Pen, survey: Survey, view: View, frame: Frame, room: Box, used: set[str]) -> None:
    for mark in survey.appraisal.job.marks:
        x, y = view.point(mark.point)
        if not room.holds((x, y)):
            continue
        pen.box(
            Box(x - 0.8, y - 0.8, x + 0.8, y + 0.8),
            Layer.MARKS,
            Style(palette.INK, 0.25, palette.PAPER),
            means=f"mark:{mark.id}",
        )
        pen.line(((x - 0.8, y - 0.8), (x + 0.8, y + 0.8)), Layer.MARKS, Style(palette.INK, 0.2))
        frame.take(Box(x - 0.8, y - 0.8, x + 0.8, y + 0.8))
        name = shortened(mark.name, 2.0, 30.0)
        letter_point(pen, frame, (x, y), name, 2.0, palette.SOFT, means="label:mark")
        used.add("mark")


def dig_letter(index: int) -> str:
    """Return A, B, ... Z, AA for the digs in order."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
