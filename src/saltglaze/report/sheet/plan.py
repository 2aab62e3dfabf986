"""The plan: the line as seen from above, turned so that it runs across the paper."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from shapely import GeometryCollection, LineString, MultiPolygon, Polygon, box, unary_union
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from saltglaze.model.appraisal import Dig, Ellipse
from saltglaze.model.base import Z95
from saltglaze.model.ground import Parcel, ParcelKind, PlanPoint
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.labels import Frame, nearest_edge
from saltglaze.report.sheet.panel import Axis, Panel
from saltglaze.report.sheet.scales import described, fitting, tick_step_m
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text, shortened, text_width
from saltglaze.report.sheet.survey import Array, Course, Survey
from saltglaze.report.sheet.symbols import tag

TAG_RADIUS = 1.9
PLAN_MARGIN_MM = 8.0
"""Room above and below the course for tags."""
_OUTLINE = {
    ParcelKind.PARCEL: Style(stroke=palette.SOFT, width=0.25, dash=(5.0, 1.2, 0.8, 1.2)),
    ParcelKind.RIGHT_OF_WAY: Style(stroke=palette.SOFT, width=0.25, fill=palette.STREET),
    ParcelKind.EASEMENT: Style(stroke=palette.SOFT, width=0.25, dash=(1.0, 1.0)),
    ParcelKind.WATER: Style(stroke=palette.WATER, width=0.25, fill="hatch:waves"),
    ParcelKind.BUILDING: Style(stroke=palette.INK, width=0.35, fill="hatch:diagonal"),
}


@dataclass(frozen=True)
class View:
    """Local metres to paper: turn, scale, shift."""

    turn_rad: float
    ratio: int
    origin_m: tuple[float, float]
    origin_mm: Point

    def paper(self, east_m: float, north_m: float) -> Point:
        """Return the place on paper of a local point."""
        de, dn = east_m - self.origin_m[0], north_m - self.origin_m[1]
        cos, sin = math.cos(self.turn_rad), math.sin(self.turn_rad)
        k = 1000.0 / self.ratio
        return (
            self.origin_mm[0] + k * (de * cos + dn * sin),
            self.origin_mm[1] - k * (-de * sin + dn * cos),
        )

    def point(self, point: PlanPoint) -> Point:
        """Return the place on paper of a plan point."""
        return self.paper(point.east_m, point.north_m)

    def all(self, points: Array) -> tuple[Point, ...]:
        """Return the places on paper of (n, 2) points."""
        return tuple(self.paper(float(e), float(n)) for e, n in points)


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
    _keep_clear_of_course(frame, view, best)
    draw_outlines(pen, survey, view, used)
    draw_services(pen, survey, view, used)
    draw_band(pen, view, best, used)
    _other_courses(pen, survey, panel, view, used)
    pen.line(view.all(best.points_m), Layer.PIPE, Style(palette.INK, 0.6), means="course")
    ticks = _ticks(pen, best, axis, view)
    draw_north_and_bar(pen, view, room, frame, measures)
    _digs(pen, survey, view, frame, room, measures, used)
    _locates(pen, survey, view, frame, used)
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


def _keep_clear_of_course(frame: Frame, view: View, course: Course) -> None:
    """Take small boxes along the course, so that no label covers it."""
    path = view.all(course.points_m)
    for (x1, y1), (x2, y2) in pairwise(path):
        steps = max(1, int(math.hypot(x2 - x1, y2 - y1) // 1.2))
        for i in range(steps + 1):
            x, y = x1 + (x2 - x1) * i / steps, y1 + (y2 - y1) * i / steps
            frame.take(Box(x - 0.6, y - 0.6, x + 0.6, y + 0.6))


# ------------------------------------------------------------------ ground
def draw_outlines(pen: Pen, survey: Survey, view: View, used: set[str]) -> None:
    """Draw parcels, streets, easements, water and buildings."""
    order = (ParcelKind.RIGHT_OF_WAY, ParcelKind.WATER, ParcelKind.PARCEL, ParcelKind.EASEMENT)
    parcels = survey.appraisal.job.parcels
    for kind in (*order, ParcelKind.BUILDING):
        layer = Layer.BUILDINGS if kind is ParcelKind.BUILDING else Layer.PARCELS
        for parcel in (p for p in parcels if p.kind is kind):
            ring = tuple(view.point(p) for p in parcel.ring)
            pen.line(ring, layer, _OUTLINE[kind], closed=True, means=f"parcel:{parcel.id}")
            if _shows(pen, ring, closed=True):
                used.add(f"outline.{kind}")


def _shows(pen: Pen, points: tuple[Point, ...], *, closed: bool = False) -> bool:
    """Whether any of a shape lies within the window being drawn."""
    if pen.clip is None:
        return True
    if len(points) < 2:
        return any(pen.clip.holds(p) for p in points)
    shape = Polygon(points) if closed and len(points) > 2 else LineString(points)
    return bool(shape.buffer(0 if closed else 0.1).intersects(box(*pen.clip)))


def draw_services(pen: Pen, survey: Survey, view: View, used: set[str]) -> None:
    """Draw public mains and other buried services."""
    for main in survey.appraisal.job.mains:
        points = tuple(view.point(p) for p in main.points)
        pen.line(points, Layer.UTILITIES, Style(palette.SOFT, 1.1), means=f"main:{main.id}")
        pen.line(points, Layer.UTILITIES, Style(palette.PAPER, 0.6))
        if _shows(pen, points):
            used.add("main")
    for utility in survey.appraisal.job.utilities:
        points = tuple(view.point(p) for p in utility.points)
        pen.line(
            points,
            Layer.UTILITIES,
            Style(palette.ALARM, 0.3, dash=(2.4, 0.8, 0.4, 0.8)),
            means=f"utility:{utility.id}",
        )
        for point in points[1:-1]:
            pen.disc(point, 0.35, Layer.UTILITIES, Style(palette.ALARM, 0.2, palette.PAPER))
        if _shows(pen, points):
            used.add("utility")


def draw_band(pen: Pen, view: View, course: Course, used: set[str]) -> None:
    """Draw where the line lies with 95 and with 68 %: hulls of circles along the course."""
    sd = course.sideways_sd_m()
    if not np.any(sd > 0):
        return
    keep = np.unique(np.linspace(0, len(sd) - 1, min(len(sd), 80)).astype(int))
    for z, colour, name in ((Z95, palette.MARGIN95, "95"), (1.0, palette.MARGIN68, "68")):
        radius = sd[keep] * z * 1000.0 / view.ratio
        paper = view.all(course.points_m[keep])
        rounds = [
            ShapelyPoint(p).buffer(max(float(r), 0.05), quad_segs=5)
            for p, r in zip(paper, radius, strict=True)
        ]
        hulls = [unary_union([a, b]).convex_hull for a, b in pairwise(rounds)]
        _areas(pen, unary_union(hulls), Style(palette.SOFT, 0.08, colour), f"band:{name}")
    used.add("band")


def _areas(pen: Pen, shape: BaseGeometry, style: Style, means: str) -> None:
    parts = shape.geoms if isinstance(shape, MultiPolygon | GeometryCollection) else [shape]
    for part in parts:
        if isinstance(part, Polygon) and not part.is_empty:
            holes = tuple(tuple((x, y) for x, y, *_ in ring.coords) for ring in part.interiors)
            outer = tuple((x, y) for x, y, *_ in part.exterior.coords)
            pen.line(outer, Layer.MARGIN, style, closed=True, holes=holes, means=means)


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


# ------------------------------------------------------------------ north, scale
def draw_north_and_bar(pen: Pen, view: View, room: Box, frame: Frame, measures: Measures) -> None:
    """Draw the north arrow and the scale bar, and keep their room free."""
    centre = (room.right - 8.0, room.top + 8.5)
    frame.take(Box(centre[0] - 6.5, room.top, room.right, centre[1] + 7.5))
    up = (math.sin(view.turn_rad), -math.cos(view.turn_rad))
    right = (-up[1], up[0])
    tip = (centre[0] + up[0] * 4.6, centre[1] + up[1] * 4.6)
    tail = (centre[0] - up[0] * 4.6, centre[1] - up[1] * 4.6)
    notch = (centre[0] - up[0] * 2.4, centre[1] - up[1] * 2.4)
    for side, fill in ((1.0, palette.INK), (-1.0, palette.PAPER)):
        flank = (tail[0] + right[0] * 2.0 * side, tail[1] + right[1] * 2.0 * side)
        pen.line(
            (tip, flank, notch),
            Layer.FRAME,
            Style(palette.INK, 0.2, fill),
            closed=True,
            means="north",
        )
    letter = (centre[0] + up[0] * 6.3, centre[1] + up[1] * 6.3 + 0.9)
    pen.text(
        Text(
            letter, measures.words("sheet.north"), Layer.FRAME, 2.6, "middle", bold=True, halo=True
        )
    )
    _scale_bar(pen, view, room, frame, measures)


def _scale_bar(pen: Pen, view: View, room: Box, frame: Frame, measures: Measures) -> None:
    whole_m = 40.0 * view.ratio / 1000.0
    step = tick_step_m(whole_m, 4, measures.system)
    count = max(1, int(whole_m / step + 1e-9))
    unit_mm = step * 1000.0 / view.ratio
    left, y = room.left + 4.0, room.bottom - 3.4
    frame.take(Box(room.left, y - 4.2, left + unit_mm * count + 16.0, room.bottom))
    back = Box(left - 2.5, y - 3.9, left + unit_mm * count + 13.0, room.bottom - 0.4)
    pen.box(back, Layer.FRAME, Style(fill=palette.PAPER, opacity=0.85))
    for n in range(count):
        cell = Box(left + n * unit_mm, y, left + (n + 1) * unit_mm, y + 1.1)
        fill = palette.INK if n % 2 == 0 else palette.PAPER
        pen.box(cell, Layer.FRAME, Style(palette.INK, 0.15, fill), means="scale_bar")
    for n in range(count + 1):
        figure = f"{n * step * measures.per_long:.3g}"
        last = n == count
        words = f"{figure} {measures.long_unit}" if last else figure
        pen.text(
            Text(
                (left + n * unit_mm - (0.6 if last else 0.0), y - 0.9),
                words,
                Layer.FRAME,
                2.1,
                "start" if last else "middle",
            )
        )


def scale_words(ratio: int, measures: Measures) -> str:
    """Return the plan's scale in words."""
    return measures.words("sheet.plan_scale", scale=described(ratio, measures.system))


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


