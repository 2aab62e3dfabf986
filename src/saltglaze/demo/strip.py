"""The lit bore in polar form: rows of equal step in 1/z, columns of clock angle.

Everything that can be seen is put together on this strip (wall, light, water), so that
one look-up per pixel makes the picture.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.lens import Pose
from saltglaze.demo.script import FilmScript
from saltglaze.demo.wall import COLUMNS, LEVEL_STEP, LEVELS, ROWS_PER_M, Wall

Strip = NDArray[np.uint8]
Array = NDArray[np.float32]

FURTHEST_M = 5.0


@dataclass(frozen=True)
class Rows:
    """The strip's rows: distance ahead of each, and how far one row reaches along the pipe."""

    ahead_m: Array
    footprint_m: Array
    inverse_step: float

    @classmethod
    def covering(cls, inverse_z_max: float, count: int) -> Rows:
        """Return ``count`` rows from the vanishing point to ``inverse_z_max``."""
        step = inverse_z_max / (count - 1)
        inverse = np.maximum(np.arange(count, dtype=np.float32) * step, 1.0 / FURTHEST_M)
        ahead = (1.0 / inverse).astype(np.float32)
        return cls(ahead, (ahead * ahead * step).astype(np.float32), step)


def wall_strip(
    wall: Wall, station_m: float, rows: Rows, travel_m: float, ahead_m: Array | None = None
) -> Strip:
    """Return the unlit wall seen from ``station_m``, (rows, COLUMNS, 3) uint8.

    ``travel_m`` is how far the lens moves while the shutter is open: near rows are
    drawn from a texture as coarse as that. ``ahead_m`` may give each cell (row, column)
    its own distance; the default is the row's.
    """
    strip = np.empty((rows.ahead_m.size, COLUMNS, 3), np.uint8)
    coarse = np.maximum(rows.footprint_m, travel_m) * ROWS_PER_M
    level_of = np.clip(np.log(np.maximum(coarse, 1.0)) / np.log(LEVEL_STEP), 0, LEVELS - 1)
    chosen = np.round(level_of).astype(int)
    across = np.broadcast_to(np.arange(COLUMNS, dtype=np.float32), (rows.ahead_m.size, COLUMNS))
    for level in range(LEVELS):
        picked = np.flatnonzero(chosen == level)
        if picked.size == 0:
            continue
        # Rows of one level are neighbours: distance only grows towards the first row.
        part = slice(int(picked[0]), int(picked[-1]) + 1)
        ahead = rows.ahead_m[part, None] if ahead_m is None else ahead_m[part]
        texture, first_m = wall.rows(
            level, station_m + float(ahead.min()), station_m + float(ahead.max())
        )
        per_m = ROWS_PER_M / LEVEL_STEP**level
        at = np.float32((station_m - first_m) * per_m) + ahead * np.float32(per_m)
        down = np.broadcast_to(at, (at.shape[0], COLUMNS)).astype(np.float32)
        strip[part] = cv2.remap(
            texture,
            np.ascontiguousarray(across[part]),
            down,
            cv2.INTER_LINEAR,
            None,
            cv2.BORDER_REPLICATE,
        )
    return strip


def light_on_wall(pose: Pose, rows: Rows, reach_diameters: float) -> Array:
    """Return how brightly the lamps around the lens light the wall, (rows, COLUMNS / 8).

    Falls with the distance from the lens, softened so that the reach (distance of about
    a third) is ``reach_diameters``; a look, not photometry.
    """
    angle = (np.arange(COLUMNS // 8, dtype=np.float32) + 0.5) * np.float32(
        2 * np.pi / (COLUMNS // 8)
    )
    right = pose.radius_m * np.sin(angle) - pose.right_m
    up = pose.radius_m * np.cos(angle) - pose.up_m
    off = np.sqrt(right * right + up * up)[None, :]
    ahead = rows.ahead_m[:, None]
    reach = np.float32(reach_diameters * 2 * pose.radius_m)
    near = 0.45 + 0.55 * np.clip(ahead / (1.2 * pose.radius_m), 0, 1)
    closeness = (pose.radius_m / off) ** 0.5
    lit_share = near * closeness / (1.0 + (ahead / (0.6 * reach)) ** 1.9)
    return np.asarray(lit_share, dtype=np.float32)


def lit(strip: Strip, light: Array, gain: tuple[float, float, float]) -> Strip:
    """Return the strip under the light, with a gain for each colour."""
    wide = cv2.resize(light, (strip.shape[1], strip.shape[0]), interpolation=cv2.INTER_LINEAR)
    scaled = cv2.merge([wide * np.float32(g) for g in gain])
    return np.asarray(cv2.multiply(strip, scaled, dtype=cv2.CV_8U))


def pose_at(script: FilmScript, time_s: float) -> Pose:
    """Return how the lens sits at a time."""
    station = float(script.station.at(time_s))
    right, up = script.lens_offset_m(station)
    return Pose(
        radius_m=script.segment_at(station).diameter_m / 2,
        right_m=right,
        up_m=up,
        roll_deg=float(script.roll_deg.at(time_s)),
        yaw_deg=float(script.yaw_deg.at(time_s)),
        pitch_deg=float(script.pitch_deg.at(time_s)),
    )
