"""Where the lens looks past a step, a widening or a bend of the pipe ahead.

The bore ahead is a row of circles: at distance ``zeta`` ahead its centre is ``c(zeta)``
off the near axis and its radius ``R(zeta)``. A ray that leaves the near pipe goes on
until ``|q(zeta) - c(zeta)| > R(zeta)``; the wall is met between the last plane inside and
the first outside, or, where both are the same plane, the face of a pipe end is seen.
Bends are sheared, not turned: good for the shallow ones that a push rod passes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.lens import Pose
from saltglaze.demo.rows import FURTHEST_M, Rows
from saltglaze.demo.script import Bend, Defect, FilmScript
from saltglaze.demo.wall import COLUMNS

Array = NDArray[np.float32]
Planes = NDArray[np.float64]

COARSE = 4
"""Rays are followed for every fourth column and widened."""
PLANE_RATIO = 1.10
REFINEMENTS = 2
MAIN_RADIUS_M = 0.15
MAIN_ACROSS_M = 0.2
"""A main of eight inches is crossed at right angles; its hollow is drawn as a wider pipe."""
SHUT_M = 1e-4


@dataclass(frozen=True)
class Beyond:
    """For the far rows of a strip: distance ahead, texture column, share of pipe-end face."""

    ahead_m: Array
    columns: Array
    face: Array


@dataclass(frozen=True)
class Bore:
    """The circles ahead: distances, centres (right, up) and radii; steps stand twice."""

    planes_m: Planes
    centre_m: Planes
    radius_m: Planes


def look_beyond(script: FilmScript, station_m: float, pose: Pose, rows: Rows) -> Beyond | None:
    """Return where the far rows look, or ``None`` while the pipe ahead is one straight bore."""
    bore = bore_ahead(script, station_m, pose.radius_m)
    if bore is None:
        return None
    count = int(np.count_nonzero(rows.ahead_m > bore.planes_m[0]))
    if count < 2:
        return None
    return _followed(bore, pose, rows, count)


def bore_ahead(script: FilmScript, station_m: float, radius_m: float) -> Bore | None:
    """Return the circles ahead of a station relative to the near axis, from the first change."""
    steps = _steps(script, station_m)
    bends = [
        b
        for b in script.bends
        if station_m < b.start_m + b.length_m and b.start_m < station_m + FURTHEST_M
    ]
    starts = [s - station_m for s, _, _ in steps]
    starts += [max(b.start_m - station_m, 0.0) for b in bends]
    if not starts:
        return None
    first = max(min(starts), 0.02)
    count = int(math.log(FURTHEST_M / first) / math.log(PLANE_RATIO)) + 2
    planes = np.geomspace(first, FURTHEST_M, max(count, 3))
    planes = np.union1d(planes, [s for s in starts if s > first])
    for step in {s - station_m for s, _, _ in steps}:
        planes = np.sort(np.append(planes, max(step, first)))
    centre = np.zeros((planes.size, 2))
    radius = np.full(planes.size, radius_m)
    for step_m, shift, new_radius in steps:
        past = planes > step_m - station_m
        same = np.flatnonzero(planes == max(step_m - station_m, first))
        past[same[-1]] = True  # of the two planes of a step, the second is beyond it
        centre[past] += shift
        radius[past] = new_radius
    centre += _drift(planes, bends, station_m)
    return Bore(planes, centre, radius)


def _steps(script: FilmScript, station_m: float) -> list[tuple[float, NDArray[np.float64], float]]:
    """Return the steps ahead: station, how the axis moves (right, up), radius beyond.

    Where the bore changes the inverts stay level.
    """
    found: list[tuple[float, NDArray[np.float64], float]] = []
    ahead = (station_m + 1e-6, station_m + FURTHEST_M - 0.5)
    for near, far in zip(script.segments, script.segments[1:], strict=False):
        if ahead[0] < far.start_m < ahead[1] and near.diameter_m != far.diameter_m:
            rise = (far.diameter_m - near.diameter_m) / 2
            found.append((far.start_m, np.array([0.0, rise]), far.diameter_m / 2))
    for defect in script.defects:
        if defect.kind is Defect.OFFSET_JOINT and ahead[0] < defect.station_m < ahead[1]:
            angle = math.radians(defect.clock_deg)
            shift = defect.size_m * np.array([math.sin(angle), math.cos(angle)])
            radius = script.segment_at(defect.station_m + 1e-6).diameter_m / 2
            found.append((defect.station_m, shift, radius))
    end_m = script.segments[-1].end_m
    if script.ends_in_main and ahead[0] < end_m < ahead[1]:
        # The main is a wider hollow that closes at its far wall.
        level = np.zeros(2)
        found += [(end_m, level, MAIN_RADIUS_M), (end_m + MAIN_ACROSS_M, level, SHUT_M)]
    return sorted(found, key=lambda step: step[0])


def _drift(planes: Planes, bends: list[Bend], station_m: float) -> Planes:
    """Return how far the axis has moved off at each plane because of bends."""
    moved = np.zeros((planes.size, 2))
    for bend in bends:
        way = math.radians(bend.clock_deg)
        total = math.radians(bend.angle_deg)
        begin = max(bend.start_m - station_m, 0.0)
        left = total * min((bend.start_m + bend.length_m - station_m) / bend.length_m, 1.0)
        arc = bend.start_m + bend.length_m - station_m - begin
        into = np.clip(planes - begin, 0.0, arc)
        past = np.maximum(planes - begin - arc, 0.0)
        off = 0.5 * math.tan(left) / max(arc, 1e-6) * into**2 + math.tan(left) * past
        moved += off[:, None] * np.array([math.sin(way), math.cos(way)])
    return moved


def _followed(bore: Bore, pose: Pose, rows: Rows, count: int) -> Beyond:
    """Follow the rays of the first ``count`` rows through the circles ahead."""
    angle = (np.arange(0, COLUMNS, COARSE) + (COARSE - 1) / 2) * (2 * np.pi / COLUMNS)
    per_x = (pose.radius_m * np.sin(angle) - pose.right_m)[None, :] / rows.ahead_m[:count, None]
    per_y = (pose.radius_m * np.cos(angle) - pose.up_m)[None, :] / rows.ahead_m[:count, None]
    met = np.full(per_x.shape, bore.planes_m[-1])
    face = np.zeros(per_x.shape)
    going = np.ones(per_x.shape, dtype=bool)
    before = np.full(per_x.shape, -1.0)
    for k, plane in enumerate(bore.planes_m):
        off_x = pose.right_m + per_x * plane - bore.centre_m[k, 0]
        off_y = pose.up_m + per_y * plane - bore.centre_m[k, 1]
        outside = off_x * off_x + off_y * off_y - bore.radius_m[k] ** 2
        last = bore.planes_m[max(k - 1, 0)]
        stops = going & (outside > 0)
        share = before / np.minimum(before - outside, -1e-12)
        met = np.where(stops, last + (plane - last) * np.clip(share, 0.0, 1.0), met)
        if plane == last:
            # How far outside, in widths of a few millimetres: a soft edge to the face.
            face = np.where(stops, np.clip(outside / (pose.radius_m * 0.004), 0.0, 1.0), face)
        going &= ~stops
        before = outside
        if not going.any():
            break
    shut = _on_the_far_wall(bore, met)
    met = _refined(met, face > 0, bore, pose, per_x, per_y)
    face = np.where(shut, 0.0, face)
    centre_x = np.interp(met, bore.planes_m, bore.centre_m[:, 0])
    centre_y = np.interp(met, bore.planes_m, bore.centre_m[:, 1])
    wide = (COLUMNS, count)
    off_x, off_y = pose.right_m + per_x * met - centre_x, pose.up_m + per_y * met - centre_y
    x, y = _widened(off_x, wide), _widened(off_y, wide)
    # On the far wall of a main the texture runs on inwards, ring by ring.
    met = met + np.where(shut, MAIN_RADIUS_M - np.hypot(off_x, off_y), 0.0)
    columns = cv2.phase(y, x) * np.float32(COLUMNS / (2 * np.pi))
    return Beyond(_widened(met, wide), np.asarray(columns, np.float32), _widened(face, wide))


def _on_the_far_wall(bore: Bore, met: Planes) -> NDArray[np.bool_]:
    """Return which rays ended on the plane at which the bore is shut, if it is."""
    closed = np.flatnonzero(bore.radius_m <= SHUT_M)
    if closed.size == 0:
        return np.zeros(met.shape, dtype=bool)
    return np.asarray(met >= bore.planes_m[closed[0]] - 1e-6)


def _refined(
    met: Planes, fixed: NDArray[np.bool_], bore: Bore, pose: Pose, per_x: Planes, per_y: Planes
) -> Planes:
    """Return the meeting distances after some Newton steps on ``|q - c|^2 = R^2``."""
    for _ in range(REFINEMENTS):
        off_x = pose.right_m + per_x * met - np.interp(met, bore.planes_m, bore.centre_m[:, 0])
        off_y = pose.up_m + per_y * met - np.interp(met, bore.planes_m, bore.centre_m[:, 1])
        radius = np.interp(met, bore.planes_m, bore.radius_m)
        outside = off_x * off_x + off_y * off_y - radius * radius
        slope = 2 * (off_x * per_x + off_y * per_y)
        step = np.where(slope > 1e-6, outside / np.maximum(slope, 1e-6), 0.0)
        moved = met - np.clip(step, -0.04 * met, 0.04 * met)
        met = np.where(fixed, met, np.clip(moved, bore.planes_m[0], bore.planes_m[-1]))
    return met


def _widened(values: Planes, size: tuple[int, int]) -> Array:
    """Return coarse columns widened to all, seamless over 12 o'clock."""
    around = np.concatenate([values[:, -1:], values, values[:, :1]], axis=1).astype(np.float32)
    wide = cv2.resize(around, (size[0] + 2 * COARSE, size[1]), interpolation=cv2.INTER_LINEAR)
    return np.ascontiguousarray(wide[:, COARSE:-COARSE])
