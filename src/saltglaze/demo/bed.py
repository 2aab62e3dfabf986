"""What lies along the invert: a bed of settled stuff and the tide mark of older water.

The bed is a plane as water is (``water.py``), but matte: a ray that would meet the wall
below its top meets the bed first, at the share ``t`` of its way where it crosses the plane.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from saltglaze.demo.laws import BedLaw
from saltglaze.demo.lens import Pose
from saltglaze.demo.rows import Rows
from saltglaze.demo.strip import light_at
from saltglaze.demo.wall import COLUMNS
from saltglaze.demo.water import PER_RADIAN, sampled

Strip = NDArray[np.uint8]
Array = NDArray[np.float32]
TIDE_SOFT_RAD = 0.03
LEAST = 0.004
"""Below this share of the diameter nothing is drawn."""


@dataclass(frozen=True)
class Bed:
    """A bed as a script gives it, for the rows of one picture.

    ``share`` is the height of its top over the diameter per row; ``station_m`` the lens's
    place; ``grain`` seamless noise; ``reach_diameters`` and ``gain`` the light.
    """

    law: BedLaw
    share: Array
    station_m: float
    grain: Array
    reach_diameters: float
    gain: float


def lay_tide(strip: Strip, law: BedLaw) -> Strip:
    """Darken the wall of a strip below the tide mark, in place."""
    if law.tide <= 0.0 or law.tide_share <= 0.0:
        return strip
    half = float(np.arccos(1.0 - 2.0 * law.tide_share))
    angle = (np.arange(COLUMNS, dtype=np.float32) + 0.5) / PER_RADIAN
    inside = half - np.abs(angle - np.float32(np.pi))
    wet = np.clip(inside / TIDE_SOFT_RAD + 0.5, 0.0, 1.0)
    line = np.exp(-((inside / TIDE_SOFT_RAD) ** 2))
    kept = 1.0 - law.tide * (wet + 0.4 * line)
    strip[...] = (strip * kept[None, :, None].astype(np.float32)).astype(np.uint8)
    return strip


def lay_bed(strip: Strip, pose: Pose, rows: Rows, bed: Bed) -> Strip:
    """Lay a bed into a lit strip, in place."""
    filled = np.flatnonzero(bed.share > LEAST)
    if filled.size == 0:
        return strip
    part = slice(int(filled[0]), int(filled[-1]) + 1)
    widest = 1.15 * float(np.arccos(1.0 - 2.0 * float(bed.share.max()))) + 0.25
    low = max(int((np.pi - widest) * PER_RADIAN), 0)
    high = min(int((np.pi + widest) * PER_RADIAN) + 1, COLUMNS)
    angle = (np.arange(low, high, dtype=np.float32) + 0.5) / PER_RADIAN
    wall_x = (pose.radius_m * np.sin(angle)).astype(np.float32)[None, :]
    wall_y = (pose.radius_m * np.cos(angle)).astype(np.float32)[None, :]
    ahead = rows.ahead_m[part, None]
    top = _top(pose, bed, part, ahead, wall_x)
    dx, dy = wall_x - np.float32(pose.right_m), wall_y - np.float32(pose.up_m)
    way = np.clip((top - np.float32(pose.up_m)) / np.minimum(dy, -1e-6), 0.0, 1.0)
    x, z = np.float32(pose.right_m) + dx * way, ahead * way
    grey = 1.0 + 0.16 * sampled(bed.grain, (z + np.float32(bed.station_m)) * 420.0, x * 2600.0)
    grey += 0.10 * sampled(bed.grain, (z + np.float32(bed.station_m)) * 90.0, x * 500.0)
    light = light_at(z, pose.radius_m, bed.reach_diameters) * np.float32(bed.gain)
    cover = np.clip((top - wall_y) / np.float32(0.012 * pose.radius_m), 0.0, 1.0)
    cover = (cover * (bed.share[part, None] > LEAST))[..., None].astype(np.float32)
    shaded = np.clip(grey * light, 0.0, 4.0)[..., None].astype(np.float32)
    colour = shaded * np.asarray(bed.law.rgb, np.float32)
    mixed = strip[part, low:high] * (1.0 - cover) + colour * cover
    strip[part, low:high] = np.clip(mixed, 0, 255).astype(np.uint8)
    return strip


def _top(pose: Pose, bed: Bed, part: slice, ahead_m: Array, wall_x: Array) -> Array:
    """Return how high the bed's top stands above the axis where each ray meets the wall."""
    level = np.float32(pose.radius_m) * (2.0 * bed.share[part, None] - 1.0)
    lean = np.float32(np.tan(np.deg2rad(bed.law.lean_deg))) * wall_x
    along = (ahead_m + np.float32(bed.station_m)) * np.float32(60.0)
    uneven = sampled(bed.grain, along, np.where(wall_x < 0, np.float32(60.0), np.float32(260.0)))
    rough = np.float32(0.02 * pose.radius_m * bed.law.rough) * uneven
    return np.asarray(level + lean + rough, dtype=np.float32)
