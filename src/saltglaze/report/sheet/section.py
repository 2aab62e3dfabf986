"""The long section: the line as seen from the side, heights drawn larger than lengths."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from saltglaze.model.base import Z95
from saltglaze.model.finding import Clock
from saltglaze.report.measures import Measures
from saltglaze.report.numbering import Numbered
from saltglaze.report.sheet import palette
from saltglaze.report.sheet.callouts import draw_callouts
from saltglaze.report.sheet.panel import Axis, Panel
from saltglaze.report.sheet.scales import fitting
from saltglaze.report.sheet.scene import Box, Layer, Pen, Point, Style, Text
from saltglaze.report.sheet.survey import Array, Survey

_LEAST_BORE_MM = 2.2
_UNKNOWN_BORE_M = 0.1


@dataclass(frozen=True)
class DrawnSection:
    """What the rest of the sheet needs to know of the section."""

    ratio: int
    """Vertical scale; 0 where heights mean nothing."""
    used: frozenset[str]


@dataclass(frozen=True)
class _Heights:
    """Metres of height to millimetres of paper, and the pipe as drawn."""

    ratio: int
    datum_m: float
    bottom_mm: float

    def y(self, level_m: float) -> float:
        return self.bottom_mm - (level_m - self.datum_m) * 1000.0 / self.ratio


def draw_section(
    pen: Pen, survey: Survey, panel: Panel, axis: Axis, band: Box, room: Box, measures: Measures
) -> DrawnSection:
    """Draw the section in ``room`` and the labels of its findings in ``band`` above it."""
    used: set[str] = set()
    stations, invert, ground, sd = _sampled(survey, panel)
    heights, ratio = _heights(survey, panel, invert, ground, sd, room, measures)
    bore = np.array([survey.diameter_at(float(s)) or _UNKNOWN_BORE_M for s in stations])
    bore_mm = np.maximum(bore * 1000.0 / heights.ratio, _LEAST_BORE_MM)
    x = np.array([axis.x(float(s)) for s in stations])
    y = np.array([heights.y(float(z)) for z in invert])
    _grid(pen, axis, room)
    if survey.levels.basis != "none":
        _ground(pen, x, ground, heights, used)
        _margin(pen, x, invert, sd, heights, room, used)
    _pipe(pen, survey, panel, axis, stations, x, y, bore_mm, used)
    _water(pen, survey, axis, stations, invert, bore_mm, heights, used)
    _joints(pen, survey, panel, axis, stations, y, bore_mm, used)
    if survey.levels.basis == "none":
        _no_levels(pen, survey, room, measures)
    _findings(pen, panel, axis, band, stations, y, bore_mm, measures)
    return DrawnSection(ratio, frozenset(used))


# ------------------------------------------------------------------ heights
def _sampled(survey: Survey, panel: Panel) -> tuple[Array, Array, Array, Array]:
    """Return stations with invert, ground and the invert's margin on each, metres."""
    levels = survey.levels
    own = levels.stations_m[(levels.stations_m > panel.from_m) & (levels.stations_m < panel.to_m)]
    changes = [
        e.value + d
        for s in survey.appraisal.segments
        for e in (s.start_m, s.end_m)
        if e.value is not None
        for d in (-1e-4, 1e-4)
        if panel.from_m < e.value + d < panel.to_m
    ]
    stations = np.unique(np.concatenate(([panel.from_m], own, changes, [panel.to_m])))
    return (
        stations,
        _along(stations, levels.stations_m, levels.invert_m, fill=0.0),
        _along(stations, levels.stations_m, levels.ground_m, fill=math.nan),
        _along(stations, levels.stations_m, levels.invert_sd_m, fill=math.nan),
    )


def _along(stations: Array, known_at: Array, values: Array, fill: float) -> Array:
    known = np.isfinite(values)
    if not known.any():
        return np.full(len(stations), fill)
    return np.interp(stations, known_at[known], values[known])


def _heights(
    survey: Survey,
    panel: Panel,
    invert: Array,
    ground: Array,
    sd: Array,
    room: Box,
    measures: Measures,
) -> tuple[_Heights, int]:
    if survey.levels.basis == "none":
        return _Heights(50, 0.0, room.middle[1] + 2.0), 0
    spread_m = Z95 * np.nan_to_num(sd)
    bores = [survey.diameter_at(s) or _UNKNOWN_BORE_M for s in (panel.from_m, panel.to_m)]
    top = float(np.nanmax(np.concatenate((invert + max(bores), ground, invert + spread_m))))
    low = float(np.nanmin(invert - spread_m))
    ratio = fitting(max(top - low, 0.2), room.height - 6.0, measures.system, upright=True)
    slack = (room.height - (top - low) * 1000.0 / ratio) / 2.0
    return _Heights(ratio, low, room.bottom - slack), ratio


# ------------------------------------------------------------------ what is drawn
def _grid(pen: Pen, axis: Axis, room: Box) -> None:
    for station in axis.ticks:
        x = axis.x(station)
        pen.line(((x, room.top), (x, room.bottom)), Layer.GROUND, Style(palette.HAIR, 0.15))


