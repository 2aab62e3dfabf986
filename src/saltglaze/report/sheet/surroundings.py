"""What lies round the line on a plan: outlines, services, the margin of the course, names."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
from shapely import GeometryCollection, LineString, MultiPolygon, Polygon, box, unary_union
from shapely import Point as ShapelyPoint
from shapely.geometry.base import BaseGeometry

from saltglaze.model.base import Z95
from saltglaze.model.ground import Parcel, ParcelKind
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.labels import Frame, nearest_edge
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text, shortened, text_width
from saltglaze.report.sheet.survey import Course, Survey
from saltglaze.report.sheet.view import View

_OUTLINE = {
    ParcelKind.PARCEL: Style(stroke=palette.SOFT, width=0.25, dash=(5.0, 1.2, 0.8, 1.2)),
    ParcelKind.RIGHT_OF_WAY: Style(stroke=palette.SOFT, width=0.25, fill=palette.STREET),
    ParcelKind.EASEMENT: Style(stroke=palette.SOFT, width=0.25, dash=(1.0, 1.0)),
    ParcelKind.WATER: Style(stroke=palette.WATER, width=0.25, fill="hatch:waves"),
    ParcelKind.BUILDING: Style(stroke=palette.INK, width=0.35, fill="hatch:diagonal"),
}


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


def keep_clear_of_course(frame: Frame, view: View, course: Course) -> None:
    """Take small boxes along the course, so that no label covers it."""
    path = view.all(course.points_m)
    for (x1, y1), (x2, y2) in pairwise(path):
        steps = max(1, int(math.hypot(x2 - x1, y2 - y1) // 1.2))
        for i in range(steps + 1):
            x, y = x1 + (x2 - x1) * i / steps, y1 + (y2 - y1) * i / steps
            frame.take(Box(x - 0.6, y - 0.6, x + 0.6, y + 0.6))
