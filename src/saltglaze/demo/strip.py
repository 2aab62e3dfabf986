"""The lit bore in polar form: rows of equal step in 1/z, columns of clock angle.

Everything that can be seen is put together on this strip (wall, light, water), so that
one look-up per pixel makes the picture.
"""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.beyond import Beyond
from saltglaze.demo.lens import Pose
from saltglaze.demo.paint import ROWS_PER_M
from saltglaze.demo.rows import FURTHEST_M, Rows
from saltglaze.demo.script import FilmScript
from saltglaze.demo.wall import COLUMNS, LEVEL_STEP, LEVELS, Wall

Strip = NDArray[np.uint8]
Array = NDArray[np.float32]
LIGHT_COLUMNS = COLUMNS // 8


def wall_strip(
    wall: Wall, station_m: float, rows: Rows, travel_m: float, beyond: Beyond | None
) -> Strip:
    """Return the unlit wall seen from ``station_m``, (rows, COLUMNS, 3) uint8.

    ``travel_m`` is how far the lens moves while the shutter is open: near rows are
    drawn from a texture as coarse as that. ``beyond`` tells where the far rows look to
    when the pipe ahead steps, widens or bends.
    """
    strip = np.empty((rows.ahead_m.size, COLUMNS, 3), np.uint8)
    far = 0 if beyond is None else beyond.ahead_m.shape[0]
    for level, part in _levels(rows, travel_m):
        near = slice(max(part.start, far), part.stop)
        if near.start < near.stop:
            strip[near] = _gathered(wall, level, station_m + rows.ahead_m[near])
        curved = slice(part.start, min(part.stop, far))
        if beyond is not None and curved.start < curved.stop:
            places = station_m + beyond.ahead_m[curved]
            strip[curved] = _picked(wall, level, places, beyond.columns[curved])
    if beyond is not None:
        _show_faces(strip[:far], beyond)
    return strip


def _levels(rows: Rows, travel_m: float) -> list[tuple[int, slice]]:
    """Return which rows are drawn from which level: as coarse as the row reaches along."""
    coarse = np.maximum(np.maximum(rows.footprint_m, travel_m) * ROWS_PER_M, 1.0)
    chosen = np.round(np.clip(np.log(coarse) / np.log(LEVEL_STEP), 0, LEVELS - 1)).astype(int)
    parts = []
    for level in range(LEVELS):
        picked = np.flatnonzero(chosen == level)
        if picked.size:  # one stretch: distance only grows towards the first row
            parts.append((level, slice(int(picked[0]), int(picked[-1]) + 1)))
    return parts


def _gathered(wall: Wall, level: int, stations_m: Array) -> Strip:
    """Return whole texture rows at stations, straight between neighbouring rows."""
    texture, first_m = wall.rows(level, float(stations_m.min()), float(stations_m.max()))
    at = (stations_m.astype(np.float64) - first_m) * (ROWS_PER_M / LEVEL_STEP**level)
    low = np.clip(at.astype(int), 0, len(texture) - 2)
    share = (np.clip(at - low, 0.0, 1.0) * 256).astype(np.uint16)[:, None]
    flat = texture.reshape(len(texture), -1)
    mixed = (flat[low] * (256 - share) + flat[low + 1] * share) >> 8
    return np.asarray(mixed, dtype=np.uint8).reshape(-1, COLUMNS, 3)


def _picked(wall: Wall, level: int, stations_m: Array, columns: Array) -> Strip:
    """Return the texture at places given cell by cell."""
    texture, first_m = wall.rows(level, float(stations_m.min()), float(stations_m.max()))
    down = (stations_m - np.float32(first_m)) * np.float32(ROWS_PER_M / LEVEL_STEP**level)
    return np.asarray(
        cv2.remap(texture, columns, down, cv2.INTER_LINEAR, None, cv2.BORDER_WRAP), dtype=np.uint8
    )


def _show_faces(strip: Strip, beyond: Beyond) -> None:
    """Draw the broken-off ends of pipes that stand proud at a step, pale with a dark edge."""
    face = beyond.face[..., None]
    if not bool(np.any(face > 0.01)):
        return
    pale = np.clip(strip.astype(np.float32) * 1.35 + 22.0, 0, 255)  # lit head on
    edge = np.clip(1.0 - np.abs(face - 0.5) * 2.2, 0.0, 1.0) * 0.8
    mixed = (strip * (1 - face) + pale * face) * (1 - edge)
    strip[...] = mixed.astype(np.uint8)


def light_on_wall(pose: Pose, rows: Rows, reach_diameters: float) -> Array:
    """Return how brightly the lamps around the lens light the wall, (rows, LIGHT_COLUMNS).

    Falls with the distance from the lens, softened so that the reach (distance of about
    a third) is ``reach_diameters``; a look, not photometry.
    """
    angle = (np.arange(LIGHT_COLUMNS, dtype=np.float32) + 0.5) * np.float32(
        2 * np.pi / LIGHT_COLUMNS
    )
    right = pose.radius_m * np.sin(angle) - pose.right_m
    up = pose.radius_m * np.cos(angle) - pose.up_m
    closeness = np.sqrt(pose.radius_m / np.sqrt(right * right + up * up))[None, :]
    fall = light_at(rows.ahead_m, pose.radius_m, reach_diameters)[:, None]
    return np.asarray(closeness * fall, dtype=np.float32)


def light_at(ahead_m: Array, radius_m: float, reach_diameters: float) -> Array:
    """Return the light at a distance ahead, relative to full."""
    near = 0.45 + 0.55 * np.clip(ahead_m / (1.2 * radius_m), 0, 1)
    reach = np.float32(0.6 * reach_diameters * 2 * radius_m)
    out_of_sight = np.clip((FURTHEST_M - ahead_m) / 1.0, 0.0, 1.0)
    return np.asarray(near * out_of_sight / (1.0 + (ahead_m / reach) ** 1.9), dtype=np.float32)


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