def _ground(pen: Pen, x: Array, ground: Array, heights: _Heights, used: set[str]) -> None:
    known = np.isfinite(ground)
    if not known.any():
        return
    line = [(float(a), heights.y(float(g))) for a, g in zip(x[known], ground[known], strict=True)]
    pen.line(line, Layer.GROUND, Style(palette.EARTH, 0.45), means="ground")
    for start in np.arange(line[0][0] + 4, line[-1][0] - 3, 11.0):
        for k in range(3):
            at = float(start) + k * 0.9
            top = float(np.interp(at, [p[0] for p in line], [p[1] for p in line]))
            pen.line(((at, top), (at - 1.1, top + 1.3)), Layer.GROUND, Style(palette.EARTH, 0.2))
    used.add("ground")


def _margin(
    pen: Pen, x: Array, invert: Array, sd: Array, heights: _Heights, room: Box, used: set[str]
) -> None:
    if not np.isfinite(sd).any() or not np.nanmax(sd) > 0:
        return
    upper = [
        (float(a), heights.y(float(z + Z95 * s))) for a, z, s in zip(x, invert, sd, strict=True)
    ]
    lower = [
        (float(a), heights.y(float(z - Z95 * s))) for a, z, s in zip(x, invert, sd, strict=True)
    ]
    pen.clip = Box(room.left, room.top - 60, room.right, room.bottom)
    pen.line(
        (*upper, *reversed(lower)),
        Layer.MARGIN,
        Style(palette.SOFT, 0.06, palette.MARGIN95),
        closed=True,
        means="invert_margin",
    )
    pen.clip = None
    used.add("invert_margin")


def _pipe(
    pen: Pen,
    survey: Survey,
    panel: Panel,
    axis: Axis,
    stations: Array,
    x: Array,
    y: Array,
    bore_mm: Array,
    used: set[str],
) -> None:
    invert = list(zip(x.tolist(), y.tolist(), strict=True))
    soffit = list(zip(x.tolist(), (y - bore_mm).tolist(), strict=True))
    pen.line((*invert, *reversed(soffit)), Layer.PIPE, Style(fill=palette.PAPER), closed=True)
    dashed = (1.4, 0.8) if survey.levels.basis == "none" else ()
    for line, name in ((invert, "invert"), (soffit, "soffit")):
        width = 0.55 if name == "invert" else 0.35
        pen.line(line, Layer.PIPE, Style(palette.INK, width, dash=dashed), means=name)
    for part in survey.appraisal.not_seen:
        if part.from_m is None or part.to_m is None:
            continue
        a, b = part.from_m.value, part.to_m.value
        if a is None or b is None or b < panel.from_m or a > panel.to_m:
            continue
        low, high = max(a, panel.from_m), min(b, panel.to_m)
        inside = np.unique(
            np.concatenate(([low], stations[(stations > low) & (stations < high)], [high]))
        )
        bottom = np.interp(inside, stations, y)
        top = bottom - np.interp(inside, stations, bore_mm)
        xs = [axis.x(float(s)) for s in inside]
        ring = [
            *zip(xs, bottom.tolist(), strict=True),
            *reversed(list(zip(xs, top.tolist(), strict=True))),
        ]
        pen.line(ring, Layer.JOINTS, Style(fill="hatch:back"), closed=True, means="not_seen")
        used.add("not_seen")


def _water(
    pen: Pen,
    survey: Survey,
    axis: Axis,
    stations: Array,
    invert: Array,
    bore_mm: Array,
    heights: _Heights,
    used: set[str],
) -> None:
    """Fill the pipe up to the water's level where water stands above the invert."""
    levels = survey.levels
    wet = np.isfinite(levels.water_m)
    if levels.basis == "levels" and wet.any():
        fine = np.linspace(stations[0], stations[-1], 400)
        bed = np.interp(fine, stations, invert)
        water = np.interp(fine, levels.stations_m, np.where(wet, levels.water_m, -1e9))
        soffit = bed + np.interp(fine, stations, bore_mm) * heights.ratio / 1000.0
        top = np.minimum(water, soffit)
        for run in _runs(top > bed + 1e-3):
            xs = [axis.x(float(s)) for s in fine[run]]
            up = [heights.y(float(z)) for z in top[run]]
            down = [heights.y(float(z)) for z in bed[run]]
            ring = (*zip(xs, down, strict=True), *reversed(list(zip(xs, up, strict=True))))
            pen.line(
                ring,
                Layer.PIPE,
                Style(palette.WATER, 0.2, palette.WATER_FILL),
                closed=True,
                means="water",
            )
            used.add("water")
    for sag in survey.appraisal.position.sags:
        if sag.start_m.value is None or sag.end_m.value is None:
            continue
        low, high = (
            max(sag.start_m.value, float(stations[0])),
            min(sag.end_m.value, float(stations[-1])),
        )
        if high <= low:
            continue
        y = heights.y(float(np.interp((low + high) / 2, stations, invert))) + 2.4
        a, b = axis.x(low), axis.x(high)
        for points in (
            ((a, y), (b, y)),
            ((a, y - 0.8), (a, y + 0.8)),
            ((b, y - 0.8), (b, y + 0.8)),
        ):
            pen.line(points, Layer.WATER, Style(palette.WATER, 0.35), means=f"sag:{sag.id}")
        used.add("sag")


