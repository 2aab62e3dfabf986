"""The window of a plan: local metres to paper, north arrow and scale bar."""

from __future__ import annotations

import math
from dataclasses import dataclass

from saltglaze.model.appraisal import Ellipse
from saltglaze.model.ground import PlanPoint
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.labels import Frame
from saltglaze.report.sheet.scales import tick_step_m
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text
from saltglaze.report.sheet.survey import Array


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
    whole_m = min(40.0, 0.35 * room.width) * view.ratio / 1000.0
    step = tick_step_m(whole_m, 4, measures.system)
    count = max(1, int(whole_m / step + 1e-9))
    unit_mm = step * 1000.0 / view.ratio
    left, y = _bar_corner(room, frame, unit_mm * count), room.bottom - 3.4
    casing = Box(left - 0.4, y - 0.4, left + unit_mm * count + 0.4, y + 1.5)
    pen.box(casing, Layer.FRAME, Style(fill=palette.PAPER))
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
                halo=True,
            )
        )


def _bar_corner(room: Box, frame: Frame, length_mm: float) -> float:
    """Return where the bar starts: at the left of the foot, or right where only that is free.

    Nothing is painted out for it: bar and figures carry a narrow casing of their own.
    """
    starts = (room.left + 4.0, room.right - length_mm - 13.0)
    boxes = [Box(x - 3.0, room.bottom - 7.6, x + length_mm + 12.0, room.bottom) for x in starts]
    inner = room.shrunk(0.8)
    clear = [not any(box.overlaps(taken, 0.0) for taken in frame.taken) for box in boxes]
    which = 1 if clear[1] and not clear[0] and boxes[1].left > inner.left else 0
    frame.take(boxes[which])
    return starts[which]


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
