"""Symbols of findings, drawn by us after drawing-office habit: each shows what is seen.

All are drawn in a box from -1 to 1, y downwards, as strokes and filled shapes only, so
that they read in one ink. A pipe wall is a level line, a joint an upright one.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from saltglaze.model.finding import Feature
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.scene import Disc, Layer, Point, Poly, Shape, Style


class Stroke(NamedTuple):
    """One mark of a symbol: points, closed or not, filled or not, heavy or not."""

    points: tuple[Point, ...]
    closed: bool = False
    filled: bool = False
    heavy: bool = False


def _arc(cx: float, cy: float, r: float, start: float, end: float) -> tuple[Point, ...]:
    """Points on a circle, degrees clockwise from the right."""
    steps = 14
    angles = [math.radians(start + (end - start) * i / steps) for i in range(steps + 1)]
    return tuple((cx + r * math.cos(a), cy + r * math.sin(a)) for a in angles)


def _wave(y: float, left: float = -0.9, right: float = 0.9, height: float = 0.16) -> Stroke:
    xs = [left + (right - left) * i / 24 for i in range(25)]
    return Stroke(tuple((x, y - height * math.sin((x - left) * 7.0)) for x in xs))


def _line(*points: Point, heavy: bool = False) -> Stroke:
    return Stroke(points, heavy=heavy)


def _solid(*points: Point) -> Stroke:
    return Stroke(points, closed=True, filled=True)


def _open(*points: Point) -> Stroke:
    return Stroke(points, closed=True)


_ZIGZAG = ((-0.9, 0.2), (-0.45, -0.3), (-0.1, 0.25), (0.3, -0.3), (0.6, 0.2), (0.9, -0.15))
_WALL = _line((-0.9, 0.75), (0.9, 0.75))
_SOFFIT = _line((-0.9, -0.75), (0.9, -0.75))

SYMBOLS: dict[Feature, tuple[Stroke, ...]] = {
    Feature.CRACK: (Stroke(_ZIGZAG),),
    Feature.FRACTURE: (
        Stroke(tuple((x, y - 0.3) for x, y in _ZIGZAG), heavy=True),
        Stroke(tuple((x, y + 0.35) for x, y in _ZIGZAG), heavy=True),
    ),
    Feature.BREAK: (
        _line((-0.9, -0.1), (-0.35, -0.1), (-0.15, -0.55), heavy=True),
        _line((0.9, -0.1), (0.35, -0.1), (0.15, 0.45), heavy=True),
        _solid((-0.2, 0.5), (0.15, 0.85), (-0.35, 0.9)),
    ),
    Feature.HOLE: (
        Stroke(_arc(0, 0, 0.75, 0, 360), closed=True),
        Stroke(_arc(0, 0, 0.42, 0, 360), closed=True, filled=True),
    ),
    Feature.COLLAPSE: (
        _line((-0.9, -0.75), (0, 0.55), (0.9, -0.75), heavy=True),
        _solid((-0.7, 0.85), (0, 0.35), (0.7, 0.85)),
    ),
    Feature.DEFORMATION: (
        Stroke(
            tuple(
                (0.9 * math.cos(t / 12 * math.pi), 0.5 * math.sin(t / 12 * math.pi))
                for t in range(24)
            ),
            closed=True,
        ),
        _line((0, -0.95), (0, -0.6)),
        _line((0, 0.95), (0, 0.6)),
    ),
    Feature.SURFACE_DAMAGE: (
        _line(
            (-0.9, 0.3),
            (-0.55, 0.3),
            (-0.4, 0.7),
            (-0.1, 0.4),
            (0.1, 0.8),
            (0.4, 0.35),
            (0.55, 0.3),
            (0.9, 0.3),
        ),
        _line((-0.35, -0.2), (-0.2, -0.2)),
        _line((0.1, -0.35), (0.25, -0.35)),
    ),
    Feature.OFFSET_JOINT: (
        _line((-0.9, -0.15), (0, -0.15), heavy=True),
        _line((0, 0.35), (0.9, 0.35), heavy=True),
        _line((0, -0.8), (0, 0.85)),
    ),
    Feature.OPEN_JOINT: (
        _line((-0.95, 0), (-0.3, 0), heavy=True),
        _line((0.3, 0), (0.95, 0), heavy=True),
        _line((-0.3, -0.75), (-0.3, 0.75)),
        _line((0.3, -0.75), (0.3, 0.75)),
    ),
    Feature.ANGLED_JOINT: (
        _line((-0.9, 0.2), (0, 0.2), (0.85, -0.45), heavy=True),
        _line((0, -0.5), (0, 0.85)),
        _line((0.25, -0.5), (-0.05, 0.85)),
    ),
    Feature.ROOTS: (
        _line((0, -0.95), (0, -0.1), (-0.1, 0.9), heavy=True),
        _line((0, -0.35), (0.5, 0.25), (0.55, 0.75)),
        _line((0.5, 0.25), (0.85, 0.4)),
        _line((-0.01, -0.1), (-0.5, 0.3), (-0.6, 0.8)),
        _line((-0.5, 0.3), (-0.85, 0.35)),
    ),
    Feature.ATTACHED_DEPOSITS: (
        _SOFFIT,
        _solid(*_arc(0, -0.75, 0.6, 0, 180)),
    ),
    Feature.SETTLED_DEPOSITS: (
        _WALL,
        _solid((-0.8, 0.75), (-0.4, 0.2), (0.05, 0.05), (0.45, 0.3), (0.8, 0.75)),
    ),
    Feature.OBSTRUCTION: (
        _SOFFIT,
        _WALL,
        _solid((-0.35, -0.4), (0.35, -0.4), (0.35, 0.4), (-0.35, 0.4)),
    ),
    Feature.INFILTRATION: (
        _SOFFIT,
        _open((0, -0.6), (0.36, 0.2), (0.25, 0.5), (0, 0.62), (-0.25, 0.5), (-0.36, 0.2)),
    ),
    Feature.STANDING_WATER: (_wave(-0.3), _wave(0.15), _wave(0.6)),
    Feature.SAG: (
        Stroke(tuple((x / 10, 0.65 - 0.85 * (x / 10) ** 2) for x in range(-9, 10)), heavy=True),
        _line((-0.5, 0.1), (0.5, 0.1)),
    ),
    Feature.TAP: (
        _line((-0.9, 0.55), (0.9, 0.55), heavy=True),
        _line((-0.25, 0.55), (-0.25, -0.8)),
        _line((0.25, 0.55), (0.25, -0.8)),
    ),
    Feature.INTRUDING_TAP: (
        _line((-0.9, -0.2), (-0.3, -0.2), heavy=True),
        _line((0.3, -0.2), (0.9, -0.2), heavy=True),
        _open((-0.3, -0.9), (0.3, -0.9), (0.3, 0.65), (-0.3, 0.35)),
    ),
    Feature.INTRUDING_SEAL: (
        _line((0, -0.85), (0, 0.9)),
        Stroke((*_arc(0.3, -0.3, 0.38, -130, 120),), heavy=True),
    ),
    Feature.CLEAN_OUT: (
        _open((-0.65, -0.65), (0.65, -0.65), (0.65, 0.65), (-0.65, 0.65)),
        _line((-0.65, -0.65), (0.65, 0.65)),
        _line((-0.65, 0.65), (0.65, -0.65)),
    ),
    Feature.BEND: (Stroke(_arc(-0.75, 0.75, 1.2, -90, 0), heavy=True),),
    Feature.DIAMETER_CHANGE: (
        _line((-0.9, -0.75), (-0.1, -0.75), (0.2, -0.4), (0.9, -0.4)),
        _line((-0.9, 0.75), (-0.1, 0.75), (0.2, 0.4), (0.9, 0.4)),
    ),
    Feature.MATERIAL_CHANGE: (
        _line((0, -0.9), (0, 0.9), heavy=True),
        _line((-0.9, 0.5), (-0.15, -0.5)),
        _line((-0.75, 0.75), (-0.15, -0.05)),
        _line((0.15, -0.4), (0.9, -0.4)),
        _line((0.15, 0.0), (0.9, 0.0)),
        _line((0.15, 0.4), (0.9, 0.4)),
    ),
    Feature.REPAIR: (
        _line((-0.5, -0.7), (-0.8, -0.7), (-0.8, 0.7), (-0.5, 0.7), heavy=True),
        _line((0.5, -0.7), (0.8, -0.7), (0.8, 0.7), (0.5, 0.7), heavy=True),
        _line((-0.8, 0), (0.8, 0)),
    ),
    Feature.LINER: (
        _SOFFIT,
        _WALL,
        _line((-0.9, -0.4), (0.9, -0.4), heavy=True),
        _line((-0.9, 0.4), (0.9, 0.4), heavy=True),
    ),
    Feature.VERMIN: (
        _solid(
            *(
                (0.55 * math.cos(t / 8 * math.pi) - 0.15, 0.3 * math.sin(t / 8 * math.pi) + 0.1)
                for t in range(16)
            )
        ),
        _line((0.4, 0.1), (0.7, -0.2), (0.95, 0.1)),
        _line((-0.55, 0.4), (-0.7, 0.75)),
        _line((0.1, 0.4), (0.05, 0.75)),
    ),
    Feature.CAMERA_UNDER_WATER: (
        _wave(-0.55),
        Stroke(_arc(0, 0.3, 0.45, 0, 360), closed=True),
        Stroke(_arc(0, 0.3, 0.15, 0, 360), closed=True, filled=True),
    ),
    Feature.LENS_FOULED: (
        Stroke(_arc(0, 0, 0.75, 0, 360), closed=True),
        _line((-0.55, 0.5), (0.5, -0.55)),
        _line((-0.2, 0.72), (0.72, -0.2)),
        _line((-0.72, 0.15), (0.15, -0.72)),
    ),
    Feature.COULD_NOT_PASS: (
        _line((-0.9, 0), (0.3, 0)),
        _line((0.0, -0.3), (0.35, 0), (0.0, 0.3)),
        _line((0.55, -0.8), (0.55, 0.8), heavy=True),
    ),
    Feature.START: (
        _line((-0.5, 0.9), (-0.5, -0.9), heavy=True),
        _solid((-0.5, -0.85), (0.65, -0.4), (-0.5, 0.05)),
    ),
    Feature.END: (
        _line((0.5, 0.9), (0.5, -0.9), heavy=True),
        _open((0.5, -0.85), (-0.65, -0.4), (0.5, 0.05)),
    ),
}


def symbol(
    feature: Feature,
    centre: Point,
    half: float = 1.7,
    *,
    layer: Layer = Layer.FINDINGS,
    ink: str = palette.INK,
    means: str = "",
) -> list[Shape]:
    """Return a feature's symbol, ``half`` mm from its middle to its edge."""
    shapes: list[Shape] = []
    for stroke in SYMBOLS[feature]:
        points = tuple((centre[0] + half * x, centre[1] + half * y) for x, y in stroke.points)
        style = Style(
            stroke=ink,
            width=half * (0.26 if stroke.heavy else 0.14),
            fill=ink if stroke.filled else None,
        )
        shapes.append(Poly(points, style, layer, stroke.closed, means=means))
    return shapes