def _runs(flags: np.ndarray) -> list[slice]:
    """Return the stretches of two or more successive true flags."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], flags.astype(int), [0]))))
    return [slice(int(a), int(b)) for a, b in edges.reshape(-1, 2) if b - a >= 2]


def _joints(
    pen: Pen,
    survey: Survey,
    panel: Panel,
    axis: Axis,
    stations: Array,
    y: Array,
    bore_mm: Array,
    used: set[str],
) -> None:
    for station in joint_stations(survey):
        if not panel.from_m <= station <= panel.to_m:
            continue
        x = axis.x(station)
        foot = float(np.interp(station, stations, y))
        head = foot - float(np.interp(station, stations, bore_mm))
        pen.line(((x, foot), (x, head)), Layer.JOINTS, Style(palette.INK, 0.16), means="joint")
        used.add("joint")


def joint_stations(survey: Survey) -> tuple[float, ...]:
    """Return the stations of joints seen going forwards, one for each ring, metres."""
    stationings = {s.run_id: s for s in survey.appraisal.position.stationings if s.samples}
    found: list[float] = []
    for track in survey.appraisal.tracks:
        stationing = stationings.get(track.run_id)
        if stationing is None:
            continue
        times = [s.time_s for s in stationing.samples]
        at = [s.station_m for s in stationing.samples]
        found += [float(np.interp(j.time_s, times, at)) for j in track.joints if j.forwards]
    kept: list[float] = []
    for station in sorted(found):
        if not kept or station - kept[-1] > 0.2:
            kept.append(station)
    return tuple(kept)


def _no_levels(pen: Pen, survey: Survey, room: Box, measures: Measures) -> None:
    words = measures.words("sheet.no_levels")
    pen.text(
        Text(
            (room.middle[0], room.bottom - 1.0),
            words,
            Layer.LABELS,
            2.4,
            "middle",
            italic=True,
            colour=palette.SOFT,
        )
    )


# ------------------------------------------------------------------ findings
def _findings(
    pen: Pen,
    panel: Panel,
    axis: Axis,
    band: Box,
    stations: Array,
    y: Array,
    bore_mm: Array,
    measures: Measures,
) -> None:
    seats = [_seat(finding, axis, stations, y, bore_mm) for finding in panel.findings]
    draw_callouts(pen, panel.findings, seats, band, measures)
    for finding, seat in zip(panel.findings, seats, strict=True):
        _extent(pen, finding, axis, stations, y)
        _whisker(pen, finding, axis, seat)
        means = f"seat:{finding.item.finding.id}"
        pen.disc(seat, 0.6, Layer.FINDINGS, Style(palette.PAPER, 0.15, palette.INK), means=means)


def _seat(finding: Numbered, axis: Axis, stations: Array, y: Array, bore_mm: Array) -> Point:
    """Return where the finding sits in the drawn pipe: its clock decides how high."""
    station = finding.station_m or 0.0
    invert = float(np.interp(station, stations, y))
    bore = float(np.interp(station, stations, bore_mm))
    return (axis.x(station), invert - bore * _rise(finding.item.place.clock))


def _rise(clock: Clock | None) -> float:
    """Return the height in the pipe of a clock position, 0 invert to 1 soffit."""
    if clock is None or clock.all_round:
        return 0.5
    hour = clock.from_h
    if clock.to_h is not None:
        hour = clock.from_h + ((clock.to_h - clock.from_h) % 12.0) / 2.0
    return 0.5 + 0.5 * math.cos(hour / 12.0 * 2.0 * math.pi)


def _extent(pen: Pen, finding: Numbered, axis: Axis, stations: Array, y: Array) -> None:
    station, end = finding.station_m, finding.end_m
    if station is None or end is None or end - station < 0.1:
        return
    inside = [station, *stations[(stations > station) & (stations < end)].tolist(), end]
    line = [
        (axis.x(min(s, axis.to_m)), float(np.interp(s, stations, y)) + 0.9)
        for s in inside
        if s <= axis.to_m + 1e-9 or s == end
    ]
    pen.line(
        line, Layer.FINDINGS, Style(palette.INK, 0.7), means=f"extent:{finding.item.finding.id}"
    )


def _whisker(pen: Pen, finding: Numbered, axis: Axis, seat: Point) -> None:
    """Draw the station's 95 % margin as a level bar through the seat."""
    low, high = finding.item.place.station_m.interval95
    if not math.isfinite(low) or high - low < 1e-6:
        return
    a, b = axis.x(max(low, axis.from_m)), axis.x(min(high, axis.to_m))
    if b - a > 1.4:
        pen.line(
            ((a, seat[1]), (b, seat[1])),
            Layer.FINDINGS,
            Style(palette.INK, 0.22),
            means="station_margin",
        )
