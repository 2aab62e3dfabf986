"""A close plan of one place to dig: tapes from marks, margin, trench, what is near."""

from __future__ import annotations

import math

import numpy as np

from saltglaze.model.appraisal import Appraisal, Dig, TapeTie
from saltglaze.model.ground import Mark, PlanPoint
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.labels import Frame
from saltglaze.report.sheet.scales import described, fitting
from saltglaze.report.sheet.scene import Box, Layer, Pen, Scene, Style, Text
from saltglaze.report.sheet.surroundings import (
    draw_band,
    draw_outlines,
    draw_services,
    keep_clear_of_course,
    letter_names,
    letter_point,
)
from saltglaze.report.sheet.survey import Survey, survey
from saltglaze.report.sheet.view import View, draw_north_and_bar, ellipse_ring

WIDTH, HEIGHT = 166.0, 76.0
_WIDE = Box(0.5, 6.0, 96.0, HEIGHT - 0.5)
_CLOSE = Box(99.0, 6.0, WIDTH - 0.5, HEIGHT - 0.5)
_TRENCH_WIDTH_M = 0.75
_FARTHEST_MARK_M = 40.0

Taped = tuple[tuple[TapeTie, Mark], ...]


def dig_plan(appraisal: Appraisal, dig: Dig, measures: Measures) -> Scene:
    """Return two plans of a dig, north up: with its tapes from marks, and close by."""
    words = measures.words
    marks = {m.id: m for m in appraisal.job.marks}
    taped = tuple(
        (t, marks[t.mark_id])
        for t in dig.ties
        if t.mark_id in marks and t.distance_m <= _FARTHEST_MARK_M
    )
    drawn = survey(appraisal)
    pen = Pen()
    around = max(2.5 * dig.ellipse95.semi_major_m, 2.0)
    wide = _view([dig.point, *(mark.point for _, mark in taped)], around, _WIDE, measures)
    near = max(1.4 * dig.ellipse95.semi_major_m, 0.8 * dig.trench_length_m, 1.0)
    close = _view([dig.point], near, _CLOSE, measures)
    for room, view, ties, key in ((_WIDE, wide, taped, "wide"), (_CLOSE, close, (), "close")):
        _window(pen, drawn, dig, view, room, ties, measures)
        heading = words(f"dig.{key}", scale=described(view.ratio, measures.system))
        pen.text(Text((room.left, 4.2), heading, Layer.FRAME, 2.9, colour=palette.SOFT))
    tapes = "; ".join(
        words("dig.tape_alt", mark=m.name, distance=measures.tape(t.distance_m)) for t, m in taped
    )
    return pen.finished(
        WIDTH,
        HEIGHT,
        title=words("dig.plan_title"),
        description=words("dig.plan_alt", tapes=tapes or words("dig.no_tapes")),
    )


def _window(
    pen: Pen, drawn: Survey, dig: Dig, view: View, room: Box, taped: Taped, measures: Measures
) -> None:
    """Draw one plan: ground, services, line with its margin, trench, ellipses, tapes."""
    pen.clip = room
    frame = Frame(room.shrunk(0.8))
    centre = view.point(dig.point)
    frame.take(Box(centre[0] - 2.5, centre[1] - 2.5, centre[0] + 2.5, centre[1] + 2.5))
    draw_outlines(pen, drawn, view, set())
    draw_services(pen, drawn, view, set())
    if drawn.courses:
        course = drawn.courses[0]
        draw_band(pen, view, course, set())
        pen.line(view.all(course.points_m), Layer.PIPE, Style(palette.INK, 0.6), means="course")
        keep_clear_of_course(frame, view, course)
    draw_north_and_bar(pen, view, room, frame, measures)
    _trench(pen, view, dig)
    for level, ring in (("68", dig.ellipse68), ("95", dig.ellipse95)):
        dash = () if level == "68" else (1.2, 0.8)
        style = Style(palette.ALARM, 0.35, dash=dash)
        points = ellipse_ring(view, dig.point, ring)
        pen.line(points, Layer.DIGS, style, closed=True, means=f"ellipse:{level}")
    for tie, mark in taped:
        _tape(pen, frame, view, mark.point, centre, measures.tape(tie.distance_m), mark.name)
    x, y = centre
    for bar in (((x - 2.5, y), (x + 2.5, y)), ((x, y - 2.5), (x, y + 2.5))):
        pen.line(bar, Layer.DIGS, Style(palette.ALARM, 0.5), means="spot")
    frame.take(_around(_corners(view, dig)))
    letter_names(pen, drawn, view, frame, room, measures)
    pen.clip = None
    pen.box(room, Layer.FRAME, Style(palette.INK, 0.3))


def _view(shown: list[PlanPoint], around_m: float, room: Box, measures: Measures) -> View:
    """Return a window that holds points, and ``around_m`` on all sides of the first."""
    points = np.array([(p.east_m, p.north_m) for p in shown])
    low = np.minimum(points.min(axis=0), points[0] - around_m)
    high = np.maximum(points.max(axis=0), points[0] + around_m)
    span = high - low
    ratio = max(
        fitting(float(span[0]), room.width - 18.0, measures.system),
        fitting(float(span[1]), room.height - 18.0, measures.system),
    )
    middle = (low + high) / 2
    return View(0.0, ratio, (float(middle[0]), float(middle[1])), room.middle)


def _trench(pen: Pen, view: View, dig: Dig) -> None:
    """Draw the trench along the line, as long as holds the spot with 95 %."""
    pen.line(
        _corners(view, dig),
        Layer.DIGS,
        Style(palette.INK, 0.3, "hatch:back"),
        closed=True,
        means="trench",
    )


def _around(points: list[tuple[float, float]]) -> Box:
    across, down = zip(*points, strict=True)
    return Box(min(across), min(down), max(across), max(down))


def _corners(view: View, dig: Dig) -> list[tuple[float, float]]:
    """Return the corners of the trench on paper."""
    bearing = math.radians(dig.trench_bearing_deg)
    along = (
        math.sin(bearing) * dig.trench_length_m / 2,
        math.cos(bearing) * dig.trench_length_m / 2,
    )
    side = (math.cos(bearing) * _TRENCH_WIDTH_M / 2, -math.sin(bearing) * _TRENCH_WIDTH_M / 2)
    return [
        view.paper(
            dig.point.east_m + a * along[0] + b * side[0],
            dig.point.north_m + a * along[1] + b * side[1],
        )
        for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))
    ]


def _tape(
    pen: Pen,
    frame: Frame,
    view: View,
    mark: PlanPoint,
    centre: tuple[float, float],
    words: str,
    name: str,
) -> None:
    x, y = view.point(mark)
    pen.line(((x, y), centre), Layer.MARKS, Style(palette.INK, 0.2, dash=(2.0, 0.8)), means="tape")
    pen.box(
        Box(x - 1, y - 1, x + 1, y + 1),
        Layer.MARKS,
        Style(palette.INK, 0.3, palette.PAPER),
        means="mark",
    )
    frame.take(Box(x - 1, y - 1, x + 1, y + 1))
    letter_point(
        pen,
        frame,
        ((x + centre[0]) / 2, (y + centre[1]) / 2),
        words,
        3.0,
        palette.INK,
        bold=True,
        means="label:tape",
    )
    letter_point(pen, frame, (x, y), name, 2.5, palette.INK, means="label:mark")
