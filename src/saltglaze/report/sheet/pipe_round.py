"""A small cross-section of the pipe with a finding drawn at its clock position."""

from __future__ import annotations

import math

from saltglaze.model.finding import Clock, Facts
from saltglaze.report.measures import Measures
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.scene import Layer, Pen, Point, Scene, Style, Text

SIZE = 26.0
_R = 9.0
_WALL = 1.3


def _at(hour: float, radius: float, centre: Point) -> Point:
    angle = hour / 12.0 * 2.0 * math.pi
    return (centre[0] + radius * math.sin(angle), centre[1] - radius * math.cos(angle))


def pipe_round(facts: Facts, clock: Clock | None, water: float | None, measures: Measures) -> Scene:
    """Return the cross-section, looking along the view the clock is told in.

    ``water`` is depth over diameter, drawn where known. An unknown clock position is
    drawn as a question mark in the middle, never as a guess on the wall.
    """
    pen = Pen()
    centre = (SIZE / 2, SIZE / 2)
    pen.disc(centre, _R + _WALL, Layer.PIPE, Style(palette.INK, 0.3, "#eceff1"))
    pen.disc(centre, _R, Layer.PIPE, Style(palette.INK, 0.3, palette.PAPER))
    if water is not None and water > 0.01:
        _water(pen, centre, min(water, 1.0))
    for hour in range(12):
        inner = _R + _WALL + (0.3 if hour % 3 else 0.0)
        pen.line(
            (_at(hour, inner, centre), _at(hour, _R + _WALL + 0.9, centre)),
            Layer.STATIONS,
            Style(palette.SOFT, 0.2),
        )
    for hour in (12, 3, 6, 9):
        x, y = _at(hour, _R + _WALL + 1.7, centre)
        pen.text(Text((x, y + 0.75), str(hour), Layer.LABELS, 2.1, "middle", colour=palette.SOFT))
    if clock is None:
        pen.text(
            Text(
                (centre[0], centre[1] + 2.0),
                "?",
                Layer.FINDINGS,
                6.0,
                "middle",
                bold=True,
                colour=palette.SOFT,
            )
        )
    else:
        _where(pen, centre, clock, facts)
    words = measures.words("round.title")
    return pen.finished(SIZE, SIZE, title=words, description=measures.clock(clock))


def _water(pen: Pen, centre: Point, share: float) -> None:
    """Fill the circle up to a depth: chord at height h above the invert."""
    height = share * 2 * _R
    half = math.acos(max(-1.0, min(1.0, 1 - height / _R)))
    steps = 40
    points = [
        (
            centre[0] + _R * math.sin(math.pi - half + 2 * half * i / steps),
            centre[1] - _R * math.cos(math.pi - half + 2 * half * i / steps),
        )
        for i in range(steps + 1)
    ]
    pen.line(
        points,
        Layer.PIPE,
        Style(palette.WATER, 0.2, palette.WATER_FILL),
        closed=True,
        means="water",
    )


def _where(pen: Pen, centre: Point, clock: Clock, facts: Facts) -> None:
    depth = 2.2
    if facts.section_share is not None and facts.section_share.value is not None:
        depth = 1.5 + 6.0 * min(max(facts.section_share.value, 0.0), 1.0)
    if clock.all_round:
        pen.disc(
            centre,
            _R - depth / 2,
            Layer.FINDINGS,
            Style(palette.ALARM, depth, opacity=0.85),
            means="where",
        )
        return
    start = clock.from_h
    span = 0.0 if clock.to_h is None else (clock.to_h - clock.from_h) % 12.0
    if span < 0.6:
        start, span = start + span / 2 - 0.3, 0.6
    steps = max(4, int(span * 5))
    hours = [start + span * i / steps for i in range(steps + 1)]
    outer = [_at(h, _R, centre) for h in hours]
    inner = [_at(h, _R - depth, centre) for h in reversed(hours)]
    pen.line(
        (*outer, *inner),
        Layer.FINDINGS,
        Style(palette.ALARM, 0.2, palette.ALARM),
        closed=True,
        means="where",
    )
    slack = clock.sd_h * 1.96
    for edge, sign in ((start, -1), (start + span, 1)):
        arc = [_at(edge + sign * slack * i / 8, _R + _WALL / 2, centre) for i in range(9)]
        pen.line(arc, Layer.FINDINGS, Style(palette.ALARM, 0.45), means="clock_margin")
