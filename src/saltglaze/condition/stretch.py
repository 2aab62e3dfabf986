"""Which segment of the line a station lies in, margins allowed for."""

from __future__ import annotations

from collections.abc import Sequence

from saltglaze.model.appraisal import LineSegment

_SLACK_M = 0.5
_MARGINS = 2.0


def segment_at(segments: Sequence[LineSegment], station_m: float | None) -> LineSegment | None:
    """Return the segment at a station, else the nearest one whose end may reach it.

    A segment's ends are uncertain: one that misses the station by no more than two
    standard deviations of its end and half a metre still counts. Where the station is
    not known, a line of one segment answers with that segment.
    """
    if station_m is None:
        return segments[0] if len(segments) == 1 else None
    nearest = min(segments, key=lambda segment: _miss(segment, station_m), default=None)
    return nearest if nearest is not None and _miss(nearest, station_m) <= 0.0 else None


def _miss(segment: LineSegment, station_m: float) -> float:
    """Return by how much a segment misses a station beyond its margins; -1 if it holds it."""
    start, end = segment.start_m, segment.end_m
    if start.value is not None and station_m < start.value:
        return start.value - station_m - _MARGINS * start.spread - _SLACK_M
    if end.value is not None and station_m > end.value:
        return station_m - end.value - _MARGINS * end.spread - _SLACK_M
    return -float("inf")
