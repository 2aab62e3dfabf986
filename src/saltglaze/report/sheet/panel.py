"""Splits a line into panels, and gives each its horizontal axis."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

from saltglaze.report.measures import UnitSystem
from saltglaze.report.numbering import Numbered
from saltglaze.report.sheet.scales import COARSEST_H, fitting, tick_step_m, ticks_m
from saltglaze.report.sheet.scene import Box
from saltglaze.report.sheet.survey import Survey

MOST_FINDINGS = 44
"""Findings whose labels fit side by side over one long section."""
_LEAST_M = 1.0


@dataclass(frozen=True)
class Axis:
    """Stations to millimetres along the paper: the one axis of section and schedule."""

    from_m: float
    to_m: float
    ratio: int
    left_mm: float
    tick_m: float

    def x(self, station_m: float) -> float:
        """Return the place on paper of a station, mm from the left edge."""
        return self.left_mm + (station_m - self.from_m) * 1000.0 / self.ratio

    @property
    def right_mm(self) -> float:
        """Where the axis ends, mm."""
        return self.x(self.to_m)

    @property
    def ticks(self) -> tuple[float, ...]:
        """Round stations, metres, at which plan and section both carry a tick."""
        return ticks_m(self.from_m, self.to_m, self.tick_m)


@dataclass(frozen=True)
class Panel:
    """One sheet's stretch and the findings on it."""

    from_m: float
    to_m: float
    findings: tuple[Numbered, ...]


def panels(survey: Survey, room_mm: float) -> tuple[Panel, ...]:
    """Return panels short enough to be read: by length, then by number of findings."""
    most_m = room_mm * COARSEST_H / 1000.0
    length = survey.to_m - survey.from_m
    count = max(1, -(-int(length * 1000) // int(most_m * 1000)))
    step = length / count
    found: list[Panel] = []
    for n in range(count):
        low, high = survey.from_m + n * step, survey.from_m + (n + 1) * step
        last = n == count - 1
        inside = tuple(
            f
            for f in survey.placed
            if f.station_m is not None
            and (low <= f.station_m < high or (last and f.station_m >= high))
        )
        found += _by_findings(low, high, inside)
    return tuple(found)


def _by_findings(low: float, high: float, inside: tuple[Numbered, ...]) -> list[Panel]:
    """Cut a panel between findings until each part has few enough."""
    if len(inside) <= MOST_FINDINGS:
        return [Panel(low, high, inside)]
    parts = -(-len(inside) // MOST_FINDINGS)
    size = -(-len(inside) // parts)
    chunks = [inside[i : i + size] for i in range(0, len(inside), size)]
    cuts = [low]
    for before, after in pairwise(chunks):
        cuts.append(((before[-1].station_m or 0.0) + (after[0].station_m or 0.0)) / 2.0)
    cuts.append(high)
    return [
        Panel(*_at_least(a, b), chunk) for a, b, chunk in zip(cuts, cuts[1:], chunks, strict=False)
    ]


def _at_least(low: float, high: float) -> tuple[float, float]:
    short = max(_LEAST_M - (high - low), 0.0) / 2.0
    return low - short, high + short


def axis(panel: Panel, room: Box, system: UnitSystem) -> Axis:
    """Return the axis of a panel, at a standard scale, centred in its room."""
    length = panel.to_m - panel.from_m
    ratio = fitting(length, room.width, system)
    drawn = length * 1000.0 / ratio
    left = room.left + (room.width - drawn) / 2.0
    most = max(2, int(drawn // 14))
    return Axis(panel.from_m, panel.to_m, ratio, left, tick_step_m(length, most, system))