def ellipse_ring(view: View, centre: PlanPoint, ellipse: Ellipse) -> tuple[Point, ...]:
    """Return an error ellipse as a ring on paper."""
    bearing = math.radians(ellipse.bearing_deg)
    major = (math.sin(bearing), math.cos(bearing))
    minor = (math.cos(bearing), -math.sin(bearing))
    points = []
    for step in range(48):
        t = 2 * math.pi * step / 48
        a, b = ellipse.semi_major_m * math.cos(t), ellipse.semi_minor_m * math.sin(t)
        points.append(
            view.paper(
                centre.east_m + a * major[0] + b * minor[0],
                centre.north_m + a * major[1] + b * minor[1],
            )
        )
    return tuple(points)


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


def letter_point(
    pen: Pen,
    frame: Frame,
    anchor: Point,
    words: str,
    size: float,
    colour: str,
    *,
    bold: bool = False,
    means: str = "",
) -> None:
    """Letter a point where there is room near it, with a leader where it stands off."""
    if not words:
        return
    spot = frame.place(anchor, text_width(words, size, bold), size * 1.05, near=1.6)
    if spot is None:
        return
    edge = nearest_edge(spot, anchor)
    if math.dist(edge, anchor) > 3.0:
        pen.line((anchor, edge), Layer.LABELS, Style(colour, 0.12))
    pen.text(
        Text(
            (spot.left, spot.bottom - 0.22 * size),
            words,
            Layer.LABELS,
            size,
            bold=bold,
            colour=colour,
            halo=True,
            means=means,
        )
    )