def tag(
    number: int,
    grade: int | None,
    centre: Point,
    radius: float,
    *,
    means: str = "",
) -> list[Shape]:
    """Return a finding's numbered tag; its shape tells the grade in any ink.

    Grade 4 and 5: filled square with white figure. Grade 3: ring with a heavy rim.
    Lower or ungraded: thin ring.
    """
    from saltglaze.report.sheet.scene import Text  # shape kinds kept together above

    x, y = centre
    size = radius * (1.25 if number < 100 else 0.95)
    severe = grade is not None and grade >= 4
    rim = 0.55 if grade == 3 else 0.22
    if severe:
        corners = (
            (x - radius, y - radius),
            (x + radius, y - radius),
            (x + radius, y + radius),
            (x - radius, y + radius),
        )
        body: Shape = Poly(
            corners,
            Style(fill=palette.ALARM, stroke=palette.ALARM, width=0.2),
            Layer.LABELS,
            True,
            means=means,
        )
    else:
        body = Disc(
            centre,
            radius - rim / 2,
            Style(stroke=palette.INK, width=rim, fill=palette.PAPER),
            Layer.LABELS,
            means=means,
        )
    figure = Text(
        (x, y + size * 0.36),
        str(number),
        Layer.LABELS,
        size=size,
        anchor="middle",
        bold=True,
        colour=palette.PAPER if severe else palette.INK,
    )
    return [body, figure]