def letter_names(
    pen: Pen, survey: Survey, view: View, frame: Frame, room: Box, measures: Measures
) -> None:
    """Letter parcels, mains and services inside what is seen of them."""
    window = box(room.left, room.top, room.right, room.bottom)
    job = survey.appraisal.job
    outlines = [
        [view.point(p) for p in parcel.ring]
        for parcel in job.parcels
        if parcel.kind is ParcelKind.BUILDING and len(parcel.ring) >= 3
    ]
    built = unary_union([Polygon(ring).buffer(0) for ring in outlines])
    for parcel in job.parcels:
        ring = [view.point(p) for p in parcel.ring]
        if len(ring) < 3:
            continue
        seen = Polygon(ring).buffer(0).intersection(window)
        if parcel.kind is not ParcelKind.BUILDING:
            seen = seen.difference(built)
        if seen.is_empty or seen.area < 40.0:
            continue
        spot = seen.representative_point()
        name = shortened(_parcel_name(parcel, measures), 2.3, 46.0)
        letter_point(pen, frame, (spot.x, spot.y), name, 2.3, palette.SOFT, means="label:parcel")
    lines = [(m.points, measures.words("sheet.main")) for m in job.mains]
    lines += [(u.points, u.kind) for u in job.utilities]
    for points, name in lines:
        if len(points) < 2:
            continue
        part = LineString([view.point(p) for p in points]).intersection(window)
        if not part.is_empty:
            middle = part.interpolate(0.5, normalized=True) if part.length else part.centroid
            letter_point(
                pen,
                frame,
                (middle.x, middle.y),
                shortened(name, 2.1, 40.0),
                2.1,
                palette.SOFT,
                means="label:utility",
            )


def _parcel_name(parcel: Parcel, measures: Measures) -> str:
    return parcel.owner or measures.words(f"outline.{parcel.kind}")


def dig_letter(index: int) -> str:
    """Return A, B, ... Z, AA for the digs in order."""
    letters = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        letters = chr(65 + rest) + letters
    return letters
